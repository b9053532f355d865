//! What a diagnosis says when something is odd: slips in readings, readings that contradict each
//! other, two faults at once.
//!
//! The boards are the demo circuits; the slips are those that people make: a prefix read over, a
//! point in the wrong place, leads the other way round.

use crate::bench;
use std::collections::BTreeSet;

use ohmhound::circuit::{Change, Circuit, Observed, Overlay, POWERED, Place, Quantity, Reading};
use ohmhound::diagnosis::{
    Case, Diagnosis, Fit, Job, LooksLike, Pair, Pairs, Remark, Verdict, diagnose, diagnose_job,
};
use ohmhound::engine::Assembly;
use ohmhound::fault::{Fault, Misread, Slip, parse};
use ohmhound::file::load_readings;

fn change(circuit: &Circuit, phrases: &[&str]) -> Overlay {
    let of = |phrase: &&str| parse(phrase, circuit).unwrap().overlay(circuit).unwrap().changes;
    Overlay { changes: phrases.iter().flat_map(of).collect::<Vec<Change>>() }
}

/// Volts at every net of a demo board with faults.
fn volts(assembly: &Assembly<'_>, phrases: &[&str]) -> Vec<Reading> {
    let mut places = bench::first_round(assembly.circuit());
    places.retain(|(_, quantity, _)| *quantity == Quantity::Volts);
    bench::measure(assembly, &change(assembly.circuit(), phrases), &places).unwrap()
}

fn scaled(reading: &Reading, factor: f64) -> Reading {
    let Observed::Number { value, count, half_width } = reading.observed else { panic!() };
    let observed =
        Observed::Number { value: value * factor, count: count * factor.abs(), half_width };
    Reading { observed, ..reading.clone() }
}

fn at<'a>(readings: &'a mut [Reading], circuit: &Circuit, net: &str) -> &'a mut Reading {
    readings.iter_mut().find(|reading| reading.place.words(circuit) == net).unwrap()
}

/// A faulty board with one value written wrong: without it the fault is found, and the slip is
/// named for what it is.
#[test]
fn a_slip_on_a_faulty_board_is_named() {
    let slips = [
        ("gate-supply", "P1 resistive 220", "VIN_C", 1e-3, Slip::Decades(-3)),
        ("gate-supply", "P1 resistive 220", "EN", 1e3, Slip::Decades(3)),
        ("soil-probe", "R3 drifted 1k8", "TAP_2", 0.1, Slip::Decades(-1)),
        ("soil-probe", "R3 drifted 1k8", "TAP_5", -1.0, Slip::Sign),
        ("fence-loop", "R3 drifted 3k3", "SENSE", 1e-3, Slip::Decades(-3)),
    ];
    for (name, fault, net, factor, slip) in slips {
        let circuit = bench::demo(name);
        let assembly = Assembly::new(&circuit);
        let mut readings = volts(&assembly, &[fault]);
        let wrong = at(&mut readings, &circuit, net);
        *wrong = scaled(wrong, factor);
        let diagnosis = diagnose(&assembly, &readings, &[]);
        assert!(diagnosis.nothing_fits, "{name} {net}");
        let first = &diagnosis.without[0];
        assert_eq!(readings[first.reading].place.words(&circuit), net, "{name} {net}");
        assert_eq!(first.looks_like, Some(LooksLike::Slip(slip)), "{name} {net}");
        let phrase = parse(fault, &circuit).unwrap().phrase(&circuit);
        let fits: Vec<String> =
            first.fits.iter().flatten_fault().map(|fault| fault.phrase(&circuit)).collect();
        assert!(fits.contains(&phrase), "{name} {net}: {fits:?}");
        assert!(first.share > 0.5, "{name} {net}: {}", first.share);
    }
}

trait FlattenFault<'a> {
    fn flatten_fault(self) -> impl Iterator<Item = &'a Fault>;
}

impl<'a, I: Iterator<Item = &'a (Option<Fault>, f64)>> FlattenFault<'a> for I {
    fn flatten_fault(self) -> impl Iterator<Item = &'a Fault> {
        self.filter_map(|(fault, _)| fault.as_ref())
    }
}

