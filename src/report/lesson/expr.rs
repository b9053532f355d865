//! A side of an equation, as a small tree that text and MathML are written from.

use crate::quantity::{Unit, print};

/// A side of an equation.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Expr {
    /// Volts of a net.
    Volts(String),
    /// Amps of a branch.
    Amps(String),
    /// A value with a letter of its own and what it belongs to, such as R(J1).
    Symbol(&'static str, String),
    /// A value that is called by its part alone, such as R1.
    Name(String),
    /// A number with its unit, to so many digits.
    Value(f64, Unit, usize),
    /// A number to be filled in.
    Blank,
    /// Terms, each with whether it is taken away.
    Sum(Vec<(bool, Expr)>),
    /// One over the other.
    Over(Box<Expr>, Box<Expr>),
    /// One times the other.
    Times(Box<Expr>, Box<Expr>),
}

impl Expr {
    /// Nothing.
    pub(super) fn zero() -> Expr {
        Expr::Value(0.0, Unit::One, 1)
    }

    /// One over the other.
    pub(super) fn over(self, below: Expr) -> Expr {
        Expr::Over(Box::new(self), Box::new(below))
    }

    /// One times the other.
    pub(super) fn times(self, other: Expr) -> Expr {
        Expr::Times(Box::new(self), Box::new(other))
    }

    /// A sum; nothing where there are no terms, and no sum of one term that is not taken away.
    pub(super) fn sum(terms: Vec<(bool, Expr)>) -> Expr {
        // A sum that is added is part of this one.
        let mut terms: Vec<(bool, Expr)> = terms
            .into_iter()
            .flat_map(|term| match term {
                (false, Expr::Sum(inner)) => inner,
                other => vec![other],
            })
            .collect();
        match terms.len() {
            0 => Expr::zero(),
            1 if !terms[0].0 => terms.remove(0).1,
            _ => {
                // What is taken away does not begin a sum when something else can.
                if terms[0].0
                    && let Some(at) = terms.iter().position(|(minus, _)| !minus)
                {
                    let first = terms.remove(at);
                    terms.insert(0, first);
                }
                Expr::Sum(terms)
            }
        }
    }

    /// The text in one line.
    pub(super) fn text(&self) -> String {
        match self {
            Expr::Volts(net) => format!("V({net})"),
            Expr::Amps(branch) => format!("I({branch})"),
            Expr::Symbol(letter, of) => format!("{letter}({of})"),
            Expr::Name(name) => name.clone(),
            Expr::Value(value, unit, digits) => number(*value, *unit, *digits),
            Expr::Blank => BLANK.to_owned(),
            Expr::Sum(_) => self.terms().concat(),
            Expr::Over(above, below) => format!("{}/{}", above.factor(), below.factor()),
            Expr::Times(one, other) => format!("{}·{}", one.factor(), other.factor()),
        }
    }

    /// The terms of a sum, each with its sign before it; one for anything else.
    pub(super) fn terms(&self) -> Vec<String> {
        let Expr::Sum(terms) = self else { return vec![self.text()] };
        let term = |(at, (minus, term)): (usize, &(bool, Expr))| {
            let sign = match (at, minus) {
                (0, false) => "",
                (0, true) => "-",
                (_, false) => " + ",
                (_, true) => " - ",
            };
            format!("{sign}{}", term.factor())
        };
        terms.iter().enumerate().map(term).collect()
    }

    fn factor(&self) -> String {
        match self {
            Expr::Sum(_) => format!("({})", self.text()),
            _ => self.text(),
        }
    }
}

/// What stands where a number is to be filled in.
pub(super) const BLANK: &str = "______";

/// A number with its unit, to so many digits and without zeros at the end.
pub(super) fn number(value: f64, unit: Unit, digits: usize) -> String {
    let text = or_nothing(print(value, unit, digits), unit);
    let (number, rest) = text.split_once(' ').unwrap_or((&text, ""));
    let (number, exponent) = number.split_once('e').unwrap_or((number, ""));
    let number = match number.contains('.') {
        true => number.trim_end_matches('0').trim_end_matches('.'),
        false => number,
    };
    let exponent = if exponent.is_empty() { String::new() } else { format!("e{exponent}") };
    format!("{number}{exponent} {rest}").trim_end().to_owned()
}

/// A printed number, but nothing at all where its digits are all zeros: no sign stands before that,
/// and no prefix.
pub(super) fn or_nothing(text: String, unit: Unit) -> String {
    let digits = text.split([' ', 'e']).next().unwrap_or("");
    let is_nothing = !digits.is_empty() && digits.chars().all(|one| "-−+0.".contains(one));
    if is_nothing { print(0.0, unit, 1) } else { text }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_has_no_sign() {
        assert_eq!(number(-0.0, Unit::Amp, 6), "0 A");
        for text in ["-0.0 nV", "0.00 mV", "-0 V", "0 V"] {
            assert_eq!(or_nothing(text.to_owned(), Unit::Volt), "0 V");
        }
        assert_eq!(or_nothing("-0.01 mV".to_owned(), Unit::Volt), "-0.01 mV");
    }

    #[test]
    fn numbers_have_no_zeros_at_the_end() {
        assert_eq!(number(47e3, Unit::Ohm, 6), "47 kΩ");
        assert_eq!(number(1.25e-7, Unit::One, 6), "1.25e-7");
        assert_eq!(number(100.0, Unit::One, 6), "100");
        assert_eq!(number(-0.0123, Unit::Amp, 6), "-12.3 mA");
    }

    #[test]
    fn a_sum_begins_with_what_is_added() {
        let sum = Expr::sum(vec![(true, Expr::Amps("A".into())), (false, Expr::Amps("B".into()))]);
        assert_eq!(sum.text(), "I(B) - I(A)");
        let over = sum.over(Expr::Value(1e3, Unit::Ohm, 6));
        assert_eq!(over.text(), "(I(B) - I(A))/1 kΩ");
    }
}
