//! What the readers make of files that are in order: the example of the manual, value by value.

use std::sync::Arc;

use approx::assert_relative_eq;
use ohmhound::circuit::{
    Appearance, Circuit, Connection, Input, Meter, Neighbours, NetId, Observed, POWERED, Place,
    Quantity, Reading, Readings, Sight, Spot, UNPOWERED,
};
use ohmhound::file::{Parsed, read_circuit, read_readings, read_readings_csv, reading_argument};
use ohmhound::finding::{Code, Source};
use ohmhound::quantity::Spread;

const CIRCUIT: &str = r#"
title = "Orchard gate opener, 5 V standby supply"
ground = "GND"
shelf = ["shop-parts.toml"]

[parts]
J1 = { kind = "supply", nets = ["VIN", "GND"], volts = "24 V", tolerance = "5 %", limit = "2 A", resistance = "50 mΩ" }
F1 = { resistance = "60 mΩ", rated = "1 A", nets = ["VIN", "VIN_F"] }
R1 = { value = "47k", tolerance = "1 %", nets = ["VIN_F", "EN"] }
R2 = { value = "10k", tolerance = "1 %", nets = ["EN", "GND"] }
R3 = { value = "52k3", tolerance = "1 %", nets = ["5V_SB", "FB"] }
R4 = { value = "10k", tolerance = "1 %", nets = ["FB", "GND"] }
D1 = { kind = "led", nets = ["LED_A", "GND"], drop = "2.0 V at 10 mA" }
R5 = { value = "680R", nets = ["5V_SB", "LED_A"] }
R6 = { value = 100, fitted = false, nets = ["5V_SB", "GND"] }
D2 = { type = "freewheel", nets = ["GND", "VIN_F"] }
R7 = { type = "shop-10k", nets = ["VIN_F", "3.3V"], value = "12k ± 100 Ω" }
S1 = { nets = ["3.3V", "GND"] }
TH1 = { value = "10k", beta = "3380 / 3435 / 3500", nets = ["3.3V", "GND"] }

[parts.RV1]
kind = "potentiometer"
pins = { a = "5V_SB", wiper = "EN", b = "GND" }
value = "100k"
position = "50 %"

[parts.J2]
kind = "connector"
pins = { "1" = ["VIN_F", "FAR_A"], "2" = ["GND", "FAR_B"] }

[types.freewheel]
kind = "diode"
drop = "0.9 V at 1 A"
tolerance = "0.2 V"

[setups.injected]
disconnect = ["J1"]
connect = [{ nets = ["5V_SB", "GND"], volts = "5 V", limit = "100 mA" }]

[setups.cold]
base = "unpowered"
closed = ["S1"]
lifted = ["R4"]
temperature = "-10 °C"
connect = [{ nets = ["EN", "GND"], resistance = "20m" }]

[limits]
"5V_SB" = { min = "4.75 V", max = "5.25 V" }

[board]
neighbours = [["EN", "GND"], ["R3", "R4"]]
weight = { R1 = 5 }
hard_to_reach = { FB = 5, RV1 = 20 }
no_access = ["VIN_F"]
"#;

const SHELF: &str = r#"
[types.shop-10k]
kind = "resistor"
value = "10k"
tolerance = "0.1 %"
"#;

const READINGS: &str = r#"
circuit = "gate-opener.toml"

[job]
ticket = "0412"
symptom = "gate does not move, no light"
received = 2026-02-03

[meter]
volts = { accuracy = "0.5 % + 2 counts", input = "10 MΩ" }
amps  = { accuracy = "1 % + 3 counts", resistance = "0.1 Ω" }
ohms  = { accuracy = "1 % + 3 counts", open_volts = "0.5 V", amps = "0.3 mA", leads = "0.2 Ω", range = "40 MΩ" }
diode = { accuracy = "1 % + 3 counts", amps = "1 mA", compliance = "3 V", display_max = "2 V" }

[powered.volts]
VIN_F = 23.9
EN = 0.02
"5V_SB" = 0.00
"VIN_F to EN" = 23.9
R5 = 0.0
"RV1.wiper" = 0.02
"3.3V" = [3.30, "3.1..3.4", "< 0.05 V"]

[powered.amps]
J1 = 0.012

[unpowered.ohms]
EN = "10.0 kΩ"
"VIN_F to EN" = "OL"
FB = "8k4 ± 100 Ω"
R1 = 1_000

