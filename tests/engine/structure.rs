//! Circuits whose structure is the trouble: what floats, what contradicts itself, what spans the
//! whole range of resistances, what is long.

use crate::strategies;
use crate::strategies::{Spec, circuit, net, part, resistor, source, volts};
use approx::assert_relative_eq;
use ohmhound::circuit::{Change, Circuit, Connection, NetId, Overlay, POWERED};
use ohmhound::device::{At, Values, of};
use ohmhound::engine::{Assembly, Ending, OperatingPoint, Trouble, examine};

fn solved(specs: &[Spec]) -> (Circuit, OperatingPoint) {
    let circuit = circuit(specs);
    let run = Assembly::new(&circuit).solve(POWERED, &Overlay::none());
    let point = run.point.unwrap_or_else(|| panic!("{:?}", run.ending));
    (circuit, point)
}

/// Names of the parts in the loop that a circuit is refused for, in their own order.
fn contradiction(circuit: &Circuit, overlay: &Overlay) -> Vec<String> {
    let assembly = Assembly::new(circuit);
    let network = assembly.network(POWERED, overlay);
    let run = assembly.solve(POWERED, overlay);
    let Ending::Contradiction { elements } = run.ending else { panic!("{:?}", run.ending) };
    assert!(run.point.is_none());
    let mut names: Vec<String> = elements
        .iter()
        .map(|&idx| match network.elements[idx].part() {
            Some(part) => circuit[part].name.clone(),
            None => "overlay".to_owned(),
        })
        .collect();
    names.sort();
    names
}

fn contradicts(specs: &[Spec]) -> Vec<String> {
    contradiction(&circuit(specs), &Overlay::none())
}

fn diode(name: &str, nets: [&str; 2], word: &str) -> Spec {
    part(name, "diode", nets).at("drop", 0.7, 10e-3).word("approximation", word)
}

#[test]
fn floating_islands_are_marked_and_solved_among_themselves() {
    let mut specs = vec![
        source("V1", ["A", "GND"], 5.0),
        resistor("R1", ["A", "B"], 1e3),
        resistor("R2", ["B", "GND"], 1e3),
        // An island with a battery of its own, and one without anything.
        source("V2", ["P", "Q"], 9.0),
        resistor("R3", ["P", "M"], 2e3),
        resistor("R4", ["M", "Q"], 1e3),
        resistor("R5", ["X", "Y"], 1e3),
    ];
    let (found, point) = solved(&specs);
    for (name, floating) in [
        ("A", false),
        ("B", false),
        ("P", true),
        ("Q", true),
        ("M", true),
        ("X", true),
        ("Y", true),
    ] {
        assert_eq!(point.floating[net(&found, name)], floating, "{name}");
    }
    assert_relative_eq!(volts(&found, &point, "B"), 2.5, max_relative = 1e-14);
    let [p, q, m, x, y] = ["P", "Q", "M", "X", "Y"].map(|name| net(&found, name));
    assert_relative_eq!(point.between(m, q), 3.0, max_relative = 1e-14);
    assert_relative_eq!(point.between(p, q), 9.0, max_relative = 1e-14);
    let network = Assembly::new(&found).network(POWERED, &Overlay::none());
    let troubles = examine(&network);
    assert_eq!(
        troubles,
        [Trouble::Floating { nets: vec![p, q, m] }, Trouble::Floating { nets: vec![x, y] }]
    );
    // A resistor between the two makes one island of them; nothing flows in it.
    specs.push(resistor("R6", ["M", "X"], 47.0));
    let (bridged, point) = solved(&specs);
    assert_relative_eq!(
        point.between(net(&bridged, "M"), net(&bridged, "Y")),
        0.0,
        epsilon = 1e-12
    );
    assert!(point.amps[7].abs() < 1e-15);
    assert_eq!(examine(&Assembly::new(&bridged).network(POWERED, &Overlay::none())).len(), 1);
    // One more to ground, and nothing floats: ground is where the island's tie was not.
    specs.push(resistor("R7", ["Q", "GND"], 1e6));
    let (grounded, point) = solved(&specs);
    assert!(!point.floating.contains(&true));
    assert_relative_eq!(volts(&grounded, &point, "Y"), 3.0, max_relative = 1e-12);
}

