//! Groups of candidates that the readings do not tell apart, against brute force: the node
//! equations solved here, once per candidate.
//!
//! Any value of one resistor moves all volts along one line, whose direction is the resistor's port
//! shape u (A. S. Householder, "A survey of some closed methods for inverting matrices", J. SIAM 5,
//! 1957, the rank-one case): with one setup and one excitation, two resistors can stand for each
//! other where their shapes are parallel at the nets read, and only as far as their values reach.

use std::collections::BTreeSet;

use crate::chance::Chance;
use ohmhound::circuit::{
    Change, Circuit, Input, Meter, Observed, Overlay, POWERED, PartId, Place, Quantity, Reading,
    Spot,
};
use ohmhound::device::two_pin;
use ohmhound::diagnosis::{Diagnosis, Verdict, chi_square_99, diagnose};
use ohmhound::engine::Assembly;
use ohmhound::fault::{Evidence, Fault, hypotheses};

/// A source and resistors, none with a tolerance.
#[derive(Debug, Clone)]
struct Net {
    /// Number of nets, ground (0) included; the source drives net 1.
    n: usize,
    volts: f64,
    /// Ends and ohms.
    resistors: Vec<(usize, usize, f64)>,
}

impl Net {
    fn circuit(&self) -> Circuit {
        let mut circuit = Circuit::new("net", "GND");
        let name = |net: usize| if net == 0 { "GND".to_owned() } else { format!("N{net}") };
        let params = [("volts", self.volts), ("resistance", 0.0)];
        two_pin(&mut circuit, "V1", "supply", ["N1", "GND"], &params).unwrap();
        for (idx, (a, b, ohms)) in self.resistors.iter().enumerate() {
            let (part, nets) = (format!("R{}", idx + 1), [name(*a), name(*b)]);
            let nets = [nets[0].as_str(), nets[1].as_str()];
            two_pin(&mut circuit, &part, "resistor", nets, &[("value", *ohms)]).unwrap();
        }
        circuit
    }

    /// Part numbers: the source is 0, then the resistors.
    fn part(resistor: usize) -> PartId {
        PartId(resistor as u32 + 1)
    }

    /// Volts of all nets by plain elimination, and the inverse of the node equations; `None`
    /// where a net hangs in the air.
    fn solve(&self, siemens: &[(usize, usize, f64)], volts: f64) -> Option<(Vec<f64>, Matrix)> {
        let m = self.n - 2;
        let mut rows = vec![vec![0.0; 2 * m]; m];
        let mut right = vec![0.0; m];
        for &(a, b, g) in siemens {
            for (own, other) in [(a, b), (b, a)] {
                if own < 2 {
                    continue;
                }
                rows[own - 2][own - 2] += g;
                match other {
                    0 => {}
                    1 => right[own - 2] += g * volts,
                    _ => rows[own - 2][other - 2] -= g,
                }
            }
        }
        let scale = rows.iter().enumerate().map(|(idx, row)| row[idx]).fold(0.0, f64::max);
        for (idx, row) in rows.iter_mut().enumerate() {
            row[m + idx] = 1.0;
        }
        for pivot in 0..m {
            if rows[pivot][pivot] < 1e-12 * scale {
                return None;
            }
            let factor = 1.0 / rows[pivot][pivot];
            rows[pivot].iter_mut().for_each(|value| *value *= factor);
            let own = rows[pivot].clone();
            for (idx, row) in rows.iter_mut().enumerate() {
                let factor = row[pivot];
                if idx != pivot {
                    row.iter_mut().zip(&own).for_each(|(value, own)| *value -= factor * own);
                }
            }
        }
        let inverse: Matrix = rows.iter().map(|row| row[m..].to_vec()).collect();
        let mut found = vec![0.0, volts];
        found.extend(inverse.iter().map(|row| {
            row.iter().zip(&right).map(|(inverse, right)| inverse * right).sum::<f64>()
        }));
        Some((found, inverse))
    }

    fn siemens(&self) -> Vec<(usize, usize, f64)> {
        self.resistors.iter().map(|&(a, b, ohms)| (a, b, 1.0 / ohms)).collect()
    }

