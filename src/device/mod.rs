//! The kinds of parts: parameter tables, equations, failure modes.
//!
//! Every kind is one file here and one line in [`ALL`]. A kind turns a part with its values into
//! [`Branch`]es between its pins; the engine knows branches only, never kinds.

mod bipolar;
mod capacitor;
mod chip;
mod chip_pins;
mod comparator;
mod contact;
mod current_source;
mod diode;
mod drawn;
mod drive;
mod gate;
mod junction;
mod law;
mod load;
mod mosfet;
mod opamp;
mod optocoupler;
mod platinum;
mod potentiometer;
mod regulation;
mod regulator;
mod relay;
mod resistor;
mod shunt_reference;
mod state;
mod supervisor;
mod supply;
mod switch;
mod table;
mod thermistor;

pub use chip::{DRAWS, MOST_CHIP_PINS, TO_GROUND};
pub use junction::Junction;
pub use law::{Branch, Curve, Driven, Law, Sample};
pub use load::MINIMUM_SHARE;
pub use state::{At, Condition};
pub use supply::Limited;
pub use table::{Fill, Mode, Parameter, Pins, Problem, Range, Shape, complete, two_pin, with_pins};

use crate::circuit::{Param, Part};

/// A kind of part.
pub trait Kind: Sync {
    /// The word in circuit files.
    fn name(&self) -> &'static str;

    /// What it is, in a few words.
    fn about(&self) -> &'static str;

    /// Class letters of reference designators that settle this kind.
    fn classes(&self) -> &'static [&'static str] {
        &[]
    }

    /// Its pins.
    fn pins(&self) -> Pins {
        Pins::Two
    }

    /// Its parameters.
    fn parameters(&self) -> &'static [Parameter];

    /// Rules that hold between parameters, after defaults are filled in.
    ///
    /// # Errors
    ///
    /// The first rule that does not hold, with the parameter to point at.
    fn check(&self, _part: &Part) -> Result<(), Problem> {
        Ok(())
    }

    /// Its equations: branches between its pins, at the values and the temperature given.
    fn branches(&self, values: &Values<'_>) -> Vec<Branch>;

    /// Whether it puts power into the board, so that `unpowered` disconnects it.
    fn is_source(&self) -> bool {
        false
    }

    /// Whether it can be fitted the wrong way round with effect.
    fn is_polarised(&self) -> bool {
        false
    }

    /// How it fails.
    fn modes(&self) -> &'static [Mode];

    /// The conditions that switch it on and off, walked one at a time; [`Values::is_on`] tells
    /// [`Kind::branches`] which of them hold, by their place in this list. At most eight.
    fn conditions(&self, _values: &Values<'_>) -> Vec<Condition> {
        Vec::new()
    }

    /// The pins that feed a chip and take its current back, as their names: leaks inside it go
    /// to these.
    fn rails(&self) -> Option<[&'static str; 2]> {
        None
    }

    /// The pins that it drives, as their names: what they do follows from the other pins.
    fn outputs(&self) -> &'static [&'static str] {
        &[]
    }

    /// The pins that only sense, as their names: what stands on them has to come from elsewhere, but
    /// for a pull inside whose parameter is called after the pin, such as `enable_pull`.
    fn inputs(&self) -> &'static [&'static str] {
        &[]
    }

    /// What the part is doing, in words, from the volts and amps at its pins; `None` when there
    /// is nothing to say.
    fn state(&self, _values: &Values<'_>, _at: &At<'_>) -> Option<&'static str> {
        None
    }
}

/// The list of kinds, in the order in which help shows them.
pub const ALL: &[&dyn Kind] = &[
    &resistor::Resistor,
    &contact::LINK,
    &contact::FUSE,
    &contact::CONTACT,
    &contact::Connector,
    &contact::FERRITE,
    &contact::INDUCTOR,
    &capacitor::Capacitor,
    &diode::DIODE,
    &diode::LED,
    &diode::ZENER,
    &supply::SUPPLY,
    &supply::BATTERY,
    &current_source::CurrentSource,
    &load::Load,
    &switch::Switch,
    &potentiometer::Potentiometer,
    &thermistor::Thermistor,
    &platinum::PlatinumSensor,
    &bipolar::NPN,
    &bipolar::PNP,
    &mosfet::NMOS,
    &mosfet::PMOS,
    &relay::Relay,
    &optocoupler::Optocoupler,
    &opamp::OpAmp,
    &comparator::Comparator,
    &gate::Gate,
    &shunt_reference::ShuntReference,
    &regulator::LDO,
    &regulator::BUCK,
    &regulator::BOOST,
    &supervisor::Supervisor,
    &chip::Chip,
];

