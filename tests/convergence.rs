//! Every random circuit settles: which strategies it takes is counted.

mod strategies;

use std::collections::BTreeMap;

use ohmhound::circuit::{Overlay, POWERED};
use ohmhound::engine::{Assembly, Ending};
use proptest::strategy::{BoxedStrategy, Strategy, ValueTree};
use proptest::test_runner::TestRunner;
use strategies::{Spec, circuit, config, sums};

/// Solves `cases` random circuits; returns how often each strategy was needed.
fn count(what: &str, strategy: BoxedStrategy<Vec<Spec>>, cases: usize) -> BTreeMap<String, usize> {
    let mut runner = TestRunner::new(config(1, 7));
    let mut found: BTreeMap<String, usize> = BTreeMap::new();
    let mut steps = 0;
    for case in 0..cases {
        let specs = strategy.new_tree(&mut runner).unwrap().current();
        if let Some(only) = std::env::var_os("ONLY") {
            if only.to_str().unwrap() != format!("{what} {case}") {
                continue;
            }
        }
        let circuit = circuit(&specs);
        let assembly = Assembly::new(&circuit);
        let run = assembly.solve(POWERED, &Overlay::none());
        let words = match &run.ending {
            Ending::Converged { by, iterations } => {
                steps += iterations;
                by.words().to_owned()
            }
            other => format!("{other:?}").split(' ').next().unwrap().to_owned(),
        };
        if words != "newton" && std::env::var_os("SHOW").is_some() {
            println!("{what} {case}: {words}");
            for spec in &specs {
                println!("  {} {} {:?} {:?}", spec.name, spec.kind, spec.nets, spec.params);
            }
        }
        *found.entry(words).or_default() += 1;
        if let Some(point) = run.point {
            let network = assembly.network(POWERED, &Overlay::none());
            let (sums, sizes) = sums(&network, &point.amps);
            for net in 1..network.n_nets {
                if sums[net].abs() > 1e-9 * sizes[net] + 1e-12 {
                    println!("{what} {case}: net {net} {} of {}", sums[net], sizes[net]);
                }
            }
        }
    }
    println!("{what}: {found:?}, {steps} steps");
    found
}

#[test]
fn explore() {
    let n: usize = std::env::var("N").map_or(2000, |n| n.parse().unwrap());
    count("linear", strategies::linear(), n);
    count("resistive", strategies::resistive(), n);
    count("junctions", strategies::junctions(), n);
    count("passive", strategies::passive(), n);
    count("straight lines", strategies::straight_lines(), n);
    count("mixed", strategies::mixed(), n);
}
