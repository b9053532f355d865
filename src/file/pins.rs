//! Where a part meets its nets: `nets = [..]` and `pins = { .. }`.

use super::names::{Named, check_form};
use super::take::{listed, suggested};
use super::tree::{Data, Entry, Node, Table};
use super::written::Written;
use crate::device::{Kind, Pins};
use crate::finding::{Code, Finding};

/// A pin of a part with the net that the file names for it.
#[derive(Debug, Clone)]
pub(super) struct Wire {
    pub(super) pin: String,
    pub(super) net: Written,
}

/// Reads the pins of a part; nothing when they are not in order.
pub(super) fn read(
    kind: &dyn Kind,
    part: &Written,
    table: &Table,
    found: &mut Vec<Finding>,
) -> Option<Vec<Wire>> {
    let (nets, pins) = (table.entry("nets"), table.entry("pins"));
    let name = part.shown();
    if let (Some(nets), Some(pins)) = (nets, pins) {
        let message = format!("`{name}` has both `nets` and `pins`");
        found.push(
            pins.key
                .error(Code::BadPins, message, "")
                .at(&nets.key.source, nets.key.range.clone(), "")
                .help(form(kind)),
        );
        return None;
    }
    match (kind.pins(), nets, pins) {
        (Pins::Two | Pins::Contacts, Some(nets), None) => {
            two(kind, &name, ["1", "2"], &nets.value, found)
        }
        (Pins::Named(names), None, Some(pins)) => named(kind, names, &[], part, pins, found),
        (Pins::Fitted(required, optional), None, Some(pins)) => {
            named(kind, required, optional, part, pins, found)
        }
        // `chip` reads these.
        (Pins::Chip, None, Some(_)) => None,
        (Pins::Contacts, None, Some(pins)) => contacts(kind, &name, pins, found),
        (_, None, None) => {
            let message = format!("{} `{name}` is on no net", kind.name());
            found.push(part.error(Code::BadPins, message, "").help(form(kind)));
            None
        }
        (_, Some(wrong), _) | (_, _, Some(wrong)) => {
            let key = wrong.key.shown();
            let message = format!("{} `{name}` does not take `{key}`", kind.name());
            found.push(wrong.key.error(Code::BadPins, message, "").help(form(kind)));
            None
        }
    }
}

/// How the pins of a kind are written.
fn form(kind: &dyn Kind) -> String {
    let pins = |names: &[&str]| {
        let pins: Vec<String> = names.iter().map(|name| format!("{name} = \"..\"")).collect();
        format!("write `pins = {{ {} }}`", pins.join(", "))
    };
    match kind.pins() {
        Pins::Two => "write `nets = [\"net of pin 1\", \"net of pin 2\"]`".to_owned(),
        Pins::Named(names) => pins(names),
        Pins::Fitted(required, optional) => {
            format!("{}, and as fitted {}", pins(required), listed(optional))
        }
        Pins::Chip => {
            "write `pins = { name = \"net\", other = { net = \"..\", draws = \"..\" } }`".to_owned()
        }
        Pins::Contacts => "write `nets = [\"A\", \"B\"]` for one contact, or \
                           `pins = { \"1\" = [\"A\", \"B\"], \"2\" = [\"C\", \"D\"] }`"
            .to_owned(),
    }
}

fn two(
    kind: &dyn Kind,
    part: &str,
    pins: [&str; 2],
    node: &Node,
    found: &mut Vec<Finding>,
) -> Option<Vec<Wire>> {
    let what = format!("`nets` of `{part}`");
    let list = node.take_list(&what, found)?;
    let [first, second] = list else {
        let count = list.len();
        let message = format!("{what}: expected two nets, found {count}");
        found.push(node.error(Code::BadPins, message, "").help(form(kind)));
        return None;
    };
    let nets = [net(first, &what, found), net(second, &what, found)];
    let [Some(first), Some(second)] = nets else { return None };
    if first.text == second.text {
        let message = format!("both pins of `{part}` are on net `{}`", first.shown());
        found.push(
            Finding::warning(Code::SameNet, message)
                .at(&node.source, node.range.clone(), "it does nothing there")
                .help("check the schematic, or take the part out"),
        );
    }
    let [one, other] = pins.map(str::to_owned);
    Some(vec![Wire { pin: one, net: first }, Wire { pin: other, net: second }])
}

