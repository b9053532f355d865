//! A session that is played by a script: it holds a hidden fault on a board drawn from its
//! tolerances, and answers with the meter's errors.
#![allow(dead_code, reason = "the test and the bench use their own parts of it")]

use std::sync::Arc;
use std::time::{Duration, Instant};

use ohmhound::circuit::{
    Meter, Overlay, POWERED, PartId, Place, Quantity, Reading, SetupId, Spot, UNPOWERED,
};
use ohmhound::diagnosis::{Diagnosis, Earlier, Job, Pairs, Probe, diagnose_job};
use ohmhound::engine::Assembly;
use ohmhound::fault::{Evidence, Fault, Hypothesis, hypotheses};
use ohmhound::meter::{Scene, show};
use ohmhound::plan::{
    Advice, Measurement, Planner, Problem, SURE, is_live, measurements, standing_in, think_ahead,
};

use crate::chance::{Chance, Draw, laid, place_of, read, tolerances};

/// Questions after which a session is given up.
pub const MOST: usize = 60;

/// How the next measurement is chosen.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Way {
    /// As the planner says.
    Planned,
    /// Any that was not taken yet.
    Random,
    /// Volts from net to net in the order of the file, then ohms: from the input to the output.
    Chain,
}

/// How a session ended.
#[derive(Debug, Clone)]
pub struct Ending {
    /// Measurements taken.
    pub probes: usize,
    /// Their effort, switching the power included.
    pub effort: f64,
    /// How sure the program was of what it said at the end.
    pub claim: f64,
    /// Whether the hidden fault is what it said, or would be mended by what it said to do first.
    pub is_right: bool,
    /// What was hidden, and what was said.
    pub told: String,
    /// How long each question took to be found, from the answer before it.
    pub thinking: Vec<Duration>,
}

/// What is hidden: a cause with its value, or nothing on a healthy board.
#[derive(Debug, Clone, Copy)]
pub struct Hidden(pub Option<Fault>);

/// A board to play on.
pub struct Table<'a> {
    pub assembly: &'a Assembly<'a>,
    list: Vec<Hypothesis>,
    weights: Vec<f64>,
    meter: Meter,
    /// Whether the program thinks ahead while the script measures, as on a terminal.
    pub thinks_ahead: bool,
}

