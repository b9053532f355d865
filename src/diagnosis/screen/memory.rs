//! What is remembered of boards from one question of a session to the next.
//!
//! A question differs from the one before it by one reading. The reduced boards are the same, and so
//! are most places of most lines: where a board stood is kept with each, and what a meter showed for
//! each reading. What belongs to one line is written by nobody else, so that no answer depends on
//! the number of threads.

use std::collections::HashMap;
use std::sync::{Arc, Mutex, MutexGuard, OnceLock, PoisonError};

use super::line::{Walked, is_same_line};
use super::route::{Route, values_of};
use super::{Patterns, patterns_of};
use crate::circuit::{Meter, Overlay, PartId, Place, Quantity, Reading, SetupId};
use crate::engine::Assembly;
use crate::fault::{Fault, Hypothesis};
use crate::meter::Shown;

/// Bytes that all places together may take.
const MOST_BYTES: usize = 256 << 20;
/// Hypotheses per part, roughly.
const LINES_PER_PART: usize = 8;
/// Numbers kept at a place per net and per source of uncertainty, roughly.
const NUMBERS: usize = 16;

/// The boards of one assembly, as a session goes on with them.
#[derive(Debug)]
pub(in crate::diagnosis) struct Boards {
    /// Tells the assembly from every other one.
    identity: Arc<()>,
    /// Per setup.
    setups: Vec<OnceLock<Arc<Patterns>>>,
    /// What the lines of hypotheses remember, by their causes.
    lines: Mutex<Vec<(Vec<Fault>, Arc<Memory>)>>,
    /// What lines of single changes remember, whatever caused them.
    asked: Mutex<Vec<Arc<Memory>>>,
    /// Places that each line keeps at most.
    most: usize,
}

impl Boards {
    /// Nothing yet.
    pub(in crate::diagnosis) fn new(assembly: &Assembly<'_>) -> Boards {
        let circuit = assembly.circuit();
        let numbers = NUMBERS * (circuit.nets.len() + assembly.sources().len());
        let lines = LINES_PER_PART * circuit.parts.len();
        Boards {
            identity: Arc::clone(assembly.identity()),
            setups: circuit.setups.iter().map(|_| OnceLock::new()).collect(),
            lines: Mutex::default(),
            asked: Mutex::default(),
            most: MOST_BYTES / (size_of::<f64>() * numbers * lines).max(1),
        }
    }

    /// Whether these are boards of an assembly.
    pub(in crate::diagnosis) fn are_of(&self, assembly: &Assembly<'_>) -> bool {
        Arc::ptr_eq(&self.identity, assembly.identity())
    }

    /// The reduced boards of a setup.
    pub(super) fn patterns(&self, assembly: &Assembly<'_>, setup: SetupId) -> Arc<Patterns> {
        let made = || Arc::new(patterns_of(assembly, setup));
        Arc::clone(self.setups[setup.0].get_or_init(made))
    }

    /// What is remembered of the line of a hypothesis.
    pub(in crate::diagnosis) fn of_hypothesis(&self, hypothesis: &Hypothesis) -> Arc<Memory> {
        let causes: Vec<Fault> = hypothesis.causes.iter().map(|cause| cause.fault).collect();
        let mut lines = self.lines.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some((_, known)) = lines.iter().find(|(known, _)| *known == causes) {
            return Arc::clone(known);
        }
        let memory = Arc::new(Memory::new(hypothesis.overlay(0.0), self.most));
        lines.push((causes, Arc::clone(&memory)));
        memory
    }

    /// What is remembered of a line of changes that was asked for by itself.
    pub(in crate::diagnosis) fn of_change(&self, overlay: &Overlay) -> Arc<Memory> {
        let mut asked = self.asked.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(known) = asked.iter().find(|known| is_same_line(&known.shape, overlay)) {
            return Arc::clone(known);
        }
        let memory = Arc::new(Memory::new(overlay.clone(), self.most));
        asked.push(Arc::clone(&memory));
        memory
    }
}

