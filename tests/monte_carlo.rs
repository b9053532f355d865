//! The covariance of predicted readings, S·D·Sᵀ from adjoints at the (faulted) operating point,
//! against plain chance: every tolerance drawn inside its bounds, the board solved anew, the meter
//! read, thousands of times.

mod bench;
mod chance;

use chance::{Chance, Draw, blank, laid, shown, tolerances};
use ohmhound::circuit::{Meter, Overlay, Quantity};
use ohmhound::diagnosis::Case;
use ohmhound::engine::Assembly;
use ohmhound::fault::{Evidence, hypotheses};

fn explore(name: &str, samples: usize, faults: usize, draw: Draw) {
    let circuit = bench::demo(name);
    let assembly = Assembly::new(&circuit);
    let meter = Meter::default();
    let places = bench::first_round(&circuit);
    let blank = blank(&places, meter);
    let case = Case::new(&assembly, &blank);
    let list = hypotheses(&circuit, &Evidence::default());
    let mut overlays = vec![("healthy".to_owned(), Overlay::none())];
    for k in 0..faults {
        let hypothesis = &list[k * list.len() / faults + list.len() / (2 * faults)];
        let (low, high) = hypothesis.curve.map_or((0.0, 0.0), |curve| (curve.low, curve.high));
        let overlay = hypothesis.overlay(0.5 * (low + high));
        overlays.push((hypothesis.name(&circuit), overlay));
    }
    for (number, (fault, overlay)) in overlays.iter().enumerate() {
        let start = std::time::Instant::now();
        let Ok(prediction) = case.predict(overlay) else {
            println!("{name} {fault}: no point");
            continue;
        };
        let mut chance = Chance::new(number as u64);
        let mut ys: Vec<Vec<f64>> = Vec::new();
        let (mut failed, mut over) = (0, 0);
        for _ in 0..samples {
            let drawn = laid(tolerances(&assembly, &mut chance, draw), overlay);
            let Ok(values) = shown(&assembly, &drawn, &places, &meter) else {
                failed += 1;
                continue;
            };
            let inf = values
                .iter()
                .zip(&prediction.shown)
                .any(|(a, b)| a.is_infinite() != b.is_infinite());
            if inf {
                over += 1;
            }
            ys.push(values.iter().zip(&case.targets).map(|(v, t)| t.scale.of(*v)).collect());
        }
        println!(
            "{name} [{fault}] failed {failed} over {over} of {samples}, {:.1} ms each",
            start.elapsed().as_secs_f64() * 1e3 / samples as f64
        );
        let n = ys.len() as f64;
        for (idx, place) in blank.iter().enumerate() {
            if prediction.shown[idx].is_infinite() {
                continue;
            }
            let values: Vec<f64> = ys.iter().map(|y| y[idx]).filter(|v| v.is_finite()).collect();
            let n = values.len() as f64;
            let mean = values.iter().sum::<f64>() / n;
            let mc = (values.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / n).sqrt();
            let lin = prediction.spread[idx].iter().map(|v| v * v).sum::<f64>().sqrt();
            let y = prediction.y[idx];
            let acc = meter.accuracy(place.quantity);
            let own = match place.quantity {
                Quantity::Ohms => (acc.fraction.powi(2) + (acc.counts * 1e-3).powi(2)).sqrt(),
                _ => (acc.fraction * y.abs()).hypot(acc.counts * 1e-3),
            } / 3f64.sqrt();
            let (tm, tl) = (mc.hypot(own), lin.hypot(own));
            if (tm / tl).ln().abs() > 0.05 || (mean - y).abs() > 0.2 * tl {
                println!(
                    "   {:?} {}: y {y:.5} mean {mean:.5} lin {lin:.3e} mc {mc:.3e} ratio {:.3} with meter {:.3} bias {:.2}",
                    place.quantity,
                    place.place_text,
                    mc / lin,
                    tm / tl,
                    (mean - y) / tl
                );
            }
        }
        let _ = n;
    }
}

#[test]
fn explore_all() {
    let only = std::env::var("ONLY").ok();
    for name in bench::names() {
        if only.as_ref().is_none_or(|only| *only == name) {
            explore(
                &name,
                std::env::var("N").map_or(500, |n| n.parse().unwrap()),
                6,
                Draw::Uniform,
            );
        }
    }
}
