//! The demo lessons and the demo boards.

use ohmhound::circuit::{NetId, Overlay};
use ohmhound::engine::Assembly;
use ohmhound::fault;
use ohmhound::report::{Lecture, Style, lesson_markdown, lesson_text};
use ohmhound::study::lesson::{self, Laid, Owner, Shortcut};

use crate::{check, load, worked};

fn names(folder: &str) -> Vec<String> {
    let root = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("circuits").join(folder);
    let mut names: Vec<String> = std::fs::read_dir(root)
        .expect("the circuits")
        .map(|entry| entry.expect("an entry").file_name().to_string_lossy().into_owned())
        .filter(|name| name.ends_with(".toml"))
        .filter(|name| !name.contains(".readings") && !name.contains(".shelf"))
        .collect();
    names.sort();
    names
}

fn fault(circuit: &ohmhound::circuit::Circuit, phrase: &str) -> Overlay {
    fault::parse(phrase, circuit).expect("a fault").overlay(circuit).expect("with a value")
}

#[test]
fn every_demo_lesson() {
    let all = names("lessons");
    assert!(all.len() >= 7, "{all:?}");
    for name in all {
        let circuit = load(&format!("lessons/{name}"));
        check(&circuit, &worked(&circuit, &Overlay::none(), &[]));
        // A meter over every net.
        let nets = 1..circuit.nets.len() as u32;
        let meters: Vec<Laid> = nets.map(|net| Laid { net: NetId(net), ohms: 10e6 }).collect();
        check(&circuit, &worked(&circuit, &Overlay::none(), &meters));
    }
}

#[test]
fn every_demo_board() {
    for name in names("") {
        let circuit = load(&name);
        check(&circuit, &worked(&circuit, &Overlay::none(), &[]));
    }
}

/// By hand: 6 V over 1 MΩ and 2 MΩ are 4 V; 2 MΩ beside 10 MΩ are 5/3 MΩ, so 6 V · (5/3)/(8/3).
#[test]
fn a_meter_loads_a_divider() {
    let circuit = load("lessons/meter-divider.toml");
    let net = circuit.net("PROBE").unwrap();
    let lesson = worked(&circuit, &Overlay::none(), &[Laid { net, ohms: 10e6 }]);
    let [loading] = lesson.loadings[..] else { panic!("one meter") };
    approx::assert_relative_eq!(loading.without, 4.0, max_relative = 1e-9);
    approx::assert_relative_eq!(loading.with, 3.75, max_relative = 1e-9);
    let divider = lesson.shortcuts.iter().find_map(|one| match one {
        Shortcut::Divider { unloaded, loaded, .. } => Some((*unloaded, *loaded)),
        _ => None,
    });
    let (unloaded, loaded) = divider.expect("a divider");
    approx::assert_relative_eq!(unloaded, 4.0, max_relative = 1e-12);
    approx::assert_relative_eq!(loaded, 3.75, max_relative = 1e-12);
    // Seen by the meter: 4 V behind 1 MΩ beside 2 MΩ.
    let port = lesson.shortcuts.iter().find_map(|one| match one {
        Shortcut::Thevenin { port, branch: Some(_), .. } => Some(*port),
        _ => None,
    });
    let port = port.expect("what the meter sees");
    approx::assert_relative_eq!(port.open_volts, 4.0, max_relative = 1e-9);
    approx::assert_relative_eq!(port.ohms, 2e6 / 3.0, max_relative = 1e-9);
}

