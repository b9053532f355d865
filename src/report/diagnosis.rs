//! A diagnosis as text.

use super::text::Page;
use super::words::{observed, percent, predicted, shown, value_interval, where_taken};
use super::{Style, words};
use crate::circuit::{Circuit, Quantity, Reading};
use crate::diagnosis::{Candidate, Diagnosis, Verdict};
use crate::meter::Scale;
use crate::plan::Proposal;
use crate::quantity::Unit;

/// A reading that is off by more than this many standard uncertainties is marked.
const MARKED: f64 = 3.0;
/// Near misses that are shown.
const NEAR_MISSES: usize = 5;
/// Proposals that are shown.
const PROPOSALS: usize = 3;
/// Faults that reproduce and weigh less than this are counted, not listed.
const LISTED: f64 = 1e-3;

/// The diagnosis as text.
pub fn diagnosis_text(
    circuit: &Circuit,
    readings: &[Reading],
    diagnosis: &Diagnosis,
    proposals: &[Proposal],
    style: Style,
    width: usize,
) -> String {
    let mut page = Page::new(style, width);
    if !circuit.title.is_empty() {
        page.heading(&circuit.title);
    }
    page.heading("Readings");
    readings_table(&mut page, circuit, readings, diagnosis);
    verdicts(&mut page, circuit, diagnosis);
    near_misses(&mut page, circuit, readings, diagnosis);
    rest(&mut page, circuit, diagnosis);
    if !proposals.is_empty() {
        page.heading("Measure next");
        proposals_text(&mut page, circuit, proposals);
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
                    let u = line.expected_u;
                    // The band of a logarithmic reading is its relative uncertainty.
                    let scale =
                        if reading.quantity == Quantity::Ohms { Scale::Log } else { Scale::Plain };
                    debug_assert!(scale == Scale::Plain || unit == Unit::Ohm);
                    words::with_band(value, u, unit)
                }
            };
            let floats = if line.floats { " (floats)" } else { "" };
            let off = if line.off == 0.0 { "0".to_owned() } else { far(line.off) };
            let mark = if line.off.abs() > MARKED { "<< off" } else { "" };
            vec![
                where_taken(reading, circuit),
                observed(reading, circuit),
                format!("{expected}{floats}"),
                off,
                mark.to_owned(),
            ]
        })
        .collect();
    page.table(&["reading", "measured", "healthy board", "off by", ""], &rows, &[1, 3]);
    page.sentence("", "(bands are two standard uncertainties; \"off by\" counts in one)");
}

/// Standard uncertainties in few digits.
fn far(off: f64) -> String {
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
            "Look for a slip in a reading, two faults, or something that is not in the file. \
             Shares below are relative only.",
        );
    } else {
        page.heading("Faults that reproduce all readings");
    }
    if healthy {
        page.hanging(
            &format!("  {:>7}   ", percent(diagnosis.healthy_probability)),
            INDENT,
            "nothing: a healthy board reads like this",
        );
    }
    let (listed, small): (Vec<&Candidate>, Vec<&Candidate>) =
        reproducing.into_iter().partition(|candidate| candidate.probability >= LISTED);
    for candidate in &listed {
        candidate_text(page, circuit, candidate, &listed);
    }
    if listed.iter().any(|candidate| letter(candidate, &listed) != ' ') {
        page.sentence(
            "  ",
            "(faults with the same letter are not told apart by the readings so far)",
        );
    }
    if !small.is_empty() {
        let names: Vec<String> =
            small.iter().map(|candidate| candidate.fault.phrase(circuit)).collect();
        page.hanging("  < 0.1 %   ", INDENT, &list(&names, 8));
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
        let others: Vec<String> = candidate.causes[1..]
            .iter()
            .map(|fault| fault.rounded().full_phrase(circuit))
            .collect();
        page.hanging(indent, indent, &format!("or, the same change: {}", list(&others, 4)));
    }
    if candidate.chain.len() > 1 {
        page.hanging(indent, indent, &candidate.chain.join(" → "));
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

fn list(names: &[String], most: usize) -> String {
    let shown = names.iter().take(most).cloned().collect::<Vec<_>>().join(", ");
    match names.len().saturating_sub(most) {
        0 => shown,
        more => format!("{shown} and {more} more"),
    }
}

fn near_misses(page: &mut Page, circuit: &Circuit, readings: &[Reading], diagnosis: &Diagnosis) {
    let mut excluded = with_verdict(diagnosis, Verdict::Excluded);
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
            candidate.fault.rounded().full_phrase(circuit),
            where_taken(reading, circuit),
            predicted(out.predicted, reading, circuit),
            observed(reading, circuit)
        );
        page.hanging("  - ", "    ", &text);
    }
    let more = excluded.len().saturating_sub(NEAR_MISSES);
    if more > 0 {
        page.line(&format!("  - and {more} more, further off"));
    }
}

fn rest(page: &mut Page, circuit: &Circuit, diagnosis: &Diagnosis) {
    page.heading("The rest");
    page.line(&format!("  {:>7}   something else", percent(diagnosis.other_probability)));
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

/// Proposals for the next measurement as text.
pub fn next_text(
    circuit: &Circuit,
    proposals: &[Proposal],
    most: usize,
    style: Style,
    width: usize,
) -> String {
    let mut page = Page::new(style, width);
    if proposals.is_empty() {
        page.line("no single measurement would tell more");
        return page.finish();
    }
    proposals_text(&mut page, circuit, &proposals[..proposals.len().min(most)]);
    page.finish()
}

fn proposals_text(page: &mut Page, circuit: &Circuit, proposals: &[Proposal]) {
    for (idx, proposal) in proposals.iter().take(PROPOSALS.max(proposals.len().min(8))).enumerate()
    {
        let text = format!(
            "{} {} {} ({:.1} bits, effort {})",
            circuit[proposal.setup].name,
            proposal.quantity.word(),
            proposal.place_text,
            proposal.bits,
            proposal.effort
        );
        page.hanging(&format!("  {}. ", idx + 1), "     ", &text);
        let unit = words::unit_of(proposal.quantity, circuit, None);
        for outcome in proposal.outcomes.iter().take(4) {
            let range = range(outcome.low, outcome.high, unit);
            let text = format!("{range}: {}", list(&outcome.remaining, 4));
            page.hanging("     - ", "       ", &text);
        }
        let more = proposal.outcomes.len().saturating_sub(4);
        if more > 0 {
            page.line(&format!("     - and {more} other outcomes"));
        }
    }
}

fn range(low: f64, high: f64, unit: Unit) -> String {
    let (low_text, high_text) = (shown(low, unit), shown(high, unit));
    if low_text == high_text {
        if low.is_infinite() { low_text } else { format!("about {low_text}") }
    } else {
        format!("{low_text} to {high_text}")
    }
}
