//! What a guess is worth: right, as good as right, or contradicted by a reading.

use super::super::fault_table::MARKED;
use super::Quiz;
use super::way::thought;
use crate::circuit::{Circuit, Overlay, Reading};
use crate::diagnosis::{Candidate, Case, Diagnosis, Fit, Predictor, Probe, RuledOut, Verdict};
use crate::fault::{Evidence, Fault, SHORT, Spread, hypotheses};
use crate::plan::{Advice, Planner, mark_inseparable, measurements, seen, standing_in};

/// A reading of the student that is further off than this many standard uncertainties contradicts a
/// fault that is not on the list.
const CONTRADICTS: f64 = 4.0;
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
    /// What a guess is worth after some readings of the student.
    pub(super) fn judge(&self, guess: &Fault, readings: &[Reading]) -> Judgement {
        if self.is_hidden(guess) {
            return Judgement::Hidden;
        }
        if self.inseparable().contains(&guess.with_value(None)) {
            return Judgement::Inseparable;
        }
        let circuit = self.circuit();
        let known = self.known(readings.iter());
        let diagnosis = thought(self.assembly, &known, None);
        let judged = match self.on_the_list(guess, &diagnosis, &known) {
            Some(judged) => judged,
            None => match guess.overlay(circuit) {
                Some(overlay) => self.not_on_the_list(&overlay, &known),
                None => Judgement::Possible,
            },
        };
        match judged {
            Judgement::Possible if same_change(circuit, &self.hidden.fault, guess) => {
                Judgement::SameChange
            }
            other => other,
        }
    }

    fn on_the_list(
        &self,
        guess: &Fault,
        diagnosis: &Diagnosis,
        known: &[Reading],
    ) -> Option<Judgement> {
        let own = candidate(diagnosis, guess)?;
        if let Some(ruled_out) = own.ruled_out_by {
            return Some(Judgement::Contradicted(ruled_out));
        }
        let hidden = candidate(diagnosis, &self.hidden.fault);
        let together = hidden
            .is_some_and(|hidden| hidden.verdict != Verdict::Excluded && hidden.group == own.group);
        let is_settled = || {
            let planner = Planner::quick(self.assembly, known, diagnosis, &self.meter());
            let now = standing_in(known);
            let advice = planner.advise(self.circuit(), diagnosis, now, &|_| false);
            !matches!(advice, Advice::Measure(_))
        };
        Some(match together && is_settled() {
            true => Judgement::NotToldApart,
            false => Judgement::Possible,
        })
    }

    fn not_on_the_list(&self, overlay: &Overlay, known: &[Reading]) -> Judgement {
        if known.is_empty() {
            return Judgement::Possible;
        }
        let case = Case::new(self.assembly, known);
        let Ok(prediction) = case.predict(overlay) else { return Judgement::NoPoint };
        let Some(fit) = Fit::new(&case, &prediction) else { return Judgement::Possible };
        let worst = fit.off.iter().enumerate().max_by(|a, b| a.1.abs().total_cmp(&b.1.abs()));
        match worst {
            Some((reading, off)) if off.abs() > CONTRADICTS => {
                Judgement::Contradicted(RuledOut { reading, predicted: prediction.shown[reading] })
            }
            _ => Judgement::Possible,
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
            let is_one = |one: &Candidate, cause: &Fault| {
                let by_plan = own.inseparable.is_some() && one.inseparable == own.inseparable;
                // Causes of one change differ in the current through each part at least, where that
                // can be read.
                by_plan && one.hypothesis != own.hypothesis || self.shows_the_same(cause)
            };
            let beside = |one: &Candidate| {
                one.hypothesis == own.hypothesis || own.group.is_some() && one.group == own.group
            };
            alike(&diagnosis, hidden, &beside, &is_one)
        })
    }

    /// Whether a fault shows what the hidden one shows at every measurement there is.
    fn shows_the_same(&self, fault: &Fault) -> bool {
        let circuit = self.circuit();
        let all = measurements(circuit, &[], &[]);
        let probes: Vec<Probe> = all.iter().map(|one| one.probe).collect();
        let meter = self.meter();
        let predictor = Predictor::new(self.assembly, &probes, &meter);
        let [Some(own), Some(other)] = [&self.hidden.fault, fault].map(|one| one.overlay(circuit))
        else {
            return false;
        };
        let (own, other) = (predictor.predict(&own), predictor.predict(&other));
        own.iter().zip(&other).zip(&probes).all(|((own, other), probe)| match (own, other) {
            (Some(own), Some(other)) => {
                let [own, other] = [own, other].map(|one| seen(one, probe.quantity, &meter));
                (own.y - other.y).abs() <= MARKED * own.sigma.min(other.sigma)
            }
            _ => true,
        })
    }
}

/// The faults that a diagnosis leaves in one group with the hidden one, the hidden one first.
pub(super) fn not_told_apart(diagnosis: &Diagnosis, hidden: &Fault) -> Vec<Fault> {
    let group = candidate(diagnosis, hidden).and_then(|own| own.group);
    alike(diagnosis, hidden, &|one| group.is_some() && one.group == group, &|_, _| true)
}

/// The hidden fault, and the causes that are kept of all candidates that are.
fn alike(
    diagnosis: &Diagnosis,
    hidden: &Fault,
    keep: &dyn Fn(&Candidate) -> bool,
    keep_cause: &dyn Fn(&Candidate, &Fault) -> bool,
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
