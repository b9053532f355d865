//! `[limits]` and `[board]`: what nets may carry, and what only the board shows.

use super::keys;
use super::lookup::{self, unknown};
use super::take::refuse_unknown;
use super::tree::{Data, Entry, Node, Table};
use super::written::Written;
use crate::circuit::{CLASSES, Circuit, FAILURES, Limit, Neighbours, NetId, PartId};
use crate::finding::{Code, Finding};
use crate::quantity::Unit;

/// Reads `[limits]`.
pub(super) fn read_limits(node: Option<&Node>, circuit: &mut Circuit, found: &mut Vec<Finding>) {
    let Some(table) = node.and_then(|node| node.take_table("`limits`", found)) else { return };
    for entry in &table.entries {
        let net = net_key(circuit, entry, found);
        let what = format!("the limits of `{}`", entry.key.shown());
        let Some(net) = net else { continue };
        let Some(row) = entry.value.take_table(&what, found) else { continue };
        refuse_unknown(row, &what, keys::LIMIT, found);
        let [min, max] = ["min", "max"].map(|key| {
            let node = row.get(key)?;
            node.take_number(&format!("`{key}`"), Unit::Volt, "volts", f64::is_finite, found)
        });
        if row.entries.is_empty() {
            let message = format!("{what} are empty");
            let help = "give `min`, `max` or both, in volts";
            found.push(entry.value.error(Code::WrongShape, message, "").help(help));
        }
        if let (Some(min), Some(max)) = (min, max)
            && max <= min
        {
            let message = format!("{what}: expected `min` below `max`");
            found.push(entry.value.error(Code::BadValue, message, ""));
        }
        circuit.limits.push((net, Limit { min, max }));
    }
}

/// The net of a key. A name with a point and without quotes comes as a key in a key.
fn net_key(circuit: &Circuit, entry: &Entry, found: &mut Vec<Finding>) -> Option<NetId> {
    if circuit.net(&entry.key.text).is_none()
        && let Some(quoted) = with_point(circuit, entry)
    {
        found.push(quoted);
        return None;
    }
    lookup::net(circuit, &entry.key, Code::UnknownName, found)
}

fn with_point(circuit: &Circuit, entry: &Entry) -> Option<Finding> {
    let Data::Table(table) = &entry.value.data else { return None };
    let name = table.entries.iter().find_map(|inner| {
        let name = format!("{}.{}", entry.key.text, inner.key.text);
        circuit.net(&name).map(|_| (name, inner.key.range.end))
    });
    let (name, end) = name.filter(|_| !table.braces)?;
    let message = format!("`{name}` has a point and wants quotes");
    Some(
        Finding::error(Code::Unquoted, message)
            .at(&entry.key.source, entry.key.range.start..end, "")
            .help(format!("write `\"{name}\"`")),
    )
}

/// Reads `[board]`.
pub(super) fn read_board(node: Option<&Node>, circuit: &mut Circuit, found: &mut Vec<Finding>) {
    let Some(table) = node.and_then(|node| node.take_table("`board`", found)) else { return };
    refuse_unknown(table, "`board`", keys::BOARD, found);
    if let Some(node) = table.get("neighbours") {
        let pairs = node.take_list("`neighbours`", found).unwrap_or_default();
        let pairs: Vec<_> =
            pairs.iter().filter_map(|pair| neighbours(circuit, pair, found)).collect();
        circuit.board.neighbours = pairs;
    }
    read_weights(table, circuit, found);
    read_budget(table, circuit, found);
    for (entry, effort) in factors(table, "hard_to_reach", found) {
        match net_or_part(circuit, &entry.key, found) {
            Some(Thing::Net(net)) => circuit.board.net_effort.push((net, effort)),
            Some(Thing::Part(part)) => circuit.board.part_effort.push((part, effort)),
            None => {}
        }
    }
    if let Some(node) = table.get("no_access") {
        for node in node.take_list("`no_access`", found).unwrap_or_default() {
            let Some(name) = node.take_text("a net in `no_access`", found) else { continue };
            let net = lookup::net(circuit, name, Code::UnknownName, found);
            circuit.board.no_access.extend(net);
        }
    }
}

/// Reads `weight`: a factor per part, or factors for single failures of it.
fn read_weights(table: &Table, circuit: &mut Circuit, found: &mut Vec<Finding>) {
    let Some(table) = table.get("weight").and_then(|node| node.take_table("`weight`", found))
    else {
        return;
    };
    for entry in &table.entries {
        let Some(part) = lookup::part(circuit, &entry.key, Code::UnknownName, found) else {
            continue;
        };
        let what = format!("`weight` of `{}`", entry.key.shown());
        let Data::Table(failures) = &entry.value.data else {
            if let Some(weight) = factor(&entry.value, &what, found) {
                circuit.board.weight.push((part, weight));
            }
            continue;
        };
        for entry in &failures.entries {
            let known = word_of(&entry.key, "failure", FAILURES, found);
            let what = format!("{what}, `{}`", entry.key.shown());
            let weight = factor(&entry.value, &what, found);
            if let (Some(failure), Some(weight)) = (known, weight) {
                circuit.board.failure_weight.push((part, failure, weight));
            }
        }
    }
}

