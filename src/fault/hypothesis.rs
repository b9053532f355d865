//! A hypothesis: one physical change, the causes it may have, and the line its value runs along.

use super::Fault;
use crate::circuit::{Circuit, Overlay};

/// How far around a point of a line a fitted value still counts as that point.
const POINT_REACH: f64 = 0.02;

/// A physical change that a diagnosis tries, with everything that may have caused it.
#[derive(Debug, Clone)]
pub struct Hypothesis {
    /// The causes, each with the weight it has before any reading.
    pub causes: Vec<Cause>,
    /// The line that the value runs along; `None` for a change without a value.
    pub curve: Option<Curve>,
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
        Hypothesis { causes: vec![cause], curve: None }
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
        fault.overlay().unwrap_or_default()
    }

    /// The density of causes at a place of the line, per unit of the place; points left out.
    pub fn density(&self, place: f64) -> f64 {
        self.causes.iter().map(|cause| cause.density(place)).sum()
    }

    /// The points with weight of their own: place and weight.
    pub fn points(&self) -> Vec<(f64, f64)> {
        self.causes
            .iter()
            .filter_map(|cause| match cause.spread {
                Spread::At(place) => Some((place, cause.weight)),
                _ => None,
            })
            .collect()
    }

    /// The causes at a place with their numbers and their shares before any reading, likeliest
    /// first.
    pub fn causes_at(&self, place: f64) -> Vec<(Fault, f64)> {
        let mut causes: Vec<(f64, Fault)> = self
            .causes
            .iter()
            .filter_map(|cause| {
                let share = match cause.spread {
                    Spread::None => cause.weight,
                    Spread::Range { .. } => cause.density(place),
                    // A point owns the few percent around it.
                    Spread::At(at) if (at - place).abs() < POINT_REACH => {
                        cause.weight / POINT_REACH
                    }
                    Spread::At(_) => 0.0,
                };
                (share > 0.0).then(|| (share, cause.at(place)))
            })
            .collect();
        if causes.is_empty() {
            // The value lies where no cause has weight, such as inside a tolerance: name all.
            causes = self.causes.iter().map(|cause| (cause.weight, cause.at(place))).collect();
        }
        causes.sort_by(|a, b| b.0.total_cmp(&a.0));
        let total: f64 = causes.iter().map(|(share, _)| share).sum();
        let mut faults: Vec<(Fault, f64)> = Vec::new();
        for (share, fault) in causes {
            let share = share / total;
            let same =
                |(known, _): &&mut (Fault, f64)| known.with_value(None) == fault.with_value(None);
            match faults.iter_mut().find(same) {
                Some((_, known)) => *known += share,
                None => faults.push((fault, share)),
            }
        }
        faults
    }

    /// What the hypothesis is called when no value is known.
    pub fn name(&self, circuit: &Circuit) -> String {
        let likeliest = self.causes.iter().max_by(|a, b| a.weight.total_cmp(&b.weight));
        likeliest.map(|cause| cause.fault.phrase(circuit)).unwrap_or_default()
    }
}

impl Cause {
    /// The cause's own value, as a logarithm, and how fast it goes with the place.
    fn own(&self, place: f64) -> Option<(f64, f64)> {
        let value = place.exp();
        match self.mapping {
            Mapping::Same => Some((place, 1.0)),
            Mapping::Beside(ohms) if value < ohms => {
                let own = 1.0 / (1.0 / value - 1.0 / ohms);
                Some((own.ln(), own / value))
            }
            Mapping::Beside(_) => None,
            Mapping::With(ohms) => {
                let own = 1.0 / (1.0 / value + 1.0 / ohms);
                Some((own.ln(), own / value))
            }
        }
    }

    fn density(&self, place: f64) -> f64 {
        let Spread::Range { low, high, except } = self.spread else { return 0.0 };
        let Some((own, slope)) = self.own(place) else { return 0.0 };
        let left_out = except.map_or(0.0, |(from, to)| to - from);
        let inside =
            (low..=high).contains(&own) && !except.is_some_and(|(from, to)| own > from && own < to);
        if inside { slope * self.weight / (high - low - left_out) } else { 0.0 }
    }

    /// The fault with the number it has at a place of the line.
    pub fn at(&self, place: f64) -> Fault {
        match self.spread {
            Spread::None => self.fault,
            _ => match self.own(place) {
                Some((own, _)) => self.fault.with_value(Some(own.exp())),
                None => self.fault,
            },
        }
    }
}
