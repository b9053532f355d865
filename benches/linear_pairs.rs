//! All pairs of faults of a linear board, screened by the port table, and the best of them solved
//! again in full.
//!
//! Claims: all 7,020 pairs of 40 parts by three modes within half a millisecond; the best hundred
//! solved again, each as a board with both changes, within 50 ms; the hidden pair is among the best.

#[path = "../tests/chance/mod.rs"]
mod chance;
mod measure;

use measure::boards::{readings, resistors, table};
use measure::{Measure, Report, exact, memory, nanoseconds, plain, share};
use ohmhound::circuit::{Overlay, POWERED};
use ohmhound::engine::{Assembly, PortView, Scores, Shunt};

/// Parts, with half as many nets.
const LADDER: [usize; 3] = [40, 80, 160];
/// Pairs that are solved again.
const BEST: usize = 100;

fn main() {
    let mut measure = Measure::new("linear-pairs");
    let mut report = Report::default();
    for parts in LADDER {
        let circuit = resistors(11, parts / 2, parts);
        let assembly = Assembly::new(&circuit);
        let view = PortView::new(&assembly, POWERED).expect("a linear board");
        let table = table(&circuit, &view, 10);
        let faults: Vec<(usize, Shunt)> = (0..table.sites().len())
            .flat_map(|site| {
                let own = 1.0 / table.sites()[site].siemens;
                [Shunt::open(own), Shunt::of(1e-3), Shunt::instead(own, 2.0 * own)]
                    .map(|shunt| (site, shunt))
            })
            .collect();
        // Two that the table tells and that are seen, far apart in the list.
        let told =
            |at: usize| (at..).find(|at| table.line(faults[*at].0).amps(faults[*at].1).is_ok());
        let hidden = [told(3).expect("a fault"), told(3 * parts / 2).expect("a fault")];
        let (volts, standard) = readings(&table, &hidden.map(|at| faults[at]));
        let scores = Scores::new(&table, &volts, &standard);

        let solve =
            measure.time(&format!("solve-{parts}"), || assembly.solve(POWERED, &Overlay::none()));
        let laid =
            measure.time(&format!("scores-{parts}"), || Scores::new(&table, &volts, &standard));
        let screen = measure.time(&format!("screen-{parts}"), || scores.best_pairs(&faults, BEST));
        let found = scores.best_pairs(&faults, BEST);
        let name = |what: &str| format!("{parts} parts: {what}");
        report.row(name("one full solve"), solve);
        report.row(name("readings laid over the table"), laid).beside(solve);
        report
            .row(name(&format!("screen of {} pairs", found.screened)), screen)
            .beside(solve)
            .with(memory(|| scores.best_pairs(&faults, BEST)));
        report.row(name("one pair"), screen.over(found.screened as f64)).beside(solve);
        let again = || {
            let given = (&volts[..], &standard[..], 1e-3);
            scores.rechecked(&assembly, POWERED, &faults, &found.best, given)
        };
        let recheck = measure.time(&format!("recheck-{parts}"), again);
        report
            .row(name("the best hundred solved in full"), recheck)
            .beside(solve)
            .with(memory(again));
        let rank = again().iter().position(|pair| [pair.one, pair.other] == hidden);
        if parts == 40 {
            report.at_most("screen of all pairs of 40 parts", screen, 0.5e6, nanoseconds);
            report.at_most("the best hundred solved in full", recheck, 50e6, nanoseconds);
            let pairs = exact(found.screened as f64);
            report.at_least("pairs of 40 parts by three modes", pairs, 7020.0, plain);
            let by_solving = solve.median * found.screened as f64;
            let ratio = exact(by_solving / screen.median);
            report.at_least("times as fast as solving each pair", ratio, 100.0, share);
        }
        let rank = exact(rank.map_or(f64::INFINITY, |rank| rank as f64 + 1.0));
        report.at_most(&name("place of the hidden pair"), rank, 5.0, plain);
    }
    report.print();
}
