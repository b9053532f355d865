//! Further operating points of a reduced board: Newton's method from many starts.

use super::change::Changes;
use super::settle::{From, Small};
use super::{Base, Reduced};
use crate::device::Law;

/// Starts that may come to nothing new before the search ends; one that leads nowhere says nothing
/// of what there is, and is not counted.
const QUIET: usize = 8;
/// Starts in all ...
const MOST: usize = 60;
/// ... and those of them that lead nowhere, where the search need not be complete: they take longer
/// than any other.
const MOST_LOST: usize = 12;
/// Points that are enough: a board with so many has parts that remember each by itself, and many more.
const ENOUGH: usize = 12;
/// Two points are one when no net differs by more volts than this, or this share of its volts: what
/// hangs on next to nothing is solved no closer.
const SAME: f64 = 1e-3;

impl Reduced {
    /// The points, besides `first`, that a board with changes can stay in, as far as a few starts
    /// spread over what the sources can reach find them; see [`Network::all_points`], which goes on
    /// until the signs of all points add up.
    ///
    /// [`Network::all_points`]: crate::engine::Network::all_points
    ///
    /// With it, whether the signs add up and starts enough came to a point, or there are points
    /// enough: a start that leads nowhere says nothing of what there is.
    pub fn others(&self, changes: &Changes, first: &Small, complete: bool) -> (Vec<Small>, bool) {
        let (low, high) = self.reach();
        let most_lost = if complete { MOST } else { MOST_LOST };
        let n = self.n_nets + changes.new_nets.len();
        let steps: Vec<f64> = roots_of_primes().take(n).collect();
        let mut found: Vec<Small> = Vec::new();
        let mut seen: Vec<Vec<f64>> = vec![first.volts.clone()];
        let (mut since, mut degree, mut lost) = (0, 1, 0);
        for start in 1..=MOST {
            if since >= QUIET && degree == 1 || lost >= most_lost || seen.len() >= ENOUGH {
                break;
            }
            // Multiples of roots of primes spread evenly (R. D. Richtmyer, 1951; from memory).
            let mut volts: Vec<f64> = steps
                .iter()
                .map(|step| low + (high - low) * (step * start as f64).fract())
                .collect();
            volts[0] = 0.0;
            let Some((small, runs_away)) =
                self.solve_any(changes, Some(&volts), &self.curves, (From::Anywhere, false))
            else {
                lost += 1;
                continue;
            };
            since += 1;
            let same = |known: &Vec<f64>| {
                let each = known.iter().zip(&small.volts);
                each.into_iter().all(|(a, b)| (a - b).abs() <= SAME * (1.0 + a.abs()))
            };
            if seen.iter().any(same) {
                continue;
            }
            seen.push(small.volts.clone());
            since = 0;
            degree += if runs_away { -1 } else { 1 };
            if !runs_away {
                found.push(small);
            }
        }
        (found, seen.len() >= ENOUGH || degree == 1 && since >= QUIET)
    }

    /// The least and the most volts that the sources can bring a net to, roughly.
    fn reach(&self) -> (f64, f64) {
        let volts = |element: &Base| match &element.law {
            Law::Line { siemens, amps } if *siemens > 0.0 => -amps / siemens,
            Law::Curve(curve) => curve.first(),
            Law::Volts(volts) => *volts,
            _ => 0.0,
        };
        self.elements
            .iter()
            .map(volts)
            .filter(|volts| volts.abs() < 1e3)
            .fold((-1.0_f64, 1.0_f64), |(low, high), volts| (low.min(volts), high.max(volts)))
    }
}

fn roots_of_primes() -> impl Iterator<Item = f64> {
    let is_prime = |number: &u32| {
        (2..*number).take_while(|d| d * d <= *number).all(|d| !number.is_multiple_of(d))
    };
    (2_u32..).filter(is_prime).map(|prime| f64::from(prime).sqrt())
}
