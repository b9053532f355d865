//! A diagnosis as text.

use super::next::next_lines;
use super::text::Page;
use super::words::{
    interval_words, list, observed, percent, predicted, value_interval, where_taken,
};
use super::{Style, doubts, words};
use crate::circuit::{Circuit, Observed, Quantity, Reading};
use crate::diagnosis::{Candidate, Diagnosis, Flipped, Stretch, Verdict};
use crate::fault::Fault;
use crate::meter::Scale;
use crate::plan::{Planner, Proposal};

/// A reading that is off by more than this many standard uncertainties is marked.
const MARKED: f64 = 3.0;
/// Near misses that are shown.
const NEAR_MISSES: usize = 5;
/// Proposals that are shown.
const PROPOSALS: usize = 3;
/// Faults that reproduce and weigh less than this are named in one line, not listed.
const LISTED: f64 = 1e-3;
/// Faults that are listed one by one; the rest is named in one line.
const MOST_LISTED: usize = 12;
/// A near miss explains at least this share of what is wrong with some reading.
const EXPLAINS: f64 = 0.1;

/// The diagnosis as text. `origin` says where circuit and readings come from.
pub fn diagnosis_text(
    circuit: &Circuit,
    readings: &[Reading],
    origin: &str,
    diagnosis: &Diagnosis,
    (planner, proposals): (&Planner, &[Proposal]),
    style: Style,
    width: usize,
) -> String {
    let mut page = Page::new(style, width);
    if !circuit.title.is_empty() {
        page.heading(&circuit.title);
    }
    page.sentence("", origin);
    page.heading("Readings");
    readings_table(&mut page, circuit, readings, diagnosis);
    doubts::remarks(&mut page, circuit, readings, &diagnosis.remarks);
    verdicts(&mut page, circuit, diagnosis);
    doubts::without(&mut page, circuit, readings, diagnosis);
    doubts::pairs(&mut page, circuit, diagnosis);
    near_misses(&mut page, circuit, readings, diagnosis);
    rest(&mut page, circuit, diagnosis);
    if !diagnosis.nothing_fits {
        page.heading("Measure next");
        next_lines(&mut page, circuit, diagnosis, planner, proposals, PROPOSALS);
    }
    page.heading("Limits");
    page.sentence(
        "  ",
        "This list knows only what was typed in: DC values of the parts in the file. Heat, timing, \
         AC and parts that were not drawn are outside. Power off and capacitors discharged before \
         ohms and diode readings.",
    );
    page.finish()
}

fn readings_table(page: &mut Page, circuit: &Circuit, readings: &[Reading], diagnosis: &Diagnosis) {
    let rows: Vec<Vec<String>> = readings
        .iter()
        .zip(&diagnosis.readings)
        .map(|(reading, line)| {
            let expected = match line.expected {
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
            };
            let off = if line.off == 0.0 { "0".to_owned() } else { far(line.off) };
            let mark = if line.off.abs() > MARKED { "<< off" } else { "" };
            vec![
                where_taken(reading, circuit),
                observed(reading, circuit),
                expected,
                off,
                mark.to_owned(),
            ]
        })
        .collect();
    page.table(&["reading", "measured", "healthy board", "off by", ""], &rows, &[1, 3]);
    page.sentence(
        "",
        "(\"off by\" counts standard uncertainties; a band is two of them, more than three is \
         marked)",
    );
}

/// Standard uncertainties in few digits.
fn far(off: f64) -> String {
    // There is nothing to be off from where the healthy board has no operating point.
    if off.is_nan() {
        return "-".to_owned();
    }
    if off.abs() >= 1000.0 {
        return if off > 0.0 { "> 1000".to_owned() } else { "< -1000".to_owned() };
    }
    if off.abs() < 10.0 { format!("{off:.1}") } else { format!("{off:.0}") }
}

