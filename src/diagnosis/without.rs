//! When nothing single fits: the reading whose removal lets something fit.
//!
//! Every reading in turn is taken for a slip: written as anything that it could have been, it says
//! nothing, and the others are diagnosed alone. What then fits shares the weight of a slip. A value
//! found from the only number that is left would fit anything, so that does not count.

use rayon::prelude::*;

use super::candidate::{Verdict, judge};
use super::case::Case;
use super::diagnose::Job;
use super::other::broad_density;
use super::strain::NO_VALUE;
use super::tried::{Tried, ln_sum, looked_into};
use crate::circuit::{NetId, Overlay, Place, Quantity, Reading, Spot};
use crate::engine::Assembly;
use crate::fault::{Evidence, Fault, Slip};

/// A reading without which something single fits.
#[derive(Debug, Clone)]
pub struct Without {
    /// The number of the reading.
    pub reading: usize,
    /// Its share among the readings that could be slips.
    pub share: f64,
    /// What fits without it, with its share of that, likeliest first; no fault is a healthy board.
    pub fits: Vec<(Option<Fault>, f64)>,
    /// The number of the one among these that the next two are told of.
    pub told: usize,
    /// What it predicts at the reading, in its SI unit.
    pub predicted: f64,
    /// How the value may have come to be written.
    pub looks_like: Option<LooksLike>,
}

/// How a value that does not fit may have come to be written.
#[derive(Debug, Clone, PartialEq)]
pub enum LooksLike {
    /// A slip of the pen.
    Slip(Slip),
    /// The value that another place has.
    Place(String),
}

/// More readings than this are not taken out one by one: the furthest off go first.
const MOST: usize = 24;
/// The same on a board with states, where each costs a diagnosis of seconds.
const MOST_WITH_STATES: usize = 6;
/// Faults that are named per reading.
const NAMED: usize = 4;
/// A value looks like another within so many standard uncertainties.
const LIKE: f64 = 3.0;

/// The readings without which something single fits, the likeliest slip first. `off` says how far
/// each is off on a healthy board, in standard uncertainties.
pub(super) fn without(assembly: &Assembly<'_>, job: &Job<'_>, off: &[f64]) -> Vec<Without> {
    let n = job.readings.len();
    if n < 3 {
        return Vec::new();
    }
    // A healthy board that has no operating point leaves the order of the file.
    let far = |idx: usize| off.get(idx).map_or(0.0, |off| off.abs());
    let mut order: Vec<usize> = (0..n).collect();
    order.sort_by(|&a, &b| far(b).total_cmp(&far(a)));
    order.truncate(if assembly.has_states() { MOST_WITH_STATES } else { MOST });
    let each: Vec<Option<(f64, Without)>> =
        order.into_par_iter().map(|reading| one_out(assembly, job, reading)).collect();
    let mut found: Vec<(f64, Without)> = each.into_iter().flatten().collect();
    let total = ln_sum(found.iter().map(|(mass, _)| *mass));
    for (mass, without) in &mut found {
        without.share = (*mass - total).exp();
    }
    found.sort_by(|(a, _), (b, _)| b.total_cmp(a));
    found.into_iter().map(|(_, without)| without).collect()
}

