//! Stages of chips that meet each other: amplifiers that lost their gain, comparators between their
//! thresholds, drivers that share a net, latches, relays that hold, inputs that feed a chip.
//!
//! Expected figures are arithmetic by hand (Ohm's law, dividers, data-sheet points), written beside
//! each check.

use approx::assert_relative_eq;
use ohmhound::circuit::{Circuit, Overlay, POWERED};
use ohmhound::engine::Assembly;
use ohmhound::fault::parse;
use ohmhound::file::read_circuit;
use ohmhound::finding::{Code, Source};
use ohmhound::study::{Operating, check, operating};

fn circuit(text: &str) -> Circuit {
    let text = format!("ground = \"0\"\n[parts]\n{text}");
    let read =
        read_circuit(&Source::new("board.toml", text.clone()), &mut |_| Err("no shelf".to_owned()));
    let errors: Vec<_> = read.findings.iter().filter(|finding| finding.is_error()).collect();
    read.value.unwrap_or_else(|| panic!("{errors:#?}\n{text}"))
}

/// A board with power.
struct Board {
    circuit: Circuit,
    point: Operating,
}

fn powered(text: &str) -> Board {
    struck(text, None)
}

/// A board with power and the fault that the phrase says.
fn struck(text: &str, phrase: Option<&str>) -> Board {
    let circuit = circuit(text);
    let overlay = phrase.map_or_else(Overlay::none, |phrase| {
        parse(phrase, &circuit).unwrap().overlay(&circuit).unwrap()
    });
    let point = operating(&Assembly::new(&circuit), POWERED, &overlay);
    Board { point: point.unwrap_or_else(|ending| panic!("{ending:?}\n{text}")), circuit }
}

impl Board {
    fn volts(&self, net: &str) -> f64 {
        let net = self.circuit.net(net).unwrap();
        self.point.nets.iter().find(|state| state.net == net).unwrap().volts
    }

    fn state(&self, part: &str) -> &'static str {
        let part = self.circuit.part(part).unwrap();
        self.point.parts[part.index()].state.unwrap()
    }
}

/// Volts of a net in every state, and whether a board can stay in it, in order of the volts.
fn states(text: &str, net: &str) -> Vec<(f64, bool)> {
    let circuit = circuit(text);
    let net = circuit.net(net).unwrap().index();
    let (_, all) = Assembly::new(&circuit).all_states(POWERED, &Overlay::none());
    let mut found: Vec<_> =
        all.iter().map(|state| (state.point.volts[net], state.stable)).collect();
    found.sort_by(|one, other| one.0.total_cmp(&other.0));
    found
}

fn source(name: &str, net: &str, volts: f64) -> String {
    format!(
        "{name} = {{ kind = \"supply\", volts = {volts:?}, resistance = 0, \
         nets = [\"{net}\", \"0\"] }}\n"
    )
}

fn ohms(name: &str, ohms: &str, from: &str, to: &str) -> String {
    format!("{name} = {{ value = \"{ohms}\", nets = [\"{from}\", \"{to}\"] }}\n")
}

/// A gate with its inputs in order, and what else is to be said of it.
fn gate(name: &str, function: &str, more: &str, inputs: &[&str], output: &str) -> String {
    let pins: String = ["a", "b", "c", "d"]
        .iter()
        .zip(inputs)
        .map(|(pin, net)| format!("{pin} = \"{net}\", "))
        .collect();
    format!(
        "{name} = {{ kind = \"gate\", function = \"{function}\", {more} pins = {{ {pins}y = \
         \"{output}\", supply = \"vp\", ground = \"0\" }} }}\n"
    )
}

/// A follower with a gain of 200 gives 6 V · 200 / 201: the closed-loop law of T. R. Kuphaldt,
/// "Lessons in Electric Circuits", Vol. III, chapter 8, with what is left of the gain.
#[test]
fn a_follower_that_lost_its_gain() {
    let text = source("J1", "i", 6.0)
        + &source("J8", "vp", 15.0)
        + &source("J9", "vm", -15.0)
        + "U1 = { kind = \"opamp\", gain = 200000, pins = { plus = \"i\", minus = \"o\", output = \
           \"o\", supply = \"vp\", ground = \"vm\" } }\n";
    let board = struck(&text, Some("U1 gain drifted 200"));
    assert_relative_eq!(board.volts("o"), 6.0 * 200.0 / 201.0, max_relative = 1e-6);
    assert_eq!(board.state("U1"), "in its linear range");
}

