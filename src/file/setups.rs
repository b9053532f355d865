//! `[setups.NAME]`: conditions under which readings are taken.

use super::circuit::Unsound;
use super::keys::{self, names};
use super::limits::{CELSIUS, MOST_CONNECTIONS, MOST_SETUPS, OHMS};
use super::lookup;
use super::names::{Named, check_form};
use super::take::{listed, refuse_unknown, suggested};
use super::tree::{Entry, Node, Table};
use crate::circuit::{Circuit, Connection, NetId, PartId, Setup};
use crate::finding::{Code, Finding};
use crate::quantity::Unit;

/// Names of setups that are always there.
pub(super) const ALWAYS: [&str; 2] = ["powered", "unpowered"];

/// Resistance of the leads of a bench supply in ohms, when it is not given. Common practice, no
/// published source: two short leads with clips.
const BENCH_LEADS: f64 = 10e-3;

/// Reads all setups into the circuit.
pub(super) fn read(
    node: Option<&Node>,
    circuit: &mut Circuit,
    unsound: &Unsound,
    found: &mut Vec<Finding>,
) {
    let Some(table) = node.and_then(|node| node.take_table("`setups`", found)) else { return };
    let later: Vec<&str> = table.entries.iter().map(|entry| entry.key.text.as_str()).collect();
    if let Some(entry) = table.entries.get(MOST_SETUPS) {
        let message = format!("there are more than {MOST_SETUPS} setups");
        found.push(
            entry
                .key
                .error(Code::TooLarge, message, "the first one too many")
                .help("every setup is solved for every fault; keep those that are read"),
        );
    }
    for entry in table.entries.iter().take(MOST_SETUPS) {
        let setup = Reader { circuit, unsound, found, later: &later }.setup(entry);
        // A setup with errors is kept, so that others may build on its name.
        circuit.setups.extend(setup);
    }
}

struct Reader<'a> {
    circuit: &'a Circuit,
    unsound: &'a Unsound,
    found: &'a mut Vec<Finding>,
    later: &'a [&'a str],
}