/// The net that a node names.
pub(super) fn net(node: &Node, what: &str, found: &mut Vec<Finding>) -> Option<Written> {
    let name = node.take_text(&format!("a net in {what}"), found)?;
    check_form(Named::Net, name, found).then(|| name.clone())
}

/// The pins by name: all of the required ones, any of the optional ones, in the kind's order.
fn named(
    kind: &dyn Kind,
    required: &'static [&'static str],
    optional: &'static [&'static str],
    part: &Written,
    entry: &Entry,
    found: &mut Vec<Finding>,
) -> Option<Vec<Wire>> {
    let part = part.shown();
    let names = || required.iter().chain(optional).copied();
    let table = entry.value.take_table(&format!("`pins` of `{part}`"), found)?;
    let before = found.len();
    let mut meant = Vec::new();
    for entry in &table.entries {
        if !names().any(|name| name == entry.key.text) {
            let message = format!("{} `{part}` has no pin `{}`", kind.name(), entry.key.shown());
            let finding = entry.key.error(Code::BadPins, message, "");
            let near = suggested(&entry.key.text, names(), found);
            meant.extend(near);
            found.push(match near {
                Some(near) => finding.help(format!("did you mean `{near}`?")),
                None => {
                    finding.help(format!("its pins are {}", listed(&names().collect::<Vec<_>>())))
                }
            });
        }
    }
    // A pin that was misspelt is not missing as well.
    let missing: Vec<&str> = required
        .iter()
        .copied()
        .filter(|name| table.get(name).is_none() && !meant.contains(name))
        .collect();
    if !missing.is_empty() {
        let message = format!("{} `{part}` lacks the net of {}", kind.name(), listed(&missing));
        found.push(
            entry
                .value
                .error(Code::BadPins, message, "")
                .help("every pin has to be on a net; give a pin that hangs free a net of its own"),
        );
    }
    let wires: Vec<Wire> = names()
        .filter_map(|name| {
            let net = net(table.get(name)?, &format!("`pins` of `{part}`"), found)?;
            Some(Wire { pin: name.to_owned(), net })
        })
        .collect();
    (found.len() == before && !wires.is_empty()).then_some(wires)
}

/// Contact `1` of a connector has the pins `1` and `1 far`.
fn contacts(
    kind: &dyn Kind,
    part: &str,
    entry: &Entry,
    found: &mut Vec<Finding>,
) -> Option<Vec<Wire>> {
    let table = entry.value.take_table(&format!("`pins` of `{part}`"), found)?;
    if table.entries.is_empty() {
        let message = format!("connector `{part}` has no contact");
        found.push(entry.value.error(Code::BadPins, message, "").help(form(kind)));
    }
    let mut wires = Vec::new();
    for entry in &table.entries {
        let contact = &entry.key;
        if !check_form(Named::Contact, contact, found) {
            continue;
        }
        if matches!(entry.value.data, Data::Text(_)) {
            let message =
                format!("contact `{}` of `{part}` has one net, expected two", contact.shown());
            found.push(entry.value.error(Code::BadPins, message, "").help(form(kind)));
            continue;
        }
        let far = format!("{} far", contact.text);
        wires.extend(
            two(kind, part, [&contact.text, &far], &entry.value, found).unwrap_or_default(),
        );
    }
    (!wires.is_empty()).then_some(wires)
}

/// The pin of that name, or the nearest ones.
pub(super) fn suggest_pin<'a>(
    pins: impl Iterator<Item = &'a str> + Clone,
    wanted: &str,
    found: &[Finding],
) -> String {
    match suggested(wanted, pins.clone(), found) {
        Some(near) => format!("did you mean `{near}`?"),
        None => format!("its pins are {}", listed(&pins.collect::<Vec<_>>())),
    }
}
