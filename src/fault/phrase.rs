//! Fault phrases: `R1 open`, `R3 drifted 68k`, `EN to FB bridge 0.1`.

use super::Fault;
use crate::circuit::{Circuit, FAILURES, NetId, Part, PartId};
use crate::device::{Mode, of, with_article};
use crate::finding::nearest;
use crate::quantity::{Unit, parse_number};

/// Every form of a fault phrase, with what it means.
pub const FORMS: &[(&str, &str)] = &[
    ("R1 open", "the part carries no current"),
    ("R1 shorted", "joined by 10 mΩ, or as given: `R1 shorted 0.3`"),
    ("R3 drifted 68k", "the part has this value instead"),
    ("C4 leaky 2k2", "a leak of this resistance across the part"),
    ("F1 resistive 3", "a part that should conduct has this resistance"),
    ("D1 reversed", "the part is the wrong way round"),
    ("J1 absent", "the source gives nothing"),
    ("U1 dead", "a chip does nothing any more"),
    ("U1 stuck high", "an output stands at its supply; or `stuck low`"),
    ("U1 enable_pull lost", "the named pull inside a chip is gone"),
    ("U1 reference drifted 0.9", "this value of a chip or transistor has changed"),
    ("Q1.base shorted to emitter", "two pins are joined inside the part"),
    ("U1.enable leaky to ground 8k", "a leak between two pins, inside the part"),
    ("J1 low 18 V", "the source gives this much only"),
    ("J1 limited 0.2 A", "the source gives at most this current"),
    ("RV1.wiper open", "the joint of a pin is open"),
    ("RV1.wiper resistive 2k", "the joint of a pin has this resistance"),
    ("OUT leak 12", "the net has this resistance to ground"),
    ("EN to FB bridge 0.1", "two nets are joined by this resistance"),
    ("R3 and R4 exchanged", "two parts of one kind stand in each other's place"),
    ("R3 and alike drifted 68k", "all of that kind and value have this one"),
    ("R9 fitted", "a place that should be empty holds its part"),
];

/// Reads a fault phrase.
///
/// # Errors
///
/// A message that says what is wrong with the phrase and what was expected.
///
/// ```
/// # use ohmhound::{circuit::Circuit, device::two_pin, fault};
/// let mut circuit = Circuit::new("", "GND");
/// two_pin(&mut circuit, "R1", "resistor", ["A", "GND"], &[("value", 1e3)])?;
/// let fault = fault::parse("R1 drifted 4k7", &circuit)?;
/// assert_eq!(fault.full_phrase(&circuit), "R1 drifted 4.7 kΩ");
/// assert!(fault::parse("R2 open", &circuit).unwrap_err().contains("`R1`"));
/// # Ok::<(), String>(())
/// ```
pub fn parse(text: &str, circuit: &Circuit) -> Result<Fault, String> {
    let words: Vec<&str> = text.split_whitespace().collect();
    match words[..] {
        [a, "to", b, "bridge", ref rest @ ..] => {
            let (a, b) = (net(a, circuit)?, net(b, circuit)?);
            if a == b {
                return Err("a bridge needs two different nets".to_owned());
            }
            Ok(Fault::Bridge(a, b, number(rest, Unit::Ohm)?))
        }
        [a, "and", b, "exchanged"] => {
            let (a, b) = (part(a, circuit)?, part(b, circuit)?);
            if a == b || circuit[a].kind != circuit[b].kind {
                return Err("only two different parts of one kind can be exchanged".to_owned());
            }
            Ok(Fault::Exchanged(a, b))
        }
        [name, "and", "alike", "drifted", ref rest @ ..] => {
            let id = part(name, circuit)?;
            let n_alike = circuit.alike(id).len();
            if n_alike < 2 {
                return Err(format!("no other part is of the kind and value of `{name}`"));
            }
            match in_part(name, "drifted", rest, circuit)? {
                Fault::Drifted(id, "value", value) => Ok(Fault::Alike(id, value)),
                _ => Err(format!("`{name}` has no value that could be wrong in several places")),
            }
        }
        [name, "leak", ref rest @ ..] => {
            let net = net(name, circuit)?;
            if net == NetId::GROUND {
                return Err(format!("`{name}` is ground: it cannot leak to itself"));
            }
            Ok(Fault::Leak(net, number(rest, Unit::Ohm)?))
        }
        [name, failure @ ("shorted" | "leaky"), "to", pin, ref rest @ ..] => {
            between_pins(name, failure, pin, rest, circuit)
        }
        [name, "stuck", side @ ("high" | "low"), ref rest @ ..] => struck(
            name,
            if side == "high" { Mode::StuckHigh } else { Mode::StuckLow },
            rest,
            circuit,
        ),
        [name, "dead", ref rest @ ..] => struck(name, Mode::Dead, rest, circuit),
        [name, pull, "lost", ref rest @ ..] => {
            let id = part(name, circuit)?;
            let modes = of(&circuit[id]).modes();
            let known =
                modes.iter().find(|mode| matches!(mode, Mode::Lost(known) if *known == pull));
            match known {
                Some(mode) => struck(name, *mode, rest, circuit),
                None => Err(format!("`{name}` has no `{pull}` that could be lost")),
            }
        }
        [name, parameter, "drifted", ref rest @ ..] => drifted(name, parameter, rest, circuit),
        [name, failure, ref rest @ ..] => in_part(name, failure, rest, circuit),
        _ => Err(format!(
            "`{text}` is no fault: expected a part and what happened to it, such as `R1 open`"
        )),
    }
}

