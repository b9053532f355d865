//! Shorter ways to parts of the answer, the load line, and how they agree with the whole.

use super::document::{Block, Drawing};
use super::equations::Equation;
use super::expr::{BLANK, Expr, number};
use super::sections::View;
use crate::quantity::Unit;
use crate::study::lesson::{Form, LoadLine, Pair, Port, Shortcut};

/// A shorter way and the whole answer agree within this share.
const SAME: f64 = 1e-6;

/// The load line and the shorter ways.
pub(super) fn sections(view: &View<'_>, blocks: &mut Vec<Block>) {
    if let Some(line) = view.lesson.load_line.as_ref().filter(|_| !view.blank) {
        load_line(view, line, blocks);
    }
    if view.lesson.shortcuts.is_empty() {
        return;
    }
    let heading = if view.blank { "Is there a shorter way?" } else { "Shorter ways" };
    blocks.push(Block::Heading(heading.to_owned()));
    for shortcut in &view.lesson.shortcuts {
        Way { view, blocks }.tell(shortcut);
    }
}

/// Tells one shorter way.
struct Way<'a, 'b> {
    view: &'a View<'a>,
    blocks: &'b mut Vec<Block>,
}

impl Way<'_, '_> {
    fn tell(&mut self, shortcut: &Shortcut) {
        match shortcut {
            Shortcut::Series { branches, ends, ohms, volts, amps, given } => {
                self.series(branches, *ends, *ohms);
                match given {
                    Some(at) => self.left_for(*at, *ohms, (*volts, *amps)),
                    None => self.same_current(*ends, *ohms, (*volts, *amps)),
                }
            }
            Shortcut::Parallel { branches, pair, ohms } => self.parallel(branches, *pair, *ohms),
            Shortcut::Divider { .. } => self.divider(shortcut),
            Shortcut::Bridge { .. } => self.bridge(shortcut),
            Shortcut::Thevenin { branch, pair, port, volts, amps } => {
                self.thevenin(*branch, *pair, *port, (*volts, *amps));
            }
        }
    }

    fn small(&mut self, text: String) {
        self.blocks.push(Block::Small(text));
    }

    fn say(&mut self, text: String) {
        self.blocks.push(Block::Sentence(text));
    }

    fn ohms(&self, ohms: f64) -> Expr {
        if self.view.blank { Expr::Blank } else { Expr::Value(ohms, Unit::Ohm, 6) }
    }

    fn volts(&self, volts: f64) -> Expr {
        if self.view.blank { Expr::Blank } else { Expr::Value(volts, Unit::Volt, 6) }
    }

    fn r(&self, at: usize) -> Expr {
        let label = self.view.label(at);
        match label.starts_with('R') {
            true => Expr::Name(label.to_owned()),
            false => Expr::Symbol("R", label.to_owned()),
        }
    }

    /// Formula, numbers, and the value.
    fn equations(&mut self, name: &str, left: Expr, formula: Expr, numbers: Expr, value: String) {
        let equation =
            |left: &Expr, right: Expr| (String::new(), Equation { left: left.clone(), right });
        let value = if self.view.blank { BLANK.to_owned() } else { value };
        self.blocks.push(Block::Equations(vec![
            (name.to_owned(), Equation { left: left.clone(), right: formula }),
            equation(&left, numbers),
            equation(&left, Expr::Name(value)),
        ]));
    }

    /// Whether a short way and the whole answer agree, in words.
    fn agrees(&self, what: &str, short: f64, whole: f64, words: String) -> String {
        if self.view.blank {
            return format!("Compare with {what} of the whole solution.");
        }
        let most = short.abs().max(whole.abs());
        match (short - whole).abs() <= SAME * most.max(1e-12) {
            true => format!("The whole solution has {words} as {what}: the same."),
            false => format!("The whole solution has {words} as {what}."),
        }
    }

    fn labels(&self, branches: &[usize]) -> String {
        branches.iter().map(|at| self.view.label(*at)).collect::<Vec<_>>().join(", ")
    }

    /// The sum of the resistances of these branches, as symbols.
    fn sum(&self, branches: &[usize]) -> Expr {
        Expr::sum(branches.iter().map(|at| (false, self.r(*at))).collect())
    }

