//! The order of columns, and of nets that are level, by a search.
//!
//! # Objective
//!
//! ```text
//! cost = Σ nets (last column − first column)            length of the lines
//!      + 1.5 · wires that pass over a foreign line
//!      + 4   · foreign lines that pass behind a box
//!      + 1   · own lines that run through a box
//!      + 0.15 · Σ sources (column)                      what feeds the board stands at the left
//!      + 0.25 · parts that stand left of what feeds their upper net
//!      + 1.5 · nets that stand below a level one with fewer volts
//! ```
//!
//! The search takes out one column after the other and puts it where the cost is least, until nothing
//! gets better; then it exchanges neighbouring nets that are level. It starts from the orders it is
//! given and keeps the best: the same circuit always gives the same picture.

use super::figure::{Figure, Form};
use super::levels::are_level;
use crate::circuit::NetId;

const PASSES_LINE: f64 = 1.5;
const BEHIND_BOX: f64 = 4.0;
const THROUGH_BOX: f64 = 1.0;
const SOURCE_PLACE: f64 = 0.15;
const BACKWARDS: f64 = 0.25;
const OUT_OF_ORDER: f64 = 1.5;
/// Rounds of improvement at most.
const ROUNDS: usize = 12;
/// What an order has to gain to be taken: less is rounding.
const GAIN: f64 = 1e-9;

/// The order of a panel.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Arranged {
    /// The figures from left to right.
    pub(super) columns: Vec<usize>,
    /// The nets from top to bottom; without ground where it is a symbol.
    pub(super) rows: Vec<NetId>,
    pub(super) cost: f64,
}

/// A figure by its rows.
#[derive(Debug, Clone, Default)]
struct Sketch {
    /// Rows that it has pins on.
    pins: Vec<usize>,
    /// Upright wires, by their upper and lower rows.
    wires: Vec<(usize, usize)>,
    /// For a box: its upper and lower rows.
    chip: Option<(usize, usize)>,
    is_source: bool,
    /// The row that it hangs on.
    hangs_on: Option<usize>,
    /// The rows that it feeds: what it leads down to, what it drives.
    feeds: Vec<usize>,
}

fn sketch(figure: &Figure, rows: &[NetId]) -> Sketch {
    let row = |pin: usize| rows.iter().position(|net| *net == figure.nets[pin]);
    let mut pins: Vec<usize> = (0..figure.nets.len()).filter_map(row).collect();
    pins.sort_unstable();
    pins.dedup();
    let ends = (pins.first().copied(), pins.last().copied());
    let mut wires = Vec::new();
    let mut chip = None;
    match &figure.form {
        Form::Chip => chip = ends.0.zip(ends.1),
        Form::Runs(runs) => {
            for run in runs {
                let [first, second] = run.ends.map(row);
                let top = first.unwrap_or(usize::MAX).min(second.unwrap_or(usize::MAX));
                if let (Some(first), Some(second)) = (first, second) {
                    wires.push((first.min(second), first.max(second)));
                }
                if let Some(side) = run.side.and_then(row).filter(|_| top != usize::MAX) {
                    wires.push((top.min(side), top.max(side)));
                }
            }
        }
    }
    let way = wires.first().copied().filter(|(top, bottom)| top != bottom);
    let hangs_on = way.map(|(top, _)| top).or(ends.0);
    let mut feeds: Vec<usize> = way.map(|(_, bottom)| bottom).into_iter().collect();
    if chip.is_some() {
        feeds = figure.outputs.iter().filter_map(|pin| row(*pin)).collect();
    }
    feeds.retain(|row| Some(*row) != hangs_on);
    Sketch { pins, wires, chip, is_source: figure.is_source, hangs_on, feeds }
}

/// Room to count in, kept from one order to the next.
#[derive(Debug, Default)]
struct Scratch {
    /// The first and the last column of every row.
    spans: Vec<(usize, usize)>,
    /// From where a row is fed: the first column that leads down to it.
    fed: Vec<usize>,
}

/// The cost of an order.
fn cost(sketches: &[Sketch], order: &[usize], n_rows: usize, scratch: &mut Scratch) -> f64 {
    let Scratch { spans, fed } = scratch;
    spans.clear();
    spans.resize(n_rows, (usize::MAX, 0));
    fed.clear();
    fed.resize(n_rows, usize::MAX);
    for (place, &one) in order.iter().enumerate() {
        for &row in &sketches[one].pins {
            let span: &mut (usize, usize) = &mut spans[row];
            *span = (span.0.min(place), span.1.max(place));
        }
    }
    let mut cost = 0.0;
    for (first, last) in spans.iter().filter(|(first, _)| *first != usize::MAX) {
        cost += (last - first) as f64;
    }
    for (place, &one) in order.iter().enumerate() {
        for &row in &sketches[one].feeds {
            fed[row] = fed[row].min(place);
        }
    }
    let inside = |row: usize, place: usize| spans[row].0 < place && place < spans[row].1;
    for (place, &one) in order.iter().enumerate() {
        let own = &sketches[one];
        for &(top, bottom) in &own.wires {
            let passed = (top + 1..bottom).filter(|row| inside(*row, place));
            cost += PASSES_LINE * passed.count() as f64;
        }
        if let Some((top, bottom)) = own.chip {
            for row in (top + 1..=bottom).filter(|row| inside(*row, place)) {
                cost += if own.pins.contains(&row) { THROUGH_BOX } else { BEHIND_BOX };
            }
        }
        if own.hangs_on.is_some_and(|row| fed[row] != usize::MAX && fed[row] > place) {
            cost += BACKWARDS;
        }
        if own.is_source {
            cost += SOURCE_PLACE * place as f64;
        }
    }
    cost
}

