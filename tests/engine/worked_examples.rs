//! Worked examples of textbooks, to the digits that they print.
//!
//! Values without a prefix are in volts, ohms and amps. Where the book prints fewer figures than a
//! circuit needs, the line says which values are not its own.

use crate::strategies;
use crate::strategies::{Spec, circuit, net, part, resistor, source};
use ohmhound::circuit::{Change, Circuit, Overlay, POWERED};
use ohmhound::engine::{Assembly, Ending, Network, OperatingPoint};

/// A part of an example: `V` an ideal source, `R` a resistor, by the first letter of its name.
type Row = (&'static str, [&'static str; 2], f64);

/// One circuit with what is printed of it.
struct Example {
    parts: &'static [Row],
    /// Volts from the first net to the second, as printed.
    volts: &'static [(&'static str, &'static str, &'static str)],
    /// Amps through a part from its first net to its second, as printed.
    amps: &'static [(&'static str, &'static str)],
}

fn specs(rows: &[Row]) -> Vec<Spec> {
    rows.iter()
        .map(|&(name, nets, value)| match &name[..1] {
            "V" => source(name, nets, value),
            "R" => resistor(name, nets, value),
            // A load that takes this many amps.
            _ => part(name, "load", nets).with("amps", value),
        })
        .collect()
}

fn solved(circuit: &Circuit) -> (Network, OperatingPoint) {
    solved_with(circuit, &Overlay::none())
}

fn solved_with(circuit: &Circuit, overlay: &Overlay) -> (Network, OperatingPoint) {
    let assembly = Assembly::new(circuit);
    let run = assembly.solve(POWERED, overlay);
    let point = run.point.unwrap_or_else(|| panic!("{:?}", run.ending));
    (assembly.network(POWERED, overlay), point)
}

/// The value agrees with a printed one to half of its last digit, and to rounding of the half.
fn agrees(what: &str, found: f64, printed: &str) {
    let decimals = printed.split_once('.').map_or(0, |(_, digits)| digits.len());
    let half = 0.5001 * 10.0_f64.powi(-(decimals as i32));
    let expected: f64 = printed.parse().unwrap();
    assert!((found - expected).abs() <= half, "{what}: {found}, printed {printed}");
}

fn between(circuit: &Circuit, point: &OperatingPoint, red: &str, black: &str) -> f64 {
    point.between(net(circuit, red), net(circuit, black))
}

fn amps(circuit: &Circuit, network: &Network, point: &OperatingPoint, name: &str) -> f64 {
    let part = circuit.part(name).unwrap();
    let idx = network.elements.iter().position(|element| element.part() == Some(part)).unwrap();
    point.amps[idx]
}

fn check(example: &Example) {
    check_specs(&specs(example.parts), example.volts, example.amps);
}

fn check_specs(specs: &[Spec], volts: &[(&str, &str, &str)], currents: &[(&str, &str)]) {
    let circuit = circuit(specs);
    let (network, point) = solved(&circuit);
    for (red, black, printed) in volts {
        agrees(&format!("{red} to {black}"), between(&circuit, &point, red, black), printed);
    }
    for (name, printed) in currents {
        agrees(name, amps(&circuit, &network, &point, name), printed);
    }
}

/// T. R. Kuphaldt, "Lessons in Electric Circuits", vol. I DC, chapter 7, "Analysis technique".
const SERIES_PARALLEL: &[Row] = &[
    ("V1", ["n1", "GND"], 24.0),
    ("R1", ["n1", "m"], 100.0),
    ("R2", ["n1", "m"], 250.0),
    ("R3", ["m", "GND"], 350.0),
    ("R4", ["m", "GND"], 200.0),
];

#[test]
fn two_parallel_pairs_in_series() {
    check(&Example {
        parts: SERIES_PARALLEL,
        volts: &[("n1", "m", "8.6275"), ("m", "GND", "15.373")],
        amps: &[
            ("R1", "0.086275"),
            ("R2", "0.034510"),
            ("R3", "0.043922"),
            ("R4", "0.076863"),
            ("V1", "-0.12078"),
        ],
    });
}

