//! Worked examples of books as lessons: what comes out is what they print.
//!
//! Values without a unit are volts, ohms and amps. Facts and figures are the books'; where one
//! prints fewer values than a circuit needs, the line says which are not its own.

use ohmhound::circuit::{Circuit, Overlay};
use ohmhound::device::with_pins;
use ohmhound::fault;
use ohmhound::study::lesson::{Assumed, Lesson};

use crate::strategies::{Spec, circuit, part, resistor, source};
use crate::{check, worked};

/// A part of an example, by the first letter of its name: an ideal source, a resistor, a load that
/// takes so many amps.
type Row = (&'static str, [&'static str; 2], f64);

/// What is printed of an example: volts from one net to another, or amps through a part.
type Printed = (&'static str, &'static str, f64);

struct Example {
    /// Author, title, section.
    source: &'static str,
    parts: &'static [Row],
    /// A fault of it; empty for none.
    fault: &'static str,
    printed: &'static [Printed],
    /// How far the figures may be off: half of the last digit that the book prints.
    within: f64,
}

fn specs(rows: &[Row]) -> Vec<Spec> {
    rows.iter()
        .map(|&(name, nets, value)| match &name[..1] {
            "V" | "B" => source(name, nets, value),
            "R" => resistor(name, nets, value),
            _ => part(name, "load", nets).with("amps", value).with("minimum", 0.5),
        })
        .collect()
}

fn overlay(circuit: &Circuit, phrase: &str) -> Overlay {
    match phrase {
        "" => Overlay::none(),
        phrase => {
            fault::parse(phrase, circuit).expect("a fault").overlay(circuit).expect("a value")
        }
    }
}

fn amps(lesson: &Lesson, label: &str) -> f64 {
    let at = lesson.branches.iter().position(|branch| branch.label == label);
    lesson.solution.amps[at.unwrap_or_else(|| panic!("no branch {label}"))]
}

fn volts(circuit: &Circuit, lesson: &Lesson, name: &str) -> f64 {
    lesson.solution.volts[circuit.net(name).unwrap_or_else(|| panic!("no net {name}")).index()]
}

#[track_caller]
fn compare(what: &str, circuit: &Circuit, lesson: &Lesson, printed: &[Printed], within: f64) {
    check(circuit, lesson);
    for &(first, second, expected) in printed {
        // The second of a current is empty.
        let found = match second {
            "" => amps(lesson, first),
            _ => volts(circuit, lesson, first) - volts(circuit, lesson, second),
        };
        let off = (found - expected).abs();
        assert!(
            off <= within * expected.abs().max(1e-3),
            "{what}: {first} {second}: {found}, printed {expected}"
        );
    }
}

const THREE: &[Row] = &[
    ("V1", ["n1", "GND"], 9.0),
    ("R1", ["n1", "n2"], 100.0),
    ("R2", ["n2", "n3"], 300.0),
    ("R3", ["n3", "GND"], 50.0),
];

const FOUR: &[Row] = &[
    ("V1", ["n1", "GND"], 24.0),
    ("R1", ["n1", "n2"], 150.0),
    ("R2", ["n2", "n3"], 120.0),
    ("R3", ["n3", "n4"], 180.0),
    ("R4", ["n4", "GND"], 150.0),
];

const NAVY: &[Row] = &[
    ("V1", ["n1", "GND"], 120.0),
    ("R1", ["n1", "A"], 20.0),
    ("R2", ["A", "GND"], 100.0),
    ("R3", ["A", "GND"], 25.0),
];

