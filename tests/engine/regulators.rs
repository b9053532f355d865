//! Regulators, references and supervisors on small boards, against arithmetic by hand.
//!
//! Where a line says "field case", the figures are those of a case from a public repair thread,
//! told in own words; what the thread leaves out, such as the input volts, is chosen here.

use approx::assert_relative_eq;
use ohmhound::circuit::{Change, Circuit, Overlay, POWERED};
use ohmhound::device::{At, Values, of};
use ohmhound::engine::{Assembly, Ending, PowerUp};
use ohmhound::file::read_circuit;
use ohmhound::finding::{Code, Source};

fn circuit(text: &str) -> Circuit {
    let text = format!("[parts]\n{text}");
    let read = read_circuit(&Source::new("board.toml", text), &mut |_| Err("no shelf".to_owned()));
    let errors: Vec<_> = read.findings.iter().filter(|finding| finding.is_error()).collect();
    read.value.unwrap_or_else(|| panic!("{errors:#?}"))
}

/// A board with its power on.
struct Board {
    circuit: Circuit,
    up: PowerUp,
}

fn powered(text: &str) -> Board {
    faulted(text, |_| Overlay::none())
}

fn faulted(text: &str, fault: impl Fn(&Circuit) -> Overlay) -> Board {
    let circuit = circuit(text);
    let overlay = fault(&circuit);
    let up = Assembly::new(&circuit).power_up(POWERED, &overlay, None);
    let converged = matches!(up.run.ending, Ending::Converged { .. });
    assert!(converged && up.cycle.is_none(), "{:?}\n{text}", up.run.ending);
    Board { circuit, up }
}

impl Board {
    fn volts(&self, net: &str) -> f64 {
        let net = self.circuit.net(net).unwrap().index();
        self.up.run.point.as_ref().unwrap().volts[net]
    }

    /// What a part is doing, in its own words.
    fn state(&self, name: &str) -> &'static str {
        let id = self.circuit.part(name).unwrap();
        let part = &self.circuit[id];
        let (network, point) = (&self.up.network, self.up.run.point.as_ref().unwrap());
        let volts: Vec<f64> =
            (0..part.pins.len()).map(|pin| point.volts[network.pin_net(id, pin)]).collect();
        let mut values = Values::nominal(part, 25.0);
        values.on = network.states()[id.index()];
        let amps = vec![0.0; volts.len()];
        of(part).state(&values, &At { volts: &volts, amps: &amps }).unwrap()
    }
}

fn pin_open(circuit: &Circuit, part: &str, pin: &str) -> Overlay {
    let part = circuit.part(part).unwrap();
    let pin = circuit[part].pin(pin).unwrap();
    Overlay::one(Change::Joint { part, pin, ohms: None })
}

fn removed(circuit: &Circuit, part: &str) -> Overlay {
    Overlay::one(Change::Removed { part: circuit.part(part).unwrap() })
}

fn shorted(circuit: &Circuit, part: &str) -> Overlay {
    Overlay::one(Change::Across { part: circuit.part(part).unwrap(), ohms: 10e-3 })
}

/// A regulator with reference, feedback divider and a load.
fn divided(kind: &str, input: f64, reference: f64, top: &str, bottom: &str, more: &str) -> String {
    format!(
        "J1 = {{ kind = \"supply\", volts = {input}, nets = [\"VIN\", \"GND\"] }}\n\
         U1 = {{ kind = \"{kind}\", reference = {reference}, {more} pins = {{ input = \"VIN\", \
         output = \"OUT\", ground = \"GND\", feedback = \"FB\" }} }}\n\
         R1 = {{ value = \"{top}\", nets = [\"OUT\", \"FB\"] }}\n\
         R2 = {{ value = \"{bottom}\", nets = [\"FB\", \"GND\"] }}\n\
         R3 = {{ value = \"1k\", nets = [\"OUT\", \"GND\"] }}\n"
    )
}

