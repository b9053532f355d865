//! `[job]`, `[seen]` and `[[done]]`: the ticket, how parts look, what was done.

use super::keys::{self, ACTIONS};
use super::lookup;
use super::take::{listed, refuse_unknown, suggested};
use super::tree::{Data, Node};
use crate::circuit::{Appearance, Circuit, Done, Job, PartId};
use crate::finding::{Code, Finding};

/// Reads `[job]`: free keys with a text each.
pub(super) fn read_job(node: Option<&Node>, found: &mut Vec<Finding>) -> Job {
    let Some(table) = node.and_then(|node| node.take_table("`job`", found)) else {
        return Job::default();
    };
    let mut entries = Vec::new();
    for entry in &table.entries {
        let text = match &entry.value.data {
            Data::Text(text) => {
                text.can_be_shown(&format!("`{}` of `job`", entry.key.shown()), found);
                text.text.clone()
            }
            // A number or a date is a text of the ticket too, as it stands.
            Data::Number(_) | Data::Flag(_) | Data::Moment => entry.value.raw().to_owned(),
            Data::List(_) | Data::Table(_) => {
                entry.value.take_text(&format!("`{}` of `job`", entry.key.shown()), found);
                continue;
            }
        };
        entry.key.can_be_shown("a key of `job`", found);
        entries.push((entry.key.text.clone(), text));
    }
    Job { entries }
}

/// Reads `[seen]`: how parts look, one word or several each.
pub(super) fn read_seen(
    node: Option<&Node>,
    circuit: &Circuit,
    found: &mut Vec<Finding>,
) -> Vec<(PartId, Appearance)> {
    let mut seen = Vec::new();
    let Some(table) = node.and_then(|node| node.take_table("`seen`", found)) else { return seen };
    for entry in &table.entries {
        let part = lookup::part(circuit, &entry.key, Code::UnknownPlace, found);
        let words = match &entry.value.data {
            Data::List(list) => list.as_slice(),
            _ => std::slice::from_ref(&entry.value),
        };
        for node in words {
            let look = appearance(node, found);
            seen.extend(part.zip(look));
        }
    }
    seen
}

fn appearance(node: &Node, found: &mut Vec<Finding>) -> Option<Appearance> {
    let word = node.take_text("`seen`", found)?;
    let known = Appearance::ALL.iter().find(|(_, known)| *known == word.text);
    if known.is_none() {
        let words: Vec<&str> = Appearance::ALL.iter().map(|(_, word)| *word).collect();
        let message =
            format!("`seen`: expected one of {}, found `{}`", listed(&words), word.shown());
        let finding = word.error(Code::Unobservable, message, "");
        let live = ["lit", "dark", "hot"].contains(&word.text.as_str());
        found.push(if live {
            finding.help("what is seen with the power on goes under `[powered.seen]`")
        } else if let Some(near) = suggested(&word.text, words.iter().copied(), found) {
            finding.help(format!("did you mean `{near}`?"))
        } else {
            finding
        });
    }
    known.map(|(look, _)| *look)
}

/// Reads `[[done]]`.
pub(super) fn read_done(
    node: Option<&Node>,
    circuit: &Circuit,
    found: &mut Vec<Finding>,
) -> Vec<Done> {
    let Some(list) = node.and_then(|node| node.take_list("`done`", found)) else {
        return Vec::new();
    };
    list.iter().filter_map(|node| done(node, circuit, found)).collect()
}

fn done(node: &Node, circuit: &Circuit, found: &mut Vec<Finding>) -> Option<Done> {
    let what = "an entry of `done`";
    let table = node.take_table(what, found)?;
    refuse_unknown(table, what, keys::DONE, found);
    let part = table.get("part").and_then(|node| {
        let name = node.take_text("`part`", found)?;
        lookup::part(circuit, name, Code::UnknownPlace, found)
    });
    let with = table.get("with").and_then(|node| node.take_value("`with`", found));
    let with = with.filter(|with| with.can_be_shown("`with`", found)).map(|with| with.text.clone());
    let Some(action) = table.get("action") else {
        let message = format!("{what} does not say its `action`");
        let help = format!("actions are {}", listed(ACTIONS));
        found.push(node.error(Code::WrongShape, message, "").help(help));
        return None;
    };
    let action = action.take_text("`action`", found)?;
    if !ACTIONS.contains(&action.text.as_str()) {
        let message =
            format!("`action`: expected one of {}, found `{}`", listed(ACTIONS), action.shown());
        let finding = action.error(Code::BadValue, message, "");
        found.push(match suggested(&action.text, ACTIONS.iter().copied(), found) {
            Some(near) => finding.help(format!("did you mean `{near}`?")),
            None => finding,
        });
        return None;
    }
    Some(Done { action: action.text.clone(), part, with })
}
