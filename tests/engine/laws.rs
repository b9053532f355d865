//! Laws of circuits, on circuits drawn at random.
//!
//! Kirchhoff's laws and Tellegen's theorem hold for every operating point; superposition,
//! reciprocity, scaling and Foster's sum for linear ones; a single answer and its bounds for
//! passive ones (C. A. Desoer and E. S. Kuh, "Basic Circuit Theory", 1969; from memory).

use crate::strategies;
use crate::strategies::{Spec, circuit, config, log_uniform, pick, resistor, sums};
use ohmhound::circuit::{Change, Circuit, Overlay, POWERED, PartId};
use ohmhound::engine::{Assembly, Network, OperatingPoint, Port, PortView, Settings};
use proptest::prelude::*;

/// A circuit's operating point with an overlay; every random circuit has one.
fn solved(circuit: &Circuit, overlay: &Overlay) -> (Network, OperatingPoint) {
    let assembly = Assembly::new(circuit);
    let network = assembly.network(POWERED, overlay);
    let run = assembly.solve(POWERED, overlay);
    let point = run.point.unwrap_or_else(|| panic!("no operating point: {:?}", run.ending));
    (network, point)
}

/// The largest voltage of a point, and at least a volt: what rounding is measured against.
fn scale(point: &OperatingPoint) -> f64 {
    point.volts.iter().fold(1.0, |largest: f64, volts| largest.max(volts.abs()))
}

/// Volts by name of every net that does not float.
fn by_name(circuit: &Circuit, point: &OperatingPoint) -> Vec<(String, f64)> {
    circuit
        .nets_by_id()
        .filter(|(id, _)| !point.floating[id.index()])
        .map(|(id, name)| (name.to_owned(), point.volts[id.index()]))
        .collect()
}

/// The same nets have the same volts, and the second point has every net of the first.
fn same(
    one: &[(String, f64)],
    other: &[(String, f64)],
    tolerance: f64,
) -> Result<(), TestCaseError> {
    for (name, volts) in one {
        let Some((_, found)) = other.iter().find(|(known, _)| known == name) else {
            return Err(TestCaseError::fail(format!("{name} is only in one of the two")));
        };
        prop_assert!((volts - found).abs() <= tolerance, "{name}: {volts} and {found}");
    }
    Ok(())
}

/// Ground and the nets that ideal sources join to it or to each other, as a number per net.
fn joined_by_sources(circuit: &Circuit) -> Vec<usize> {
    let mut group: Vec<usize> = (0..circuit.nets.len()).collect();
    for part in &circuit.parts {
        if part.kind == "supply" && part.nominal("resistance") == Some(0.0) {
            let [from, to] = [0, 1].map(|pin| group[part.pins[pin].net.index()]);
            for group in &mut group {
                if *group == from {
                    *group = to;
                }
            }
        }
    }
    group
}

fn port(circuit: &Circuit, part: PartId) -> Port {
    let [from, to] = [0, 1].map(|pin| circuit[part].pins[pin].net.index());
    Port { from, to }
}

/// The specs with two nets made one.
fn merged(specs: &[Spec], from: &str, into: &str) -> Vec<Spec> {
    let name = |net: &String| if net == from { into.to_owned() } else { net.clone() };
    specs.iter().map(|spec| Spec { nets: spec.nets.each_ref().map(name), ..spec.clone() }).collect()
}

/// Kirchhoff's current law at every net, from the amps of the parts alone, and each part's own law.
fn currents_add_up(specs: &[Spec]) -> Result<(), TestCaseError> {
    let circuit = circuit(specs);
    let (network, point) = solved(&circuit, &Overlay::none());
    prop_assert_eq!(network.elements.len(), specs.len());
    let (sums, sizes) = sums(&network, &point.amps);
    // A source behind R has V / R as the difference of two currents of that size.
    let mut rounding = vec![0.0; network.n_nets];
    for (element, spec) in network.elements.iter().zip(specs) {
        if let (Some(volts), Some(ohms)) = (spec.number("volts"), spec.number("resistance"))
            && ohms > 0.0
        {
            rounding[element.from] += 16.0 * f64::EPSILON * (volts / ohms).abs();
            rounding[element.to] += 16.0 * f64::EPSILON * (volts / ohms).abs();
        }
    }
    for net in 1..network.n_nets {
        let allowed = 1e-9 * sizes[net] + 1e-12 + rounding[net];
        prop_assert!(sums[net].abs() <= allowed, "net {net}: {} of {}", sums[net], sizes[net]);
    }
    for ((element, spec), &amps) in network.elements.iter().zip(specs).zip(&point.amps) {
        let (from, to) = (point.volts[element.from], point.volts[element.to]);
        if let Some(ohms) = spec.number("value") {
            let expected = (from - to) / ohms;
            let allowed = 1e-9 * amps.abs() + 4.0 * f64::EPSILON * (from.abs() + to.abs()) / ohms;
            prop_assert!((amps - expected).abs() <= allowed, "{}: {amps} {expected}", spec.name);
        }
    }
    prop_assert!(point.power_imbalance.abs() <= 1e-9 * point.power_turnover + 1e-10);
    Ok(())
}

