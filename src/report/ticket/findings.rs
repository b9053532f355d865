//! What explains the readings, what does not, and what to measure next.

use super::Ticket;
use crate::diagnosis::{Diagnosis, Verdict};
use crate::plan::repairs;
use crate::report::bench::{LOOK_FOR, outcome_words, question_words};
use crate::report::document::{Block, Cell, Section, Table, Tone};
use crate::report::doubts::{pair_text, without_text};
use crate::report::next::{nothing_to_measure, step};
use crate::report::told::{
    Found, LIMITS, NEAR, SAME_LETTER, STRAINED, Told, near_misses, together, verdict,
};
use crate::report::words::{list, percent, plural, sentence_case};

/// Near misses that are shown.
const NEAR_MISSES: usize = 8;
/// Measurements that are proposed.
const PROPOSALS: usize = 3;
/// Outcomes of a measurement that are told.
const OUTCOMES: usize = 6;
/// Repairs, slips and pairs that are named.
const MOST: usize = 8;

/// What explains the readings.
pub(super) fn explains(ticket: &Ticket<'_>) -> Option<Section> {
    let (circuit, diagnosis) = (ticket.circuit, ticket.diagnosis);
    let found = verdict(circuit, diagnosis);
    let mut blocks = explained(&found, diagnosis);
    blocks.push(Block::quiet(LIMITS));
    Some(Section::new("explains", found.heading, blocks))
}

/// What explains some readings, likeliest first, with what is left to something else.
pub(super) fn explained(found: &Found, diagnosis: &Diagnosis) -> Vec<Block> {
    let mut blocks = Vec::new();
    blocks.extend(found.advice.map(Block::text));
    let mut rows: Vec<Vec<Cell>> = found.listed.iter().map(row).collect();
    let rest = found.small.as_ref().map(|(share, names)| (*share, together(names)));
    let other = (diagnosis.other_probability, "something that is not on this list".to_owned());
    for (share, text) in rest.into_iter().chain([other]) {
        rows.push(vec![bar(share), text.into(), "".into()]);
    }
    let has_letters = found.listed.iter().any(|one| one.letter.is_some());
    blocks.push(table(rows, has_letters));
    if has_letters {
        blocks.push(Block::quiet(format!("{}.", sentence_case(SAME_LETTER))));
    }
    blocks.extend(found.inseparable.iter().map(|text| sentence(text)));
    if !found.strained.is_empty() {
        let has_letters = found.strained.iter().any(|one| one.letter.is_some());
        blocks.push(Block::Heading(STRAINED.to_owned()));
        blocks.push(table(found.strained.iter().map(row).collect(), has_letters));
    }
    blocks
}

fn sentence(text: &str) -> Block {
    Block::text(format!("{}.", sentence_case(text)))
}

/// A table of candidates; without letters their column is left out.
fn table(mut rows: Vec<Vec<Cell>>, has_letters: bool) -> Block {
    let mut header = vec!["likely", "fault and chain", "group"];
    if !has_letters {
        header.pop();
        rows.iter_mut().for_each(|row| row.truncate(2));
    }
    Block::Table(Table { caption: String::new(), header, rows, right: Vec::new() })
}

fn bar(share: f64) -> Cell {
    Cell { bar: Some(share), ..Cell::from(percent(share)) }
}

fn row(told: &Told) -> Vec<Cell> {
    let mut what = Cell::toned(Tone::Plain, &told.name);
    for line in &told.lines {
        what = what.and(Tone::Quiet, line);
    }
    if !told.chain.is_empty() {
        what = what.and(Tone::Plain, format!("→ {}", told.chain.join(" → ")));
    }
    let letter = told.letter.map(String::from).unwrap_or_default();
    vec![bar(told.share), what, letter.into()]
}

