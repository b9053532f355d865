//! What is hidden: a fault by its weight with a value from its spread, on a board of its own.

use super::super::chance::Chance;
use super::super::draws::draw;
use super::super::solved::left;
use crate::circuit::{Circuit, Meter, Overlay};
use crate::diagnosis::{Foreseen, Predictor, Probe};
use crate::engine::Assembly;
use crate::fault::{Cause, Evidence, Fault, Spread, hypotheses};
use crate::plan::{Seen, measurements, seen};

/// The highest level.
pub const HIGHEST_LEVEL: u8 = 3;

/// How far off some reading is at least, in standard uncertainties, by level.
const SHOWN_BY: [f64; HIGHEST_LEVEL as usize] = [10.0, 6.0, 4.0];

/// What is hidden.
#[derive(Debug, Clone, PartialEq)]
pub struct Hidden {
    /// The fault with its value.
    pub fault: Fault,
    /// How far the most telling reading is from that of a healthy board, in standard uncertainties of
    /// tolerances and meter.
    pub shown_by: f64,
}

/// Draws what could be hidden.
pub(super) struct Drawer<'a> {
    assembly: &'a Assembly<'a>,
    seed: u64,
    level: u8,
    causes: Vec<Cause>,
    probes: Vec<Probe>,
    predictor: Predictor<'a>,
    healthy: Vec<Option<Seen>>,
    meter: Meter,
}

impl<'a> Drawer<'a> {
    /// Lists what could be hidden at a level; `None` where there is nothing.
    pub(super) fn new(
        assembly: &'a Assembly<'a>,
        seed: u64,
        level: u8,
        meter: &Meter,
    ) -> Option<Drawer<'a>> {
        let circuit = assembly.circuit();
        let list = hypotheses(circuit, &Evidence::default());
        let causes: Vec<Cause> = list
            .into_iter()
            .flat_map(|hypothesis| hypothesis.causes)
            .filter(|cause| is_of_level(cause, level))
            .collect();
        let probes: Vec<Probe> =
            measurements(circuit, &[], &[]).into_iter().map(|one| one.probe).collect();
        let predictor = Predictor::new(assembly, &probes, meter);
        let foreseen = predictor.predict(&Overlay::none());
        let mut drawer = Drawer {
            assembly,
            seed,
            level,
            causes,
            probes,
            predictor,
            healthy: Vec::new(),
            meter: *meter,
        };
        drawer.healthy = drawer.seen(&foreseen);
        // A board that does not run when it is healthy is no exercise.
        (drawer.healthy.iter().any(Option::is_some) && !drawer.causes.is_empty()).then_some(drawer)
    }

    fn seen(&self, foreseen: &[Option<Foreseen>]) -> Vec<Option<Seen>> {
        let each = foreseen.iter().zip(&self.probes);
        each.map(|(one, probe)| one.as_ref().map(|one| seen(one, probe.quantity, &self.meter)))
            .collect()
    }

    /// One of the draws of this seed: what is hidden, and the board with it; `None` where readings do
    /// not show it, or not clearly enough.
    pub(super) fn draw(&self, number: usize) -> Option<(Hidden, Overlay)> {
        let circuit = self.assembly.circuit();
        let mut chance = Chance::named(self.seed, &format!("hidden {} {number}", self.level));
        let weights = self.causes.iter().map(|cause| cause.weight);
        let cause = &self.causes[chance.pick(weights)?];
        let fault = with_own_value(cause, circuit, chance.share());
        let overlay = fault.overlay(circuit)?;
        let shown_by = self.shown_by(&overlay)?;
        if shown_by < SHOWN_BY[usize::from(self.level.clamp(1, HIGHEST_LEVEL)) - 1] {
            return None;
        }
        let left = left(self.assembly, &overlay);
        let values: Vec<(usize, f64)> =
            left.into_iter().map(|at| (at, draw(self.assembly, at, &mut chance))).collect();
        Some((Hidden { fault, shown_by }, self.assembly.laid(&overlay, values)))
    }

    /// How far the most telling reading is off; `None` without an operating point.
    fn shown_by(&self, overlay: &Overlay) -> Option<f64> {
        let faulty = self.seen(&self.predictor.predict(overlay));
        let off = |(healthy, faulty): (&Option<Seen>, &Option<Seen>)| {
            let (healthy, faulty) = (healthy.as_ref()?, faulty.as_ref()?);
            let u = healthy.sigma.hypot(faulty.sigma).max(f64::MIN_POSITIVE);
            Some((healthy.y - faulty.y).abs() / u)
        };
        self.healthy.iter().zip(&faulty).filter_map(off).reduce(f64::max)
    }
}

/// Whether a cause is hidden at a level.
fn is_of_level(cause: &Cause, level: u8) -> bool {
    let outright = matches!(
        cause.fault,
        Fault::Open(_)
            | Fault::Shorted(..)
            | Fault::Struck(..)
            | Fault::Absent(_)
            | Fault::Reversed(_)
            | Fault::JointOpen(..)
    );
    let changed = matches!(
        cause.fault,
        Fault::Drifted(..)
            | Fault::Leaky(..)
            | Fault::Resistive(..)
            | Fault::Low(..)
            | Fault::PinShorted(..)
            | Fault::PinLeaky(..)
            | Fault::JointResistive(..)
    );
    match level {
        0 | 1 => outright,
        2 => outright || changed,
        _ => true,
    }
}

/// The fault with the value that stands at a share of its spread, rounded to three digits.
fn with_own_value(cause: &Cause, circuit: &Circuit, share: f64) -> Fault {
    let place = match cause.spread {
        Spread::None => return cause.fault,
        Spread::At(place) => return cause.at(place).rounded(),
        Spread::Range { low, high, except } => {
            let (from, to) = except
                .map_or((high, high), |(from, to)| (from.clamp(low, high), to.clamp(low, high)));
            let place = low + share * (high - low - (to - from));
            if place < from { place } else { place + to - from }
        }
    };
    let rounded = cause.fault.with_value(Some(place.exp())).rounded();
    // Rounding must not bring a value back into its tolerance.
    let is_good = |fault: &Fault| match *fault {
        Fault::Drifted(part, name, Some(value)) => circuit[part]
            .toleranced(name)
            .is_some_and(|number| number.least() <= value && value <= number.most()),
        _ => false,
    };
    if is_good(&rounded) { cause.fault.with_value(Some(place.exp())) } else { rounded }
}
