//! The board cut into panels that fit beside each other on a page: along the chain of parts, where
//! the fewest nets go on.

use super::arrange::{Arranged, arrange, chain};
use super::figure::{Figure, Form};
use super::levels::are_one;
use crate::circuit::{Circuit, NetId};

/// What a row costs in a panel, and a panel by itself: each repeated net is a line more to follow.
const ROW: f64 = 1.0;
const PANEL: f64 = 2.0;
/// What an empty panel would cost: pages want to be filled evenly.
const EMPTY: f64 = 6.0;
/// What a symbol of ground costs beside a line of it, in units of the search for the order.
const GROUND_SYMBOL: f64 = 0.9;
/// How far below ground a net counts as below it, in volts.
const BELOW_GROUND: f64 = -0.02;

/// Orders of the figures of the whole board along which it may be cut: as it was written, as a walk
/// from the sources meets the parts, and the one whose lines are shortest.
pub(super) fn chains(circuit: &Circuit, figures: &[Figure]) -> Vec<Vec<usize>> {
    let as_written: Vec<usize> = (0..figures.len()).collect();
    let walked = walked(circuit, figures);
    let short = chain(figures, &[as_written.clone(), walked.clone()]);
    vec![as_written, walked, short]
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

/// Cuts the board so that the widths in each panel stay within `limit`.
///
/// # Objective
///
/// ```text
/// cost = Σ panels (2 + nets + 6 · (1 − width / limit)²)
/// ```
///
/// Every chain is cut where that costs least; then parts move to other panels one by one while
/// that gains anything. The chain as it was written follows the way its author thinks of the board:
/// it is kept where it costs up to a tenth more than the best.
pub(super) fn cut(
    figures: &[Figure],
    chains: &[Vec<usize>],
    widths: &[f64],
    limit: f64,
) -> Vec<Vec<usize>> {
    let cutter = Cutter { figures, widths, limit };
    let found = chains.iter().enumerate().map(|(at, chain)| {
        let panels = cutter.refined(cutter.along(chain), chain);
        let cost: f64 = panels.iter().map(|columns| cutter.cost(columns)).sum();
        (panels, if at == 0 { AS_WRITTEN * cost } else { cost })
    });
    found
        .min_by(|one, other| one.1.total_cmp(&other.1))
        .map(|(panels, _)| panels)
        .unwrap_or_default()
}

/// What the chain as it was written may cost, over the best.
const AS_WRITTEN: f64 = 0.9;
/// Rounds of moving parts to other panels at most.
const MOVES: usize = 6;

struct Cutter<'a> {
    figures: &'a [Figure],
    widths: &'a [f64],
    limit: f64,
}

