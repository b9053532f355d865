//! From the characters of a marking to all that they can mean.
//!
//! Every reading gets points of doubt: none for what a part of that form usually carries, more for
//! what is seen seldom, for a value that is not preferred, and for a clash with a commoner code.
//! Only their order matters. Common practice, no published source.

use super::Rule;
use super::tolerance::{MarkedTolerance, capital, tolerance};
use crate::quantity::series::Series;
use crate::quantity::unit::Unit;

/// Characters of the longest marking: four digits with a leading zero, a letter, a tolerance.
pub(super) const LONGEST: usize = 7;

/// A reading before it is set in order.
#[derive(Debug)]
pub(super) struct Draft {
    pub(super) unit: Unit,
    pub(super) value: f64,
    pub(super) tolerance: Option<MarkedTolerance>,
    pub(super) rule: Rule,
    pub(super) how: String,
    /// Points of doubt.
    pub(super) doubt: u8,
}

/// Every reading of a marking without blanks, in no order.
pub(super) fn drafts(code: &str) -> Vec<Draft> {
    if code.chars().count() > LONGEST {
        return Vec::new();
    }
    let mut found = Drafts { list: Vec::new() };
    found.body(code, None);
    found.e96(code);
    if let Some((at, last)) = code.char_indices().next_back()
        && let Some(letter) = capital(last)
    {
        found.body(&code[..at], Some(Tail { letter, small: letter != last }));
    }
    found.list
}

/// The tolerance letter at the end of a marking.
#[derive(Clone, Copy)]
pub(super) struct Tail {
    pub(super) letter: char,
    /// Typed as a small letter; parts carry capitals.
    small: bool,
}

/// The readings found so far.
pub(super) struct Drafts {
    list: Vec<Draft>,
}

impl Drafts {
    /// A marking, or what is left of it before its tolerance letter.
    fn body(&mut self, body: &str, tail: Option<Tail>) {
        let mut marks = body.char_indices().filter(|(_, c)| !c.is_ascii_digit());
        match (marks.next(), marks.next()) {
            (None, _) if !body.is_empty() => self.digits(body, tail),
            (Some((at, mark)), None) => {
                self.letter_code(&body[..at], mark, &body[at + mark.len_utf8()..], tail);
            }
            _ => {}
        }
    }

    /// Digits alone.
    fn digits(&mut self, body: &str, tail: Option<Tail>) {
        let size = body.len();
        if body.bytes().all(|digit| digit == b'0') {
            if size <= 4 && tail.is_none() {
                self.link();
            }
            return;
        }
        if body.starts_with('0') {
            return;
        }
        let letter = tail.map(|tail| tail.letter);
        // Such a letter is more often that of kilohms and megohms.
        let clash = matches!(letter, Some('K' | 'M'));
        let last = i32::from(body.as_bytes()[size - 1] - b'0');
        let first = &body[..size - 1];
        match size {
            3 => {
                let doubt = match (last, tail) {
                    (8.., _) => 6,
                    (0, Some(_)) if clash => 4,
                    (_, Some(_)) => 2,
                    _ => 0,
                };
                self.power(Rule::ThreeDigits, Unit::Ohm, first, last, tail, doubt);
                let exponent = match last {
                    8 => -2,
                    9 => -1,
                    _ => last,
                };
                let doubt = match last {
                    0 if clash => 2,
                    7..=9 => 3,
                    _ => 0,
                } + u8::from(tail.is_none());
                self.power(Rule::ThreeDigits, Unit::Farad, first, exponent, tail, doubt);
            }
            4 => {
                // Three digits are for parts of few percent.
                let doubt = if clash { 3 } else { 0 } + if last > 7 { 6 } else { 0 };
                self.power(Rule::FourDigits, Unit::Ohm, first, last, tail, doubt);
                if last < 8 {
                    self.power(Rule::FourDigits, Unit::Farad, first, last, tail, 6);
                }
            }
            _ => {}
        }
        if size > 4 {
            return;
        }
        if tail.is_none() {
            let doubt = if size > 2 { 4 } else { 0 };
            self.plain(Unit::Ohm, body, tail, doubt);
        }
        let doubt = match (size, tail) {
            (1 | 2, None) => 1,
            (1 | 2, Some(_)) => 3,
            (3, _) => 6,
            _ => 5,
        };
        // Two digits with a letter that are no preferred value are a slip in a code of E96.
        let preferred = body.parse().is_ok_and(|digits| Series::E24.contains(digits));
        if size == 1 || (size == 2 && (tail.is_none() || preferred)) || (size > 2 && last == 0) {
            self.plain(Unit::Farad, body, tail, doubt);
        }
    }

