//! A hypothesis: one physical change, the causes it may have, and the line its value runs along.

use super::{Fault, Misread};
use crate::circuit::{Change, Circuit, Overlay, PartId};

/// A physical change that a diagnosis tries, with everything that may have caused it.
#[derive(Debug, Clone)]
pub struct Hypothesis {
    /// The causes, each with the weight it has before any reading.
    pub causes: Vec<Cause>,
    /// The line that the value runs along; `None` for a change without a value.
    pub curve: Option<Curve>,
    /// The parts that a wrong value stands in together; empty for other faults.
    pub alike: Vec<PartId>,
}

/// One cause of a physical change.
#[derive(Debug, Clone)]
pub struct Cause {
    /// The fault, without a value when it has one to be found.
    pub fault: Fault,
    /// Its weight before any reading, in shares of all hypotheses together.
    pub weight: f64,
    /// How its own value follows from the place on the hypothesis's line.
    pub mapping: Mapping,
    /// Where its own value may lie.
    pub spread: Spread,
}

/// Where the value of a cause may lie, as natural logarithms of its own value.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Spread {
    /// It has no value.
    None,
    /// Anywhere between the two, log-uniformly, less a stretch that is no fault: inside the part's
    /// own tolerance.
    Range {
        /// The lower end.
        low: f64,
        /// The upper end.
        high: f64,
        /// What is left out.
        except: Option<(f64, f64)>,
    },
    /// One value, such as one ten times too large, given by its place on the hypothesis's line.
    At(f64),
}

/// How the value of a cause follows from the place on a line.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Mapping {
    /// It is the place's own value.
    Same,
    /// The line runs along two resistances in parallel; the cause is the one beside these ohms.
    Beside(f64),
    /// The line runs along an added resistance; the cause is these ohms and it in parallel.
    With(f64),
}

/// What runs along a line: the place is the natural logarithm of the value in its SI unit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Curve {
    /// The fault whose value is the exponential of the place.
    pub fault: Fault,
    /// The lower end.
    pub low: f64,
    /// The upper end.
    pub high: f64,
}

impl Hypothesis {
    /// A change without a value.
    pub fn fixed(fault: Fault, weight: f64) -> Hypothesis {
        let cause = Cause { fault, weight, mapping: Mapping::Same, spread: Spread::None };
        Hypothesis { causes: vec![cause], curve: None, alike: Vec::new() }
    }

    /// The weight of all causes together.
    pub fn weight(&self) -> f64 {
        self.causes.iter().map(|cause| cause.weight).sum()
    }

    /// The change at a place of the line; any place for a change without a value.
    pub fn overlay(&self, place: f64) -> Overlay {
        let fault = match &self.curve {
            Some(curve) => curve.fault.with_value(Some(place.exp())),
            None => match self.causes.first() {
                Some(cause) => cause.fault,
                None => return Overlay::none(),
            },
        };
        match fault {
            Fault::Alike(_, Some(value)) => {
                let change = |&part: &PartId| Change::Parameter { part, name: "value", value };
                Overlay { changes: self.alike.iter().map(change).collect() }
            }
            _ => fault.alone().map_or_else(Overlay::none, Overlay::one),
        }
    }

    /// What was read wrong, and by how much, for a hypothesis that leaves the board as it is.
    pub fn misread(&self, place: f64) -> Option<(Misread, f64)> {
        let curve = self.curve.as_ref().map(|curve| (curve.fault, place.exp()));
        let fault = curve.or_else(|| Some((self.causes.first()?.fault, 0.0)));
        match fault {
            Some((Fault::Misread(misread, _), value)) => Some((misread, value)),
            _ => None,
        }
    }

    /// Whether the hypothesis leaves the board as it is.
    pub fn is_misread(&self) -> bool {
        self.causes.first().is_some_and(|cause| cause.fault.is_misread())
    }

    /// The points with weight of their own: their places.
    pub fn points(&self) -> Vec<f64> {
        self.causes.iter().filter_map(Cause::point).collect()
    }

    /// What the hypothesis is called when no value is known.
    pub fn name(&self, circuit: &Circuit) -> String {
        let likeliest = self.causes.iter().max_by(|a, b| a.weight.total_cmp(&b.weight));
        likeliest.map(|cause| cause.fault.phrase(circuit)).unwrap_or_default()
    }
}

impl Cause {
    /// The logarithm of the cause's own value at a place; infinite where it would take an open
    /// path.
    fn own(&self, place: f64) -> f64 {
        let value = place.exp();
        match self.mapping {
            Mapping::Same => place,
            Mapping::Beside(ohms) if value < ohms => (1.0 / (1.0 / value - 1.0 / ohms)).ln(),
            Mapping::Beside(_) => f64::INFINITY,
            Mapping::With(ohms) => (1.0 / (1.0 / value + 1.0 / ohms)).ln(),
        }
    }

    /// The place of a cause's own value on the hypothesis's line, given by its logarithm; no number
    /// where no place of the line is that value.
    ///
    /// ```
    /// # use ohmhound::{circuit::PartId, fault::{Cause, Fault, Mapping, Spread}};
    /// let leak = Cause {
    ///     fault: Fault::Leaky(PartId(0), None),
    ///     weight: 1.0,
    ///     mapping: Mapping::Beside(3e3),
    ///     spread: Spread::Range { low: 0.0, high: 20e6_f64.ln(), except: None },
    /// };
    /// // 6 kΩ beside 3 kΩ are 2 kΩ.
    /// assert!((leak.place(6e3_f64.ln()).exp() - 2e3).abs() < 1e-6);
    /// assert!((leak.at(2e3_f64.ln()).value().unwrap() - 6e3).abs() < 1e-6);
    /// ```
    pub fn place(&self, own: f64) -> f64 {
        match self.mapping {
            Mapping::Same => own,
            Mapping::Beside(ohms) => (1.0 / (1.0 / own.exp() + 1.0 / ohms)).ln(),
            Mapping::With(ohms) => (1.0 / (1.0 / own.exp() - 1.0 / ohms)).ln(),
        }
    }

    /// The place of a cause that has a single value.
    pub fn point(&self) -> Option<f64> {
        match self.spread {
            Spread::At(place) => Some(place),
            _ => None,
        }
    }

    /// The weight that the cause spreads between two places of the line; none for a single value.
    ///
    /// Exact, because a log-uniform weight goes with the difference of the cause's own logarithms:
    /// near the value of a resistor the leaks beside it crowd into a hair's breadth of the line.
    pub fn weight_between(&self, from: f64, to: f64) -> f64 {
        let Spread::Range { low, high, except } = self.spread else { return 0.0 };
        let (from, to) = (self.own(from), self.own(to));
        let overlap = |low: f64, high: f64| (to.min(high) - from.max(low)).max(0.0);
        let (left_out, length_out) =
            except.map_or((0.0, 0.0), |(a, b)| (overlap(a.max(low), b.min(high)), b - a));
        self.weight * (overlap(low, high) - left_out).max(0.0) / (high - low - length_out)
    }

    /// The fault with the number it has at a place of the line.
    pub fn at(&self, place: f64) -> Fault {
        match self.spread {
            Spread::None => self.fault,
            _ => {
                let own = self.own(place).exp();
                self.fault.with_value(own.is_finite().then_some(own))
            }
        }
    }
}