/// A lost gain is on the list of what an amplifier may suffer, and nothing of its weight is lost.
#[test]
fn every_mode_of_an_amplifier_and_a_comparator_is_tried() {
    for (kind, faults) in [("opamp", 1), ("comparator", 0)] {
        let text = source("J1", "vp", 5.0)
            + &source("J2", "i", 1.0)
            + &format!(
                "U1 = {{ kind = \"{kind}\", pins = {{ plus = \"i\", minus = \"o\", output = \
                 \"o\", supply = \"vp\", ground = \"0\" }} }}\n"
            )
            + &ohms("R1", "10k", "o", "vp");
        let circuit = circuit(&text);
        let all = ohmhound::fault::hypotheses(&circuit, &Default::default());
        let phrases: Vec<String> = all
            .iter()
            .flat_map(|hypothesis| &hypothesis.causes)
            .map(|cause| cause.fault.phrase(&circuit))
            .filter(|phrase| phrase.starts_with("U1 "))
            .collect();
        let drifted = phrases.iter().filter(|phrase| phrase.contains("drifted")).count();
        assert_eq!(drifted, faults, "{phrases:?}");
    }
}

/// Field case: 2.5 V reference, 10 kΩ in, 100 kΩ feedback, 5 V swing. By the divider the pin stands
/// at 2.5 V · 100 / 110 + 5 V · 10 / 110 = 2.727 V or 2.273 V: between these the board may stay in
/// either state, outside in one.
#[test]
fn a_comparator_stays_in_either_state_between_its_thresholds() {
    let board = |input: f64| {
        source("J1", "i", input)
            + &source("J2", "r", 2.5)
            + &source("J3", "vp", 5.0)
            + "U1 = { kind = \"comparator\", hysteresis = \"1 mV\", open_drain = false, \
               output_resistance = 1, pins = { plus = \"f\", minus = \"i\", output = \"o\", \
               supply = \"vp\", ground = \"0\" } }\n"
            + &ohms("R1", "10k", "r", "f")
            + &ohms("R2", "100k", "o", "f")
    };
    for (input, expected) in [
        (2.26, &[5.0][..]),
        (2.285, &[0.0, 5.0]),
        (2.5, &[0.0, 5.0]),
        (2.715, &[0.0, 5.0]),
        (2.74, &[0.0]),
    ] {
        let found = states(&board(input), "o");
        assert_eq!(found.len(), expected.len(), "{input}: {found:?}");
        for ((volts, is_stable), expected) in found.iter().zip(expected) {
            assert!(is_stable, "{input}: {found:?}");
            assert_relative_eq!(volts, expected, epsilon = 1e-3);
        }
    }
}

/// Truth tables of two and of three inputs at 5 V, as volts within 5 %.
#[test]
fn truth_tables_as_volts() {
    // What each makes of the number of inputs that are high, out of n.
    type Table = fn(usize, usize) -> bool;
    let tables: [(&str, Table); 5] = [
        ("and", |high, n| high == n),
        ("or", |high, _| high > 0),
        ("nand", |high, n| high < n),
        ("nor", |high, _| high == 0),
        ("xor", |high, _| high % 2 == 1),
    ];
    for n in [2, 3] {
        for (function, table) in tables {
            for row in 0..1_usize << n {
                let names = ["a", "b", "c"];
                let mut text = source("J9", "vp", 5.0)
                    + &ohms("R1", "10k", "y", "0")
                    + &gate("U1", function, "", &names[..n], "y");
                for (idx, name) in names[..n].iter().enumerate() {
                    let volts = if row >> idx & 1 == 1 { 5.0 } else { 0.0 };
                    text += &source(&format!("J{}", idx + 1), name, volts);
                }
                let board = powered(&text);
                let is_high = table(row.count_ones() as usize, n);
                let expected = if is_high { 5.0 } else { 0.0 };
                assert!((board.volts("y") - expected).abs() < 0.25, "{function} {row} of {n}");
                assert_eq!(board.state("U1"), if is_high { "high" } else { "low" });
            }
        }
    }
    for (function, input, expected) in
        [("not", 0.0, 5.0), ("not", 5.0, 0.0), ("buffer", 0.0, 0.0), ("buffer", 5.0, 5.0)]
    {
        let text = source("J9", "vp", 5.0)
            + &source("J1", "a", input)
            + &ohms("R1", "10k", "y", "0")
            + &gate("U1", function, "", &["a"], "y");
        assert!((powered(&text).volts("y") - expected).abs() < 0.25, "{function} {input}");
    }
}

/// Two open-drain outputs on one pull-up: high only when both let go. Low is a divider of 10 kΩ over
/// 50 Ω, or over 25 Ω where both pull.
#[test]
fn open_drain_outputs_share_a_pull_up() {
    for (one, other, below) in [(0.0, 0.0, Some(25.0)), (0.0, 5.0, Some(50.0)), (5.0, 5.0, None)] {
        let board = powered(
            &(source("J9", "vp", 5.0)
                + &source("J1", "i", one)
                + &source("J2", "j", other)
                + &ohms("R1", "10k", "vp", "y")
                + &gate("U1", "buffer", "open_drain = true,", &["i"], "y")
                + &gate("U2", "buffer", "open_drain = true,", &["j"], "y")),
        );
        let expected = below.map_or(5.0, |below| 5.0 * below / (10e3 + below));
        // The diodes to ground of two outputs leak less than 2 nA.
        assert_relative_eq!(board.volts("y"), expected, epsilon = 2e-9 * 10e3);
    }
}

