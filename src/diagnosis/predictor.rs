//! What changes predict for measurements that were not taken yet.

use std::borrow::Cow;
use std::sync::Arc;

use rayon::prelude::*;

use super::case::{Case, Prediction};
use super::earlier::Earlier;
use super::screen::{Boards, Screen, is_same_line};
use crate::circuit::{Meter, Observed, Overlay, Place, Quantity, Reading, SetupId};
use crate::engine::Assembly;
use crate::meter::{Scene, Shown, show};

/// A measurement that could be taken.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Probe {
    /// The setup.
    pub setup: SetupId,
    /// What to measure.
    pub quantity: Quantity,
    /// Where.
    pub place: Place,
}

/// Predictions for a list of measurements, by the reduced boards where these can say.
///
/// ```
/// # fn main() -> Result<(), String> {
/// use ohmhound::circuit::{Circuit, Meter, Overlay, POWERED, Place, Quantity, Spot};
/// use ohmhound::device::two_pin;
/// use ohmhound::diagnosis::{Predictor, Probe};
/// use ohmhound::engine::Assembly;
///
/// let mut circuit = Circuit::new("divider", "GND");
/// two_pin(&mut circuit, "V1", "supply", ["IN", "GND"], &[("volts", 12.0)])?;
/// two_pin(&mut circuit, "R1", "resistor", ["IN", "OUT"], &[("value", 2e3)])?;
/// two_pin(&mut circuit, "R2", "resistor", ["OUT", "GND"], &[("value", 1e3)])?;
/// let out = Place::At(Spot::Net(circuit.net("OUT").unwrap()));
/// let assembly = Assembly::new(&circuit);
/// let probes = [Probe { setup: POWERED, quantity: Quantity::Volts, place: out }];
/// let predictor = Predictor::new(&assembly, &probes, &Meter::default());
/// let foreseen = predictor.predict(&Overlay::none())[0].clone().unwrap();
/// assert!((foreseen.shown - 4.0).abs() < 0.01);
/// # Ok(())
/// # }
/// ```
#[derive(Debug)]
pub struct Predictor<'a> {
    assembly: &'a Assembly<'a>,
    /// Per setup: its probes, by their numbers, as a case of their own.
    setups: Vec<(Vec<usize>, Case<'a>, Option<Screen>)>,
    n_probes: usize,
    /// Boards that are solved in full among all that are asked for at once.
    in_full: usize,
    /// Whether single measurements that the reduced boards cannot say are solved in full, too.
    is_thorough: bool,
}

/// Boards that are solved in full, measurement by measurement, where the reduced ones cannot say.
const IN_FULL: usize = 4;
/// Solutions that a thorough predictor may take for that.
const SOLUTIONS: usize = 2000;

/// What one measurement would show.
#[derive(Debug, Clone, PartialEq)]
pub struct Foreseen {
    /// What the meter shows, in SI units; infinite for OL.
    pub shown: f64,
    /// What one of endless range would show: the natural logarithm of ohms, other quantities as
    /// they are.
    pub y: f64,
    /// Change of `y` by one standard uncertainty of each source of the board.
    pub spread: Vec<f64>,
    /// Whether a lead is on a net that floats.
    pub floats: bool,
}

