//! Resistors whose values are in no preferred series (IEC 60063), with what was probably meant.
//!
//! A value that is preferred is never odd: 680 Ω for 680 kΩ is for the readings to find.

use crate::circuit::Circuit;
use crate::finding::{Code, Finding};
use crate::quantity::{Series, Slip, SlipKind, Unit, print_short, slips};

/// Values in no preferred series of their tolerance.
pub(super) fn odd_values(circuit: &Circuit) -> Vec<Finding> {
    let mut found = Vec::new();
    for part in circuit.parts.iter().filter(|part| part.kind == "resistor") {
        let Some(number) = part.number("value") else { continue };
        let fraction = number.half_width_high() / number.nominal;
        let series = Series::for_tolerance(fraction);
        let meant = slips(number.nominal, series);
        let Some(help) = proposal(&meant) else { continue };
        let message = format!(
            "resistor `{}` has {}, which is not in {series:?}",
            part.name,
            print_short(number.nominal, Unit::Ohm)
        );
        found.push(Finding::warning(Code::OddValue, message).help(help));
    }
    found
}

/// The likeliest slip in words, and the nearest value beside it.
fn proposal(meant: &[Slip]) -> Option<String> {
    let value = |slip: &Slip| print_short(slip.value, Unit::Ohm);
    let first = meant.first()?;
    let nearest = meant.iter().find(|slip| slip.kind == SlipKind::Nearest);
    Some(match (first.kind, nearest) {
        (SlipKind::Nearest, _) => format!("the nearest one is {}", value(first)),
        (SlipKind::Finer, _) => {
            let percent = if first.series == Series::E192 { "0.5" } else { "1" };
            let percent = if first.series == Series::E48 { "2" } else { percent };
            format!("it is in {:?}: give its tolerance, such as {percent} %", first.series)
        }
        (kind, nearest) => {
            let said = format!("{} is in {:?}, {}", value(first), first.series, kind.words());
            match nearest {
                Some(nearest) => format!("{said}; the nearest one is {}", value(nearest)),
                None => said,
            }
        }
    })
}
