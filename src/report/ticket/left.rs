//! Cautions, what was not tested, and what was taken for granted.

use super::Ticket;
use crate::report::bench::{DEFERRAL, cautions as cautions_of};
use crate::report::document::{Block, Section};
use crate::report::words::{assumption_words, list, sentence_case, where_taken};

/// The cautions that the circuit calls for.
pub(super) fn cautions(ticket: &Ticket<'_>) -> Option<Section> {
    let mut lines = cautions_of(ticket.circuit);
    lines.push(DEFERRAL.to_owned());
    let lines = lines.iter().map(|line| format!("{}.", sentence_case(line))).collect();
    Some(Section::new("cautions", "Cautions", vec![Block::List(lines)]))
}

/// What was not tested.
pub(super) fn untested(ticket: &Ticket<'_>) -> Option<Section> {
    let (circuit, coverage) = (ticket.circuit, ticket.coverage);
    let mut blocks = Vec::new();
    let (within, out): (Vec<_>, Vec<_>) =
        coverage.unread.iter().copied().partition(|net| circuit.board.can_probe(*net));
    for (title, nets) in [("Nets without a reading", within), ("Nets that no probe reaches", out)] {
        if !nets.is_empty() {
            blocks.push(Block::Heading(title.to_owned()));
            let names = nets.iter().map(|net| circuit.net_name(*net).to_owned());
            blocks.push(Block::Nets(names.collect()));
        }
    }
    let mut under = |title: &str, names: Vec<String>| {
        if !names.is_empty() {
            blocks.push(Block::Heading(title.to_owned()));
            blocks.push(Block::text(list(&names, names.len())));
        }
    };
    let parts = coverage.untold.iter().map(|part| circuit[*part].name.clone());
    under("Parts that no reading tells about", parts.collect());
    let setups = coverage.setups.iter().map(|setup| circuit[*setup].name.clone());
    under("Setups without a reading", setups.collect());
    let again = coverage.not_repeated.iter();
    let again = again.map(|idx| where_taken(&ticket.readings.readings[*idx], circuit));
    under("Read before the repair, not after it", again.collect());
    let invisible = ticket.diagnosis.invisible.iter();
    let invisible = invisible.map(|(fault, _)| fault.phrase(circuit));
    under("Faults that no DC reading shows", invisible.collect());
    blocks.push(Block::Heading("Outside what this program knows".to_owned()));
    blocks.push(Block::text(
        "Heat, timing, alternating current and interference, and parts that were not drawn. It \
         knows DC operating points of what was typed in, and no more.",
    ));
    Some(Section::new("untested", "What was not tested", blocks))
}

/// Defaults that applied.
pub(super) fn assumptions(ticket: &Ticket<'_>) -> Option<Section> {
    let lines: Vec<String> = ticket.assumptions.iter().map(assumption_words).collect();
    let blocks = vec![
        Block::text("The circuit file does not say these; these values were taken."),
        Block::List(lines.clone()),
    ];
    (!lines.is_empty()).then(|| Section::new("assumptions", "Assumptions and defaults", blocks))
}
