//! The whole picture: title, panels below each other, notes.

use std::fmt::Write;

use super::Ladder;
use super::arrange::Arranged;
use super::draw::{Columns, MARK, Pen, ground_legend, held_text, number, panel, text};
use super::fault_marks::{Shown, path_figure, shown};
use super::figure::{Figure, figures};
use super::item::{Anchor, GROUND_HEIGHT};
use super::levels::{healthy, levels};
use super::panel::{arranged, chains, cut};
use super::place::{Placed, place, width_alone};
use super::style::{CLASS, NAME, SMALL, TITLE, sheet as style_sheet};
use super::text::{escaped, width, wrapped};
use super::values::{Held, Values, net_of, values};
use super::words::description;
use crate::circuit::NetId;

/// Room around everything.
const MARGIN: f64 = 16.0;
/// Room between the ladder and its values.
const BESIDE: f64 = 18.0;
/// Room between columns of values.
const BETWEEN: f64 = 18.0;
/// The height of a line of notes.
const NOTE: f64 = 15.0;
/// Room between panels.
const APART: f64 = 20.0;
/// How much further the estimated widths of figures reach than their columns do, at most.
const PACKED: f64 = 1.15;
/// By how much a panel is made narrower when it did not fit.
const NARROWER: f64 = 0.96;

/// How much wider than asked for a picture may be that is one panel then.
const WHOLE: f64 = 1.12;

const HEALTHY: &str = "healthy";
const MEASURED: &str = "measured";
const FAULTED: &str = "with the fault";

