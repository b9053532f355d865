//! Curves against published tables and closed forms, and what switches on the way.

use crate::bench;
use ohmhound::circuit::{Circuit, Overlay, POWERED};
use ohmhound::engine::Assembly;
use ohmhound::fault;
use ohmhound::file::read_circuit;
use ohmhound::finding::Source;
use ohmhound::quantity::Unit;
use ohmhound::study::{Curve, Range, Swept, Watched, bands, curve};
use proptest::prelude::*;

fn circuit(text: &str) -> Circuit {
    let read = read_circuit(&Source::new("c.toml", text), &mut |_| Err(String::new()));
    assert!(read.findings.is_empty(), "{:?}", read.findings);
    read.value.unwrap()
}

fn over(circuit: &Circuit, swept: Swept, range: Range, nets: &[&str]) -> Curve {
    let nets: Vec<_> = nets.iter().map(|net| Watched::Net(circuit.net(net).unwrap())).collect();
    let assembly = Assembly::new(circuit);
    curve(&assembly, (POWERED, &Overlay::none()), swept, range, &nets).unwrap()
}

fn value(circuit: &Circuit, part: &str, name: &'static str, unit: Unit) -> Swept {
    Swept::Parameter { part: circuit.part(part).unwrap(), name, unit }
}

const fn linear(from: f64, to: f64, count: usize) -> Range {
    Range { from, to, count, is_log: false }
}

/// A milliamp through a sensor: its volts are its ohms in thousandths.
fn sensor(line: &str) -> Circuit {
    circuit(&format!(
        "[parts]\nG1 = {{ kind = \"current-source\", amps = \"1 mA\", compliance = \"100 V\", \
         nets = [\"S\", \"GND\"] }}\nRT1 = {{ {line}, nets = [\"S\", \"GND\"] }}\n"
    ))
}

/// IEC 60751, resistances of a Pt100; the published column as printed in the documentation of an
/// industrial input module, the computed one from the standard's coefficients.
#[test]
fn a_platinum_sensor_follows_the_table_of_the_standard() {
    let circuit = sensor("kind = \"platinum-sensor\", value = 100");
    let table = include_str!("../data/pt100_iec60751.csv");
    let rows: Vec<(f64, f64)> = table
        .lines()
        .filter(|line| !line.starts_with('#') && !line.starts_with('t'))
        .map(|line| {
            let fields: Vec<&str> = line.split(',').collect();
            let published = fields.get(2).filter(|text| !text.is_empty());
            (fields[0].parse().unwrap(), published.unwrap_or(&fields[1]).parse().unwrap())
        })
        .collect();
    assert!(rows.len() > 100);
    let (first, last) = (rows[0].0, rows[rows.len() - 1].0);
    let count = ((last - first) / 10.0).round() as usize + 1;
    let found = over(&circuit, Swept::Temperature, linear(first, last, count), &["S"]);
    for (celsius, ohms) in rows {
        let at = found.places.iter().position(|place| (place - celsius).abs() < 1e-6);
        let Some(at) = at else { panic!("{celsius} is no place") };
        let volts = found.rising.volts[at].as_ref().unwrap()[0];
        assert!((1e3 * volts - ohms).abs() < 1.5e-3, "{celsius} °C: {} and {ohms}", 1e3 * volts);
    }
}

/// The two-point law of IEC 60539-1, for 10 kΩ and B 3380 (values computed from the formula, as a
/// maker's table departs from it).
#[test]
fn a_thermistor_follows_its_law() {
    let circuit = sensor("kind = \"thermistor\", value = \"10k\", beta = 3380");
    let wanted =
        [(0.0, 28_223.7), (10.0, 18_231.4), (50.0, 4160.1), (60.0, 3039.2), (100.0, 1024.3)];
    let found = over(&circuit, Swept::Temperature, linear(0.0, 100.0, 11), &["S"]);
    for (celsius, ohms) in wanted {
        let volts = found.rising.volts[(celsius / 10.0) as usize].as_ref().unwrap()[0];
        assert!((1e3 * volts - ohms).abs() < 0.06, "{celsius} °C: {} and {ohms}", 1e3 * volts);
    }
}

