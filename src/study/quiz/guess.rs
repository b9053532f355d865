//! What a guess is worth: right, as good as right, or contradicted by a reading.

use super::Quiz;
use super::way::thought;
use crate::circuit::{Circuit, Observed, Reading};
use crate::diagnosis::{
    Candidate, Case, Diagnosis, Fit, Foreseen, MARKED, Predictor, Probe, RuledOut, Verdict,
};
use crate::fault::{Evidence, Fault, SHORT, Spread, hypotheses};
use crate::meter::Target;
use crate::plan::{Advice, Planner, mark_inseparable, measurements, seen, standing_in};

/// A reading that is further off than this many standard uncertainties, at the value that fits best,
/// contradicts a fault.
const CONTRADICTS: f64 = 4.0;
/// A fault that all readings together make less likely than this is contradicted by the one that it is
/// furthest from.
const NEVER: f64 = 1e-7;
/// A fault that is less likely than this by all readings is no other name of the hidden one.
const LEAST: f64 = 1e-3;

/// What a guess is worth.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Judgement {
    /// It is what is hidden.
    Hidden,
    /// It is the same change between the same nets, in another part: neither right nor wrong. The
    /// current through each part would tell.
    SameChange,
    /// No measurement tells it from what is hidden.
    Inseparable,
    /// The readings do not tell it from what is hidden, and no measurement is worth its effort any
    /// more.
    NotToldApart,
    /// A reading contradicts it.
    Contradicted(RuledOut),
    /// It fits what was read so far, but something else is hidden.
    Possible,
    /// The board would have no operating point.
    NoPoint,
}

impl Judgement {
    /// Whether it counts as right.
    pub fn is_right(self) -> bool {
        matches!(self, Judgement::Hidden | Judgement::Inseparable | Judgement::NotToldApart)
    }

    /// Whether it counts as wrong; the right change in another part is neither.
    pub fn is_wrong(self) -> bool {
        !self.is_right() && self != Judgement::SameChange
    }
}