/// V = reference · (1 + top / bottom); the protection diode's leak is below a nanoamp.
#[test]
fn set_points_by_the_divider_equation() {
    for (reference, top, bottom, expected, case) in [
        (0.804, "56k", "10k", 5.3064, "field case: 56k fitted, 5.31 V read"),
        (0.804, "52.3k", "10k", 5.0089, "field case: the resistor that belongs there"),
        (0.6, "100k", "267k", 0.8247, "field case: wrong reel, 0.8 V instead of 1.1 V"),
        (0.6, "150k", "267k", 0.9371, "field case: wrong reel, 0.9 V instead of 1.35 V"),
        (0.6, "100k", "120k", 1.1, "field case: the reel that belongs there"),
        (0.6, "150k", "120k", 1.35, "field case: the reel that belongs there"),
        (0.6, "4.75k", "3.32k", 1.4584, "field case: a near substitute, 1.452 V read"),
        (0.6, "4.99k", "3.32k", 1.5018, "field case: as drawn"),
        (0.8, "33k", "10k", 3.44, "field case: healthy, and not 3.3 V"),
    ] {
        for kind in ["ldo", "buck"] {
            for more in ["", "limit = \"2 A\",", "dropout = \"0.3 V at 500 mA\","] {
                let board = powered(&divided(kind, 12.0, reference, top, bottom, more));
                // Four figures are printed above.
                assert_relative_eq!(board.volts("OUT"), expected, max_relative = 2e-4);
                assert_relative_eq!(board.volts("FB"), reference, max_relative = 1e-5);
                assert_eq!(board.state("U1"), "regulating", "{case}");
            }
        }
    }
}

/// Field case: a boost with 500k over 17.4k and 1.225 V stands at 19.8 V with 0.666 V on its
/// feedback pin. The divider agrees with itself; the loop is not in control.
#[test]
fn a_boost_that_is_not_enabled_passes_its_input_on() {
    let board = |enable: &str| {
        powered(&format!(
            "J1 = {{ kind = \"supply\", volts = 19.9, nets = [\"VIN\", \"GND\"] }}\n\
             U1 = {{ kind = \"boost\", reference = \"1.225 V\", enable_threshold = \"1 V\", \
             pins = {{ input = \"VIN\", output = \"OUT\", ground = \"GND\", feedback = \"FB\", \
             enable = \"EN\" }} }}\n\
             R1 = {{ value = \"500k\", nets = [\"OUT\", \"FB\"] }}\n\
             R2 = {{ value = \"17.4k\", nets = [\"FB\", \"GND\"] }}\n\
             R3 = {{ value = \"10k\", nets = [\"EN\", \"{enable}\"] }}\n"
        ))
    };
    let on = board("VIN");
    // 1.225 · (1 + 500 / 17.4)
    assert_relative_eq!(on.volts("OUT"), 36.426, max_relative = 1e-4);
    assert_eq!(on.state("U1"), "regulating");
    let off = board("GND");
    assert_eq!(off.state("U1"), "disabled");
    // 0.4 V at 100 mA is 0.1 V at the 38 µA of the divider.
    assert_relative_eq!(off.volts("OUT"), 19.8, max_relative = 2e-3);
    assert_relative_eq!(off.volts("FB"), 0.666, max_relative = 2e-3);
}

/// Field case: a regulator whose ground pin sits at −15.9 V and whose input at −6.3 V gives
/// −10.9 V: −15.9 + 5.0.
#[test]
fn the_output_stands_on_the_ground_pin() {
    let board = powered(
        "J1 = { kind = \"supply\", volts = \"-6.3 V\", nets = [\"IN\", \"GND\"] }\n\
         J2 = { kind = \"supply\", volts = \"-15.9 V\", nets = [\"LOW\", \"GND\"] }\n\
         U1 = { kind = \"ldo\", output_volts = 5, pins = { input = \"IN\", output = \"OUT\", ground = \"LOW\" } }\n\
         R1 = { value = \"1k\", nets = [\"OUT\", \"LOW\"] }\n",
    );
    assert_relative_eq!(board.volts("OUT"), -10.9, max_relative = 1e-4);
}

/// Field case: the ground pad lost its contact, and the output rose to the 11 V of the input.
#[test]
fn an_open_ground_pin_lifts_the_output_to_the_input() {
    for kind in ["ldo", "buck"] {
        for quiescent in ["quiescent = \"50 µA\",", "quiescent = \"5 mA\","] {
            let text = format!(
                "J1 = {{ kind = \"supply\", volts = 11, nets = [\"VIN\", \"GND\"] }}\n\
                 U1 = {{ kind = \"{kind}\", output_volts = 5, {quiescent} pins = {{ \
                 input = \"VIN\", output = \"OUT\", ground = \"GND\" }} }}\n\
                 R1 = {{ value = \"10k\", nets = [\"OUT\", \"GND\"] }}\n"
            );
            assert_relative_eq!(powered(&text).volts("OUT"), 5.0, max_relative = 1e-5);
            let open = faulted(&text, |circuit| pin_open(circuit, "U1", "ground"));
            let out = open.volts("OUT");
            assert!(out > 10.0 && out < 11.01, "{kind} {quiescent} {out}");
        }
    }
}

