//! A figure laid onto the rows of a panel: its wires, symbols, joints and words.

use super::fault_marks::Bypass;
use super::figure::{Figure, Form, Ink, Run};
use super::item::{Anchor, At, GROUND_HALF, Item, Look, below, on};
use super::symbol::{HALF, Symbol};
use super::text::width;
use crate::circuit::NetId;

/// Pixels from a line to the symbol below it.
pub(super) const LEAD: f64 = 10.0;
/// The height of a line of words.
const WORDS: f64 = 12.5;
/// Pixels from a symbol to its words.
const BESIDE: f64 = 5.0;

/// Where the other columns of a net are, seen from one column.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Side {
    Left,
    Right,
    Both,
    Nowhere,
}

/// The rows of a panel: a net has one, or it is ground and drawn as a symbol at every pin.
pub(super) struct Rows<'a> {
    /// The nets from top to bottom.
    pub(super) nets: &'a [NetId],
}

impl Rows<'_> {
    /// The row of a net; `None` for ground that is drawn as a symbol.
    pub(super) fn of(&self, net: NetId) -> Option<usize> {
        self.nets.iter().position(|own| *own == net)
    }
}

/// Lays a figure onto rows; `side` tells where the other columns of a net are.
pub(super) fn column(figure: &Figure, rows: &Rows<'_>, side: &dyn Fn(NetId) -> Side) -> Vec<Item> {
    match &figure.form {
        Form::Runs(runs) => symbols(figure, runs, rows, side),
        Form::Chip => super::chip::chip(figure, rows, side),
    }
}

/// A run on its rows.
struct Upright<'a> {
    run: &'a Run,
    /// The row that it hangs on.
    top: usize,
    /// The row that it ends on; `None` for a symbol of ground.
    bottom: Option<usize>,
    /// Whether the pin that the symbol has below is on top.
    is_flipped: bool,
}

impl Upright<'_> {
    fn new<'a>(run: &'a Run, figure: &Figure, rows: &Rows<'_>) -> Upright<'a> {
        let [first, second] = run.ends.map(|pin| rows.of(figure.nets[pin]));
        let (top, bottom, is_flipped) = match (first, second) {
            (Some(first), Some(second)) if second < first => (second, Some(first), true),
            (None, Some(second)) => (second, None, true),
            // A panel in which both ends of a part are on ground has a row for it.
            (first, second) => (first.unwrap_or(0), second, false),
        };
        Upright { run, top, bottom, is_flipped }
    }

    /// Whether both ends are on one net.
    fn is_loop(&self) -> bool {
        self.bottom == Some(self.top)
    }

    /// The pins on top and below.
    fn pins(&self) -> [usize; 2] {
        let [first, second] = self.run.ends;
        if self.is_flipped { [second, first] } else { [first, second] }
    }
}

fn symbols(
    figure: &Figure,
    runs: &[Run],
    rows: &Rows<'_>,
    side: &dyn Fn(NetId) -> Side,
) -> Vec<Item> {
    let uprights: Vec<Upright<'_>> =
        runs.iter().map(|run| Upright::new(run, figure, rows)).collect();
    // Where their heights allow it, pieces that move together stand side by side.
    let lowest = uprights.iter().map(|one| one.top).max().unwrap_or(0);
    let fits = |one: &Upright<'_>| {
        one.top == lowest || (!one.is_loop() && one.bottom.is_none_or(|bottom| bottom > lowest))
    };
    let is_level = uprights.iter().all(fits);
    let mut items = Vec::new();
    let mut middle = 0.0;
    let mut before: Option<(f64, f64)> = None;
    for (at, one) in uprights.iter().enumerate() {
        let (left, right) = one.run.symbol.strokes().reach;
        if let Some((from, end)) = before {
            middle = end + left + if is_level { 16.0 } else { 24.0 };
            if is_level {
                let height = below(lowest, LEAD + HALF);
                let to = if one.run.symbol.is_moved() { middle - 3.0 } else { middle - left };
                // Light couples a lamp to a transistor: its arrows show that already.
                if one.run.symbol != Symbol::PhotoTransistor {
                    items.push(Item::Linked { from, to, at: height });
                }
            }
        }
        let band = if is_level { lowest } else { one.top };
        let words = match (at, runs.len()) {
            (0, 1) => Words::Right,
            (0, _) => Words::Left,
            _ if is_level => Words::None,
            _ => Words::Again,
        };
        upright(figure, one, band, middle, words, (rows, side), &mut items);
        let linked = if one.run.symbol.is_moved() { middle + 6.0 } else { middle + right };
        let name = match words {
            Words::Again => BESIDE + width(&figure.name, Look::Name.size()),
            _ => 0.0,
        };
        before = Some((linked, middle + right + name));
    }
    items
}

/// Which words stand beside a symbol.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Words {
    /// All of them, at the right.
    Right,
    /// All of them, at the left.
    Left,
    /// The name alone, at the right.
    Again,
    /// None.
    None,
}