/// The divider rule, over four decades.
#[test]
fn a_divider_over_its_lower_part() {
    let circuit = circuit(
        "[parts]\nJ1 = { kind = \"supply\", volts = 10, resistance = 0, nets = [\"IN\", \"GND\"] }\n\
         R1 = { value = \"10k\", nets = [\"IN\", \"OUT\"] }\n\
         R2 = { value = \"10k\", nets = [\"OUT\", \"GND\"] }\n",
    );
    let range = Range { from: 100.0, to: 1e6, count: 41, is_log: true };
    let found = over(&circuit, value(&circuit, "R2", "value", Unit::Ohm), range, &["OUT"]);
    assert!((found.places[10] - 1e3).abs() < 1e-6, "{}", found.places[10]);
    for (place, volts) in found.places.iter().zip(&found.rising.volts) {
        let wanted = 10.0 * place / (10e3 + place);
        let volts = volts.as_ref().unwrap()[0];
        assert!((volts - wanted).abs() < 1e-6, "{place}: {volts} and {wanted}");
    }
    assert!(found.falling.is_none(), "nothing remembers here");
}

/// The bridge: V (R2/(R1 + R2) − R4/(R3 + R4)), read from one middle to the other.
#[test]
fn a_bridge_is_followed_from_middle_to_middle() {
    let circuit = circuit(
        "[parts]\nJ1 = { kind = \"supply\", volts = 20, resistance = 0, nets = [\"TOP\", \"GND\"] }\n\
         R1 = { value = \"1k\", nets = [\"TOP\", \"L\"] }\nR2 = { value = \"1k\", nets = [\"L\", \"GND\"] }\n\
         R3 = { value = \"1k\", nets = [\"TOP\", \"R\"] }\nR4 = { value = \"1k\", nets = [\"R\", \"GND\"] }\n",
    );
    let [left, right] = ["L", "R"].map(|net| circuit.net(net).unwrap());
    let assembly = Assembly::new(&circuit);
    let swept = value(&circuit, "R4", "value", Unit::Ohm);
    let watched = [Watched::Between(left, right)];
    let board = (POWERED, &Overlay::none());
    let found = curve(&assembly, board, swept, linear(500.0, 2000.0, 16), &watched).unwrap();
    for (ohms, volts) in found.places.iter().zip(&found.rising.volts) {
        let wanted = 20.0 * (0.5 - ohms / (1e3 + ohms));
        assert!((volts.as_ref().unwrap()[0] - wanted).abs() < 1e-9, "{ohms}");
    }
    // Its band is that of the difference: four resistors of 5 %, each 20 V/4 · 5 % = 0.25 V, and a
    // balanced bridge does not see its supply.
    let band = &bands(&assembly, POWERED, &Overlay::none(), &watched).unwrap()[0];
    assert!((band.u - 0.5 / 3.0_f64.sqrt()).abs() < 1e-4, "{}", band.u);
    let corner = 20.0 * (1050.0 / 2000.0 - 950.0 / 2000.0);
    assert!((band.high - corner).abs() < 1e-9 && (band.low + corner).abs() < 1e-9);
    assert_eq!(band.shares.len(), 4);
}