/// One reading taken out, with the natural logarithm of the mass that then fits.
fn one_out(assembly: &Assembly<'_>, job: &Job<'_>, out: usize) -> Option<(f64, Without)> {
    let circuit = assembly.circuit();
    let mut rest = job.readings.to_vec();
    let taken = rest.remove(out);
    let case = Case::with_good(assembly, &rest, job.good);
    let evidence = Evidence { seen: job.seen.to_vec(), apart: looked_into(assembly, &rest) };
    let tried = Tried::new(&case, &evidence, false, (None, false));
    let n_numbers = case.n_numbers();
    // What fits: the mass, the fault, and the change that predicts the reading.
    let mut fits: Vec<(f64, Option<Fault>, Overlay)> = Vec::new();
    if let Some((prediction, fit)) = &tried.judged
        && n_numbers > 0
        && judge(&case, (prediction, fit), &NO_VALUE, n_numbers, 0).0 == Verdict::Reproduces
    {
        fits.push((tried.healthy_mass, None, Overlay::none()));
    }
    for (number, trace) in &tried.traces {
        if trace.freedom(n_numbers) > 0 && trace.fits(n_numbers) {
            let fault = trace.causes.first().map(|cause| cause.fault);
            fits.push((trace.mass, fault, tried.list[*number].overlay(trace.best.place)));
        }
    }
    let mass = ln_sum(fits.iter().map(|(mass, ..)| *mass));
    fits.sort_by(|(a, ..), (b, ..)| b.total_cmp(a));
    fits.truncate(NAMED);
    let alone = Case::with_good(assembly, std::slice::from_ref(&taken), job.good);
    // What each predicts there; the first one that makes a slip of it tells.
    let told: Vec<(f64, Option<LooksLike>)> = fits
        .iter()
        .map(|(_, _, overlay)| {
            let prediction = alone.predict(overlay).ok()?;
            Some((prediction.shown[0], looks_like(&alone, &prediction, overlay)))
        })
        .collect::<Option<_>>()?;
    let number = told.iter().position(|(_, like)| like.is_some()).unwrap_or(0);
    let (predicted, looks_like) = told.get(number)?.clone();
    let without = Without {
        reading: out,
        share: 0.0,
        fits: fits.into_iter().map(|(own, fault, _)| (fault, (own - mass).exp())).collect(),
        told: number,
        predicted,
        looks_like,
    };
    let slip = broad_density(circuit, &taken, &alone.targets[0]).ln();
    Some((mass + slip, without))
}

/// How the only reading of a case may have come to be written, when its place shows what is
/// predicted.
fn looks_like(
    case: &Case<'_>,
    prediction: &super::case::Prediction,
    overlay: &Overlay,
) -> Option<LooksLike> {
    let (reading, target) = (&case.readings[0], &case.targets[0]);
    let value = reading.number().filter(|value| value.abs() > 0.0)?;
    let spread: f64 = prediction.spread[0].iter().map(|part| part * part).sum();
    // Both uncertainties as shares of their values.
    let share = |u: f64, of: f64| u / (target.scale.slope(of) * of.abs()).max(f64::MIN_POSITIVE);
    let predicted = target.scale.value(prediction.y[0]);
    let band = LIKE * share(spread.sqrt(), predicted).hypot(share(target.standard(), value));
    let ratio = value / prediction.shown[0];
    for decades in [3, -3, 1, -1, 2, -2, 6, -6] {
        if (ratio / 10.0_f64.powi(decades) - 1.0).abs() < band.min(0.5) {
            return Some(LooksLike::Slip(Slip::Decades(decades as i8)));
        }
    }
    if (ratio + 1.0).abs() < band.min(0.5) {
        return Some(LooksLike::Slip(Slip::Sign));
    }
    other_place(case, reading, value, overlay)
}

/// The one net that shows this value.
fn other_place(
    case: &Case<'_>,
    reading: &Reading,
    value: f64,
    overlay: &Overlay,
) -> Option<LooksLike> {
    let Place::At(Spot::Net(own)) = reading.place else { return None };
    if reading.quantity != Quantity::Volts {
        return None;
    }
    let circuit = case.assembly.circuit();
    let nets: Vec<NetId> =
        circuit.nets_by_id().skip(1).map(|(net, _)| net).filter(|net| *net != own).collect();
    let moved = |net: &NetId| Reading { place: Place::At(Spot::Net(*net)), ..reading.clone() };
    let readings: Vec<Reading> = nets.iter().map(moved).collect();
    let others = Case::new(case.assembly, &readings);
    let shown = others.predict(overlay).ok()?.shown;
    let band = LIKE * case.targets[0].standard();
    let mut like = nets.iter().zip(&shown).filter(|(_, shown)| (**shown - value).abs() < band);
    match (like.next(), like.next()) {
        (Some((net, _)), None) => Some(LooksLike::Place(circuit.net_name(*net).to_owned())),
        _ => None,
    }
}
