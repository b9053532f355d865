//! The order of measurements that costs least in the mean, on numbers alone.
//!
//! What could be true is a list of points, each of a class: a fault with one value, or with three of
//! them. A test puts every point into a cell, the range of values that it would show. The optimum is
//! found by dynamic programming over the sets of points that can remain,
//!
//! ```text
//! V(S, power) = min over tests  cost(test, power) + Σ P(cell | S) · V(S ∩ cell, power of the test)
//! ```
//!
//! zero where S is of one class, or of classes that no test tells apart. It is exact to about
//! sixteen classes; beyond a budget of sets the best first step by one-step information, followed by
//! the same, stands in for it. (M. R. Garey, "Optimal binary identification procedures", SIAM J.
//! Applied Mathematics 23, 1972; from memory.)

use std::collections::HashMap;

/// The most points of one problem: the bits of a set.
pub const MOST_POINTS: usize = 64;

/// With up to so many classes the optimum is looked for.
const MOST_CLASSES: usize = 16;
/// Sets that may be looked into for the answer to one question: some ten milliseconds.
pub const BUDGET: usize = 4000;

/// Something that could be true.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Point {
    /// Points of one class need not be told apart.
    pub class: usize,
    /// How likely it is; weights need not add up to one.
    pub weight: f64,
}

/// A measurement.
#[derive(Debug, Clone, PartialEq)]
pub struct Test {
    /// What it costs, without switching the power.
    pub effort: f64,
    /// Whether the power is on for it.
    pub live: bool,
    /// Per point, the cell that it would fall into.
    pub cells: Vec<u16>,
}

/// What could be true, and what could be measured.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Problem {
    /// At most [`MOST_POINTS`].
    pub points: Vec<Point>,
    /// The measurements.
    pub tests: Vec<Test>,
    /// What it costs to switch the power off, and on.
    pub switching: [f64; 2],
}

/// A first step, with what the whole way is expected to cost.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Step {
    /// The test to begin with; `None` where nothing is to be told apart, or nothing tells.
    pub test: Option<usize>,
    /// The expected effort of the whole way.
    pub effort: f64,
    /// Whether no way costs less in the mean.
    pub is_optimal: bool,
}

/// How the next test is chosen.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Policy {
    /// As the planner goes on: [`Problem::next`] at every step.
    Planned,
    /// The most information about the class per effort, one step ahead.
    Gain,
    /// The first in the list that tells anything.
    InOrder,
}

/// A set of points.
type Set = u64;

impl Problem {
    /// All points.
    pub fn all(&self) -> Set {
        match self.points.len() {
            n if n >= MOST_POINTS => Set::MAX,
            n => (1 << n) - 1,
        }
    }

    /// The optimum from a set of points, with the power on or off; `budget` is the most sets that
    /// are looked into for it.
    pub fn optimum(&self, set: Set, live: bool, budget: usize) -> Step {
        let mut search = Search { problem: self, known: HashMap::new(), left: budget };
        if let Some((effort, test)) = search.best(set, live) {
            return Step { test, effort, is_optimal: true };
        }
        self.rollout(set, live)
    }

    /// The next test: the first of the optimum while few classes remain, otherwise the one that tells
    /// most per effort. `None` where nothing is left to be told apart.
    pub fn next(&self, set: Set, live: bool) -> Option<usize> {
        let mut classes: Vec<usize> = members(set).map(|at| self.points[at].class).collect();
        classes.sort_unstable();
        classes.dedup();
        if classes.len() <= MOST_CLASSES {
            return self.optimum(set, live, BUDGET).test;
        }
        let useful = self.useful(set, live).into_iter();
        let gain = |(number, cells): (usize, Vec<Set>)| {
            (self.gain(set, &cells) / self.cost(number, live), number)
        };
        let best = useful.map(gain).max_by(|a, b| a.0.total_cmp(&b.0).then(b.1.cmp(&a.1)));
        best.map(|(_, number)| number)
    }

    /// The cells that a test parts a set into, with what each shows.
    pub fn parts(&self, set: Set, test: usize) -> Vec<(u16, Set)> {
        let cells = &self.tests[test].cells;
        let mut shown: Vec<u16> = members(set).map(|at| cells[at]).collect();
        shown.sort_unstable();
        shown.dedup();
        shown.into_iter().map(|cell| (cell, self.cell(set, test, cell))).collect()
    }

