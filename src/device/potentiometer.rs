//! Potentiometer: two resistances in series, split by the wiper; i = v / R for each (Ohm's law), in
//! amps, volts and ohms. `position` is a share of the resistance: a taper has to be reckoned in.

use super::{Branch, Kind, Law, Mode, Parameter, Pins, Range, Values};
use crate::quantity::Unit;

/// What is left between the wiper and the end of the track that it stands at, as a share of the
/// track. Common practice, no published source: makers state end resistances of about this size.
const END_SHARE: f64 = 1e-3;

/// A potentiometer or trimmer: `position` 0 puts the wiper at `a`.
pub(super) struct Potentiometer;

impl Kind for Potentiometer {
    fn name(&self) -> &'static str {
        "potentiometer"
    }

    fn about(&self) -> &'static str {
        "a potentiometer or trimmer"
    }

    fn pins(&self) -> Pins {
        Pins::Named(&["a", "wiper", "b"])
    }

    fn parameters(&self) -> &'static [Parameter] {
        const ROWS: &[Parameter] = &[
            Parameter::number("value", Unit::Ohm, "the resistance of the whole track").within(0.05),
            Parameter::number("position", Unit::One, "where the wiper stands: 0 at a, 1 at b")
                .range(Range::Within(0.0, 1.0)),
            Parameter::number("rated", Unit::Watt, "the most it may dissipate")
                .fill(super::Fill::Absent),
        ];
        ROWS
    }

    fn branches(&self, values: &Values<'_>) -> Vec<Branch> {
        let track = values.need("value");
        let position = values.need("position");
        let half = |share: f64| Law::conductance(1.0 / (track * share.max(END_SHARE)));
        vec![Branch::new(0, 1, half(position)), Branch::new(1, 2, half(1.0 - position))]
    }

    fn modes(&self) -> &'static [Mode] {
        &[Mode::Drifted("value")]
    }
}
