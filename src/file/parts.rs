//! One part of `[parts]`: its kind, its pins, its values, with what its type adds.

use std::collections::HashSet;
use std::ops::Range;
use std::sync::Arc;

use super::keys::{self, Key, names};
use super::maximum::{self, Most};
use super::names::{Named, check_form};
use super::pins::{self, Wire};
use super::shelf::Types;
use super::take::{listed, suggested, unknown_key};
use super::tree::{Data, Entry, Node, Table};
use super::written::Written;
use super::{chip, params};
use crate::circuit::{ChipPin, Param};
use crate::device::{self, Kind, Parameter, Pins};
use crate::finding::{Code, Finding, Source, nearest};
use crate::quantity::{Point, class_letters};

/// A part as the file has it, before it gets a number.
pub(super) struct Draft {
    pub(super) name: Written,
    pub(super) kind: Option<&'static dyn Kind>,
    pub(super) wires: Vec<Wire>,
    /// Every net that the part names, in order or not.
    pub(super) nets: Vec<Written>,
    pub(super) params: Vec<(&'static str, Param)>,
    /// Where the parameters stand.
    pub(super) places: Vec<(&'static str, Arc<Source>, Range<usize>)>,
    /// For a chip of which only the pins matter: what is known of each.
    pub(super) chip: Vec<ChipPin>,
    /// The most volts that pins may see, by their names.
    pub(super) maximum: Vec<Most>,
    pub(super) fitted: bool,
    /// Nothing was wrong with it so far.
    pub(super) sound: bool,
}

/// Reads parts, and the types that they are of.
pub(super) struct Reader<'a> {
    types: &'a Types,
    found: &'a mut Vec<Finding>,
    /// Types whose keys were checked for a kind; many parts may share a type.
    checked: HashSet<(&'a str, &'static str)>,
}

impl<'a> Reader<'a> {
    /// A reader that has checked all types as far as that is possible without a part.
    pub(super) fn new(types: &'a Types, found: &'a mut Vec<Finding>) -> Reader<'a> {
        let mut reader = Reader { types, found, checked: HashSet::new() };
        for entry in types.all() {
            reader.check_type(entry);
        }
        reader
    }

    fn check_type(&mut self, entry: &'a Entry) {
        let name = entry.key.shown();
        let what = format!("type `{name}`");
        let Some(table) = entry.value.take_table(&what, self.found) else { return };
        let layer = Layer { table, owner: name, keys: keys::TYPE };
        let Some(node) = table.get("kind") else { return };
        let Some(kind) = named_kind(node, &layer.owner, self.found) else { return };
        self.checked.insert((entry.key.text.as_str(), kind.name()));
        layer.check_keys(kind, self.found);
        for row in keys_of(kind) {
            if let Some(node) = table.get(row.name) {
                params::read(row, node, &layer.owner, self.found);
            }
        }
    }

    /// Reads a part.
    pub(super) fn part(&mut self, entry: &Entry) -> Draft {
        let mut draft = Draft {
            name: entry.key.clone(),
            kind: None,
            wires: Vec::new(),
            nets: Vec::new(),
            params: Vec::new(),
            places: Vec::new(),
            chip: Vec::new(),
            maximum: Vec::new(),
            fitted: true,
            sound: false,
        };
        let name = entry.key.shown();
        let well_named = check_form(Named::Part, &entry.key, self.found);
        let Some(table) = entry.value.take_table(&format!("part `{name}`"), self.found) else {
            return draft;
        };
        for key in ["nets", "pins"] {
            table.get(key).into_iter().for_each(|node| mentioned(node, &mut draft.nets));
        }
        if !well_named {
            return draft;
        }
        let before = self.found.len();
        if let Some(fitted) = table.get("fitted") {
            let what = format!("`fitted` of `{name}`");
            draft.fitted = fitted.take_flag(&what, self.found).unwrap_or(true);
        }
        let of_type = type_of(table, self.types, &name, self.found);
        let own = Layer { table, owner: name.clone(), keys: keys::PART };
        let type_name = of_type.as_ref().map(|(name, _)| *name);
        let layers: Vec<Layer<'_>> =
            [Some(own), of_type.map(|(_, layer)| layer)].into_iter().flatten().collect();
        let Some(kind) = kind_of(&entry.key, &layers, &draft.nets, self.found) else {
            return draft;
        };
        draft.kind = Some(kind);
        match table.entry("pins") {
            Some(pins) if kind.pins() == Pins::Chip && table.get("nets").is_none() => {
                let read = chip::read(&name, pins, self.found).unwrap_or_default();
                (draft.wires, draft.chip) = (read.wires, read.pins);
                (draft.params, draft.places) = (read.params, read.places);
            }
            _ => {
                draft.wires = pins::read(kind, &entry.key, table, self.found).unwrap_or_default();
            }
        }
        layers[0].check_keys(kind, self.found);
        if let (Some(name), Some(layer)) = (type_name, layers.get(1))
            && self.checked.insert((name, kind.name()))
        {
            layer.check_keys(kind, self.found);
        }
        read_params(&mut draft, kind, &layers, self.found);
        // A pin that could not be read was said to be wrong, and is not unknown as well.
        if !draft.wires.is_empty() {
            let known: Vec<&str> = draft.wires.iter().map(|wire| wire.pin.as_str()).collect();
            let tables = layers.iter().map(|layer| (layer.table, layer.owner.as_str()));
            draft.maximum = maximum::read(kind, &known, tables, self.found);
        }
        draft.sound = !self.found[before..].iter().any(Finding::is_error);
        draft
    }
}

