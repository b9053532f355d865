//! Grids of many nets: how factors, solves and whole solutions grow with the nets.
//!
//! Claims, from 1,000 to 100,000 nets: a factorisation grows by an exponent of at most 1.3, a solve
//! by 1.2; 10,000 nets are factored within 1.5 times of what a general sparse LU takes that is given
//! the same matrix; a fault more costs one solve. With diodes, from 100 to 10,000 nets: one healthy
//! board grows by an exponent of at most 1.4, its memory by 1.2. The first table is where dense and
//! sparse matrices take the same time.

#[path = "../tests/chance/mod.rs"]
mod chance;
mod measure;

use chance::Chance;
use faer::Par;
use faer::dyn_stack::{MemBuffer, MemStack};
use faer::sparse::linalg::lu::{NumericLu, factorize_symbolic_lu};
use faer::sparse::{SparseColMat, Triplet};
use measure::{Measure, Report, exponent, exponent_of, memory, share};
use ohmhound::circuit::{Circuit, Overlay, POWERED};
use ohmhound::device::two_pin;
use ohmhound::engine::{Assembly, Factor, PortTable, PortView, Settings, Shunt, Site};

/// Sides of the grids of resistances.
const SIDES: [usize; 5] = [32, 56, 100, 178, 316];
/// Sides of the grids with diodes.
const DIODE_SIDES: [usize; 5] = [10, 18, 32, 56, 100];
/// The side that is held against the reference.
const CLAIMED: usize = 100;
/// Sides around the one where dense and sparse matrices take the same time.
const SMALL: [usize; 6] = [5, 6, 7, 8, 10, 14];

fn main() {
    crossover();
    resistances();
    diodes();
}

/// Adds a part between two nets.
fn add(circuit: &mut Circuit, kind: &'static str, nets: [&str; 2], params: &[(&'static str, f64)]) {
    let name = format!("{}{}", &kind[..1].to_uppercase(), circuit.parts.len());
    two_pin(circuit, &name, kind, nets, params).expect("a part");
}

/// A grid of resistances that a supply feeds at a corner; every seventh net has a load to ground, or
/// a diode.
fn grid(side: usize, diodes: bool) -> Circuit {
    let mut chance = Chance::new(7);
    let mut circuit = Circuit::new("", "GND");
    let name = |row: usize, column: usize| format!("N{row}_{column}");
    let supply = [("volts", 12.0), ("resistance", 0.1)];
    add(&mut circuit, "supply", ["N0_0", "GND"], &supply);
    for row in 0..side {
        for column in 0..side {
            let here = name(row, column);
            for next in [(row, column + 1), (row + 1, column)] {
                if next.0 < side && next.1 < side {
                    let ohms = [("value", 100.0 * (1.0 + chance.share()))];
                    add(&mut circuit, "resistor", [&here, &name(next.0, next.1)], &ohms);
                }
            }
            if (row * side + column) % 7 == 3 {
                let load = [("value", 1e4 * (1.0 + chance.share()))];
                match diodes {
                    true => add(&mut circuit, "diode", [&here, "GND"], &[]),
                    false => add(&mut circuit, "resistor", [&here, "GND"], &load),
                }
            }
        }
    }
    circuit
}

/// The nodal matrix of a grid of resistances.
fn entries(circuit: &Circuit) -> Vec<(usize, usize, f64)> {
    let mut found = Vec::new();
    for part in &circuit.parts {
        let siemens = 1.0 / part.nominal("value").or(part.nominal("resistance")).expect("ohms");
        let [from, to] = [0, 1].map(|pin| part.pins[pin].net.index());
        for (row, column, sign) in
            [(from, from, 1.0), (to, to, 1.0), (from, to, -1.0), (to, from, -1.0)]
        {
            if row != 0 && column != 0 {
                found.push((row - 1, column - 1, sign * siemens));
            }
        }
    }
    found
}

fn crossover() {
    let mut measure = Measure::new("sparse-crossover");
    let mut report = Report::default();
    for (side, diodes) in SMALL.iter().flat_map(|side| [(*side, false), (*side, true)]) {
        let circuit = grid(side, diodes);
        let [dense, sparse] = [usize::MAX, 0].map(|dense| {
            let settings = Settings { dense, ..Settings::default() };
            let assembly = Assembly::with_settings(&circuit, settings);
            let name = format!("{side}-{diodes}-{}", if dense == 0 { "sparse" } else { "dense" });
            measure.time(&name, || assembly.solve(POWERED, &Overlay::none()))
        });
        let what = if diodes { "with diodes" } else { "resistances" };
        report.row(format!("{} nets, {what}: sparse beside dense", side * side), sparse);
        report.beside(dense);
    }
    report.print();
}

