//! A curve as text, comma-separated values and JSON.

use serde_json::{Value, json};

use super::Style;
use super::bands::name_of;
use super::json::{VERSION, number};
use super::plot::{Line, Mark, SIGNS, drawn};
use super::text::Page;
use super::words::{csv_field, shown};
use crate::circuit::Circuit;
use crate::quantity::{Unit, print, print_short};
use crate::study::{Curve, Level, LevelKind, Run, Swept};

/// The name of what goes over the range, with its unit.
pub fn swept_words(circuit: &Circuit, swept: &Swept) -> String {
    match swept {
        Swept::Parameter { part, name, .. } => format!("{} {name}", circuit[*part].name),
        Swept::Temperature => "temperature".to_owned(),
        Swept::Fault(fault) => fault.with_value(None).phrase(circuit),
    }
}

/// What stands at a level, in a few words.
pub fn level_words(circuit: &Circuit, level: &Level) -> String {
    let net = circuit.net_name(level.net);
    match level.kind {
        LevelKind::Least => format!("{net} least"),
        LevelKind::Most => format!("{net} most"),
        LevelKind::Threshold(part, name) => format!("{} {name}", circuit[part].name),
        LevelKind::Maximum(part, pin) => {
            let part = &circuit[part];
            format!("{}.{} maximum", part.name, part.pins[pin].name)
        }
    }
}

/// Where a place stands between the ends, from 0 to 1.
pub(crate) fn share(curve: &Curve, place: f64) -> f64 {
    let (first, last) = match (curve.places.first(), curve.places.last()) {
        (Some(first), Some(last)) => (*first, *last),
        _ => return 0.0,
    };
    if curve.is_log {
        (place / first).ln() / (last / first).ln()
    } else {
        (place - first) / (last - first)
    }
}

fn lines(curve: &Curve, run: &Run) -> Vec<Line> {
    (0..curve.watched.len())
        .map(|net| {
            let points = curve.places.iter().zip(&run.volts);
            let points = points.map(|(&place, volts)| {
                (share(curve, place), volts.as_ref().map(|volts| volts[net]))
            });
            Line { sign: SIGNS[net % SIGNS.len()], points: points.collect() }
        })
        .collect()
}

/// A curve as text: the plot, what the parts began to do on the way, and a short table.
pub fn curve_text(
    circuit: &Circuit,
    title: &str,
    swept: &Swept,
    curve: &Curve,
    (style, width): (Style, usize),
) -> String {
    let unit = swept.unit(circuit);
    let mut page = Page::new(style, width);
    page.heading(title);
    let marks: Vec<Mark> = curve
        .levels
        .iter()
        .map(|level| Mark { value: level.volts, name: level_words(circuit, level) })
        .collect();
    let runs = [("rising", Some(&curve.rising)), ("falling", curve.falling.as_ref())];
    let both = curve.falling.is_some();
    let other_way: Vec<bool> =
        (0..curve.watched.len()).map(|net| is_other_way(curve, net)).collect();
    for (word, run) in runs {
        let Some(run) = run else { continue };
        if both {
            page.heading(&format!("With {} {word}", swept_words(circuit, swept)));
        }
        // A way back on which nothing but the places of switching differs is not drawn again.
        let is_drawn = word == "rising" || other_way.iter().any(|differs| *differs);
        if is_drawn {
            let names: Vec<String> = curve
                .watched
                .iter()
                .enumerate()
                .map(|(at, net)| format!("{} {}", SIGNS[at % SIGNS.len()], name_of(circuit, *net)))
                .collect();
            page.line(&format!("  volts of {}", names.join(", ")));
            let volts = |value: f64| shown(value, Unit::Volt);
            let rows = drawn(&lines(curve, run), &marks, &volts, width);
            let margin = rows.first().and_then(|row| row.find('|')).unwrap_or(0);
            rows.iter().for_each(|row| page.line(row));
            page.line(&axis(
                curve,
                swept,
                circuit,
                margin,
                rows.last().map_or(0, |row| row.chars().count()),
            ));
        }
        if is_drawn && !run.turns.is_empty() {
            page.line("");
        }
        for turn in &run.turns {
            let part = &circuit[turn.part].name;
            let at = print(turn.at, unit, 4);
            page.hanging(
                "  - ",
                "    ",
                &format!("at {at} {part} is {}, was {}", turn.to, turn.from),
            );
        }
        let gaps = run.volts.iter().filter(|volts| volts.is_none()).count();
        if gaps > 0 {
            page.sentence(
                "  ",
                &format!("{gaps} of {} places have no operating point.", run.volts.len()),
            );
        }
    }
    page.heading("Values");
    let mut header: Vec<String> = vec![swept_words(circuit, swept)];
    header.extend(curve.watched.iter().map(|net| name_of(circuit, *net)));
    let back = curve.watched.iter().zip(&other_way).filter(|(_, differs)| **differs);
    header.extend(back.map(|(net, _)| format!("{} falling", name_of(circuit, *net))));
    let step = curve.places.len().div_ceil(10).max(1);
    let last = curve.places.len() - 1;
    let rows: Vec<Vec<String>> = (0..=last)
        .filter(|at| at % step == 0 || *at == last)
        .map(|at| {
            let mut row = vec![print(curve.places[at], unit, 3)];
            for run in [Some(&curve.rising), curve.falling.as_ref()].into_iter().flatten() {
                let is_back = !std::ptr::eq(run, &curve.rising);
                for net in (0..curve.watched.len()).filter(|net| !is_back || other_way[*net]) {
                    let volts = run.volts[at].as_ref().map(|volts| volts[net]);
                    row.push(volts.map_or("-".to_owned(), |volts| shown(volts, Unit::Volt)));
                }
            }
            row
        })
        .collect();
    let header: Vec<&str> = header.iter().map(String::as_str).collect();
    page.table(&header, &rows, &[]);
    page.finish()
}