[unpowered.diode]
"GND to 5V_SB" = 0.48

[unpowered.beep]
"R1 to EN" = true

[powered.seen]
D1 = "dark"

[seen]
R1 = "corroded"

[[done]]
action = "replaced"
part = "R1"
with = "47k 1 %"

[after.powered.volts]
"5V_SB" = 4.98

[good.injected.volts]
EN = { value = 1.20, meter = { input = "20 kΩ/V on 10 V" } }
"#;

fn in_order<T>(read: Parsed<T>) -> T {
    let texts: Vec<_> = read.findings.iter().map(|f| (&f.message, &f.help)).collect();
    assert!(read.findings.is_empty(), "{texts:#?}");
    read.value.expect("a value without findings")
}

fn circuit() -> Circuit {
    let source = Source::new("gate-opener.toml", CIRCUIT);
    in_order(read_circuit(&source, &mut |name| {
        assert_eq!(name, "shop-parts.toml");
        Ok(Source::new(name, SHELF))
    }))
}

fn readings(circuit: &Circuit) -> Readings {
    in_order(read_readings(&Source::new("job.toml", READINGS), circuit))
}

fn part<'a>(circuit: &'a Circuit, name: &str) -> &'a ohmhound::circuit::Part {
    &circuit[circuit.part(name).expect(name)]
}

#[test]
fn nets_and_parts_come_in_the_order_of_the_file_with_ground_first() {
    let circuit = circuit();
    assert_eq!(circuit.title, "Orchard gate opener, 5 V standby supply");
    assert_eq!(circuit.nets[..5], ["GND", "VIN", "VIN_F", "EN", "5V_SB"]);
    assert_eq!(circuit.net("GND"), Some(NetId::GROUND));
    let names: Vec<_> = circuit.parts.iter().take(4).map(|part| part.name.as_str()).collect();
    assert_eq!(names, ["J1", "F1", "R1", "R2"]);
    let kinds: Vec<_> = circuit.parts.iter().map(|part| part.kind).collect();
    assert_eq!(
        kinds,
        [
            "supply",
            "fuse",
            "resistor",
            "resistor",
            "resistor",
            "resistor",
            "led",
            "resistor",
            "resistor",
            "diode",
            "resistor",
            "switch",
            "thermistor",
            "potentiometer",
            "connector"
        ]
    );
}

#[test]
fn values_have_the_tolerance_that_is_nearest_to_them() {
    let circuit = circuit();
    let spread = |name: &str, key: &str| part(&circuit, name).number(key).unwrap().spread;
    assert_eq!(part(&circuit, "R3").nominal("value"), Some(52.3e3));
    assert_eq!(spread("R3", "value"), Some(Spread::Absolute(523.0)));
    // No tolerance given: the default of the kind, which is then listed as assumed.
    assert_eq!(spread("R5", "value"), Some(Spread::Absolute(34.0)));
    assert_eq!(part(&circuit, "R5").usual, ["value"]);
    // `tolerance` speaks of the volts of a supply, not of its limit or resistance.
    assert_relative_eq!(part(&circuit, "J1").number("volts").unwrap().half_width_low(), 1.2);
    assert_eq!(spread("J1", "limit"), Some(Spread::Absolute(0.5)));
    assert_eq!(spread("J1", "resistance"), Some(Spread::Factor(2.0)));
    let beta = part(&circuit, "TH1").number("beta").unwrap();
    assert_eq!((beta.least(), beta.nominal, beta.most()), (3380.0, 3435.0, 3500.0));
    let drop = part(&circuit, "D1").point("drop").unwrap();
    assert_eq!((drop.value.nominal, drop.at), (2.0, Some(0.01)));
    assert_eq!(part(&circuit, "RV1").nominal("position"), Some(0.5));
}

#[test]
fn a_type_gives_what_the_part_does_not_say() {
    let circuit = circuit();
    let drop = part(&circuit, "D2").point("drop").unwrap();
    assert_eq!((drop.value.nominal, drop.at), (0.9, Some(1.0)));
    assert_eq!(drop.value.half_width_low(), 0.2);
}