impl<'a> Table<'a> {
    pub fn new(assembly: &'a Assembly<'a>) -> Table<'a> {
        let list = hypotheses(assembly.circuit(), &Evidence::default());
        let mut weights: Vec<f64> = list.iter().map(Hypothesis::weight).collect();
        weights.push(ohmhound::fault::BUDGET.healthy);
        let (meter, thinks_ahead) = (Meter::default(), false);
        Table { assembly, list, weights, meter, thinks_ahead }
    }

    /// Something to hide: by weight, with a value from its spread.
    pub fn hidden(&self, chance: &mut Chance) -> Hidden {
        let truth = chance.pick(self.weights.iter().copied());
        let Some(hypothesis) = self.list.get(truth) else { return Hidden(None) };
        let cause = chance.pick(hypothesis.causes.iter().map(|cause| cause.weight));
        let cause = &hypothesis.causes[cause];
        let value = hypothesis.curve.as_ref().map(|_| place_of(cause, chance).exp());
        Hidden(Some(cause.fault.with_value(value)))
    }

    /// Plays a session to its end; `None` for what has no operating point, and so no readings.
    pub fn play(&self, hidden: Hidden, way: Way, chance: &mut Chance) -> Option<Ending> {
        self.watched(hidden, way, chance, &mut |_, _| {})
    }

    /// What there is to be told apart before every question of a planned session, and whether the
    /// power is on then.
    pub fn problems(&self, hidden: Hidden, chance: &mut Chance) -> Vec<(Problem, bool)> {
        let mut problems = Vec::new();
        let circuit = self.assembly.circuit();
        self.watched(hidden, Way::Planned, chance, &mut |readings, diagnosis| {
            let planner = Planner::new(self.assembly, readings, diagnosis, &self.meter);
            let now = standing_in(readings);
            problems.push((planner.problem(), is_live(circuit, now)));
        });
        problems
    }

    /// The same; `watch` sees the readings and what is thought of them before every question.
    pub fn watched(
        &self,
        hidden: Hidden,
        way: Way,
        chance: &mut Chance,
        watch: &mut dyn FnMut(&[Reading], &Diagnosis),
    ) -> Option<Ending> {
        let circuit = self.assembly.circuit();
        let overlay = match hidden.0 {
            Some(fault) => fault.overlay(circuit)?,
            None => Overlay::none(),
        };
        let board = laid(tolerances(self.assembly, chance, Draw::Normal), &overlay);
        let scenes: Vec<(SetupId, Scene<'_>)> = [POWERED, UNPOWERED]
            .into_iter()
            .map(|setup| Some((setup, Scene::new(self.assembly, setup, &board, None, false).ok()?)))
            .collect::<Option<_>>()?;
        let shown = |probe: &Probe| {
            let (_, scene) = scenes.iter().find(|(known, _)| *known == probe.setup)?;
            show(scene, probe.quantity, probe.place, &self.meter).map(|shown| shown.value)
        };
        // All that could be asked is read at once: the meter has one gain for the whole session.
        let all = measurements(circuit, &[], &[]);
        let pins = circuit.parts_by_id().filter(|(_, part)| !part.is_two_pin());
        let pins = pins.flat_map(|(id, part)| (0..part.pins.len()).map(move |pin| (id, pin)));
        let at_pin = |(part, pin): (PartId, usize)| Probe {
            setup: POWERED,
            quantity: Quantity::Volts,
            place: Place::At(Spot::Pin(part, pin)),
        };
        let probes = all.iter().map(|one| one.probe).chain(pins.map(at_pin));
        let seen: Vec<(Probe, f64)> =
            probes.filter_map(|probe| Some((probe, shown(&probe)?))).collect();
        let places: Vec<_> =
            seen.iter().map(|(one, _)| (one.setup, one.quantity, one.place)).collect();
        let values: Vec<f64> = seen.iter().map(|(_, value)| *value).collect();
        let answers = read(&values, &places, self.meter, chance, Draw::Normal);
        let answer = |probe: &Probe, chance: &mut Chance| -> Option<Reading> {
            let same = |one: &&Reading| {
                (one.setup, one.quantity, one.place) == (probe.setup, probe.quantity, probe.place)
            };
            if let Some(known) = answers.iter().find(same) {
                return Some(known.clone());
            }
            let place = [(probe.setup, probe.quantity, probe.place)];
            read(&[shown(probe)?], &place, self.meter, chance, Draw::Normal).pop()
        };
        let mut readings: Vec<Reading> = Vec::new();
        let mut skipped: Vec<Probe> = Vec::new();
        let mut effort = 0.0;
        let mut thinking = Vec::new();
        let mut earlier: Option<Arc<Earlier>> = None;
        loop {
            let start = Instant::now();
            let pairs = Pairs::Never;
            let job = Job { readings: &readings, pairs, is_brief: true, ..Job::default() };
            let with_earlier = Job { earlier: earlier.as_deref(), ..job };
            let diagnosis = diagnose_job(self.assembly, &with_earlier);
            earlier = Some(Arc::clone(&diagnosis.earlier));
            // As a session does it.
            let plan = if skipped.is_empty() { Planner::quick } else { Planner::new };
            let planner = plan(self.assembly, &readings, &diagnosis, &self.meter);
            let now = standing_in(&readings);
            watch(&readings, &diagnosis);
            let passed_over = |one: &Measurement| skipped.contains(&one.probe);
            let advice = planner.advise(circuit, &diagnosis, now, &passed_over);
            thinking.push(start.elapsed());
            if let (Advice::Measure(asked), true) = (&advice, self.thinks_ahead) {
                think_ahead(self.assembly, &job, &diagnosis, asked, &self.meter);
            }
            let chosen = match (&advice, way) {
                (Advice::Measure(best), Way::Planned) => Some(best.measurement.clone()),
                (Advice::Measure(_), _) => other(&all, &readings, &skipped, way, chance),
                _ => None,
            };
            let Some(one) = chosen.filter(|_| readings.len() < MOST) else {
                let healthy = diagnosis.healthy_probability;
                let measured = (readings.len(), effort);
                return Some(Ending {
                    thinking,
                    ..self.ending(hidden, measured, &advice, healthy)
                });
            };
            match answer(&one.probe, chance) {
                Some(reading) => {
                    effort += one.effort + planner.switching(now, one.probe.setup);
                    readings.push(reading);
                }
                None => skipped.push(one.probe),
            }
        }
    }

    fn ending(
        &self,
        hidden: Hidden,
        (probes, effort): (usize, f64),
        advice: &Advice,
        healthy: f64,
    ) -> Ending {
        let circuit = self.assembly.circuit();
        let name = hidden.0.map_or("nothing".to_owned(), |fault| fault.full_phrase(circuit));
        let (claim, is_right, said) = match advice {
            Advice::Healthy => (healthy, hidden.0.is_none(), "healthy".to_owned()),
            Advice::Nothing => (0.0, false, "nothing fits".to_owned()),
            other => match other.first_repair() {
                None => (0.0, false, "no end".to_owned()),
                Some(repair) => {
                    let is_it = |fault: Fault| {
                        let phrase = fault.with_value(None).phrase(circuit);
                        repair.faults.contains(&phrase)
                            || fault.part().is_some() && fault.part() == repair.part
                    };
                    let right = hidden.0.is_some_and(is_it);
                    (repair.probability, right, repair.faults.join(", "))
                }
            },
        };
        let told = format!("{name}: said {said} with {claim:.4}");
        Ending { probes, effort, claim, is_right, told, thinking: Vec::new() }
    }
}

/// A measurement that was not taken yet, at random or along the chain.
fn other(
    all: &[Measurement],
    readings: &[Reading],
    skipped: &[Probe],
    way: Way,
    chance: &mut Chance,
) -> Option<Measurement> {
    let is_open = |one: &&Measurement| {
        let taken = |reading: &Reading| {
            (reading.setup, reading.quantity, reading.place)
                == (one.probe.setup, one.probe.quantity, one.probe.place)
        };
        !readings.iter().any(taken) && !skipped.contains(&one.probe)
    };
    let open: Vec<&Measurement> = all.iter().filter(is_open).collect();
    let at = match way {
        Way::Random => ((chance.share() * open.len() as f64) as usize).min(open.len().max(1) - 1),
        _ => 0,
    };
    open.get(at).map(|one| (*one).clone())
}

/// Whether so many wrong ones among claims of this much are too many: the chance of as many or more
/// is below one in a hundred (a one-sided binomial test).
pub fn too_many_wrong(wrong: usize, claims: usize, claimed: f64) -> bool {
    let p = 1.0 - claimed;
    // The probability of fewer than `wrong`, summed term by term.
    let (mut term, mut below) = ((1.0 - p).powi(claims as i32), 0.0);
    for k in 0..wrong {
        below += term;
        term *= (claims - k) as f64 / (k + 1) as f64 * p / (1.0 - p);
    }
    wrong > 0 && 1.0 - below < 0.01
}

/// The share from which on an ending counts as a claim.
pub const CLAIM: f64 = SURE;
