//! What every suspect predicts for every measurement: one table that all of the planning reads.

use super::gain::{Part, Shows};
use super::measurements::Measurement;
use super::suspects::Suspect;
use crate::circuit::{Meter, Overlay, Quantity};
use crate::diagnosis::{Earlier, Foreseen, Predictor, Probe};
use crate::engine::Assembly;
use crate::meter::Scale;

/// Ohms that are added before the logarithm is taken: a tenth of an ohm is a display's last digit.
const OHMS_ABOVE: f64 = 1.0;

/// Predictions of all suspects for all measurements.
#[derive(Debug)]
pub struct Table {
    /// The suspects.
    pub suspects: Vec<Suspect>,
    /// The measurements.
    pub measurements: Vec<Measurement>,
    /// Per suspect, per value of it, per measurement; `None` where nothing is predicted.
    seen: Vec<Vec<Vec<Option<Seen>>>>,
}

/// What one suspect predicts with one of its values.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Seen {
    /// What the meter shows, in the SI unit of the quantity; infinite for OL.
    pub shown: f64,
    /// The same on the scale that differences are judged on, as far as a meter of endless range
    /// would show it.
    pub y: f64,
    /// One standard uncertainty on that scale, tolerances and meter together.
    pub sigma: f64,
}

impl Table {
    /// Predicts everything, with what a diagnosis remembers of the board.
    pub fn new(
        assembly: &Assembly<'_>,
        suspects: Vec<Suspect>,
        measurements: Vec<Measurement>,
        (meter, earlier): (&Meter, &Earlier),
    ) -> Table {
        let probes: Vec<Probe> = measurements.iter().map(|one| one.probe).collect();
        let predictor = Predictor::after(assembly, &probes, meter, earlier);
        let overlays: Vec<&Overlay> = suspects
            .iter()
            .flat_map(|suspect| suspect.points.iter().map(|(_, overlay)| overlay))
            .collect();
        let mut foreseen = predictor.predict_all(&overlays).into_iter();
        let seen = suspects
            .iter()
            .map(|suspect| {
                let own = foreseen.by_ref().take(suspect.points.len());
                own.map(|foreseen| {
                    let each = foreseen.iter().zip(&measurements);
                    each.map(|(foreseen, one)| {
                        foreseen.as_ref().map(|foreseen| seen(foreseen, one.probe.quantity, meter))
                    })
                    .collect()
                })
                .collect()
            })
            .collect();
        Table { suspects, measurements, seen }
    }

    /// What a suspect predicts for a measurement, per value of it, with the value's share; what has
    /// no operating point there is left out.
    pub fn of(&self, suspect: usize, measurement: usize) -> Vec<(f64, Seen)> {
        let shares = self.suspects[suspect].points.iter().map(|(share, _)| *share);
        let own = shares.zip(&self.seen[suspect]);
        own.filter_map(|(share, seen)| Some((share, seen[measurement]?))).collect()
    }

    /// What a suspect predicts with one of its values.
    pub fn value(&self, suspect: usize, value: usize, measurement: usize) -> Option<Seen> {
        self.seen.get(suspect)?.get(value)?.get(measurement).copied().flatten()
    }

    /// The parts of the mixture that a measurement would be drawn from. `class` numbers the
    /// suspects that need not be told apart.
    ///
    /// A suspect whose value is not known yet may show anything between what its ends show: each of
    /// its values is spread over a sixth of that.
    pub fn mixture(&self, measurement: usize, class: impl Fn(usize) -> usize) -> Vec<Part> {
        let mut parts = Vec::new();
        for (idx, suspect) in self.suspects.iter().enumerate() {
            let values = self.of(idx, measurement);
            let all: f64 = values.iter().map(|(share, _)| share).sum();
            let finite = || values.iter().filter(|(_, seen)| seen.shown.is_finite());
            let low = finite().map(|(_, seen)| seen.y).fold(f64::INFINITY, f64::min);
            let high = finite().map(|(_, seen)| seen.y).fold(f64::NEG_INFINITY, f64::max);
            let between = if high > low { (high - low) / 6.0 } else { 0.0 };
            for (share, seen) in values {
                let shows = if seen.shown.is_finite() {
                    Shows::Number { mean: seen.y, sigma: seen.sigma.hypot(between) }
                } else {
                    Shows::Over
                };
                let weight = suspect.weight * share / all;
                parts.push(Part { class: class(idx), weight, shows });
            }
        }
        parts
    }
}

/// The scale that differences of a quantity are judged on.
pub(super) fn scale_of(quantity: Quantity) -> Scale {
    match quantity {
        Quantity::Ohms | Quantity::Beep => Scale::LogAbove(OHMS_ABOVE),
        _ => Scale::Plain,
    }
}

/// A prediction on the scale that differences are judged on, with the meter's own uncertainty.
pub fn seen(foreseen: &Foreseen, quantity: Quantity, meter: &Meter) -> Seen {
    let (value, slope) = on_scale(foreseen, quantity);
    let scale = scale_of(quantity);
    let spread = foreseen.spread.iter().map(|part| part * part).sum::<f64>().sqrt();
    let own = own_standard(value, quantity, meter);
    Seen { shown: foreseen.shown, y: scale.of(value), sigma: (spread * slope).hypot(own) }
}

/// The value of a prediction in SI units, and how much its spread is stretched on the scale of the
/// planner.
pub(super) fn on_scale(foreseen: &Foreseen, quantity: Quantity) -> (f64, f64) {
    match quantity {
        // Predictions of ohms come by their logarithm.
        Quantity::Ohms | Quantity::Beep => {
            let value = foreseen.y.exp();
            (value, value * scale_of(quantity).slope(value))
        }
        _ => (foreseen.y, 1.0),
    }
}

/// One standard uncertainty of the meter at a value, on the scale of the planner.
pub(super) fn own_standard(value: f64, quantity: Quantity, meter: &Meter) -> f64 {
    let accuracy = meter.accuracy(quantity);
    let own = accuracy.fraction * value.abs() + accuracy.counts * Meter::count(quantity, value);
    scale_of(quantity).slope(value) * own / 3.0_f64.sqrt()
}