#[test]
fn pins_come_in_the_order_of_the_kind() {
    let circuit = circuit();
    let pins = |name: &str| -> Vec<(String, String)> {
        let pins = &part(&circuit, name).pins;
        pins.iter().map(|pin| (pin.name.clone(), circuit.net_name(pin.net).to_owned())).collect()
    };
    let pair = |pin: &str, net: &str| (pin.to_owned(), net.to_owned());
    assert_eq!(pins("RV1"), [pair("a", "5V_SB"), pair("wiper", "EN"), pair("b", "GND")]);
    assert_eq!(
        pins("J2"),
        [pair("1", "VIN_F"), pair("1 far", "FAR_A"), pair("2", "GND"), pair("2 far", "FAR_B")]
    );
    assert!(!part(&circuit, "R6").fitted);
}

#[test]
fn setups_start_from_their_base() {
    let circuit = circuit();
    let injected = &circuit[circuit.setup("injected").unwrap()];
    let (sb, ground) = (circuit.net("5V_SB").unwrap(), NetId::GROUND);
    assert!(injected.sources_on);
    assert_eq!(injected.disconnected, [circuit.part("J1").unwrap()]);
    let bench =
        Connection::Supply { nets: [sb, ground], volts: 5.0, limit: Some(0.1), resistance: 0.01 };
    assert_eq!(injected.connections, [bench]);
    let cold = &circuit[circuit.setup("cold").unwrap()];
    assert!(!cold.sources_on);
    assert_eq!(cold.closed, [circuit.part("S1").unwrap()]);
    assert_eq!(cold.lifted, [circuit.part("R4").unwrap()]);
    assert_eq!(cold.celsius, -10.0);
    let en = circuit.net("EN").unwrap();
    assert_eq!(cold.connections, [Connection::Link { nets: [en, ground], resistance: 0.02 }]);
}

#[test]
fn the_board_and_its_limits_are_read() {
    let circuit = circuit();
    let (net, part) = (|name| circuit.net(name).unwrap(), |name| circuit.part(name).unwrap());
    let board = &circuit.board;
    let pairs =
        [Neighbours::Nets(net("EN"), net("GND")), Neighbours::Parts(part("R3"), part("R4"))];
    assert_eq!(board.neighbours, pairs);
    assert_eq!(board.weight_of(part("R1")), 5.0);
    assert_eq!(board.net_effort, [(net("FB"), 5.0)]);
    assert_eq!(board.part_effort, [(part("RV1"), 20.0)]);
    assert!(!board.can_probe(net("VIN_F")));
    let (limited, limit) = circuit.limits[0];
    assert_eq!((limited, limit.min, limit.max), (net("5V_SB"), Some(4.75), Some(5.25)));
}

fn at<'a>(readings: &'a [Reading], quantity: Quantity, place: &str) -> Vec<&'a Reading> {
    let same = |r: &&Reading| r.quantity == quantity && r.place_text == place;
    readings.iter().filter(same).collect()
}

#[test]
fn counts_come_from_the_digits_as_written() {
    let circuit = circuit();
    let read = readings(&circuit);
    let number = |quantity, place: &str| match at(&read.readings, quantity, place)[0].observed {
        Observed::Number { value, count, half_width } => (value, count, half_width),
        other => panic!("{place}: {other:?}"),
    };
    assert_eq!(number(Quantity::Volts, "VIN_F"), (23.9, 0.1, None));
    assert_eq!(number(Quantity::Volts, "5V_SB"), (0.0, 0.01, None));
    assert_eq!(number(Quantity::Amps, "J1"), (0.012, 0.001, None));
    assert_eq!(number(Quantity::Ohms, "EN"), (10e3, 100.0, None));
    assert_eq!(number(Quantity::Ohms, "FB"), (8400.0, 100.0, Some(100.0)));
    assert_eq!(number(Quantity::Ohms, "R1"), (1000.0, 1.0, None));
    assert_eq!(number(Quantity::Diode, "GND to 5V_SB"), (0.48, 0.01, None));
}

