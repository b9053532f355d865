//! Amplifiers, comparators, gates, optocouplers and relays on small boards, and transistors at
//! their bias points: against published answers, named beside each, and arithmetic by hand.

use approx::assert_relative_eq;
use ohmhound::circuit::{Circuit, Overlay, POWERED};
use ohmhound::engine::{Assembly, Ending, PowerUp};
use ohmhound::file::read_circuit;
use ohmhound::finding::Source;

struct Board {
    circuit: Circuit,
    up: PowerUp,
}

fn powered(text: &str) -> Board {
    let text = format!("ground = \"0\"\n[parts]\n{text}");
    let read =
        read_circuit(&Source::new("board.toml", text.clone()), &mut |_| Err("no shelf".to_owned()));
    let errors: Vec<_> = read.findings.iter().filter(|finding| finding.is_error()).collect();
    let circuit = read.value.unwrap_or_else(|| panic!("{errors:#?}\n{text}"));
    let up = Assembly::new(&circuit).power_up(POWERED, &Overlay::none(), None);
    let converged = matches!(up.run.ending, Ending::Converged { .. });
    assert!(converged && up.cycle.is_none(), "{:?}\n{text}", up.run.ending);
    Board { circuit, up }
}

impl Board {
    fn volts(&self, net: &str) -> f64 {
        let net = self.circuit.net(net).unwrap().index();
        self.up.run.point.as_ref().unwrap().volts[net]
    }
}

/// An ideal source from a net to ground.
fn source(name: &str, net: &str, volts: f64) -> String {
    format!(
        "{name} = {{ kind = \"supply\", volts = {volts:?}, resistance = 0, \
         nets = [\"{net}\", \"0\"] }}\n"
    )
}

fn ohms(name: &str, ohms: &str, from: &str, to: &str) -> String {
    format!("{name} = {{ value = \"{ohms}\", nets = [\"{from}\", \"{to}\"] }}\n")
}

/// An npn with a constant drop of 0.7 V that saturates at 0 V, as in the books.
fn npn(gain: f64, collector: &str, base: &str, emitter: &str) -> String {
    format!(
        "Q1 = {{ kind = \"npn\", approximation = \"constant drop\", gain = {gain:e}, drop = 0.7, \
         saturation = 0, pins = {{ collector = \"{collector}\", base = \"{base}\", emitter = \
         \"{emitter}\" }} }}\n"
    )
}

/// T. L. Floyd, "Electronic Devices", example 4.2: base current 0.43 mA, collector current
/// 64.5 mA, 3.55 V from collector to emitter, 2.85 V from collector to base.
#[test]
fn a_transistor_with_a_base_supply_of_its_own() {
    let board = powered(
        &(source("J1", "p", 5.0)
            + &ohms("R1", "10k", "p", "b")
            + &source("J2", "q", 10.0)
            + &ohms("R2", "100", "q", "c")
            + &npn(150.0, "c", "b", "0")),
    );
    let (base, collector) = (board.volts("b"), board.volts("c"));
    assert_relative_eq!((5.0 - base) / 10e3, 0.43e-3, max_relative = 1e-5);
    assert_relative_eq!((10.0 - collector) / 100.0, 64.5e-3, max_relative = 1e-5);
    assert_relative_eq!(collector, 3.55, max_relative = 1e-5);
    assert_relative_eq!(collector - base, 2.85, max_relative = 1e-5);
}

fn divider_bias(gain: f64) -> Board {
    powered(
        &(source("J1", "p", 18.0)
            + &ohms("R1", "33k", "p", "b")
            + &ohms("R2", "5.6k", "b", "0")
            + &ohms("R3", "1.5k", "p", "c")
            + &ohms("R4", "390", "e", "0")
            + &npn(gain, "c", "b", "e")),
    )
}

