//! A whole diagnosis for single faults, with every hypothesis traced along its value, beside one
//! healthy solve of the same board, as boards grow.
//!
//! Boards are drawn by seed, with tolerances, and read at ten nets with a hidden fault. Claim: the
//! time of a diagnosis over one healthy solve and one hypothesis does not grow with the board.

#[path = "../tests/chance/mod.rs"]
mod chance;
mod measure;

use measure::boards::resistors;
use measure::{Measure, Report, exact, exponent, memory, share};
use ohmhound::circuit::{
    Change, Circuit, Meter, NetId, Observed, Overlay, POWERED, Place, Quantity, Reading, Spot,
};
use ohmhound::diagnosis::diagnose;
use ohmhound::engine::Assembly;
use ohmhound::fault::{Evidence, hypotheses};
use ohmhound::meter::{Scene, displayed, show};
use ohmhound::quantity::Tolerance;

/// Parts of the boards.
const LADDER: [usize; 4] = [20, 40, 80, 160];
/// Readings.
const PLACES: usize = 10;

fn main() {
    let mut measure = Measure::new("scaling");
    let mut report = Report::default();
    let (mut ratios, mut per_hypothesis) = (Vec::new(), Vec::new());
    for parts in LADDER {
        let mut circuit = resistors(3, parts / 2, parts - 1);
        for part in &mut circuit.parts {
            for (_, param) in &mut part.params {
                if let ohmhound::circuit::Param::Number(number) = param {
                    *number = number.or(Tolerance::Fraction(0.01));
                }
            }
        }
        let assembly = Assembly::new(&circuit);
        let (hidden, readings) = hidden(&circuit, &assembly);
        let solve =
            measure.time(&format!("solve-{parts}"), || assembly.solve(POWERED, &Overlay::none()));
        let whole =
            measure.time(&format!("diagnosis-{parts}"), || diagnose(&assembly, &readings, &[]));
        let count = hypotheses(&circuit, &Evidence::default()).len() as f64;
        report.row(format!("{parts} parts: one healthy solve"), solve);
        report
            .row(format!("{parts} parts: diagnosis, {count} hypotheses"), whole)
            .beside(solve)
            .with(memory(|| diagnose(&assembly, &readings, &[])));
        report.row(format!("{parts} parts: one hypothesis"), whole.over(count)).beside(solve);
        ratios.push((parts as f64, whole.ratio(solve)));
        per_hypothesis.push((parts as f64, whole.ratio(solve).over(count)));
        let diagnosis = diagnose(&assembly, &readings, &[]);
        let rank = diagnosis.candidates.iter().position(|one| {
            one.causes.iter().any(|cause| cause.part().is_some_and(|part| part == hidden))
        });
        let rank = exact(rank.map_or(f64::INFINITY, |rank| rank as f64 + 1.0));
        report.at_most(&format!("{parts} parts: place of the hidden part"), rank, 3.0, share);
    }
    report.at_most("exponent of diagnosis over solve", exponent(&ratios), 1.0, share);
    report.at_most("exponent of one hypothesis over solve", exponent(&per_hypothesis), 0.0, share);
    report.print();
}

/// A resistor at three times its value that moves the readings most, and what a meter shows then.
fn hidden(circuit: &Circuit, assembly: &Assembly<'_>) -> (ohmhound::circuit::PartId, Vec<Reading>) {
    let healthy = assembly.healthy(POWERED).run.point.clone().expect("an operating point");
    let fault = |part: ohmhound::circuit::PartId| {
        let value = 3.0 * circuit[part].nominal("value").expect("a value");
        Overlay::one(Change::Parameter { part, name: "value", value })
    };
    let moved = |part: ohmhound::circuit::PartId| {
        let point = assembly.solve(POWERED, &fault(part)).point.expect("an operating point");
        let each = point.volts.iter().zip(&healthy.volts);
        each.map(|(one, other)| (one - other).powi(2)).sum::<f64>()
    };
    let (part, _) = circuit
        .parts_by_id()
        .filter(|(_, part)| part.kind == "resistor")
        .map(|(id, _)| (id, moved(id)))
        .max_by(|a, b| a.1.total_cmp(&b.1))
        .expect("a resistor");
    let scene =
        Scene::new(assembly, POWERED, &fault(part), None, false).expect("an operating point");
    let meter = Meter::default();
    let nets = circuit.nets.len() - 1;
    let readings = (0..PLACES.min(nets))
        .map(|place| {
            let net = NetId((1 + place * nets / PLACES.min(nets)) as u32);
            let place = Place::At(Spot::Net(net));
            let shown = show(&scene, Quantity::Volts, place, &meter).expect("a reading");
            let Observed::Number { value, count, .. } = displayed(shown.value, Quantity::Volts)
            else {
                panic!("a number");
            };
            Reading {
                setup: POWERED,
                quantity: Quantity::Volts,
                place,
                place_text: circuit.net_name(net).to_owned(),
                observed: Observed::Number { value, count, half_width: None },
                meter,
            }
        })
        .collect();
    (part, readings)
}
