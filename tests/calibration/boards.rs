//! A demo board: faults drawn from the list by their weights, parts from their tolerances, readings
//! with the meter's errors, and what the diagnosis says of them.
#![allow(dead_code, reason = "the test and the bench use their own parts of it")]

use ohmhound::circuit::{Circuit, Meter, Overlay, Place, Quantity, Reading, SetupId};
use ohmhound::diagnosis::{Candidate, Case, Diagnosis, Fit, Trace, Verdict, chi_square, diagnose};
use ohmhound::engine::Assembly;
use ohmhound::fault::{BUDGET, Evidence, Hypothesis, hypotheses};

use crate::chance::{Chance, Draw, laid, ohms_round, place, read, shown, tolerances, volts_round};
use crate::figures::{Figures, Mean};

/// A board with what is read on it and what may be wrong with it.
pub struct Board<'a> {
    pub assembly: &'a Assembly<'a>,
    pub list: Vec<Hypothesis>,
    pub places: Vec<(SetupId, Quantity, Place)>,
    pub meter: Meter,
    /// Weights that faults are drawn by: nothing for those that no DC reading shows; healthy last.
    pub weights: Vec<f64>,
}

/// A drawn board with its readings.
pub struct Drawn {
    /// The hypothesis that is true; the number of hypotheses for a healthy board.
    pub truth: usize,
    pub place: f64,
    pub readings: Vec<Reading>,
}

impl<'a> Board<'a> {
    /// Volts at every net, and ohms to ground with the power off.
    pub fn new(assembly: &'a Assembly<'a>) -> Board<'a> {
        let circuit: &Circuit = assembly.circuit();
        let list = hypotheses(circuit, &Evidence::default());
        let mut places = volts_round(circuit);
        places.extend(ohms_round(circuit));
        let meter = Meter::default();
        let mut chance = Chance::new(0);
        let healthy = shown(assembly, &Overlay::none(), &places, &meter).expect("a healthy board");
        let readings = read(&healthy, &places, meter, &mut chance, Draw::Nominal);
        let invisible = diagnose(assembly, &readings, &[]).invisible;
        let mut weights: Vec<f64> = list
            .iter()
            .map(|hypothesis| {
                let fault = hypothesis.causes[0].fault;
                let seen = invisible.iter().all(|(known, _)| *known != fault);
                if seen { hypothesis.weight() } else { 0.0 }
            })
            .collect();
        weights.push(BUDGET.healthy);
        Board { assembly, list, places, meter, weights }
    }

    /// The change of a truth.
    pub fn overlay(&self, truth: usize, place: f64) -> Overlay {
        self.list.get(truth).map_or_else(Overlay::none, |hypothesis| hypothesis.overlay(place))
    }

    /// Readings of a board with a change in it; `None` when it has no operating point.
    pub fn readings(
        &self,
        change: &Overlay,
        chance: &mut Chance,
        (parts, meter): (Draw, Draw),
    ) -> Option<Vec<Reading>> {
        let change = laid(tolerances(self.assembly, chance, parts), change);
        let shown = shown(self.assembly, &change, &self.places, &self.meter).ok()?;
        Some(read(&shown, &self.places, self.meter, chance, meter))
    }

    /// A fault by weight with its value, on a board drawn from its tolerances.
    pub fn draw(&self, chance: &mut Chance, how: (Draw, Draw)) -> Drawn {
        loop {
            let truth = chance.pick(self.weights.iter().copied());
            let place = self.list.get(truth).map_or(0.0, |hypothesis| place(hypothesis, chance));
            if let Some(readings) = self.readings(&self.overlay(truth, place), chance, how) {
                return Drawn { truth, place, readings };
            }
        }
    }

    /// Probabilities of all hypotheses and of a healthy board, which is the last, given that it is
    /// one of them; and the groups of all.
    pub fn shares(&self, diagnosis: &Diagnosis) -> (Vec<f64>, Vec<Option<usize>>) {
        let mut shares = vec![0.0; self.list.len() + 1];
        let mut groups = vec![None; self.list.len() + 1];
        // Misreadings stand behind the faults: none is drawn, so none is counted.
        let known = |one: &&Candidate| one.hypothesis < self.list.len();
        for candidate in diagnosis.candidates.iter().filter(known) {
            shares[candidate.hypothesis] = candidate.probability;
            groups[candidate.hypothesis] = candidate.group;
        }
        shares[self.list.len()] = diagnosis.healthy_probability;
        let sum: f64 = shares.iter().sum();
        // Where "something else" has taken all, they are as good as equal.
        let n = shares.len() as f64;
        shares.iter_mut().for_each(|share| *share = if sum > 0.0 { *share / sum } else { 1.0 / n });
        (shares, groups)
    }

    /// Where the true value stands among what the readings leave of its line, between zero and
    /// one: even over many draws. `None` for a line without any mass.
    pub fn rank(&self, drawn: &Drawn, chance: &mut Chance) -> Option<f64> {
        let hypothesis = &self.list[drawn.truth];
        let case = Case::new(self.assembly, &drawn.readings);
        let trace = Trace::new(&case, hypothesis, &|overlay| case.predict(overlay).ok())?;
        let far = trace.is_far(&case);
        let trace = if far {
            trace.around(&case, hypothesis, &|_| None, |_| false)
        } else {
            trace.corrected(&case, hypothesis, &|overlay| case.predict(overlay).ok(), &|_| None)
        };
        rank(&trace, hypothesis, drawn.place, chance)
    }
}

