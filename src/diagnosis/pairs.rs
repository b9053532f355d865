//! Pairs of faults, when nothing single fits or when they are asked for.
//!
//! Trying every pair with every value of both would be millions of boards. A pair that reproduces
//! the readings has a first fault that explains some of them outright, whatever it leaves to the
//! second: the promising firsts are those that leave the least when every reading counts up to a
//! limit, and those that come nearest alone. To each of them every second fault is added at a few of
//! its values; for the pairs that could come near, both values are then settled together. Readings
//! without power, where there are others too, say first which pairs are worth powering up.

mod search;
mod settle;

use std::cell::Cell;
use std::collections::BTreeMap;

use rayon::prelude::*;

use super::case::{Case, Prediction};
use super::fit::{Fit, chi_square_99};
use super::groups::groups;
use super::screen::{Line, Screen};
use super::trace::{HOPELESS, Node, Trace};
use super::tried::{Tried, ln_sum, quick_or_full};
use crate::circuit::Overlay;
use crate::fault::Fault;
use search::{Sample, firsts, may_mend, nearest, samples};
use settle::valley;

/// Two faults together that reproduce the readings.
#[derive(Debug, Clone)]
pub struct Pair {
    /// The two, with their values, the one that explains more first.
    pub faults: [Fault; 2],
    /// Everything that each of the two changes may be, likeliest first, with its value.
    pub causes: [Vec<Fault>; 2],
    /// The share among all pairs that reproduce: relative to them only.
    pub share: f64,
    /// The squared distance of its best fit.
    pub distance: f64,
    /// Degrees of freedom that the distance is judged by.
    pub freedom: usize,
    /// How far off the worst reading is, in standard uncertainties.
    pub worst_sigma: f64,
    /// Pairs of one number are not told apart by the readings.
    pub group: usize,
    /// The changes at their best fit.
    pub overlay: Overlay,
    /// What the pair predicts for every reading, in SI units.
    pub predicted: Vec<f64>,
}

/// Pairs of values that are solved in full while the pairs to follow are chosen, where the reduced
/// boards do not do: a pair that is left out for it is one of parts that hang in the air or keep
/// switching.
const IN_FULL: usize = 400;
/// Boards that are solved in full for one line: of a fault at a few of its values, of a first fault
/// on the way to its best value, or of a pair that is followed.
const IN_FULL_EACH: usize = 8;
/// Pairs that are followed along their lines.
const FOLLOWED: usize = 60;
/// Places that the values of a pair are settled from: a valley may be missed from one of them.
const STARTS: usize = 2;
/// How much further off than what is told a pair may be where its values settled, for its lines to be
/// followed: a part may change its state beside that place.
const BESIDE: f64 = 1.3;
/// Pairs that are told.
const TOLD: usize = 50;

/// What predicts the boards of one line of pairs: reduced boards, and so many in full.
///
/// Each line has its own, so that what one of them takes is not another one's loss.
struct Along<'a> {
    case: &'a Case<'a>,
    line: Option<Line<'a>>,
    /// Boards that may still be solved in full.
    left: Cell<usize>,
    /// Boards that were not, for want of that.
    missed: Cell<usize>,
}

impl<'a> Along<'a> {
    fn new(tried: &'a Tried<'_>, in_full: usize) -> Along<'a> {
        let line = tried.screen.as_ref().map(Screen::line);
        Along { case: tried.case, line, left: Cell::new(in_full), missed: Cell::new(0) }
    }

    fn predict(&self, overlay: &Overlay) -> Option<Prediction> {
        let quick = self.line.as_ref().and_then(|line| line.predict(self.case, overlay));
        if quick.is_some() {
            return quick;
        }
        let Some(left) = self.left.get().checked_sub(1) else {
            self.missed.set(self.missed.get() + 1);
            return None;
        };
        self.left.set(left);
        self.case.predict(overlay).ok()
    }

    /// The same on the full network, from where the reduced boards stand.
    fn in_full(&self, overlay: &Overlay) -> Option<Prediction> {
        let line = self.line.as_ref().filter(|_| !self.case.may_latch());
        match line.and_then(|line| line.standing(self.case, overlay)) {
            Some(standing) => self.case.predict_in(overlay, &standing).ok(),
            None => self.case.predict(overlay).ok(),
        }
    }
}

/// A pair that comes near: its squared distance, the rank of the first, the number of the second and
/// its place.
type Near = (f64, usize, usize, f64);

