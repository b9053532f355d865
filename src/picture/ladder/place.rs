//! Pixels: where the columns of a panel stand, how far its rows are apart, where names go.
//!
//! Columns are put as close to each other as their pieces allow, height by height. The name of a net
//! stands above its line; at which of the net's columns is a search:
//!
//! ```text
//! cost = width of the panel + 3 px · Σ names (columns from the left end of the line)
//! ```

use super::arrange::Arranged;
use super::column::{Rows, Side, column};
use super::figure::{Figure, Form};
use super::item::{Item, line_zone, name_zone, zones};
use super::style::{NAME, PIN};
use super::text::{width, wrapped};
use crate::circuit::{Circuit, NetId};

/// Pixels between pieces of neighbouring columns.
const GAP: f64 = 6.0;
/// The least distance of two columns.
const PITCH: f64 = 24.0;
/// The least distance of two rows.
const APART: f64 = 28.0;
/// The height of a line of a net's name, and the room below the last one.
const NAME_LINE: f64 = 13.0;
const NAME_FOOT: f64 = 6.5;
/// Names longer than this are broken, in pixels.
const NAME_WIDTH: f64 = 150.0;
/// Lines that a name has at most.
const NAME_LINES: usize = 4;
/// How far a line that ends at its only pin goes on.
const STUMP: f64 = 13.0;
/// What a name costs per column that it stands away from the left end of its line.
const AWAY: f64 = 3.0;

/// The name of a net at its line.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Named {
    pub(super) row: usize,
    pub(super) x: f64,
    pub(super) lines: Vec<String>,
    /// The panels in which the net goes on, in words; empty where it does not.
    pub(super) also: String,
}

/// A panel in pixels; the line of its uppermost row is at `ys[0]`.
#[derive(Debug, Clone)]
pub(super) struct Placed {
    pub(super) columns: Vec<usize>,
    pub(super) rows: Vec<NetId>,
    pub(super) xs: Vec<f64>,
    pub(super) ys: Vec<f64>,
    pub(super) items: Vec<Vec<Item>>,
    /// The ends of the line of each row.
    pub(super) lines: Vec<(f64, f64)>,
    pub(super) names: Vec<Named>,
    pub(super) width: f64,
    pub(super) height: f64,
}

/// What a column takes up: per height from where to where.
type Reach = Vec<Option<(f64, f64)>>;

fn widen(reach: &mut Reach, zone: usize, left: f64, right: f64) {
    if let Some(own) = reach.get_mut(zone) {
        *own = Some(own.map_or((left, right), |(a, b)| (a.min(left), b.max(right))));
    }
}

/// About how much of the width of a panel a figure takes.
pub(super) fn width_alone(figure: &Figure) -> f64 {
    let mut nets = figure.nets.clone();
    nets.sort_unstable();
    nets.dedup();
    let items = column(figure, &Rows { nets: &nets }, &|_| Side::Left);
    let left = items.iter().map(|item| item.bounds().0).fold(0.0, f64::min);
    let right = items.iter().map(|item| item.bounds().1).fold(0.0, f64::max);
    // Symbols hang beside the wires of others: boxes do not.
    let share = if figure.form == Form::Chip { 1.0 } else { 0.72 };
    share * (right - left + GAP)
}

