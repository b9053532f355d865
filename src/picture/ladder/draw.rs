//! A laid out panel as SVG.

use std::fmt::Write;

use super::figure::{Figure, Who};
use super::item::{Anchor, At, GROUND_HALF, Item, Look};
use super::place::{Placed, base_lines};
use super::style::{NAME, PIN, SMALL};

use super::text::{escaped, width};
use super::values::{Held, Stand, Values};
use super::words::part_words;
use crate::circuit::{Circuit, NetId};

/// Where the values stand at the right, from the left edge of the picture.
#[derive(Debug, Clone, Copy)]
pub(super) struct Columns {
    pub(super) healthy: f64,
    pub(super) measured: f64,
    pub(super) faulted: f64,
}

/// What every panel is drawn with.
pub(super) struct Pen<'a> {
    pub(super) circuit: &'a Circuit,
    pub(super) figures: &'a [Figure],
    pub(super) values: &'a [Values],
    pub(super) columns: Columns,
    pub(super) has_links: bool,
}

/// The radius of a joint.
const JOINT: f64 = 2.7;
/// The radius of the arc by which a wire passes over a line.
const HOP: f64 = 4.5;
/// Room for the mark before a value.
pub(super) const MARK: f64 = 14.0;

/// A number with no more decimals than a picture needs.
pub(super) fn number(value: f64) -> String {
    let text = format!("{value:.2}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text == "-0" { "0".to_owned() } else { text.to_owned() }
}

/// A text element.
pub(super) fn text(x: f64, y: f64, class: &str, size: f64, anchor: Anchor, words: &str) -> String {
    let anchor = match anchor {
        Anchor::Start => "",
        Anchor::Middle => " text-anchor=\"middle\"",
        Anchor::End => " text-anchor=\"end\"",
    };
    format!(
        "<text class=\"{class}\" x=\"{}\" y=\"{}\" font-size=\"{}\"{anchor}>{}</text>",
        number(x),
        number(y),
        number(size),
        escaped(words)
    )
}

/// Where a panel is in the picture, and how to get from its places to pixels.
struct Frame<'a> {
    placed: &'a Placed,
    left: f64,
    top: f64,
}

impl Frame<'_> {
    fn x(&self, place: usize, dx: f64) -> f64 {
        self.left + self.placed.xs[place] + dx
    }

    fn y(&self, at: At) -> f64 {
        self.top + self.placed.ys.get(at.row).copied().unwrap_or(0.0) + at.dy
    }

    fn line_y(&self, row: usize) -> f64 {
        self.top + self.placed.ys[row]
    }

    fn line(&self, row: usize) -> (f64, f64) {
        let (from, to) = self.placed.lines[row];
        (self.left + from, self.left + to)
    }
}

/// A stretch of a line.
type Stretch = (f64, f64);

/// The line of a row cut where boxes stand: the stretches in the open, those that run through a box
/// whose own net it is, and those behind a box.
fn stretches(frame: &Frame<'_>, row: usize) -> (Vec<Stretch>, Vec<Stretch>, Vec<Stretch>) {
    let (mut at, end) = frame.line(row);
    let y = frame.line_y(row);
    let (mut open, mut through, mut behind) = (Vec::new(), Vec::new(), Vec::new());
    for (place, items) in frame.placed.items.iter().enumerate() {
        let Some(Item::Box { left, right, top, bottom }) = items.first() else { continue };
        let (left, right) = (frame.x(place, *left), frame.x(place, *right));
        if y <= frame.y(*top) || y >= frame.y(*bottom) || right <= at || left >= end {
            continue;
        }
        let is_own =
            items.iter().any(|item| matches!(item, Item::Joint { row: own, .. } if *own == row));
        if left > at {
            open.push((at, left));
        }
        // A line that ends at the edge of its own box does not enter it.
        if left >= at && right <= end {
            if is_own { through.push((left, right)) } else { behind.push((left, right)) }
        }
        at = right;
    }
    if at < end {
        open.push((at, end));
    }
    (open, through, behind)
}

