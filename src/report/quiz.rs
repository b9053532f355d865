//! What a quiz says while it is played.

use super::Style;
use super::next::follows;
use super::text::Page;
use super::words::{self, list, observed, percent, range, shown, shown_as, where_taken};
use crate::circuit::{Circuit, NetId, Observed};
use crate::diagnosis::{Probe, RuledOut};
use crate::fault::Fault;
use crate::plan::{Measurement, is_live, where_to_measure};
use crate::quantity::{Unit, print, print_short};
use crate::study::{
    Digits, Hint, Judgement, Match, Play, Predicted, Prediction, Sign, Symptom, Taken,
};

/// Faults that are named of those that remain.
const NAMED: usize = 12;

/// How a quiz writes efforts: whole ones without a point.
pub(super) fn effort(value: f64) -> String {
    let text = format!("{value:.1}");
    text.strip_suffix(".0").map_or(text.clone(), str::to_owned)
}

/// What is hidden, with its value where that says something: of a short it says nothing.
pub(super) fn hidden_words(circuit: &Circuit, fault: &Fault) -> String {
    match fault {
        Fault::Shorted(..) | Fault::PinShorted(..) => fault.with_value(None).phrase(circuit),
        _ => fault.full_phrase(circuit),
    }
}

/// What is seen of a board from outside.
pub fn sign_words(circuit: &Circuit, sign: &Sign) -> String {
    let name = |part: crate::circuit::PartId| circuit[part].name.as_str();
    let word = |lit: bool| if lit { "lit" } else { "dark" };
    match *sign {
        Sign::Light { part, lit, should } if lit == should => {
            format!("{} is {}, as it should be", name(part), word(lit))
        }
        Sign::Light { part, lit, should } => {
            format!("{} is {}, and should be {}", name(part), word(lit), word(should))
        }
        Sign::Relay { part, does, should } => {
            format!("the relay {} is {does}, and should be {should}", name(part))
        }
        Sign::Load { part } => {
            format!("{} stands still: it gets less than half of its voltage", name(part))
        }
        Sign::Rail { net, is_high, limit } => {
            let (word, than) = if is_high { ("high", "above") } else { ("low", "below") };
            let net = circuit.net_name(net);
            format!("{net} is too {word}: {than} {}", print(limit, Unit::Volt, 3))
        }
    }
}

/// Everything that is seen from outside, one line each.
pub fn symptom_lines(circuit: &Circuit, symptom: &Symptom) -> Vec<String> {
    let mut lines: Vec<String> =
        symptom.signs.iter().map(|sign| sign_words(circuit, sign)).collect();
    if symptom.signs.iter().all(Sign::is_well) {
        lines.push("nothing wrong can be seen; somebody found a reading that is off".to_owned());
    }
    lines
}

/// What is seen from outside.
pub fn symptom_text(circuit: &Circuit, symptom: &Symptom, style: Style, width: usize) -> String {
    let mut page = Page::new(style, width);
    page.heading("What is seen");
    for line in symptom_lines(circuit, symptom) {
        page.hanging("  - ", "    ", &line);
    }
    page.finish()
}

/// What was read, and what it cost.
pub fn taken_text(circuit: &Circuit, taken: &Taken, again: bool, all: f64, width: usize) -> String {
    let mut page = Page::new(Style::Plain, width);
    let reading = &taken.reading;
    let power = if is_live(circuit, reading.setup) { "power on" } else { "power off" };
    let cost = match again {
        true => "read before, costs nothing".to_owned(),
        false => format!("effort {}, {} in all", effort(taken.effort), effort(all)),
    };
    let what = format!("{} {}", reading.quantity.word(), reading.place_text);
    let text = format!("{what}: {}   ({power}; {cost})", observed(reading, circuit));
    page.sentence("  ", &text);
    page.finish()
}

/// The readings so far.
pub fn notes_text(circuit: &Circuit, play: &Play<'_>, style: Style, width: usize) -> String {
    let mut page = Page::new(style, width);
    if play.taken().is_empty() {
        page.sentence("  ", "you have read nothing yet");
        return page.finish();
    }
    let row = |taken: &Taken| {
        let reading = &taken.reading;
        vec![where_taken(reading, circuit), observed(reading, circuit), effort(taken.effort)]
    };
    let rows: Vec<Vec<String>> = play.taken().iter().map(row).collect();
    page.table(&["reading", "shows", "effort"], &rows, &[1, 2]);
    page.finish()
}

