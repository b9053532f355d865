//! Parameter tables: what a kind needs, what it assumes, and the check of a part against them.

use crate::circuit::{Param, Part, Pull};
use crate::quantity::{Point, Tolerance, Toleranced, Unit, print_short};

/// The pins of a kind.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Pins {
    /// Two pins, given as `nets = [pin 1, pin 2]`.
    Two,
    /// Pins with these names, all required, given as `pins = { .. }`.
    Named(&'static [&'static str]),
    /// Pins with these names, given as `pins = { .. }`: the first list is required, the second
    /// may be left out where the part has no such pin.
    Fitted(&'static [&'static str], &'static [&'static str]),
    /// Pins with any names, each with its own table of what is known of it.
    Chip,
    /// Two pins, or any number of contacts, each between two nets.
    Contacts,
}

/// The form of a parameter.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Shape {
    /// A number in the parameter's unit.
    Number,
    /// A number that may say what it holds at, in the second unit.
    Point(Unit),
    /// A word out of a list.
    Word(&'static [&'static str]),
    /// Yes or no.
    Flag,
    /// A pull inside a chip, such as "up 1 µA" or "down 1M".
    Pull,
}

/// The values a number may have.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Range {
    /// More than zero.
    Positive,
    /// Zero or more.
    NotNegative,
    /// Any finite number.
    Any,
    /// From the first to the second, both included.
    Within(f64, f64),
}

impl Range {
    /// Whether the value lies in the range.
    pub fn holds(self, value: f64) -> bool {
        match self {
            Range::Positive => value > 0.0,
            Range::NotNegative => value >= 0.0,
            Range::Any => value.is_finite(),
            Range::Within(low, high) => (low..=high).contains(&value),
        }
    }

    /// The range in words, after "expected".
    pub fn words(self, unit: Unit) -> String {
        match self {
            Range::Positive => format!("more than zero {}", unit.name()),
            Range::NotNegative => format!("zero {} or more", unit.name()),
            Range::Any => "a finite number".to_owned(),
            Range::Within(low, high) => {
                format!("from {} to {}", print_short(low, unit), print_short(high, unit))
            }
        }
    }
}

/// What applies when a parameter is not given.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Fill {
    /// It has to be given.
    Required,
    /// Nothing: the part has no such thing.
    Absent,
    /// This number.
    Number(f64),
    /// This number, holding at the second number.
    Point(f64, f64),
    /// This word.
    Word(&'static str),
    /// This flag.
    Flag(bool),
}

/// One row of a kind's parameter table.
#[derive(Debug, Clone, Copy)]
pub struct Parameter {
    /// The key in circuit files.
    pub name: &'static str,
    /// Its form.
    pub shape: Shape,
    /// Its unit; [`Unit::One`] for words and flags.
    pub unit: Unit,
    /// What applies when it is not given.
    pub fill: Fill,
    /// The tolerance when none is given.
    pub tolerance: Option<Tolerance>,
    /// The values it may have.
    pub range: Range,
    /// What it is, in a few words.
    pub about: &'static str,
}

impl Parameter {
    /// A required number with a default tolerance.
    pub const fn number(name: &'static str, unit: Unit, about: &'static str) -> Parameter {
        Parameter {
            name,
            shape: Shape::Number,
            unit,
            fill: Fill::Required,
            tolerance: None,
            range: Range::Positive,
            about,
        }
    }

    /// A word out of a list, with the one that applies when none is given.
    pub const fn word(
        name: &'static str,
        words: &'static [&'static str],
        fill: &'static str,
        about: &'static str,
    ) -> Parameter {
        Parameter {
            name,
            shape: Shape::Word(words),
            unit: Unit::One,
            fill: Fill::Word(fill),
            tolerance: None,
            range: Range::Any,
            about,
        }
    }

    /// Yes or no, with what applies when it is not said.
    pub const fn flag(name: &'static str, fill: bool, about: &'static str) -> Parameter {
        Parameter {
            name,
            shape: Shape::Flag,
            unit: Unit::One,
            fill: Fill::Flag(fill),
            tolerance: None,
            range: Range::Any,
            about,
        }
    }

    /// A pull inside a chip; there is none unless it is given.
    pub const fn pull(name: &'static str, about: &'static str) -> Parameter {
        Parameter {
            name,
            shape: Shape::Pull,
            unit: Unit::One,
            fill: Fill::Absent,
            tolerance: None,
            range: Range::Positive,
            about,
        }
    }

    /// The same row with another default.
    pub const fn fill(self, fill: Fill) -> Parameter {
        Parameter { fill, ..self }
    }

    /// The same row with a default tolerance as a share of the value.
    pub const fn within(self, fraction: f64) -> Parameter {
        Parameter { tolerance: Some(Tolerance::Fraction(fraction)), ..self }
    }

    /// The same row with a default tolerance of times or divided by `factor`.
    pub const fn factor(self, factor: f64) -> Parameter {
        Parameter { tolerance: Some(Tolerance::Factor(factor)), ..self }
    }

    /// The same row with other allowed values.
    pub const fn range(self, range: Range) -> Parameter {
        Parameter { range, ..self }
    }

    /// The same row as a point that holds at a second number.
    pub const fn point(self, at: Unit) -> Parameter {
        Parameter { shape: Shape::Point(at), ..self }
    }
}

