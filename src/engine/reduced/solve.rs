//! Which curves take part in a small system, and what is done where it does not settle.

use super::Reduced;
use super::change::{Active, Changes};
use super::settle::{Extra, From, MOST_SENSES, Small};
use crate::device::Law;

/// A curve sleeps on its straight line while it differs from it by less current than this ...
const QUIET_AMPS: f64 = 1e-8;
/// ... and this share of its current ...
const QUIET_SHARE: f64 = 1e-6;
/// ... and while all sleepers together move no net by more than this.
const QUIET_VOLTS: f64 = 1e-6;
/// A curve whose volts are within this of where its line was taken is on it.
const SAME_VOLTS: f64 = 1e-9;
/// With more curves awake than this a board is solved net by net.
const MANY: usize = 10;
/// Volts beyond which a small system stands on a pivot of rounding: no board has them.
pub(super) const ABSURD_VOLTS: f64 = 1e6;

/// Volts to either side within which a curve stands in a corner ...
const CORNER: f64 = 1e-6;
/// ... and amps that are nothing there.
const NOTHING: f64 = 1e-9;

impl Reduced {
    /// Solves with the given changes; curves that are not changed keep their own law. `start` holds
    /// the volts of a similar board, `awake` the curves that are likely to leave their lines.
    ///
    /// A `stubborn` solution goes on by steps of time where Newton's method does not settle.
    ///
    /// `None` when it does not settle in a point that a board stays in, or where a given voltage is
    /// touched: then the whole network has to be solved.
    pub fn solve(
        &self,
        changes: &Changes,
        start: Option<&[f64]>,
        awake: &[usize],
        how: (From, bool),
    ) -> Option<Small> {
        let (small, runs_away) = self.solve_any(changes, start, awake, how)?;
        (!runs_away).then_some(small)
    }

    /// The same with points that no board stays in, told by the sign of the determinant; see
    /// `Equations::sign`.
    pub(super) fn solve_any(
        &self,
        changes: &Changes,
        start: Option<&[f64]>,
        awake: &[usize],
        (from, stubborn): (From, bool),
    ) -> Option<(Small, bool)> {
        let touches_given = changes.list.iter().any(|active| {
            active.element.is_some_and(|element| self.elements[element].own.is_some())
                || matches!(active.law, Some(Law::Volts(_) | Law::Clamp { .. }))
        });
        if touches_given {
            return None;
        }
        if awake.len() > MANY
            && let Some(found) = self.solve_nodal(changes, start, (from, stubborn))
        {
            return Some(found);
        }
        let all = || changes.list.iter().chain(&changes.ties);
        let mut touched = vec![false; self.elements.len()];
        let mut extras: Vec<Extra<'_>> = all().map(|active| self.active(active)).collect();
        for element in all().filter_map(|active| active.element) {
            touched[element] = true;
        }
        for &element in awake {
            if !std::mem::replace(&mut touched[element], true) {
                extras.push(self.woken(element));
            }
        }
        let n_changed = changes.list.len() + changes.ties.len();
        // Most curves stay on the straight line that the linear board has for them; those that
        // leave it join the system. A board that stands far from its line is solved net by net.
        loop {
            let Some(mut small) = self.settle(&mut extras, changes, start, (from, self.n_nets))
            else {
                return self.solve_nodal(changes, start, (from, stubborn));
            };
            let mut left = Vec::new();
            let mut woken = Vec::new();
            for &element in self.curves.iter().filter(|element| !touched[**element]) {
                match self.left_over(element, &small) {
                    Some(0.0) => {}
                    Some(amps) => left.push((element, amps)),
                    None => woken.push(element),
                }
            }
            if woken.is_empty() && !self.put_in(&mut small, &left) {
                let most = left.iter().fold(0.0_f64, |most, (_, amps)| most.max(amps.abs()));
                let large = left.iter().filter(|(_, amps)| amps.abs() >= 0.01 * most);
                woken.extend(large.map(|(element, _)| *element));
            }
            if woken.is_empty() {
                let runs_away = small.factors.is_negative() != self.runs_away;
                let sound = small.volts.iter().all(|volts| volts.abs() <= ABSURD_VOLTS);
                small.awake =
                    extras[n_changed..].iter().filter_map(|extra| extra.element).collect();
                return sound.then_some((small, runs_away));
            }
            if extras.len() + woken.len() > n_changed + MANY
                && let Some(found) = self.solve_nodal(changes, start, (from, stubborn))
            {
                return Some(found);
            }
            for element in woken {
                touched[element] = true;
                extras.push(self.woken(element));
            }
        }
    }

