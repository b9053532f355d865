//! The board cut into panels that fit beside each other on a page: along the chain of parts, where
//! the fewest nets go on.

use super::arrange::{Arranged, arrange, chain};
use super::figure::Figure;
use super::levels::are_level;
use crate::circuit::{Circuit, NetId};

/// What a row costs in a panel, and a panel by itself: each repeated net is a line more to follow.
const ROW: f64 = 1.0;
const PANEL: f64 = 2.0;
/// What a symbol of ground costs, and the line of ground per column: in units of the search for the
/// order.
const GROUND_SYMBOL: f64 = 0.9;
/// How far below ground a net counts as below it, in volts.
const BELOW_GROUND: f64 = -0.02;

/// The figures of the whole board in the order of the chain.
pub(super) fn in_chain(circuit: &Circuit, figures: &[Figure]) -> Vec<usize> {
    let as_written: Vec<usize> = (0..figures.len()).collect();
    chain(figures, &[as_written, walked(circuit, figures)])
}

/// The figures as a walk from the sources meets them, net by net.
fn walked(circuit: &Circuit, figures: &[Figure]) -> Vec<usize> {
    let mut met_nets = vec![false; circuit.nets.len()];
    met_nets[NetId::GROUND.index()] = true;
    let mut left: Vec<usize> = (0..figures.len()).collect();
    let mut order = Vec::new();
    while !left.is_empty() {
        // The one with the fewest new nets among those that touch what is met; a source otherwise.
        let news =
            |one: usize| figures[one].nets.iter().filter(|net| !met_nets[net.index()]).count();
        let touches = |one: usize| {
            figures[one].nets.iter().any(|net| *net != NetId::GROUND && met_nets[net.index()])
        };
        let best = (0..left.len()).min_by_key(|&at| {
            let one = left[at];
            (!touches(one), !figures[one].is_source, news(one), one)
        });
        let Some(best) = best else { break };
        let one = left.remove(best);
        for net in &figures[one].nets {
            met_nets[net.index()] = true;
        }
        order.push(one);
    }
    order
}

/// Cuts the chain so that the widths in each panel stay within `limit`.
pub(super) fn cut(
    figures: &[Figure],
    order: &[usize],
    widths: &[f64],
    limit: f64,
) -> Vec<Vec<usize>> {
    let n = order.len();
    // The least cost of the first figures, and where their last panel begins.
    let mut best: Vec<(f64, usize)> = vec![(0.0, 0)];
    for end in 1..=n {
        let mut found = (f64::INFINITY, end - 1);
        let mut wide = 0.0;
        let mut nets: Vec<NetId> = Vec::new();
        for start in (0..end).rev() {
            let one = order[start];
            wide += widths[one];
            if wide > limit && start + 1 < end {
                break;
            }
            for net in &figures[one].nets {
                if *net != NetId::GROUND && !nets.contains(net) {
                    nets.push(*net);
                }
            }
            let cost = best[start].0 + PANEL + ROW * nets.len() as f64;
            if cost < found.0 {
                found = (cost, start);
            }
        }
        best.push(found);
    }
    let mut panels = Vec::new();
    let mut end = n;
    while end > 0 {
        let start = best[end].1;
        panels.push(order[start..end].to_vec());
        end = start;
    }
    panels.reverse();
    panels
}

/// The nets of some figures from top to bottom.
fn rows(figures: &[Figure], columns: &[usize], levels: &[f64], has_ground: bool) -> Vec<NetId> {
    let mut nets: Vec<NetId> =
        columns.iter().flat_map(|one| figures[*one].nets.iter().copied()).collect();
    nets.sort_unstable();
    nets.dedup();
    nets.retain(|net| has_ground || *net != NetId::GROUND);
    nets.sort_by(|one, other| {
        let (one_level, other_level) = (levels[one.index()], levels[other.index()]);
        // Ground is the lowest of what stands level with it.
        let is_level = are_level(one_level, other_level);
        match (is_level, *one == NetId::GROUND, *other == NetId::GROUND) {
            (true, true, false) => std::cmp::Ordering::Greater,
            (true, false, true) => std::cmp::Ordering::Less,
            _ => other_level.total_cmp(&one_level),
        }
    });
    nets
}

/// Whether ground has to be a line: something of the panel stands below it, or on nothing else.
fn needs_ground_line(figures: &[Figure], columns: &[usize], levels: &[f64]) -> bool {
    let mut below = false;
    let mut touched = false;
    for one in columns {
        let nets = &figures[*one].nets;
        below |= nets.iter().any(|net| levels[net.index()] < BELOW_GROUND);
        touched |= nets.contains(&NetId::GROUND);
        if nets.iter().all(|net| *net == NetId::GROUND) {
            return true;
        }
    }
    below && touched
}

/// Orders every panel; ground is one long line where that is better than a symbol at every pin, by
/// the objective of the search and the same for all panels that leave a choice.
pub(super) fn arranged(figures: &[Figure], panels: &[Vec<usize>], levels: &[f64]) -> Vec<Arranged> {
    let with = |columns: &Vec<usize>, has_ground: bool| {
        let rows = rows(figures, columns, levels, has_ground);
        arrange(figures, columns, rows, levels)
    };
    let must: Vec<bool> =
        panels.iter().map(|columns| needs_ground_line(figures, columns, levels)).collect();
    let lines: Vec<Arranged> = panels.iter().map(|columns| with(columns, true)).collect();
    let symbols: Vec<Option<Arranged>> = panels
        .iter()
        .zip(&must)
        .map(|(columns, must)| (!must).then(|| with(columns, false)))
        .collect();
    let n_symbols = |columns: &Vec<usize>| -> f64 {
        let pins = columns.iter().flat_map(|one| &figures[*one].nets);
        pins.filter(|net| **net == NetId::GROUND).count() as f64
    };
    let mut line_cost = 0.0;
    let mut symbol_cost = 0.0;
    for ((line, symbol), columns) in lines.iter().zip(&symbols).zip(panels) {
        if let Some(symbol) = symbol {
            line_cost += line.cost;
            symbol_cost += symbol.cost + GROUND_SYMBOL * n_symbols(columns);
        }
    }
    let by_symbols = symbol_cost < line_cost;
    lines
        .into_iter()
        .zip(symbols)
        .map(|(line, symbol)| symbol.filter(|_| by_symbols).unwrap_or(line))
        .collect()
}