/// A supervisor that lets go at its threshold and pulls down again below its hysteresis.
#[test]
fn hysteresis_shows_as_two_ways() {
    let circuit = circuit(
        "[parts]\nJ1 = { kind = \"supply\", volts = 5, resistance = 0, nets = [\"IN\", \"GND\"] }\n\
         R1 = { value = \"10k\", nets = [\"IN\", \"RUN\"] }\n\
         R2 = { value = \"1M\", nets = [\"RUN\", \"GND\"] }\n\
         [parts.U1]\nkind = \"supervisor\"\nthreshold = \"3.0 V\"\nhysteresis = \"0.2 V\"\n\
         pins = { sense = \"IN\", supply = \"IN\", output = \"RUN\", ground = \"GND\" }\n",
    );
    let swept = value(&circuit, "J1", "volts", Unit::Volt);
    let found = over(&circuit, swept, linear(1.5, 5.0, 71), &["RUN"]);
    let falling = found.falling.expect("two ways");
    let lets_go = found.rising.turns.last().unwrap().at;
    let pulls = falling.turns[0].at;
    // The threshold is where it holds; its hysteresis lies on the other side.
    let apart = lets_go - pulls;
    assert!((apart - 0.2).abs() < 2e-3, "{lets_go} {pulls}");
    // Between the two the ways differ, outside they do not.
    for (at, place) in found.places.iter().enumerate() {
        let [up, down] = [&found.rising, &falling].map(|run| run.volts[at].as_ref().unwrap()[0]);
        if (place - pulls).abs() < 5e-3 || (place - lets_go).abs() < 5e-3 {
            continue;
        }
        let inside = *place > pulls && *place < lets_go;
        assert_eq!((up - down).abs() > 0.5, inside, "{place}: {up} {down}");
    }
}

/// The enable of the standby supply with a leak: 1.2 V at the pin of 47k over 10k beside the leak.
#[test]
fn a_fault_goes_over_its_values_until_something_switches() {
    let circuit = bench::demo("standby-supply");
    let leak = fault::parse("EN leak", &circuit).unwrap();
    let range = Range { from: 1e3, to: 1e6, count: 61, is_log: true };
    let found = over(&circuit, Swept::Fault(leak), range, &["EN", "5V_SB"]);
    // 24 V · p / (47k + p) = 1.2 V at p = 2473.7 Ω, which is 10k beside 3286.7 Ω.
    let starts = found.rising.turns.iter().find(|turn| turn.to == "regulating").unwrap();
    assert!((starts.at - 3286.7).abs() < 5.0, "{}", starts.at);
    assert_eq!(circuit[starts.part].name, "U1");
    let names: Vec<&str> =
        found.rising.turns.iter().map(|turn| circuit[turn.part].name.as_str()).collect();
    assert_eq!(names[0], "U1", "the cause comes first: {names:?}");
    let limits = found.levels.iter().filter(|level| level.net == circuit.net("5V_SB").unwrap());
    assert!(limits.count() >= 2);
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]

    /// A linear board answers in a straight line to a source, whatever the resistors.
    #[test]
    fn a_source_on_a_linear_board_gives_a_straight_line(
        ohms in proptest::collection::vec(1.0..1e5_f64, 4),
        count in 3..40_usize,
    ) {
        let text = format!(
            "[parts]\nJ1 = {{ kind = \"supply\", volts = 5, resistance = 1, nets = [\"A\", \"GND\"] }}\n\
             R1 = {{ value = {}, nets = [\"A\", \"B\"] }}\nR2 = {{ value = {}, nets = [\"B\", \"GND\"] }}\n\
             R3 = {{ value = {}, nets = [\"B\", \"C\"] }}\nR4 = {{ value = {}, nets = [\"C\", \"GND\"] }}\n",
            ohms[0], ohms[1], ohms[2], ohms[3]
        );
        let circuit = circuit(&text);
        let swept = value(&circuit, "J1", "volts", Unit::Volt);
        let found = over(&circuit, swept, linear(-3.0, 12.0, count), &["C"]);
        let volts: Vec<f64> = found.rising.volts.iter().map(|v| v.as_ref().unwrap()[0]).collect();
        let slope = (volts[count - 1] - volts[0]) / 15.0;
        for (place, volts) in found.places.iter().zip(&volts) {
            prop_assert!((volts - slope * place).abs() < 1e-7 * (1.0 + volts.abs()));
        }
        prop_assert_eq!(found.rising.turns.len(), 0);
    }
}