/// The pairs of faults that reproduce the readings, likeliest first.
pub(super) fn pairs(tried: &Tried<'_>) -> Vec<Pair> {
    let alone = fits_alone(tried);
    let samples = samples(tried);
    let firsts = firsts(tried, &samples, &alone);
    let mut found = found(tried, (&samples, &firsts), &alone);
    found.sort_by(|a, b| a.0.total_cmp(&b.0).then((a.1, a.2).cmp(&(b.1, b.2))));
    let mut chosen: Vec<Meeting> = Vec::new();
    let mut known: BTreeMap<[usize; 2], usize> = BTreeMap::new();
    for (passing, rank, second, place) in found {
        let first = &firsts[rank];
        let (one, other) = (first.hypothesis, second);
        let key = [one.min(other), one.max(other)];
        let at = *known.entry(key).or_insert(chosen.len());
        if at == chosen.len() {
            chosen.push(Meeting { hypotheses: [one, other], starts: Vec::new(), passing });
        }
        let meeting = &mut chosen[at];
        let start =
            if meeting.hypotheses[0] == one { [first.place, place] } else { [place, first.place] };
        if meeting.starts.len() < STARTS {
            meeting.starts.push(start);
        }
    }
    chosen.truncate(FOLLOWED);
    let followed: Vec<Option<Followed>> =
        chosen.par_iter().with_max_len(1).map(|meeting| follow(tried, meeting)).collect();
    told(tried, followed.into_iter().flatten().collect())
}

/// The pairs of a first with any second that come near, in the order of the firsts.
fn found(
    tried: &Tried<'_>,
    (samples, firsts): (&[Sample], &[Sample]),
    alone: &[usize],
) -> Vec<Near> {
    let lines: Vec<&[Sample]> =
        samples.chunk_by(|one, other| one.hypothesis == other.hypothesis).collect();
    let worth = |(rank, first): (usize, &'_ Sample)| -> Vec<(usize, &[Sample])> {
        let own = lines.iter().filter(|line| {
            let second = line[0].hypothesis;
            !alone.contains(&second)
                && !touch(tried, first.hypothesis, second)
                && may_mend(first, line)
        });
        own.map(|line| (rank, *line)).collect()
    };
    let worth: Vec<(usize, &[Sample])> = firsts.iter().enumerate().flat_map(worth).collect();
    let near = |(rank, line): (usize, &[Sample]), in_full: usize| -> (Option<Near>, usize) {
        let of_first = (&tried.list[firsts[rank].hypothesis], &firsts[rank]);
        let along = Along::new(tried, in_full);
        let near = nearest(tried.case, &|overlay| along.predict(overlay), of_first, line);
        let near = near.map(|(passing, place)| (passing, rank, line[0].hypothesis, place));
        (near, along.missed.get())
    };
    // What readings without power rule out need not be powered up.
    let is_ruled_out = |rank: usize, line: &[Sample]| {
        let of_first = (&tried.list[firsts[rank].hypothesis], &firsts[rank]);
        tried.cold.as_ref().is_some_and(|cold| {
            let own = cold.line();
            let predict = |overlay: &Overlay| quick_or_full(&cold.case, own.as_ref(), overlay);
            let near = nearest(&cold.case, &predict, of_first, line);
            near.is_some_and(|(passing, _)| passing > HOPELESS)
        })
    };
    let mut quick: Vec<(Option<Near>, usize)> = worth
        .par_iter()
        .map(
            |&(rank, line)| {
                if is_ruled_out(rank, line) { (None, 0) } else { near((rank, line), 0) }
            },
        )
        .collect();
    // The first of those that need boards in full get them.
    let mut left = IN_FULL;
    let in_full = worth.iter().zip(&quick).map(|(_, (_, missed))| {
        let own = if *missed <= left { *missed } else { 0 };
        left -= own;
        own
    });
    let in_full: Vec<usize> = in_full.collect();
    quick.par_iter_mut().zip(&worth).zip(in_full).filter(|(_, own)| *own > 0).for_each(
        // A place that is known now asks for one beside it.
        |((quick, &pair), own)| *quick = near(pair, 2 * own),
    );
    quick.into_iter().filter_map(|(near, _)| near).collect()
}

/// Hypotheses that reproduce the readings alone: a pair with one of them says nothing more.
fn fits_alone(tried: &Tried<'_>) -> Vec<usize> {
    let n_numbers = tried.case.n_numbers();
    let fit = tried.traces.iter().filter(|(_, trace)| trace.fits(n_numbers));
    fit.map(|(number, _)| *number).collect()
}

/// Whether two hypotheses are about the same part: one physical thing fails in one way.
fn touch(tried: &Tried<'_>, one: usize, other: usize) -> bool {
    let parts = |number: usize| {
        let place = tried.list[number].curve.as_ref().map_or(0.0, |curve| curve.low);
        let changes = tried.list[number].overlay(place).changes;
        changes.iter().flat_map(|change| change.parts()).collect::<Vec<_>>()
    };
    one == other || parts(one).iter().any(|part| parts(other).contains(part))
}