fn path(class: &str, stretches: &[Stretch], y: f64) -> String {
    if stretches.is_empty() {
        return String::new();
    }
    let data: Vec<String> = stretches
        .iter()
        .map(|(from, to)| format!("M {} {y} L {} {y}", number(*from), number(*to), y = number(y)))
        .collect();
    format!("<path class=\"{class}\" d=\"{}\"/>", data.join(" "))
}

/// Draws a panel with its left upper corner at a place.
pub(super) fn panel(pen: &Pen<'_>, placed: &Placed, left: f64, top: f64, out: &mut String) {
    let frame = Frame { placed, left, top };
    let mut above = String::new();
    for (row, net) in placed.rows.iter().enumerate() {
        let own = &pen.values[net.index()];
        let y = frame.line_y(row);
        let (_, end) = frame.line(row);
        let (open, through, behind) = stretches(&frame, row);
        let class = if own.is_off() { "ladder-line ladder-line-off" } else { "ladder-line" };
        let _ = write!(
            out,
            "<g class=\"ladder-net\" data-net=\"{}\">",
            escaped(pen.circuit.net_name(*net))
        );
        out.push_str(&path("ladder-guide", &[(end + 4.0, pen.columns.healthy - 6.0)], y));
        out.push_str(&path(class, &open, y));
        name(pen, &frame, row, *net, out);
        values(pen, own, y, out);
        out.push_str("</g>");
        above.push_str(&path(class, &through, y));
        above.push_str(&path("ladder-behind", &behind, y));
    }
    for (place, one) in placed.columns.iter().enumerate() {
        part(pen, &frame, place, &pen.figures[*one], out);
    }
    if !above.is_empty() {
        let _ = write!(out, "<g class=\"ladder-through\">{above}</g>");
    }
}

fn name(pen: &Pen<'_>, frame: &Frame<'_>, row: usize, net: NetId, out: &mut String) {
    let named = &frame.placed.names[row];
    let (x, y) = (frame.left + named.x, frame.line_y(row));
    if pen.has_links {
        let target = anchor_of(pen.circuit.net_name(net));
        let _ = write!(out, "<a href=\"#net-{target}\">");
    }
    // A name that had to be cut is whole in the tip.
    let whole = pen.circuit.net_name(net);
    let is_cut = named.lines.last().is_some_and(|line| line.ends_with('…'));
    for (line, dy) in named.lines.iter().zip(base_lines(named.lines.len())) {
        let mut element = text(x, y + dy, "ladder-name", NAME, Anchor::Start, line);
        if is_cut {
            let tip = format!("<title>{}</title></text>", escaped(whole));
            element = element.replace("</text>", &tip);
        }
        out.push_str(&element);
    }
    if pen.has_links {
        out.push_str("</a>");
    }
    if !named.also.is_empty() {
        let last = named.lines.last().map_or(0.0, |line| width(line, NAME));
        let dy = base_lines(1).next().unwrap_or(0.0);
        let class = "ladder-note ladder-quiet";
        out.push_str(&text(x + last + 6.0, y + dy, class, PIN, Anchor::Start, &named.also));
    }
}

/// The name of a net in an address: what is no plain letter or digit is written as its bytes.
fn anchor_of(name: &str) -> String {
    name.bytes().fold(String::new(), |mut out, byte| {
        if byte.is_ascii_alphanumeric() || matches!(byte, b'_' | b'-' | b'.' | b'~') {
            out.push(char::from(byte));
        } else {
            let _ = write!(out, "%{byte:02X}");
        }
        out
    })
}

