//! What a student did: readings, predictions, hints, guesses.

use super::Quiz;
use super::board::plain;
use super::guess::Judgement;
use super::hint::Hint;
use super::marking::Marking;
use super::prediction::{Match, Prediction, agrees};
use super::way::Taken;
use crate::circuit::{Input, Meter, Observed, Overlay, POWERED, Quantity, Reading, SetupId};
use crate::diagnosis::{Probe, RuledOut};
use crate::fault::Fault;
use crate::meter::{Scene, displayed, show};
use crate::plan::{Effort, nets_of};
use crate::quantity::ReadingValue;

/// Ohms of a voltmeter, and of an ammeter, that leave a board as it is: far beyond what is on one.
const NO_LOAD: f64 = 1e13;
const NO_BURDEN: f64 = 1e-9;

/// A meter that takes nothing from the board.
pub(super) fn without_load(mut meter: Meter) -> Meter {
    meter.volts.input = Input::Ohms(NO_LOAD);
    meter.amps.resistance = NO_BURDEN;
    meter
}

/// What follows from asking for a reading.
#[derive(Debug, Clone, PartialEq)]
pub enum Reply {
    /// The reading.
    Read {
        /// What was read, and what it cost.
        taken: Box<Taken>,
        /// Whether it was read before, which costs nothing.
        again: bool,
        /// The number of the prediction made for it, if there is one.
        prediction: Option<usize>,
    },
    /// No probe reaches it.
    OutOfReach,
    /// The display does not settle.
    Unsettled,
}

/// An answer of the student.
#[derive(Debug, Clone, PartialEq)]
pub struct Guess {
    /// The fault that was named.
    pub fault: Fault,
    /// What it is worth.
    pub judged: Judgement,
    /// Whether it names the right part, or the right nets.
    pub right_part: bool,
    /// How many readings had been taken.
    pub after: usize,
}

/// A prediction of the student.
#[derive(Debug, Clone, PartialEq)]
pub struct Predicted {
    /// What was predicted.
    pub probe: Probe,
    /// The value, and how it is marked against a healthy board.
    pub marked: Prediction,
    /// What this board shows there, once it was read.
    pub read: Option<Reading>,
    /// Whether the prediction agrees with this board.
    pub fits_board: bool,
}

impl Predicted {
    /// Whether it is right: for a healthy board, or for this one.
    pub fn is_right(&self) -> bool {
        self.marked.is_right() || self.fits_board
    }
}

/// A game: a quiz with what was done so far.
#[derive(Debug, Clone)]
pub struct Play<'q> {
    quiz: &'q Quiz<'q>,
    taken: Vec<Taken>,
    predictions: Vec<Predicted>,
    guesses: Vec<Guess>,
    hints: [usize; 3],
    /// Hints as they were told: after how many readings, of which level, and what they said.
    told: Vec<((usize, u8), Hint)>,
    /// The level of the next hint.
    next_hint: u8,
    stands: SetupId,
}

