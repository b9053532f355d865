//! A case: the readings to explain, and the predictions that a change makes for them.

use std::borrow::Cow;
use std::sync::Arc;

use super::good::{Good, Shifted, goods};
use super::screen::Boards;
use crate::circuit::{Overlay, Quantity, Reading, SetupId};
use crate::engine::{Assembly, Ending, Network, OperatingPoint, Stands};
use crate::meter::{Scene, Shown, Target, show};

/// The readings of a job with the board they were taken on.
#[derive(Debug)]
pub struct Case<'a> {
    /// The board.
    pub assembly: &'a Assembly<'a>,
    /// The readings.
    pub readings: Cow<'a, [Reading]>,
    /// The same as targets, in the same order.
    pub targets: Vec<Target>,
    /// The setups in use, each with the readings taken in it.
    pub(super) setups: Vec<(SetupId, Vec<usize>)>,
    /// The healthy operating points of those setups, where there are any.
    pub(super) healthy: Vec<Option<OperatingPoint>>,
    /// Per reading, what a good board reads there, where that was measured.
    pub(super) good: Vec<Option<Good>>,
    /// What a session remembers of the board.
    pub(super) boards: Option<Arc<Boards>>,
}

/// What a change predicts for every reading, on the scale of its target.
#[derive(Debug, Clone)]
pub struct Prediction {
    /// The values as a meter shows them, in SI units.
    pub shown: Vec<f64>,
    /// The values on the scale of their targets.
    pub y: Vec<f64>,
    /// Change of `y` by one standard uncertainty of each source: one row per reading. After the
    /// sources of the board come what each reading has for itself, one column per reading; then,
    /// where a good board was measured, its sources and its readings. Rows may end early.
    pub spread: Vec<Vec<f64>>,
    /// Whether a lead of the reading is on a net that floats.
    pub floats: Vec<bool>,
}

/// The networks of one setup with their operating points: one, or a round of them.
pub(super) type Board = Vec<(Network, OperatingPoint)>;

/// The share of the state that a board powers up in, among all that it can stay in. Common
/// practice, no published source.
pub(super) const POWER_UP_SHARE: f64 = 0.8;
/// The most choices of states that are tried for one change.
const MOST_CHOICES: usize = 16;

/// What stands for OL on a plain scale, in parts of the most that the meter shows.
const PAST_THE_END: f64 = 1.5;

impl Prediction {
    /// Nothing at all for so many readings, to be filled in.
    pub(super) fn blank(n: usize) -> Prediction {
        Prediction {
            shown: vec![0.0; n],
            y: vec![0.0; n],
            spread: vec![Vec::new(); n],
            floats: vec![false; n],
        }
    }
}

impl<'a> Case<'a> {
    /// The case of some readings.
    pub fn new(assembly: &'a Assembly<'a>, readings: &'a [Reading]) -> Case<'a> {
        Case::of(assembly, Cow::Borrowed(readings))
    }

    /// The same with readings that may be the case's own.
    pub(super) fn of(assembly: &'a Assembly<'a>, readings: Cow<'a, [Reading]>) -> Case<'a> {
        let circuit = assembly.circuit();
        let targets = readings.iter().map(|reading| Target::new(circuit, reading)).collect();
        let mut setups: Vec<(SetupId, Vec<usize>)> = Vec::new();
        for (idx, reading) in readings.iter().enumerate() {
            match setups.iter_mut().find(|(setup, _)| *setup == reading.setup) {
                Some((_, idxs)) => idxs.push(idx),
                None => setups.push((reading.setup, vec![idx])),
            }
        }
        let healthy =
            setups.iter().map(|(setup, _)| assembly.healthy(*setup).run.point.clone()).collect();
        let good = vec![None; readings.len()];
        Case { assembly, readings, targets, setups, healthy, good, boards: None }
    }

    /// The case of some readings with those of a board that is known to be good: what a good
    /// board reads, the model is shifted to, and a fault has to explain the difference.
    pub fn with_good(
        assembly: &'a Assembly<'a>,
        readings: &'a [Reading],
        good: &[Reading],
    ) -> Case<'a> {
        let mut case = Case::new(assembly, readings);
        if !good.is_empty() {
            case.good = goods(assembly, readings, good);
        }
        case
    }

    /// The same with what a session remembers of the board.
    pub(super) fn remembering(self, boards: Option<Arc<Boards>>) -> Case<'a> {
        Case { boards, ..self }
    }

