//! From a law of the engine to the form that a lesson writes: straight pieces as they are, curves
//! as tangents.

use super::branch::{Form, Pair};
use crate::device::Law;

/// Conductances up to here are leaks: what the engine keeps across blocked junctions and open
/// contacts is 0.1 pS each.
const LEAK_SIEMENS: f64 = 2e-12;

/// What a leak adds to a current is none up to this share of it.
const CREEP: f64 = 1e-6;

/// A voltage that a slope as steep as this holds is written as given.
const STEEP_SIEMENS: f64 = 1e3;

/// An amplifier's slope by a voltage elsewhere is written as a relation of volts from this many
/// times its own slope up.
const GAIN: f64 = 10.0;

/// A law around some volts.
#[derive(Debug, Clone)]
pub(super) struct Tangent {
    pub(super) amps: f64,
    /// The branch's own volts, then those it senses.
    pub(super) volts: Vec<f64>,
    /// The slope by each of them.
    pub(super) slopes: Vec<f64>,
}

impl Tangent {
    /// The tangent of a law with these volts; `None` where the law gives the volts.
    pub(super) fn new(law: &Law, volts: &[f64]) -> Option<Tangent> {
        let mut slopes = vec![0.0; volts.len()];
        let amps = match law {
            Law::Line { siemens, amps } => {
                slopes[0] = *siemens;
                siemens * volts[0] + amps
            }
            Law::Curve(curve) => {
                let sample = curve.at(volts[0]);
                slopes[0] = sample.siemens;
                sample.amps
            }
            Law::Driven(law) => law.at(volts, &mut slopes),
            Law::Volts(_) | Law::Clamp { .. } => return None,
        };
        Some(Tangent { amps, volts: volts.to_vec(), slopes })
    }

    /// Amps with all volts at zero.
    fn at_zero(&self) -> f64 {
        let slopes = self.slopes.iter().zip(&self.volts);
        self.amps - slopes.map(|(slope, volts)| slope * volts).sum::<f64>()
    }

    /// The form of a curve's tangent.
    pub(super) fn smooth(&self, pairs: &[Pair]) -> Form {
        if self.slopes.len() == 1 {
            return Form::Companion { siemens: self.slopes[0], amps: self.at_zero() };
        }
        let terms = self.slopes.iter().zip(pairs).map(|(slope, pair)| (*slope, *pair));
        Form::Steered { terms: merged(terms), amps: self.at_zero() }
    }

    /// The form of a straight piece; with `leaks`, what flows through blocked parts counts.
    ///
    /// Drops up to `small` volts are none.
    pub(super) fn straight(
        &self,
        pairs: &[Pair],
        leaks: bool,
        is_amplifier: bool,
        small: f64,
    ) -> Form {
        let terms = self.slopes.iter().zip(pairs).map(|(slope, pair)| (*slope, *pair));
        // A source at its limit creeps so little that it is a given current in any case.
        let counts = |slope: f64, pair: Pair| {
            let amps = (slope * self.value(pair, pairs)).abs();
            slope.abs() > LEAK_SIEMENS || leaks && amps > CREEP * self.amps.abs()
        };
        let mut terms = merged(terms);
        terms.retain(|(slope, pair)| counts(*slope, *pair));
        let own = pairs[0];
        match terms[..] {
            [] => {
                let largest = self.volts.iter().fold(1.0_f64, |most, volts| most.max(volts.abs()));
                if self.amps.abs() <= 10.0 * LEAK_SIEMENS * largest {
                    Form::Open
                } else {
                    Form::Current { amps: self.amps }
                }
            }
            [(siemens, pair)] if pair == own => self.own_line(siemens, pair, small),
            [(siemens, pair)] => {
                let value = self.value(pair, pairs);
                relation(vec![(1.0, pair)], value, (siemens, self.amps), small)
            }
            _ => self.several(&terms, pairs, is_amplifier, small),
        }
    }

    fn value(&self, pair: Pair, pairs: &[Pair]) -> f64 {
        pairs.iter().position(|known| *known == pair).map_or(0.0, |at| self.volts[at])
    }

    fn own_line(&self, siemens: f64, own: Pair, small: f64) -> Form {
        let without = self.volts[0] - self.amps / siemens;
        if siemens >= STEEP_SIEMENS && without != 0.0 {
            return relation(vec![(1.0, own)], self.volts[0], (siemens, self.amps), small);
        }
        // What is left of a difference of equal numbers is no source.
        if without.abs() <= 1e-9 * self.volts[0].abs().max(1e-3) {
            Form::Resistance { ohms: 1.0 / siemens }
        } else {
            Form::Source { volts: without, ohms: 1.0 / siemens }
        }
    }