/// Below its least supply of 1.8 V an inverter does not drive; from there on it does.
#[test]
fn a_gate_below_its_least_supply() {
    for (supply, is_up) in [(1.0, false), (1.7, false), (1.81, true), (3.3, true)] {
        let board = powered(
            &(source("J9", "vp", supply)
                + &source("J1", "i", 0.0)
                + &ohms("R1", "10k", "y", "0")
                + &gate("U1", "not", "", &["i"], "y")),
        );
        let expected = if is_up { supply * 10e3 / 10_050.0 } else { 0.0 };
        assert_relative_eq!(board.volts("y"), expected, epsilon = 1e-4);
        assert_eq!(board.state("U1"), if is_up { "high" } else { "off" });
    }
}

/// A driver of 50 Ω that is high against one of 1 kΩ that is low: 5 V · 1000 / 1050, and the other
/// way round 5 V · 50 / 1050.
#[test]
fn the_stronger_driver_wins() {
    for (strong, expected) in [(5.0, 5.0 * 1000.0 / 1050.0), (0.0, 5.0 * 50.0 / 1050.0)] {
        let board = powered(
            &(source("J9", "vp", 5.0)
                + &source("J1", "i", strong)
                + &source("J2", "j", 5.0 - strong)
                + &gate("U1", "buffer", "output_resistance = 50,", &["i"], "y")
                + &gate("U2", "buffer", "output_resistance = \"1k\",", &["j"], "y")),
        );
        assert_relative_eq!(board.volts("y"), expected, max_relative = 1e-6);
    }
}

/// Two inverters in a ring keep a bit: two states that last, and one between that does not. By
/// symmetry that one has both outputs at the same volts, the threshold at half the supply.
#[test]
fn cross_coupled_inverters_keep_a_bit() {
    let text = source("J9", "vp", 5.0)
        + &gate("U1", "not", "", &["p"], "q")
        + &gate("U2", "not", "", &["q"], "p");
    let found = states(&text, "q");
    assert_eq!(found.iter().filter(|(_, stable)| *stable).count(), 2, "{found:?}");
    let [(low, true), (middle, false), (high, true)] = found[..] else { panic!("{found:?}") };
    assert_relative_eq!(low, 0.0, epsilon = 1e-6);
    assert_relative_eq!(middle, 2.5, epsilon = 1e-6);
    assert_relative_eq!(high, 5.0, epsilon = 1e-6);
    // An even ring latches, an odd one has a single point.
    let odd = source("J9", "vp", 5.0) + &gate("U1", "not", "", &["q"], "q");
    let found = states(&odd, "q");
    assert_eq!(found.len(), 1, "{found:?}");
    assert_relative_eq!(found[0].0, 2.5, epsilon = 1e-6);
}

/// A relay of 360 Ω that pulls in at 9 V and lets go at 1.2 V, with a flyback diode over its coil:
/// the diode changes nothing the right way round, and fitted in reverse it shorts the coil.
#[test]
fn a_relay_with_a_flyback_diode() {
    let text = |coil: f64| {
        source("J1", "s", coil)
            + &source("J2", "p", 24.0)
            + &ohms("R9", "36", "s", "c")
            + "D1 = { kind = \"diode\", nets = [\"0\", \"c\"] }\n"
            + "K1 = { kind = \"relay\", coil = 360, pull_in = 9, drop_out = 1.2, pins = { \
               coil_plus = \"c\", coil_minus = \"0\", common = \"p\", normally_open = \"no\" } }\n"
            + &ohms("R1", "1k", "no", "0")
    };
    let board = powered(&text(12.0));
    // 12 V · 360 / 396, and the leak of the diode.
    assert_relative_eq!(board.volts("c"), 12.0 * 360.0 / 396.0, max_relative = 1e-6);
    assert_relative_eq!(board.volts("no"), 24.0 * 1e3 / 1000.05, max_relative = 1e-9);
    assert_eq!(board.state("K1"), "pulled in");
    let board = struck(&text(12.0), Some("D1 reversed"));
    assert!((0.6..1.0).contains(&board.volts("c")), "{}", board.volts("c"));
    assert_eq!(board.state("K1"), "released");
    // 9 V and 1.2 V at the coil are 9.9 V and 1.32 V at the source: between, it stays as it was.
    for (coil, expected) in
        [(1.2, &[0.0][..]), (1.45, &[0.0, 23.998_8]), (9.7, &[0.0, 23.998_8]), (10.1, &[23.998_8])]
    {
        let found = states(&text(coil), "no");
        assert_eq!(found.len(), expected.len(), "{coil}: {found:?}");
        for ((volts, _), expected) in found.iter().zip(expected) {
            assert_relative_eq!(volts, expected, epsilon = 1e-3);
        }
    }
}

