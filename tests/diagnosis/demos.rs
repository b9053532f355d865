//! The demo circuits and their readings: the hidden truth of each comes out first. And what holds
//! on any board: the readings of a healthy one are reproduced by "healthy".

use crate::bench;
use std::fs;

use ohmhound::circuit::Overlay;
use ohmhound::diagnosis::{Verdict, diagnose};
use ohmhound::engine::Assembly;
use ohmhound::fault::{Fault, parse};
use ohmhound::file::load_readings;
use proptest::prelude::*;

/// The hidden truth of each readings file as a fault phrase; the comment of the file tells it in
/// words that must agree.
///
/// A circuit's first readings are `NAME.readings.toml`, further ones `NAME.WORD.readings.toml`.
const TRUTHS: [(&str, &str, &str); 19] = [
    ("cold-store", "R8 drifted 33k", "R8 drifted from 10 kΩ to 33 kΩ"),
    ("fence-loop", "POST_2 leak 3k3", "water in the cable at POST_2, 3.3 kΩ to ground"),
    ("gate-supply", "P1 resistive 220", "a contact of P1 has gone to 220 Ω"),
    ("load-switch.fuse", "F1 resistive 6.8", "F1 has gone to 6.8 Ω"),
    ("load-switch", "Q3.base open", "the base of Q3 has no joint"),
    ("pump-controller.motor", "R6 open", "R6 is open: the gate of Q1 gets nothing"),
    ("pump-controller", "R5 open", "R5 is open: TANK_OK never rises"),
    ("relay-driver.contact", "K1 resistive 4.7", "the contact of K1 has gone to 4.7 Ω"),
    ("relay-driver", "D1 shorted", "D1 is shorted, so that the coil gets nothing"),
    ("soil-amplifier.frost", "U1 stuck high", "the output of U1 stands at its supply"),
    ("soil-amplifier", "R3 open", "R3 is open: the amplifier only follows"),
    ("standby-supply.feedback", "R4 drifted 12k", "R4 drifted from 10 kΩ to 12 kΩ"),
    ("standby-supply.short", "C3 leaky 4.7", "C3 leaks, 4.7 Ω"),
    ("standby-supply", "R1 open", "R1 is open: the enable of U1 never rises"),
    ("leaf-bridge", "R2 drifted 100k", "a 100 kΩ resistor was fitted for R2, one decade up"),
    ("packing-shed", "R7 drifted 22k", "R7 drifted from 6.8 kΩ to 22 kΩ"),
    ("pump-lamp", "C1 leaky 47", "C1 leaks, 47 Ω"),
    ("sensor-battery", "D2 shorted", "D2 is shorted, so the battery feeds the panel at night"),
    ("soil-probe", "R3 drifted 1k8", "R3 drifted from 1 kΩ to 1.8 kΩ"),
];

/// The circuit that some readings are of.
fn circuit_of(name: &str) -> &str {
    name.split('.').next().unwrap_or(name)
}

#[test]
fn every_demo_has_a_truth() {
    let mut listed: Vec<&str> = TRUTHS.iter().map(|(name, ..)| circuit_of(name)).collect();
    listed.sort();
    listed.dedup();
    assert_eq!(bench::names(), listed);
    let mut readings: Vec<String> = fs::read_dir(bench::folder())
        .expect("the folder of the demo circuits")
        .map(|entry| entry.expect("an entry").file_name().into_string().expect("a plain name"))
        .filter_map(|name| name.strip_suffix(".readings.toml").map(str::to_owned))
        .collect();
    readings.sort();
    let mut told: Vec<&str> = TRUTHS.iter().map(|(name, ..)| *name).collect();
    told.sort();
    assert_eq!(readings, told);
}

#[test]
fn the_hidden_truth_comes_out_first() {
    for (name, truth, told) in TRUTHS {
        let path = bench::folder().join(format!("{name}.readings.toml"));
        let text = fs::read_to_string(&path).expect("the readings of the demo");
        assert!(text.starts_with(&format!("# Hidden truth: {told}.\n")), "{name}: {text}");
        let circuit = bench::demo(circuit_of(name));
        let assembly = Assembly::new(&circuit);
        let parsed = load_readings(&path, &circuit);
        assert!(parsed.findings.is_empty(), "{name}: {:?}", parsed.findings);
        let readings = parsed.value.expect("readings without a slip");
        let diagnosis = diagnose(&assembly, &readings.readings, &readings.seen);
        assert_eq!(diagnosis.healthy_verdict, Verdict::Excluded, "{name}");
        let truth = parse(truth, &circuit).expect(truth);
        let is_true = |fault: &&Fault| fault.with_value(None) == truth.with_value(None);
        let first = diagnosis.candidates.first().expect("a candidate");
        assert_eq!(first.verdict, Verdict::Reproduces, "{name}");
        let holds = diagnosis
            .candidates
            .iter()
            .find(|one| one.group == first.group && one.causes.iter().any(|cause| is_true(&cause)));
        let holds = holds.unwrap_or_else(|| panic!("{name}: the truth is not in the first group"));
        assert_eq!(holds.verdict, Verdict::Reproduces, "{name}");
        // The interval belongs to the likeliest cause: it holds the truth when that is the one.
        if let Some(value) = truth.value().filter(|_| is_true(&&holds.fault)) {
            assert!(holds.value_low.is_none_or(|low| low <= value), "{name}: {holds:?}");
            assert!(holds.value_high.is_none_or(|high| high >= value), "{name}: {holds:?}");
        }
    }
}

