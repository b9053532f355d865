//! A bench for tests: the demo circuits, and readings as a meter with a four-digit display shows
//! them on a board with a change laid over it.
#![allow(dead_code, reason = "each test uses its own part of the bench")]

use std::path::{Path, PathBuf};

use ohmhound::circuit::{
    Circuit, Meter, NetId, Observed, Overlay, POWERED, Place, Quantity, Reading, SetupId, Spot,
    UNPOWERED,
};
use ohmhound::engine::{Assembly, Ending};
use ohmhound::file::{load_circuit, read_circuit, read_readings};
use ohmhound::finding::Source;
use ohmhound::meter::{Scene, show};
use ohmhound::report::{Style, render};

/// The folder of the demo circuits.
pub fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("circuits")
}

/// The names of the demo circuits, without their ending, in order.
pub fn names() -> Vec<String> {
    let mut names: Vec<String> = std::fs::read_dir(folder())
        .expect("the folder of the demo circuits")
        .map(|entry| entry.expect("an entry").file_name().into_string().expect("a plain name"))
        .filter(|name| name.ends_with(".toml"))
        .filter(|name| !name.ends_with(".readings.toml") && !name.ends_with(".shelf.toml"))
        .map(|name| name.trim_end_matches(".toml").to_owned())
        .collect();
    names.sort();
    names
}

/// A demo circuit.
pub fn demo(name: &str) -> Circuit {
    let parsed = load_circuit(folder().join(format!("{name}.toml")));
    parsed.value.unwrap_or_else(|| panic!("{}", render(&parsed.findings, Style::Plain, 80)))
}

/// A circuit from its text, which must be in order.
pub fn circuit(text: &str) -> Circuit {
    let parsed = read_circuit(&Source::new("circuit", text), &mut |_| Err(String::new()));
    parsed.value.unwrap_or_else(|| panic!("{}", render(&parsed.findings, Style::Plain, 80)))
}

/// Readings from their text, which must be in order.
pub fn readings(circuit: &Circuit, text: &str) -> Vec<Reading> {
    let parsed = read_readings(&Source::new("readings", text), circuit);
    let found = parsed.value;
    found.unwrap_or_else(|| panic!("{}", render(&parsed.findings, Style::Plain, 80))).readings
}

/// The first round over a board: volts at every net that can be probed, then with the power off
/// ohms to ground and diode mode both ways.
pub fn first_round(circuit: &Circuit) -> Vec<(SetupId, Quantity, Place)> {
    let ground = Spot::Net(NetId::GROUND);
    let mut places = Vec::new();
    for (net, _) in circuit.nets_by_id().skip(1).filter(|(net, _)| circuit.board.can_probe(*net)) {
        let red = Spot::Net(net);
        places.push((POWERED, Quantity::Volts, Place::At(red)));
        places.push((UNPOWERED, Quantity::Ohms, Place::At(red)));
        places.push((UNPOWERED, Quantity::Diode, Place::Between(red, ground)));
        places.push((UNPOWERED, Quantity::Diode, Place::Between(ground, red)));
    }
    places
}

/// What the display shows of a value, with the weight of its last digit: four digits, and volts
/// never finer than a millivolt, amps than a tenth of a microamp, ohms than a tenth of an ohm.
pub fn displayed(value: f64, quantity: Quantity) -> Observed {
    if value.is_infinite() {
        return Observed::Over;
    }
    let finest: f64 = match quantity {
        Quantity::Amps => 1e-7,
        Quantity::Ohms => 0.1,
        _ => 1e-3,
    };
    let four_digits =
        if value == 0.0 { finest } else { 10.0_f64.powi(value.abs().log10().floor() as i32 - 3) };
    let count = four_digits.max(finest);
    // Adding zero turns a minus nothing into nothing.
    let value = (value / count).round() * count + 0.0;
    Observed::Number { value, count, half_width: None }
}

/// The readings of a board with a change laid over it.
///
/// # Errors
///
/// How the run ended in a setup that has no operating point.
pub fn measure(
    assembly: &Assembly<'_>,
    overlay: &Overlay,
    places: &[(SetupId, Quantity, Place)],
) -> Result<Vec<Reading>, Ending> {
    let meter = Meter::default();
    let setups: Vec<SetupId> = vec![POWERED, UNPOWERED];
    let scenes = setups
        .iter()
        .map(|setup| Scene::new(assembly, *setup, overlay, None, false))
        .collect::<Result<Vec<_>, _>>()?;
    places
        .iter()
        .map(|&(setup, quantity, place)| {
            let shown = show(&scenes[setup.0], quantity, place, &meter)
                .ok_or(Ending::NotSettled { nets: Vec::new() })?;
            Ok(Reading {
                setup,
                quantity,
                place,
                place_text: format!("{place:?}"),
                observed: displayed(shown.value, quantity),
                meter,
            })
        })
        .collect()
}
