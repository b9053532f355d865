//! What a diagnosis says, in words and in order, however it is laid out: texts, tickets.

use super::words::{
    self, interval_words, list, observed, percent, predicted, value_interval, where_taken,
};
use crate::circuit::{Circuit, Observed, Quantity, Reading};
use crate::diagnosis::{Candidate, Diagnosis, Flipped, MARKED, ReadingLine, Stretch, Verdict};
use crate::fault::Fault;
use crate::meter::Scale;

/// Faults that reproduce and weigh less than this are named in one line, not listed.
const LISTED: f64 = 1e-3;
/// Faults that are listed one by one; the rest is named in one line.
const MOST_LISTED: usize = 12;
/// A near miss explains at least this share of what is wrong with some reading.
const EXPLAINS: f64 = 0.1;

/// What "off by" counts.
pub(super) const OFF_BY: &str = "\"off by\" counts standard uncertainties; a band is two of them, \
                                 more than three is marked";
/// What the letters of candidates mean.
pub(super) const SAME_LETTER: &str =
    "faults with the same letter are not told apart by the readings so far";
/// The heading of what is strained.
pub(super) const STRAINED: &str = "Strained: only tolerances at their edges meet the readings";
/// The heading of near misses.
pub(super) const NEAR: &str = "Near misses, and the reading that rules each out";
/// What a diagnosis knows nothing of.
pub(super) const LIMITS: &str = "This list knows only what was typed in: DC values of the parts in the file. Heat, timing, AC \
     and parts that were not drawn are outside. Power off and capacitors discharged before ohms \
     and diode readings.";

/// What a healthy board would show, with its band.
pub(super) fn expected_words(circuit: &Circuit, reading: &Reading, line: &ReadingLine) -> String {
    match line.expected {
        None => "no operating point".to_owned(),
        Some(value) if matches!(reading.quantity, Quantity::Beep | Quantity::Seen) => {
            predicted(value, reading, circuit)
        }
        Some(value) => {
            let unit = words::unit_of(reading.quantity, circuit, Some(reading));
            let text = match reading.quantity {
                Quantity::Diode => words::drop_with_band(value, line.expected_u),
                _ => words::with_band(value, line.expected_u, unit),
            };
            // What the meter makes of a net that floats says nothing of the board.
            if line.floats { format!("floats, meter shows {text}") } else { text }
        }
    }
}

/// Standard uncertainties in few digits.
pub(super) fn far(off: f64) -> String {
    // There is nothing to be off from where the healthy board has no operating point.
    if off.is_nan() {
        return "-".to_owned();
    }
    if off == 0.0 {
        return "0".to_owned();
    }
    // Less than nothing is nothing.
    let off = if off.abs() < 0.05 { 0.0 } else { off };
    if off.abs() >= 1000.0 {
        return if off > 0.0 { "> 1000".to_owned() } else { "< -1000".to_owned() };
    }
    if off.abs() < 10.0 { format!("{off:.1}") } else { format!("{off:.0}") }
}

/// One thing that could be true, and what is said of it.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Told {
    /// Its share of all that could be true.
    pub(super) share: f64,
    /// The letter of its group, where it shares one with others.
    pub(super) letter: Option<char>,
    /// The fault with its value and interval.
    pub(super) name: String,
    /// What else there is to say of it.
    pub(super) lines: Vec<String>,
    /// From the fault to its symptoms, the fault itself left out.
    pub(super) chain: Vec<String>,
}

impl Told {
    fn healthy(share: f64, name: &str, lines: Vec<String>) -> Told {
        Told { share, letter: None, name: name.to_owned(), lines, chain: Vec::new() }
    }
}

/// The faults that a diagnosis leaves, in words.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Found {
    /// What stands above them.
    pub(super) heading: &'static str,
    /// What to do where nothing reproduces the readings.
    pub(super) advice: Option<&'static str>,
    /// What reproduces all readings, likeliest first.
    pub(super) listed: Vec<Told>,
    /// What reproduces them but weighs little: the share of all of it, and the names.
    pub(super) small: Option<(f64, Vec<String>)>,
    /// Sets of the listed that no measurement tells apart, a sentence each.
    pub(super) inseparable: Vec<String>,
    /// What meets the readings only at the edges of tolerances.
    pub(super) strained: Vec<Told>,
}

/// Names that are told in one line.
pub(super) fn together(names: &[String]) -> String {
    format!("together: {}", list(names, 8))
}

