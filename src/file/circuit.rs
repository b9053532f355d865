//! A circuit file: parts, ground, and what hangs on them.

use std::collections::HashSet;
use std::sync::Arc;

use super::keys;
use super::limits::{MOST_NETS, MOST_PARTS};
use super::names::{Named, Names};
use super::parts::{self, Draft};
use super::shelf::{Fetch, Types};
use super::take::{listed, refuse_unknown, suggested};
use super::tree::{Entry, Table};
use super::written::Written;
use super::{Parsed, board, setups, syntax};
use crate::circuit::{Circuit, Part, PartId, Pin};
use crate::device;
use crate::finding::{Code, Finding, Source};

/// The net that is ground when the file does not say.
const USUAL_GROUND: &str = "GND";

/// What to do about a name that is there twice.
pub(super) const TWICE: &str = "give one of them another name, or take it out";

/// Reads a circuit file. `shelf` reads the shelf files that the circuit names, and those that they
/// name; it is given their names relative to the circuit file. They hold nothing but types.
///
/// Every complaint of the file is in [`Parsed::findings`], in the order of the text.
///
/// ```
/// use ohmhound::{file::read_circuit, finding::Source};
///
/// let source = Source::new("slip.toml", "[parts]\nR1 = { value = \"4,7k\", nets = [\"A\", \"GND\"] }");
/// let read = read_circuit(&source, &mut |_| Err("no shelf here".to_owned()));
/// assert!(read.value.is_none());
/// assert_eq!(read.findings[0].help.as_deref(), Some("write `4.7k`"));
/// ```
pub fn read_circuit(
    source: &Arc<Source>,
    shelf: &mut dyn FnMut(&str) -> Result<Arc<Source>, String>,
) -> Parsed<Circuit> {
    let table = match syntax::parse(source, TWICE) {
        Ok(table) => table,
        Err(findings) => return Parsed::new(None, findings, source),
    };
    let mut found = Vec::new();
    let circuit = read(source, &table, shelf, &mut found);
    Parsed::new(circuit, found, source)
}

fn read(
    source: &Arc<Source>,
    table: &Table,
    shelf: Fetch<'_>,
    found: &mut Vec<Finding>,
) -> Option<Circuit> {
    refuse_unknown(table, "the circuit file", keys::CIRCUIT, found);
    let entries = parts_of(source, table, found)?;
    let types = Types::read(table, shelf, found);
    let mut reader = parts::Reader::new(&types, found);
    let drafts: Vec<Draft> = entries.iter().map(|entry| reader.part(entry)).collect();
    let nets = nets_of(&drafts);
    if let Some(first) = nets.get(MOST_NETS) {
        let message = format!("the circuit has {} nets, more than {MOST_NETS}", nets.len());
        found.push(
            first
                .error(Code::TooLarge, message, "the first one too many")
                .help("every net is an unknown of each solve; split the board into its stages"),
        );
        return None;
    }
    check_names(&drafts, found);
    let ground = ground(source, table, &nets, found);
    let title = table.get("title").and_then(|node| node.take_shown("`title`", found));
    let title = title.map_or("", |title| title.text.as_str());
    let mut circuit = Circuit::new(title, ground.unwrap_or(USUAL_GROUND));
    for net in &nets {
        circuit.net_or_new(&net.text);
    }
    let mut unsound = HashSet::new();
    for draft in drafts {
        let (part, sound) = finish(draft, &circuit, found);
        let id = circuit.add(part);
        if !sound {
            unsound.insert(id);
        }
    }
    setups::read(table.get("setups"), &mut circuit, &unsound, found);
    board::read_limits(table.get("limits"), &mut circuit, found);
    board::read_board(table.get("board"), &mut circuit, found);
    Some(circuit)
}

fn parts_of<'a>(
    source: &Arc<Source>,
    table: &'a Table,
    found: &mut Vec<Finding>,
) -> Option<&'a [Entry]> {
    let help = "write `[parts]` and under it a line such as \
                `R1 = { value = \"10k\", nets = [\"OUT\", \"GND\"] }`";
    let Some(node) = table.get("parts") else {
        let message = "the circuit has no `[parts]`";
        found.push(Finding::error(Code::WrongShape, message).at(source, 0..0, "").help(help));
        return None;
    };
    let entries = &node.take_table("`parts`", found)?.entries;
    if entries.is_empty() {
        found.push(node.error(Code::WrongShape, "the circuit has no parts", "").help(help));
        return None;
    }
    if let Some(first) = entries.get(MOST_PARTS) {
        let message = format!("the circuit has {} parts, more than {MOST_PARTS}", entries.len());
        found.push(first.key.error(Code::TooLarge, message, "the first one too many").help(
            "diagnosis tries some ten faults for each part; split the board into its stages",
        ));
        return None;
    }
    Some(entries)
}

