//! A substitute as an argument of the command line: `R3=51k`, `U1.reference=0.6 V ± 2 %`.

use std::sync::Arc;

use super::tree::{Data, Node};
use super::written::Written;
use super::{Parsed, lookup, params};
use crate::circuit::{Circuit, Param, PartId, Substitute};
use crate::device::{Parameter, of};
use crate::finding::{Code, Finding, Source, nearest};
use crate::quantity::{Point, Spread, Tolerance, Toleranced, parse_tolerance, print_short};

/// A parameter that was named.
#[derive(Debug, Clone, Copy)]
pub struct Named {
    /// The part.
    pub part: PartId,
    /// Its parameter.
    pub parameter: &'static Parameter,
}

/// Reads the name of a part, for its main parameter, or of one of its parameters: `R3`, `U1.reference`.
///
/// The findings speak of a source that is called `argument`.
pub fn parameter_argument(circuit: &Circuit, text: &str) -> Parsed<Named> {
    let source = Source::new("argument", text);
    let mut found = Vec::new();
    let all = Written::verbatim(&source, 0..text.len());
    let named = match named(circuit, &all.slice(0..text.len()), &mut found) {
        Some(Target::Parameter(named)) => Some(named),
        Some(Target::Tolerance(..)) => {
            let message = format!("expected a part or a parameter, found `{text}`");
            found.push(all.error(
                Code::BadParameter,
                message,
                "a tolerance is no value to look for",
            ));
            None
        }
        None => None,
    };
    Parsed::new(named, found, &source)
}

/// Reads a substitute. A value without a tolerance has that of the value it replaces.
///
/// ```
/// use ohmhound::file::{read_circuit, substitute_argument};
/// use ohmhound::finding::Source;
///
/// let circuit = "[parts]\nBT1 = { volts = 9, nets = [\"IN\", \"GND\"] }\n\
///                R1 = { value = \"470 ± 1 %\", nets = [\"IN\", \"GND\"] }";
/// let circuit = read_circuit(&Source::new("c.toml", circuit), &mut |_| Err(String::new()));
/// let circuit = circuit.value.ok_or("the circuit is in order")?;
/// let read = substitute_argument(&circuit, "R1=510").value.ok_or("a value")?;
/// let other = circuit.with(&[read]);
/// assert_eq!(other.parts[1].number("value").map(|value| value.most()), Some(515.1));
/// # Ok::<(), &str>(())
/// ```
pub fn substitute_argument(circuit: &Circuit, text: &str) -> Parsed<Substitute> {
    let source = Source::new("argument", text);
    let all = Written::verbatim(&source, 0..text.len());
    let Some(equals) = text.find('=') else {
        let message = format!("expected a part and a value, found `{}`", all.shown());
        let finding = all.error(Code::BadValue, message, "");
        return Parsed::refused(finding.help("write them as in `R3=51k`"));
    };
    let mut found = Vec::new();
    let (name, value) = (all.slice(0..equals), all.slice(equals + 1..text.len()));
    let substitute = substitute(circuit, &source, &name, value, &mut found);
    Parsed::new(substitute, found, &source)
}

fn substitute(
    circuit: &Circuit,
    source: &Arc<Source>,
    name: &Written,
    value: Written,
    found: &mut Vec<Finding>,
) -> Option<Substitute> {
    let (part, row, param) = match named(circuit, name, found)? {
        Target::Tolerance(part, row) => {
            let what = format!("`tolerance` of `{}`", circuit[part].name);
            let tolerance = match parse_tolerance(&value.text, row.unit) {
                Ok(tolerance) => tolerance,
                Err(_) => {
                    let message =
                        format!("{what}: expected a tolerance, found `{}`", value.shown());
                    let finding = value.error(Code::BadValue, message, "");
                    found.push(finding.help("write it as in `5 %`"));
                    return None;
                }
            };
            let mut param = circuit[part].param(row.name)?.clone();
            let number = number_of(&mut param)?;
            number.spread = Some(tolerance.of(number.nominal));
            (part, row, param)
        }
        Target::Parameter(Named { part, parameter: row }) => {
            let range = value.range.clone();
            let flag = match value.text.as_str() {
                "true" => Some(true),
                "false" => Some(false),
                _ => None,
            };
            let data = flag.map_or_else(|| Data::Text(value.clone()), Data::Flag);
            let node = Node { source: Arc::clone(source), range, data };
            let mut param = params::read(row, &node, &circuit[part].name, found)?;
            like_the_old(&mut param, circuit[part].param(row.name), row);
            (part, row, param)
        }
    };
    let mut checked = param.clone();
    if let Some(number) = number_of(&mut checked)
        && let Some(bad) = [number.nominal, number.least(), number.most()]
            .into_iter()
            .find(|value| !row.range.holds(*value))
    {
        let message = format!(
            "`{}` of `{}` comes to {}, expected {}",
            row.name,
            circuit[part].name,
            print_short(bad, row.unit),
            row.range.words(row.unit)
        );
        found.push(value.error(Code::BadParameter, message, ""));
        return None;
    }
    Some(Substitute { part, parameter: row.name, param })
}