/// Nothing is taken out of readings that a fault explains.
#[test]
fn no_slip_is_seen_where_a_fault_explains_all() {
    let circuit = bench::demo("gate-supply");
    let assembly = Assembly::new(&circuit);
    let diagnosis = diagnose(&assembly, &volts(&assembly, &["P1 resistive 220"]), &[]);
    assert!(diagnosis.without.is_empty() && diagnosis.pairs.is_empty());
    assert!(!diagnosis.pairs_tried && diagnosis.remarks.is_empty());
}

fn likeliest(diagnosis: &Diagnosis) -> &Fault {
    &diagnosis.candidates[0].fault
}

/// A healthy board with one value written wrong is a healthy board with one value written wrong,
/// and no fault of the board, unless a fault makes the same of it: a shorted LED does.
#[test]
fn a_slip_on_a_healthy_board_is_the_likeliest_cause() {
    let (mut tried, mut first) = (0, 0);
    for name in ["gate-supply", "soil-probe", "sensor-battery"] {
        let circuit = bench::demo(name);
        let assembly = Assembly::new(&circuit);
        let healthy = volts(&assembly, &[]);
        for idx in 0..healthy.len() {
            if healthy[idx].number().is_none_or(|value| value.abs() < 0.1) {
                continue;
            }
            let slips = [(1e-3, Slip::Decades(-3)), (1e3, Slip::Decades(3)), (-1.0, Slip::Sign)];
            for (factor, slip) in slips {
                let mut readings = healthy.clone();
                readings[idx] = scaled(&readings[idx], factor);
                let diagnosis = diagnose(&assembly, &readings, &[]);
                let is_it = |fault: &Fault| {
                    matches!(*fault, Fault::Misread(Misread::Slip(found, .., by), _)
                        if (found, by) == (idx, slip))
                };
                let own = diagnosis.candidates.iter().find(|one| is_it(&one.fault)).unwrap();
                assert_eq!(own.verdict, Verdict::Reproduces, "{name} {idx} {factor}");
                tried += 1;
                first += usize::from(is_it(likeliest(&diagnosis)));
            }
        }
    }
    assert!(tried > 30 && first * 10 >= tried * 9, "{first} of {tried}");
}

/// Volts noted under the wrong setup: a dead board is no fault when the power was off.
#[test]
fn readings_of_another_setup() {
    let circuit = bench::demo("gate-supply");
    let assembly = Assembly::new(&circuit);
    let mut readings = volts(&assembly, &[]);
    for reading in &mut readings {
        reading.observed = Observed::Number { value: 0.0, count: 1e-3, half_width: None };
    }
    let diagnosis = diagnose(&assembly, &readings, &[]);
    let phrases: Vec<String> =
        diagnosis.remaining().map(|candidate| candidate.fault.phrase(&circuit)).collect();
    assert!(phrases.contains(&"powered readings taken in unpowered".to_owned()), "{phrases:?}");
    // A missing supply is far likelier than a lapse.
    assert_eq!(phrases[0], "J1 absent");
}

/// Voltages round a loop add up to nothing (Kirchhoff's voltage law), whatever is wrong.
#[test]
fn a_loop_that_does_not_add_up() {
    let circuit = bench::demo("gate-supply");
    let assembly = Assembly::new(&circuit);
    let with = |across: &str| {
        let text = format!(
            "[powered.volts]\nVIN_C = 23.9\nEN = 4.19\n\"VIN_C to EN\" = {across}\nRAIL = 23.9"
        );
        diagnose(&assembly, &bench::readings(&circuit, &text), &[]).remarks
    };
    assert_eq!(with("19.71"), []);
    let remarks = with("17.91");
    let [Remark::Loop { readings, volts, .. }] = &remarks[..] else { panic!("{remarks:?}") };
    assert_eq!(readings.iter().copied().collect::<BTreeSet<_>>(), BTreeSet::from([0, 1, 2]));
    approx::assert_abs_diff_eq!(volts.abs(), 1.8, epsilon = 1e-9);
}