/// The faults that a diagnosis leaves, in words.
pub(super) fn verdict(circuit: &Circuit, diagnosis: &Diagnosis) -> Found {
    let reproducing: Vec<&Candidate> = with_verdict(diagnosis, Verdict::Reproduces);
    let is_healthy = diagnosis.healthy_verdict == Verdict::Reproduces;
    let (heading, advice) = match (reproducing.is_empty() && !is_healthy, diagnosis.nothing_fits) {
        (false, _) => ("Faults that reproduce all readings", None),
        (true, true) => (
            NO_SINGLE_FAULT,
            Some(
                "Look for a slip in a reading, two faults, or something that is not in the file. \
                 Shares below are relative only.",
            ),
        ),
        (true, false) => (
            NO_SINGLE_FAULT,
            Some(
                "The nearest are off by what chance does in one job of a hundred: look at them \
                 first, and take the reading that is furthest off again.",
            ),
        ),
    };
    let mut listed = Vec::new();
    if is_healthy {
        let name = if diagnosis.healthy_other_state {
            "nothing: a healthy board reads like this, in another state than it powers up in"
        } else {
            "nothing: a healthy board reads like this"
        };
        let lines = diagnosis.healthy_flipped.iter().map(|one| flipped_words(one, circuit));
        listed.push(Told::healthy(diagnosis.healthy_probability, name, lines.collect()));
    }
    // They are in order of their shares.
    let n_listed = reproducing
        .iter()
        .take(MOST_LISTED)
        .filter(|candidate| candidate.probability >= LISTED)
        .count();
    let (large, small) = reproducing.split_at(n_listed);
    listed.extend(large.iter().map(|candidate| told(circuit, candidate, large)));
    let names = || small.iter().map(|candidate| candidate.fault.phrase(circuit)).collect();
    let share = small.iter().map(|candidate| candidate.probability).sum();
    let mut strained = Vec::new();
    if diagnosis.healthy_verdict == Verdict::Strained {
        let name = "nothing: a healthy board at its tolerances";
        strained.push(Told::healthy(diagnosis.healthy_probability, name, Vec::new()));
    }
    let shown: Vec<&Candidate> = with_verdict(diagnosis, Verdict::Strained)
        .into_iter()
        .filter(|candidate| candidate.probability >= LISTED)
        .collect();
    strained.extend(shown.iter().map(|candidate| told(circuit, candidate, &shown)));
    Found {
        heading,
        advice,
        listed,
        small: (!small.is_empty()).then(|| (share, names())),
        inseparable: inseparable(circuit, large),
        strained,
    }
}

const NO_SINGLE_FAULT: &str = "No single fault on the list reproduces all readings";

/// The sets of listed faults that no measurement tells apart.
fn inseparable(circuit: &Circuit, listed: &[&Candidate]) -> Vec<String> {
    let last = listed.iter().filter_map(|candidate| candidate.inseparable).max();
    let of_set = |set: usize| {
        let own = listed.iter().filter(|candidate| candidate.inseparable == Some(set));
        let mut names: Vec<String> = own.map(|candidate| candidate.fault.phrase(circuit)).collect();
        // A short and a leak in one place are one repair.
        names.dedup();
        let names = (names.len() > 1).then(|| list(&names, 6))?;
        Some(format!("no measurement tells these apart, a part has to be lifted: {names}"))
    };
    (0..last.map_or(0, |last| last + 1)).filter_map(of_set).collect()
}

fn with_verdict(diagnosis: &Diagnosis, verdict: Verdict) -> Vec<&Candidate> {
    diagnosis.candidates.iter().filter(|candidate| candidate.verdict == verdict).collect()
}

/// A candidate in words, beside the others that are shown.
fn told(circuit: &Circuit, candidate: &Candidate, all: &[&Candidate]) -> Told {
    let mut name = candidate.fault.phrase(circuit);
    let value = value_interval(candidate, circuit);
    if !value.is_empty() {
        name = format!("{name}: {value}");
    }
    let mut lines = Vec::new();
    if candidate.causes.len() > 1 {
        let others: Vec<String> =
            candidate.causes[1..].iter().map(|fault| named(fault, candidate, circuit)).collect();
        lines.push(format!("or, the same change: {}", list(&others, 4)));
    }
    if let Fault::Alike(part, _) = candidate.fault {
        let names: Vec<String> =
            circuit.alike(part).into_iter().map(|part| circuit[part].name.clone()).collect();
        lines.push(format!("one wrong value in every place of it: {}", list(&names, 6)));
    }
    if candidate.values.len() > 1 {
        let others: Vec<String> =
            candidate.values[1..].iter().map(|other| stretch(candidate, other, circuit)).collect();
        lines.push(format!("or, apart from that: {}", list(&others, 3)));
    }
    if candidate.fitted_exactly {
        lines.push("fitted exactly, nothing left to test".to_owned());
    }
    if candidate.fault.is_misread() {
        lines.push("nothing is wrong with the board: take the reading again".to_owned());
    }
    lines.extend(candidate.flipped.iter().map(|flipped| flipped_words(flipped, circuit)));
    if candidate.other_state {
        lines.push("with the board in another state than it powers up in".to_owned());
    }
    // The chain begins with the fault itself, which the line above names; a chain that goes
    // nowhere says nothing.
    let steps = candidate.chain.get(1..).unwrap_or_default();
    let chain = if steps == [NO_MOVE] { Vec::new() } else { steps.to_vec() };
    Told { share: candidate.probability, letter: letter(candidate, all), name, lines, chain }
}