const EXAMPLES: &[Example] = &[
    Example {
        source: "Kuphaldt, vol. I DC, chapter 7, Analysis technique",
        parts: &[
            ("V1", ["n1", "GND"], 24.0),
            ("R1", ["n1", "m"], 100.0),
            ("R2", ["n1", "m"], 250.0),
            ("R3", ["m", "GND"], 350.0),
            ("R4", ["m", "GND"], 200.0),
        ],
        fault: "",
        printed: &[
            ("n1", "m", 8.6275),
            ("m", "GND", 15.373),
            ("R1", "", 0.086275),
            ("R2", "", 0.034510),
            ("R3", "", 0.043922),
            ("R4", "", 0.076863),
            ("V1", "", -0.12078),
        ],
        within: 5e-5,
    },
    Example {
        source: "Kuphaldt, vol. I DC, chapter 10, branch current, Millman, Thevenin",
        parts: &[
            ("B1", ["n1", "GND"], 28.0),
            ("R1", ["n1", "n2"], 4.0),
            ("R2", ["n2", "GND"], 2.0),
            ("R3", ["n2", "n3"], 1.0),
            ("B2", ["n3", "GND"], 7.0),
        ],
        fault: "",
        printed: &[("n2", "GND", 8.0), ("R1", "", 5.0), ("R2", "", 4.0), ("R3", "", 1.0)],
        within: 1e-9,
    },
    Example {
        source: "Kuphaldt, vol. I DC, chapter 10, mesh current and node voltage, an unbalanced bridge",
        parts: &[
            ("V1", ["1", "GND"], 24.0),
            ("R1", ["1", "2"], 150.0),
            ("R2", ["1", "3"], 50.0),
            ("R3", ["2", "3"], 100.0),
            ("R4", ["2", "GND"], 300.0),
            ("R5", ["3", "GND"], 250.0),
        ],
        fault: "",
        printed: &[
            ("1", "2", 6.3448),
            ("1", "3", 4.6897),
            ("3", "2", 1.6552),
            ("2", "GND", 17.6552),
            ("3", "GND", 19.3103),
            ("R1", "", 0.042299),
            ("R2", "", 0.093793),
            ("R4", "", 0.058851),
            ("R5", "", 0.077241),
            ("V1", "", -0.136092),
        ],
        within: 5e-5,
    },
    Example {
        source: "Kuphaldt, vol. I DC, chapter 10, delta and wye conversion",
        parts: &[
            ("V1", ["1", "GND"], 10.0),
            ("R1", ["1", "2"], 12.0),
            ("R2", ["1", "3"], 18.0),
            ("R3", ["2", "3"], 6.0),
            ("R4", ["2", "GND"], 18.0),
            ("R5", ["3", "GND"], 12.0),
        ],
        fault: "",
        printed: &[
            ("1", "2", 4.706),
            ("1", "3", 5.294),
            ("2", "3", 0.588),
            ("2", "GND", 5.294),
            ("3", "GND", 4.706),
            ("R1", "", 0.39216),
            ("R3", "", 0.09804),
            ("V1", "", -0.68627),
        ],
        within: 1e-3,
    },
    Example {
        source: "Kuphaldt, vol. I DC, chapter 6, voltage divider circuits",
        parts: &[
            ("V1", ["a", "GND"], 45.0),
            ("R1", ["a", "b"], 5e3),
            ("R2", ["b", "c"], 10e3),
            ("R3", ["c", "GND"], 7.5e3),
        ],
        fault: "",
        printed: &[("a", "b", 10.0), ("b", "c", 20.0), ("c", "GND", 15.0), ("V1", "", -0.002)],
        within: 1e-9,
    },
    // The figure prints the drops; ohms in proportion to them are not the book's.
    Example {
        source: "Kuphaldt, vol. I DC, chapter 6, Kirchhoff's voltage law, a meter between two circuits",
        parts: &[
            ("V1", ["2", "GND"], 35.0),
            ("Ra", ["2", "3"], 15e3),
            ("Rb", ["3", "GND"], 20e3),
            ("V2", ["5", "GND"], -25.0),
            ("Rc", ["5", "4"], 13e3),
            ("Rd", ["4", "GND"], 12e3),
        ],
        fault: "",
        printed: &[("4", "3", -32.0), ("3", "4", 32.0)],
        within: 1e-9,
    },
    Example {
        source: "Kuphaldt, vol. I DC, chapter 8, voltmeter impact on measured circuit",
        parts: &[
            ("V1", ["a", "GND"], 24.0),
            ("R1", ["a", "x"], 250e6),
            ("R2", ["x", "GND"], 250e6),
            ("RM", ["x", "GND"], 10e6),
        ],
        fault: "",
        printed: &[("x", "GND", 0.8889), ("a", "x", 23.1111)],
        within: 5e-5,
    },
    Example {
        source: "US Navy, NEETS module 1, NAVEDTRA 14173, chapter 3, figure 3-55, pages 3-82 to 3-85",
        parts: &[
            ("V1", ["a", "GND"], 300.0),
            ("R4", ["a", "x"], 1e3),
            ("R1", ["x", "y"], 300.0),
            ("R2", ["y", "GND"], 100.0),
            ("R3", ["x", "GND"], 400.0),
        ],
        fault: "",
        printed: &[("V1", "", -0.25), ("x", "GND", 50.0), ("R1", "", 0.125), ("x", "y", 37.5)],
        within: 1e-9,
    },
    Example {
        source: "US Navy, NEETS module 1, NAVEDTRA 14173, chapter 3, question 42: 10 V across R2",
        parts: &[
            ("V1", ["a", "GND"], 300.0),
            ("R4", ["a", "x"], 1e3),
            ("R1", ["x", "y"], 900.0),
            ("R2", ["y", "GND"], 100.0),
            ("R3", ["x", "GND"], 1e3),
        ],
        fault: "",
        printed: &[("y", "GND", 10.0), ("V1", "", -60.0 / 300.0)],
        within: 1e-9,
    },
    Example {
        source: "US Navy, NEETS module 1, NAVEDTRA 14173, chapter 3, figure 3-65, pages 3-96 to 3-100",
        parts: &[
            ("V1", ["s", "GND"], 285.0),
            ("R4", ["s", "L3"], 2e3),
            ("R3", ["L3", "L2"], 1e3),
            ("R2", ["L2", "L1"], 4e3),
            ("R1", ["L1", "GND"], 18e3),
            ("I1", ["L1", "GND"], 0.01),
            ("I2", ["L2", "GND"], 0.01),
            ("I3", ["L3", "GND"], 0.03),
        ],
        fault: "",
        printed: &[
            ("L1", "GND", 90.0),
            ("L2", "GND", 150.0),
            ("L3", "GND", 175.0),
            ("R1", "", 0.005),
            ("V1", "", -0.055),
        ],
        within: 1e-9,
    },
    // The supply is not the book's; the arms stand as its formula has them.
    Example {
        source: "M. E. Schultz, \"Grob's Basic Electronics\", 11th ed., chapter 6, example 6-1",
        parts: &[
            ("V1", ["a", "GND"], 10.0),
            ("R1", ["a", "x"], 1e3),
            ("R2", ["a", "y"], 10e3),
            ("Rx", ["x", "GND"], 564.2),
            ("Rs", ["y", "GND"], 5642.0),
        ],
        fault: "",
        printed: &[("x", "y", 0.0)],
        within: 1e-9,
    },
    Example {
        source: "Schultz, \"Grob's Basic Electronics\", 11th ed., chapter 4, example 4-6",
        parts: FOUR,
        fault: "R3 open",
        printed: &[("n1", "n2", 0.0), ("n2", "n3", 0.0), ("n3", "n4", 24.0), ("n4", "GND", 0.0)],
        within: 1e-6,
    },
    // What is shorted has 1 mΩ here.
    Example {
        source: "Schultz, \"Grob's Basic Electronics\", 11th ed., chapter 4, example 4-7",
        parts: FOUR,
        fault: "R4 shorted 1m",
        printed: &[("n1", "n2", 8.0), ("n2", "n3", 6.4), ("n3", "n4", 9.6)],
        within: 1e-4,
    },
    Example {
        source: "Kuphaldt, vol. I DC, chapter 5, component failure analysis",
        parts: THREE,
        fault: "R2 shorted 1m",
        printed: &[("n1", "n2", 6.0), ("n3", "GND", 3.0), ("V1", "", -0.060)],
        within: 1e-4,
    },
    Example {
        source: "Kuphaldt, vol. I DC, chapter 5, component failure analysis",
        parts: THREE,
        fault: "R2 open",
        printed: &[("n1", "n2", 0.0), ("n2", "n3", 9.0), ("n3", "GND", 0.0), ("V1", "", 0.0)],
        within: 1e-6,
    },
    Example {
        source: "US Navy, NEETS module 1, NAVEDTRA 14173, chapter 3, figures 3-61 and 3-62",
        parts: NAVY,
        fault: "",
        printed: &[("V1", "", -3.0)],
        within: 1e-9,
    },
    Example {
        source: "US Navy, NEETS module 1, NAVEDTRA 14173, chapter 3, figures 3-61 and 3-62",
        parts: NAVY,
        fault: "R1 shorted 1m",
        printed: &[("V1", "", -6.0)],
        within: 1e-4,
    },
];

