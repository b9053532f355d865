//! What every chip has at its pins: protection diodes and pulls.
//!
//! A protection diode is an exponential junction through its drop, i = Is (exp(v / s) − 1), with s
//! 1.5 times the thermal voltage. From the ground pin one leads up to every other pin, the supply
//! pin included: that is what a diode-mode reading sees on a board without power. From a pin up to
//! the supply one leads only where the kind says so.
//!
//! A pull by a resistance is there with power or without; one by a current needs the supply.

use super::drawn::{KNEE, Supplied};
use super::{Branch, Fill, Junction, Law, Parameter, Values};
use crate::quantity::{Tolerance, Unit};

/// Ideality of the junctions inside a chip. Common practice, no published source.
const IDEALITY: f64 = 1.5;

/// The current at which a drop without "at" holds, in amps.
const USUAL_AMPS: f64 = 1e-3;

/// Volts of supply at which a pull by a current is there in full. Common practice, no published
/// source.
const PULL_SUPPLY: f64 = 1.0;

/// The drop of the protection diodes: 0.55 V ± 0.2 V at 1 mA. Common practice, no published source.
pub(super) const CLAMP_DROP: Parameter = Parameter {
    tolerance: Some(Tolerance::Absolute(0.2)),
    ..Parameter::number("clamp_drop", Unit::Volt, "the drop of its protection diodes")
        .point(Unit::Amp)
        .fill(Fill::Point(0.55, USUAL_AMPS))
};

/// A junction inside a chip through a drop at a current, both at 25 °C.
pub(super) fn junction(volts: f64, amps: f64, celsius: f64) -> Junction {
    Junction::through(volts, amps, IDEALITY, celsius)
}

/// A protection diode from one pin up to another.
pub(super) fn clamp(values: &Values<'_>, from: usize, to: usize) -> Branch {
    let amps = values.at("clamp_drop").filter(|amps| *amps > 0.0).unwrap_or(USUAL_AMPS);
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

/// What a chip takes from its supply for itself, in full from `least` volts of it on; nothing
/// where the part states none.
pub(super) fn quiescent(
    values: &Values<'_>,
    supply: usize,
    ground: usize,
    least: f64,
) -> Option<Branch> {
    let law = Supplied { amps: values.get("quiescent")?, knee: least, least };
    Some(Branch::driven(supply, ground, law, &[[supply, ground]]))
}

/// The pull of that name at a pin; nothing where the part has none, or a fault took it.
pub(super) fn pull(
    values: &Values<'_>,
    name: &'static str,
    pin: usize,
    supply: usize,
    ground: usize,
) -> Option<Branch> {
    let pull = values.part.pull(name).filter(|_| !values.is_struck(name))?;
    let size = values.need(name);
    let (from, to) = if pull.up { (supply, pin) } else { (pin, ground) };
    Some(if pull.is_current {
        let law = Supplied { amps: size, knee: KNEE, least: PULL_SUPPLY };
        Branch::driven(from, to, law, &[[supply, ground]])
    } else {
        Branch::new(from, to, Law::conductance(1.0 / size))
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::device::Curve;

    #[test]
    fn a_junction_goes_through_its_point() {
        for (volts, amps) in [(0.55, 1e-3), (0.6, 10e-3), (0.4, 0.1)] {
            let found = junction(volts, amps, 25.0).at(volts).amps;
            approx::assert_relative_eq!(found, amps, max_relative = 1e-12);
        }
        // 50 K hotter, the same current flows at 0.1 V less.
        let hot = junction(0.55, 1e-3, 75.0).at(0.45).amps;
        approx::assert_relative_eq!(hot, 1e-3, max_relative = 1e-12);
    }
}
