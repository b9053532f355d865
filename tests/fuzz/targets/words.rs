//! Short texts: values, fault phrases, answers at the bench.

use ohmhound::circuit::{Circuit, Meter, Observed, POWERED, Place, Quantity, Spot};
use ohmhound::diagnosis::Probe;
use ohmhound::engine::Assembly;
use ohmhound::fault::parse;
use ohmhound::file::{Entry, Log, read_readings, reading_answer};
use ohmhound::plan::Measurement;
use ohmhound::quantity::{
    Series, Unit, ValueError, in_words, letter_code, parse_joined, parse_number, parse_point,
    parse_reading, parse_tolerance, parse_toleranced, prefix_slip, print, print_count, print_exact,
    print_short, readings_of, shown, slips,
};

use super::{BOARDS, board, owed, said, text};

/// What an answer means is the program's: the library has no session.
#[allow(dead_code, reason = "the words for completion are the editor's")]
#[path = "../../../src/cli/bench/answer.rs"]
mod answer;

/// A value, in every unit and by every parser.
pub fn values(bytes: &[u8]) {
    let Some(text) = text(bytes) else { return };
    let placed = |error: &ValueError| {
        assert!(text.get(error.range.clone()).is_some(), "{error:?} in {text:?}");
        assert!(!error.message.is_empty());
    };
    for unit in Unit::ALL {
        match parse_number(text, unit) {
            Ok(number) => printed(number.value, number.count, unit),
            Err(error) => placed(&error),
        }
        match parse_toleranced(text, unit) {
            Ok(value) => {
                assert!(
                    value.least() <= value.nominal && value.nominal <= value.most(),
                    "{value:?}"
                );
                assert!(value.standard_uncertainty() >= 0.0, "{value:?}");
            }
            Err(error) => placed(&error),
        }
        let _ = parse_tolerance(text, unit).map_err(|error| placed(&error));
        let _ = parse_point(text, unit, Unit::Amp).map_err(|error| placed(&error));
        let _ = parse_joined(text, unit, "above", Unit::Volt).map_err(|error| placed(&error));
        let _ = parse_reading(text, unit).map_err(|error| placed(&error));
        if let Some(slip) = prefix_slip(text, unit) {
            assert!(!format!("{slip:?}").is_empty());
        }
    }
    match readings_of(text) {
        Ok(all) => all.iter().for_each(|one| assert!(!one.text().is_empty())),
        Err(error) => placed(&error),
    }
}

/// A value that was read prints, and what is printed reads back.
fn printed(value: f64, count: f64, unit: Unit) {
    assert!(value.is_finite() && count > 0.0, "{value} {count}");
    let read = |text: &str| match parse_number(text, unit) {
        Ok(number) => number.value,
        Err(error) => panic!("{text}, printed of {value:e} {unit:?}: {error}"),
    };
    assert_eq!(read(&print_exact(value, unit)), value);
    let near = |text: &str, share: f64| {
        let back = read(text);
        assert!((back - value).abs() <= share * value.abs(), "{text} of {value:e}");
    };
    near(&print_short(value, unit), 5.1e-4);
    near(&print(value, unit, 6), 5.1e-6);
    if value.abs() < 1e15 * count && count < f64::MAX / 10.0 {
        let back = read(&print_count(value, count, unit));
        assert!(
            (back - value).abs() <= 0.51 * count + 1e-12 * value.abs(),
            "{back} {value} {count}"
        );
    }
    assert!(!in_words(value, unit).is_empty() && !shown(value, unit).is_empty());
    if unit == Unit::Ohm {
        if let Some(code) = letter_code(value) {
            assert_eq!(parse_number(&code, unit).map(|number| number.value), Ok(value), "{code}");
        }
        for series in Series::ALL {
            let _ = slips(value, series);
        }
    }
}

/// A fault phrase a line, on the demo boards: what is read prints and reads back, and the board with
/// it ends in some way.
pub fn faults(bytes: &[u8]) {
    let Some(text) = text(bytes) else { return };
    for (name, _) in &BOARDS[..3] {
        let circuit = board(name);
        let assembly = Assembly::new(&circuit);
        for line in text.lines().take(4) {
            let fault = match parse(line, &circuit) {
                Ok(fault) => fault,
                Err(message) => {
                    assert!(!message.is_empty());
                    continue;
                }
            };
            let phrase = fault.full_phrase(&circuit);
            let back = parse(&phrase, &circuit).map(|fault| fault.full_phrase(&circuit));
            assert_eq!(back.as_ref(), Ok(&phrase), "of {line:?}");
            let Some(overlay) = fault.overlay(&circuit) else { continue };
            if let Some(point) = assembly.power_up(POWERED, &overlay, None).run.point {
                super::whole::holds(&point);
            }
        }
    }
}

