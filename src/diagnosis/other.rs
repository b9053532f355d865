//! "Something else": what is not on the list, so that a list without the truth can say so.
//!
//! It predicts each reading as half the healthy prediction and half anything between zero and the
//! largest source (log-uniform for ohms), so that it never loses by more than a factor of two to
//! healthy and never by more than a prior's width to a fault.

use super::case::{Case, Prediction};
use super::fit::{Fit, ln_between};
use crate::circuit::{Circuit, Connection, Place, Quantity, Reading};
use crate::meter::Target;

/// How much rarer a value is that lies outside of what a quantity may be.
const OUTSIDE: f64 = 1e-3;

/// Natural logarithm of the evidence of "something else".
pub(super) fn other_evidence(case: &Case<'_>, healthy: Option<(&Prediction, &Fit)>) -> f64 {
    let circuit = case.assembly.circuit();
    let most = most(circuit);
    let mut total = 0.0;
    for (idx, (reading, target)) in case.readings.iter().zip(&case.targets).enumerate() {
        let (low, high) = broad(most, reading, target);
        debug_assert!(low < high && high.is_finite(), "{low} to {high}");
        let half_healthy = healthy.map(|(prediction, fit)| {
            let (mean, deviation) = (prediction.y[idx], fit.standard[idx]);
            if target.is_number() {
                let z = (target.low - mean) / deviation;
                (-0.5 * z * z).exp() / (deviation * (2.0 * std::f64::consts::PI).sqrt())
            } else {
                ln_between((target.low - mean) / deviation, (target.high - mean) / deviation).exp()
            }
        });
        let half_any = density(target, (low, high));
        total += (0.5 * half_healthy.unwrap_or(0.0) + 0.5 * half_any).ln();
    }
    total
}

/// The largest volts and amps that sources state.
fn most(circuit: &Circuit) -> (f64, f64) {
    let largest = |names: &[&str], least: f64| {
        circuit
            .parts
            .iter()
            .flat_map(|part| names.iter().filter_map(|name| part.nominal(name)))
            .chain(circuit.setups.iter().flat_map(|setup| {
                setup.connections.iter().filter_map(|connection| match connection {
                    Connection::Supply { volts, .. } => Some(*volts),
                    Connection::Link { .. } => None,
                })
            }))
            .fold(least, |largest: f64, value| largest.max(value.abs()))
    };
    (largest(&["volts", "compliance"], 1.0), largest(&["limit", "amps"], 1.0))
}

/// Where a reading may lie when nothing is known, on the scale of its target.
fn broad((volts, amps): (f64, f64), reading: &Reading, target: &Target) -> (f64, f64) {
    match reading.quantity {
        Quantity::Volts if matches!(reading.place, Place::At(_)) => (-0.05 * volts, volts),
        Quantity::Volts => (-volts, volts),
        Quantity::Amps => (-amps, amps),
        Quantity::Diode => (0.0, 1.5 * reading.meter.diode.display_max),
        Quantity::Ohms | Quantity::Beep => (target.scale.of(0.01), target.scale.of(1e9)),
        Quantity::Seen => (1e-9_f64.ln(), 10.0_f64.ln()),
    }
}

/// The density of a number, or the probability of a range, when it may lie anywhere between two
/// values.
fn density(target: &Target, (low, high): (f64, f64)) -> f64 {
    if target.is_number() {
        // Past what the sources could do even something else is rare.
        let inside = (low..=high).contains(&target.low);
        if inside { 1.0 / (high - low) } else { OUTSIDE / (high - low) }
    } else {
        ((target.high.min(high) - target.low.max(low)) / (high - low)).clamp(0.01, 1.0)
    }
}

/// The density of a reading that may be anything.
pub(super) fn broad_density(circuit: &Circuit, reading: &Reading, target: &Target) -> f64 {
    density(target, broad(most(circuit), reading, target))
}