#[test]
fn loops_of_ideal_sources_are_named() {
    let equal = [
        source("V1", ["A", "GND"], 5.0),
        source("V2", ["A", "GND"], 5.0),
        resistor("R1", ["A", "GND"], 1e3),
    ];
    assert_eq!(contradicts(&equal), ["V1", "V2"]);
    let against = [source("V1", ["A", "GND"], 5.0), source("V2", ["A", "GND"], 12.0)];
    assert_eq!(contradicts(&against), ["V1", "V2"]);
    // A triangle; the source that hangs on it has no part in the loop.
    let triangle = [
        source("V1", ["A", "GND"], 5.0),
        source("V2", ["B", "A"], 5.0),
        source("V3", ["C", "B"], 1.0),
        source("V4", ["B", "GND"], 9.0),
    ];
    assert_eq!(contradicts(&triangle), ["V1", "V2", "V4"]);
    // A source with both leads on one net is shorted by itself.
    assert_eq!(contradicts(&[source("V1", ["A", "A"], 5.0)]), ["V1"]);
}

#[test]
fn a_short_across_an_ideal_source_is_refused() {
    let specs = [
        source("V1", ["A", "GND"], 9.0),
        resistor("R1", ["A", "B"], 90.0),
        resistor("R2", ["B", "GND"], 90.0),
    ];
    let mut board = circuit(&specs);
    let nets = [board.net("A").unwrap(), NetId::GROUND];
    let bridge = Change::Bridge { nets, ohms: 10e-3 };
    assert_eq!(contradiction(&board, &Overlay::one(bridge.clone())), ["V1", "overlay"]);
    // Whatever else changes, before or after it.
    let part = board.part("R1").unwrap();
    for other in [
        Change::Removed { part },
        Change::Parameter { part, name: "value", value: 1e3 },
        Change::Reversed { part },
    ] {
        for changes in [vec![bridge.clone(), other.clone()], vec![other, bridge.clone()]] {
            assert_eq!(contradiction(&board, &Overlay { changes }), ["V1", "overlay"]);
        }
    }
    // The same short elsewhere is none.
    let nets = [board.net("B").unwrap(), NetId::GROUND];
    let other =
        Overlay { changes: vec![Change::Bridge { nets, ohms: 10e-3 }, Change::Removed { part }] };
    assert!(Assembly::new(&board).solve(POWERED, &other).point.is_some());
    // A link that a setup clips across it.
    let nets = [board.net("A").unwrap(), NetId::GROUND];
    board.setups[POWERED.0].connections.push(Connection::Link { nets, resistance: 20e-3 });
    assert_eq!(contradiction(&board, &Overlay::none()), ["V1", "overlay"]);
}

#[test]
fn an_ideal_diode_across_an_ideal_source_is_refused_one_way_round() {
    for word in ["ideal", "constant drop"] {
        let forward = [source("V1", ["A", "GND"], 5.0), diode("D1", ["A", "GND"], word)];
        assert_eq!(contradicts(&forward), ["D1", "V1"]);
        let reverse = [source("V1", ["A", "GND"], 5.0), diode("D1", ["GND", "A"], word)];
        let (_, point) = solved(&reverse);
        assert!(point.amps[1].abs() < 1e-11);
    }
    // Two drops in series are less than the source.
    let string = [
        source("V1", ["A", "GND"], 5.0),
        diode("D1", ["A", "B"], "constant drop"),
        diode("D2", ["B", "GND"], "constant drop"),
    ];
    assert_eq!(contradicts(&string), ["D1", "D2", "V1"]);
}

#[test]
fn a_current_into_nothing_goes_to_its_compliance() {
    let nothing =
        [part("I1", "current-source", ["A", "GND"]).with("amps", 1e-3).with("compliance", 12.0)];
    let (board, point) = solved(&nothing);
    assert_relative_eq!(volts(&board, &point, "A"), 12.0, max_relative = 1e-9);
    let part_of = &board.parts[0];
    let state = of(part_of).state(
        &Values::nominal(part_of, 25.0),
        &At { volts: &[point.volts[1], 0.0], amps: &[point.amps[0], -point.amps[0]] },
    );
    assert_eq!(state, Some("at its compliance"));
    // Into a resistor that takes all of it, and into one that takes a part of it.
    for (ohms, expected) in [(1e3, 1.0), (1e6, 12.0)] {
        let (board, point) = solved(&[nothing[0].clone(), resistor("R1", ["A", "GND"], ohms)]);
        assert_relative_eq!(volts(&board, &point, "A"), expected, max_relative = 2e-3);
    }
    // Two of them against each other: the weaker stops at its compliance.
    let against = [
        nothing[0].clone(),
        part("I2", "current-source", ["A", "GND"]).with("amps", 5e-3).with("compliance", 5.0),
    ];
    let (board, point) = solved(&against);
    assert_relative_eq!(volts(&board, &point, "A"), 12.0, max_relative = 2e-3);
    assert!(point.amps[1].abs() < 1e-9);
}

