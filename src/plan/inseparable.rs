//! Candidates that no measurement can tell apart.
//!
//! Two candidates that the readings so far do not tell apart are compared at every measurement that
//! could still be taken. They are inseparable when, with tolerances shared by both and one value of
//! each fault for all measurements, the squared difference of what they predict stays under the
//! chi-square 99 % quantile of one degree of freedom: between two candidates the best test looks
//! along their difference alone, however many measurements it is made of. Then a part has to be
//! lifted or replaced to find out.

use super::measurements::in_setup;
use super::table::{on_scale, own_standard, scale_of};
use crate::circuit::{Meter, Overlay, POWERED, Quantity, SetupId, UNPOWERED};
use crate::diagnosis::{
    Candidate, Diagnosis, Foreseen, Predictor, Probe, Verdict, chi_square_99, components,
    squared_difference,
};
use crate::engine::Assembly;
use crate::meter::furthest_ohms;

/// At most so many candidates of one group are compared, the likeliest.
const MEMBERS: usize = 8;
/// Candidates that weigh less than this are not.
const LEAST: f64 = 1e-4;
/// Values further apart than this many standard uncertainties are told apart by one measurement.
const APART: f64 = 4.0;

/// A candidate at its likeliest value and at the ends of its interval.
struct Member {
    candidate: usize,
    /// Predictions per measurement and value, the likeliest value first.
    y: Vec<Vec<f64>>,
    /// How the prediction at the likeliest value moves with every source, per measurement.
    spread: Vec<Vec<f64>>,
    /// One standard uncertainty of the meter there, per measurement.
    own: Vec<f64>,
}

/// Numbers the sets of candidates that no measurement tells apart, in the diagnosis's own order;
/// a candidate that something tells from all others has none.
///
/// ```
/// use ohmhound::plan::mark_inseparable;
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
/// let mut diagnosis = diagnose(&assembly, &readings.readings, &[]);
/// mark_inseparable(&assembly, &mut diagnosis, &readings.meter);
/// // A part that is open, and the same part drifted to megohms, are one to a meter on the board.
/// let marked = diagnosis.candidates.iter().filter(|one| one.inseparable.is_some());
/// assert_ne!(marked.count(), 1, "one alone is told from all others");
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
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
    let setups = [POWERED, UNPOWERED].into_iter();
    let probes: Vec<Probe> = setups
        .flat_map(|setup| in_setup(assembly.circuit(), setup, &[]))
        .map(|one| one.probe)
        .collect();
    let predictor = Predictor::new(assembly, &probes, meter).thorough();
    let overlays: Vec<Vec<Overlay>> =
        own.iter().map(|&candidate| overlays(assembly, &diagnosis.candidates[candidate])).collect();
    let all: Vec<&Overlay> = overlays.iter().flatten().collect();
    let mut foreseen = predictor.predict_all(&all).into_iter();
    let members: Vec<Member> = own
        .iter()
        .zip(&overlays)
        .filter_map(|(&candidate, overlays)| {
            let foreseen: Vec<_> = foreseen.by_ref().take(overlays.len()).collect();
            Member::new(candidate, &foreseen, &probes, meter)
        })
        .collect();
    let n = members.len();
    let uncertain: Vec<f64> = (0..probes.len())
        .map(|idx| members.iter().map(|member| member.own[idx]).fold(0.0, f64::max))
        .collect();
    let mut open: Vec<(usize, usize)> =
        (0..n).flat_map(|a| (a + 1..n).map(move |b| (a, b))).collect();
    open.retain(|&(a, b)| {
        let apart = |idx: usize| is_apart(&members[a], &members[b], idx, uncertain[idx]);
        !(0..probes.len()).any(apart)
    });
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

impl Member {
    /// What a candidate predicts for all measurements; `None` for one whose board does not settle
    /// in some setup, which predicts nothing there.
    fn new(
        candidate: usize,
        foreseen: &[Vec<Option<Foreseen>>],
        probes: &[Probe],
        meter: &Meter,
    ) -> Option<Member> {
        let predicts_in = |setup: SetupId| {
            let own = (0..probes.len()).filter(|&idx| probes[idx].setup == setup);
            foreseen.first().is_some_and(|of| own.into_iter().any(|idx| of[idx].is_some()))
        };
        if ![POWERED, UNPOWERED].into_iter().all(predicts_in) {
            return None;
        }
        let (mut y, mut spread, mut own) = (Vec::new(), Vec::new(), Vec::new());
        for (idx, probe) in probes.iter().enumerate() {
            let quantity = probe.quantity;
            // A meter that shows OL says no more, however far over it is.
            let value = |one: &Foreseen| match (quantity, one.shown.is_finite()) {
                (Quantity::Diode, false) => meter.diode.compliance,
                (_, false) => furthest_ohms(&meter.ohms),
                (_, true) => on_scale(one, quantity).0,
            };
            // What does not settle with the meter on it predicts nothing of its own.
            let Some(first) = foreseen.first()?[idx].as_ref() else {
                y.push(vec![0.0]);
                spread.push(Vec::new());
                own.push(0.0);
                continue;
            };
            let values = foreseen.iter().filter_map(|of| of[idx].as_ref());
            y.push(values.map(|one| scale_of(quantity).of(value(one))).collect());
            if !first.shown.is_finite() {
                spread.push(Vec::new());
                own.push(0.0);
                continue;
            }
            let slope = on_scale(first, quantity).1;
            spread.push(first.spread.iter().map(|part| part * slope).collect());
            own.push(own_standard(value(first), quantity, meter));
        }
        Some(Member { candidate, y, spread, own })
    }

    /// The prediction for a measurement at the likeliest value.
    fn at(&self, measurement: usize) -> f64 {
        self.y[measurement].first().copied().unwrap_or(0.0)
    }
}

/// Whether one measurement alone tells two candidates apart, whatever their values are.
fn is_apart(a: &Member, b: &Member, idx: usize, own: f64) -> bool {
    let ends = |member: &Member| {
        let of = member.y[idx].iter().copied();
        (of.clone().fold(f64::INFINITY, f64::min), of.fold(f64::NEG_INFINITY, f64::max))
    };
    let ((a_low, a_high), (b_low, b_high)) = (ends(a), ends(b));
    let gap = (a_low - b_high).max(b_low - a_high);
    let shared: f64 =
        a.spread[idx].iter().zip(&b.spread[idx]).map(|(a, b)| (a - b) * (a - b)).sum();
    gap > APART * shared.sqrt().hypot(own)
}

/// Whether some value of `b` predicts, for all measurements together, what `a` does at its
/// likeliest: on the way from one end of its interval over the likeliest value to the other.
fn is_covered(a: &Member, b: &Member, uncertain: &[f64]) -> bool {
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