/// A table that gives values to a part: its own, or that of its type.
struct Layer<'a> {
    table: &'a Table,
    owner: String,
    keys: &'static [Key],
}

impl Layer<'_> {
    fn check_keys(&self, kind: &dyn Kind, found: &mut Vec<Finding>) {
        let pin_key = if kind.pins() == Pins::Two { "pins" } else { "" };
        let rows: Vec<&str> = keys_of(kind).map(|row| row.name).collect();
        let own = names(self.keys);
        let known: Vec<&str> =
            own.iter().copied().filter(|key| *key != pin_key).chain(rows).collect();
        for entry in &self.table.entries {
            let key = entry.key.text.as_str();
            if !known.contains(&key) && !own.contains(&key) {
                let what = format!("{} `{}`", kind.name(), self.owner);
                let finding = unknown_key(entry, &what, &known, found);
                found.push(finding);
            }
        }
    }
}

/// The parameters of a kind that are keys of a part; those of single pins stand with the pins.
pub(super) fn keys_of(kind: &dyn Kind) -> impl Iterator<Item = &'static Parameter> {
    kind.parameters().iter().filter(|row| !row.name.contains(' '))
}

/// The name and the table of the part's type.
fn type_of<'a>(
    table: &Table,
    types: &'a Types,
    part: &str,
    found: &mut Vec<Finding>,
) -> Option<(&'a str, Layer<'a>)> {
    let name = table.get("type")?.take_text(&format!("`type` of `{part}`"), found)?;
    let Some(entry) = types.get(&name.text) else {
        let message = format!("`{part}` has the unknown type `{}`", name.shown());
        let finding = name.error(Code::UnknownType, message, "");
        let near = suggested(&name.text, types.names(), found);
        found.push(match near {
            Some(near) => finding.help(format!("did you mean `{near}`?")),
            None => finding.help(format!("describe it under `[types.{}]`", name.shown())),
        });
        return None;
    };
    match &entry.value.data {
        Data::Table(table) => {
            let layer = Layer { table, owner: entry.key.shown(), keys: keys::TYPE };
            Some((entry.key.text.as_str(), layer))
        }
        // `check_type` says what is wrong with it.
        _ => None,
    }
}

/// The kind that the part, its type or its class letters say.
fn kind_of(
    name: &Written,
    layers: &[Layer<'_>],
    nets: &[Written],
    found: &mut Vec<Finding>,
) -> Option<&'static dyn Kind> {
    let said = layers.iter().find_map(|layer| Some((layer.table.get("kind")?, &layer.owner)));
    if let Some((node, owner)) = said {
        return named_kind(node, owner, found);
    }
    let kind = class_letters(&name.text).and_then(device::kind_of_class);
    let shown = name.shown();
    let Some(kind) = kind else {
        let kinds: Vec<&str> = device::ALL.iter().map(|kind| kind.name()).collect();
        let message = format!("`{shown}` does not say its kind");
        found.push(
            name.error(Code::KindOpen, message, "its first letters do not settle it")
                .help(format!("write `kind = \"..\"`; kinds are {}", listed(&kinds))),
        );
        return None;
    };
    let light = std::iter::once(name).chain(nets).find(|name| holds_led(&name.text));
    if let Some(light) = light.filter(|_| kind.name() == "diode") {
        found.push(
            name.error(Code::KindOpen, format!("`{shown}` could be a diode or an LED"), "")
                .at(&light.source, light.range.clone(), "an LED by this name")
                .help("write `kind = \"led\"` or `kind = \"diode\"`"),
        );
        return None;
    }
    Some(kind)
}