    /// The best first step when the way goes on by one-step information.
    fn rollout(&self, set: Set, live: bool) -> Step {
        let mut known = HashMap::new();
        let mut best = Step { test: None, effort: f64::INFINITY, is_optimal: false };
        for (number, cells) in self.useful(set, live) {
            let rest: f64 = cells
                .iter()
                .map(|&cell| {
                    let there = self.tests[number].live;
                    self.weight(cell) * self.follow(cell, there, Policy::Gain, &mut known)
                })
                .sum();
            let effort = self.cost(number, live) + rest / self.weight(set);
            if effort < best.effort {
                best = Step { test: Some(number), effort, is_optimal: false };
            }
        }
        if best.test.is_none() { Step { effort: 0.0, ..best } } else { best }
    }

    /// The expected effort when every test is chosen by a policy.
    pub fn expected(&self, set: Set, live: bool, policy: Policy) -> f64 {
        self.follow(set, live, policy, &mut HashMap::new())
    }

    /// The expected effort when tests that tell anything are taken at random; `chance` gives numbers
    /// between zero and one. The mean over one walk per point, by weight.
    pub fn random_walks(&self, live: bool, chance: &mut dyn FnMut() -> f64) -> f64 {
        let total = self.weight(self.all());
        let walk = |(at, point): (usize, &Point)| {
            let (mut set, mut live, mut effort) = (self.all(), live, 0.0);
            loop {
                let useful = self.useful(set, live);
                if useful.is_empty() {
                    return point.weight * effort;
                }
                let chosen = ((chance() * useful.len() as f64) as usize).min(useful.len() - 1);
                let number = useful[chosen].0;
                effort += self.cost(number, live);
                live = self.tests[number].live;
                set = self.cell(set, number, self.tests[number].cells[at]);
            }
        };
        self.points.iter().enumerate().map(walk).sum::<f64>() / total
    }

    fn follow(
        &self,
        set: Set,
        live: bool,
        policy: Policy,
        known: &mut HashMap<(Set, bool), f64>,
    ) -> f64 {
        if let Some(&effort) = known.get(&(set, live)) {
            return effort;
        }
        let useful = self.useful(set, live);
        let chosen = match policy {
            Policy::Planned => self
                .next(set, live)
                .and_then(|chosen| useful.into_iter().find(|(number, _)| *number == chosen)),
            Policy::InOrder => useful.into_iter().next(),
            Policy::Gain => useful
                .into_iter()
                .map(|(number, cells)| {
                    let gain = self.gain(set, &cells) / self.cost(number, live);
                    (gain, number, cells)
                })
                .max_by(|a, b| a.0.total_cmp(&b.0).then(b.1.cmp(&a.1)))
                .map(|(_, number, cells)| (number, cells)),
        };
        let effort = chosen.map_or(0.0, |(number, cells)| {
            let there = self.tests[number].live;
            let rest = cells
                .iter()
                .map(|&cell| self.weight(cell) * self.follow(cell, there, policy, known))
                .sum::<f64>();
            self.cost(number, live) + rest / self.weight(set)
        });
        known.insert((set, live), effort);
        effort
    }

    /// What a test costs, switching the power included.
    fn cost(&self, test: usize, live: bool) -> f64 {
        let Test { effort, live: wanted, .. } = self.tests[test];
        effort + if wanted == live { 0.0 } else { self.switching[usize::from(wanted)] }
    }

    /// The weight of a set.
    pub fn weight(&self, set: Set) -> f64 {
        members(set).map(|at| self.points[at].weight).sum()
    }

    /// The points of a set that fall into one cell of a test.
    fn cell(&self, set: Set, test: usize, cell: u16) -> Set {
        let cells = &self.tests[test].cells;
        members(set).filter(|&at| cells[at] == cell).fold(0, |set, at| set | 1 << at)
    }

    /// Information about the class, in bits, of a test that parts a set so.
    fn gain(&self, set: Set, cells: &[Set]) -> f64 {
        let whole = self.weight(set);
        let rest: f64 =
            cells.iter().map(|&cell| self.weight(cell) / whole * self.entropy(cell)).sum();
        self.entropy(set) - rest
    }

    /// The entropy of the class within a set, in bits.
    pub fn entropy(&self, set: Set) -> f64 {
        let mut classes: Vec<(usize, f64)> = Vec::new();
        for at in members(set) {
            let Point { class, weight } = self.points[at];
            match classes.iter_mut().find(|(known, _)| *known == class) {
                Some((_, sum)) => *sum += weight,
                None => classes.push((class, weight)),
            }
        }
        let whole: f64 = classes.iter().map(|(_, weight)| weight).sum();
        let bits = |(_, weight): &(usize, f64)| match weight / whole {
            share if share > 0.0 => -share * share.log2(),
            _ => 0.0,
        };
        classes.iter().map(bits).sum()
    }