#[test]
fn what_happens_when_the_feedback_is_lost() {
    for kind in ["ldo", "buck"] {
        let text = divided(kind, 12.0, 0.8, "52.5k", "10k", "");
        assert_relative_eq!(powered(&text).volts("OUT"), 5.0, max_relative = 1e-5);
        let at = |fault: &dyn Fn(&Circuit) -> Overlay| faulted(&text, fault).volts("OUT");
        // Nothing tells the loop that there is output: it gives all that the input has.
        let full = 12.0;
        assert_relative_eq!(at(&|c| removed(c, "R1")), full, max_relative = 5e-3);
        assert_relative_eq!(at(&|c| shorted(c, "R2")), full, max_relative = 5e-3);
        assert_relative_eq!(at(&|c| pin_open(c, "U1", "feedback")), full, max_relative = 5e-3);
        // The feedback pin sees the whole output: it is held at the bare reference.
        assert_relative_eq!(at(&|c| removed(c, "R2")), 0.8, max_relative = 1e-3);
        assert_relative_eq!(at(&|c| shorted(c, "R1")), 0.8, max_relative = 1e-3);
    }
}

/// Field case: a damaged chip regulates at 0.48 of its set points, 2.4 V and 5.8 V on two rails:
/// the same share on different rails is the reference.
#[test]
fn a_drifted_reference_scales_every_rail_alike() {
    for (top, healthy, faulty) in [("52.5k", 5.0, 2.4), ("140k", 12.0, 5.76)] {
        let text = divided("buck", 24.0, 0.8, top, "10k", "");
        assert_relative_eq!(powered(&text).volts("OUT"), healthy, max_relative = 1e-5);
        let drifted = faulted(&text, |circuit| {
            let part = circuit.part("U1").unwrap();
            Overlay::one(Change::Parameter { part, name: "reference", value: 0.48 * 0.8 })
        });
        // The leak of the protection diode through the upper resistor is 30 µV.
        assert_relative_eq!(drifted.volts("OUT"), faulty, max_relative = 1e-4);
    }
}

/// Field case: the same chip's enable pin stands at 0.64 V under its threshold of 1 V, for its
/// pull-up inside is damaged; forced high from outside, it starts. Here the pull-up is lost, and
/// what is left is a leak of a tenth of it.
#[test]
fn a_chip_that_lost_its_pull_starts_when_it_is_forced() {
    let board = |hanging: &str, lost: bool| {
        let pull = "enable_threshold = \"1 V\", enable_pull = \"up 10 µA\",";
        let text = enabled("12 V", pull, hanging);
        faulted(&text, |circuit| {
            let part = circuit.part("U1").unwrap();
            let strike = Change::Parameter { part, name: "enable_pull", value: f64::NAN };
            if lost { Overlay::one(strike) } else { Overlay::none() }
        })
    };
    let leak = "R2 = { value = \"640k\", nets = [\"EN\", \"GND\"] }\n\
                R3 = { value = \"11.36M\", nets = [\"VIN\", \"EN\"] }\n";
    let damaged = board(leak, true);
    assert_relative_eq!(damaged.volts("EN"), 0.64, max_relative = 2e-3);
    assert_eq!(damaged.state("U1"), "disabled");
    assert_eq!(board(leak, false).state("U1"), "regulating");
    let forced = format!("{leak}R4 = {{ value = \"1k\", nets = [\"VIN\", \"EN\"] }}\n");
    assert_eq!(board(&forced, true).state("U1"), "regulating");
}

/// A fixed regulator with an enable pin and what hangs on that pin.
fn enabled(input: &str, parameters: &str, hanging: &str) -> String {
    format!(
        "J1 = {{ kind = \"supply\", volts = \"{input}\", nets = [\"VIN\", \"GND\"] }}\n\
         U1 = {{ kind = \"buck\", output_volts = 3, {parameters} pins = {{ input = \"VIN\", \
         output = \"OUT\", ground = \"GND\", enable = \"EN\" }} }}\n\
         R1 = {{ value = \"1k\", nets = [\"OUT\", \"GND\"] }}\n{hanging}"
    )
}

