//! The short version, in plain words.

use super::Ticket;
use super::plain::{fault_words, part_words};
use super::repair::done_words;
use crate::circuit::{Circuit, Place, Quantity, Sight};
use crate::circuit::{Observed, Reading};
use crate::diagnosis::Verdict;
use crate::fault::Fault;
use crate::plan::{Advice, Repair, SURE, repairs};
use crate::report::bench::after_words;
use crate::report::document::{Block, Section, Tone};
use crate::report::words::{appearance_words, list, percent, plural, sentence_case};

/// Places that are named to a customer.
const MOST_PLACES: usize = 3;
/// What is less likely than this is not named to a customer.
const LEAST: f64 = 0.02;
/// What is likelier than this, by more than rounding, is called likely.
const LIKELY: f64 = 0.505;

pub(super) fn sections(ticket: &Ticket<'_>) -> Vec<Section> {
    let places = places(ticket);
    vec![
        Section::new("brought", "What was brought in", brought(ticket)),
        Section::new("found", "What was found", found(ticket, &places)),
        Section::new("sure", "How sure that is", sure(ticket, &places)),
        Section::new("repair", "What was done", done(ticket)),
        Section::new("now", "What it measures now", now(ticket)),
        Section::new("open", "What was not tested", untested(ticket)),
    ]
}

/// A sentence with its capital and its full stop.
fn sentence(text: &str) -> Block {
    Block::text(ended(&sentence_case(text)))
}

/// A text with its full stop, unless it ends by itself.
fn ended(text: &str) -> String {
    if text.ends_with(['.', '!', '?']) { text.to_owned() } else { format!("{text}.") }
}

fn brought(ticket: &Ticket<'_>) -> Vec<Block> {
    let mut blocks = Vec::new();
    if !ticket.circuit.title.is_empty() {
        blocks.push(sentence(&ticket.circuit.title));
    }
    let entries = ticket.readings.job.entries.iter();
    for (_, symptom) in entries.filter(|(key, _)| key == "symptom") {
        blocks.push(Block::text(ended(&format!("Reported: {symptom}"))));
    }
    let seen: Vec<String> = ticket
        .readings
        .seen
        .iter()
        .map(|(part, look)| {
            format!("{} {}", part_words(ticket.circuit, *part), appearance_words(*look))
        })
        .chain(ticket.readings.readings.iter().filter_map(|one| sight(ticket.circuit, one)))
        .collect();
    if !seen.is_empty() {
        blocks.push(sentence(&format!("seen on it: {}", list(&seen, 6))));
    }
    if blocks.is_empty() {
        blocks.push(Block::text("A board; the ticket says no more of it."));
    }
    blocks
}

/// What was seen of a part, in plain words.
fn sight(circuit: &Circuit, reading: &Reading) -> Option<String> {
    let (Place::Part(part), Observed::Sight(sight)) = (reading.place, reading.observed) else {
        return None;
    };
    let word = match (reading.quantity, sight) {
        (Quantity::Seen, Sight::Hot) => "gets hot",
        (Quantity::Seen, Sight::Lit) => "is lit",
        (Quantity::Seen, Sight::Dark) => "is dark",
        _ => return None,
    };
    Some(format!("{} {word}", part_words(circuit, part)))
}

/// The places where a repair could be, likeliest first, each with what may be wrong there and
/// whether the readings say how much.
fn places(ticket: &Ticket<'_>) -> Vec<(Repair, Fault, bool)> {
    let suspects = ticket.planner.suspects();
    let mut places: Vec<(Repair, Fault, bool)> =
        repairs(ticket.circuit, suspects, ticket.planner.share())
            .into_iter()
            .filter_map(|repair| {
                let phrase = repair.faults.first()?;
                let fault = suspects.iter().find(|one| one.phrase == *phrase)?.fault?;
                let candidates = ticket.diagnosis.candidates.iter();
                let known = candidates
                    .filter(|one| one.value_low.is_some() && one.value_high.is_some())
                    .any(|one| one.causes.contains(&fault));
                Some((repair, fault, known))
            })
            .collect();
    places.sort_by(|(a, ..), (b, ..)| {
        b.probability.total_cmp(&a.probability).then_with(|| a.faults.cmp(&b.faults))
    });
    places
}

/// The places that are likely enough to be named to a customer.
fn shown(places: &[(Repair, Fault, bool)]) -> Vec<&(Repair, Fault, bool)> {
    places.iter().filter(|(repair, ..)| repair.probability >= LEAST).collect()
}

