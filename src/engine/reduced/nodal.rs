//! A board that stands far from its straight lines, solved net by net.

use super::Reduced;
use super::change::Changes;
use super::settle::{Extra, From, Small};
use super::solve::ABSURD_VOLTS;
use crate::device::Law;

/// Steps of time at most.
const STEPS_OF_TIME: usize = 120;

impl Reduced {
    /// Solves net by net, with every branch by its own law: each net is an unknown and each has its
    /// sum of currents, as those that changes made. With it, whether the point is one that no board
    /// stays in. `None` as well where voltages are given.
    pub(super) fn solve_nodal(
        &self,
        changes: &Changes,
        start: Option<&[f64]>,
        (from, stubborn): (From, bool),
    ) -> Option<(Small, bool)> {
        if self.elements.iter().any(|element| element.own.is_some()) {
            return None;
        }
        let mut extras = self.all_branches(changes);
        let settled = self.settle(&mut extras, changes, start, (from, 1));
        let mut small = match settled {
            None if stubborn => self.steps_of_time(changes, start)?,
            settled => settled?,
        };
        let runs_away = small.factors.is_negative();
        let sound = small.volts.iter().all(|volts| volts.abs() <= ABSURD_VOLTS);
        small.awake.clone_from(&self.curves);
        sound.then_some((small, runs_away))
    }

    /// Every branch of a board with changes, by its own law.
    fn all_branches<'a>(&'a self, changes: &'a Changes) -> Vec<Extra<'a>> {
        let all = || changes.list.iter().chain(&changes.ties);
        let mut touched = vec![false; self.elements.len()];
        for element in all().filter_map(|active| active.element) {
            touched[element] = true;
        }
        let there = all().filter(|active| active.law.is_some());
        let changed = there.map(|active| Extra { base: None, ..self.active(active) });
        let stay = (0..self.elements.len()).filter(|element| !touched[*element]);
        let stay = stay.map(|element| Extra { base: None, ..self.woken(element) });
        changed.chain(stay).collect()
    }

    /// Every net carried along by a capacitance: implicit steps of growing length until nothing
    /// moves, then the equations themselves; see `strategy::pseudo_transient`.
    fn steps_of_time(&self, changes: &Changes, start: Option<&[f64]>) -> Option<Small> {
        let n = self.n_nets + changes.new_nets.len();
        let mut volts = start.unwrap_or(&self.volts).to_vec();
        for new in volts.len()..n {
            let old = changes.new_nets[new - self.n_nets];
            volts.push(volts[old]);
        }
        let mut siemens = 1.0;
        let mut from = From::Anywhere;
        for _ in 0..STEPS_OF_TIME {
            let shunts: Vec<Law> =
                volts.iter().map(|volts| Law::Line { siemens, amps: -siemens * volts }).collect();
            let mut extras = self.all_branches(changes);
            extras.extend(shunts.iter().enumerate().skip(1).map(|(net, law)| Extra {
                from: net,
                to: 0,
                law: Some(law),
                senses: &[],
                base: None,
                element: None,
                part: None,
                first: 0,
            }));
            match self.settle(&mut extras, changes, Some(&volts), (from, 1)) {
                Some(small) if !small.factors.is_negative() => {
                    volts = small.volts;
                    siemens /= 3.0;
                    from = From::Near;
                }
                Some(_) => siemens *= 4.0,
                None => siemens *= 20.0,
            }
            if siemens < 1e-12 {
                break;
            }
            if siemens > 1e9 {
                return None;
            }
        }
        let mut extras = self.all_branches(changes);
        self.settle(&mut extras, changes, Some(&volts), (From::Near, 1))
    }
}
