//! What could still be true as a problem on numbers, and the troubleshooting tree that follows.

use std::collections::BTreeSet;

use super::decide::{MOST_POINTS, Point, Problem, Test, members};
use super::measurements::Measurement;
use super::propose::{APART, Planner};
use super::repair::{Repair, repairs};
use super::suspects::Suspect;
use super::table::Seen;
use crate::circuit::{Circuit, SetupId};

/// A place of the troubleshooting tree.
#[derive(Debug, Clone, PartialEq)]
pub struct Tree {
    /// How likely it is to come here, from where the tree begins.
    pub probability: f64,
    /// What remains here, likeliest first.
    pub remaining: Vec<String>,
    /// The measurement to take here; `None` where measuring ends.
    pub measurement: Option<Measurement>,
    /// What it costs, switching the power included.
    pub effort: f64,
    /// What it may show, by ascending value.
    pub branches: Vec<Branch>,
    /// Where measuring ends: what to do, in this order.
    pub repairs: Vec<Repair>,
    /// Whether the tree is cut here because it was asked for no deeper.
    pub is_cut: bool,
}

/// A range of values that a measurement may show.
#[derive(Debug, Clone, PartialEq)]
pub struct Branch {
    /// The least value predicted, in the SI unit of the quantity; infinite for OL.
    pub low: f64,
    /// The most.
    pub high: f64,
    /// What is known then.
    pub tree: Tree,
}

/// Suspects and measurements as points and tests.
#[derive(Debug)]
pub(super) struct Sketch {
    pub(super) problem: Problem,
    /// Per point: its suspect and which of its values it is.
    points: Vec<(usize, usize)>,
    /// Per test: the number of its measurement.
    pub(super) tests: Vec<usize>,
}

impl Planner {
    /// What remains as a problem on numbers; measurements that were taken or are `passed_over` are
    /// left out.
    pub(super) fn sketch(&self, passed_over: &dyn Fn(&Measurement) -> bool) -> Sketch {
        let table = &self.table;
        // Every suspect at its likeliest value first; then, as far as there is room, at its ends.
        let n_values = |suspect: &Suspect| suspect.points.len();
        let middles = (0..table.suspects.len()).map(|suspect| (suspect, 0));
        let ends = (0..table.suspects.len()).flat_map(|suspect| {
            (1..n_values(&table.suspects[suspect])).map(move |at| (suspect, at))
        });
        let mut points: Vec<(usize, usize)> = middles.chain(ends).take(MOST_POINTS).collect();
        points.sort_unstable();
        let share = |&(suspect, at): &(usize, usize)| {
            let own = &table.suspects[suspect];
            // Where the ends found no room the middle stands for them.
            let whole = points.iter().filter(|(known, _)| *known == suspect).count();
            let share = if whole == 1 { 1.0 } else { own.points[at].0 };
            Point { class: own.site, weight: own.weight * share }
        };
        let weighed = points.iter().map(share).collect();
        let mut tests = Vec::new();
        let mut numbers = Vec::new();
        for (number, one) in table.measurements.iter().enumerate() {
            if self.closed[number] || passed_over(one) {
                continue;
            }
            let cells = self.cells(number, &points);
            if cells.iter().any(|cell| *cell != cells[0]) {
                let live = self.live[one.probe.setup.0];
                tests.push(Test { effort: one.effort, live, cells });
                numbers.push(number);
            }
        }
        let switching = [false, true].map(|live| self.switch_cost(live));
        Sketch { problem: Problem { points: weighed, tests, switching }, points, tests: numbers }
    }

    /// What remains as a problem on numbers alone: to hold plans against each other.
    pub fn problem(&self) -> Problem {
        self.sketch(&|_| false).problem
    }

    /// Per point, the range of values that it shows: points closer than three standard uncertainties
    /// share one. What has no operating point with the meter on it is told from nothing: it stands
    /// with the first.
    fn cells(&self, number: usize, points: &[(usize, usize)]) -> Vec<u16> {
        let seen: Vec<Option<Seen>> =
            points.iter().map(|&(suspect, at)| self.table.value(suspect, at, number)).collect();
        let y = |seen: &Seen| if seen.shown.is_finite() { seen.y } else { f64::INFINITY };
        let mut order: Vec<usize> = (0..points.len()).filter(|&at| seen[at].is_some()).collect();
        let at = |idx: usize| seen[idx].as_ref().map_or(f64::NAN, y);
        order.sort_by(|&a, &b| at(a).total_cmp(&at(b)).then(a.cmp(&b)));
        let mut cells = vec![1_u16; points.len()];
        let mut cell = 1;
        for pair in order.windows(2) {
            cells[pair[0]] = cell;
            let sigma = |idx: usize| seen[idx].as_ref().map_or(0.0, |seen| seen.sigma);
            let (low, high) = (at(pair[0]), at(pair[1]));
            let is_apart = low != high && high - low > APART * sigma(pair[0]).hypot(sigma(pair[1]));
            cell += u16::from(is_apart);
            cells[pair[1]] = cell;
        }
        merged(&cells, points)
    }