fn holds_led(name: &str) -> bool {
    name.to_ascii_uppercase().contains("LED")
}

fn named_kind(node: &Node, owner: &str, found: &mut Vec<Finding>) -> Option<&'static dyn Kind> {
    let name = node.take_text(&format!("`kind` of `{owner}`"), found)?;
    let kind = device::kind(&name.text);
    if kind.is_none() {
        found.push(unknown_kind(name));
    }
    kind
}

fn unknown_kind(name: &Written) -> Finding {
    let kinds: Vec<&str> = device::ALL.iter().map(|kind| kind.name()).collect();
    let help = format!("kinds are {}", listed(&kinds));
    let finding = name.error(Code::UnknownKind, format!("unknown kind `{}`", name.shown()), "");
    match nearest(&name.text, kinds.iter().copied()) {
        Some(near) => finding.help(format!("did you mean `{near}`?")),
        None => finding.help(help),
    }
}

fn read_params(
    draft: &mut Draft,
    kind: &'static dyn Kind,
    layers: &[Layer<'_>],
    found: &mut Vec<Finding>,
) {
    for row in keys_of(kind) {
        let given = layers.iter().find_map(|layer| Some((layer.table.entry(row.name)?, layer)));
        let Some((entry, layer)) = given else { continue };
        let place = entry.value.range.clone();
        draft.places.push((row.name, Arc::clone(&entry.value.source), place));
        if let Some(param) = params::read(row, &entry.value, &layer.owner, found) {
            draft.params.push((row.name, param));
        }
    }
    read_tolerance(draft, kind, layers, found);
}

/// Reads the key `tolerance`. What the part says wins over what its type says, and of one table
/// only one place may give a tolerance.
fn read_tolerance(
    draft: &mut Draft,
    kind: &'static dyn Kind,
    layers: &[Layer<'_>],
    found: &mut Vec<Finding>,
) {
    let numbered = || layers.iter().enumerate();
    let said =
        numbered().find_map(|(at, layer)| Some((at, layer.table.entry("tolerance")?, layer)));
    let Some((tolerance_layer, entry, layer)) = said else { return };
    let given = |name: &str| draft.places.iter().any(|(known, ..)| *known == name);
    let Some(row) = params::main_parameter(kind, given) else {
        let message = format!("{} `{}` takes no `tolerance`", kind.name(), layer.owner);
        return found.push(entry.key.error(Code::BadParameter, message, ""));
    };
    let param = draft.params.iter_mut().find(|(name, _)| *name == row.name).map(|(_, p)| p);
    let value = numbered().find_map(|(at, layer)| Some((at, layer.table.get(row.name)?)));
    if param.is_none() && value.is_some() {
        // The value could not be read, which was said.
        return;
    }
    let has_own = matches!(
        &param,
        Some(Param::Number(number) | Param::Point(Point { value: number, .. }))
            if number.spread.is_some()
    );
    match value {
        Some((value_layer, _)) if has_own && value_layer < tolerance_layer => {}
        Some((value_layer, value)) if has_own && value_layer == tolerance_layer => found.push(
            entry
                .key
                .error(
                    Code::ToleranceTwice,
                    format!("`{}` has a tolerance twice", layer.owner),
                    "once here",
                )
                .at(&value.source, value.range.clone(), format!("once in `{}`", row.name))
                .help("take one of them out"),
        ),
        _ => params::apply_tolerance(row, entry, &layer.owner, param, found),
    }
}

/// The nets in `nets` or `pins`, whatever their form.
fn mentioned(node: &Node, nets: &mut Vec<Written>) {
    match &node.data {
        Data::Text(name) => nets.push(name.clone()),
        Data::List(list) => list.iter().for_each(|node| mentioned(node, nets)),
        Data::Table(table) => table.entries.iter().for_each(|entry| match &entry.value.data {
            // What a chip says of one pin holds more than its net.
            Data::Table(pin) => pin.get("net").into_iter().for_each(|node| mentioned(node, nets)),
            _ => mentioned(&entry.value, nets),
        }),
        Data::Number(_) | Data::Flag(_) | Data::Moment => {}
    }
}
