//! A fault on a board with ten junctions, solved on the board that is reduced to its junction ports,
//! beside the same fault laid over the circuit and solved from nothing.
//!
//! Claims: at least twenty times as fast at 50 nets, with the same volts to a microvolt; Newton's
//! method allocates nothing: more of its steps from a start that is further off make no difference.

#[path = "../tests/chance/mod.rs"]
mod chance;
mod measure;

use measure::boards::with_junctions;
use measure::{Measure, Report, exact, exponent, memory, share};
use ohmhound::circuit::{Change, Circuit, Overlay, POWERED, PartId};
use ohmhound::device::Law;
use ohmhound::engine::{Assembly, Changes, From, Network, OperatingPoint, Reduced};

/// Nets of the boards.
const LADDER: [usize; 3] = [20, 50, 100];
/// Boards with transistors go no further: at a hundred nets they take a second from nothing.
const MOST_WITH_TRANSISTORS: usize = 50;
/// Nets that the claim is about.
const CLAIMED: usize = 50;
/// Faults on each board.
const FAULTS: usize = 24;

/// A fault both ways.
struct Fault {
    overlay: Overlay,
    changes: Changes,
}

fn main() {
    let mut measure = Measure::new("junction-ports");
    let mut report = Report::default();
    for transistors in [false, true] {
        let kind = if transistors { "six diodes, two transistors" } else { "ten diodes" };
        let mut points = Vec::new();
        let most = if transistors { MOST_WITH_TRANSISTORS } else { usize::MAX };
        for nets in LADDER.into_iter().filter(|nets| *nets <= most) {
            let circuit = with_junctions(5, nets, 2 * nets, transistors);
            let assembly = Assembly::new(&circuit);
            let network = assembly.network(POWERED, &Overlay::none());
            let healthy = assembly.healthy(POWERED).run.point.clone().expect("an operating point");
            let reduced = Reduced::new(&network, &healthy.volts, &[]).expect("a reduced board");
            let faults = faults(&circuit, &network, &reduced);
            let (faults, furthest, steps) = told(&assembly, &reduced, &healthy, faults);
            let count = faults.len() as f64;

            let full = measure
                .time_slowly(&format!("full-{}-{nets}", u8::from(transistors)), || {
                    for fault in &faults {
                        std::hint::black_box(assembly.solve(POWERED, &fault.overlay));
                    }
                })
                .over(count);
            let run = || {
                for fault in &faults {
                    std::hint::black_box(solved(&reduced, &healthy, fault));
                }
            };
            let small =
                measure.time(&format!("reduced-{}-{nets}", u8::from(transistors)), run).over(count);
            let mut per_fault = memory(run);
            per_fault.allocations /= faults.len() as u64;
            report.row(format!("{nets} nets, {kind}: from nothing"), full);
            report.row(format!("{nets} nets, {kind}: reduced"), small).beside(full).with(per_fault);
            points.push((nets as f64, small));
            if nets == CLAIMED {
                let claim = format!("{kind}, {} faults, {steps:.1} curves awake", faults.len());
                report.at_least(&claim, full.ratio(small), 20.0, share);
                let [near, far] = allocations(&network, &reduced, &healthy, &faults);
                let claim = "allocations by steps from a start that is far off";
                report.at_most(claim, exact(far - near), 0.0, share);
                report.at_most("volts apart at most", exact(furthest), 1e-6, |volts| {
                    format!("{volts:.1e} V")
                });
            }
        }
        if !transistors {
            report.at_most("exponent of growth with the nets", exponent(&points), 1.2, share);
        }
    }
    report.print();
}

fn solved(
    reduced: &Reduced,
    healthy: &OperatingPoint,
    fault: &Fault,
) -> Option<ohmhound::engine::Small> {
    let Fault { changes, .. } = fault;
    reduced.solve(changes, Some(&healthy.volts), &[], (From::Afar, false))
}

/// Allocations of all faults, with every junction in the system, from the healthy volts and from
/// others.
fn allocations(
    network: &Network,
    reduced: &Reduced,
    healthy: &OperatingPoint,
    faults: &[Fault],
) -> [f64; 2] {
    let junctions: Vec<usize> =
        (0..network.elements.len()).filter(|at| !network.elements[*at].law.is_linear()).collect();
    let moved: Vec<f64> = healthy.volts.iter().map(|volts| 0.7 * volts).collect();
    [&healthy.volts, &moved].map(|start| {
        let run = || {
            for Fault { changes, .. } in faults {
                reduced.solve(changes, Some(start), &junctions, (From::Afar, false));
            }
        };
        memory(run).allocations as f64
    })
}

/// Resistors open, shorted and drifted, junctions open and shorted, in turn.
fn faults(circuit: &Circuit, network: &Network, reduced: &Reduced) -> Vec<Fault> {
    let one_of = |part: PartId| {
        let mut own = (0..network.elements.len())
            .filter(|element| network.elements[*element].part() == Some(part));
        own.next().filter(|_| own.next().is_none())
    };
    let mut found = Vec::new();
    for (part, data) in circuit.parts_by_id().skip(1) {
        let Some(element) = one_of(part) else { continue };
        let law = network.elements[element].law.clone();
        let with = |list| {
            let mut changes = Changes::default();
            changes.list = list;
            reduced.tie(&mut changes);
            changes
        };
        let ((from, to), _) = reduced.ends(element);
        let across = Reduced::between(from, to, Law::conductance(1e3));
        let short = Fault {
            overlay: Overlay::one(Change::Across { part, ohms: 1e-3 }),
            changes: with(vec![across]),
        };
        let open = Fault {
            overlay: Overlay::one(Change::Removed { part }),
            changes: with(vec![reduced.instead(element, None)]),
        };
        match (law, found.len() % 3) {
            (Law::Line { siemens, .. }, 2) if data.kind == "resistor" => found.push(Fault {
                overlay: Overlay::one(Change::Parameter {
                    part,
                    name: "value",
                    value: 2.0 / siemens,
                }),
                changes: with(vec![
                    reduced.instead(element, Some(Law::conductance(siemens / 2.0))),
                ]),
            }),
            (_, 0) => found.push(open),
            _ => found.push(short),
        }
    }
    // Spread over the board, junctions at the end of the list among them.
    let step = (found.len() / FAULTS).max(1);
    found.into_iter().rev().step_by(step).take(FAULTS).collect()
}

/// The faults that both ways tell, how far their volts are apart at most, and how many curves left
/// their lines on average.
fn told(
    assembly: &Assembly<'_>,
    reduced: &Reduced,
    healthy: &OperatingPoint,
    faults: Vec<Fault>,
) -> (Vec<Fault>, f64, f64) {
    let (mut furthest, mut awake) = (0.0_f64, 0);
    let count = faults.len();
    let kept: Vec<Fault> = faults
        .into_iter()
        .filter(|fault| {
            let Some(small) = solved(reduced, healthy, fault) else { return false };
            let Some(point) = assembly.solve(POWERED, &fault.overlay).point else { return false };
            let nets = small.volts.iter().zip(&point.volts).zip(&point.floating);
            let apart = nets
                .filter(|(_, floating)| !**floating)
                .map(|((one, other), _)| (one - other).abs())
                .fold(0.0, f64::max);
            furthest = furthest.max(apart);
            awake += small.awake.len();
            true
        })
        .collect();
    // A bench of what is easy alone would be no bench.
    assert!(kept.len() * 10 >= count * 9, "{} of {count}", kept.len());
    let awake = awake as f64 / kept.len() as f64;
    (kept, furthest, awake)
}
