//! The five-resistor ladder: a linear circuit whose every fault has an exact answer.
//!
//! 10 V – R1 1k – n1; R2 2k n1–n2; R3 3k n2–ground; R4 4k n1–ground; R5 5k n2–ground. The exact
//! fractions were worked out by hand from Kirchhoff's current law (two equations).

use approx::assert_relative_eq;
use ohmhound::circuit::{Change, Circuit, Overlay, POWERED};
use ohmhound::device::two_pin;
use ohmhound::engine::{Assembly, Port, PortTable, PortView, Scores, Shunt};

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

/// Both nets of the ladder read, every resistor a port.
fn table(circuit: &Circuit) -> PortTable {
    let view = PortView::new(&Assembly::new(circuit), POWERED).unwrap();
    let places = ["n1", "n2"].map(|net| (circuit.net(net).unwrap().index(), 0)).to_vec();
    let parts = EXACT.map(|(name, ..)| circuit.part(name).unwrap());
    PortTable::of_parts(&view, parts, places)
}

#[test]
fn opens_and_shorts_by_the_port_table_are_exact() {
    let circuit = ladder();
    let table = table(&circuit);
    for (site, (_, open, short)) in EXACT.into_iter().enumerate() {
        let opened = table.with(site, table.sites()[site].open()).unwrap();
        let shorted = table.with(site, Shunt::SHORT).unwrap();
        for net in 0..2 {
            assert_relative_eq!(opened[net], open[net], max_relative = 1e-12, epsilon = 1e-12);
            assert_relative_eq!(shorted[net], short[net], max_relative = 1e-12, epsilon = 1e-12);
        }
    }
    // Foster's sum: three nets, ground and the source's net being one.
    let sum: f64 = (0..5).map(|site| table.sites()[site].siemens * table.line(site).ohms).sum();
    assert_relative_eq!(sum, 2.0, max_relative = 1e-12);
}

/// Worked by hand: with R4 open, n1 = 310/39 V and n2 = 50/13 V. Seen from R1, all the rest at n1 is
/// L = 124/63 kΩ (R2 with R3 ∥ R5 is 31/8 kΩ, beside 4 kΩ), so that R1 makes the same of
/// 10 V · L/(L + R1): R1 = L · 8/31 = 32/63 kΩ. With R5 open, n2 = 120/29 V; R3 makes the same where
/// R3 ∥ 5 kΩ = 3 kΩ: R3 = 7.5 kΩ. With R1 at 2 kΩ, n1 = 10 V · L/(L + 2 kΩ) = 124/25 V, and n2 is
/// 15/31 of it, 60/25 V.
#[test]
fn the_value_that_fits_best_is_exact() {
    let circuit = ladder();
    let table = table(&circuit);
    let ohms_of = |readings: [f64; 2], site: usize| {
        Scores::new(&table, &readings, &[0.01, 0.01]).fitted(site).unwrap()
    };
    for (readings, twin, ohms) in [
        ([310.0 / 39.0, 50.0 / 13.0], 0, 32e3 / 63.0),
        ([200.0 / 29.0, 120.0 / 29.0], 2, 7.5e3),
        ([124.0 / 25.0, 60.0 / 25.0], 0, 2e3),
    ] {
        let fitted = ohms_of(readings, twin);
        assert_relative_eq!(fitted.ohms, ohms, max_relative = 1e-9);
        assert!(fitted.interior && fitted.chi_square < 1e-12, "{fitted:?}");
    }
    // The open itself is the end of its own line.
    let open = ohms_of([310.0 / 39.0, 50.0 / 13.0], 3);
    assert!(open.ohms > 1e9 && open.chi_square < 1e-12, "{open:?}");
    // Past its open, R4 stays open; past its short, R1 stays a short.
    let high = ohms_of([9.0, 4.2], 3);
    assert!(!high.interior && high.ohms.is_infinite() && high.chi_square > 1.0, "{high:?}");
    let above = ohms_of([11.0, 5.3], 0);
    assert!(!above.interior && above.ohms == 0.0 && above.chi_square > 1.0, "{above:?}");
}

/// Worked by hand: R1 at 2 kΩ and R2 shorted make one net, loaded by 3, 4 and 5 kΩ: 60/47 kΩ to
/// ground, 10 V · (60/47)/(60/47 + 2) = 300/77 V. R3 and R5 open leave no way from n2, which stands
/// at n1's 10 V · 4/5 = 8 V.
#[test]
fn two_faults_are_exact() {
    let circuit = ladder();
    let table = table(&circuit);
    let site = |name: &str| EXACT.iter().position(|(known, ..)| *known == name).unwrap();
    let drifted = [(site("R1"), Shunt::instead(1e3, 2e3)), (site("R2"), Shunt::SHORT)];
    for volts in table.with_both(drifted).unwrap() {
        assert_relative_eq!(volts, 300.0 / 77.0, max_relative = 1e-12);
    }
    let opened = ["R3", "R5"].map(|name| (site(name), table.sites()[site(name)].open()));
    for volts in table.with_both(opened).unwrap() {
        assert_relative_eq!(volts, 8.0, max_relative = 1e-12);
    }
    // The screen of all pairs finds each of them first.
    let faults: Vec<(usize, Shunt)> = (0..5)
        .flat_map(|site| {
            let own = 1.0 / table.sites()[site].siemens;
            [table.sites()[site].open(), Shunt::SHORT, Shunt::instead(own, 2.0 * own)]
                .map(|shunt| (site, shunt))
        })
        .collect();
    let scores = Scores::new(&table, &[300.0 / 77.0, 300.0 / 77.0], &[0.01, 0.01]);
    let found = scores.best_pairs(&faults, 5);
    assert_eq!(found.screened, 90);
    let best = found.best[0];
    assert!(best.chi_square < 1e-6, "{best:?}");
    let [one, other] = [best.one, best.other].map(|place| faults[place]);
    assert_eq!([one, other], drifted);
}

/// Worked by hand: the covariance 4, 2, 2, 3 (in units of 0.01 V²) has the inverse 3, −2, −2, 4 over
/// 8, so that residuals a and b leave (3 a² − 4 a b + 4 b²) / 8 in the same units.
#[test]
fn readings_that_go_together_count_by_their_covariance() {
    let circuit = ladder();
    let table = table(&circuit);
    let covariance = nalgebra::Matrix2::new(4.0, 2.0, 2.0, 3.0) * 0.01;
    let covariance = nalgebra::DMatrix::from_iterator(2, 2, covariance.iter().copied());
    let cholesky = nalgebra::Cholesky::new(covariance).unwrap();
    // R1 at 2 kΩ.
    let readings = [124.0 / 25.0, 60.0 / 25.0];
    let scores = Scores::with_covariance(&table, &readings, &cholesky);
    let [a, b] = [readings[0] - 1240.0 / 187.0, readings[1] - 600.0 / 187.0];
    let by_hand = |a: f64, b: f64| (3.0 * a * a - 4.0 * a * b + 4.0 * b * b) / 0.08;
    assert_relative_eq!(scores.healthy(), by_hand(a, b), max_relative = 1e-9);
    let fitted = scores.fitted(0).unwrap();
    assert_relative_eq!(fitted.ohms, 2e3, max_relative = 1e-9);
    // R3 open moves the nets to 280/39 V and 200/39 V.
    let [a, b] = [readings[0] - 280.0 / 39.0, readings[1] - 200.0 / 39.0];
    let opened = scores.of(2, table.sites()[2].open()).unwrap();
    assert_relative_eq!(opened, by_hand(a, b), max_relative = 1e-9);
}