/// A hint.
pub fn hint_text(circuit: &Circuit, level: u8, hint: &Hint, style: Style, width: usize) -> String {
    let mut page = Page::new(style, width);
    let first = format!("  hint {level}: ");
    let names = |nets: &[NetId]| -> Vec<String> {
        nets.iter().map(|net| circuit.net_name(*net).to_owned()).collect()
    };
    match hint {
        Hint::Where { quantity, live, near_supply, nets } => {
            let power = if *live { "power on" } else { "power off" };
            let half = if *near_supply { "nearer to" } else { "further from" };
            let text = format!(
                "{} with the {power} tell most now; look at the half of the board {half} the supply: {}",
                quantity.word(),
                list(&names(nets), NAMED)
            );
            page.hanging(&first, "          ", &text);
        }
        Hint::Next(best) => {
            let quantity = best.measurement.probe.quantity;
            let unit = words::unit_of(quantity, circuit, None);
            let text = format!(
                "measure {}. It is expected to tell {:.1} bits for an effort of {}:",
                where_to_measure(circuit, &best.measurement),
                best.bits,
                effort(best.effort)
            );
            page.hanging(&first, "          ", &text);
            for outcome in best.outcomes.iter().take(5) {
                let values = range(outcome.low, outcome.high, quantity, unit);
                let text = format!("{values}: {}", follows(circuit, outcome));
                page.hanging("  - ", "    ", &text);
            }
            let more = best.outcomes.len().saturating_sub(5);
            if more > 0 {
                page.line(&format!("  - and {more} other outcomes"));
            }
        }
        Hint::Left(left) => {
            let named: Vec<String> = left
                .iter()
                .take(NAMED)
                .map(|(phrase, share)| format!("{phrase} {}", percent(*share)))
                .collect();
            let more = left.len().saturating_sub(NAMED);
            let tail = if more > 0 { format!(", and {more} more") } else { String::new() };
            let text = format!("what remains: {}{tail}", named.join(", "));
            page.hanging(&first, "          ", &text);
        }
        Hint::Enough => {
            let text = "no further reading is worth its effort: what you have read is enough. Think of \
                        what would make all of it, and guess";
            page.hanging(&first, "          ", text);
        }
    }
    page.finish()
}

/// What a guess was worth.
pub fn judgement_text(play: &Play<'_>, guess: &Fault, judged: Judgement, width: usize) -> String {
    let mut page = Page::new(Style::Plain, width);
    page.sentence("  ", &judgement_words(play, guess, judged));
    if judged.is_wrong() && play.guesses().last().is_some_and(|guess| guess.right_part) {
        let place = guess.part().map_or("the right place", |_| "the right part");
        page.sentence("  ", &format!("but you are at {place}"));
    }
    page.finish()
}

fn judgement_words(play: &Play<'_>, guess: &Fault, judged: Judgement) -> String {
    let circuit = play.quiz().circuit();
    let named = guess.with_value(None).phrase(circuit);
    let hidden = hidden_words(circuit, &play.quiz().hidden().fault);
    match judged {
        Judgement::Hidden => format!("right: it is {hidden}"),
        Judgement::SameChange => {
            "nearly: it is that very change between the same nets, but it is not in \
                                  that part; the current through each part there would tell. This \
                                  costs nothing"
                .to_owned()
        }
        Judgement::Inseparable => {
            format!("right: it is {hidden}, and no measurement on this board tells {named} from it")
        }
        Judgement::NotToldApart => format!(
            "right: it is {hidden}; your readings do not tell {named} from it, and no measurement is \
             worth its effort any more"
        ),
        Judgement::Contradicted(ruled_out) => {
            contradiction(play, &named, &ruled_out).unwrap_or_else(|| format!("no: not {named}"))
        }
        Judgement::Possible => format!(
            "no: {named} fits all that you have read, but it is something else; another reading would \
             have told"
        ),
        Judgement::NoPoint => {
            format!("no: with {named} the board would have no operating point at all")
        }
    }
}