/// What may be wrong with the readings, and two faults at once.
pub(super) fn doubts(ticket: &Ticket<'_>) -> Option<Section> {
    let (circuit, diagnosis) = (ticket.circuit, ticket.diagnosis);
    let mut blocks = Vec::new();
    let listed = |rows: Vec<(f64, String)>, heading: &'static str| {
        let row = |(share, text): (f64, String)| vec![bar(share), Cell::from(text)];
        let header = vec!["share", heading];
        let rows = rows.into_iter().take(MOST).map(row).collect();
        Block::Table(Table { caption: String::new(), header, rows, right: Vec::new() })
    };
    if !diagnosis.without.is_empty() {
        let readings = &ticket.readings.readings;
        let slips = diagnosis.without.iter();
        let slips = slips.map(|one| (one.share, without_text(circuit, readings, one)));
        blocks.push(listed(slips.collect(), "if one reading is a slip"));
        blocks.push(Block::quiet(
            "Shares among these; take the first one again before anything else.",
        ));
    }
    if diagnosis.pairs_tried {
        let pairs = diagnosis.pairs.iter().map(|pair| (pair.share, pair_text(circuit, pair)));
        let pairs: Vec<(f64, String)> = pairs.collect();
        if pairs.is_empty() {
            blocks.push(Block::text("No pair of faults on the list reproduces the readings."));
        } else {
            blocks.push(listed(pairs, "two faults at once"));
            blocks.push(Block::quiet(
                "Shares among these pairs only: two faults at once are rare, so a slip or something \
                 that is not in the file comes first.",
            ));
        }
    }
    (!blocks.is_empty()).then(|| Section::new("doubts", "A slip, or two faults at once", blocks))
}

/// What is ruled out, by which reading.
pub(super) fn excluded(ticket: &Ticket<'_>) -> Option<Section> {
    let (circuit, diagnosis) = (ticket.circuit, ticket.diagnosis);
    let readings = &ticket.readings.readings;
    let (misses, more) = near_misses(circuit, readings, diagnosis, NEAR_MISSES);
    let mut blocks = Vec::new();
    if !misses.is_empty() {
        let rows = misses.into_iter().map(|miss| vec![miss.name, miss.why]).collect();
        blocks.push(Block::table(&["fault", "ruled out, as"], rows));
    }
    let mut lines = Vec::new();
    if more > 0 {
        lines.push(format!("{more} more are further off"));
    }
    if diagnosis.healthy_verdict == Verdict::Excluded {
        lines.push("a healthy board is ruled out".to_owned());
    }
    if !diagnosis.no_point.is_empty() {
        let names: Vec<String> =
            diagnosis.no_point.iter().map(|fault| fault.phrase(circuit)).collect();
        lines.push(format!("no operating point: {}", list(&names, MOST)));
    }
    if !diagnosis.invisible.is_empty() {
        let names: Vec<String> =
            diagnosis.invisible.iter().map(|(fault, _)| fault.phrase(circuit)).collect();
        lines.push(format!(
            "invisible to DC readings, so neither found nor ruled out: {}",
            list(&names, 20)
        ));
    }
    lines.push(format!("{} hypotheses were tried", diagnosis.faults_tried));
    blocks.push(Block::List(lines));
    Some(Section::new("excluded", NEAR, blocks))
}

/// What to measure next, or what to do where nothing is left to measure.
pub(super) fn next(ticket: &Ticket<'_>) -> Option<Section> {
    let circuit = ticket.circuit;
    if ticket.is_fixed() {
        return None;
    }
    if ticket.diagnosis.nothing_fits {
        let blocks = vec![sentence(LOOK_FOR)];
        return Some(Section::new("next", "What to do next", blocks));
    }
    let mut blocks = Vec::new();
    if ticket.proposals.is_empty() {
        blocks.push(sentence(&nothing_to_measure(circuit, ticket.diagnosis)));
        let left = repairs(circuit, ticket.planner.suspects(), ticket.planner.share());
        let step =
            |repair| (format!("{} ({})", step(repair), percent(repair.probability)), Vec::new());
        blocks.push(Block::Steps(left.iter().take(MOST).map(step).collect()));
        return Some(Section::new("next", "What to do next", blocks));
    }
    let steps = ticket.proposals.iter().take(PROPOSALS).map(|proposal| {
        let what = format!(
            "{} ({:.1} bits, effort {})",
            question_words(circuit, &proposal.measurement),
            proposal.bits,
            proposal.effort
        );
        let outcomes = proposal.outcomes.iter();
        let mut lines: Vec<String> = outcomes
            .take(OUTCOMES)
            .map(|outcome| outcome_words(circuit, proposal, outcome))
            .collect();
        let more = proposal.outcomes.len().saturating_sub(OUTCOMES);
        if more > 0 {
            lines.push(format!("and {more} other {}", plural(more, "outcome")));
        }
        (what, lines)
    });
    blocks.push(Block::Steps(steps.collect()));
    blocks.push(Block::quiet(
        "The likeliest outcome first, with what it would leave. The more bits, the more a \
         measurement tells; effort counts in probes of a net.",
    ));
    Some(Section::new("next", "What to measure next", blocks))
}