/// Tellegen's theorem: voltages of one point and currents of another one, over the same graph.
fn tellegen(specs: &[Spec], factors: &[f64]) -> Result<(), TestCaseError> {
    let (_, one) = solved(&circuit(specs), &Overlay::none());
    let changed: Vec<Spec> = specs
        .iter()
        .zip(factors.iter().cycle())
        .map(|(spec, factor)| {
            let mut spec = spec.clone();
            for (_, param) in &mut spec.params {
                if let ohmhound::circuit::Param::Number(number) = param {
                    number.nominal *= factor;
                }
            }
            spec
        })
        .collect();
    let (network, other) = solved(&circuit(&changed), &Overlay::none());
    let (mut sum, mut sizes) = (0.0, 0.0);
    for (element, amps) in network.elements.iter().zip(&other.amps) {
        let watts = one.between(element.from, element.to) * amps;
        sum += watts;
        sizes += watts.abs();
    }
    prop_assert!(sum.abs() <= 1e-8 * sizes + 1e-9, "{sum} of {sizes}");
    Ok(())
}

/// Shapes of ports: volts at one port for an amp at another are the same the other way round.
fn reciprocal(specs: &[Spec], numbers: [usize; 4]) -> Result<(), TestCaseError> {
    let circuit = circuit(specs);
    let (_, point) = solved(&circuit, &Overlay::none());
    let [a, b, c, d] = numbers.map(|number| number % circuit.nets.len());
    let across = |shape: &[f64], from: usize, to: usize| {
        let at = |net: usize| if net == 0 { 0.0 } else { shape[net - 1] };
        at(from) - at(to)
    };
    let (one, other) = (point.shape(a, b), point.shape(c, d));
    let size = (across(&one, a, b) * across(&other, c, d)).abs().sqrt();
    let largest = one.iter().chain(&other).fold(0.0, |largest: f64, ohms| largest.max(ohms.abs()));
    let (there, back) = (across(&one, c, d), across(&other, a, b));
    let allowed = 1e-9 * size + 1e-13 * largest;
    prop_assert!(
        (there - back).abs() <= allowed,
        "{there:e} and {back:e} of {size:e} {largest:e} {a} {b} {c} {d} {:e} {:e}",
        across(&one, a, b),
        across(&other, c, d)
    );
    Ok(())
}