/// Lays out a panel. `also` names the other panels of a net, empty for none.
pub(super) fn place(
    circuit: &Circuit,
    figures: &[Figure],
    arranged: &Arranged,
    also: &dyn Fn(NetId) -> String,
) -> Placed {
    let Arranged { columns, rows, .. } = arranged;
    let n_rows = rows.len();
    let spans: Vec<(usize, usize)> = rows
        .iter()
        .map(|net| {
            let on = |place: &usize| figures[columns[*place]].nets.contains(net);
            let mut places = (0..columns.len()).filter(on);
            let first = places.next().unwrap_or(0);
            (first, places.next_back().unwrap_or(first))
        })
        .collect();
    let grid = Rows { nets: rows };
    let items: Vec<Vec<Item>> = columns
        .iter()
        .enumerate()
        .map(|(place, one)| {
            let side = |net: NetId| {
                let Some(row) = grid.of(net) else { return Side::Nowhere };
                let (first, last) = spans[row];
                match (first < place, place < last) {
                    (true, true) => Side::Both,
                    (true, false) => Side::Left,
                    (false, true) => Side::Right,
                    (false, false) => Side::Nowhere,
                }
            };
            column(&figures[*one], &grid, &side)
        })
        .collect();
    let mut reaches: Vec<Reach> = items.iter().map(|own| reach(own, n_rows)).collect();
    // A net with one column has a stump of a line there.
    for (row, (first, last)) in spans.iter().enumerate() {
        if first == last {
            let (left, right) = stump(&items[*first], &figures[columns[*first]], row);
            widen(&mut reaches[*first], line_zone(row), left - 2.0, right + 2.0);
        }
    }
    let labels: Vec<(Vec<String>, String, f64)> =
        rows.iter().map(|net| label(circuit, *net, also)).collect();
    let mut at: Vec<usize> = spans.iter().map(|(first, _)| *first).collect();
    let cost = |at: &[usize]| -> f64 {
        let (_, _, wide) = pack(&reaches, &items, &labels, at);
        let away: usize = at.iter().zip(&spans).map(|(own, (first, _))| own - first).sum();
        wide + AWAY * away as f64
    };
    let mut best = cost(&at);
    for row in 0..n_rows {
        let (first, last) = spans[row];
        for place in first..=last {
            let before = std::mem::replace(&mut at[row], place);
            let is_own = figures[columns[place]].nets.contains(&rows[row]);
            // Beyond the end of its line a name belongs to nothing.
            let is_own =
                is_own && (place < last || ends_there(&items[place], &reaches[place], row));
            let now = if is_own { cost(&at) } else { f64::INFINITY };
            if now < best - 0.01 {
                best = now;
            } else {
                at[row] = before;
            }
        }
    }
    let (xs, starts, wide) = pack(&reaches, &items, &labels, &at);
    let names = labels
        .iter()
        .enumerate()
        .map(|(row, (lines, also, _))| Named {
            row,
            x: xs[at[row]] + starts[row],
            lines: lines.clone(),
            also: also.clone(),
        })
        .collect();
    let lines = (0..n_rows)
        .map(|row| {
            let (first, last) = spans[row];
            if first == last {
                let (left, right) = stump(&items[first], &figures[columns[first]], row);
                return (xs[first] + left, xs[first] + right);
            }
            let joints = (first..=last).flat_map(|place| {
                joints(&items[place], row).map(move |dx| (place, dx)).collect::<Vec<_>>()
            });
            joints.fold((f64::INFINITY, f64::NEG_INFINITY), |(left, right), (place, dx)| {
                (left.min(xs[place] + dx), right.max(xs[place] + dx))
            })
        })
        .collect();
    let (ys, height) = heights(&items, &labels, n_rows);
    Placed {
        columns: columns.clone(),
        rows: rows.clone(),
        xs,
        ys,
        items,
        lines,
        names,
        width: wide,
        height,
    }
}

/// The places of the joints of a column on a row.
fn joints(items: &[Item], row: usize) -> impl Iterator<Item = f64> + '_ {
    items.iter().filter_map(move |item| match item {
        Item::Joint { dx, row: own, .. } if *own == row => Some(*dx),
        _ => None,
    })
}

/// Whether a name that begins at the last column of its net still touches the line.
fn ends_there(items: &[Item], reach: &Reach, row: usize) -> bool {
    let end = joints(items, row).fold(f64::NEG_INFINITY, f64::max);
    reach[name_zone(row)].is_none_or(|(_, right)| right <= end + 12.0)
}

/// The line of a net that has one column only: a little to both sides, or away from a box.
fn stump(items: &[Item], figure: &Figure, row: usize) -> (f64, f64) {
    let ends = joints(items, row)
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), dx| (a.min(dx), b.max(dx)));
    if ends.0 > ends.1 {
        return (0.0, 0.0);
    }
    let is_at_edge = figure.form == Form::Chip && ends.0 != 0.0;
    if is_at_edge { (ends.0, ends.1 + 2.0 * STUMP) } else { (ends.0 - STUMP, ends.1 + STUMP) }
}

