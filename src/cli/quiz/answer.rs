//! What a student typed.

use ohmhound::circuit::{Circuit, POWERED, Quantity, SetupId, UNPOWERED};
use ohmhound::fault::{self, Evidence, Fault, hypotheses};
use ohmhound::finding::nearest;

use crate::cli::bench::answer::quantity;

/// Words that begin a line, for completion.
pub(super) const WORDS: &[&str] = &[
    "volts", "ohms", "diode", "beep", "amps", "to", "predict", "hint", "guess", "give up", "notes",
    "symptom", "parts", "faults", "help", "quit", "open", "shorted", "drifted", "leaky", "dead",
];

/// Failures that are named of one part at most.
const NAMED: usize = 8;

/// What is wanted.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Wish {
    Nothing,
    Help,
    Symptom,
    Parts,
    Faults,
    Notes,
    Hint(Option<u8>),
    Guess(Fault),
    Measure {
        setup: SetupId,
        quantity: Quantity,
        place: String,
    },
    Predict {
        setup: SetupId,
        quantity: Quantity,
        place: String,
        value: String,
    },
    GiveUp,
    /// Not understood, with advice.
    Unclear(String),
}

/// Reads a line.
pub(super) fn read(circuit: &Circuit, line: &str) -> Wish {
    let words: Vec<String> = line.split_whitespace().map(|word| as_named(circuit, word)).collect();
    let words: Vec<&str> = words.iter().map(String::as_str).collect();
    let Some((&first, rest)) = words.split_first() else { return Wish::Nothing };
    // A net may be called as a command is: then it is the net that was meant.
    let is_name = circuit.net(first).is_some() || circuit.part(first).is_some();
    if is_name {
        return measure(circuit, &words);
    }
    match (first.to_lowercase().as_str(), rest) {
        ("help" | "?", []) => Wish::Help,
        ("how" | "what" | "why" | "where" | "who", _) => {
            Wish::Unclear("`help` lists what can be typed, `hint` says where to look".to_owned())
        }
        ("symptom" | "symptoms", []) => Wish::Symptom,
        ("parts" | "nets" | "board", []) => Wish::Parts,
        ("faults" | "forms", []) => Wish::Faults,
        ("notes" | "status" | "readings", []) => Wish::Notes,
        ("hint" | "hints", []) => Wish::Hint(None),
        ("hint", [level]) => match level.parse() {
            Ok(level @ 1..=3) => Wish::Hint(Some(level)),
            _ => Wish::Unclear(format!("expected a hint of level 1, 2 or 3, found `{level}`")),
        },
        ("give", ["up"]) | ("quit" | "exit" | "solution", []) => Wish::GiveUp,
        ("guess", []) => Wish::Unclear("say what is wrong, as in `guess R1 open`".to_owned()),
        ("guess", phrase) => guess(circuit, &phrase.join(" ")),
        ("predict", rest) => predict(circuit, rest),
        _ => measure(circuit, &words),
    }
}

/// A word with the capitals that the circuit writes: names differ in more than these.
fn as_named(circuit: &Circuit, word: &str) -> String {
    let names = || circuit.nets.iter().chain(circuit.parts.iter().map(|part| &part.name));
    let known = |word: &str| {
        let exact = names().find(|name| *name == word);
        exact.or_else(|| names().find(|name| name.to_lowercase() == word.to_lowercase())).cloned()
    };
    let quantity = quantity(&word.to_lowercase()).map(|quantity| quantity.word().to_owned());
    if let Some(name) = known(word).or(quantity) {
        return name;
    }
    match word.split_once('.') {
        Some((part, pin)) => known(part).map_or(word.to_owned(), |part| format!("{part}.{pin}")),
        None => word.to_owned(),
    }
}

/// What is to be measured, in front of further words.
fn asked<'w>(
    circuit: &Circuit,
    words: &'w [&'w str],
) -> Result<(SetupId, Quantity, String, &'w [&'w str]), String> {
    let mut left = words;
    let setup = left.first().and_then(|word| circuit.setup(word));
    left = &left[usize::from(setup.is_some())..];
    let known = left.first().and_then(|word| quantity(word));
    left = &left[usize::from(known.is_some())..];
    let quantity = known.unwrap_or(Quantity::Volts);
    let usual = if quantity.needs_power_off() { UNPOWERED } else { POWERED };
    let setup = setup.unwrap_or(usual);
    let n_place = if left.get(1) == Some(&"to") { 3 } else { 1 };
    let Some(place) = left.get(..n_place) else {
        return Err(match left.first() {
            Some(_) => "say to which net the black lead goes, as in `A to B`".to_owned(),
            None => format!("say where, as in `{} {}`", quantity.word(), example(circuit)),
        });
    };
    Ok((setup, quantity, place.join(" "), &left[n_place..]))
}

