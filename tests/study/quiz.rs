//! Quizzes: a hidden fault is found by the planned way, equal faults are accepted, marks never
//! punish a shorter way, and predictions are marked.

use crate::bench;
use ohmhound::circuit::{
    Circuit, Meter, NetId, Observed, Overlay, POWERED, Place, Quantity, Reading, Spot, UNPOWERED,
};
use ohmhound::diagnosis::Probe;
use ohmhound::engine::Assembly;
use ohmhound::fault::{Evidence, Fault, Spread, hypotheses};
use ohmhound::meter::{Scene, show};
use ohmhound::plan::measurements;
use ohmhound::quantity::{Unit, parse_reading};
use ohmhound::report::{Style, hint_text};
use ohmhound::study::{
    Digits, Hint, Judgement, Match, Performance, Prediction, Quiz, Reply, points,
};

/// Boards that are played on here; the larger ones take longer than a test should.
const BOARDS: [&str; 6] =
    ["soil-probe", "gate-supply", "leaf-bridge", "fence-loop", "pump-lamp", "relay-driver"];

/// Plays the planned way as a student would: the same readings, then the first of what is left.
fn play_as_planned(quiz: &Quiz<'_>) -> (Judgement, f64, f64) {
    let circuit = quiz.circuit();
    let mut play = quiz.play();
    for step in &quiz.way().steps {
        match play.measure(step.probe()) {
            Reply::Read { taken, .. } => assert_eq!(taken.reading, step.reading),
            other => panic!("{other:?}"),
        }
    }
    assert!((play.effort() - quiz.way().effort).abs() < 1e-9, "{}", play.effort());
    // The repairs in the order of the plan, each with the faults that it would mend.
    for repair in &quiz.way().repairs {
        for phrase in &repair.faults {
            let hidden = quiz.hidden().fault;
            let fault = named(circuit, phrase, &hidden);
            if play.guess(fault).is_right() {
                let last = play.guesses().last().unwrap().judged;
                return (last, play.marking().points.total, play.effort());
            }
        }
    }
    let told = quiz.hidden().fault.full_phrase(circuit);
    panic!("seed {}: {told} is not among {:?}", quiz.seed(), quiz.way().repairs);
}

/// The fault of a phrase; the hidden one where the phrase needs a value.
fn named(circuit: &Circuit, phrase: &str, hidden: &Fault) -> Fault {
    if hidden.phrase(circuit) == phrase {
        return hidden.with_value(None);
    }
    named_or_none(circuit, phrase).unwrap_or_else(|| panic!("{phrase}"))
}

/// Every board, every level, many seeds: what is hidden is found by the planned way, and a student
/// who goes it gets the points for the way in full.
fn found(boards: &[&str], seeds: std::ops::Range<u64>) {
    for name in boards {
        let circuit = bench::demo(name);
        let assembly = Assembly::new(&circuit);
        for level in 1..=3 {
            let mut faults = std::collections::BTreeSet::new();
            for seed in seeds.clone() {
                let quiz = Quiz::new(&assembly, seed, level);
                let quiz = quiz.unwrap_or_else(|| panic!("{name} level {level} seed {seed}"));
                let fault = quiz.hidden().fault.full_phrase(&circuit);
                let (judged, total, _) = play_as_planned(&quiz);
                assert!(judged.is_right(), "{name} seed {seed}: {fault}");
                let wrong = (100.0 - total) / 10.0;
                assert!(wrong.fract() == 0.0, "{name} seed {seed}: only guesses cost: {total}");
                faults.insert(fault);
            }
            let n = (seeds.end - seeds.start) as usize;
            assert!(
                2 * faults.len() > n.min(8),
                "{name} level {level}: always the same {faults:?}"
            );
        }
    }
}

#[test]
fn what_is_hidden_is_found_by_the_planned_way() {
    found(&BOARDS, 0..4);
}