fn found(ticket: &Ticket<'_>, places: &[(Repair, Fault, bool)]) -> Vec<Block> {
    match ticket.advice {
        Advice::Nothing => {
            return vec![Block::text(
                "No single failed part explains what was measured. A measurement may have gone \
                 wrong, more than one part may have failed, or the cause is not on the drawing \
                 that was used.",
            )];
        }
        Advice::Healthy => {
            return vec![Block::text("What was measured is what a good board measures.")];
        }
        _ => {}
    }
    // A share counts everything that can be wrong at one place, so its words name no more than that.
    let words = |(repair, fault, known): &(Repair, Fault, bool)| {
        let also =
            if repair.faults.len() > 1 { ", or something else is wrong with it" } else { "" };
        format!("{}{also}", fault_words(ticket.circuit, fault, *known))
    };
    let shown = shown(places);
    if is_mended(ticket) {
        // What a repair has cured is told by it; of several places the repair says which it was.
        let cured =
            "What was done cured it: the measurements after the repair are as on a good board.";
        let sure = shown.first().filter(|(repair, ..)| repair.probability >= SURE);
        let named = sure.map(|one| sentence(&words(one)));
        return named.into_iter().chain([Block::text(cured)]).collect();
    }
    if ticket.diagnosis.healthy_verdict == Verdict::Reproduces {
        let mut blocks = vec![Block::text(
            "What was measured so far is what a good board may measure too: nothing is proven.",
        )];
        let named: Vec<String> = shown.iter().take(MOST_PLACES).map(|one| words(one)).collect();
        if !named.is_empty() {
            blocks.push(Block::text(
                "What could still be wrong without showing in it, among others:",
            ));
            blocks.push(Block::List(named));
        }
        return blocks;
    }
    match shown[..] {
        [] => vec![Block::text("Nothing that stands out: the technician's part says more.")],
        [one] => vec![sentence(&words(one))],
        _ => {
            let likely = |one: &&(Repair, Fault, bool)| {
                format!("{}: {}", percent(one.0.probability), words(one))
            };
            let mut lines: Vec<String> = shown.iter().take(MOST_PLACES).map(likely).collect();
            if let Some(more) = shown.len().checked_sub(MOST_PLACES).filter(|more| *more > 0) {
                lines.push(format!("and {more} less likely {}", plural(more, "place")));
            }
            vec![
                Block::text("The measurements leave these places, the likeliest first:"),
                Block::List(lines),
            ]
        }
    }
}

/// Whether a repair is on the ticket, with readings after it that fit a good board, all of them.
fn is_mended(ticket: &Ticket<'_>) -> bool {
    let after = &ticket.readings.after;
    let is_fixed = |diagnosis| after_words(ticket.circuit, after, diagnosis).is_fixed;
    !ticket.readings.done.is_empty() && ticket.after.is_some_and(is_fixed)
}

fn sure(ticket: &Ticket<'_>, places: &[(Repair, Fault, bool)]) -> Vec<Block> {
    if is_mended(ticket) {
        return vec![Block::text(
            "The measurements after the repair prove it, where they were taken.",
        )];
    }
    let other = percent(ticket.diagnosis.other_probability);
    let something_else = format!("Something that is not on the list of known failures: {other}.");
    let text = match (ticket.advice, places.first()) {
        (Advice::Nothing, _) => "Not sure: nothing fits well enough to name it.".to_owned(),
        (Advice::Healthy, _) => {
            let share = percent(ticket.diagnosis.healthy_probability);
            format!("That nothing is wrong where it was measured: {share}. {something_else}")
        }
        (_, None) => something_else,
        (_, Some(_)) if ticket.diagnosis.healthy_verdict == Verdict::Reproduces => {
            format!("Not sure: further measurements decide. {something_else}")
        }
        (_, Some((first, ..))) => {
            let share = percent(first.probability);
            let how = match first.probability {
                share if share >= SURE => "As good as certain",
                share if share > LIKELY => "Likely, not certain",
                _ => "Not sure yet: further measurements or a trial repair decide",
            };
            let which = if shown(places).len() > 1 { " for what is named first" } else { "" };
            format!("{how}: {share}{which}. {something_else}")
        }
    };
    vec![Block::text(text)]
}

fn done(ticket: &Ticket<'_>) -> Vec<Block> {
    if ticket.readings.done.is_empty() {
        return vec![Block::text("No repair is on the ticket yet.")];
    }
    let circuit = ticket.circuit;
    let lines = ticket.readings.done.iter().map(|done| {
        let part = done.part.map(|part| part_words(circuit, part));
        done_words(done, part.as_deref())
    });
    vec![Block::List(lines.map(|line| sentence_case(&line)).collect())]
}

fn now(ticket: &Ticket<'_>) -> Vec<Block> {
    let after = &ticket.readings.after;
    let Some(diagnosis) = ticket.after else {
        let text = match ticket.readings.done.is_empty() {
            true => "Nothing was measured after a repair.",
            false => "It was not measured again after that.",
        };
        return vec![Block::text(text)];
    };
    let found = after_words(ticket.circuit, after, diagnosis);
    let n = after.len();
    let measured = format!("{n} {} after the repair", plural(n, "measurement"));
    if found.is_fixed {
        let text = format!("Fixed: {measured} are as on a good board.");
        return vec![Block::Note(Tone::Good, text)];
    }
    let text = match found.still.len() {
        0 => format!("Not fixed yet: {measured} do not go together on a good board."),
        off => {
            let differ = if off == 1 { "differs" } else { "differ" };
            format!("Not fixed yet: of {measured}, {off} {differ} from a good board.")
        }
    };
    vec![Block::Note(Tone::Off, text)]
}

fn untested(ticket: &Ticket<'_>) -> Vec<Block> {
    let coverage = ticket.coverage;
    let mut lines = vec![
        "How it behaves when it is warm, over time, and with anything but steady voltages."
            .to_owned(),
        "What is not on the drawing that was used.".to_owned(),
    ];
    let nets = ticket.circuit.nets.len() - 1;
    let unread = coverage.unread.len();
    if unread > 0 {
        lines.push(format!("{unread} of {nets} points of the circuit were not measured."));
    }
    let untold: Vec<String> =
        coverage.untold.iter().map(|part| ticket.circuit[*part].name.clone()).collect();
    if !untold.is_empty() {
        let names = list(&untold, 8);
        lines.push(format!("The measurements say nothing about these parts: {names}."));
    }
    let again = coverage.not_repeated.len();
    if again > 0 {
        let text = format!(
            "{again} {} not repeated after the repair.",
            if again == 1 { "measurement was" } else { "measurements were" }
        );
        lines.push(text);
    }
    vec![Block::List(lines)]
}
