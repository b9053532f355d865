//! Values of parameters, as the tables of the kinds want them.

use super::take::listed;
use super::tree::{Entry, Node};
use super::written::Written;
use crate::circuit::{Param, Pull};
use crate::device::{Kind, Parameter, Pins, Shape};
use crate::finding::{Code, Finding, nearest};
use crate::quantity::{
    Point, Tolerance, Toleranced, Unit, in_words, parse_point, parse_tolerance, parse_toleranced,
    prefix_slip, print_short,
};

/// The tolerance of a pull inside a chip, as a share of it. Common practice, no published source:
/// makers give pulls as typical values and let them spread widely.
const PULL_TOLERANCE: Tolerance = Tolerance::Fraction(0.30);

/// Reads the value of a parameter; `owner` is the name of the part or type.
pub(super) fn read(
    row: &Parameter,
    node: &Node,
    owner: &str,
    found: &mut Vec<Finding>,
) -> Option<Param> {
    let what = format!("`{}` of `{owner}`", row.name);
    match row.shape {
        Shape::Pull => pull(&what, node.take_text(&what, found)?, found).map(Param::Pull),
        Shape::Number => {
            let number = number(&what, node, row.unit, found)?;
            if row.name == "value" {
                let written = node.take_value(&what, found)?;
                found.extend(doubtful_prefix(&what, written, row.unit));
            }
            Some(Param::Number(number))
        }
        Shape::Point(at) => {
            let written = node.take_value(&what, found)?;
            match parse_point(&written.text, row.unit, at) {
                Ok(point) if is_finite(&point.value) => Some(Param::Point(point)),
                Ok(_) => too_wide(node, &what, found),
                Err(error) => {
                    found.push(written.value_error(&what, error));
                    None
                }
            }
        }
        Shape::Word(words) => {
            let written = node.take_text(&what, found)?;
            if words.contains(&written.text.as_str()) {
                return Some(Param::Word(written.text.clone()));
            }
            let message =
                format!("{what}: expected one of {}, found `{}`", listed(words), written.shown());
            let finding = written.error(Code::BadValue, message, "");
            found.push(match nearest(&written.text, words.iter().copied()) {
                Some(near) => finding.help(format!("did you mean `{near}`?")),
                None => finding,
            });
            None
        }
        Shape::Flag => node.take_flag(&what, found).map(Param::Flag),
    }
}

/// A prefix letter that may be a slip: the value in words, and the other one that may be meant.
/// Milliohms with their unit behind are a note only, as shunts are written so.
fn doubtful_prefix(what: &str, written: &Written, unit: Unit) -> Option<Finding> {
    let slip = prefix_slip(&written.text, unit)?;
    // A plain decimal beside the words: 0.1 Ω is hard to take for 100 MΩ.
    let words = in_words(slip.value, unit);
    let message = format!("{what} is read as {words}, {} {}", slip.value, unit.symbol());
    let doubtful = !slip.has_unit || slip.value > 1.0;
    let finding = if doubtful {
        Finding::warning(Code::PrefixDoubt, message)
    } else {
        Finding::note(Code::PrefixDoubt, message)
    };
    let mut help = format!(
        "if {} are meant, write `{}`",
        in_words(slip.meant, unit),
        print_short(slip.meant, unit)
    );
    if !slip.has_unit {
        help.push_str(&format!("; else write `{}`", print_short(slip.value, unit)));
    }
    Some(finding.at(&written.source, written.range.clone(), "").help(help))
}

/// A number with its tolerance.
pub(super) fn number(
    what: &str,
    node: &Node,
    unit: Unit,
    found: &mut Vec<Finding>,
) -> Option<Toleranced> {
    let written = node.take_value(what, found)?;
    match parse_toleranced(&written.text, unit) {
        Ok(number) if is_finite(&number) => Some(number),
        Ok(_) => too_wide(node, what, found),
        Err(error) => {
            found.push(written.value_error(what, error));
            None
        }
    }
}

