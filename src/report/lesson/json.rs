//! A lesson as JSON.

use serde_json::{Map, Value, json};

use super::equations::{Mode, Writer};
use crate::circuit::Circuit;
use crate::report::json::{VERSION, number};
use crate::study::lesson::{Assumed, Lesson, Looked, Role, Round, Row, Shortcut, Unknown};

/// A lesson as JSON: numbers in SI units, equations as text.
#[must_use]
pub fn lesson_json(circuit: &Circuit, lesson: &Lesson) -> Value {
    let unknown = |one: &Unknown| match *one {
        Unknown::Volts(net) => format!("V({})", lesson.nets[net]),
        Unknown::Amps(branch) => format!("I({})", lesson.branches[branch].label),
    };
    let nets: Map<String, Value> = lesson
        .nets
        .iter()
        .enumerate()
        .map(|(net, name)| {
            let (known, by) = match lesson.system.roles[net] {
                Role::Ground => ("ground", None),
                Role::Held { by, .. } => ("held", Some(&lesson.branches[by].label)),
                Role::Floating => ("floating", None),
                Role::Unknown => ("unknown", None),
            };
            let volts = number(lesson.solution.volts[net]);
            let value = json!({
                "volts": volts,
                "role": known,
                "by": by,
                "engine_volts": number(lesson.engine_volts[net]),
            });
            (name.clone(), value)
        })
        .collect();
    let flowing = lesson.branches.iter().enumerate().filter(|(_, branch)| !branch.form.is_open());
    let branches: Map<String, Value> = flowing
        .map(|(at, branch)| {
            let value = json!({
                "from": lesson.nets[branch.from],
                "to": lesson.nets[branch.to],
                "volts": number(lesson.solution.across([branch.from, branch.to])),
                "amps": number(lesson.solution.amps[at]),
            });
            (branch.label.clone(), value)
        })
        .collect();
    let [symbols, values] = [Mode::Symbols, Mode::Values].map(|mode| Writer { lesson, mode });
    let rows = lesson.system.rows.iter().enumerate().map(|(at, row)| {
        let of = match *row {
            Row::Balance(net) => &lesson.nets[net],
            Row::Law(branch) => &lesson.branches[branch].label,
        };
        json!({
            "of": of,
            "kind": if matches!(row, Row::Balance(_)) { "balance" } else { "law" },
            "symbols": symbols.row(*row).text(),
            "values": values.row(*row).text(),
            "entries": lesson.system.matrix[at],
            "right": number(lesson.system.right[at]),
        })
    });
    let steps = lesson.steps.iter().map(|step| {
        let curves = step.curves.iter().map(|one| {
            json!({
                "branch": lesson.branches[one.branch].label,
                "touches": one.volts,
                "amps": number(one.amps),
                "siemens": one.siemens,
                "source": number(one.source),
                "found": number(one.found),
                "limited": one.limited,
            })
        });
        json!({ "residual": number(step.residual), "curves": curves.collect::<Vec<_>>() })
    });
    let loadings = lesson.loadings.iter().map(|one| {
        json!({
            "net": circuit.net_name(one.meter.net),
            "ohms": number(one.meter.ohms),
            "without": number(one.without),
            "with": number(one.with),
        })
    });
    json!({
        "version": VERSION,
        "nets": nets,
        "branches": branches,
        "unknowns": lesson.system.unknowns.iter().map(unknown).collect::<Vec<_>>(),
        "equations": rows.collect::<Vec<_>>(),
        "rounds": lesson.rounds.iter().map(|one| round(circuit, lesson, one)).collect::<Vec<_>>(),
        "steps": steps.collect::<Vec<_>>(),
        "agrees": lesson.agrees,
        "departure": number(lesson.departure),
        "power": { "given": number(lesson.power.given), "taken": number(lesson.power.taken) },
        "meters": loadings.collect::<Vec<_>>(),
        "shortcuts": lesson.shortcuts.iter().map(|one| shortcut(lesson, one)).collect::<Vec<_>>(),
        "load_line": lesson.load_line.as_ref().map(|line| json!({
            "branch": lesson.branches[line.branch].label,
            "open_volts": number(line.rest.open_volts),
            "ohms": number(line.rest.ohms),
            "crossing": line.crossing,
        })),
    })
}

fn round(circuit: &Circuit, lesson: &Lesson, round: &Round) -> Value {
    let assumed = |one: &Assumed| {
        let tests = one.tests.iter().map(|test| {
            let looked = match test.looked {
                Looked::Volts([plus, minus]) => {
                    format!("V({}) - V({})", lesson.nets[plus], lesson.nets[minus])
                }
                Looked::Amps(branch) => format!("I({})", lesson.branches[branch].label),
            };
            json!({
                "looked": looked,
                "found": number(test.found),
                "least": test.is_least,
                "bound": number(test.bound),
                "holds": test.holds,
            })
        });
        json!({
            "part": circuit[one.part].name,
            "state": one.state,
            "tests": tests.collect::<Vec<_>>(),
        })
    };
    let corrected = round.corrected.iter().map(|part| circuit[*part].name.as_str());
    json!({
        "assumed": round.assumed.iter().map(assumed).collect::<Vec<_>>(),
        "corrected": corrected.collect::<Vec<_>>(),
        "solved": round.solution.is_some(),
    })
}

fn shortcut(lesson: &Lesson, one: &Shortcut) -> Value {
    let labels = |branches: &[usize]| -> Vec<&str> {
        branches.iter().map(|at| lesson.branches[*at].label.as_str()).collect()
    };
    let net = |net: usize| lesson.nets[net].as_str();
    match one {
        Shortcut::Series { branches, ohms, volts, amps, .. } => json!({
            "kind": "series", "branches": labels(branches), "ohms": number(*ohms),
            "volts": number(*volts), "amps": number(*amps),
        }),
        Shortcut::Parallel { branches, ohms, .. } => {
            let all: Vec<usize> = branches.iter().map(|(at, ..)| *at).collect();
            json!({ "kind": "parallel", "branches": labels(&all), "ohms": number(*ohms) })
        }
        Shortcut::Divider { net: at, unloaded, loaded, .. } => json!({
            "kind": "divider", "net": net(*at), "unloaded": number(*unloaded),
            "loaded": number(*loaded),
        }),
        Shortcut::Bridge { output, open_volts, ohms, volts, .. } => json!({
            "kind": "bridge", "output": output.map(net), "open_volts": number(*open_volts),
            "ohms": number(*ohms), "volts": number(*volts),
        }),
        Shortcut::Thevenin { branch, pair, port, volts, amps } => json!({
            "kind": "thevenin", "branch": branch.map(|at| lesson.branches[at].label.as_str()),
            "nets": pair.map(net), "open_volts": number(port.open_volts),
            "short_amps": port.short_amps().map(number), "ohms": number(port.ohms),
            "volts": number(*volts), "amps": number(*amps),
        }),
    }
}
