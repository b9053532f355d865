//! What a column consists of, in places that do not yet have pixels: beside the middle of the
//! column, and above or below the line of a net.

use super::style::{NAME, PIN, SMALL};
use super::symbol::{HALF, Symbol};
use super::text::{ASCENT, DESCENT, width};

/// A height: pixels below the line of a row.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct At {
    pub(super) row: usize,
    pub(super) dy: f64,
}

/// The place on a row's line itself.
pub(super) fn on(row: usize) -> At {
    At { row, dy: 0.0 }
}

/// A place below a row's line.
pub(super) fn below(row: usize, dy: f64) -> At {
    At { row, dy }
}

/// On which side of its place a text stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Anchor {
    Start,
    Middle,
    End,
}

/// How a text looks.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Look {
    Name,
    Value,
    Struck,
    Fault,
    Pin,
}

impl Look {
    /// The size of the text, in pixels.
    pub(super) fn size(self) -> f64 {
        match self {
            Look::Name => NAME,
            Look::Value | Look::Struck | Look::Fault => SMALL,
            Look::Pin => PIN,
        }
    }
}

/// A piece of a column; every `dx` counts from its middle.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Item {
    /// An upright wire.
    Wire { dx: f64, from: At, to: At },
    /// A level wire.
    Stub { from: f64, to: f64, at: At },
    /// A symbol, by its middle.
    Symbol { symbol: Symbol, dx: f64, at: At, flipped: bool, mirrored: bool },
    /// The symbol of ground, by its upper end, with the pins that it stands for.
    Ground { dx: f64, at: At, pins: Vec<usize> },
    /// A joint of pins with a row's line, or at the edge of a box; a ring where the signal is turned.
    Joint { dx: f64, row: usize, pins: Vec<usize>, is_ring: bool },
    /// A box.
    Box { left: f64, right: f64, top: At, bottom: At },
    /// A text, by its base line.
    Text { dx: f64, at: At, anchor: Anchor, look: Look, text: String },
    /// A break in an upright wire.
    Break { dx: f64, at: At },
    /// A break in a level wire.
    BreakAcross { dx: f64, at: At },
    /// A path around a symbol, from its upper lead to its lower one.
    Bypass { from: f64, to: f64, top: At, bottom: At, is_leak: bool },
    /// A dashed line between what moves together.
    Linked { from: f64, to: f64, at: At },
}

/// Half the width of the symbol of ground.
pub(super) const GROUND_HALF: f64 = 8.0;
/// Its height.
pub(super) const GROUND_HEIGHT: f64 = 13.0;
/// Half the width of the arc by which a wire passes over a line, with a little room.
const HOP: f64 = 6.0;

impl Item {
    /// How far it reaches: left, right, upper end, lower end.
    pub(super) fn bounds(&self) -> (f64, f64, At, At) {
        let around = |at: At, up: f64, down: f64| {
            (At { row: at.row, dy: at.dy - up }, At { row: at.row, dy: at.dy + down })
        };
        match self {
            Item::Wire { dx, from, to } => {
                let is_down = (from.row, from.dy) <= (to.row, to.dy);
                let (top, bottom) = if is_down { (*from, *to) } else { (*to, *from) };
                (dx - HOP, dx + HOP, top, bottom)
            }
            Item::Stub { from, to, at } | Item::Linked { from, to, at } => {
                (from.min(*to), from.max(*to), *at, *at)
            }
            Item::Symbol { symbol, dx, at, mirrored, .. } => {
                let (left, right) = symbol.strokes().reach;
                let (left, right) = if *mirrored { (right, left) } else { (left, right) };
                let (top, bottom) = around(*at, HALF, HALF);
                (dx - left - 1.0, dx + right + 1.0, top, bottom)
            }
            Item::Ground { dx, at, .. } => {
                let (top, bottom) = around(*at, 0.0, GROUND_HEIGHT);
                (dx - GROUND_HALF, dx + GROUND_HALF, top, bottom)
            }
            Item::Joint { dx, row, .. } => (dx - 4.0, dx + 4.0, on(*row), on(*row)),
            Item::Box { left, right, top, bottom } => (left - 1.0, right + 1.0, *top, *bottom),
            Item::Text { dx, at, anchor, look, text } => {
                let long = width(text, look.size());
                let (top, bottom) = around(*at, ASCENT * look.size(), DESCENT * look.size());
                match anchor {
                    Anchor::Start => (*dx, dx + long, top, bottom),
                    Anchor::Middle => (dx - long / 2.0, dx + long / 2.0, top, bottom),
                    Anchor::End => (dx - long, *dx, top, bottom),
                }
            }
            Item::Break { dx, at } => {
                let (top, bottom) = around(*at, 5.0, 5.0);
                (dx - 7.0, dx + 7.0, top, bottom)
            }
            Item::BreakAcross { dx, at } => {
                // Its strokes reach up to where names stand.
                let (top, bottom) = around(*at, 8.0, 8.0);
                (dx - 5.0, dx + 5.0, top, bottom)
            }
            Item::Bypass { from, to, top, bottom, .. } => {
                let outer = if to > from { 5.0 } else { -5.0 };
                (from.min(to + outer), from.max(to + outer), *top, *bottom)
            }
        }
    }
}

/// The heights in which things stand beside each other: per row the place for the net's name above
/// its line, the line itself, and what hangs below it.
pub(super) fn zones(top: At, bottom: At) -> std::ops::RangeInclusive<usize> {
    let zone = |at: At| {
        3 * at.row
            + match at.dy {
                dy if dy < -LEVEL => 0,
                dy if dy <= LEVEL => 1,
                _ => 2,
            }
    };
    zone(top)..=zone(bottom)
}

/// The zone of the name of a row's net.
pub(super) fn name_zone(row: usize) -> usize {
    3 * row
}

/// The zone of a row's line.
pub(super) fn line_zone(row: usize) -> usize {
    3 * row + 1
}

/// How far from a line things still stand on it, in pixels.
const LEVEL: f64 = 7.0;
