//! Names of nets and parts to their numbers, with the nearest name when there is none.

use super::take::{listed, suggested};
use super::written::Written;
use crate::circuit::{Circuit, NetId, PartId};
use crate::finding::{Code, Finding};

/// The net of that name, or a complaint.
pub(super) fn net(
    circuit: &Circuit,
    name: &Written,
    code: Code,
    found: &mut Vec<Finding>,
) -> Option<NetId> {
    let net = circuit.net(&name.text);
    if net.is_none() {
        let finding = if circuit.part(&name.text).is_some() {
            name.error(code, format!("`{}` is a part, expected a net", name.shown()), "")
        } else {
            unknown(name, code, "net", circuit.nets.iter().map(String::as_str), found)
        };
        found.push(finding);
    }
    net
}

/// The part of that name, or a complaint.
pub(super) fn part(
    circuit: &Circuit,
    name: &Written,
    code: Code,
    found: &mut Vec<Finding>,
) -> Option<PartId> {
    let part = circuit.part(&name.text);
    if part.is_none() {
        let finding = if circuit.net(&name.text).is_some() {
            name.error(code, format!("`{}` is a net, expected a part", name.shown()), "")
        } else {
            let names = circuit.parts.iter().map(|part| part.name.as_str());
            unknown(name, code, "part", names, found)
        };
        found.push(finding);
    }
    part
}

/// A complaint about a name that is not known, with the nearest one that is.
pub(super) fn unknown<'a>(
    name: &Written,
    code: Code,
    word: &str,
    known: impl Iterator<Item = &'a str> + Clone,
    found: &[Finding],
) -> Finding {
    /// Up to this many names are worth a list.
    const FEW: usize = 12;
    let finding = name.error(code, format!("unknown {word} `{}`", name.shown()), "");
    if let Some(near) = suggested(&name.text, known.clone(), found) {
        return finding.help(format!("did you mean `{near}`?"));
    }
    let words = match word {
        "net or part" => "nets and parts",
        "class" => "classes",
        _ => &format!("{word}s"),
    };
    let known: Vec<&str> = known.take(FEW + 1).collect();
    match known.len() {
        0 => finding.help(format!("the circuit has no {words}")),
        1..=FEW => finding.help(format!("known {words} are {}", listed(&known))),
        _ => finding,
    }
}