fn values(pen: &Pen<'_>, own: &Values, y: f64, out: &mut String) {
    let base = y + 4.0;
    let class = "ladder-value";
    out.push_str(&text(pen.columns.healthy, base, class, NAME, Anchor::Start, &own.healthy));
    if let Some(held) = &own.measured {
        held_value(held, pen.columns.measured, y, out);
    }
    match &own.faulted {
        // What stays as it was is said quietly: the eye is led to what changes.
        Some(Held { stand: Stand::Agrees, text: words }) => {
            let x = pen.columns.faulted + MARK;
            let class = "ladder-value ladder-quiet";
            out.push_str(&text(x, base, class, NAME, Anchor::Start, words));
        }
        Some(held) => held_value(held, pen.columns.faulted, y, out),
        None => {}
    }
}

/// The text of a value with its word.
pub(super) fn held_text(held: &Held) -> String {
    match held.stand {
        Stand::Unknown => held.text.clone(),
        stand => format!("{} {}", held.text, stand.word()),
    }
}

fn held_value(held: &Held, x: f64, y: f64, out: &mut String) {
    let class = match held.stand {
        Stand::Agrees => "ladder-agrees",
        Stand::High | Stand::Low => "ladder-off",
        Stand::Unknown => "ladder-value",
    };
    let spot = |dx: f64, dy: f64| format!("{} {}", number(x + dx), number(y + dy));
    match held.stand {
        Stand::Agrees => {
            let _ = write!(
                out,
                "<path class=\"ladder-mark-agrees\" d=\"M {} L {} L {}\"/>",
                spot(0.0, 0.0),
                spot(3.5, 4.0),
                spot(9.5, -4.5)
            );
        }
        Stand::High | Stand::Low => {
            let tip = if held.stand == Stand::High { -5.0 } else { 5.0 };
            let _ = write!(
                out,
                "<path class=\"ladder-mark-off\" d=\"M {} L {} L {} Z\"/>",
                spot(0.0, -tip * 0.9),
                spot(10.0, -tip * 0.9),
                spot(5.0, tip)
            );
        }
        Stand::Unknown => {}
    }
    out.push_str(&text(x + MARK, y + 4.0, class, NAME, Anchor::Start, &held_text(held)));
}

fn part(pen: &Pen<'_>, frame: &Frame<'_>, place: usize, figure: &Figure, out: &mut String) {
    let mut class =
        String::from(if figure.who == Who::Path { "ladder-path" } else { "ladder-part" });
    if figure.marks.any() {
        class.push_str(" ladder-struck-part");
    }
    if figure.is_absent {
        class.push_str(" ladder-absent");
    }
    let name = match figure.who {
        Who::Part(_) => format!(" data-part=\"{}\"", escaped(&figure.name)),
        Who::Path => format!(" data-fault=\"{}\"", escaped(&figure.name)),
    };
    let words = match figure.who {
        Who::Part(id) => part_words(pen.circuit, &pen.circuit[id]),
        Who::Path => figure.name.clone(),
    };
    let _ = write!(out, "<g class=\"{class}\"{name}><title>{}</title>", escaped(&words));
    for item in &frame.placed.items[place] {
        draw(frame, place, item, out);
    }
    out.push_str("</g>");
}

