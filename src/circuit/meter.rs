//! What the meter is: how accurate, and what it does to the circuit.
//!
//! The defaults describe a hand-held digital meter. No standard fixes such figures: they are
//! common practice, no published source.

use super::Quantity;

/// Counts of a usual display.
const COUNTS: f64 = 4000.0;

/// Half-width of a reading: a share of the reading plus counts of the last digit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Accuracy {
    /// Share of the reading, as a fraction: 0.005 is 0.5 %.
    pub fraction: f64,
    /// Counts of the last digit.
    pub counts: f64,
}

/// What a voltmeter puts between its leads.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Input {
    /// A fixed resistance in ohms.
    Ohms(f64),
    /// A moving-coil meter: ohms per volt of the range in use.
    PerVolt {
        /// Ohms per volt.
        ohms_per_volt: f64,
        /// The range in volts.
        range: f64,
    },
}

impl Input {
    /// The resistance between the leads in ohms.
    pub fn ohms(self) -> f64 {
        match self {
            Input::Ohms(ohms) => ohms,
            Input::PerVolt { ohms_per_volt, range } => ohms_per_volt * range,
        }
    }
}

/// The meter on volts.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct VoltsMeter {
    /// How accurate.
    pub accuracy: Accuracy,
    /// What it puts between its leads.
    pub input: Input,
}

/// The meter on amps.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AmpsMeter {
    /// How accurate.
    pub accuracy: Accuracy,
    /// What it puts into the broken path, in ohms.
    pub resistance: f64,
}

/// The meter on ohms: a voltage behind the resistance that limits its current.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OhmsMeter {
    /// How accurate.
    pub accuracy: Accuracy,
    /// Volts at the open leads.
    pub open_volts: f64,
    /// Amps into a short.
    pub amps: f64,
    /// Resistance of the leads in ohms, which the reading contains.
    pub leads: f64,
    /// The largest resistance that it shows, in ohms.
    pub range: f64,
}

/// Which lead goes to the net when a diode reading names a bare net.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum RedOn {
    /// Red on ground, black on the net.
    Ground,
    /// Red on the net, black on ground.
    Net,
}

/// The meter on diode mode: a constant current up to its compliance.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DiodeMeter {
    /// How accurate.
    pub accuracy: Accuracy,
    /// The test current in amps.
    pub amps: f64,
    /// The most volts it can drive.
    pub compliance: f64,
    /// The most volts it shows.
    pub display_max: f64,
    /// What a bare net means; `None` when the file does not say, which is then an error.
    pub red_on: Option<RedOn>,
}

/// The meter that the readings were taken with.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Meter {
    /// On volts.
    pub volts: VoltsMeter,
    /// On amps.
    pub amps: AmpsMeter,
    /// On ohms.
    pub ohms: OhmsMeter,
    /// On diode mode.
    pub diode: DiodeMeter,
    /// Continuity: beeps below about this many ohms.
    pub beep_below: f64,
}

impl Meter {
    /// How accurate it is on a quantity; continuity and what is seen go by ohms.
    pub fn accuracy(&self, quantity: Quantity) -> Accuracy {
        match quantity {
            Quantity::Volts => self.volts.accuracy,
            Quantity::Amps => self.amps.accuracy,
            Quantity::Diode => self.diode.accuracy,
            Quantity::Ohms | Quantity::Beep | Quantity::Seen => self.ohms.accuracy,
        }
    }
}

impl Meter {
    /// The weight of the last digit that a display of four thousand counts shows of a value, in the
    /// SI unit of the quantity: never finer than a millivolt, a microamp, a tenth of an ohm. Common
    /// practice, no published source.
    ///
    /// ```
    /// use ohmhound::circuit::{Meter, Quantity};
    /// assert_eq!(Meter::count(Quantity::Ohms, 10e3), 2.5);
    /// assert_eq!(Meter::count(Quantity::Amps, 0.0), 1e-6);
    /// ```
    pub fn count(quantity: Quantity, value: f64) -> f64 {
        let finest = match quantity {
            Quantity::Volts | Quantity::Diode => 1e-3,
            Quantity::Amps | Quantity::Seen => 1e-6,
            Quantity::Ohms | Quantity::Beep => 0.1,
        };
        if value.is_finite() { (value.abs() / COUNTS).max(finest) } else { finest }
    }
}

impl Default for Meter {
    fn default() -> Meter {
        Meter {
            volts: VoltsMeter {
                accuracy: Accuracy { fraction: 0.005, counts: 2.0 },
                input: Input::Ohms(10e6),
            },
            amps: AmpsMeter { accuracy: Accuracy { fraction: 0.01, counts: 3.0 }, resistance: 0.1 },
            ohms: OhmsMeter {
                accuracy: Accuracy { fraction: 0.01, counts: 3.0 },
                open_volts: 0.5,
                amps: 0.3e-3,
                leads: 0.2,
                range: 40e6,
            },
            diode: DiodeMeter {
                accuracy: Accuracy { fraction: 0.01, counts: 3.0 },
                amps: 1e-3,
                compliance: 3.0,
                display_max: 2.0,
                red_on: None,
            },
            beep_below: 50.0,
        }
    }
}
