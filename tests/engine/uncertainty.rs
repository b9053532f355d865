//! Uncertainty against published examples, driven through targets, predictions and fits.
//!
//! JCGM 100:2008 is the "Guide to the expression of uncertainty in measurement". Its worked numbers
//! are from memory; what follows from them was worked out again. Its example H.2 is of alternating
//! current and does not map onto DC readings.

use approx::assert_relative_eq;
use ohmhound::circuit::{
    Accuracy, Circuit, Input, Meter, Observed, Overlay, POWERED, Param, PartId, Place, Quantity,
    Reading, Spot,
};
use ohmhound::device::two_pin;
use ohmhound::diagnosis::{Case, Fit, chi_square, chi_square_99};
use ohmhound::engine::Assembly;
use ohmhound::meter::Target;
use ohmhound::quantity::Spread;

/// A meter without loading whose volts are this accurate.
fn meter(fraction: f64, counts: f64) -> Meter {
    let mut meter = Meter::default();
    meter.volts.input = Input::Ohms(1e15);
    meter.volts.accuracy = Accuracy { fraction, counts };
    meter
}

fn volts(place: Place, observed: Observed, meter: Meter) -> Reading {
    let (setup, quantity, place_text) = (POWERED, Quantity::Volts, String::new());
    Reading { setup, quantity, place, place_text, observed, meter }
}

fn number(value: f64, count: f64, half_width: Option<f64>) -> Observed {
    Observed::Number { value, count, half_width }
}

/// Gives a parameter a half-width in its own unit.
fn widen(circuit: &mut Circuit, part: PartId, name: &str, half_width: f64) {
    for (known, param) in &mut circuit.parts[part.index()].params {
        if let Param::Number(number) = param
            && *known == name
        {
            number.spread = Some(Spread::Absolute(half_width));
        }
    }
}

/// An ideal source of some volts, give or take, on the net `OUT`.
fn source(value: f64, half_width: f64) -> Circuit {
    let mut circuit = Circuit::new("source", "GND");
    let params = [("volts", value), ("resistance", 0.0)];
    let id = two_pin(&mut circuit, "V1", "supply", ["OUT", "GND"], &params).unwrap();
    widen(&mut circuit, id, "volts", half_width);
    circuit
}

fn out(circuit: &Circuit) -> Place {
    Place::At(Spot::Net(circuit.net("OUT").unwrap()))
}

/// Ten resistors of 1 kΩ in series behind 1 mA: each carries 1 V.
fn ten() -> (Circuit, PartId) {
    let mut circuit = Circuit::new("ten resistors", "GND");
    let params = [("amps", 1e-3), ("compliance", 100.0)];
    let driver = two_pin(&mut circuit, "A1", "current-source", ["N0", "GND"], &params).unwrap();
    for k in 0..10 {
        let nets = [format!("N{k}"), if k == 9 { "GND".into() } else { format!("N{}", k + 1) }];
        let nets = [nets[0].as_str(), nets[1].as_str()];
        let name = format!("R{k}");
        two_pin(&mut circuit, &name, "resistor", nets, &[("value", 1e3)]).unwrap();
    }
    (circuit, driver)
}

/// Readings across each of the ten.
fn across_ten(circuit: &Circuit, observed: Observed, meter: Meter) -> Vec<Reading> {
    let part = |k: u32| circuit.part(&format!("R{k}")).unwrap();
    (0..10).map(|k| volts(Place::Part(part(k)), observed, meter)).collect()
}

fn fit(circuit: &Circuit, readings: &[Reading]) -> Fit {
    let assembly = Assembly::new(circuit);
    let case = Case::new(&assembly, readings);
    Fit::new(&case, &case.predict(&Overlay::none()).unwrap()).unwrap()
}

/// JCGM 100:2008, 4.3.7, equation (7): bounds ±a with nothing else known give u = a/√3. A thermal
/// expansion of (16.4 to 16.9) or a resistor of 1 kΩ ± 10 Ω alike.
#[test]
fn bounds_are_a_rectangle() {
    let mut circuit = Circuit::new("rectangle", "GND");
    let params = [("amps", 1e-3), ("compliance", 10.0)];
    two_pin(&mut circuit, "A1", "current-source", ["OUT", "GND"], &params).unwrap();
    let id = two_pin(&mut circuit, "R1", "resistor", ["OUT", "GND"], &[("value", 1e3)]).unwrap();
    widen(&mut circuit, id, "value", 10.0);
    let readings = [volts(out(&circuit), number(1.0, 1e-9, Some(0.0)), meter(0.0, 0.0))];
    // 10 Ω/√3 = 5.7735 Ω, times 1 mA.
    assert_relative_eq!(fit(&circuit, &readings).standard[0], 5.773_503e-3, max_relative = 1e-6);
}

/// JCGM 100:2008, 4.3.7, example 2, and 5.1.5: a voltmeter with bounds of 14 · 10⁻⁶ of the reading
/// and 2 · 10⁻⁶ of its range of 1 V shows 0.928 571 V. a = 15 µV, u = 8.7 µV; with 12 µV from
/// repetition the combined u is 15 µV (14.8).
#[test]
fn a_voltmeter_by_its_bounds() {
    let shown = 0.928_571;
    let half_width = 14e-6 * shown + 2e-6;
    let circuit = source(shown, 12e-6 * 3.0_f64.sqrt());
    let readings = [volts(out(&circuit), number(shown, 1e-6, Some(half_width)), meter(0.0, 0.0))];
    let target = Target::new(&circuit, &readings[0]);
    assert_relative_eq!(target.standard(), 8.7e-6, epsilon = 0.05e-6);
    assert_relative_eq!(fit(&circuit, &readings).standard[0], 14.8e-6, epsilon = 0.05e-6);

    // Given as "so much of the reading plus so many counts" the two are kept apart, because one is
    // shared by all readings and the other is not: each is a/√3 of its own part, and they add up
    // to the figure above.
    let apart = [volts(out(&circuit), number(shown, 1e-6, None), meter(14e-6, 2.0))];
    let target = Target::new(&circuit, &apart[0]);
    assert_relative_eq!(target.gain + target.own, 8.66e-6, epsilon = 0.005e-6);
    assert_relative_eq!(target.own, 2e-6 / 3.0_f64.sqrt(), max_relative = 1e-9);
}