    fn series(&mut self, branches: &[usize], ends: Pair, ohms: f64) {
        let names = self.labels(branches);
        self.small(match ends[0] == ends[1] {
            true => format!("Series: one loop through {names}"),
            false => format!("Series: {names}"),
        });
        let numbers = branches.iter().filter_map(|at| match self.view.lesson.branches[*at].form {
            Form::Resistance { ohms } | Form::Source { ohms, .. } => Some((false, self.ohms(ohms))),
            _ => None,
        });
        let numbers = Expr::sum(numbers.collect());
        let total = Expr::Symbol("R", "series".to_owned());
        self.equations("", total, self.sum(branches), numbers, number(ohms, Unit::Ohm, 6));
    }

    /// The current that resistances in series share.
    fn same_current(&mut self, ends: Pair, ohms: f64, (volts, amps): (f64, f64)) {
        let name = |net: usize| Expr::Volts(self.view.net(net).to_owned());
        let above = match ends[0] == ends[1] {
            true => Expr::Symbol("E", "loop".to_owned()),
            false => Expr::sum(vec![(false, name(ends[0])), (true, name(ends[1]))]),
        };
        let current = Expr::Amps("series".to_owned());
        let short = volts / ohms;
        let formula = above.over(Expr::Symbol("R", "series".to_owned()));
        let numbers = self.volts(volts).over(self.ohms(ohms));
        self.equations("", current, formula, numbers, self.view.amps(short));
        let text = self.agrees("this current", short, amps, self.view.amps(amps));
        self.say(text);
    }

    /// What is left across the branch that gives the current of a loop.
    fn left_for(&mut self, at: usize, ohms: f64, (volts, amps): (f64, f64)) {
        let label = self.view.label(at).to_owned();
        let branch = &self.view.lesson.branches[at];
        let whole = self.view.lesson.solution.across([branch.from, branch.to]);
        let whole = if self.view.lesson.solution.amps[at] < 0.0 { -whole } else { whole };
        let left = volts - ohms * amps.abs();
        self.say(format!(
            "{label} gives the current of the loop; what the ohms leave of the source is across it."
        ));
        let formula = Expr::sum(vec![
            (false, Expr::Symbol("E", "loop".to_owned())),
            (true, Expr::Symbol("R", "series".to_owned()).times(Expr::Amps(label.clone()))),
        ]);
        let current = match self.view.blank {
            true => Expr::Blank,
            false => Expr::Value(amps.abs(), Unit::Amp, 6),
        };
        let numbers =
            Expr::sum(vec![(false, self.volts(volts)), (true, self.ohms(ohms).times(current))]);
        self.equations(
            "",
            Expr::Symbol("U", label.clone()),
            formula,
            numbers,
            self.view.volts(left),
        );
        let text =
            self.agrees(&format!("volts across {label}"), left, whole, self.view.volts(whole));
        self.say(text);
    }

    fn parallel(&mut self, branches: &[(usize, f64, f64)], pair: Pair, ohms: f64) {
        let all: Vec<usize> = branches.iter().map(|(at, ..)| *at).collect();
        let nets = format!("{} and {}", self.view.net(pair[0]), self.view.net(pair[1]));
        let names = self.labels(&all);
        self.small(format!("Parallel: {names}, between {nets}"));
        let one = || Expr::Value(1.0, Unit::One, 1);
        let inverse = |of: Vec<Expr>| {
            one().over(Expr::sum(of.into_iter().map(|r| (false, one().over(r))).collect()))
        };
        let total = Expr::Symbol("R", "parallel".to_owned());
        let (formula, numbers) = match branches {
            [(a, x, _), (b, y, _)] => {
                let over = |a: Expr, b: Expr| {
                    let sum = Expr::sum(vec![(false, a.clone()), (false, b.clone())]);
                    a.times(b).over(sum)
                };
                (over(self.r(*a), self.r(*b)), over(self.ohms(*x), self.ohms(*y)))
            }
            _ => (
                inverse(all.iter().map(|at| self.r(*at)).collect()),
                inverse(branches.iter().map(|(_, ohms, _)| self.ohms(*ohms)).collect()),
            ),
        };
        self.equations("", total.clone(), formula, numbers, number(ohms, Unit::Ohm, 6));
        let current: f64 = branches.iter().map(|(.., amps)| amps).sum();
        let &(first, own, amps) = &branches[0];
        let whole = Expr::Amps("parallel".to_owned());
        let share = whole.clone().times(total).over(self.r(first));
        let given = match self.view.blank {
            true => Expr::Blank,
            false => Expr::Name(self.view.amps(current)),
        };
        let numbers = given.times(self.ohms(ohms)).over(self.ohms(own));
        let short = current * ohms / own;
        let label = self.view.label(first).to_owned();
        self.say("Current divider: the smaller the resistance, the larger its share.".to_owned());
        self.equations("", Expr::Amps(label.clone()), share, numbers, self.view.amps(short));
        let text = self.agrees(&format!("I({label})"), short, amps, self.view.amps(amps));
        self.say(text);
    }

