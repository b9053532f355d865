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
    let order = |volts: &Vec<f64>| {
        volts
            .get(..2)
            .map(|volts| volts.iter().map(|v| (v * 1e6).round() as i64).collect::<Vec<_>>())
    };
    found.sort_by_key(|(volts, _)| order(volts));
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

/// Number of operating points with one resistor changed, as computed from 1,500 random starts each:
/// open, shorted, halved, five percent more.
const COUNTS: [[usize; 4]; 14] = [
    [1, 1, 5, 9],
    [1, 3, 5, 9],
    [1, 3, 5, 9],
    [1, 1, 9, 9],
    [3, 7, 7, 9],
    [1, 1, 1, 9],
    [1, 1, 1, 9],
    [3, 7, 7, 9],
    [7, 3, 3, 9],
    [7, 3, 3, 9],
    [3, 5, 7, 9],
    [3, 5, 5, 9],
    [7, 1, 5, 9],
    [7, 1, 5, 9],
];

#[test]
fn every_fault_of_the_four_transistor_circuit_has_its_number_of_points() {
    let changes: [fn(f64) -> f64; 4] = [|_| 1e12, |_| 1e-3, |ohms| 0.5 * ohms, |ohms| 1.05 * ohms];
    let mut wrong = Vec::new();
    for (idx, counts) in COUNTS.iter().enumerate() {
        for (change, count) in changes.iter().zip(counts) {
            let mut ohms = as_drawn();
            ohms[idx] = change(ohms[idx]);
            let circuit = four_transistors(&ohms);
            let assembly = Assembly::new(&circuit);
            let network = assembly.network(POWERED, &Overlay::none());
            let all = network.all_points(&Settings::default(), 200);
            if all.points.len() != *count || all.degree() != 1.0 {
                wrong.push((idx + 1, ohms[idx], all.points.len(), *count, all.degree()));
            }
        }
    }
    assert!(wrong.is_empty(), "{wrong:#?}");
}

/// The hard case: plain junction-limited Newton settles from four starts in five only.
#[test]
fn the_hard_variant_settles_from_every_start() {
    let mut ohms = as_drawn();
    ohms[9] = 4e3;
    let circuit = four_transistors(&ohms);
    let assembly = Assembly::new(&circuit);
    let all = assembly.network(POWERED, &Overlay::none()).all_points(&Settings::default(), 2000);
    assert!(all.starts >= 2000);
    assert_eq!(all.unsettled, 0, "of {}", all.starts);
    assert_eq!(all.degree(), 1.0);
}

/// Two transistors that drive each other's base through a resistor and a source of `volts`; the
/// arrangement follows from the published equations and satisfies the published points.
fn two_transistors(saturation: f64, scale: f64, volts: f64) -> Circuit {
    let mut circuit = Circuit::new("", "0");
    circuit.setups[0].celsius = celsius(1.0 / scale);
    supply(&mut circuit, "VCC", 5.0, ["VCC", "0"]);
    let params = [("gain", 99.0), ("reverse_gain", 1.0), ("saturation_current", saturation)];
    for (own, other) in [("1", "2"), ("2", "1")] {
        let [c, b, s] = [format!("C{own}"), format!("B{own}"), format!("S{own}")];
        resistor(&mut circuit, &format!("RC{own}"), 5e3, ["VCC", &c]);
        supply(&mut circuit, &format!("VS{own}"), volts, [&s, &format!("C{other}")]);
        resistor(&mut circuit, &format!("RB{own}"), 10e3, [&s, &b]);
        npn(&mut circuit, &format!("Q{own}"), [&c, &b, "0"], &params);
    }
    circuit
}

#[test]
fn a_two_transistor_circuit_has_five_points() {
    let found = points(&two_transistors(1e-9, 0.053, 0.64), &["B1", "C1", "B2", "C2"], 100);
    let point = |be1: f64, bc1: f64, be2: f64, bc2: f64| [be1, be1 - bc1, be2, be2 - bc2];
    let mirrored = |[a, b, c, d]: [f64; 4]| [c, d, a, b];
    let outer = point(0.7035896, -0.7218071, 0.7423165, 0.6198873);
    let inner = point(0.7199016, -0.0033359, 0.7355125, 0.5755529);
    let middle = point(0.7292896, 0.4714552, 0.7292896, 0.4714552);
    assert_points(
        &found,
        &[
            (&outer, 1.0),
            (&inner, -1.0),
            (&middle, 1.0),
            (&mirrored(inner), -1.0),
            (&mirrored(outer), 1.0),
        ],
    );
    let other = points(&two_transistors(1e-6, 0.102, 0.44), &["B1"], 100);
    assert_eq!(other.len(), 5, "{other:?}");
}