#[test]
fn resistors_and_sources() {
    for example in EXAMPLES {
        let circuit = circuit(&specs(example.parts));
        let lesson = worked(&circuit, &overlay(&circuit, example.fault), &[]);
        compare(example.source, &circuit, &lesson, example.printed, example.within);
    }
}

/// Kuphaldt, vol. I DC, chapter 10, "Thevenin's theorem", "Norton's theorem": without R2 11.2 V
/// behind 0.8 Ω, 14 A into a short.
#[test]
fn thevenin_of_two_batteries() {
    let rows: &[Row] = &[
        ("B1", ["n1", "GND"], 28.0),
        ("R1", ["n1", "n2"], 4.0),
        ("R3", ["n2", "n3"], 1.0),
        ("B2", ["n3", "GND"], 7.0),
    ];
    let circuit = circuit(&specs(rows));
    let lesson = worked(&circuit, &Overlay::none(), &[]);
    let at = circuit.net("n2").unwrap().index();
    let port = ohmhound::study::lesson::port(&lesson, None, [at, 0]).expect("a port");
    approx::assert_relative_eq!(port.open_volts, 11.2, max_relative = 1e-9);
    approx::assert_relative_eq!(port.ohms, 0.8, max_relative = 1e-9);
    approx::assert_relative_eq!(port.short_amps().unwrap(), 14.0, max_relative = 1e-9);
}