fn draw(frame: &Frame<'_>, place: usize, item: &Item, out: &mut String) {
    let x = |dx: f64| number(frame.x(place, dx));
    let y = |at: At| number(frame.y(at));
    let _ = match item {
        Item::Wire { dx, from, to } => {
            let data = wire(frame, frame.x(place, *dx), frame.y(*from), frame.y(*to));
            write!(out, "<path class=\"ladder-wire\" d=\"{data}\"/>")
        }
        Item::Stub { from, to, at } => write!(
            out,
            "<path class=\"ladder-wire\" d=\"M {} {y} L {} {y}\"/>",
            x(*from),
            x(*to),
            y = y(*at)
        ),
        Item::Linked { from, to, at } => write!(
            out,
            "<path class=\"ladder-linked\" d=\"M {} {y} L {} {y}\"/>",
            x(*from),
            x(*to),
            y = y(*at)
        ),
        Item::Symbol { symbol, dx, at, flipped, mirrored } => {
            let strokes = symbol.strokes();
            let turn = match (*flipped, *mirrored) {
                (false, false) => "",
                (true, false) => " scale(1 -1)",
                (false, true) => " scale(-1 1)",
                (true, true) => " scale(-1 -1)",
            };
            let mut body = String::new();
            if strokes.circle > 0.0 {
                let _ = write!(body, "<circle r=\"{}\"/>", number(strokes.circle));
            }
            let _ = write!(body, "<path d=\"{}\"/>", strokes.outline);
            if !strokes.filled.is_empty() {
                let _ = write!(body, "<path class=\"ladder-filled\" d=\"{}\"/>", strokes.filled);
            }
            write!(
                out,
                "<g class=\"ladder-symbol\" transform=\"translate({} {}){turn}\">{body}</g>",
                x(*dx),
                y(*at)
            )
        }
        Item::Ground { dx, at, pins } => {
            write!(out, "{}", ground(frame.x(place, *dx), frame.y(*at), pins))
        }
        Item::Joint { dx, row, pins, is_ring } => {
            let class = if *is_ring { "ladder-ring" } else { "ladder-joint" };
            let radius = if *is_ring { JOINT + 0.8 } else { JOINT };
            write!(
                out,
                "<circle class=\"{class}\" data-pins=\"{}\" cx=\"{}\" cy=\"{}\" r=\"{}\"/>",
                listed(pins),
                x(*dx),
                number(frame.line_y(*row)),
                number(radius)
            )
        }
        Item::Box { left, right, top, bottom } => write!(
            out,
            "<rect class=\"ladder-box\" x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\" rx=\"3\"/>",
            x(*left),
            y(*top),
            number(right - left),
            number(frame.y(*bottom) - frame.y(*top))
        ),
        Item::Text { dx, at, anchor, look, text: words } => {
            let class = match look {
                Look::Name => "ladder-name",
                Look::Value => "ladder-value ladder-quiet",
                Look::Struck => "ladder-struck",
                Look::Fault => "ladder-fault-words",
                Look::Pin => "ladder-pin",
            };
            let (x, y) = (frame.x(place, *dx), frame.y(*at));
            write!(out, "{}", text(x, y, class, look.size(), *anchor, words))
        }
        Item::Break { dx, at } => {
            let (x, y) = (frame.x(place, *dx), frame.y(*at));
            write!(out, "{}", broken(x, y, [(-6.0, 2.0), (6.0, -2.0)], (0.0, 3.0)))
        }
        Item::BreakAcross { dx, at } => {
            let (x, y) = (frame.x(place, *dx), frame.y(*at));
            write!(out, "{}", broken(x, y, [(-2.0, 6.0), (2.0, -6.0)], (3.0, 0.0)))
        }
        Item::Bypass { from, to, top, bottom, is_leak } => {
            let (inner, outer) = (frame.x(place, *from), frame.x(place, *to));
            let (top, bottom) = (frame.y(*top), frame.y(*bottom));
            write!(out, "{}", bypass(inner, outer, top, bottom, *is_leak))
        }
    };
}

/// An upright wire that passes over the lines between its ends by arcs.
fn wire(frame: &Frame<'_>, x: f64, from: f64, to: f64) -> String {
    let (top, bottom) = (from.min(to), from.max(to));
    let at = number(x);
    let mut data = format!("M {at} {}", number(top));
    for row in 0..frame.placed.rows.len() {
        let y = frame.line_y(row);
        let (left, right) = frame.line(row);
        if y > top + 0.5 && y < bottom - 0.5 && x > left - HOP && x < right + HOP {
            let (above, below) = (number(y - HOP), number(y + HOP));
            let _ = write!(data, " L {at} {above} A {HOP} {HOP} 0 0 1 {at} {below}");
        }
    }
    let _ = write!(data, " L {at} {}", number(bottom));
    data
}