/// T. R. Kuphaldt, "Lessons in Electric Circuits", vol. I DC, chapter 10, "Branch current method",
/// "Thevenin's theorem", "Norton's theorem".
#[test]
fn two_batteries_and_three_resistors() {
    const ROWS: &[Row] = &[
        ("V1", ["n1", "GND"], 28.0),
        ("R1", ["n1", "n2"], 4.0),
        ("R2", ["n2", "GND"], 2.0),
        ("R3", ["n2", "n3"], 1.0),
        ("V2", ["n3", "GND"], 7.0),
    ];
    check(&Example {
        parts: ROWS,
        volts: &[("n1", "n2", "20"), ("n2", "GND", "8"), ("n2", "n3", "1")],
        amps: &[("R1", "5"), ("R2", "4"), ("R3", "1"), ("V2", "1")],
    });
    // Without R2: 11.2 V behind 0.8 Ω, and so 14 A into a short.
    let circuit = circuit(&specs(ROWS));
    let part = circuit.part("R2").unwrap();
    let (_, open) = solved_with(&circuit, &Overlay::one(Change::Removed { part }));
    agrees("open circuit", between(&circuit, &open, "n2", "GND"), "11.2");
    let at = net(&circuit, "n2");
    agrees("resistance", open.shape(at, 0)[at - 1], "0.8");
    agrees("short circuit", open.volts[at] / open.shape(at, 0)[at - 1], "14");
}

/// T. R. Kuphaldt, "Lessons in Electric Circuits", vol. I DC, chapter 10, "Mesh current method" and
/// "Node voltage method".
#[test]
fn an_unbalanced_bridge() {
    const BRIDGE: [Row; 5] = [
        ("R1", ["1", "2"], 150.0),
        ("R2", ["1", "3"], 50.0),
        ("R3", ["2", "3"], 100.0),
        ("R4", ["2", "GND"], 300.0),
        ("R5", ["3", "GND"], 250.0),
    ];
    let mut fed = specs(&BRIDGE);
    fed.push(source("V1", ["1", "GND"], 24.0));
    check_specs(
        &fed,
        &[
            ("1", "2", "6.3448"),
            ("1", "3", "4.6897"),
            ("3", "2", "1.6552"),
            ("2", "GND", "17.6552"),
            ("3", "GND", "19.3103"),
        ],
        &[
            ("R1", "0.042299"),
            ("R2", "0.093793"),
            ("R3", "-0.016552"),
            ("R4", "0.058851"),
            ("R5", "0.077241"),
            ("V1", "-0.136092"),
        ],
    );
    // Fed by a current instead; the compliance is not the book's.
    let mut fed = specs(&BRIDGE);
    let feed = part("I1", "current-source", ["1", "GND"]);
    fed.push(feed.with("amps", 0.136092).with("compliance", 100.0));
    let volts = [("1", "GND", "24.000"), ("2", "GND", "17.655"), ("3", "GND", "19.310")];
    check_specs(&fed, &volts, &[]);
}