/// Which reading contradicts a guess, and what the guess predicts there.
fn contradiction(play: &Play<'_>, named: &str, ruled_out: &RuledOut) -> Option<String> {
    let circuit = play.quiz().circuit();
    let reading = play.contradicting(ruled_out)?;
    let predicted = words::predicted(ruled_out.predicted, &reading, circuit);
    let is_symptom = ruled_out.reading < play.quiz().symptom().readings.len();
    let seen = observed(&reading, circuit);
    Some(match is_symptom {
        true => format!(
            "no: with {named} it would be {predicted} at {}, and what is seen is {seen}",
            reading.place_text
        ),
        false => format!(
            "no: you read {} as {seen}; with {named} it would be {predicted}",
            where_taken(&reading, circuit)
        ),
    })
}

/// How a prediction is marked at once: against a healthy board.
pub fn prediction_text(circuit: &Circuit, predicted: &Predicted, width: usize) -> String {
    let mut page = Page::new(Style::Plain, width);
    page.sentence("  ", &prediction_words(circuit, &predicted.probe, &predicted.marked));
    if predicted.read.is_some() {
        page.sentence("  ", "you have read that already: it counts as a healthy value only");
    }
    page.finish()
}

/// A prediction against a healthy board, in words.
pub(super) fn prediction_words(circuit: &Circuit, probe: &Probe, marked: &Prediction) -> String {
    let quantity = probe.quantity;
    let unit = words::unit_of(quantity, circuit, None);
    let text = |value: f64| shown_as(value, quantity, unit);
    let healthy = words::with_band(marked.healthy, marked.u, unit);
    let at = format!("a healthy board shows {healthy}");
    let value = text(marked.value);
    let verdict = match marked.matched {
        Match::Right => format!("right: {at}"),
        Match::Slip(power) if power % 3 == 0 => format!(
            "a slip of the unit: {value} is {} times too {}; {at}",
            print_short(10.0_f64.powi(power.abs()), Unit::One),
            if power > 0 { "large" } else { "small" }
        ),
        Match::Slip(power) => format!(
            "a slip of the decimal point: {value} is {} times too {}; {at}",
            print_short(10.0_f64.powi(power.abs()), Unit::One),
            if power > 0 { "large" } else { "small" }
        ),
        Match::Sign => format!("the sign is the other way round; {at}"),
        Match::Off(share) if share.is_finite() && share < 10.0 => {
            format!("off by {}: {at}", words::percent_of(share))
        }
        Match::Off(_) => format!("far off: {at}"),
        Match::Over => format!("no: {at}"),
    };
    let digits = match marked.digits {
        Digits::Sensible => String::new(),
        Digits::TooMany(sensible) => {
            format!("; {sensible} digits are enough, parts and meter are no better")
        }
        Digits::TooFew(sensible) => format!("; with {sensible} digits it would say more"),
    };
    let named = if marked.unit_named || marked.value.is_infinite() {
        String::new()
    } else {
        format!("; write the unit, as in `{}`", shown(marked.value, unit))
    };
    format!("{verdict}{digits}{named}")
}

/// What a reading makes of the prediction for it.
pub fn prediction_met(circuit: &Circuit, predicted: &Predicted, width: usize) -> String {
    let Some(reading) = &predicted.read else { return String::new() };
    let mut page = Page::new(Style::Plain, width);
    let unit = words::unit_of(reading.quantity, circuit, Some(reading));
    let said = shown_as(predicted.marked.value, reading.quantity, unit);
    let healthy = shown_as(predicted.marked.healthy, reading.quantity, unit);
    let is_off = match reading.observed {
        Observed::Number { value, .. } => {
            let room = (3.0 * predicted.marked.u)
                .max(2.0 * crate::circuit::Meter::count(reading.quantity, value));
            (value - predicted.marked.healthy).abs() > room
                || predicted.marked.healthy.is_infinite()
        }
        Observed::Over => predicted.marked.healthy.is_finite(),
        _ => false,
    };
    let text = match (predicted.fits_board, is_off) {
        (true, true) => format!("you predicted {said}: so it is, and not the healthy {healthy}"),
        (true, false) => format!("you predicted {said}: so it is, as on a healthy board"),
        (false, true) => {
            format!("you predicted {said}, a healthy board shows {healthy}: it is off")
        }
        (false, false) => format!("you predicted {said}: here it is as on a healthy board"),
    };
    page.sentence("  ", &text);
    page.finish()
}

/// A measurement as the table of a marking names it.
pub(super) fn taken_name(circuit: &Circuit, taken: &Taken) -> String {
    let one = Measurement {
        probe: taken.probe(),
        place_text: taken.reading.place_text.clone(),
        effort: taken.effort,
    };
    where_to_measure(circuit, &one)
}
