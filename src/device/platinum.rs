//! Platinum resistance thermometer: R = R₀ (1 + A t + B t² + C (t − 100 °C) t³), i = v / R.
//!
//! The law of IEC 60751:2022 with t in °C, A = 3.9083·10⁻³, B = −5.775·10⁻⁷ and, below 0 °C only,
//! C = −4.183·10⁻¹² (H. L. Callendar 1887, M. S. Van Dusen 1925). It holds from −200 °C to 850 °C;
//! R in ohms. The current of a reading heats nothing.

use super::{Branch, Kind, Law, Mode, Parameter, Values};
use crate::quantity::Unit;

const A: f64 = 3.9083e-3;
const B: f64 = -5.775e-7;
const C: f64 = -4.183e-12;

/// A platinum resistance thermometer, such as a Pt100.
pub(super) struct PlatinumSensor;

impl Kind for PlatinumSensor {
    fn name(&self) -> &'static str {
        "platinum-sensor"
    }

    fn about(&self) -> &'static str {
        "a platinum resistance thermometer, such as a Pt100"
    }

    fn classes(&self) -> &'static [&'static str] {
        &[]
    }

    fn parameters(&self) -> &'static [Parameter] {
        const ROWS: &[Parameter] = &[
            // Class B at 0 °C, 0.30 K, is 0.12 Ω in 100 (IEC 60751; from memory).
            Parameter::number("value", Unit::Ohm, "its resistance at 0 °C").within(0.0012),
            Parameter::number("rated", Unit::Watt, "the most it may dissipate")
                .fill(super::Fill::Absent),
        ];
        ROWS
    }

    fn branches(&self, values: &Values<'_>) -> Vec<Branch> {
        let ohms = values.need("value") * ratio(values.celsius);
        vec![Branch::across(Law::conductance(1.0 / ohms))]
    }

    fn modes(&self) -> &'static [Mode] {
        &[Mode::Open, Mode::Shorted, Mode::Drifted("value")]
    }
}

/// R/R₀ at a temperature in °C. Outside of what the law covers it goes on as at its end, so that no
/// resistance comes to nothing.
fn ratio(celsius: f64) -> f64 {
    let t = celsius.clamp(-200.0, 850.0);
    let below = if t < 0.0 { C * (t - 100.0) * t.powi(3) } else { 0.0 };
    1.0 + A * t + B * t * t + below
}

#[cfg(test)]
mod tests {
    use super::*;

    /// IEC 60751, table of resistances of a Pt100: values as printed in an industrial input module's
    /// documentation for −200 °C to −80 °C, and the well-known 138.5055 Ω at 100 °C.
    #[test]
    fn the_law_meets_the_published_table() {
        let rows = [
            (-200.0, 18.520),
            (-190.0, 22.825),
            (-180.0, 27.096),
            (-170.0, 31.335),
            (-160.0, 35.543),
            (0.0, 100.0),
            (100.0, 138.5055),
        ];
        for (celsius, ohms) in rows {
            let found = 100.0 * ratio(celsius);
            assert!((found - ohms).abs() < 6e-4, "{celsius}: {found} and {ohms}");
        }
    }
}
