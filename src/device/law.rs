//! What a branch does: the laws that the engine puts into its equations.

use std::fmt::Debug;
use std::sync::Arc;

/// Current and slope of a branch at a voltage.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sample {
    /// Amps from the branch's first end to its second.
    pub amps: f64,
    /// Derivative of the amps by the volts, in siemens.
    pub siemens: f64,
}

impl Sample {
    /// No current at any voltage.
    pub const NOTHING: Sample = Sample { amps: 0.0, siemens: 0.0 };
}

/// A law i = f(v) with v the volts from the first end to the second, continuous and finite for
/// every finite v.
pub trait Curve: Debug + Send + Sync {
    /// Current and slope at `volts`.
    fn at(&self, volts: f64) -> Sample;

    /// The voltage that Newton's method takes first, when nothing is known: where the law is as it
    /// is on a healthy board.
    fn first(&self) -> f64 {
        0.0
    }

    /// A voltage between `old` and `new` from which Newton's method may safely go on; `new` where
    /// the law is tame.
    fn limit(&self, new: f64, _old: f64) -> f64 {
        new
    }

    /// The number of the straight segment that `volts` lies on, for laws made of straight lines.
    fn segment(&self, _volts: f64) -> Option<u8> {
        None
    }
}

/// A law i = f(v₀, v₁, ..) with v₀ the volts across the branch itself and the rest volts between
/// other pins of the part ([`Branch::senses`]); continuous and finite for all finite volts.
///
/// Laws with straight pieces tell them apart by [`Driven::segment`]; the engine then never leaps
/// over a piece, however narrow it is, so that a stage with a high gain settles.
pub trait Driven: Debug + Send + Sync {
    /// Amps from the branch's first end to its second; `slopes` takes the derivative by each of
    /// `volts`, in siemens, in the same order.
    fn at(&self, volts: &[f64], slopes: &mut [f64]) -> f64;

    /// The volts that Newton's method takes first, when nothing is known: `volts` comes in as
    /// zeros.
    fn first(&self, _volts: &mut [f64]) {}

    /// Moves `new` towards `old`, to where Newton's method may safely go on.
    fn limit(&self, _new: &mut [f64], _old: &[f64]) {}

    /// The number of the piece that `volts` lies on, for laws made of pieces: no two pieces share
    /// one.
    fn segment(&self, _volts: &[f64]) -> Option<u32> {
        None
    }

    /// Takes slopes away that would send a walk from afar in the wrong direction: those of a
    /// current that falls when its voltage rises.
    fn tame(&self, _volts: &[f64], _slopes: &mut [f64]) {}

    /// Whether a rise of what it senses there, by its place among the senses, pushes its own output
    /// up: fed back, such a stage may hold itself in one of two states.
    fn raised_by(&self, _sense: usize) -> bool {
        false
    }

    /// Whether it holds the net that it flows to at a voltage, so that signals end there.
    fn holds(&self) -> bool {
        false
    }

    /// Whether it can make a small change a larger one in another part: two such parts may hold
    /// each other in one of several states.
    fn amplifies(&self) -> bool {
        true
    }
}

/// What relates a branch's current to its voltage.
#[derive(Debug, Clone)]
pub enum Law {
    /// A straight line, i = siemens · v + amps: a resistance, or a source behind one.
    Line {
        /// Slope in siemens.
        siemens: f64,
        /// Current at zero volts, in amps.
        amps: f64,
    },
    /// A continuous law i = f(v).
    Curve(Arc<dyn Curve>),
    /// An ideal source: the volts are given, the current is whatever it takes.
    Volts(f64),
    /// Nothing flows while the volts lie between `low` and `high`, and the volts never leave that
    /// range: an ideal diode, or a diode with a constant drop.
    Clamp {
        /// The least volts; minus infinity when there is no breakdown.
        low: f64,
        /// The most volts: the drop.
        high: f64,
    },
    /// A current that voltages elsewhere in the part drive.
    Driven(Arc<dyn Driven>),
}