    /// Volts of all nets with a change laid over, where that is one of resistances or the source.
    fn changed(&self, overlay: &Overlay) -> Option<Vec<f64>> {
        let (mut siemens, mut volts) = (self.siemens(), self.volts);
        for change in &overlay.changes {
            let number = |part: PartId| (part.0 > 0).then(|| part.index() - 1);
            match *change {
                // Without its source nothing stands on any net.
                Change::Removed { part: PartId(0) } => volts = 0.0,
                Change::Removed { part } => siemens[number(part)?].2 = 0.0,
                Change::Across { part, ohms } => {
                    let (a, b, _) = siemens[number(part)?];
                    siemens.push((a, b, 1.0 / ohms));
                }
                Change::Parameter { part, name: "value", value } => {
                    siemens[number(part)?].2 = 1.0 / value;
                }
                Change::Parameter { part: PartId(0), name: "volts", value } => volts = value,
                Change::Reversed { part: PartId(0) } => volts = -volts,
                Change::Bridge { nets, ohms } => {
                    siemens.push((nets[0].index(), nets[1].index(), 1.0 / ohms));
                }
                Change::Exchanged { parts: [a, b] } => {
                    let (a, b) = (number(a)?, number(b)?);
                    let kept = siemens[a].2;
                    siemens[a].2 = siemens[b].2;
                    siemens[b].2 = kept;
                }
                _ => return None,
            }
        }
        // What hangs in the air is pulled to ground by the meter.
        let mut reached = vec![false; self.n];
        (reached[0], reached[1]) = (true, true);
        for _ in 0..self.n {
            for &(a, b, g) in &siemens {
                if g > 0.0 && (reached[a] || reached[b]) {
                    (reached[a], reached[b]) = (true, true);
                }
            }
        }
        siemens.extend((0..self.n).filter(|net| !reached[*net]).map(|net| (0, net, 1.0)));
        Some(self.solve(&siemens, volts)?.0)
    }

    /// The port shape of two nets, at all nets from 2 on.
    fn shape(inverse: &Matrix, (a, b): (usize, usize)) -> Vec<f64> {
        let at = |row: &Vec<f64>, net: usize| if net < 2 { 0.0 } else { row[net - 2] };
        inverse.iter().map(|row| at(row, a) - at(row, b)).collect()
    }
}

type Matrix = Vec<Vec<f64>>;

/// A meter that does not load and is off by this many volts, evenly.
fn readings(circuit: &Circuit, volts: &[f64], half_width: f64) -> Vec<Reading> {
    let mut meter = Meter::default();
    meter.volts.input = Input::Ohms(1e15);
    circuit
        .nets_by_id()
        .skip(2)
        .map(|(net, name)| Reading {
            setup: POWERED,
            quantity: Quantity::Volts,
            place: Place::At(Spot::Net(net)),
            place_text: name.to_owned(),
            observed: Observed::Number {
                value: volts[net.index()],
                count: 1e-12,
                half_width: Some(half_width),
            },
            meter,
        })
        .collect()
}

/// A random net: every net hangs on an earlier one by a resistor, and some more join nets that are
/// not joined yet.
fn random(chance: &mut Chance) -> Net {
    let n = 4 + (chance.share() * 4.0) as usize;
    let mut resistors: Vec<(usize, usize, f64)> = Vec::new();
    let ohms = |chance: &mut Chance| 100.0 * 10.0_f64.powf(3.0 * chance.share());
    for net in 2..n {
        let to = (chance.share() * net as f64) as usize;
        resistors.push((to.max(1), net, ohms(chance)));
    }
    for _ in 0..n + 1 {
        let (a, b) = ((chance.share() * n as f64) as usize, (chance.share() * n as f64) as usize);
        let (a, b) = (a.min(b), a.max(b));
        let known = resistors.iter().any(|&(c, d, _)| (c.min(d), c.max(d)) == (a, b));
        // What lies across the source moves nothing.
        if a != b && !known && (a, b) != (0, 1) {
            resistors.push((a, b, ohms(chance)));
        }
    }
    Net { n, volts: 10.0, resistors }
}

/// A partition as a set of sets.
fn sets<T: Ord + Copy>(members: &[(T, usize)]) -> BTreeSet<BTreeSet<T>> {
    let groups: BTreeSet<usize> = members.iter().map(|(_, group)| *group).collect();
    groups
        .into_iter()
        .map(|group| {
            members.iter().filter(|(_, own)| *own == group).map(|(member, _)| *member).collect()
        })
        .collect()
}