/// A chip fault without a number.
fn struck(name: &str, mode: Mode, rest: &[&str], circuit: &Circuit) -> Result<Fault, String> {
    let id = part(name, circuit)?;
    let kind = of(&circuit[id]);
    let what = mode.strike().filter(|_| kind.modes().contains(&mode));
    match what {
        Some(what) => none(rest, Fault::Struck(id, what)),
        None => Err(format!(
            "{} cannot be {}",
            with_article(kind.name()),
            mode.strike().unwrap_or("that")
        )),
    }
}

/// `Q1.collector shorted to emitter 0.2`; the second pin may be named by its net.
fn between_pins(
    name: &str,
    failure: &str,
    other: &str,
    rest: &[&str],
    circuit: &Circuit,
) -> Result<Fault, String> {
    let Some((part_name, pin_name)) = name.rsplit_once('.') else {
        return Err(format!("`{name}` names no pin: write `PART.PIN {failure} to PIN`"));
    };
    let id = part(part_name, circuit)?;
    let item = &circuit[id];
    let known = || {
        let names: Vec<_> = item.pins.iter().map(|pin| format!("`{}`", pin.name)).collect();
        names.join(", ")
    };
    let first = item
        .pin(pin_name)
        .ok_or_else(|| format!("`{part_name}` has no pin `{pin_name}`: it has {}", known()))?;
    let by_net = || {
        let net = circuit.net(other)?;
        item.pins.iter().enumerate().position(|(at, pin)| at != first && pin.net == net)
    };
    let second = item.pin(other).or_else(by_net).ok_or_else(|| {
        format!("`{part_name}` has no pin `{other}`, and none on such a net: it has {}", known())
    })?;
    if first == second {
        return Err(format!("`{name}` and `{other}` are the same pin"));
    }
    Ok(match failure {
        "shorted" => Fault::PinShorted(id, first, second, number(rest, Unit::Ohm)?),
        _ => Fault::PinLeaky(id, first, second, Some(required(rest, Unit::Ohm, failure)?)),
    })
}

/// `U1 reference drifted 0.9`.
fn drifted(name: &str, parameter: &str, rest: &[&str], circuit: &Circuit) -> Result<Fault, String> {
    let id = part(name, circuit)?;
    let item = &circuit[id];
    let rows = of(item).parameters();
    let row = rows.iter().find(|row| row.name == parameter && item.toleranced(row.name).is_some());
    let Some(row) = row else {
        let known = rows.iter().map(|row| row.name).filter(|name| item.toleranced(name).is_some());
        return Err(match nearest(parameter, known) {
            Some(near) => format!("`{name}` has no `{parameter}`: did you mean `{near}`?"),
            None => format!("`{name}` has no `{parameter}` that could drift"),
        });
    };
    let value = required(rest, row.unit, "drifted")?;
    if !row.range.holds(value) {
        return Err(format!("`{parameter}` has to be {}", row.range.words(row.unit)));
    }
    Ok(Fault::Drifted(id, row.name, Some(value)))
}

