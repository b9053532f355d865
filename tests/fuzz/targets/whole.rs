//! Whole boards: solved, studied, drawn, diagnosed.

use ohmhound::circuit::{Circuit, Meter, Overlay, POWERED, SetupId};
use ohmhound::diagnosis::{Diagnosis, Job, diagnose_job};
use ohmhound::engine::{Assembly, OperatingPoint};
use ohmhound::file::{lift_setups, read_readings};
use ohmhound::finding::Source;
use ohmhound::picture::Ladder;
use ohmhound::plan::{Planner, mark_inseparable, standing_in};
use ohmhound::report::{
    FaultTableView, Lecture, Style, bands_json, bands_text, check_json, cycle_text, diagnosis_json,
    diagnosis_text, expect_json, expect_text, fault_table_text, lesson_html, lesson_json,
    lesson_text, operating_json, operating_text, tree_json, tree_text,
};
use ohmhound::study::lesson::lesson;
use ohmhound::study::{
    assumptions, bands, check, everything, expect, fault_table, operating, watched_nets,
    with_others,
};

use super::{circuit_of, owed, parts, said, text};

/// Boards with more parts take their time, and are made from smaller ones.
const MOST_PARTS: usize = 40;

/// Boards up to so many parts are worked through in every way.
const FEW_PARTS: usize = 6;

/// As many readings as a job has.
const MOST_READINGS: usize = 40;

/// A point that was accepted satisfies Kirchhoff's law in numbers.
pub(super) fn holds(point: &OperatingPoint) {
    assert!(point.volts.iter().chain(&point.amps).all(|number| number.is_finite()), "{point:?}");
    assert!(point.kcl_share <= 1.0, "{} of what is allowed", point.kcl_share);
}

/// A page for a terminal: some text, and nothing that a terminal would obey.
fn printed(page: &str) {
    let control = page.chars().find(|c| c.is_control() && *c != '\n' && *c != '\t');
    assert!(control.is_none() && !page.trim().is_empty(), "{control:?} in {page:?}");
}

/// A circuit file: solved in every setup, with all that `solve`, `check` and `lesson` say of it.
pub fn solve(bytes: &[u8]) {
    let Some(text) = text(bytes) else { return };
    let (own, shelf) = parts(text, "# shelf\n");
    let Some(circuit) = circuit_of(&Source::new("circuit.toml", own), shelf).value else { return };
    if circuit.parts.len() > MOST_PARTS {
        return;
    }
    let assembly = Assembly::new(&circuit);
    let findings = check(&assembly);
    said(&findings);
    let _ = check_json(&findings, &assumptions(&circuit)).to_string();
    for number in 0..circuit.setups.len().min(3) {
        solved(&assembly, SetupId(number), is_eighth(bytes));
    }
    if circuit.parts.len() <= FEW_PARTS {
        worked(&assembly);
    }
}

/// Every eighth input is computed a second time, for the same answer: it takes as long again.
fn is_eighth(bytes: &[u8]) -> bool {
    bytes.len().is_multiple_of(8)
}

fn solved(assembly: &Assembly<'_>, setup: SetupId, twice: bool) {
    let circuit = assembly.circuit();
    let none = Overlay::none();
    let powered = assembly.power_up(setup, &none, None);
    powered.run.point.iter().for_each(holds);
    if let Some(cycle) = &powered.cycle {
        printed(&cycle_text(circuit, cycle, Style::Plain, 80));
    }
    let (title, style, width) = ("board", Style::Plain, 80);
    let ladder = Ladder::new(circuit, None).in_setup(setup);
    let Ok(mut point) = operating(assembly, setup, &none) else {
        assert!(ladder.svg().starts_with("<svg"));
        return;
    };
    if assembly.has_states() {
        point = with_others(assembly, setup, &none, point);
    }
    printed(&operating_text(circuit, title, &point, None, style, width));
    let first = operating_json(circuit, &point).to_string();
    if twice {
        let assembly = Assembly::new(circuit);
        let second = operating(&assembly, setup, &none).map(|second| match assembly.has_states() {
            true => with_others(&assembly, setup, &none, second),
            false => second,
        });
        let second = second.map(|second| operating_json(circuit, &second).to_string());
        assert_eq!(second.as_ref(), Ok(&first), "two answers to one board");
    }
    assert!(Ladder::new(circuit, &point).in_setup(setup).svg().starts_with("<svg"));
    if let Ok(nets) = expect(assembly, setup, &none, &Meter::default()) {
        printed(&expect_text(circuit, title, &nets, style, width));
        let _ = expect_json(circuit, &nets).to_string();
    }
}