/// The chain of a fault that is not seen in the setup that the chain is told for.
const NO_MOVE: &str = "no net moves by much";

/// A condition that tolerances decide, in words.
fn flipped_words(flipped: &Flipped, circuit: &Circuit) -> String {
    let state = if flipped.on { "met" } else { "not met" };
    format!(
        "with `{}` of {} {state}: its threshold is within tolerance",
        flipped.condition, circuit[flipped.part].name
    )
}

/// Another stretch of values that fits, with its share of the fault.
fn stretch(candidate: &Candidate, other: &Stretch, circuit: &Circuit) -> String {
    let Stretch { value, low, high, share } = *other;
    let values = interval_words(&candidate.fault, Some(value), low, high, circuit);
    format!("{values} ({} of it)", percent(share))
}

/// A fault with its value, where the readings say anything of the value.
fn named(fault: &Fault, candidate: &Candidate, circuit: &Circuit) -> String {
    if candidate.value_low.is_none() && candidate.value_high.is_none() {
        fault.phrase(circuit)
    } else {
        fault.rounded().full_phrase(circuit)
    }
}

/// The letter of a candidate's group; none for one that stands alone.
fn letter(candidate: &Candidate, all: &[&Candidate]) -> Option<char> {
    let members = all.iter().filter(|other| other.group == candidate.group).count();
    let group = candidate.group.filter(|_| members > 1)?;
    char::from_u32('A' as u32 + u32::try_from(group).ok()?.min(25))
}

/// A fault that comes near, and the reading that rules it out.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct NearMiss {
    /// The fault, with its value.
    pub(super) name: String,
    /// The reading, what it would be, and what it is.
    pub(super) why: String,
}

/// The nearest of the faults that are ruled out, and how many more there are.
pub(super) fn near_misses(
    circuit: &Circuit,
    readings: &[Reading],
    diagnosis: &Diagnosis,
    most: usize,
) -> (Vec<NearMiss>, usize) {
    let excluded = with_verdict(diagnosis, Verdict::Excluded);
    let n_excluded = excluded.len();
    let mut excluded: Vec<&Candidate> = excluded
        .into_iter()
        .filter(|candidate| !candidate.fault.is_misread())
        .filter(|candidate| explains_something(candidate, readings, diagnosis))
        .collect();
    excluded.sort_by(|a, b| {
        (a.distance / a.freedom as f64)
            .total_cmp(&(b.distance / b.freedom as f64))
            .then_with(|| a.fault.phrase(circuit).cmp(&b.fault.phrase(circuit)))
    });
    excluded.truncate(most);
    let more = n_excluded - excluded.len();
    let told = |candidate: &&Candidate| {
        let out = candidate.ruled_out_by?;
        let reading = &readings[out.reading];
        let name = named(&candidate.fault, candidate, circuit);
        // No reading is off by so much that it rules the fault out alone.
        if candidate.worst_sigma < MARKED {
            let why = "no reading alone: together they do not fit".to_owned();
            return Some(NearMiss { name, why });
        }
        let why = format!(
            "{} would read {}, not {}",
            where_taken(reading, circuit),
            predicted(out.predicted, reading, circuit),
            observed(reading, circuit)
        );
        Some(NearMiss { name, why })
    };
    (excluded.iter().filter_map(told).collect(), more)
}

/// Whether a fault brings some reading that is off nearer to what was observed.
fn explains_something(candidate: &Candidate, readings: &[Reading], diagnosis: &Diagnosis) -> bool {
    let lines = readings.iter().zip(&diagnosis.readings).zip(&candidate.predicted);
    lines.filter(|((_, line), _)| line.is_off()).any(|((reading, line), predicted)| {
        let Some(expected) = line.expected else { return true };
        let Observed::Number { value, .. } = reading.observed else {
            return *predicted != expected;
        };
        // OL on either side is as far as it goes.
        if expected.is_infinite() || predicted.is_infinite() {
            return predicted.is_infinite() != expected.is_infinite();
        }
        let scale = if reading.quantity == Quantity::Ohms { Scale::Log } else { Scale::Plain };
        let (value, expected, predicted) =
            (scale.of(value), scale.of(expected), scale.of(*predicted));
        (predicted - value).abs() < (1.0 - EXPLAINS) * (expected - value).abs()
    })
}
