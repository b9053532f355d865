//! A diagnosis as text.

use super::next::next_lines;
use super::text::Page;
use super::told::{
    LIMITS, NEAR, OFF_BY, SAME_LETTER, STRAINED, Told, expected_words, far, near_misses, together,
    verdict,
};
use super::words::{list, observed, percent, where_taken};
use super::{Style, doubts};
use crate::circuit::{Circuit, Reading};
use crate::diagnosis::{Diagnosis, Verdict};
use crate::plan::{Planner, Proposal};

/// Near misses that are shown.
const NEAR_MISSES: usize = 5;
/// Proposals that are shown.
const PROPOSALS: usize = 3;

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
    near_misses_text(&mut page, circuit, readings, diagnosis);
    rest(&mut page, circuit, diagnosis);
    if !diagnosis.nothing_fits {
        page.heading("Measure next");
        next_lines(&mut page, circuit, diagnosis, planner, proposals, PROPOSALS);
    }
    page.heading("Limits");
    page.sentence("  ", LIMITS);
    page.finish()
}

fn readings_table(page: &mut Page, circuit: &Circuit, readings: &[Reading], diagnosis: &Diagnosis) {
    let rows: Vec<Vec<String>> = readings
        .iter()
        .zip(&diagnosis.readings)
        .map(|(reading, line)| {
            let mark = if line.is_off() { "<< off" } else { "" };
            vec![
                where_taken(reading, circuit),
                observed(reading, circuit),
                expected_words(circuit, reading, line),
                far(line.off),
                mark.to_owned(),
            ]
        })
        .collect();
    page.table(&["reading", "measured", "healthy board", "off by", ""], &rows, &[1, 3]);
    page.sentence("", &format!("({OFF_BY})"));
}

fn verdicts(page: &mut Page, circuit: &Circuit, diagnosis: &Diagnosis) {
    let found = verdict(circuit, diagnosis);
    page.heading(found.heading);
    if let Some(advice) = found.advice {
        page.sentence("  ", advice);
    }
    for one in &found.listed {
        told_text(page, one);
    }
    if found.listed.iter().any(|one| one.letter.is_some()) {
        page.sentence("  ", &format!("({SAME_LETTER})"));
    }
    for text in &found.inseparable {
        page.hanging("  ", "  ", &format!("({text})"));
    }
    if let Some((share, names)) = &found.small {
        page.hanging(&format!("  {:>7}   ", percent(*share)), INDENT, &together(names));
    }
    if !found.strained.is_empty() {
        page.heading(STRAINED);
        found.strained.iter().for_each(|one| told_text(page, one));
    }
}

fn told_text(page: &mut Page, told: &Told) {
    let share = percent(told.share);
    let mark = told.letter.unwrap_or(' ');
    page.hanging(&format!("  {share:>7} {mark} "), INDENT, &told.name);
    for line in &told.lines {
        page.hanging(INDENT, INDENT, line);
    }
    if !told.chain.is_empty() {
        page.hanging(INDENT, INDENT, &format!("→ {}", told.chain.join(" → ")));
    }
}

/// What lines under a candidate begin with.
const INDENT: &str = "            ";

fn near_misses_text(
    page: &mut Page,
    circuit: &Circuit,
    readings: &[Reading],
    diagnosis: &Diagnosis,
) {
    let (misses, more) = near_misses(circuit, readings, diagnosis, NEAR_MISSES);
    if misses.is_empty() {
        return;
    }
    page.heading(NEAR);
    for miss in &misses {
        page.hanging("  - ", "    ", &format!("{}: {}", miss.name, miss.why));
    }
    if more > 0 {
        page.line(&format!("  - and {more} more, further off"));
    }
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