#[test]
fn places_are_nets_parts_pins_and_pairs() {
    let circuit = circuit();
    let read = readings(&circuit);
    let place = |quantity, place: &str| at(&read.readings, quantity, place)[0].place;
    let (net, part) = (|name| circuit.net(name).unwrap(), |name| circuit.part(name).unwrap());
    let spot = |name| Spot::Net(net(name));
    assert_eq!(place(Quantity::Volts, "EN"), Place::At(spot("EN")));
    assert_eq!(place(Quantity::Volts, "3.3V"), Place::At(spot("3.3V")));
    assert_eq!(place(Quantity::Volts, "VIN_F to EN"), Place::Between(spot("VIN_F"), spot("EN")));
    assert_eq!(place(Quantity::Volts, "R5"), Place::Part(part("R5")));
    assert_eq!(place(Quantity::Volts, "RV1.wiper"), Place::At(Spot::Pin(part("RV1"), 1)));
    assert_eq!(place(Quantity::Diode, "GND to 5V_SB"), Place::Between(spot("GND"), spot("5V_SB")));
    // The part beside a net is its own pin there: the joint between the two is what is tested.
    assert_eq!(
        place(Quantity::Beep, "R1 to EN"),
        Place::Between(Spot::Pin(part("R1"), 1), spot("EN"))
    );
}

#[test]
fn what_is_not_a_number_is_read_as_what_it_is() {
    let circuit = circuit();
    let read = readings(&circuit);
    let observed = |quantity, place: &str| -> Vec<Observed> {
        at(&read.readings, quantity, place).iter().map(|reading| reading.observed).collect()
    };
    assert_eq!(observed(Quantity::Ohms, "VIN_F to EN"), [Observed::Over]);
    assert_eq!(observed(Quantity::Beep, "R1 to EN"), [Observed::Beep(true)]);
    assert_eq!(observed(Quantity::Seen, "D1"), [Observed::Sight(Sight::Dark)]);
    // An array holds repeats.
    assert_eq!(
        observed(Quantity::Volts, "3.3V"),
        [
            Observed::Number { value: 3.3, count: 0.01, half_width: None },
            Observed::Between { low: 3.1, high: 3.4 },
            Observed::Below(0.05)
        ]
    );
}

#[test]
fn the_job_the_repair_and_its_proof_are_read() {
    let circuit = circuit();
    let read = readings(&circuit);
    assert_eq!(read.circuit.as_deref(), Some("gate-opener.toml"));
    let entry = |key: &str, text: &str| (key.to_owned(), text.to_owned());
    assert_eq!(
        read.job.entries,
        [
            entry("ticket", "0412"),
            entry("symptom", "gate does not move, no light"),
            entry("received", "2026-02-03")
        ]
    );
    // The meter of the example is the usual one.
    assert_eq!(read.meter, Meter::default());
    let r1 = circuit.part("R1").unwrap();
    assert_eq!(read.seen, [(r1, Appearance::Corroded)]);
    assert_eq!(read.done[0].action, "replaced");
    assert_eq!(read.done[0].part, Some(r1));
    assert_eq!(read.done[0].with.as_deref(), Some("47k 1 %"));
    assert_eq!((read.after.len(), read.after[0].setup), (1, POWERED));
    let good = &read.good[0];
    assert_eq!(good.setup, circuit.setup("injected").unwrap());
    assert_eq!(good.meter.volts.input, Input::PerVolt { ohms_per_volt: 20e3, range: 10.0 });
    assert_eq!(good.meter.volts.input.ohms(), 200e3);
}

#[test]
fn comma_separated_values_give_the_same_readings() {
    let circuit = circuit();
    let text = "setup,quantity,place,value\r\n\
                powered,volts,EN,0.02\r\n\
                powered,volts,\"VIN_F to EN\",23.9\r\n\
                \r\n\
                unpowered,ohms,EN,10.0 kΩ\n\
                unpowered,beep,R1 to EN,true\n\
                powered,volts,EN,\"0.03\"";
    let read = in_order(read_readings_csv(&Source::new("job.csv", text), &circuit));
    let toml = readings(&circuit);
    for reading in &read.readings[..4] {
        let same = at(&toml.readings, reading.quantity, &reading.place_text);
        assert_eq!(same, [reading], "{}", reading.place_text);
    }
    // A place that comes twice is a repeat.
    assert_eq!(at(&read.readings, Quantity::Volts, "EN").len(), 2);
}

#[test]
fn arguments_give_the_same_readings() {
    let circuit = circuit();
    let toml = readings(&circuit);
    let meter = Meter::default();
    for (setup, quantity, text, place) in [
        (POWERED, Quantity::Volts, "EN=0.02", "EN"),
        (POWERED, Quantity::Volts, " VIN_F to EN = 23.9 ", "VIN_F to EN"),
        (UNPOWERED, Quantity::Ohms, "VIN_F to EN=OL", "VIN_F to EN"),
        (UNPOWERED, Quantity::Beep, "R1 to EN=true", "R1 to EN"),
        (POWERED, Quantity::Seen, "D1=dark", "D1"),
    ] {
        let read = in_order(reading_argument(&circuit, &meter, setup, quantity, text));
        assert_eq!(at(&toml.readings, quantity, place), [&read], "{text}");
    }
}

