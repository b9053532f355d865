//! Thresholds within tolerance: some boards of a kind switch and others do not, and both are what a
//! diagnosis has to expect.

use crate::bench;
use ohmhound::circuit::{Circuit, Overlay};
use ohmhound::diagnosis::{Diagnosis, Verdict, diagnose};
use ohmhound::engine::Assembly;

/// A regulator whose enable stands a little over its threshold, which is known to 10 %.
fn regulator(top: &str) -> Circuit {
    bench::circuit(&format!(
        r#"[parts]
        J1 = {{ kind = "supply", volts = "12 V", tolerance = "1 %", nets = ["IN", "GND"] }}
        R1 = {{ value = "{top}", tolerance = "1 %", nets = ["IN", "EN"] }}
        R2 = {{ value = "10k", tolerance = "1 %", nets = ["EN", "GND"] }}
        R3 = {{ value = "1k", nets = ["OUT", "GND"] }}
        [parts.U1]
        kind = "ldo"
        output_volts = "5 V"
        enable_threshold = "1.2 V ± 10 %"
        pins = {{ input = "IN", enable = "EN", output = "OUT", ground = "GND" }}"#
    ))
}

fn told(circuit: &Circuit, text: &str) -> Diagnosis {
    diagnose(&Assembly::new(circuit), &bench::readings(circuit, text), &[])
}

/// The share of boards that stay off is the normal tail of the margin in standard uncertainties
/// (NIST/SEMATECH e-Handbook of Statistical Methods, section 1.3.6.7.1): the margin of 60 mV, the
/// threshold's half-width of 120 mV over √3, and what the divider and the supply add.
#[test]
fn a_healthy_board_may_stay_off() {
    // 12 V · 10/(R1 + 10) = 1.26 V.
    let circuit = regulator("85.24k");
    let off = told(&circuit, "[powered.volts]\nIN = 12.00\nEN = 1.260\nOUT = 0.000");
    assert_eq!(off.healthy_verdict, Verdict::Reproduces);
    let flipped = off.healthy_flipped.expect("a threshold within tolerance");
    assert_eq!((circuit[flipped.part].name.as_str(), flipped.condition), ("U1", "enable"));
    assert!(!flipped.on);
    let on = told(&circuit, "[powered.volts]\nIN = 12.00\nEN = 1.260\nOUT = 5.000");
    assert_eq!(on.healthy_verdict, Verdict::Reproduces);
    assert_eq!(on.healthy_flipped, None);
    // Given the volts read at the enable, only the threshold is left to chance: 0.06 V against
    // 0.12 V/√3 is 0.866 standard uncertainties, of which 19.3 % stay off and 80.7 % do not.
    let odds = |diagnosis: &Diagnosis, phrase: &str| {
        let other = diagnosis.candidates.iter().find(|one| one.fault.phrase(&circuit) == phrase);
        diagnosis.healthy_probability / other.unwrap().probability
    };
    // "U1 dead" reads the same whether the enable is met or not.
    let found = odds(&off, "U1 dead");
    let (healthy, dead) = (0.05, odds_of_dead(&circuit));
    approx::assert_relative_eq!(found, 0.193 * healthy / dead, max_relative = 0.1);
}

/// The weight of a dead regulator before any reading.
fn odds_of_dead(circuit: &Circuit) -> f64 {
    let list = ohmhound::fault::hypotheses(circuit, &Default::default());
    let dead = list.iter().find(|one| one.name(circuit) == "U1 dead").unwrap();
    dead.weight()
}

/// Far from the threshold nothing is split: an output at nothing is a fault.
#[test]
fn far_from_the_threshold_a_dead_output_is_a_fault() {
    // 2.4 V at the enable.
    let circuit = regulator("40k");
    let off = told(&circuit, "[powered.volts]\nIN = 12.00\nEN = 2.40\nOUT = 0.000");
    assert_eq!(off.healthy_verdict, Verdict::Excluded);
    assert_eq!(off.healthy_flipped, None);
}

/// A drifted divider whose nominal board just switches reproduces a board that just does not, at
/// the value that the other readings ask for.
#[test]
fn a_drifted_divider_at_the_threshold() {
    let circuit = regulator("40k");
    // R1 at 87 kΩ puts the enable at 1.237 V: over 1.2 V, but not over each threshold.
    let diagnosis = told(&circuit, "[powered.volts]\nIN = 12.00\nEN = 1.237\nOUT = 0.000");
    let drifted =
        diagnosis.candidates.iter().find(|one| one.fault.phrase(&circuit) == "R1 drifted").unwrap();
    assert_eq!(drifted.verdict, Verdict::Reproduces, "{:?}", drifted.distance);
    let value = drifted.value.unwrap();
    approx::assert_relative_eq!(value, 87e3, max_relative = 0.03);
    assert!(drifted.flipped.is_some_and(|flipped| !flipped.on));
}

/// The margin's uncertainty is that of boards drawn one by one: supply, divider and threshold of
/// the standby supply, each moved by one standard uncertainty.
#[test]
fn margins_move_with_their_sources() {
    let circuit = regulator("85.24k");
    let assembly = Assembly::new(&circuit);
    let setup = ohmhound::circuit::POWERED;
    let network = assembly.network(setup, &Overlay::none());
    let watches = assembly.watches(setup, &network);
    let enable = watches.iter().find(|watch| watch.condition.name == "enable").unwrap();
    let (network, point) = assembly.power_up_held(setup, &Overlay::none(), enable, false).unwrap();
    let margin = assembly.margin(setup, &network, &point, enable);
    approx::assert_relative_eq!(margin.volts, 0.06, max_relative = 0.02);
    // By hand: 1 % of 1.26 V from the supply, 1 % of (1 − 10/95.24) of it from each resistor, and
    // 10 % of 1.2 V from the threshold, each over √3.
    let share: f64 = 1.26 * 0.01 * (1.0 - 10.0 / 95.24);
    let by_hand = (0.0126_f64.powi(2) + 2.0 * share.powi(2) + 0.12_f64.powi(2)).sqrt();
    approx::assert_relative_eq!(margin.standard(), by_hand / 3.0_f64.sqrt(), max_relative = 0.01);
}
