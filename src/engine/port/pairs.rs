//! All pairs of faults of a port table against readings, and the best of them.
//!
//! # Formula
//!
//! Branches of z_a and z_b ohms beside two ports carry t_a and t_b with
//!
//! ```text
//! | z_a + r_a   m_ab      | |t_a|   |v_a|
//! | m_ba        z_b + r_b | |t_b| = |v_b|
//!
//! χ² = ρ·ρ + 2 (t_a ρ·σ_a + t_b ρ·σ_b) + t_a² σ_a·σ_a + 2 t_a t_b σ_a·σ_b + t_b² σ_b·σ_b
//! ```
//!
//! with m the mutual resistances and the products of [`Scores`] taken once per two ports, so that a
//! pair costs the same however many readings there are. A sum of squares that is put together from
//! products may lose digits beside ρ·ρ: it is for screening, and clamped at nothing.

use std::cmp::Ordering;
use std::collections::BinaryHeap;

use super::line::LEAST_SHARE;
use super::{Refusal, Scores, Shunt};
use crate::circuit::SetupId;
use crate::engine::Assembly;

/// Two faults, by their places in the list that was screened.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PairScore {
    /// The first.
    pub one: usize,
    /// The second, of another port.
    pub other: usize,
    /// The chi-square that both leave.
    pub chi_square: f64,
}

impl Eq for PairScore {}

impl Ord for PairScore {
    fn cmp(&self, other: &PairScore) -> Ordering {
        let places = |pair: &PairScore| (pair.one, pair.other);
        self.chi_square.total_cmp(&other.chi_square).then(places(self).cmp(&places(other)))
    }
}

impl PartialOrd for PairScore {
    fn partial_cmp(&self, other: &PairScore) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

/// What the screen of all pairs leaves.
#[derive(Debug, Clone, Default)]
pub struct BestPairs {
    /// The pairs that leave least, the best first.
    pub best: Vec<PairScore>,
    /// Pairs that cannot be told from the table, and have to be solved in full.
    pub untold: Vec<(usize, usize)>,
    /// Pairs that were screened.
    pub screened: usize,
}

/// The faults of one screen, field by field, so that the processor takes several at once.
#[derive(Debug, Default)]
struct Columns {
    /// Place of each fault in the caller's list.
    number: Vec<usize>,
    site: Vec<usize>,
    /// v, with what a source adds.
    top: Vec<f64>,
    /// z + r ...
    bottom: Vec<f64>,
    /// ... and |z| + |r|.
    size: Vec<f64>,
    along: Vec<f64>,
    length: Vec<f64>,
}

/// What two ports share, for one first port and every fault.
#[derive(Debug, Default)]
struct Shared {
    across: Vec<f64>,
    back: Vec<f64>,
    gram: Vec<f64>,
}

impl Scores<'_> {
    /// Screens every pair of faults at two different ports, and keeps the best `most` of them.
    ///
    /// A fault that the table refuses by itself, as a short across a source, is in no pair.
    pub fn best_pairs(&self, faults: &[(usize, Shunt)], most: usize) -> BestPairs {
        let columns = self.columns(faults);
        let (n, n_sites) = (columns.site.len(), self.table.sites().len());
        let mut found = BestPairs::default();
        let mut heap: BinaryHeap<PairScore> = BinaryHeap::with_capacity(most + 1);
        let mut row = vec![0.0; n];
        let mut shared = Shared::default();
        let mut limit = f64::INFINITY;
        let mut first = 0;
        while first < n {
            let site = columns.site[first];
            let own = columns.site[first..].iter().take_while(|known| **known == site).count();
            let rest = first + own;
            let others = &columns.site[rest..];
            shared.across.clear();
            shared.across.extend(others.iter().map(|&other| self.table.mutual(site, other)));
            shared.back.clear();
            shared.back.extend(others.iter().map(|&other| self.table.mutual(other, site)));
            shared.gram.clear();
            shared.gram.extend(others.iter().map(|&other| self.gram[site * n_sites + other]));
            for fault in first..rest {
                let row = &mut row[..n - rest];
                columns.row(fault, rest, self.start, &shared, row);
                found.screened += row.len();
                for (place, &chi_square) in row.iter().enumerate() {
                    // What is no number is not above the limit either.
                    if chi_square > limit {
                        continue;
                    }
                    let (one, other) = (columns.number[fault], columns.number[rest + place]);
                    if chi_square.is_nan() {
                        found.untold.push((one, other));
                        continue;
                    }
                    heap.push(PairScore { one, other, chi_square });
                    if heap.len() > most {
                        heap.pop();
                        limit = heap.peek().map_or(f64::INFINITY, |worst| worst.chi_square);
                    }
                }
            }
            first = rest;
        }
        found.best = heap.into_sorted_vec();
        found
    }

