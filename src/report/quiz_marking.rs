//! The marking of a quiz as text and JSON.

use serde_json::{Value, json};

use super::Style;
use super::json::{VERSION, number, share};
use super::quiz::{effort, hidden_words, prediction_words, taken_name};
use super::text::Page;
use super::words::{observed, percent, unit_of};
use crate::circuit::{Circuit, Observed};
use crate::plan::where_to_measure;
use crate::study::{Digits, Judgement, Marking, Match, Play, Points, Replayed, Taken};

/// Faults of equal standing that are named.
const NAMED: usize = 10;

/// The marking as text.
pub fn marking_text(play: &Play<'_>, marking: &Marking, style: Style, width: usize) -> String {
    let quiz = play.quiz();
    let circuit = quiz.circuit();
    let mut page = Page::new(style, width);
    page.heading("The hidden fault");
    let hidden = hidden_words(circuit, &quiz.hidden().fault);
    page.sentence("  ", &hidden);
    let also: Vec<String> =
        marking.inseparable.iter().skip(1).map(|fault| fault.phrase(circuit)).collect();
    if !also.is_empty() {
        let also = super::words::list(&also, NAMED);
        page.sentence("  ", &format!("no measurement on this board tells from it: {also}"));
    }
    own_way(&mut page, circuit, marking);
    planned_way(&mut page, circuit, play);
    if !marking.predictions.is_empty() {
        page.heading("Your predictions");
        for predicted in &marking.predictions {
            let place = predicted.probe.place.words(circuit);
            let what = format!("{} {place}", predicted.probe.quantity.word());
            let words = prediction_words(circuit, &predicted.probe, &predicted.marked);
            let here = match (&predicted.read, predicted.fits_board) {
                (Some(_), true) if !predicted.marked.is_right() => {
                    "; but it is right for this board"
                }
                _ => "",
            };
            page.hanging("  - ", "    ", &format!("{what}: {words}{here}"));
        }
    }
    page.heading("Points");
    points_lines(&mut page, marking);
    page.finish()
}

fn own_way(page: &mut Page, circuit: &Circuit, marking: &Marking) {
    page.heading("Your way");
    if marking.replay.is_empty() {
        page.sentence("  ", "you read nothing");
    } else {
        let row = |(at, one): (usize, &Replayed)| {
            vec![
                (at + 1).to_string(),
                taken_name(circuit, &one.taken),
                observed(&one.taken.reading, circuit),
                effort(one.taken.effort),
                format!("{:.1}", one.bits),
                one.remaining.to_string(),
                percent(one.share),
            ]
        };
        let start = marking.at_start;
        let first = ["", "before", "", "", ""].map(str::to_owned).into_iter();
        let first = first.chain([start.remaining.to_string(), percent(start.share)]).collect();
        let rows: Vec<Vec<String>> =
            std::iter::once(first).chain(marking.replay.iter().enumerate().map(row)).collect();
        let header = ["#", "reading", "shows", "effort", "bits", "left", "hidden"];
        page.table(&header, &rows, &[2, 3, 4, 5, 6]);
        page.sentence(
            "  ",
            "bits: what the reading could tell of where the fault is; left: faults that the readings so \
             far do not tell from the hidden one; hidden: the share of the hidden one's place.",
        );
        for (at, one) in marking.replay.iter().enumerate() {
            if let Some(text) = remark(circuit, one) {
                page.hanging("  - ", "    ", &format!("reading {}: {text}", at + 1));
            }
        }
    }
    for guess in &marking.guesses {
        let phrase = guess.fault.phrase(circuit);
        let n = guess.after;
        let after = format!("after {n} reading{}", if n == 1 { "" } else { "s" });
        let worth = match guess.judged {
            judged if judged.is_right() => "right",
            judged if judged.is_wrong() => "wrong",
            _ => "nearly",
        };
        page.hanging("  - ", "    ", &format!("{after} you said {phrase}: {worth}"));
    }
}

/// What is to be said of a reading.
fn remark(circuit: &Circuit, one: &Replayed) -> Option<String> {
    if one.was_enough {
        return Some("what you had read before was enough already".to_owned());
    }
    let better = one.better.as_ref().map(|best| {
        format!(
            "{} would have told {:.1} bits for an effort of {}",
            where_to_measure(circuit, &best.measurement),
            best.bits,
            effort(best.effort)
        )
    });
    match (one.tells(), better) {
        (false, Some(better)) => Some(format!(
            "it could not tell anything, all that remained shows the same there; {better}"
        )),
        (false, None) => {
            Some("it could not tell anything, all that remained shows the same there".to_owned())
        }
        (true, better) => better,
    }
}

fn planned_way(page: &mut Page, circuit: &Circuit, play: &Play<'_>) {
    let way = play.quiz().way();
    page.heading("The planned way on this board");
    let row = |(at, step): (usize, &Taken)| {
        vec![
            (at + 1).to_string(),
            taken_name(circuit, step),
            observed(&step.reading, circuit),
            effort(step.effort),
        ]
    };
    let rows: Vec<Vec<String>> = way.steps.iter().enumerate().map(row).collect();
    if !rows.is_empty() {
        page.table(&["#", "reading", "shows", "effort"], &rows, &[2, 3]);
    }
    if let Some(repair) = way.repairs.first() {
        let faults = super::words::list(&repair.faults, 4);
        page.sentence("  ", &format!("then {faults}: {}", repair.action));
    }
}

