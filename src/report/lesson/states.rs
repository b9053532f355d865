//! States that are assumed, tested and corrected; and the steps of Newton's method.

use super::document::Block;
use super::expr::{BLANK, number};
use super::sections::{View, table};
use crate::circuit::PartId;
use crate::quantity::Unit;
use crate::study::lesson::{Assumed, Form, Looked, Round, Test};

/// The most curves whose steps are written one by one.
const MOST_CURVES: usize = 4;

/// The rounds of assumptions.
pub(super) fn sections(view: &View<'_>, blocks: &mut Vec<Block>) {
    let lesson = view.lesson;
    let Some((last, wrong)) = lesson.rounds.split_last() else { return };
    if last.assumed.is_empty() && lesson.switched.is_empty() {
        return;
    }
    let heading =
        if view.blank { "Which states do you assume?" } else { "States assumed and tested" };
    blocks.push(Block::Heading(heading.to_owned()));
    if view.blank {
        let names: Vec<String> =
            last.assumed.iter().map(|one| view.circuit[one.part].name.clone()).collect();
        blocks.push(Block::Sentence(format!(
            "Assume a state of each of these, solve, and test it: {}. The equations below are those \
             of the states that hold.",
            names.join(", ")
        )));
        return;
    }
    for (number, round) in wrong.iter().enumerate() {
        wrong_round(view, number + 1, round, blocks);
    }
    if !last.assumed.is_empty() {
        let text = if wrong.is_empty() {
            "Assumed; the equations below are those of these states, and their solution was tested:"
        } else {
            "With that the equations are those below; their solution was tested:"
        };
        if !wrong.is_empty() {
            blocks.push(Block::Small(format!("Round {}", wrong.len() + 1)));
        }
        blocks.push(Block::Sentence(text.to_owned()));
        blocks.push(tests(view, &last.assumed));
    }
    if !lesson.switched.is_empty() {
        blocks.push(Block::Sentence("Conditions that switch parts, in the solution:".to_owned()));
        let rows = lesson.switched.iter().map(|one| {
            let holds = if one.on { "holds" } else { "does not hold" };
            let side = if one.rises == one.on { "at least" } else { "at most" };
            vec![
                view.circuit[one.part].name.clone(),
                one.condition.to_owned(),
                pair(view, one.pair),
                view.volts(one.found),
                format!("{side} {}", number(one.needed, Unit::Volt, 5)),
                holds.to_owned(),
            ]
        });
        let header = ["part", "condition", "looks at", "found", "so it stays", ""];
        blocks.push(table(&header, rows.collect(), &[]));
    }
}

fn pair(view: &View<'_>, [plus, minus]: [usize; 2]) -> String {
    match (plus, minus) {
        (plus, 0) => format!("V({})", view.net(plus)),
        (0, minus) => format!("-V({})", view.net(minus)),
        _ => format!("V({}) - V({})", view.net(plus), view.net(minus)),
    }
}

/// A round whose assumptions did not hold.
fn wrong_round(view: &View<'_>, number: usize, round: &Round, blocks: &mut Vec<Block>) {
    blocks.push(Block::Small(format!("Round {number}")));
    let words = |one: &Assumed| format!("{} {}", view.circuit[one.part].name, one.state);
    let assumed: Vec<String> = round.assumed.iter().map(words).collect();
    blocks.push(Block::Sentence(format!("Assumed: {}.", assumed.join("; "))));
    let name = |part: &PartId| view.circuit[*part].name.clone();
    let corrected: Vec<String> = round.corrected.iter().map(name).collect();
    let next = |part: &PartId| -> String {
        let later = view.lesson.rounds.get(number).into_iter().flat_map(|round| &round.assumed);
        let state = later.into_iter().find(|one| one.part == *part).map(|one| one.state);
        format!("{} is {}", name(part), state.unwrap_or("in another state"))
    };
    let now: Vec<String> = round.corrected.iter().map(next).collect();
    let Some(solution) = &round.solution else {
        blocks.push(Block::Sentence(format!(
            "These equations have no single solution: the assumption about {} is wrong. So {}.",
            corrected.join(", "),
            now.join(", ")
        )));
        return;
    };
    let volts = view.lesson.system.unknowns.iter().filter_map(|one| match one {
        crate::study::lesson::Unknown::Volts(net) => {
            Some(format!("V({}) = {}", view.net(*net), view.volts(solution.volts[*net])))
        }
        crate::study::lesson::Unknown::Amps(_) => None,
    });
    let volts: Vec<String> = volts.collect();
    blocks.push(Block::Sentence(format!("Solved like that: {}.", volts.join(", "))));
    blocks.push(tests(view, &round.assumed));
    blocks.push(Block::Sentence(if round.is_edge {
        format!(
            "Every test holds, and the volts are those of the board: this is the edge between two \
             states, and both say the same. Written more simply, {}.",
            now.join(", ")
        )
    } else if round.held {
        format!(
            "Every test holds, and yet the board powers up otherwise: it has several states that \
             agree with themselves. There {}.",
            now.join(", ")
        )
    } else {
        format!("So the assumption about {} is wrong: {}.", corrected.join(", "), now.join(", "))
    }));
}