impl Cutter<'_> {
    fn width(&self, columns: &[usize]) -> f64 {
        columns.iter().map(|one| self.widths[*one]).sum()
    }

    fn cost_of(&self, n_nets: usize, wide: f64) -> f64 {
        PANEL + ROW * n_nets as f64 + EMPTY * (1.0 - wide / self.limit).max(0.0).powi(2)
    }

    fn cost(&self, columns: &[usize]) -> f64 {
        if columns.is_empty() {
            return 0.0;
        }
        let mut nets: Vec<NetId> =
            columns.iter().flat_map(|one| self.figures[*one].nets.iter().copied()).collect();
        nets.sort_unstable();
        nets.dedup();
        nets.retain(|net| *net != NetId::GROUND);
        self.cost_of(nets.len(), self.width(columns))
    }

    /// The cheapest cuts of a chain.
    fn along(&self, chain: &[usize]) -> Vec<Vec<usize>> {
        let n = chain.len();
        // The least cost of the first figures, and where their last panel begins.
        let mut best: Vec<(f64, usize)> = vec![(0.0, 0)];
        for end in 1..=n {
            let mut found = (f64::INFINITY, end - 1);
            let mut wide = 0.0;
            let mut nets: Vec<NetId> = Vec::new();
            for start in (0..end).rev() {
                let one = chain[start];
                wide += self.widths[one];
                if wide > self.limit && start + 1 < end {
                    break;
                }
                for net in &self.figures[one].nets {
                    if *net != NetId::GROUND && !nets.contains(net) {
                        nets.push(*net);
                    }
                }
                let cost = best[start].0 + self.cost_of(nets.len(), wide);
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
            panels.push(chain[start..end].to_vec());
            end = start;
        }
        panels.reverse();
        panels
    }

    /// Moves parts between panels while that makes them cheaper.
    fn refined(&self, mut panels: Vec<Vec<usize>>, chain: &[usize]) -> Vec<Vec<usize>> {
        let place = |one: usize| chain.iter().position(|other| *other == one);
        for _ in 0..MOVES {
            let mut has_moved = false;
            for &one in chain {
                let Some(from) = panels.iter().position(|columns| columns.contains(&one)) else {
                    continue;
                };
                let without: Vec<usize> =
                    panels[from].iter().copied().filter(|other| *other != one).collect();
                let saved = self.cost(&panels[from]) - self.cost(&without);
                let mut best = (1e-9, None);
                for (to, columns) in panels.iter().enumerate() {
                    if to == from || self.width(columns) + self.widths[one] > self.limit {
                        continue;
                    }
                    let mut with = columns.clone();
                    with.push(one);
                    let gain = saved - (self.cost(&with) - self.cost(columns));
                    if gain > best.0 {
                        best = (gain, Some((to, with)));
                    }
                }
                if let (_, Some((to, mut with))) = best {
                    with.sort_by_key(|one| place(*one));
                    panels[to] = with;
                    panels[from] = without;
                    has_moved = true;
                }
            }
            panels.retain(|columns| !columns.is_empty());
            if !has_moved {
                break;
            }
        }
        panels
    }
}

/// The nets of some figures from top to bottom.
fn rows(figures: &[Figure], columns: &[usize], levels: &[f64], has_ground: bool) -> Vec<NetId> {
    let mut nets: Vec<NetId> =
        columns.iter().flat_map(|one| figures[*one].nets.iter().copied()).collect();
    nets.sort_unstable();
    nets.dedup();
    nets.retain(|net| has_ground || *net != NetId::GROUND);
    let level = |net: NetId| levels[net.index()];
    nets.sort_by(|one, other| level(*other).total_cmp(&level(*one)));
    // Of nets at the same volts the one that most hangs on is on top: rails above what they feed, and
    // ground below all of them.
    let pins = |net: NetId| {
        let nets = columns.iter().flat_map(|one| &figures[*one].nets);
        nets.filter(|own| **own == net).count()
    };
    let mut start = 0;
    while start < nets.len() {
        let is_level = |net: &&NetId| are_one(level(nets[start]), level(**net));
        let end = start + nets[start..].iter().take_while(is_level).count();
        nets[start..end].sort_by_key(|net| (*net == NetId::GROUND, std::cmp::Reverse(pins(*net))));
        start = end.max(start + 1);
    }
    nets
}

/// Whether ground has to be a line: something of the panel stands below it, or hangs between ground
/// and ground.
fn needs_ground_line(figures: &[Figure], columns: &[usize], levels: &[f64]) -> bool {
    let mut below = false;
    let mut touched = false;
    for one in columns {
        let nets = &figures[*one].nets;
        below |= nets.iter().any(|net| levels[net.index()] < BELOW_GROUND);
        touched |= nets.contains(&NetId::GROUND);
        let is_ground = |pin: usize| nets[pin] == NetId::GROUND;
        let is_shorted = match &figures[*one].form {
            Form::Chip => (0..nets.len()).all(is_ground),
            Form::Runs(runs) => runs.iter().any(|run| run.ends.iter().all(|pin| is_ground(*pin))),
        };
        if is_shorted {
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