#[test]
fn nets_between_blocked_diodes_have_volts() {
    for word in ["exponential", "ideal", "constant drop"] {
        // 10 V backwards across two equal diodes: they share it.
        let specs = [
            source("V1", ["A", "GND"], 10.0),
            diode("D1", ["M", "A"], word),
            diode("D2", ["GND", "M"], word),
        ];
        let (board, point) = solved(&specs);
        assert!(!point.floating.contains(&true));
        assert_relative_eq!(volts(&board, &point, "M"), 5.0, max_relative = 1e-6);
        // A part of the board that hangs there on links takes their volts, whatever its ohms.
        let hanging = [
            &specs[..],
            &[
                part("F1", "fuse", ["M", "N"]),
                resistor("R1", ["N", "P"], 1e-3),
                resistor("R2", ["P", "M"], 1e6),
                part("L1", "link", ["N", "P"]),
            ],
        ]
        .concat();
        let (board, point) = solved(&hanging);
        for name in ["M", "N", "P"] {
            assert_relative_eq!(volts(&board, &point, name), 5.0, max_relative = 1e-6);
        }
    }
    // An unlit LED to nowhere: no current, so no drop.
    let specs = [
        source("V1", ["A", "GND"], 10.0),
        part("D1", "led", ["A", "B"]).at("drop", 3.0, 10e-3),
        resistor("R1", ["B", "C"], 1.0),
        resistor("R2", ["C", "D"], 1e6),
    ];
    let (board, point) = solved(&specs);
    for name in ["B", "C", "D"] {
        assert_relative_eq!(volts(&board, &point, name), 10.0, max_relative = 1e-9);
    }
}

#[test]
fn loops_of_links_share_currents() {
    let link = |name: &str, nets: [&str; 2]| part(name, "link", nets);
    let specs = [
        source("V1", ["A", "GND"], 5.0),
        link("W1", ["A", "B"]),
        link("W2", ["B", "C"]),
        link("W3", ["A", "C"]),
        resistor("R1", ["C", "GND"], 5.0),
        // A ring that carries nothing.
        link("W4", ["C", "P"]),
        link("W5", ["P", "Q"]),
        link("W6", ["Q", "C"]),
    ];
    let (board, point) = solved(&specs);
    // 20 mΩ beside 40 mΩ.
    let amps = 5.0 / (5.0 + 40e-3 / 3.0);
    assert_relative_eq!(point.amps[3], amps * 2.0 / 3.0, max_relative = 1e-12);
    assert_relative_eq!(point.amps[1], amps / 3.0, max_relative = 1e-12);
    for idx in 5..8 {
        assert!(point.amps[idx].abs() < 1e-15, "{}", point.amps[idx]);
    }
    assert_relative_eq!(volts(&board, &point, "Q"), volts(&board, &point, "C"));
}

/// Both ends of what the engine accepts, in one circuit and in one net.
#[test]
fn a_microohm_and_a_teraohm_in_one_circuit() {
    // The nets B and C are joined by 1 µΩ and held by 1 TΩ to either side.
    let specs = [
        source("V1", ["A", "GND"], 10.0),
        resistor("R1", ["A", "B"], 1e12),
        resistor("R2", ["B", "C"], 1e-6),
        resistor("R3", ["C", "GND"], 1e12),
        // The other way round: a heavy current beside it.
        resistor("R4", ["A", "D"], 1e-6),
        resistor("R5", ["D", "GND"], 1e-3),
        resistor("R6", ["D", "C"], 1e12),
    ];
    let (board, point) = solved(&specs);
    assert_relative_eq!(volts(&board, &point, "B"), 20.0 / 3.0, max_relative = 1e-3);
    let d = 10.0 * 1e-3 / (1e-3 + 1e-6);
    assert_relative_eq!(volts(&board, &point, "D"), d, max_relative = 1e-12);
    let exact = (10.0 + d) / 3.0;
    assert_relative_eq!(volts(&board, &point, "B"), exact, max_relative = 1e-12);
    assert_relative_eq!(point.amps[2], (10.0 - exact) / 1e12, max_relative = 1e-9);
    assert!(point.reciprocal_condition() > 1e-3);
    // Every decade once, in a string.
    let mut specs = vec![source("V1", ["n-7", "GND"], 1.0)];
    let mut total = 0.0;
    for decade in -6..=12 {
        let ohms = 10.0_f64.powi(decade);
        total += ohms;
        let ends = [format!("n{}", decade - 1), format!("n{decade}")];
        let to = if decade == 12 { "GND" } else { &ends[1] };
        specs.push(resistor(&format!("R{}", decade + 6), [&ends[0], to], ohms));
    }
    let (_, point) = solved(&specs);
    for amps in &point.amps[1..] {
        assert_relative_eq!(*amps, 1.0 / total, max_relative = 1e-12);
    }
}

