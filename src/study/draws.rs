//! Boards drawn from their tolerances: what is left when not everything is at its worst at once.

use rayon::prelude::*;

use super::bands::ends;
use super::chance::Chance;
use super::solved::{Solved, Watched, left};
use crate::circuit::{Limit, NetId, Overlay, SetupId};
use crate::engine::Assembly;
use crate::quantity::Spread;

/// Boards that are drawn before they are solved.
const AT_ONCE: usize = 256;

/// What drawing boards found of one number.
#[derive(Debug, Clone, PartialEq)]
pub struct Drawn {
    /// What is watched.
    pub watched: Watched,
    /// The mean, in its SI unit.
    pub mean: f64,
    /// The standard deviation.
    pub deviation: f64,
    /// The central 95 %.
    pub central: (f64, f64),
    /// The least and the most that came up.
    pub ends: (f64, f64),
}

/// What came of drawing boards.
#[derive(Debug, Clone, PartialEq)]
pub struct Draws {
    /// Boards drawn.
    pub count: usize,
    /// Boards among them without an operating point.
    pub lost: usize,
    /// Per watched number, what was found.
    pub numbers: Vec<Drawn>,
    /// Per limited net, the boards that keep it.
    pub kept: Vec<(NetId, usize)>,
    /// Boards that keep every limit.
    pub good: usize,
}

/// Draws boards: every parameter evenly between the ends of its tolerance, in the logarithm where
/// that is a factor (JCGM 101:2008, 6.4.2). The same seed draws the same boards.
///
/// ```
/// use ohmhound::study::{Watched, draws};
/// use ohmhound::{circuit::*, engine::Assembly, file::read_circuit, finding::Source};
///
/// let text = "[parts]\nJ1 = { kind = \"supply\", volts = \"12 V\", nets = [\"IN\", \"GND\"] }\n\
///             R1 = { value = \"10k\", nets = [\"IN\", \"OUT\"] }\n\
///             R2 = { value = \"10k\", nets = [\"OUT\", \"GND\"] }";
/// let circuit = read_circuit(&Source::new("divider.toml", text), &mut |_| Err(String::new()));
/// let circuit = circuit.value.ok_or("the circuit is in order")?;
///
/// let out = Watched::Net(circuit.net("OUT").ok_or("a net")?);
/// let assembly = Assembly::new(&circuit);
/// let board = (POWERED, &Overlay::none());
/// let found = draws(&assembly, board, &[out], (200, 1));
/// assert_eq!((found.count, found.lost), (200, 0));
/// assert_eq!(found, draws(&assembly, board, &[out], (200, 1)), "the same seed, the same boards");
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn draws(
    assembly: &Assembly<'_>,
    (setup, overlay): (SetupId, &Overlay),
    watched: &[Watched],
    (count, seed): (usize, u64),
) -> Draws {
    let circuit = assembly.circuit();
    let mut chance = Chance::new(seed);
    let left = left(assembly, overlay);
    let mut values: Vec<Vec<f64>> = vec![Vec::with_capacity(count); watched.len()];
    let mut kept: Vec<(NetId, usize)> = circuit.limits.iter().map(|(net, _)| (*net, 0)).collect();
    let (mut good, mut lost) = (0, 0);
    let solve = |board: &Overlay| -> Option<(Vec<f64>, Vec<bool>)> {
        let solved = Solved::new(assembly, setup, board).ok()?;
        let values = watched.iter().map(|&one| solved.value(assembly, one)).collect();
        let volts = |net: NetId| solved.value(assembly, Watched::Net(net));
        let keeps = circuit.limits.iter().map(|(net, limit)| keeps(volts(*net), limit)).collect();
        Some((values, keeps))
    };
    // Drawn one after the other, whoever solves them.
    for first in (0..count).step_by(AT_ONCE) {
        let boards: Vec<Overlay> = (first..count.min(first + AT_ONCE))
            .map(|_| {
                let drawn = left.iter().map(|&at| (at, draw(assembly, at, &mut chance)));
                assembly.laid(overlay, drawn)
            })
            .collect();
        let solved: Vec<_> = boards.par_iter().map(solve).collect();
        lost += solved.iter().filter(|solved| solved.is_none()).count();
        for (own, keeps) in solved.into_iter().flatten() {
            for (values, own) in values.iter_mut().zip(own) {
                values.push(own);
            }
            for ((_, n_kept), &keeps) in kept.iter_mut().zip(&keeps) {
                *n_kept += usize::from(keeps);
            }
            good += usize::from(keeps.iter().all(|keeps| *keeps));
        }
    }
    let numbers = watched.iter().zip(values).map(|(&watched, values)| drawn(watched, values));
    Draws { count, lost, numbers: numbers.collect(), kept, good }
}

/// Whether a voltage is within a limit.
pub(super) fn keeps(volts: f64, limit: &Limit) -> bool {
    limit.min.is_none_or(|min| volts >= min) && limit.max.is_none_or(|max| volts <= max)
}

/// A value of a source of uncertainty, evenly inside its tolerance.
pub(super) fn draw(assembly: &Assembly<'_>, at: usize, chance: &mut Chance) -> f64 {
    let source = &assembly.sources()[at];
    let (least, most) = ends(assembly, source);
    let number = assembly.circuit()[source.part].toleranced(source.parameter);
    let share = chance.share();
    match number.and_then(|number| number.spread) {
        Some(Spread::Factor(factor)) => source.nominal * factor.powf(2.0 * share - 1.0),
        _ => least + share * (most - least),
    }
}

fn drawn(watched: Watched, mut values: Vec<f64>) -> Drawn {
    values.sort_by(f64::total_cmp);
    let n = values.len().max(1) as f64;
    let mean = values.iter().sum::<f64>() / n;
    let squares = values.iter().map(|value| (value - mean).powi(2)).sum::<f64>();
    let quantile = |share: f64| {
        let place = share * (n - 1.0);
        let (at, part) = (place.floor() as usize, place.fract());
        let low = values.get(at).copied().unwrap_or(f64::NAN);
        let high = values.get(at + 1).copied().unwrap_or(low);
        low + part * (high - low)
    };
    Drawn {
        watched,
        mean,
        deviation: (squares / (n - 1.0).max(1.0)).sqrt(),
        central: (quantile(0.025), quantile(0.975)),
        ends: (quantile(0.0), quantile(1.0)),
    }
}