/// 10 mA through the LED by the data sheet's point (380 Ω below 5 V at 1.2 V). Active, the collector
/// falls by ratio · 10 mA · 1 kΩ; saturated, it stands below the 0.2 V of the data sheet and the
/// load alone sets the current.
#[test]
fn an_optocoupler_in_and_out_of_saturation() {
    for (ratio, state) in [(0.2, "active"), (0.6, "active"), (1.5, "saturated"), (4.0, "saturated")]
    {
        let board = powered(
            &(source("J1", "p", 5.0)
                + &ohms("R1", "380", "p", "a")
                + &source("J2", "q", 10.0)
                + &ohms("R2", "1k", "q", "c")
                + &format!(
                    "U1 = {{ kind = \"optocoupler\", ratio = {ratio:?}, pins = {{ anode = \"a\", \
                     cathode = \"0\", collector = \"c\", emitter = \"0\" }} }}\n"
                )),
        );
        assert_eq!(board.state("U1"), state, "{ratio}");
        if state == "active" {
            assert_relative_eq!(board.volts("c"), 10.0 - ratio * 10.0, max_relative = 1e-6);
        } else {
            assert!((0.0..0.2).contains(&board.volts("c")), "{ratio}: {}", board.volts("c"));
        }
    }
}

/// An input at 5 V feeds a chip whose supply is not connected, through the protection diode: a load
/// of 4.45 kΩ takes 1 mA, at which the diode drops 0.55 V, so that the rail stands at 4.45 V.
#[test]
fn an_input_feeds_a_chip_without_supply() {
    let board = powered(
        &(source("J1", "i", 5.0)
            + &ohms("R1", "4.45k", "vp", "0")
            + &ohms("R2", "1M", "y", "0")
            + &gate("U1", "not", "clamp_drop = \"0.55 V at 1 mA\",", &["i"], "y")),
    );
    assert_relative_eq!(board.volts("vp"), 5.0 - 0.55, max_relative = 1e-6);
    assert_eq!(board.state("U1"), "low");
    let [path] = board.point.inner_paths[..] else { panic!("{:?}", board.point.inner_paths) };
    assert_eq!(board.circuit[path.part].name, "U1");
    assert_eq!(board.circuit.net_name(path.from), "i");
    assert_eq!(board.circuit.net_name(path.to), "vp");
    // The load, and what the diodes from ground to the supply and from the output to it let through:
    // each its saturation current, 1 mA / (exp(0.55 V / 1.5 kT/q) - 1), with kT/q 25.693 mV at 25 °C.
    let leak = 1e-3 / (0.55_f64 / (1.5 * 25.693e-3)).exp_m1();
    assert_relative_eq!(path.amps, 1e-3 + 2.0 * leak, max_relative = 1e-8);
}

/// An input floats where its net holds nothing but inputs; a resistor, a pull inside or an output
/// ends that.
#[test]
fn inputs_that_nothing_drives_are_told() {
    let floats = |text: &str| {
        let circuit = circuit(&(source("J9", "vp", 5.0) + &source("J1", "i", 0.0) + text));
        let all = check(&Assembly::new(&circuit));
        let found = all.iter().filter(|finding| finding.code == Code::InputFloats);
        found.map(|finding| finding.message.clone()).collect::<Vec<_>>()
    };
    let nand = gate("U3", "nand", "", &["i", "n"], "y");
    assert_eq!(floats(&nand), ["input `b` of gate `U3` floats: nothing drives it"]);
    assert!(floats(&(nand.clone() + &ohms("R1", "10k", "n", "vp"))).is_empty());
    assert!(floats(&(nand.clone() + &gate("U4", "not", "", &["i"], "n"))).is_empty());
    // Two inputs on one net do not drive each other.
    let two = floats(&(nand + &gate("U4", "not", "", &["n"], "z")));
    assert_eq!(two.len(), 2, "{two:?}");
    let regulator = |more: &str| {
        format!(
            "U1 = {{ kind = \"ldo\", output_volts = 3.3, enable_threshold = 1, {more} pins = {{ \
             input = \"vp\", output = \"o\", ground = \"0\", enable = \"en\" }} }}\n"
        )
    };
    assert_eq!(floats(&regulator("")), ["input `enable` of ldo `U1` floats: nothing drives it"]);
    assert!(floats(&regulator("enable_pull = \"up 1 µA\",")).is_empty());
}