fn measure(circuit: &Circuit, words: &[&str]) -> Wish {
    let (setup, quantity, place, rest) = match asked(circuit, words) {
        Ok(asked) => asked,
        Err(advice) => return Wish::Unclear(advice),
    };
    let begins = words.first().copied().unwrap_or_default();
    let is_known = |name: &str| {
        let part = name.split_once('.').map_or(name, |(part, _)| part);
        circuit.net(name).is_some() || circuit.part(part).is_some()
    };
    let first = place.split(' ').next().unwrap_or_default();
    if first == begins && !is_known(first) {
        return Wish::Unclear(unknown(circuit, first));
    }
    if rest.is_empty() {
        return Wish::Measure { setup, quantity, place };
    }
    if rest.iter().all(|word| is_known(word)) {
        return Wish::Unclear(format!(
            "one place at a time; from one net to another it is `{place} to {}`; `help` lists what can \
             be typed",
            other(circuit, &place)
        ));
    }
    let failure = hypotheses(circuit, &Evidence::default())
        .iter()
        .flat_map(|hypothesis| &hypothesis.causes)
        .any(|cause| cause.fault.failure().split(' ').next() == rest.first().copied());
    Wish::Unclear(match failure {
        true => format!("for an answer type `guess {}`", words.join(" ")),
        false => format!(
            "type the place alone to measure there; for what you expect, `predict {place} {}`",
            rest.join(" ")
        ),
    })
}

fn predict(circuit: &Circuit, words: &[&str]) -> Wish {
    match asked(circuit, words) {
        Ok((.., place, [])) => {
            Wish::Unclear(format!("say what you expect, as in `predict {place} 4.2 V`"))
        }
        Ok((setup, quantity, place, value)) => {
            Wish::Predict { setup, quantity, place, value: value.join(" ") }
        }
        Err(_) => Wish::Unclear(format!(
            "say where and what you expect, as in `predict {} 4.2 V`",
            example(circuit)
        )),
    }
}

fn guess(circuit: &Circuit, phrase: &str) -> Wish {
    let phrase = phrase.trim_matches(['"', '\'', '`']).trim();
    let said = |word: &str| match word.to_lowercase().as_str() {
        "short" => "shorted".to_owned(),
        "opened" => "open".to_owned(),
        _ => as_named(circuit, word),
    };
    let words: Vec<String> = phrase.split_whitespace().map(said).collect();
    let phrase = words.join(" ");
    let list = hypotheses(circuit, &Evidence::default());
    let faults =
        || list.iter().flat_map(|one| &one.causes).map(|cause| cause.fault.with_value(None));
    // A fault that has a value need not be given with it.
    let same = |fault: &Fault| fault.phrase(circuit).to_lowercase() == phrase.to_lowercase();
    if let Some(fault) = faults().find(same) {
        return Wish::Guess(fault);
    }
    match fault::parse(&phrase, circuit) {
        Ok(fault) => Wish::Guess(fault),
        Err(message) => {
            // `dead` is said of every part, and most have another word for it.
            let dead = words.split_last().filter(|(last, _)| last.as_str() == "dead");
            let part = dead.map_or(phrase.clone(), |(_, part)| part.join(" "));
            let begins = |fault: &Fault| {
                let own = fault.phrase(circuit);
                own.split([' ', '.']).next() == Some(part.as_str())
            };
            let mut own: Vec<String> = Vec::new();
            for phrase in faults().filter(begins).map(|fault| fault.phrase(circuit)) {
                if !own.contains(&phrase) {
                    own.push(phrase);
                }
            }
            if own.is_empty() {
                return Wish::Unclear(format!("{message}; `faults` lists every form"));
            }
            let more = if own.len() > NAMED { " ..." } else { "" };
            own.truncate(NAMED);
            Wish::Unclear(format!("say what happened to it: {}{more}", own.join(", ")))
        }
    }
}

/// A net beside one.
fn other<'c>(circuit: &'c Circuit, place: &str) -> &'c str {
    circuit.nets.iter().find(|net| *net != place).map_or("GND", String::as_str)
}

/// A net to show how things are typed.
fn example(circuit: &Circuit) -> &str {
    circuit.nets.get(2).or(circuit.nets.last()).map_or("EN", String::as_str)
}

fn unknown(circuit: &Circuit, word: &str) -> String {
    let names = circuit.nets.iter().chain(circuit.parts.iter().map(|part| &part.name));
    let names = names.map(String::as_str).chain(WORDS.iter().copied());
    match nearest(word, names) {
        Some(near) => format!("`{word}` is neither a net nor a part; did you mean `{near}`?"),
        None => format!("`{word}` is neither a net nor a part; `help` lists what can be typed"),
    }
}