    fn several(
        &self,
        terms: &[(f64, Pair)],
        pairs: &[Pair],
        is_amplifier: bool,
        small: f64,
    ) -> Form {
        let own = terms.iter().find(|(_, pair)| *pair == pairs[0]).map_or(0.0, |term| term.0);
        let steepest = terms
            .iter()
            .map(|term| term.0)
            .fold(0.0_f64, |most, slope| if slope.abs() > most.abs() { slope } else { most });
        let is_steep = steepest.abs() >= STEEP_SIEMENS
            || is_amplifier && own != 0.0 && steepest.abs() >= GAIN * own.abs();
        if !is_steep {
            return Form::Steered { terms: terms.to_vec(), amps: self.at_zero() };
        }
        let unit = if own.abs() > 1e-9 * steepest.abs() { own } else { steepest };
        let scaled: Vec<(f64, Pair)> =
            terms.iter().map(|(slope, pair)| (slope / unit, *pair)).collect();
        let value = scaled.iter().map(|(factor, pair)| factor * self.value(*pair, pairs)).sum();
        let scaled = if is_amplifier { by_output(&scaled, pairs[0]) } else { scaled };
        relation(scaled, value, (unit, self.amps), small)
    }
}

/// Σ c v = volts + i / siemens, where the left side is worth `value` now; told with volts that are
/// not negative.
fn relation(terms: Vec<(f64, Pair)>, value: f64, (siemens, amps): (f64, f64), small: f64) -> Form {
    let (mut volts, ohms) = (value - amps / siemens, 1.0 / siemens);
    // What is left of a difference of equal numbers is nothing.
    if volts.abs() <= 1e-9 * value.abs() {
        volts = 0.0;
    }
    let is_shown = (ohms * amps).abs() > small;
    let sign = match terms[..] {
        // One that is written as the volts of a net begins with that net.
        [(factor, [_, 0]), _, ..] => factor.signum(),
        _ if volts < 0.0 => -1.0,
        _ => 1.0,
    };
    let terms = terms.into_iter().map(|(factor, pair)| (sign * factor, pair));
    // A voltage the other way round is no negative factor of it.
    let terms = match terms.collect::<Vec<_>>()[..] {
        [(factor, [plus, minus])] if factor < 0.0 => vec![(-factor, [minus, plus])],
        ref several => several.to_vec(),
    };
    Form::Relation { terms, volts: sign * volts, ohms: if is_shown { sign * ohms } else { 0.0 } }
}

/// The terms of an amplifier's half with the volts of its output before all others: its own pair is
/// taken apart, and what else there is of its other net is added up.
fn by_output(terms: &[(f64, Pair)], own: Pair) -> Vec<(f64, Pair)> {
    let is_rail =
        |net: usize| net == 0 || terms.iter().any(|(_, pair)| *pair != own && *pair == [net, 0]);
    let (output, rail) = match own.map(is_rail) {
        [true, false] => (own[1], own[0]),
        [false, true] => (own[0], own[1]),
        _ => return terms.to_vec(),
    };
    let Some(factor) = terms.iter().find(|(_, pair)| *pair == own).map(|(factor, _)| *factor)
    else {
        return terms.to_vec();
    };
    let factor = if own[0] == output { factor } else { -factor };
    let others = terms.iter().filter(|(_, pair)| *pair != own).copied();
    let mut others = merged(others.chain(std::iter::once((-factor, [rail, 0]))));
    others.sort_by_key(|(_, [_, minus])| *minus != 0);
    std::iter::once((factor, [output, 0])).chain(others).collect()
}

/// Terms of the same pair of nets added up; a pair of one net is nothing.
fn merged(terms: impl Iterator<Item = (f64, Pair)>) -> Vec<(f64, Pair)> {
    let mut found: Vec<(f64, Pair)> = Vec::new();
    for (slope, [plus, minus]) in terms.filter(|(_, [plus, minus])| plus != minus) {
        let same = found.iter().position(|(_, pair)| *pair == [plus, minus]);
        let turned = found.iter().position(|(_, pair)| *pair == [minus, plus]);
        match (same, turned) {
            (Some(at), _) => found[at].0 += slope,
            (None, Some(at)) => found[at].0 -= slope,
            (None, None) => found.push((slope, [plus, minus])),
        }
    }
    found.retain(|(slope, _)| *slope != 0.0);
    found
}

/// Whether the tangent of a law changes from one place to the next: its equation is found step by
/// step.
pub(super) fn is_smooth(law: &Law, volts: &[f64]) -> bool {
    match law {
        Law::Curve(curve) => curve.segment(volts[0]).is_none(),
        Law::Driven(law) => law.segment(volts).is_none(),
        _ => false,
    }
}