fn upright(
    figure: &Figure,
    one: &Upright<'_>,
    band: usize,
    dx: f64,
    words: Words,
    (rows, side): (&Rows<'_>, &dyn Fn(NetId) -> Side),
    items: &mut Vec<Item>,
) {
    let symbol = one.run.symbol;
    let (mut left, mut right) = symbol.strokes().reach;
    let middle = below(band, LEAD + HALF);
    let (above, under) = (below(band, LEAD), below(band, LEAD + 2.0 * HALF));
    let [upper, lower] = one.pins();
    let mut mirrored = false;
    let mut words = words;
    if let Some(pin) = one.run.side {
        mirrored = side(figure.nets[pin]) == Side::Right;
        let drop = if one.is_flipped { -symbol.side_drop() } else { symbol.side_drop() };
        let at = below(band, LEAD + HALF + drop);
        let row = rows.of(figure.nets[pin]);
        third(pin, row, dx, (left, mirrored), at, items);
        if figure.marks.joints.contains(&pin) {
            let beside = if mirrored { dx + left + 3.5 } else { dx - left - 3.5 };
            items.push(Item::BreakAcross { dx: beside, at });
        }
        if mirrored {
            (left, right) = (right, left);
            words = if words == Words::Right { Words::Left } else { words };
        }
    }
    items.push(Item::Wire { dx, from: on(one.top), to: above });
    items.push(joint(dx, one.top, upper));
    items.push(Item::Symbol { symbol, dx, at: middle, flipped: one.is_flipped, mirrored });
    let low = below(band, LEAD + 2.0 * HALF + 3.0);
    match one.bottom {
        // Both ends on one net: the lower lead goes back up beside it.
        Some(bottom) if bottom == one.top => {
            let back = if mirrored { dx + right + 7.0 } else { dx - left - 7.0 };
            items.push(Item::Wire { dx, from: under, to: low });
            items.push(Item::Stub { from: dx, to: back, at: low });
            items.push(Item::Wire { dx: back, from: low, to: on(bottom) });
            items.push(joint(back, bottom, lower));
        }
        Some(bottom) => {
            items.push(Item::Wire { dx, from: under, to: on(bottom) });
            items.push(joint(dx, bottom, lower));
        }
        None => {
            items.push(Item::Wire { dx, from: under, to: low });
            items.push(Item::Ground { dx, at: low, pins: vec![lower] });
        }
    }
    let marks = &figure.marks;
    if marks.is_open || marks.joints.contains(&upper) {
        items.push(Item::Break { dx, at: below(band, LEAD - 3.0) });
    }
    if marks.joints.contains(&lower) {
        items.push(Item::Break { dx, at: below(band, LEAD + 2.0 * HALF + 1.0) });
    }
    if marks.is_open || [upper, lower].iter().any(|pin| marks.joints.contains(pin)) {
        // Words stay away from the strokes of a break.
        (left, right) = (left.max(8.0), right.max(8.0));
    }
    if one.bottom.is_none() && figure.lines.len() > 2 {
        // More than two lines reach down beside the symbol of ground.
        (left, right) = (left.max(GROUND_HALF - 3.0), right.max(GROUND_HALF - 3.0));
    }
    if let Some(bypass) = marks.bypass {
        let to = if words == Words::Left { dx - left - 8.0 } else { dx + right + 8.0 };
        let is_leak = bypass == Bypass::Leak;
        let (top, bottom) = (below(band, LEAD + 1.0), below(band, LEAD + 2.0 * HALF - 1.0));
        items.push(Item::Bypass { from: dx, to, top, bottom, is_leak });
        (left, right) =
            if words == Words::Left { (left + 14.0, right) } else { (left, right + 14.0) };
    }
    let count = match words {
        Words::None => 0,
        Words::Again => 1,
        _ => figure.lines.len(),
    };
    let (at, anchor) = match words {
        Words::Left => (dx - left - BESIDE, Anchor::End),
        _ => (dx + right + BESIDE, Anchor::Start),
    };
    // Two lines stand level with the symbol; more of them grow downwards.
    let mut height = LEAD + WORDS - 1.0;
    for line in &figure.lines[..count] {
        items.push(words_item(line.ink, &line.text, at, below(band, height), anchor));
        height += WORDS;
    }
}

/// The third lead of a symbol, from its side to a row or to a symbol of ground.
fn third(
    pin: usize,
    row: Option<usize>,
    dx: f64,
    (left, mirrored): (f64, bool),
    at: At,
    items: &mut Vec<Item>,
) {
    let way = if mirrored { 1.0 } else { -1.0 };
    let (from, to) = (dx + way * left, dx + way * (left + 8.0));
    items.push(Item::Stub { from, to, at });
    match row {
        Some(row) => {
            items.push(Item::Wire { dx: to, from: at, to: on(row) });
            items.push(joint(to, row, pin));
        }
        None => {
            let low = below(at.row, LEAD + 2.0 * HALF + 3.0);
            items.push(Item::Wire { dx: to, from: at, to: low });
            items.push(Item::Ground { dx: to, at: low, pins: vec![pin] });
        }
    }
}

fn joint(dx: f64, row: usize, pin: usize) -> Item {
    Item::Joint { dx, row, pins: vec![pin], is_ring: false }
}

/// A line of words of a figure.
pub(super) fn words_item(ink: Ink, text: &str, dx: f64, at: At, anchor: Anchor) -> Item {
    let look = match ink {
        Ink::Name => Look::Name,
        Ink::Value => Look::Value,
        Ink::Struck => Look::Struck,
        Ink::Fault => Look::Fault,
    };
    Item::Text { dx, at, anchor, look, text: text.to_owned() }
}