fn resistances() {
    let mut measure = Measure::of_long_runs("sparse");
    let mut report = Report::default();
    let (mut factors, mut solves, mut wholes) = (Vec::new(), Vec::new(), Vec::new());
    for side in SIDES {
        let n = side * side;
        let circuit = grid(side, false);
        let entries = entries(&circuit);
        let first = Factor::of_entries(n, &entries).expect("factors");
        let factor = measure.time(&format!("factor-{n}"), || first.again(&entries));
        let right: Vec<f64> = (0..n).map(|row| (row % 13) as f64).collect();
        let solve = measure.time(&format!("solve-{n}"), || first.solve(&right));
        let assembly = Assembly::new(&circuit);
        let whole =
            measure.time(&format!("whole-{n}"), || assembly.solve(POWERED, &Overlay::none()));
        report
            .row(format!("{n} nets: factors"), factor)
            .with(memory(|| first.again(&entries)))
            .row(format!("{n} nets: a solve"), solve)
            .beside(factor)
            .with(memory(|| first.solve(&right)))
            .row(format!("{n} nets: the healthy board"), whole)
            .beside(factor)
            .with(memory(|| assembly.solve(POWERED, &Overlay::none())));
        factors.push((n as f64, factor));
        solves.push((n as f64, solve));
        wholes.push((n as f64, whole));
        if side == CLAIMED {
            let general = reference(&mut measure, n, &entries);
            report.row(format!("{n} nets: a general sparse LU"), general).beside(factor);
            report.at_most("factors beside the general LU", factor.ratio(general), 1.5, share);
            let view = PortView::new(&assembly, POWERED).expect("a linear board");
            let own = measure.time("shape", || view.point().shape(17, 40));
            let places: Vec<(usize, usize)> = (1..=10).map(|place| (place * n / 10, 0)).collect();
            let fault = measure.time("fault", || {
                let table = PortTable::new(&view, vec![Site::nets(17, 40)], places.clone());
                table.with(0, Shunt::of(1e3))
            });
            report.row(format!("{n} nets: a fault more, at ten places"), fault).beside(own);
            report.at_most("a fault beside a solve", fault.ratio(own), 1.1, share);
        }
    }
    report.at_most("exponent of factors", exponent(&factors), 1.3, share);
    report.at_most("exponent of a solve", exponent(&solves), 1.2, share);
    report.at_most("exponent of the healthy board", exponent(&wholes), 1.3, share);
    report.print();
}

/// The numeric factorisation of a general sparse LU that was given the pattern before.
fn reference(measure: &mut Measure, n: usize, entries: &[(usize, usize, f64)]) -> measure::Time {
    let triplets: Vec<Triplet<usize, usize, f64>> =
        entries.iter().map(|&(row, column, value)| Triplet::new(row, column, value)).collect();
    let matrix = SparseColMat::try_new_from_triplets(n, n, &triplets).expect("a matrix");
    let symbolic = factorize_symbolic_lu(matrix.symbolic(), Default::default()).expect("a pattern");
    let mut numeric = NumericLu::new();
    measure.time("general-lu", || {
        let scratch = symbolic.factorize_numeric_lu_scratch::<f64>(Par::Seq, Default::default());
        let mut memory = MemBuffer::new(scratch);
        let stack = MemStack::new(&mut memory);
        symbolic
            .factorize_numeric_lu(
                &mut numeric,
                matrix.as_ref(),
                Par::Seq,
                stack,
                Default::default(),
            )
            .is_ok()
    })
}

fn diodes() {
    let mut measure = Measure::of_long_runs("sparse-diodes");
    let mut report = Report::default();
    let (mut times, mut peaks) = (Vec::new(), Vec::new());
    for side in DIODE_SIDES {
        let n = side * side;
        let circuit = grid(side, true);
        let assembly = Assembly::new(&circuit);
        let solve = || assembly.solve(POWERED, &Overlay::none());
        assert!(solve().point.is_some(), "{n} nets have no operating point");
        let time = measure.time(&format!("healthy-{n}"), solve);
        let used = memory(solve);
        report.row(format!("{n} nets with diodes: the healthy board"), time).with(used);
        times.push((n as f64, time));
        peaks.push((n as f64, used.peak));
    }
    report.at_most("exponent of the healthy board", exponent(&times), 1.4, share);
    report.at_most("exponent of its memory", exponent_of(&peaks), 1.2, share);
    report.print();
}