/// M. E. Schultz, "Grob's Basic Electronics", 11th ed., example 28-13 (author from memory), which
/// leaves the base current out: 2.61 V, 1.91 V, 10.65 V and 8.74 V. With a gain of 200 the base
/// takes (2.6114 V − 0.7 V) / (4.7876 kΩ + 201 · 390 Ω) by Thévenin's theorem.
#[test]
fn divider_bias_with_and_without_base_current() {
    let board = divider_bias(1e8);
    assert_relative_eq!(board.volts("b"), 2.61, epsilon = 0.005);
    assert_relative_eq!(board.volts("e"), 1.91, epsilon = 0.005);
    assert_relative_eq!(board.volts("c"), 10.65, epsilon = 0.005);
    assert_relative_eq!(board.volts("c") - board.volts("e"), 8.74, epsilon = 0.005);
    let open = 18.0 * 5.6 / 38.6;
    let inner = 33e3 * 5.6e3 / 38.6e3;
    let base = (open - 0.7) / (inner + 201.0 * 390.0);
    let board = divider_bias(200.0);
    assert_relative_eq!(board.volts("b"), open - base * inner, max_relative = 1e-6);
    assert_relative_eq!(board.volts("e"), 201.0 * base * 390.0, max_relative = 1e-6);
    assert_relative_eq!(board.volts("c"), 18.0 - 200.0 * base * 1.5e3, max_relative = 1e-6);
    assert_relative_eq!(board.volts("c"), 11.106, epsilon = 0.0005);
}

/// T. R. Kuphaldt, "Lessons in Electric Circuits", Vol. III, chapter 4: emitter current 0.989 mA
/// at a gain of 100 and 1.48 mA at 300, with the collector current taken for that of the emitter;
/// by hand without that, IB = 9.3 V / (470 kΩ + (gain + 1) 4.7 kΩ).
#[test]
fn collector_feedback_bias() {
    for (gain, published) in [(100.0, 0.989e-3), (300.0, 1.48e-3)] {
        let board = powered(
            &(source("J1", "p", 10.0)
                + &ohms("R1", "4.7k", "p", "c")
                + &ohms("R2", "470k", "c", "b")
                + &npn(gain, "c", "b", "0")),
        );
        let emitter = (10.0 - board.volts("c")) / 4.7e3;
        let exact = (gain + 1.0) * 9.3 / (470e3 + (gain + 1.0) * 4.7e3);
        assert_relative_eq!(emitter, exact, max_relative = 1e-6);
        assert_relative_eq!(emitter, published, max_relative = 0.006);
    }
}

/// With a gain of 1e8 the exponential transistor takes no base current: the divider stands where
/// it stands alone.
#[test]
fn a_huge_gain_takes_no_base_current() {
    for (top, bottom) in [("33k", 5.6), ("10k", 4.7), ("100k", 22.0)] {
        let board = powered(
            &(source("J1", "p", 18.0)
                + &ohms("R1", top, "p", "b")
                + &ohms("R2", &format!("{bottom}k"), "b", "0")
                + &ohms("R3", "100", "p", "c")
                + &ohms("R4", "1k", "e", "0")
                + "Q1 = { kind = \"npn\", gain = 1e8, reverse_gain = 1e8, pins = { collector = \
                   \"c\", base = \"b\", emitter = \"e\" } }\n"),
        );
        let upper: f64 = top.trim_end_matches('k').parse().unwrap();
        assert_relative_eq!(
            board.volts("b"),
            18.0 * bottom / (upper + bottom),
            max_relative = 1e-5
        );
        let emitter = board.volts("e") / 1e3;
        assert_relative_eq!((18.0 - board.volts("c")) / 100.0, emitter, max_relative = 1e-6);
    }
}

/// The square law at DC (the method of A. S. Sedra and K. C. Smith, "Microelectronic Circuits",
/// "MOSFET circuits at DC"; from memory; the numbers are chosen here). K = 1 mA/V², threshold
/// 1 V, gate at half of 10 V, 6 kΩ in source and drain: 0.5 (4 − 6 I)² = I in mA has the root
/// I = 0.5 mA, so that source and drain stand at 3 V and 7 V.
#[test]
fn a_mosfet_in_saturation_with_a_source_resistor() {
    let board = powered(
        &(source("J1", "p", 10.0)
            + &ohms("R1", "1M", "p", "g")
            + &ohms("R2", "1M", "g", "0")
            + &ohms("R3", "6k", "p", "d")
            + &ohms("R4", "6k", "s", "0")
            + "Q1 = { kind = \"nmos\", threshold = 1, transconductance = 1e-3, pins = { drain = \
               \"d\", gate = \"g\", source = \"s\" } }\n"),
    );
    assert_relative_eq!(board.volts("s"), 3.0, max_relative = 1e-6);
    assert_relative_eq!(board.volts("d"), 7.0, max_relative = 1e-6);
}

