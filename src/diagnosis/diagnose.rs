//! The diagnosis: every fault tried, judged and ranked; and what to make of it when none fits.

use std::sync::Arc;

use rayon::prelude::*;

use super::candidate::{Candidate, Verdict, candidate, judge};
use super::case::{Case, Prediction};
use super::chain::{NO_MOVE, chain};
use super::earlier::Earlier;
use super::fit::{Fit, chi_square};
use super::groups::groups_of;
use super::pairs::{Pair, pairs};
use super::remarks::{Remark, remarks};
use super::screen::{Boards, Screen};
use super::split::Flipped;
use super::strain::NO_VALUE;
use super::trace::Trace;
use super::tried::{Tried, looked_into};
use super::without::{Without, without};
use crate::circuit::{Appearance, PartId, Reading, Readings};
use crate::engine::Assembly;
use crate::fault::{Evidence, Fault};

/// One reading beside what a healthy board would show.
#[derive(Debug, Clone)]
pub struct ReadingLine {
    /// The value of a healthy board in the SI unit; `None` when it has no operating point.
    pub expected: Option<f64>,
    /// One standard uncertainty of it, tolerances and meter together, in the SI unit.
    pub expected_u: f64,
    /// How far the reading is off, in standard uncertainties.
    pub off: f64,
    /// Whether the net floats on a healthy board.
    pub floats: bool,
}

/// A reading that is off by more than this many standard uncertainties is marked.
pub const MARKED: f64 = 3.0;

impl ReadingLine {
    /// Whether the reading is off by so much that people are told.
    pub fn is_off(&self) -> bool {
        self.off.abs() > MARKED
    }
}

/// The answer to "which single faults reproduce these readings".
#[derive(Debug, Clone)]
pub struct Diagnosis {
    /// The readings against a healthy board, in the order of the readings.
    pub readings: Vec<ReadingLine>,
    /// Every fault tried that has an operating point, most likely first.
    pub candidates: Vec<Candidate>,
    /// Faults that have no operating point.
    pub no_point: Vec<Fault>,
    /// Faults that change nothing that DC readings could show, with their weight.
    pub invisible: Vec<(Fault, f64)>,
    /// Whether a healthy board reproduces the readings.
    pub healthy_verdict: Verdict,
    /// Whether it does so in another of its stable states, not in the one it powers up in.
    pub healthy_other_state: bool,
    /// The condition that a healthy board has to have the other way than the nominal one for the
    /// readings to fit best, its threshold being within tolerance.
    pub healthy_flipped: Option<Flipped>,
    /// The share of "healthy".
    pub healthy_probability: f64,
    /// The share of "something else".
    pub other_probability: f64,
    /// Number of hypotheses tried.
    pub faults_tried: usize,
    /// What is odd about the readings by themselves.
    pub remarks: Vec<Remark>,
    /// Where nothing single fits: readings without which something does, the likeliest slip first.
    pub without: Vec<Without>,
    /// Pairs of faults that reproduce the readings, where they were looked for, likeliest first.
    pub pairs: Vec<Pair>,
    /// Whether pairs were looked for.
    pub pairs_tried: bool,
    /// Whether every candidate and healthy are further off than one good fit in a thousand: shares
    /// are relative then.
    pub nothing_fits: bool,
    /// What a diagnosis with more readings needs not do again.
    pub earlier: Arc<Earlier>,
}

impl Diagnosis {
    /// The candidates that are not excluded.
    pub fn remaining(&self) -> impl Iterator<Item = &Candidate> {
        self.candidates.iter().filter(|candidate| candidate.verdict != Verdict::Excluded)
    }

    /// Whether a fault or a healthy board reproduces the readings.
    pub fn explains(&self) -> bool {
        self.healthy_verdict == Verdict::Reproduces
            || self.candidates.iter().any(|one| one.verdict == Verdict::Reproduces)
    }
}

/// The share of good fits that stay under the distance beyond which nothing fits.
const SURELY: f64 = 0.999;

/// What a diagnosis is made from.
#[derive(Debug, Clone, Copy, Default)]
pub struct Job<'a> {
    /// The readings, in any setups; one fault must explain them all together.
    pub readings: &'a [Reading],
    /// How parts look.
    pub seen: &'a [(PartId, Appearance)],
    /// Readings of a board that is known to be good, at some of the same places.
    pub good: &'a [Reading],
    /// When slips and pairs of faults are looked for.
    pub pairs: Pairs,
    /// For one question of a session: chains from fault to symptom are left out, and while much
    /// remains, what has little share is judged as it comes, without the second look that is taken at
    /// what has more.
    pub is_brief: bool,
    /// What a diagnosis of some of these readings left: what it rules out is not tried again.
    pub earlier: Option<&'a Earlier>,
}