/// What one line remembers.
#[derive(Debug)]
pub(in crate::diagnosis) struct Memory {
    /// The change that it is about, whatever its values.
    shape: Overlay,
    most: usize,
    /// By setup and values, by their bits.
    places: Mutex<HashMap<(SetupId, Vec<u64>), Remembered>>,
}

/// What is remembered of one place of a line in one setup.
#[derive(Debug, Default)]
pub(super) struct Remembered {
    /// Where the board stands, and how it came there, once that was asked for; nothing where the full
    /// network is needed to say.
    pub(super) boards: Option<Option<Stood>>,
    pub(super) shown: Vec<(Asked, Read)>,
    /// The boards in every state that it can stay in, that of power-up first: whether those were
    /// looked for in which parts hold each other, and what was found.
    pub(super) several: Option<(bool, Option<Arc<Vec<Walked>>>)>,
    /// The boards with a condition of a part, by its number, held on or off; nothing where there is none.
    pub(super) held: Vec<((PartId, usize, bool), Option<Walked>)>,
    /// Readings for which the full network was seen to agree.
    pub(super) confirmed: Vec<Asked>,
}

/// Boards with the route that led to them, where one is known.
type Stood = (Arc<Vec<Walked>>, Option<Arc<Route>>);

/// What the meter shows on one board or on each of a round; `None` where the full network is needed to
/// say.
pub(super) type Read = Option<Arc<Vec<Shown>>>;

/// A reading, whatever it showed.
pub(super) type Asked = (Quantity, Place, Meter);

fn asked(reading: &Reading) -> Asked {
    (reading.quantity, reading.place, reading.meter)
}

impl Remembered {
    /// What the meter shows for a reading, where it was asked for before: most likely as this one
    /// among those of its setup.
    pub(super) fn shown(&self, reading: &Reading, at: usize) -> Option<&Read> {
        let wanted = asked(reading);
        let same = |(known, _): &&(Asked, Read)| *known == wanted;
        let here = self.shown.get(at).filter(same);
        here.or_else(|| self.shown.iter().find(same)).map(|(_, shown)| shown)
    }

    /// Keeps what the meter shows for a reading.
    pub(super) fn keep(&mut self, reading: &Reading, shown: Read) {
        self.shown.push((asked(reading), shown));
    }

    /// Whether the full network was seen to agree for a reading.
    pub(super) fn is_confirmed(&self, reading: &Reading) -> bool {
        self.confirmed.contains(&asked(reading))
    }

    /// Keeps that it does.
    pub(super) fn confirm(&mut self, reading: &Reading) {
        self.confirmed.push(asked(reading));
    }
}

impl Memory {
    fn new(shape: Overlay, most: usize) -> Memory {
        Memory { shape, most, places: Mutex::default() }
    }

    /// What a change reads or writes at its place; `None` where nothing is kept of it.
    pub(super) fn at<T>(
        &self,
        setup: SetupId,
        overlay: &Overlay,
        work: impl FnOnce(&mut Remembered) -> T,
    ) -> Option<T> {
        let key = self.key(setup, overlay)?;
        self.places().get_mut(&key).map(work)
    }

    /// The same for a place that may be new; nothing is done where there are too many.
    pub(super) fn at_new(
        &self,
        setup: SetupId,
        overlay: &Overlay,
        work: impl FnOnce(&mut Remembered),
    ) {
        let Some(key) = self.key(setup, overlay) else { return };
        let mut places = self.places();
        if places.len() < self.most || places.contains_key(&key) {
            work(places.entry(key).or_default());
        }
    }

    fn key(&self, setup: SetupId, overlay: &Overlay) -> Option<(SetupId, Vec<u64>)> {
        let bits = || values_of(overlay).into_iter().map(f64::to_bits).collect();
        is_same_line(&self.shape, overlay).then(|| (setup, bits()))
    }

    fn places(&self) -> MutexGuard<'_, HashMap<(SetupId, Vec<u64>), Remembered>> {
        // A place is put in whole: one that panicked left nothing half done.
        self.places.lock().unwrap_or_else(PoisonError::into_inner)
    }
}