    fn divider(&mut self, shortcut: &Shortcut) {
        let Shortcut::Divider { net, upper, lower, loads, currents, unloaded, loaded } = shortcut
        else {
            return;
        };
        let name = self.view.net(*net).to_owned();
        let is_loaded = !loads.is_empty() || !currents.is_empty();
        let word = if is_loaded { "Loaded divider" } else { "Divider" };
        let (high, low) = (self.labels(&upper.branches), self.labels(&lower.branches));
        self.small(format!("{word}: {name}, between {high} and {low}"));
        let left = Expr::Volts(name.clone());
        let share = |top: Expr, r_up: Expr, r_low: Expr, base: Option<Expr>| {
            let below = Expr::sum(vec![(false, r_up), (false, r_low.clone())]);
            let term = top.times(r_low).over(below);
            match base {
                None => term,
                Some(base) => Expr::sum(vec![(false, base), (false, term)]),
            }
        };
        let is_grounded = lower.volts == 0.0;
        if !self.view.lesson.system.is_known(upper.end) {
            self.say(format!(
                "Its top stands at what the whole solution has at {}.",
                self.view.net(upper.end)
            ));
        }
        let top_symbol = match is_grounded {
            true => Expr::Symbol("V", "top".to_owned()),
            false => Expr::sum(vec![
                (false, Expr::Symbol("V", "top".to_owned())),
                (true, Expr::Symbol("V", "bottom".to_owned())),
            ]),
        };
        let base = (!is_grounded).then(|| Expr::Symbol("V", "bottom".to_owned()));
        let base_value = (!is_grounded).then(|| self.volts(lower.volts));
        let top = self.volts(upper.volts - lower.volts);
        let formula = share(
            top_symbol.clone(),
            self.sum(&upper.branches),
            self.sum(&lower.branches),
            base.clone(),
        );
        let numbers =
            share(top.clone(), self.ohms(upper.ohms), self.ohms(lower.ohms), base_value.clone());
        let without = if is_loaded { "without the load" } else { "" };
        self.equations(without, left.clone(), formula, numbers, self.view.volts(*unloaded));
        if is_loaded {
            let below =
                1.0 / (1.0 / lower.ohms + loads.iter().map(|leg| 1.0 / leg.ohms).sum::<f64>());
            let total = Expr::Symbol("R", "below".to_owned());
            if !loads.is_empty() {
                let one = || Expr::Value(1.0, Unit::One, 1);
                let legs = || std::iter::once(lower).chain(loads);
                let symbols = legs().map(|leg| (false, one().over(self.sum(&leg.branches))));
                let numbers = legs().map(|leg| (false, one().over(self.ohms(leg.ohms))));
                let (symbols, numbers) = (
                    one().over(Expr::sum(symbols.collect())),
                    one().over(Expr::sum(numbers.collect())),
                );
                self.equations(
                    "with the load",
                    total.clone(),
                    symbols,
                    numbers,
                    number(below, Unit::Ohm, 6),
                );
            }
            let r_low = if loads.is_empty() { self.sum(&lower.branches) } else { total };
            let mut formula =
                vec![(false, share(top_symbol, self.sum(&upper.branches), r_low.clone(), base))];
            let mut numbers =
                vec![(false, share(top, self.ohms(upper.ohms), self.ohms(below), base_value))];
            let drawn: f64 = currents.iter().map(|(_, amps)| amps).sum();
            if drawn != 0.0 {
                let beside = |up: Expr, low: Expr| {
                    up.clone().times(low.clone()).over(Expr::sum(vec![(false, up), (false, low)]))
                };
                let given = match self.view.blank {
                    true => Expr::Blank,
                    false => Expr::Value(drawn.abs(), Unit::Amp, 6),
                };
                let minus = drawn > 0.0;
                let symbol = Expr::Amps("load".to_owned());
                formula.push((minus, symbol.times(beside(self.sum(&upper.branches), r_low))));
                numbers.push((minus, given.times(beside(self.ohms(upper.ohms), self.ohms(below)))));
            }
            let value = self.view.volts(*loaded);
            self.equations("with the load", left, Expr::sum(formula), Expr::sum(numbers), value);
        }
        let whole = self.view.lesson.solution.volts[*net];
        let text = self.agrees(&format!("V({name})"), *loaded, whole, self.view.volts(whole));
        self.say(text);
    }