proptest! {
    #![proptest_config(config(300, 1))]

    #[test]
    fn currents_add_up_in_linear_networks(specs in strategies::linear()) {
        currents_add_up(&specs)?;
    }

    #[test]
    fn currents_add_up_in_nonlinear_networks(specs in strategies::passive()) {
        currents_add_up(&specs)?;
    }

    #[test]
    fn tellegen_in_linear_networks(
        specs in strategies::linear(),
        factors in prop::collection::vec(0.3..3.0, 1..6),
    ) {
        tellegen(&specs, &factors)?;
    }

    #[test]
    fn tellegen_in_nonlinear_networks(
        specs in strategies::passive(),
        factors in prop::collection::vec(0.7..1.4, 1..6),
    ) {
        tellegen(&specs, &factors)?;
    }

    #[test]
    fn sources_superpose(specs in strategies::linear()) {
        let circuit_of_all = circuit(&specs);
        let (_, all) = solved(&circuit_of_all, &Overlay::none());
        let mut sum = vec![0.0; all.volts.len()];
        let mut largest = 1.0_f64;
        for (alone, _) in specs.iter().enumerate().filter(|(_, spec)| spec.kind == "supply") {
            let only: Vec<Spec> = specs
                .iter()
                .enumerate()
                .map(|(idx, spec)| {
                    let mut spec = spec.clone();
                    if idx != alone {
                        for (name, param) in &mut spec.params {
                            if *name == "volts"
                                && let ohmhound::circuit::Param::Number(number) = param
                            {
                                number.nominal = 0.0;
                            }
                        }
                    }
                    spec
                })
                .collect();
            let (_, point) = solved(&circuit(&only), &Overlay::none());
            largest = largest.max(scale(&point));
            for (sum, volts) in sum.iter_mut().zip(&point.volts) {
                *sum += volts;
            }
        }
        for (sum, volts) in sum.iter().zip(&all.volts) {
            prop_assert!((sum - volts).abs() <= 1e-11 * largest, "{} and {}", sum, volts);
        }
    }

    #[test]
    fn linear_networks_are_reciprocal(
        specs in strategies::linear(),
        numbers in prop::array::uniform4(0_usize..100),
    ) {
        reciprocal(&specs, numbers)?;
    }

    #[test]
    fn junctions_are_reciprocal_around_their_point(
        specs in strategies::junctions(),
        numbers in prop::array::uniform4(0_usize..100),
    ) {
        reciprocal(&specs, numbers)?;
    }

    #[test]
    fn scaled_resistances_divide_currents(specs in strategies::linear(), factor in 0.01..100.0_f64) {
        let scaled: Vec<Spec> = specs
            .iter()
            .map(|spec| {
                let mut spec = spec.clone();
                for (name, param) in &mut spec.params {
                    if *name != "volts" && let ohmhound::circuit::Param::Number(number) = param {
                        number.nominal *= factor;
                    }
                }
                spec
            })
            .collect();
        let (network, one) = solved(&circuit(&specs), &Overlay::none());
        let (_, other) = solved(&circuit(&scaled), &Overlay::none());
        for (one_volts, other_volts) in one.volts.iter().zip(&other.volts) {
            prop_assert!((one_volts - other_volts).abs() <= 1e-11 * scale(&one));
        }
        let (_, sizes) = sums(&network, &one.amps);
        for (idx, element) in network.elements.iter().enumerate() {
            let near = sizes[element.from].max(sizes[element.to]);
            let (one, other) = (one.amps[idx], factor * other.amps[idx]);
            prop_assert!((one - other).abs() <= 1e-9 * near + 1e-10, "{one} {other}");
        }
    }

    #[test]
    fn fosters_sum_counts_the_nets(specs in strategies::linear()) {
        let circuit = circuit(&specs);
        let view = PortView::new(&Assembly::new(&circuit), POWERED).unwrap();
        let mut groups = joined_by_sources(&circuit);
        groups.sort_unstable();
        groups.dedup();
        let expected = groups.len() as f64 - 1.0;
        let found = view.foster_sum();
        prop_assert!((found - expected).abs() <= 1e-9 * expected.max(1.0), "{found} {expected}");
    }

    #[test]
    fn opening_a_part_is_leaving_it_out(specs in strategies::linear(), number in 0_usize..100) {
        let with_all = circuit(&specs);
        let part = PartId((number % specs.len()) as u32);
        let (_, opened) = solved(&with_all, &Overlay::one(Change::Removed { part }));
        let mut fewer = specs.clone();
        fewer.remove(part.index());
        let without = circuit(&fewer);
        let (_, left_out) = solved(&without, &Overlay::none());
        let tolerance = 1e-11 * scale(&opened);
        // A net that only the part had is not there without it; it floats when the part is open.
        same(&by_name(&without, &left_out), &by_name(&with_all, &opened), tolerance)?;
        same(&by_name(&with_all, &opened), &by_name(&without, &left_out), tolerance)?;
    }

    #[test]
    fn opening_a_part_of_a_nonlinear_circuit_is_leaving_it_out(
        specs in strategies::passive(),
        number in 0_usize..100,
    ) {
        let with_all = circuit(&specs);
        let part = PartId((number % specs.len()) as u32);
        let (_, opened) = solved(&with_all, &Overlay::one(Change::Removed { part }));
        let mut fewer = specs.clone();
        fewer.remove(part.index());
        let without = circuit(&fewer);
        let (_, left_out) = solved(&without, &Overlay::none());
        same(&by_name(&without, &left_out), &by_name(&with_all, &opened), 1e-6 * scale(&opened))?;
    }

    #[test]
    fn the_port_view_knows_any_conductance(
        specs in strategies::linear(),
        ends in (0_usize..100, 0_usize..100),
        ohms in log_uniform(1e-3, 1e8),
    ) {
        let circuit = circuit(&specs);
        let view = PortView::new(&Assembly::new(&circuit), POWERED).unwrap();
        let nets = [pick(&circuit, ends.0), pick(&circuit, ends.1)];
        let port = Port { from: nets[0].index(), to: nets[1].index() };
        let groups = joined_by_sources(&circuit);
        // An ideal source that a short lies across is a contradiction, not a solution.
        prop_assume!(ohms > 1.0 || groups[port.from] != groups[port.to]);
        let (_, fresh) = solved(&circuit, &Overlay::one(Change::Bridge { nets, ohms }));
        let by_port = view.with_conductance(port, 1.0 / ohms).unwrap();
        for (by_port, fresh_volts) in by_port.iter().zip(&fresh.volts) {
            prop_assert!((by_port - fresh_volts).abs() <= 1e-10 * scale(&fresh));
        }
    }

    #[test]
    fn the_port_view_opens_parts(specs in strategies::resistive(), number in 0_usize..100) {
        let circuit = circuit(&specs);
        let view = PortView::new(&Assembly::new(&circuit), POWERED).unwrap();
        let part = PartId((1 + number % (specs.len() - 1)) as u32);
        let port = port(&circuit, part);
        let siemens = 1.0 / circuit[part].nominal("value").unwrap();
        let (_, fresh) = solved(&circuit, &Overlay::one(Change::Removed { part }));
        match view.with_conductance(port, -siemens) {
            // It says so when a net is left floating, or when too few digits are left: of g r near
            // one, or of volts that go away between nets which milliohms join ...
            None => {
                let ohms = specs.iter().filter_map(|spec| spec.number("value"));
                let strongest = ohms.fold(0.0, |most: f64, ohms| most.max(1.0 / ohms));
                let rounding = f64::EPSILON * strongest * scale(view.point());
                prop_assert!(
                    fresh.floating.contains(&true)
                        || 1.0 - siemens * view.resistance(port) < 1e-3
                        || rounding > 1e-13
                );
            }
            Some(volts) => {
                // ... and else the answer is good to what g r near 1 leaves of the digits.
                prop_assert!(!fresh.floating.contains(&true));
                let left = 1.0 - siemens * view.resistance(port);
                for (volts, fresh_volts) in volts.iter().zip(&fresh.volts) {
                    prop_assert!((volts - fresh_volts).abs() <= 1e-12 * scale(&fresh) / left);
                }
            }
        }
    }

    #[test]
    fn shorting_is_merging_nets(specs in strategies::linear(), number in 0_usize..100) {
        let whole = circuit(&specs);
        let view = PortView::new(&Assembly::new(&whole), POWERED).unwrap();
        let part = PartId((number % specs.len()) as u32);
        let port = port(&whole, part);
        let groups = joined_by_sources(&whole);
        let shorted = view.with_short(port);
        if groups[port.from] == groups[port.to] {
            prop_assert!(shorted.is_none(), "an ideal source feeds the port");
            return Ok(());
        }
        let shorted = shorted.unwrap();
        let nets = specs[part.index()].nets.clone();
        // Ground keeps its name.
        let (gone, kept) = if nets[0] == "GND" { (&nets[1], &nets[0]) } else { (&nets[0], &nets[1]) };
        let fewer = circuit(&merged(&specs, gone, kept));
        let (_, fresh) = solved(&fewer, &Overlay::none());
        let milliohm = Overlay::one(Change::Across { part, ohms: 1e-3 });
        let (_, across) = solved(&whole, &milliohm);
        let shape = view.point().shape(port.from, port.to);
        let (volts, ohms) = (view.point().between(port.from, port.to), view.resistance(port));
        let tolerance = 1e-10 * scale(&fresh).max(scale(view.point()));
        for (id, name) in whole.nets_by_id().skip(1) {
            let name = if name == gone { kept } else { name };
            let expected = fresh.volts[fewer.net(name).unwrap().index()];
            prop_assert!((shorted[id.index()] - expected).abs() <= tolerance, "{name}");
            // A milliohm moves the net less far, by its own share of the port's resistance.
            let rest = shape[id.index() - 1] * volts * (1.0 / ohms - 1.0 / (ohms + 1e-3));
            prop_assert!((across.volts[id.index()] - expected - rest).abs() <= tolerance, "{name}");
        }
    }

    #[test]
    fn passive_nets_stay_between_the_sources(specs in strategies::junctions()) {
        within_sources(&specs)?;
    }

    #[test]
    fn resistive_nets_stay_between_the_sources(specs in strategies::resistive()) {
        within_sources(&specs)?;
    }

    #[test]
    fn names_and_order_do_not_matter(
        (specs, order) in strategies::linear()
            .prop_flat_map(|specs| {
                let order: Vec<usize> = (0..specs.len()).collect();
                (Just(specs), Just(order).prop_shuffle())
            }),
    ) {
        let mut turned: Vec<Spec> = order.iter().map(|&idx| specs[idx].clone()).collect();
        for spec in &mut turned {
            spec.nets = spec.nets.each_ref().map(|net| match net.strip_prefix('n') {
                Some(number) => format!("z{number}"),
                None => net.clone(),
            });
        }
        let (one, other) = (circuit(&specs), circuit(&turned));
        let (_, point) = solved(&one, &Overlay::none());
        let (_, turned) = solved(&other, &Overlay::none());
        for (id, name) in one.nets_by_id().skip(1) {
            let found = turned.volts[other.net(&name.replace('n', "z")).unwrap().index()];
            prop_assert!((point.volts[id.index()] - found).abs() <= 1e-12 * scale(&point));
        }
    }

    #[test]
    fn warm_and_cold_starts_end_alike(
        specs in strategies::passive(),
        ends in (0_usize..100, 0_usize..100),
        ohms in log_uniform(1.0, 1e6),
    ) {
        let circuit = circuit(&specs);
        let nets = [pick(&circuit, ends.0), pick(&circuit, ends.1)];
        let (_, elsewhere) = solved(&circuit, &Overlay::one(Change::Bridge { nets, ohms }));
        let (network, cold) = solved(&circuit, &Overlay::none());
        let warm = network.solve_from(Some(&elsewhere), &Settings::default()).point.unwrap();
        for (warm, cold_volts) in warm.volts.iter().zip(&cold.volts) {
            prop_assert!((warm - cold_volts).abs() <= 1e-6 * scale(&cold), "{} {}", warm, cold_volts);
        }
    }
}