/// Answers of a session, a line each: a reading that is taken is in the log as it was typed, and
/// taking everything back leaves the log as it was.
pub fn answers(bytes: &[u8]) {
    let Some(text) = text(bytes) else { return };
    let circuit = board("standby-supply.toml");
    let asked = circuit.net("EN").map(|net| {
        let probe =
            Probe { setup: POWERED, quantity: Quantity::Volts, place: Place::At(Spot::Net(net)) };
        Measurement { probe, place_text: "EN".to_owned(), effort: 1.0 }
    });
    let taken: Vec<Typed> = text
        .lines()
        .take(6)
        .enumerate()
        .filter_map(|(number, line)| {
            typed(&circuit, asked.as_ref().filter(|_| number % 2 == 0), line)
        })
        .collect();
    if taken.is_empty() {
        return;
    }
    let folder = std::env::temp_dir().join(format!("ohmhound-answers-{}", std::process::id()));
    std::fs::create_dir_all(&folder).expect("a folder for the log");
    let path = folder.join("log.toml");
    let _ = std::fs::remove_file(&path);
    logged(&circuit, &path, &taken);
    let _ = std::fs::remove_dir_all(&folder);
}

/// What a line of a session leaves in the log.
enum Typed {
    Reading { setup: String, quantity: Quantity, place: String, value: String, observed: Observed },
    Job { key: String, text: String },
}

fn typed(circuit: &Circuit, asked: Option<&Measurement>, line: &str) -> Option<Typed> {
    use answer::Answer;
    let (setup, quantity, place, value) = match answer::read(circuit, asked, line) {
        Answer::Reading { setup, quantity, place, value } => (setup, quantity, place, value),
        Answer::Value(value) => (POWERED, Quantity::Volts, "EN".to_owned(), value),
        Answer::Job { key, text } => return Some(Typed::Job { key, text }),
        Answer::Unclear(advice) => {
            assert!(!advice.is_empty());
            return None;
        }
        _ => return None,
    };
    let read = reading_answer(circuit, &Meter::default(), (setup, quantity), &place, &value);
    owed(&read);
    let observed = read.value?.observed;
    let setup = circuit[setup].name.clone();
    Some(Typed::Reading { setup, quantity, place, value, observed })
}

fn logged(circuit: &Circuit, path: &std::path::Path, taken: &[Typed]) {
    let mut log = Log::open(path, "standby-supply.toml").expect("a log of its own");
    let empty = log.text().to_owned();
    for one in taken {
        let entry = match one {
            Typed::Reading { setup, quantity, place, value, .. } => {
                Entry::Reading { after: false, setup, quantity: *quantity, place, value }
            }
            Typed::Job { key, text } => Entry::Job { key, text },
        };
        log.add(&entry).expect("room on the disk");
    }
    let read = read_readings(&log.source(), circuit);
    said(&read.findings);
    let found = read.value.unwrap_or_else(|| panic!("{:?} of\n{}", read.findings, log.text()));
    let wanted = taken.iter().filter_map(|one| match one {
        Typed::Reading { observed, .. } => Some(format!("{observed:?}")),
        Typed::Job { .. } => None,
    });
    let mut wanted: Vec<String> = wanted.collect();
    let mut back: Vec<String> =
        found.readings.iter().map(|reading| format!("{:?}", reading.observed)).collect();
    // The file holds them by their places, not in the order in which they came.
    wanted.sort();
    back.sort();
    assert_eq!(back, wanted, "{}", log.text());
    for one in taken.iter().rev() {
        if let Typed::Job { key, text } = one {
            let known = found.job.entries.iter().find(|(known, _)| known == key);
            assert!(known.is_some(), "{text:?} of the ticket is gone");
        }
    }
    while log.undo().expect("room on the disk") {}
    assert_eq!(log.text(), empty);
}
