//! What an overlay makes of the parts: which values, which way round, whether there at all.
//!
//! A network with an overlay and the boards reduced for screening both take a part's laws from
//! here, so that several changes to one part mean the same in both.

use super::assembly::Assembly;
use crate::circuit::{Change, Overlay, PartId};
use crate::device::Values;

/// What some changes make of the parts.
#[derive(Debug, Clone, Default)]
pub struct Patch {
    /// Values that replace nominal ones, per part; empty for most.
    pub(super) replaced: Vec<(PartId, Vec<(&'static str, f64)>)>,
    /// Parts that an overlay took out: their tolerances no longer apply.
    pub(super) taken: Vec<PartId>,
    /// Parts that stand the wrong way round.
    pub(super) reversed: Vec<PartId>,
    /// Parts that carry no current at all.
    pub(super) removed: Vec<PartId>,
    /// Parts that have the values of another one.
    pub(super) models: Vec<(PartId, PartId)>,
}

impl Patch {
    /// What an overlay makes of the parts.
    pub fn new(overlay: &Overlay) -> Patch {
        let mut patch = Patch::default();
        for change in &overlay.changes {
            patch.note(change);
        }
        patch
    }

    /// Takes one more change in.
    pub(super) fn note(&mut self, change: &Change) {
        match *change {
            Change::Removed { part } => {
                self.removed.push(part);
                self.taken.push(part);
            }
            Change::Parameter { part, name, value } => self.replace(part, name, value),
            Change::Struck { part, what } => self.replace(part, what, f64::NAN),
            Change::Reversed { part } => self.reversed.push(part),
            Change::Exchanged { parts: [first, second] } => {
                self.models.extend([(first, second), (second, first)]);
            }
            Change::Across { .. }
            | Change::Inside { .. }
            | Change::Bridge { .. }
            | Change::Joint { .. }
            | Change::Fitted { .. } => {}
        }
    }

    fn replace(&mut self, part: PartId, name: &'static str, value: f64) {
        match self.replaced.iter_mut().find(|(known, _)| *known == part) {
            Some((_, known)) => known.push((name, value)),
            None => self.replaced.push((part, vec![(name, value)])),
        }
    }

    /// The values that a part has, with these of its conditions on.
    pub fn values<'a>(
        &self,
        part: PartId,
        assembly: &Assembly<'a>,
        setup: usize,
        on: u8,
    ) -> Values<'a> {
        let model = self.models.iter().rev().find(|(known, _)| *known == part);
        let model = model.map_or(part, |(_, model)| *model);
        let mut values = assembly.values(model, setup);
        values.closed = assembly.values(part, setup).closed;
        values.on = on;
        if let Some((_, replaced)) = self.replaced.iter().find(|(known, _)| *known == model) {
            // The first entry of a name wins, so the overlay's go in front.
            values.replaced.splice(0..0, replaced.iter().rev().copied());
        }
        values
    }

    /// What replaces a part's own values, the last word first.
    pub fn replaced(&self, part: PartId) -> &[(&'static str, f64)] {
        self.replaced.iter().find(|(known, _)| *known == part).map_or(&[], |(_, list)| list)
    }

    /// Whether anything of the part is changed, but for what lies beside it.
    pub fn touches(&self, part: PartId) -> bool {
        let is_moved = self.models.iter().any(|(known, _)| *known == part);
        is_moved || self.is_taken(part) || self.is_reversed(part) || !self.replaced(part).is_empty()
    }

    /// Where the part stands: of two in each other's place, each takes its tolerances with it.
    pub fn place_of(&self, part: PartId) -> PartId {
        let place = self.models.iter().rev().find(|(_, model)| *model == part);
        place.map_or(part, |(place, _)| *place)
    }

    /// Whether the part's own tolerances no longer apply: it is gone.
    pub fn is_taken(&self, part: PartId) -> bool {
        self.taken.contains(&part)
    }

    /// Whether the part carries no current at all.
    pub fn is_removed(&self, part: PartId) -> bool {
        self.removed.contains(&part)
    }

    /// Whether the part stands the wrong way round.
    pub fn is_reversed(&self, part: PartId) -> bool {
        self.reversed.contains(&part)
    }
}
