//! A fault of a linear board with its chi-square over ten readings, beside one pair of triangular
//! solves of the same board.
//!
//! Claims: at most 0.01 of a triangular pair at 50 nets; about ten nanoseconds; growing with the
//! nets by an exponent of at most 0.1; allocating nothing.

#[path = "../tests/chance/mod.rs"]
mod chance;
mod measure;

use measure::boards::{faults, readings, resistors, table};
use measure::{Measure, Report, exact, exponent, memory, nanoseconds, plain, share};
use nalgebra::DMatrix;
use ohmhound::circuit::{Overlay, POWERED};
use ohmhound::engine::{Assembly, PortView, Scores};

/// Nets of the boards.
const LADDER: [usize; 5] = [10, 20, 50, 100, 200];
/// Nets that the claim is about.
const CLAIMED: usize = 50;
/// Readings.
const PLACES: usize = 10;

fn main() {
    let mut measure = Measure::new("ports");
    let mut report = Report::default();
    let mut points = Vec::new();
    for n in LADDER {
        let circuit = resistors(7, n, 2 * n);
        let assembly = Assembly::new(&circuit);
        let view = PortView::new(&assembly, POWERED).expect("a linear board");
        let table = table(&circuit, &view, PLACES);
        let list = faults(&table);
        let (volts, standard) = readings(&table, &list[..1]);
        let scores = Scores::new(&table, &volts, &standard);
        let singles: Vec<(usize, f64)> =
            list.iter().map(|&(site, shunt)| (site, shunt.ohms)).collect();
        let mut found = vec![0.0; singles.len()];

        let (lower, upper) = triangles(n);
        let mut x = vec![1.0; n];
        let pair = measure.time(&format!("pair-{n}"), || {
            x.fill(1.0);
            substitute(&lower, &upper, &mut x);
            x[n - 1]
        });
        let own = measure.time(&format!("own-pair-{n}"), || view.point().shape(1, 0));
        let fault = measure
            .time(&format!("fault-{n}"), || scores.all(&singles, &mut found))
            .over(singles.len() as f64);
        report.row(format!("{n} nets: triangular pair, plain loops"), pair);
        report.row(format!("{n} nets: triangular pair of the engine"), own).beside(pair);
        report
            .row(format!("{n} nets: fault and chi-square"), fault)
            .beside(pair)
            .with(memory(|| scores.all(&singles, &mut found)));
        points.push((n as f64, fault));
        if n == CLAIMED {
            let full =
                measure.time("rebuild-and-solve-50", || assembly.solve(POWERED, &Overlay::none()));
            report.row(format!("{n} nets: rebuild and solve"), full).beside(pair);
            let set_up = measure.time("table-50", || {
                let view = PortView::new(&assembly, POWERED).expect("a linear board");
                measure::boards::table(&circuit, &view, PLACES)
            });
            report
                .row(format!("{n} nets: the table of {} ports", table.sites().len()), set_up)
                .beside(full)
                .with(memory(|| measure::boards::table(&circuit, &view, PLACES)));
            report.at_most("fault beside a triangular pair", fault.ratio(pair), 0.01, share);
            report.at_most("a fault", fault, 10.0, nanoseconds);
            let allocations = memory(|| scores.all(&singles, &mut found)).allocations;
            report.at_most("allocations", exact(allocations as f64), 0.0, plain);
        }
    }
    report.at_most("exponent of growth with the nets", exponent(&points), 0.1, share);
    report.print();
}

/// Triangular factors of a dense matrix that needs no pivoting, column by column.
fn triangles(n: usize) -> (DMatrix<f64>, DMatrix<f64>) {
    let matrix = DMatrix::from_fn(n, n, |i, j| {
        if i == j { n as f64 } else { 1.0 / (1.0 + (i as f64 - j as f64).abs()) }
    });
    let factors = matrix.lu();
    (factors.l(), factors.u())
}

/// Forward and back substitution by columns, in place.
fn substitute(lower: &DMatrix<f64>, upper: &DMatrix<f64>, x: &mut [f64]) {
    let n = x.len();
    for k in 0..n {
        let at = x[k];
        let column = &lower.column(k).data.into_slice()[k + 1..];
        for (x, l) in x[k + 1..].iter_mut().zip(column) {
            *x -= l * at;
        }
    }
    for k in (0..n).rev() {
        let column = upper.column(k).data.into_slice();
        x[k] /= column[k];
        let at = x[k];
        for (x, u) in x[..k].iter_mut().zip(&column[..k]) {
            *x -= u * at;
        }
    }
}