    /// A link of zero ohms.
    pub(super) fn link(&mut self) {
        self.list.push(Draft {
            unit: Unit::Ohm,
            value: 0.0,
            tolerance: None,
            rule: Rule::Link,
            // At most 50 mΩ: what makers state for chips, 20 mΩ for leaded ones.
            how: "a link: zero ohms, at most 50 mΩ on a chip".to_owned(),
            doubt: 0,
        });
    }

    /// Digits and a power of ten.
    fn power(
        &mut self,
        rule: Rule,
        unit: Unit,
        digits: &str,
        exponent: i32,
        tail: Option<Tail>,
        doubt: u8,
    ) {
        let (shift, name) = base(unit);
        let how = match exponent {
            -2 => format!("{digits} times 0.01, in {name}"),
            -1 => format!("{digits} times 0.1, in {name}"),
            0 => format!("{digits} as it stands, in {name}"),
            1 => format!("{digits} and one zero, in {name}"),
            _ => format!("{digits} and {exponent} zeros, in {name}"),
        };
        self.push(rule, unit, (digits, exponent + shift), tail, how, doubt);
    }

    fn plain(&mut self, unit: Unit, digits: &str, tail: Option<Tail>, doubt: u8) {
        let (shift, name) = base(unit);
        let how = format!("written plainly, in {name}");
        self.push(Rule::Plain, unit, (digits, shift), tail, how, doubt);
    }

    /// A number from 01 to 96 and a letter.
    fn e96(&mut self, code: &str) {
        let Some((number, digits, letter)) = e96_parts(code) else { return };
        let Some((_, exponent)) = E96_LETTERS.iter().find(|(known, _)| *known == letter) else {
            return;
        };
        let Some(step) = number.checked_sub(1).and_then(|at| Series::E96.values().get(at)) else {
            return;
        };
        let times = match exponent {
            -3 => "0.001",
            -2 => "0.01",
            -1 => "0.1",
            0 => "1",
            1 => "10",
            2 => "100",
            3 => "1000",
            4 => "10 000",
            _ => "100 000",
        };
        let how = format!("{digits} stands for {step} in E96, {letter} for times {times}");
        // `10R` is the letter code far more often.
        let doubt = if letter == 'R' && !digits.starts_with('0') { 3 } else { 0 };
        self.push(Rule::E96Code, Unit::Ohm, (&step.to_string(), *exponent), None, how, doubt);
    }

    /// Adds a reading of `digits` times ten to a power, unless its tolerance makes no sense.
    pub(super) fn push(
        &mut self,
        rule: Rule,
        unit: Unit,
        (digits, exponent): (&str, i32),
        tail: Option<Tail>,
        how: String,
        doubt: u8,
    ) {
        // Through decimal digits: 47 and 3 give 47000, not a neighbour of it.
        let Ok(value) = format!("{digits}e{exponent}").parse::<f64>() else { return };
        let letter = tail.map(|tail| tail.letter);
        let marked = letter.and_then(|letter| tolerance(letter, unit, value));
        if letter.is_some() && marked.is_none() {
            return;
        }
        let mut doubt = doubt;
        if !Series::E24.contains(value) {
            // Capacitors come in E24 and coarser series.
            doubt += match (Series::E192.contains(value), unit) {
                (true, Unit::Ohm) if Series::E96.contains(value) => 0,
                (true, Unit::Ohm) => 1,
                (true, _) => 3,
                (false, _) => 4,
            };
        }
        if tail.is_some_and(|tail| tail.small) {
            doubt += 3;
        }
        if unit == Unit::Farad && matches!(letter, Some('E' | 'L' | 'P' | 'W')) {
            // No capacitor of such a form is made that close.
            doubt += 4;
        }
        self.list.push(Draft { unit, value, tolerance: marked, rule, how, doubt });
    }
}

/// The power of ten and the name of what digits count.
fn base(unit: Unit) -> (i32, &'static str) {
    if unit == Unit::Farad { (-12, "picofarads") } else { (0, "ohms") }
}

/// Two digits and a letter: the number, its digits, and the letter as a capital.
pub(super) fn e96_parts(code: &str) -> Option<(usize, &str, char)> {
    let digits = code.get(..2)?;
    let mut rest = code.get(2..)?.chars();
    let letter = rest.next()?.to_ascii_uppercase();
    if rest.next().is_some() || !digits.bytes().all(|byte| byte.is_ascii_digit()) {
        return None;
    }
    Some((digits.parse().ok()?, digits, letter))
}

/// Letters of the two-digit code of E96 values, with the power of ten on the three digits.
pub(super) const E96_LETTERS: [(char, i32); 12] = [
    ('Z', -3),
    ('Y', -2),
    ('R', -2),
    ('X', -1),
    ('S', -1),
    ('A', 0),
    ('B', 1),
    ('H', 1),
    ('C', 2),
    ('D', 3),
    ('E', 4),
    ('F', 5),
];