impl<'a> Predictor<'a> {
    /// Makes a board ready for predictions of these measurements with this meter.
    pub fn new(assembly: &'a Assembly<'a>, probes: &[Probe], meter: &Meter) -> Predictor<'a> {
        Predictor::of(assembly, probes, meter, None)
    }

    /// The same with what a session remembers of the board.
    pub fn after(
        assembly: &'a Assembly<'a>,
        probes: &[Probe],
        meter: &Meter,
        earlier: &Earlier,
    ) -> Predictor<'a> {
        Predictor::of(assembly, probes, meter, earlier.boards(assembly).as_ref())
    }

    fn of(
        assembly: &'a Assembly<'a>,
        probes: &[Probe],
        meter: &Meter,
        boards: Option<&Arc<Boards>>,
    ) -> Predictor<'a> {
        let mut ids: Vec<SetupId> = probes.iter().map(|probe| probe.setup).collect();
        ids.sort_unstable();
        ids.dedup();
        let boards = boards.cloned();
        let of_setup = |id: SetupId| {
            let own: Vec<usize> =
                (0..probes.len()).filter(|&idx| probes[idx].setup == id).collect();
            let readings = own.iter().map(|&idx| blank(&probes[idx], meter)).collect();
            let case = Case::of(assembly, Cow::Owned(readings)).remembering(boards.clone());
            let screen = Screen::for_each(&case);
            (own, case, screen)
        };
        let setups = ids.into_iter().map(of_setup).collect();
        Predictor { assembly, setups, n_probes: probes.len(), in_full: IN_FULL, is_thorough: false }
    }

    /// The same for who has to know every measurement: what the reduced boards cannot say is solved in
    /// full, on as many boards as a few seconds allow.
    #[must_use]
    pub fn thorough(self) -> Predictor<'a> {
        let in_full = (SOLUTIONS / self.n_probes.max(1)).max(IN_FULL);
        Predictor { in_full, is_thorough: true, ..self }
    }

    /// What a change predicts for every measurement; `None` where the board has no operating point
    /// or none with the meter on it.
    pub fn predict(&self, overlay: &Overlay) -> Vec<Option<Foreseen>> {
        self.predict_all(&[overlay]).pop().unwrap_or_default()
    }

    /// The same for many changes, in their order.
    ///
    /// Boards that have to be solved in full are so many at most among all of them, the first ones:
    /// what is found for a change does not depend on how long another one took.
    pub fn predict_all(&self, overlays: &[&Overlay]) -> Vec<Vec<Option<Foreseen>>> {
        // Values of one change follow each other on one line, and nobody else is on it.
        let mut runs: Vec<Vec<usize>> = Vec::new();
        for (at, overlay) in overlays.iter().enumerate() {
            match runs.iter_mut().find(|run| is_same_line(overlays[run[0]], overlay)) {
                Some(run) => run.push(at),
                None => runs.push(vec![at]),
            }
        }
        let quick = |run: &Vec<usize>| {
            self.quickly(&run.iter().map(|&at| overlays[at]).collect::<Vec<_>>())
        };
        let quick: Vec<Vec<Vec<Option<Foreseen>>>> =
            runs.par_iter().with_max_len(1).map(quick).collect();
        let mut foreseen: Vec<Vec<Option<Foreseen>>> = vec![Vec::new(); overlays.len()];
        for (run, quick) in runs.into_iter().zip(quick) {
            for (at, quick) in run.into_iter().zip(quick) {
                foreseen[at] = quick;
            }
        }
        // On the full network each measurement is a solution of its own: a few boards get that.
        let mut left = self.in_full;
        let in_full: Vec<Vec<usize>> = foreseen
            .iter()
            .map(|foreseen| {
                let mut chosen: Vec<usize> =
                    (0..self.setups.len()).filter(|&setup| self.is_open(setup, foreseen)).collect();
                chosen.truncate(left);
                left -= chosen.len();
                chosen
            })
            .collect();
        foreseen.par_iter_mut().zip(overlays).zip(in_full).for_each(
            |((foreseen, overlay), setups)| {
                for setup in setups {
                    let (own, case, _) = &self.setups[setup];
                    self.one_by_one(case, own, overlay, foreseen);
                }
            },
        );
        foreseen
    }

    /// What the reduced boards can say of the places of one line.
    fn quickly(&self, run: &[&Overlay]) -> Vec<Vec<Option<Foreseen>>> {
        let mut foreseen: Vec<Vec<Option<Foreseen>>> = vec![vec![None; self.n_probes]; run.len()];
        for (own, case, screen) in &self.setups {
            let memory = case.boards.as_ref().zip(run.first());
            let memory = memory.map(|(boards, first)| boards.of_change(first));
            let line = screen.as_ref().map(|screen| screen.remembering(memory.clone()));
            for (foreseen, overlay) in foreseen.iter_mut().zip(run) {
                let quick = line.as_ref().and_then(|line| line.predict_each(case, overlay));
                let Some((prediction, known)) = quick else { continue };
                let Prediction { shown, y, spread, floats } = prediction;
                let each = shown.into_iter().zip(y).zip(spread).zip(floats).zip(known);
                for (&idx, ((((shown, y), spread), floats), known)) in own.iter().zip(each) {
                    foreseen[idx] = known.then_some(Foreseen { shown, y, spread, floats });
                }
            }
        }
        foreseen
    }

    /// Whether a setup is to be solved in full: nothing is known there, or something is not that
    /// has to be.
    fn is_open(&self, setup: usize, foreseen: &[Option<Foreseen>]) -> bool {
        let (own, ..) = &self.setups[setup];
        let n_open = own.iter().filter(|&&idx| foreseen[idx].is_none()).count();
        n_open == own.len() || self.is_thorough && n_open > 0
    }

    /// The same on the full network, for what is not known yet: a measurement that does not settle
    /// spoils no other.
    fn one_by_one(
        &self,
        case: &Case<'_>,
        own: &[usize],
        overlay: &Overlay,
        foreseen: &mut [Option<Foreseen>],
    ) {
        let Some((setup, _)) = case.setups.first() else { return };
        let Ok(scene) = Scene::new(self.assembly, *setup, overlay, None, true) else { return };
        for (at, &idx) in own.iter().enumerate() {
            if foreseen[idx].is_some() {
                continue;
            }
            let reading = &case.readings[at];
            let shown = show(&scene, reading.quantity, reading.place, &reading.meter);
            foreseen[idx] = shown.map(|shown| {
                let scale = case.targets[at].scale;
                let latent = case.within(at, shown.latent);
                let slope = scale.slope(latent);
                let spread = shown.spread.iter().map(|part| part * slope).collect();
                let Shown { value, floats, .. } = shown;
                Foreseen { shown: value, y: scale.of(latent), spread, floats }
            });
        }
    }
}

/// A measurement as a reading that says nothing.
fn blank(probe: &Probe, meter: &Meter) -> Reading {
    Reading {
        setup: probe.setup,
        quantity: probe.quantity,
        place: probe.place,
        place_text: String::new(),
        observed: Observed::Above(f64::NEG_INFINITY),
        meter: *meter,
    }
}
