//! Mistakes of assembly: parts the wrong way round, exchanged, of a wrong value, alone or all of a
//! reel, or where none belongs.

use super::Fault;
use super::hypothesis::{Curve, Hypothesis, Spread};
use super::list::{DRIFT, List, cause};
use crate::circuit::{Neighbours, NetId, PartId};
use crate::device::{Mode, of};

/// How often a slip is of so many decades; one of a single decade is the usual one (common practice,
/// no published source).
const SLIPS: [(i32, f64); 6] = [(-3, 0.05), (-2, 0.1), (-1, 0.35), (1, 0.35), (2, 0.1), (3, 0.05)];

/// The share of wrong reels whose value is no decade slip. Common practice, no published source.
const ANY_VALUE: f64 = 0.4;

impl List<'_> {
    pub(super) fn assembly(&mut self) {
        let circuit = self.circuit;
        let mut fixed: Vec<(Fault, f64)> = Vec::new();
        for (id, part) in circuit.parts_by_id() {
            if part.fitted && part.is_two_pin() && of(part).is_polarised() {
                fixed.push((Fault::Reversed(id), self.evidence.assembly(id)));
            }
            if !part.fitted {
                fixed.push((Fault::Fitted(id), self.evidence.assembly(id)));
            }
        }
        for (first, a) in circuit.parts_by_id().filter(|(_, part)| part.fitted) {
            for (second, b) in circuit.parts_by_id().skip(first.index() + 1) {
                if b.fitted
                    && a.kind == b.kind
                    && a.params != b.params
                    && a.pins.iter().map(|pin| &pin.name).eq(b.pins.iter().map(|pin| &pin.name))
                    && self.is_near(first, second)
                {
                    let factor = self.evidence.assembly(first).max(self.evidence.assembly(second));
                    fixed.push((Fault::Exchanged(first, second), factor));
                }
            }
        }
        // A value ten, a hundred or a thousand times off, either way.
        let slips: Vec<(usize, PartId, f64)> = self
            .found
            .iter()
            .enumerate()
            .filter_map(|(idx, hypothesis)| match hypothesis.curve {
                Some(Curve { fault: Fault::Drifted(part, "value", _), .. }) => {
                    Some((idx, part, circuit[part].nominal("value")?))
                }
                _ => None,
            })
            .collect();
        let reels = self.reels();
        let items = fixed.len() + slips.len() + reels.len();
        let each = self.budget.assembly / items.max(1) as f64;
        for &(idx, part, ohms) in &slips {
            let weight = each * self.evidence.assembly(part);
            for (decades, share) in SLIPS {
                let place = (ohms * 10.0_f64.powi(decades)).ln();
                let fault = Fault::Drifted(part, "value", None);
                self.found[idx].causes.push(cause(fault, weight * share, Spread::At(place)));
            }
        }
        for (fault, factor) in fixed {
            self.found.push(Hypothesis::fixed(fault, each * factor));
        }
        for parts in reels {
            self.found.extend(self.alike(parts, each));
        }
    }

    /// Parts of one kind and value, where there are several: one reel feeds them all.
    fn reels(&self) -> Vec<Vec<PartId>> {
        let mut reels: Vec<Vec<PartId>> = Vec::new();
        for (id, part) in self.circuit.parts_by_id().filter(|(_, part)| part.fitted) {
            if of(part).modes().contains(&Mode::Drifted("value"))
                && !reels.iter().any(|reel| reel.contains(&id))
            {
                reels.push(self.circuit.alike(id));
            }
        }
        reels.retain(|reel| reel.len() > 1);
        reels
    }

    /// The same wrong part in every place that calls for it: one cause.
    fn alike(&self, parts: Vec<PartId>, weight: f64) -> Option<Hypothesis> {
        let (&first, &last) = (parts.first()?, parts.last()?);
        let number = self.circuit[first].number("value")?;
        let factor = self.evidence.assembly(first).max(self.evidence.assembly(last));
        let fault = Fault::Alike(first, None);
        let (low, high) = ((number.nominal / DRIFT).ln(), (number.nominal * DRIFT).ln());
        let except = Some((number.least().ln(), number.most().ln()));
        let anywhere = Spread::Range { low, high, except };
        let mut causes = vec![cause(fault, weight * factor * ANY_VALUE, anywhere)];
        for (decades, share) in SLIPS {
            let place = (number.nominal * 10.0_f64.powi(decades)).ln();
            let weight = weight * factor * (1.0 - ANY_VALUE) * share;
            causes.push(cause(fault, weight, Spread::At(place)));
        }
        Some(Hypothesis { causes, curve: Some(Curve { fault, low, high }), alike: parts })
    }

    /// Whether two parts share a net other than ground, or are neighbours on the board.
    fn is_near(&self, a: PartId, b: PartId) -> bool {
        let shares = self.circuit[a].pins.iter().any(|pin| {
            pin.net != NetId::GROUND
                && self.circuit[b].pins.iter().any(|other| other.net == pin.net)
        });
        shares
            || self.circuit.board.neighbours.iter().any(|neighbours| {
                matches!(*neighbours, Neighbours::Parts(x, y)
                    if (x, y) == (a, b) || (x, y) == (b, a))
            })
    }
}
