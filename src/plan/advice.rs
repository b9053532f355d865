//! What to do now: measure, repair, or stop.

use super::measurements::Measurement;
use super::propose::{Planner, Proposal};
use super::repair::{Repair, repairs};
use crate::circuit::{Circuit, SetupId};
use crate::diagnosis::{Diagnosis, Verdict};

/// A repair that is this likely is done without measuring further.
pub const SURE: f64 = 0.99;

/// What to do now.
#[derive(Debug, Clone, PartialEq)]
pub enum Advice {
    /// Take this measurement.
    Measure(Box<Proposal>),
    /// One repair is left, or is as good as certain.
    Repair(Repair),
    /// No measurement separates what is left: try these, in this order.
    Try(Vec<Repair>),
    /// The readings fit a healthy board, and no measurement is likely to say otherwise.
    Healthy,
    /// Nothing on the list fits.
    Nothing,
}

impl Advice {
    /// The repair to begin with, where measuring is over.
    pub fn first_repair(&self) -> Option<&Repair> {
        match self {
            Advice::Repair(repair) => Some(repair),
            Advice::Try(repairs) => repairs.first(),
            _ => None,
        }
    }
}

impl Planner {
    /// What to do now, on a board that stands in the setup `now`; measurements that are `passed_over`
    /// are not proposed.
    pub fn advise(
        &self,
        circuit: &Circuit,
        diagnosis: &Diagnosis,
        now: SetupId,
        passed_over: &dyn Fn(&Measurement) -> bool,
    ) -> Advice {
        let suspects = self.suspects();
        if suspects.is_empty() || diagnosis.nothing_fits {
            return Advice::Nothing;
        }
        let share = self.share();
        let healthy: f64 = suspects
            .iter()
            .filter(|suspect| suspect.fault.is_none())
            .map(|suspect| suspect.weight * share)
            .sum();
        if healthy >= SURE {
            return Advice::Healthy;
        }
        let mut left = repairs(circuit, suspects, share);
        // What was measured alone already, and is still suspect, is bad.
        for repair in &mut left {
            if let Some(part) = repair.part.filter(|part| self.alone.contains(part)) {
                repair.action = format!("replace {}: alone it reads wrong", circuit[part].name);
            }
        }
        if let Some(sure) = left.iter().find(|repair| repair.probability >= SURE) {
            return Advice::Repair(sure.clone());
        }
        if let Some(best) = self.best(now, passed_over) {
            return Advice::Measure(Box::new(best));
        }
        let is_healthy = diagnosis.healthy_verdict == Verdict::Reproduces
            && left.iter().all(|repair| repair.probability < healthy);
        match left.len() {
            _ if is_healthy => Advice::Healthy,
            0 => Advice::Nothing,
            1 => Advice::Repair(left[0].clone()),
            _ => Advice::Try(left),
        }
    }

    /// The measurement to take now: the first of the plan that costs least in the mean; or else the
    /// one that tells most of causes that no plain measurement tells apart.
    fn best(&self, now: SetupId, passed_over: &dyn Fn(&Measurement) -> bool) -> Option<Proposal> {
        let sketch = self.sketch(passed_over);
        let planned = sketch.problem.next(sketch.problem.all(), self.live[now.0]);
        if let Some(test) = planned {
            let number = sketch.tests[test];
            // What differs by a few uncertainties may still tell too little to be worth it.
            if let Some(bits) = self.tells(number) {
                let one = &self.table.measurements[number];
                let effort = one.effort + self.switching(now, one.probe.setup);
                return Some(self.proposal(number, bits, effort));
            }
        }
        self.proposals(now).into_iter().find(|proposal| !passed_over(&proposal.measurement))
    }
}
