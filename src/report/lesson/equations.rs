//! The equations of a lesson with symbols and with values.

use super::expr::Expr;
use crate::quantity::Unit;
use crate::study::lesson::{Branch, Form, Lesson, Pair, Row, Unknown};

/// How values are written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Mode {
    /// As symbols.
    Symbols,
    /// As numbers.
    Values,
    /// As blanks to fill in.
    Blanks,
}

/// Writes the equations of a lesson.
#[derive(Clone, Copy)]
pub(super) struct Writer<'a> {
    pub(super) lesson: &'a Lesson,
    pub(super) mode: Mode,
}

/// An equation: what it is of, and its two sides.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Equation {
    pub(super) left: Expr,
    pub(super) right: Expr,
}

impl Equation {
    /// The text in one line.
    pub(super) fn text(&self) -> String {
        format!("{} = {}", self.left.text(), self.right.text())
    }
}

impl Writer<'_> {
    fn branch(&self, at: usize) -> &Branch {
        &self.lesson.branches[at]
    }

    /// A number; not less than nothing, since signs stand before it.
    fn value(&self, value: f64, unit: Unit, symbol: Expr) -> Expr {
        match self.mode {
            Mode::Symbols => symbol,
            Mode::Values => Expr::Value(value, unit, self.lesson.value_digits),
            Mode::Blanks => Expr::Blank,
        }
    }

    /// A number that a term of a sum begins with: as symbol always added, as number with its sign.
    fn signed(&self, minus: bool, value: f64, unit: Unit, symbol: Expr) -> (bool, Expr) {
        match self.mode {
            Mode::Symbols => (minus, symbol),
            _ => (minus != (value < 0.0), self.value(value.abs(), unit, symbol)),
        }
    }

    /// What the resistance of a branch is called.
    fn ohms_symbol(&self, at: usize) -> Expr {
        let label = &self.branch(at).label;
        match label.strip_prefix('R') {
            Some(rest) if rest.starts_with(|first: char| first.is_ascii_digit()) => {
                Expr::Name(label.clone())
            }
            _ => Expr::Symbol("R", label.clone()),
        }
    }

    fn symbol(&self, letter: &'static str, at: usize) -> Expr {
        Expr::Symbol(letter, self.branch(at).label.clone())
    }

    /// Volts of a net as a term of a sum; nothing for ground.
    fn net(&self, minus: bool, net: usize) -> Option<(bool, Expr)> {
        if net == 0 {
            return None;
        }
        let symbol = Expr::Volts(self.lesson.nets[net].clone());
        let volts = self.lesson.solution.volts[net];
        if self.lesson.system.is_known(net) {
            if self.mode != Mode::Symbols && volts == 0.0 {
                return None;
            }
            return Some(self.signed(minus, volts, Unit::Volt, symbol));
        }
        Some((minus, symbol))
    }

    /// The difference of the volts of two nets, as terms.
    fn difference(&self, [plus, minus]: Pair) -> Vec<(bool, Expr)> {
        self.net(false, plus).into_iter().chain(self.net(true, minus)).collect()
    }

    /// The current of a branch as terms, counted from its first net to its second, or turned.
    pub(super) fn flow(&self, at: usize, turned: bool) -> Vec<(bool, Expr)> {
        let lesson = self.lesson;
        let is_unknown = lesson.system.unknowns.contains(&Unknown::Amps(at));
        if is_unknown || lesson.system.follows(at) {
            return vec![(turned, Expr::Amps(self.branch(at).label.clone()))];
        }
        self.law(at, turned)
    }

    /// The law of a branch that gives its current, as terms.
    fn law(&self, at: usize, turned: bool) -> Vec<(bool, Expr)> {
        let branch = self.branch(at);
        let pair = if turned { [branch.to, branch.from] } else { [branch.from, branch.to] };
        match &branch.form {
            Form::Open | Form::Relation { .. } => Vec::new(),
            Form::Resistance { ohms } => {
                let (minus, above) = pulled(self.difference(pair));
                vec![(minus, above.over(self.value(*ohms, Unit::Ohm, self.ohms_symbol(at))))]
            }
            Form::Source { volts, ohms } => {
                let mut above = self.difference(pair);
                above.push(self.signed(!turned, *volts, Unit::Volt, self.symbol("E", at)));
                let below = self.value(*ohms, Unit::Ohm, self.symbol("R", at));
                let (minus, above) = pulled(above);
                vec![(minus, above.over(below))]
            }
            Form::Current { amps } => {
                vec![self.signed(turned, *amps, Unit::Amp, self.symbol("I", at))]
            }
            Form::Companion { siemens, amps } => {
                let (is_away, volts) = pulled(self.difference(pair));
                // A falling curve has a slope below nothing.
                let (minus, slope) =
                    self.signed(is_away, *siemens, Unit::Siemens, self.symbol("G", at));
                let mut terms = vec![(minus, slope.times(volts))];
                terms.push(self.signed(turned, *amps, Unit::Amp, self.symbol("J", at)));
                terms
            }
            Form::Ratio { terms } => terms
                .iter()
                .enumerate()
                .map(|(number, (factor, of))| {
                    if factor.abs() == 1.0 {
                        return (
                            turned != (*factor < 0.0),
                            Expr::Amps(self.branch(*of).label.clone()),
                        );
                    }
                    let letter = ["k", "k2", "k3"][number.min(2)];
                    let (minus, factor) =
                        self.signed(turned, *factor, Unit::One, self.symbol(letter, at));
                    (minus, factor.times(Expr::Amps(self.branch(*of).label.clone())))
                })
                .collect(),
            Form::Steered { terms, amps } => {
                let mut found: Vec<(bool, Expr)> = terms
                    .iter()
                    .enumerate()
                    .map(|(number, (slope, pair))| {
                        let letter = ["G", "G2", "G3", "G4"][number.min(3)];
                        let (is_away, volts) = pulled(self.difference(*pair));
                        let symbol = self.symbol(letter, at);
                        let (minus, slope) =
                            self.signed(turned != is_away, *slope, Unit::Siemens, symbol);
                        (minus, slope.times(volts))
                    })
                    .collect();
                if *amps != 0.0 {
                    found.push(self.signed(turned, *amps, Unit::Amp, self.symbol("J", at)));
                }
                found
            }
        }
    }

    /// So many times the volts between two nets, as terms; the sign stands before the letter, too.
    fn multiple(&self, (at, number): (usize, usize), factor: f64, pair: Pair) -> Vec<(bool, Expr)> {
        let [plus, minus] = pair;
        if factor.abs() == 1.0 {
            return self.difference(if factor < 0.0 { [minus, plus] } else { pair });
        }
        let (is_away, volts) = pulled(self.difference(pair));
        let letter = ["c", "c2", "c3", "c4"][number.min(3)];
        let size = self.value(factor.abs(), Unit::One, self.symbol(letter, at));
        vec![(is_away != (factor < 0.0), size.times(volts))]
    }

    /// An equation of the system.
    pub(super) fn row(&self, row: Row) -> Equation {
        match row {
            Row::Balance(net) => {
                let at = self.lesson.system.at(&self.lesson.branches, net);
                let terms = at.into_iter().flat_map(|(at, leaves)| self.flow(at, !leaves));
                Equation { left: Expr::sum(terms.collect()), right: Expr::zero() }
            }
            Row::Law(at) => self.own_law(at),
        }
    }

    /// The law of a branch whose current is an unknown.
    fn own_law(&self, at: usize) -> Equation {
        let branch = self.branch(at);
        let amps = Expr::Amps(branch.label.clone());
        let Form::Relation { terms, volts, ohms } = &branch.form else {
            return Equation { left: amps, right: Expr::sum(self.law(at, false)) };
        };
        // What begins with the volts of one net says what these are.
        let n_left = match terms[..] {
            [(1.0, [_, 0]), _, ..] => 1,
            _ => terms.len(),
        };
        let (mut left, mut right) = (Vec::new(), Vec::new());
        for (number, (factor, pair)) in terms.iter().enumerate() {
            match number < n_left {
                true => left.extend(self.multiple((at, number), *factor, *pair)),
                false => right.extend(self.multiple((at, number - n_left), -factor, *pair)),
            }
        }
        if *volts != 0.0 {
            right.push((*volts < 0.0, self.value(volts.abs(), Unit::Volt, self.symbol("E", at))));
        }
        if *ohms != 0.0 {
            let size = self.value(ohms.abs(), Unit::Ohm, self.symbol("R", at));
            right.push((*ohms < 0.0, size.times(amps)));
        }
        // A sum of nothing but what is taken away is turned round with its other side.
        if !left.is_empty() && left.iter().all(|(minus, _)| *minus) {
            left.iter_mut().chain(&mut right).for_each(|(minus, _)| *minus = !*minus);
        }
        Equation { left: Expr::sum(left), right: Expr::sum(right) }
    }
}

/// A sum whose terms are all taken away is one that is taken away.
fn pulled(mut terms: Vec<(bool, Expr)>) -> (bool, Expr) {
    let is_away = !terms.is_empty() && terms.iter().all(|(minus, _)| *minus);
    if is_away {
        terms.iter_mut().for_each(|(minus, _)| *minus = false);
    }
    (is_away, Expr::sum(terms))
}
