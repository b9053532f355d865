//! The value of a hypothesis after the readings: the weight of its causes along its line, with
//! medians and intervals, and the separate stretches of the line that fit.

use super::fit::chi_square_99;
use super::trace::Node;
use crate::fault::{Cause, Fault, Hypothesis};

/// A cause with less than this share of a hypothesis is not named.
const LEAST_CAUSE: f64 = 1e-3;
/// Halvings of an interval to find a quantile in it.
const HALVINGS: usize = 40;
/// A stretch of values with less than this share of its cause is not named.
const LEAST_STRETCH: f64 = 0.01;

/// One cause of a hypothesis after tracing.
#[derive(Debug, Clone)]
pub struct CauseShare {
    /// The fault, with the median of its own value where it has one.
    pub fault: Fault,
    /// Its share of the hypothesis's mass.
    pub share: f64,
    /// The lower end of the central 95 % of its value; `None` where it is open.
    pub low: Option<f64>,
    /// The upper end.
    pub high: Option<f64>,
    /// The separate stretches of values that fit, the likeliest first. Where there are several,
    /// the median and the interval are those of the first.
    pub stretches: Vec<Stretch>,
}

/// A stretch of values that fit, apart from others.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stretch {
    /// The median inside it, in the unit of the fault.
    pub value: f64,
    /// The lower end of the central 95 % inside it; `None` where it is open.
    pub low: Option<f64>,
    /// The upper end.
    pub high: Option<f64>,
    /// Its share of the cause.
    pub share: f64,
}

/// The mass of one kind of cause along the line.
struct Running {
    /// The cause that turns places into values.
    cause: usize,
    /// Places with the mass at and below them; a point with weight of its own has two entries.
    marks: Vec<(f64, f64)>,
}

impl Running {
    fn total(&self) -> f64 {
        self.marks.last().map_or(0.0, |(_, sum)| *sum)
    }

    /// The place below which this mass lies. Between two places the mass goes with the weight that
    /// lies there: leaks beside a resistor crowd into a hair's breadth of its line.
    fn quantile(&self, wanted: f64, weight: &dyn Fn(f64, f64) -> f64) -> f64 {
        let idx = self.marks.iter().position(|(_, sum)| *sum >= wanted);
        let idx = idx.unwrap_or(self.marks.len() - 1);
        if idx == 0 {
            return self.marks[0].0;
        }
        let ((from, low), (to, high)) = (self.marks[idx - 1], self.marks[idx]);
        let part = if high > low { ((wanted - low) / (high - low)).clamp(0.0, 1.0) } else { 1.0 };
        let all = weight(from, to);
        // Without weight of its own between them, the two are one place.
        if all <= 0.0 {
            return from + (to - from) * part;
        }
        let (mut lower, mut upper) = (from, to);
        for _ in 0..HALVINGS {
            let middle = 0.5 * (lower + upper);
            if weight(from, middle) < part * all {
                lower = middle;
            } else {
                upper = middle;
            }
        }
        0.5 * (lower + upper)
    }

    /// The mass below a place.
    fn below(&self, place: f64) -> f64 {
        let idx = self.marks.partition_point(|(at, _)| *at <= place);
        match (idx.checked_sub(1).map(|idx| self.marks[idx]), self.marks.get(idx)) {
            (Some((from, low)), Some(&(to, high))) => {
                low + (high - low) * ((place - from) / (to - from)).clamp(0.0, 1.0)
            }
            (Some((_, all)), None) => all,
            (None, _) => 0.0,
        }
    }
}

/// The stretches of a line, by their ends, whose places fit; one over the whole line when nothing
/// between them is ruled out. Inside a gap every place is worse than the chi-square 99 % quantile
/// and than the best one by as much.
fn stretches(nodes: &[Node], n_numbers: usize) -> Vec<(f64, f64)> {
    let least = nodes.iter().map(|node| node.fit.distance).fold(f64::INFINITY, f64::min);
    let cut = least + chi_square_99(n_numbers.saturating_sub(1).max(1));
    let middle = |idx: usize| 0.5 * (nodes[idx - 1].place + nodes[idx].place);
    let mut found: Vec<(f64, f64)> = Vec::new();
    let mut from: Option<f64> = None;
    for (idx, node) in nodes.iter().enumerate() {
        match (node.fit.distance <= cut, from) {
            (true, None) => {
                from = Some(if idx == 0 { f64::NEG_INFINITY } else { middle(idx) });
            }
            (false, Some(start)) => {
                found.push((start, middle(idx)));
                from = None;
            }
            _ => {}
        }
    }
    found.extend(from.map(|start| (start, f64::INFINITY)));
    found
}

