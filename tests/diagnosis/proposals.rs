//! What is proposed to be measured, and what never is.

use crate::bench;
use ohmhound::circuit::{Meter, POWERED, Quantity};
use ohmhound::diagnosis::diagnose;
use ohmhound::engine::Assembly;
use ohmhound::plan::Planner;

/// No meter is put in series where a suspect may draw more than its current range takes: a short
/// across a source behind a fuse.
#[test]
fn no_current_is_asked_for_that_no_meter_takes() {
    let circuit = bench::circuit(
        r#"[parts]
        J1 = { kind = "supply", volts = "24 V", resistance = "50m", nets = ["IN", "GND"] }
        F1 = { rated = "5 A", nets = ["IN", "OUT"] }
        R1 = { value = "1k", nets = ["OUT", "GND"] }"#,
    );
    let assembly = Assembly::new(&circuit);
    let readings = bench::readings(&circuit, "[powered.volts]\nIN = 13.1");
    let diagnosis = diagnose(&assembly, &readings, &[]);
    let planner = Planner::new(&assembly, &readings, &diagnosis, &Meter::default());
    let proposals = planner.proposals(POWERED);
    assert!(!proposals.is_empty());
    for one in proposals.iter().filter(|one| one.measurement.probe.quantity == Quantity::Amps) {
        let most = one.expected.iter().map(|one| one.high.abs()).fold(0.0, f64::max);
        assert!(most <= 10.0, "{} of {most} A", one.measurement.place_text);
    }
    // There is such a current to be afraid of.
    assert!(diagnosis.remaining().any(|one| one.fault.phrase(&circuit) == "R1 shorted"));
}