#[test]
#[ignore = "every demo board and many seeds"]
fn what_is_hidden_is_found_on_every_board() {
    let names = bench::names();
    let names: Vec<&str> = names.iter().map(String::as_str).collect();
    found(&names, 0..25);
}

// ---- What is as good as the hidden fault.

/// What a perfect meter shows at every measurement that can be taken.
fn all_values(assembly: &Assembly<'_>, overlay: &Overlay) -> Option<Vec<f64>> {
    let scenes: Vec<Scene<'_>> = [POWERED, UNPOWERED]
        .into_iter()
        .map(|setup| Scene::new(assembly, setup, overlay, None, false).ok())
        .collect::<Option<_>>()?;
    let all = measurements(assembly.circuit(), &[], &[]);
    all.iter()
        .map(|one| {
            let Probe { setup, quantity, place } = one.probe;
            show(&scenes[setup.0], quantity, place, &Meter::default()).map(|shown| shown.value)
        })
        .collect()
}

/// Links in a row whose middle no probe reaches, and resistors beside each other of which only the
/// sum can be read: faults that nothing tells apart.
const OUT_OF_REACH: &str = r#"[parts]
    J1 = { kind = "supply", volts = "12 V", nets = ["IN", "GND"] }
    W1 = { nets = ["IN", "MID"] }
    W2 = { nets = ["MID", "OUT"] }
    R1 = { value = "1k", nets = ["OUT", "TAP"] }
    R2 = { value = "2k2", nets = ["TAP", "LOW"] }
    W3 = { nets = ["LOW", "DEEP"] }
    W4 = { nets = ["DEEP", "GND"] }
    [board]
    no_access = ["MID", "DEEP", "LOW"]"#;

/// By brute force over every measurement: what shows the same everywhere is right, and what shows
/// something else anywhere is not right before anything was read.
#[test]
fn what_shows_the_same_everywhere_is_right_and_nothing_else() {
    let circuits = [
        (bench::circuit(OUT_OF_REACH), 0..12),
        (bench::demo("soil-probe"), 0..8),
        (bench::demo("pump-lamp"), 0..6),
        (bench::demo("gate-supply"), 0..6),
    ];
    let mut n_same = 0;
    for (circuit, seeds) in circuits {
        let assembly = Assembly::new(&circuit);
        let list = hypotheses(&circuit, &Evidence::default());
        let plain =
            list.iter().flat_map(|one| &one.causes).filter(|one| one.spread == Spread::None);
        let plain: Vec<Fault> = plain.map(|one| one.fault).collect();
        for seed in seeds {
            let quiz = Quiz::new(&assembly, seed, 1).expect("something is hidden");
            let hidden = quiz.hidden().fault;
            let own = all_values(&assembly, &hidden.overlay(&circuit).unwrap()).unwrap();
            for guess in plain.iter().filter(|guess| **guess != hidden) {
                let Some(overlay) = guess.overlay(&circuit) else { continue };
                let Some(other) = all_values(&assembly, &overlay) else { continue };
                let near =
                    |a: f64, b: f64| a == b || (a - b).abs() <= 1e-6 * (1.0 + a.abs().min(b.abs()));
                let same = own.iter().zip(&other).all(|(a, b)| near(*a, *b));
                // Told apart by far more than a meter's last digits.
                let far = |(a, b): (&f64, &f64)| {
                    a.is_finite() != b.is_finite()
                        || (a - b).abs() > 0.2 * (a.abs() + b.abs()) + 0.1
                };
                let apart = own.iter().zip(&other).any(far);
                let judged = quiz.play().guess(*guess);
                let told = format!(
                    "{} seed {seed}: {} hidden, {} said: {judged:?}",
                    circuit.title,
                    hidden.full_phrase(&circuit),
                    guess.phrase(&circuit)
                );
                assert!(!same || judged.is_right(), "{told}");
                assert!(!apart || !judged.is_right(), "{told}");
                n_same += usize::from(same);
            }
        }
    }
    assert!(n_same >= 5, "only {n_same} pairs show the same");
}