impl Reader<'_> {
    fn setup(&mut self, entry: &Entry) -> Option<Setup> {
        let name = &entry.key;
        if !check_form(Named::Setup, name, self.found) {
            return None;
        }
        // A word that means something else in a readings file is no name there.
        if ALWAYS.into_iter().chain(names(keys::READINGS)).any(|known| known == name.text) {
            let message = format!("a setup cannot be called `{}`", name.shown());
            let finding = name.error(Code::BadSetup, message, "");
            self.found.push(match name.text.as_str() {
                always @ ("powered" | "unpowered") => finding.help(format!(
                    "`{always}` is always there; give this one another name and `base = \"{always}\"`"
                )),
                _ => finding.help("the word has a meaning of its own in readings files"),
            });
            return None;
        }
        let what = format!("setup `{}`", name.shown());
        let table = entry.value.take_table(&what, self.found)?;
        refuse_unknown(table, &what, keys::SETUP, self.found);
        let mut setup = self.base(table, &what);
        setup.name = name.text.clone();
        setup.disconnected.extend(self.parts(table, "disconnect"));
        setup.lifted.extend(self.parts(table, "lifted"));
        let open = self.switches(table, "open");
        let closed = self.switches(table, "closed");
        self.refuse_both(table, &open, &closed);
        // What this setup says of a switch wins over what its base says.
        setup.open.retain(|part| !closed.contains(part));
        setup.closed.retain(|part| !open.contains(part));
        setup.open.extend(open);
        setup.closed.extend(closed);
        for list in [&mut setup.disconnected, &mut setup.lifted, &mut setup.open, &mut setup.closed]
        {
            list.sort_unstable();
            list.dedup();
        }
        if let Some(node) = table.get("connect") {
            let list = node.take_list("`connect`", self.found).unwrap_or_default();
            let free = MOST_CONNECTIONS.saturating_sub(setup.connections.len());
            if let Some(node) = list.get(free) {
                let message = format!("{what} has more than {MOST_CONNECTIONS} connections");
                self.found.push(node.error(Code::TooLarge, message, "the first one too many"));
            }
            let connections = list.iter().take(free).filter_map(|node| self.connection(node));
            setup.connections.extend(connections.collect::<Vec<_>>());
        }
        if let Some(node) = table.get("temperature") {
            let wanted = format!("from {} to {} °C", CELSIUS.start(), CELSIUS.end());
            let fits = |celsius: f64| CELSIUS.contains(&celsius);
            let celsius =
                node.take_number("`temperature`", Unit::Celsius, &wanted, fits, self.found);
            setup.celsius = celsius.unwrap_or(setup.celsius);
        }
        Some(setup)
    }

    /// The setup that this one starts from: `powered`, unless it says another.
    fn base(&mut self, table: &Table, what: &str) -> Setup {
        let base = table.get("base").and_then(|node| node.take_text("`base`", self.found));
        let Some(base) = base else { return Setup::powered() };
        if let Some(known) = self.circuit.setups.iter().find(|setup| setup.name == base.text) {
            return known.clone();
        }
        let known = self.circuit.setups.iter().map(|setup| setup.name.as_str());
        let message = format!("{what} starts from the unknown setup `{}`", base.shown());
        let finding = base.error(Code::BadSetup, message, "");
        self.found.push(if self.later.contains(&base.text.as_str()) {
            finding.help("a setup can start only from one that stands above it")
        } else if let Some(near) = suggested(&base.text, known.clone(), self.found) {
            finding.help(format!("did you mean `{near}`?"))
        } else {
            finding.help(format!("known setups are {}", listed(&known.collect::<Vec<_>>())))
        });
        Setup::powered()
    }

    fn parts(&mut self, table: &Table, key: &str) -> Vec<PartId> {
        let what = format!("`{key}`");
        let Some(node) = table.get(key) else { return Vec::new() };
        let list = node.take_list(&what, self.found).unwrap_or_default();
        list.iter()
            .filter_map(|node| {
                let name = node.take_text(&format!("a part in {what}"), self.found)?;
                lookup::part(self.circuit, name, Code::UnknownName, self.found)
            })
            .collect()
    }

    /// Parts that can be open or closed.
    fn switches(&mut self, table: &Table, key: &str) -> Vec<PartId> {
        let parts = self.parts(table, key);
        let fits = |part: &PartId| {
            self.unsound.contains(part) || self.circuit[*part].param("closed").is_some()
        };
        let (good, bad): (Vec<_>, Vec<_>) = parts.into_iter().partition(fits);
        for part in bad {
            let part = &self.circuit[part];
            let message = format!(
                "`{}` is {}, which cannot be set to `{key}`",
                part.name,
                crate::device::with_article(part.kind)
            );
            let node = table.get(key).into_iter();
            let finding = Finding::error(Code::BadSetup, message)
                .help("name a switch; use `disconnect` or `lifted` for other parts");
            self.found
                .extend(node.map(|node| finding.clone().at(&node.source, node.range.clone(), "")));
        }
        good
    }

    fn refuse_both(&mut self, table: &Table, open: &[PartId], closed: &[PartId]) {
        let Some(both) = open.iter().find(|part| closed.contains(part)) else { return };
        let message = format!("`{}` is both open and closed", self.circuit[*both].name);
        let nodes = [table.get("open"), table.get("closed")].into_iter().flatten();
        let finding = nodes.fold(Finding::error(Code::BadSetup, message), |finding, node| {
            finding.at(&node.source, node.range.clone(), "")
        });
        self.found.push(finding.help("take it out of one of them"));
    }

    /// A bench supply when it has volts, a link when it has a resistance only.
    fn connection(&mut self, node: &Node) -> Option<Connection> {
        let what = "`connect`";
        let table = node.take_table(&format!("an entry of {what}"), self.found)?;
        refuse_unknown(table, what, keys::CONNECTION, self.found);
        let nets = self.nets(node, table);
        let ohms = self.positive(table, "resistance", Unit::Ohm);
        let limit = self.positive(table, "limit", Unit::Amp);
        let Some(volts) = table.get("volts") else {
            if let Some(limit) = table.entry("limit") {
                let message = "`connect` has a `limit` but no `volts`";
                self.found.push(
                    limit.key.error(Code::BadSetup, message, "").help("give the volts as well"),
                );
            } else if table.get("resistance").is_none() {
                let message = "`connect` does not say what is connected";
                self.found.push(
                    node.error(Code::BadSetup, message, "")
                        .help("give `volts` for a bench supply, or `resistance` for a link"),
                );
            }
            return Some(Connection::Link { nets: nets?, resistance: ohms?? });
        };
        let volts = volts.take_number("`volts`", Unit::Volt, "volts", f64::is_finite, self.found);
        let resistance = ohms?.unwrap_or(BENCH_LEADS);
        Some(Connection::Supply { nets: nets?, volts: volts?, limit: limit?, resistance })
    }

    /// A number above zero, where it is given; nothing at all when it is wrong.
    fn positive(&mut self, table: &Table, key: &str, unit: Unit) -> Option<Option<f64>> {
        let Some(node) = table.get(key) else { return Some(None) };
        let (wanted, least, most) = match unit {
            Unit::Ohm => ("from 1 µΩ to 1 TΩ".to_owned(), *OHMS.start(), *OHMS.end()),
            _ => (format!("more than zero {}", unit.name()), f64::MIN_POSITIVE, f64::MAX),
        };
        let fits = |value: f64| (least..=most).contains(&value);
        node.take_number(&format!("`{key}`"), unit, &wanted, fits, self.found).map(Some)
    }

    fn nets(&mut self, node: &Node, table: &Table) -> Option<[NetId; 2]> {
        let Some(nets) = table.get("nets") else {
            let message = "`connect` does not say its nets";
            let help = "write `nets = [\"plus\", \"minus\"]`";
            self.found.push(node.error(Code::BadSetup, message, "").help(help));
            return None;
        };
        let list = nets.take_list("`nets`", self.found)?;
        let [plus, minus] = list else {
            let message = format!("`nets`: expected two nets, found {}", list.len());
            self.found.push(nets.error(Code::BadSetup, message, ""));
            return None;
        };
        let [plus, minus] = [plus, minus].map(|node| {
            let name = node.take_text("a net in `nets`", self.found)?;
            lookup::net(self.circuit, name, Code::UnknownName, self.found)
        });
        let nets = [plus?, minus?];
        if nets[0] == nets[1] {
            let message = format!("`connect` joins `{}` to itself", self.circuit.net_name(nets[0]));
            self.found.push(nets_error(table, message));
            return None;
        }
        Some(nets)
    }
}

fn nets_error(table: &Table, message: String) -> Finding {
    let finding = Finding::error(Code::BadSetup, message);
    match table.get("nets") {
        Some(nets) => finding.at(&nets.source, nets.range.clone(), ""),
        None => finding,
    }
}
