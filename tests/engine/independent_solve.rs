//! Random linear networks put together and solved a second time, by other means.
//!
//! The engine works with cut sets and conductances. Here every part keeps its current as an
//! unknown (the sparse tableau: G. D. Hachtel, R. K. Brayton, F. G. Gustavson, IEEE Trans. Circuit
//! Theory 18, 1971; from memory), straight from the list of parts, and another library factors the
//! matrix by partial pivoting.

use crate::strategies;
use crate::strategies::{Spec, circuit, config};
use faer::linalg::solvers::Solve;
use faer::{Col, Mat};
use ohmhound::circuit::{Overlay, POWERED};
use ohmhound::engine::Assembly;
use proptest::prelude::*;

/// Volts by net name, ground left out.
fn by_tableau(specs: &[Spec]) -> Vec<(String, f64)> {
    let mut names: Vec<String> = Vec::new();
    for net in specs.iter().flat_map(|spec| &spec.nets) {
        if net != "GND" && !names.contains(net) {
            names.push(net.clone());
        }
    }
    let (n, m) = (names.len(), specs.len());
    let mut matrix = Mat::<f64>::zeros(n + m, n + m);
    let mut right = Col::<f64>::zeros(n + m);
    for (idx, spec) in specs.iter().enumerate() {
        let (volts, ohms) = match spec.kind {
            "resistor" => (0.0, spec.number("value").unwrap()),
            _ => (spec.number("volts").unwrap(), spec.number("resistance").unwrap()),
        };
        // The row of a part is v₁ − v₂ − R i = V, divided by R where R is large.
        let row = n + idx;
        let weight = ohms.max(1.0);
        matrix[(row, row)] = -ohms / weight;
        right[row] = volts / weight;
        for (net, sign) in spec.nets.iter().zip([1.0, -1.0]) {
            if let Some(net) = names.iter().position(|name| name == net) {
                matrix[(row, net)] += sign / weight;
                matrix[(net, row)] += sign;
            }
        }
    }
    let lu = matrix.partial_piv_lu();
    let mut solution = lu.solve(&right);
    // What rounding left over is solved for again. Volts behind milliohms make currents of
    // thousands of amps, so what is left is summed with twice the digits.
    for _ in 0..3 {
        solution -= lu.solve(Col::from_fn(n + m, |row| {
            let terms = (0..n + m).map(|column| (matrix[(row, column)], solution[column]));
            sum_of_products(terms.chain([(-1.0, right[row])]))
        }));
    }
    names.into_iter().enumerate().map(|(net, name)| (name, solution[net])).collect()
}

/// A sum of products as if in twice the digits (T. Ogita, S. M. Rump, S. Oishi, "Accurate sum and
/// dot product", SIAM J. Sci. Comput. 26, 2005, algorithm 5.3).
fn sum_of_products(terms: impl Iterator<Item = (f64, f64)>) -> f64 {
    let (mut sum, mut lost) = (0.0_f64, 0.0_f64);
    for (a, b) in terms {
        let product = a * b;
        let new = sum + product;
        let part = new - sum;
        lost += (sum - (new - part)) + (product - part) + a.mul_add(b, -product);
        sum = new;
    }
    sum + lost
}

proptest! {
    #![proptest_config(config(1000, 21))]

    #[test]
    fn another_assembly_and_another_library_agree(specs in strategies::linear()) {
        let circuit = circuit(&specs);
        let point = Assembly::new(&circuit).solve(POWERED, &Overlay::none()).point.unwrap();
        let largest = specs
            .iter()
            .filter_map(|spec| spec.number("volts"))
            .fold(0.0, |largest: f64, volts| largest.max(volts.abs()));
        for (name, volts) in by_tableau(&specs) {
            let found = point.volts[strategies::net(&circuit, &name)];
            prop_assert!((found - volts).abs() <= 1e-12 * largest, "{}: {} and {}", name, found, volts);
        }
    }
}
