//! What names may look like, and names that are too much alike.

use std::collections::HashMap;

use super::limits::MOST_NAME;
use super::written::{Written, is_invisible};
use crate::finding::{Code, Finding};

/// What a name is of.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Named {
    Net,
    Part,
    Setup,
    Type,
    Contact,
    Pin,
}

impl Named {
    fn word(self) -> &'static str {
        match self {
            Named::Net => "net",
            Named::Part => "part",
            Named::Setup => "setup",
            Named::Type => "type",
            Named::Contact => "contact",
            Named::Pin => "pin",
        }
    }
}

/// Whether a name has an allowed form; if not, a complaint.
pub(super) fn check_form(named: Named, name: &Written, found: &mut Vec<Finding>) -> bool {
    let word = named.word();
    let text = name.text.as_str();
    if text.is_empty() {
        found.push(name.error(Code::NameForm, format!("a {word} has an empty name"), ""));
        return false;
    }
    if text.chars().nth(MOST_NAME).is_some() {
        let message = format!("the name of a {word} is longer than {MOST_NAME} characters");
        found.push(name.error(Code::TooLarge, message, "").help("give it a shorter name"));
        return false;
    }
    let Some((at, bad)) = text.char_indices().find(|(_, c)| !allowed(*c)) else { return true };
    let what = match bad {
        ' ' => "a space".to_owned(),
        '"' | '\'' | '`' => "a quote".to_owned(),
        '=' | ':' => format!("`{bad}`"),
        bad => format!("the invisible character U+{:04X}", u32::from(bad)),
    };
    let better: String = text.chars().map(|c| if allowed(c) { c } else { '_' }).collect();
    found.push(
        Finding::error(
            Code::NameForm,
            format!("the name of {word} `{}` holds {what}", name.shown()),
        )
        .at(&name.source, name.place(at..at + bad.len_utf8()), "")
        .help(format!("write `{better}`, or another name without it")),
    );
    false
}

/// Whether a name may hold the character: names stand between spaces and quotes, before `=` and
/// `:`, and are read by eye.
fn allowed(c: char) -> bool {
    !(c.is_whitespace() || is_invisible(c) || matches!(c, '"' | '\'' | '`' | '=' | ':'))
}

/// Nets and parts seen so far, by their names in lower case.
#[derive(Debug, Default)]
pub(super) struct Names {
    seen: HashMap<String, Vec<(Named, Written)>>,
}

impl Names {
    /// Takes a name in, and complains if it is that of something else, or differs from another
    /// name in upper and lower case only. A net may come any number of times.
    pub(super) fn add(&mut self, named: Named, name: &Written, found: &mut Vec<Finding>) {
        let alike = self.seen.entry(name.text.to_lowercase()).or_default();
        if alike.iter().any(|(known, other)| *known == named && other.text == name.text) {
            return;
        }
        if let Some((known, other)) = alike.first() {
            found.push(clash(named, name, *known, other));
        }
        alike.push((named, name.clone()));
    }
}

fn clash(named: Named, name: &Written, known: Named, other: &Written) -> Finding {
    let (word, other_word) = (named.word(), known.word());
    let (shown, other_shown) = (name.shown(), other.shown());
    let finding = if name.text == other.text {
        name.error(
            Code::NameTwice,
            format!("`{shown}` names both a {other_word} and a {word}"),
            format!("the {word}"),
        )
        .help("give one of them another name: readings could mean either")
    } else {
        name.error(
            Code::NameCase,
            format!("{word} `{shown}` and {other_word} `{other_shown}` differ only in upper and lower case"),
            format!("the {word}"),
        )
        .help(if (named, known) == (Named::Net, Named::Net) {
            format!("write `{other_shown}` in both places, or give one of them another name")
        } else {
            "give one of them another name".to_owned()
        })
    };
    finding.at(&other.source, other.range.clone(), format!("the {other_word}"))
}
