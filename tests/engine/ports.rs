//! The port table beside the plain way: every fault laid over the circuit and solved from nothing.
//!
//! Random circuits, from ordinary ones to those with a milliohm beside a hundred megohms, with random
//! faults, alone and two at a time. What the table tells has to be right to a billionth of the
//! largest voltage; what it refuses has to be what the plain way says too.

use crate::strategies;
use std::cell::Cell;

use crate::strategies::{Spec, circuit, config, log_uniform, pick};
use ohmhound::circuit::{Change, Circuit, NetId, Overlay, POWERED, PartId};
use ohmhound::device::Law;
use ohmhound::engine::{
    Assembly, Changes, Ending, From, Port, PortTable, PortView, Reduced, Refusal, Run, Scores,
    Shunt, Site,
};
use proptest::prelude::*;
use proptest::test_runner::TestRunner;

/// What a short is solved as by the plain way, in ohms.
const SHORT: f64 = 1e-3;

/// A fault by random numbers, which fit any circuit.
#[derive(Debug, Clone)]
enum Wrong {
    Open(usize),
    Short(usize),
    Drift(usize, f64),
    Bridge([usize; 2], f64),
    Leak(usize, f64),
}

fn wrong() -> impl Strategy<Value = Wrong> {
    let number = || 0_usize..1000;
    prop_oneof![
        number().prop_map(Wrong::Open),
        number().prop_map(Wrong::Short),
        (number(), log_uniform(1e-3, 1e3)).prop_map(|(part, factor)| Wrong::Drift(part, factor)),
        ([number(), number()], log_uniform(1e-3, 1e4))
            .prop_map(|(at, ohms)| Wrong::Bridge(at, ohms)),
        (number(), log_uniform(1.0, 1e8)).prop_map(|(net, ohms)| Wrong::Leak(net, ohms)),
    ]
}

/// A fault on a circuit: the site with what is laid there, and the overlay that says the same.
fn on(circuit: &Circuit, view: &PortView, wrong: &Wrong) -> Option<(Site, Shunt, Overlay)> {
    let part_of = |number: usize| {
        let part = PartId((number % circuit.parts.len()) as u32);
        let (port, siemens, amps) = view.branch_of(part)?;
        Some((part, Site { port, part: Some(part), siemens, amps }))
    };
    let between = |nets: [NetId; 2], ohms: f64| {
        let site = Site::nets(nets[0].index(), nets[1].index());
        let change = Change::Bridge { nets, ohms };
        (nets[0] != nets[1]).then_some((site, Shunt::of(ohms), Overlay::one(change)))
    };
    match *wrong {
        Wrong::Open(number) => {
            let (part, site) = part_of(number)?;
            Some((site, site.open(), Overlay::one(Change::Removed { part })))
        }
        Wrong::Short(number) => {
            // An ideal source, too, can be shorted.
            let part = PartId((number % circuit.parts.len()) as u32);
            let [from, to] = [0, 1].map(|pin| circuit[part].pins[pin].net.index());
            let site = part_of(number).map_or_else(
                || Site { part: Some(part), ..Site::nets(from, to) },
                |(_, site)| site,
            );
            let change = Change::Across { part, ohms: SHORT };
            Some((site, Shunt::of(SHORT), Overlay::one(change)))
        }
        Wrong::Drift(number, factor) => {
            let (part, site) = part_of(number)?;
            let value = factor / site.siemens;
            let name = if site.amps == 0.0 { "value" } else { "resistance" };
            let change = Change::Parameter { part, name, value };
            // A source drifts in its resistance, with its volts as they are.
            Some((site, site.instead(value), Overlay::one(change)))
        }
        Wrong::Bridge(at, ohms) => between(at.map(|number| pick(circuit, number)), ohms),
        Wrong::Leak(number, ohms) => between([pick(circuit, number), NetId::GROUND], ohms),
    }
}

/// The largest voltage that anything could make, of the sources and of what was found.
fn largest(specs: &[Spec], run: &Run) -> f64 {
    let given = specs.iter().filter_map(|spec| spec.number("volts"));
    let found = run.point.iter().flat_map(|point| point.volts.iter().copied());
    given.chain(found).fold(0.0, |largest: f64, volts| largest.max(volts.abs()))
}

/// How often the table said what.
#[derive(Debug, Default)]
struct Count {
    told: Cell<u32>,
    floats: Cell<u32>,
    sourced: Cell<u32>,
    imprecise: Cell<u32>,
}

