//! What two nets look like to what is connected there: volts behind ohms (M. L. Thevenin, Comptes
//! rendus 97, 1883; from memory).

use super::Lesson;
use super::branch::{Branch, Form, Owner, Pair};
use super::system::Role;
use super::tableau::solve;

/// A linear circuit seen from two nets.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Port {
    /// Volts with nothing there.
    pub open_volts: f64,
    /// Ohms behind them.
    pub ohms: f64,
}

impl Port {
    /// Amps into a short; nothing where there are no ohms.
    pub fn short_amps(&self) -> Option<f64> {
        (self.ohms > 0.0).then(|| self.open_volts / self.ohms)
    }
}

/// A lesson's circuit seen from two nets, with one of its branches taken out. `None` where that
/// leaves a net without a way to ground.
pub fn port(lesson: &Lesson, without: Option<usize>, [plus, minus]: Pair) -> Option<Port> {
    let mut branches = lesson.branches.clone();
    if let Some(at) = without {
        branches[at].form = Form::Open;
    }
    let fixed: Vec<(usize, f64)> = lesson
        .system
        .roles
        .iter()
        .enumerate()
        .filter(|(_, role)| **role == Role::Floating)
        .map(|(net, _)| (net, lesson.solution.volts[net]))
        .collect();
    let n_nets = lesson.nets.len();
    let open = solve(n_nets, &branches, &fixed)?;
    // A current drawn there shows the ohms: the circuit is linear, so its size does not matter.
    let amps =
        lesson.solution.amps.iter().fold(0.0_f64, |most, amps| most.max(amps.abs())).max(1e-9);
    branches.push(Branch {
        label: String::new(),
        owner: Owner::Fault,
        from: plus,
        to: minus,
        form: Form::Current { amps },
        is_own: false,
    });
    let drawn = solve(n_nets, &branches, &fixed)?;
    let open_volts = open.across([plus, minus]);
    let ohms = (open_volts - drawn.across([plus, minus])) / amps;
    let noise = 1e-12 * open_volts.abs().max(1e-9) / amps;
    Some(Port { open_volts, ohms: if ohms.abs() <= noise { 0.0 } else { ohms } })
}