/// Field case: a pull-up of 1 µA inside and a threshold of 1.2 V start against 2 MΩ of leak and
/// stop below 1.2 MΩ.
#[test]
fn a_leak_at_a_floating_enable_decides_at_its_threshold() {
    let board = |leak: &str| {
        let pull = "enable_threshold = \"1.2 V\", enable_pull = \"up 1 µA\",";
        powered(&enabled(
            "12 V",
            pull,
            &format!("R2 = {{ value = \"{leak}\", nets = [\"EN\", \"GND\"] }}\n"),
        ))
    };
    let healthy = board("2M");
    assert_relative_eq!(healthy.volts("EN"), 2.0, max_relative = 2e-3);
    assert_eq!(healthy.state("U1"), "regulating");
    assert_eq!(board("1.21M").state("U1"), "regulating");
    let stopped = board("1.19M");
    assert_eq!(stopped.state("U1"), "disabled");
    assert_relative_eq!(stopped.volts("OUT"), 0.0, epsilon = 1e-5);
}

/// Field case: 3.5 V behind 10 MΩ, pin leakage of 0.3 µA, threshold 1.5 V: the pin is at 0.5 V, and
/// an ordinary meter of 10 MΩ would show 0.25 V.
#[test]
fn ten_megohms_do_not_feed_a_leaky_enable_pin() {
    let board = |hanging: &str| {
        let pull = "enable_threshold = \"1.5 V\", enable_pull = \"down 0.3 µA\",";
        powered(&enabled("3.5 V", pull, hanging))
    };
    let up = "R2 = { value = \"10M\", nets = [\"VIN\", \"EN\"] }\n";
    let bare = board(up);
    assert_relative_eq!(bare.volts("EN"), 0.5, max_relative = 0.02);
    assert_eq!(bare.state("U1"), "disabled");
    let meter = board(&format!("{up}R3 = {{ value = \"10M\", nets = [\"EN\", \"GND\"] }}\n"));
    assert_relative_eq!(meter.volts("EN"), 0.25, max_relative = 0.02);
    // A third of the resistance drops 1 V.
    let repaired = board("R2 = { value = \"3.3M\", nets = [\"VIN\", \"EN\"] }\n");
    assert_relative_eq!(repaired.volts("EN"), 3.5 - 0.99, max_relative = 2e-3);
    assert_eq!(repaired.state("U1"), "regulating");
}

/// Field case: 11.8k over 3.74k at a pin with a threshold of 1.05 V trips at 4.36 V of input. The
/// chip's own lockout of 2.5 V is another threshold.
#[test]
fn an_enable_divider_sets_the_input_at_which_it_starts() {
    let board = |input: &str| {
        let hanging = "R2 = { value = \"11.8k\", nets = [\"VIN\", \"EN\"] }\n\
                       R3 = { value = \"3.74k\", nets = [\"EN\", \"GND\"] }\n";
        let thresholds = "enable_threshold = \"1.05 V\", lockout_rising = \"2.5 V\",";
        powered(&enabled(input, thresholds, hanging)).state("U1")
    };
    assert_eq!(board("4.37 V"), "regulating");
    assert_eq!(board("4.35 V"), "disabled");
    assert_eq!(board("2.4 V"), "locked out");
}

/// Without a threshold of its own an enable pin has 1.2 V, and one that is active low is on there.
#[test]
fn an_enable_pin_may_be_active_low() {
    let board = |active: &str, to: &str| {
        let hanging = format!("R2 = {{ value = \"1k\", nets = [\"EN\", \"{to}\"] }}\n");
        powered(&enabled("12 V", &format!("enable_active = \"{active}\","), &hanging)).state("U1")
    };
    assert_eq!(board("high", "VIN"), "regulating");
    assert_eq!(board("high", "GND"), "disabled");
    assert_eq!(board("low", "GND"), "regulating");
    assert_eq!(board("low", "VIN"), "disabled");
}

/// Field cases: a shorted 3.3 V rail reads 0.05 V with the regulator hot; a bench supply of 4.2 V
/// and 1 A reads 0.130 V into a short, which is 0.13 Ω of leads.
#[test]
fn a_limit_holds_the_current_into_a_short() {
    let board = powered(
        "J1 = { kind = \"supply\", volts = 5, nets = [\"VIN\", \"GND\"] }\n\
         U1 = { kind = \"ldo\", output_volts = 3.3, limit = \"500 mA\", \
         pins = { input = \"VIN\", output = \"OUT\", ground = \"GND\" } }\n\
         R1 = { value = \"100m\", nets = [\"OUT\", \"GND\"] }\n\
         J2 = { kind = \"supply\", volts = 4.2, limit = \"1 A\", nets = [\"BENCH\", \"GND\"] }\n\
         R2 = { value = \"130m\", nets = [\"BENCH\", \"GND\"] }\n",
    );
    assert_relative_eq!(board.volts("OUT"), 0.05, max_relative = 1e-5);
    assert_eq!(board.state("U1"), "at its current limit");
    assert_relative_eq!(board.volts("BENCH"), 0.13, max_relative = 1e-5);
}

