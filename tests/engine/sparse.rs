//! The sparse path against the dense one: the same boards, solved both ways, with every fault.
//!
//! The two share the laws of the parts and nothing of the linear algebra: other unknowns, another
//! library's factors. Grids are held against equations that are written down here.

// The counts are what a reader of the test's output wants to see.
#![allow(clippy::print_stdout)]

use crate::active;
use crate::bench;
use crate::strategies;
use crate::strategies::{Spec, circuit, config, linear, mixed, part, resistor, source};
use nalgebra::{DMatrix, DVector};
use ohmhound::circuit::{Circuit, Overlay, POWERED, SetupId};
use ohmhound::engine::{Assembly, Ending, OperatingPoint, PowerUp, Settings};
use ohmhound::fault::{Evidence, hypotheses};
use proptest::prelude::*;

/// Matrices of any size as sparse ones.
fn sparse() -> Settings {
    Settings { dense: 0, ..Settings::default() }
}

/// Matrices of any size as dense ones.
fn dense() -> Settings {
    Settings { dense: usize::MAX, ..Settings::default() }
}

/// What differs between two runs of one board: how they ended, what floats, the states, or a voltage
/// by more than 1e-9 of the largest one.
fn difference(one: &PowerUp, other: &PowerUp) -> Option<String> {
    let (found, wanted) = (one.run.point.as_ref(), other.run.point.as_ref());
    let (Some(found), Some(wanted)) = (found, wanted) else {
        let same = match (&one.run.ending, &other.run.ending) {
            (Ending::Converged { .. }, Ending::Converged { .. }) => true,
            (one, other) => std::mem::discriminant(one) == std::mem::discriminant(other),
        };
        return (!same).then(|| format!("{:?} and {:?}", one.run.ending, other.run.ending));
    };
    if found.floating != wanted.floating {
        return Some("other nets float".to_owned());
    }
    if one.network.states() != other.network.states() {
        return Some("other states".to_owned());
    }
    apart(found, wanted)
}

/// A net whose volts differ by more than 1e-9 of the largest ones.
fn apart(found: &OperatingPoint, wanted: &OperatingPoint) -> Option<String> {
    let largest = wanted.volts.iter().fold(1.0, |most: f64, volts| most.max(volts.abs()));
    (0..found.volts.len()).find_map(|net| {
        let (found, wanted) = (found.volts[net], wanted.volts[net]);
        let apart = (found - wanted).abs() / largest;
        (apart.is_nan() || apart > 1e-9).then(|| format!("net {net}: {found} and {wanted}"))
    })
}