/// By hand: 24 V less 12 mA through 20 + 2 + 28 + 250 Ω leave 20.4 V, and 3 V at the converter.
#[test]
fn a_series_loop() {
    let circuit = load("lessons/level-loop.toml");
    let lesson = worked(&circuit, &Overlay::none(), &[]);
    let volts = |name: &str| lesson.solution.volts[circuit.net(name).unwrap().index()];
    approx::assert_relative_eq!(volts("IN"), 3.0, max_relative = 1e-9);
    approx::assert_relative_eq!(volts("FAR") - volts("IN"), 20.4, max_relative = 1e-9);
    let series = lesson.shortcuts.iter().find_map(|one| match one {
        Shortcut::Series { ohms, volts, given: Some(_), .. } => Some((*ohms, *volts)),
        _ => None,
    });
    let (ohms, volts) = series.expect("one loop");
    approx::assert_relative_eq!(ohms, 300.0, max_relative = 1e-9);
    approx::assert_relative_eq!(volts, 24.0, max_relative = 1e-9);
    // 800 Ω of wire leave 24 − 12 mA · 1072 Ω = 11.136 V.
    let lesson = worked(&circuit, &fault(&circuit, "W1 resistive 800"), &[]);
    check(&circuit, &lesson);
    let volts = |name: &str| lesson.solution.volts[circuit.net(name).unwrap().index()];
    approx::assert_relative_eq!(volts("FAR") - volts("IN"), 11.136, max_relative = 1e-6);
}

/// By hand: 5 V (1.1/2.1 − 1/2) = 119.05 mV behind 1·1.1/2.1 + 0.5 = 1.02381 kΩ, into 5 kΩ.
#[test]
fn a_bridge() {
    let circuit = load("lessons/leaf-bridge.toml");
    let lesson = worked(&circuit, &Overlay::none(), &[]);
    let bridge = lesson.shortcuts.iter().find_map(|one| match one {
        Shortcut::Bridge { open_volts, ohms, volts, .. } => Some((*open_volts, *ohms, *volts)),
        _ => None,
    });
    let (open_volts, ohms, volts) = bridge.expect("a bridge");
    let open = 5.0 * (1.1 / 2.1 - 0.5);
    let behind = 1e3 * (1.1 / 2.1 + 0.5);
    approx::assert_relative_eq!(open_volts, open, max_relative = 1e-9);
    approx::assert_relative_eq!(ohms, behind, max_relative = 1e-9);
    approx::assert_relative_eq!(volts, open * 5e3 / (5e3 + behind), max_relative = 1e-9);
}

/// The three models of one diode: (3 V − drop)/220 Ω by hand, and the root of the diode's equation
/// by Lambert's W (T. C. Banwell, A. Jayakumar, "Exact analytical solution for current flow through
/// diode with series resistance", Electronics Letters 36, 2000).
#[test]
fn three_models_of_a_diode() {
    let circuit = load("lessons/diode-models.toml");
    let lesson = worked(&circuit, &Overlay::none(), &[]);
    let amps = |name: &str| {
        let at = lesson.branches.iter().position(|branch| branch.label == name).unwrap();
        lesson.solution.amps[at]
    };
    approx::assert_relative_eq!(amps("D1"), 3.0 / 220.0, max_relative = 1e-6);
    approx::assert_relative_eq!(amps("D2"), 2.3 / 220.0, max_relative = 1e-6);
    let scale: f64 = 1.8 * 1.380_649e-23 * 298.15 / 1.602_176_634e-19;
    let saturation: f64 = 10e-3 / ((0.7 / scale).exp() - 1.0);
    let x = saturation * 220.0 / scale * ((3.0 + saturation * 220.0) / scale).exp();
    let expected = scale / 220.0 * lambert_w::lambert_w0(x) - saturation;
    approx::assert_relative_eq!(amps("D3"), expected, max_relative = 1e-6);
    // Newton's method doubles its digits: the residuals fall from step to step.
    let residuals: Vec<f64> = lesson.steps.iter().map(|step| step.residual).collect();
    assert!(
        residuals.len() >= 3 && residuals.windows(2).all(|two| two[1] < two[0]),
        "{residuals:?}"
    );
}

