//! How far numbers of a board may be from nominal: worst case, standard uncertainty, and what
//! contributes most.
//!
//! # Formula
//!
//! With D the derivatives of a number y in the parameters p, taken by central differences of whole
//! solutions, and a the half-widths of the parameters,
//!
//! ```text
//! u(y) = √ Σ (D a/√3)²        y at p ± a·sign(D)  is the worst case
//! ```
//!
//! u by the law of propagation of uncertainty with rectangular distributions (JCGM 100:2008, 5.1.2
//! and 4.3.7). The board is solved at the worst corner, not extrapolated to it; the derivatives are
//! taken anew there and the corner is turned until it no longer changes.

use rayon::prelude::*;

use super::solved::{Solved, Watched, left};
use crate::circuit::{Overlay, PartId, SetupId};
use crate::engine::{Assembly, Ending, Source};
use crate::quantity::Toleranced;

/// Half the step of a difference, in standard uncertainties.
const STEP: f64 = 0.01;
/// A corner is bent where the straight line misses it by more than this share.
const BENT: f64 = 1e-3;
/// A contribution of no more than this share of a straight line is slight.
const SLIGHT: f64 = 1e-5;
/// Turns of a corner at most.
const TURNS: usize = 4;

/// How far one number may be from nominal.
#[derive(Debug, Clone, PartialEq)]
pub struct Band {
    /// What is watched.
    pub watched: Watched,
    /// The nominal value, in its SI unit.
    pub nominal: f64,
    /// One standard uncertainty, in the same unit.
    pub u: f64,
    /// The least in the worst case.
    pub low: f64,
    /// The most in the worst case.
    pub high: f64,
    /// What contributes, the largest first.
    pub shares: Vec<Share>,
    /// Parts that are in another state at a worst corner than at nominal values.
    pub switches: Vec<PartId>,
}

/// What one uncertain parameter contributes.
#[derive(Debug, Clone, PartialEq)]
pub struct Share {
    /// The part.
    pub part: PartId,
    /// The parameter.
    pub parameter: &'static str,
    /// Its share of the variance, between 0 and 1.
    pub of_variance: f64,
    /// By how much it moves the number at the end of its tolerance, in the number's unit, signed as
    /// for more of the parameter.
    pub effect: f64,
}

/// The bands of some numbers of a setup.
///
/// # Errors
///
/// How the run ended, when there is no operating point.
///
/// ```
/// use ohmhound::circuit::{Overlay, POWERED};
/// use ohmhound::engine::Assembly;
/// use ohmhound::file::read_circuit;
/// use ohmhound::finding::Source;
/// use ohmhound::study::{Watched, bands};
///
/// let text = "[parts]\nJ1 = { kind = \"supply\", volts = 10, nets = [\"IN\", \"GND\"] }\n\
///             R1 = { value = \"1k\", nets = [\"IN\", \"OUT\"] }\n\
///             R2 = { value = \"1k\", nets = [\"OUT\", \"GND\"] }";
/// let circuit = read_circuit(&Source::new("c.toml", text), &mut |_| Err(String::new()));
/// let circuit = circuit.value.ok_or("the circuit is in order")?;
/// let assembly = Assembly::new(&circuit);
/// let out = Watched::Net(circuit.net("OUT").ok_or("a net")?);
/// let found = bands(&assembly, POWERED, &Overlay::none(), &[out]).map_err(|_| "a point")?;
/// // 2 % of the supply and 5 % of each resistor: 10 V · 1.05 / 2 · 1.02 at the most.
/// assert!((found[0].high - 5.355).abs() < 1e-3);
/// # Ok::<(), &str>(())
/// ```
pub fn bands(
    assembly: &Assembly<'_>,
    setup: SetupId,
    overlay: &Overlay,
    watched: &[Watched],
) -> Result<Vec<Band>, Ending> {
    let nominal = Solved::new(assembly, setup, overlay)?;
    let study = Study { assembly, setup, overlay, left: left(assembly, overlay) };
    let middle: Vec<f64> = study.left.iter().map(|&at| study.source(at).nominal).collect();
    let slopes = study.slopes(&nominal, &middle, watched);
    Ok(watched
        .par_iter()
        .enumerate()
        .with_max_len(1)
        .map(|(number, &one)| {
            let own: Vec<f64> = slopes.iter().map(|slopes| slopes[number]).collect();
            study.band(&nominal, one, &own)
        })
        .collect())
}

/// What a source may be: least and most, in its SI unit.
pub(super) fn ends(assembly: &Assembly<'_>, source: &Source) -> (f64, f64) {
    let number: Option<&Toleranced> = assembly.circuit()[source.part].toleranced(source.parameter);
    number.map_or((source.nominal, source.nominal), |number| (number.least(), number.most()))
}

struct Study<'a> {
    assembly: &'a Assembly<'a>,
    setup: SetupId,
    overlay: &'a Overlay,
    /// The uncertain parameters, by their numbers.
    left: Vec<usize>,
}