/// A wrong answer is told which reading contradicts it, and one that fits so far is not called right.
#[test]
fn a_wrong_answer_is_told_its_reading() {
    let circuit = bench::demo("soil-probe");
    let assembly = Assembly::new(&circuit);
    let quiz = Quiz::new(&assembly, 3, 2).unwrap();
    assert_eq!(quiz.hidden().fault.phrase(&circuit), "C1 shorted");
    let mut play = quiz.play();
    let fault = |phrase: &str| ohmhound::fault::parse(phrase, &circuit).unwrap();
    // Nothing was read yet: that A2 and A3 stand still says nothing of which is open.
    assert_eq!(play.guess(fault("R1 open")), Judgement::Possible);
    let tap_5 = volts(&circuit, "TAP_5");
    assert!(matches!(play.measure(tap_5), Reply::Read { .. }));
    // 0 V at TAP_5; with R3 open it would be above 9 V (12 V · (10k ∥ ...)/..., and not 0 V).
    match play.guess(fault("R3 open")) {
        Judgement::Contradicted(ruled_out) => {
            let reading = play.contradicting(&ruled_out).unwrap();
            assert_eq!(reading.place, tap_5.place);
            assert!(ruled_out.predicted > 8.0, "{}", ruled_out.predicted);
        }
        other => panic!("{other:?}"),
    }
    // A short of the net is the same, but for the current through C1: neither right nor wrong, until
    // that is read.
    assert_eq!(play.guess(fault("TAP_5 leak")), Judgement::SameChange);
    let c1 = Place::Part(circuit.part("C1").unwrap());
    play.measure(Probe { setup: POWERED, quantity: Quantity::Amps, place: c1 });
    assert!(matches!(play.guess(fault("TAP_5 leak")), Judgement::Contradicted(_)));
    assert_eq!(play.guess(fault("C1 shorted")), Judgement::Hidden);
    let marking = play.marking();
    assert_eq!((marking.found, marking.performance.wrong), (true, 3));
    assert_eq!(marking.points.fault, 30.0);
}

fn volts(circuit: &Circuit, net: &str) -> Probe {
    let net = circuit.net(net).unwrap();
    Probe { setup: POWERED, quantity: Quantity::Volts, place: Place::At(Spot::Net(net)) }
}

// ---- Hints.

/// A hint of level 1 names no part, and so never the fault; one of level 3 has it in its list.
#[test]
fn the_first_hint_never_names_the_fault_and_the_third_always_does() {
    for name in ["soil-probe", "gate-supply", "pump-lamp", "leaf-bridge"] {
        let circuit = bench::demo(name);
        let assembly = Assembly::new(&circuit);
        for seed in 0..5 {
            let quiz = Quiz::new(&assembly, seed, 2).unwrap();
            let mut play = quiz.play();
            let mut told: Vec<Hint> = Vec::new();
            let mut note = |hint: &Hint| {
                if !told.contains(hint) {
                    told.push(hint.clone());
                }
            };
            let hidden = quiz.hidden().fault.with_value(None).phrase(&circuit);
            for taken in 0..=quiz.way().steps.len() {
                if let Some(step) = taken.checked_sub(1) {
                    play.measure(quiz.way().steps[step].probe());
                }
                let (level, hint) = play.hint(None);
                assert_eq!(level, 1, "a reading begins at level 1 again");
                let text = hint_text(&circuit, level, &hint, Style::Plain, 80);
                assert!(!text.contains(&hidden), "{name} seed {seed}: {text}");
                let words = text.split(|c: char| !c.is_alphanumeric() && c != '_');
                let names = circuit.parts.iter().map(|part| part.name.as_str());
                let named: Vec<&str> =
                    words.filter(|word| names.clone().any(|name| name == *word)).collect();
                assert!(named.is_empty(), "{name} seed {seed}: {named:?} in {text}");
                note(&hint);
                let (level, hint) = play.hint(None);
                assert_eq!(level, 2);
                note(&hint);
                let (level, hint) = play.hint(None);
                note(&hint);
                let Hint::Left(left) = hint else { panic!("level {level}: {hint:?}") };
                let accepted = left.iter().any(|(phrase, _)| {
                    let fault = named_or_none(&circuit, phrase);
                    *phrase == hidden
                        || fault.is_some_and(|fault| !quiz.play().guess(fault).is_wrong())
                });
                assert!(accepted, "{name} seed {seed}: {hidden} is not in {left:?}");
            }
            // What a hint says again is not charged again.
            assert_eq!(play.hints().iter().sum::<usize>(), told.len());
        }
    }
}