/// No net lies outside the range of the one source and ground.
fn within_sources(specs: &[Spec]) -> Result<(), TestCaseError> {
    let circuit = circuit(specs);
    let (_, point) = solved(&circuit, &Overlay::none());
    let volts = specs[0].number("volts").unwrap();
    let (low, high) = (volts.min(0.0) - 1e-6, volts.max(0.0) + 1e-6);
    for (net, volts) in point.volts.iter().enumerate() {
        prop_assert!((low..=high).contains(volts), "net {net}: {volts} outside {low}..{high}");
    }
    Ok(())
}

/// The bridge of the port view is a resistor like any other.
#[test]
fn a_bridge_is_a_resistor() {
    let mut specs = vec![
        strategies::source("V1", ["n1", "GND"], 10.0),
        resistor("R1", ["n1", "n2"], 1e3),
        resistor("R2", ["n2", "GND"], 1e3),
    ];
    let plain = circuit(&specs);
    let nets = [plain.net("n2").unwrap(), ohmhound::circuit::NetId::GROUND];
    let (_, bridged) = solved(&plain, &Overlay::one(Change::Bridge { nets, ohms: 500.0 }));
    specs.push(resistor("R3", ["n2", "GND"], 500.0));
    let (_, with) = solved(&circuit(&specs), &Overlay::none());
    approx::assert_relative_eq!(bridged.volts[2], with.volts[2], max_relative = 1e-14);
    approx::assert_relative_eq!(with.volts[2], 2.5, max_relative = 1e-14);
}