/// JCGM 100:2008, 5.2.2, example: ten resistors of 1000 Ω, each with u = 100 mΩ, all calibrated
/// against one standard, in series: u = 1.0 Ω, not the 0.32 Ω of independent ones.
///
/// The one standard is the meter's gain here: a sum that is off by 1.0 Ω is off by one standard
/// uncertainty; were every reading off by itself, by √10 of them.
#[test]
fn ten_readings_share_the_gain_of_their_meter() {
    let (circuit, _) = ten();
    let off = number(1.0 + 1e-4, 1e-9, None);
    let shared = across_ten(&circuit, off, meter(1e-4 * 3.0_f64.sqrt(), 1.0));
    let of_sum = 1.0 / fit(&circuit, &shared).distance.sqrt();
    assert_relative_eq!(of_sum, 1.0, max_relative = 1e-3);

    let half_width = Some(1e-4 * 3.0_f64.sqrt());
    let alone = across_ten(&circuit, number(1.0 + 1e-4, 1e-9, half_width), meter(0.0, 0.0));
    let of_sum = 1.0 / fit(&circuit, &alone).distance.sqrt();
    assert_relative_eq!(of_sum, 0.316_228, max_relative = 1e-3);
}

/// The same example with the standard on the board: one current through all ten, known to 10⁻⁴.
#[test]
fn ten_drops_share_the_tolerance_of_their_current() {
    let (mut circuit, driver) = ten();
    widen(&mut circuit, driver, "amps", 1e-7 * 3.0_f64.sqrt());
    let half_width = Some(1e-9);
    let readings = across_ten(&circuit, number(1.0 + 1e-4, 1e-9, half_width), meter(0.0, 0.0));
    let of_sum = 1.0 / fit(&circuit, &readings).distance.sqrt();
    assert_relative_eq!(of_sum, 1.0, max_relative = 1e-3);
    // One of them alone is off by one standard uncertainty as well.
    let one = fit(&circuit, &readings[..1]);
    assert_relative_eq!(one.distance, 1.0, max_relative = 1e-3);
    // Ten resistances, each known to 0.1 Ω by itself, do not share it.
    let (mut circuit, _) = ten();
    for k in 0..10 {
        let id = circuit.part(&format!("R{k}")).unwrap();
        widen(&mut circuit, id, "value", 0.1 * 3.0_f64.sqrt());
    }
    let of_sum = 1.0 / fit(&circuit, &readings).distance.sqrt();
    assert_relative_eq!(of_sum, 0.316_228, max_relative = 1e-3);
}

/// Upper quantiles of chi-square: NIST/SEMATECH e-Handbook of Statistical Methods, section
/// 1.3.6.7.4, table of upper-tail critical values (from memory).
#[test]
fn chi_square_quantiles() {
    let table = [
        (1, 2.706, 3.841, 6.635),
        (2, 4.605, 5.991, 9.210),
        (3, 6.251, 7.815, 11.345),
        (5, 9.236, 11.070, 15.086),
        (8, 13.362, 15.507, 20.090),
        (10, 15.987, 18.307, 23.209),
        (20, 28.412, 31.410, 37.566),
        (30, 40.256, 43.773, 50.892),
        (100, 118.498, 124.342, 135.807),
    ];
    for (freedom, at_90, at_95, at_99) in table {
        assert_relative_eq!(chi_square(0.90, freedom), at_90, epsilon = 6e-4);
        assert_relative_eq!(chi_square(0.95, freedom), at_95, epsilon = 6e-4);
        assert_relative_eq!(chi_square(0.99, freedom), at_99, epsilon = 6e-4);
        assert_relative_eq!(chi_square_99(freedom), at_99, epsilon = 6e-4);
    }
    // Nothing is left to test: judged as if one degree of freedom were.
    assert_eq!(chi_square_99(0), chi_square_99(1));
}

/// Upper tails of the normal distribution: NIST/SEMATECH e-Handbook of Statistical Methods, section
/// 1.3.6.7.1 (areas up to 4); the tail at 10 is 7.619 85 · 10⁻²⁴ (from memory). A reading "above so
/// many volts" has this for its evidence.
#[test]
fn a_range_has_the_probability_of_its_tail() {
    let deviation = 0.01;
    let circuit = source(1.0, deviation * 3.0_f64.sqrt());
    let ln_above = |sigmas: f64| {
        let observed = Observed::Above(1.0 + sigmas * deviation);
        fit(&circuit, &[volts(out(&circuit), observed, meter(0.0, 0.0))]).evidence
    };
    let tails = [(0.0, 0.5), (1.0, 0.158_66), (1.96, 0.025), (2.33, 0.0099), (3.0, 0.001_35)];
    for (sigmas, tail) in tails {
        assert_relative_eq!(ln_above(sigmas).exp(), tail, epsilon = 5e-6);
        assert_relative_eq!(ln_above(-sigmas).exp(), 1.0 - tail, epsilon = 5e-6);
    }
    assert_relative_eq!(ln_above(10.0), 7.619_85e-24_f64.ln(), epsilon = 1e-4);
}