fn points_lines(page: &mut Page, marking: &Marking) {
    let Points { fault, way, hints, predictions, total } = marking.points;
    let done = &marking.performance;
    let found = match (marking.found, done.right_part) {
        (true, _) if done.wrong > 0 => {
            let plural = if done.wrong == 1 { "" } else { "es" };
            format!("found, after {} wrong guess{plural}", done.wrong)
        }
        (true, _) => "found".to_owned(),
        (false, true) => "not found, but the part".to_owned(),
        (false, false) => "not found".to_owned(),
    };
    let ways = format!(
        "your effort {}, the planned way {} ({} in the mean)",
        effort(done.effort),
        effort(done.planned),
        effort(marking.expected_effort)
    );
    let n_hints: usize = done.hints.iter().sum();
    let rows = [
        ("fault", fault, found),
        ("way", way, ways),
        ("hints", hints, format!("{n_hints} taken")),
        (
            "predictions",
            predictions,
            format!(
                "{} right of {}, each place counts once",
                marking.predictions.iter().filter(|one| one.is_right()).count(),
                marking.predictions.len()
            ),
        ),
    ];
    let mut lines: Vec<Vec<String>> = rows
        .into_iter()
        .map(|(name, points, why)| vec![name.to_owned(), format!("{:.0}", points), why])
        .collect();
    lines.push(vec!["total".to_owned(), format!("{total:.0}"), "of 100".to_owned()]);
    page.table(&["for", "points", ""], &lines, &[1]);
}

/// The marking as JSON.
pub fn marking_json(play: &Play<'_>, marking: &Marking) -> Value {
    let quiz = play.quiz();
    let circuit = quiz.circuit();
    let replay: Vec<Value> = marking
        .replay
        .iter()
        .map(|one| {
            let mut value = taken_json(circuit, &one.taken);
            value["bits"] = json!(one.bits);
            value["gained"] = number(one.gained);
            value["tells"] = json!(one.tells());
            value["remaining"] = json!(one.remaining);
            value["hidden_share"] = json!(share(one.share));
            value["was_enough"] = json!(one.was_enough);
            value["better"] = one.better.as_ref().map_or(Value::Null, |best| {
                json!({
                    "setup": circuit[best.measurement.probe.setup].name,
                    "quantity": best.measurement.probe.quantity.word(),
                    "place": best.measurement.place_text,
                    "bits": best.bits,
                    "effort": best.effort,
                })
            });
            value
        })
        .collect();
    let guesses: Vec<Value> = marking
        .guesses
        .iter()
        .map(|guess| {
            json!({
                "fault": guess.fault.phrase(circuit),
                "right": guess.judged.is_right(),
                "judged": judged_word(guess.judged),
                "right_part": guess.right_part,
                "after_readings": guess.after,
            })
        })
        .collect();
    let predictions: Vec<Value> = marking
        .predictions
        .iter()
        .map(|one| {
            json!({
                "setup": circuit[one.probe.setup].name,
                "quantity": one.probe.quantity.word(),
                "place": one.probe.place.words(circuit),
                "value": number(one.marked.value),
                "healthy": number(one.marked.healthy),
                "healthy_u": number(one.marked.u),
                "marked": match_word(one.marked.matched),
                "digits": digits_word(one.marked.digits),
                "unit_named": one.marked.unit_named,
                "fits_board": one.fits_board,
                "right": one.is_right(),
            })
        })
        .collect();
    let way = quiz.way();
    let points = &marking.points;
    let done = &marking.performance;
    json!({
        "version": VERSION,
        "circuit": circuit.title,
        "seed": quiz.seed(),
        "level": quiz.level(),
        "hidden": quiz.hidden().fault.full_phrase(circuit),
        "inseparable": marking.inseparable.iter().map(|fault| fault.phrase(circuit)).collect::<Vec<_>>(),
        "found": marking.found,
        "wrong_guesses": done.wrong,
        "effort": done.effort,
        "planned": {
            "effort": way.effort,
            "expected_effort": marking.expected_effort,
            "readings": way.steps.iter().map(|step| taken_json(circuit, step)).collect::<Vec<_>>(),
        },
        "hints": done.hints,
        "readings": replay,
        "guesses": guesses,
        "predictions": predictions,
        "points": {
            "fault": points.fault,
            "way": points.way,
            "hints": points.hints,
            "predictions": points.predictions,
            "total": points.total,
        },
    })
}

fn taken_json(circuit: &Circuit, taken: &Taken) -> Value {
    let reading = &taken.reading;
    let shown = match reading.observed {
        Observed::Number { value, .. } => number(value),
        Observed::Beep(beep) => json!(beep),
        _ => json!(observed(reading, circuit)),
    };
    json!({
        "setup": circuit[reading.setup].name,
        "quantity": reading.quantity.word(),
        "place": reading.place_text,
        "shown": shown,
        "unit": unit_of(reading.quantity, circuit, Some(reading)).symbol(),
        "effort": taken.effort,
    })
}

fn judged_word(judged: Judgement) -> &'static str {
    match judged {
        Judgement::Hidden => "hidden",
        Judgement::SameChange => "same change",
        Judgement::Inseparable => "inseparable",
        Judgement::NotToldApart => "not told apart",
        Judgement::Contradicted(_) => "contradicted",
        Judgement::Possible => "possible",
        Judgement::NoPoint => "no operating point",
    }
}

fn match_word(matched: Match) -> &'static str {
    match matched {
        Match::Right => "right",
        Match::Slip(power) if power % 3 == 0 => "unit slip",
        Match::Slip(_) => "decimal slip",
        Match::Sign => "sign slip",
        Match::Off(_) => "off",
        Match::Over => "over range",
    }
}

fn digits_word(digits: Digits) -> &'static str {
    match digits {
        Digits::Sensible => "sensible",
        Digits::TooMany(_) => "too many",
        Digits::TooFew(_) => "too few",
    }
}