/// By hand: (12 − 5.1)/220 less 5.1/330 are 15.91 mA; with 150 Ω the rail would stand at
/// 12 · 150/370 = 4.865 V, below the zener: it is off.
#[test]
fn a_zener_that_holds_and_one_that_does_not() {
    let circuit = load("lessons/zener-rail.toml");
    let lesson = worked(&circuit, &Overlay::none(), &[]);
    assert_eq!(lesson.rounds.len(), 1);
    let line = lesson.load_line.as_ref().expect("a load line");
    approx::assert_relative_eq!(line.crossing.1, 6.9 / 220.0 - 5.1 / 330.0, max_relative = 1e-6);
    let lesson = worked(&circuit, &fault(&circuit, "R2 drifted 150"), &[]);
    check(&circuit, &lesson);
    assert_eq!(lesson.rounds.len(), 2);
    let [wrong, right] = &lesson.rounds[..] else { panic!("two rounds") };
    assert!(!wrong.assumed[0].holds() && wrong.corrected.len() == 1);
    assert_eq!(right.assumed[0].state, "off");
    let rail = circuit.net("RAIL").unwrap().index();
    approx::assert_relative_eq!(
        lesson.solution.volts[rail],
        12.0 * 150.0 / 370.0,
        max_relative = 1e-6
    );
}

/// An LED behind 331 Ω at 6 V: the crossing of its load line is the root of the diode's equation by
/// Lambert's W (Banwell and Jayakumar, as above), and the ends are 6 V and 6 V/331 Ω.
#[test]
fn a_load_line_of_a_curve() {
    let circuit = crate::strategies::circuit(&[
        crate::strategies::source("V1", ["IN", "GND"], 6.0),
        crate::strategies::resistor("R1", ["IN", "A"], 331.0),
        crate::strategies::part("D1", "led", ["A", "GND"]).at("drop", 2.0, 10e-3),
    ]);
    let lesson = worked(&circuit, &Overlay::none(), &[]);
    check(&circuit, &lesson);
    let line = lesson.load_line.as_ref().expect("a load line");
    let scale: f64 = 2.0 * 1.380_649e-23 * 298.15 / 1.602_176_634e-19;
    let saturation = 10e-3 / ((2.0 / scale).exp() - 1.0);
    let x = saturation * 331.0 / scale * ((6.0 + saturation * 331.0) / scale).exp();
    let expected = scale / 331.0 * lambert_w::lambert_w0(x) - saturation;
    approx::assert_relative_eq!(line.crossing.1, expected, max_relative = 1e-6);
    approx::assert_relative_eq!(line.rest.open_volts, 6.0, max_relative = 1e-9);
    approx::assert_relative_eq!(line.rest.ohms, 331.0, max_relative = 1e-9);
}

/// By hand: active, the coil would drop 100 · 4.3 mA · 120 Ω = 51.6 V of 12 V. Saturated: 11.8 V.
#[test]
fn a_switch_is_not_active() {
    let circuit = load("lessons/valve-switch.toml");
    let lesson = worked(&circuit, &Overlay::none(), &[]);
    let [wrong, right] = &lesson.rounds[..] else { panic!("two rounds") };
    assert_eq!((wrong.assumed[0].state, right.assumed[0].state), ("active", "saturated"));
    let coil = circuit.net("COIL").unwrap().index();
    let tried = wrong.solution.as_ref().expect("an answer");
    approx::assert_relative_eq!(tried.volts[coil], 12.0 - 51.6, max_relative = 1e-6);
    approx::assert_relative_eq!(lesson.solution.volts[coil], 0.2, max_relative = 1e-3);
}

/// By hand: 3.4 V over 0.5 + 2.5 + 33 Ω are 94.44 mA and 3.1167 V; at 4.5 V it regulates.
#[test]
fn a_regulator_short_of_headroom() {
    let circuit = load("lessons/low-battery.toml");
    let lesson = worked(&circuit, &Overlay::none(), &[]);
    let [wrong, right] = &lesson.rounds[..] else { panic!("two rounds") };
    let state = |round: &ohmhound::study::lesson::Round| {
        let part = circuit.part("U1").unwrap();
        round.assumed.iter().find(|one| one.part == part).unwrap().state
    };
    assert_eq!((state(wrong), state(right)), ("regulating", "in dropout"));
    let out = circuit.net("V3V3").unwrap().index();
    approx::assert_relative_eq!(lesson.solution.volts[out], 3.4 * 33.0 / 36.0, max_relative = 1e-5);
    let assembly = Assembly::new(&circuit);
    let setup = circuit.setup("fresh").expect("a fresh battery");
    let lesson = lesson::lesson(&assembly, setup, &Overlay::none(), &[]).expect("a point");
    assert_eq!(lesson.rounds.len(), 1);
    check(&circuit, &lesson);
    approx::assert_relative_eq!(lesson.solution.volts[out], 3.3, max_relative = 1e-5);
}