/// Field case: a limiter before a regulator with a shorted output: the limiter acts first, drops
/// 4.5 V, and leaves 0.4 V before the regulator, which drops all of it.
#[test]
fn of_two_limits_in_series_the_first_one_acts() {
    let board = powered(
        "J1 = { kind = \"supply\", volts = 4.9, limit = \"500 mA\", nets = [\"5V\", \"GND\"] }\n\
         U1 = { kind = \"ldo\", output_volts = 1.8, dropout = \"0.4 V at 500 mA\", limit = \"1 A\", \
         pins = { input = \"5V\", output = \"VIO\", ground = \"GND\" } }\n\
         R1 = { value = \"1m\", nets = [\"VIO\", \"GND\"] }\n",
    );
    assert_relative_eq!(board.volts("5V"), 0.4, max_relative = 0.02);
    assert_relative_eq!(4.9 - board.volts("5V"), 4.5, max_relative = 0.02);
    assert_eq!(board.state("U1"), "in dropout");
}

/// Field case: 3.3 V with 0.5 V of dropout needs 3.8 V; below that the output follows the input.
#[test]
fn the_output_follows_the_input_in_dropout() {
    for (input, expected, state) in [(3.9, 3.3, "regulating"), (3.6, 3.1, "in dropout")] {
        let board = powered(&format!(
            "J1 = {{ kind = \"supply\", volts = {input}, nets = [\"VIN\", \"GND\"] }}\n\
             U1 = {{ kind = \"ldo\", output_volts = 3.3, dropout = \"0.5 V\", limit = \"1 A\", \
             pins = {{ input = \"VIN\", output = \"OUT\", ground = \"GND\" }} }}\n\
             R1 = {{ value = \"330\", nets = [\"OUT\", \"GND\"] }}\n"
        ));
        assert_relative_eq!(board.volts("OUT"), expected, max_relative = 1e-4);
        assert_eq!(board.state("U1"), state);
    }
}

/// V = 1.25 · (1 + R2 / R1) + adjust current · R2 for the family whose reference stands between
/// output and adjust pin; the current flows out of the pin.
#[test]
fn the_adjustable_family_floats_up_below_its_minimum_load() {
    let board = |upper: &str, lower: &str| {
        powered(&format!(
            "J1 = {{ kind = \"supply\", volts = 12, nets = [\"VIN\", \"GND\"] }}\n\
             U1 = {{ kind = \"ldo\", reference = 1.25, reference_to = \"output\", \
             feedback_bias = \"-50 µA\", minimum_load = \"5 mA\", dropout = \"1.7 V\", \
             pins = {{ input = \"VIN\", output = \"OUT\", feedback = \"ADJ\" }} }}\n\
             R1 = {{ value = \"{upper}\", nets = [\"OUT\", \"ADJ\"] }}\n\
             R2 = {{ value = \"{lower}\", nets = [\"ADJ\", \"GND\"] }}\n"
        ))
    };
    let loaded = board("240", "720");
    assert_relative_eq!(loaded.volts("OUT"), 5.0 + 50e-6 * 720.0, max_relative = 1e-5);
    assert_eq!(loaded.state("U1"), "regulating");
    // Ten times the resistance takes 0.5 mA: the other 4.5 mA lift the output as far as it goes.
    let unloaded = board("2.4k", "7.2k");
    assert_relative_eq!(unloaded.volts("OUT"), 12.0 - 1.7, max_relative = 5e-3);
}

/// Field case: 19 V feed a shunt reference of 2.495 V that was reckoned for 14.2 V; 2 µA into its
/// adjust pin through 100 kΩ make 14.4 V of it.
#[test]
fn the_bias_of_the_adjust_pin_adds_its_drop() {
    let board = |bias: &str| {
        powered(&format!(
            "J1 = {{ kind = \"supply\", volts = 19, nets = [\"VIN\", \"GND\"] }}\n\
             R3 = {{ value = \"470\", nets = [\"VIN\", \"OUT\"] }}\n\
             U1 = {{ kind = \"shunt-reference\", reference = \"2.495 V\", minimum = \"1 mA\", \
             adjust_bias = \"{bias}\", pins = {{ cathode = \"OUT\", anode = \"GND\", \
             adjust = \"ADJ\" }} }}\n\
             R1 = {{ value = \"100k\", nets = [\"OUT\", \"ADJ\"] }}\n\
             R2 = {{ value = \"21.316k\", nets = [\"ADJ\", \"GND\"] }}\n"
        ))
    };
    assert_relative_eq!(board("1 pA").volts("OUT"), 14.2, max_relative = 1e-4);
    assert_relative_eq!(board("2 µA").volts("OUT"), 14.4, max_relative = 1e-4);
    assert_eq!(board("2 µA").state("U1"), "regulating");
}