/// When it is looked for the reading that may be a slip, and for pairs of faults.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Pairs {
    /// When nothing single fits.
    #[default]
    Needed,
    /// Pairs even when a single fault fits.
    Always,
    /// Never: the answer to one question of a session has to be quick.
    Never,
}

impl<'a> Job<'a> {
    /// What a readings file holds.
    pub fn of(readings: &'a Readings) -> Job<'a> {
        let Readings { readings, seen, good, .. } = readings;
        Job { readings, seen, good, ..Job::default() }
    }

    /// The readings after a repair: whether the board is as a good one now. How parts looked before
    /// says nothing any more.
    pub fn after_repair(readings: &'a Readings) -> Job<'a> {
        let Readings { after, good, .. } = readings;
        let pairs = Pairs::Never;
        Job { readings: after, good, pairs, is_brief: true, ..Job::default() }
    }
}

/// Tries every single fault on some readings.
///
/// ```
/// use ohmhound::{circuit::*, engine::Assembly, file::read_circuit, finding::Source};
/// use ohmhound::{diagnosis::{Verdict, diagnose}, file::read_readings};
///
/// let text = "[parts]\nJ1 = { kind = \"supply\", volts = \"12 V\", nets = [\"IN\", \"GND\"] }\n\
///             R1 = { value = \"10k\", nets = [\"IN\", \"OUT\"] }\n\
///             R2 = { value = \"10k\", nets = [\"OUT\", \"GND\"] }";
/// let circuit = read_circuit(&Source::new("divider.toml", text), &mut |_| Err(String::new()));
/// let circuit = circuit.value.ok_or("the circuit is in order")?;
/// let text = "[powered.volts]\nIN = 12.02\nOUT = 0.000";
/// let readings = read_readings(&Source::new("readings.toml", text), &circuit);
/// let readings = readings.value.ok_or("the readings are in order")?;
/// let diagnosis = diagnose(&Assembly::new(&circuit), &readings.readings, &readings.seen);
/// let phrases: Vec<String> =
///     diagnosis.remaining().map(|one| one.fault.phrase(&circuit)).collect();
/// assert!(phrases.contains(&"R1 open".to_owned()), "{phrases:?}");
/// assert!(phrases.contains(&"OUT leak".to_owned()), "{phrases:?}");
/// assert_eq!(diagnosis.healthy_verdict, Verdict::Excluded);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn diagnose(
    assembly: &Assembly<'_>,
    readings: &[Reading],
    seen: &[(PartId, Appearance)],
) -> Diagnosis {
    diagnose_job(assembly, &Job { readings, seen, ..Job::default() })
}

/// Tries every hypothesis on the readings of a job; where nothing single fits, looks for the
/// reading that may be a slip, and for pairs of faults.
///
/// ```
/// use ohmhound::{circuit::*, engine::Assembly, file::read_circuit, finding::Source};
/// use ohmhound::{diagnosis::{Job, Pairs, diagnose_job}, file::read_readings};
///
/// let text = "[parts]\nJ1 = { kind = \"supply\", volts = \"12 V\", nets = [\"IN\", \"GND\"] }\n\
///             R1 = { value = \"10k\", nets = [\"IN\", \"OUT\"] }\n\
///             R2 = { value = \"10k\", nets = [\"OUT\", \"GND\"] }";
/// let circuit = read_circuit(&Source::new("divider.toml", text), &mut |_| Err(String::new()));
/// let circuit = circuit.value.ok_or("the circuit is in order")?;
/// let text = "[powered.volts]\nIN = 12.02\nOUT = [6.01, 0.50]";
/// let readings = read_readings(&Source::new("readings.toml", text), &circuit);
/// let readings = readings.value.ok_or("the readings are in order")?;
/// let job = Job { pairs: Pairs::Never, ..Job::of(&readings) };
/// let diagnosis = diagnose_job(&Assembly::new(&circuit), &job);
/// // The same place was read twice, and the two do not agree.
/// assert!(!diagnosis.remarks.is_empty());
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn diagnose_job(assembly: &Assembly<'_>, job: &Job<'_>) -> Diagnosis {
    let circuit = assembly.circuit();
    // There will be another question: what is found of the boards is kept for it.
    let boards = job.is_brief.then(|| {
        let known = job.earlier.and_then(|earlier| earlier.boards(assembly));
        known.unwrap_or_else(|| Arc::new(Boards::new(assembly)))
    });
    let case = Case::with_good(assembly, job.readings, job.good).remembering(boards);
    let evidence = Evidence { seen: job.seen.to_vec(), apart: looked_into(assembly, job.readings) };
    let tried = Tried::new(&case, &evidence, true, (job.earlier, job.is_brief));
    let total = tried.total();
    let share = |mass: f64| (mass - total).exp();
    let n_numbers = case.n_numbers();
    let healthy = tried.healthy.as_ref().map(|(prediction, fit)| (prediction, fit));
    let healthy_verdict = match &tried.judged {
        Some((prediction, fit)) => judge(&case, (prediction, fit), &NO_VALUE, n_numbers, 0).0,
        None => Verdict::Excluded,
    };
    let mut candidates: Vec<(Candidate, &Trace)> = tried
        .traces
        .par_iter()
        .map(|(number, trace)| {
            let hypothesis = &tried.list[*number];
            let share = share(trace.mass);
            (candidate(&case, (*number, hypothesis), trace, share, n_numbers), trace)
        })
        .collect();
    candidates.sort_by(|(a, _), (b, _)| {
        b.probability
            .total_cmp(&a.probability)
            .then_with(|| a.distance.total_cmp(&b.distance))
            .then_with(|| a.fault.phrase(circuit).cmp(&b.fault.phrase(circuit)))
    });
    let kept: Vec<usize> = (0..candidates.len())
        .filter(|&idx| candidates[idx].0.verdict != Verdict::Excluded)
        .collect();
    let nodes: Vec<_> = kept
        .iter()
        .map(|&idx| {
            let (candidate, trace) = &candidates[idx];
            (&trace.best, !candidate.fault.is_misread())
        })
        .collect();
    for (&idx, group) in kept.iter().zip(groups_of(&case, &nodes)) {
        candidates[idx].0.group = Some(group);
    }
    let mut candidates: Vec<Candidate> =
        candidates.into_iter().map(|(candidate, _)| candidate).collect();
    let screen = tried.screen.as_ref().filter(|_| !case.may_latch());
    let told = |candidate: &&mut Candidate| {
        candidate.group.is_some() && !candidate.fault.is_misread() && !job.is_brief
    };
    candidates.par_iter_mut().filter(told).for_each(|candidate| {
        let line = screen.map(Screen::line);
        let known = line.and_then(|line| line.standing(&case, &candidate.overlay));
        // Told of the first setup in which the fault is seen.
        for (number, (setup, _)) in case.setups.iter().enumerate() {
            let known = known.as_ref().and_then(|known| known.get(number)).map(|known| &known[..]);
            let own = chain(assembly, *setup, &candidate.fault, (&candidate.overlay, known));
            let is_seen = own.get(1).is_some_and(|step| step != NO_MOVE);
            if is_seen || candidate.chain.is_empty() {
                candidate.chain = own;
            }
            if is_seen {
                break;
            }
        }
    });
    // The truth itself is beyond the verdict's 99 % one time in a hundred: that nothing fits is
    // said when it is beyond that by far.
    let is_beyond = |distance: f64, freedom| distance > chi_square(SURELY, freedom);
    let nothing_fits =
        tried.judged.as_ref().is_none_or(|(_, fit)| is_beyond(fit.distance, n_numbers.max(1)))
            && candidates.iter().all(|one| is_beyond(one.distance, one.freedom));
    let lines = reading_lines(&case, healthy);
    let off: Vec<f64> = lines.iter().map(|line| line.off).collect();
    let pairs_tried = match job.pairs {
        Pairs::Needed => nothing_fits,
        Pairs::Always => true,
        Pairs::Never => false,
    };
    let slips_tried = nothing_fits && job.pairs != Pairs::Never;
    let faults_tried = tried.list.len();
    let (healthy_mass, other_mass) = (tried.healthy_mass, tried.other_mass);
    let pairs = if pairs_tried { pairs(&tried) } else { Vec::new() };
    let remarks = remarks(&case, healthy.map(|(prediction, _)| prediction));
    Diagnosis {
        earlier: Arc::new(Earlier::new(&case, evidence, &tried.list, tried.traces, &candidates)),
        without: if slips_tried { without(assembly, job, &off) } else { Vec::new() },
        readings: lines,
        candidates,
        healthy_verdict,
        healthy_other_state: tried.healthy_other_state,
        healthy_flipped: tried.healthy_flipped,
        healthy_probability: share(healthy_mass),
        other_probability: share(other_mass),
        faults_tried,
        remarks,
        pairs,
        pairs_tried,
        nothing_fits,
        no_point: tried.no_point,
        invisible: tried.invisible,
    }
}

fn reading_lines(case: &Case<'_>, healthy: Option<(&Prediction, &Fit)>) -> Vec<ReadingLine> {
    (0..case.readings.len())
        .map(|idx| match healthy {
            Some((prediction, fit)) => ReadingLine {
                expected: Some(prediction.shown[idx]),
                expected_u: fit.standard[idx]
                    / case.targets[idx].scale.slope(prediction.shown[idx]),
                off: fit.off[idx],
                floats: prediction.floats[idx],
            },
            None => {
                ReadingLine { expected: None, expected_u: f64::NAN, off: f64::NAN, floats: false }
            }
        })
        .collect()
}
