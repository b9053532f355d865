//! Circuits with several operating points: every published one is found, told stable or unstable
//! by the sign of the determinant, and the signs add up to +1.
//!
//! Sources: the emitter-coupled pairs and the four-transistor circuit with nine points (L. O. Chua
//! and others; values as in public test files, all solutions recomputed independently to a
//! residual of 1e-15 A); the two-transistor circuit with five (Y. Nakaya, T. Nishi, S. Oishi and
//! M. Claus, "Numerical existence proof of five solutions for certain two-transistor circuit
//! equations", Japan Journal of Industrial and Applied Mathematics 26, 2009, 327-336).

use ohmhound::circuit::{Circuit, Overlay, POWERED};
use ohmhound::device::{two_pin, with_pins};
use ohmhound::engine::{Assembly, Settings};

/// Kelvins at zero degrees Celsius, and the elementary charge over Boltzmann's constant, as the
/// SI of 2019 has them.
const ZERO: f64 = 273.15;
const CHARGE_OVER_BOLTZMANN: f64 = 1.602_176_634e-19 / 1.380_649e-23;

/// Celsius at which the junctions have so many e-folds per volt.
fn celsius(per_volt: f64) -> f64 {
    CHARGE_OVER_BOLTZMANN / per_volt - ZERO
}

fn resistor(circuit: &mut Circuit, name: &str, ohms: f64, nets: [&str; 2]) {
    two_pin(circuit, name, "resistor", nets, &[("value", ohms)]).unwrap();
}

fn supply(circuit: &mut Circuit, name: &str, volts: f64, nets: [&str; 2]) {
    let params = [("volts", volts), ("resistance", 0.0)];
    two_pin(circuit, name, "supply", nets, &params).unwrap();
}

