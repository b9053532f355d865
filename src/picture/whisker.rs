//! A reading beside what is expected: the band as a whisker, the reading as a mark, on an axis.
//!
//! A reading that agrees is a dot; one that is off is a cross, so that the two are told apart without
//! colour. Colours are the custom properties of the page that the drawing stands in.

use std::fmt::Write;

use super::escaped::escaped;
use crate::quantity::Unit;

/// What was measured.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Measured {
    /// A value; infinite where the meter shows OL.
    At(f64),
    /// Somewhere between two values.
    Between(f64, f64),
    /// Less than this.
    Below(f64),
    /// More than this.
    Above(f64),
}

impl Measured {
    fn ends(self) -> [f64; 2] {
        match self {
            Measured::At(value) | Measured::Below(value) | Measured::Above(value) => [value; 2],
            Measured::Between(low, high) => [low, high],
        }
    }
}

/// A reading beside what is expected, in the SI unit.
#[derive(Debug, Clone, PartialEq)]
pub struct Whisker {
    /// What it is of: the short text alternative.
    pub title: String,
    /// What it shows, in words.
    pub description: String,
    /// The unit of the axis.
    pub unit: Unit,
    /// The ends of the band of what is expected; infinite where the meter should show OL.
    pub band: (f64, f64),
    /// What was measured.
    pub measured: Measured,
    /// Whether it is off.
    pub is_off: bool,
}

/// Length and height in pixels.
const SIZE: (f64, f64) = (240.0, 40.0);
/// The ends of the axis; what is over the range of the meter stands behind its end.
const AXIS: (f64, f64) = (16.0, 222.0);
const BEFORE_OVER: f64 = 186.0;
const OVER: f64 = 216.0;
/// Heights of the marks, of the axis, and of the foot of its numbers.
const MARKS: f64 = 10.0;
const LINE: f64 = 22.0;
const NUMBERS: f64 = 36.0;
/// Half the height of the caps of the whisker, and of a mark.
const CAP: f64 = 6.0;
const MARK: f64 = 4.5;
/// Resistances further apart than this ratio stand on a logarithmic axis.
const WIDE: f64 = 30.0;
/// The end of an axis on which there is nothing but zero.
const ALONE: f64 = 0.1;
/// Zero is on the axis where the least value is below this share of the most.
const NEAR_ZERO: f64 = 0.35;

/// From values to places on the picture.
struct Axis {
    low: f64,
    high: f64,
    end: f64,
    is_log: bool,
}

impl Axis {
    fn of(whisker: &Whisker) -> Axis {
        let [one, other] = whisker.measured.ends();
        let values = [whisker.band.0, whisker.band.1, one, other];
        let has_over = values.iter().any(|value| value.is_infinite());
        let end = if has_over { BEFORE_OVER } else { AXIS.1 };
        let finite = values.iter().filter(|value| value.is_finite());
        let (low, high) = finite
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), v| (low.min(*v), high.max(*v)));
        if low > high {
            return Axis { low: 0.0, high: 1.0, end, is_log: false };
        }
        let is_log = whisker.unit == Unit::Ohm && low > 0.0 && high / low > WIDE;
        if is_log {
            return Axis { low: low / 1.5, high: high * 1.5, end, is_log };
        }
        // A single value stands between zero and twice itself.
        let (low, high) = match low == high {
            true if low == 0.0 => (0.0, ALONE),
            true => (0.0_f64.min(2.0 * low), 0.0_f64.max(2.0 * high)),
            false => (low, high),
        };
        let low = if low > 0.0 && low < NEAR_ZERO * high { 0.0 } else { low };
        let high = if high < 0.0 && high > NEAR_ZERO * low { 0.0 } else { high };
        let room = 0.08 * (high - low).max(0.02 * high.abs().max(low.abs())).max(1e-9);
        // No room is needed beyond zero.
        let low = if low == 0.0 && high > 0.0 { 0.0 } else { low - room };
        Axis { low, high: high + room, end, is_log }
    }

    /// The place of a value, at most at an end.
    fn x(&self, value: f64) -> f64 {
        if value.is_infinite() {
            return if value > 0.0 { OVER } else { AXIS.0 };
        }
        let (low, high, value) = if self.is_log {
            (self.low.ln(), self.high.ln(), value.max(f64::MIN_POSITIVE).ln())
        } else {
            (self.low, self.high, value)
        };
        AXIS.0 + ((value - low) / (high - low)).clamp(0.0, 1.0) * (self.end - AXIS.0)
    }

    /// Round values along the axis: at most five of them.
    fn ticks(&self) -> Vec<f64> {
        if self.is_log {
            let (first, last) = (self.low.log10().ceil() as i32, self.high.log10().floor() as i32);
            let every = ((last - first) / 4 + 1).max(1) as usize;
            return (first..=last).step_by(every).map(|power| 10.0_f64.powi(power)).collect();
        }
        let rough = (self.high - self.low) / 4.0;
        let decade = 10.0_f64.powf(rough.log10().floor());
        let steps = [1.0, 2.0, 5.0, 10.0].map(|step| step * decade);
        let step = steps.into_iter().find(|step| *step >= rough).unwrap_or(10.0 * decade);
        let (first, last) = ((self.low / step).ceil() as i64, (self.high / step).floor() as i64);
        (first..=last).map(|number| number as f64 * step).collect()
    }
}