    /// The troubleshooting tree for a board that stands in the setup `now`, this many measurements
    /// deep.
    ///
    /// ```
    /// use ohmhound::plan::Planner;
    /// use ohmhound::{circuit::*, engine::Assembly, file::read_circuit, finding::Source};
    /// use ohmhound::{diagnosis::diagnose, file::read_readings};
    ///
    /// let text = "[parts]\nJ1 = { kind = \"supply\", volts = \"12 V\", nets = [\"IN\", \"GND\"] }\n\
    ///             R1 = { value = \"10k\", nets = [\"IN\", \"OUT\"] }\n\
    ///             R2 = { value = \"10k\", nets = [\"OUT\", \"GND\"] }";
    /// let circuit = read_circuit(&Source::new("divider.toml", text), &mut |_| Err(String::new()));
    /// let circuit = circuit.value.ok_or("the circuit is in order")?;
    /// let text = "[powered.volts]\nIN = 12.02\nOUT = 0.000";
    /// let readings = read_readings(&Source::new("r.toml", text), &circuit).value.ok_or("in order")?;
    ///
    /// let assembly = Assembly::new(&circuit);
    /// let diagnosis = diagnose(&assembly, &readings.readings, &[]);
    /// let planner = Planner::new(&assembly, &readings.readings, &diagnosis, &readings.meter);
    /// let tree = planner.tree(&circuit, POWERED, 3);
    /// assert!(tree.measurement.is_some() && tree.branches.len() > 1);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn tree(&self, circuit: &Circuit, now: SetupId, depth: usize) -> Tree {
        let share = self.share();
        let sketch = self.sketch(&|_| false);
        let (all, live) = (sketch.problem.all(), self.live[now.0]);
        let grown = Grown { planner: self, circuit, sketch: &sketch, share };
        grown.at(all, (now, live), depth)
    }
}

/// The cells with neighbours that the same suspects stand in taken together: to tell them apart would
/// only narrow a value down.
fn merged(cells: &[u16], points: &[(usize, usize)]) -> Vec<u16> {
    let n_cells = cells.iter().copied().max().unwrap_or(0);
    let within = |cell: u16| -> BTreeSet<usize> {
        let own = cells.iter().zip(points).filter(|(known, _)| **known == cell);
        own.map(|(_, (suspect, _))| *suspect).collect()
    };
    let mut stands_for = vec![0; usize::from(n_cells) + 1];
    let (mut last, mut number) = (BTreeSet::new(), 0);
    for cell in 1..=n_cells {
        let own = within(cell);
        number += u16::from(own != last);
        stands_for[usize::from(cell)] = number;
        last = own;
    }
    cells.iter().map(|cell| stands_for[usize::from(*cell)]).collect()
}

/// A tree while it grows.
struct Grown<'a> {
    planner: &'a Planner,
    circuit: &'a Circuit,
    sketch: &'a Sketch,
    share: f64,
}

impl Grown<'_> {
    fn at(&self, set: u64, (now, live): (SetupId, bool), depth: usize) -> Tree {
        let (problem, table) = (&self.sketch.problem, &self.planner.table);
        let whole = problem.weight(problem.all());
        let mut suspects: Vec<Suspect> = Vec::new();
        for at in members(set).filter(|at| *at < problem.points.len()) {
            let suspect = &table.suspects[self.sketch.points[at].0];
            let weight = problem.points[at].weight / whole;
            match suspects.iter_mut().find(|known| known.phrase == suspect.phrase) {
                Some(known) => known.weight += weight,
                None => suspects.push(Suspect { weight, ..suspect.clone() }),
            }
        }
        suspects.sort_by(|a, b| b.weight.total_cmp(&a.weight));
        let mut tree = Tree {
            probability: problem.weight(set) / whole * self.share,
            remaining: suspects.iter().map(|suspect| suspect.phrase.clone()).collect(),
            measurement: None,
            effort: 0.0,
            branches: Vec::new(),
            repairs: Vec::new(),
            is_cut: false,
        };
        let Some(test) = problem.next(set, live) else {
            tree.repairs = repairs(self.circuit, &suspects, self.share);
            return tree;
        };
        if depth == 0 {
            tree.is_cut = true;
            return tree;
        }
        let number = self.sketch.tests[test];
        let measurement = table.measurements[number].clone();
        let there = measurement.probe.setup;
        tree.effort = measurement.effort + self.planner.switching(now, there);
        let after = (there, problem.tests[test].live);
        for (_, cell) in problem.parts(set, test) {
            let shown = || {
                let seen = |at: usize| {
                    let (suspect, value) = self.sketch.points[at];
                    table.value(suspect, value, number)
                };
                members(cell).filter_map(seen).map(|seen| seen.shown)
            };
            let low = shown().fold(f64::INFINITY, f64::min);
            let high = shown().fold(f64::NEG_INFINITY, f64::max);
            let tree_there = self.at(cell, after, depth - 1);
            tree.branches.push(Branch { low, high, tree: tree_there });
        }
        tree.measurement = Some(measurement);
        tree
    }
}
