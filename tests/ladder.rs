//! The five-resistor ladder: a linear circuit whose every fault has an exact answer.
//!
//! 10 V – R1 1k – n1; R2 2k n1–n2; R3 3k n2–ground; R4 4k n1–ground; R5 5k n2–ground. The exact
//! fractions were worked out by hand from Kirchhoff's current law (two equations).

use approx::assert_relative_eq;
use ohmhound::circuit::{Change, Circuit, Overlay, POWERED};
use ohmhound::device::two_pin;
use ohmhound::engine::{Assembly, Port, PortView};

fn ladder() -> Circuit {
    let mut circuit = Circuit::new("ladder", "GND");
    let mut add = |name, kind, nets, params: &[(&'static str, f64)]| {
        two_pin(&mut circuit, name, kind, nets, params).unwrap();
    };
    add("V1", "supply", ["IN", "GND"], &[("volts", 10.0), ("resistance", 0.0)]);
    add("R1", "resistor", ["IN", "n1"], &[("value", 1e3)]);
    add("R2", "resistor", ["n1", "n2"], &[("value", 2e3)]);
    add("R3", "resistor", ["n2", "GND"], &[("value", 3e3)]);
    add("R4", "resistor", ["n1", "GND"], &[("value", 4e3)]);
    add("R5", "resistor", ["n2", "GND"], &[("value", 5e3)]);
    circuit
}

/// Volts of n1 and n2 with the part open, and with it shorted.
const EXACT: [(&str, [f64; 2], [f64; 2]); 5] = [
    ("R1", [0.0, 0.0], [10.0, 150.0 / 31.0]),
    ("R2", [8.0, 0.0], [600.0 / 107.0, 600.0 / 107.0]),
    ("R3", [280.0 / 39.0, 200.0 / 39.0], [40.0 / 7.0, 0.0]),
    ("R4", [310.0 / 39.0, 50.0 / 13.0], [0.0, 0.0]),
    ("R5", [200.0 / 29.0, 120.0 / 29.0], [40.0 / 7.0, 0.0]),
];

fn volts(circuit: &Circuit, overlay: &Overlay) -> [f64; 2] {
    let point = Assembly::new(circuit).solve(POWERED, overlay).point.unwrap();
    ["n1", "n2"].map(|net| point.volts[circuit.net(net).unwrap().index()])
}

#[test]
fn healthy_voltages_are_exact() {
    let [n1, n2] = volts(&ladder(), &Overlay::none());
    assert_relative_eq!(n1, 1240.0 / 187.0, max_relative = 1e-13);
    assert_relative_eq!(n2, 600.0 / 187.0, max_relative = 1e-13);
}

#[test]
fn opens_and_shorts_by_overlay_are_exact() {
    let circuit = ladder();
    for (name, open, short) in EXACT {
        let part = circuit.part(name).unwrap();
        let found = volts(&circuit, &Overlay::one(Change::Removed { part }));
        for (found, exact) in found.into_iter().zip(open) {
            assert_relative_eq!(found, exact, max_relative = 1e-12, epsilon = 1e-12);
        }
        // A milliohm stands for a short; it is off by its own share of a kilohm.
        let found = volts(&circuit, &Overlay::one(Change::Across { part, ohms: 1e-3 }));
        for (found, exact) in found.into_iter().zip(short) {
            assert_relative_eq!(found, exact, max_relative = 1e-5, epsilon = 1e-5);
        }
    }
}

#[test]
fn opens_and_shorts_by_the_port_view_are_exact() {
    let circuit = ladder();
    let assembly = Assembly::new(&circuit);
    let view = PortView::new(&assembly, POWERED).unwrap();
    for (name, open, short) in EXACT {
        let part = &circuit[circuit.part(name).unwrap()];
        let port = Port { from: part.pins[0].net.index(), to: part.pins[1].net.index() };
        let siemens = 1.0 / part.nominal("value").unwrap();
        let opened = view.with_conductance(port, -siemens).unwrap();
        let shorted = view.with_short(port).unwrap();
        for (net, name) in [(0, "n1"), (1, "n2")] {
            let idx = circuit.net(name).unwrap().index();
            assert_relative_eq!(opened[idx], open[net], max_relative = 1e-12, epsilon = 1e-12);
            assert_relative_eq!(shorted[idx], short[net], max_relative = 1e-12, epsilon = 1e-12);
        }
    }
    // Three nets, ground and the source's net being one.
    assert_relative_eq!(view.foster_sum(), 2.0, max_relative = 1e-12);
}
