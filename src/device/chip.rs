//! Chip: a chip of which only the pins matter.
//!
//! Each pin may have a resistance to the ground pin (`to_ground`), a current that it draws to the
//! ground pin (`draws`: constant above the stated volts, ohmic below them), and a protection diode
//! up to a supply pin (`clamp_to`). From the ground pin a protection diode leads up to every other
//! pin, which is what a diode-mode reading sees. What happens between pins inside is not known, so
//! that no pin drives another.

use super::chip_pins::{self, CLAMP_DROP};
use super::load::Drawn;
use super::{Branch, Fill, Kind, Law, Mode, Parameter, Pins, Problem, Values};
use crate::circuit::Part;
use crate::quantity::Unit;

/// The most pins of a chip of which only the pins matter.
pub const MOST_CHIP_PINS: usize = 32;

/// Volts up to which a current that is drawn "from zero on" is ohmic. Common practice, no published
/// source.
const FROM_ZERO: f64 = 0.1;

/// The names of one parameter for every pin.
macro_rules! per_pin {
    ($what:literal) => {
        per_pin!($what; 1 2 3 4 5 6 7 8 9 10 11 12 13 14 15 16 17 18 19 20 21 22 23 24 25 26 27 28
            29 30 31 32)
    };
    ($what:literal; $($number:literal)*) => { [$(concat!($what, " of pin ", $number)),*] };
}

/// The names of the parameters that hold the resistance of each pin to ground, in ohms.
pub const TO_GROUND: [&str; MOST_CHIP_PINS] = per_pin!("to_ground");

/// The names of the parameters that hold the current that each pin draws, in amps.
pub const DRAWS: [&str; MOST_CHIP_PINS] = per_pin!("draws");

/// The tolerance of 30 % is common practice, no published source.
const ROWS: [Parameter; 2 * MOST_CHIP_PINS + 1] = {
    let mut rows = [CLAMP_DROP; 2 * MOST_CHIP_PINS + 1];
    let mut pin = 0;
    while pin < MOST_CHIP_PINS {
        rows[2 * pin + 1] =
            Parameter::number(TO_GROUND[pin], Unit::Ohm, "the resistance of a pin to ground")
                .fill(Fill::Absent)
                .within(0.30);
        rows[2 * pin + 2] =
            Parameter::number(DRAWS[pin], Unit::Amp, "the current that a pin draws to ground")
                .fill(Fill::Absent)
                .within(0.30);
        pin += 1;
    }
    rows
};

/// A chip of which only the pins matter.
pub(super) struct Chip;

impl Kind for Chip {
    fn name(&self) -> &'static str {
        "chip"
    }

    fn about(&self) -> &'static str {
        "a chip of which only the pins matter"
    }

    fn pins(&self) -> Pins {
        Pins::Chip
    }

    fn parameters(&self) -> &'static [Parameter] {
        &ROWS
    }

    fn check(&self, part: &Part) -> Result<(), Problem> {
        let name = &part.name;
        if part.pins.len() > MOST_CHIP_PINS {
            let count = part.pins.len();
            let message = format!("chip `{name}` has {count} pins, more than {MOST_CHIP_PINS}");
            return Err(Problem::new("pins", message));
        }
        for row in TO_GROUND {
            super::law::within_span(part, row)?;
        }
        let uses_ground = TO_GROUND.into_iter().chain(DRAWS).find(|row| part.param(row).is_some());
        let clamped = part.chip.iter().any(|pin| pin.clamp_to.is_some());
        if part.pin("ground").is_none() && (uses_ground.is_some() || clamped) {
            let message = format!("chip `{name}` has no pin `ground`");
            return Err(Problem::new(uses_ground.unwrap_or("pins"), message)
                .help("`to_ground`, `draws` and `clamp_to` need the pin that all of them end at"));
        }
        Ok(())
    }

    fn branches(&self, values: &Values<'_>) -> Vec<Branch> {
        let Some(ground) = values.pin("ground") else { return Vec::new() };
        let part = values.part;
        let mut branches = chip_pins::protection(values, ground);
        for (pin, known) in part.chip.iter().enumerate().take(part.pins.len().min(MOST_CHIP_PINS)) {
            if let Some(supply) = known.clamp_to.filter(|supply| *supply < part.pins.len()) {
                branches.push(chip_pins::clamp(values, pin, supply));
            }
            if pin == ground {
                continue;
            }
            if let Some(ohms) = values.get(TO_GROUND[pin]) {
                branches.push(Branch::new(pin, ground, Law::conductance(1.0 / ohms)));
            }
            if let Some(amps) = values.get(DRAWS[pin])
                && !values.is_struck("dead")
            {
                let minimum = known.draws_above.unwrap_or(FROM_ZERO);
                let law = Law::curve(Drawn { amps, watts: 0.0, minimum });
                branches.push(Branch::new(pin, ground, law));
            }
        }
        branches
    }

    fn modes(&self) -> &'static [Mode] {
        &[Mode::Dead, Mode::PinLeaky]
    }

    fn rails(&self) -> Option<[&'static str; 2]> {
        Some(["supply", "ground"])
    }
}
