//! The kinds of parts as their tables have them: what can be typed, what applies when it is not, how
//! they fail.

use std::fmt::Write;

use super::{Page, Style};
use crate::device::{ALL, Fill, Kind, Mode, Parameter, Pins, Range, Shape};
use crate::fault::{MODE_ROWS, mode_share};
use crate::quantity::{Tolerance, Unit, print_short};

/// Every kind with its class letters and what it is, one a line.
///
/// ```
/// use ohmhound::report::{Style, kinds_text};
///
/// let text = kinds_text(Style::Plain, 80);
/// assert!(text.contains("resistor") && text.contains("a fixed resistor"));
/// ```
pub fn kinds_text(style: Style, width: usize) -> String {
    let mut page = Page::new(style, width);
    let rows: Vec<Vec<String>> = ALL
        .iter()
        .map(|kind| {
            [kind.name(), &kind.classes().join(" "), kind.about()].map(str::to_owned).into()
        })
        .collect();
    page.table(&["kind", "letters", "what it is"], &rows, &[]);
    page.finish()
}

/// What can be typed of one kind and how it fails.
///
/// ```
/// use ohmhound::device::kind;
/// use ohmhound::report::{Style, kind_text};
///
/// let text = kind_text(kind("fuse").ok_or("no such kind")?, Style::Plain, 80);
/// assert!(text.contains("resistance") && text.contains("20 mΩ"));
/// # Ok::<(), &str>(())
/// ```
pub fn kind_text(kind: &dyn Kind, style: Style, width: usize) -> String {
    let mut page = Page::new(style, width);
    page.heading(&format!("{}: {}", kind.name(), kind.about()));
    facts(&mut page, &opening(kind));
    page.heading("Keys");
    let keys: Vec<(String, String)> =
        keys(kind).into_iter().map(|key| (key.name.clone(), key.sentence())).collect();
    facts(&mut page, &keys);
    page.heading("How it fails");
    let failures = failures(kind);
    let rows: Vec<Vec<String>> =
        failures.iter().map(|one| vec![one.share.clone(), one.words.clone()]).collect();
    page.table(&["share", "failure"], &rows, &[0]);
    let mut sources: Vec<&str> = failures.iter().map(|one| one.source).collect();
    sources.dedup();
    page.sentence("  ", &format!("Shares: {}.", sources.join("; ")));
    page.finish()
}

/// Names with what they stand for, one below the other.
fn facts(page: &mut Page, facts: &[(String, String)]) {
    let width = facts.iter().map(|(name, _)| name.chars().count()).max().unwrap_or(0) + 4;
    for (name, words) in facts {
        page.hanging(&format!("{:width$}", format!("  {name}")), &" ".repeat(width), words);
    }
}

/// All kinds as Markdown: the overview, then one chapter each, with headings of the first level.
pub fn kinds_markdown() -> String {
    let mut text = String::from("| kind | letters | what it is |\n| --- | --- | --- |\n");
    // What is written to a string cannot fail.
    for kind in ALL {
        let letters = kind.classes().join(" ");
        let _ = writeln!(text, "| `{}` | {letters} | {} |", kind.name(), kind.about());
    }
    for kind in ALL.iter().copied() {
        let _ = writeln!(text, "\n# {}\n\n{}.\n", kind.name(), capital(kind.about()));
        for (name, words) in opening(kind) {
            // What is typed stands as code, words behind it do not.
            let (typed, more) = words.split_once(", or ").unwrap_or((&words, ""));
            let code = if typed.contains('=') { "`" } else { "" };
            let or = if more.is_empty() { "" } else { ", or " };
            let _ = writeln!(text, "- {name}: {code}{typed}{code}{or}{more}");
        }
        let _ = writeln!(text, "\n| key | value | without it | tolerance | what it is |");
        let _ = writeln!(text, "| --- | --- | --- | --- | --- |");
        for Key { name, value, without, tolerance, about } in keys(kind) {
            let _ = writeln!(text, "| `{name}` | {value} | {without} | {tolerance} | {about} |");
        }
        let _ = writeln!(text, "\n| failure | share | after |\n| --- | ---: | --- |");
        for Failure { words, share, source } in failures(kind) {
            let _ = writeln!(text, "| {words} | {share} | {source} |");
        }
    }
    text
}

