//! Candidates that no measurement can tell apart.
//!
//! Two candidates that the readings so far do not tell apart are compared at every measurement that
//! could still be taken. They are inseparable when, with tolerances shared by both and one value of
//! each fault for all measurements, the squared difference of what they predict stays under the
//! chi-square 99 % quantile of one degree of freedom: between two candidates the best test looks
//! along their difference alone, however many measurements it is made of. Then a part has to be
//! lifted or replaced to find out.

use super::propose::measurements;
use crate::circuit::{Meter, Overlay, POWERED, Place, Quantity, UNPOWERED};
use crate::diagnosis::{
    Candidate, Diagnosis, Verdict, chi_square_99, components, squared_difference,
};
use crate::engine::Assembly;
use crate::meter::{Scale, Scene, Shown, show};

/// At most so many candidates of one group are compared, the likeliest.
const MEMBERS: usize = 8;
/// Candidates that weigh less than this are not.
const LEAST: f64 = 1e-4;
/// Values further apart than this many standard uncertainties are told apart by one measurement.
const APART: f64 = 4.0;
/// A candidate at its likeliest value and at the ends of its interval.
struct Member<'a> {
    candidate: usize,
    /// Per setup, per value: the likeliest first, with its spread.
    scenes: [Vec<Scene<'a>>; 2],
    /// Predictions so far, per measurement and value.
    y: Vec<Vec<f64>>,
    /// How the prediction at the likeliest value moves with every source, per measurement.
    spread: Vec<Vec<f64>>,
}

/// Numbers the sets of candidates that no measurement tells apart, in the diagnosis's own order;
/// a candidate that something tells from all others has none.
pub fn mark_inseparable(assembly: &Assembly<'_>, diagnosis: &mut Diagnosis, meter: &Meter) {
    let mut number = 0;
    let groups = diagnosis.candidates.iter().filter_map(|candidate| candidate.group).max();
    for group in 0..=groups.unwrap_or(0) {
        let own: Vec<usize> = diagnosis
            .candidates
            .iter()
            .enumerate()
            .filter(|(_, one)| {
                one.group == Some(group)
                    && one.verdict == Verdict::Reproduces
                    && one.probability >= LEAST
                    && !one.fault.is_misread()
            })
            .map(|(idx, _)| idx)
            .take(MEMBERS)
            .collect();
        if own.len() < 2 {
            continue;
        }
        for set in sets(assembly, diagnosis, &own, meter) {
            for candidate in set {
                diagnosis.candidates[candidate].inseparable = Some(number);
            }
            number += 1;
        }
    }
}

/// The sets of two and more among some candidates of one group.
fn sets(
    assembly: &Assembly<'_>,
    diagnosis: &Diagnosis,
    own: &[usize],
    meter: &Meter,
) -> Vec<Vec<usize>> {
    let setups = [POWERED, UNPOWERED];
    let mut members: Vec<Member<'_>> = own
        .iter()
        .map(|&candidate| {
            let overlays = overlays(assembly, &diagnosis.candidates[candidate]);
            let scenes = setups.map(|setup| {
                let scene = |(at, overlay): (usize, &Overlay)| {
                    Scene::new(assembly, setup, overlay, None, at == 0).ok()
                };
                overlays.iter().enumerate().filter_map(scene).collect()
            });
            Member { candidate, scenes, y: Vec::new(), spread: Vec::new() }
        })
        .collect();
    // A board that does not settle in some setup predicts nothing there.
    members.retain(|member| member.scenes.iter().all(|scenes| !scenes.is_empty()));
    let n = members.len();
    let mut open: Vec<(usize, usize)> =
        (0..n).flat_map(|a| (a + 1..n).map(move |b| (a, b))).collect();
    let mut uncertain: Vec<f64> = Vec::new();
    for (at, setup) in setups.into_iter().enumerate() {
        for (quantity, place, ..) in measurements(assembly.circuit(), setup) {
            if open.is_empty() {
                return Vec::new();
            }
            let mut own = 0.0_f64;
            for member in &mut members {
                own = own.max(member.measure(at, quantity, place, meter));
            }
            uncertain.push(own);
            open.retain(|&(a, b)| !is_apart(&members[a], &members[b], own));
        }
    }
    open.retain(|&(a, b)| {
        let (a, b) = (&members[a], &members[b]);
        is_covered(a, b, &uncertain) || is_covered(b, a, &uncertain)
    });
    let component = components(n, |a, b| open.contains(&(a, b)));
    (0..n)
        .map(|number| {
            let own = members.iter().zip(&component).filter(|(_, own)| **own == number);
            own.map(|(member, _)| member.candidate).collect::<Vec<_>>()
        })
        .filter(|set| set.len() > 1)
        .collect()
}

