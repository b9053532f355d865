//! What a diagnosis says when something is odd: readings against each other, a reading that may be
//! a slip, pairs of faults.

use super::text::Page;
use super::words::{observed, percent, predicted, where_taken};
use crate::circuit::{Circuit, Reading};
use crate::diagnosis::{Diagnosis, LooksLike, Pair, Remark, Without};
use crate::fault::{Fault, Slip};
use crate::quantity::{Unit, print};

/// Slips that are told.
const SLIPS: usize = 4;
/// Pairs that are told.
const PAIRS: usize = 8;

/// What is odd about the readings by themselves.
pub(super) fn remarks(page: &mut Page, circuit: &Circuit, readings: &[Reading], all: &[Remark]) {
    if all.is_empty() {
        return;
    }
    page.heading("Look at these readings again");
    for remark in all {
        page.hanging("  - ", "    ", &remark_text(circuit, readings, remark));
    }
}

/// One remark in words.
pub(super) fn remark_text(circuit: &Circuit, readings: &[Reading], remark: &Remark) -> String {
    let name = |idx: usize| where_taken(&readings[idx], circuit);
    let value = |idx: usize| observed(&readings[idx], circuit);
    match remark {
        Remark::Repeat { readings: [one, other], .. } => format!(
            "{} was read as {} and as {}: a poor contact, or one of them is a slip",
            name(*one),
            value(*one),
            value(*other)
        ),
        Remark::Loop { readings: around, volts, .. } => {
            let places: Vec<&str> =
                around.iter().map(|&idx| readings[idx].place_text.as_str()).collect();
            format!(
                "{} volts round a loop do not add up: {} leave {}; one of them is a slip, or a \
                 lead moved",
                circuit[readings[around[0]].setup].name,
                places.join(", "),
                print(volts.abs(), Unit::Volt, 3)
            )
        }
        Remark::Impossible { reading, most, slip } => {
            let idx = *reading;
            let unit = super::words::unit_of(readings[idx].quantity, circuit, Some(&readings[idx]));
            let end = slip.map_or_else(String::new, |slip| {
                format!("; it may be written {}{}", slip.words(), prefix_hint(slip))
            });
            format!(
                "{} cannot be {}: nothing in this setup goes beyond {}{end}",
                name(idx),
                value(idx),
                print(*most, unit, 3)
            )
        }
    }
}

/// Three decades are usually a prefix.
fn prefix_hint(slip: Slip) -> &'static str {
    match slip {
        Slip::Decades(3 | -3) => ", a prefix such as milli read over",
        _ => "",
    }
}

/// Readings without which something single fits.
pub(super) fn without(
    page: &mut Page,
    circuit: &Circuit,
    readings: &[Reading],
    diagnosis: &Diagnosis,
) {
    if diagnosis.without.is_empty() {
        return;
    }
    page.heading("If one reading is a slip");
    for without in diagnosis.without.iter().take(SLIPS) {
        let text = without_text(circuit, readings, without);
        let share = percent(without.share);
        page.hanging(&format!("  {share:>7}   "), "            ", &text);
    }
    let more = diagnosis.without.len().saturating_sub(SLIPS);
    if more > 0 {
        page.line(&format!("            and {more} more that could be one"));
    }
    page.sentence("  ", "(shares among these; take the first one again before anything else)");
}

/// One reading that may be a slip, in words.
pub(super) fn without_text(circuit: &Circuit, readings: &[Reading], without: &Without) -> String {
    let reading = &readings[without.reading];
    let fits: Vec<String> = without
        .fits
        .iter()
        .map(|(fault, _)| match fault {
            Some(fault) => fault.rounded().full_phrase(circuit),
            None => "a healthy board".to_owned(),
        })
        .collect();
    let mut text = format!(
        "{} is {}: without it {} {}",
        where_taken(reading, circuit),
        observed(reading, circuit),
        if fits.len() == 1 { "this fits:" } else { "these fit:" },
        fits.join(", ")
    );
    let expected = predicted(without.predicted, reading, circuit);
    let which = match (fits.len(), without.told) {
        (1, _) => "it",
        (_, 0) => "the first",
        (_, told) => &fits[told],
    };
    text = format!("{text}; with {which} the meter would show {expected}");
    match &without.looks_like {
        Some(LooksLike::Slip(slip)) => {
            format!("{text}, so it looks written {}{}", slip.words(), prefix_hint(*slip))
        }
        Some(LooksLike::Place(place)) => format!("{text}; {place} would read what was written"),
        None => text,
    }
}

/// Pairs of faults that reproduce the readings.
pub(super) fn pairs(page: &mut Page, circuit: &Circuit, diagnosis: &Diagnosis) {
    if !diagnosis.pairs_tried {
        return;
    }
    page.heading("Two faults at once");
    if diagnosis.pairs.is_empty() {
        page.sentence("  ", "no pair of faults on the list reproduces the readings");
        return;
    }
    for pair in diagnosis.pairs.iter().take(PAIRS) {
        let share = percent(pair.share);
        page.hanging(&format!("  {share:>7}   "), "            ", &pair_text(circuit, pair));
    }
    let more = diagnosis.pairs.len().saturating_sub(PAIRS);
    if more > 0 {
        page.line(&format!("            and {more} more"));
    }
    page.sentence(
        "  ",
        "(shares among these pairs only: two faults at once are rare, so a slip or something that \
         is not in the file comes first)",
    );
}

/// The two faults with their values.
pub(super) fn pair_text(circuit: &Circuit, pair: &Pair) -> String {
    let words = |causes: &[Fault]| {
        let mut names = causes.iter().map(|fault| fault.rounded().full_phrase(circuit));
        let first = names.next().unwrap_or_default();
        match (names.next(), names.count()) {
            (None, _) => first,
            (Some(second), 0) => format!("{first} (or {second})"),
            (Some(second), more) => format!("{first} (or {second} and {more} more)"),
        }
    };
    let [one, other] = pair.causes.each_ref().map(|causes| words(causes));
    format!("{one}, and {other}")
}