    /// The tests that part a set, with its cells; none where no classes are left to be told apart.
    /// Of tests that part it in the same way the cheapest stands for all.
    fn useful(&self, set: Set, live: bool) -> Vec<(usize, Vec<Set>)> {
        let class = |at: usize| self.points[at].class;
        let mut found: Vec<(usize, Vec<Set>)> = Vec::new();
        let mut seen: HashMap<(Vec<Set>, bool), usize> = HashMap::new();
        let mut tells = false;
        for (number, test) in self.tests.iter().enumerate() {
            let mut cells: Vec<(u16, Set)> = Vec::new();
            for at in members(set) {
                match cells.iter_mut().find(|(known, _)| *known == test.cells[at]) {
                    Some((_, cell)) => *cell |= 1 << at,
                    None => cells.push((test.cells[at], 1 << at)),
                }
            }
            if cells.len() < 2 {
                continue;
            }
            // Cells stand in the order of their first points: the same parting, the same list.
            let cells: Vec<Set> = cells.into_iter().map(|(_, cell)| cell).collect();
            tells |= members(set).any(|a| {
                let own = cells.iter().find(|cell| **cell & (1 << a) != 0);
                own.is_some_and(|own| members(set & !own).any(|b| class(a) != class(b)))
            });
            match seen.get(&(cells.clone(), test.live)) {
                Some(&at) => {
                    if self.cost(number, live) < self.cost(found[at].0, live) {
                        found[at].0 = number;
                    }
                }
                None => {
                    seen.insert((cells.clone(), test.live), found.len());
                    found.push((number, cells));
                }
            }
        }
        if tells { found } else { Vec::new() }
    }
}

/// The points of a set.
pub fn members(set: Set) -> impl Iterator<Item = usize> {
    (0..MOST_POINTS).filter(move |at| set & (1 << at) != 0)
}

/// A search for the optimum.
struct Search<'a> {
    problem: &'a Problem,
    known: HashMap<(Set, bool), (f64, Option<usize>)>,
    /// Sets that may still be looked into.
    left: usize,
}

impl Search<'_> {
    /// The least expected effort from a set, with the test to begin with; `None` past the budget.
    fn best(&mut self, set: Set, live: bool) -> Option<(f64, Option<usize>)> {
        if let Some(&known) = self.known.get(&(set, live)) {
            return Some(known);
        }
        let problem = self.problem;
        let mut useful: Vec<(f64, usize, Vec<Set>)> = problem
            .useful(set, live)
            .into_iter()
            .map(|(number, cells)| {
                (problem.gain(set, &cells) / problem.cost(number, live), number, cells)
            })
            .collect();
        if useful.is_empty() {
            self.known.insert((set, live), (0.0, None));
            return Some((0.0, None));
        }
        self.left = self.left.checked_sub(1)?;
        // What tells most per effort goes first: a good bound early on.
        useful.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)));
        let whole = problem.weight(set);
        let mut best = (f64::INFINITY, None);
        for (_, number, cells) in useful {
            let there = problem.tests[number].live;
            // Whatever remains to be told apart costs at least its cheapest test.
            let least: Vec<f64> = cells
                .iter()
                .map(|&cell| problem.weight(cell) / whole * self.least(cell, there))
                .collect();
            let mut effort = problem.cost(number, live) + least.iter().sum::<f64>();
            for (&cell, least) in cells.iter().zip(least) {
                if effort >= best.0 {
                    break;
                }
                let own = self.best(cell, there)?.0;
                effort += problem.weight(cell) / whole * own - least;
            }
            if effort < best.0 {
                best = (effort, Some(number));
            }
        }
        self.known.insert((set, live), best);
        Some(best)
    }

    /// A bound from below of the effort that a set costs.
    fn least(&self, set: Set, live: bool) -> f64 {
        if let Some((effort, _)) = self.known.get(&(set, live)) {
            return *effort;
        }
        let useful = self.problem.useful(set, live);
        let cheapest = useful.iter().map(|(number, _)| self.problem.cost(*number, live));
        let cheapest = cheapest.fold(f64::INFINITY, f64::min);
        if cheapest.is_finite() { cheapest } else { 0.0 }
    }
}