    fn columns(&self, faults: &[(usize, Shunt)]) -> Columns {
        let n_sites = self.table.sites().len();
        let mut order: Vec<usize> = (0..faults.len()).collect();
        order.sort_by_key(|&number| faults[number].0);
        let mut columns = Columns::default();
        for number in order {
            let (site, shunt) = faults[number];
            let line = self.table.line(site);
            if line.amps(shunt) == Err(Refusal::Sourced) || shunt.ohms.is_infinite() {
                continue;
            }
            columns.number.push(number);
            columns.site.push(site);
            columns.top.push(line.volts + shunt.volts);
            columns.bottom.push(shunt.ohms + line.ohms);
            columns.size.push(shunt.ohms.abs() + line.ohms.abs());
            columns.along.push(self.along[site]);
            columns.length.push(self.gram[site * n_sites + site]);
        }
        columns
    }

    /// Solves pairs again, each as a board with both changes, and gives them by what they leave.
    /// A short is solved as `least` ohms. Pairs without an operating point are left out.
    ///
    /// Readings and standard uncertainties are those of the scores, in the order of the places.
    pub fn rechecked(
        &self,
        assembly: &Assembly<'_>,
        setup: SetupId,
        faults: &[(usize, Shunt)],
        pairs: &[PairScore],
        (readings, standard, least): (&[f64], &[f64], f64),
    ) -> Vec<PairScore> {
        let overlay =
            |(site, shunt): (usize, Shunt)| self.table.sites()[site].overlay(shunt, least);
        let mut found: Vec<PairScore> = pairs
            .iter()
            .filter_map(|pair| {
                let mut both = overlay(faults[pair.one])?;
                both.changes.extend(overlay(faults[pair.other])?.changes);
                let point = assembly.solve(setup, &both).point?;
                let off = self.table.places().iter().zip(readings.iter().zip(standard));
                let chi_square = off
                    .map(|(&(red, black), (reading, standard))| {
                        ((reading - point.between(red, black)) / standard).powi(2)
                    })
                    .sum();
                Some(PairScore { chi_square, ..*pair })
            })
            .collect();
        found.sort();
        found
    }
}

impl Columns {
    /// The chi-squares of one fault with every fault from `rest` on; what is not to be told is not a
    /// number.
    fn row(&self, fault: usize, rest: usize, start: f64, shared: &Shared, row: &mut [f64]) {
        let n = row.len();
        let (top, bottom, size) = (self.top[fault], self.bottom[fault], self.size[fault]);
        let (along, length) = (self.along[fault], self.length[fault]);
        // Slices of one length each, so that no bound is tested inside.
        let tops = &self.top[rest..rest + n];
        let bottoms = &self.bottom[rest..rest + n];
        let sizes = &self.size[rest..rest + n];
        let alongs = &self.along[rest..rest + n];
        let lengths = &self.length[rest..rest + n];
        let (across, back) = (&shared.across[..n], &shared.back[..n]);
        let gram = &shared.gram[..n];
        for at in 0..n {
            let determinant = bottom * bottoms[at] - across[at] * back[at];
            // One division, the slowest step of all, does for both.
            let share = 1.0 / determinant;
            let one = (bottoms[at] * top - across[at] * tops[at]) * share;
            let other = (bottom * tops[at] - back[at] * top) * share;
            let chi_square = start
                + one * (2.0 * along + one * length)
                + other * (2.0 * alongs[at] + other * lengths[at] + 2.0 * one * gram[at]);
            let told = determinant.abs() >= LEAST_SHARE * size * sizes[at];
            row[at] = if told { chi_square.max(0.0) } else { f64::NAN };
        }
    }
}