    fn bridge(&mut self, shortcut: &Shortcut) {
        let Shortcut::Bridge { fed, output, arms, detector, open_volts, ohms, volts } = shortcut
        else {
            return;
        };
        let nets = [fed[0], fed[1], output[0], output[1]].map(|net| self.view.net(net).to_owned());
        let [top, bottom, left, right] = nets;
        self.small(format!("Bridge: {left} and {right}, fed from {top} and {bottom}"));
        let [a, b, c, d] = arms.as_ref();
        let ratio = |up: Expr, down: Expr| up.over(down);
        let balanced = (a.ohms * d.ohms - b.ohms * c.ohms).abs() <= SAME * a.ohms * d.ohms;
        self.say(
            "It is balanced, with nothing between its outputs, when both sides divide alike:"
                .to_owned(),
        );
        let (one, other) = (a.ohms / b.ohms, c.ohms / d.ohms);
        let sides = match self.view.blank {
            true => format!("{BLANK} and {BLANK}"),
            false => format!("{} and {}", number(one, Unit::One, 5), number(other, Unit::One, 5)),
        };
        self.blocks.push(Block::Equations(vec![(
            "balance".to_owned(),
            Equation {
                left: ratio(self.sum(&a.branches), self.sum(&b.branches)),
                right: ratio(self.sum(&c.branches), self.sum(&d.branches)),
            },
        )]));
        if !self.view.blank {
            let verdict = if balanced { "it is balanced" } else { "it is not balanced" };
            self.say(format!("Here the two sides are {sides}: {verdict}."));
        }
        let output_volts = Expr::sum(vec![(false, Expr::Volts(left)), (true, Expr::Volts(right))]);
        let side =
            |up: Expr, down: Expr| down.clone().over(Expr::sum(vec![(false, up), (false, down)]));
        let fed_symbol = Expr::sum(vec![(false, Expr::Volts(top)), (true, Expr::Volts(bottom))]);
        let formula = fed_symbol.times(Expr::sum(vec![
            (false, side(self.sum(&a.branches), self.sum(&b.branches))),
            (true, side(self.sum(&c.branches), self.sum(&d.branches))),
        ]));
        let numbers = self.volts(a.volts - b.volts).times(Expr::sum(vec![
            (false, side(self.ohms(a.ohms), self.ohms(b.ohms))),
            (true, side(self.ohms(c.ohms), self.ohms(d.ohms))),
        ]));
        let name = if detector.is_some() { "with nothing between" } else { "" };
        self.equations(name, output_volts.clone(), formula, numbers, self.view.volts(*open_volts));
        let mut short = *open_volts;
        if let Some(detector) = detector {
            short = open_volts * detector.ohms / (detector.ohms + ohms);
            let rest = number(*ohms, Unit::Ohm, 6);
            if !self.view.blank {
                self.say(format!(
                    "Its outputs see the two sides as {rest}: each pair of arms side by side, one \
                     after the other."
                ));
            }
            let behind = Expr::Symbol("R", "bridge".to_owned());
            let r = self.sum(&detector.branches);
            let share = |volts: Expr, r: Expr, behind: Expr| {
                volts.times(r.clone()).over(Expr::sum(vec![(false, r), (false, behind)]))
            };
            let formula = share(Expr::Symbol("V", "open".to_owned()), r, behind);
            let numbers =
                share(self.volts(*open_volts), self.ohms(detector.ohms), self.ohms(*ohms));
            self.equations("with it", output_volts, formula, numbers, self.view.volts(short));
        }
        let text = self.agrees("output", short, *volts, self.view.volts(*volts));
        self.say(text);
    }