#[test]
fn what_cannot_be_read() {
    let circuit = bench::demo("gate-supply");
    let assembly = Assembly::new(&circuit);
    let remarks = |text: &str| diagnose(&assembly, &bench::readings(&circuit, text), &[]).remarks;
    // 24 V in all: 4190 V is 4190 mV.
    let remarks_of_volts = remarks("[powered.volts]\nEN = 4190\nVIN = 24.0");
    let [Remark::Impossible { reading: 0, slip: Some(Slip::Decades(3)), .. }] =
        remarks_of_volts[..]
    else {
        panic!("{remarks_of_volts:?}")
    };
    // More than the supply's limit of 2 A, a quarter of tolerance included.
    assert_eq!(remarks("[powered.amps]\nJ1 = 0.06"), []);
    assert!(matches!(
        remarks("[powered.amps]\nJ1 = 60")[..],
        [Remark::Impossible { slip: Some(Slip::Decades(3)), .. }]
    ));
    // Nothing feeds a board with its sources off.
    assert!(matches!(remarks("[unpowered.volts]\nEN = 4.19")[..], [Remark::Impossible { .. }]));
    assert_eq!(remarks("[unpowered.volts]\nEN = 0.01"), []);
    // One place, two values.
    assert!(matches!(
        remarks("[powered.volts]\nEN = [4.19, 2.30]")[..],
        [Remark::Repeat { readings: [0, 1], .. }]
    ));
    assert_eq!(remarks("[powered.volts]\nEN = [4.19, 4.20]"), []);
}

/// Two faults at once, in places that do not hide each other, are the likeliest pair or stand in
/// its group; no single fault fits.
#[test]
fn two_faults_are_found_together() {
    let cases = [
        ("gate-supply", ["P1 resistive 220", "R2 drifted 4k7"]),
        ("soil-probe", ["R1 drifted 2k2", "R3 drifted 2k2"]),
        ("packing-shed", ["R7 drifted 22k", "R12 open"]),
        ("packing-shed", ["LEVEL_1 leak 2k2", "D2 drifted 6.2 V"]),
    ];
    for (name, faults) in cases {
        let circuit = bench::demo(name);
        let assembly = Assembly::new(&circuit);
        let readings = volts(&assembly, &faults);
        let diagnosis = diagnose(&assembly, &readings, &[]);
        assert!(diagnosis.nothing_fits, "{name} {faults:?}");
        let phrase = |fault: &Fault| fault.phrase(&circuit);
        let truth: BTreeSet<String> =
            faults.iter().map(|fault| phrase(&parse(fault, &circuit).unwrap())).collect();
        let is_truth = |causes: &[Vec<Fault>; 2]| {
            let holds = |wanted: &String| {
                causes.iter().position(|causes| causes.iter().any(|one| phrase(one) == *wanted))
            };
            let found: BTreeSet<_> = truth.iter().filter_map(holds).collect();
            found.len() == 2
        };
        let first = diagnosis.pairs.first().unwrap_or_else(|| panic!("{name} {faults:?}: none"));
        let own = diagnosis.pairs.iter().find(|pair| is_truth(&pair.causes));
        let told: Vec<Vec<String>> = diagnosis
            .pairs
            .iter()
            .map(|pair| pair.faults.iter().map(|fault| fault.full_phrase(&circuit)).collect())
            .collect();
        let own = own.unwrap_or_else(|| panic!("{name} {faults:?}: {told:#?}"));
        assert!(own.group == first.group || own.share > 0.05, "{name} {faults:?}: {told:#?}");
        let shares: f64 = diagnosis.pairs.iter().map(|pair| pair.share).sum();
        approx::assert_relative_eq!(shares, 1.0, max_relative = 1e-9);
    }
}

/// Pairs are looked for on request, and none of them holds a fault that fits alone.
#[test]
fn pairs_on_request() {
    let circuit = bench::demo("soil-probe");
    let assembly = Assembly::new(&circuit);
    let readings = volts(&assembly, &["R3 drifted 1k8"]);
    let job = Job { readings: &readings, pairs: Pairs::Always, ..Job::default() };
    let diagnosis = diagnose_job(&assembly, &job);
    assert!(diagnosis.pairs_tried && !diagnosis.nothing_fits);
    let alone: Vec<String> = diagnosis
        .candidates
        .iter()
        .filter(|candidate| candidate.verdict == Verdict::Reproduces)
        .map(|candidate| candidate.fault.phrase(&circuit))
        .collect();
    for pair in &diagnosis.pairs {
        for fault in &pair.faults {
            assert!(!alone.contains(&fault.phrase(&circuit)), "{}", fault.phrase(&circuit));
        }
    }
}