impl Law {
    /// A conductance in siemens.
    pub fn conductance(siemens: f64) -> Law {
        Law::Line { siemens, amps: 0.0 }
    }

    /// A curve.
    pub fn curve(curve: impl Curve + 'static) -> Law {
        Law::Curve(Arc::new(curve))
    }

    /// A driven current.
    pub fn driven(driven: impl Driven + 'static) -> Law {
        Law::Driven(Arc::new(driven))
    }

    /// Whether the engine carries the branch's current as an unknown of its own.
    pub fn has_own_current(&self) -> bool {
        matches!(self, Law::Volts(_) | Law::Clamp { .. })
    }

    /// Whether the law is one straight line.
    pub fn is_linear(&self) -> bool {
        matches!(self, Law::Line { .. } | Law::Volts(_))
    }
}

/// A straight line beside a curve.
#[derive(Debug)]
struct Beside {
    siemens: f64,
    amps: f64,
    curve: Arc<dyn Curve>,
}

impl Curve for Beside {
    fn at(&self, volts: f64) -> Sample {
        let sample = self.curve.at(volts);
        Sample {
            amps: sample.amps + self.siemens * volts + self.amps,
            siemens: sample.siemens + self.siemens,
        }
    }

    fn limit(&self, new: f64, old: f64) -> f64 {
        self.curve.limit(new, old)
    }

    fn first(&self) -> f64 {
        self.curve.first()
    }

    fn segment(&self, volts: f64) -> Option<u8> {
        self.curve.segment(volts)
    }
}

impl Law {
    /// Two laws between the same ends as one; `None` where one of them gives the volts, or both
    /// are curves.
    pub fn in_parallel(self, other: Law) -> Option<Law> {
        match (self, other) {
            (Law::Line { siemens, amps }, Law::Line { siemens: more, amps: extra }) => {
                Some(Law::Line { siemens: siemens + more, amps: amps + extra })
            }
            (Law::Line { siemens, amps }, Law::Curve(curve))
            | (Law::Curve(curve), Law::Line { siemens, amps }) => {
                Some(Law::curve(Beside { siemens, amps, curve }))
            }
            _ => None,
        }
    }
}

/// A branch of a part, between two of its pins.
#[derive(Debug, Clone)]
pub struct Branch {
    /// The number of the pin that the current enters by.
    pub from: usize,
    /// The number of the pin that it leaves by.
    pub to: usize,
    /// What it does.
    pub law: Law,
    /// Pairs of pins whose volts, first less second, a driven law takes besides its own.
    pub senses: Vec<[usize; 2]>,
}

impl Branch {
    /// A branch between two pins, by their numbers.
    pub fn new(from: usize, to: usize, law: Law) -> Branch {
        Branch { from, to, law, senses: Vec::new() }
    }

    /// A branch from pin 1 to pin 2 of a part with two pins.
    pub fn across(law: Law) -> Branch {
        Branch::new(0, 1, law)
    }

    /// A driven branch between two pins that senses the volts between further pairs of pins.
    pub fn driven(
        from: usize,
        to: usize,
        law: impl Driven + 'static,
        senses: &[[usize; 2]],
    ) -> Branch {
        Branch { from, to, law: Law::driven(law), senses: senses.to_vec() }
    }
}

/// The resistances that the engine's arithmetic is good for, in ohms.
///
/// Sixteen digits hold a ratio of about 1e15 before the small term is lost in the sum of a net;
/// the span keeps a margin for the readings themselves.
pub(super) const SPAN: std::ops::RangeInclusive<f64> = 1e-6..=1e12;

/// Checks that a resistance lies in [`SPAN`].
pub(super) fn within_span(
    part: &crate::circuit::Part,
    parameter: &'static str,
) -> Result<(), super::Problem> {
    match part.nominal(parameter) {
        Some(ohms) if !SPAN.contains(&ohms) => Err(super::Problem::new(
            parameter,
            format!("`{}` has {ohms:e} ohms, expected from 1 µΩ to 1 TΩ", part.name),
        )),
        _ => Ok(()),
    }
}