impl Count {
    fn add(&self, answer: &Result<Vec<f64>, Refusal>) {
        let counter = match answer {
            Ok(_) => &self.told,
            Err(Refusal::Floats) => &self.floats,
            Err(Refusal::Sourced) => &self.sourced,
            Err(Refusal::Imprecise) => &self.imprecise,
        };
        counter.set(counter.get() + 1);
    }
}

/// An answer of the port view stands beside that of the plain way.
fn same(
    answer: &Result<Vec<f64>, Refusal>,
    plain: &Run,
    (largest, drifted): (f64, bool),
) -> Result<(), TestCaseError> {
    match answer {
        Ok(volts) => {
            let Some(point) = &plain.point else {
                return Err(TestCaseError::fail(format!("the plain way: {:?}", plain.ending)));
            };
            prop_assert!(!point.floating.contains(&true), "a net floats: {volts:?}");
            for (net, (found, right)) in volts.iter().zip(&point.volts).enumerate() {
                let off = (found - right).abs();
                prop_assert!(off <= 1e-9 * largest, "net {net}: {found} and {right}");
            }
        }
        Err(Refusal::Floats) => {
            let point = plain.point.as_ref();
            prop_assert!(point.is_some_and(|point| point.floating.contains(&true)));
        }
        Err(Refusal::Sourced) => {
            // What drifted to less than an ohm across a source is no short to the plain way, which
            // finds thousands of amps.
            let contradicts = matches!(plain.ending, Ending::Contradiction { .. });
            prop_assert!(contradicts || drifted, "{:?}", plain.ending);
        }
        Err(Refusal::Imprecise) => {}
    }
    Ok(())
}

/// The table says at its places what the view says of all nets, or leaves it to the view.
fn restricted(
    of_table: &Result<Vec<f64>, Refusal>,
    of_view: &Result<Vec<f64>, Refusal>,
) -> Result<(), TestCaseError> {
    match (of_table, of_view) {
        (Ok(some), Ok(all)) => {
            for (some, all) in some.iter().zip(&all[1..]) {
                prop_assert!((some - all).abs() <= 1e-12 * (1.0 + all.abs()), "{some} {all}");
            }
        }
        // The view asks Kirchhoff as well.
        (Ok(_), Err(why)) => prop_assert_eq!(*why, Refusal::Imprecise),
        (Err(table), Err(view)) => {
            let told_by_structure = *table == Refusal::Imprecise && *view == Refusal::Floats;
            prop_assert!(table == view || told_by_structure, "{table:?} {view:?}");
        }
        (Err(why), Ok(_)) => return Err(TestCaseError::fail(format!("{why:?}"))),
    }
    Ok(())
}

fn all_places(circuit: &Circuit) -> Vec<(usize, usize)> {
    (1..circuit.nets.len()).map(|net| (net, 0)).collect()
}

