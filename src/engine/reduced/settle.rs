//! Newton's method on the small system of a reduced board with changes.

use super::super::newton::{MOST_NOWHERE, NOWHERE, corner_share, go_along};
use super::super::small::{LEAST_NODAL_PIVOT, LEAST_PIVOT, SmallFactors};
use super::change::Changes;
use super::{Base, Reduced};
use crate::circuit::PartId;
use crate::device::{Driven, Law};

use std::cell::Cell;

/// The most volts that one law goes with: its own, and those it senses.
pub(super) const MOST_SENSES: usize = 24;
/// Newton steps of one small system before the board is solved net by net ...
const STEPS: usize = 40;
/// ... and of that solution ...
const NODAL_STEPS: usize = 120;
/// ... of it from any volts at all, where the next start is worth more than the last steps of one ...
const STEPS_FROM_ANYWHERE: usize = 60;
/// ... and those of them in which every part stops at its own corners alone.
const SOON: usize = 20;
/// What hangs on next to nothing, and is amplified, never stands still to the last digit: after so
/// many steps a third of a millivolt is as near as it comes. In billionths of a volt.
const HARDLY_HELD: f64 = 3e5;
/// Steps towards a point shrink by their square. One that is this small, in billionths of a volt ...
const ROUNDING: f64 = 1e3;
/// ... and longer than this share of the one before it is rounding.
const SHRINKS: f64 = 0.5;
/// A walk from afar leaves out slopes that fall until its steps are shorter than this, in volts.
const NEAR: f64 = 1e-4;

/// A board with changes, solved.
#[derive(Debug, Clone)]
pub struct Small {
    /// Volts of every net, those that changes made behind those of the board.
    pub volts: Vec<f64>,
    /// Curves of the board that left their straight lines.
    pub awake: Vec<usize>,
    pub(super) unknowns: Unknowns,
    pub(super) factors: SmallFactors,
    /// The slopes of the extra currents, each with what it goes with, one current behind the other.
    pub(super) slopes: Vec<(Span, f64)>,
    /// Per extra current: where its slopes end.
    pub(super) ends: Vec<usize>,
    /// Per extra current: how the board's nets answer to it, backwards.
    pub(super) shapes: Vec<f64>,
}

impl Small {
    /// Per extra current: its slopes with what they go with, and its shape on the board.
    pub(super) fn currents(&self) -> impl Iterator<Item = (&[(Span, f64)], &[f64])> {
        let shapes = self.shapes.chunks(self.unknowns.n_nets.max(1));
        let firsts = std::iter::once(0).chain(self.ends.iter().copied());
        let slopes = firsts.zip(&self.ends).map(|(first, &end)| &self.slopes[first..end]);
        slopes.zip(shapes)
    }
}

/// Where a solution begins.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum From {
    /// Next to the answer: whole steps from the first one on.
    Near,
    /// A board that may stand quite differently: slopes that fall are left out at first.
    Afar,
    /// Any volts at all: junctions begin no further than one limited step from zero.
    Anywhere,
}

/// What is solved for: pairs of nets of the board, then the nets that changes made.
#[derive(Debug, Clone, Default)]
pub(super) struct Unknowns {
    pub(super) pairs: Vec<(usize, usize)>,
    pub(super) n_new: usize,
    /// Nets of the board that go by its linear solution.
    pub(super) n_nets: usize,
    by_net: bool,
}

/// No unknown.
const NONE: usize = usize::MAX;

/// Volts as a difference of two unknowns.
#[derive(Debug, Clone, Copy)]
pub(super) struct Span {
    pub(super) plus: usize,
    pub(super) minus: usize,
}

impl Span {
    /// The first unknown by itself.
    pub(super) const FIRST: Span = Span { plus: 0, minus: NONE };

    pub(super) fn of(self, unknowns: &[f64]) -> f64 {
        let at = |idx: usize| if idx == NONE { 0.0 } else { unknowns[idx] };
        at(self.plus) - at(self.minus)
    }

    pub(super) fn add(self, to: &mut [f64], value: f64) {
        if self.plus != NONE {
            to[self.plus] += value;
        }
        if self.minus != NONE {
            to[self.minus] -= value;
        }
    }
}