/// The kind of that name.
///
/// ```
/// assert_eq!(ohmhound::device::kind("fuse").map(|kind| kind.name()), Some("fuse"));
/// assert!(ohmhound::device::kind("flux").is_none());
/// ```
pub fn kind(name: &str) -> Option<&'static dyn Kind> {
    ALL.iter().copied().find(|kind| kind.name() == name)
}

/// The name of a kind with its article, as it is spoken: an LED by its letters.
///
/// ```
/// use ohmhound::device::with_article;
///
/// assert_eq!(with_article("led"), "an led");
/// assert_eq!(with_article("npn"), "an npn");
/// assert_eq!(with_article("pnp"), "a pnp");
/// assert_eq!(with_article("inductor"), "an inductor");
/// ```
pub fn with_article(kind: &str) -> String {
    let is_spelt = matches!(kind, "led" | "npn" | "nmos" | "ldo");
    let article = if is_spelt || kind.starts_with(['a', 'e', 'i', 'o']) { "an" } else { "a" };
    format!("{article} {kind}")
}

/// The kind that the class letters of a reference designator settle, if they do.
///
/// ```
/// use ohmhound::device::kind_of_class;
///
/// assert_eq!(kind_of_class("R").map(|kind| kind.name()), Some("resistor"));
/// // A `U` may be anything.
/// assert!(kind_of_class("U").is_none());
/// ```
pub fn kind_of_class(letters: &str) -> Option<&'static dyn Kind> {
    ALL.iter().copied().find(|kind| kind.classes().contains(&letters))
}

/// The kind of a part that went through [`complete`].
pub fn of(part: &Part) -> &'static dyn Kind {
    kind(part.kind).unwrap_or(&resistor::Resistor)
}

/// Half-length of the step by which the engine differentiates a law in a parameter, as a share of
/// the parameter.
pub(crate) const PARAMETER_STEP: f64 = 1e-7;

/// The values of one part under one setup: nominal values, less what an overlay replaces.
#[derive(Debug, Clone)]
pub struct Values<'a> {
    /// The part.
    pub part: &'a Part,
    /// Values that replace the nominal ones.
    pub replaced: Vec<(&'static str, f64)>,
    /// Temperature in degrees Celsius.
    pub celsius: f64,
    /// For a switch: the position that the setup asks for, where it does.
    pub closed: Option<bool>,
    /// The conditions of the part that hold, one bit each.
    pub on: u8,
}

impl<'a> Values<'a> {
    /// The nominal values at a temperature.
    pub fn nominal(part: &'a Part, celsius: f64) -> Values<'a> {
        Values { part, replaced: Vec::new(), celsius, closed: None, on: 0 }
    }

    /// The value of a parameter that is a number or a point, in its SI unit.
    pub fn get(&self, name: &str) -> Option<f64> {
        if let Some((_, value)) = self.replaced.iter().find(|(known, _)| *known == name) {
            return Some(*value).filter(|value| !value.is_nan());
        }
        match self.part.param(name)? {
            Param::Number(number) => Some(number.nominal),
            Param::Point(point) => Some(point.value.nominal),
            Param::Pull(pull) => Some(pull.value.nominal),
            _ => None,
        }
    }

    /// The value of a parameter that the kind's table always fills in, in its SI unit.
    ///
    /// A part that skipped [`complete`] may lack it; not-a-number then shows up in the solution's
    /// own checks instead of as a wrong figure.
    pub fn need(&self, name: &str) -> f64 {
        self.get(name).unwrap_or(f64::NAN)
    }

    /// Whether the condition with that place in the kind's list holds.
    pub fn is_on(&self, condition: usize) -> bool {
        self.on & (1 << condition) != 0
    }

    /// The number of a pin, where the part has it.
    pub fn pin(&self, name: &str) -> Option<usize> {
        self.part.pin(name)
    }

    /// Whether a fault that has no number of its own is laid over the part: "dead", "stuck high",
    /// "stuck low", or the name of an internal pull that is lost.
    pub fn is_struck(&self, fault: &str) -> bool {
        self.replaced.iter().any(|(name, value)| *name == fault && value.is_nan())
    }

    /// The second figure of a point: the current that a drop is given at.
    pub fn at(&self, name: &str) -> Option<f64> {
        self.part.point(name).and_then(|point| point.at)
    }
}
