//! The value that a fault is shown with where it could have any: one that is met at the bench.
//!
//! Common practice, no published source: a short is 10 mΩ, a leak 1 kΩ, a poor contact 100 Ω; a
//! resistance drifted to twice its value, what is set inside a part by a quarter; a gain is down to a
//! tenth, a current up to ten times its own; a source gives half.

use crate::circuit::Circuit;
use crate::fault::{Cause, Fault, SHORT, Spread};

/// A leak, in ohms.
const LEAK: f64 = 1e3;
/// A poor contact, in ohms.
const POOR: f64 = 100.0;

/// The fault with a typical value; `None` where the list gives it no room for one.
pub(super) fn typical(circuit: &Circuit, cause: &Cause) -> Option<Fault> {
    let fault = cause.fault;
    let (low, high, except) = match cause.spread {
        Spread::None => return Some(fault),
        Spread::At(place) => return Some(cause.at(place).rounded()),
        Spread::Range { low, high, except } => (low, high, except),
    };
    let fits = |value: f64| {
        let place = value.ln();
        let inside = low <= place && place <= high;
        inside && except.is_none_or(|(from, to)| place < from || to < place)
    };
    let nominal = |part: crate::circuit::PartId, name: &str| {
        circuit[part].toleranced(name).map(|number| number.nominal)
    };
    // Shorts are named without a number, and mean the same.
    if fits(SHORT) && high <= 1e-9 {
        return Some(match fault {
            Fault::Leak(..) | Fault::Bridge(..) => fault.with_value(Some(SHORT)),
            _ => fault,
        });
    }
    let wanted = match fault {
        Fault::Drifted(part, name, _) => {
            let own = nominal(part, name)?;
            let factors = match name {
                "value" => [2.0, 0.5],
                "gain" => [0.1, 10.0],
                _ => [1.25, 10.0],
            };
            factors.into_iter().map(|factor| factor * own).find(|value| fits(*value))
        }
        Fault::Low(part, name, _) => nominal(part, name).map(|own| 0.5 * own),
        Fault::Limited(part, _) => nominal(part, "limit").map(|own| 0.1 * own),
        Fault::Alike(part, _) => nominal(part, "value").map(|own| 2.0 * own),
        Fault::Resistive(..) | Fault::JointResistive(..) => Some(POOR),
        _ => Some(LEAK),
    };
    let middle = (0.5 * (low + high)).exp();
    let value = wanted.filter(|value| fits(*value)).unwrap_or(middle);
    Some(fault.with_value(Some(value)).rounded())
}