/// What is not said of the new value is as it was of the old one, or else as the table has it.
fn like_the_old(param: &mut Param, old: Option<&Param>, row: &Parameter) {
    if let (Param::Point(Point { at: at @ None, .. }), Some(Param::Point(old))) = (&mut *param, old)
    {
        *at = old.at;
    }
    let Some(number) = number_of(param) else { return };
    if number.spread.is_some() {
        return;
    }
    let old = old.cloned().and_then(|mut old| number_of(&mut old).copied());
    let tolerance = match old {
        Some(Toleranced { spread: Some(Spread::Factor(factor)), .. }) => {
            Some(Tolerance::Factor(factor))
        }
        Some(old) if old.spread.is_some() && old.nominal != 0.0 => {
            let half_width = old.half_width_low().max(old.half_width_high());
            Some(Tolerance::Fraction(half_width / old.nominal.abs()))
        }
        _ => row.tolerance,
    };
    if let Some(tolerance) = tolerance {
        *number = number.or(tolerance);
    }
}

fn number_of(param: &mut Param) -> Option<&mut Toleranced> {
    match param {
        Param::Number(number) | Param::Point(Point { value: number, .. }) => Some(number),
        Param::Pull(pull) => Some(&mut pull.value),
        _ => None,
    }
}

enum Target {
    Parameter(Named),
    /// The tolerance of the main parameter.
    Tolerance(PartId, &'static Parameter),
}

/// The parameter that a name means.
fn named(circuit: &Circuit, name: &Written, found: &mut Vec<Finding>) -> Option<Target> {
    let dot = name.text.find('.');
    let part_name = name.slice(0..dot.unwrap_or(name.text.len()));
    let part = lookup::part(circuit, &part_name, Code::UnknownName, found)?;
    let own = &circuit[part];
    let kind = of(own);
    let main = params::main_parameter(kind, |row| own.is_given(row));
    let rows = || kind.parameters().iter().filter(|row| !row.name.contains(' '));
    let Some(dot) = dot else {
        if main.is_none() {
            let names: Vec<&str> = rows().map(|row| row.name).collect();
            let message = format!("`{}` has no value of its own", own.name);
            found.push(name.error(Code::BadParameter, message, "").help(format!(
                "name one of its parameters, as in `{}.{}`",
                own.name,
                names.first().copied().unwrap_or("value")
            )));
        }
        return main.map(|parameter| Target::Parameter(Named { part, parameter }));
    };
    let key = name.slice(dot + 1..name.text.len());
    if let Some(parameter) = rows().find(|row| row.name == key.text) {
        return Some(Target::Parameter(Named { part, parameter }));
    }
    if let (true, Some(main)) = (key.text == "tolerance", main) {
        return Some(Target::Tolerance(part, main));
    }
    let known = || rows().map(|row| row.name).chain(["tolerance"]);
    let message = format!("{} `{}` has no parameter `{}`", own.kind, own.name, key.shown());
    let finding = key.error(Code::BadParameter, message, "");
    found.push(match nearest(&key.text, known()) {
        Some(near) => finding.help(format!("did you mean `{near}`?")),
        None => finding.help(format!("it has {}", known().collect::<Vec<_>>().join(", "))),
    });
    None
}
