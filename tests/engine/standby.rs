//! The standby supply of the demo folder, as a technician meets it: the order in which it comes up,
//! where the chain stops, and what is never blamed.

use crate::bench;
use ohmhound::circuit::{Overlay, POWERED, Quantity};
use ohmhound::diagnosis::{Candidate, Diagnosis, Verdict, diagnose};
use ohmhound::engine::Assembly;
use ohmhound::fault::parse;
use ohmhound::finding::Code;
use ohmhound::study::{check, operating};

fn diagnosed(name: &str, volts: &[(&str, f64)]) -> (ohmhound::circuit::Circuit, Diagnosis) {
    let circuit = bench::demo(name);
    let assembly = Assembly::new(&circuit);
    let meter = ohmhound::circuit::Meter::default();
    let readings: Vec<_> = volts
        .iter()
        .map(|(net, volts)| {
            let text = format!("{net}={volts:.2}");
            let read = ohmhound::file::reading_argument;
            read(&circuit, &meter, POWERED, Quantity::Volts, &text).value.expect("a reading")
        })
        .collect();
    let diagnosis = diagnose(&assembly, &readings, &[]);
    (circuit, diagnosis)
}

fn holding<'a>(
    diagnosis: &'a Diagnosis,
    circuit: &ohmhound::circuit::Circuit,
    phrase: &str,
) -> &'a Candidate {
    let wanted = parse(phrase, circuit).expect(phrase).with_value(None);
    let is_it = |one: &&Candidate| one.causes.iter().any(|cause| cause.with_value(None) == wanted);
    diagnosis.candidates.iter().find(is_it).unwrap_or_else(|| panic!("{phrase} is not listed"))
}

#[test]
fn it_comes_up_in_order() {
    let circuit = bench::demo("standby-supply");
    let assembly = Assembly::new(&circuit);
    let point = operating(&assembly, POWERED, &Overlay::none()).expect("an operating point");
    let order: Vec<(&str, &str)> = point
        .power_up
        .iter()
        .map(|need| (circuit[need.part].name.as_str(), need.condition))
        .collect();
    assert_eq!(order, [("U1", "lockout"), ("U1", "enable"), ("U3", "sense")]);
    // 24 V over 47 kΩ and 10 kΩ against 1.2 V.
    let enable = &point.power_up[1];
    assert!((enable.found - 24.0 * 10.0 / 57.0).abs() < 1e-2 && enable.needed == 1.2);
    assert!(point.power_up.iter().all(|need| !need.marginal && need.margin > 0.0));
    assert!(point.waiting.is_empty());
}

/// The enable net and the rail at nothing: what is between supply and enable, or pulls enable
/// down, is told from the rest, and not from each other; nothing behind the regulator is blamed.
#[test]
fn the_chain_stops_at_the_enable() {
    let (circuit, diagnosis) =
        diagnosed("standby-supply", &[("EN", 0.0), ("5V_SB", 0.0), ("VIN_F", 23.9)]);
    let open = holding(&diagnosis, &circuit, "R1 open");
    for phrase in ["R1 open", "R2 shorted", "U1.enable shorted to ground"] {
        let one = holding(&diagnosis, &circuit, phrase);
        assert_eq!(one.verdict, Verdict::Reproduces, "{phrase}");
        assert_eq!(one.group, open.group, "{phrase}");
    }
    assert_eq!(diagnosis.candidates[0].fault, open.fault);
    let chain = open.chain.join(" → ");
    assert!(chain.starts_with("R1 open → EN at 0 V, needs 1.20 V → U1 disabled → 5V_SB at 0 V"));
    for one in diagnosis.remaining().filter(|one| one.probability > 1e-3) {
        for part in ["R3", "R4", "R5", "D1", "C2", "C3", "U2", "U3", "A1", "R6", "R7"] {
            let blamed = one.causes.iter().any(|cause| cause.part() == circuit.part(part));
            assert!(!blamed, "{part}: {}", one.fault.full_phrase(&circuit));
        }
    }
}

/// A rail that stands excludes what is behind it: with 5 V there, a dead 3.3 V rail is the fault of
/// nothing upstream.
#[test]
fn a_dead_rail_is_no_cause_of_what_stands_before_it() {
    let (circuit, diagnosis) = diagnosed(
        "standby-supply",
        &[("EN", 4.21), ("5V_SB", 4.98), ("VIN_F", 23.95), ("3V3", 0.0)],
    );
    for one in diagnosis.remaining().filter(|one| one.probability > 1e-3) {
        for part in ["F1", "R1", "R2", "R3", "R4", "U1", "J1"] {
            let blamed = one.causes.iter().any(|cause| cause.part() == circuit.part(part));
            assert!(!blamed, "{part}: {}", one.fault.full_phrase(&circuit));
        }
    }
    assert_eq!(holding(&diagnosis, &circuit, "U2 dead").verdict, Verdict::Reproduces);
}