/// Reads `budget`: shares of all weight per class of cause.
fn read_budget(table: &Table, circuit: &mut Circuit, found: &mut Vec<Finding>) {
    let Some(node) = table.get("budget") else { return };
    let Some(table) = node.take_table("`budget`", found) else { return };
    let mut sum = 0.0;
    for entry in &table.entries {
        let class = word_of(&entry.key, "class", CLASSES, found);
        let what = format!("`budget` of `{}`", entry.key.shown());
        let fits = |share: f64| share > 0.0 && share < 1.0;
        let wanted = "a share between 0 and 1, such as `\"20 %\"`";
        let share = entry.value.take_number(&what, Unit::One, wanted, fits, found);
        if let (Some(class), Some(share)) = (class, share) {
            circuit.board.budget.push((class, share));
            sum += share;
        }
    }
    if sum >= 1.0 {
        let message = format!("`budget`: expected shares of less than 1 together, found {sum:.3}");
        let help = "what is left goes to the classes that are not named";
        found.push(node.error(Code::BadValue, message, "").help(help));
        circuit.board.budget.clear();
    }
}

/// A word out of a list, or a complaint.
fn word_of(
    name: &Written,
    what: &str,
    known: &'static [&'static str],
    found: &mut Vec<Finding>,
) -> Option<&'static str> {
    let word = known.iter().find(|word| **word == name.text).copied();
    if word.is_none() {
        let finding = unknown(name, Code::UnknownName, what, known.iter().copied(), found);
        found.push(finding);
    }
    word
}

fn factor(node: &Node, what: &str, found: &mut Vec<Finding>) -> Option<f64> {
    node.take_number(what, Unit::One, "more than zero", |value| value > 0.0, found)
}

/// Entries whose value is a number above zero.
fn factors<'a>(table: &'a Table, key: &str, found: &mut Vec<Finding>) -> Vec<(&'a Entry, f64)> {
    let Some(node) = table.get(key) else { return Vec::new() };
    let Some(table) = node.take_table(&format!("`{key}`"), found) else { return Vec::new() };
    let factor = |entry: &'a Entry| {
        let what = format!("`{key}` of `{}`", entry.key.shown());
        Some((entry, self::factor(&entry.value, &what, found)?))
    };
    table.entries.iter().filter_map(factor).collect()
}

#[derive(Clone, Copy, PartialEq)]
enum Thing {
    Net(NetId),
    Part(PartId),
}

fn net_or_part(circuit: &Circuit, name: &Written, found: &mut Vec<Finding>) -> Option<Thing> {
    let net = circuit.net(&name.text).map(Thing::Net);
    let thing = net.or_else(|| circuit.part(&name.text).map(Thing::Part));
    if thing.is_none() {
        let nets = circuit.nets.iter().map(String::as_str);
        let names = nets.chain(circuit.parts.iter().map(|part| part.name.as_str()));
        let finding = unknown(name, Code::UnknownName, "net or part", names, found);
        found.push(finding);
    }
    thing
}

fn neighbours(circuit: &Circuit, node: &Node, found: &mut Vec<Finding>) -> Option<Neighbours> {
    let list = node.take_list("a pair in `neighbours`", found)?;
    let [one, other] = list else {
        let message = format!("a pair in `neighbours`: expected two names, found {}", list.len());
        found.push(node.error(Code::WrongShape, message, ""));
        return None;
    };
    let [one, other] = [one, other].map(|node| {
        let name = node.take_text("a name in `neighbours`", found)?;
        net_or_part(circuit, name, found)
    });
    match (one?, other?) {
        (one, other) if one == other => {
            let message = "a pair in `neighbours` names one thing twice";
            found.push(node.error(Code::WrongShape, message, ""));
            None
        }
        (Thing::Net(one), Thing::Net(other)) => Some(Neighbours::Nets(one, other)),
        (Thing::Part(one), Thing::Part(other)) => Some(Neighbours::Parts(one, other)),
        _ => {
            let message = "a pair in `neighbours` mixes a net with a part";
            let help = "name two nets for a bridge, or two parts for a mix-up";
            found.push(node.error(Code::WrongShape, message, "").help(help));
            None
        }
    }
}
