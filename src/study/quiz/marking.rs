//! The marking: every reading replayed with what it told at its time, and the points.

use std::sync::Arc;

use super::guess::not_told_apart;
use super::play::{Guess, Play, Predicted};
use super::points::{Performance, Points, points};
use super::way::{Taken, mends, thought};
use crate::circuit::{Circuit, POWERED};
use crate::diagnosis::{Diagnosis, Earlier};
use crate::fault::Fault;
use crate::plan::{Advice, BUDGET, Measurement, Planner, Proposal, Suspect, Table, information};

/// Bits below which a reading could not tell anything.
const TELLS: f64 = 0.01;
/// Another measurement was better when it told more per effort by this factor.
const BETTER: f64 = 1.2;
/// Shares below this are none.
const LEAST_SHARE: f64 = 1e-9;

/// What is known at a time.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Standing {
    /// The share of the hidden fault.
    pub share: f64,
    /// Faults that the readings do not tell from it, itself among them.
    pub remaining: usize,
}

/// One reading, looked at again.
#[derive(Debug, Clone, PartialEq)]
pub struct Replayed {
    /// The reading, and what it cost.
    pub taken: Taken,
    /// What it could tell at that time, in bits: the information about where the fault is that it was
    /// expected to give.
    pub bits: f64,
    /// What it told of the hidden fault: by how many bits its share rose. Below nothing, it misled.
    pub gained: f64,
    /// Faults that it and those before it did not tell from the hidden one, itself among them.
    pub remaining: usize,
    /// The share of the hidden fault after it.
    pub share: f64,
    /// What would have told clearly more per effort.
    pub better: Option<Proposal>,
    /// Whether nothing was left to be measured already.
    pub was_enough: bool,
}

impl Replayed {
    /// Whether it could tell anything at all.
    pub fn tells(&self) -> bool {
        self.bits >= TELLS
    }
}

/// The marking of a game.
#[derive(Debug, Clone, PartialEq)]
pub struct Marking {
    /// Whether the fault was found.
    pub found: bool,
    /// What counts.
    pub performance: Performance,
    /// The points.
    pub points: Points,
    /// What the planned way was expected to cost in the mean, before the first reading.
    pub expected_effort: f64,
    /// What remained before the first reading.
    pub at_start: Standing,
    /// The readings, in order.
    pub replay: Vec<Replayed>,
    /// The answers, in order.
    pub guesses: Vec<Guess>,
    /// The predictions, in order.
    pub predictions: Vec<Predicted>,
    /// Faults that no measurement on this board tells from the hidden one, itself first.
    pub inseparable: Vec<Fault>,
}

impl Marking {
    pub(super) fn of(play: &Play<'_>) -> Marking {
        let quiz = play.quiz();
        let guesses = play.guesses().to_vec();
        let found = play.is_found();
        let wrong = guesses.iter().filter(|guess| guess.judged.is_wrong()).count();
        let performance = Performance {
            found,
            right_part: guesses.iter().any(|guess| guess.right_part),
            wrong,
            effort: play.effort(),
            planned: quiz.way().effort,
            hints: play.hints(),
            predictions: right_ones(play.predictions()),
        };
        let (expected_effort, at_start, replay) = replayed(play);
        Marking {
            found,
            performance,
            points: points(&performance),
            expected_effort,
            at_start,
            replay,
            guesses,
            predictions: play.predictions().to_vec(),
            inseparable: quiz.inseparable().to_vec(),
        }
    }
}

/// Predictions that are right, each place once: the first that was made for it counts.
fn right_ones(predictions: &[Predicted]) -> usize {
    let is_first =
        |at: usize| predictions[..at].iter().all(|earlier| earlier.probe != predictions[at].probe);
    (0..predictions.len()).filter(|&at| is_first(at) && predictions[at].is_right()).count()
}

fn replayed(play: &Play<'_>) -> (f64, Standing, Vec<Replayed>) {
    let quiz = play.quiz();
    let (assembly, circuit, meter) = (quiz.assembly, quiz.circuit(), quiz.meter());
    let mut known = quiz.symptom().readings.clone();
    let mut earlier: Option<Arc<Earlier>> = None;
    let mut think = |known: &[crate::circuit::Reading]| {
        let diagnosis = thought(assembly, known, earlier.as_deref());
        earlier = Some(Arc::clone(&diagnosis.earlier));
        // The best is the same as of all measurements, and sooner known.
        let planner = Planner::quick(assembly, known, &diagnosis, &meter);
        (diagnosis, planner)
    };
    let (mut diagnosis, mut planner) = think(&known);
    let problem = Planner::new(assembly, &known, &diagnosis, &meter).problem();
    let expected_effort = problem.optimum(problem.all(), true, BUDGET).effort;
    let hidden = &quiz.hidden().fault;
    let mut left = Left::default();
    let remaining = left.after(&diagnosis, hidden);
    let at_start = Standing { share: share(circuit, &planner, hidden), remaining };
    let mut before = at_start.share;
    let mut stands = POWERED;
    let mut found = Vec::new();
    for taken in play.taken() {
        let probe = taken.probe();
        let advice = planner.advise(circuit, &diagnosis, stands, &|_| false);
        let place_text = taken.reading.place_text.clone();
        let one = Measurement { probe, place_text, effort: taken.effort };
        let bits = match planner.suspects().len() {
            0 | 1 => 0.0,
            _ => {
                let suspects: Vec<Suspect> = planner.suspects().to_vec();
                let table = Table::new(assembly, suspects, vec![one], (&meter, &diagnosis.earlier));
                let site = |idx: usize| table.suspects[idx].site;
                information(&table.mixture(0, site))
            }
        };
        let was_enough = !matches!(advice, Advice::Measure(_));
        let better = match advice {
            Advice::Measure(best)
                if best.measurement.probe != probe
                    && best.bits / best.effort > BETTER * bits / taken.effort =>
            {
                Some(*best)
            }
            _ => None,
        };
        known.push(taken.reading.clone());
        (diagnosis, planner) = think(&known);
        let share = share(circuit, &planner, hidden);
        let remaining = left.after(&diagnosis, hidden);
        let gained = (share.max(LEAST_SHARE) / before.max(LEAST_SHARE)).log2();
        let taken = taken.clone();
        found.push(Replayed { taken, bits, gained, remaining, share, better, was_enough });
        before = share;
        stands = probe.setup;
    }
    (expected_effort, at_start, found)
}

/// The share of what the hidden fault's repair mends.
fn share(circuit: &Circuit, planner: &Planner, hidden: &Fault) -> f64 {
    let repairs = crate::plan::repairs(circuit, planner.suspects(), planner.share());
    repairs.iter().filter(|repair| mends(repair, circuit, hidden)).map(|one| one.probability).sum()
}

/// The faults that the readings so far do not tell from the hidden one, itself first. What a reading
/// told from it once stays out: their number never rises.
#[derive(Debug, Default)]
pub(super) struct Left {
    faults: Option<Vec<Fault>>,
}

impl Left {
    /// What is left after one more diagnosis.
    pub(super) fn after(&mut self, diagnosis: &Diagnosis, hidden: &Fault) -> usize {
        let now = not_told_apart(diagnosis, hidden);
        let left = match self.faults.take() {
            None => now,
            Some(before) => before.into_iter().filter(|fault| now.contains(fault)).collect(),
        };
        let count = left.len();
        self.faults = Some(left);
        count
    }

    /// They themselves.
    pub(super) fn faults(self) -> Vec<Fault> {
        self.faults.unwrap_or_default()
    }
}
