//! Diodes, LEDs and zeners: an exponential junction through the datasheet point, or one of the
//! approximations of the classroom.
//!
//! - `exponential`: [`Junction`]; the datasheet point fixes the saturation current, and moves by
//!   −2 mV per kelvin away from 25 °C (silicon; common practice, from memory).
//! - `ideal`: no drop at all; nothing flows backwards (a zener still holds its voltage).
//! - `constant drop`: the drop, whatever the current.
//! - `drop and slope`: the drop plus `series_resistance` times the current above the stated one.
//!
//! A zener's knee: the reverse current grows by e for every `dynamic_resistance` times the stated
//! current, which makes the slope at the stated current equal to the dynamic resistance.

use super::junction::{Breakdown, saturation_through, thermal_volts};
use super::{
    At, Branch, Curve, Fill, Junction, Kind, Law, Mode, Parameter, Problem, Range, Sample, Values,
};
use crate::circuit::Part;
use crate::quantity::Unit;

/// The current at which a drop without "at" holds for an exponential junction, in amps.
const USUAL_AMPS: f64 = 10e-3;

/// Knee of a zener whose dynamic resistance is not given, as a share of its voltage per e-fold of
/// current. Common practice, no published source.
const USUAL_KNEE: f64 = 0.02;

/// Conductance of a blocked branch made of straight lines, in siemens; see
/// `junction::REVERSE_FLOOR`.
const BLOCKED: f64 = super::junction::REVERSE_FLOOR;

/// What the kinds of this file differ in.
pub(super) struct Diode {
    name: &'static str,
    about: &'static str,
    classes: &'static [&'static str],
    rows: &'static [Parameter],
    modes: &'static [Mode],
}

const APPROXIMATIONS: &[&str] = &["exponential", "ideal", "constant drop", "drop and slope"];
const DROP: Parameter =
    Parameter::number("drop", Unit::Volt, "its forward drop, such as \"0.7 V at 10 mA\"")
        .point(Unit::Amp)
        .fill(Fill::Point(0.7, USUAL_AMPS))
        .within(0.10);
const SERIES: Parameter =
    Parameter::number("series_resistance", Unit::Ohm, "the resistance in series with the junction")
        .fill(Fill::Number(0.0))
        .range(Range::NotNegative);
const SATURATION: Parameter = Parameter::number(
    "saturation_current",
    Unit::Amp,
    "the textbook saturation current, in place of a drop",
)
.fill(Fill::Absent);
const BREAKDOWN: Parameter =
    Parameter::number("breakdown", Unit::Volt, "where it breaks down, reversed")
        .point(Unit::Amp)
        .fill(Fill::Point(75.0, 10e-6));
const APPROXIMATION: Parameter = Parameter::word(
    "approximation",
    APPROXIMATIONS,
    "exponential",
    "how it is modelled: exponential, ideal, constant drop, drop and slope",
);
const RATED: Parameter =
    Parameter::number("rated", Unit::Amp, "the most forward current").fill(Fill::Absent);

const fn ideality(usual: f64) -> Parameter {
    Parameter::number("ideality", Unit::One, "the junction's ideality").fill(Fill::Number(usual))
}

/// A diode.
pub(super) const DIODE: Diode = Diode {
    name: "diode",
    about: "a diode; pin 1 is the anode",
    classes: &["D", "CR"],
    rows: &[DROP, ideality(1.8), SERIES, SATURATION, BREAKDOWN, APPROXIMATION, RATED],
    modes: &[Mode::Open, Mode::Shorted, Mode::Leaky, Mode::Reversed, Mode::Drifted("drop")],
};

/// An LED.
pub(super) const LED: Diode = Diode {
    name: "led",
    about: "a light-emitting diode; pin 1 is the anode",
    classes: &["LED", "DS"],
    rows: &[
        DROP.fill(Fill::Absent),
        ideality(2.0),
        SERIES,
        SATURATION,
        BREAKDOWN,
        Parameter::number("lit_above", Unit::Amp, "the current above which it is seen to be lit")
            .fill(Fill::Number(0.5e-3))
            .factor(2.0),
        APPROXIMATION,
        RATED,
    ],
    modes: &[Mode::Open, Mode::Shorted, Mode::Leaky, Mode::Reversed],
};

/// A zener diode.
pub(super) const ZENER: Diode = Diode {
    name: "zener",
    about: "a zener diode; pin 1 is the anode, pin 2 the cathode",
    classes: &["ZD"],
    rows: &[
        Parameter::number("voltage", Unit::Volt, "its zener voltage, such as \"5.1 V at 20 mA\"")
            .point(Unit::Amp)
            .within(0.05),
        Parameter::number("dynamic_resistance", Unit::Ohm, "its slope at the stated current")
            .fill(Fill::Absent)
            .factor(2.0),
        DROP,
        ideality(1.8),
        SERIES,
        SATURATION,
        APPROXIMATION,
        Parameter::number("rated", Unit::Watt, "the most it may dissipate").fill(Fill::Absent),
    ],
    modes: &[Mode::Open, Mode::Shorted, Mode::Leaky, Mode::Reversed, Mode::Drifted("voltage")],
};

impl Diode {
    fn is_zener(&self) -> bool {
        self.name == "zener"
    }

