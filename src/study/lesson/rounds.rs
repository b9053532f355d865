//! Assume, solve, test, correct: until every assumption holds.

use super::branch::Branch;
use super::newton::{Step, Walked, walk};
use super::scene::{Choice, Scene};
use super::states::{Assumed, Guess, found_state, guesses, start, tests};
use super::tableau::{Solution, floating};
use crate::circuit::PartId;

/// After so many wrong assumptions all that differ are corrected at once: a class has seen enough.
const MOST_WRONG: usize = 5;

/// A current that no board carries, in amps.
const ENDLESS: f64 = 1e7;

/// One round of assumptions.
#[derive(Debug, Clone, PartialEq)]
pub struct Round {
    /// What was assumed, with its tests.
    pub assumed: Vec<Assumed>,
    /// The branches in these states.
    pub branches: Vec<Branch>,
    /// What the equations gave; nothing where they have no answer.
    pub solution: Option<Solution>,
    /// The parts that were corrected after it; none after the last round.
    pub corrected: Vec<PartId>,
    /// Whether they were corrected although every test held: the board has several states that
    /// agree with themselves, and powers up in another one, or this is the edge of the state found.
    pub held: bool,
    /// Whether the volts are those of the board all the same: the assumption stands on the edge of
    /// the state that was found, and both say the same.
    pub is_edge: bool,
}

/// Where the rounds ended.
pub(super) struct Ended {
    pub(super) rounds: Vec<Round>,
    pub(super) branches: Vec<Branch>,
    pub(super) solution: Solution,
    pub(super) steps: Vec<Step>,
    /// Nets whose volts were taken as given, since nothing joins them to ground.
    pub(super) fixed: Vec<(usize, f64)>,
    /// Whether the tangents had to be taken around the engine's own answer.
    pub(super) is_helped: bool,
}

/// Goes from the first assumptions to those that hold. `None` where the equations of the states
/// that were found have no answer when leaks are left out.
pub(super) fn go(scene: &Scene<'_>) -> Option<Ended> {
    let guesses = guesses(scene);
    let found = |part: PartId| found_state(scene, part).unwrap_or("");
    let mut wrong: Vec<&Guess> =
        guesses.iter().filter(|guess| found(guess.part) != guess.state).collect();
    let mut rounds = Vec::new();
    let smooth = scene.smooth();
    // What nothing joins to ground on the board has no volts that could be told apart.
    let as_found = scene.branches(&choices_of(scene, &[], &smooth));
    let loose: Vec<usize> = floating(scene.network.n_nets, &as_found).concat();
    while !wrong.is_empty() {
        let walked = walk_in(scene, &wrong, &smooth, false);
        let state = |part: PartId| match wrong.iter().find(|guess| guess.part == part) {
            Some(guess) => guess.state,
            None => found(part),
        };
        let (branches, solution) = match walked {
            // Currents without end are what is left of a contradiction.
            Some((walked, _)) if walked.solution.amps.iter().all(|amps| amps.abs() < ENDLESS) => {
                (walked.branches, Some(walked.solution))
            }
            _ => (scene.branches(&choices_of(scene, &wrong, &[])), None),
        };
        let assumed: Vec<Assumed> = guesses
            .iter()
            .map(|guess| {
                let state = state(guess.part);
                let tests = match &solution {
                    Some(solution) => tests(scene, guess.part, state, &branches, solution),
                    None => Vec::new(),
                };
                Assumed { part: guess.part, state, tests }
            })
            .collect();
        let fails = |part: PartId| assumed.iter().any(|one| one.part == part && !one.holds());
        let first = wrong.iter().find(|guess| fails(guess.part)).map(|guess| guess.part);
        let corrected: Vec<PartId> = match first {
            Some(part) if rounds.len() + 1 < MOST_WRONG => vec![part],
            _ => wrong.iter().map(|guess| guess.part).collect(),
        };
        wrong.retain(|guess| !corrected.contains(&guess.part));
        let held = solution.is_some() && first.is_none();
        let is_edge =
            held && solution.as_ref().is_some_and(|found| scene.has_volts(&found.volts, &loose));
        rounds.push(Round { assumed, branches, solution, corrected, held, is_edge });
    }
    let (walked, fixed, is_helped) = match walk_in(scene, &[], &smooth, false) {
        Some((walked, fixed)) => (walked, fixed, false),
        None => {
            let (walked, fixed) = walk_in(scene, &[], &smooth, true)?;
            (walked, fixed, true)
        }
    };
    let Walked { branches, solution, steps, .. } = walked;
    let assumed = scene
        .circuit()
        .parts_by_id()
        .filter(|(id, part)| part.fitted && scene.assembly.is_connected(*id, scene.setup.0))
        .filter_map(|(id, _)| {
            let state = found_state(scene, id)?;
            let tests = tests(scene, id, state, &branches, &solution);
            Some(Assumed { part: id, state, tests })
        })
        .collect();
    rounds.push(Round {
        assumed,
        branches: branches.clone(),
        solution: Some(solution.clone()),
        corrected: Vec::new(),
        held: true,
        is_edge: false,
    });
    Some(Ended { rounds, branches, solution, steps, fixed, is_helped })
}

/// The choices with these assumptions in force; curves start where their datasheets say.
fn choices_of(scene: &Scene<'_>, wrong: &[&Guess], smooth: &[usize]) -> Vec<Choice> {
    let mut choices = vec![Choice::AsFound; scene.network.elements.len()];
    for &at in smooth {
        choices[at] = start(scene, at);
    }
    for (at, form) in wrong.iter().flat_map(|guess| &guess.forms) {
        choices[*at] = Choice::Tried(form.clone());
    }
    choices
}

/// Walks to the answer with these assumptions in force; nets that nothing joins to ground keep the
/// volts that the engine gives them. With `from_answer` the curves start at the engine's answer.
fn walk_in(
    scene: &Scene<'_>,
    wrong: &[&Guess],
    smooth: &[usize],
    from_answer: bool,
) -> Option<(Walked, Vec<(usize, f64)>)> {
    let mut choices = choices_of(scene, wrong, smooth);
    if from_answer {
        for &at in smooth {
            choices[at] = Choice::Tangent(scene.volts(&scene.network.elements[at]));
        }
    }
    let fixed: Vec<(usize, f64)> = floating(scene.network.n_nets, &scene.branches(&choices))
        .into_iter()
        .map(|nets| (nets[0], scene.point.volts[nets[0]]))
        .collect();
    let walked = walk(scene, choices, &fixed)?;
    Some((walked, fixed))
}