/// Lists that every small system needs while it is solved. They keep what they have allocated: a
/// diagnosis solves tens of thousands of such systems, each within microseconds.
#[derive(Debug, Default)]
struct Workspace {
    /// What each law goes with, law by law.
    spans: Vec<Span>,
    /// The unknowns, and those of the step before.
    at: Vec<f64>,
    new: Vec<f64>,
    /// A place for the unknowns in the order of the factors.
    ordered: Vec<f64>,
    /// The unknowns of the linear board.
    still: Vec<f64>,
    /// Volts that laws are taken around, and those that the last step came to.
    held: Vec<f64>,
    wanted: Vec<f64>,
    slopes: Vec<f64>,
    /// What one extra amp moves every pair by, current by current.
    moves: Vec<f64>,
    /// The nets whose sum of currents each extra current is in.
    sums: Vec<Span>,
    /// The share of its step that each extra current takes.
    shares: Vec<f64>,
}

thread_local! {
    /// One per thread, as nothing of it outlives a solution.
    static WORKSPACE: Cell<Workspace> = Cell::default();
}

/// Zeros, so many of them.
fn zeros(list: &mut Vec<f64>, n: usize) {
    list.clear();
    list.resize(n, 0.0);
}

impl Unknowns {
    /// One pair of nets of the board.
    pub(super) fn one(pair: (usize, usize), n_nets: usize) -> Unknowns {
        Unknowns { pairs: vec![pair], n_new: 0, n_nets, by_net: false }
    }

    /// The unknowns that these pairs of nets are differences of.
    fn new(n_nets: usize, n_new: usize, pairs: impl Iterator<Item = (usize, usize)>) -> Unknowns {
        let mut found: Vec<(usize, usize)> = Vec::new();
        for (from, to) in pairs {
            if from == to {
                continue;
            }
            // Where one of the two is new, the other one stands by itself.
            if from < n_nets && to < n_nets {
                found.push((from, to));
            } else {
                found.extend(
                    [from, to]
                        .into_iter()
                        .filter(|net| (1..n_nets).contains(net))
                        .map(|net| (net, 0)),
                );
            }
        }
        found.sort_unstable();
        found.dedup();
        let mut nets: Vec<usize> =
            found.iter().flat_map(|&(a, b)| [a, b]).filter(|net| *net != 0).collect();
        nets.sort_unstable();
        nets.dedup();
        let by_net = nets.len() < found.len();
        if by_net {
            found = nets.into_iter().map(|net| (net, 0)).collect();
        }
        Unknowns { pairs: found, n_new, n_nets, by_net }
    }

    pub(super) fn len(&self) -> usize {
        self.pairs.len() + self.n_new
    }

    fn place(&self, net: usize) -> usize {
        if net == 0 {
            NONE
        } else if net >= self.n_nets {
            self.pairs.len() + net - self.n_nets
        } else {
            self.pairs.binary_search(&(net, 0)).unwrap_or(NONE)
        }
    }

    fn span(&self, (from, to): (usize, usize)) -> Span {
        if from == to {
            return Span { plus: NONE, minus: NONE };
        }
        if !self.by_net && from < self.n_nets && to < self.n_nets {
            let plus = self.pairs.binary_search(&(from, to)).unwrap_or(NONE);
            return Span { plus, minus: NONE };
        }
        Span { plus: self.place(from), minus: self.place(to) }
    }
}

/// An extra current: what a branch carries beyond what the linear board has there.
pub(super) struct Extra<'a> {
    pub(super) from: usize,
    pub(super) to: usize,
    pub(super) law: Option<&'a Law>,
    pub(super) senses: &'a [(usize, usize)],
    pub(super) base: Option<&'a Base>,
    pub(super) element: Option<usize>,
    pub(super) part: Option<PartId>,
    /// Where its volts stand in the flat lists.
    pub(super) first: usize,
}

impl<'a> Extra<'a> {
    /// The pairs of nets that it goes with.
    fn pairs(&self) -> impl Iterator<Item = (usize, usize)> + use<'a> {
        std::iter::once((self.from, self.to)).chain(self.senses.iter().copied())
    }

    fn len(&self) -> usize {
        1 + self.senses.len()
    }

    fn driven(&self) -> Option<&dyn Driven> {
        match self.law {
            Some(Law::Driven(law)) => Some(law.as_ref()),
            _ => None,
        }
    }

    /// Extra current at these volts; `slopes` takes its slopes.
    pub(super) fn at(&self, volts: &[f64], slopes: &mut [f64]) -> f64 {
        slopes.fill(0.0);
        let mut amps = match self.law {
            None => 0.0,
            Some(Law::Line { siemens, amps }) => {
                slopes[0] = *siemens;
                siemens * volts[0] + amps
            }
            Some(Law::Curve(curve)) => {
                let sample = curve.at(volts[0]);
                slopes[0] = sample.siemens;
                sample.amps
            }
            Some(Law::Driven(law)) => law.at(volts, slopes),
            // Given voltages and clamps never come here: `solve` refuses them.
            Some(Law::Volts(_) | Law::Clamp { .. }) => f64::NAN,
        };
        if let Some(base) = self.base {
            for ((slope, base), volts) in slopes.iter_mut().zip(&base.slopes).zip(volts) {
                *slope -= base;
                amps -= base * volts;
            }
            amps -= base.offset;
        }
        amps
    }
}