    fn junction(&self, values: &Values<'_>) -> Junction {
        let thermal = thermal_volts(values.celsius);
        let scale = values.need("ideality") * thermal;
        let series = values.need("series_resistance");
        let saturation = values.get("saturation_current").unwrap_or_else(|| {
            let amps = values.at("drop").unwrap_or(USUAL_AMPS);
            saturation_through(values.need("drop") - amps * series, amps, scale, values.celsius)
        });
        let breakdown = if self.is_zener() {
            let volts = values.need("voltage");
            let amps = values.at("voltage").filter(|amps| *amps > 0.0).unwrap_or(USUAL_AMPS);
            let knee =
                values.get("dynamic_resistance").map_or(USUAL_KNEE * volts, |ohms| ohms * amps);
            Breakdown { volts, amps, scale: knee.max(thermal) }
        } else {
            let amps = values.at("breakdown").unwrap_or(10e-6);
            Breakdown { volts: values.need("breakdown"), amps, scale }
        };
        Junction { saturation, scale, series, breakdown: Some(breakdown) }
    }

    fn bent(&self, values: &Values<'_>) -> Bent {
        // A zener that states one slope only has it both ways.
        let series = Some(values.need("series_resistance"))
            .filter(|ohms| *ohms > 0.0)
            .or(values.get("dynamic_resistance"))
            .unwrap_or(f64::NAN);
        let at = values.at("drop").filter(|_| values.part.is_given("drop"));
        let reverse = self.is_zener().then(|| {
            let ohms = values.get("dynamic_resistance").unwrap_or(series);
            let amps = values.at("voltage").unwrap_or(0.0);
            (values.need("voltage") - amps * ohms, 1.0 / ohms)
        });
        Bent {
            drop: values.need("drop") - at.unwrap_or(0.0) * series,
            forward: 1.0 / series,
            reverse,
        }
    }
}

impl Kind for Diode {
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
        let name = &part.name;
        let saturation = part.nominal("saturation_current");
        if saturation.is_some() && part.is_given("drop") {
            let message = format!("`{name}` has both a `drop` and a `saturation_current`");
            return Err(Problem::new("saturation_current", message).help(
                "give the datasheet's drop, or the textbook's saturation current, not both",
            ));
        }
        if saturation.is_none() && part.param("drop").is_none() {
            let message = format!("{} `{name}` has no `drop`", self.name);
            return Err(Problem::new("drop", message).help(
                "an LED's drop depends on its colour: write for example \"2.0 V at 10 mA\"",
            ));
        }
        let series = part.nominal("series_resistance").unwrap_or(0.0);
        match part.word("approximation") {
            Some("drop and slope")
                if series <= 0.0 && part.nominal("dynamic_resistance").is_none() =>
            {
                let message = format!("`{name}` is modelled by drop and slope but has no slope");
                Err(Problem::new("approximation", message)
                    .help("give `series_resistance`, or use \"constant drop\""))
            }
            Some("exponential") if saturation.is_none() => {
                let (Some(drop), series) = (part.point("drop"), series) else { return Ok(()) };
                let at = drop.at.unwrap_or(USUAL_AMPS);
                if at <= 0.0 {
                    let message = format!("`{name}` has its drop at no current");
                    return Err(Problem::new("drop", message)
                        .help("write the current at which the datasheet states the drop"));
                }
                if drop.value.nominal <= at * series {
                    let message = format!(
                        "the series resistance of `{name}` alone drops more than its whole `drop`"
                    );
                    return Err(Problem::new("series_resistance", message));
                }
                Ok(())
            }
            _ => Ok(()),
        }
    }

    fn branches(&self, values: &Values<'_>) -> Vec<Branch> {
        let low = if self.is_zener() { -values.need("voltage") } else { f64::NEG_INFINITY };
        let law = match values.part.word("approximation") {
            Some("ideal") => Law::Clamp { low, high: 0.0 },
            Some("constant drop") => Law::Clamp { low, high: values.need("drop") },
            Some("drop and slope") => Law::curve(self.bent(values)),
            _ => Law::curve(self.junction(values)),
        };
        vec![Branch::across(law)]
    }

    fn is_polarised(&self) -> bool {
        true
    }

    fn modes(&self) -> &'static [Mode] {
        self.modes
    }

    fn state(&self, values: &Values<'_>, at: &At<'_>) -> Option<&'static str> {
        let (volts, amps) = (at.across(), at.through());
        if self.name == "led" {
            let lit = amps > values.need("lit_above");
            return Some(if lit { "lit" } else { "dark" });
        }
        // A junction that carries less than a microamp does nothing that a technician would see; a
        // Schottky's leak is more, and still no breakdown.
        let visible = amps.abs() > 1e-6;
        let holds = values.get("voltage").or(values.get("breakdown")).unwrap_or(f64::INFINITY);
        Some(match (visible, volts >= 0.0) {
            (true, true) => "conducting",
            (true, false) if volts < -0.9 * holds => "in breakdown",
            _ => "off",
        })
    }
}

/// Straight lines: blocked, then a slope from the drop on; a zener has a second slope in reverse.
#[derive(Debug, Clone, Copy)]
struct Bent {
    drop: f64,
    forward: f64,
    reverse: Option<(f64, f64)>,
}

impl Curve for Bent {
    fn at(&self, volts: f64) -> Sample {
        let (over, siemens) = match (self.segment(volts), self.reverse) {
            (Some(2), _) => (volts - self.drop, self.forward),
            (Some(0), Some((zener, siemens))) => (volts + zener, siemens),
            _ => (0.0, 0.0),
        };
        Sample { amps: over * siemens + BLOCKED * volts, siemens: siemens + BLOCKED }
    }

    fn segment(&self, volts: f64) -> Option<u8> {
        Some(match self.reverse {
            _ if volts > self.drop => 2,
            Some((zener, _)) if volts < -zener => 0,
            _ => 1,
        })
    }
}
