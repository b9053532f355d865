//! Boards drawn by seed.
#![allow(dead_code, reason = "each bench uses its own part of it")]

use ohmhound::circuit::{Circuit, PartId};
use ohmhound::device::{two_pin, with_pins};
use ohmhound::engine::{PortTable, PortView, Shunt};

use crate::chance::Chance;

/// Volts of the supply.
pub const SUPPLY: f64 = 12.0;

fn name(net: usize) -> String {
    match net {
        0 => "GND".to_owned(),
        net => format!("N{net}"),
    }
}

/// A number whose logarithm is evenly spread.
pub fn spread(chance: &mut Chance, low: f64, high: f64) -> f64 {
    (low.ln() + (high / low).ln() * chance.share()).exp()
}

fn resistor(circuit: &mut Circuit, number: usize, nets: [usize; 2], chance: &mut Chance) {
    let [from, to] = nets.map(name);
    let ohms = spread(chance, 100.0, 100e3);
    two_pin(circuit, &format!("R{number}"), "resistor", [&from, &to], &[("value", ohms)])
        .expect("a resistor");
}

/// Any net but this one, ground included.
fn another(chance: &mut Chance, n: usize, net: usize) -> usize {
    let other = (chance.share() * n as f64) as usize;
    if other >= net { (other + 1) % (n + 1) } else { other }
}

/// A board of `nets` nets beside ground and so many resistors, at least as many as nets, fed by a
/// supply of a tenth of an ohm: a random tree, and further resistors between any nets.
pub fn resistors(seed: u64, nets: usize, parts: usize) -> Circuit {
    let mut chance = Chance::new(seed);
    let mut circuit = Circuit::new("", "GND");
    let supply = [("volts", SUPPLY), ("resistance", 0.1)];
    two_pin(&mut circuit, "V1", "supply", ["N1", "GND"], &supply).expect("a supply");
    for number in 1..=parts {
        let net = if number <= nets {
            // The tree: the first one is a load of the supply.
            number
        } else {
            1 + (chance.share() * nets as f64) as usize
        };
        let other = if number <= nets {
            (chance.share() * net as f64) as usize
        } else {
            another(&mut chance, nets, net)
        };
        resistor(&mut circuit, number, [net, other], &mut chance);
    }
    circuit
}

/// The same with ten junctions: six diodes and four transistors' junctions between nets.
pub fn with_junctions(seed: u64, nets: usize, parts: usize, transistors: bool) -> Circuit {
    let mut circuit = resistors(seed, nets, parts);
    let mut chance = Chance::new(seed ^ 0x6a09_e667);
    let net = |chance: &mut Chance| 1 + (chance.share() * nets as f64) as usize;
    let diodes = if transistors { 6 } else { 10 };
    for number in 1..=diodes {
        let from = net(&mut chance);
        let to = another(&mut chance, nets, from);
        let nets = [name(from), name(to)];
        two_pin(&mut circuit, &format!("D{number}"), "diode", [&nets[0], &nets[1]], &[])
            .expect("a diode");
    }
    if transistors {
        // Two transistors have four junctions.
        for number in 1..=2 {
            let (base, collector) = (net(&mut chance), net(&mut chance));
            let pins = [("base", name(base)), ("collector", name(collector))];
            let pins: Vec<(&str, &str)> = pins
                .iter()
                .map(|(pin, net)| (*pin, net.as_str()))
                .chain([("emitter", "GND")])
                .collect();
            with_pins(&mut circuit, &format!("Q{number}"), "npn", &pins, &[("gain", 100.0)])
                .expect("a transistor");
        }
    }
    circuit
}

/// The port table of all resistors, with `places` nets read.
pub fn table(circuit: &Circuit, view: &PortView, places: usize) -> PortTable {
    let nets = circuit.nets.len() - 1;
    let places = (0..places).map(|place| (1 + place * nets / places, 0)).collect();
    let parts: Vec<PartId> = circuit
        .parts_by_id()
        .filter(|(_, part)| part.kind == "resistor")
        .map(|(id, _)| id)
        .collect();
    PortTable::of_parts(view, parts, places)
}

/// Every resistor open, shorted and at twice its value.
pub fn faults(table: &PortTable) -> Vec<(usize, Shunt)> {
    (0..table.sites().len())
        .flat_map(|site| {
            let own = 1.0 / table.sites()[site].siemens;
            [Shunt::open(own), Shunt::of(1e-3), Shunt::instead(own, 2.0 * own)]
                .map(|shunt| (site, shunt))
        })
        .filter(|&(site, shunt)| table.line(site).amps(shunt).is_ok())
        .collect()
}

/// Readings of a board with a hidden fault beside its healthy ones, with standard uncertainties.
pub fn readings(table: &PortTable, hidden: &[(usize, Shunt)]) -> (Vec<f64>, Vec<f64>) {
    let volts = match *hidden {
        [(site, shunt)] => table.with(site, shunt),
        [one, other] => table.with_both([one, other]),
        _ => Ok(table.healthy().to_vec()),
    };
    let volts = volts.expect("a fault that the table tells");
    let standard = volts.iter().map(|volts| 1e-3 + 5e-3 * volts.abs()).collect();
    (volts, standard)
}
