//! The routes that power-ups took at the places of a line.
//!
//! A net's volts rise or fall all along a change of one conductance (they are a fraction of two
//! straight lines in it), so that a condition which switches alike at two places of a line switches
//! alike between them. There the board is solved where the route ended, and nowhere on the way; that
//! it stays there, or goes on from pattern to pattern in the same round, is tested. The board without
//! the change is a place of the line, too.

use std::sync::Arc;

use crate::circuit::{Change, Overlay, SetupId};
use crate::engine::Assembly;

/// The patterns that a board came through as it powered up.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Route {
    /// Those on the way.
    pub(super) walked: Vec<Vec<u8>>,
    /// The one that it stays in, or the round that it keeps going.
    pub(super) end: Vec<Vec<u8>>,
}

/// The routes at the places of one line that were walked.
#[derive(Debug, Default)]
pub(super) struct Routes {
    places: Vec<(Vec<f64>, Arc<Route>)>,
}

impl Routes {
    /// Forgets everything: what comes next lies on another line.
    pub(super) fn clear(&mut self) {
        self.places.clear();
    }

    /// Keeps the route at a place.
    pub(super) fn note(&mut self, values: Vec<f64>, route: Arc<Route>) {
        self.places.push((values, route));
    }

    /// The route that was kept last, where it is that of a place.
    pub(super) fn last(&self, values: &[f64]) -> Option<Arc<Route>> {
        let (known, route) = self.places.last()?;
        (known == values).then(|| Arc::clone(route))
    }

    /// The route that the nearest places on either side have in common.
    pub(super) fn between(&self, values: &[f64]) -> Option<&Arc<Route>> {
        let (mut below, mut above) = (None, None);
        let nearer = |known: Option<(f64, usize)>, apart: f64, at: usize| match known {
            Some((least, _)) if least <= apart => known,
            _ => Some((apart, at)),
        };
        for (at, (known, _)) in self.places.iter().enumerate() {
            let Some(apart) = apart(known, values) else { continue };
            if apart >= 0.0 {
                above = nearer(above, apart, at);
            }
            if apart <= 0.0 {
                below = nearer(below, -apart, at);
            }
        }
        let [below, above] = [below?.1, above?.1].map(|at| &self.places[at].1);
        (Arc::ptr_eq(below, above) || below == above).then_some(above)
    }

    /// Whether nothing is kept.
    pub(super) fn is_empty(&self) -> bool {
        self.places.is_empty()
    }
}

/// How far one place lies beyond another one where they differ by one value alone; `None` where they
/// differ by more.
fn apart(one: &[f64], other: &[f64]) -> Option<f64> {
    if one.len() != other.len() {
        return None;
    }
    let mut differ = one.iter().zip(other).filter(|(one, other)| one != other);
    let first = differ.next().map_or(0.0, |(one, other)| one - other);
    differ.next().is_none().then_some(first)
}

/// The values of the changes of an overlay.
pub(super) fn values_of(overlay: &Overlay) -> Vec<f64> {
    let value = |change: &Change| match *change {
        Change::Across { ohms, .. }
        | Change::Inside { ohms, .. }
        | Change::Bridge { ohms, .. }
        | Change::Joint { ohms: Some(ohms), .. } => Some(ohms),
        Change::Parameter { value, .. } => Some(value),
        Change::Joint { ohms: None, .. } => Some(f64::INFINITY),
        _ => None,
    };
    overlay.changes.iter().filter_map(value).collect()
}

/// The values at which the changes of an overlay are none; `None` where no value does that.
pub(super) fn values_of_none(
    overlay: &Overlay,
    assembly: &Assembly<'_>,
    setup: SetupId,
) -> Option<Vec<f64>> {
    let value = |change: &Change| match *change {
        Change::Across { .. } | Change::Inside { .. } | Change::Bridge { .. } => {
            Some(f64::INFINITY)
        }
        Change::Joint { .. } => Some(0.0),
        Change::Parameter { part, name, .. } => assembly.values(part, setup.0).get(name),
        _ => None,
    };
    overlay.changes.iter().map(value).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_place_between_two_of_one_route_has_that_route() {
        let mut routes = Routes::default();
        let [on, off] =
            [vec![1], vec![0]].map(|end| Route { walked: vec![vec![0]], end: vec![end] });
        let [on, off] = [on, off].map(Arc::new);
        routes.note(vec![1.0, 7.0], Arc::clone(&off));
        routes.note(vec![10.0, 7.0], Arc::clone(&on));
        assert_eq!(routes.between(&[5.0, 7.0]), None, "two routes");
        routes.note(vec![f64::INFINITY, 7.0], Arc::new((*on).clone()));
        assert_eq!(routes.between(&[50.0, 7.0]), Some(&on));
        assert_eq!(routes.between(&[10.0, 7.0]), Some(&on), "a place that was walked");
        assert_eq!(routes.between(&[0.5, 7.0]), None, "nothing beyond");
        assert_eq!(routes.between(&[50.0, 8.0]), None, "another line");
        routes.clear();
        assert_eq!(routes.between(&[50.0, 7.0]), None);
    }
}
