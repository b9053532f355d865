//! A part with many pins: a box over the lines of its nets, each pin on the side where its net goes.
//!
//! The uppermost net comes in from above, ground leaves below. A net that goes on at both sides runs
//! through the box, with a joint at either edge; a line that only passes behind the box is dashed
//! there and has no joints.

use super::column::{Rows, Side, words_item};
use super::figure::Figure;
use super::item::{Anchor, At, Item, Look, below, on};
use super::style::{PIN, SMALL};
use super::text::width;
use crate::circuit::NetId;

/// Pixels from the line above a box to its edge.
const GAP: f64 = 9.0;
/// The height of a line of words in a box.
const WORDS: f64 = 13.0;
/// Room between an edge and words.
const INSIDE: f64 = 5.0;
/// The least width of a box.
const LEAST: f64 = 46.0;

/// The pins of one net.
struct Group {
    net: NetId,
    row: Option<usize>,
    pins: Vec<usize>,
    words: String,
}

pub(super) fn chip(figure: &Figure, rows: &Rows<'_>, side: &dyn Fn(NetId) -> Side) -> Vec<Item> {
    let groups = groups(figure, rows);
    let in_rows = || groups.iter().filter_map(|group| group.row);
    let (top, low) = (in_rows().min().unwrap_or(0), in_rows().max().unwrap_or(0));
    let grounds: Vec<&Group> = groups.iter().filter(|group| group.row.is_none()).collect();
    let at_row = |row: usize| groups.iter().find(|group| group.row == Some(row));
    // The lowest net may come in from below, where no symbol of ground is in its way.
    let low_side = at_row(low).map_or(Side::Nowhere, |group| side(group.net));
    let is_ground_row = at_row(low).is_some_and(|group| group.net == NetId::GROUND);
    let from_below = low > top && grounds.is_empty() && (is_ground_row || low_side == Side::Both);
    let mut items = Vec::new();

    // Width first: words, and for every row what stands at its two edges.
    let longest =
        |texts: &[&str], size: f64| texts.iter().map(|text| width(text, size)).fold(0.0, f64::max);
    let mut wide = figure
        .lines
        .iter()
        .map(|line| match words_item(line.ink, &line.text, 0.0, on(0), Anchor::Start) {
            Item::Text { look, text, .. } => width(&text, look.size()),
            _ => 0.0,
        })
        .fold(0.0, f64::max);
    let ends: Vec<&str> = groups
        .iter()
        .filter(|group| group.row.is_none_or(|row| row == top || (from_below && row == low)))
        .map(|group| group.words.as_str())
        .collect();
    wide = wide.max(longest(&ends, PIN));
    wide = wide
        .max(groups.iter().map(|group| width(&group.words, SMALL) + INSIDE).fold(0.0, f64::max));
    let half = ((wide + 2.0 * INSIDE) / 2.0).max(LEAST / 2.0).ceil();

    // The words stand below the uppermost pin.
    let mut height = GAP + WORDS - 1.0;
    if let Some(group) = at_row(top) {
        items.push(Item::Wire { dx: 0.0, from: on(top), to: below(top, GAP) });
        items.push(joint(group, 0.0, top, false));
        items.push(pin_words(&group.words, 0.0, below(top, height), Anchor::Middle));
        broken(figure, group, 0.0, below(top, 5.0), false, &mut items);
    }
    height += 3.0;
    for line in &figure.lines {
        height += WORDS;
        items.push(words_item(line.ink, &line.text, 0.0, below(top, height), Anchor::Middle));
    }
    let bottom = match (low == top, from_below, grounds.is_empty()) {
        (true, _, true) => below(top, height + 7.0),
        (true, _, false) => below(top, height + 7.0 + WORDS),
        (false, true, _) => below(low, -GAP),
        (false, false, true) => below(low, 13.0),
        (false, false, false) => below(low, 25.0),
    };
    for group in &groups {
        let Some(row) = group.row.filter(|row| *row != top) else { continue };
        if row == low && from_below {
            items.push(Item::Wire { dx: 0.0, from: bottom, to: on(row) });
            items.push(joint(group, 0.0, row, false));
            items.push(pin_words(&group.words, 0.0, below(low, -GAP - 5.0), Anchor::Middle));
            broken(figure, group, 0.0, below(low, -4.5), false, &mut items);
            continue;
        }
        let is_ring = group.pins.iter().any(|pin| figure.turned.contains(pin));
        let centred = below(row, 3.4);
        match side(group.net) {
            Side::Left => {
                items.push(joint(group, -half, row, is_ring));
                items.push(pin_words(&group.words, INSIDE - half, centred, Anchor::Start));
                broken(figure, group, -half - 8.0, on(row), true, &mut items);
            }
            Side::Right | Side::Nowhere => {
                items.push(joint(group, half, row, is_ring));
                items.push(pin_words(&group.words, half - INSIDE, centred, Anchor::End));
                broken(figure, group, half + 8.0, on(row), true, &mut items);
            }
            Side::Both => {
                items.push(joint(group, -half, row, false));
                items.push(joint(group, half, row, is_ring));
                // The line goes on unbroken: of a broken joint the name of the pin tells.
                let is_broken = group.pins.iter().any(|pin| figure.marks.joints.contains(pin));
                let look = if is_broken { Look::Fault } else { Look::Pin };
                items.push(Item::Text {
                    dx: INSIDE - half,
                    at: below(row, -5.0),
                    anchor: Anchor::Start,
                    look,
                    text: group.words.clone(),
                });
            }
        }
    }
    if let Some(group) = grounds.first() {
        let edge = below(bottom.row, bottom.dy + 4.0);
        items.push(pin_words(
            &group.words,
            0.0,
            below(bottom.row, bottom.dy - 4.5),
            Anchor::Middle,
        ));
        items.push(Item::Wire { dx: 0.0, from: bottom, to: edge });
        items.push(Item::Ground { dx: 0.0, at: edge, pins: group.pins.clone() });
        broken(figure, group, 0.0, below(bottom.row, bottom.dy + 3.0), false, &mut items);
    }
    // The box lies under everything else of the part.
    items.insert(0, Item::Box { left: -half, right: half, top: below(top, GAP), bottom });
    items
}

/// The pins by their nets, in the order of the part.
fn groups(figure: &Figure, rows: &Rows<'_>) -> Vec<Group> {
    let mut groups: Vec<Group> = Vec::new();
    for (pin, net) in figure.nets.iter().enumerate() {
        match groups.iter_mut().find(|group| group.net == *net) {
            Some(group) => {
                group.pins.push(pin);
                group.words = format!("{}, {}", group.words, figure.pins[pin]);
            }
            None => groups.push(Group {
                net: *net,
                row: rows.of(*net),
                pins: vec![pin],
                words: figure.pins[pin].clone(),
            }),
        }
    }
    groups
}

fn pin_words(text: &str, dx: f64, at: At, anchor: Anchor) -> Item {
    Item::Text { dx, at, anchor, look: Look::Pin, text: text.to_owned() }
}

fn joint(group: &Group, dx: f64, row: usize, is_ring: bool) -> Item {
    Item::Joint { dx, row, pins: group.pins.clone(), is_ring }
}

/// The break of a joint that is open or resistive.
fn broken(figure: &Figure, group: &Group, dx: f64, at: At, is_level: bool, items: &mut Vec<Item>) {
    if group.pins.iter().any(|pin| figure.marks.joints.contains(pin)) {
        items.push(match is_level {
            true => Item::BreakAcross { dx, at },
            false => Item::Break { dx, at },
        });
    }
}