    pub(super) fn active<'a>(&'a self, active: &'a Active) -> Extra<'a> {
        Extra {
            from: active.from,
            to: active.to,
            law: active.law.as_ref(),
            senses: &active.senses,
            base: active.element.map(|element| &self.elements[element]),
            element: active.element,
            part: active.origin.map(|origin| origin.part),
            first: 0,
        }
    }

    pub(super) fn woken(&self, element: usize) -> Extra<'_> {
        let base = &self.elements[element];
        Extra {
            from: base.from,
            to: base.to,
            law: Some(&base.law),
            senses: &base.senses,
            base: Some(base),
            element: Some(element),
            part: base.origin.map(|origin| origin.part),
            first: 0,
        }
    }

    /// Whether a curve made of straight lines stands in a corner and carries nothing there: below a
    /// threshold that nothing passes, its net may stand anywhere, and only what a meter draws
    /// decides. The whole network has to be solved then.
    pub fn is_undecided(&self, changes: &Changes, small: &Small) -> bool {
        self.curves.iter().any(|&element| {
            let base = &self.elements[element];
            let Law::Curve(curve) = &base.law else { return false };
            let volts = small.volts[base.from] - small.volts[base.to];
            let in_corner = curve.segment(volts - CORNER) != curve.segment(volts + CORNER);
            // At no volts, nothing is what a board without power carries.
            volts.abs() > 1e3 * CORNER
                && in_corner
                && curve.at(volts).amps.abs() < NOTHING
                && changes.at(element).is_none()
        })
    }

    /// The current by which a sleeping curve differs from its straight line; `None` where that is
    /// too much for it to sleep on.
    fn left_over(&self, element: usize, small: &Small) -> Option<f64> {
        let base = &self.elements[element];
        let mut all = [0.0; MOST_SENSES];
        let all = all.get_mut(..1 + base.senses.len())?;
        let mut same = true;
        let pairs = std::iter::once((base.from, base.to)).chain(base.senses.iter().copied());
        for ((volts, (from, to)), at) in all.iter_mut().zip(pairs).zip(&base.at) {
            *volts = small.volts[from] - small.volts[to];
            same &= (*volts - at).abs() <= SAME_VOLTS;
        }
        if same {
            return Some(0.0);
        }
        let mut slopes = [0.0; MOST_SENSES];
        let amps = self.woken(element).at(all, slopes.get_mut(..all.len())?);
        let line: f64 = base.slopes.iter().zip(&*all).map(|(base, volts)| base * volts).sum();
        let quiet = amps.abs() <= QUIET_AMPS + QUIET_SHARE * (base.offset + line).abs();
        quiet.then_some(amps)
    }

    /// Puts in to first order what sleeping curves leave over; false where that moves a net by more
    /// than a meter could leave unseen. A net that a change cut off may hang on next to nothing: how
    /// far it moves is told by the changed board alone.
    fn put_in(&self, small: &mut Small, left: &[(usize, f64)]) -> bool {
        if left.is_empty() {
            return true;
        }
        let n_nets = self.n_nets;
        let mut moved = vec![0.0; n_nets];
        for &(element, amps) in left {
            for (moved, h) in moved.iter_mut().zip(self.shape(element)) {
                *moved -= h * amps;
            }
        }
        let mut by = vec![0.0; small.unknowns.len()];
        for (by, &(from, to)) in by.iter_mut().zip(&small.unknowns.pairs) {
            *by = moved[from] - moved[to];
        }
        small.factors.solve(&mut by);
        for (slopes, shape) in small.currents() {
            let amps: f64 = slopes.iter().map(|(span, slope)| slope * span.of(&by)).sum();
            for (moved, h) in moved.iter_mut().zip(shape) {
                *moved -= h * amps;
            }
        }
        moved.extend_from_slice(&by[small.unknowns.pairs.len()..]);
        let quiet = moved
            .iter()
            .zip(&small.volts)
            .all(|(moved, volts)| moved.abs() <= QUIET_VOLTS * (1.0 + volts.abs()));
        for (volts, moved) in small.volts.iter_mut().zip(&moved) {
            *volts += moved;
        }
        quiet
    }
}
