//! The best values of two faults together.

use nalgebra::DVector;

use crate::diagnosis::trace::{HOPELESS, Node, least_along};
use crate::fault::Hypothesis;

/// The most Gauss-Newton steps to the best two values.
const STEPS: usize = 20;
/// Values that settle no more than this many times as far off as straight lines pass, in squared
/// distance, settled where these led; not where they are far off, and bend.
const AS_FORESEEN: f64 = 1.05;
/// A step that lessens the squared distance by less than this share of it, and of ten, is the last.
const SETTLED: f64 = 1e-4;
/// The step in the logarithm of a value that slopes are taken by.
const STEP: f64 = 1e-4;

/// The places of two lines where the distance is least, from some places to start at and, where none
/// of these leads near enough, from the best along either line; `None` where that does not, either,
/// or where the values settle as far off as straight lines pass: then no valley was missed.
pub(super) fn valley(
    list: [&Hypothesis; 2],
    (starts, passing): (&[[f64; 2]], f64),
    near_enough: f64,
    solve: &dyn Fn([f64; 2]) -> Option<Node>,
) -> Option<[f64; 2]> {
    let mut best: Option<([f64; 2], f64)> = None;
    let from = |start: [f64; 2], best: &mut Option<([f64; 2], f64)>| {
        let Some((places, node)) = settle(list, start, solve) else { return };
        if best.is_none_or(|(_, least)| node.fit.distance < least) {
            *best = Some((places, node.fit.distance));
        }
    };
    for &start in starts {
        from(start, &mut best);
        match best {
            Some((places, distance)) if distance <= near_enough => return Some(places),
            Some((_, distance)) if distance <= AS_FORESEEN * passing.min(HOPELESS) => return None,
            _ => {}
        }
    }
    let (here, least) = best?;
    let mut nearest = (here, least);
    for moving in 0..2 {
        let at = |place: f64| {
            let mut there = here;
            there[moving] = place;
            there
        };
        let found = least_along(list[moving], (here[moving], near_enough), &|place| {
            Some(Node { place, ..solve(at(place))? })
        });
        if let Some((place, distance)) = found.filter(|(_, distance)| *distance < nearest.1) {
            nearest = (at(place), distance);
        }
    }
    if nearest.1 < least {
        from(nearest.0, &mut best);
    }
    best.filter(|(_, distance)| *distance <= near_enough).map(|(places, _)| places)
}

/// The places of two lines where the distance is least, with the board there, by damped Gauss-Newton
/// steps: the valley is narrow where both faults move the same readings, and following one line at a
/// time would creep along it.
fn settle(
    list: [&Hypothesis; 2],
    start: [f64; 2],
    solve: &dyn Fn([f64; 2]) -> Option<Node>,
) -> Option<([f64; 2], Node)> {
    let ends = list.map(|one| one.curve.as_ref().map(|curve| (curve.low, curve.high)));
    let mut places = start;
    let mut here = solve(places)?;
    let mut damping = 1e-3;
    for _ in 0..STEPS {
        // Change of the readings per unit of each value; nothing for a fault without a value.
        let slopes: Vec<DVector<f64>> = (0..2)
            .map(|idx| {
                let nothing = || DVector::zeros(here.prediction.y.len());
                let Some((_, high)) = ends[idx] else { return nothing() };
                let step = if places[idx] + STEP > high { -STEP } else { STEP };
                let mut moved = places;
                moved[idx] += step;
                solve(moved).map_or_else(nothing, |there| {
                    let change = there.prediction.y.iter().zip(&here.prediction.y);
                    DVector::from_iterator(
                        here.prediction.y.len(),
                        change.map(|(there, here)| (there - here) / step),
                    )
                })
            })
            .collect();
        let weighed: Vec<_> = slopes.iter().map(|slope| here.fit.cholesky.solve(slope)).collect();
        let [aa, ab, bb] = [(0, 0), (0, 1), (1, 1)].map(|(a, b)| slopes[a].dot(&weighed[b]));
        let [ra, rb] = [0, 1].map(|idx| here.fit.residual.dot(&weighed[idx]));
        let before = here.fit.distance;
        let mut accepted = false;
        while damping < 1e6 {
            let (a, b) = (aa * (1.0 + damping) + 1e-12, bb * (1.0 + damping) + 1e-12);
            let determinant = a * b - ab * ab;
            let step = [(ra * b - rb * ab) / determinant, (rb * a - ra * ab) / determinant];
            let mut next = places;
            for idx in 0..2 {
                if let Some((low, high)) = ends[idx] {
                    next[idx] = (places[idx] + step[idx].clamp(-1.0, 1.0)).clamp(low, high);
                }
            }
            match solve(next).filter(|there| there.fit.distance < here.fit.distance) {
                Some(there) => {
                    (places, here) = (next, there);
                    damping = (damping / 10.0).max(1e-9);
                    accepted = true;
                    break;
                }
                None => damping *= 10.0,
            }
        }
        if !accepted || before - here.fit.distance < SETTLED * (10.0 + before) {
            break;
        }
    }
    Some((places, here))
}