    /// Whether there will be another question.
    pub(super) fn is_in_session(&self) -> bool {
        self.boards.is_some()
    }

    /// The case of some of the readings, by their numbers.
    pub(super) fn only(&self, numbers: &[usize]) -> Case<'a> {
        let readings = numbers.iter().map(|&idx| self.readings[idx].clone()).collect();
        Case::of(self.assembly, Cow::Owned(readings)).remembering(self.boards.clone())
    }

    /// What a change predicts for every reading, on a board as it powers up.
    ///
    /// # Errors
    ///
    /// How the run ended in the first setup that has no operating point.
    pub fn predict(&self, overlay: &Overlay) -> Result<Prediction, Ending> {
        let boards = self
            .setups
            .iter()
            .zip(&self.healthy)
            .map(|((setup, _), healthy)| {
                let start = healthy.as_ref().filter(|_| !self.assembly.may_latch(*setup));
                let power_up = self.assembly.settled(*setup, overlay, start);
                match (power_up.run.point, power_up.cycle) {
                    (Some(point), _) => Ok(vec![(power_up.network, point)]),
                    // A board that keeps switching shows something between its states.
                    (None, Some(cycle)) => Ok(cycle.round),
                    (None, None) => Err(power_up.run.ending),
                }
            })
            .collect::<Result<Vec<_>, _>>()?;
        self.predict_at(&boards)
    }

    /// The same with the states that the board comes to known beforehand, per setup, or those of the
    /// round that it keeps going, and roughly the volts of all nets; they are checked, and the walk is
    /// made where they do not agree with themselves.
    pub(super) fn predict_in(
        &self,
        overlay: &Overlay,
        standing: &[Vec<Stands>],
    ) -> Result<Prediction, Ending> {
        match self.predict_staying(overlay, standing) {
            Some(prediction) => Ok(prediction),
            None => self.predict(overlay),
        }
    }

    /// The same for a board that stays in those states; `None` where it does not.
    pub(super) fn predict_staying(
        &self,
        overlay: &Overlay,
        standing: &[Vec<Stands>],
    ) -> Option<Prediction> {
        let boards: Vec<Board> = self
            .setups
            .iter()
            .zip(standing)
            .map(|((setup, _), round)| self.assembly.round_in(*setup, overlay, round))
            .collect::<Option<_>>()?;
        self.predict_at(&boards).ok()
    }

    /// What the meter shows on boards that are solved: per setup one, or those that a board goes
    /// through when it keeps switching.
    ///
    /// # Errors
    ///
    /// That a board with a meter on it has no operating point.
    pub(super) fn predict_at(&self, boards: &[Board]) -> Result<Prediction, Ending> {
        let mut prediction = Prediction::blank(self.readings.len());
        for ((setup, idxs), boards) in self.setups.iter().zip(boards) {
            let scenes: Vec<Scene<'_>> = boards
                .iter()
                .map(|(network, point)| {
                    Scene::at(self.assembly, *setup, network.clone(), point.clone(), true)
                })
                .collect();
            for &idx in idxs {
                let reading = &self.readings[idx];
                let shown = scenes
                    .iter()
                    .map(|scene| show(scene, reading.quantity, reading.place, &reading.meter))
                    .collect::<Option<Vec<Shown>>>()
                    .ok_or(Ending::NotSettled { nets: Vec::new() })?;
                let Some(first) = shown.first() else { continue };
                if shown.len() == 1 {
                    self.put(&mut prediction, idx, first);
                } else {
                    self.put_range(&mut prediction, idx, &shown);
                }
            }
        }
        Ok(prediction)
    }

    /// A reading of a board that keeps switching: somewhere between the least and the most, and a
    /// half-width a counts as a/√3 (JCGM 100:2008, 4.3.7).
    pub(super) fn put_range(&self, prediction: &mut Prediction, idx: usize, shown: &[Shown]) {
        let on_scale = |one: &Shown| self.targets[idx].scale.of(one.latent);
        let low = shown.iter().map(on_scale).fold(f64::INFINITY, f64::min);
        let high = shown.iter().map(on_scale).fold(f64::NEG_INFINITY, f64::max);
        let n_sources = self.assembly.sources().len();
        let mut spread = vec![0.0; n_sources + self.readings.len()];
        spread[n_sources + idx] = 0.5 * (high - low) / 3.0_f64.sqrt();
        prediction.shown[idx] = shown[0].value;
        prediction.y[idx] = 0.5 * (low + high);
        prediction.spread[idx] = spread;
        prediction.floats[idx] = shown.iter().any(|one| one.floats);
    }

    /// Readings that are numbers.
    pub(super) fn n_numbers(&self) -> usize {
        self.targets.iter().filter(|target| target.is_number()).count()
    }

    /// Whether a board of this kind may stay in other states than the one it powers up in.
    pub(super) fn has_several_states(&self) -> bool {
        self.assembly.has_states() || self.may_latch()
    }

    /// Whether amplifying parts may hold each other in one of several states.
    pub(super) fn may_latch(&self) -> bool {
        self.setups.iter().any(|(setup, _)| self.assembly.may_latch(*setup))
    }

    /// What a change predicts on a board that stays in another of its stable states: every
    /// choice of one state per setup, less that of power-up, with its share of all.
    pub(super) fn predict_others(&self, overlay: &Overlay) -> Vec<(f64, Prediction)> {
        // A change that breaks the only loop of a board leaves it one state, in every setup.
        let mut setups = self.setups.iter();
        if !setups.any(|(setup, _)| self.assembly.may_have_several(*setup, overlay)) {
            return Vec::new();
        }
        let several: Vec<Vec<Board>> = self
            .setups
            .iter()
            .map(|(setup, _)| {
                let all = self.assembly.stable_states(*setup, overlay);
                all.into_iter().map(|board| vec![board]).collect()
            })
            .collect();
        let counts: Vec<usize> = several.iter().map(Vec::len).collect();
        choices(&counts)
            .into_iter()
            .filter_map(|(share, states)| {
                let chosen = several.iter().zip(states).map(|(several, at)| several[at].clone());
                Some((share, self.predict_at(&chosen.collect::<Vec<_>>()).ok()?))
            })
            .collect()
    }

    /// What a meter of endless range would show, as far as it is followed.
    pub(super) fn within(&self, idx: usize, latent: f64) -> f64 {
        let reading = &self.readings[idx];
        match reading.quantity {
            Quantity::Diode => latent.min(PAST_THE_END * reading.meter.diode.display_max),
            _ => latent,
        }
    }

    /// Puts what a meter shows, and what one of endless range would show, into a prediction, on the
    /// scale of its target.
    pub(super) fn put(&self, prediction: &mut Prediction, idx: usize, read: &Shown) {
        let mut spread = read.spread.clone();
        let (shown, latent, floats) = (read.value, read.latent, read.floats);
        let target = &self.targets[idx];
        let (shown, latent) = match &self.good[idx] {
            Some(good) => {
                let Shifted { value, by_model, by_healthy, by_good } = good.shift(shown);
                for part in &mut spread {
                    *part *= by_model;
                }
                let (n_sources, n) = (self.assembly.sources().len(), self.readings.len());
                spread.resize(2 * (n_sources + n), 0.0);
                for (part, of_good) in spread[n_sources + n..].iter_mut().zip(&good.spread) {
                    *part = by_healthy * of_good;
                }
                spread[2 * n_sources + n + idx] = by_good * good.own;
                (value, value)
            }
            None => (shown, latent),
        };
        let value = self.within(idx, latent);
        let slope = target.scale.slope(value);
        if slope != 1.0 {
            for part in &mut spread {
                *part *= slope;
            }
        }
        prediction.shown[idx] = shown;
        prediction.y[idx] = target.scale.of(value);
        prediction.spread[idx] = spread;
        prediction.floats[idx] = floats;
    }
}

/// Every choice of one state per setup, less that of power-up, with its share of all; `counts` says
/// how many states each setup has, that of power-up first.
pub(super) fn choices(counts: &[usize]) -> Vec<(f64, Vec<usize>)> {
    if counts.contains(&0) {
        return Vec::new();
    }
    let n_choices: usize = counts.iter().product();
    (1..n_choices.min(MOST_CHOICES))
        .map(|choice| {
            let mut rest = choice;
            let mut share = 1.0;
            let mut states = Vec::new();
            for &count in counts {
                let state = rest % count;
                rest /= count;
                share *= match (count, state) {
                    (1, _) => 1.0,
                    (_, 0) => POWER_UP_SHARE,
                    (n, _) => (1.0 - POWER_UP_SHARE) / (n - 1) as f64,
                };
                states.push(state);
            }
            (share, states)
        })
        .collect()
}