fn codes(text: &str) -> Vec<Code> {
    let circuit = bench::circuit(text);
    check(&Assembly::new(&circuit)).iter().map(|finding| finding.code).collect()
}

fn regulator(enable: &str, bottom: &str, volts: &str) -> String {
    format!(
        "[parts]\n\
         J1 = {{ kind = \"supply\", nets = [\"IN\", \"GND\"], volts = \"{volts}\" }}\n\
         R1 = {{ value = \"10k\", nets = [\"OUT\", \"FB\"] }}\n\
         R2 = {{ value = \"{bottom}\", nets = [\"FB\", \"GND\"] }}\n\
         R3 = {{ value = \"1k\", nets = [\"OUT\", \"GND\"] }}\n\
         [parts.U1]\n\
         kind = \"buck\"\n\
         pins = {{ input = \"IN\", enable = \"IN\", feedback = \"FB\", output = \"OUT\", \
         ground = \"GND\" }}\n\
         reference = \"0.8 V\"\n\
         enable_threshold = \"{enable}\"\n"
    )
}

#[test]
fn conditions_that_a_healthy_board_never_meets_are_found() {
    assert!(!codes(&regulator("1.2 V", "2k", "12 V")).contains(&Code::NeverStarts));
    // An enable threshold above the supply.
    assert!(codes(&regulator("15 V", "2k", "12 V")).contains(&Code::NeverStarts));
    // A divider that asks for 80.8 V.
    assert!(codes(&regulator("1.2 V", "100", "12 V")).contains(&Code::OutOfRegulation));
    // 12 V ± 2 % against 11.5 V ± 10 %.
    assert!(codes(&regulator("11.5 V", "2k", "12 V")).contains(&Code::Marginal));
}

/// An output that switches its own supply off and on has no operating point, and the check says
/// which part keeps switching.
#[test]
fn a_board_that_keeps_switching_is_named() {
    let text = "[parts]\n\
        J1 = { kind = \"supply\", nets = [\"IN\", \"GND\"], volts = \"12 V\" }\n\
        R1 = { value = \"100\", nets = [\"IN\", \"COIL\"] }\n\
        [parts.K1]\n\
        kind = \"relay\"\n\
        pins = { coil_plus = \"COIL\", coil_minus = \"GND\", common = \"COIL\", \
        normally_open = \"GND\" }\n\
        coil = \"320\"\n\
        pull_in = \"8 V\"\n\
        drop_out = \"1.2 V\"\n";
    let circuit = bench::circuit(text);
    let findings = check(&Assembly::new(&circuit));
    let found = findings.iter().find(|one| one.code == Code::NoOperatingPoint).expect("a finding");
    assert!(found.message.contains("`K1`"), "{}", found.message);
}

/// A bridge from a relay's coil to its own contact makes it chatter; what it then shows lies
/// anywhere between its two states, and a reading in that range does not rule it out.
#[test]
fn a_fault_that_chatters_predicts_a_range() {
    let circuit = bench::demo("relay-driver");
    let assembly = Assembly::new(&circuit);
    let fault = parse("COIL to PUMP bridge 1", &circuit).expect("a fault");
    let overlay = fault.overlay(&circuit).expect("an overlay");
    let cycle = assembly.power_up(POWERED, &overlay, None).cycle.expect("a cycle");
    let pump = circuit.net("PUMP").expect("a net").index();
    let (low, high) = cycle.ranges[pump];
    assert!(cycle.exhaustive && low < 1.0 && high > 11.0, "{low} to {high}");
    let inside = diagnosed("relay-driver", &[("PUMP", 6.25), ("V12_F", 11.85)]);
    let one = holding(&inside.1, &inside.0, "COIL to PUMP bridge 1");
    assert_eq!(one.verdict, Verdict::Reproduces);
    assert!(one.chain.join(" ").contains("K1 keeps switching on and off"), "{:?}", one.chain);
    let outside = diagnosed("relay-driver", &[("PUMP", 24.0), ("V12_F", 11.85)]);
    let one = holding(&outside.1, &outside.0, "COIL to PUMP bridge 1");
    assert_eq!(one.verdict, Verdict::Excluded);
}