/// The picture as sheets that are no higher than `most`, cut between panels; a panel that is higher
/// stands alone.
pub(super) fn sheets(ladder: &Ladder<'_>, most: f64) -> Vec<String> {
    let circuit = ladder.circuit;
    let laid = shown(circuit, &ladder.faults);
    let mut all = figures(circuit, &laid.marks);
    all.extend(laid.paths.iter().map(path_figure));
    let known = healthy(circuit, ladder.point);
    let heights = levels(circuit, &known);
    let told = values(circuit, &known, &ladder.readings, ladder.setup, ladder.faulted);

    let widths = value_widths(&told);
    let total: f64 = widths.iter().filter(|wide| **wide > 0.0).map(|wide| wide + BETWEEN).sum();
    let room = ladder.width - 2.0 * MARGIN - BESIDE - total;
    let panels = fitted(ladder, &all, &heights, room);

    let wide = panels.iter().map(|one| one.width).fold(0.0, f64::max);
    let mut x = MARGIN + wide + BESIDE;
    let mut next = |wide: f64| {
        let at = x;
        x += if wide > 0.0 { wide + BETWEEN } else { 0.0 };
        at
    };
    let columns =
        Columns { healthy: next(widths[0]), measured: next(widths[1]), faulted: next(widths[2]) };
    let pen = Pen { circuit, figures: &all, values: &told, columns, has_links: ladder.has_links };
    let mut body = String::new();
    let notes = notes(ladder, &laid);
    let titles = wrapped(&ladder.title, TITLE, ladder.width - 2.0 * MARGIN, 3);
    let long = |texts: &[String], size: f64| {
        texts.iter().map(|text| width(text, size)).fold(0.0, f64::max)
    };
    let full =
        (x - BETWEEN + MARGIN).max(long(&titles, TITLE) + 2.0 * MARGIN).max(LEAST_FULL).ceil();
    let mut y = MARGIN;
    if !ladder.title.is_empty() {
        for line in &titles {
            y += TITLE + 3.0;
            body.push_str(&text(MARGIN, y, "ladder-title", TITLE, Anchor::Start, line));
        }
        y += 6.0;
    }
    let faults: Vec<String> = ladder.faults.iter().map(|one| one.full_phrase(circuit)).collect();
    if !faults.is_empty() {
        let words = format!("Fault laid over: {}", faults.join("; "));
        for line in wrapped(&words, NAME, full - 2.0 * MARGIN, 6) {
            y += NOTE;
            body.push_str(&text(MARGIN, y, "ladder-fault-words", NAME, Anchor::Start, &line));
        }
        y += 6.0;
    }
    // Where the body may be cut: its length and the height there.
    let mut cuts: Vec<(usize, f64)> = Vec::new();
    for (at, one) in panels.iter().enumerate() {
        cuts.push((body.len(), y));
        y += heads(&pen, &widths, (at, panels.len()), y, (full, &mut body));
        body.push_str("<g class=\"ladder-panel\">");
        panel(&pen, one, MARGIN, y, &mut body);
        y += one.height;
        if !one.rows.contains(&NetId::GROUND) {
            body.push_str(&ground_legend(circuit, MARGIN, y));
            y += GROUND_HEIGHT + 6.0;
        }
        body.push_str("</g>");
        y += APART;
    }
    y -= 6.0;
    for note in &notes {
        for line in wrapped(note, SMALL, full - 2.0 * MARGIN, 6) {
            y += NOTE;
            let class = "ladder-note ladder-quiet";
            body.push_str(&text(MARGIN, y, class, SMALL, Anchor::Start, &line));
        }
    }
    y += MARGIN;
    let mut order: Vec<NetId> = circuit.nets_by_id().map(|(net, _)| net).collect();
    order.sort_by(|one, other| heights[other.index()].total_cmp(&heights[one.index()]));
    let told = description(circuit, &order, &told, ladder.point.is_some(), &faults);
    let title = if ladder.title.is_empty() { "Voltage ladder" } else { &ladder.title };
    // Links inside an image are not reached by whoever hears the page: then it is a group.
    let role = if ladder.has_links { "group" } else { "img" };
    let cuts = kept_cuts(&cuts, y, most);
    let ends = cuts.iter().skip(1).copied().chain([(body.len(), y)]);
    let parts: Vec<((usize, f64), (usize, f64))> = cuts.iter().copied().zip(ends).collect();
    let count = parts.len();
    let sheet = |(number_of, ((from, top), (to, foot))): (usize, ((usize, f64), (usize, f64)))| {
        let (title, told) = match number_of {
            0 if count == 1 => (title.to_owned(), told.clone()),
            0 => (format!("{title}, 1 of {count}"), told.clone()),
            _ => (
                format!("{title}, {} of {count}", number_of + 1),
                "The same ladder goes on: all of it is told at its first part.".to_owned(),
            ),
        };
        format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" class=\"{CLASS}\" role=\"{role}\" \
             width=\"{wide}\" height=\"{high}\" viewBox=\"0 {top} {wide} {high}\">\n\
             <title>{}</title>\n<desc>{}</desc>\n<style>{}</style>\n{}\n</svg>\n",
            escaped(&title),
            escaped(&told),
            style_sheet(),
            &body[from..to],
            wide = number(full),
            high = number((foot - top).ceil()),
            top = number(top),
        )
    };
    parts.into_iter().enumerate().map(sheet).collect()
}

/// Those of the cuts that are made, the first at the very top.
fn kept_cuts(cuts: &[(usize, f64)], foot: f64, most: f64) -> Vec<(usize, f64)> {
    let mut kept = vec![(0, 0.0)];
    let ends = cuts.iter().skip(1).map(|(_, y)| *y).chain([foot]);
    for (at, (cut, end)) in cuts.iter().zip(ends).enumerate() {
        let top = kept.last().map_or(0.0, |(_, y)| *y);
        if at > 0 && end - top > most {
            kept.push(*cut);
        }
    }
    kept
}

/// The least width of a picture: its notes want to be read.
const LEAST_FULL: f64 = 480.0;

/// The panels, cut so that each fits into `room`.
fn fitted(ladder: &Ladder<'_>, all: &[Figure], levels: &[f64], room: f64) -> Vec<Placed> {
    let chains = chains(ladder.circuit, all);
    let widths: Vec<f64> = all.iter().map(width_alone).collect();
    let mut limit = room * PACKED;
    loop {
        let panels = cut(all, &chains, &widths, limit);
        let found = arranged(all, &panels, levels);
        let placed = placed(ladder, all, &found);
        // A board that is hardly too wide stays whole.
        let most = if placed.len() == 1 { WHOLE * room } else { room };
        let fits = placed.iter().all(|one| one.width <= most || one.columns.len() == 1);
        let is_last = panels.iter().all(|columns| columns.len() == 1);
        if fits || is_last {
            return placed;
        }
        limit *= NARROWER;
    }
}

