//! Changes laid over a circuit without rewriting it: faults, and what a meter adds.

use super::{NetId, PartId};

/// One physical change.
#[derive(Debug, Clone, PartialEq)]
pub enum Change {
    /// The part carries no current at all.
    Removed {
        /// The part.
        part: PartId,
    },
    /// A resistance across the pins 1 and 2 of the part, beside what the part does itself.
    Across {
        /// The part.
        part: PartId,
        /// Ohms.
        ohms: f64,
    },
    /// A parameter has another value, and no tolerance any more.
    Parameter {
        /// The part.
        part: PartId,
        /// The parameter's name.
        name: &'static str,
        /// The value, in the parameter's SI unit.
        value: f64,
    },
    /// A fault of a chip that has no number: it is dead, an output is stuck, a pull inside is lost.
    Struck {
        /// The part.
        part: PartId,
        /// What is wrong, as the part's kind calls it.
        what: &'static str,
    },
    /// A resistance between two pins of a part, inside it.
    Inside {
        /// The part.
        part: PartId,
        /// The numbers of the two pins.
        pins: [usize; 2],
        /// Ohms.
        ohms: f64,
    },
    /// The part with two pins is fitted the wrong way round.
    Reversed {
        /// The part.
        part: PartId,
    },
    /// The joint of one pin is open, or has a resistance.
    Joint {
        /// The part.
        part: PartId,
        /// The pin's number.
        pin: usize,
        /// Ohms; `None` for an open joint.
        ohms: Option<f64>,
    },
    /// A resistance between two nets.
    Bridge {
        /// The two nets.
        nets: [NetId; 2],
        /// Ohms.
        ohms: f64,
    },
    /// Two parts of one kind have each other's parameters.
    Exchanged {
        /// The two parts.
        parts: [PartId; 2],
    },
    /// A place that should be empty holds a part with its drawn parameters.
    Fitted {
        /// The part.
        part: PartId,
    },
}

/// Everything that is different from the circuit as drawn. Empty for a healthy board.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Overlay {
    /// The changes, all in force together.
    pub changes: Vec<Change>,
}

impl Overlay {
    /// No change.
    pub fn none() -> Overlay {
        Overlay::default()
    }

    /// One change.
    pub fn one(change: Change) -> Overlay {
        Overlay { changes: vec![change] }
    }
}

impl Change {
    /// The parts that the change replaces something of.
    pub fn parts(&self) -> Vec<PartId> {
        match *self {
            Change::Removed { part }
            | Change::Across { part, .. }
            | Change::Parameter { part, .. }
            | Change::Struck { part, .. }
            | Change::Inside { part, .. }
            | Change::Reversed { part }
            | Change::Joint { part, .. }
            | Change::Fitted { part } => vec![part],
            Change::Exchanged { parts } => parts.to_vec(),
            Change::Bridge { .. } => Vec::new(),
        }
    }
}
