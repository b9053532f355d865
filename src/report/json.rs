//! JSON for scripts: stable keys, numbers in SI units, `null` where there is no value and `"OL"`
//! where a meter shows it.

use std::collections::BTreeMap;

use serde::Serialize;
use serde_json::{Value, json};

use super::{doubts, words};
use crate::circuit::{Circuit, Observed, Reading};
use crate::diagnosis::{Diagnosis, Flipped, Pair, Remark, Verdict, Without};
use crate::engine::Cycle;
use crate::finding::Finding;
use crate::plan::Proposal;
use crate::study::{Assumption, Expected, ExpectedNet, Operating, Requirement};

/// The version of the shape of the JSON output.
pub const VERSION: u32 = 1;

/// A number, or the word for one that JSON cannot hold.
pub(super) fn number(value: f64) -> Value {
    if value.is_finite() {
        json!(value)
    } else if value == f64::INFINITY {
        json!("OL")
    } else {
        Value::Null
    }
}

/// A share or a probability: a sum of them may be a rounding error above one.
pub(super) fn share(value: f64) -> f64 {
    if value > 1.0 { 1.0 } else { value }
}

fn observed(reading: &Reading, circuit: &Circuit) -> Value {
    match reading.observed {
        Observed::Number { value, .. } => number(value),
        Observed::Beep(beep) => json!(beep),
        _ => json!(words::observed(reading, circuit)),
    }
}

#[derive(Serialize)]
struct ReadingJson<'a> {
    setup: &'a str,
    quantity: &'a str,
    place: &'a str,
    observed: Value,
    expected: Value,
    expected_u: Value,
    off: Value,
    floats: bool,
}

#[derive(Serialize)]
struct CandidateJson {
    fault: String,
    causes: Vec<String>,
    part: Option<String>,
    failure: &'static str,
    value: Option<f64>,
    value_low: Option<f64>,
    value_high: Option<f64>,
    values: Vec<Value>,
    probability: f64,
    verdict: &'static str,
    reproduces: bool,
    worst_sigma: f64,
    fitted_exactly: bool,
    ruled_out_by: Option<Value>,
    group: Option<usize>,
    inseparable: Option<usize>,
    chain: Vec<String>,
    other_state: bool,
    flipped: Option<Value>,
}

fn proposal_json(circuit: &Circuit, proposal: &Proposal) -> Value {
    let outcomes: Vec<Value> = proposal
        .outcomes
        .iter()
        .map(|outcome| {
            let clears: Vec<&str> =
                outcome.clears.iter().map(|part| circuit[*part].name.as_str()).collect();
            json!({
                "low": number(outcome.low),
                "high": number(outcome.high),
                "probability": share(outcome.probability),
                "remaining": outcome.remaining,
                "clears": clears,
            })
        })
        .collect();
    let expected: Vec<Value> = proposal
        .expected
        .iter()
        .map(|one| json!({ "fault": one.phrase, "low": number(one.low), "high": number(one.high) }))
        .collect();
    json!({
        "setup": circuit[proposal.measurement.probe.setup].name,
        "quantity": proposal.measurement.probe.quantity.word(),
        "place": proposal.measurement.place_text,
        "bits": proposal.bits,
        "effort": proposal.effort,
        "outcomes": outcomes,
        "expected": expected,
        "split_at": proposal.split_at,
    })
}