/// Reads a circuit without a shelf.
fn read(text: &str) -> Parsed<Circuit> {
    let source: Arc<Source> = Source::new("circuit.toml", text);
    read_circuit(&source, &mut |_| Err("no shelf here".to_owned()))
}

fn codes<T>(read: &Parsed<T>) -> Vec<Code> {
    read.findings.iter().map(|finding| finding.code).collect()
}

#[test]
fn a_part_wins_over_its_type_with_value_and_tolerance() {
    let text = "[parts]\nR1 = { type = \"t\", value = \"2k\", nets = [\"A\", \"GND\"] }\n\
                R2 = { type = \"t\", tolerance = \"5 %\", nets = [\"A\", \"GND\"] }\n\
                [types.t]\nvalue = \"1k ± 1 %\"";
    let circuit = in_order(read(text));
    let value = |name| *part(&circuit, name).number("value").unwrap();
    assert_eq!((value("R1").nominal, value("R1").half_width_low()), (2000.0, 100.0));
    assert_eq!((value("R2").nominal, value("R2").half_width_low()), (1000.0, 50.0));
}

#[test]
fn every_complaint_of_a_file_comes_in_the_order_of_the_text() {
    let text = "[parts]\n\
                R1 = { value = \"4,7k\", nets = [\"A\", \"GND\"] }\n\
                R2 = { valu = 5, nets = [\"A\", \"GND\"] }\n\
                U1 = { nets = [\"A\", \"GND\"] }\n\
                [setups.x]\nopen = [\"R9\"]\n";
    let read = read(text);
    assert!(read.value.is_none());
    let expected = [Code::BadValue, Code::WrongShape, Code::KindOpen, Code::UnknownName].to_vec();
    assert_eq!(codes(&read), expected, "{:#?}", read.findings);
    let places: Vec<_> = read.findings.iter().map(|f| f.labels[0].range.start).collect();
    assert!(places.is_sorted(), "{places:?}");
    // The range is that of the slip itself: the comma, the misspelt key.
    assert_eq!(&text[read.findings[0].labels[0].range.clone()], ",");
    assert_eq!(&text[read.findings[1].labels[0].range.clone()], "valu");
}

/// Reads a circuit with the shelf files given by name and text.
fn read_with(text: &str, shelf: &[(&str, &str)]) -> (Parsed<Circuit>, Vec<String>) {
    let source: Arc<Source> = Source::new("circuit.toml", text);
    let mut asked = Vec::new();
    let read = read_circuit(&source, &mut |name| {
        asked.push(name.to_owned());
        let (_, text) = shelf.iter().find(|(known, _)| *known == name).ok_or("no such file")?;
        Ok(Source::new(name, *text))
    });
    (read, asked)
}

#[test]
fn a_shelf_file_may_name_others_relative_to_itself() {
    let text = "shelf = [\"shop/all.toml\"]\n[parts]\n\
                R1 = { type = \"ten\", nets = [\"A\", \"GND\"] }\n\
                R2 = { type = \"mine\", nets = [\"A\", \"GND\"] }";
    let all = "shelf = [\"old/more.toml\"]\n[types.mine]\nkind = \"resistor\"\nvalue = \"1k\"";
    let more = "[types.ten]\nkind = \"resistor\"\nvalue = \"10k\"\n\
                [types.mine]\nkind = \"resistor\"\nvalue = \"2k\"";
    let shelf = [("shop/all.toml", all), ("shop/old/more.toml", more)];
    let (read, asked) = read_with(text, &shelf);
    let circuit = in_order(read);
    assert_eq!(asked, ["shop/all.toml", "shop/old/more.toml"]);
    assert_eq!(part(&circuit, "R1").nominal("value"), Some(10e3));
    // A file's own types win over those of its shelf.
    assert_eq!(part(&circuit, "R2").nominal("value"), Some(1e3));
}