fn named_or_none(circuit: &Circuit, phrase: &str) -> Option<Fault> {
    let list = hypotheses(circuit, &Evidence::default());
    let mut causes = list.iter().flat_map(|one| &one.causes);
    causes.find(|cause| cause.fault.phrase(circuit) == phrase).map(|cause| cause.fault)
}

// ---- Points.

/// Less effort, fewer wrong answers, fewer hints and more right predictions never lose points.
#[test]
fn points_are_monotone() {
    let efforts = [0.0, 0.5, 1.0, 3.0, 5.9, 6.0, 6.1, 12.0, 60.0, 1000.0];
    let mut n = 0;
    for planned in [0.0, 1.0, 6.0, 25.0] {
        for wrong in 0..8 {
            for hints in [[0, 0, 0], [1, 0, 0], [1, 1, 1], [3, 2, 9]] {
                for predictions in [0, 1, 5, 6] {
                    for found in [true, false] {
                        let at = |effort: f64, wrong, hints, predictions| {
                            let right_part = found;
                            points(&Performance {
                                found,
                                right_part,
                                wrong,
                                effort,
                                planned,
                                hints,
                                predictions,
                            })
                            .total
                        };
                        for pair in efforts.windows(2) {
                            let (less, more) = (
                                at(pair[0], wrong, hints, predictions),
                                at(pair[1], wrong, hints, predictions),
                            );
                            assert!(less >= more, "{pair:?} of {planned}: {less} {more}");
                        }
                        let here = at(6.0, wrong, hints, predictions);
                        assert!(here >= at(6.0, wrong + 1, hints, predictions));
                        assert!(here <= at(6.0, wrong, hints, predictions + 1));
                        for level in 0..3 {
                            let mut more = hints;
                            more[level] += 1;
                            assert!(here >= at(6.0, wrong, more, predictions));
                        }
                        assert!((0.0..=100.0).contains(&here));
                        n += 1;
                    }
                }
            }
        }
    }
    assert!(n > 500);
    // The best there is, and the rule by hand: 60 − 10 and 40 · 6/8, less 2 and 4 for hints.
    let best = Performance { found: true, effort: 6.0, planned: 6.0, ..Performance::default() };
    assert_eq!(points(&best).total, 100.0);
    let middling = Performance { wrong: 1, effort: 8.0, hints: [1, 1, 0], ..best };
    assert_eq!(points(&middling).total, 50.0 + 30.0 - 6.0);
    let lost = Performance { found: false, right_part: true, ..best };
    assert_eq!(points(&lost).total, 20.0);
}

/// The same fault found with a reading left out never costs points, in a whole game.
#[test]
fn a_reading_left_out_never_costs_points() {
    let circuit = bench::demo("soil-probe");
    let assembly = Assembly::new(&circuit);
    let quiz = Quiz::new(&assembly, 3, 2).unwrap();
    let probes: Vec<Probe> =
        ["V12", "TAP_9", "TAP_5", "TAP_2"].map(|net| volts(&circuit, net)).to_vec();
    let mut last = f64::INFINITY;
    for n in 0..=probes.len() {
        let mut play = quiz.play();
        for probe in &probes[..n] {
            play.measure(*probe);
        }
        play.guess(quiz.hidden().fault);
        let total = play.marking().points.total;
        assert!(total <= last, "{n} readings: {total} after {last}");
        last = total;
    }
}