/// A pull inside a chip: `down 1M`, `up 1 µA`, `up 100k ± 20 %`.
fn pull(what: &str, written: &Written, found: &mut Vec<Finding>) -> Option<Pull> {
    const FORM: &str = "write a direction and a size, such as `up 1 µA` or `down 1M`";
    let text = written.text.as_str();
    let start = text.len() - text.trim_start().len();
    let end = text[start..].find(char::is_whitespace).map_or(text.len(), |at| start + at);
    let direction = written.slice(start..end);
    if !matches!(direction.text.as_str(), "up" | "down") {
        let message = format!("{what}: expected `up` or `down`, found `{}`", direction.shown());
        let finding = direction.error(Code::BadValue, message, "");
        found.push(match nearest(&direction.text, ["up", "down"]) {
            Some(near) => finding.help(format!("did you mean `{near}`?")),
            None => finding.help(FORM),
        });
        return None;
    }
    let size = written.slice(end..text.len());
    if size.text.is_empty() {
        let message = format!("{what}: expected a size after `{}`", direction.text);
        found.push(written.error(Code::BadValue, message, "").help(FORM));
        return None;
    }
    // A size without a unit is a resistance, as everywhere on a schematic.
    let (value, is_current) = match parse_toleranced(&size.text, Unit::Ohm) {
        Ok(value) => (value, false),
        Err(error) => match parse_toleranced(&size.text, Unit::Amp) {
            Ok(value) => (value, true),
            Err(_) => {
                let message = error.message.replacen("expected ohms", "expected ohms or amps", 1);
                let error = crate::quantity::ValueError { message, ..error };
                found.push(size.value_error(what, error).help(FORM));
                return None;
            }
        },
    };
    let value = value.or(PULL_TOLERANCE);
    if !is_finite(&value) || value.least() <= 0.0 {
        let message = format!("{what}: expected a size of more than zero");
        found.push(size.error(Code::BadValue, message, "").help(FORM));
        return None;
    }
    Some(Pull { up: direction.text == "up", is_current, value })
}

/// The least and the most of a value can leave the numbers even where the value does not.
fn is_finite(number: &Toleranced) -> bool {
    [number.nominal, number.least(), number.most()].into_iter().all(f64::is_finite)
}

fn too_wide<T>(node: &Node, what: &str, found: &mut Vec<Finding>) -> Option<T> {
    let message =
        format!("{what}: the value with its tolerance is outside of what can be reckoned with");
    found.push(node.error(Code::BadValue, message, ""));
    None
}

/// The parameter that the key `tolerance` speaks of: `value` where the kind has one, else the
/// first one given whose table has a tolerance, else the first of them; a chip with nothing given has
/// none.
pub(super) fn main_parameter(
    kind: &dyn Kind,
    given: impl Fn(&str) -> bool,
) -> Option<&'static Parameter> {
    let rows = kind.parameters();
    let with_tolerance = || rows.iter().filter(|row| row.tolerance.is_some());
    let is_chip = kind.rails().is_some() || kind.pins() == Pins::Chip;
    rows.iter()
        .find(|row| row.name == "value")
        .or_else(|| with_tolerance().find(|row| given(row.name)))
        .or_else(|| with_tolerance().next().filter(|_| !is_chip))
}

/// Puts the tolerance written under its own key into the value it speaks of.
pub(super) fn apply_tolerance(
    row: &Parameter,
    entry: &Entry,
    owner: &str,
    param: Option<&mut Param>,
    found: &mut Vec<Finding>,
) {
    let what = format!("`tolerance` of `{owner}`");
    let Some(written) = entry.value.take_value(&what, found) else { return };
    let tolerance = match parse_tolerance(&written.text, row.unit) {
        Ok(tolerance) => tolerance,
        Err(error) => return found.push(written.value_error(&what, error)),
    };
    let number = match param {
        Some(Param::Number(number) | Param::Point(Point { value: number, .. })) => number,
        _ => {
            let message = format!("{what} has no `{}` to apply to", row.name);
            let help = format!("give `{}` as well, or take `tolerance` out", row.name);
            return found.push(entry.key.error(Code::BadParameter, message, "").help(help));
        }
    };
    let spread = tolerance.of(number.nominal);
    let widened = Toleranced { nominal: number.nominal, spread: Some(spread) };
    if !is_finite(&widened) {
        too_wide::<()>(&entry.value, &what, found);
        return;
    }
    let ends = [widened.least(), widened.most()];
    let bad = ends.into_iter().find(|end| !row.range.holds(*end));
    if let Some(bad) = bad.filter(|_| row.range.holds(number.nominal)) {
        let message = format!(
            "{what} takes `{}` to {}, expected {}",
            row.name,
            print_short(bad, row.unit),
            row.range.words(row.unit)
        );
        found.push(written.error(Code::BadParameter, message, ""));
        return;
    }
    *number = widened;
}