fn check_names(drafts: &[Draft], found: &mut Vec<Finding>) {
    let mut names = Names::default();
    for draft in drafts {
        names.add(Named::Part, &draft.name, found);
    }
    for net in drafts.iter().flat_map(|draft| &draft.nets) {
        names.add(Named::Net, net, found);
    }
}

/// Every net once, in the order in which the parts name them.
fn nets_of(drafts: &[Draft]) -> Vec<Written> {
    let mut seen = HashSet::new();
    let all = drafts.iter().flat_map(|draft| &draft.nets);
    all.filter(|net| seen.insert(net.text.as_str())).cloned().collect()
}

/// The net that all voltages are counted from.
fn ground<'a>(
    source: &Arc<Source>,
    table: &Table,
    nets: &'a [Written],
    found: &mut Vec<Finding>,
) -> Option<&'a str> {
    let names = || nets.iter().map(|net| net.text.as_str());
    if let Some(node) = table.get("ground") {
        let wanted = node.take_text("`ground`", found)?;
        let known = names().find(|name| *name == wanted.text);
        if known.is_none() {
            let message = format!("no part touches the ground net `{}`", wanted.shown());
            let finding = wanted.error(Code::NoGround, message, "");
            let near = suggested(&wanted.text, names(), found);
            found.push(match near {
                Some(near) => finding.help(format!("did you mean `{near}`?")),
                None => finding.help(format!("nets are {}", listed(&names().collect::<Vec<_>>()))),
            });
        }
        return known;
    }
    let usual = names().find(|name| *name == USUAL_GROUND);
    if usual.is_none() && !nets.is_empty() {
        let near = names().find(|name| {
            ["0", "gnd", "ground", "0v", "vss", "agnd", "dgnd", "earth", "com"]
                .contains(&name.to_lowercase().as_str())
        });
        let all = listed(&names().collect::<Vec<_>>());
        found.push(
            Finding::error(Code::NoGround, "the circuit does not say which net is ground")
                .at(source, 0..0, "")
                .help(match near {
                    Some(near) => format!("write `ground = \"{near}\"` at the top if that is it"),
                    None => format!("write `ground = \"..\"` at the top; nets are {all}"),
                }),
        );
    }
    usual
}

/// The part with the defaults of its kind, and whether it is in order.
fn finish(draft: Draft, circuit: &Circuit, found: &mut Vec<Finding>) -> (Part, bool) {
    let pins = draft
        .wires
        .iter()
        .filter_map(|wire| Some(Pin { name: wire.pin.clone(), net: circuit.net(&wire.net.text)? }));
    let pins: Vec<Pin> = pins.collect();
    let maximum = draft
        .maximum
        .iter()
        .filter_map(|most| Some((pins.iter().position(|pin| pin.name == most.pin)?, most.volts)));
    let mut part = Part {
        name: draft.name.text.clone(),
        // The stand-in of a part whose kind is not known never leaves this reader.
        kind: draft.kind.map_or("resistor", |kind| kind.name()),
        maximum: maximum.collect(),
        pins,
        params: draft.params,
        defaulted: Vec::new(),
        usual: Vec::new(),
        chip: draft.chip,
        fitted: draft.fitted,
    };
    if !draft.sound {
        return (part, false);
    }
    let Err(problem) = device::complete(&mut part) else { return (part, true) };
    let place = draft.places.iter().find(|(name, ..)| *name == problem.parameter);
    let finding = Finding::error(Code::BadParameter, problem.message);
    let finding = match place {
        Some((_, source, range)) if Arc::ptr_eq(source, &draft.name.source) => {
            finding.at(source, range.clone(), "")
        }
        Some((_, source, range)) => finding
            .at(&draft.name.source, draft.name.range.clone(), "the part")
            .at(source, range.clone(), "the value of its type"),
        None => finding.at(&draft.name.source, draft.name.range.clone(), ""),
    };
    found.push(Finding { help: problem.help, ..finding });
    (part, false)
}

/// The parts whose errors make further complaints about them pointless.
pub(super) type Unsound = HashSet<PartId>;
