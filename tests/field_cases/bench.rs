//! A case on the bench: a circuit, its readings and what comes of them.

use std::collections::BTreeSet;

use ohmhound::circuit::{Circuit, POWERED};
use ohmhound::diagnosis::{Candidate, Diagnosis, Job, Verdict, diagnose_job};
use ohmhound::engine::Assembly;
use ohmhound::fault::Fault;
use ohmhound::file::{Parsed, read_circuit, read_readings};
use ohmhound::finding::Source;
use ohmhound::study::operating;

pub struct Bench {
    pub circuit: Circuit,
    pub diagnosis: Diagnosis,
}

fn in_order<T>(read: Parsed<T>) -> T {
    let texts: Vec<_> = read.findings.iter().map(|f| (&f.message, &f.help)).collect();
    read.value.unwrap_or_else(|| panic!("{texts:#?}"))
}

pub fn circuit(text: &str) -> Circuit {
    in_order(read_circuit(&Source::new("case.toml", text), &mut |_| Err("no shelf".to_owned())))
}

/// Diagnoses the readings on the circuit, both as the text of their files.
pub fn bench(circuit_text: &str, readings_text: &str) -> Bench {
    let circuit = circuit(circuit_text);
    let readings = in_order(read_readings(&Source::new("job.toml", readings_text), &circuit));
    let diagnosis = diagnose_job(&Assembly::new(&circuit), &Job::of(&readings));
    Bench { circuit, diagnosis }
}

/// The state of a part as drawn, and the amps that it carries or delivers.
pub fn state(circuit: &Circuit, name: &str) -> (Option<&'static str>, f64) {
    let part = circuit.part(name).unwrap();
    let assembly = Assembly::new(circuit);
    let operating = operating(&assembly, POWERED, &Default::default()).unwrap();
    let state = operating.parts.iter().find(|state| state.part == part).unwrap();
    (state.state, state.amps.unwrap())
}

impl Bench {
    /// The faults that reproduce the readings, with their candidates.
    fn reproducing(&self) -> impl Iterator<Item = (Fault, &Candidate)> {
        let candidates = self.diagnosis.candidates.iter();
        candidates
            .filter(|candidate| candidate.verdict == Verdict::Reproduces)
            .flat_map(|candidate| candidate.causes.iter().map(move |&fault| (fault, candidate)))
    }

    /// All faults that reproduce the readings, as phrases without values.
    pub fn found(&self) -> BTreeSet<String> {
        self.reproducing().map(|(fault, _)| fault.phrase(&self.circuit)).collect()
    }

    pub fn reproduces(&self, phrase: &str) -> bool {
        self.found().contains(phrase)
    }

    /// The opens and shorts inside parts that reproduce the readings.
    pub fn opens_and_shorts(&self) -> BTreeSet<String> {
        let mut found = self.found();
        found.retain(|phrase| phrase.ends_with(" open") || phrase.ends_with(" shorted"));
        found
    }

    /// The value of a fault that reproduces the readings.
    pub fn value(&self, phrase: &str) -> f64 {
        let found = self.reproducing().find(|(fault, _)| fault.phrase(&self.circuit) == phrase);
        let (fault, _) = found.unwrap_or_else(|| panic!("{phrase} not in {:#?}", self.all()));
        fault.value().unwrap()
    }

    /// The interval of a fault that reproduces the readings and is the likeliest cause of its
    /// change; an open end is endless.
    pub fn interval(&self, phrase: &str) -> (f64, f64) {
        let found = self.diagnosis.candidates.iter().find(|candidate| {
            candidate.verdict == Verdict::Reproduces
                && candidate.fault.phrase(&self.circuit) == phrase
        });
        let candidate = found.unwrap_or_else(|| panic!("{phrase} not in {:#?}", self.all()));
        (candidate.value_low.unwrap_or(0.0), candidate.value_high.unwrap_or(f64::INFINITY))
    }

    #[track_caller]
    pub fn assert_inside(&self, phrase: &str, value: f64) {
        let (low, high) = self.interval(phrase);
        assert!(low < value && value < high, "{phrase}: {value} not in {low} to {high}");
    }

    /// What a healthy board would show, reading by reading.
    pub fn expected(&self) -> Vec<f64> {
        self.diagnosis.readings.iter().map(|line| line.expected.unwrap()).collect()
    }

    pub fn is_healthy(&self) -> bool {
        self.diagnosis.healthy_verdict == Verdict::Reproduces
    }

    /// Everything that is not excluded, for the message of a test that fails.
    pub fn all(&self) -> Vec<String> {
        let line = |candidate: &Candidate| {
            let causes: Vec<_> =
                candidate.causes.iter().map(|fault| fault.full_phrase(&self.circuit)).collect();
            let (low, high) = (candidate.value_low, candidate.value_high);
            let Candidate { verdict, probability, distance, group, .. } = candidate;
            format!(
                "{} {probability:.3} d2 {distance:.2} {group:?} {low:?}..{high:?} {causes:?} {:?}",
                verdict.word(),
                candidate.predicted
            )
        };
        let mut lines = vec![format!(
            "healthy {} {:.3} other {:.3} {:?}",
            self.diagnosis.healthy_verdict.word(),
            self.diagnosis.healthy_probability,
            self.diagnosis.other_probability,
            self.expected()
        )];
        lines.extend(self.diagnosis.remaining().map(line));
        lines
    }
}

/// A set of phrases.
pub fn phrases(list: &[&str]) -> BTreeSet<String> {
    list.iter().map(|&phrase| phrase.to_owned()).collect()
}
