//! What an answer means.

use ohmhound::circuit::{Appearance, Circuit, POWERED, Quantity, SetupId, UNPOWERED};
use ohmhound::finding::nearest;
use ohmhound::plan::Measurement;

/// Words that begin an answer, for completion.
pub(super) const WORDS: &[&str] = &[
    "skip",
    "undo",
    "status",
    "quit",
    "help",
    "replaced",
    "lifted",
    "cleaned",
    "removed",
    "disconnected",
    "seen",
    "volts",
    "ohms",
    "amps",
    "diode",
    "beep",
    "powered",
    "unpowered",
    "ticket",
    "symptom",
];

/// What can be done to a part.
const ACTIONS: [&str; 5] = ["replaced", "lifted", "cleaned", "removed", "disconnected"];

/// What was answered.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Answer {
    Nothing,
    Why,
    Skip,
    Undo,
    Status,
    Help,
    Quit,
    /// A value at the place that was asked for.
    Value(String),
    /// A reading at another place.
    Reading {
        setup: SetupId,
        quantity: Quantity,
        place: String,
        value: String,
    },
    /// Something done to a part.
    Done {
        action: String,
        part: String,
        with: Option<String>,
    },
    /// How a part looks.
    Seen {
        part: String,
        look: String,
    },
    /// A line of the ticket.
    Job {
        key: String,
        text: String,
    },
    /// Not understood, with advice.
    Unclear(String),
}

/// Reads an answer; `asked` is what was asked for.
pub(super) fn read(circuit: &Circuit, asked: Option<&Measurement>, text: &str) -> Answer {
    // What a keyboard cannot type would go into the log, and from there to other terminals.
    let text = text.replace(char::is_control, " ");
    let words: Vec<&str> = text.split_whitespace().collect();
    let rest = |n: usize| words.get(n..).unwrap_or_default().join(" ");
    let Some(&first) = words.first() else { return Answer::Nothing };
    match (first, words.len()) {
        ("?" | "why" | "why?", 1) => return Answer::Why,
        ("skip", 1) => return Answer::Skip,
        ("undo", 1) => return Answer::Undo,
        ("status", 1) => return Answer::Status,
        ("help", 1) => return Answer::Help,
        ("quit" | "exit", 1) => return Answer::Quit,
        ("ticket" | "symptom", n) if n > 1 => {
            return Answer::Job { key: first.to_owned(), text: rest(1) };
        }
        (action, n) if ACTIONS.contains(&action) => {
            if n < 2 {
                return Answer::Unclear(format!(
                    "say which part was {action}, as in `{action} R1`"
                ));
            }
            let with = words.get(2).copied().filter(|word| *word == "with");
            let with = rest(if with.is_some() { 3 } else { 2 });
            let with = (!with.is_empty()).then_some(with);
            return Answer::Done { action: action.to_owned(), part: words[1].to_owned(), with };
        }
        ("seen", 3) => return seen(words[1], words[2]),
        _ => {}
    }
    reading(circuit, asked, &words)
}

/// What is seen with the power on is a reading; how a part looks is not.
fn seen(part: &str, look: &str) -> Answer {
    let (part, look) = (part.to_owned(), look.to_owned());
    if ["lit", "dark", "hot"].contains(&look.as_str()) {
        let (setup, quantity) = (POWERED, Quantity::Seen);
        return Answer::Reading { setup, quantity, place: part, value: look };
    }
    if Appearance::ALL.iter().any(|(_, word)| *word == look) {
        return Answer::Seen { part, look };
    }
    Answer::Unclear(
        "looks are corroded, burnt, cracked, replaced, fine; and with the power on lit, dark, hot"
            .to_owned(),
    )
}

/// A value alone, or a reading with its place: `EN 0.02`, `ohms EN to FB 10k`,
/// `unpowered diode GND to EN 0.48`.
fn reading(circuit: &Circuit, asked: Option<&Measurement>, words: &[&str]) -> Answer {
    let mut left = words;
    let setup = left.first().and_then(|word| circuit.setup(word));
    if setup.is_some() {
        left = &left[1..];
    }
    let quantity = left.first().and_then(|word| quantity(word));
    if quantity.is_some() {
        left = &left[1..];
    }
    let is_place = |word: &str| {
        let part = word.split_once('.').map_or(word, |(part, _)| part);
        circuit.net(word).is_some() || circuit.part(word).is_some() || circuit.part(part).is_some()
    };
    let names_place = left.first().is_some_and(|word| is_place(word));
    if setup.is_none() && quantity.is_none() && !names_place {
        // `FOO 3` is a place that is not there; `OL` and `420 ohm` are values.
        let is_name = words.len() > 1 && words[0].starts_with(char::is_alphabetic);
        return match asked {
            Some(_) if !is_name => Answer::Value(words.join(" ")),
            _ => unclear(circuit, words[0]),
        };
    }
    if !names_place {
        return unclear(circuit, left.first().copied().unwrap_or_default());
    }
    let n_place = if left.get(1) == Some(&"to") { 3 } else { 1 };
    let (place, value) = left.split_at(n_place.min(left.len()));
    if value.is_empty() {
        return Answer::Unclear(format!(
            "say what {} reads, as in `{} 0.02`",
            place.join(" "),
            place[0]
        ));
    }
    let (place, value) = (place.join(" "), value.join(" "));
    let quantity = quantity.or_else(|| by_unit(&value)).unwrap_or_else(|| {
        // What was asked for there; anywhere else a bare number is volts.
        let there = asked.filter(|asked| asked.place_text == place);
        there.map_or(Quantity::Volts, |asked| asked.probe.quantity)
    });
    let cold = matches!(quantity, Quantity::Ohms | Quantity::Diode | Quantity::Beep);
    let setup = setup.unwrap_or_else(|| match asked {
        Some(asked) if circuit[asked.probe.setup].sources_on != cold => asked.probe.setup,
        _ if cold => UNPOWERED,
        _ => POWERED,
    });
    Answer::Reading { setup, quantity, place, value }
}