/// The slower studies.
fn worked(assembly: &Assembly<'_>) {
    let circuit = assembly.circuit();
    let (none, style, width) = (Overlay::none(), Style::Plain, 80);
    let all = everything(assembly, POWERED, &none);
    if let Ok(found) = bands(assembly, POWERED, &none, &all) {
        let told: Vec<_> =
            watched_nets(circuit).into_iter().map(ohmhound::study::Watched::Net).collect();
        printed(&bands_text(circuit, "board", &found, &told, None, (style, width)));
        let _ = bands_json(circuit, &found, None).to_string();
    }
    if let Ok(table) = fault_table(assembly, POWERED, &[], true) {
        let view = FaultTableView { circuit, table: &table, blank: false };
        printed(&fault_table_text(&view, style, width));
    }
    if circuit.nets.len() > 1
        && let Ok(lesson) = lesson(assembly, POWERED, &none, &[])
    {
        for asks in [false, true] {
            let lecture = Lecture { circuit, lesson: &lesson, title: "board", asks, ladder: None };
            printed(&lesson_text(&lecture, style, width));
            assert!(!lesson_html(&lecture).is_empty());
        }
        let _ = lesson_json(circuit, &lesson).to_string();
    }
}

/// A circuit file, and behind the line `# readings` its readings: the whole way to the page.
pub fn diagnose(bytes: &[u8]) {
    let Some(text) = text(bytes) else { return };
    let (own, taken) = parts(text, "# readings\n");
    let read = circuit_of(&Source::new("circuit.toml", own), "");
    let Some(mut circuit) = read.value else { return };
    if circuit.parts.len() > MOST_PARTS {
        return;
    }
    let source = Source::new("readings.toml", taken);
    lift_setups(&source, &mut circuit);
    let read = read_readings(&source, &circuit);
    owed(&read);
    let Some(readings) = read.value else { return };
    if readings.readings.len() + readings.good.len() + readings.after.len() > MOST_READINGS {
        return;
    }
    let assembly = Assembly::new(&circuit);
    said(&check(&assembly));
    let mut diagnosis = diagnose_job(&assembly, &Job::of(&readings));
    adds_up(&diagnosis);
    let planner = Planner::new(&assembly, &readings.readings, &diagnosis, &readings.meter);
    let now = standing_in(&readings.readings);
    let mut proposals = planner.proposals(now);
    proposals.truncate(3);
    mark_inseparable(&assembly, &mut diagnosis, &readings.meter);
    let page = diagnosis_text(
        &circuit,
        &readings.readings,
        "readings",
        &diagnosis,
        (&planner, &proposals),
        Style::Plain,
        80,
    );
    printed(&page);
    let first = diagnosis_json(&circuit, &readings.readings, &diagnosis, &proposals).to_string();
    if is_eighth(bytes) {
        let tree = planner.tree(&circuit, now, 2);
        let _ = tree_json(&circuit, &tree).to_string();
        if tree.measurement.is_some() {
            printed(&tree_text(&circuit, &tree, Style::Plain, 80));
        }
    }
    if !readings.after.is_empty() {
        adds_up(&diagnose_job(&assembly, &Job::after_repair(&readings)));
    }
    drawn(&assembly, &circuit);
    if is_eighth(bytes) {
        let assembly = Assembly::new(&circuit);
        let mut second = diagnose_job(&assembly, &Job::of(&readings));
        mark_inseparable(&assembly, &mut second, &readings.meter);
        let second = diagnosis_json(&circuit, &readings.readings, &second, &proposals).to_string();
        assert_eq!(first, second, "two answers to one job");
    }
}

fn drawn(assembly: &Assembly<'_>, circuit: &Circuit) {
    let healthy = operating(assembly, POWERED, &Overlay::none()).ok();
    assert!(Ladder::new(circuit, healthy.as_ref()).svg().starts_with("<svg"));
}

/// Shares are of one whole, and verdicts have their reasons.
fn adds_up(diagnosis: &Diagnosis) {
    let shares = diagnosis.candidates.iter().map(|one| one.probability);
    let others = diagnosis.healthy_probability + diagnosis.other_probability;
    let sum: f64 = shares.clone().sum::<f64>() + others;
    assert!(shares.clone().all(|share| (0.0..=1.0 + 1e-9).contains(&share)), "{sum}");
    assert!((sum - 1.0).abs() < 1e-6, "shares add up to {sum}");
    for one in &diagnosis.candidates {
        assert!(one.distance >= 0.0, "{one:?}");
        assert!(one.value.is_none_or(f64::is_finite), "{one:?}");
    }
}