#[test]
fn examples_of_resistor_networks() {
    let examples = [
        // T. R. Kuphaldt, "Lessons in Electric Circuits", vol. I DC, chapter 10, "Δ-Y and Y-Δ
        // conversions".
        Example {
            parts: &[
                ("V1", ["1", "GND"], 10.0),
                ("R1", ["1", "2"], 12.0),
                ("R2", ["1", "3"], 18.0),
                ("R3", ["2", "3"], 6.0),
                ("R4", ["2", "GND"], 18.0),
                ("R5", ["3", "GND"], 12.0),
            ],
            volts: &[
                ("1", "2", "4.706"),
                ("1", "3", "5.294"),
                ("2", "3", "0.588"),
                ("2", "GND", "5.294"),
                ("3", "GND", "4.706"),
            ],
            amps: &[
                ("R1", "0.39216"),
                ("R2", "0.29412"),
                ("R3", "0.09804"),
                ("R4", "0.29412"),
                ("R5", "0.39216"),
                ("V1", "-0.68627"),
            ],
        },
        // The same, chapter 6, "Voltage divider circuits".
        Example {
            parts: &[
                ("V1", ["a", "GND"], 45.0),
                ("R1", ["a", "b"], 5e3),
                ("R2", ["b", "c"], 10e3),
                ("R3", ["c", "GND"], 7.5e3),
            ],
            volts: &[("a", "b", "10"), ("b", "c", "20"), ("c", "GND", "15")],
            amps: &[("R1", "0.002")],
        },
        // The same, chapter 6, "Kirchhoff's Voltage Law (KVL)": a meter between two circuits that
        // share one wire. The figure prints the drops; ohms in proportion are not the book's.
        Example {
            parts: &[
                ("V1", ["2", "GND"], 35.0),
                ("R1", ["2", "3"], 15e3),
                ("R2", ["3", "GND"], 20e3),
                ("V2", ["5", "GND"], -25.0),
                ("R3", ["5", "4"], 13e3),
                ("R4", ["4", "GND"], 12e3),
            ],
            volts: &[("4", "3", "-32"), ("3", "4", "32")],
            amps: &[],
        },
        // The same, chapter 8, "Voltmeter impact on measured circuit", without the meter and with
        // its 10 MΩ.
        Example {
            parts: &[
                ("V1", ["a", "GND"], 24.0),
                ("R1", ["a", "x"], 250e6),
                ("R2", ["x", "GND"], 250e6),
            ],
            volts: &[("x", "GND", "12.0000")],
            amps: &[],
        },
        Example {
            parts: &[
                ("V1", ["a", "GND"], 24.0),
                ("R1", ["a", "x"], 250e6),
                ("R2", ["x", "GND"], 250e6),
                ("R3", ["x", "GND"], 10e6),
            ],
            volts: &[("x", "GND", "0.8889"), ("a", "x", "23.1111")],
            amps: &[],
        },
        // US Navy, "NEETS Module 1", NAVEDTRA 14173, 1998, chapter 3, figure 3-55, and the variant of
        // question 42.
        Example {
            parts: &[
                ("V1", ["a", "GND"], 300.0),
                ("R4", ["a", "x"], 1e3),
                ("R1", ["x", "y"], 300.0),
                ("R2", ["y", "GND"], 100.0),
                ("R3", ["x", "GND"], 400.0),
            ],
            volts: &[("x", "GND", "50"), ("x", "y", "37.5")],
            amps: &[("V1", "-0.250"), ("R1", "0.125")],
        },
        Example {
            parts: &[
                ("V1", ["a", "GND"], 300.0),
                ("R4", ["a", "x"], 1e3),
                ("R1", ["x", "y"], 900.0),
                ("R2", ["y", "GND"], 100.0),
                ("R3", ["x", "GND"], 1e3),
            ],
            // 60 W from 300 V.
            volts: &[("y", "GND", "10")],
            amps: &[("V1", "-0.2")],
        },
        // The same, figure 3-65: a divider with three loads and its bleeder.
        Example {
            parts: &[
                ("V1", ["s", "GND"], 285.0),
                ("R4", ["s", "L3"], 2e3),
                ("R3", ["L3", "L2"], 1e3),
                ("R2", ["L2", "L1"], 4e3),
                ("R1", ["L1", "GND"], 18e3),
                ("I1", ["L1", "GND"], 10e-3),
                ("I2", ["L2", "GND"], 10e-3),
                ("I3", ["L3", "GND"], 30e-3),
            ],
            volts: &[("L1", "GND", "90"), ("L2", "GND", "150"), ("L3", "GND", "175")],
            amps: &[("R1", "0.005"), ("V1", "-0.055")],
        },
        // M. E. Schultz, "Grob's Basic Electronics", 11th ed., example 6-1: the balanced bridge. The
        // supply is not the book's.
        Example {
            parts: &[
                ("V1", ["a", "GND"], 10.0),
                ("R1", ["a", "x"], 1e3),
                ("R2", ["a", "y"], 10e3),
                ("R3", ["x", "GND"], 564.2),
                ("R4", ["y", "GND"], 5642.0),
            ],
            volts: &[("x", "y", "0.000000000")],
            amps: &[],
        },
    ];
    for example in &examples {
        check(example);
    }
}

/// T. R. Kuphaldt, "Lessons in Electric Circuits", vol. III Semiconductors, chapter 3, "Zener
/// diodes".
#[test]
fn a_zener_regulator_loaded_unloaded_and_starved() {
    let specs = |feed: f64, load: Option<f64>| {
        let zener = part("D1", "zener", ["GND", "k"])
            .at("voltage", 12.6, None)
            .at("drop", 0.7, None)
            .word("approximation", "constant drop");
        let mut specs =
            vec![source("V1", ["n1", "GND"], 45.0), resistor("R1", ["n1", "k"], feed), zener];
        specs.extend(load.map(|ohms| resistor("R2", ["k", "GND"], ohms)));
        specs
    };
    check_specs(
        &specs(1e3, Some(500.0)),
        &[("k", "GND", "12.6")],
        &[("R1", "0.0324"), ("R2", "0.0252"), ("D1", "-0.0072")],
    );
    let unloaded = specs(1e3, None);
    check_specs(&unloaded, &[("k", "GND", "12.6")], &[("D1", "-0.0324")]);
    let (network, point) = solved(&circuit(&unloaded));
    agrees("watts of the zener", point.watts(&network, 2), "0.40824");
    let starved = [("k", "GND", "0.224")];
    check_specs(&specs(100e3, Some(500.0)), &starved, &[("D1", "0.0000000")]);
}