fn opamp(plus: &str, minus: &str, output: &str) -> String {
    source("J8", "vp", 15.0)
        + &source("J9", "vm", -15.0)
        + &format!(
            "U1 = {{ kind = \"opamp\", gain = 200000, pins = {{ plus = \"{plus}\", minus = \
             \"{minus}\", output = \"{output}\", supply = \"vp\", ground = \"vm\" }} }}\n"
        )
}

/// T. R. Kuphaldt, "Lessons in Electric Circuits", Vol. III, chapter 8: a gain of 200 000 makes
/// 5.999970000149999 V of 6 V.
#[test]
fn a_follower_with_a_finite_gain() {
    let board = powered(&(source("J1", "i", 6.0) + &opamp("i", "o", "o")));
    assert_relative_eq!(board.volts("o"), 5.999_970_000_149_999, epsilon = 1e-10);
}

/// The same chapter: 6 V and two resistors of 1 kΩ give 12 V, or −6 V, and 6 mA.
#[test]
fn non_inverting_and_inverting_amplifiers() {
    let board = powered(
        &(source("J1", "i", 6.0)
            + &opamp("i", "f", "o")
            + &ohms("R1", "1k", "f", "0")
            + &ohms("R2", "1k", "o", "f")),
    );
    // Two over the gain, and the leaks of the protection diodes.
    assert_relative_eq!(board.volts("o"), 12.0, max_relative = 3e-5);
    assert_relative_eq!(board.volts("f") / 1e3, 6e-3, max_relative = 3e-5);
    let board = powered(
        &(source("J1", "i", 6.0)
            + &opamp("0", "f", "o")
            + &ohms("R1", "1k", "i", "f")
            + &ohms("R2", "1k", "f", "o")),
    );
    assert_relative_eq!(board.volts("o"), -6.0, max_relative = 3e-5);
    assert_relative_eq!((6.0 - board.volts("f")) / 1e3, 6e-3, max_relative = 3e-5);
}

/// The output stops at its limits: 1.5 V under the supply, 50 mV over the ground, and 25 mA.
#[test]
fn an_amplifier_stops_at_its_limits() {
    for (input, load, expected) in [(2.0, "1M", 3.5), (-0.2, "1M", 0.05), (2.0, "100", 2.333_333)] {
        let board = powered(
            &(source("J1", "i", input)
                + &source("J2", "vp", 5.0)
                + "U1 = { kind = \"opamp\", pins = { plus = \"i\", minus = \"m\", output = \"o\", \
                   supply = \"vp\", ground = \"0\" } }\n"
                + &source("J3", "m", 0.5)
                + &ohms("R1", load, "o", "0")),
        );
        // 3.5 V behind 50 Ω into 100 Ω is 2.33 V, at 23 mA.
        assert_relative_eq!(board.volts("o"), expected, epsilon = 2e-4);
    }
    let board = powered(
        &(source("J1", "i", 2.0)
            + &source("J2", "vp", 5.0)
            + "U1 = { kind = \"opamp\", pins = { plus = \"i\", minus = \"0\", output = \"o\", \
               supply = \"vp\", ground = \"0\" } }\n"
            + &ohms("R1", "10", "o", "0")),
    );
    assert_relative_eq!(board.volts("o"), 0.25, max_relative = 1e-6);
}

/// Field case: 2.5 V reference, 10 kΩ in, 100 kΩ feedback, 5 V swing: the input trips at 2.727 V
/// going one way and at 2.273 V going the other. The comparator proper has a millivolt.
#[test]
fn comparator_thresholds_by_the_resistors() {
    // The reference stands at minus, the input behind 10 kΩ: low, 2.5 V · 110 / 100 is needed.
    let board = |input: f64, reference: f64| {
        powered(
            &(source("J1", "i", input)
                + &source("J2", "r", reference)
                + &source("J3", "vp", 5.0)
                + "U1 = { kind = \"comparator\", hysteresis = \"1 mV\", open_drain = false, \
                   output_resistance = 1, pins = { plus = \"f\", minus = \"i\", output = \"o\", \
                   supply = \"vp\", ground = \"0\" } }\n"
                + &ohms("R1", "10k", "r", "f")
                + &ohms("R2", "100k", "o", "f")),
        )
    };
    // The output is low when power comes up, and rises once the input is below 2.2727 V.
    assert!(board(2.268, 2.5).volts("o") > 4.99);
    assert!(board(2.278, 2.5).volts("o") < 0.01);
    assert_relative_eq!(board(2.278, 2.5).volts("f"), 2.2727, epsilon = 1e-3);
    assert_relative_eq!(board(2.268, 2.5).volts("f"), 2.7273, epsilon = 1e-3);
}