/// Brings the volts that laws are taken around to within one limited step of zero.
fn limit_to_zero(extras: &[Extra<'_>], held: &mut [f64]) {
    let zeros = [0.0; MOST_SENSES];
    for extra in extras {
        let held = &mut held[extra.first..extra.first + extra.len()];
        match extra.law {
            Some(Law::Curve(curve)) => held[0] = curve.limit(held[0], 0.0),
            Some(Law::Driven(law)) => {
                if let Some(zeros) = zeros.get(..held.len()) {
                    law.limit(held, zeros);
                }
            }
            _ => {}
        }
    }
}

/// Per extra current: the share of its step to take. What one part does must stand at one place:
/// its branches all stop where the first of them meets a corner.
fn corner_shares(
    extras: &[Extra<'_>],
    wanted: &[f64],
    held: &[f64],
    shares: &mut [f64],
) -> Option<()> {
    let mut first = 0;
    while first < extras.len() {
        let part = extras[first].part;
        let mut last = first + 1;
        while last < extras.len() && part.is_some() && extras[last].part == part {
            last += 1;
        }
        let mut least = 1.0_f64;
        for extra in &extras[first..last] {
            let Some(law) = extra.driven() else { continue };
            let range = extra.first..extra.first + extra.len();
            let mut allowed = [0.0; MOST_SENSES];
            let allowed = allowed.get_mut(..extra.len())?;
            allowed.copy_from_slice(&wanted[range.clone()]);
            law.limit(allowed, &held[range.clone()]);
            least = least.min(corner_share(law, allowed, &held[range]));
        }
        shares[first..last].fill(least);
        first = last;
    }
    Some(())
}

impl Reduced {
    /// Shapes of the extra currents on the board, one behind the other.
    pub(super) fn shapes(&self, extras: &[Extra<'_>], n_board: usize) -> Vec<f64> {
        if n_board < self.n_nets {
            return vec![0.0; extras.len() * n_board];
        }
        let mut shapes = Vec::with_capacity(extras.len() * self.n_nets);
        for extra in extras {
            match extra.element {
                Some(element) => shapes.extend_from_slice(self.shape(element)),
                None => {
                    let first = shapes.len();
                    shapes.resize(first + self.n_nets, 0.0);
                    for (net, sign) in [(extra.from, 1.0), (extra.to, -1.0)] {
                        if (1..self.n_nets).contains(&net) {
                            for (shape, h) in shapes[first..].iter_mut().zip(self.column(net)) {
                                *shape += sign * h;
                            }
                        }
                    }
                }
            }
        }
        shapes
    }

    /// Solves for exactly these extra currents; `n_board` nets go by the linear solution, all of
    /// them or ground alone.
    pub(super) fn settle(
        &self,
        extras: &mut [Extra<'_>],
        changes: &Changes,
        start: Option<&[f64]>,
        how: (From, usize),
    ) -> Option<Small> {
        if how.1 == self.n_nets
            && let Some(small) = self.straight(extras, changes.new_nets.len())
        {
            return Some(small);
        }
        WORKSPACE.with(|kept| {
            let mut workspace = kept.take();
            let settled = self.settle_in(&mut workspace, extras, changes, start, how);
            kept.set(workspace);
            settled
        })
    }

    fn settle_in(
        &self,
        workspace: &mut Workspace,
        extras: &mut [Extra<'_>],
        changes: &Changes,
        start: Option<&[f64]>,
        (from, n_board): (From, usize),
    ) -> Option<Small> {
        let Workspace { spans, at, new, ordered, still, held, wanted, slopes, moves, sums, shares } =
            workspace;
        // Nets of the board that go by its linear solution; of all others, currents are summed.
        let n_new = self.n_nets + changes.new_nets.len() - n_board;
        let mut n_volts = 0;
        for extra in extras.iter_mut() {
            extra.first = n_volts;
            n_volts += extra.len();
        }
        let extras = &*extras;
        let unknowns = Unknowns::new(n_board, n_new, extras.iter().flat_map(Extra::pairs));
        spans.clear();
        spans.extend(extras.iter().flat_map(Extra::pairs).map(|pair| unknowns.span(pair)));
        let shapes = self.shapes(extras, n_board);
        let n = unknowns.len();
        // Volts of a net to begin with; a new net begins where the one it was part of stands.
        let begin = |net: usize| {
            if let Some(start) = start
                && net < start.len()
            {
                return start[net];
            }
            let net = self.own_net(changes, net);
            start.unwrap_or(&self.volts).get(net).copied().unwrap_or(0.0)
        };
        at.clear();
        at.extend(unknowns.pairs.iter().map(|&(from, to)| begin(from) - begin(to)));
        at.extend((0..n_new).map(|new| begin(n_board + new)));
        held.clear();
        held.extend(spans.iter().map(|span| span.of(at)));
        if from == From::Anywhere {
            limit_to_zero(extras, held);
        }
        zeros(wanted, n_volts);
        zeros(slopes, n_volts);
        // At a net whose currents are summed an extra amp counts whole.
        let n_pairs = unknowns.pairs.len();
        moves.clear();
        if n_pairs > 0 {
            for shape in shapes.chunks(n_board) {
                moves.extend(unknowns.pairs.iter().map(|&(from, to)| shape[from] - shape[to]));
            }
        }
        let row = |net: usize| if net < n_board { NONE } else { n_pairs + net - n_board };
        sums.clear();
        sums.extend(extras.iter().map(|one| Span { plus: row(one.from), minus: row(one.to) }));
        still.clear();
        let pairs = unknowns.pairs.iter();
        still.extend(pairs.map(|&(from, to)| self.volts[from] - self.volts[to]));
        still.resize(n, 0.0);
        let is_linear =
            extras.iter().all(|extra| !matches!(extra.law, Some(Law::Curve(_) | Law::Driven(_))));
        let least = if n_board < self.n_nets { LEAST_NODAL_PIVOT } else { LEAST_PIVOT };
        let mut factors = SmallFactors::empty(n);
        zeros(new, n);
        zeros(shares, extras.len());
        let (mut nowhere, mut before) = (0, f64::INFINITY);
        let mut tamed = from == From::Afar && extras.iter().any(|extra| extra.driven().is_some());
        let most = match from {
            _ if n_board == self.n_nets => STEPS,
            From::Anywhere => STEPS_FROM_ANYWHERE,
            From::Near | From::Afar => NODAL_STEPS,
        };
        for iteration in 0..most {
            // (I + H S) v = v⁰ − H (j − S v_held)
            factors.clear(unknowns.pairs.len());
            new.copy_from_slice(still);
            for (number, extra) in extras.iter().enumerate() {
                let range = extra.first..extra.first + extra.len();
                let (held, slopes) = (&held[range.clone()], &mut slopes[range.clone()]);
                let mut amps = extra.at(held, slopes);
                if tamed && let Some(law) = extra.driven() {
                    let base = |at: usize| extra.base.map_or(0.0, |base| base.slopes[at]);
                    for (at, slope) in slopes.iter_mut().enumerate() {
                        *slope += base(at);
                    }
                    law.tame(held, slopes);
                    for (at, slope) in slopes.iter_mut().enumerate() {
                        *slope -= base(at);
                    }
                }
                amps -= slopes.iter().zip(held).map(|(slope, held)| slope * held).sum::<f64>();
                let moves = &moves[number * n_pairs..(number + 1) * n_pairs];
                for (new, h) in new.iter_mut().zip(moves) {
                    *new -= h * amps;
                }
                sums[number].add(new, -amps);
                for (span, &slope) in spans[range].iter().zip(&*slopes) {
                    if slope != 0.0 {
                        factors.add(moves, span.plus, slope);
                        factors.add(moves, span.minus, -slope);
                        for (row, out) in [(sums[number].plus, slope), (sums[number].minus, -slope)]
                        {
                            factors.add_at(row, span.plus, out);
                            factors.add_at(row, span.minus, -out);
                        }
                    }
                }
            }
            factors.factor(least)?;
            factors.solve_beside(new, ordered);
            let mut bent = false;
            for (wanted, span) in wanted.iter_mut().zip(&*spans) {
                *wanted = span.of(new);
            }
            // Walks that stop part by part may run in circles; those that stop together do not.
            let together = iteration >= SOON;
            if together {
                let mut share = 1.0_f64;
                for extra in extras {
                    let range = extra.first..extra.first + extra.len();
                    if let Some(law) = extra.driven() {
                        share = share.min(corner_share(law, &wanted[range.clone()], &held[range]));
                    }
                }
                nowhere = if share < NOWHERE { nowhere + 1 } else { 0 };
                if nowhere > MOST_NOWHERE {
                    return None;
                }
                if share < 1.0 {
                    bent = true;
                    go_along(share, new, at);
                    for (wanted, span) in wanted.iter_mut().zip(&*spans) {
                        *wanted = span.of(new);
                    }
                }
            }
            at.copy_from_slice(new);
            let mut furthest = 0.0_f64;
            shares.fill(1.0);
            if !together {
                corner_shares(extras, wanted, held, shares)?;
            }
            for (number, extra) in extras.iter().enumerate() {
                let range = extra.first..extra.first + extra.len();
                let (wanted, held) = (&wanted[range.clone()], &mut held[range]);
                let far = |wanted: &[f64], held: &[f64]| {
                    let each = wanted.iter().zip(held);
                    each.map(|(w, h)| (w - h).abs() / (1e-9 * (1.0 + w.abs()))).fold(0.0, f64::max)
                };
                match extra.law {
                    Some(Law::Curve(curve)) => {
                        bent |= curve.segment(wanted[0]) != curve.segment(held[0]);
                        let allowed = curve.limit(wanted[0], held[0]);
                        furthest = furthest.max(far(&[allowed], held)).max(far(wanted, &[allowed]));
                        held[0] = allowed;
                    }
                    Some(Law::Driven(law)) => {
                        bent |= law.segment(wanted) != law.segment(held);
                        let mut old = [0.0; MOST_SENSES];
                        let old = old.get_mut(..held.len())?;
                        old.copy_from_slice(held);
                        held.copy_from_slice(wanted);
                        law.limit(held, old);
                        if shares[number] < 1.0 {
                            bent = true;
                            go_along(shares[number], held, old);
                        }
                        furthest = furthest.max(far(held, old)).max(far(wanted, held));
                    }
                    _ => held.copy_from_slice(wanted),
                }
            }
            if tamed {
                tamed = bent || furthest > NEAR / 1e-9;
                continue;
            }
            let enough = match iteration {
                SOON.. => HARDLY_HELD,
                _ if furthest < SHRINKS * before => 1.0,
                _ => ROUNDING,
            };
            before = furthest;
            if is_linear || (furthest <= enough && !bent) {
                return settled(
                    extras,
                    &self.volts[..n_board],
                    unknowns,
                    factors,
                    (spans, held, new),
                    shapes,
                );
            }
        }
        None
    }
}

/// The solution that a small system came to; `board` holds the volts of the linear board's nets.
fn settled(
    extras: &[Extra<'_>],
    board: &[f64],
    unknowns: Unknowns,
    factors: SmallFactors,
    (spans, held, new): (&[Span], &[f64], &[f64]),
    shapes: Vec<f64>,
) -> Option<Small> {
    let n_board = board.len();
    let mut volts = Vec::with_capacity(n_board + unknowns.n_new);
    volts.extend_from_slice(board);
    let mut all = Vec::with_capacity(spans.len());
    let mut ends = Vec::with_capacity(extras.len());
    let mut slopes = [0.0; MOST_SENSES];
    for (number, extra) in extras.iter().enumerate() {
        let range = extra.first..extra.first + extra.len();
        let slopes = slopes.get_mut(..extra.len())?;
        let amps = extra.at(&held[range.clone()], slopes);
        let shape = &shapes[number * n_board..(number + 1) * n_board];
        for (volts, h) in volts.iter_mut().zip(shape) {
            *volts -= h * amps;
        }
        all.extend(spans[range].iter().copied().zip(slopes.iter().copied()));
        ends.push(all.len());
    }
    // Where the small system was solved for a net, its own answer has no rounding added.
    for (&(net, to), &solved) in unknowns.pairs.iter().zip(new) {
        if to == 0 {
            volts[net] = solved;
        }
    }
    volts.extend_from_slice(&new[unknowns.pairs.len()..]);
    let sound = volts.iter().all(|volts| volts.is_finite());
    let awake = Vec::new();
    sound.then_some(Small { volts, awake, unknowns, factors, slopes: all, ends, shapes })
}