fn state_of<'a>(circuit: &Circuit, lesson: &'a Lesson, name: &str) -> &'a Assumed {
    let part = circuit.part(name).unwrap();
    let last = lesson.rounds.last().unwrap();
    last.assumed.iter().find(|one| one.part == part).expect("an assumption")
}

/// Kuphaldt, vol. III Semiconductors, chapter 3, "Zener diodes": loaded, unloaded, starved.
#[test]
fn a_zener_regulator() {
    let zener = |series: f64, load: Option<f64>| {
        let mut specs = vec![
            source("V1", ["n1", "GND"], 45.0),
            resistor("R1", ["n1", "k"], series),
            part("Z1", "zener", ["GND", "k"])
                .at("voltage", 12.6, None)
                .at("drop", 0.7, None)
                .word("approximation", "constant drop"),
        ];
        specs.extend(load.map(|ohms| resistor("RL", ["k", "GND"], ohms)));
        circuit(&specs)
    };
    let board = zener(1e3, Some(500.0));
    let lesson = worked(&board, &Overlay::none(), &[]);
    let printed = [("k", "GND", 12.6), ("R1", "", 0.0324), ("RL", "", 0.0252), ("Z1", "", -0.0072)];
    compare("zener, loaded", &board, &lesson, &printed, 1e-6);
    assert_eq!(state_of(&board, &lesson, "Z1").state, "in breakdown");
    let board = zener(1e3, None);
    let lesson = worked(&board, &Overlay::none(), &[]);
    compare("zener, unloaded", &board, &lesson, &[("Z1", "", -0.0324)], 1e-6);
    let zener_watts = lesson.solution.volts[board.net("k").unwrap().index()] * 0.0324;
    approx::assert_relative_eq!(zener_watts, 0.408_24, max_relative = 1e-6);
    let board = zener(100e3, Some(500.0));
    let lesson = worked(&board, &Overlay::none(), &[]);
    compare(
        "zener, starved",
        &board,
        &lesson,
        &[("k", "GND", 0.2239), ("R1", "", 447.76e-6)],
        1e-4,
    );
    // Assumed in breakdown first, and corrected.
    assert_eq!(lesson.rounds.len(), 2);
    assert_eq!(state_of(&board, &lesson, "Z1").state, "off");
}

/// Schultz, "Grob's Basic Electronics", 11th ed., chapter 27, example 27-3: a diode and a load of
/// 100 Ω at 10 V by three models.
#[test]
fn a_diode_by_three_models() {
    for (word, drop, amps, load) in [
        ("ideal", 0.7, 0.100, 10.0),
        ("constant drop", 0.7, 0.093, 9.3),
        ("drop and slope", 0.7, 0.09073, 9.073),
    ] {
        let board = circuit(&[
            source("V1", ["a", "GND"], 10.0),
            part("D1", "diode", ["a", "k"])
                .at("drop", drop, None)
                .with("series_resistance", 2.5)
                .word("approximation", word),
            resistor("RL", ["k", "GND"], 100.0),
        ]);
        let lesson = worked(&board, &Overlay::none(), &[]);
        compare(word, &board, &lesson, &[("RL", "", amps), ("k", "GND", load)], 1e-4);
        assert_eq!(state_of(&board, &lesson, "D1").state, "conducting");
        assert!(lesson.load_line.is_some());
    }
}

