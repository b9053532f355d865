//! What readings leave open, against solving the board with faults laid in one at a time.

use crate::bench;
use ohmhound::circuit::{Circuit, Overlay, PartId, Place, Quantity, Reading, Readings};
use ohmhound::diagnosis::{Diagnosis, Job, diagnose_job};
use ohmhound::engine::Assembly;
use ohmhound::fault;
use ohmhound::file::load_readings;
use ohmhound::meter::{Scene, show};
use ohmhound::study::{coverage, to_repeat};

/// The demo boards with all their readings files.
fn jobs() -> Vec<(String, Circuit, Readings)> {
    let mut jobs = Vec::new();
    for name in bench::names() {
        for ending in ["", ".short", ".feedback", ".fuse", ".motor", ".contact", ".frost"] {
            let file = bench::folder().join(format!("{name}{ending}.readings.toml"));
            if !file.exists() {
                continue;
            }
            let circuit = bench::demo(&name);
            let readings = load_readings(&file, &circuit).value.expect("readings in order");
            jobs.push((format!("{name}{ending}"), circuit, readings));
        }
    }
    assert!(jobs.len() > 12, "the demos are there");
    jobs
}

/// Whether a fault moves some reading by more than `far` standard uncertainties; `None` where the
/// board with it has no operating point.
fn shows(
    assembly: &Assembly<'_>,
    readings: &[Reading],
    diagnosis: &Diagnosis,
    overlay: &Overlay,
    far: f64,
) -> Option<bool> {
    for (reading, line) in readings.iter().zip(&diagnosis.readings) {
        let scene = Scene::new(assembly, reading.setup, overlay, None, false).ok()?;
        let shown = show(&scene, reading.quantity, reading.place, &reading.meter)?;
        let expected = line.expected?;
        // An LED is seen to be lit or dark, and not how brightly.
        let led = match (reading.quantity, reading.place) {
            (Quantity::Seen, Place::Part(part)) => Some(&assembly.circuit()[part]),
            _ => None,
        };
        let moved = match led.filter(|part| part.kind == "led") {
            Some(led) => {
                let least = led.nominal("lit_above").unwrap_or(0.5e-3);
                (shown.value > least) != (expected > least)
            }
            None if shown.value.is_infinite() || expected.is_infinite() => {
                shown.value.is_infinite() != expected.is_infinite()
            }
            None => (shown.value - expected).abs() > far * line.expected_u,
        };
        if moved {
            return Some(true);
        }
    }
    Some(false)
}

/// The hard faults of a part, as phrases have them.
fn hard(circuit: &Circuit, part: PartId) -> Vec<Overlay> {
    let name = &circuit[part].name;
    ["open", "shorted", "dead", "absent"]
        .iter()
        .filter_map(|failure| fault::parse(&format!("{name} {failure}"), circuit).ok())
        .filter_map(|fault| fault.overlay(circuit))
        .collect()
}

/// No hard fault of a part that is called untold would have been seen, and of the others one would.
#[test]
fn parts_that_no_reading_tells_about_are_those_whose_faults_move_none() {
    let (mut untold, mut told) = (0, 0);
    for (name, circuit, readings) in jobs() {
        let assembly = Assembly::new(&circuit);
        let diagnosis = diagnose_job(&assembly, &Job::of(&readings));
        let left = coverage(&assembly, &readings, &diagnosis);
        for (part, own) in circuit.parts_by_id() {
            let faults = hard(&circuit, part);
            let seen = |far: f64| -> Vec<bool> {
                let shows = |overlay: &Overlay| {
                    shows(&assembly, &readings.readings, &diagnosis, overlay, far)
                };
                faults.iter().filter_map(shows).collect()
            };
            if left.untold.contains(&part) {
                untold += 1;
                // A little more than the limit itself: values stand between two roundings.
                assert!(seen(3.3).iter().all(|seen| !seen), "{name}: {} shows", own.name);
            } else if own.is_two_pin() && faults.len() == 2 {
                let seen = seen(2.7);
                told += usize::from(seen.contains(&true));
                assert!(seen.len() < 2 || seen.contains(&true), "{name}: {} does not", own.name);
            }
        }
    }
    assert!(untold > 20 && told > 100, "{untold} untold, {told} told");
}

#[test]
fn nets_and_setups_without_a_reading_are_named_and_readings_to_repeat_are_counted() {
    let circuit = bench::demo("sensor-battery");
    let text = "[powered.volts]\nBAT = 6.41\n\"BAT_F to RAIL\" = 0.2\n[powered.amps]\nA1 = 0.012\n\
                [after.powered.volts]\nBAT = 6.41\n";
    let source = ohmhound::finding::Source::new("readings", text);
    let readings = ohmhound::file::read_readings(&source, &circuit).value.expect("in order");
    let assembly = Assembly::new(&circuit);
    let diagnosis = diagnose_job(&assembly, &Job::of(&readings));
    let left = coverage(&assembly, &readings, &diagnosis);
    let names: Vec<&str> = left.unread.iter().map(|net| circuit.net_name(*net)).collect();
    assert_eq!(names, ["PANEL", "WATCH"]);
    let setups: Vec<&str> = left.setups.iter().map(|setup| circuit[*setup].name.as_str()).collect();
    assert_eq!(setups, ["unpowered", "night"]);
    assert_eq!(left.not_repeated, [1, 2]);
    assert_eq!(to_repeat(&circuit, &readings), [1, 2]);
}