/// Straight lines in the readings pass far from a shorted lamp beside a drifted resistor, both on
/// curves; the pair is found all the same, and reproduces by itself: the board with both predicts
/// what was read.
#[test]
fn a_pair_that_straight_lines_miss() {
    let circuit = bench::demo("pump-lamp");
    let assembly = Assembly::new(&circuit);
    let file = bench::folder().join("pump-lamp.readings.toml");
    let readings = load_readings(file, &circuit).value.unwrap();
    let job = Job { pairs: Pairs::Always, ..Job::of(&readings) };
    let diagnosis = diagnose_job(&assembly, &job);
    let is_it = |pair: &&Pair| {
        let mut phrases: Vec<String> =
            pair.faults.iter().map(|fault| fault.with_value(None).phrase(&circuit)).collect();
        phrases.sort();
        phrases == ["LED2 shorted", "R3 drifted"]
    };
    let pair = diagnosis.pairs.iter().find(is_it).expect("the pair is told");
    assert!(pair.share > 0.5, "{}", pair.share);
    let case = Case::new(&assembly, &readings.readings);
    let predicted = case.predict(&pair.overlay).unwrap();
    let fit = Fit::new(&case, &predicted).unwrap();
    assert!(fit.off.iter().all(|off| off.abs() < 1.0), "{:?}", fit.off);
}

/// A blown fuse is never less likely than an open resistor that explains the same readings, and the
/// file's own weights move what they name.
#[test]
fn weights() {
    let board = |more: &str| {
        bench::circuit(&format!(
            r#"[parts]
            J1 = {{ kind = "supply", volts = "12 V", nets = ["IN", "GND"] }}
            F1 = {{ nets = ["IN", "A"] }}
            R1 = {{ value = "10", nets = ["A", "B"] }}
            R2 = {{ value = "1k", nets = ["B", "GND"] }}
            {more}"#
        ))
    };
    let share = |circuit: &Circuit, phrase: &str| {
        let readings = bench::readings(circuit, "[powered.volts]\nIN = 12.0\nB = 0.000");
        let diagnosis = diagnose(&Assembly::new(circuit), &readings, &[]);
        let of = |name: &str| {
            let found = diagnosis.candidates.iter().find(|one| one.fault.phrase(circuit) == name);
            found.map_or(0.0, |one| one.probability)
        };
        of(phrase) / of("R1 open")
    };
    let usual = share(&board(""), "F1 open");
    assert!(usual >= 1.0, "{usual}");
    let weighed = share(&board("[board]\nweight = { F1 = { open = 3 } }"), "F1 open");
    approx::assert_relative_eq!(weighed, 3.0 * usual, max_relative = 1e-9);
    let whole = share(&board("[board]\nweight = { F1 = 3 }"), "F1 open");
    approx::assert_relative_eq!(whole, 3.0 * usual, max_relative = 1e-9);
    let bridged = |circuit: &Circuit| share(circuit, "B leak");
    let (usual, stated) =
        (bridged(&board("")), bridged(&board("[board]\nbudget = { leaks = \"30 %\" }")));
    assert!(stated > 4.0 * usual, "{usual} {stated}");
}

/// Each place of the pairs of setups and places that a reading may name reads as it was written.
#[test]
fn places_in_words() {
    let circuit = bench::demo("gate-supply");
    let text = "[powered.volts]\nEN = 4.2\n\"VIN to EN\" = 19.8\nR1 = 19.8";
    for reading in bench::readings(&circuit, text) {
        assert_eq!(reading.place.words(&circuit), reading.place_text);
        assert_eq!(reading.setup, POWERED);
        assert!(matches!(reading.place, Place::At(_) | Place::Between(..) | Place::Part(_)));
    }
}