impl<'q> Play<'q> {
    pub(super) fn new(quiz: &'q Quiz<'q>) -> Play<'q> {
        Play {
            quiz,
            taken: Vec::new(),
            predictions: Vec::new(),
            guesses: Vec::new(),
            hints: [0; 3],
            told: Vec::new(),
            next_hint: 1,
            stands: POWERED,
        }
    }

    /// The quiz.
    pub fn quiz(&self) -> &'q Quiz<'q> {
        self.quiz
    }

    /// The readings, in order.
    pub fn taken(&self) -> &[Taken] {
        &self.taken
    }

    /// The predictions, in order.
    pub fn predictions(&self) -> &[Predicted] {
        &self.predictions
    }

    /// The answers, in order.
    pub fn guesses(&self) -> &[Guess] {
        &self.guesses
    }

    /// The hints that were taken, by level.
    pub fn hints(&self) -> [usize; 3] {
        self.hints
    }

    /// The setup that the board stands in.
    pub fn stands(&self) -> SetupId {
        self.stands
    }

    /// What all readings cost so far.
    pub fn effort(&self) -> f64 {
        // The sum of nothing is a minus nothing.
        self.taken.iter().fold(0.0, |sum, taken| sum + taken.effort)
    }

    /// Whether a right answer was given.
    pub fn is_found(&self) -> bool {
        self.guesses.iter().any(|guess| guess.judged.is_right())
    }

    fn readings(&self) -> Vec<Reading> {
        self.taken.iter().map(|taken| taken.reading.clone()).collect()
    }

    /// Everything that is known, the symptom first: what a contradiction counts in.
    pub fn known(&self) -> Vec<Reading> {
        self.quiz.known(self.taken.iter().map(|taken| &taken.reading))
    }

    /// Takes a reading.
    pub fn measure(&mut self, probe: Probe) -> Reply {
        let circuit = self.quiz.circuit();
        let probe = plain(probe);
        if let Some(known) = self.taken.iter().find(|taken| taken.probe() == probe) {
            let taken = Box::new(known.clone());
            return Reply::Read { taken, again: true, prediction: None };
        }
        if nets_of(circuit, probe.place).iter().any(|net| !circuit.board.can_probe(*net)) {
            return Reply::OutOfReach;
        }
        let Some(reading) = self.quiz.board.read(&probe) else { return Reply::Unsettled };
        let effort = Effort::default();
        let effort =
            effort.of_probe(circuit, &probe) + effort.switching(circuit, self.stands, probe.setup);
        self.stands = probe.setup;
        self.next_hint = 1;
        let prediction = self.predictions.iter().rposition(|known| known.probe == probe);
        if let Some(at) = prediction {
            let predicted = &mut self.predictions[at];
            // What is a slip of the unit is no foresight.
            let is_slip = matches!(predicted.marked.matched, Match::Slip(_));
            predicted.fits_board = !is_slip && fits(&predicted.marked, &reading);
            predicted.read = Some(reading.clone());
        }
        let taken = Taken { reading, effort };
        self.taken.push(taken.clone());
        Reply::Read { taken: Box::new(taken), again: false, prediction }
    }

    /// Takes a prediction of what the meter shows; `None` where the value is no single one, or the
    /// healthy board does not settle there.
    pub fn predict(
        &mut self,
        probe: Probe,
        written: ReadingValue,
        unit_named: bool,
    ) -> Option<&Predicted> {
        let probe = plain(probe);
        let healthy = self.quiz.healthy(&probe)?;
        let mut marked = Prediction::new(probe.quantity, written, unit_named, healthy)?;
        // What was worked out without the meter's load is right as well.
        if !marked.is_right()
            && let Some(without) = self.quiz.healthy_without_meter(&probe)
            && let Some(other) =
                Prediction::new(probe.quantity, written, unit_named, (without, healthy.1))
            && other.is_right()
        {
            marked.matched = Match::Right;
        }
        let read = self.taken.iter().find(|taken| taken.probe() == probe);
        // What was read already is no prediction.
        let fits_board = false;
        let read = read.map(|taken| taken.reading.clone());
        self.predictions.push(Predicted { probe, marked, read, fits_board });
        self.predictions.last()
    }

    /// The next hint: of a level from 1 to 3, or one level more than the one before it. A reading
    /// begins at level 1 again.
    pub fn hint(&mut self, level: Option<u8>) -> (u8, Hint) {
        let level = level.unwrap_or(self.next_hint).clamp(1, 3);
        self.next_hint = (level + 1).min(3);
        let told = (self.taken.len(), level);
        let hint = self.quiz.hint(level, &self.readings(), self.stands);
        // The same again costs nothing, and that nothing more need be measured is told once.
        let is_known = |known: &((usize, u8), Hint)| known.0 == told || known.1 == hint;
        if !self.told.iter().any(is_known) {
            self.hints[usize::from(level) - 1] += 1;
        }
        self.told.push((told, hint.clone()));
        (level, hint)
    }

    /// Judges an answer.
    pub fn guess(&mut self, fault: Fault) -> Judgement {
        let judged = self.quiz.judge(&fault, &self.readings());
        let right_part = judged == Judgement::SameChange || is_at(&fault, &self.quiz.hidden.fault);
        self.guesses.push(Guess { fault, judged, right_part, after: self.taken.len() });
        judged
    }

    /// The reading that contradicts a guess.
    pub fn contradicting(&self, ruled_out: &RuledOut) -> Option<Reading> {
        self.known().into_iter().nth(ruled_out.reading)
    }

    /// The marking of what was done.
    pub fn marking(&self) -> Marking {
        Marking::of(self)
    }
}

/// Whether a prediction agrees with what this board shows.
fn fits(marked: &Prediction, reading: &Reading) -> bool {
    match reading.observed {
        Observed::Number { value, count, .. } => {
            marked.value.is_finite() && agrees(reading.quantity, marked.value, (value, count), 0.0)
        }
        Observed::Over => marked.value.is_infinite(),
        _ => false,
    }
}

/// Whether two faults are in one part, or on the same nets.
fn is_at(one: &Fault, other: &Fault) -> bool {
    match (one.part(), other.part()) {
        (Some(one), Some(other)) => one == other,
        (None, None) => match (one, other) {
            (Fault::Leak(a, _), Fault::Leak(b, _)) => a == b,
            (Fault::Bridge(a, b, _), Fault::Bridge(c, d, _)) => {
                (a, b) == (c, d) || (a, b) == (d, c)
            }
            _ => false,
        },
        _ => false,
    }
}

impl Quiz<'_> {
    /// What a meter that takes nothing from the board would show on a healthy one, where that differs
    /// by more than a digit of the display from what this one shows.
    pub fn healthy_without_meter(&self, probe: &Probe) -> Option<f64> {
        let (with, _) = self.healthy(probe)?;
        if !matches!(probe.quantity, Quantity::Volts | Quantity::Amps) {
            return None;
        }
        let ideal = without_load(self.meter());
        let scene = Scene::new(self.assembly, probe.setup, &Overlay::none(), None, false).ok()?;
        let without = show(&scene, probe.quantity, probe.place, &ideal)?.value;
        let digit = Meter::count(probe.quantity, with);
        (without.is_finite() && (without - with).abs() > digit).then_some(without)
    }

    /// What the meter shows on a healthy board at a place, and one standard uncertainty of it from
    /// tolerances and meter; `None` where it does not settle.
    pub fn healthy(&self, probe: &Probe) -> Option<(f64, f64)> {
        let scene = Scene::new(self.assembly, probe.setup, &Overlay::none(), None, true).ok()?;
        let meter = self.meter();
        let shown = show(&scene, probe.quantity, probe.place, &meter)?;
        let accuracy = meter.accuracy(probe.quantity);
        let count = match displayed(shown.value, probe.quantity) {
            Observed::Number { count, .. } if probe.quantity != Quantity::Beep => count,
            _ => 0.0,
        };
        let own = accuracy.fraction * shown.value.abs() + accuracy.counts * count;
        Some((shown.value, shown.standard().hypot(own / 3.0_f64.sqrt())))
    }
}