/// The prefix that the numbers of an axis share, with its factor.
fn prefix(most: f64) -> (f64, &'static str) {
    match most {
        _ if most >= 1e6 => (1e6, "M"),
        _ if most >= 1e3 => (1e3, "k"),
        _ if most >= 1.0 || most == 0.0 => (1.0, ""),
        _ if most >= 1e-3 => (1e-3, "m"),
        _ if most >= 1e-6 => (1e-6, "µ"),
        _ => (1e-9, "n"),
    }
}

/// Draws it, for a page that holds the colours.
///
/// ```
/// use ohmhound::picture::{Measured, Whisker, whisker_svg};
/// use ohmhound::quantity::Unit;
///
/// let svg = whisker_svg(&Whisker {
///     title: "EN".to_owned(),
///     description: "0.02 V, expected 4.2 V".to_owned(),
///     unit: Unit::Volt,
///     band: (4.0, 4.4),
///     measured: Measured::At(0.02),
///     is_off: true,
/// });
/// assert!(svg.contains("<desc>0.02 V, expected 4.2 V</desc>"));
/// ```
#[must_use]
pub fn whisker_svg(whisker: &Whisker) -> String {
    let axis = Axis::of(whisker);
    let mut svg = format!(
        "<svg class=\"whisker\" viewBox=\"0 0 {} {}\" width=\"{}\" height=\"{}\" role=\"img\">\
         <title>{}</title><desc>{}</desc>",
        SIZE.0,
        SIZE.1,
        SIZE.0,
        SIZE.1,
        escaped(&whisker.title),
        escaped(&whisker.description)
    );
    scale(&mut svg, whisker.unit, &axis);
    // What is written to a string cannot fail.
    let _ = write!(svg, "{}{}</svg>", band(whisker, &axis), mark(whisker, &axis));
    svg
}

fn scale(svg: &mut String, unit: Unit, axis: &Axis) {
    let ticks = axis.ticks();
    let most = ticks.iter().fold(0.0_f64, |most, tick| most.max(tick.abs()));
    let (factor, letter) = prefix(most);
    let mut path = format!("M{} {LINE}H{}", AXIS.0, axis.end);
    for tick in &ticks {
        let _ = write!(path, "M{:.1} {LINE}v3", axis.x(*tick));
    }
    let _ = write!(svg, "<path d=\"{path}\" fill=\"none\" stroke=\"var(--line)\"/>");
    let mut text = |x: f64, words: &str| {
        let _ = write!(
            svg,
            "<text x=\"{x:.1}\" y=\"{NUMBERS}\" font-size=\"11\" text-anchor=\"middle\" \
             fill=\"var(--quiet)\">{words}</text>"
        );
    };
    for (number, tick) in ticks.iter().enumerate() {
        let rounded = (tick / factor * 1e4).round() / 1e4;
        let is_last = number + 1 == ticks.len();
        let unit = if is_last { format!(" {letter}{}", unit.symbol()) } else { String::new() };
        // The last number makes room for its unit.
        let x = axis.x(*tick).min(if is_last { SIZE.0 - 22.0 } else { SIZE.0 });
        text(x, &format!("{rounded}{unit}"));
    }
    if axis.end < AXIS.1 {
        text(OVER, "OL");
    }
}

fn band(whisker: &Whisker, axis: &Axis) -> String {
    let (low, high) = (axis.x(whisker.band.0), axis.x(whisker.band.1));
    let (top, foot) = (MARKS - CAP, MARKS + CAP);
    // A band that is narrower than its caps is still seen as one.
    let (low, high) = if high - low < 3.0 { (low - 1.5, high + 1.5) } else { (low, high) };
    format!(
        "<rect x=\"{low:.1}\" y=\"{top}\" width=\"{:.1}\" height=\"{:.1}\" fill=\"var(--guide)\"/>\
         <path d=\"M{low:.1} {top}V{foot}M{high:.1} {top}V{foot}M{low:.1} {MARKS}H{high:.1}\" \
         fill=\"none\" stroke=\"var(--accent)\" stroke-width=\"1.5\"/>",
        high - low,
        2.0 * CAP,
    )
}

