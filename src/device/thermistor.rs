//! Thermistor: R = R25 exp(β (1/T − 1/298.15 K)), i = v / R.
//!
//! The two-point law of a negative-temperature-coefficient thermistor (IEC 60539-1, B value). A
//! maker's table departs from it away from 25 °C to 50 °C. T and β in kelvins, R in ohms; the current
//! of a reading heats nothing.

use super::{Branch, Kind, Law, Mode, Parameter, Values};
use crate::quantity::Unit;

/// Kelvin at 0 °C.
pub(super) const ZERO_CELSIUS: f64 = 273.15;

/// A thermistor whose resistance falls when it is warm.
pub(super) struct Thermistor;

impl Kind for Thermistor {
    fn name(&self) -> &'static str {
        "thermistor"
    }

    fn about(&self) -> &'static str {
        "a thermistor whose resistance falls when it is warm"
    }

    fn classes(&self) -> &'static [&'static str] {
        &["RT", "TH"]
    }

    fn parameters(&self) -> &'static [Parameter] {
        const ROWS: &[Parameter] = &[
            Parameter::number("value", Unit::Ohm, "its resistance at 25 °C").within(0.05),
            Parameter::number("beta", Unit::Kelvin, "its B value in kelvin").within(0.03),
            Parameter::number("rated", Unit::Watt, "the most it may dissipate")
                .fill(super::Fill::Absent),
        ];
        ROWS
    }

    fn branches(&self, values: &Values<'_>) -> Vec<Branch> {
        let kelvin = values.celsius + ZERO_CELSIUS;
        let exponent = values.need("beta") * (1.0 / kelvin - 1.0 / (25.0 + ZERO_CELSIUS));
        let ohms = values.need("value") * exponent.exp();
        vec![Branch::across(Law::conductance(1.0 / ohms))]
    }

    fn modes(&self) -> &'static [Mode] {
        &[Mode::Open, Mode::Shorted, Mode::Drifted("value")]
    }
}