fn in_part(name: &str, failure: &str, rest: &[&str], circuit: &Circuit) -> Result<Fault, String> {
    if circuit.part(name).is_none()
        && let Some((part_name, pin_name)) = name.rsplit_once('.')
    {
        let id = part(part_name, circuit)?;
        let pins = &circuit[id].pins;
        let pin = circuit[id].pin(pin_name).ok_or_else(|| {
            let names: Vec<_> = pins.iter().map(|pin| format!("`{}`", pin.name)).collect();
            format!("`{part_name}` has no pin `{pin_name}`: it has {}", names.join(", "))
        })?;
        return match failure {
            "open" => none(rest, Fault::JointOpen(id, pin)),
            "resistive" => {
                Ok(Fault::JointResistive(id, pin, Some(required(rest, Unit::Ohm, failure)?)))
            }
            _ => Err(format!("a joint can be `open` or `resistive`, found `{failure}`")),
        };
    }
    let id = part(name, circuit)?;
    let item: &Part = &circuit[id];
    let modes = of(item).modes();
    let cannot = |what: &str| Err(format!("{} cannot be {what}", with_article(item.kind)));
    match failure {
        "open" => none(rest, Fault::Open(id)),
        "shorted" | "leaky" if !item.is_two_pin() => {
            Err(format!("`{name}` has more than two pins: write `{name}.PIN {failure} to PIN`"))
        }
        "shorted" => Ok(Fault::Shorted(id, number(rest, Unit::Ohm)?)),
        "leaky" => Ok(Fault::Leaky(id, Some(required(rest, Unit::Ohm, failure)?))),
        "reversed" if of(item).is_polarised() => none(rest, Fault::Reversed(id)),
        "reversed" => cannot("reversed with any effect"),
        "absent" if of(item).is_source() => none(rest, Fault::Absent(id)),
        "absent" => cannot("absent: only sources can; a missing part is `open`"),
        "fitted" if item.fitted => cannot("fitted by mistake: it belongs there"),
        "fitted" => none(rest, Fault::Fitted(id)),
        "drifted" | "resistive" | "low" => {
            let parameter = modes.iter().find_map(|mode| match (failure, mode) {
                ("drifted", Mode::Drifted(name)) if item.param(name).is_none() => None,
                ("drifted", Mode::Drifted(name)) | ("resistive", Mode::Resistive(name)) => {
                    Some(*name)
                }
                ("low", Mode::Low(name)) if *name != "limit" => Some(*name),
                _ => None,
            });
            let Some(parameter) = parameter else { return cannot(failure) };
            let unit = of(item)
                .parameters()
                .iter()
                .find(|row| row.name == parameter)
                .map_or(Unit::Ohm, |row| row.unit);
            let value = required(rest, unit, failure)?;
            if value <= 0.0 && unit == Unit::Ohm {
                return Err(format!("`{failure}` needs more than zero ohms"));
            }
            Ok(match failure {
                "drifted" => Fault::Drifted(id, parameter, Some(value)),
                "low" => Fault::Low(id, parameter, Some(value)),
                _ => Fault::Resistive(id, parameter, Some(value)),
            })
        }
        "limited" if item.param("limit").is_some() => {
            Ok(Fault::Limited(id, Some(required(rest, Unit::Amp, failure)?)))
        }
        "limited" => Err(format!("`{name}` has no current limit that could be lower")),
        _ => Err(match nearest(failure, FAILURES.iter().copied()) {
            Some(known) => format!("unknown failure `{failure}`: did you mean `{known}`?"),
            None => format!("unknown failure `{failure}`: expected one of {}", FAILURES.join(", ")),
        }),
    }
}

fn part(name: &str, circuit: &Circuit) -> Result<PartId, String> {
    circuit.part(name).ok_or_else(|| {
        let known = circuit.parts.iter().map(|part| part.name.as_str());
        unknown("part", name, nearest(name, known))
    })
}

fn net(name: &str, circuit: &Circuit) -> Result<NetId, String> {
    circuit
        .net(name)
        .ok_or_else(|| unknown("net", name, nearest(name, circuit.nets.iter().map(String::as_str))))
}

fn unknown(what: &str, name: &str, near: Option<&str>) -> String {
    match near {
        Some(near) => format!("unknown {what} `{name}`: did you mean `{near}`?"),
        None => format!("unknown {what} `{name}`"),
    }
}

fn none(rest: &[&str], fault: Fault) -> Result<Fault, String> {
    if rest.is_empty() {
        Ok(fault)
    } else {
        Err(format!("this fault takes no value, found `{}`", rest.join(" ")))
    }
}

fn number(rest: &[&str], unit: Unit) -> Result<Option<f64>, String> {
    if rest.is_empty() {
        return Ok(None);
    }
    let number = parse_number(&rest.join(" "), unit).map_err(|error| error.message)?;
    if unit == Unit::Ohm && number.value <= 0.0 {
        return Err(format!("expected more than zero ohms, found `{}`", rest.join(" ")));
    }
    Ok(Some(number.value))
}

fn required(rest: &[&str], unit: Unit, failure: &str) -> Result<f64, String> {
    number(rest, unit)?.ok_or_else(|| {
        format!("`{failure}` needs a value in {}, such as `R1 {failure} 68k`", unit.name())
    })
}
