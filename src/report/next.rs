//! What to measure next, as text.

use super::Style;
use super::text::Page;
use super::words::{self, list, range};
use crate::circuit::Circuit;
use crate::diagnosis::{Diagnosis, Verdict};
use crate::plan::{Outcome, Planner, Proposal, Repair, repairs, where_to_measure};

/// Repairs that are named.
const MOST_REPAIRS: usize = 6;

/// Proposals for the next measurement as text, `most` of them.
pub fn next_text(
    circuit: &Circuit,
    diagnosis: &Diagnosis,
    planner: &Planner,
    proposals: &[Proposal],
    most: usize,
    style: Style,
    width: usize,
) -> String {
    let mut page = Page::new(style, width);
    next_lines(&mut page, circuit, diagnosis, planner, proposals, most);
    page.finish()
}

pub(super) fn next_lines(
    page: &mut Page,
    circuit: &Circuit,
    diagnosis: &Diagnosis,
    planner: &Planner,
    proposals: &[Proposal],
    most: usize,
) {
    if proposals.is_empty() {
        page.sentence("  ", &nothing_to_measure(circuit, diagnosis));
        let share = planner.share();
        for repair in repairs(circuit, planner.suspects(), share).iter().take(MOST_REPAIRS) {
            page.hanging("  - ", "    ", &step(repair));
        }
    }
    for (idx, proposal) in proposals.iter().take(most).enumerate() {
        let text = format!(
            "{} ({:.1} bits, effort {})",
            where_to_measure(circuit, &proposal.measurement),
            proposal.bits,
            proposal.effort
        );
        page.hanging(&format!("  {}. ", idx + 1), "     ", &text);
        let quantity = proposal.measurement.probe.quantity;
        let unit = words::unit_of(quantity, circuit, None);
        for outcome in proposal.outcomes.iter().take(4) {
            let range = range(outcome.low, outcome.high, quantity, unit);
            let text = format!("{range}: {}", follows(circuit, outcome));
            page.hanging("     - ", "       ", &text);
        }
        let more = proposal.outcomes.len().saturating_sub(4);
        if more > 0 {
            page.line(&format!("     - and {more} other {}", words::plural(more, "outcome")));
        }
    }
}

/// Why no measurement is proposed.
pub(super) fn nothing_to_measure(circuit: &Circuit, diagnosis: &Diagnosis) -> String {
    let mut left: Vec<String> = Vec::new();
    if diagnosis.healthy_verdict != Verdict::Excluded {
        left.push("a healthy board".to_owned());
    }
    left.extend(diagnosis.remaining().map(|candidate| candidate.fault.phrase(circuit)));
    match left.len() {
        0 => "nothing on the list fits, so there is nothing to tell apart".to_owned(),
        1 => format!("only one remains: {}", left[0]),
        _ => format!("no single measurement tells these apart: {}", list(&left, 6)),
    }
}

/// A repair in words: what it would mend, and what to do.
pub(super) fn step(repair: &Repair) -> String {
    format!("{}: {}", list(&repair.faults, 3), repair.action)
}

/// What an outcome leaves, and what it clears.
pub(super) fn follows(circuit: &Circuit, outcome: &Outcome) -> String {
    let cleared: Vec<String> =
        outcome.clears.iter().map(|part| circuit[*part].name.clone()).collect();
    let fine = match cleared.len() {
        0 => String::new(),
        1 => format!("; {} is fine", cleared[0]),
        _ => format!("; {} are fine", list(&cleared, 4)),
    };
    format!("{}{fine}", list(&outcome.remaining, 4))
}