/// Candidates of equal predictions by the meter's own uncertainty, joined through each other.
fn brute_force(net: &Net, diagnosis: &Diagnosis, deviation: f64) -> Vec<(usize, usize)> {
    let kept: Vec<(usize, Vec<f64>)> = diagnosis
        .candidates
        .iter()
        .filter(|one| one.verdict != Verdict::Excluded)
        .filter(|one| !one.fault.is_misread())
        .map(|one| (one.hypothesis, net.changed(&one.overlay).expect("a change of resistances")))
        .collect();
    let mut group: Vec<usize> = (0..kept.len()).collect();
    let limit = chi_square_99(net.n - 2);
    // Spread the lowest number until nothing changes.
    loop {
        let mut changed = false;
        for a in 0..kept.len() {
            for b in 0..kept.len() {
                let apart: f64 = (2..net.n)
                    .map(|at| ((kept[a].1[at] - kept[b].1[at]) / deviation).powi(2))
                    .sum();
                if apart <= limit && group[b] > group[a] {
                    group[b] = group[a];
                    changed = true;
                }
            }
        }
        if !changed {
            break;
        }
    }
    kept.iter().zip(group).map(|((hypothesis, _), group)| (*hypothesis, group)).collect()
}

/// On 1,000 random nets, each with one resistor drifted, the groups of all candidates that are not
/// excluded are those of brute force.
#[test]
fn groups_are_those_of_brute_force() {
    let mut chance = Chance::new(4);
    let half_width = 0.02;
    let mut members = 0;
    for number in 0..1000 {
        let net = random(&mut chance);
        let circuit = net.circuit();
        let part = (chance.share() * net.resistors.len() as f64) as usize;
        let factor = 10.0_f64.powf(2.0 * chance.side());
        let value = net.resistors[part].2 * factor;
        let fault = Change::Parameter { part: Net::part(part), name: "value", value };
        let volts = net.changed(&Overlay::one(fault)).expect("volts");
        let assembly = Assembly::new(&circuit);
        let diagnosis = diagnose(&assembly, &readings(&circuit, &volts, half_width), &[]);
        let ours: Vec<(usize, usize)> = diagnosis
            .candidates
            .iter()
            .filter(|one| !one.fault.is_misread())
            .filter_map(|one| Some((one.hypothesis, one.group?)))
            .collect();
        let theirs = brute_force(&net, &diagnosis, half_width / 3.0_f64.sqrt());
        assert_eq!(sets(&ours), sets(&theirs), "net {number}: {net:?}");
        members += ours.len();
    }
    // The nets are small and the meter is coarse: most nets have a group of several.
    assert!(members > 4000, "{members}");
}

/// The parts whose drift (or leak) reproduces readings together with the drift of `part`.
fn stand_ins(net: &Net, part: usize, factor: f64) -> BTreeSet<usize> {
    let circuit = net.circuit();
    let value = net.resistors[part].2 * factor;
    let fault = Change::Parameter { part: Net::part(part), name: "value", value };
    let volts = net.changed(&Overlay::one(fault)).expect("volts");
    let assembly = Assembly::new(&circuit);
    let diagnosis = diagnose(&assembly, &readings(&circuit, &volts, 1e-5), &[]);
    let list = hypotheses(&circuit, &Evidence::default());
    let own = |one: &usize| Net::part(*one);
    (0..net.resistors.len())
        .filter(|other| {
            let drifted = Fault::Drifted(own(other), "value", None);
            diagnosis.candidates.iter().any(|one| {
                one.verdict == Verdict::Reproduces
                    && one.hypothesis < list.len()
                    && list[one.hypothesis].causes.iter().any(|cause| cause.fault == drifted)
            })
        })
        .collect()
}

/// The ladder 10 V – R1 1k – n1; R2 2k n1–n2; R3 3k n2–ground; R4 4k n1–ground; R5 5k n2–ground:
/// at part level exactly three groups, {R1, R4}, {R2}, {R3, R5}, worked out by hand from Kirchhoff's
/// current law.
#[test]
fn the_ladder_has_three_groups() {
    let resistors = vec![(1, 2, 1e3), (2, 3, 2e3), (0, 3, 3e3), (0, 2, 4e3), (0, 3, 5e3)];
    let ladder = Net { n: 4, volts: 10.0, resistors };
    for (part, group) in [(0, vec![0, 3]), (1, vec![1]), (2, vec![2, 4]), (3, vec![0, 3])] {
        for factor in [0.8, 1.5] {
            let found = stand_ins(&ladder, part, factor);
            assert_eq!(found, group.iter().copied().collect(), "R{} × {factor}", part + 1);
        }
    }
    // R4 open is R1 drifted to 32/63 kΩ, and R5 open is R3 drifted to 7.5 kΩ: exact twins.
    for (part, twin, value) in [(3, 0, 32e3 / 63.0), (4, 2, 7.5e3)] {
        let open =
            ladder.changed(&Overlay::one(Change::Removed { part: Net::part(part) })).unwrap();
        let drift = Change::Parameter { part: Net::part(twin), name: "value", value };
        let drifted = ladder.changed(&Overlay::one(drift)).unwrap();
        for (a, b) in open.iter().zip(&drifted) {
            approx::assert_relative_eq!(a, b, max_relative = 1e-12);
        }
        let circuit = ladder.circuit();
        let assembly = Assembly::new(&circuit);
        let diagnosis = diagnose(&assembly, &readings(&circuit, &open, 1e-5), &[]);
        let group = |fault: &dyn Fn(&Fault) -> bool| {
            let one = diagnosis.candidates.iter().find(|one| fault(&one.causes[0]));
            one.and_then(|one| one.group)
        };
        let opened = group(&|fault| *fault == Fault::Open(Net::part(part)));
        let twin_of = |fault: &Fault| {
            matches!(*fault, Fault::Drifted(id, "value", Some(ohms))
                if id == Net::part(twin) && (ohms / value - 1.0).abs() < 1e-3)
        };
        assert!(opened.is_some());
        assert_eq!(opened, group(&twin_of), "R{} open", part + 1);
    }
}

