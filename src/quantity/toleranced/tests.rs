use approx::assert_relative_eq;

use super::*;
use crate::quantity::{Unit, parse_toleranced};

fn read(text: &str, unit: Unit) -> Toleranced {
    parse_toleranced(text, unit).unwrap_or_else(|e| panic!("{text}: {e}"))
}

/// GUM, JCGM 100:2008, 4.3.7: u = a/√3 for a rectangle of half-width a.
#[test]
fn standard_uncertainty_is_that_of_a_rectangle() {
    let u = |text, unit| read(text, unit).standard_uncertainty();
    assert_relative_eq!(u("10 V ± 3 V", Unit::Volt), 3.0_f64.sqrt(), max_relative = 1e-12);
    assert_relative_eq!(
        u("1.0 / 1.2 / 1.6", Unit::Volt),
        0.3 / 3.0_f64.sqrt(),
        max_relative = 1e-12
    );
    // Against the spread of a rectangle in the logarithm, sampled: for a small factor both agree.
    let factor = 1.01_f64;
    let samples: Vec<f64> = (0..10_000)
        .map(|i| 100.0 * factor.powf(2.0 * (f64::from(i) + 0.5) / 10_000.0 - 1.0))
        .collect();
    let mean = samples.iter().sum::<f64>() / 1e4;
    let variance = samples.iter().map(|x| (x - mean).powi(2)).sum::<f64>() / 1e4;
    assert_relative_eq!(u("100 ×/÷ 1.01", Unit::One), variance.sqrt(), max_relative = 1e-3);
    assert_eq!(u("5 V", Unit::Volt), 0.0);
}

#[test]
fn least_and_most_stay_ordered_for_negative_values() {
    let value = Toleranced { nominal: -4.0, spread: Some(Spread::Factor(2.0)) };
    assert_eq!((value.least(), value.most()), (-8.0, -2.0));
    assert_eq!((value.half_width_low(), value.half_width_high()), (4.0, 2.0));
}

#[test]
fn a_default_gives_way_to_what_was_written() {
    let written = read("10k ± 100 Ω", Unit::Ohm).or(Tolerance::Fraction(0.05));
    assert_eq!(written.most(), 10_100.0);
    let silent = read("10k", Unit::Ohm).or(Tolerance::Fraction(0.05));
    assert_eq!(silent.most(), 10_500.0);
    assert_eq!(read("150", Unit::One).or(Tolerance::Factor(2.0)).least(), 75.0);
}