/// What there is to say of a kind before its keys.
fn opening(kind: &dyn Kind) -> Vec<(String, String)> {
    let mut found = vec![("kind", kind_words(kind)), ("pins", pins_words(kind.pins()))];
    if let Pins::Fitted(_, optional) = kind.pins() {
        found.push(("pins that may be left out", optional.join(", ")));
    }
    if let Some(rails) = kind.rails() {
        found.push(("rails", rails.join(", ")));
    }
    for (name, pins) in [("outputs", kind.outputs()), ("inputs", kind.inputs())] {
        if !pins.is_empty() {
            found.push((name, pins.join(", ")));
        }
    }
    found.into_iter().map(|(name, words)| (name.to_owned(), words)).collect()
}

/// One key of a kind, in words.
struct Key {
    name: String,
    value: String,
    /// What applies when it is left out.
    without: String,
    tolerance: String,
    about: &'static str,
}

impl Key {
    fn sentence(&self) -> String {
        let without = match self.without.as_str() {
            "must be given" => "must be given".to_owned(),
            "none" => "none when left out".to_owned(),
            value => format!("{value} when left out"),
        };
        let tolerance = if self.tolerance.is_empty() { "" } else { ", " };
        format!("{}: {}; {without}{tolerance}{}", self.about, self.value, self.tolerance)
    }
}

/// One way to fail, in words.
struct Failure {
    words: String,
    share: String,
    source: &'static str,
}

/// How a part comes by this kind.
fn kind_words(kind: &dyn Kind) -> String {
    let written = format!("kind = \"{}\"", kind.name());
    match kind.classes() {
        [] => written,
        letters => format!("{written}, or a name that begins with {}", letters.join(" or ")),
    }
}

fn pins_words(pins: Pins) -> String {
    let named = |names: &[&str]| {
        let pins: Vec<String> = names.iter().map(|name| format!("{name} = \"NET\"")).collect();
        format!("pins = {{ {} }}", pins.join(", "))
    };
    match pins {
        Pins::Two => "nets = [\"NET of pin 1\", \"NET of pin 2\"]".to_owned(),
        Pins::Named(names) => named(names),
        Pins::Fitted(required, _) => named(required),
        Pins::Chip => {
            "pins = { NAME = \"NET\", OTHER = { net = \"NET\", draws = \"20 mA\" } }".to_owned()
        }
        Pins::Contacts => "pins = { \"1\" = [\"NET\", \"NET\"], \"2\" = [\"NET\", \"NET\"] }, or \
                           `nets = [\"NET\", \"NET\"]` for one contact"
            .to_owned(),
    }
}

fn keys(kind: &dyn Kind) -> Vec<Key> {
    let mut rows = Vec::new();
    let mut of_pins: Vec<&str> = Vec::new();
    for row in kind.parameters() {
        let mut name = row.name;
        // A parameter of one pin stands in the pin's own table; it is told once for all pins.
        if let Some((what, _)) = name.split_once(" of pin ") {
            if of_pins.contains(&what) {
                continue;
            }
            of_pins.push(what);
            name = what;
        }
        rows.push(Key {
            name: if name == row.name { name.to_owned() } else { format!("{name} (of a pin)") },
            value: value_words(row),
            without: without(row),
            tolerance: tolerance_words(row),
            about: row.about,
        });
    }
    rows
}

