//! The planned way: what the planner measures on the very board of a quiz, and where it ends.

use std::sync::Arc;

use super::{Board, Symptom};
use crate::circuit::{Circuit, Meter, POWERED, PartId, Reading};
use crate::diagnosis::{Diagnosis, Earlier, Job, Pairs, Probe, diagnose_job};
use crate::engine::Assembly;
use crate::fault::Fault;
use crate::plan::{Advice, Effort, Measurement, Planner, Repair, standing_in};

/// Readings after which a way is given up.
const MOST: usize = 40;

/// A measurement that was taken.
#[derive(Debug, Clone, PartialEq)]
pub struct Taken {
    /// What was read.
    pub reading: Reading,
    /// What it cost, switching the power included.
    pub effort: f64,
}

impl Taken {
    /// What was measured.
    pub fn probe(&self) -> Probe {
        let Reading { setup, quantity, place, .. } = self.reading;
        Probe { setup, quantity, place }
    }
}

/// The planned way.
#[derive(Debug, Clone, PartialEq)]
pub struct Way {
    /// What was measured, in order.
    pub steps: Vec<Taken>,
    /// What all of it cost.
    pub effort: f64,
    /// What is to be repaired at the end, in this order.
    pub repairs: Vec<Repair>,
}

impl Way {
    /// Follows the planner from the symptom to its end.
    pub(super) fn planned(
        assembly: &Assembly<'_>,
        board: &Board<'_>,
        symptom: &Symptom,
        meter: &Meter,
    ) -> Way {
        let circuit = assembly.circuit();
        let mut way = Way { steps: Vec::new(), effort: 0.0, repairs: Vec::new() };
        let mut readings = symptom.readings.clone();
        let mut skipped: Vec<Probe> = Vec::new();
        let mut earlier: Option<Arc<Earlier>> = None;
        while way.steps.len() < MOST {
            let diagnosis = thought(assembly, &readings, earlier.as_deref());
            earlier = Some(Arc::clone(&diagnosis.earlier));
            // As a session at the bench does it.
            let plan = if skipped.is_empty() { Planner::quick } else { Planner::new };
            let planner = plan(assembly, &readings, &diagnosis, meter);
            let passed_over = |one: &Measurement| skipped.contains(&one.probe);
            let now = standing_in(&readings);
            match planner.advise(circuit, &diagnosis, now, &passed_over) {
                Advice::Measure(best) => {
                    let probe = best.measurement.probe;
                    let from = way.steps.last().map_or(POWERED, |step| step.reading.setup);
                    let effort = Effort::default();
                    let effort = effort.of_probe(circuit, &probe)
                        + effort.switching(circuit, from, probe.setup);
                    match board.read(&probe) {
                        Some(reading) => {
                            readings.push(reading.clone());
                            way.effort += effort;
                            way.steps.push(Taken { reading, effort });
                        }
                        None => skipped.push(probe),
                    }
                }
                Advice::Repair(repair) => {
                    way.repairs = vec![repair];
                    break;
                }
                Advice::Try(repairs) => {
                    way.repairs = repairs;
                    break;
                }
                Advice::Healthy | Advice::Nothing => break,
            }
        }
        way
    }

    /// Whether what it ends with mends this fault, at once or by one of the repairs that no
    /// measurement tells apart.
    pub fn finds(&self, circuit: &Circuit, fault: &Fault) -> bool {
        self.repairs.iter().any(|repair| mends(repair, circuit, fault))
    }
}

/// Whether a repair mends a fault.
pub(super) fn mends(repair: &Repair, circuit: &Circuit, fault: &Fault) -> bool {
    let own = |part: PartId| repair.part == Some(part);
    repair.faults.contains(&fault.phrase(circuit)) || fault.part().is_some_and(own)
}

/// What some readings say, as far as a quiz needs it.
pub(super) fn thought(
    assembly: &Assembly<'_>,
    readings: &[Reading],
    earlier: Option<&Earlier>,
) -> Diagnosis {
    let job = Job { readings, pairs: Pairs::Never, is_brief: true, earlier, ..Job::default() };
    diagnose_job(assembly, &job)
}
