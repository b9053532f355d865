//! Thinking ahead: what the likely answers to a question lead to, found while a person measures.
//!
//! The next diagnosis solves the same boards for the most part, whatever the meter shows in the end.
//! What it finds is remembered with the diagnosis ([`Diagnosis::earlier`]); no result is kept.

use super::propose::{Outcome, Planner, Proposal};
use crate::circuit::{Meter, Observed, Quantity, Reading};
use crate::diagnosis::{Diagnosis, Job, diagnose_job};
use crate::engine::Assembly;

/// So many of the likeliest outcomes are thought through.
const OUTCOMES: usize = 4;

/// Takes the likeliest outcomes of a proposed measurement for read, each by itself, and looks for
/// the next question, as a session would: the boards that have to be solved for it are known then.
/// `job` is that of the diagnosis.
///
/// ```
/// # use ohmhound::plan::think_ahead;
/// use ohmhound::{circuit::*, engine::Assembly, file::read_circuit, finding::Source};
/// use ohmhound::{diagnosis::{Job, Pairs, diagnose_job}, plan::{Advice, Planner}};
///
/// let text = "[parts]\nJ1 = { kind = \"supply\", volts = \"12 V\", nets = [\"IN\", \"GND\"] }\n\
///             R1 = { value = \"10k\", nets = [\"IN\", \"OUT\"] }\n\
///             R2 = { value = \"10k\", nets = [\"OUT\", \"GND\"] }";
/// let circuit = read_circuit(&Source::new("divider.toml", text), &mut |_| Err(String::new()));
/// let circuit = circuit.value.ok_or("the circuit is in order")?;
/// let (assembly, meter) = (Assembly::new(&circuit), Meter::default());
/// let job = Job { is_brief: true, pairs: Pairs::Never, ..Job::default() };
/// let diagnosis = diagnose_job(&assembly, &job);
/// let planner = Planner::quick(&assembly, &[], &diagnosis, &meter);
/// let advice = planner.advise(&circuit, &diagnosis, POWERED, &|_| false);
/// let Advice::Measure(asked) = advice else { return Err("nothing is known yet") };
/// // While the probes are put on:
/// think_ahead(&assembly, &job, &diagnosis, &asked, &meter);
/// # Ok::<(), &str>(())
/// ```
pub fn think_ahead(
    assembly: &Assembly<'_>,
    job: &Job<'_>,
    diagnosis: &Diagnosis,
    asked: &Proposal,
    meter: &Meter,
) {
    for outcome in asked.outcomes.iter().take(OUTCOMES) {
        let Some(reading) = reading(asked, outcome, meter) else { continue };
        let readings: Vec<Reading> = job.readings.iter().cloned().chain([reading]).collect();
        let earlier = Some(&*diagnosis.earlier);
        let next = diagnose_job(assembly, &Job { readings: &readings, earlier, ..*job });
        Planner::quick(assembly, &readings, &next, meter);
    }
}

/// What the meter would show if the likeliest suspect of an outcome were the fault.
fn reading(asked: &Proposal, outcome: &Outcome, meter: &Meter) -> Option<Reading> {
    let likeliest = outcome.remaining.first()?;
    let expected = asked.expected.iter().find(|expected| expected.phrase == *likeliest)?;
    let probe = &asked.measurement.probe;
    let value = expected.low.max(outcome.low).min(outcome.high);
    let count = Meter::count(probe.quantity, value);
    let shown = (value / count).round() * count;
    let observed = match probe.quantity {
        Quantity::Seen => return None,
        _ if value.is_finite() => Observed::Number { value: shown, count, half_width: None },
        _ => Observed::Over,
    };
    Some(Reading {
        setup: probe.setup,
        quantity: probe.quantity,
        place: probe.place,
        place_text: asked.measurement.place_text.clone(),
        observed,
        meter: *meter,
    })
}