fn mark(whisker: &Whisker, axis: &Axis) -> String {
    let colour = if whisker.is_off { "var(--off)" } else { "var(--good)" };
    let [one, other] = whisker.measured.ends().map(|value| axis.x(value));
    let shape = |x: f64| match (whisker.measured, whisker.is_off) {
        (Measured::Below(_), _) => format!("M{x:.1} {0}v9l-8 -4.5z", MARKS - MARK),
        (Measured::Above(_), _) => format!("M{x:.1} {0}v9l8 -4.5z", MARKS - MARK),
        (_, true) => {
            let (left, right) = (x - MARK, x + MARK);
            let (top, foot) = (MARKS - MARK, MARKS + MARK);
            format!("M{left:.1} {top}L{right:.1} {foot}M{left:.1} {foot}L{right:.1} {top}")
        }
        (_, false) => {
            let left = x - MARK;
            format!("M{left:.1} {MARKS}a{MARK} {MARK} 0 1 0 9 0a{MARK} {MARK} 0 1 0 -9 0z")
        }
    };
    let mut path = shape(one);
    if other != one {
        let _ = write!(path, "{}M{one:.1} {MARKS}H{other:.1}", shape(other));
    }
    format!(
        "<path d=\"{path}\" fill=\"{colour}\" stroke=\"{colour}\" stroke-width=\"2.2\" \
         stroke-linecap=\"round\"/>"
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    fn whisker(measured: Measured, is_off: bool) -> Whisker {
        let (title, description) = ("EN <1>".to_owned(), "a & b".to_owned());
        let band = (4.0, 4.4);
        Whisker { title, description, unit: Unit::Volt, band, measured, is_off }
    }

    #[test]
    fn a_reading_in_its_band_stands_between_the_caps() {
        let places = [(4.05, true), (4.2, true), (4.39, true), (3.9, false), (4.6, false)];
        for (value, is_inside) in places {
            let one = whisker(Measured::At(value), !is_inside);
            let axis = Axis::of(&one);
            let (low, high) = (axis.x(one.band.0), axis.x(one.band.1));
            let x = axis.x(value);
            assert_eq!((low..=high).contains(&x), is_inside, "{value}: {low} {x} {high}");
            assert!((AXIS.0..=AXIS.1).contains(&x));
        }
    }

    #[test]
    fn signs_of_agreement_and_of_trouble_differ_in_shape() {
        let path = |is_off: bool| {
            let one = whisker(Measured::At(4.2), is_off);
            mark(&one, &Axis::of(&one)).split('"').nth(1).unwrap().to_owned()
        };
        assert!(path(false).contains('a') && !path(true).contains('a'), "a dot is made of arcs");
    }

    #[test]
    fn what_is_over_the_range_stands_behind_the_axis_and_is_named() {
        let svg = whisker_svg(&whisker(Measured::At(f64::INFINITY), true));
        assert!(svg.contains(">OL</text>"));
        let alone =
            Whisker { band: (f64::INFINITY, f64::INFINITY), ..whisker(Measured::At(46.9), true) };
        assert_eq!(Axis::of(&alone).ticks(), [0.0, 50.0, 100.0]);
        assert!(!whisker_svg(&whisker(Measured::At(9.0), true)).contains(">OL</text>"));
    }

    #[test]
    fn axes_have_few_round_numbers_and_one_unit() {
        let one = whisker(Measured::At(0.02), true);
        assert_eq!(Axis::of(&one).ticks(), [0.0, 2.0, 4.0]);
        let svg = whisker_svg(&one);
        assert_eq!(svg.matches(" V</text>").count(), 1);
        let wide = Whisker { unit: Unit::Ohm, band: (9e5, 1.1e6), ..one };
        let wide = Whisker { measured: Measured::At(46.9), ..wide };
        assert!(Axis::of(&wide).is_log);
        let ticks = Axis::of(&wide).ticks();
        assert_eq!(
            ticks.iter().map(|tick| tick.log10().round() as i32).collect::<Vec<_>>(),
            [2, 4, 6]
        );
    }

    #[test]
    fn texts_stay_texts() {
        let svg = whisker_svg(&whisker(Measured::Below(0.05), true));
        assert!(svg.contains("<title>EN &lt;1&gt;</title><desc>a &amp; b</desc>"));
    }
}