fn placed(ladder: &Ladder<'_>, all: &[Figure], found: &[Arranged]) -> Vec<Placed> {
    found
        .iter()
        .enumerate()
        .map(|(own, one)| {
            let also = |net: NetId| -> String {
                let others: Vec<String> = found
                    .iter()
                    .enumerate()
                    .filter(|(at, other)| *at != own && other.rows.contains(&net))
                    .map(|(at, _)| (at + 1).to_string())
                    .collect();
                let is_repeated = net != NetId::GROUND && !others.is_empty();
                if is_repeated { format!("also in {}", others.join(", ")) } else { String::new() }
            };
            place(ladder.circuit, all, one, &also)
        })
        .collect()
}

/// The widths of the three columns of values; 0 for one that is not there.
fn value_widths(told: &[Values]) -> [f64; 3] {
    let longest = |of: &dyn Fn(&Values) -> Option<f64>, head: &str| {
        let found: Vec<f64> = told.iter().filter_map(of).collect();
        if found.is_empty() {
            return 0.0;
        }
        found.into_iter().fold(width(head, SMALL), f64::max)
    };
    let held = |held: &Option<Held>| held.as_ref().map(|held| MARK + width(&held_text(held), NAME));
    [
        longest(&|own| Some(width(&own.healthy, NAME)), HEALTHY),
        longest(&|own| held(&own.measured), MEASURED),
        longest(&|own| held(&own.faulted), FAULTED),
    ]
}

/// The heads of a panel; how much height they take.
fn heads(
    pen: &Pen<'_>,
    widths: &[f64; 3],
    (at, count): (usize, usize),
    top: f64,
    (full, body): (f64, &mut String),
) -> f64 {
    let class = "ladder-head ladder-quiet";
    if at > 0 {
        let _ = write!(
            body,
            "<path class=\"ladder-rule\" d=\"M {MARGIN} {y} L {} {y}\"/>",
            number(full - MARGIN),
            y = number(top - APART / 2.0 + 2.0)
        );
    }
    let y = top + 12.0;
    if count > 1 {
        let words = format!("{} of {count}", at + 1);
        body.push_str(&text(MARGIN, y, "ladder-name", SMALL, Anchor::Start, &words));
    }
    let heads = [
        (pen.columns.healthy, widths[0], HEALTHY),
        (pen.columns.measured, widths[1], MEASURED),
        (pen.columns.faulted, widths[2], FAULTED),
    ];
    for (x, _, words) in heads.iter().filter(|(_, wide, _)| *wide > 0.0) {
        body.push_str(&text(*x, y, class, SMALL, Anchor::Start, words));
    }
    16.0
}

/// What is said below the picture.
fn notes(ladder: &Ladder<'_>, laid: &Shown) -> Vec<String> {
    let mut notes = Vec::new();
    notes.push(if ladder.point.is_some() {
        "Lines stand in the order of the healthy volts, the highest on top. A dot is a joint; an arc \
         passes over. Bands are two standard uncertainties of the parts."
            .to_owned()
    } else {
        "The healthy board has no operating point: lines stand in an estimated order. A dot is a \
         joint; an arc passes over."
            .to_owned()
    });
    if !ladder.faults.is_empty() && ladder.faulted.is_none() {
        notes.push("With the fault the board has no operating point.".to_owned());
    }
    let setup = ladder.setup;
    let elsewhere =
        ladder.readings.iter().filter(|(reading, _)| net_of(reading, setup).is_none()).count();
    if elsewhere > 0 {
        let readings = if elsewhere == 1 { "reading is" } else { "readings are" };
        notes.push(format!("{elsewhere} more {readings} not of a net's volts in this setup."));
    }
    for note in &laid.notes {
        notes.push(format!("Nothing on the board: {note}."));
    }
    notes
}