// ---- Predictions.

#[test]
fn predictions_are_marked() {
    // A healthy board shows 4.21 V, give or take 0.05 V.
    let healthy = (4.21, 0.05);
    let marked = |text: &str| {
        let written = parse_reading(text, Unit::Volt).unwrap();
        Prediction::new(Quantity::Volts, written, true, healthy).unwrap()
    };
    for text in ["4.21", "4.2 V", "4200 mV", "4.1 V", "4.3"] {
        assert_eq!(marked(text).matched, Match::Right, "{text}");
    }
    // The usual slips: millivolts for volts, volts for millivolts, kilovolts, a decimal point, a sign.
    for (text, slip) in [
        ("4.2 mV", Match::Slip(-3)),
        ("4210 V", Match::Slip(3)),
        ("4.2 kV", Match::Slip(3)),
        ("4.2 µV", Match::Slip(-6)),
        ("42 V", Match::Slip(1)),
        ("0.42 V", Match::Slip(-1)),
        ("-4.2 V", Match::Sign),
        ("OL", Match::Over),
    ] {
        assert_eq!(marked(text).matched, slip, "{text}");
    }
    match marked("5.0 V").matched {
        // (5.0 − 4.21)/4.21
        Match::Off(share) => assert!((share - 0.1876).abs() < 1e-3, "{share}"),
        other => panic!("{other:?}"),
    }
    // Two standard uncertainties are 0.1 V: one decimal is all that makes sense.
    assert_eq!(marked("4.2 V").digits, Digits::Sensible);
    assert_eq!(marked("4.21 V").digits, Digits::Sensible);
    assert_eq!(marked("4.2105263 V").digits, Digits::TooMany(2));
    let fine = parse_reading("4 V", Unit::Volt).unwrap();
    let fine = Prediction::new(Quantity::Volts, fine, true, (4.0, 0.001)).unwrap();
    assert_eq!(fine.digits, Digits::TooFew(4));
    // Next to nothing there is no slip to be found.
    let nothing = parse_reading("0.002", Unit::Volt).unwrap();
    let nothing = Prediction::new(Quantity::Volts, nothing, true, (0.0, 1e-4)).unwrap();
    assert_eq!(nothing.matched, Match::Right);
    let off = parse_reading("3 V", Unit::Volt).unwrap();
    let off = Prediction::new(Quantity::Volts, off, true, (0.0, 1e-4)).unwrap();
    assert_eq!(off.matched, Match::Off(f64::INFINITY));
}

/// What is predicted of this board, and not of a healthy one, is right once it is read.
#[test]
fn a_prediction_of_the_broken_board_is_right_too() {
    let circuit = bench::demo("soil-probe");
    let assembly = Assembly::new(&circuit);
    let quiz = Quiz::new(&assembly, 3, 2).unwrap();
    let tap_9 = volts(&circuit, "TAP_9");
    let said = |text: &str| {
        let mut play = quiz.play();
        let written = parse_reading(text, Unit::Volt).unwrap();
        play.predict(tap_9, written, true).unwrap();
        play.measure(tap_9);
        (play.predictions()[0].clone(), play.marking().performance.predictions)
    };
    // 12 V over 1 kΩ into 1.5 kΩ ∥ 22 kΩ, TAP_5 being shorted: 7.01 V; healthy is 8.81 V.
    let (predicted, right) = said("7.0 V");
    assert!(!predicted.marked.is_right() && predicted.fits_board && right == 1);
    let (predicted, right) = said("8.8 V");
    assert!(predicted.marked.is_right() && !predicted.fits_board && right == 1);
    let (predicted, right) = said("7 mV");
    assert!(!predicted.is_right() && right == 0);
}

// ---- The same seed, the same bytes.

