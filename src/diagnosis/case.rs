//! A case: the readings to explain, and the predictions that a change makes for them.

use crate::circuit::{Overlay, Quantity, Reading, SetupId};
use crate::engine::{Assembly, Ending, OperatingPoint};
use crate::meter::{Scene, Target, show};

/// The readings of a job with the board they were taken on.
#[derive(Debug)]
pub struct Case<'a> {
    /// The board.
    pub assembly: &'a Assembly<'a>,
    /// The readings.
    pub readings: &'a [Reading],
    /// The same as targets, in the same order.
    pub targets: Vec<Target>,
    /// The setups in use, each with the readings taken in it.
    pub(super) setups: Vec<(SetupId, Vec<usize>)>,
    /// The healthy operating points of those setups, where there are any.
    pub(super) healthy: Vec<Option<OperatingPoint>>,
}

/// What a change predicts for every reading, on the scale of its target.
#[derive(Debug, Clone)]
pub struct Prediction {
    /// The values as a meter shows them, in SI units.
    pub shown: Vec<f64>,
    /// The values on the scale of their targets.
    pub y: Vec<f64>,
    /// Change of `y` by one standard uncertainty of each source: one row per reading.
    pub spread: Vec<Vec<f64>>,
    /// Whether a lead of the reading is on a net that floats.
    pub floats: Vec<bool>,
}

/// What stands for OL on a plain scale, in parts of the most that the meter shows.
const PAST_THE_END: f64 = 1.5;

impl<'a> Case<'a> {
    /// The case of some readings.
    pub fn new(assembly: &'a Assembly<'a>, readings: &'a [Reading]) -> Case<'a> {
        let circuit = assembly.circuit();
        let targets = readings.iter().map(|reading| Target::new(circuit, reading)).collect();
        let mut setups: Vec<(SetupId, Vec<usize>)> = Vec::new();
        for (idx, reading) in readings.iter().enumerate() {
            match setups.iter_mut().find(|(setup, _)| *setup == reading.setup) {
                Some((_, idxs)) => idxs.push(idx),
                None => setups.push((reading.setup, vec![idx])),
            }
        }
        let healthy = setups
            .iter()
            .map(|(setup, _)| assembly.solve(*setup, &Overlay::none()).point)
            .collect();
        Case { assembly, readings, targets, setups, healthy }
    }

    /// What a change predicts for every reading.
    ///
    /// # Errors
    ///
    /// How the run ended in the first setup that has no operating point.
    pub fn predict(&self, overlay: &Overlay) -> Result<Prediction, Ending> {
        let n = self.readings.len();
        let mut prediction = Prediction {
            shown: vec![0.0; n],
            y: vec![0.0; n],
            spread: vec![Vec::new(); n],
            floats: vec![false; n],
        };
        for ((setup, idxs), healthy) in self.setups.iter().zip(&self.healthy) {
            let scene = Scene::new(self.assembly, *setup, overlay, healthy.as_ref(), true)?;
            for &idx in idxs {
                let reading = &self.readings[idx];
                let shown = show(&scene, reading.quantity, reading.place, &reading.meter)
                    .ok_or(Ending::NotSettled { nets: Vec::new() })?;
                self.put(&mut prediction, idx, shown.value, shown.spread, shown.floats);
            }
        }
        Ok(prediction)
    }

    /// Puts what a meter shows into a prediction, on the scale of its target.
    pub(super) fn put(
        &self,
        prediction: &mut Prediction,
        idx: usize,
        shown: f64,
        mut spread: Vec<f64>,
        floats: bool,
    ) {
        let (reading, target) = (&self.readings[idx], &self.targets[idx]);
        let value = match reading.quantity {
            Quantity::Diode if shown.is_infinite() => {
                PAST_THE_END * reading.meter.diode.display_max
            }
            _ => shown,
        };
        let slope = target.scale.slope(value);
        for part in &mut spread {
            *part *= slope;
        }
        prediction.shown[idx] = shown;
        prediction.y[idx] = target.scale.of(value);
        prediction.spread[idx] = spread;
        prediction.floats[idx] = floats;
    }
}