    fn thevenin(
        &mut self,
        branch: Option<usize>,
        pair: Pair,
        port: Port,
        (volts, amps): (f64, f64),
    ) {
        let nets = match pair {
            [net, 0] => self.view.net(net).to_owned(),
            [plus, minus] => {
                format!("between {} and {}", self.view.net(plus), self.view.net(minus))
            }
        };
        let what = match branch {
            Some(at) => format!("what {} sees", self.view.label(at)),
            None => format!("what could be connected to {nets} would see"),
        };
        self.small(format!("Thevenin equivalent: {what}"));
        if self.view.blank {
            self.say(format!(
                "With nothing there: {BLANK} open-circuit, {BLANK} into a short, so {BLANK} behind \
                 {BLANK}."
            ));
            return;
        }
        let short = match port.short_amps() {
            Some(amps) => format!("{} into a short", number(amps, Unit::Amp, 5)),
            None => "any current into a short".to_owned(),
        };
        let taken = if branch.is_some() { "With it taken out" } else { "As it is" };
        let open = number(port.open_volts, Unit::Volt, 5);
        self.say(format!(
            "{taken}, {nets}: {open} open-circuit, {short}; so {open} behind {}.",
            number(port.ohms, Unit::Ohm, 5)
        ));
        if branch.is_some() {
            let back = port.open_volts - port.ohms * amps;
            let left = Expr::Symbol("V", "there".to_owned());
            let formula = Expr::sum(vec![
                (false, Expr::Symbol("V", "open".to_owned())),
                (
                    true,
                    Expr::Symbol("R", "behind".to_owned())
                        .times(Expr::Symbol("I", "there".to_owned())),
                ),
            ]);
            let numbers = Expr::sum(vec![
                (false, self.volts(port.open_volts)),
                (amps >= 0.0, self.ohms(port.ohms).times(Expr::Value(amps.abs(), Unit::Amp, 6))),
            ]);
            self.equations("", left, formula, numbers, self.view.volts(back));
            let text = self.agrees("volts there", back, volts, self.view.volts(volts));
            self.say(text);
        }
    }
}

fn load_line(view: &View<'_>, line: &LoadLine, blocks: &mut Vec<Block>) {
    let label = view.label(line.branch).to_owned();
    blocks.push(Block::Heading("Load line".to_owned()));
    let way = if line.is_reversed { ", counted backwards" } else { "" };
    let (volts, amps) = line.crossing;
    let crossing = format!("{} and {}", number(volts, Unit::Volt, 4), number(amps, Unit::Amp, 4));
    let rest = format!(
        "{} behind {}",
        number(line.rest.open_volts.abs(), Unit::Volt, 4),
        number(line.rest.ohms, Unit::Ohm, 4)
    );
    blocks.push(Block::Sentence(format!(
        "The rest of the circuit offers {label} {rest}: a straight line from {} with no current to \
         {} with no volts. {label} takes what its curve says{way}. They meet at {crossing}.",
        number(line.rest.open_volts.abs(), Unit::Volt, 4),
        number(line.rest.open_volts.abs() / line.rest.ohms, Unit::Amp, 4)
    )));
    blocks.push(Block::Plot(Box::new(Drawing {
        title: format!("{label} and its load line"),
        description: format!(
            "Amps over volts: the curve of {label} rises, the line of the rest ({rest}) falls; they \
             cross at {crossing}."
        ),
        across: format!("volts across {label}, V"),
        up: format!("amps through {label}, A"),
        lines: vec![
            (format!("curve of {label}"), line.curve.clone()),
            ("rest of the circuit".to_owned(), line.line.to_vec()),
        ],
        mark: (crossing, line.crossing),
        right: line.right,
    })));
}