#[test]
fn readings_do_not_depend_on_the_order_that_they_are_asked_in() {
    let circuit = bench::demo("gate-supply");
    let assembly = Assembly::new(&circuit);
    let all: Vec<Probe> =
        measurements(&circuit, &[], &[]).into_iter().map(|one| one.probe).collect();
    let (one, two) = (Quiz::new(&assembly, 11, 2).unwrap(), Quiz::new(&assembly, 11, 2).unwrap());
    let read = |quiz: &Quiz<'_>, probes: &mut dyn Iterator<Item = Probe>| -> Vec<Reading> {
        let mut play = quiz.play();
        let read = |probe: Probe| match play.measure(probe) {
            Reply::Read { taken, again: false, .. } => taken.reading,
            other => panic!("{other:?}"),
        };
        probes.map(read).collect()
    };
    let forward = read(&one, &mut all.iter().copied());
    let mut backward = read(&two, &mut all.iter().rev().copied());
    backward.reverse();
    assert_eq!(forward, backward);
    // Every reading is within the accuracy of the meter of what the board does.
    for reading in &forward {
        let Observed::Number { value, count, .. } = reading.observed else { continue };
        let probe =
            Probe { setup: reading.setup, quantity: reading.quantity, place: reading.place };
        let truth = one.board().truth(&probe).unwrap();
        let accuracy = one.meter().accuracy(reading.quantity);
        let room = accuracy.fraction * truth.abs() + accuracy.counts * count + 1e-12;
        assert!((value - truth).abs() <= room, "{reading:?}: {truth}");
    }
    // Read again it costs nothing.
    let mut play = one.play();
    play.measure(all[0]);
    let before = play.effort();
    assert!(matches!(play.measure(all[0]), Reply::Read { again: true, .. }));
    assert_eq!(play.effort(), before);
}

#[test]
fn efforts_are_those_of_the_plan() {
    let circuit = bench::demo("soil-probe");
    let assembly = Assembly::new(&circuit);
    let quiz = Quiz::new(&assembly, 3, 2).unwrap();
    let mut play = quiz.play();
    let tap_5 = Place::At(Spot::Net(circuit.net("TAP_5").unwrap()));
    let tap_9 = Place::At(Spot::Net(circuit.net("TAP_9").unwrap()));
    let mut cost = |setup, quantity, place| {
        play.measure(Probe { setup, quantity, place });
        play.taken().last().unwrap().effort
    };
    // A probe 1; power off 2 and a probe; a second one without; power on again 1, and a probe, and a
    // path to break 5 (the table of plan::Effort).
    assert_eq!(cost(POWERED, Quantity::Volts, tap_5), 1.0);
    assert_eq!(cost(UNPOWERED, Quantity::Ohms, tap_5), 3.0);
    assert_eq!(cost(UNPOWERED, Quantity::Ohms, tap_9), 1.0);
    let r1 = Place::Part(circuit.part("R1").unwrap());
    assert_eq!(cost(POWERED, Quantity::Amps, r1), 7.0);
    // `TAP_2 to GND` is TAP_2.
    let ground = Spot::Net(NetId::GROUND);
    let tap_2 = Spot::Net(circuit.net("TAP_2").unwrap());
    play.measure(Probe {
        setup: POWERED,
        quantity: Quantity::Volts,
        place: Place::Between(tap_2, ground),
    });
    assert_eq!(play.taken().last().unwrap().reading.place, Place::At(tap_2));
}

// ---- What is right stays right, and what cannot be is told its reading.

/// The game that a careful student plays: readings one after the other, the same guess after each.
fn judged_along(
    (name, seed, level): (&str, u64, u8),
    readings: &[Probe],
    guess: &str,
) -> Vec<Judgement> {
    let circuit = bench::demo(name);
    let assembly = Assembly::new(&circuit);
    let quiz = Quiz::new(&assembly, seed, level).unwrap();
    let fault = named_or_none(&circuit, guess).unwrap();
    (0..=readings.len())
        .map(|count| {
            let mut play = quiz.play();
            for probe in &readings[..count] {
                assert!(matches!(play.measure(*probe), Reply::Read { .. }));
            }
            play.guess(fault)
        })
        .collect()
}

