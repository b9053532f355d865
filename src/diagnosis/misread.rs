//! What a misreading predicts: the readings of a healthy board, read wrong.

use super::case::{Case, Prediction};
use crate::circuit::{Overlay, Place, Quantity, Reading, SetupId};
use crate::fault::{Misread, Slip};

/// Predictions of misreadings of one case.
#[derive(Debug)]
pub(super) struct Misreadings<'a> {
    case: &'a Case<'a>,
    healthy: Option<&'a Prediction>,
}

impl<'a> Misreadings<'a> {
    pub(super) fn new(case: &'a Case<'a>, healthy: Option<&'a Prediction>) -> Misreadings<'a> {
        Misreadings { case, healthy }
    }

    /// What a misreading with this value predicts; `None` without a healthy operating point.
    pub(super) fn predict(&self, misread: Misread, value: f64) -> Option<Prediction> {
        if let Misread::OtherSetup(stated, taken) = misread {
            return self.other_setup(stated, taken);
        }
        let mut prediction = self.healthy?.clone();
        for (idx, reading) in self.case.readings.iter().enumerate() {
            let to_ground =
                reading.quantity == Quantity::Volts && matches!(reading.place, Place::At(_));
            match misread {
                Misread::Meter(quantity) if reading.quantity == quantity => {
                    self.scale(&mut prediction, idx, value);
                }
                Misread::Slip(number, .., slip) if number == idx => match slip {
                    Slip::Decades(decades) => {
                        self.scale(&mut prediction, idx, 10.0_f64.powi(i32::from(decades)));
                    }
                    Slip::Sign => self.scale(&mut prediction, idx, -1.0),
                },
                Misread::BlackLead if to_ground => {
                    prediction.shown[idx] -= value;
                    prediction.y[idx] -= value;
                }
                Misread::LooseLead if to_ground => {
                    prediction.shown[idx] = 0.0;
                    prediction.y[idx] = 0.0;
                    prediction.spread[idx].fill(0.0);
                }
                _ => {}
            }
        }
        Some(prediction)
    }

    fn scale(&self, prediction: &mut Prediction, idx: usize, factor: f64) {
        let scale = self.case.targets[idx].scale;
        let before = scale.value(prediction.y[idx]);
        let after = before * factor;
        let stretch = factor * scale.slope(after) / scale.slope(before);
        prediction.shown[idx] *= factor;
        prediction.y[idx] = scale.of(after);
        for part in &mut prediction.spread[idx] {
            *part *= stretch;
        }
    }

    fn other_setup(&self, stated: SetupId, taken: SetupId) -> Option<Prediction> {
        let moved = |reading: &Reading| {
            let setup = if reading.setup == stated { taken } else { reading.setup };
            Reading { setup, ..reading.clone() }
        };
        let readings: Vec<Reading> = self.case.readings.iter().map(moved).collect();
        Case::new(self.case.assembly, &readings).predict(&Overlay::none()).ok()
    }
}