/// How a part of a kind fails. Where a mode carries a number, the fault's range says which.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Mode {
    /// Carries no current.
    Open,
    /// Joined through, 1 mΩ to 1 Ω.
    Shorted,
    /// The named parameter has another value.
    Drifted(&'static str),
    /// The named parameter is lower than it should be.
    Low(&'static str),
    /// A leak across it, 1 Ω to 20 MΩ.
    Leaky,
    /// More resistance than it should have, 0.1 Ω to 10 kΩ, in the named parameter.
    Resistive(&'static str),
    /// The wrong way round.
    Reversed,
    /// A source that gives nothing.
    Absent,
    /// Two pins are joined inside, 1 mΩ to 1 Ω.
    Joined(&'static str, &'static str),
    /// A leak between two pins inside, 1 Ω to 20 MΩ.
    LeakyInside(&'static str, &'static str),
    /// The lead of a pin is broken inside.
    PinOpen(&'static str),
    /// A chip that does nothing any more: its outputs let go.
    Dead,
    /// An output that stands at its supply.
    StuckHigh,
    /// An output that stands at its ground.
    StuckLow,
    /// The named pull inside is gone.
    Lost(&'static str),
    /// The named parameter is higher than it should be.
    Raised(&'static str),
    /// Any pin shorted or leaky, inside, to one of the [`super::Kind::rails`].
    PinLeaky,
}

impl Mode {
    /// Whether a fault without a number, as [`Mode::strike`] calls it, is a pull that is lost.
    pub fn is_pull(what: &str) -> bool {
        !matches!(what, "dead" | "stuck high" | "stuck low")
    }

    /// What [`super::Values::is_struck`] calls a fault without a number, where a mode is one.
    pub fn strike(self) -> Option<&'static str> {
        match self {
            Mode::Dead => Some("dead"),
            Mode::StuckHigh => Some("stuck high"),
            Mode::StuckLow => Some("stuck low"),
            Mode::Lost(pull) => Some(pull),
            _ => None,
        }
    }
}

/// A rule between parameters that does not hold.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Problem {
    /// The parameter to point at, when it was given.
    pub parameter: &'static str,
    /// What is wrong.
    pub message: String,
    /// What to do.
    pub help: Option<String>,
}

impl Problem {
    /// A problem with one parameter.
    pub fn new(parameter: &'static str, message: impl Into<String>) -> Problem {
        Problem { parameter, message: message.into(), help: None }
    }

    /// The same problem with advice.
    #[must_use]
    pub fn help(self, help: impl Into<String>) -> Problem {
        Problem { help: Some(help.into()), ..self }
    }
}

/// Fills in the defaults of a part's kind, puts its parameters into the table's order, and checks
/// the rules that hold between them.
///
/// The part must hold only parameters that the kind knows, in the right shape.
///
/// # Errors
///
/// The first rule that does not hold: a required parameter that is missing, a value out of its
/// range, or a rule between parameters.
pub fn complete(part: &mut Part) -> Result<(), Problem> {
    let Some(kind) = super::kind(part.kind) else {
        return Err(Problem::new("kind", format!("unknown kind `{}`", part.kind)));
    };
    let mut params = Vec::new();
    part.defaulted.clear();
    part.usual.clear();
    for row in kind.parameters() {
        let given = part.param(row.name).cloned();
        if given.is_none() {
            if row.fill == Fill::Required {
                let message = format!("{} `{}` has no `{}`", part.kind, part.name, row.name);
                return Err(Problem::new(row.name, message)
                    .help(format!("`{}` is {}", row.name, row.about)));
            }
            if row.fill != Fill::Absent {
                part.defaulted.push(row.name);
            }
        }
        let Some(mut param) = given.or_else(|| filled(row.fill)) else { continue };
        if let Param::Number(number)
        | Param::Point(Point { value: number, .. })
        | Param::Pull(Pull { value: number, .. }) = &mut param
        {
            if number.spread.is_none()
                && let Some(tolerance) = row.tolerance
            {
                *number = number.or(tolerance);
                part.usual.push(row.name);
            }
            check_range(part.kind, &part.name, row, number)?;
        }
        params.push((row.name, param));
    }
    part.params = params;
    kind.check(part)
}

fn filled(fill: Fill) -> Option<Param> {
    match fill {
        Fill::Required | Fill::Absent => None,
        Fill::Number(value) => Some(Param::Number(Toleranced::bare(value))),
        Fill::Point(value, at) => {
            Some(Param::Point(Point { value: Toleranced::bare(value), at: Some(at) }))
        }
        Fill::Word(word) => Some(Param::Word(word.to_owned())),
        Fill::Flag(flag) => Some(Param::Flag(flag)),
    }
}

fn check_range(
    kind: &str,
    name: &str,
    row: &Parameter,
    number: &Toleranced,
) -> Result<(), Problem> {
    for value in [number.nominal, number.least(), number.most()] {
        if !row.range.holds(value) {
            return Err(Problem::new(
                row.name,
                format!(
                    "{kind} `{name}` has `{}` = {}, expected {}",
                    row.name,
                    print_short(value, row.unit),
                    row.range.words(row.unit)
                ),
            ));
        }
    }
    Ok(())
}

/// Adds a part with named pins to a circuit built in code; nets are made as they are named.
///
/// Numbers have no tolerance; defaults fill in the rest.
///
/// # Errors
///
/// What [`complete`] finds, an unknown kind, pin or parameter, in words.
///
/// ```
/// use ohmhound::{circuit::Circuit, device::with_pins};
/// let mut circuit = Circuit::new("", "GND");
/// let pins = [("a", "TOP"), ("wiper", "OUT"), ("b", "GND")];
/// with_pins(&mut circuit, "RV1", "potentiometer", &pins, &[("value", 1e4), ("position", 0.5)])?;
/// assert!(with_pins(&mut circuit, "RV2", "potentiometer", &pins[1..], &[]).is_err());
/// # Ok::<(), String>(())
/// ```
pub fn with_pins(
    circuit: &mut crate::circuit::Circuit,
    name: &str,
    kind: &str,
    pins: &[(&str, &str)],
    params: &[(&'static str, f64)],
) -> Result<crate::circuit::PartId, String> {
    let kind = super::kind(kind).ok_or_else(|| format!("unknown kind `{kind}`"))?;
    let (required, optional): (&[&str], &[&str]) = match kind.pins() {
        Pins::Named(names) => (names, &[]),
        Pins::Fitted(required, optional) => (required, optional),
        _ => return Err(format!("{} has no named pins", super::with_article(kind.name()))),
    };
    if let Some((pin, _)) =
        pins.iter().find(|(pin, _)| !required.contains(pin) && !optional.contains(pin))
    {
        return Err(format!("{} has no pin `{pin}`", super::with_article(kind.name())));
    }
    let mut wired = Vec::new();
    for pin in required.iter().chain(optional) {
        match pins.iter().find(|(known, _)| known == pin) {
            Some((_, net)) => wired.push((*pin, *net)),
            None if required.contains(pin) => return Err(format!("`{name}` lacks pin `{pin}`")),
            None => {}
        }
    }
    built(circuit, name, kind, &wired, params)
}

/// Adds a part with two pins to a circuit built in code; nets are made as they are named.
///
/// Every parameter is a plain number and has no tolerance; defaults fill in the rest.
///
/// # Errors
///
/// What [`complete`] finds, or an unknown kind, in words.
///
/// ```
/// use ohmhound::{circuit::Circuit, device::two_pin};
/// let mut circuit = Circuit::new("", "GND");
/// two_pin(&mut circuit, "R1", "resistor", ["A", "GND"], &[("value", 1e3)])?;
/// assert!(two_pin(&mut circuit, "R2", "resistor", ["A", "GND"], &[]).is_err());
/// # Ok::<(), String>(())
/// ```
pub fn two_pin(
    circuit: &mut crate::circuit::Circuit,
    name: &str,
    kind: &str,
    nets: [&str; 2],
    params: &[(&'static str, f64)],
) -> Result<crate::circuit::PartId, String> {
    let kind = super::kind(kind).ok_or_else(|| format!("unknown kind `{kind}`"))?;
    built(circuit, name, kind, &[("1", nets[0]), ("2", nets[1])], params)
}

fn built(
    circuit: &mut crate::circuit::Circuit,
    name: &str,
    kind: &dyn super::Kind,
    pins: &[(&str, &str)],
    params: &[(&'static str, f64)],
) -> Result<crate::circuit::PartId, String> {
    let mut given = Vec::new();
    for &(name, value) in params {
        let row = kind.parameters().iter().find(|row| row.name == name);
        let row = row.ok_or_else(|| format!("{} has no `{name}`", kind.name()))?;
        // A stated spread of zero keeps the default tolerance away.
        let number = Toleranced::bare(value).or(Tolerance::Absolute(0.0));
        given.push((
            row.name,
            match row.shape {
                Shape::Point(_) => Param::Point(Point { value: number, at: None }),
                _ => Param::Number(number),
            },
        ));
    }
    let pins = pins
        .iter()
        .map(|(pin, net)| crate::circuit::Pin {
            name: (*pin).to_owned(),
            net: circuit.net_or_new(net),
        })
        .collect();
    let mut part = Part {
        name: name.to_owned(),
        kind: kind.name(),
        pins,
        params: given,
        defaulted: Vec::new(),
        usual: Vec::new(),
        chip: Vec::new(),
        maximum: Vec::new(),
        fitted: true,
    };
    complete(&mut part).map_err(|problem| problem.message)?;
    Ok(circuit.add(part))
}
