//! Outputs of comparators and gates: two switches, one to each rail, that the inputs close in part.
//!
//! ```text
//! i(supply → output) = share · alive(supply) · V / R        V the volts across the switch
//! i(output → ground) = (1 − share) · alive(supply) · V / R
//! ```
//!
//! in amps, volts and ohms. `share` goes from 0, low, to 1, high; `alive` from 0 to 1 over the last
//! [`COMING_UP`] of the least supply. What drives high comes out of the supply pin and what drives
//! low goes back by the ground pin, so that Kirchhoff's law and the power hold.

use super::law::Driven;
use super::{Branch, Values};

/// Conductance of a switch that is open, in siemens; see `junction::REVERSE_FLOOR`.
pub(super) const LEAK: f64 = super::junction::REVERSE_FLOOR;

/// The share of its least supply over which a chip comes up. Common practice, no published source.
pub(super) const COMING_UP: f64 = 0.05;

/// How far a chip has come up, from 0 to 1, the slope by its supply, and the number of the stretch.
pub(super) fn alive(supply: f64, least: f64) -> (f64, f64, u8) {
    rise(supply, (1.0 - COMING_UP) * least, least)
}

/// A straight rise from 0 at `from` to 1 at `to`, its slope, and the number of the stretch.
pub(super) fn rise(x: f64, from: f64, to: f64) -> (f64, f64, u8) {
    if x <= from {
        (0.0, 0.0, 0)
    } else if x < to {
        ((x - from) / (to - from), 1.0 / (to - from), 1)
    } else {
        (1.0, 0.0, 2)
    }
}

/// How high an output is to be, from 0 to 1.
pub(super) trait Share: std::fmt::Debug + Send + Sync {
    /// The share at the volts of the supply and then of the inputs; `slopes` comes in as zeros and
    /// takes the derivatives. Asked only while the supply is more than nothing.
    fn at(&self, volts: &[f64], slopes: &mut [f64]) -> f64;

    /// Whether it rises with an input.
    fn rises(&self) -> bool {
        false
    }

    /// The number of the piece that the volts lie on.
    fn segment(&self, volts: &[f64]) -> u32;
}

/// A share that nothing changes: a state, or a fault.
#[derive(Debug, Clone, Copy)]
pub(super) struct Fixed(pub(super) f64);

impl Share for Fixed {
    fn at(&self, _volts: &[f64], _slopes: &mut [f64]) -> f64 {
        self.0
    }

    fn segment(&self, _volts: &[f64]) -> u32 {
        0
    }
}

/// One of the two switches; it senses the supply and then the inputs.
#[derive(Debug, Clone, Copy)]
pub(super) struct Leg<S> {
    /// Conductance when closed, in siemens.
    pub(super) siemens: f64,
    /// The least supply, in volts.
    pub(super) least: f64,
    /// Whether it leads to the supply.
    pub(super) is_high: bool,
    /// How high the output is to be.
    pub(super) share: S,
}

impl<S: Share> Driven for Leg<S> {
    fn at(&self, volts: &[f64], slopes: &mut [f64]) -> f64 {
        slopes.fill(0.0);
        slopes[0] = LEAK;
        let (up, up_slope, _) = alive(volts[1], self.least);
        if up == 0.0 {
            return LEAK * volts[0];
        }
        let mut share = self.share.at(&volts[1..], &mut slopes[1..]);
        let full = self.siemens * volts[0];
        if !self.is_high {
            share = 1.0 - share;
        }
        for slope in &mut slopes[1..] {
            *slope *= full * up * if self.is_high { 1.0 } else { -1.0 };
        }
        slopes[1] += full * share * up_slope;
        slopes[0] += self.siemens * share * up;
        full * share * up + LEAK * volts[0]
    }

    fn raised_by(&self, sense: usize) -> bool {
        sense > 0 && self.share.rises()
    }

    fn segment(&self, volts: &[f64]) -> Option<u32> {
        let stretch = alive(volts[1], self.least).2;
        // Without a supply the inputs do not matter.
        let piece = if stretch == 0 { 0 } else { self.share.segment(&volts[1..]) };
        Some(piece * 3 + u32::from(stretch))
    }
}

/// The level that a fault holds an output at: high, low, or neither.
pub(super) fn stuck(values: &Values<'_>) -> Option<bool> {
    let high = values.is_struck("stuck high").then_some(true);
    high.or(values.is_struck("stuck low").then_some(false))
}

/// The pins of an output stage, by number.
#[derive(Debug, Clone, Copy)]
pub(super) struct Stage {
    pub(super) output: usize,
    pub(super) supply: usize,
    pub(super) ground: usize,
}

impl Stage {
    /// The switches of an output that inputs drive: both, or that to ground alone where it is open
    /// drain. `inputs` are the pairs of pins that the share takes after the supply.
    pub(super) fn legs(
        self,
        values: &Values<'_>,
        inputs: impl IntoIterator<Item = [usize; 2]>,
        share: impl Share + Copy + 'static,
    ) -> Vec<Branch> {
        let siemens = 1.0 / values.need("output_resistance");
        let least = values.need("minimum_supply");
        let senses: Vec<[usize; 2]> =
            std::iter::once([self.supply, self.ground]).chain(inputs).collect();
        let leg = |is_high| Leg { siemens, least, is_high, share };
        let mut branches = vec![Branch::driven(self.output, self.ground, leg(false), &senses)];
        if !values.part.flag("open_drain") {
            branches.push(Branch::driven(self.supply, self.output, leg(true), &senses));
        }
        branches
    }
}

/// Whether the slopes of a law are those of its current, by central differences; for tests.
#[cfg(test)]
pub(super) fn check_slopes(law: &dyn Driven, volts: &[f64], h: f64) {
    let mut slopes = vec![0.0; volts.len()];
    let amps = law.at(volts, &mut slopes);
    assert!(amps.is_finite());
    for idx in 0..volts.len() {
        let moved = |by: f64| {
            let mut there = volts.to_vec();
            there[idx] += by;
            (law.at(&there, &mut vec![0.0; volts.len()]), law.segment(&there))
        };
        let ((more, up), (less, down)) = (moved(h), moved(-h));
        if up != down {
            // At the corner itself the current is the same from both sides.
            let (mut low, mut high) = (-h, h);
            for _ in 0..60 {
                let middle = 0.5 * (low + high);
                if moved(middle).1 == down { low = middle } else { high = middle }
            }
            let step = (moved(high).0 - moved(low).0).abs();
            assert!(step <= 1e-9 * (1.0 + amps.abs()), "{volts:?} {idx}: a step of {step}");
            continue;
        }
        let slope = (more - less) / (2.0 * h);
        let allowed = 1e-5 * slope.abs() + 1e-7 * (1.0 + amps.abs() / h * 1e-8);
        assert!((slopes[idx] - slope).abs() <= allowed, "{volts:?} {idx}: {} {slope}", slopes[idx]);
    }
}