/// Between its reference and three quarters of it, it holds; starved, it is a resistance.
#[test]
fn a_shunt_reference_needs_its_minimum_current() {
    let board = |feed: &str| {
        powered(&format!(
            "J1 = {{ kind = \"supply\", volts = 5, nets = [\"VIN\", \"GND\"] }}\n\
             R1 = {{ value = \"{feed}\", nets = [\"VIN\", \"REF\"] }}\n\
             U1 = {{ kind = \"shunt-reference\", volts = 2.5, minimum = \"1 mA\", \
             pins = {{ cathode = \"REF\", anode = \"GND\" }} }}\n"
        ))
    };
    assert_relative_eq!(board("1k").volts("REF"), 2.5, max_relative = 1e-5);
    // 2.5 V at 1 mA is 2.5 kΩ: half of it with 2.5 kΩ · 3 in series, 5 · 2.5 / 10.
    assert_relative_eq!(board("7.5k").volts("REF"), 1.25, max_relative = 1e-5);
}

/// A supervisor of 4.5 V holds its output low until the rail is there; the pull-up then lifts it.
#[test]
fn a_supervisor_lets_go_above_its_threshold() {
    let board = |rail: f64| {
        powered(&format!(
            "J1 = {{ kind = \"supply\", volts = {rail}, nets = [\"5V\", \"GND\"] }}\n\
             U1 = {{ kind = \"supervisor\", threshold = 4.5, hysteresis = 0.1, pins = {{ \
             sense = \"5V\", supply = \"5V\", output = \"RESET\", ground = \"GND\" }} }}\n\
             R1 = {{ value = \"9.95k\", nets = [\"5V\", \"RESET\"] }}\n"
        ))
    };
    assert_relative_eq!(board(5.0).volts("RESET"), 5.0, max_relative = 1e-3);
    // 4.4 V over 9.95 kΩ and 50 Ω.
    assert_relative_eq!(board(4.4).volts("RESET"), 0.022, max_relative = 1e-4);
    // Coming up, 4.55 V is not enough yet.
    assert_eq!(board(4.55).state("U1"), "holding its output low");
}

/// A power-good pin is low while its rail is not: here, while the rail is shorted.
#[test]
fn power_good_follows_the_rail() {
    let board = |load: &str| {
        powered(&format!(
            "J1 = {{ kind = \"supply\", volts = 12, nets = [\"VIN\", \"GND\"] }}\n\
             U1 = {{ kind = \"buck\", output_volts = 5, limit = \"1 A\", pins = {{ \
             input = \"VIN\", output = \"OUT\", ground = \"GND\", power_good = \"PG\" }} }}\n\
             R1 = {{ value = \"{load}\", nets = [\"OUT\", \"GND\"] }}\n\
             R2 = {{ value = \"10k\", nets = [\"VIN\", \"PG\"] }}\n"
        ))
    };
    assert_relative_eq!(board("1k").volts("PG"), 12.0, max_relative = 1e-3);
    // 1 A into 4.4 Ω is 4.4 V, under 90 % of 5 V: 12 V over 10 kΩ and 50 Ω.
    assert_relative_eq!(board("4.4").volts("PG"), 12.0 * 50.0 / 10_050.0, max_relative = 1e-3);
}

/// P(out) = efficiency · P(in), read off the drop of a resistor in the input.
#[test]
fn converters_take_the_power_that_they_give() {
    for (kind, input, output, load) in [("buck", 12.0, 5.0, 10.0), ("boost", 5.0, 12.0, 48.0)] {
        let board = powered(&format!(
            "J1 = {{ kind = \"supply\", volts = {input}, nets = [\"J\", \"GND\"] }}\n\
             R2 = {{ value = \"100m\", nets = [\"J\", \"VIN\"] }}\n\
             U1 = {{ kind = \"{kind}\", output_volts = {output}, efficiency = 0.8, pins = {{ \
             input = \"VIN\", output = \"OUT\", ground = \"GND\" }} }}\n\
             R1 = {{ value = {load}, nets = [\"OUT\", \"GND\"] }}\n"
        ));
        let taken = (board.volts("J") - board.volts("VIN")) / 0.1 * board.volts("VIN");
        assert_relative_eq!(board.volts("OUT"), output, max_relative = 1e-5);
        assert_relative_eq!(0.8 * taken, output * output / load, max_relative = 1e-4);
    }
}