fn unclear(circuit: &Circuit, word: &str) -> Answer {
    let names = circuit.nets.iter().chain(circuit.parts.iter().map(|part| &part.name));
    let names = names.map(String::as_str).chain(WORDS.iter().copied());
    Answer::Unclear(match nearest(word, names) {
        Some(near) => format!("`{word}` is neither a net nor a part; did you mean `{near}`?"),
        None => format!("`{word}` is neither a net nor a part; `help` lists what can be typed"),
    })
}

/// The quantity of that word.
pub(crate) fn quantity(word: &str) -> Option<Quantity> {
    const ALL: [Quantity; 5] =
        [Quantity::Volts, Quantity::Amps, Quantity::Ohms, Quantity::Diode, Quantity::Beep];
    ALL.into_iter().find(|quantity| quantity.word() == word)
}

/// The quantity that the unit of a value tells.
fn by_unit(value: &str) -> Option<Quantity> {
    // The ohm sign has two code points.
    let is_ohm = |letter: char| matches!(letter, '\u{3a9}' | '\u{2126}');
    let letters = value.trim_start_matches(|c: char| !c.is_alphabetic() && !is_ohm(c));
    let last = letters.trim();
    if last.ends_with('V') {
        Some(Quantity::Volts)
    } else if last.ends_with('A') {
        Some(Quantity::Amps)
    } else if last.ends_with(is_ohm) || last.to_lowercase().ends_with("ohm") {
        Some(Quantity::Ohms)
    } else {
        None
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use ohmhound::device::two_pin;

    fn circuit() -> Circuit {
        let mut circuit = Circuit::new("c", "GND");
        two_pin(&mut circuit, "BT1", "battery", ["IN", "GND"], &[("volts", 9.0)]).unwrap();
        two_pin(&mut circuit, "R1", "resistor", ["IN", "GND"], &[("value", 1e3)]).unwrap();
        circuit
    }

    fn taken(text: &str) -> (SetupId, Quantity, String, String) {
        match read(&circuit(), None, text) {
            Answer::Reading { setup, quantity, place, value } => (setup, quantity, place, value),
            other => panic!("{text}: {other:?}"),
        }
    }

    #[test]
    fn readings_in_many_forms() {
        let volts = |value: &str| (POWERED, Quantity::Volts, "IN".to_owned(), value.to_owned());
        assert_eq!(taken("IN 0.02"), volts("0.02"));
        assert_eq!(taken("volts IN 23.9 V"), volts("23.9 V"));
        let ohms = |place: &str, value: &str| {
            (UNPOWERED, Quantity::Ohms, place.to_owned(), value.to_owned())
        };
        assert_eq!(taken("IN 420 ohm"), ohms("IN", "420 ohm"));
        assert_eq!(taken("ohms R1 OL"), ohms("R1", "OL"));
        assert_eq!(taken("unpowered ohms IN to GND 10k"), ohms("IN to GND", "10k"));
        let lit = (POWERED, Quantity::Seen, "R1".to_owned(), "hot".to_owned());
        assert_eq!(taken("seen R1 hot"), lit);
    }

    #[test]
    fn what_is_not_understood_says_what_would_be() {
        let advice = |text: &str| match read(&circuit(), None, text) {
            Answer::Unclear(advice) => advice,
            other => panic!("{text}: {other:?}"),
        };
        assert!(advice("ohms R2 10k").contains("did you mean `R1`"));
        assert!(advice("IN").contains("what IN reads"));
        assert!(advice("replaced").contains("which part"));
        assert!(advice("seen R1 green").contains("burnt"));
    }

    #[test]
    fn steps_of_a_repair() {
        let done = |with: Option<&str>| Answer::Done {
            action: "replaced".to_owned(),
            part: "R1".to_owned(),
            with: with.map(str::to_owned),
        };
        assert_eq!(read(&circuit(), None, "replaced R1"), done(None));
        assert_eq!(read(&circuit(), None, "replaced R1 with 47k 1 %"), done(Some("47k 1 %")));
        assert_eq!(read(&circuit(), None, " replaced  R1 47k "), done(Some("47k")));
    }
}