impl Quiz<'_> {
    /// What a guess is worth after some readings of the student. What was right after fewer of them
    /// stays right, unless a reading contradicts it.
    pub(super) fn judge(&self, guess: &Fault, readings: &[Reading]) -> Judgement {
        if self.is_hidden(guess) {
            return Judgement::Hidden;
        }
        let known = self.known(readings.iter());
        let diagnosis = thought(self.assembly, &known, None);
        let hidden_fits = candidate(&diagnosis, &self.hidden.fault)
            .is_some_and(|hidden| hidden.verdict != Verdict::Excluded);
        let against = self.against(guess, &diagnosis, &known);
        // What shows the same as what is hidden is not contradicted while that is not.
        if hidden_fits && let Some(against) = against {
            return against;
        }
        if self.inseparable().contains(&guess.with_value(None)) {
            return Judgement::Inseparable;
        }
        if let Some(against) = against {
            return against;
        }
        if self.is_not_told_apart(guess, readings, &diagnosis) {
            return Judgement::NotToldApart;
        }
        match same_change(self.circuit(), &self.hidden.fault, guess) {
            true => Judgement::SameChange,
            false => Judgement::Possible,
        }
    }

    /// What speaks against a guess: a reading that it cannot make, whatever its value is.
    fn against(
        &self,
        guess: &Fault,
        diagnosis: &Diagnosis,
        known: &[Reading],
    ) -> Option<Judgement> {
        let bare = guess.with_value(None);
        if let Some(own) = candidate(diagnosis, guess) {
            if let Some(ruled_out) = own.ruled_out_by {
                return Some(Judgement::Contradicted(ruled_out));
            }
            let shares = own.causes.iter().zip(&own.cause_shares);
            let own_share = shares.filter(|(cause, _)| cause.with_value(None) == bare);
            let share: f64 = own_share.map(|(_, share)| share).sum();
            if own.probability < NEVER
                && let Some(reading) = furthest(self.circuit(), known, &own.predicted)
            {
                let predicted = own.predicted[reading];
                return Some(Judgement::Contradicted(RuledOut { reading, predicted }));
            }
            if share > LEAST && takes_values(self.circuit(), &bare) {
                return None;
            }
        }
        self.by_its_values(guess, known)
    }

    /// The same by all values that a fault may have: the one that fits best counts.
    fn by_its_values(&self, guess: &Fault, known: &[Reading]) -> Option<Judgement> {
        if known.is_empty() {
            return None;
        }
        let case = Case::new(self.assembly, known);
        let mut best: Option<(f64, RuledOut)> = None;
        let mut is_tried = false;
        let mut off_at = |fault: &Fault| -> Option<f64> {
            let overlay = fault.overlay(self.circuit())?;
            is_tried = true;
            let prediction = case.predict(&overlay).ok()?;
            let (reading, off) = Fit::new(&case, &prediction)?.worst()?;
            // A light that is seen dark is no tenth of a light: eyes need no more than a factor of two.
            let against = sight_against(self.circuit(), known, &prediction.shown);
            let (reading, off) = against.map_or((reading, off), |at| (at, 2.0 * CONTRADICTS));
            let ruled_out = RuledOut { reading, predicted: prediction.shown[reading] };
            if best.is_none_or(|(least, _)| off.abs() < least) {
                best = Some((off.abs(), ruled_out));
            }
            Some(off.abs())
        };
        let bare = guess.with_value(None);
        if guess.value().is_some() || !takes_values(self.circuit(), &bare) {
            off_at(guess);
        } else {
            let list = hypotheses(self.circuit(), &Evidence::default());
            for cause in list.iter().flat_map(|one| &one.causes).filter(|one| one.fault == bare) {
                match cause.spread {
                    Spread::None => {}
                    Spread::At(place) => {
                        off_at(&cause.at(place));
                    }
                    Spread::Range { low, high, except } => {
                        let is_fault =
                            |place: f64| except.is_none_or(|(from, to)| place < from || to < place);
                        nearest(low, high, &mut |place| {
                            let fault = bare.with_value(Some(place.exp()));
                            is_fault(place).then(|| off_at(&fault)).flatten()
                        });
                    }
                }
            }
        }
        match best {
            Some((off, ruled_out)) => {
                (off > CONTRADICTS).then_some(Judgement::Contradicted(ruled_out))
            }
            None => is_tried.then_some(Judgement::NoPoint),
        }
    }

    /// Whether these readings, or fewer of them, left a guess in one group with what is hidden when
    /// no measurement was worth its effort any more.
    fn is_not_told_apart(
        &self,
        guess: &Fault,
        readings: &[Reading],
        diagnosis: &Diagnosis,
    ) -> bool {
        if self.is_settled_with(guess, &self.known(readings.iter()), diagnosis) {
            return true;
        }
        (0..readings.len()).rev().any(|count| {
            let known = self.known(readings[..count].iter());
            let diagnosis = thought(self.assembly, &known, None);
            self.is_settled_with(guess, &known, &diagnosis)
        })
    }

    fn is_settled_with(&self, guess: &Fault, known: &[Reading], diagnosis: &Diagnosis) -> bool {
        let Some(own) = candidate(diagnosis, guess) else { return false };
        let hidden = candidate(diagnosis, &self.hidden.fault);
        let together = hidden
            .is_some_and(|hidden| hidden.verdict != Verdict::Excluded && hidden.group == own.group);
        together && {
            let planner = Planner::quick(self.assembly, known, diagnosis, &self.meter());
            let now = standing_in(known);
            let advice = planner.advise(self.circuit(), diagnosis, now, &|_| false);
            !matches!(advice, Advice::Measure(_))
        }
    }

    /// The faults that no measurement tells from the hidden one, itself first: what the readings of the
    /// planned way leave together with it, compared at every measurement that could still be taken.
    pub fn inseparable(&self) -> &[Fault] {
        self.inseparable.get_or_init(|| {
            let known = self.known(self.way.steps.iter().map(|step| &step.reading));
            let mut diagnosis = thought(self.assembly, &known, None);
            mark_inseparable(self.assembly, &mut diagnosis, &self.meter());
            let hidden = &self.hidden.fault;
            let Some(own) = candidate(&diagnosis, hidden) else {
                return vec![hidden.with_value(None)];
            };
            let mut looks = Looks::new(self);
            let mut is_one = |one: &Candidate, cause: &Fault| {
                let by_plan = own.inseparable.is_some() && one.inseparable == own.inseparable;
                // Causes of one change differ in the current through each part at least, where that
                // can be read.
                by_plan && one.hypothesis != own.hypothesis || looks.are_as_of(cause)
            };
            let beside = |one: &Candidate| {
                one.hypothesis == own.hypothesis || own.group.is_some() && one.group == own.group
            };
            alike(&diagnosis, hidden, &beside, &mut is_one)
        })
    }
}