/// M. E. Schultz, "Grob's Basic Electronics", 11th ed., example 27-3: one diode, three models.
#[test]
fn a_diode_by_three_models() {
    for (word, volts, amps) in [
        ("ideal", "10", "0.100"),
        ("constant drop", "9.3", "0.093"),
        ("drop and slope", "9.07", "0.09073"),
    ] {
        let specs = [
            source("V1", ["a", "GND"], 10.0),
            part("D1", "diode", ["a", "k"])
                .at("drop", 0.7, None)
                .with("series_resistance", 2.5)
                .word("approximation", word),
            resistor("R1", ["k", "GND"], 100.0),
        ];
        check_specs(&specs, &[("k", "GND", volts)], &[("R1", amps)]);
    }
}

/// T. R. Kuphaldt, "Lessons in Electric Circuits", vol. I DC, chapter 5, "Component failure
/// analysis": a branch of a parallel bank shorted. With an ideal source the book has an endless
/// current; with a real one all volts are low.
#[test]
fn a_parallel_bank_with_a_shorted_branch() {
    let mut parts = specs(&[
        ("V1", ["n1", "GND"], 9.0),
        ("R1", ["n1", "GND"], 90.0),
        ("R2", ["n1", "GND"], 45.0),
        ("R3", ["n1", "GND"], 180.0),
    ]);
    check_specs(
        &parts,
        &[],
        &[("V1", "-0.350"), ("R1", "0.100"), ("R2", "0.200"), ("R3", "0.050")],
    );
    let bank = circuit(&parts);
    let part = bank.part("R2").unwrap();
    let shorted = Overlay::one(Change::Across { part, ohms: 10e-3 });
    let assembly = Assembly::new(&bank);
    let run = assembly.solve(POWERED, &shorted);
    let Ending::Contradiction { elements } = run.ending else { panic!("{:?}", run.ending) };
    assert!(run.point.is_none());
    let network = assembly.network(POWERED, &shorted);
    let named: Vec<&str> = elements
        .iter()
        .map(|&idx| bank[network.elements[idx].part().unwrap()].name.as_str())
        .collect();
    assert_eq!(named, ["V1", "R2"]);
    // A real source; its resistance is not the book's.
    parts[0] =
        strategies::part("V1", "supply", ["n1", "GND"]).with("volts", 9.0).with("resistance", 0.1);
    let bank = circuit(&parts);
    let (network, point) = solved_with(&bank, &shorted);
    assert!(between(&bank, &point, "n1", "GND") < 0.9);
    assert!(amps(&bank, &network, &point, "V1") < -80.0);
}

/// T. R. Kuphaldt, "Lessons in Electric Circuits", vol. I DC, chapter 7, "Component failure
/// analysis": the directions in which everything moves when R2 is shorted.
#[test]
fn directions_when_a_part_is_shorted() {
    let circuit = circuit(&specs(SERIES_PARALLEL));
    let part = circuit.part("R2").unwrap();
    let (network, before) = solved(&circuit);
    let shorted = Overlay::one(Change::Across { part, ohms: 1e-3 });
    let (faulty, after) = solved_with(&circuit, &shorted);
    let rise = |name: &str| {
        amps(&circuit, &faulty, &after, name) - amps(&circuit, &network, &before, name)
    };
    let total = |point: &OperatingPoint| -point.amps[0];
    assert!(total(&after) > total(&before));
    assert!(between(&circuit, &after, "n1", "m") < between(&circuit, &before, "n1", "m"));
    assert!(between(&circuit, &after, "m", "GND") > between(&circuit, &before, "m", "GND"));
    assert!(rise("R1") < 0.0 && rise("R3") > 0.0 && rise("R4") > 0.0);
    // What flows through R2 is what its short takes: the last element.
    assert!(*after.amps.last().unwrap() > amps(&circuit, &network, &before, "R2"));
}
