//! Parts, their pins and their parameters.

use super::NetId;
use crate::quantity::{Point, Toleranced};

/// A part of a circuit, by its place in [`super::Circuit::parts`].
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct PartId(pub u32);

impl PartId {
    /// The place in a list with one entry per part.
    pub fn index(self) -> usize {
        self.0 as usize
    }
}

/// Where a part meets a net.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Pin {
    /// The pin's name; `1` and `2` for parts with two pins.
    pub name: String,
    /// The net it is drawn on.
    pub net: NetId,
}

/// The value of one parameter.
#[derive(Debug, Clone, PartialEq)]
pub enum Param {
    /// A number with its tolerance, in the SI unit that the kind's table names.
    Number(Toleranced),
    /// A number that holds at a stated other number, such as a drop at a current.
    Point(Point),
    /// A pull inside a chip: towards its supply or towards its ground, by a resistance or a
    /// current.
    Pull(Pull),
    /// A word out of a list.
    Word(String),
    /// Yes or no.
    Flag(bool),
}

/// A pull inside a chip.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pull {
    /// Towards the supply pin; otherwise towards the ground pin.
    pub up: bool,
    /// Whether the value is a current in amps; otherwise a resistance in ohms.
    pub is_current: bool,
    /// Its size.
    pub value: Toleranced,
}

/// What is known of one pin of a chip of which only the pins matter, beyond its net.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct ChipPin {
    /// Whether a junction leads from the pin up to this pin, by number.
    pub clamp_to: Option<usize>,
    /// Volts above which the pin draws its current; `None` for from zero on.
    pub draws_above: Option<f64>,
}

/// A component with a reference designator.
#[derive(Debug, Clone)]
pub struct Part {
    /// The reference designator, such as `R12`.
    pub name: String,
    /// The name of its kind; `device::kind` finds the kind itself.
    pub kind: &'static str,
    /// Its pins, in the kind's order.
    pub pins: Vec<Pin>,
    /// Its parameters, every one that is given or has a default, in the order of the kind's table.
    pub params: Vec<(&'static str, Param)>,
    /// Names of the parameters that were not given: their defaults apply.
    pub defaulted: Vec<&'static str>,
    /// Names of the parameters whose tolerance was not given: the usual one applies.
    pub usual: Vec<&'static str>,
    /// For a chip of which only the pins matter: what is known of each pin, in order of the pins.
    pub chip: Vec<ChipPin>,
    /// Pins, by number, with the most volts that each may see against the part's ground pin, or
    /// against ground where it has none.
    pub maximum: Vec<(usize, f64)>,
    /// False for a place on the board that should stay empty.
    pub fitted: bool,
}

impl Part {
    /// A parameter that is a number.
    pub fn number(&self, name: &str) -> Option<&Toleranced> {
        match self.param(name)? {
            Param::Number(number) => Some(number),
            _ => None,
        }
    }

    /// The nominal value of a parameter that is a number, in its SI unit.
    pub fn nominal(&self, name: &str) -> Option<f64> {
        self.number(name).map(|number| number.nominal)
    }

    /// A parameter that is a point.
    pub fn point(&self, name: &str) -> Option<&Point> {
        match self.param(name)? {
            Param::Point(point) => Some(point),
            _ => None,
        }
    }

    /// A parameter that is a pull.
    pub fn pull(&self, name: &str) -> Option<&Pull> {
        match self.param(name)? {
            Param::Pull(pull) => Some(pull),
            _ => None,
        }
    }

    /// A parameter that is a number, a point or a pull: the number with its tolerance.
    pub fn toleranced(&self, name: &str) -> Option<&Toleranced> {
        match self.param(name)? {
            Param::Number(number) => Some(number),
            Param::Point(point) => Some(&point.value),
            Param::Pull(pull) => Some(&pull.value),
            _ => None,
        }
    }

    /// A parameter that is a word.
    pub fn word(&self, name: &str) -> Option<&str> {
        match self.param(name)? {
            Param::Word(word) => Some(word),
            _ => None,
        }
    }

    /// A parameter that is yes or no; no when it is absent.
    pub fn flag(&self, name: &str) -> bool {
        matches!(self.param(name), Some(Param::Flag(true)))
    }

    /// A parameter, whatever it is.
    pub fn param(&self, name: &str) -> Option<&Param> {
        self.params.iter().find(|(known, _)| *known == name).map(|(_, param)| param)
    }

    /// Whether a parameter stands in the file, and not by its default.
    pub fn is_given(&self, name: &str) -> bool {
        self.param(name).is_some() && !self.defaulted.contains(&name)
    }

    /// The number of a pin.
    pub fn pin(&self, name: &str) -> Option<usize> {
        self.pins.iter().position(|pin| pin.name == name)
    }

    /// Whether it has exactly two pins, so that it can be read across.
    pub fn is_two_pin(&self) -> bool {
        self.pins.len() == 2
    }
}
