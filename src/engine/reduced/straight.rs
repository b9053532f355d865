//! One straight branch more, less or other than on the linear board: a few multiplications.
//!
//! # Formula
//!
//! With h the resistance of the branch's port on the linear board and v⁰ the volts across it, an
//! extra current g v + i settles at
//!
//! ```text
//! v = (v⁰ − h i) / (1 + h g)
//! ```
//!
//! and moves every net along the port's one shape: the line that [`super::super::PortView`] is about.
//! It is what the small system of one unknown comes to, without any of its lists.

use super::super::port::LEAST_SHARE;
use super::super::small::{LEAST_PIVOT, SmallFactors};
use super::Reduced;
use super::settle::{Extra, Small, Span, Unknowns};
use crate::device::Law;

impl Reduced {
    /// The solution with one straight extra current between two nets of the board; `None` where it
    /// is another one, or where too few digits would be left.
    pub(super) fn straight(&self, extras: &[Extra<'_>], n_new: usize) -> Option<Small> {
        let [extra] = extras else { return None };
        let (from, to) = (extra.from, extra.to);
        let is_straight = matches!(extra.law, None | Some(Law::Line { .. }));
        let on_board = n_new == 0 && from != to && from.max(to) < self.n_nets;
        if !is_straight || !on_board || !extra.senses.is_empty() {
            return None;
        }
        let mut slope = [0.0];
        let offset = extra.at(&[0.0], &mut slope);
        let [slope] = slope;
        let shapes = self.shapes(extras, self.n_nets);
        let ohms = shapes[from] - shapes[to];
        let bottom = 1.0 + ohms * slope;
        if bottom.abs() < LEAST_SHARE * (1.0 + (ohms * slope).abs()) {
            return None;
        }
        let across = (self.volts[from] - self.volts[to] - ohms * offset) / bottom;
        let amps = slope * across + offset;
        let mut volts = self.volts.clone();
        for (volts, shape) in volts.iter_mut().zip(&shapes) {
            *volts -= shape * amps;
        }
        // What was solved for a net by itself has no rounding added.
        if to == 0 {
            volts[from] = across;
        }
        let mut factors = SmallFactors::empty(1);
        factors.clear(1);
        factors.add_at(0, 0, ohms * slope);
        factors.factor(LEAST_PIVOT)?;
        let unknowns = Unknowns::one((from, to), self.n_nets);
        let sound = volts.iter().all(|volts| volts.is_finite());
        sound.then(|| Small {
            volts,
            awake: Vec::new(),
            unknowns,
            factors,
            slopes: vec![(Span::FIRST, slope)],
            ends: vec![1],
            shapes,
        })
    }
}
