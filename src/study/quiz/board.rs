//! The board with the hidden fault on it, and what the student's meter shows there.

use super::super::chance::Chance;
use crate::circuit::{
    Circuit, Meter, NetId, Observed, Overlay, POWERED, Place, Quantity, Reading, SetupId, Spot,
    UNPOWERED,
};
use crate::diagnosis::Probe;
use crate::engine::Assembly;
use crate::meter::{Scene, displayed, last_digit, show};

/// A board with a hidden fault, in every setup in which it has an operating point.
#[derive(Debug)]
pub struct Board<'a> {
    circuit: &'a Circuit,
    scenes: Vec<Option<Scene<'a>>>,
    seed: u64,
    meter: Meter,
    /// The error of the meter's gain per quantity, in parts of its half-width.
    gains: Vec<f64>,
}

impl<'a> Board<'a> {
    /// Powers a board up; `None` where it does not run with the power on or off.
    pub(super) fn new(
        assembly: &'a Assembly<'a>,
        overlay: &Overlay,
        seed: u64,
        meter: &Meter,
    ) -> Option<Board<'a>> {
        let circuit = assembly.circuit();
        let scene = |setup: usize| Scene::new(assembly, SetupId(setup), overlay, None, false).ok();
        let scenes: Vec<Option<Scene<'a>>> = (0..circuit.setups.len()).map(scene).collect();
        let runs = [POWERED, UNPOWERED].iter().all(|setup| scenes[setup.0].is_some());
        let mut chance = Chance::named(seed, "gains of the meter");
        let gains = Quantity::ALL.iter().map(|_| chance.side()).collect();
        runs.then_some(Board { circuit, scenes, seed, meter: *meter, gains })
    }

    /// The meter that it is read with.
    pub fn meter(&self) -> Meter {
        self.meter
    }

    /// The board solved in a setup without a meter; `None` without an operating point there.
    pub(super) fn scene(&self, setup: SetupId) -> Option<&Scene<'a>> {
        self.scenes.get(setup.0)?.as_ref()
    }

    /// What a perfect meter of this kind would show, in the SI unit; infinite for OL, `None` where
    /// the board does not settle with the meter on it.
    pub fn truth(&self, probe: &Probe) -> Option<f64> {
        self.truth_with(probe, &self.meter)
    }

    /// The same with another meter.
    pub(super) fn truth_with(&self, probe: &Probe, meter: &Meter) -> Option<f64> {
        show(self.scene(probe.setup)?, probe.quantity, probe.place, meter).map(|shown| shown.value)
    }

    /// What the display shows: with the meter's gain, its counts and its rounding. The same place read
    /// again shows the same. `None` where it does not settle.
    pub fn read(&self, probe: &Probe) -> Option<Reading> {
        let Probe { setup, quantity, place } = *probe;
        let value = self.truth(probe)?;
        let accuracy = self.meter.accuracy(quantity);
        let number = Quantity::ALL.iter().position(|known| *known == quantity).unwrap_or(0);
        let standing = value * (1.0 + self.gains[number] * accuracy.fraction);
        let place_text = place.words(self.circuit);
        let name = format!("{} {} {place_text}", setup.0, quantity.word());
        let side = Chance::named(self.seed, &name).side();
        // Rounding is among the counts.
        let counts = (accuracy.counts - 0.5).max(0.0) * side;
        let shown = standing + counts * last_digit(standing, quantity);
        let observed = match quantity {
            Quantity::Beep => Observed::Beep(value < self.meter.beep_below),
            _ if value.is_infinite() => Observed::Over,
            _ => displayed(shown, quantity),
        };
        Some(Reading { setup, quantity, place, place_text, observed, meter: self.meter })
    }
}

/// A place as it is kept: volts and ohms against ground are those of the net alone, so that a place
/// named in two ways is one.
pub(super) fn plain(probe: Probe) -> Probe {
    let ground = Spot::Net(NetId::GROUND);
    let place = match (probe.quantity, probe.place) {
        (Quantity::Volts | Quantity::Ohms, Place::Between(red, black)) if black == ground => {
            Place::At(red)
        }
        (Quantity::Ohms, Place::Between(red, black)) if red == ground => Place::At(black),
        (Quantity::Diode, Place::At(red)) => Place::Between(red, ground),
        (_, place) => place,
    };
    Probe { place, ..probe }
}