/// A circuit with an npn of a constant drop.
fn with_npn(rows: &[Row], gain: f64, pins: [&str; 3]) -> Circuit {
    let mut board = circuit(&specs(rows));
    let [collector, base, emitter] = pins;
    let pins = [("collector", collector), ("base", base), ("emitter", emitter)];
    let params = [("gain", gain), ("drop", 0.7)];
    with_pins(&mut board, "Q1", "npn", &pins, &params).expect("a transistor");
    let part = board.part("Q1").unwrap();
    let word = ohmhound::circuit::Param::Word("constant drop".to_owned());
    for (name, param) in &mut board.parts[part.index()].params {
        if *name == "approximation" {
            *param = word.clone();
        }
    }
    board
}

/// T. L. Floyd, "Electronic Devices", example 4.2, page 121.
#[test]
fn a_transistor_with_its_own_base_supply() {
    let rows: &[Row] = &[
        ("VBB", ["p", "GND"], 5.0),
        ("RB", ["p", "b"], 10e3),
        ("VCC", ["q", "GND"], 10.0),
        ("RC", ["q", "c"], 100.0),
    ];
    let board = with_npn(rows, 150.0, ["c", "b", "GND"]);
    let lesson = worked(&board, &Overlay::none(), &[]);
    let printed =
        [("Q1.BE", "", 0.43e-3), ("Q1.CE", "", 64.5e-3), ("c", "GND", 3.55), ("c", "b", 2.85)];
    compare("Floyd 4.2", &board, &lesson, &printed, 1e-4);
    assert_eq!(lesson.rounds.len(), 1);
    assert_eq!(state_of(&board, &lesson, "Q1").state, "active");
}

/// Schultz, "Grob's Basic Electronics", 11th ed., chapter 28, example 28-13, where the base current
/// is neglected: a very large gain stands for that.
#[test]
fn divider_bias() {
    let rows: &[Row] = &[
        ("VCC", ["p", "GND"], 18.0),
        ("R1", ["p", "b"], 33e3),
        ("R2", ["b", "GND"], 5.6e3),
        ("RC", ["p", "c"], 1.5e3),
        ("RE", ["e", "GND"], 390.0),
    ];
    let board = with_npn(rows, 1e6, ["c", "b", "e"]);
    let lesson = worked(&board, &Overlay::none(), &[]);
    let printed = [("b", "GND", 2.61), ("e", "GND", 1.91), ("c", "GND", 10.65), ("c", "e", 8.74)];
    compare("Grob 28-13", &board, &lesson, &printed, 1e-3);
}

/// Kuphaldt, vol. III Semiconductors, chapter 4, biasing calculations, collector feedback: 0.989 mA
/// and 1.48 mA, with the collector current taken as that of the emitter (half a percent).
#[test]
fn collector_feedback() {
    let rows: &[Row] =
        &[("VCC", ["p", "GND"], 10.0), ("RC", ["p", "c"], 4.7e3), ("RB", ["c", "b"], 470e3)];
    for (gain, printed) in [(100.0, 0.989e-3), (300.0, 1.48e-3)] {
        let board = with_npn(rows, gain, ["c", "b", "GND"]);
        let lesson = worked(&board, &Overlay::none(), &[]);
        check(&board, &lesson);
        let emitter = amps(&lesson, "Q1.BE") + amps(&lesson, "Q1.CE");
        approx::assert_relative_eq!(emitter, printed, max_relative = 6e-3);
    }
}

/// Kuphaldt, vol. III Semiconductors, chapter 8, "Negative feedback": a follower with a gain of
/// 200 000 and 6 V in puts out 5.99997 V. The two supplies are not the book's.
#[test]
fn a_follower() {
    let rows: &[Row] =
        &[("V1", ["i", "GND"], 6.0), ("V2", ["vp", "GND"], 15.0), ("V3", ["GND", "vn"], 15.0)];
    let mut board = circuit(&specs(rows));
    let pins = [("plus", "i"), ("minus", "o"), ("output", "o"), ("supply", "vp"), ("ground", "vn")];
    let params = [("gain", 200_000.0)];
    with_pins(&mut board, "U1", "opamp", &pins, &params).expect("an amplifier");
    let lesson = worked(&board, &Overlay::none(), &[]);
    compare("follower", &board, &lesson, &[("o", "GND", 5.999_970_000_15)], 1e-8);
    assert_eq!(state_of(&board, &lesson, "U1").state, "in its linear range");
}