#[test]
fn two_shelf_files_may_name_the_same_third_one() {
    let text = "shelf = [\"a.toml\", \"b.toml\"]\n[parts]\n\
                R1 = { type = \"ten\", nets = [\"A\", \"GND\"] }";
    let third = "[types.ten]\nkind = \"resistor\"\nvalue = \"10k\"";
    let shelf = [
        ("a.toml", "shelf = [\"c.toml\"]"),
        ("b.toml", "shelf = [\"./c.toml\"]"),
        ("c.toml", third),
    ];
    let (read, asked) = read_with(text, &shelf);
    in_order(read);
    assert_eq!(asked, ["a.toml", "c.toml", "b.toml"]);
}

#[test]
fn a_shelf_that_leads_to_itself_is_refused_with_the_way() {
    let text = "shelf = [\"a.toml\"]\n[parts]\nR1 = { value = 5, nets = [\"A\", \"GND\"] }";
    let shelf = [("a.toml", "shelf = [\"b.toml\"]"), ("b.toml", "shelf = [\"a.toml\"]")];
    let (read, _) = read_with(text, &shelf);
    assert!(read.value.is_none());
    let [finding] = &read.findings[..] else { panic!("{:#?}", read.findings) };
    assert!(finding.message.ends_with("`a.toml`, `b.toml`, `a.toml`"), "{}", finding.message);
    assert_eq!(finding.labels[0].source.name, "b.toml");
}

#[test]
fn an_error_in_a_type_shows_the_file_it_came_from() {
    let text = "shelf = [\"a.toml\"]\n[parts]\nR1 = { type = \"t\", nets = [\"A\", \"GND\"] }";
    let bad = "[types.t]\nkind = \"resistor\"\nvalue = \"4,7k\"";
    let (read, _) = read_with(text, &[("a.toml", "shelf = [\"b.toml\"]"), ("b.toml", bad)]);
    assert_eq!(codes(&read), [Code::BadValue]);
    assert_eq!(read.findings[0].labels[0].source.name, "b.toml");
}

#[test]
fn a_regulator_has_the_pins_that_are_fitted() {
    let text = "[parts]\nU1 = { kind = \"buck\", reference = \"0.8 V\", enable_pull = \"up 1 µA\", \
                pins = { feedback = \"FB\", enable = \"EN\", ground = \"GND\", output = \"OUT\", \
                input = \"VIN\" }, maximum = { enable = \"6 V\" } }\n\
                U2 = { kind = \"buck\", reference = \"0.8 V\", enable_pull = \"down 1M ± 10 %\", \
                pins = { feedback = \"FB\", enable = \"EN\", ground = \"GND\", output = \"OUT\", \
                input = \"VIN\" } }";
    let circuit = in_order(read(text));
    let u1 = part(&circuit, "U1");
    let names: Vec<&str> = u1.pins.iter().map(|pin| pin.name.as_str()).collect();
    assert_eq!(names, ["input", "output", "ground", "enable", "feedback"]);
    assert_eq!(u1.maximum, [(3, 6.0)]);
    let pull = u1.pull("enable_pull").unwrap();
    assert!(pull.up && pull.is_current);
    assert_relative_eq!(pull.value.most(), 1.3e-6, max_relative = 1e-12);
    let pull = part(&circuit, "U2").pull("enable_pull").unwrap();
    assert!(!pull.up && !pull.is_current);
    assert_relative_eq!(pull.value.least(), 0.9e6, max_relative = 1e-12);
}

#[test]
fn a_chip_knows_of_its_pins_what_the_file_says() {
    let text = "[parts]\nU1 = { kind = \"chip\", pins = { vdd = { net = \"3V3\", \
                draws = \"20 mA above 2.7 V\" }, io = { net = \"IO\", to_ground = \"10k\", \
                clamp_to = \"vdd\" }, ground = \"GND\", spare = \"NC\" } }";
    let circuit = in_order(read(text));
    assert_eq!(circuit.nets, ["GND", "3V3", "IO", "NC"]);
    let u1 = part(&circuit, "U1");
    let draws = u1.number(ohmhound::device::DRAWS[0]).unwrap();
    assert_eq!((draws.nominal, u1.chip[0].draws_above), (20e-3, Some(2.7)));
    assert_relative_eq!(draws.most(), 26e-3, max_relative = 1e-12);
    assert_eq!(u1.nominal(ohmhound::device::TO_GROUND[1]), Some(10e3));
    assert_eq!((u1.chip[1].clamp_to, u1.chip[2].clamp_to), (Some(0), None));
    assert_eq!(u1.pins.len(), 4);
}