/// More readings never turn a right guess into a wrong one, unless one of them contradicts it: D1
/// reversed shows OL both ways in diode mode as D1 open does.
#[test]
fn a_careful_student_loses_nothing() {
    let circuit = bench::demo("gate-supply");
    let light = Spot::Net(circuit.net("LIGHT").unwrap());
    let ground = Spot::Net(NetId::GROUND);
    let diode = |red, black| Probe {
        setup: UNPOWERED,
        quantity: Quantity::Diode,
        place: Place::Between(red, black),
    };
    let readings = [volts(&circuit, "LIGHT"), diode(light, ground), diode(ground, light)];
    let judged = judged_along(("gate-supply", 1, 2), &readings, "D1 reversed");
    assert!(judged.last().unwrap().is_right(), "{judged:?}");
    let all = measurements(&circuit, &[], &[]);
    for (seed, guess) in [(1, "D1 reversed"), (3, "R2 shorted"), (2, "W1 open"), (4, "P1 open")] {
        let readings: Vec<Probe> =
            all.iter().map(|one| one.probe).skip(seed as usize).step_by(4).take(6).collect();
        let judged = judged_along(("gate-supply", seed, 1), &readings, guess);
        for pair in judged.windows(2) {
            let lost = pair[0].is_right() && !pair[1].is_right();
            let contradicted = matches!(pair[1], Judgement::Contradicted(_));
            assert!(!lost || contradicted, "seed {seed}, {guess}: {judged:?}");
        }
    }
}

/// A fault without its value is judged over all its values, and what is seen counts as read.
#[test]
fn what_cannot_be_is_contradicted() {
    let circuit = bench::demo("gate-supply");
    // 24.74 V at EN: a leak of C1 or C2 only pulls it down, whatever its value is.
    let enable = [volts(&circuit, "EN")];
    for guess in ["C1 leaky", "C2 leaky"] {
        let judged = judged_along(("gate-supply", 7, 3), &enable, guess);
        assert!(matches!(judged[1], Judgement::Contradicted(_)), "{guess}: {judged:?}");
    }
    // D1 is seen dark; with R1 open it is lit.
    let judged = judged_along(("gate-supply", 1, 2), &[], "R1 open");
    assert!(matches!(judged[0], Judgement::Contradicted(_)), "{judged:?}");
}

/// The same hint again costs nothing, and a prediction without the meter's load is right: behind 1 MΩ
/// the meter's 10 MΩ take a tenth less one part of the volts, as the divider says by hand.
#[test]
fn the_same_hint_is_free_and_the_load_of_the_meter_may_be_left_out() {
    let circuit = bench::circuit(
        r#"[parts]
        J1 = { kind = "supply", volts = "10 V", nets = ["IN", "GND"] }
        R1 = { value = "2M", tolerance = "1 %", nets = ["IN", "OUT"] }
        R2 = { value = "2M", tolerance = "1 %", nets = ["OUT", "GND"] }"#,
    );
    let assembly = Assembly::new(&circuit);
    let quiz = Quiz::new(&assembly, 1, 1).unwrap();
    let mut play = quiz.play();
    play.hint(Some(1));
    play.hint(Some(1));
    assert_eq!(play.hints(), [1, 0, 0]);
    let out = volts(&circuit, "OUT");
    // By hand: 2 MΩ ∥ 10 MΩ = 1.667 MΩ, and 10 V · 1.667/3.667 = 4.545 V; without the meter 5 V.
    assert!((quiz.healthy(&out).unwrap().0 - 4.545).abs() < 2e-3);
    assert!((quiz.healthy_without_meter(&out).unwrap() - 5.0).abs() < 1e-3);
    for text in ["4.55 V", "5.00 V"] {
        let written = parse_reading(text, Unit::Volt).unwrap();
        assert!(play.predict(out, written, true).unwrap().is_right(), "{text}");
    }
}
