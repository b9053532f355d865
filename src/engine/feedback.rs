//! Whether parts that amplify may hold each other, or themselves, in one of several states.
//!
//! Two transistors need a loop through both (R. O. Nielsen and A. N. Willson, "A fundamental
//! result concerning the topology of transistor circuits with multiple equilibria", Proc. IEEE 68,
//! 1980; from memory); a stage whose output rises with its input needs a way back to that input.
//! Loops are looked for in the network itself, over nets that no source holds: what a supply rail
//! passes on from one part to another is too little to latch anything.

use super::network::{Element, Network};
use super::structure::Islands;
use crate::circuit::PartId;
use crate::device::{Driven, Law};

/// From this conductance to a held net on, a net counts as held too, in siemens.
const STIFF: f64 = 0.2;

/// An amplifying part, as islands of nets.
#[derive(Debug, Default)]
struct Stage {
    senses: Vec<usize>,
    outputs: Vec<usize>,
    /// What it senses that pushes its own output up.
    raised_by: Vec<usize>,
}

fn amplifying(element: &Element) -> Option<(PartId, &dyn Driven)> {
    match &element.law {
        Law::Driven(law) if law.amplifies() => Some((element.part()?, law.as_ref())),
        _ => None,
    }
}

/// Whether a branch joins its nets by next to nothing, or by a source.
fn is_stiff(law: &Law) -> bool {
    match law {
        Law::Volts(_) => true,
        Law::Line { siemens, .. } => *siemens >= STIFF,
        // A supply with a limit: what it gives at no volts tells it from a junction.
        Law::Curve(curve) => {
            curve.at(0.0).amps.abs() > 1e-6 && curve.at(curve.first()).siemens >= STIFF
        }
        Law::Clamp { .. } | Law::Driven(_) => false,
    }
}

impl Network {
    /// Whether parts may hold each other, or themselves, in one of several states.
    pub(super) fn may_latch(&self) -> bool {
        if !self.elements.iter().any(|element| amplifying(element).is_some()) {
            return false;
        }
        let held = self.held_nets();
        let mut islands = Islands::new(self.n_nets);
        for element in self.elements.iter().filter(|element| amplifying(element).is_none()) {
            if !held[element.from] && !held[element.to] {
                islands.join(element.from, element.to);
            }
        }
        let mut stages: Vec<(PartId, Stage)> = Vec::new();
        for element in &self.elements {
            let Some((part, law)) = amplifying(element) else { continue };
            if stages.last().is_none_or(|(known, _)| *known != part) {
                stages.push((part, Stage::default()));
            }
            let Some((_, stage)) = stages.last_mut() else { continue };
            let mut put = |nets: [usize; 2], list: &mut Vec<usize>| {
                list.extend(
                    nets.into_iter().filter(|net| !held[*net]).map(|net| islands.root(net)),
                );
            };
            put([element.from, element.to], &mut stage.outputs);
            for (number, (plus, minus)) in self.sensed(element).into_iter().enumerate() {
                put([plus, minus], &mut stage.senses);
                if law.raised_by(number) {
                    put([plus, plus], &mut stage.raised_by);
                }
            }
        }
        let meets = |one: &[usize], other: &[usize]| one.iter().any(|net| other.contains(net));
        if stages.iter().any(|(_, stage)| meets(&stage.outputs, &stage.raised_by)) {
            return true;
        }
        // A loop through two parts or more: some part reaches itself over another one.
        let n = stages.len();
        let next: Vec<Vec<usize>> = (0..n)
            .map(|from| {
                let outputs = &stages[from].1.outputs;
                (0..n).filter(|&to| to != from && meets(outputs, &stages[to].1.senses)).collect()
            })
            .collect();
        (0..n).any(|start| {
            let mut seen = vec![false; n];
            let mut open = next[start].clone();
            while let Some(stage) = open.pop() {
                if stage == start {
                    return true;
                }
                if !std::mem::replace(&mut seen[stage], true) {
                    open.extend(&next[stage]);
                }
            }
            false
        })
    }

    /// Nets that a source, a regulator or ground holds, directly or through next to nothing.
    fn held_nets(&self) -> Vec<bool> {
        let mut held = vec![false; self.n_nets];
        held[0] = true;
        // A rail may be off for now; signals end there all the same.
        for &(part, pin) in &self.rails {
            held[self.pin_net(part, pin)] = true;
        }
        for element in &self.elements {
            if matches!(&element.law, Law::Driven(law) if law.holds()) {
                held[element.to] = true;
            }
        }
        loop {
            let mut grown = false;
            for element in &self.elements {
                if is_stiff(&element.law) && held[element.from] != held[element.to] {
                    (held[element.from], held[element.to]) = (true, true);
                    grown = true;
                }
            }
            if !grown {
                return held;
            }
        }
    }
}
