//! Exercise sheets for a class: a hidden fault for each student, with readings that settle it.

use super::super::chance::Chance;
use super::guess::not_told_apart;
use super::hint::from_supply;
use super::way::{Taken, thought};
use super::{Quiz, Symptom};
use crate::circuit::{NetId, POWERED, Place, Quantity, Reading, Spot};
use crate::diagnosis::{Diagnosis, Job, Pairs, Probe, Verdict, diagnose_job};
use crate::engine::Assembly;
use crate::fault::Fault;
use crate::plan::Repair;

/// Seeds that are tried for a sheet before a fault comes twice.
const TRIES: usize = 12;
/// Nets whose healthy volts are asked for beside the readings.
const QUESTIONS: usize = 3;
/// A net is off beyond this many standard uncertainties.
const OFF: f64 = 3.0;

/// A healthy value that is asked for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Question {
    /// What would be measured.
    pub probe: Probe,
    /// What the meter shows on a healthy board, in the SI unit; infinite for OL.
    pub healthy: f64,
    /// One standard uncertainty of it, tolerances and meter together.
    pub u: f64,
}

/// One sheet with its answers.
#[derive(Debug, Clone, PartialEq)]
pub struct Sheet {
    /// The number of the student.
    pub number: usize,
    /// The seed that hides the same fault in a quiz of the same level.
    pub seed: u64,
    /// What is hidden.
    pub fault: Fault,
    /// Every fault that the readings do not tell from it, itself first: all of them are right.
    pub accepted: Vec<Fault>,
    /// What is seen from outside.
    pub symptom: Symptom,
    /// The readings that are given.
    pub given: Vec<Taken>,
    /// Faults that remain after each of them.
    pub remaining: Vec<usize>,
    /// The healthy value of each reading that is given.
    pub healthy: Vec<Option<Question>>,
    /// Further nets whose healthy value is asked for.
    pub questions: Vec<Question>,
    /// The first net from the supply on that is off, with its volts on the healthy board and here.
    pub first_dead: Option<(NetId, f64, f64)>,
    /// From the fault to the symptom.
    pub chain: Vec<String>,
    /// What to do next, in this order.
    pub repairs: Vec<Repair>,
}

/// The sheets of a class: the same seed, the same sheets. `None` where nothing can be hidden.
pub fn sheets(assembly: &Assembly<'_>, seed: u64, count: usize, level: u8) -> Option<Vec<Sheet>> {
    let mut chance = Chance::named(seed, "sheets");
    let mut found: Vec<Sheet> = Vec::new();
    for number in 1..=count {
        let mut quiz: Option<Quiz<'_>> = None;
        for _ in 0..TRIES {
            // Short enough to be typed.
            let own = chance.bits() >> 40;
            let drawn = Quiz::new(assembly, own, level)?;
            let fault = drawn.hidden.fault.with_value(None);
            let is_new = found.iter().all(|sheet| sheet.fault.with_value(None) != fault);
            quiz = Some(drawn);
            if is_new {
                break;
            }
        }
        found.push(Sheet::of(number, &quiz?));
    }
    Some(found)
}

impl Sheet {
    fn of(number: usize, quiz: &Quiz<'_>) -> Sheet {
        let mut known = quiz.symptom.readings.clone();
        let mut remaining = Vec::new();
        for step in &quiz.way.steps {
            known.push(step.reading.clone());
            remaining.push(left(&thought(quiz.assembly, &known, None)));
        }
        let job = Job { readings: &known, pairs: Pairs::Never, ..Job::default() };
        let diagnosis = diagnose_job(quiz.assembly, &job);
        let question = |probe: &Probe| {
            let (healthy, u) = quiz.healthy(probe)?;
            Some(Question { probe: *probe, healthy, u })
        };
        let given = quiz.way.steps.clone();
        let accepted = not_told_apart(&diagnosis, &quiz.hidden.fault);
        let own = super::guess::candidate(&diagnosis, &quiz.hidden.fault);
        Sheet {
            number,
            seed: quiz.seed,
            fault: quiz.hidden.fault,
            accepted,
            symptom: quiz.symptom.clone(),
            healthy: given.iter().map(|step| question(&step.probe())).collect(),
            questions: further(quiz, &given).iter().filter_map(question).collect(),
            given,
            remaining,
            first_dead: first_dead(quiz),
            chain: own.map_or_else(Vec::new, |own| own.chain.clone()),
            repairs: quiz.way.repairs.clone(),
        }
    }
}

/// Faults that a diagnosis leaves.
fn left(diagnosis: &Diagnosis) -> usize {
    let left = diagnosis.candidates.iter();
    left.filter(|one| one.verdict != Verdict::Excluded && !one.fault.is_misread()).count()
}

fn volts_at(net: NetId) -> Probe {
    Probe { setup: POWERED, quantity: Quantity::Volts, place: Place::At(Spot::Net(net)) }
}

/// Nets behind the supply that no reading is given of, by seed.
fn further(quiz: &Quiz<'_>, given: &[Taken]) -> Vec<Probe> {
    let circuit = quiz.circuit();
    let is_given = |probe: &Probe| given.iter().any(|step| step.probe() == *probe);
    let mut nets: Vec<Probe> = from_supply(circuit)
        .into_iter()
        .skip(1)
        .filter(|net| circuit.board.can_probe(*net))
        .map(volts_at)
        .filter(|probe| !is_given(probe))
        .collect();
    let mut chance = Chance::named(quiz.seed, "questions");
    let mut chosen = Vec::new();
    while chosen.len() < QUESTIONS && !nets.is_empty() {
        let at = (chance.share() * nets.len() as f64) as usize;
        chosen.push(nets.remove(at.min(nets.len() - 1)));
    }
    chosen
}

/// The first net from the supply on that is off.
fn first_dead(quiz: &Quiz<'_>) -> Option<(NetId, f64, f64)> {
    from_supply(quiz.circuit()).into_iter().find_map(|net| {
        let probe = volts_at(net);
        let ((healthy, u), here) = (quiz.healthy(&probe)?, quiz.board.truth(&probe)?);
        ((here - healthy).abs() > OFF * u).then_some((net, healthy, here))
    })
}

/// The readings of a sheet with those of its symptom: what a diagnosis is made of.
impl Sheet {
    /// Everything that a student is told, as readings.
    pub fn readings(&self) -> Vec<Reading> {
        let given = self.given.iter().map(|step| &step.reading);
        self.symptom.readings.iter().chain(given).cloned().collect()
    }
}