fn verdicts(page: &mut Page, circuit: &Circuit, diagnosis: &Diagnosis) {
    let reproducing: Vec<&Candidate> = with_verdict(diagnosis, Verdict::Reproduces);
    let healthy = diagnosis.healthy_verdict == Verdict::Reproduces;
    if reproducing.is_empty() && !healthy {
        page.heading("No single fault on the list reproduces all readings");
        page.sentence(
            "  ",
            if diagnosis.nothing_fits {
                "Look for a slip in a reading, two faults, or something that is not in the file. \
                 Shares below are relative only."
            } else {
                "The nearest are off by what chance does in one job of a hundred: look at them \
                 first, and take the reading that is furthest off again."
            },
        );
    } else {
        page.heading("Faults that reproduce all readings");
    }
    if healthy {
        page.hanging(
            &format!("  {:>7}   ", percent(diagnosis.healthy_probability)),
            INDENT,
            if diagnosis.healthy_other_state {
                "nothing: a healthy board reads like this, in another state than it powers up in"
            } else {
                "nothing: a healthy board reads like this"
            },
        );
        if let Some(flipped) = diagnosis.healthy_flipped {
            page.hanging(INDENT, INDENT, &flipped_words(&flipped, circuit));
        }
    }
    // They are in order of their shares.
    let n_listed = reproducing
        .iter()
        .take(MOST_LISTED)
        .filter(|candidate| candidate.probability >= LISTED)
        .count();
    let (listed, small) = reproducing.split_at(n_listed);
    for candidate in listed {
        candidate_text(page, circuit, candidate, listed);
    }
    if listed.iter().any(|candidate| letter(candidate, listed) != ' ') {
        page.sentence(
            "  ",
            "(faults with the same letter are not told apart by the readings so far)",
        );
    }
    inseparable(page, circuit, listed);
    if !small.is_empty() {
        let names: Vec<String> =
            small.iter().map(|candidate| candidate.fault.phrase(circuit)).collect();
        let share = percent(small.iter().map(|candidate| candidate.probability).sum());
        let names = format!("together: {}", list(&names, 8));
        page.hanging(&format!("  {share:>7}   "), INDENT, &names);
    }
    let strained = with_verdict(diagnosis, Verdict::Strained);
    let shown: Vec<&Candidate> =
        strained.into_iter().filter(|candidate| candidate.probability >= LISTED).collect();
    if diagnosis.healthy_verdict == Verdict::Strained || !shown.is_empty() {
        page.heading("Strained: only tolerances at their edges meet the readings");
        if diagnosis.healthy_verdict == Verdict::Strained {
            let share = percent(diagnosis.healthy_probability);
            page.line(&format!("  {share:>7}   nothing: a healthy board at its tolerances"));
        }
        for candidate in &shown {
            candidate_text(page, circuit, candidate, &shown);
        }
    }
}

/// Names the sets of listed faults that no measurement tells apart.
fn inseparable(page: &mut Page, circuit: &Circuit, listed: &[&Candidate]) {
    let last = listed.iter().filter_map(|candidate| candidate.inseparable).max();
    for set in 0..last.map_or(0, |last| last + 1) {
        let own = listed.iter().filter(|candidate| candidate.inseparable == Some(set));
        let mut names: Vec<String> = own.map(|candidate| candidate.fault.phrase(circuit)).collect();
        // A short and a leak in one place are one repair.
        names.dedup();
        if names.len() > 1 {
            let text = format!(
                "(no measurement tells these apart, a part has to be lifted: {})",
                list(&names, 6)
            );
            page.hanging("  ", "  ", &text);
        }
    }
}

fn with_verdict(diagnosis: &Diagnosis, verdict: Verdict) -> Vec<&Candidate> {
    diagnosis.candidates.iter().filter(|candidate| candidate.verdict == verdict).collect()
}

fn candidate_text(page: &mut Page, circuit: &Circuit, candidate: &Candidate, all: &[&Candidate]) {
    let mut text = candidate.fault.phrase(circuit);
    let value = value_interval(candidate, circuit);
    if !value.is_empty() {
        text = format!("{text}: {value}");
    }
    let share = percent(candidate.probability);
    let mark = letter(candidate, all);
    page.hanging(&format!("  {share:>7} {mark} "), INDENT, &text);
    let indent = INDENT;
    if candidate.causes.len() > 1 {
        let others: Vec<String> =
            candidate.causes[1..].iter().map(|fault| named(fault, candidate, circuit)).collect();
        page.hanging(indent, indent, &format!("or, the same change: {}", list(&others, 4)));
    }
    if let Fault::Alike(part, _) = candidate.fault {
        let names: Vec<String> =
            circuit.alike(part).into_iter().map(|part| circuit[part].name.clone()).collect();
        let text = format!("one wrong value in every place of it: {}", list(&names, 6));
        page.hanging(indent, indent, &text);
    }
    if candidate.values.len() > 1 {
        let others: Vec<String> =
            candidate.values[1..].iter().map(|other| stretch(candidate, other, circuit)).collect();
        page.hanging(indent, indent, &format!("or, apart from that: {}", list(&others, 3)));
    }
    if candidate.fitted_exactly {
        page.hanging(indent, indent, "fitted exactly, nothing left to test");
    }
    if candidate.fault.is_misread() {
        page.hanging(indent, indent, "nothing is wrong with the board: take the reading again");
    }
    if let Some(flipped) = candidate.flipped {
        page.hanging(indent, indent, &flipped_words(&flipped, circuit));
    }
    if candidate.other_state {
        page.hanging(indent, indent, "with the board in another state than it powers up in");
    }
    // The chain begins with the fault itself, which the line above names; a chain that goes
    // nowhere says nothing.
    let steps = candidate.chain.get(1..).unwrap_or_default();
    if !steps.is_empty() && steps != [NO_MOVE] {
        page.hanging(indent, indent, &format!("→ {}", steps.join(" → ")));
    }
}

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

