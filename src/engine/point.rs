//! How a run ended, and the operating point it ended in, with its own proof.

use super::{Factor, Network};
use crate::circuit::PartId;

/// Up to so many unknowns a matrix is dense: there a whole solution takes the same time both ways,
/// as `cargo bench --bench sparse` measures.
pub(super) const DENSE: usize = 64;

/// Tolerances and bounds of the solver.
#[derive(Debug, Clone, PartialEq)]
pub struct Settings {
    /// Kirchhoff's law holds at a net when the sum of its currents is within this share of the sum
    /// of their sizes ...
    pub relative: f64,
    /// ... plus this many amps.
    pub absolute_amps: f64,
    /// A step of a net is small when it is within this many volts ...
    pub step_volts: f64,
    /// ... plus this share of the net's voltage.
    pub step_relative: f64,
    /// Steps of one run of Newton's method.
    pub max_iterations: usize,
    /// The reciprocal condition number below which an answer is not believed.
    pub least_condition: f64,
    /// Up to so many unknowns matrices are dense, beyond them sparse.
    pub dense: usize,
}

impl Default for Settings {
    fn default() -> Settings {
        Settings {
            relative: 1e-9,
            absolute_amps: 1e-12,
            step_volts: 1e-9,
            step_relative: 1e-9,
            max_iterations: 60,
            least_condition: 1e-15,
            dense: DENSE,
        }
    }
}

/// The way in which an operating point was reached, from the plain to the stubborn.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Strategy {
    /// Newton's method with junction limiting.
    Newton,
    /// Newton's method with a line search, then plain.
    LineSearch,
    /// A conductance from every net to ground, taken away in steps.
    ConductanceStepping,
    /// All sources raised from zero in steps.
    SourceStepping,
    /// Every net carried along as if it had a capacitance, in growing steps of time.
    PseudoTransient,
    /// All sources raised from zero, with steps of time where an operating point vanishes on the
    /// way: the state that a board with feedback powers up in.
    Ramp,
}

impl Strategy {
    /// The name in words.
    pub fn words(self) -> &'static str {
        match self {
            Strategy::Newton => "newton",
            Strategy::LineSearch => "line search",
            Strategy::ConductanceStepping => "conductance stepping",
            Strategy::SourceStepping => "source stepping",
            Strategy::PseudoTransient => "pseudo-transient",
            Strategy::Ramp => "source ramp",
        }
    }
}

/// How a run ended. Not settling is a result, not an error: for a fault finder "this fault has no
/// operating point" says something.
#[derive(Debug, Clone, PartialEq)]
pub enum Ending {
    /// An operating point was found and checked.
    Converged {
        /// The strategy that found it.
        by: Strategy,
        /// Newton steps of all strategies together.
        iterations: usize,
    },
    /// No strategy settled.
    NotSettled {
        /// Nets (by number in the network) that still move.
        nets: Vec<usize>,
    },
    /// The equations have no single answer.
    Singular,
    /// Parts keep switching each other on and off.
    Cycling {
        /// Whether every pattern of states was tried.
        exhaustive: bool,
    },
    /// An ideal source is shorted, or ideal sources stand against each other.
    Contradiction {
        /// The elements that form the loop, as numbers in the network.
        elements: Vec<usize>,
    },
}

/// A run of the solver: how it ended, and where.
#[derive(Debug, Clone)]
pub struct Run {
    /// How it ended.
    pub ending: Ending,
    /// The operating point, when it converged.
    pub point: Option<OperatingPoint>,
}

/// Every net voltage and branch current that satisfies all equations of one network.
#[derive(Debug, Clone)]
pub struct OperatingPoint {
    /// Volts of every net of the network, ground (0 V) included.
    pub volts: Vec<f64>,
    /// Whether a net has no DC path to ground; its volts then mean nothing by themselves.
    pub floating: Vec<bool>,
    /// Amps of every element, from its first net to its second.
    pub amps: Vec<f64>,
    /// Largest sum of currents at a net, recomputed from the laws, in amps.
    pub kcl_residual: f64,
    /// The largest share of what is allowed at a net; an answer above 1 is not accepted.
    pub kcl_share: f64,
    /// Power that sources put in less power that the rest takes, in watts: zero but for rounding
    /// (Tellegen's theorem).
    pub power_imbalance: f64,
    /// Power that all elements take or give, sizes added, in watts.
    pub power_turnover: f64,
    /// Factors of the Jacobian at the point.
    pub factor: Factor,
    /// The unknowns as the factors see them: net voltages less ground, then own currents.
    pub(super) x: Vec<f64>,
}

impl OperatingPoint {
    /// Amps into each pin of a part with so many pins.
    pub fn pin_amps(&self, network: &Network, part: PartId, n_pins: usize) -> Vec<f64> {
        let mut pins = vec![0.0; n_pins];
        for (element, amps) in network.elements.iter().zip(&self.amps) {
            if let Some(origin) = element.origin.filter(|origin| origin.part == part) {
                pins[origin.pins[0]] += amps;
                pins[origin.pins[1]] -= amps;
            }
        }
        pins
    }

    /// Watts that a part takes; negative for what a source gives.
    pub fn part_watts(&self, network: &Network, part: PartId) -> f64 {
        let own = network.elements.iter().enumerate();
        let own = own.filter(|(_, one)| one.origin.is_some_and(|origin| origin.part == part));
        own.map(|(idx, _)| self.watts(network, idx)).sum()
    }

    /// Volts from one net to another.
    pub fn between(&self, red: usize, black: usize) -> f64 {
        self.volts[red] - self.volts[black]
    }

    /// Watts that the element takes; negative when it gives.
    pub fn watts(&self, network: &Network, element: usize) -> f64 {
        let branch = &network.elements[element];
        self.between(branch.from, branch.to) * self.amps[element]
    }

    /// How the volts of all unknowns answer to one amp driven into `to` and out of `from`: the
    /// port's shape. The entry of net k is at k − 1.
    pub fn shape(&self, into: usize, out_of: usize) -> Vec<f64> {
        self.factor.solve(&self.selector(into, out_of))
    }

    /// The adjoint of the voltage from `red` to `black`.
    pub fn adjoint(&self, red: usize, black: usize) -> Vec<f64> {
        self.factor.solve_transposed(&self.selector(red, black))
    }

    fn selector(&self, plus: usize, minus: usize) -> Vec<f64> {
        let mut vector = vec![0.0; self.factor.len()];
        if plus != 0 {
            vector[plus - 1] += 1.0;
        }
        if minus != 0 {
            vector[minus - 1] -= 1.0;
        }
        vector
    }

    /// What limits belief in the answer: the reciprocal condition number of the Jacobian.
    pub fn reciprocal_condition(&self) -> f64 {
        self.factor.reciprocal_condition()
    }
}