/// The truth table on a board, an open-drain output above the supply, and no supply.
#[test]
fn gates_on_a_board() {
    let board = |function: &str, more: &str, a: f64, b: f64, supply: f64| {
        powered(
            &(source("J1", "vp", supply)
                + &source("J2", "a", a)
                + &source("J3", "b", b)
                + &source("J4", "up", 12.0)
                + &ohms("R1", "10k", "y", if more.is_empty() { "0" } else { "up" })
                + &format!(
                    "U1 = {{ kind = \"gate\", function = \"{function}\", {more} pins = {{ a = \
                     \"a\", b = \"b\", y = \"y\", supply = \"vp\", ground = \"0\" }} }}\n"
                )),
        )
        .volts("y")
    };
    let high = 3.3 * 10e3 / 10_050.0;
    for (function, table) in [
        ("and", [false, false, false, true]),
        ("or", [false, true, true, true]),
        ("nand", [true, true, true, false]),
        ("nor", [true, false, false, false]),
        ("xor", [false, true, true, false]),
    ] {
        for (row, is_high) in table.into_iter().enumerate() {
            let (a, b) = ([0.0, 3.3][row / 2], [0.0, 3.3][row % 2]);
            let expected = if is_high { high } else { 0.0 };
            let found = board(function, "", a, b, 3.3);
            assert_relative_eq!(found, expected, epsilon = 1e-5);
            let found = board(function, "open_drain = true,", a, b, 3.3);
            let expected = if is_high { 12.0 } else { 12.0 * 50.0 / 10_050.0 };
            assert_relative_eq!(found, expected, epsilon = 1e-4);
        }
    }
    // Below its least supply nothing is driven.
    assert!(board("nand", "", 0.0, 0.0, 1.0) < 1e-4);
    assert!(board("nor", "open_drain = true,", 1.0, 1.0, 1.0) > 11.99);
}

/// Active, ratio times the LED's current; saturated, the collector stands below 0.2 V.
#[test]
fn an_optocoupler_by_its_ratio() {
    let board = |ratio: f64, load: &str| {
        let board = powered(
            &(source("J1", "p", 5.0)
                + &ohms("R1", "380", "p", "a")
                + &source("J2", "q", 12.0)
                + &ohms("R2", load, "q", "c")
                + &format!(
                    "U1 = {{ kind = \"optocoupler\", ratio = {ratio:?}, pins = {{ anode = \"a\", \
                     cathode = \"0\", collector = \"c\", emitter = \"0\" }} }}\n"
                )),
        );
        // Through the data sheet's point: 1.2 V at 10 mA, with 380 Ω below 5 V.
        assert_relative_eq!(board.volts("a"), 1.2, max_relative = 1e-6);
        board.volts("c")
    };
    assert_relative_eq!(board(0.5, "1k"), 7.0, max_relative = 1e-6);
    assert!(board(2.0, "1k") < 0.2);
}

/// A relay on either polarity of its coil, pulled in or not.
#[test]
fn a_relay_and_its_contacts() {
    for (coil, is_in) in [(12.0, true), (-12.0, true), (8.0, false), (-8.0, false), (0.0, false)] {
        let board = powered(
            &(source("J1", "coil", coil)
                + &source("J2", "p", 24.0)
                + "K1 = { kind = \"relay\", coil = 360, pull_in = 9, drop_out = 1.2, pins = { \
                   coil_plus = \"coil\", coil_minus = \"0\", common = \"p\", normally_open = \
                   \"no\", normally_closed = \"nc\" } }\n"
                + &ohms("R1", "1k", "no", "0")
                + &ohms("R2", "1k", "nc", "0")),
        );
        let (on, off) = if is_in { ("no", "nc") } else { ("nc", "no") };
        assert_relative_eq!(board.volts(on), 24.0 * 1e3 / 1000.05, max_relative = 1e-9);
        assert!(board.volts(off).abs() < 1e-6, "{coil}");
    }
}
