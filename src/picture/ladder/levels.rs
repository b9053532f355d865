//! At which height each net belongs: its healthy volts, or an estimate that only sets the order.

use crate::circuit::{Circuit, NetId, Part};
use crate::device::of;
use crate::study::Operating;

/// What is known of a net when the board is healthy.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Healthy {
    /// Volts, and one standard uncertainty of them.
    Volts(f64, f64),
    /// No DC path to ground.
    Floats,
    /// The board has no operating point.
    NoPoint,
}

/// What is known of every net, ground first.
pub(super) fn healthy(circuit: &Circuit, point: Option<&Operating>) -> Vec<Healthy> {
    let mut found = vec![Healthy::NoPoint; circuit.nets.len()];
    found[NetId::GROUND.index()] = Healthy::Volts(0.0, 0.0);
    for net in point.map_or(&[][..], |point| &point.nets) {
        if let Some(own) = found.get_mut(net.net.index()) {
            *own = match (net.floating, net.volts.is_finite()) {
                (true, _) => Healthy::Floats,
                (false, true) => Healthy::Volts(net.volts, net.u),
                (false, false) => Healthy::NoPoint,
            };
        }
    }
    found
}

/// Rounds of averaging over neighbours; the order no longer changes after fewer.
const ROUNDS: usize = 200;

/// The height of every net, in volts. A net without volts stands between its neighbours: the mean of
/// those at the other ends of its parts, with sources at their nominal volts apart.
pub(super) fn levels(circuit: &Circuit, healthy: &[Healthy]) -> Vec<f64> {
    let known: Vec<Option<f64>> = healthy
        .iter()
        .map(|one| match one {
            Healthy::Volts(volts, _) => Some(*volts),
            _ => None,
        })
        .collect();
    let mut levels: Vec<f64> = known.iter().map(|volts| volts.unwrap_or(0.0)).collect();
    if known.iter().all(Option::is_some) {
        return levels;
    }
    for _ in 0..ROUNDS {
        let mut sums = vec![(0.0, 0.0); levels.len()];
        let mut pull = |net: NetId, towards: f64, weight: f64| {
            let own: &mut (f64, f64) = &mut sums[net.index()];
            *own = (own.0 + weight * towards, own.1 + weight);
        };
        for part in circuit.parts.iter().filter(|part| part.fitted) {
            let source = source_volts(part);
            let weight = if source.is_some() { 100.0 } else { 1.0 };
            for pair in part.pins.windows(2) {
                let (a, b) = (pair[0].net, pair[1].net);
                let apart = source.unwrap_or(0.0);
                pull(a, levels[b.index()] + apart, weight);
                pull(b, levels[a.index()] - apart, weight);
            }
        }
        for (net, level) in levels.iter_mut().enumerate() {
            if known[net].is_none() && sums[net].1 > 0.0 {
                *level = sums[net].0 / sums[net].1;
            }
        }
    }
    levels
}

/// What a source with two pins holds apart.
fn source_volts(part: &Part) -> Option<f64> {
    let is_source = of(part).is_source() && part.is_two_pin();
    is_source.then(|| part.nominal("volts")).flatten()
}

/// Nets whose volts no handheld meter tells apart are level: their order is free for the search.
pub(super) fn are_level(one: f64, other: f64) -> bool {
    (one - other).abs() <= 1e-4 + 1e-4 * one.abs().max(other.abs())
}

/// Nets whose volts are one but for how a machine rounds, or for a current of a few nanoamps.
pub(super) fn are_one(one: f64, other: f64) -> bool {
    (one - other).abs() <= 5e-6 + 5e-6 * one.abs().max(other.abs())
}