/// Whether a draw with a fault that is not on the list is one to be told: its readings without any
/// error lie beyond the 99.99 % quantile of every other fault at its best value.
fn is_beyond(board: &Board<'_>, diagnosis: &Diagnosis, readings: &[Reading], truth: usize) -> bool {
    let far = |distance: f64, freedom: usize| distance > chi_square(0.9999, freedom);
    let case = Case::new(board.assembly, readings);
    let healthy = case.predict(&Overlay::none()).ok();
    let healthy = healthy.and_then(|prediction| Fit::new(&case, &prediction));
    healthy.is_none_or(|fit| far(fit.distance, readings.len()))
        && diagnosis
            .candidates
            .iter()
            .all(|one| one.hypothesis == truth || far(one.distance, one.freedom))
}

/// Draws faults and leaves each off the list: how many could be told, and the share of them of which
/// nothing else on the list is said to fit.
pub fn unlisted(board: &Board<'_>, draws: usize, chance: &mut Chance) -> Mean {
    let mut told = Mean::default();
    for _ in 0..draws {
        let truth = chance.pick(board.weights.iter().copied());
        let Some(hypothesis) = board.list.get(truth) else { continue };
        let change = hypothesis.overlay(place(hypothesis, chance));
        let Some(exact) = board.readings(&change, chance, (Draw::Nominal, Draw::Nominal)) else {
            continue;
        };
        let diagnosis = diagnose(board.assembly, &exact, &[]);
        if !is_beyond(board, &diagnosis, &exact, truth) {
            continue;
        }
        let Some(drawn) = board.readings(&change, chance, (Draw::Normal, Draw::Normal)) else {
            continue;
        };
        let diagnosis = diagnose(board.assembly, &drawn, &[]);
        let fits = diagnosis.healthy_verdict == Verdict::Reproduces
            || diagnosis
                .candidates
                .iter()
                .any(|one| one.hypothesis != truth && one.verdict == Verdict::Reproduces);
        told.add(f64::from(u8::from(!fits)));
    }
    told
}

/// The same of a trace.
pub fn rank(
    trace: &Trace,
    hypothesis: &Hypothesis,
    place: f64,
    chance: &mut Chance,
) -> Option<f64> {
    if trace.below.is_empty() {
        return None;
    }
    let (without, with) = trace.share_below(hypothesis, place);
    Some(without + (with - without) * chance.share())
}

/// What the verdicts of many draws were.
#[derive(Debug, Clone, Default)]
pub struct Verdicts {
    pub draws: usize,
    /// The true fault was called strained.
    pub strained: usize,
    /// The true fault was excluded, in words.
    pub excluded: Vec<String>,
    /// Nothing on the list fits.
    pub nothing: usize,
    /// The share of "something else".
    pub other: Mean,
}

impl Verdicts {
    pub fn add(&mut self, board: &Board<'_>, drawn: &Drawn, diagnosis: &Diagnosis) {
        self.draws += 1;
        self.nothing += usize::from(diagnosis.nothing_fits);
        self.other.add(diagnosis.other_probability);
        let (verdict, distance, worst) = if drawn.truth == board.list.len() {
            (diagnosis.healthy_verdict, f64::NAN, f64::NAN)
        } else {
            let own = diagnosis.candidates.iter().find(|one| one.hypothesis == drawn.truth);
            own.map_or((Verdict::Excluded, f64::INFINITY, 0.0), |own| {
                (own.verdict, own.distance, own.worst_sigma)
            })
        };
        match verdict {
            Verdict::Reproduces => {}
            Verdict::Strained => self.strained += 1,
            Verdict::Excluded => {
                let name = board.list.get(drawn.truth).map_or("healthy".to_owned(), |hypothesis| {
                    hypothesis.name(board.assembly.circuit())
                });
                let value = drawn.place.exp();
                self.excluded.push(format!("{name} {value:.4e} d2 {distance:.1} worst {worst:.1}"));
            }
        }
    }
}

/// Draws boards and diagnoses them.
pub fn run(
    board: &Board<'_>,
    draws: usize,
    chance: &mut Chance,
    how: (Draw, Draw),
) -> (Figures, Verdicts) {
    let (mut figures, mut verdicts) = (Figures::default(), Verdicts::default());
    for _ in 0..draws {
        let drawn = board.draw(chance, how);
        let diagnosis = diagnose(board.assembly, &drawn.readings, &[]);
        let (shares, groups) = board.shares(&diagnosis);
        let truth = drawn.truth;
        figures
            .add(&shares, truth, |class| groups[class].is_some() && groups[class] == groups[truth]);
        verdicts.add(board, &drawn, &diagnosis);
    }
    (figures, verdicts)
}