fn both(one: &Overlay, other: &Overlay) -> Overlay {
    let changes = one.changes.iter().chain(&other.changes).cloned().collect();
    Overlay { changes }
}

/// A pair that comes near, with the places of both lines to begin at.
struct Meeting {
    hypotheses: [usize; 2],
    starts: Vec<[f64; 2]>,
    /// The least squared distance that straight lines in the readings pass at.
    passing: f64,
}

/// A pair after following both lines.
struct Followed {
    hypotheses: [usize; 2],
    faults: [Fault; 2],
    causes: [Vec<Fault>; 2],
    overlay: Overlay,
    best: Node,
    /// Natural logarithm of weight times evidence, both values integrated out.
    mass: f64,
    /// Values that the readings found.
    fitted: usize,
}

/// Settles both values together, and then follows each line with the other fault at its best.
///
/// The mass is the product of the two integrals over the evidence where the lines cross: exact
/// where the two values do not depend on each other, and near enough to rank where they do.
fn follow(tried: &Tried<'_>, meeting: &Meeting) -> Option<Followed> {
    let case = tried.case;
    let ways = Along::new(tried, IN_FULL_EACH);
    let predict = |overlay: &Overlay| ways.predict(overlay);
    let list = meeting.hypotheses.map(|number| &tried.list[number]);
    let solve = |places: [f64; 2]| -> Option<Node> {
        let overlay = both(&list[0].overlay(places[0]), &list[1].overlay(places[1]));
        let prediction = predict(&overlay)?;
        let fit = Fit::new(case, &prediction)?;
        Some(Node { place: 0.0, prediction, fit })
    };
    let near_enough = BESIDE * chi_square_99(case.n_numbers());
    let places = valley(list, (&meeting.starts, meeting.passing), near_enough, &solve)?;
    let along = |moving: usize| {
        let fixed = list[1 - moving].overlay(places[1 - moving]);
        Trace::along(case, list[moving], &|place| {
            predict(&both(&fixed, &list[moving].overlay(place)))
        })
    };
    let (one, other) = (along(0)?, along(1)?);
    // The best of the two crossings is solved in full, where it may be told.
    let fitted = usize::from(one.value_matters) + usize::from(other.value_matters);
    let (places, distance) = if one.best.fit.distance < other.best.fit.distance {
        ([one.best.place, places[1]], one.best.fit.distance)
    } else {
        ([places[0], other.best.place], other.best.fit.distance)
    };
    if distance > 2.0 * chi_square_99(freedom(case, fitted)) {
        return None;
    }
    let overlay = both(&list[0].overlay(places[0]), &list[1].overlay(places[1]));
    let prediction = ways.in_full(&overlay)?;
    let fit = Fit::new(case, &prediction)?;
    // Each trace was taken with the other at its best: what both share is the evidence there.
    let mass = one.mass + other.mass - one.best.fit.evidence.max(other.best.fit.evidence);
    let fault = |trace: &Trace| trace.causes.first().map(|cause| cause.fault);
    let causes = |trace: &Trace| trace.causes.iter().map(|cause| cause.fault).collect();
    Some(Followed {
        hypotheses: meeting.hypotheses,
        faults: [fault(&one)?, fault(&other)?],
        causes: [causes(&one), causes(&other)],
        overlay,
        best: Node { place: 0.0, prediction, fit },
        mass,
        fitted,
    })
}

/// Degrees of freedom that a pair is judged by when the readings found so many of its values.
fn freedom(case: &Case<'_>, fitted: usize) -> usize {
    case.n_numbers().saturating_sub(fitted).max(1)
}

fn told(tried: &Tried<'_>, mut followed: Vec<Followed>) -> Vec<Pair> {
    let case: &Case<'_> = tried.case;
    let freedom = |pair: &Followed| freedom(case, pair.fitted);
    followed.retain(|pair| pair.best.fit.distance <= chi_square_99(freedom(pair)));
    followed.sort_by(|a, b| b.mass.total_cmp(&a.mass).then(a.hypotheses.cmp(&b.hypotheses)));
    followed.truncate(TOLD);
    let total = ln_sum(followed.iter().map(|pair| pair.mass));
    let nodes: Vec<&Node> = followed.iter().map(|pair| &pair.best).collect();
    let groups = groups(case, &nodes);
    followed
        .iter()
        .zip(groups)
        .map(|(pair, group)| Pair {
            faults: pair.faults,
            causes: pair.causes.clone(),
            share: (pair.mass - total).exp(),
            distance: pair.best.fit.distance,
            freedom: freedom(pair),
            worst_sigma: pair.best.fit.worst().map_or(0.0, |(_, sigma)| sigma.abs()),
            group,
            overlay: pair.overlay.clone(),
            predicted: pair.best.prediction.shown.clone(),
        })
        .collect()
}