/// Boards that are compared with the hidden one in full.
const COMPARED: usize = 12;

/// What the board with the hidden fault shows at every measurement there is.
struct Looks<'q> {
    quiz: &'q Quiz<'q>,
    probes: Vec<Probe>,
    predictor: Predictor<'q>,
    own: Vec<Option<Foreseen>>,
    left: usize,
}

impl<'q> Looks<'q> {
    fn new(quiz: &'q Quiz<'_>) -> Looks<'q> {
        let circuit = quiz.circuit();
        let all = measurements(circuit, &[], &[]);
        let probes: Vec<Probe> = all.iter().map(|one| one.probe).collect();
        let predictor = Predictor::new(quiz.assembly, &probes, &quiz.meter()).thorough();
        let own = quiz.hidden.fault.overlay(circuit);
        let own = own.map_or_else(Vec::new, |own| predictor.predict(&own));
        Looks { quiz, probes, predictor, own, left: COMPARED }
    }

    /// Whether a fault shows the same everywhere.
    fn are_as_of(&mut self, fault: &Fault) -> bool {
        let Some(overlay) = fault.overlay(self.quiz.circuit()) else { return false };
        if self.left == 0 || self.own.is_empty() {
            return false;
        }
        self.left -= 1;
        let meter = self.quiz.meter();
        let other = self.predictor.predict(&overlay);
        self.own.iter().zip(&other).zip(&self.probes).all(|((own, other), probe)| {
            let (Some(own), Some(other)) = (own, other) else { return true };
            // OL is OL, however far over the range it is.
            match (own.shown.is_finite(), other.shown.is_finite()) {
                (true, true) => {}
                (own, other) => return own == other,
            }
            let [own, other] = [own, other].map(|one| seen(one, probe.quantity, &meter));
            (own.y - other.y).abs() <= MARKED * own.sigma.min(other.sigma)
        })
    }
}

/// The faults that a diagnosis leaves in one group with the hidden one, the hidden one first.
pub(super) fn not_told_apart(diagnosis: &Diagnosis, hidden: &Fault) -> Vec<Fault> {
    let group = candidate(diagnosis, hidden).and_then(|own| own.group);
    alike(diagnosis, hidden, &|one| group.is_some() && one.group == group, &mut |_, _| true)
}

/// The hidden fault, and the causes that are kept of all candidates that are.
fn alike(
    diagnosis: &Diagnosis,
    hidden: &Fault,
    keep: &dyn Fn(&Candidate) -> bool,
    keep_cause: &mut dyn FnMut(&Candidate, &Fault) -> bool,
) -> Vec<Fault> {
    let mut found = vec![hidden.with_value(None)];
    let counts =
        |one: &&Candidate| keep(one) && one.probability >= LEAST && !one.fault.is_misread();
    for one in diagnosis.candidates.iter().filter(counts) {
        for (cause, share) in one.causes.iter().zip(&one.cause_shares) {
            let bare = cause.with_value(None);
            if *share > LEAST && !found.contains(&bare) && keep_cause(one, cause) {
                found.push(bare);
            }
        }
    }
    found
}