/// Two separate values that fit are both told. By Kirchhoff's current law two alike resistors R, one
/// in the feed and one between two loads of 1 kΩ, drop 10 V · R / (R² + 3 R + 1) across the second
/// (R in kilohms), which is the same at R and at 1/R: 1.25 V at (5 ± √21)/2.
#[test]
fn a_value_that_fits_in_two_places() {
    let circuit = bench::circuit(
        r#"[parts]
        J1 = { kind = "supply", volts = "10 V", tolerance = "0.1 %", nets = ["IN", "GND"] }
        R1 = { value = "1k", tolerance = "1 %", nets = ["IN", "A"] }
        R2 = { value = "1k", tolerance = "1 %", nets = ["A", "B"] }
        R3 = { value = "1.02k", tolerance = "1 %", nets = ["A", "GND"] }
        R4 = { value = "1.02k", tolerance = "1 %", nets = ["B", "GND"] }"#,
    );
    let text = "[powered.volts]\nIN = 10.000\n\"A to B\" = 1.250";
    let diagnosis = diagnose(&Assembly::new(&circuit), &bench::readings(&circuit, text), &[]);
    let found = diagnosis
        .candidates
        .iter()
        .find(|one| one.fault.phrase(&circuit) == "R1 and alike drifted")
        .unwrap();
    let mut values: Vec<f64> = found.values.iter().map(|one| one.value).collect();
    values.sort_by(f64::total_cmp);
    let [low, high] = values[..] else { panic!("{values:?}") };
    // The loads are 2 % more than in the formula, so that they are not alike themselves.
    approx::assert_relative_eq!(low, 208.7, max_relative = 0.05);
    approx::assert_relative_eq!(high, 4791.0, max_relative = 0.05);
    let shares: f64 = found.values.iter().map(|one| one.share).sum();
    approx::assert_relative_eq!(shares, 1.0, epsilon = 0.03);
    // The one that is told first is inside its own interval, not between the two.
    let (value, low, high) = (found.value, found.value_low, found.value_high);
    assert!(low <= value && value <= high && high.unwrap() / low.unwrap() < 2.0);
}

// ---- Readings that lean on others.

/// Every reading goes by the good board's reading of the same place, not by that of another one: a
/// board that reads as the good one does is a good one, though the model of both is far from it.
#[test]
fn every_place_goes_by_its_own_good_reading() {
    for name in ["soil-probe", "gate-supply", "fence-loop"] {
        let circuit = bench::demo(name);
        let assembly = Assembly::new(&circuit);
        let mut readings = volts(&assembly, &[]);
        readings.retain(|reading| reading.number().is_some_and(|value| value > 0.1));
        assert!(readings.len() > 2, "{name}");
        let good: Vec<Reading> = readings
            .iter()
            .enumerate()
            .map(|(idx, reading)| scaled(reading, 1.2 + 0.1 * idx as f64))
            .collect();
        let job = Job { readings: &good, good: &good, ..Job::default() };
        let diagnosis = diagnose_job(&assembly, &job);
        assert_eq!(diagnosis.healthy_verdict, Verdict::Reproduces, "{name}");
        for (reading, line) in good.iter().zip(&diagnosis.readings) {
            assert!(line.off.abs() < 1.0, "{name} {}: {}", reading.place.words(&circuit), line.off);
        }
        // The model alone does not reach them.
        let alone = diagnose(&assembly, &good, &[]);
        assert_eq!(alone.healthy_verdict, Verdict::Excluded, "{name}");
    }
}

/// A black lead that stands above ground makes every volt read lower by as much.
#[test]
fn a_black_lead_above_ground_makes_all_volts_read_low() {
    let circuit = bench::demo("gate-supply");
    let assembly = Assembly::new(&circuit);
    let lowered = |mut reading: Reading| {
        if let Observed::Number { value, .. } = &mut reading.observed {
            *value -= 0.7;
        }
        reading
    };
    let readings: Vec<Reading> = volts(&assembly, &[]).into_iter().map(lowered).collect();
    let diagnosis = diagnose(&assembly, &readings, &[]);
    let is_it = |fault: Fault| matches!(fault, Fault::Misread(Misread::BlackLead, _));
    let found = diagnosis.candidates.iter().find(|one| is_it(one.fault)).expect("it is tried");
    assert_eq!(found.verdict, Verdict::Reproduces);
    let volts = found.value.expect("it has a value");
    assert!((volts - 0.7).abs() < 0.1, "{volts} V");
}