fn npn(circuit: &mut Circuit, name: &str, [c, b, e]: [&str; 3], params: &[(&'static str, f64)]) {
    let pins = [("collector", c), ("base", b), ("emitter", e)];
    with_pins(circuit, name, "npn", &pins, params).unwrap();
}

/// αF = 0.99 and αR = 0.5 as gains.
const PAIR: [(&str, f64); 3] =
    [("gain", 99.0), ("reverse_gain", 1.0), ("saturation_current", 1e-16)];

fn first_pair() -> Circuit {
    let mut circuit = Circuit::new("", "0");
    circuit.setups[0].celsius = celsius(38.78);
    supply(&mut circuit, "V1", 10.0, ["VCC", "0"]);
    supply(&mut circuit, "V2", 1.5, ["IN", "0"]);
    resistor(&mut circuit, "RC1", 2e3, ["VCC", "C1"]);
    resistor(&mut circuit, "RC2", 1e3, ["VCC", "C2"]);
    resistor(&mut circuit, "RE", 100.0, ["E", "0"]);
    resistor(&mut circuit, "R3", 10e3, ["C1", "B2"]);
    npn(&mut circuit, "Q1", ["C1", "IN", "E"], &PAIR);
    npn(&mut circuit, "Q2", ["C2", "B2", "E"], &PAIR);
    circuit
}

fn second_pair() -> Circuit {
    let mut circuit = Circuit::new("", "0");
    circuit.setups[0].celsius = celsius(38.78);
    supply(&mut circuit, "V1", 10.0, ["VCC", "0"]);
    resistor(&mut circuit, "R1", 10e3, ["C1", "B2"]);
    resistor(&mut circuit, "R2", 5e3, ["VCC", "B1"]);
    resistor(&mut circuit, "R3", 1.25e3, ["B1", "0"]);
    resistor(&mut circuit, "R4", 1e6, ["B2", "0"]);
    resistor(&mut circuit, "RC1", 1.5e3, ["VCC", "C1"]);
    resistor(&mut circuit, "RC2", 1e3, ["VCC", "C2"]);
    resistor(&mut circuit, "RE", 100.0, ["E", "0"]);
    npn(&mut circuit, "Q1", ["C1", "B1", "E"], &PAIR);
    npn(&mut circuit, "Q2", ["C2", "B2", "E"], &PAIR);
    circuit
}

/// The fourteen resistors of the four-transistor circuit, by number.
const FOUR: [(f64, [&str; 2]); 14] = [
    (10e3, ["2", "3"]),
    (4e3, ["4", "13"]),
    (4e3, ["5", "14"]),
    (5e3, ["1", "0"]),
    (30e3, ["4", "6"]),
    (500.0, ["8", "0"]),
    (500.0, ["9", "0"]),
    (30e3, ["5", "7"]),
    (10.1e3, ["6", "0"]),
    (10.1e3, ["7", "0"]),
    (4e3, ["10", "13"]),
    (4e3, ["12", "14"]),
    (30e3, ["3", "10"]),
    (30e3, ["12", "11"]),
];

fn four_transistors(ohms: &[f64; 14]) -> Circuit {
    let mut circuit = Circuit::new("", "0");
    circuit.setups[0].celsius = celsius(38.7766);
    supply(&mut circuit, "V1", 10.0, ["1", "2"]);
    supply(&mut circuit, "V2", 2.0, ["11", "3"]);
    supply(&mut circuit, "V3", 12.0, ["13", "0"]);
    supply(&mut circuit, "V4", 12.0, ["14", "0"]);
    for (idx, (ohms, (_, nets))) in ohms.iter().zip(&FOUR).enumerate() {
        resistor(&mut circuit, &format!("R{}", idx + 1), *ohms, *nets);
    }
    let params = [("gain", 100.0), ("reverse_gain", 1.0), ("saturation_current", 1e-9)];
    for (name, pins) in [
        ("Q1", ["4", "1", "8"]),
        ("Q2", ["10", "6", "8"]),
        ("Q3", ["5", "1", "9"]),
        ("Q4", ["12", "7", "9"]),
    ] {
        npn(&mut circuit, name, pins, &params);
    }
    circuit
}

fn as_drawn() -> [f64; 14] {
    FOUR.map(|(ohms, _)| ohms)
}

/// Points of a circuit as the volts of some nets, with their signs, in order of the volts.
fn points(circuit: &Circuit, nets: &[&str], quiet: usize) -> Vec<(Vec<f64>, f64)> {
    let assembly = Assembly::new(circuit);
    let network = assembly.network(POWERED, &Overlay::none());
    let all = network.all_points(&Settings::default(), quiet);
    assert_eq!(all.degree(), 1.0, "{} points", all.points.len());
    let mut found: Vec<(Vec<f64>, f64)> = all
        .points
        .iter()
        .map(|(point, sign)| {
            let volts = nets.iter().map(|net| point.volts[circuit.net(net).unwrap().index()]);
            (volts.collect(), *sign)
        })
        .collect();
    found.sort_by(|a, b| a.0[0].total_cmp(&b.0[0]).then(a.0[1].total_cmp(&b.0[1])));
    found
}

fn assert_points(found: &[(Vec<f64>, f64)], published: &[(&[f64], f64)]) {
    assert_eq!(found.len(), published.len(), "{found:#?}");
    for ((volts, sign), (known, known_sign)) in found.iter().zip(published) {
        for (found, known) in volts.iter().zip(*known) {
            assert!((found - known).abs() < 2e-6, "{found} for {known}");
        }
        assert_eq!(sign, known_sign, "{volts:?}");
    }
}

#[test]
fn an_emitter_coupled_pair_has_three_points() {
    let found = points(&first_pair(), &["C1", "E", "C2", "B2"], 40);
    assert_points(
        &found,
        &[
            (&[0.710330, 0.672537, 10.0, 0.710330], 1.0),
            (&[1.768794, 0.691810, 7.238789, 1.489884], -1.0),
            (&[8.632514, 0.964551, 1.038232, 1.796128], 1.0),
        ],
    );
}

#[test]
fn a_pair_with_a_biased_base_has_three_points() {
    let found = points(&second_pair(), &["E", "C1", "C2", "B2", "B1"], 40);
    assert_points(
        &found,
        &[
            (&[0.668223, 0.739851, 10.0, 0.732526, 1.490465], 1.0),
            (&[1.138429, 2.626495, 3.578400, 1.958266, 1.951022], -1.0),
            (&[1.176096, 5.492563, 1.268826, 2.005310, 1.973169], 1.0),
        ],
    );
}

#[test]
fn the_four_transistor_circuit_has_nine_points() {
    let found = points(&four_transistors(&as_drawn()), &["1", "4", "5", "10", "12"], 60);
    assert_points(
        &found,
        &[
            (&[1.727777, 9.750363, 9.960946, 1.497953, 1.502378], 1.0),
            (&[1.767044, 1.461459, 9.852009, 10.237184, 1.542170], 1.0),
            (&[1.768818, 9.627500, 1.462568, 1.540499, 10.478236], 1.0),
            (&[1.771842, 1.464495, 1.464495, 10.458041, 10.693335], 1.0),
            (&[1.782284, 1.471458, 7.750513, 10.287392, 3.580047], -1.0),
            (&[1.782284, 7.750513, 1.471458, 3.344753, 10.522686], -1.0),
            (&[1.810821, 7.904680, 9.341782, 2.763713, 1.584328], -1.0),
            (&[1.819474, 9.039986, 7.951442, 1.594287, 2.893928], -1.0),
            (&[1.845628, 8.092846, 8.092846, 2.340797, 2.576091], 1.0),
        ],
    );
}
