//! The reference lists the keys that the readers know, no fewer and no more.
//!
//! A reader that meets a key it does not know says which ones it knows; that is compared.

use ohmhound::circuit::{Connection, Param};
use ohmhound::device::{ALL, Pins, kind};
use ohmhound::file::{
    Parsed, Wanted, read_circuit, read_readings, read_readings_csv, read_stock, read_stock_csv,
};
use ohmhound::finding::Source;
use ohmhound::guide::{CIRCUIT, KeyTable, READINGS, READINGS_CSV, SHELF, STOCK};
use ohmhound::quantity::{Spread, Tolerance, Unit};
use ohmhound::report::{Style, kind_text};

/// A key that no reader knows and that is like none.
const UNKNOWN: &str = "zzzzzzzzzzzz";

const BOARD: &str = "[parts]\n\
    J1 = { kind = \"supply\", nets = [\"VIN\", \"GND\"], volts = 24 }\n\
    R1 = { value = 470, nets = [\"VIN\", \"GND\"] }\n";

fn circuit(text: &str) -> Parsed<ohmhound::circuit::Circuit> {
    read_circuit(&Source::new("c.toml", text), &mut |_| {
        Ok(Source::new("shelf.toml", format!("{UNKNOWN} = 1")))
    })
}

/// The words in backticks of the one finding that speaks of the unknown key.
#[track_caller]
fn known<T>(read: &Parsed<T>) -> Vec<String> {
    let finding = read
        .findings
        .iter()
        .find(|finding| finding.message.contains(UNKNOWN))
        .unwrap_or_else(|| panic!("nobody minds the key: {:?}", read.findings));
    let help = finding.help.as_deref().expect("help with the known ones");
    help.split('`').skip(1).step_by(2).map(str::to_owned).collect()
}

#[track_caller]
fn told(tables: &[KeyTable], place: &str) -> Vec<String> {
    let table = tables.iter().find(|table| table.place.starts_with(place));
    let table = table.unwrap_or_else(|| panic!("no table {place}"));
    table.keys.iter().map(|key| key.name.to_owned()).collect()
}

#[track_caller]
fn same(mut told: Vec<String>, mut known: Vec<String>) {
    told.sort();
    known.sort();
    assert_eq!(told, known, "told of at the left, known at the right");
}

#[test]
fn keys_of_circuit_files() {
    let places: [(&str, String); 7] = [
        ("The top", format!("{UNKNOWN} = 1\n{BOARD}")),
        ("[setups", format!("{BOARD}[setups.cold]\n{UNKNOWN} = 1")),
        ("connect", format!("{BOARD}[setups.cold]\nconnect = [{{ {UNKNOWN} = 1 }}]")),
        ("[limits", format!("{BOARD}[limits]\nVIN = {{ {UNKNOWN} = 1 }}")),
        ("[board]", format!("{BOARD}[board]\n{UNKNOWN} = 1")),
        (
            "pins",
            format!("[parts]\nU1 = {{ kind = \"chip\", pins = {{ a = {{ {UNKNOWN} = 1 }} }} }}"),
        ),
        ("The top", format!("{UNKNOWN} = 1\n{BOARD}")),
    ];
    for (place, text) in places {
        same(told(CIRCUIT, place), known(&circuit(&text)));
    }
    let shelf = circuit(&format!("shelf = [\"shelf.toml\"]\n{BOARD}"));
    same(told(SHELF, "The top"), known(&shelf));
}

/// A part takes the keys that every part has, and those of its kind's table.
#[test]
fn keys_of_parts_of_every_kind() {
    for kind in ALL {
        let (own, tables) = (kind.name(), [("parts", "[parts"), ("types", "[types")]);
        for (under, place) in tables {
            let part = format!("kind = \"{own}\", {UNKNOWN} = 1");
            let text = match under {
                "parts" => format!("[parts]\nX1 = {{ {part} }}"),
                _ => format!("{BOARD}[types.one]\nkind = \"{own}\"\n{UNKNOWN} = 1"),
            };
            let mut known = known(&circuit(&text));
            // Where a kind knows more keys than a message lists, the last word counts the rest.
            known.retain(|key| key != "and");
            let rows = kind.parameters().iter().map(|row| row.name.to_owned());
            let mut told = told(CIRCUIT, place);
            told.extend(rows.filter(|name| !name.contains(' ')));
            if under == "parts" && kind.pins() == Pins::Two {
                told.retain(|key| key != "pins");
            }
            same(told, known);
        }
    }
}

fn readings(text: &str) -> Parsed<ohmhound::circuit::Readings> {
    let board = circuit(BOARD).value.expect("the board is in order");
    read_readings(&Source::new("r.toml", text), &board)
}

