//! Grids of many nets: a plain one timing.
#![allow(clippy::print_stdout)]
use std::time::Instant;

use ohmhound::circuit::{Circuit, Overlay, POWERED};
use ohmhound::device::two_pin;
use ohmhound::engine::{Assembly, Settings};

fn grid(side: usize, diodes: bool) -> Circuit {
    let mut circuit = Circuit::new("grid", "GND");
    let mut seed: u64 = 7;
    let mut share = || {
        seed = seed.wrapping_mul(6364136223846793005).wrapping_add(1442695040888963407);
        (seed >> 11) as f64 / (1u64 << 53) as f64
    };
    let name = |r: usize, c: usize| format!("N{r}_{c}");
    let mut count = 0;
    let mut add = |circuit: &mut Circuit,
                   kind: &'static str,
                   nets: [&str; 2],
                   params: &[(&'static str, f64)]| {
        count += 1;
        let letter = if kind == "diode" {
            "D"
        } else if kind == "supply" {
            "V"
        } else {
            "R"
        };
        two_pin(circuit, &format!("{letter}{count}"), kind, nets, params).unwrap();
    };
    add(&mut circuit, "supply", ["N0_0", "GND"], &[("volts", 12.0), ("resistance", 0.1)]);
    for r in 0..side {
        for c in 0..side {
            let here = name(r, c);
            if c + 1 < side {
                add(
                    &mut circuit,
                    "resistor",
                    [&here, &name(r, c + 1)],
                    &[("value", 100.0 * (1.0 + share()))],
                );
            }
            if r + 1 < side {
                add(
                    &mut circuit,
                    "resistor",
                    [&here, &name(r + 1, c)],
                    &[("value", 100.0 * (1.0 + share()))],
                );
            }
            if (r * side + c) % 7 == 3 {
                if diodes {
                    add(&mut circuit, "diode", [&here, "GND"], &[]);
                } else {
                    add(
                        &mut circuit,
                        "resistor",
                        [&here, "GND"],
                        &[("value", 1e4 * (1.0 + share()))],
                    );
                }
            }
        }
    }
    circuit
}

fn main() {
    for diodes in [false, true] {
        for side in [6usize, 8, 10, 14, 20, 32, 100, 178, 316] {
            let t = Instant::now();
            let circuit = grid(side, diodes);
            let build = t.elapsed().as_secs_f64();
            let mut line = format!(
                "{} n {}: build {:.2} ms",
                if diodes { "diodes" } else { "linear" },
                side * side,
                1e3 * build
            );
            for dense in [0, usize::MAX] {
                if dense > 0 && side > 20 {
                    continue;
                }
                let t = Instant::now();
                let assembly =
                    Assembly::with_settings(&circuit, Settings { dense, ..Settings::default() });
                let ready = t.elapsed().as_secs_f64();
                let mut best = f64::MAX;
                let mut run = None;
                for _ in 0..3 {
                    let t = Instant::now();
                    run = Some(assembly.solve(POWERED, &Overlay::none()));
                    best = best.min(t.elapsed().as_secs_f64());
                }
                let run = run.unwrap();
                let Some(point) = &run.point else {
                    println!("{line} {:?}", run.ending);
                    continue;
                };
                let mut solve = f64::MAX;
                for _ in 0..5 {
                    let t = Instant::now();
                    let shape = point.shape(1, 0);
                    solve = solve.min(t.elapsed().as_secs_f64());
                    std::hint::black_box(shape);
                }
                line += &format!(
                    " | ready {:.2} solve {:.3} shape {:.4} {:?} share {:.1e} entries {}",
                    1e3 * ready,
                    1e3 * best,
                    1e3 * solve,
                    run.ending,
                    point.kcl_share,
                    point.factor.n_entries()
                );
            }
            println!("{line}");
        }
    }
}
