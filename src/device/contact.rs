//! Links, fuses, contacts, connectors, beads and coils: i = v / R with a small R (Ohm's law), in
//! amps, volts and ohms. Nothing trips, saturates or heats.
//!
//! The default of 20 mΩ for a zero-ohm link is the most that makers state for leaded links; chip
//! links go up to 50 mΩ (makers' data, read second hand). A coil's or bead's `value` is its
//! inductance or its impedance at a high frequency: it is kept for the reader and never used.

use super::{Branch, Fill, Kind, Law, Mode, Parameter, Pins, Problem, Values};
use crate::circuit::Part;
use crate::quantity::Unit;

/// A part with two pins and a small resistance.
pub(super) struct Small {
    name: &'static str,
    about: &'static str,
    classes: &'static [&'static str],
    rows: &'static [Parameter],
    modes: &'static [Mode],
}

const RESISTANCE: Parameter =
    Parameter::number("resistance", Unit::Ohm, "its resistance when good")
        .fill(Fill::Number(20e-3))
        .factor(2.0);
const RATED: Parameter =
    Parameter::number("rated", Unit::Amp, "the most current it may carry").fill(Fill::Absent);
const SMALL_ROWS: &[Parameter] = &[RESISTANCE, RATED];
const COIL_RESISTANCE: Parameter =
    Parameter::number("resistance", Unit::Ohm, "the resistance of its wire")
        .fill(Fill::Number(50e-3))
        .factor(2.0);

/// A zero-ohm link or a wire.
pub(super) const LINK: Small = Small {
    name: "link",
    about: "a zero-ohm link, a jumper or a piece of wire",
    classes: &["W", "JP"],
    rows: SMALL_ROWS,
    modes: &[Mode::Open, Mode::Resistive("resistance")],
};

/// A fuse.
pub(super) const FUSE: Small = Small {
    name: "fuse",
    about: "a fuse",
    classes: &["F", "FU"],
    rows: SMALL_ROWS,
    modes: &[Mode::Open, Mode::Resistive("resistance")],
};

/// A closed contact in a loop.
pub(super) const CONTACT: Small = Small {
    name: "contact",
    about: "a contact that is closed when good, such as a door contact in a loop",
    classes: &[],
    rows: SMALL_ROWS,
    modes: &[Mode::Open, Mode::Resistive("resistance")],
};

/// A ferrite bead.
pub(super) const FERRITE: Small = Small {
    name: "ferrite",
    about: "a ferrite bead",
    classes: &["FB", "E"],
    rows: &[
        COIL_RESISTANCE,
        RATED,
        Parameter::number("value", Unit::Ohm, "its impedance at high frequency; not used")
            .fill(Fill::Absent),
    ],
    modes: &[Mode::Open, Mode::Resistive("resistance")],
};

/// A coil.
pub(super) const INDUCTOR: Small = Small {
    name: "inductor",
    about: "a coil or choke",
    classes: &["L"],
    rows: &[
        COIL_RESISTANCE,
        RATED,
        Parameter::number("value", Unit::Henry, "its inductance; not used").fill(Fill::Absent),
    ],
    modes: &[Mode::Open, Mode::Shorted, Mode::Resistive("resistance")],
};

impl Kind for Small {
    fn name(&self) -> &'static str {
        self.name
    }

    fn about(&self) -> &'static str {
        self.about
    }

    fn classes(&self) -> &'static [&'static str] {
        self.classes
    }

    fn parameters(&self) -> &'static [Parameter] {
        self.rows
    }

    fn check(&self, part: &Part) -> Result<(), Problem> {
        super::law::within_span(part, "resistance")
    }

    fn branches(&self, values: &Values<'_>) -> Vec<Branch> {
        vec![Branch::across(Law::conductance(1.0 / values.need("resistance")))]
    }

    fn modes(&self) -> &'static [Mode] {
        self.modes
    }
}

/// A connector: one contact between two nets, or several, each with its own pair of pins.
///
/// Contact `1` has the pins `1` and `1 far`; a joint fault on pin `1` breaks that contact alone.
pub(super) struct Connector;

impl Kind for Connector {
    fn name(&self) -> &'static str {
        "connector"
    }

    fn about(&self) -> &'static str {
        "a connector; every contact has the resistance"
    }

    fn pins(&self) -> Pins {
        Pins::Contacts
    }

    fn parameters(&self) -> &'static [Parameter] {
        SMALL_ROWS
    }

    fn check(&self, part: &Part) -> Result<(), Problem> {
        super::law::within_span(part, "resistance")
    }

    fn branches(&self, values: &Values<'_>) -> Vec<Branch> {
        let siemens = 1.0 / values.need("resistance");
        (0..values.part.pins.len() / 2)
            .map(|contact| Branch::new(2 * contact, 2 * contact + 1, Law::conductance(siemens)))
            .collect()
    }

    fn modes(&self) -> &'static [Mode] {
        &[Mode::Open, Mode::Resistive("resistance")]
    }
}