#[test]
fn keys_of_readings_files() {
    for (place, text) in [
        ("[meter]", format!("[meter]\n{UNKNOWN} = 1")),
        ("[meter.volts]", format!("[meter.volts]\n{UNKNOWN} = 1")),
        ("[meter.amps]", format!("[meter.amps]\n{UNKNOWN} = 1")),
        ("[meter.ohms]", format!("[meter.ohms]\n{UNKNOWN} = 1")),
        ("[meter.diode]", format!("[meter.diode]\n{UNKNOWN} = 1")),
        ("[meter.beep]", format!("[meter.beep]\n{UNKNOWN} = 1")),
        ("PLACE", format!("[powered.volts]\nVIN = {{ value = 1, {UNKNOWN} = 1 }}")),
        ("[[done]]", format!("[[done]]\naction = \"cleaned\"\n{UNKNOWN} = 1")),
    ] {
        same(told(READINGS, place), known(&readings(&text)));
    }
    // Other names at the top are setups: those that are told of are none.
    for key in told(READINGS, "The top") {
        let found = readings(&format!("{key} = 1")).findings;
        assert!(
            found.iter().all(|finding| !finding.message.contains("unknown setup")),
            "{found:?}"
        );
    }
    let actions = readings(&format!("[[done]]\naction = \"{UNKNOWN}\"")).findings;
    let told = READINGS.last().expect("tables").keys[0].value;
    assert!(actions[0].message.contains(told), "{actions:?}");
}

#[test]
fn columns_of_csv_files_and_keys_of_stock_lists() {
    let board = circuit(BOARD).value.expect("the board is in order");
    let found = read_readings_csv(&Source::new("r.csv", UNKNOWN), &board).findings;
    let header = told(READINGS_CSV, "The first line").join(",");
    assert!(found[0].message.contains(&format!("`{header}`")), "{found:?}");
    let wanted =
        Wanted { unit: Unit::Ohm, rated: Unit::Watt, tolerance: Tolerance::Fraction(0.05) };
    let columns = told(STOCK, "[[stock]]");
    let csv = read_stock_csv(&Source::new("s.csv", UNKNOWN), wanted);
    same(columns.clone(), known(&csv));
    let toml = format!("[[stock]]\nvalue = \"10k\"\n{UNKNOWN} = 1");
    same(columns, known(&read_stock(&Source::new("s.toml", toml), wanted)));
}

/// What the reference says behind a key, and what applies without it.
#[track_caller]
fn said(place: &str, key: &str) -> String {
    let table = CIRCUIT.iter().find(|table| table.place.starts_with(place)).expect("the table");
    let key = table.keys.iter().find(|known| known.name == key).expect("the key");
    format!("{}; {}", key.value, key.without.text())
}

/// What the reference states of defaults and ranges that no table of the library holds.
#[test]
fn stated_defaults_and_ranges_apply() {
    let leads = said("connect", "resistance");
    assert!(leads.contains("from 1 µΩ to 1 TΩ; 10 mΩ of a bench supply"), "{leads}");
    let temperature = said("[setups", "temperature");
    assert_eq!(temperature, "°C, from -100 to 250; 25 °C");
    let ldo = kind_text(kind("ldo").expect("a kind"), Style::Plain, 80);
    let pull = ldo.split("enable_pull").nth(1).expect("the key");
    assert!(pull.trim_start().starts_with("the pull") && pull.contains("±30 %"), "{ldo}");
    let setup = "[setups.bench]\nbase = \"unpowered\"\nconnect = [{ nets = [\"VIN\", \"GND\"], volts = 5 }]";
    let board = circuit(&format!("{BOARD}{setup}")).value.expect("in order");
    let bench = board.setups.last().expect("the setup");
    assert!(matches!(bench.connections[0], Connection::Supply { resistance: 10e-3, .. }));
    let cold = circuit(&format!("{BOARD}[setups.cold]\ntemperature = -101")).findings;
    assert!(cold[0].message.contains("from -100 to 250 °C"), "{cold:?}");
    let tight = format!(
        "{BOARD}[setups.a]\nconnect = [{{ nets = [\"VIN\", \"GND\"], resistance = \"1 nΩ\" }}]"
    );
    let tight = circuit(&tight).findings;
    assert!(tight[0].message.contains("from 1 µΩ to 1 TΩ"), "{tight:?}");
    let pulled = "[parts]\nU1 = { kind = \"ldo\", output_volts = 5, enable_pull = \"up 100k\", \
                  pins = { input = \"VIN\", output = \"V5\", enable = \"EN\", ground = \"GND\" } }";
    let pulled = circuit(pulled).value.expect("in order");
    let Some(Param::Pull(pull)) = pulled.parts[0].param("enable_pull") else { panic!("a pull") };
    assert!(matches!(pull.value.spread, Some(Spread::Absolute(half)) if (half - 30e3).abs() < 1.0));
}
