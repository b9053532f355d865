//! A reading as a target that predictions are compared with: a number with the meter's
//! uncertainty, or a range.

use crate::circuit::{Circuit, Observed, Part, Place, Quantity, Reading, Sight};

/// How a quantity is compared.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Scale {
    /// As it is.
    Plain,
    /// By its natural logarithm.
    Log,
    /// By the natural logarithm of the value and this much more, in the SI unit: a display of
    /// 0.0 Ω is off by counts, not by factors.
    LogAbove(f64),
}

impl Scale {
    /// The smallest value that the logarithm is taken of: far below what any meter shows.
    const LEAST: f64 = 1e-15;
    /// The largest value that the logarithm is taken of: far above what any meter shows.
    const MOST: f64 = 1e15;

    /// The value on this scale.
    pub fn of(self, value: f64) -> f64 {
        match self {
            Scale::Plain => value,
            Scale::Log => value.clamp(Scale::LEAST, Scale::MOST).ln(),
            Scale::LogAbove(more) => (value.clamp(0.0, Scale::MOST) + more).ln(),
        }
    }

    /// The value at a place of this scale: the other way round.
    ///
    /// ```
    /// use ohmhound::meter::Scale;
    /// for scale in [Scale::Plain, Scale::Log, Scale::LogAbove(0.5)] {
    ///     assert!((scale.value(scale.of(47.0)) - 47.0).abs() < 1e-9);
    /// }
    /// ```
    pub fn value(self, place: f64) -> f64 {
        match self {
            Scale::Plain => place,
            Scale::Log => place.exp(),
            Scale::LogAbove(more) => place.exp() - more,
        }
    }

    /// How much the scale stretches a small change at a value.
    pub fn slope(self, value: f64) -> f64 {
        match self {
            Scale::Plain => 1.0,
            Scale::Log => 1.0 / value.clamp(Scale::LEAST, Scale::MOST),
            Scale::LogAbove(more) => 1.0 / (value.clamp(0.0, Scale::MOST) + more),
        }
    }
}

/// What was observed, on the scale it is compared on.
#[derive(Debug, Clone, PartialEq)]
pub struct Target {
    /// The scale.
    pub scale: Scale,
    /// The least and the most that fit; equal for a number.
    pub low: f64,
    /// The most that fits.
    pub high: f64,
    /// One standard uncertainty that the reading has for itself: counts, a stated half-width, or
    /// the fuzziness of an eye.
    pub own: f64,
    /// One standard uncertainty that it shares with all readings of its quantity: the meter's gain.
    pub gain: f64,
}

/// Up to this many half-widths of its counts a reading is compared as it is, and by its logarithm
/// far above them.
const PLAIN_UP_TO: f64 = 10.0;

/// A range is open to this side.
const OPEN: f64 = f64::INFINITY;

/// An LED is called dark and a part hot within a factor of two of the stated figure. Common
/// practice, no published source.
const EYE: f64 = std::f64::consts::LN_2;

/// Watts above which a part is felt to be hot. Common practice, no published source.
const HOT_WATTS: f64 = 0.25;

impl Target {
    /// The target of a reading.
    pub fn new(circuit: &Circuit, reading: &Reading) -> Target {
        let root = 3.0_f64.sqrt();
        let meter = &reading.meter;
        let accuracy = meter.accuracy(reading.quantity);
        let scale = match reading.quantity {
            Quantity::Volts | Quantity::Amps | Quantity::Diode => Scale::Plain,
            Quantity::Ohms | Quantity::Beep | Quantity::Seen => Scale::Log,
        };
        let range = |low: f64, high: f64, own: f64| Target {
            scale,
            low: if low == -OPEN { -OPEN } else { scale.of(low) },
            high: if high == OPEN { OPEN } else { scale.of(high) },
            own,
            gain: 0.0,
        };
        // A limit that the person read off has the meter's own accuracy.
        let fuzzy = |value: f64| {
            accuracy.fraction * if scale == Scale::Log { 1.0 } else { value.abs() } / root
        };
        match reading.observed {
            Observed::Number { value, count, half_width } => {
                let scale = match scale {
                    Scale::Plain => scale,
                    _ => {
                        let counts = half_width.unwrap_or(accuracy.counts * count);
                        Scale::LogAbove(PLAIN_UP_TO * counts.max(Scale::LEAST))
                    }
                };
                let slope = scale.slope(value);
                let (own, gain) = match half_width {
                    Some(half_width) => (half_width * slope / root, 0.0),
                    None => (
                        accuracy.counts * count * slope / root,
                        accuracy.fraction * value.abs() * slope / root,
                    ),
                };
                Target { scale, low: scale.of(value), high: scale.of(value), own, gain }
            }
            Observed::Between { low, high } => range(low, high, fuzzy(high)),
            Observed::Below(high) => range(-OPEN, high, fuzzy(high)),
            Observed::Above(low) => range(low, OPEN, fuzzy(low)),
            Observed::Over => {
                let most = match reading.quantity {
                    Quantity::Ohms => meter.ohms.range,
                    Quantity::Diode => meter.diode.display_max,
                    // The usual end of a hand-held meter's ranges (common practice, no published
                    // source).
                    Quantity::Amps => 10.0,
                    _ => 1000.0,
                };
                range(most, OPEN, fuzzy(most))
            }
            Observed::Beep(true) => range(-OPEN, meter.beep_below, EYE / root),
            Observed::Beep(false) => range(meter.beep_below, OPEN, EYE / root),
            Observed::Sight(sight) => {
                let part = match reading.place {
                    Place::Part(part) => Some(&circuit[part]),
                    _ => None,
                };
                match sight {
                    Sight::Lit | Sight::Dark => {
                        let amps = part.map_or(LIT_ABOVE, lit_above);
                        if sight == Sight::Lit {
                            range(amps, OPEN, EYE / root)
                        } else {
                            range(-OPEN, amps, EYE / root)
                        }
                    }
                    Sight::Hot => {
                        let rated = part
                            .filter(|part| part.kind == "resistor" || part.kind == "zener")
                            .and_then(|part| part.nominal("rated"));
                        let watts = rated.map_or(HOT_WATTS, |rated| HOT_WATTS.min(rated / 2.0));
                        range(watts, OPEN, EYE / root)
                    }
                }
            }
        }
    }

    /// Whether it is a number and not a range.
    pub fn is_number(&self) -> bool {
        self.low == self.high
    }

    /// Which way the meter's gain moves the reading: one that reads high reads a negative value
    /// further down.
    pub(crate) fn sign(&self) -> f64 {
        if self.scale == Scale::Plain { self.low.signum() } else { 1.0 }
    }

    /// One standard uncertainty of the reading itself, gain and counts together.
    pub fn standard(&self) -> f64 {
        self.own.hypot(self.gain)
    }
}

/// The amps above which an LED is seen to be lit, where its file does not say. Common practice, no
/// published source.
const LIT_ABOVE: f64 = 5e-4;

/// The amps above which an LED is seen to be lit.
pub fn lit_above(part: &Part) -> f64 {
    part.nominal("lit_above").unwrap_or(LIT_ABOVE)
}