/// A chip draws its current above the stated volts, is a resistance below them, and its pin lifts
/// the supply of a board that is off through the protection diode.
#[test]
fn a_chip_draws_and_back_feeds_through_its_pins() {
    let board = |rail: f64, signal: f64| {
        powered(&format!(
            "J1 = {{ kind = \"supply\", volts = {rail}, nets = [\"J\", \"GND\"] }}\n\
             R1 = {{ value = 10, nets = [\"J\", \"VDD\"] }}\n\
             J2 = {{ kind = \"supply\", volts = {signal}, nets = [\"SIG\", \"GND\"] }}\n\
             R2 = {{ value = \"1k\", nets = [\"SIG\", \"IO\"] }}\n\
             U1 = {{ kind = \"chip\", pins = {{ vdd = {{ net = \"VDD\", \
             draws = \"20 mA above 2.7 V\" }}, io = {{ net = \"IO\", to_ground = \"10k\", \
             clamp_to = \"vdd\" }}, ground = \"GND\" }} }}\n"
        ))
    };
    // 3.3 V less 20 mA · 10 Ω; 1.1 V over 1 kΩ and 10 kΩ.
    let on = board(3.3, 1.1);
    assert_relative_eq!(on.volts("VDD"), 3.1, max_relative = 1e-4);
    assert_relative_eq!(on.volts("IO"), 1.0, max_relative = 1e-3);
    // 135 Ω of chip behind 10 Ω.
    let low = board(1.45, 0.5);
    assert_relative_eq!(low.volts("VDD"), 1.35, max_relative = 1e-3);
    let back_fed = board(1e-9, 3.3);
    assert!(
        back_fed.volts("IO") < 0.7 && back_fed.volts("VDD") > 0.01,
        "{}",
        back_fed.volts("VDD")
    );
}

/// A pin over its absolute maximum is a finding, counted from the chip's own ground pin.
#[test]
fn a_pin_over_its_maximum_is_found() {
    let findings = |most: &str, low: &str| {
        let circuit = circuit(&format!(
            "J1 = {{ kind = \"supply\", volts = 12, nets = [\"VIN\", \"GND\"] }}\n\
             R2 = {{ value = \"1k\", nets = [\"VIN\", \"EN\"] }}\n\
             J2 = {{ kind = \"supply\", volts = -12, nets = [\"LOW\", \"GND\"] }}\n\
             U1 = {{ kind = \"ldo\", output_volts = 5, maximum = {{ enable = \"{most}\" }}, \
             pins = {{ input = \"VIN\", output = \"OUT\", ground = \"{low}\", enable = \"EN\" }} }}\n\
             R1 = {{ value = \"1k\", nets = [\"OUT\", \"{low}\"] }}\n"
        ));
        let found = ohmhound::study::check(&Assembly::new(&circuit));
        found.iter().filter(|finding| finding.code == Code::PinOverdriven).count()
    };
    assert_eq!(findings("6 V", "GND"), 1);
    assert_eq!(findings("13 V", "GND"), 0);
    assert_eq!(findings("13 V", "LOW"), 1);
}