/// The changes of a candidate at its likeliest value and at the ends of its interval.
fn overlays(assembly: &Assembly<'_>, candidate: &Candidate) -> Vec<Overlay> {
    let ends = [candidate.value_low, candidate.value_high].into_iter().flatten();
    std::iter::once(candidate.overlay.clone())
        .chain(ends.filter_map(|value| {
            candidate.fault.with_value(Some(value)).overlay(assembly.circuit())
        }))
        .collect()
}

impl Member<'_> {
    /// Takes in what the candidate predicts for one measurement; one standard uncertainty of the
    /// meter there.
    fn measure(&mut self, setup: usize, quantity: Quantity, place: Place, meter: &Meter) -> f64 {
        let shown: Vec<Option<Shown>> =
            self.scenes[setup].iter().map(|scene| show(scene, quantity, place, meter)).collect();
        let scale = scale_of(quantity);
        let value = |shown: &Option<Shown>| match shown {
            Some(shown) if quantity == Quantity::Diode => shown.latent.min(meter.diode.compliance),
            Some(shown) => shown.latent,
            // What does not settle with the meter on it predicts nothing of its own.
            None => 0.0,
        };
        let first = shown.first().map_or(0.0, value);
        let count = Meter::count(quantity, first);
        let accuracy = meter.accuracy(quantity);
        let own = accuracy.fraction * first.abs() + accuracy.counts * count;
        let slope = scale.slope(first);
        let spread = match shown.first() {
            Some(Some(shown)) => shown.spread.iter().map(|part| part * slope).collect(),
            _ => Vec::new(),
        };
        self.y.push(shown.iter().map(|shown| scale.of(value(shown))).collect());
        self.spread.push(spread);
        slope * own / 3.0_f64.sqrt()
    }

    /// The prediction for a measurement at the likeliest value.
    fn at(&self, measurement: usize) -> f64 {
        self.y[measurement].first().copied().unwrap_or(0.0)
    }
}

/// The scale that a quantity is compared on.
fn scale_of(quantity: Quantity) -> Scale {
    match quantity {
        // A tenth of an ohm is a display's last digit.
        Quantity::Ohms | Quantity::Beep => Scale::LogAbove(1.0),
        _ => Scale::Plain,
    }
}

/// Whether the last measurement alone tells two candidates apart, whatever their values are.
fn is_apart(a: &Member<'_>, b: &Member<'_>, own: f64) -> bool {
    let Some(last) = a.y.len().checked_sub(1) else { return false };
    let ends = |member: &Member<'_>| {
        let of = member.y[last].iter().copied();
        (of.clone().fold(f64::INFINITY, f64::min), of.fold(f64::NEG_INFINITY, f64::max))
    };
    let ((a_low, a_high), (b_low, b_high)) = (ends(a), ends(b));
    let gap = (a_low - b_high).max(b_low - a_high);
    let shared: f64 =
        a.spread[last].iter().zip(&b.spread[last]).map(|(a, b)| (a - b) * (a - b)).sum();
    gap > APART * shared.sqrt().hypot(own)
}

/// Whether some value of `b` predicts, for all measurements together, what `a` does at its
/// likeliest: on the way from one end of its interval over the likeliest value to the other.
fn is_covered(a: &Member<'_>, b: &Member<'_>, uncertain: &[f64]) -> bool {
    let n = uncertain.len();
    let spread: Vec<Vec<f64>> = (0..n)
        .map(|idx| a.spread[idx].iter().zip(&b.spread[idx]).map(|(a, b)| a - b).collect())
        .collect();
    let from = |at: usize| -> Vec<f64> {
        (0..n).map(|idx| b.y[idx].get(at).copied().unwrap_or(b.at(idx)) - a.at(idx)).collect()
    };
    let ends = [from(1), from(2)];
    squared_difference(&spread, uncertain, &from(0), &ends) <= chi_square_99(1)
}