/// Orders columns by the length of lines alone: for the whole board, before it is cut into panels.
pub(super) fn chain(figures: &[Figure], starts: &[Vec<usize>]) -> Vec<usize> {
    let pins: Vec<Vec<usize>> = figures
        .iter()
        .map(|figure| {
            let mut nets: Vec<usize> = figure
                .nets
                .iter()
                .filter(|net| **net != NetId::GROUND)
                .map(|net| net.index())
                .collect();
            nets.sort_unstable();
            nets.dedup();
            nets
        })
        .collect();
    let n_nets = pins.iter().flatten().max().map_or(0, |most| most + 1);
    let mut spans = Vec::new();
    let mut length = |order: &[usize]| -> f64 {
        spans.clear();
        spans.resize(n_nets, (usize::MAX, 0));
        for (place, &one) in order.iter().enumerate() {
            for &net in &pins[one] {
                let span: &mut (usize, usize) = &mut spans[net];
                *span = (span.0.min(place), span.1.max(place));
            }
        }
        let used = spans.iter().filter(|(first, _)| *first != usize::MAX);
        used.map(|(first, last)| (last - first) as f64).sum()
    };
    let best = starts
        .iter()
        .map(|start| improved(start.clone(), &mut length))
        .min_by(|one, other| one.1.total_cmp(&other.1));
    let mut order = best.map(|(order, _)| order).unwrap_or_default();
    // What feeds the board stands at the left.
    let places = |order: &[usize]| -> usize {
        order.iter().enumerate().filter(|(_, one)| figures[**one].is_source).map(|(at, _)| at).sum()
    };
    let turned: Vec<usize> = order.iter().rev().copied().collect();
    if places(&turned) < places(&order) {
        order = turned;
    }
    order
}

/// Takes out one after the other and puts it where it costs least.
fn improved(mut order: Vec<usize>, cost: &mut dyn FnMut(&[usize]) -> f64) -> (Vec<usize>, f64) {
    let mut best = cost(&order);
    let n = order.len();
    for _ in 0..ROUNDS {
        let before = best;
        for from in 0..n {
            let one = order.remove(from);
            let mut place = from;
            // The gap is moved along by exchanging neighbours.
            order.insert(0, one);
            for to in 0..n {
                if to > 0 {
                    order.swap(to - 1, to);
                }
                let now = cost(&order);
                if now < best - GAIN {
                    (best, place) = (now, to);
                }
            }
            let one = order.pop().unwrap_or(one);
            order.insert(place, one);
        }
        if best >= before - GAIN {
            break;
        }
    }
    (order, best)
}

/// Finds the order of a panel. `columns` are its figures in a first order, `rows` its nets from top
/// to bottom with their levels.
pub(super) fn arrange(
    figures: &[Figure],
    columns: &[usize],
    mut rows: Vec<NetId>,
    levels: &[f64],
) -> Arranged {
    let sketched = |rows: &[NetId]| -> Vec<Sketch> {
        columns.iter().map(|one| sketch(&figures[*one], rows)).collect()
    };
    let n_rows = rows.len();
    let forwards: Vec<usize> = (0..columns.len()).collect();
    let backwards: Vec<usize> = forwards.iter().rev().copied().collect();
    let mut by_height = forwards.clone();
    let sketches = sketched(&rows);
    by_height.sort_by_key(|one| sketches[*one].pins.first().copied());
    let mut scratch = Scratch::default();
    let mut search = |start: Vec<usize>, sketches: &[Sketch]| {
        improved(start, &mut |order: &[usize]| cost(sketches, order, n_rows, &mut scratch))
    };
    let found = [forwards, backwards, by_height]
        .into_iter()
        .map(|start| {
            // The same order seen in a mirror has lines of the same length.
            let (order, cost) = search(start, &sketches);
            let (turned, other) = search(order.iter().rev().copied().collect(), &sketches);
            if other < cost - GAIN { (turned, other) } else { (order, cost) }
        })
        .min_by(|one, other| one.1.total_cmp(&other.1));
    let (mut order, mut best) = found.unwrap_or_default();
    for at in 1..n_rows {
        let level = |net: NetId| levels[net.index()];
        if !are_level(level(rows[at - 1]), level(rows[at])) {
            continue;
        }
        rows.swap(at - 1, at);
        let other = sketched(&rows);
        let (now, cost) = search(order.clone(), &other);
        let cost = cost + OUT_OF_ORDER;
        if cost < best - GAIN {
            (order, best) = (now, cost);
        } else {
            rows.swap(at - 1, at);
        }
    }
    Arranged { columns: order.into_iter().map(|at| columns[at]).collect(), rows, cost: best }
}