/// Whether what is followed goes another way back.
fn is_other_way(curve: &Curve, net: usize) -> bool {
    let Some(falling) = &curve.falling else { return false };
    let both = curve.rising.volts.iter().zip(&falling.volts);
    both.into_iter().any(|(up, down)| match (up, down) {
        (Some(up), Some(down)) => (up[net] - down[net]).abs() > 1e-3 * (1.0 + up[net].abs()),
        (None, None) => false,
        _ => true,
    })
}

/// The ends and the middle of the range, under the plot.
fn axis(curve: &Curve, swept: &Swept, circuit: &Circuit, margin: usize, width: usize) -> String {
    let unit = swept.unit(circuit);
    let (first, last) = (curve.places[0], curve.places[curve.places.len() - 1]);
    let middle = if curve.is_log { (first * last).sqrt() } else { 0.5 * (first + last) };
    let [first, middle, last] = [first, middle, last].map(|place| print(place, unit, 3));
    let room = width.saturating_sub(margin + 1);
    let gap = |taken: usize| room.saturating_sub(taken) / 2;
    let count = |text: &str| text.chars().count();
    let before = gap(count(&middle)).saturating_sub(count(&first));
    let so_far = count(&first) + before + count(&middle);
    let after = room.saturating_sub(so_far + count(&last));
    format!(
        "{}{first}{}{middle}{}{last}",
        " ".repeat(margin + 1),
        " ".repeat(before),
        " ".repeat(after)
    )
}

/// A curve as comma-separated values: one row per place, numbers in SI units.
pub fn curve_csv(circuit: &Circuit, swept: &Swept, curve: &Curve) -> String {
    let mut header = vec![csv_field(&format!(
        "{} in {}",
        swept_words(circuit, swept),
        swept.unit(circuit).name()
    ))];
    let runs: Vec<(&str, &Run)> = std::iter::once(("", &curve.rising))
        .chain(curve.falling.as_ref().map(|run| (" falling", run)))
        .collect();
    for (word, _) in &runs {
        header.extend(
            curve
                .watched
                .iter()
                .map(|net| csv_field(&format!("{}{word} in volts", name_of(circuit, *net)))),
        );
    }
    let mut text = header.join(",") + "\n";
    for (at, place) in curve.places.iter().enumerate() {
        let mut row = vec![format!("{place}")];
        for (_, run) in &runs {
            for net in 0..curve.watched.len() {
                // Seven digits are more than a board holds.
                let volts = run.volts[at].as_ref().map(|volts| format!("{:.6}", volts[net]));
                row.push(volts.unwrap_or_default());
            }
        }
        text += &(row.join(",") + "\n");
    }
    text
}

/// A curve as JSON.
pub fn curve_json(circuit: &Circuit, swept: &Swept, curve: &Curve) -> Value {
    let run = |run: &Run| {
        let nets: serde_json::Map<String, Value> = curve
            .watched
            .iter()
            .enumerate()
            .map(|(at, net)| {
                let volts: Vec<Value> = run
                    .volts
                    .iter()
                    .map(|volts| volts.as_ref().map_or(Value::Null, |volts| number(volts[at])))
                    .collect();
                (name_of(circuit, *net), Value::Array(volts))
            })
            .collect();
        let turns: Vec<Value> = run
            .turns
            .iter()
            .map(|turn| {
                json!({
                    "part": circuit[turn.part].name,
                    "at": number(turn.at),
                    "from": turn.from,
                    "to": turn.to,
                })
            })
            .collect();
        json!({ "nets": nets, "turns": turns })
    };
    let levels: Vec<Value> = curve
        .levels
        .iter()
        .map(|level| {
            json!({
                "net": circuit.net_name(level.net),
                "volts": number(level.volts),
                "what": level_words(circuit, level),
            })
        })
        .collect();
    json!({
        "version": VERSION,
        "swept": swept_words(circuit, swept),
        "unit": swept.unit(circuit).symbol(),
        "places": curve.places,
        "log": curve.is_log,
        "rising": run(&curve.rising),
        "falling": curve.falling.as_ref().map(run),
        "levels": levels,
    })
}

/// A title for a curve: what is watched over what, from where to where.
pub fn curve_title(circuit: &Circuit, swept: &Swept, curve: &Curve) -> String {
    let unit = swept.unit(circuit);
    let nets: Vec<String> = curve.watched.iter().map(|net| name_of(circuit, *net)).collect();
    let (first, last) = (curve.places[0], curve.places[curve.places.len() - 1]);
    format!(
        "{} over {} from {} to {}",
        nets.join(", "),
        swept_words(circuit, swept),
        print_short(first, unit),
        print_short(last, unit)
    )
}