/// A board with every kind of regulator in one chain.
const CHAIN: &str = "\
J1 = { kind = \"supply\", volts = 12, limit = \"3 A\", nets = [\"VIN\", \"GND\"] }
R1 = { value = \"47k\", nets = [\"VIN\", \"EN\"] }
R2 = { value = \"10k\", nets = [\"EN\", \"GND\"] }
U1 = { kind = \"buck\", reference = 0.8, limit = \"1.5 A\", lockout_rising = \"4.2 V\", quiescent = \"1 mA\", enable_threshold = 1.2, enable_pull = \"down 1M\", feedback_bias = \"20 nA\", pins = { input = \"VIN\", output = \"5V\", ground = \"GND\", enable = \"EN\", feedback = \"FB\", power_good = \"PG\" } }
R3 = { value = \"52.5k\", nets = [\"5V\", \"FB\"] }
R4 = { value = \"10k\", nets = [\"FB\", \"GND\"] }
R5 = { value = \"10k\", nets = [\"5V\", \"PG\"] }
U2 = { kind = \"ldo\", output_volts = 3.3, dropout = \"0.3 V at 500 mA\", limit = \"500 mA\", quiescent = \"80 µA\", pins = { input = \"5V\", output = \"3V3\", ground = \"GND\", enable = \"PG\" } }
R6 = { kind = \"load\", amps = \"150 mA\", minimum = \"0.7 V\", nets = [\"3V3\", \"GND\"] }
U3 = { kind = \"boost\", reference = 1.225, limit = \"800 mA\", pins = { input = \"5V\", output = \"18V\", ground = \"GND\", feedback = \"FB2\", enable = \"3V3\" } }
R7 = { value = \"137k\", nets = [\"18V\", \"FB2\"] }
R8 = { value = \"10k\", nets = [\"FB2\", \"GND\"] }
R9 = { value = \"1.8k\", nets = [\"18V\", \"GND\"] }
U4 = { kind = \"shunt-reference\", reference = 2.495, minimum = \"500 µA\", adjust_bias = \"2 µA\", pins = { cathode = \"REF\", anode = \"GND\", adjust = \"REF\" } }
R10 = { value = \"1k\", nets = [\"5V\", \"REF\"] }
U5 = { kind = \"supervisor\", threshold = 2.93, hysteresis = 0.03, pins = { sense = \"3V3\", output = \"RST\", supply = \"3V3\", ground = \"GND\" } }
R11 = { value = \"10k\", nets = [\"3V3\", \"RST\"] }
U6 = { kind = \"chip\", pins = { vdd = { net = \"3V3\", draws = \"60 mA above 2.5 V\" }, rst = { net = \"RST\", clamp_to = \"vdd\" }, ref = { net = \"REF\", to_ground = \"1M\" }, ground = \"GND\" } }
";

#[test]
fn a_chain_comes_up_in_its_order() {
    let board = powered(CHAIN);
    for (net, volts) in [("5V", 5.0), ("3V3", 3.3), ("18V", 1.225 * 14.7), ("REF", 2.495)] {
        assert_relative_eq!(board.volts(net), volts, max_relative = 3e-4);
    }
    let steps: Vec<(&str, &str)> = (board.up.steps.iter())
        .map(|step| (board.circuit[step.part].name.as_str(), step.condition.name))
        .collect();
    assert_eq!(steps[0], ("U1", "lockout"));
    let place = |step| steps.iter().position(|known| *known == step).unwrap();
    assert!(place(("U1", "enable")) < place(("U1", "good")), "{steps:?}");
    assert!(place(("U1", "good")) < place(("U2", "enable")), "{steps:?}");
    assert!(place(("U2", "enable")) < place(("U3", "enable")), "{steps:?}");
    assert!(place(("U2", "enable")) < place(("U5", "sense")), "{steps:?}");
}

/// Every single change of the usual ones leaves a board that settles or keeps switching.
#[test]
fn every_fault_of_a_chain_has_an_end() {
    every_fault_has_an_end(CHAIN);
}

/// The same with a feedback pin that sits on the output itself.
#[test]
fn every_fault_of_a_chain_with_a_sense_pin_has_an_end() {
    let sensed = CHAIN
        .replace("output_volts = 3.3", "reference = 3.3")
        .replace("output = \"3V3\"", "output = \"3V3\", feedback = \"3V3\"");
    every_fault_has_an_end(&sensed);
}

fn every_fault_has_an_end(text: &str) {
    let circuit = circuit(text);
    let assembly = Assembly::new(&circuit);
    let mut changes = Vec::new();
    for (part, data) in circuit.parts_by_id() {
        changes.push(Change::Removed { part });
        for pin in 0..data.pins.len() {
            changes.extend([None, Some(10.0), Some(1e4)].map(|ohms| Change::Joint {
                part,
                pin,
                ohms,
            }));
        }
    }
    let nets: Vec<_> = circuit.nets_by_id().map(|(net, _)| net).collect();
    for (idx, &a) in nets.iter().enumerate() {
        for &b in &nets[idx + 1..] {
            changes.extend([1e-2, 3.0, 1e3, 1e5].map(|ohms| Change::Bridge { nets: [a, b], ohms }));
        }
    }
    let mut lost = Vec::new();
    for change in &changes {
        let up = assembly.power_up(POWERED, &Overlay::one(change.clone()), None);
        let ended = matches!(up.run.ending, Ending::Converged { .. } | Ending::Cycling { .. });
        if !ended && up.cycle.is_none() {
            lost.push((change, up.run.ending));
        }
    }
    assert!(
        lost.is_empty(),
        "{} of {}: {:#?}",
        lost.len(),
        changes.len(),
        &lost[..lost.len().min(20)]
    );
}
