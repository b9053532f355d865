use super::*;
use crate::device::{of, with_pins};

fn part(kind: &str, pins: &[(&str, &str)], params: &[(&'static str, f64)]) -> Result<Part, String> {
    let mut circuit = crate::circuit::Circuit::new("", "GND");
    let id = with_pins(&mut circuit, "U1", kind, pins, params)?;
    Ok(circuit[id].clone())
}

const FIXED: &[(&str, &str)] = &[("input", "VIN"), ("output", "OUT"), ("ground", "GND")];

fn adjustable(extra: &[(&'static str, &'static str)]) -> Vec<(&'static str, &'static str)> {
    let mut pins = FIXED.to_vec();
    pins.push(("feedback", "FB"));
    pins.extend(extra);
    pins
}

#[test]
fn the_set_point_is_said_once() {
    let both = [("reference", 0.8), ("output_volts", 5.0)];
    for (pins, params) in [
        (FIXED.to_vec(), &both[..]),
        (FIXED.to_vec(), &[]),
        (FIXED.to_vec(), &both[..1]),
        (adjustable(&[]), &both[1..]),
        (adjustable(&[]), &[]),
    ] {
        let refused = part("ldo", &pins, params).unwrap_err();
        assert!(refused.contains("`U1`"), "{refused}");
    }
    part("ldo", FIXED, &both[1..]).unwrap();
    part("ldo", &adjustable(&[]), &both[..1]).unwrap();
}

#[test]
fn thresholds_need_their_pin_and_their_order() {
    let with_enable = adjustable(&[("enable", "EN")]);
    let base = ("reference", 0.8);
    let bad: [&[(&'static str, f64)]; 4] = [
        &[base, ("enable_threshold", 1.2), ("enable_rising", 1.2)],
        &[base, ("enable_falling", 1.2)],
        &[base, ("enable_rising", 1.0), ("enable_falling", 1.2)],
        &[base, ("lockout_rising", 4.0), ("lockout_falling", 4.2)],
    ];
    for params in bad {
        part("buck", &with_enable, params).unwrap_err();
    }
    part("buck", &adjustable(&[]), &[base, ("enable_threshold", 1.2)]).unwrap_err();
    part("buck", &with_enable, &[base, ("enable_threshold", 1.2)]).unwrap();
}

#[test]
fn conditions_come_as_lockout_enable_good() {
    let pins = adjustable(&[("enable", "EN"), ("power_good", "PG")]);
    let params = [("reference", 0.8), ("lockout_rising", 4.0), ("good_above", 0.9)];
    let part = part("buck", &pins, &params).unwrap();
    let found = of(&part).conditions(&Values::nominal(&part, 25.0));
    let names: Vec<&str> = found.iter().map(|condition| condition.name).collect();
    assert_eq!(names, ["lockout", "enable", "good"]);
    // 95 % of 4 V; the usual enable threshold; 90 % of 0.8 V.
    let volts = [found[0].on_at, found[0].off_at, found[1].on_at, found[2].on_at];
    for (volts, expected) in volts.into_iter().zip([4.0, 3.8, 1.2, 0.72]) {
        approx::assert_relative_eq!(volts, expected, max_relative = 1e-12);
    }
}

#[test]
fn the_words_for_what_it_does() {
    let part = part("ldo", FIXED, &[("output_volts", 5.0), ("limit", 1.0)]).unwrap();
    let state = |volts: [f64; 3]| {
        let values = Values::nominal(&part, 25.0);
        of(&part).state(&values, &At { volts: &volts, amps: &[0.0; 3] })
    };
    assert_eq!(state([12.0, 5.0 - 1e-6, 0.0]), Some("regulating"));
    assert_eq!(state([12.0, 3.0, 0.0]), Some("at its current limit"));
    assert_eq!(state([4.0, 3.9999, 0.0]), Some("in dropout"));
    assert_eq!(state([12.0, 6.0, 0.0]), Some("above its set point"));
    assert_eq!(state([0.0, 0.0, 0.0]), Some("off"));
    // The same with the ground pin two volts up.
    assert_eq!(state([14.0, 7.0 - 1e-6, 2.0]), Some("regulating"));
}
