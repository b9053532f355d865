//! What can go wrong: faults as data, their phrases, the list of hypotheses, their weights.
//!
//! Nothing here solves anything. [`Fault`] names one physical change in the words of a phrase such
//! as `R1 open`; [`hypotheses`] lists what a diagnosis tries.

mod assembly;
mod hypothesis;
mod list;
mod misread;
mod phrase;
mod weights;

pub use hypothesis::{Cause, Curve, Hypothesis, Mapping, Spread};
pub use list::{Evidence, hypotheses};
pub use misread::{Misread, Slip, misreads};
pub use phrase::{FORMS, parse};
pub use weights::{BUDGET, Budget, MODE_ROWS, ModeRow, mode_share};

use crate::circuit::{Change, Circuit, NetId, Overlay, PartId};
use crate::device::Mode;
use crate::quantity::{Unit, print_short};

/// What "shorted" means when no value is given, in ohms.
pub const SHORT: f64 = 10e-3;

/// One thing that went wrong. Where it carries a number, `None` stands for "some value".
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Fault {
    /// A part carries no current.
    Open(PartId),
    /// A part is joined through, by this many ohms.
    Shorted(PartId, Option<f64>),
    /// A parameter has another value, in its SI unit.
    Drifted(PartId, &'static str, Option<f64>),
    /// A leak across a part, in ohms.
    Leaky(PartId, Option<f64>),
    /// A part that should conduct well has this many ohms.
    Resistive(PartId, &'static str, Option<f64>),
    /// A part is the wrong way round.
    Reversed(PartId),
    /// A source gives nothing.
    Absent(PartId),
    /// A source gives less: its `volts` or `amps`.
    Low(PartId, &'static str, Option<f64>),
    /// A source's current limit is lower than stated, in amps.
    Limited(PartId, Option<f64>),
    /// A fault without a number, inside a chip: dead, an output stuck, a pull lost.
    Struck(PartId, &'static str),
    /// Two pins of a part are joined inside, by this many ohms.
    PinShorted(PartId, usize, usize, Option<f64>),
    /// A leak between two pins of a part, inside it, in ohms.
    PinLeaky(PartId, usize, usize, Option<f64>),
    /// The joint of a pin is open.
    JointOpen(PartId, usize),
    /// The joint of a pin has this many ohms.
    JointResistive(PartId, usize, Option<f64>),
    /// A net leaks to ground, or is shorted to it, by this many ohms.
    Leak(NetId, Option<f64>),
    /// Two nets are bridged by this many ohms.
    Bridge(NetId, NetId, Option<f64>),
    /// Two parts of one kind stand in each other's place.
    Exchanged(PartId, PartId),
    /// Every part of this one's kind and value has another value, in its SI unit: one wrong reel.
    Alike(PartId, Option<f64>),
    /// A place that should be empty holds a part.
    Fitted(PartId),
    /// The board is as it should be, the readings are not.
    Misread(Misread, Option<f64>),
}

impl Fault {
    /// The part that the fault is in, if it is in one.
    pub fn part(&self) -> Option<PartId> {
        match *self {
            Fault::Open(part)
            | Fault::Shorted(part, _)
            | Fault::Drifted(part, ..)
            | Fault::Leaky(part, _)
            | Fault::Resistive(part, ..)
            | Fault::Reversed(part)
            | Fault::Absent(part)
            | Fault::Low(part, ..)
            | Fault::Limited(part, _)
            | Fault::Struck(part, _)
            | Fault::PinShorted(part, ..)
            | Fault::PinLeaky(part, ..)
            | Fault::JointOpen(part, _)
            | Fault::JointResistive(part, ..)
            | Fault::Exchanged(part, _)
            | Fault::Alike(part, _)
            | Fault::Fitted(part) => Some(part),
            Fault::Leak(..) | Fault::Bridge(..) | Fault::Misread(..) => None,
        }
    }

    /// Whether the board is as it should be and the readings are not.
    pub fn is_misread(&self) -> bool {
        matches!(self, Fault::Misread(..))
    }

    /// The word for what happened, as scripts see it.
    pub fn failure(&self) -> &'static str {
        match self {
            Fault::Open(_) | Fault::JointOpen(..) => "open",
            Fault::Shorted(..) | Fault::PinShorted(..) => "shorted",
            Fault::Drifted(..) | Fault::Alike(..) => "drifted",
            Fault::Leaky(..) | Fault::PinLeaky(..) => "leaky",
            Fault::Struck(_, what) if Mode::is_pull(what) => "lost",
            Fault::Struck(_, what) => what,
            Fault::Resistive(..) | Fault::JointResistive(..) => "resistive",
            Fault::Reversed(_) => "reversed",
            Fault::Absent(_) => "absent",
            Fault::Low(..) => "low",
            Fault::Limited(..) => "limited",
            Fault::Leak(..) => "leak",
            Fault::Bridge(..) => "bridge",
            Fault::Exchanged(..) => "exchanged",
            Fault::Fitted(_) => "fitted",
            Fault::Misread(..) => "misread",
        }
    }

    /// The number that the fault carries, in the unit of [`Fault::unit`].
    pub fn value(&self) -> Option<f64> {
        match *self {
            Fault::Shorted(_, value)
            | Fault::Drifted(_, _, value)
            | Fault::Leaky(_, value)
            | Fault::Resistive(_, _, value)
            | Fault::Low(_, _, value)
            | Fault::Limited(_, value)
            | Fault::PinShorted(_, _, _, value)
            | Fault::PinLeaky(_, _, _, value)
            | Fault::JointResistive(_, _, value)
            | Fault::Leak(_, value)
            | Fault::Bridge(_, _, value)
            | Fault::Alike(_, value)
            | Fault::Misread(_, value) => value,
            _ => None,
        }
    }

    /// The same fault with another number, or with none.
    #[must_use]
    pub fn with_value(mut self, new: Option<f64>) -> Fault {
        match &mut self {
            Fault::Shorted(_, value)
            | Fault::Drifted(_, _, value)
            | Fault::Leaky(_, value)
            | Fault::Resistive(_, _, value)
            | Fault::Low(_, _, value)
            | Fault::Limited(_, value)
            | Fault::PinShorted(_, _, _, value)
            | Fault::PinLeaky(_, _, _, value)
            | Fault::JointResistive(_, _, value)
            | Fault::Leak(_, value)
            | Fault::Bridge(_, _, value)
            | Fault::Alike(_, value)
            | Fault::Misread(_, value) => *value = new,
            _ => {}
        }
        self
    }

    /// The same fault with its number rounded to three digits: a fitted value is never known
    /// better.
    #[must_use]
    pub fn rounded(self) -> Fault {
        let value = self.value().map(|value| {
            let scale = 10.0_f64.powi(2 - value.abs().log10().floor() as i32);
            let rounded = (value * scale).round() / scale;
            if rounded.is_finite() { rounded } else { value }
        });
        self.with_value(value)
    }

    /// The unit of the number that the fault carries.
    pub fn unit(&self, circuit: &Circuit) -> Unit {
        let parameter = |part: PartId, name: &str| {
            let rows = crate::device::of(&circuit[part]).parameters();
            rows.iter().find(|row| row.name == name).map_or(Unit::Ohm, |row| row.unit)
        };
        match *self {
            Fault::Drifted(part, name, _) | Fault::Low(part, name, _) => parameter(part, name),
            Fault::Limited(..) => Unit::Amp,
            Fault::Alike(part, _) => parameter(part, "value"),
            Fault::Misread(misread, _) => misread.unit(),
            _ => Unit::Ohm,
        }
    }

    /// The phrase without its number: `R3 drifted`.
    pub fn phrase(&self, circuit: &Circuit) -> String {
        let part = |id: PartId| circuit[id].name.as_str();
        let pin = |id: PartId, pin: usize| format!("{}.{}", part(id), circuit[id].pins[pin].name);
        let failure = self.failure();
        match *self {
            Fault::JointOpen(id, idx) | Fault::JointResistive(id, idx, _) => {
                format!("{} {failure}", pin(id, idx))
            }
            Fault::PinShorted(id, a, b, _) | Fault::PinLeaky(id, a, b, _) => {
                format!("{} {failure} to {}", pin(id, a), circuit[id].pins[b].name)
            }
            Fault::Struck(id, what) if Mode::is_pull(what) => {
                format!("{} {what} lost", part(id))
            }
            // Which of several parameters drifted is said, unless it is the part's main one.
            Fault::Drifted(id, name, _) if main_drift(circuit, id) != Some(name) => {
                format!("{} {name} drifted", part(id))
            }
            Fault::Leak(net, _) => format!("{} {failure}", circuit.net_name(net)),
            Fault::Bridge(a, b, _) => {
                format!("{} to {} {failure}", circuit.net_name(a), circuit.net_name(b))
            }
            Fault::Exchanged(a, b) => format!("{} and {} {failure}", part(a), part(b)),
            Fault::Alike(id, _) => format!("{} and alike {failure}", part(id)),
            Fault::Misread(misread, _) => misread.phrase(circuit),
            _ => match self.part() {
                Some(id) => format!("{} {failure}", part(id)),
                None => failure.to_owned(),
            },
        }
    }

    /// The whole phrase, number included: `R3 drifted 68 kΩ`.
    pub fn full_phrase(&self, circuit: &Circuit) -> String {
        let phrase = self.phrase(circuit);
        match self.value() {
            Some(value) => format!("{phrase} {}", print_short(value, self.unit(circuit))),
            None => phrase,
        }
    }

    /// The change that the fault makes. A fault that needs a number and has none gets the value it
    /// means when it is named alone: 10 mΩ for a short; `None` where there is no such value. A
    /// misreading changes nothing on the board.
    pub fn overlay(&self, circuit: &Circuit) -> Option<Overlay> {
        match *self {
            Fault::Alike(part, value) => {
                let value = value?;
                let change = |part| Change::Parameter { part, name: "value", value };
                Some(Overlay { changes: circuit.alike(part).into_iter().map(change).collect() })
            }
            Fault::Misread(..) => Some(Overlay::none()),
            _ => self.alone().map(Overlay::one),
        }
    }

    /// The change of a fault that is one change.
    fn alone(&self) -> Option<Change> {
        Some(match *self {
            Fault::Open(part) | Fault::Absent(part) => Change::Removed { part },
            Fault::Shorted(part, ohms) => Change::Across { part, ohms: ohms.unwrap_or(SHORT) },
            Fault::Drifted(part, name, value)
            | Fault::Resistive(part, name, value)
            | Fault::Low(part, name, value) => Change::Parameter { part, name, value: value? },
            Fault::Limited(part, value) => Change::Parameter { part, name: "limit", value: value? },
            Fault::Leaky(part, ohms) => Change::Across { part, ohms: ohms? },
            Fault::Struck(part, what) => Change::Struck { part, what },
            Fault::PinShorted(part, a, b, ohms) => {
                Change::Inside { part, pins: [a, b], ohms: ohms.unwrap_or(SHORT) }
            }
            Fault::PinLeaky(part, a, b, ohms) => Change::Inside { part, pins: [a, b], ohms: ohms? },
            Fault::Reversed(part) => Change::Reversed { part },
            Fault::JointOpen(part, pin) => Change::Joint { part, pin, ohms: None },
            Fault::JointResistive(part, pin, ohms) => {
                Change::Joint { part, pin, ohms: Some(ohms?) }
            }
            Fault::Leak(net, ohms) => {
                Change::Bridge { nets: [net, NetId::GROUND], ohms: ohms.unwrap_or(SHORT) }
            }
            Fault::Bridge(a, b, ohms) => {
                Change::Bridge { nets: [a, b], ohms: ohms.unwrap_or(SHORT) }
            }
            Fault::Exchanged(a, b) => Change::Exchanged { parts: [a, b] },
            Fault::Fitted(part) => Change::Fitted { part },
            Fault::Alike(..) | Fault::Misread(..) => return None,
        })
    }
}

/// The parameter that "drifted" means for a part when none is named.
fn main_drift(circuit: &Circuit, part: PartId) -> Option<&'static str> {
    let part = &circuit[part];
    crate::device::of(part).modes().iter().find_map(|mode| match mode {
        Mode::Drifted(name) if part.param(name).is_some() => Some(*name),
        _ => None,
    })
}