fn reach(items: &[Item], n_rows: usize) -> Reach {
    let mut reach = vec![None; 3 * n_rows.max(1)];
    for item in items {
        let (left, right, top, bottom) = item.bounds();
        for zone in zones(top, bottom) {
            widen(&mut reach, zone, left, right);
        }
    }
    reach
}

/// The lines of a net's name, the words about other panels, and the width of it all.
fn label(
    circuit: &Circuit,
    net: NetId,
    also: &dyn Fn(NetId) -> String,
) -> (Vec<String>, String, f64) {
    let lines = wrapped(circuit.net_name(net), NAME, NAME_WIDTH, NAME_LINES);
    let also = also(net);
    let mut wide = lines.iter().map(|line| width(line, NAME)).fold(0.0, f64::max);
    if !also.is_empty() {
        let last = lines.last().map_or(0.0, |line| width(line, NAME));
        wide = wide.max(last + 6.0 + width(&also, PIN));
    }
    (lines, also, wide)
}

/// Puts the columns side by side: where each stands, where the name of each row begins beside its
/// column, and the width of it all.
fn pack(
    reaches: &[Reach],
    items: &[Vec<Item>],
    labels: &[(Vec<String>, String, f64)],
    at: &[usize],
) -> (Vec<f64>, Vec<f64>, f64) {
    let mut starts = vec![0.0; labels.len()];
    let mut sky: Vec<f64> = vec![0.0; 3 * labels.len().max(1)];
    let mut xs: Vec<f64> = Vec::with_capacity(reaches.len());
    let mut wide: f64 = 0.0;
    for (place, own) in reaches.iter().enumerate() {
        let mut own = own.clone();
        for (row, _) in at.iter().enumerate().filter(|(_, column)| **column == place) {
            let zone = name_zone(row);
            let first = joints(&items[place], row).fold(f64::INFINITY, f64::min);
            let start = match own[zone] {
                Some((_, right)) => right + 2.0,
                None if first.is_finite() => first - 3.0,
                None => 0.0,
            };
            starts[row] = start;
            widen(&mut own, zone, start, start + labels[row].2);
        }
        let least = xs.last().map_or(0.0, |x| x + PITCH);
        let x = own
            .iter()
            .zip(&sky)
            .filter_map(|(own, sky)| own.map(|(left, _)| sky + GAP - left))
            .fold(least, f64::max);
        for (own, sky) in own.iter().zip(&mut sky) {
            if let Some((_, right)) = own {
                *sky = x + right;
                wide = wide.max(x + right);
            }
        }
        xs.push(x);
    }
    (xs, starts, wide + GAP)
}

/// The heights of the lines, and of the panel.
fn heights(
    items: &[Vec<Item>],
    labels: &[(Vec<String>, String, f64)],
    n_rows: usize,
) -> (Vec<f64>, f64) {
    let mut bodies = vec![6.0; n_rows.max(1)];
    for item in items.iter().flatten() {
        let (_, _, _, bottom) = item.bounds();
        if let Some(body) = bodies.get_mut(bottom.row) {
            *body = f64::max(*body, bottom.dy + 3.0);
        }
    }
    // The words of a pin at the foot of a box reach up into what hangs on the row before.
    for item in items.iter().flatten() {
        if let Item::Box { top, bottom, .. } = item
            && bottom.dy < 0.0
            && bottom.row == top.row + 1
        {
            let inside = items.iter().flatten().filter_map(|item| match item {
                Item::Text { at, .. } if at.row == top.row => Some(at.dy),
                _ => None,
            });
            bodies[top.row] = inside.map(|dy| dy + 10.0).fold(bodies[top.row], f64::max);
        }
    }
    let above = |row: usize| NAME_LINE * labels[row].0.len() as f64 + NAME_FOOT;
    let mut ys = Vec::with_capacity(n_rows);
    let mut y = 0.0;
    for row in 0..n_rows {
        y += if row == 0 { above(0) } else { (bodies[row - 1] + above(row)).max(APART) };
        ys.push(y);
    }
    (ys, y + bodies.last().copied().unwrap_or(0.0) + 4.0)
}

/// The base lines of a name's lines above the line of its net, the first one first.
pub(super) fn base_lines(n_lines: usize) -> impl Iterator<Item = f64> {
    (0..n_lines).map(move |at| -NAME_FOOT - NAME_LINE * (n_lines - 1 - at) as f64)
}