/// A diagnosis, with the measurements to take next.
pub fn diagnosis_json(
    circuit: &Circuit,
    readings: &[Reading],
    diagnosis: &Diagnosis,
    proposals: &[Proposal],
) -> Value {
    let reading_rows: Vec<ReadingJson<'_>> = readings
        .iter()
        .zip(&diagnosis.readings)
        .map(|(reading, line)| ReadingJson {
            setup: &circuit[reading.setup].name,
            quantity: reading.quantity.word(),
            place: &reading.place_text,
            observed: observed(reading, circuit),
            expected: line.expected.map_or(Value::Null, number),
            expected_u: number(line.expected_u),
            off: number(line.off),
            floats: line.floats,
        })
        .collect();
    let candidates: Vec<CandidateJson> = diagnosis
        .candidates
        .iter()
        .map(|candidate| CandidateJson {
            fault: candidate.fault.phrase(circuit),
            causes: candidate.causes.iter().map(|fault| fault.phrase(circuit)).collect(),
            part: candidate.fault.part().map(|part| circuit[part].name.clone()),
            failure: candidate.fault.failure(),
            value: candidate.value,
            value_low: candidate.value_low,
            value_high: candidate.value_high,
            values: candidate
                .values
                .iter()
                .map(|one| {
                    json!({
                        "value": one.value,
                        "low": one.low,
                        "high": one.high,
                        "share": share(one.share),
                    })
                })
                .collect(),
            probability: share(candidate.probability),
            verdict: candidate.verdict.word(),
            reproduces: candidate.verdict == Verdict::Reproduces,
            worst_sigma: candidate.worst_sigma,
            fitted_exactly: candidate.fitted_exactly,
            ruled_out_by: candidate.ruled_out_by.map(|out| {
                let reading = &readings[out.reading];
                json!({
                    "setup": circuit[reading.setup].name,
                    "quantity": reading.quantity.word(),
                    "place": reading.place_text,
                    "observed": observed(reading, circuit),
                    "predicted": number(out.predicted),
                })
            }),
            group: candidate.group,
            inseparable: candidate.inseparable,
            chain: candidate.chain.clone(),
            other_state: candidate.other_state,
            flipped: candidate.flipped.map(|flipped| flipped_json(circuit, &flipped)),
        })
        .collect();
    let invisible: Vec<Value> = diagnosis
        .invisible
        .iter()
        .map(|(fault, weight)| json!({ "fault": fault.phrase(circuit), "weight": weight }))
        .collect();
    let no_point: Vec<String> =
        diagnosis.no_point.iter().map(|fault| fault.phrase(circuit)).collect();
    json!({
        "version": VERSION,
        "title": circuit.title,
        "readings": reading_rows,
        "candidates": candidates,
        "invisible": invisible,
        "no_operating_point": no_point,
        "reading_remarks": remarks_json(circuit, readings, diagnosis),
        "without_one_reading": without_json(circuit, readings, diagnosis),
        "pairs": pairs_json(circuit, diagnosis),
        "pairs_tried": diagnosis.pairs_tried,
        "next": next_json(circuit, proposals),
        "healthy_reproduces": diagnosis.healthy_verdict == Verdict::Reproduces,
        "healthy_other_state": diagnosis.healthy_other_state,
        "healthy_flipped": diagnosis.healthy_flipped.map(|one| flipped_json(circuit, &one)),
        "healthy_verdict": diagnosis.healthy_verdict.word(),
        "healthy_probability": share(diagnosis.healthy_probability),
        "other_probability": share(diagnosis.other_probability),
        "nothing_fits": diagnosis.nothing_fits,
        "faults_tried": diagnosis.faults_tried,
    })
}

/// A condition that tolerances decide.
fn flipped_json(circuit: &Circuit, flipped: &Flipped) -> Value {
    json!({
        "part": circuit[flipped.part].name,
        "condition": flipped.condition,
        "holds": flipped.on,
    })
}

/// Where a reading was taken.
fn place_json(circuit: &Circuit, reading: &Reading) -> Value {
    json!({
        "setup": circuit[reading.setup].name,
        "quantity": reading.quantity.word(),
        "place": reading.place_text,
    })
}

fn remarks_json(circuit: &Circuit, readings: &[Reading], diagnosis: &Diagnosis) -> Vec<Value> {
    let remark = |remark: &Remark| {
        let (what, idxs): (_, &[usize]) = match remark {
            Remark::Repeat { readings, .. } => ("repeat", readings),
            Remark::Loop { readings, .. } => ("loop", readings),
            Remark::Impossible { reading, .. } => ("impossible", std::slice::from_ref(reading)),
        };
        let places: Vec<Value> =
            idxs.iter().map(|&idx| place_json(circuit, &readings[idx])).collect();
        json!({
            "what": what,
            "readings": places,
            "text": doubts::remark_text(circuit, readings, remark),
        })
    };
    diagnosis.remarks.iter().map(remark).collect()
}

fn without_json(circuit: &Circuit, readings: &[Reading], diagnosis: &Diagnosis) -> Vec<Value> {
    let one = |without: &Without| {
        let reading = &readings[without.reading];
        let fits: Vec<Value> = without
            .fits
            .iter()
            .map(|(fault, share)| {
                json!({
                    "fault": fault.map(|fault| fault.phrase(circuit)),
                    "value": fault.and_then(|fault| fault.value()),
                    "share": self::share(*share),
                })
            })
            .collect();
        json!({
            "reading": place_json(circuit, reading),
            "observed": observed(reading, circuit),
            "predicted": number(without.predicted),
            "predicted_by": without.told,
            "share": share(without.share),
            "fits": fits,
            "text": doubts::without_text(circuit, readings, without),
        })
    };
    diagnosis.without.iter().map(one).collect()
}

fn pairs_json(circuit: &Circuit, diagnosis: &Diagnosis) -> Vec<Value> {
    let one = |pair: &Pair| {
        let faults: Vec<Value> = pair
            .faults
            .iter()
            .zip(&pair.causes)
            .map(|(fault, causes)| {
                let causes = causes.iter().map(|cause| cause.phrase(circuit));
                json!({
                    "fault": fault.phrase(circuit),
                    "value": fault.value(),
                    "causes": causes.collect::<Vec<_>>(),
                })
            })
            .collect();
        json!({
            "faults": faults,
            "share": share(pair.share),
            "worst_sigma": pair.worst_sigma,
            "group": pair.group,
        })
    };
    diagnosis.pairs.iter().map(one).collect()
}

/// The measurements to take next.
pub fn next_json(circuit: &Circuit, proposals: &[Proposal]) -> Value {
    proposals.iter().map(|proposal| proposal_json(circuit, proposal)).collect()
}