impl Study<'_> {
    fn source(&self, at: usize) -> &Source {
        &self.assembly.sources()[at]
    }

    fn overlay_at(&self, values: &[f64]) -> Overlay {
        self.assembly.laid(self.overlay, self.left.iter().copied().zip(values.iter().copied()))
    }

    /// Derivatives of every watched number in every uncertain parameter around some values of them;
    /// zero where the board does not stay in its states.
    fn slopes(&self, here: &Solved, values: &[f64], watched: &[Watched]) -> Vec<Vec<f64>> {
        let slope = |number| self.slope(number, here, values, watched);
        (0..self.left.len()).into_par_iter().map(slope).collect()
    }

    /// The same in one of the uncertain parameters.
    fn slope(&self, number: usize, here: &Solved, values: &[f64], watched: &[Watched]) -> Vec<f64> {
        let solve = |step: f64| {
            let mut moved = values.to_vec();
            moved[number] += step;
            here.near(self.assembly, self.setup, &self.overlay_at(&moved))
        };
        let value = |solved: &Solved| -> Vec<f64> {
            watched.iter().map(|&one| solved.value(self.assembly, one)).collect()
        };
        let step = STEP * self.source(self.left[number]).standard;
        // At a threshold one side alone may be left.
        let (up, down, width) = match (solve(step), solve(-step)) {
            (Some(up), Some(down)) => (value(&up), value(&down), 2.0 * step),
            (Some(up), None) => (value(&up), value(here), step),
            (None, Some(down)) => (value(here), value(&down), step),
            (None, None) => return vec![0.0; watched.len()],
        };
        up.iter().zip(&down).map(|(up, down)| (up - down) / width).collect()
    }

    fn band(&self, nominal: &Solved, one: Watched, slopes: &[f64]) -> Band {
        let middle = nominal.value(self.assembly, one);
        let effects: Vec<f64> = self
            .left
            .iter()
            .zip(slopes)
            .map(|(&at, slope)| slope * self.source(at).half_width)
            .collect();
        let squares: f64 = effects.iter().map(|effect| effect * effect).sum();
        let (low, mut switches) = self.corner(nominal, one, slopes, -1.0);
        let (high, others) = self.corner(nominal, one, slopes, 1.0);
        switches.extend(others);
        switches.sort_unstable();
        switches.dedup();
        let mut shares: Vec<Share> = self
            .left
            .iter()
            .zip(&effects)
            .filter(|(_, effect)| **effect != 0.0)
            .map(|(&at, &effect)| {
                let Source { part, parameter, .. } = *self.source(at);
                Share { part, parameter, of_variance: effect * effect / squares, effect }
            })
            .collect();
        shares.sort_by(|a, b| b.of_variance.total_cmp(&a.of_variance).then(a.part.cmp(&b.part)));
        Band {
            watched: one,
            nominal: middle,
            u: (squares / 3.0).sqrt(),
            low: low.min(middle),
            high: high.max(middle),
            shares,
            switches,
        }
    }

    /// The number at the worst corner towards one side, with the parts that switch on the way.
    fn corner(
        &self,
        nominal: &Solved,
        one: Watched,
        slopes: &[f64],
        side: f64,
    ) -> (f64, Vec<PartId>) {
        let middle = nominal.value(self.assembly, one);
        let mut slopes = slopes.to_vec();
        let mut worst = (middle, Vec::new());
        for _ in 0..TURNS {
            let values: Vec<f64> = self
                .left
                .iter()
                .zip(&slopes)
                .map(|(&at, slope)| {
                    let source = self.source(at);
                    let (least, most) = ends(self.assembly, source);
                    match side * slope {
                        towards if towards > 0.0 => most,
                        towards if towards < 0.0 => least,
                        _ => source.nominal,
                    }
                })
                .collect();
            let Ok(there) = Solved::new(self.assembly, self.setup, &self.overlay_at(&values))
            else {
                // No operating point at all there: what was found so far has to do.
                return worst;
            };
            let found = there.value(self.assembly, one);
            if side * (found - worst.0) <= 0.0 {
                return worst;
            }
            worst = (found, nominal.switched(&there));
            // Where a straight line leads there, what hardly contributes stays as it was; a small
            // contribution may still turn its sign without bending much.
            let moves = self.left.iter().zip(&slopes).zip(&values);
            let moves: Vec<f64> = moves
                .map(|((&at, slope), value)| slope * (value - self.source(at).nominal))
                .collect();
            let straight: f64 = moves.iter().sum();
            let is_straight = (found - middle - straight).abs() <= BENT * (found - middle).abs();
            let again: Vec<f64> = (0..self.left.len())
                .map(|number| {
                    if is_straight && moves[number].abs() <= SLIGHT * straight.abs() {
                        return slopes[number];
                    }
                    self.slope(number, &there, &values, &[one])[0]
                })
                .collect();
            // Sides that slight contributions are on are left alone: much of them is rounding.
            let slight = SLIGHT * (found - middle).abs();
            let same = again.iter().zip(&slopes).enumerate().all(|(number, (a, b))| {
                let half_width = self.source(self.left[number]).half_width;
                a * b > 0.0 || a.abs() * half_width <= slight
            });
            if same {
                return worst;
            }
            slopes = again;
        }
        worst
    }
}