/// The chain of a fault that is not seen in the setup that the chain is told for.
const NO_MOVE: &str = "no net moves by much";

/// A fault with its value, where the readings say anything of the value.
fn named(fault: &Fault, candidate: &Candidate, circuit: &Circuit) -> String {
    if candidate.value_low.is_none() && candidate.value_high.is_none() {
        fault.phrase(circuit)
    } else {
        fault.rounded().full_phrase(circuit)
    }
}

/// What lines under a candidate begin with.
const INDENT: &str = "            ";

/// The letter of a candidate's group; a blank for one that stands alone.
fn letter(candidate: &Candidate, all: &[&Candidate]) -> char {
    let members = all.iter().filter(|other| other.group == candidate.group).count();
    let group = candidate.group.filter(|_| members > 1);
    group
        .and_then(|group| char::from_u32('A' as u32 + u32::try_from(group).ok()?.min(25)))
        .unwrap_or(' ')
}

fn near_misses(page: &mut Page, circuit: &Circuit, readings: &[Reading], diagnosis: &Diagnosis) {
    let excluded = with_verdict(diagnosis, Verdict::Excluded);
    let n_excluded = excluded.len();
    let mut excluded: Vec<&Candidate> = excluded
        .into_iter()
        .filter(|candidate| !candidate.fault.is_misread())
        .filter(|candidate| explains_something(candidate, readings, diagnosis))
        .collect();
    if excluded.is_empty() {
        return;
    }
    excluded.sort_by(|a, b| {
        (a.distance / a.freedom as f64)
            .total_cmp(&(b.distance / b.freedom as f64))
            .then_with(|| a.fault.phrase(circuit).cmp(&b.fault.phrase(circuit)))
    });
    page.heading("Near misses, and the reading that rules each out");
    for candidate in excluded.iter().take(NEAR_MISSES) {
        let Some(out) = candidate.ruled_out_by else { continue };
        let reading = &readings[out.reading];
        let text = format!(
            "{}: {} would read {}, not {}",
            named(&candidate.fault, candidate, circuit),
            where_taken(reading, circuit),
            predicted(out.predicted, reading, circuit),
            observed(reading, circuit)
        );
        page.hanging("  - ", "    ", &text);
    }
    let more = n_excluded - excluded.len().min(NEAR_MISSES);
    if more > 0 {
        page.line(&format!("  - and {more} more, further off"));
    }
}

/// Whether a fault brings some reading that is off nearer to what was observed.
fn explains_something(candidate: &Candidate, readings: &[Reading], diagnosis: &Diagnosis) -> bool {
    let lines = readings.iter().zip(&diagnosis.readings).zip(&candidate.predicted);
    lines.filter(|((_, line), _)| line.off.abs() > MARKED).any(|((reading, line), predicted)| {
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

fn rest(page: &mut Page, circuit: &Circuit, diagnosis: &Diagnosis) {
    page.heading("The rest");
    page.line(&format!(
        "  {:>7}   something that is not on this list",
        percent(diagnosis.other_probability)
    ));
    if diagnosis.healthy_verdict == Verdict::Excluded {
        page.line(&format!("{INDENT}a healthy board is ruled out"));
    }
    if !diagnosis.no_point.is_empty() {
        let names: Vec<String> =
            diagnosis.no_point.iter().map(|fault| fault.phrase(circuit)).collect();
        page.hanging(INDENT, INDENT, &format!("no operating point: {}", list(&names, 6)));
    }
    if !diagnosis.invisible.is_empty() {
        let names: Vec<String> =
            diagnosis.invisible.iter().map(|(fault, _)| fault.phrase(circuit)).collect();
        page.hanging(INDENT, INDENT, &format!("invisible to DC readings: {}", list(&names, 6)));
    }
    page.line(&format!("{INDENT}{} hypotheses tried", diagnosis.faults_tried));
}