/// Both ways with an overlay.
fn compared(
    [sparse, dense]: &[Assembly<'_>; 2],
    setup: SetupId,
    overlay: &Overlay,
) -> Option<String> {
    let (one, other) = (sparse.powered(setup, overlay, None), dense.powered(setup, overlay, None));
    difference(&one, &other)
}

fn both(circuit: &Circuit) -> [Assembly<'_>; 2] {
    [sparse(), dense()].map(|settings| Assembly::with_settings(circuit, settings))
}

/// Every fault of a circuit at the ends and in the middle of its values.
fn overlays(circuit: &Circuit) -> Vec<Overlay> {
    hypotheses(circuit, &Evidence::default())
        .iter()
        .flat_map(|hypothesis| {
            let places = match &hypothesis.curve {
                Some(curve) => vec![curve.low, 0.5 * (curve.low + curve.high), curve.high],
                None => vec![0.0],
            };
            places.into_iter().map(|place| hypothesis.overlay(place)).collect::<Vec<_>>()
        })
        .collect()
}

#[test]
fn demo_boards_with_every_fault_are_the_same_both_ways() {
    let mut count = 0;
    let mut different = Vec::new();
    for name in bench::names() {
        let circuit = bench::demo(&name);
        let assemblies = both(&circuit);
        let setups = (0..circuit.setups.len()).map(SetupId);
        // Boards of many states take a while: a share of their faults.
        let stride = if circuit.parts.len() > 15 { 7 } else { 2 };
        for setup in setups {
            let overlays = overlays(&circuit);
            let some = overlays.iter().step_by(stride);
            for overlay in std::iter::once(&Overlay::none()).chain(some) {
                count += 1;
                if let Some(what) = compared(&assemblies, setup, overlay) {
                    different.push(format!("{name} {} {overlay:?}: {what}", setup.0));
                }
            }
        }
    }
    println!("{count} boards, {} different", different.len());
    assert!(different.is_empty(), "{}", different.join("\n"));
}

#[test]
fn active_boards_at_random_are_the_same_both_ways() {
    let (mut different, mut elsewhere) = (Vec::new(), 0);
    for number in 0..150 {
        let circuit = active::built(&active::active(number, 20));
        let [sparse, dense] = both(&circuit);
        let nothing = Overlay::none();
        let (one, other) = (sparse.healthy(POWERED), dense.healthy(POWERED));
        let Some(what) = difference(one, other) else { continue };
        // A board that may stand in one of several points stands where rounding led it: the dense
        // equations have to stay there too.
        let stays = one.run.point.as_ref().is_some_and(|point| {
            let states = one.network.states();
            let there = dense.power_up_in(POWERED, &nothing, states, &point.volts);
            there.is_some_and(|(_, there)| apart(point, &there).is_none())
        });
        if stays { elsewhere += 1 } else { different.push(format!("{number}: {what}")) }
    }
    println!("{elsewhere} in another point, {} different", different.len());
    assert!(different.is_empty(), "{}", different.join("\n"));
    assert!(elsewhere <= 2);
}

/// A circuit and so many of its faults, from one of a number on.
fn same_with_faults(specs: &[Spec], number: usize, n_faults: usize) -> Result<(), TestCaseError> {
    let circuit = circuit(specs);
    let assemblies = both(&circuit);
    prop_assert_eq!(compared(&assemblies, POWERED, &Overlay::none()), None);
    let overlays = overlays(&circuit);
    for step in 0..n_faults {
        let overlay = &overlays[(number + 97 * step) % overlays.len()];
        prop_assert_eq!(compared(&assemblies, POWERED, overlay), None, "{:?}", overlay);
    }
    Ok(())
}

proptest! {
    #![proptest_config(config(96, 11))]

    #[test]
    fn linear_circuits_with_any_fault_are_the_same_both_ways(specs in linear(), number in 0_usize..10_000) {
        same_with_faults(&specs, number, 12)?;
    }

    #[test]
    fn circuits_with_junctions_are_the_same_both_ways(specs in mixed(), number in 0_usize..10_000) {
        same_with_faults(&specs, number, 6)?;
    }

    /// A grid with a source in a corner and loads to ground, its values over three decades, against
    /// nodal equations written down here and another library's dense LU.
    #[test]
    fn grids_are_those_of_nodal_equations(
        (rows, columns) in (8_usize..14, 12_usize..16),
        values in prop::collection::vec(0.0..1.0_f64, 64),
    ) {
        let value = |idx: usize| 10.0 * 1e3_f64.powf(values[idx % values.len()]);
        let name = |row: usize, column: usize| format!("N{row}_{column}");
        let mut specs = vec![source("V1", ["N0_0", "GND"], 12.0)];
        let mut branches = Vec::new();
        let at = |row: usize, column: usize| row * columns + column;
        let mut add = |from: (usize, usize), to: Option<(usize, usize)>| {
            let ohms = value(branches.len());
            let end = to.map_or("GND".to_owned(), |(row, column)| name(row, column));
            let part = format!("R{}", branches.len() + 1);
            specs.push(resistor(&part, [&name(from.0, from.1), &end], ohms));
            branches.push((at(from.0, from.1), to.map(|(row, column)| at(row, column)), ohms));
        };
        for row in 0..rows {
            for column in 0..columns {
                if column + 1 < columns {
                    add((row, column), Some((row, column + 1)));
                }
                if row + 1 < rows {
                    add((row, column), Some((row + 1, column)));
                }
                if (row + column) % 5 == 4 {
                    add((row, column), None);
                }
            }
        }
        let n = rows * columns;
        let mut matrix = DMatrix::<f64>::zeros(n, n);
        let mut right = DVector::<f64>::zeros(n);
        for (from, to, ohms) in branches {
            matrix[(from, from)] += 1.0 / ohms;
            if let Some(to) = to {
                matrix[(to, to)] += 1.0 / ohms;
                matrix[(from, to)] -= 1.0 / ohms;
                matrix[(to, from)] -= 1.0 / ohms;
            }
        }
        matrix.row_mut(0).fill(0.0);
        matrix[(0, 0)] = 1.0;
        right[0] = 12.0;
        let wanted = matrix.lu().solve(&right).unwrap();
        let circuit = circuit(&specs);
        let run = Assembly::new(&circuit).solve(POWERED, &Overlay::none());
        let point = run.point.unwrap();
        for row in 0..rows {
            for column in 0..columns {
                let found = strategies::volts(&circuit, &point, &name(row, column));
                let wanted = wanted[at(row, column)];
                prop_assert!((found - wanted).abs() <= 1e-10 * 12.0, "{found} and {wanted}");
            }
        }
        // Far fewer entries than a dense matrix has.
        prop_assert!(point.factor.n_entries() < n * n / 4);
    }
}

/// Two planes of hard links that a megohm ties to ground, a gigohm to each other: what each does as
/// a whole is not lost beside what is inside it.
#[test]
fn planes_of_links_that_hang_on_next_to_nothing_keep_their_volts() {
    let mut specs = vec![source("V1", ["IN", "GND"], 10.0)];
    for plane in ["A", "B"] {
        for idx in 1..80 {
            let nets = [format!("{plane}{}", idx - 1), format!("{plane}{idx}")];
            let name = format!("R{plane}{idx}");
            specs.push(resistor(&name, [&nets[0], &nets[1]], 1e-3));
        }
    }
    specs.push(resistor("R1", ["IN", "A40"], 1e6));
    specs.push(resistor("R2", ["A79", "B0"], 1e9));
    specs.push(resistor("R3", ["B79", "GND"], 1e9));
    let circuit = circuit(&specs);
    let run = Assembly::new(&circuit).solve(POWERED, &Overlay::none());
    let point = run.point.unwrap();
    // By hand: 10 V over everything in a row; 39 links of A and 79 of B carry the current.
    let (a, b) = (39.0 * 1e-3, 79.0 * 1e-3);
    let amps = 10.0 / (1e6 + a + 1e9 + b + 1e9);
    let after = [("A0", a + 1e9 + b + 1e9), ("A79", 1e9 + b + 1e9), ("B0", b + 1e9), ("B79", 1e9)];
    for (net, ohms) in after {
        let found = strategies::volts(&circuit, &point, net);
        assert!((found - amps * ohms).abs() <= 1e-12, "{net}: {found}");
    }
}

/// Strings of diodes side by side: a large board that is not linear. All strings are alike, so each
/// carries what a board with one of them carries.
#[test]
fn many_strings_of_diodes_are_each_like_one_of_them() {
    let string = |number: usize| {
        let net = |idx: usize| match idx {
            0 => "IN".to_owned(),
            6 => "GND".to_owned(),
            idx => format!("S{number}_{idx}"),
        };
        let mut specs = vec![resistor(&format!("R{number}"), [&net(0), &net(1)], 330.0)];
        for idx in 1..6 {
            let name = format!("D{}", 10 * number + idx);
            specs.push(part(&name, "diode", [&net(idx), &net(idx + 1)]));
        }
        specs
    };
    let board = |n: usize| {
        let mut specs = vec![source("V1", ["IN", "GND"], 12.0)];
        specs.extend((0..n).flat_map(string));
        circuit(&specs)
    };
    let (one, many) = (board(1), board(60));
    let settings = [dense(), Settings::default()];
    let [one_point, many_point] =
        [(&one, &settings[0]), (&many, &settings[1])].map(|(board, own)| {
            let run = Assembly::with_settings(board, own.clone()).solve(POWERED, &Overlay::none());
            assert!(matches!(run.ending, Ending::Converged { .. }), "{:?}", run.ending);
            run.point.unwrap()
        });
    assert!(many_point.factor.len() > settings[1].dense);
    for idx in 1..6 {
        let wanted = strategies::volts(&one, &one_point, &format!("S0_{idx}"));
        for number in 0..60 {
            let found = strategies::volts(&many, &many_point, &format!("S{number}_{idx}"));
            assert!((found - wanted).abs() < 1e-9, "{number} {idx}: {found} and {wanted}");
        }
    }
}

#[test]
fn adjoints_of_large_boards_are_those_of_dense_ones() {
    for name in ["packing-shed", "cold-store"] {
        let circuit = bench::demo(name);
        let points =
            both(&circuit).map(|assembly| assembly.solve(POWERED, &Overlay::none()).point.unwrap());
        let n_nets = circuit.nets.len();
        for net in 1..n_nets {
            let [one, other] = points.each_ref().map(|point| point.adjoint(net, 0));
            let largest = other.iter().fold(0.0, |most: f64, value| most.max(value.abs()));
            for (found, wanted) in one[..n_nets - 1].iter().zip(&other[..n_nets - 1]) {
                assert!((found - wanted).abs() <= 1e-8 * largest, "{name}: {found} and {wanted}");
            }
            let signs = points.each_ref().map(|point| point.factor.determinant_sign());
            assert_eq!(signs[0], signs[1], "{name}");
        }
    }
}