/// The likeliest candidate that a fault is a cause of.
pub(super) fn candidate<'d>(diagnosis: &'d Diagnosis, fault: &Fault) -> Option<&'d Candidate> {
    let bare = fault.with_value(None);
    let is_own = |one: &&Candidate| one.causes.iter().any(|cause| cause.with_value(None) == bare);
    diagnosis.candidates.iter().find(is_own)
}

/// The light among some readings that would be seen the other way, by more than a factor of two of
/// its current (common practice, no published source).
fn sight_against(circuit: &Circuit, readings: &[Reading], shown: &[f64]) -> Option<usize> {
    readings.iter().zip(shown).position(|(reading, shown)| {
        let target = Target::new(circuit, reading);
        let place = target.scale.of(*shown);
        let away = (target.low - place).max(place - target.high);
        matches!(reading.observed, Observed::Sight(_)) && away > std::f64::consts::LN_2
    })
}

/// The reading that a prediction is furthest from, in standard uncertainties of the meter; `None` where
/// it is near all of them.
fn furthest(circuit: &Circuit, readings: &[Reading], shown: &[f64]) -> Option<usize> {
    let off = |(reading, shown): (&Reading, &f64)| {
        let target = Target::new(circuit, reading);
        let place = target.scale.of(*shown);
        (target.low - place).max(place - target.high) / target.standard().max(f64::MIN_POSITIVE)
    };
    let each = readings.iter().zip(shown).map(off).enumerate();
    let worst = each.max_by(|a, b| a.1.total_cmp(&b.1));
    worst.filter(|(_, off)| *off > CONTRADICTS).map(|(reading, _)| reading)
}

/// Whether a fault may have many values: a leak without one stands for all of them, not for a short.
fn takes_values(circuit: &Circuit, bare: &Fault) -> bool {
    let list = hypotheses(circuit, &Evidence::default());
    let mut causes = list.iter().flat_map(|one| &one.causes);
    causes.any(|cause| cause.fault == *bare && cause.spread != Spread::None)
}

/// Places of a round that looks for the value that fits best.
const PLACES: usize = 13;
/// Rounds, each between the neighbours of the best place of the one before.
const ROUNDS: usize = 3;

/// Looks along a line for the place that is least off.
fn nearest(mut low: f64, mut high: f64, off_at: &mut dyn FnMut(f64) -> Option<f64>) {
    for _ in 0..ROUNDS {
        let step = (high - low) / (PLACES - 1) as f64;
        let places = (0..PLACES).map(|at| low + step * at as f64);
        let looked = places.filter_map(|place| Some((off_at(place)?, place)));
        let best = looked.min_by(|a, b| a.0.total_cmp(&b.0));
        let Some((_, place)) = best.filter(|_| step > 0.0) else { return };
        (low, high) = ((place - step).max(low), (place + step).min(high));
    }
}

/// Whether two faults are causes of one physical change, at the value that the hidden one has.
fn same_change(circuit: &Circuit, hidden: &Fault, guess: &Fault) -> bool {
    let [hidden_bare, guess_bare] = [hidden, guess].map(|fault| fault.with_value(None));
    hypotheses(circuit, &Evidence::default()).iter().any(|hypothesis| {
        let of = |bare: Fault| hypothesis.causes.iter().filter(move |one| one.fault == bare);
        of(hidden_bare).any(|own| {
            let place = own.place(hidden.value().unwrap_or(SHORT).ln());
            of(guess_bare).any(|other| match other.spread {
                Spread::None => true,
                Spread::At(at) => (at - place).abs() < 1e-6,
                Spread::Range { low, high, except } => {
                    other.at(place).value().map(f64::ln).is_some_and(|value| {
                        let inside = low <= value && value <= high;
                        inside && except.is_none_or(|(from, to)| value < from || to < value)
                    })
                }
            })
        })
    })
}