/// The value of resistor `b` that moves all volts as `factor` times resistor `a` does, where their
/// shapes are parallel; and the sine of the angle between the shapes.
fn twin(net: &Net, a: usize, b: usize, factor: f64) -> (f64, f64) {
    let (volts, inverse) = net.solve(&net.siemens(), net.volts).expect("volts");
    let ends = |part: usize| (net.resistors[part].0, net.resistors[part].1);
    let [u, w] = [a, b].map(|part| Net::shape(&inverse, ends(part)));
    let dot = |x: &[f64], y: &[f64]| x.iter().zip(y).map(|(x, y)| x * y).sum::<f64>();
    let along = dot(&u, &w) / dot(&w, &w);
    let rest: f64 = u.iter().zip(&w).map(|(u, w)| (u - along * w).powi(2)).sum();
    let sine = (rest / dot(&u, &u)).sqrt();
    // x' = x − u·s with s = v/(1/d + r), d the added conductance: b has to make along·s.
    let across = |shape: &[f64], (a, b): (usize, usize)| {
        let at = |net: usize| if net < 2 { 0.0 } else { shape[net - 2] };
        at(a) - at(b)
    };
    let drop = |(a, b): (usize, usize)| volts[a] - volts[b];
    let added = (1.0 / factor - 1.0) / net.resistors[a].2;
    let moved = drop(ends(a)) / (1.0 / added + across(&u, ends(a)));
    let wanted = drop(ends(b)) / (along * moved) - across(&w, ends(b));
    (sine, 1.0 / (1.0 / net.resistors[b].2 + 1.0 / wanted))
}

/// Two resistors stand for each other exactly where their shapes at the nets read are parallel and
/// the value that the other would need is one that it can have.
#[test]
fn parts_stand_for_each_other_where_their_shapes_are_parallel() {
    let mut chance = Chance::new(9);
    let (mut pairs, mut parallel, mut out_of_reach) = (0, 0, 0);
    for number in 0..300 {
        let net = random(&mut chance);
        let a = (chance.share() * net.resistors.len() as f64) as usize;
        let factor = if chance.share() < 0.5 { 0.7 } else { 1.6 };
        let (volts, _) = net.solve(&net.siemens(), net.volts).expect("volts");
        let (from, to, _) = net.resistors[a];
        // A part that hardly carries current moves nothing.
        if (volts[from] - volts[to]).abs() < 0.3 {
            continue;
        }
        let found = stand_ins(&net, a, factor);
        assert!(found.contains(&a), "net {number}: {net:?}");
        for b in (0..net.resistors.len()).filter(|b| *b != a) {
            let (from, to, ohms) = net.resistors[b];
            let (sine, value) = twin(&net, a, b, factor);
            // Nearly parallel, or nearly at the end of the line: not told by this meter.
            let share = value / ohms;
            let in_reach = share > 2e-3 && share < 500.0;
            let near = sine > 1e-9 && sine < 1e-2;
            if near || (sine <= 1e-9 && !in_reach && share > 0.0) {
                continue;
            }
            if (volts[from] - volts[to]).abs() < 1e-6 {
                continue;
            }
            pairs += 1;
            let expected = sine <= 1e-9 && in_reach;
            parallel += usize::from(expected);
            out_of_reach += usize::from(sine <= 1e-9 && !in_reach);
            assert_eq!(
                found.contains(&b),
                expected,
                "net {number}, R{} for R{}: sine {sine:e}, value {value}: {net:?}",
                b + 1,
                a + 1
            );
        }
    }
    assert!(pairs > 500 && parallel > 50, "{pairs} {parallel} {out_of_reach}");
}
