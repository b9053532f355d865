//! What a fault predicts at a value does not depend on which values of it were looked at before: the
//! same along a line, where places between two that powered up alike are solved where those ended, as
//! for each place by itself; on demo boards that have states.

// The counts are what a reader of the test's output wants to see.
#![allow(clippy::print_stdout)]

use crate::bench;
use ohmhound::circuit::{Meter, Overlay, POWERED, Place, Quantity, Spot};
use ohmhound::diagnosis::{Predictor, Probe};
use ohmhound::engine::Assembly;
use ohmhound::fault::{Evidence, hypotheses};

/// Places between the ends of a line.
const BETWEEN: usize = 23;

/// A board, with every how many of its lines are looked at.
fn differences(name: &str, stride: usize) -> (usize, Vec<String>) {
    let circuit = bench::demo(name);
    let assembly = Assembly::new(&circuit);
    assert!(assembly.has_states(), "{name} has no states");
    let probes: Vec<Probe> = circuit
        .nets_by_id()
        .skip(1)
        .map(|(net, _)| Probe {
            setup: POWERED,
            quantity: Quantity::Volts,
            place: Place::At(Spot::Net(net)),
        })
        .collect();
    let predictor = Predictor::new(&assembly, &probes, &Meter::default());
    let (mut count, mut found) = (0, Vec::new());
    for hypothesis in hypotheses(&circuit, &Evidence::default()).iter().step_by(stride) {
        let Some(curve) = &hypothesis.curve else { continue };
        // Both ends first: the places between do not follow the one before them.
        let length = curve.high - curve.low;
        let mut places = vec![curve.low, curve.high];
        places
            .extend((1..=BETWEEN).map(|at| curve.low + length * at as f64 / (BETWEEN + 1) as f64));
        let overlays: Vec<Overlay> =
            places.iter().map(|place| hypothesis.overlay(*place)).collect();
        let along = predictor.predict_all(&overlays.iter().collect::<Vec<_>>());
        for ((overlay, along), place) in overlays.iter().zip(along).zip(places) {
            let alone = predictor.predict(overlay);
            for (probe, (along, alone)) in probes.iter().zip(along.iter().zip(&alone)) {
                let (Some(along), Some(alone)) = (along, alone) else { continue };
                count += 1;
                let apart = (along.y - alone.y).abs();
                // What hangs on next to nothing, and is amplified, stands within two millivolts.
                if apart > 2e-3 && !(along.floats || alone.floats) {
                    let what = hypothesis.name(&circuit);
                    found.push(format!(
                        "{name}: {what} at {place:.3}, {:?}: {} and {}",
                        probe.place, along.y, alone.y
                    ));
                }
            }
        }
    }
    (count, found)
}

#[test]
fn a_place_along_a_line_is_the_same_as_by_itself() {
    let boards =
        [("standby-supply", 3), ("relay-driver", 2), ("pump-controller", 5), ("cold-store", 9)];
    let (mut count, mut found) = (0, Vec::new());
    for (name, stride) in boards {
        let (looked_at, different) = differences(name, stride);
        println!("{name}: {looked_at} volts, {} different", different.len());
        println!("{}", different.join("\n"));
        count += looked_at;
        found.extend(different);
    }
    assert!(count > 10_000, "{count} volts only");
    // Patterns that a board did not stay in are passed over at the next three places: where it keeps
    // switching, one that it would have stayed in may be among them.
    assert!(found.len() * 1000 <= count, "{} of {count}", found.len());
}
