//! The load line: what the rest of a circuit offers to its only curve, and what the curve takes.

use super::Lesson;
use super::port::{Port, port};
use super::scene::Scene;
use crate::device::Law;

/// Places at which the curve is taken.
const PLACES: usize = 121;

/// A curve that carries this share of what the rest gives into a short is past its knee.
const KNEE: f64 = 0.1;

/// A knee beyond so many times what the rest offers is too far off to be looked at.
const FAR: f64 = 5.0;

/// The rest of a circuit as a straight line, and the only curve in it.
#[derive(Debug, Clone, PartialEq)]
pub struct LoadLine {
    /// The branch of the curve.
    pub branch: usize,
    /// The rest as the curve sees it.
    pub rest: Port,
    /// Whether the curve is looked at backwards, as that of a zener: volts and amps are counted
    /// from cathode to anode.
    pub is_reversed: bool,
    /// The curve, as volts and amps.
    pub curve: Vec<(f64, f64)>,
    /// The line of the rest, its two ends as far as they are in view.
    pub line: [(f64, f64); 2],
    /// The volts up to which both are looked at: past the knee of the curve, where that is near.
    pub right: f64,
    /// Where the two meet.
    pub crossing: (f64, f64),
}

/// The load line of a circuit, where exactly one curve between two nets takes part.
pub(super) fn load_line(scene: &Scene<'_>, lesson: &Lesson) -> Option<LoadLine> {
    let [branch] = lesson.bent[..] else { return None };
    let element = &scene.network.elements[branch];
    if matches!(element.law, Law::Driven(_)) {
        return None;
    }
    let pair = [element.from, element.to];
    let rest = port(lesson, Some(branch), pair).filter(|rest| rest.ohms > 0.0)?;
    let is_reversed = rest.open_volts < 0.0;
    let sign = if is_reversed { -1.0 } else { 1.0 };
    let open = rest.open_volts.abs();
    let crossing = (sign * lesson.solution.across(pair), sign * lesson.solution.amps[branch]);
    if open <= 0.0 {
        return None;
    }
    let short = open / rest.ohms;
    let knee = match &element.law {
        Law::Curve(law) => {
            let amps = |volts: f64| sign * law.at(sign * volts).amps;
            let mut places = (1..=PLACES).map(|place| FAR * open * place as f64 / PLACES as f64);
            places.find(|volts| amps(*volts) >= KNEE * short)
        }
        Law::Clamp { low, high } => Some(if is_reversed { -low } else { *high }),
        _ => return None,
    };
    // The picture goes to what the rest offers, or to a little past the crossing where that is so
    // far below that nothing would be seen of it; and past the knee, where the curve has one nearby.
    let knee = knee.filter(|volts| *volts <= FAR * open);
    let right = open.min(4.0 * crossing.0.max(0.05 * open)).max(1.1 * knee.unwrap_or(0.0));
    // Where the curve takes next to nothing, the whole line is looked at.
    let is_idle = crossing.1.abs() < 0.02 * short;
    let top = 1.15 * if is_idle { short } else { short.min(6.0 * crossing.1.abs()) };
    let mut curve = Vec::new();
    match &element.law {
        Law::Curve(law) => {
            for place in 0..PLACES {
                let volts = right * place as f64 / (PLACES - 1) as f64;
                let amps = sign * law.at(sign * volts).amps;
                if amps > top {
                    // The last piece ends at the upper edge.
                    if let Some(&(before, was)) = curve.last() {
                        let share = (top - was) / (amps - was);
                        curve.push((before + share * (volts - before), top));
                    }
                    break;
                }
                curve.push((volts, amps));
            }
        }
        Law::Clamp { low, high } => {
            let end = if is_reversed { -low } else { *high };
            curve = if end.is_finite() && end < right {
                vec![(0.0, 0.0), (end, 0.0), (end, top)]
            } else {
                vec![(0.0, 0.0), (right, 0.0)]
            };
        }
        _ => return None,
    }
    let from = (0.0_f64.max(open - top * rest.ohms), short.min(top));
    let to = (open.min(right), ((open - right) / rest.ohms).max(0.0));
    let line = [from, to];
    Some(LoadLine { branch, rest, is_reversed, curve, line, right, crossing })
}