/// The reduced board, which the screen of a diagnosis solves, says the same of one straight branch.
fn reduced_too(
    (assembly, site, shunt): (&Assembly<'_>, Site, Shunt),
    plain: &Run,
    largest: f64,
) -> Result<(), TestCaseError> {
    let network = assembly.network(POWERED, &Overlay::none());
    let healthy = assembly.healthy(POWERED).run.point.as_ref().unwrap();
    let reduced = Reduced::new(&network, &healthy.volts, &[]).unwrap();
    let mut changes = Changes::default();
    let own =
        network.elements.iter().position(|one| site.part.is_some() && one.part() == site.part);
    changes.list.push(match own {
        // What is taken away is gone, and what drifted stands in its place.
        Some(element) if shunt.ohms < 0.0 => {
            let left = site.siemens + 1.0 / shunt.ohms;
            let amps = if site.amps == 0.0 { 0.0 } else { left * site.emf() };
            let is_open = left.abs() <= 1e-12 * site.siemens;
            reduced.instead(element, (!is_open).then_some(Law::Line { siemens: left, amps }))
        }
        _ if shunt.volts != 0.0 => return Ok(()),
        _ => Reduced::between(site.port.from, site.port.to, Law::conductance(1.0 / shunt.ohms)),
    });
    reduced.tie(&mut changes);
    let small = reduced.solve(&changes, None, &[], (From::Near, false));
    let (Some(small), Some(point)) = (small, &plain.point) else { return Ok(()) };
    for net in 1..point.volts.len() {
        prop_assert_eq!(changes.floats(net), point.floating[net], "net {}", net);
        let off = (small.volts[net] - point.volts[net]).abs();
        // Currents are summed net by net there, and a source behind a milliohm has kiloamps in the
        // sum: good enough to screen by.
        let allowed = 1e-6 * largest;
        prop_assert!(
            point.floating[net] || off <= allowed,
            "net {net}: {} and {}",
            small.volts[net],
            point.volts[net]
        );
    }
    Ok(())
}

fn one_fault(
    specs: &[Spec],
    wrong: &Wrong,
    (count, is_ordinary): (&Count, bool),
) -> Result<(), TestCaseError> {
    let circuit = circuit(specs);
    let assembly = Assembly::new(&circuit);
    let view = PortView::new(&assembly, POWERED).unwrap();
    let Some((site, shunt, overlay)) = on(&circuit, &view, wrong) else { return Ok(()) };
    let plain = assembly.solve(POWERED, &overlay);
    let answer = view.with(site.port, shunt);
    count.add(&answer);
    let drifted = matches!(wrong, Wrong::Drift(..));
    same(&answer, &plain, (largest(specs, &plain), drifted))?;
    let table = PortTable::new(&view, vec![site], all_places(&circuit));
    restricted(&table.with(0, shunt), &answer)?;
    if is_ordinary {
        reduced_too((&assembly, site, shunt), &plain, largest(specs, &plain))?;
    }
    Ok(())
}

fn two_faults(specs: &[Spec], wrong: &[Wrong; 2], count: &Count) -> Result<(), TestCaseError> {
    let circuit = circuit(specs);
    let assembly = Assembly::new(&circuit);
    let view = PortView::new(&assembly, POWERED).unwrap();
    let [one, other] = wrong.each_ref().map(|wrong| on(&circuit, &view, wrong));
    let (Some(one), Some(other)) = (one, other) else { return Ok(()) };
    // One part fails in one way.
    if one.0.part.is_some() && one.0.part == other.0.part {
        return Ok(());
    }
    let changes = one.2.changes.iter().chain(&other.2.changes).cloned().collect();
    let plain = assembly.solve(POWERED, &Overlay { changes });
    let answer = view.with_both([(one.0.port, one.1), (other.0.port, other.1)]);
    count.add(&answer);
    let drifted = wrong.iter().any(|wrong| matches!(wrong, Wrong::Drift(..)));
    same(&answer, &plain, (largest(specs, &plain), drifted))?;
    let table = PortTable::new(&view, vec![one.0, other.0], all_places(&circuit));
    restricted(&table.with_both([(0, one.1), (1, other.1)]), &answer)
}

fn run<T: std::fmt::Debug>(
    (cases, seed): (u32, u64),
    strategy: impl Strategy<Value = T>,
    test: impl Fn(T) -> Result<(), TestCaseError>,
) {
    if let Err(failure) = TestRunner::new(config(cases, seed)).run(&strategy, test) {
        panic!("{failure}");
    }
}

#[test]
fn a_fault_of_an_ordinary_board_is_that_of_a_solve_from_nothing() {
    let count = Count::default();
    run((3000, 71), (strategies::ordinary(), wrong()), |(specs, wrong)| {
        one_fault(&specs, &wrong, (&count, true))
    });
    // Nearly every fault is told, and all that can be told apart from being imprecise happened.
    assert!(
        count.told.get() > 1000 && count.floats.get() > 50 && count.sourced.get() > 10,
        "{count:?}"
    );
    assert!(count.imprecise.get() * 25 < count.told.get(), "{count:?}");
}

#[test]
fn a_fault_of_a_wild_board_is_that_of_a_solve_from_nothing() {
    let count = Count::default();
    run((2000, 72), (strategies::linear(), wrong()), |(specs, wrong)| {
        one_fault(&specs, &wrong, (&count, false))
    });
    assert!(
        count.told.get() > 500 && count.floats.get() > 50 && count.sourced.get() > 10,
        "{count:?}"
    );
}

#[test]
fn two_faults_of_an_ordinary_board_are_those_of_a_solve_from_nothing() {
    let count = Count::default();
    run((3000, 73), (strategies::ordinary(), [wrong(), wrong()]), |(specs, wrong)| {
        two_faults(&specs, &wrong, &count)
    });
    assert!(
        count.told.get() > 1000 && count.floats.get() > 50 && count.sourced.get() > 10,
        "{count:?}"
    );
    assert!(count.imprecise.get() * 10 < count.told.get(), "{count:?}");
}

#[test]
fn two_faults_of_a_wild_board_are_those_of_a_solve_from_nothing() {
    let count = Count::default();
    run((2000, 74), (strategies::linear(), [wrong(), wrong()]), |(specs, wrong)| {
        two_faults(&specs, &wrong, &count)
    });
    assert!(count.told.get() > 300, "{count:?}");
}

/// A board with every part a port, every net read, and readings of two of its faults.
fn screened(specs: &[Spec], wrong: &[Wrong; 2]) -> Result<(), TestCaseError> {
    let circuit = circuit(specs);
    let assembly = Assembly::new(&circuit);
    let view = PortView::new(&assembly, POWERED).unwrap();
    let parts = circuit.parts_by_id().map(|(id, _)| id);
    let table = PortTable::of_parts(&view, parts, all_places(&circuit));
    let faults: Vec<(usize, Shunt)> = (0..table.sites().len())
        .flat_map(|site| {
            let own = table.sites()[site];
            let drifted = own.instead(2.0 / own.siemens);
            [own.open(), Shunt::of(SHORT), drifted].map(|shunt| (site, shunt))
        })
        .collect();
    // What is read: the board with two faults, as far as it has an answer.
    let [one, other] = wrong.each_ref().map(|wrong| on(&circuit, &view, wrong));
    let (Some(one), Some(other)) = (one, other) else { return Ok(()) };
    let Ok(volts) = view.with_both([(one.0.port, one.1), (other.0.port, other.1)]) else {
        return Ok(());
    };
    let readings = &volts[1..];
    let standard: Vec<f64> = readings.iter().map(|volts| 1e-3 + 1e-3 * volts.abs()).collect();
    let scores = Scores::new(&table, readings, &standard);

    // One at a time, all at once and by the plain sum.
    let plain = |volts: &[f64]| -> f64 {
        let off = volts.iter().zip(readings.iter().zip(&standard));
        off.map(|(volts, (reading, standard))| ((reading - volts) / standard).powi(2)).sum()
    };
    // Rounding counts by the largest distance that anything has.
    let near =
        |found: f64, right: f64| (found - right).abs() <= 1e-9 * (scores.healthy() + right) + 1e-6;
    let singles: Vec<(usize, f64)> =
        faults.iter().map(|&(site, shunt)| (site, shunt.ohms)).collect();
    let mut all = vec![0.0; faults.len()];
    scores.all(&singles, &mut all);
    for (&(site, shunt), all) in faults.iter().zip(all) {
        let Ok(volts) = table.with(site, shunt) else { continue };
        let found = scores.of(site, shunt).unwrap();
        prop_assert!(near(found, plain(&volts)), "{found} {}", plain(&volts));
        if table.sites()[site].amps == 0.0 {
            prop_assert!(near(all, found), "{all} {found}");
        }
        // No value of a port leaves less than the one that fits best.
        if let Some(best) = scores.fitted(site)
            && shunt.volts == table.sites()[site].emf()
        {
            prop_assert!(best.chi_square <= found + 1e-9 * (scores.healthy() + found) + 1e-6);
            let at_best = table.sites()[site].instead(best.ohms);
            if let Ok(again) = scores.of(site, at_best) {
                prop_assert!(near(again, best.chi_square), "{again} {best:?}");
            }
        }
    }

    // Every pair, by the screen and by itself.
    let n = faults.len();
    let found = scores.best_pairs(&faults, n * n);
    for pair in &found.best {
        let [one, other] = [pair.one, pair.other].map(|place| faults[place]);
        prop_assert!(one.0 != other.0);
        let volts = table.with_both([one, other]);
        let Ok(volts) = volts else {
            return Err(TestCaseError::fail(format!("{pair:?}: {volts:?}")));
        };
        // Put together from products, it is for screening.
        let (found, right) = (pair.chi_square, plain(&volts));
        let allowed = 1e-6 * (scores.healthy() + right) + 1e-6;
        prop_assert!((found - right).abs() <= allowed, "{pair:?} {right}");
        let least = scores.least_of_both(one.0, other.0);
        prop_assert!(least <= pair.chi_square + 1e-9 * (scores.healthy() + pair.chi_square) + 1e-6);
    }
    for &(one, other) in &found.untold {
        prop_assert!(table.with_both([faults[one], faults[other]]).is_err());
    }
    prop_assert_eq!(found.best.len() + found.untold.len(), found.screened);
    // A short list holds the best of the long one.
    let few = scores.best_pairs(&faults, 7);
    prop_assert_eq!(&few.best[..], &found.best[..few.best.len()]);
    prop_assert_eq!(few.best.len(), found.best.len().min(7));

    // Solved again, the best leave the same.
    let again =
        scores.rechecked(&assembly, POWERED, &faults, &few.best, (readings, &standard, SHORT));
    for pair in again {
        let known =
            few.best.iter().find(|known| (known.one, known.other) == (pair.one, pair.other));
        let known = known.unwrap().chi_square;
        prop_assert!(
            (known - pair.chi_square).abs() <= 1e-6 * (scores.healthy() + known) + 1e-6,
            "{known} {pair:?}"
        );
    }
    Ok(())
}

#[test]
fn the_screen_of_all_pairs_is_that_of_each_by_itself() {
    run((300, 75), (strategies::ordinary(), [wrong(), wrong()]), |(specs, wrong)| {
        screened(&specs, &wrong)
    });
}

/// R. M. Foster, "The average impedance of an electrical network", 1949 (from memory): conductance
/// times port resistance, summed over a net of resistances, is its nets less one.
#[test]
fn fosters_sum_of_the_table_counts_the_nets() {
    run((300, 76), strategies::resistive(), |specs| {
        let circuit = circuit(&specs);
        let view = PortView::new(&Assembly::new(&circuit), POWERED).unwrap();
        let parts = circuit.parts_by_id().map(|(id, _)| id);
        let table = PortTable::of_parts(&view, parts, Vec::new());
        let sum: f64 = (0..table.sites().len())
            .map(|site| table.sites()[site].siemens * table.line(site).ohms)
            .sum();
        // The source makes one net of two.
        let expected = circuit.nets.len() as f64 - 2.0;
        prop_assert!((sum - expected).abs() <= 1e-9 * expected.max(1.0), "{sum} {expected}");
        Ok(())
    });
}

/// Slopes of the readings beside the change that a small change of each conductance makes.
#[test]
fn sensitivities_of_the_table_are_small_changes() {
    run((200, 77), strategies::ordinary(), |specs| {
        let circuit = circuit(&specs);
        let view = PortView::new(&Assembly::new(&circuit), POWERED).unwrap();
        let parts = circuit.parts_by_id().map(|(id, _)| id);
        let table = PortTable::of_parts(&view, parts, all_places(&circuit));
        for site in (0..table.sites().len()).filter(|site| table.sites()[*site].amps == 0.0) {
            let Port { from, to } = table.sites()[site].port;
            let step = 1e-6 * table.sites()[site].siemens;
            let there = view.with(Port { from, to }, Shunt::of(1.0 / step)).unwrap();
            let back = view.with(Port { from, to }, Shunt::of(-1.0 / step)).unwrap();
            for (place, slope) in table.sensitivity(site).enumerate() {
                let measured = (there[place + 1] - back[place + 1]) / (2.0 * step);
                // Rounding of volts counts by the step.
                let allowed = 1e-12 * 30.0 / step + 1e-5 * slope.abs();
                prop_assert!((measured - slope).abs() <= allowed, "{measured} {slope}");
            }
        }
        Ok(())
    });
}

#[test]
fn what_no_table_can_tell_is_said() {
    let specs = [
        strategies::source("V1", ["IN", "GND"], 12.0),
        strategies::resistor("R1", ["IN", "OUT"], 1e3),
        strategies::resistor("R2", ["OUT", "GND"], 2e3),
        strategies::resistor("R3", ["OUT", "END"], 3e3),
        strategies::resistor("R4", ["OUT", "END"], 6e3),
    ];
    let circuit = circuit(&specs);
    let view = PortView::new(&Assembly::new(&circuit), POWERED).unwrap();
    let nets = |from: &str, to: &str| Port {
        from: strategies::net(&circuit, from),
        to: strategies::net(&circuit, to),
    };
    assert_eq!(view.with(nets("IN", "GND"), Shunt::of(SHORT)), Err(Refusal::Sourced));
    // R3 and R4 hold END together: one may go, both may not.
    let end = nets("END", "OUT");
    assert!(view.with(end, Shunt::open(3e3)).is_ok());
    assert_eq!(view.with(end, Shunt::open(2e3)), Err(Refusal::Floats));
    let both = [(end, Shunt::open(3e3)), (nets("OUT", "END"), Shunt::open(6e3))];
    assert_eq!(view.with_both(both), Err(Refusal::Floats));
    // With a bridge to ground END has another way: too few digits, but nothing floats.
    assert_eq!(view.with(end, Shunt::open(2e3 * (1.0 + 1e-7))), Err(Refusal::Imprecise));
    // A board with a curve, and one whose net hangs in the air, have no view.
    let mut with_diode = specs.to_vec();
    with_diode.push(strategies::part("D1", "diode", ["OUT", "GND"]));
    assert!(PortView::new(&Assembly::new(&strategies::circuit(&with_diode)), POWERED).is_none());
}