/// The symbol of ground (IEC 60617, from memory: earth, three strokes that get shorter).
pub(super) fn ground(x: f64, y: f64, pins: &[usize]) -> String {
    let stroke = |half: f64, down: f64| {
        let y = number(y + down);
        format!("M {} {y} L {} {y}", number(x - half), number(x + half))
    };
    format!(
        "<path class=\"ladder-wire ladder-ground\" data-pins=\"{}\" d=\"M {x} {} L {x} {} {} {} {}\"/>",
        listed(pins),
        number(y),
        number(y + 4.0),
        stroke(GROUND_HALF - 1.0, 4.0),
        stroke(4.5, 7.5),
        stroke(1.8, 11.0),
        x = number(x),
    )
}

/// The numbers of pins, counted from 1.
fn listed(pins: &[usize]) -> String {
    let words: Vec<String> = pins.iter().map(|pin| (pin + 1).to_string()).collect();
    words.join(" ")
}

/// Two strokes across a wire, and the gap between them.
fn broken(x: f64, y: f64, ends: [(f64, f64); 2], apart: (f64, f64)) -> String {
    let half = (apart.0 + 1.0).max(2.0) / 2.0;
    let tall = (apart.1 + 1.0).max(2.0) / 2.0;
    let mut out = format!(
        "<rect class=\"ladder-paper\" x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\"/>",
        number(x - half),
        number(y - tall),
        number(2.0 * half),
        number(2.0 * tall)
    );
    let mut data = Vec::new();
    for sign in [-0.5, 0.5] {
        let [(ax, ay), (bx, by)] =
            ends.map(|(dx, dy)| (x + dx + sign * apart.0, y + dy + sign * apart.1));
        data.push(format!("M {} {} L {} {}", number(ax), number(ay), number(bx), number(by)));
    }
    let _ = write!(out, "<path class=\"ladder-broken\" d=\"{}\"/>", data.join(" "));
    out
}

/// A path around a symbol: a wire, or one with a resistance in it.
fn bypass(inner: f64, outer: f64, top: f64, bottom: f64, is_leak: bool) -> String {
    let (a, b) = (number(inner), number(outer));
    let (t, u) = (number(top), number(bottom));
    let data = if is_leak {
        let (from, to) = (number(top + 6.0), number(bottom - 6.0));
        let (left, right) = (number(outer - 3.5), number(outer + 3.5));
        format!(
            "M {a} {t} L {b} {t} L {b} {from} M {left} {from} L {right} {from} L {right} {to} \
             L {left} {to} Z M {b} {to} L {b} {u} L {a} {u}"
        )
    } else {
        format!("M {a} {t} L {b} {t} L {b} {u} L {a} {u}")
    };
    format!("<path class=\"ladder-broken\" d=\"{data}\"/>")
}

/// The symbol and the name of ground, for panels that draw it at every pin.
pub(super) fn ground_legend(circuit: &Circuit, x: f64, y: f64) -> String {
    let name = circuit.net_name(NetId::GROUND);
    let mut out = format!("<g class=\"ladder-net\" data-net=\"{}\">", escaped(name));
    out.push_str(&ground(x + GROUND_HALF, y, &[]).replace(" data-pins=\"\"", ""));
    let words = super::text::wrapped(name, NAME, 300.0, 1).concat();
    out.push_str(&text(x + 24.0, y + 10.0, "ladder-name", NAME, Anchor::Start, &words));
    let beside = x + 24.0 + width(&words, NAME) + 8.0;
    out.push_str(&text(
        beside,
        y + 10.0,
        "ladder-value ladder-quiet",
        SMALL,
        Anchor::Start,
        "0 V, at every such symbol",
    ));
    out.push_str("</g>");
    out
}