/// What is written in the comments of a file is what the meter would have shown: a board with the
/// truth laid over it, parts at nominal, is inside every reading's accuracy or the tolerances.
#[test]
fn no_reading_of_a_demo_is_far_from_its_truth() {
    for (name, truth, _) in TRUTHS {
        let circuit = bench::demo(circuit_of(name));
        let assembly = Assembly::new(&circuit);
        let path = bench::folder().join(format!("{name}.readings.toml"));
        let readings = load_readings(&path, &circuit).value.expect("readings").readings;
        let overlay = parse(truth, &circuit).expect(truth).overlay(&circuit).expect("a value");
        let case = ohmhound::diagnosis::Case::new(&assembly, &readings);
        let prediction = case.predict(&overlay).expect("an operating point");
        let fit = ohmhound::diagnosis::Fit::new(&case, &prediction).expect("a fit");
        let (idx, sigma) = fit.worst().expect("a reading");
        assert!(sigma.abs() < 2.5, "{name}: {} is {sigma:.1} off", readings[idx].place_text);
    }
}

/// A board in text: a source, one resistor per net so that every net hangs together, and more
/// parts anywhere.
fn board() -> impl Strategy<Value = String> {
    let ohms = (0.0_f64..4.0).prop_map(|decades| 100.0 * 10.0_f64.powf(decades));
    let hang = prop::collection::vec((any::<prop::sample::Index>(), ohms.clone()), 1..5);
    let more = prop::collection::vec(
        (0..4_u8, any::<prop::sample::Index>(), any::<prop::sample::Index>(), ohms),
        1..5,
    );
    (3.0_f64..24.0, hang, more).prop_map(|(volts, hang, more)| {
        let mut nets = vec!["GND".to_owned(), "IN".to_owned()];
        let mut text = format!(
            "[parts]\nJ1 = {{ kind = \"supply\", nets = [\"IN\", \"GND\"], volts = {volts:.2}, \
             limit = \"1 A\" }}\n"
        );
        let mut n = 0;
        for (to, ohms) in hang {
            n += 1;
            let new = format!("N{n}");
            let to = to.get(&nets).clone();
            text += &format!("R{n} = {{ nets = [\"{to}\", \"{new}\"], value = {ohms:.1} }}\n");
            nets.push(new);
        }
        for (kind, a, b, ohms) in more {
            let (a, b) = (a.get(&nets), b.get(&nets));
            if a == b {
                continue;
            }
            n += 1;
            text += &match kind {
                0 => format!("D{n} = {{ nets = [\"{a}\", \"{b}\"], drop = \"0.7 V at 10 mA\" }}\n"),
                1 => format!("LED{n} = {{ nets = [\"{a}\", \"{b}\"], drop = \"2 V at 10 mA\" }}\n"),
                _ => format!("R{n} = {{ nets = [\"{a}\", \"{b}\"], value = {ohms:.1} }}\n"),
            };
        }
        text
    })
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 24, ..ProptestConfig::default() })]

    #[test]
    fn a_healthy_board_is_called_healthy(text in board()) {
        let circuit = bench::circuit(&text);
        let assembly = Assembly::new(&circuit);
        let places = bench::first_round(&circuit);
        let measured = bench::measure(&assembly, &Overlay::none(), &places);
        let measured = measured.map_err(|ending| TestCaseError::fail(format!("{ending:?}")))?;
        let diagnosis = diagnose(&assembly, &measured, &[]);
        prop_assert_eq!(diagnosis.healthy_verdict, Verdict::Reproduces);
        prop_assert!(diagnosis.explains());
        for line in &diagnosis.readings {
            prop_assert!(line.off.abs() < 2.0, "{:?}", line);
        }
    }
}