/// The curve of a zener that is off, or hardly on, and its load line: knee and crossing are in view,
/// and of the line nothing is drawn where it is outside. By hand: 12 V behind 220 Ω beside 150 Ω or
/// 180 Ω are 4.865 V behind 89.19 Ω or 5.4 V behind 99 Ω.
#[test]
fn a_load_line_is_drawn_where_it_is() {
    let circuit = load("lessons/zener-rail.toml");
    for phrase in ["R2 drifted 150", "R2 drifted 180", "R2 drifted 330"] {
        let lesson = worked(&circuit, &fault(&circuit, phrase), &[]);
        let line = lesson.load_line.as_ref().expect("a load line");
        assert!(line.right >= 5.1 && line.right >= line.crossing.0, "{phrase}");
        let on =
            |(volts, amps): (f64, f64)| amps * line.rest.ohms + volts - line.rest.open_volts.abs();
        let [from, to] = line.line;
        assert!(on(from).abs() < 1e-9 && on(to).abs() < 1e-9 && on(line.crossing).abs() < 1e-5);
        let lecture = Lecture {
            circuit: &circuit,
            lesson: &lesson,
            title: "a rail",
            asks: false,
            ladder: None,
        };
        let text = lesson_text(&lecture, Style::Plain, 80);
        let rows: Vec<Vec<char>> = text
            .lines()
            .skip_while(|line| *line != "Load line")
            .filter_map(|line| Some(line.split_once(" |")?.1.chars().collect()))
            .take(16)
            .collect();
        let mut columns = rows.iter().map(|row| row.iter().filter(|one| **one == 'x').count());
        // A line that falls is nowhere flat.
        assert!(columns.all(|count| count <= 8), "{text}");
    }
}

/// Without a base current a transistor is on the edge of being off: no second state of the board.
#[test]
fn an_edge_is_no_second_state() {
    let circuit = load("lessons/valve-switch.toml");
    let lesson = worked(&circuit, &fault(&circuit, "R1 open"), &[]);
    let first = &lesson.rounds[0];
    assert!(first.held && first.is_edge && first.assumed[0].state == "active");
    let lecture =
        Lecture { circuit: &circuit, lesson: &lesson, title: "a valve", asks: false, ladder: None };
    let text = lesson_text(&lecture, Style::Plain, 80);
    assert!(!text.contains("several states"), "{text}");
}

/// Where every net has a resistor or a source no leaks are written out.
#[test]
fn leaks_are_written_where_a_net_has_nothing_else() {
    let lesson = worked(&load("standby-supply.toml"), &Overlay::none(), &[]);
    assert!(!lesson.leaks && lesson.agrees);
}

/// A regulator or a transistor takes power as a whole: by hand, 3.4 V at 3.4/36 A are given, less
/// what the battery's own 0.5 Ω take.
#[test]
fn only_sources_give_power() {
    for name in names("lessons") {
        let circuit = load(&format!("lessons/{name}"));
        let lesson = worked(&circuit, &Overlay::none(), &[]);
        for (at, watts) in &lesson.power.terms {
            let Owner::Part(part) = lesson.branches[*at].owner else { continue };
            let kind = circuit[part].kind;
            let gives = matches!(kind, "supply" | "battery" | "current-source");
            assert!(gives || *watts >= -1e-9 * lesson.power.taken, "{name}: {kind} {watts}");
        }
        let mut parts: Vec<Owner> =
            lesson.power.terms.iter().map(|(at, _)| lesson.branches[*at].owner).collect();
        let all = parts.len();
        parts.dedup();
        assert_eq!(parts.len(), all, "{name}");
    }
    let lesson = worked(&load("lessons/low-battery.toml"), &Overlay::none(), &[]);
    let amps: f64 = 3.4 / 36.0;
    let given = 3.4 * amps - 0.5 * amps * amps;
    approx::assert_relative_eq!(lesson.power.given, given, max_relative = 1e-5);
}

