//! A branch as a lesson writes it: between two nets, with one of a few forms of equation.

use crate::circuit::PartId;

/// The pair of nets that a voltage lies between: the first less the second.
pub type Pair = [usize; 2];

/// How the current of a branch, from its first net to its second, follows from the volts.
#[derive(Debug, Clone, PartialEq)]
pub enum Form {
    /// Nothing flows that matters.
    Open,
    /// i = v / ohms.
    Resistance {
        /// Ohms.
        ohms: f64,
    },
    /// i = (v − volts) / ohms: a voltage behind a resistance.
    Source {
        /// Volts without a current.
        volts: f64,
        /// Ohms.
        ohms: f64,
    },
    /// i is given.
    Current {
        /// Amps.
        amps: f64,
    },
    /// i = siemens · v + amps: a tangent to a curve.
    Companion {
        /// Siemens.
        siemens: f64,
        /// Amps at zero volts.
        amps: f64,
    },
    /// Volts are given, the current is whatever it takes: Σ c (v₊ − v₋) = volts + ohms · i.
    Relation {
        /// Factors and the nets of the volts they stand before.
        terms: Vec<(f64, Pair)>,
        /// Volts.
        volts: f64,
        /// Ohms; zero for most.
        ohms: f64,
    },
    /// i = Σ k · i of other branches, by their numbers.
    Ratio {
        /// Factors and numbers of branches.
        terms: Vec<(f64, usize)>,
    },
    /// i = Σ g (v₊ − v₋) + amps: a tangent to a law of several volts.
    Steered {
        /// Siemens and the nets of the volts they stand before.
        terms: Vec<(f64, Pair)>,
        /// Amps with all volts at zero.
        amps: f64,
    },
}

/// What a branch belongs to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Owner {
    /// A part of the circuit.
    Part(PartId),
    /// A meter that the lesson lays over a net.
    Meter,
    /// What the setup connects.
    Connection,
    /// What a fault puts between two nets.
    Fault,
}

/// A branch of the circuit.
#[derive(Debug, Clone, PartialEq)]
pub struct Branch {
    /// What it is called: its part, and the pins where the part has several branches.
    pub label: String,
    /// What it belongs to.
    pub owner: Owner,
    /// The number of the net that its current leaves.
    pub from: usize,
    /// The number of the net that its current flows to.
    pub to: usize,
    /// Its equation in the states that were found.
    pub form: Form,
    /// Whether its current is an unknown with an equation of its own.
    pub is_own: bool,
}

impl Form {
    /// Whether nothing flows.
    pub fn is_open(&self) -> bool {
        matches!(self, Form::Open)
    }

    /// The same with every number rounded to so many digits.
    #[must_use]
    pub fn rounded(&self, digits: usize) -> Form {
        let round = |value: f64| rounded(value, digits);
        let terms =
            |terms: &[(f64, Pair)]| terms.iter().map(|(k, pair)| (round(*k), *pair)).collect();
        match self {
            Form::Open => Form::Open,
            Form::Resistance { ohms } => Form::Resistance { ohms: round(*ohms) },
            Form::Source { volts, ohms } => {
                Form::Source { volts: round(*volts), ohms: round(*ohms) }
            }
            Form::Current { amps } => Form::Current { amps: round(*amps) },
            Form::Companion { siemens, amps } => {
                Form::Companion { siemens: round(*siemens), amps: round(*amps) }
            }
            Form::Relation { terms: list, volts, ohms } => {
                Form::Relation { terms: terms(list), volts: round(*volts), ohms: round(*ohms) }
            }
            Form::Ratio { terms: list } => {
                Form::Ratio { terms: list.iter().map(|(k, of)| (round(*k), *of)).collect() }
            }
            Form::Steered { terms: list, amps } => {
                Form::Steered { terms: terms(list), amps: round(*amps) }
            }
        }
    }
}

/// A number rounded to so many significant digits.
///
/// ```
/// assert_eq!(ohmhound::study::lesson::rounded(46_999.999_99, 6), 47_000.0);
/// ```
pub fn rounded(value: f64, digits: usize) -> f64 {
    let text = format!("{:.*e}", digits.saturating_sub(1), value);
    text.parse().unwrap_or(value)
}