/// An operating point.
pub fn operating_json(circuit: &Circuit, point: &Operating) -> Value {
    let nets: BTreeMap<&str, Value> = point
        .nets
        .iter()
        .map(|net| {
            let volts = if net.floating { Value::Null } else { number(net.volts) };
            let value = json!({ "volts": volts, "u": number(net.u), "floating": net.floating });
            (circuit.net_name(net.net), value)
        })
        .collect();
    let parts: BTreeMap<&str, Value> = point
        .parts
        .iter()
        .map(|state| {
            let part = &circuit[state.part];
            let mut value = json!({ "watts": number(state.watts), "state": state.state });
            match state.amps {
                Some(amps) => value["amps"] = number(amps),
                None => {
                    let pins = part.pins.iter().zip(&state.pins);
                    value["pins"] =
                        pins.map(|(pin, amps)| (pin.name.clone(), number(*amps))).collect();
                }
            }
            (part.name.as_str(), value)
        })
        .collect();
    let also = |stable: bool| -> Vec<Value> {
        let others = point.others.iter().filter(|other| other.stable == stable);
        others
            .map(|other| {
                let nets = point.nets.iter().zip(&other.volts);
                let nets: BTreeMap<&str, Value> =
                    nets.map(|(net, volts)| (circuit.net_name(net.net), number(*volts))).collect();
                json!({ "nets": nets })
            })
            .collect()
    };
    let inner_paths: Vec<Value> = point
        .inner_paths
        .iter()
        .map(|path| {
            json!({
                "part": circuit[path.part].name,
                "from": circuit.net_name(path.from),
                "to": circuit.net_name(path.to),
                "amps": number(path.amps),
            })
        })
        .collect();
    json!({
        "version": VERSION,
        "nets": nets,
        "parts": parts,
        "power_up": point.power_up.iter().map(|need| requirement(circuit, need)).collect::<Vec<_>>(),
        "waiting": point.waiting.iter().map(|need| requirement(circuit, need)).collect::<Vec<_>>(),
        "inner_paths": inner_paths,
        "also_stable": also(true),
        "unstable": also(false),
        "cycle": null,
        "strategy": point.strategy.words(),
        "iterations": point.iterations,
        "kcl_residual": point.kcl_residual,
        "power_imbalance": point.power_imbalance,
        "reciprocal_condition": point.reciprocal_condition,
    })
}

fn requirement(circuit: &Circuit, need: &Requirement) -> Value {
    json!({
        "part": circuit[need.part].name,
        "condition": need.condition,
        "net": circuit.net_name(need.net),
        "against": circuit.net_name(need.against),
        "holds": need.holds,
        "found": number(need.found),
        "needed": number(need.needed),
        "margin": number(need.margin),
        "marginal": need.marginal,
    })
}

/// A board that keeps switching.
pub fn cycle_json(circuit: &Circuit, cycle: &Cycle) -> Value {
    let names: Vec<&str> = cycle.parts.iter().map(|part| circuit[*part].name.as_str()).collect();
    let nets: BTreeMap<&str, Value> = circuit
        .nets_by_id()
        .skip(1)
        .filter_map(|(net, name)| {
            let (low, high) = *cycle.ranges.get(net.index())?;
            Some((name, json!({ "least": number(low), "most": number(high) })))
        })
        .collect();
    json!({
        "version": VERSION,
        "cycle": { "parts": names, "nets": nets, "exhaustive": cycle.exhaustive },
    })
}

/// The table of expected readings.
pub fn expect_json(circuit: &Circuit, nets: &[ExpectedNet]) -> Value {
    let value = |expected: &Option<Expected>| match expected {
        Some(expected) => json!({ "value": number(expected.value), "u": number(expected.u) }),
        None => Value::Null,
    };
    let nets: BTreeMap<&str, Value> = nets
        .iter()
        .map(|net| {
            let row = json!({
                "volts": if net.floating { Value::Null } else { number(net.volts) },
                "floating": net.floating,
                "meter_volts": value(&net.shown),
                "ohms": value(&net.ohms),
                "diode_red_on_net": value(&net.diode_red),
                "diode_red_on_ground": value(&net.diode_black),
            });
            (circuit.net_name(net.net), row)
        })
        .collect();
    json!({ "version": VERSION, "expected": nets })
}

/// Findings, with the defaults that apply.
pub fn check_json(findings: &[Finding], assumptions: &[Assumption]) -> Value {
    let findings: Vec<Value> = findings
        .iter()
        .map(|finding| {
            let place = finding.labels.first().map(|label| {
                let (line, column) = label.source.line_column(label.range.start);
                json!({ "file": label.source.name, "line": line, "column": column })
            });
            json!({
                "code": finding.code.name(),
                "severity": finding.severity.word(),
                "message": finding.message,
                "help": finding.help,
                "place": place,
            })
        })
        .collect();
    let assumptions: Vec<Value> = assumptions
        .iter()
        .map(|assumption| {
            json!({
                "kind": assumption.kind,
                "parameter": assumption.parameter,
                "value": assumption.value,
                "parts": assumption.parts,
            })
        })
        .collect();
    json!({ "version": VERSION, "findings": findings, "defaults": assumptions })
}