/// Weight times evidence over the whole line (trapezoids in the evidence, exact in the weight),
/// and the causes by their share of it.
pub(super) fn integrate(
    hypothesis: &Hypothesis,
    nodes: &[Node],
    open: (bool, bool),
    n_numbers: usize,
) -> (f64, Vec<CauseShare>, Vec<(f64, f64)>) {
    let top = nodes.iter().map(|node| node.fit.evidence).fold(f64::NEG_INFINITY, f64::max);
    let likelihood = |node: &Node| (node.fit.evidence - top).exp();
    // Causes of one name count together: a drift and its decade slips.
    let mut kinds: Vec<(Fault, Running)> = Vec::new();
    for (idx, cause) in hypothesis.causes.iter().enumerate() {
        let name = cause.fault.with_value(None);
        if !kinds.iter().any(|(known, _)| *known == name) {
            kinds.push((name, Running { cause: idx, marks: Vec::new() }));
        }
    }
    for (name, running) in &mut kinds {
        let own = || hypothesis.causes.iter().filter(|cause| cause.fault.with_value(None) == *name);
        let mut sum = 0.0;
        for (idx, node) in nodes.iter().enumerate() {
            if let Some(before) = idx.checked_sub(1).map(|idx| &nodes[idx]) {
                let weight: f64 =
                    own().map(|cause| cause.weight_between(before.place, node.place)).sum();
                sum += weight * 0.5 * (likelihood(before) + likelihood(node));
            }
            running.marks.push((node.place, sum));
            let here =
                |cause: &&Cause| cause.point().is_some_and(|at| (at - node.place).abs() < 1e-6);
            let points: f64 = own().filter(here).map(|cause| cause.weight).sum();
            if points > 0.0 {
                sum += points * likelihood(node);
                running.marks.push((node.place, sum));
            }
        }
    }
    let total: f64 = kinds.iter().map(|(_, running)| running.total()).sum();
    if total <= 0.0 {
        return (f64::MIN_POSITIVE.ln() + top, by_weight(hypothesis), Vec::new());
    }
    let places = stretches(nodes, n_numbers);
    let mut causes: Vec<CauseShare> = kinds
        .iter()
        .filter(|(_, running)| running.total() >= LEAST_CAUSE * total)
        .map(|(_, running)| {
            let cause = &hypothesis.causes[running.cause];
            let own = |one: &&Cause| one.fault.with_value(None) == cause.fault.with_value(None);
            let weight = |from: f64, to: f64| -> f64 {
                let own = hypothesis.causes.iter().filter(own);
                own.map(|one| one.weight_between(from, to)).sum()
            };
            cause_share((cause, &weight), running, &places, open, total)
        })
        .collect();
    causes.sort_by(|a, b| b.share.total_cmp(&a.share));
    (total.ln() + top, causes, all_below(&kinds, nodes, total))
}

/// The share of the mass at and below every place, all causes together.
fn all_below(kinds: &[(Fault, Running)], nodes: &[Node], total: f64) -> Vec<(f64, f64)> {
    let mut below = Vec::new();
    for node in nodes {
        let (mut without, mut with) = (0.0, 0.0);
        for (_, running) in kinds {
            let mut here = running.marks.iter().filter(|(place, _)| *place == node.place);
            let first = here.next().map_or(0.0, |(_, sum)| *sum);
            without += first;
            with += here.next_back().map_or(first, |(_, sum)| *sum);
        }
        below.push((node.place, without / total));
        if with > without {
            below.push((node.place, with / total));
        }
    }
    below
}

/// One cause with its values.
fn cause_share(
    (cause, weight): (&Cause, &dyn Fn(f64, f64) -> f64),
    running: &Running,
    places: &[(f64, f64)],
    open: (bool, bool),
    total: f64,
) -> CauseShare {
    let last = running.marks.len() - 1;
    let first_mass = running.marks[1.min(last)].1;
    let last_mass = running.total() - running.marks[last - 1.min(last)].1;
    let (is_first_open, is_last_open) = (open.0 && first_mass > 0.0, open.1 && last_mass > 0.0);
    let value = |mass: f64| cause.at(running.quantile(mass, weight)).value();
    let all = running.total();
    let mut stretches: Vec<Stretch> = places
        .iter()
        .filter_map(|&(from, to)| {
            let (below, upto) = (running.below(from), running.below(to));
            let mass = upto - below;
            let within = |share: f64| value(below + share * mass);
            // What lies at an end of the line may go on past it.
            let goes_down = is_first_open && from == f64::NEG_INFINITY;
            let goes_up = is_last_open && to == f64::INFINITY;
            (mass >= LEAST_STRETCH * all).then_some(())?;
            Some(Stretch {
                value: within(0.5)?,
                low: (!goes_down).then(|| within(0.025)).flatten(),
                high: (!goes_up).then(|| within(0.975)).flatten(),
                share: mass / all,
            })
        })
        .collect();
    stretches.sort_by(|a, b| b.share.total_cmp(&a.share));
    let share = all / total;
    match stretches[..] {
        [first, _, ..] => CauseShare {
            fault: cause.at(0.0).with_value(Some(first.value)),
            share,
            low: first.low,
            high: first.high,
            stretches,
        },
        _ => CauseShare {
            fault: cause.at(running.quantile(0.5 * all, weight)),
            share,
            low: (!is_first_open).then(|| value(0.025 * all)).flatten(),
            high: (!is_last_open).then(|| value(0.975 * all)).flatten(),
            stretches,
        },
    }
}

/// The causes by their weight alone, for a change without a value, and for a line on which no
/// place has any weight left.
pub(super) fn by_weight(hypothesis: &Hypothesis) -> Vec<CauseShare> {
    let total = hypothesis.weight();
    let mut causes: Vec<CauseShare> = hypothesis
        .causes
        .iter()
        .map(|cause| CauseShare {
            fault: cause.fault,
            share: cause.weight / total,
            low: None,
            high: None,
            stretches: Vec::new(),
        })
        .collect();
    causes.sort_by(|a, b| b.share.total_cmp(&a.share));
    causes.dedup_by(|a, b| a.fault == b.fault);
    causes
}