#[test]
fn a_thousand_diodes_in_series() {
    let mut specs = vec![source("V1", ["n0", "GND"], 1005.0), resistor("R1", ["n0", "n1"], 1e3)];
    for idx in 1..=1000 {
        let ends = [format!("n{idx}"), format!("n{}", idx + 1)];
        let to = if idx == 1000 { "GND" } else { &ends[1] };
        specs.push(part(&format!("D{idx}"), "diode", [&ends[0], to]).at("drop", 1.0, 5e-3));
    }
    let (_, point) = solved(&specs);
    // A thousand volts for the diodes, five for the resistor.
    assert_relative_eq!(point.amps[1], 5e-3, max_relative = 1e-9);
}

#[test]
fn ideal_diodes_side_by_side_share() {
    let specs = [
        source("V1", ["A", "GND"], 10.0),
        diode("D1", ["A", "K"], "ideal"),
        diode("D2", ["A", "K"], "ideal"),
        diode("D3", ["K", "A"], "ideal"),
        resistor("R1", ["K", "GND"], 1e3),
    ];
    let (board, point) = solved(&specs);
    assert_relative_eq!(volts(&board, &point, "K"), 10.0, max_relative = 1e-9);
    assert_relative_eq!(point.amps[4], 10e-3, max_relative = 1e-9);
    assert_relative_eq!(point.amps[1] + point.amps[2] - point.amps[3], 10e-3, max_relative = 1e-9);
}

/// Four diodes and a load: the same volts for either polarity.
#[test]
fn a_bridge_rectifier_of_any_model() {
    for (word, drops) in [("ideal", 0.0), ("constant drop", 1.4)] {
        for volts in [12.0, -12.0] {
            let specs = [
                source("V1", ["A", "B"], volts),
                diode("D1", ["A", "P"], word),
                diode("D2", ["B", "P"], word),
                diode("D3", ["GND", "A"], word),
                diode("D4", ["GND", "B"], word),
                resistor("R1", ["P", "GND"], 1e3),
            ];
            let (board, point) = solved(&specs);
            let p = strategies::volts(&board, &point, "P");
            assert_relative_eq!(p, 12.0 - drops, max_relative = 1e-9);
        }
    }
}

/// 12 V behind 2 Ω and 10 W: v² − 12 v + 20 = 0, so 10 V or 2 V, and the ohmic stretch below.
#[test]
fn a_constant_power_takes_the_high_point() {
    let specs = [
        part("V1", "supply", ["A", "GND"]).with("volts", 12.0).with("resistance", 2.0),
        part("X1", "load", ["A", "GND"]).with("watts", 10.0).with("minimum", 1.0),
    ];
    let (board, point) = solved(&specs);
    assert_relative_eq!(volts(&board, &point, "A"), 10.0, max_relative = 1e-9);
    // More than the source can give: V² / 4 R is 18 W. What is left is the ohmic stretch.
    let specs = [
        specs[0].clone(),
        part("X1", "load", ["A", "GND"]).with("watts", 19.0).with("minimum", 1.0),
    ];
    let (board, point) = solved(&specs);
    assert_relative_eq!(volts(&board, &point, "A"), 12.0 / (1.0 + 2.0 * 19.0), max_relative = 1e-9);
}

/// Changes of one part add up in any order.
#[test]
fn changes_of_one_part_keep_each_other() {
    let specs = [
        source("V1", ["A", "GND"], 10.0),
        resistor("R1", ["A", "B"], 1e3),
        part("D1", "diode", ["B", "GND"]).at("drop", 0.7, 10e-3),
        resistor("R2", ["B", "GND"], 1e6),
    ];
    let board = circuit(&specs);
    let (diode, feed) = (board.part("D1").unwrap(), board.part("R1").unwrap());
    let ends = |changes: Vec<Change>| {
        let run = Assembly::new(&board).solve(POWERED, &Overlay { changes });
        volts(&board, &run.point.unwrap(), "B")
    };
    let leak = Change::Across { part: feed, ohms: 1e3 };
    let drift = Change::Parameter { part: feed, name: "value", value: 2e3 };
    let turned = Change::Reversed { part: diode };
    let drop = Change::Parameter { part: diode, name: "drop", value: 0.6 };
    // 2 kΩ beside the leak of 1 kΩ, into 1 MΩ, with the diode the wrong way round. What the diode
    // leaks through them is 15 µV.
    let expected = 10.0 * 1e6 / (1e6 + 2e3 / 3.0);
    for changes in [
        vec![turned.clone(), drop.clone(), leak.clone(), drift.clone()],
        vec![drop, turned, drift, leak],
    ] {
        assert_relative_eq!(ends(changes), expected, max_relative = 3e-6);
    }
}