/// What may stand behind the key.
fn value_words(row: &Parameter) -> String {
    match row.shape {
        Shape::Word(words) => words.join(", "),
        Shape::Flag => "true, false".to_owned(),
        Shape::Pull => "up or down, then ohms or amps".to_owned(),
        Shape::Number => number_words(row),
        Shape::Point(at) => format!("{}, at {}", number_words(row), at.name()),
    }
}

fn number_words(row: &Parameter) -> String {
    let unit = if row.unit == Unit::One { "a number" } else { row.unit.name() };
    match row.range {
        Range::Positive => format!("{unit} > 0"),
        Range::NotNegative => format!("{unit} ≥ 0"),
        Range::Any => unit.to_owned(),
        Range::Within(low, high) => {
            format!("{unit} {} .. {}", print_short(low, row.unit), print_short(high, row.unit))
        }
    }
}

/// What applies when the key is left out.
fn without(row: &Parameter) -> String {
    match (row.fill, row.shape) {
        (Fill::Required, _) => "must be given".to_owned(),
        (Fill::Absent, _) => "none".to_owned(),
        (Fill::Number(value), _) => print_short(value, row.unit),
        (Fill::Point(value, at), Shape::Point(at_unit)) => {
            format!("{} at {}", print_short(value, row.unit), print_short(at, at_unit))
        }
        (Fill::Point(value, _), _) => print_short(value, row.unit),
        (Fill::Word(word), _) => word.to_owned(),
        (Fill::Flag(flag), _) => flag.to_string(),
    }
}

fn tolerance_words(row: &Parameter) -> String {
    match (row.tolerance, row.shape) {
        (Some(Tolerance::Fraction(share)), _) => {
            format!("±{} %", print_short(100.0 * share, Unit::One))
        }
        (Some(Tolerance::Absolute(size)), _) => format!("±{}", print_short(size, row.unit)),
        (Some(Tolerance::Factor(factor)), _) => {
            format!("×/÷ {}", print_short(factor, Unit::One))
        }
        // That of pulls is the reader's own: every pull has it.
        (None, Shape::Pull) => "±30 %".to_owned(),
        (None, _) => String::new(),
    }
}

fn failures(kind: &dyn Kind) -> Vec<Failure> {
    let of = |mode: &Mode| {
        let row = MODE_ROWS.iter().find(|row| row.kind == kind.name() && row.mode == *mode);
        Failure {
            words: mode_words(*mode),
            share: match row {
                Some(_) => format!("{:.0} %", 100.0 * mode_share(kind.name(), *mode)),
                None => "assembly".to_owned(),
            },
            source: row.map_or("a slip of assembly", |row| row.source),
        }
    };
    kind.modes().iter().map(of).collect()
}

/// A failure mode in the words of fault phrases.
fn mode_words(mode: Mode) -> String {
    match mode {
        Mode::Open => "open".to_owned(),
        Mode::Shorted => "shorted".to_owned(),
        Mode::Drifted(name) => format!("{name} drifted"),
        Mode::Low(name) => format!("{name} low"),
        Mode::Leaky => "leaky".to_owned(),
        Mode::Resistive(_) => "resistive".to_owned(),
        Mode::Reversed => "reversed".to_owned(),
        Mode::Absent => "absent".to_owned(),
        Mode::Joined(one, other) => format!("{one} shorted to {other}"),
        Mode::LeakyInside(one, other) => format!("{one} leaky to {other}"),
        Mode::PinOpen(pin) => format!("{pin} open, inside"),
        Mode::Dead => "dead".to_owned(),
        Mode::StuckHigh => "stuck high".to_owned(),
        Mode::StuckLow => "stuck low".to_owned(),
        Mode::Lost(name) => format!("{name} lost"),
        Mode::Raised(name) => format!("{name} raised"),
        Mode::PinLeaky => "any pin leaky or shorted to a rail".to_owned(),
    }
}

/// The text with a capital at its head.
fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| {
        first.to_uppercase().collect::<String>() + letters.as_str()
    })
}