fn tests(view: &View<'_>, assumed: &[Assumed]) -> Block {
    let mut rows = Vec::new();
    for one in assumed {
        let name = view.circuit[one.part].name.clone();
        if one.tests.is_empty() {
            rows.push(vec![
                name,
                one.state.to_owned(),
                String::new(),
                String::new(),
                String::new(),
                String::new(),
            ]);
            continue;
        }
        for (number, test) in one.tests.iter().enumerate() {
            let (name, state) = match number {
                0 => (name.clone(), one.state.to_owned()),
                _ => (String::new(), String::new()),
            };
            rows.push(row_of(view, name, state, test));
        }
    }
    table(&["part", "assumed", "test", "found", "needed", ""], rows, &[])
}

fn row_of(view: &View<'_>, name: String, state: String, test: &Test) -> Vec<String> {
    let (looked, unit) = match test.looked {
        Looked::Volts(nets) => (pair(view, nets), Unit::Volt),
        Looked::Amps(branch) => (format!("I({})", view.label(branch)), Unit::Amp),
    };
    let found = match unit {
        Unit::Volt => view.volts(test.found),
        _ => view.amps(test.found),
    };
    let side = if test.is_least { "at least" } else { "at most" };
    let bound = number(test.bound, unit, 5);
    let needed = match test.name {
        "" => format!("{side} {bound}"),
        name => format!("{side} {bound} ({name})"),
    };
    let holds = if test.holds { "holds" } else { "fails" };
    vec![name, state, looked, found, needed, holds.to_owned()]
}

/// The steps of Newton's method.
pub(super) fn newton(view: &View<'_>, blocks: &mut Vec<Block>) {
    let lesson = view.lesson;
    let Some(last) = lesson.steps.last() else { return };
    let heading =
        if view.blank { "Follow the curves, step by step" } else { "The curves, step by step" };
    blocks.push(Block::Heading(heading.to_owned()));
    blocks.push(Block::Sentence(
        "A curve is taken as its tangent, i = G·v + J: a conductance beside a current source \
         (Newton's method). The equations are solved, the tangents touch at the volts that were \
         found, and so on until nothing moves. What is left over of the balances with the curves \
         themselves in place of the tangents is the residual."
            .to_owned(),
    ));
    if lesson.is_helped {
        blocks.push(Block::Sentence(
            "From where a class would begin the steps do not settle here; they begin at the answer \
             that the solver of this program found by stepping the sources up."
                .to_owned(),
        ));
    }
    let names: Vec<&str> = last.curves.iter().map(|one| view.label(one.branch)).collect();
    if names.len() > MOST_CURVES {
        blocks.push(Block::Sentence(format!("Curves: {}.", names.join(", "))));
        let rows = lesson.steps.iter().enumerate().map(|(number, step)| {
            let moved = step.curves.iter().map(|one| (one.found - one.volts[0]).abs());
            let furthest = moved.fold(0.0, f64::max);
            vec![
                (number + 1).to_string(),
                figure(view, furthest, Unit::Volt, 3),
                figure(view, step.residual, Unit::Amp, 2),
            ]
        });
        blocks.push(table(&["step", "largest move", "residual"], rows.collect(), &[0, 1, 2]));
        return;
    }
    for (at, one) in last.curves.iter().enumerate() {
        let branch = &lesson.branches[one.branch];
        blocks.push(Block::Small(format!(
            "{}, from {} to {}",
            branch.label,
            view.net(branch.from),
            view.net(branch.to)
        )));
        let is_steered = matches!(branch.form, Form::Steered { .. });
        let rows = lesson.steps.iter().enumerate().map(|(number, step)| {
            let curve = &step.curves[at];
            let mut row = vec![(number + 1).to_string()];
            row.extend(curve.volts.iter().map(|volts| figure(view, *volts, Unit::Volt, 6)));
            row.push(figure(view, curve.amps, Unit::Amp, 5));
            row.extend(curve.siemens.iter().map(|slope| figure(view, *slope, Unit::Siemens, 5)));
            row.push(figure(view, curve.source, Unit::Amp, 5));
            row.push(figure(view, curve.found, Unit::Volt, 6));
            row.push(figure(view, step.residual, Unit::Amp, 2));
            row
        });
        let header: Vec<&str> = match (is_steered, one.volts.len()) {
            (true, 2) => {
                vec!["step", "v at", "gate at", "i there", "G", "G2", "J", "v found", "residual"]
            }
            (true, 3) => vec![
                "step", "v at", "v2", "v3", "i there", "G", "G2", "G3", "J", "v found", "residual",
            ],
            _ => vec!["step", "touches at", "i there", "G", "J", "v found", "residual"],
        };
        if header.len() == one.volts.len() + one.siemens.len() + 5 {
            blocks.push(table(&header, rows.collect(), &(0..header.len()).collect::<Vec<_>>()));
        }
        if lesson.steps.iter().any(|step| step.curves[at].limited) {
            blocks.push(Block::Sentence(
                "Where the next step touches short of the volts that were found, the step was cut: \
                 from far off an exponential would be leapt over."
                    .to_owned(),
            ));
        }
    }
}

fn figure(view: &View<'_>, value: f64, unit: Unit, digits: usize) -> String {
    if view.blank { BLANK.to_owned() } else { number(value, unit, digits) }
}
