//! What every chip has at its pins: protection diodes and pulls.

use super::junction::thermal_volts;
use super::{Branch, Fill, Junction, Law, Parameter, Values};
use crate::quantity::{Tolerance, Unit};

/// Ideality of the junctions inside a chip. Common practice, no published source.
const IDEALITY: f64 = 1.5;

/// The drop of a protection diode.
pub(super) const CLAMP_DROP: Parameter = Parameter {
    tolerance: Some(Tolerance::Absolute(0.2)),
    ..Parameter::number("clamp_drop", Unit::Volt, "the drop of its protection diodes")
        .point(Unit::Amp)
        .fill(Fill::Point(0.55, 1e-3))
};

/// A junction through a drop at a current.
pub(super) fn junction(volts: f64, amps: f64, celsius: f64) -> Junction {
    let scale = IDEALITY * thermal_volts(celsius);
    let volts = volts - 2e-3 * (celsius - 25.0);
    Junction {
        saturation: amps / (volts.max(0.1 * scale) / scale).exp_m1(),
        scale,
        series: 0.0,
        breakdown: None,
    }
}

/// A protection diode from one pin up to another.
pub(super) fn clamp(values: &Values<'_>, from: usize, to: usize) -> Branch {
    let amps = values.at("clamp_drop").filter(|amps| *amps > 0.0).unwrap_or(1e-3);
    let law = junction(values.need("clamp_drop"), amps, values.celsius);
    Branch::new(from, to, Law::curve(law))
}

/// The protection diodes from the ground pin up to every other pin.
pub(super) fn protection(values: &Values<'_>, ground: usize) -> Vec<Branch> {
    (0..values.part.pins.len())
        .filter(|pin| *pin != ground)
        .map(|pin| clamp(values, ground, pin))
        .collect()
}

/// A pull inside, if the part has it and no fault took it.
pub(super) fn pull(
    values: &Values<'_>,
    name: &'static str,
    pin: usize,
    supply: usize,
    ground: usize,
) -> Option<Branch> {
    let pull = values.part.pull(name).filter(|_| !values.is_struck(name))?;
    let value = values.need(name);
    let (from, to) = if pull.up { (supply, pin) } else { (pin, ground) };
    Some(if pull.is_current {
        let law = super::drawn::Supplied { amps: value, knee: super::drawn::KNEE, least: 1.0 };
        Branch::driven(from, to, law, &[[supply, ground]])
    } else {
        Branch::new(from, to, Law::conductance(1.0 / value))
    })
}
