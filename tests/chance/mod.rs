//! Chance with a seed: boards drawn from their tolerances, faults from their weights, readings with
//! the errors of a meter.
//!
//! Every binary that includes this file uses its own share of it.
#![allow(dead_code, reason = "each test uses its own part of it")]

use ohmhound::circuit::{
    Change, Circuit, Meter, Observed, Overlay, POWERED, Place, Quantity, Reading, SetupId, Spot,
    UNPOWERED,
};
use ohmhound::engine::{Assembly, Ending};
use ohmhound::fault::{Cause, Hypothesis, Spread};
pub use ohmhound::meter::last_digit;
use ohmhound::meter::{Scene, show};
use ohmhound::quantity::Spread as Width;

/// A seeded generator: SplitMix64 (G. L. Steele, D. Lea, C. H. Flood, "Fast splittable pseudorandom
/// number generators", OOPSLA 2014; constants from memory).
#[derive(Debug, Clone)]
pub struct Chance(u64);

impl Chance {
    pub fn new(seed: u64) -> Chance {
        Chance(seed.wrapping_mul(0x9e37_79b9_7f4a_7c15) ^ 0x5851_f42d_4c95_7f2d)
    }

    pub fn bits(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut mixed = self.0;
        mixed = (mixed ^ (mixed >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        mixed ^ (mixed >> 31)
    }

    /// Uniform between zero and one, neither of them.
    pub fn share(&mut self) -> f64 {
        ((self.bits() >> 11) as f64 + 0.5) / (1_u64 << 53) as f64
    }

    /// Uniform between −1 and 1.
    pub fn side(&mut self) -> f64 {
        2.0 * self.share() - 1.0
    }

    /// Normal with mean nothing and deviation one (G. E. P. Box, M. E. Muller, 1958).
    pub fn normal(&mut self) -> f64 {
        let radius = (-2.0 * self.share().ln()).sqrt();
        radius * (std::f64::consts::TAU * self.share()).cos()
    }

    /// A place of a list, by weight.
    pub fn pick(&mut self, weights: impl Iterator<Item = f64> + Clone) -> usize {
        let total: f64 = weights.clone().sum();
        let mut left = self.share() * total;
        let mut last = 0;
        for (idx, weight) in weights.enumerate() {
            if weight > 0.0 {
                last = idx;
            }
            left -= weight;
            if left < 0.0 {
                return idx;
            }
        }
        last
    }
}

/// How what is uncertain is drawn inside its half-width a.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Draw {
    /// At nominal, and no error.
    Nominal,
    /// Normal with the deviation a/√3 that the model takes (JCGM 100:2008, 4.3.7).
    Normal,
    /// Anywhere inside ±a.
    Uniform,
    /// At +a or at −a.
    Corner,
}

impl Draw {
    /// An error in parts of the half-width.
    pub fn error(self, chance: &mut Chance) -> f64 {
        match self {
            Draw::Nominal => 0.0,
            Draw::Normal => chance.normal() / 3.0_f64.sqrt(),
            Draw::Uniform => chance.side(),
            Draw::Corner => 1.0_f64.copysign(chance.side()),
        }
    }
}

/// One value of every source of uncertainty of a board. A "times or divided by" is drawn in the
/// logarithm; where a least and a most stand unevenly around the nominal, each side has its own
/// half-width.
pub fn tolerances(assembly: &Assembly<'_>, chance: &mut Chance, draw: Draw) -> Vec<Change> {
    let circuit = assembly.circuit();
    let mut changes = Vec::new();
    for source in assembly.sources() {
        let number = circuit[source.part].toleranced(source.parameter).expect("a source");
        let nominal = number.nominal;
        let value = loop {
            let error = draw.error(chance);
            let value = match number.spread {
                Some(Width::Factor(factor)) => nominal * factor.powf(error),
                Some(Width::Between { .. }) if error < 0.0 => {
                    nominal + number.half_width_low() * error
                }
                Some(Width::Between { .. }) => nominal + number.half_width_high() * error,
                _ => nominal + source.half_width * error,
            };
            // A resistance that is not above nothing cannot be: one draw in millions.
            if nominal == 0.0 || value * nominal > 0.0 {
                break value;
            }
        };
        changes.push(Change::Parameter { part: source.part, name: source.parameter, value });
    }
    changes
}

/// A change laid over a drawn board: the fault comes last, so that the parameter that it replaces
/// is the fault's.
pub fn laid(mut tolerances: Vec<Change>, fault: &Overlay) -> Overlay {
    tolerances.extend(fault.changes.iter().cloned());
    Overlay { changes: tolerances }
}

/// A place of a hypothesis's line, from the spread of one of its causes, which is drawn by weight;
/// nothing for a change without a value.
pub fn place(hypothesis: &Hypothesis, chance: &mut Chance) -> f64 {
    let cause = chance.pick(hypothesis.causes.iter().map(|cause| cause.weight));
    place_of(&hypothesis.causes[cause], chance)
}

pub fn place_of(cause: &Cause, chance: &mut Chance) -> f64 {
    let own = match cause.spread {
        Spread::None => return 0.0,
        Spread::At(place) => return place,
        Spread::Range { low, high, except } => loop {
            let own = low + (high - low) * chance.share();
            if except.is_none_or(|(from, to)| own < from || own > to) {
                break own;
            }
        },
    };
    cause.place(own)
}

/// Volts at every net that can be probed.
pub fn volts_round(circuit: &Circuit) -> Vec<(SetupId, Quantity, Place)> {
    round(circuit, POWERED, Quantity::Volts)
}

/// Ohms to ground at every net that can be probed, power off.
pub fn ohms_round(circuit: &Circuit) -> Vec<(SetupId, Quantity, Place)> {
    round(circuit, UNPOWERED, Quantity::Ohms)
}

fn round(circuit: &Circuit, setup: SetupId, quantity: Quantity) -> Vec<(SetupId, Quantity, Place)> {
    circuit
        .nets_by_id()
        .skip(1)
        .filter(|(net, _)| circuit.board.can_probe(*net))
        .map(|(net, _)| (setup, quantity, Place::At(Spot::Net(net))))
        .collect()
}

/// The same places with plain readings, whose values do not matter.
pub fn blank(places: &[(SetupId, Quantity, Place)], meter: Meter) -> Vec<Reading> {
    let observed = Observed::Number { value: 1.0, count: 1e-3, half_width: None };
    places
        .iter()
        .map(|&(setup, quantity, place)| Reading {
            setup,
            quantity,
            place,
            place_text: format!("{place:?}"),
            observed,
            meter,
        })
        .collect()
}

/// What the meter would show without any error of its own, in SI units.
///
/// # Errors
///
/// How the run ended in a setup that has no operating point.
pub fn shown(
    assembly: &Assembly<'_>,
    overlay: &Overlay,
    places: &[(SetupId, Quantity, Place)],
    meter: &Meter,
) -> Result<Vec<f64>, Ending> {
    let mut scenes: Vec<(SetupId, Scene<'_>)> = Vec::new();
    for &(setup, ..) in places {
        if scenes.iter().all(|(known, _)| *known != setup) {
            scenes.push((setup, Scene::new(assembly, setup, overlay, None, false)?));
        }
    }
    places
        .iter()
        .map(|&(setup, quantity, place)| {
            let (_, scene) = scenes.iter().find(|(known, _)| *known == setup).expect("a scene");
            let shown = show(scene, quantity, place, meter);
            shown.map(|shown| shown.value).ok_or(Ending::NotSettled { nets: Vec::new() })
        })
        .collect()
}

/// Readings of what the meter would show: a gain that all readings of a quantity share, counts of
/// the last digit for each, and the display's rounding, which is among the counts.
pub fn read(
    shown: &[f64],
    places: &[(SetupId, Quantity, Place)],
    meter: Meter,
    chance: &mut Chance,
    draw: Draw,
) -> Vec<Reading> {
    let gains: Vec<f64> = Quantity::ALL.iter().map(|_| draw.error(chance)).collect();
    shown
        .iter()
        .zip(places)
        .map(|(&value, &(setup, quantity, place))| {
            let accuracy = meter.accuracy(quantity);
            let number = Quantity::ALL.iter().position(|known| *known == quantity);
            let gain = gains[number.unwrap_or(0)] * accuracy.fraction;
            // The meter takes its range by what stands at its leads, and its counts are of that.
            let standing = value * (1.0 + gain);
            let count = last_digit(standing, quantity);
            let counts = match draw {
                Draw::Nominal => 0.0,
                // Rounding adds the variance of a rectangle one count wide.
                Draw::Normal => {
                    (accuracy.counts.powi(2) / 3.0 - 1.0 / 12.0).max(0.0).sqrt() * chance.normal()
                }
                Draw::Uniform | Draw::Corner => {
                    (accuracy.counts - 0.5).max(0.0) * draw.error(chance)
                }
            };
            let observed = if value.is_finite() {
                displayed(standing + counts * count, count, quantity)
            } else {
                Observed::Over
            };
            Reading { setup, quantity, place, place_text: format!("{place:?}"), observed, meter }
        })
        .collect()
}

/// What a display shows whose last digit has that weight.
fn displayed(value: f64, count: f64, quantity: Quantity) -> Observed {
    // Ohms are never negative on a display. Adding zero turns a minus nothing into nothing.
    let least = if quantity == Quantity::Ohms { 0.0 } else { f64::NEG_INFINITY };
    let value = ((value / count).round() * count).max(least) + 0.0;
    Observed::Number { value, count, half_width: None }
}
