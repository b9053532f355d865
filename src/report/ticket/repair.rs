//! What was done, what it reads since, and what was put in place of what.

use super::Ticket;
use super::findings::explained;
use super::readings::table;
use crate::circuit::Done;
use crate::report::bench::after_words;
use crate::report::document::{Block, Cell, Section, Tone};
use crate::report::substitute::{NOT_LOOKED_AT, substitute_blocks, substitute_words};
use crate::report::told::verdict;
use crate::report::words::observed;

/// One step of a repair: `R1 was replaced: 47k 1 %`.
pub(super) fn done_words(done: &Done, part: Option<&str>) -> String {
    let what = match part {
        Some(part) => format!("{part} was {}", done.action),
        None => done.action.clone(),
    };
    match &done.with {
        Some(with) => format!("{what}: {with}"),
        None => what,
    }
}

/// What was done, and the readings after it.
pub(super) fn done(ticket: &Ticket<'_>) -> Option<Section> {
    let (circuit, readings) = (ticket.circuit, ticket.readings);
    let mut blocks = Vec::new();
    if !readings.done.is_empty() {
        let step = |done: &Done| {
            let part = done.part.map(|part| circuit[part].name.as_str());
            (done_words(done, part), Vec::new())
        };
        blocks.push(Block::Steps(readings.done.iter().map(step).collect()));
    }
    if let Some(diagnosis) = ticket.after {
        let mut after = table(circuit, &readings.after, &diagnosis.readings);
        // Beside what was read at the same place before.
        after.header.insert(1, "before");
        for (row, reading) in after.rows.iter_mut().zip(&readings.after) {
            let before = readings.readings.iter().find(|before| before.repeats(reading));
            let before = before.map_or_else(|| "not read".to_owned(), |one| observed(one, circuit));
            row.insert(1, Cell::toned(Tone::Quiet, before));
        }
        after.right = vec![1, 2];
        blocks.push(Block::Heading("Readings after the repair".to_owned()));
        blocks.push(Block::Table(after));
        let found = after_words(circuit, &readings.after, diagnosis);
        let tone = if found.is_fixed { Tone::Good } else { Tone::Off };
        let why = found.sentence.map(|text| format!(": {text}")).unwrap_or_default();
        blocks.push(Block::Note(tone, format!("{}{why}.", found.verdict)));
        if !found.still.is_empty() {
            blocks.push(Block::List(found.still));
        }
        if !found.is_fixed {
            let found = verdict(circuit, diagnosis);
            blocks.push(Block::Heading("What explains the readings after it".to_owned()));
            blocks.extend(explained(&found, diagnosis));
        }
    } else if !readings.done.is_empty() {
        blocks.push(Block::Note(Tone::Off, "No reading was taken after it.".to_owned()));
    }
    (!blocks.is_empty())
        .then(|| Section::new("done", "What was done, and what it reads now", blocks))
}

/// What was put in place of what, and what that does.
pub(super) fn substitutes(ticket: &Ticket<'_>) -> Option<Section> {
    let (substitutes, found) = ticket.substitutes?;
    let words = substitutes.iter().map(|one| substitute_words(ticket.circuit, one));
    let mut blocks = vec![Block::List(words.collect())];
    blocks.extend(substitute_blocks(ticket.circuit, found));
    blocks.push(Block::quiet(NOT_LOOKED_AT));
    Some(Section::new("substitutes", "Other parts than drawn", blocks))
}