/// The loop law holds round loops through the sources of every demo lesson.
#[test]
fn loops_go_through_the_sources() {
    for (name, source) in [("level-loop", "J1"), ("low-battery", "BT1"), ("valve-switch", "J1")] {
        let circuit = load(&format!("lessons/{name}.toml"));
        let overlay = match name {
            "valve-switch" => fault(&circuit, "R1 drifted 20k"),
            _ => Overlay::none(),
        };
        let lesson = worked(&circuit, &overlay, &[]);
        let has = |one: &lesson::Loop| {
            one.terms.iter().any(|(at, ..)| lesson.branches[*at].label == source)
        };
        assert!(lesson.loops.iter().any(has), "{name}: {:?}", lesson.loops);
    }
}

/// No factor of one, no two signs in a row, no sign before nothing.
#[test]
fn equations_are_written_plainly() {
    let boards = names("")
        .into_iter()
        .chain(names("lessons").into_iter().map(|one| format!("lessons/{one}")));
    for name in boards {
        let circuit = load(&name);
        let lesson = worked(&circuit, &Overlay::none(), &[]);
        let lecture = Lecture {
            circuit: &circuit,
            lesson: &lesson,
            title: "a lesson",
            asks: false,
            ladder: None,
        };
        let text = lesson_markdown(&lecture);
        for wrong in ["(-V(", "-(-", "- -", "+ -", " 1·", "-1·", "(1·"] {
            assert!(!text.contains(wrong), "{name}: {wrong}\n{text}");
        }
        let mut words = text.split_whitespace().filter_map(|word| word.strip_prefix('-'));
        assert!(!words.any(|word| word.parse() == Ok(0.0)), "{name}\n{text}");
    }
    let circuit = load("soil-amplifier.toml");
    let lesson = worked(&circuit, &Overlay::none(), &[]);
    let lecture = Lecture {
        circuit: &circuit,
        lesson: &lesson,
        title: "a lesson",
        asks: false,
        ladder: None,
    };
    let text = lesson_markdown(&lecture);
    let own = "V(AMP) = 0.5·V(V5) + 200000·(V(TEMP) - V(FB)) - 50 Ω·I(U1.supply-output)";
    assert!(text.contains(own), "{text}");
    let text = lesson_markdown(&Lecture {
        lesson: &worked(&load("standby-supply.toml"), &Overlay::none(), &[]),
        circuit: &load("standby-supply.toml"),
        ..lecture
    });
    assert!(text.contains(": V(3V3) = 3.3 V\n"), "{text}");
}

/// A bridge is two dividers whose middles are compared, and told once; a divider is one as well where
/// the net above it has to be found.
#[test]
fn shortcuts_are_called_what_they_are() {
    let found = |name: &str| {
        let circuit = load(name);
        let lesson = worked(&circuit, &Overlay::none(), &[]);
        let names = lesson.shortcuts.iter().filter_map(|one| match one {
            Shortcut::Bridge { output, .. } => {
                Some(format!("bridge {} {}", lesson.nets[output[0]], lesson.nets[output[1]]))
            }
            Shortcut::Divider { net, .. } => Some(format!("divider {}", lesson.nets[*net])),
            _ => None,
        });
        names.collect::<Vec<_>>()
    };
    assert_eq!(found("leaf-bridge.toml"), ["bridge LEFT RIGHT"]);
    let soil = found("soil-amplifier.toml");
    assert!(!soil.iter().any(|one| one.starts_with("bridge")), "{soil:?}");
    let gate = found("gate-supply.toml");
    assert!(gate.contains(&"divider EN".to_owned()), "{gate:?}");
}
