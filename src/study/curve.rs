//! A curve: nets while one value, one source, a temperature, a position or the value of a fault goes
//! over a range.
//!
//! The board is powered up at the first place, and from there it is followed as it would go if the
//! value were turned slowly: parts that remember stay in their states until they switch, so that the
//! way back may be another one.

use super::solved::{Solved, Watched, part_state};
use super::substitute::fitted;
use crate::circuit::{Change, Circuit, NetId, Overlay, PartId, SetupId};
use crate::engine::{Assembly, Ending};
use crate::fault::Fault;
use crate::quantity::Unit;

/// Halvings of the interval in which something switches.
const HALVINGS: usize = 24;
/// Changes of what parts do that are told of at most.
const MOST_TURNS: usize = 200;

/// What goes over a range.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Swept {
    /// A parameter of a part.
    Parameter {
        /// The part.
        part: PartId,
        /// The parameter's name.
        name: &'static str,
        /// Its unit.
        unit: Unit,
    },
    /// The temperature of the setup, in degrees Celsius.
    Temperature,
    /// The value of a fault.
    Fault(Fault),
}

impl Swept {
    /// The unit of the range.
    pub fn unit(&self, circuit: &Circuit) -> Unit {
        match self {
            Swept::Parameter { unit, .. } => *unit,
            Swept::Temperature => Unit::Celsius,
            Swept::Fault(fault) => fault.unit(circuit),
        }
    }
}

/// The places of a range.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Range {
    /// The first.
    pub from: f64,
    /// The last; above the first.
    pub to: f64,
    /// How many, two or more.
    pub count: usize,
    /// Whether they are evenly spaced in the logarithm.
    pub is_log: bool,
}

impl Range {
    fn place(&self, at: f64) -> f64 {
        if self.is_log {
            self.from * (self.to / self.from).powf(at)
        } else {
            self.from + (self.to - self.from) * at
        }
    }

    fn places(&self) -> Vec<f64> {
        let last = self.count.max(2) - 1;
        // The ends are put in as they are: no rounding moves them.
        (0..=last)
            .map(|idx| match idx {
                0 => self.from,
                idx if idx == last => self.to,
                idx => self.place(idx as f64 / last as f64),
            })
            .collect()
    }

    fn between(&self, a: f64, b: f64) -> f64 {
        if self.is_log { (a * b).sqrt() } else { 0.5 * (a + b) }
    }
}

/// One run over the range.
#[derive(Debug, Clone, PartialEq)]
pub struct Run {
    /// Per place, the volts of what is followed; none where the board has no operating point.
    pub volts: Vec<Option<Vec<f64>>>,
    /// What parts began to do on the way, in its order.
    pub turns: Vec<Turn>,
}

/// A part that does something else from a place on.
#[derive(Debug, Clone, PartialEq)]
pub struct Turn {
    /// The part.
    pub part: PartId,
    /// The place, in the unit of the range.
    pub at: f64,
    /// What it did before.
    pub from: &'static str,
    /// What it does then.
    pub to: &'static str,
}

/// A level that a watched net is held against.
#[derive(Debug, Clone, PartialEq)]
pub struct Level {
    /// The net.
    pub net: NetId,
    /// Volts.
    pub volts: f64,
    /// What stands there.
    pub kind: LevelKind,
}

/// What stands at a level.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum LevelKind {
    /// The least that the net may carry.
    Least,
    /// The most.
    Most,
    /// A threshold of a part's condition.
    Threshold(PartId, &'static str),
    /// The absolute maximum of a pin, by its number.
    Maximum(PartId, usize),
}

/// A curve.
#[derive(Debug, Clone, PartialEq)]
pub struct Curve {
    /// The places, rising.
    pub places: Vec<f64>,
    /// Whether they are evenly spaced in the logarithm.
    pub is_log: bool,
    /// What is followed, all of it volts.
    pub watched: Vec<Watched>,
    /// From the first place to the last.
    pub rising: Run,
    /// From the last to the first, its volts in the order of the places; only where it is another
    /// way.
    pub falling: Option<Run>,
    /// Limits, thresholds and maxima of the nets.
    pub levels: Vec<Level>,
}

/// Follows some volts while something goes over a range.
///
/// # Errors
///
/// How the run ended where the board has no operating point at any place.
pub fn curve(
    assembly: &Assembly<'_>,
    (setup, overlay): (SetupId, &Overlay),
    swept: Swept,
    range: Range,
    watched: &[Watched],
) -> Result<Curve, Ending> {
    let follower = Follower { assembly, setup, overlay, swept, range, watched };
    let places = range.places();
    let (rising, end) = follower.run(&places, None);
    if rising.volts.iter().all(Option::is_none) {
        let first = follower.fresh(places[0]);
        return Err(first.err().unwrap_or(Ending::Singular));
    }
    let remembers = assembly.has_states() || assembly.may_latch(setup);
    let falling = remembers.then(|| {
        let back: Vec<f64> = places.iter().rev().copied().collect();
        let (mut run, _) = follower.run(&back, end);
        run.volts.reverse();
        run
    });
    let width = range.to - range.from;
    let falling = falling.filter(|falling| differ(&rising, falling, width));
    let of_net = |one: &Watched| match one {
        Watched::Net(net) => Some(*net),
        _ => None,
    };
    let nets: Vec<NetId> = watched.iter().filter_map(of_net).collect();
    let levels = levels(assembly, setup, &nets);
    let watched = watched.to_vec();
    Ok(Curve { places, is_log: range.is_log, watched, rising, falling, levels })
}

/// Whether two runs show anything else anywhere, or something switches elsewhere; `width` is that of
/// the range.
fn differ(one: &Run, other: &Run, width: f64) -> bool {
    let has_like = |turn: &Turn| {
        let same = |known: &Turn| {
            known.part == turn.part
                && (known.to, known.from) == (turn.from, turn.to)
                && (known.at - turn.at).abs() < 1e-4 * width
        };
        one.turns.iter().any(same)
    };
    let elsewhere = !other.turns.iter().all(has_like);
    elsewhere
        || one.volts.iter().zip(&other.volts).any(|(a, b)| match (a, b) {
            (Some(a), Some(b)) => {
                a.iter().zip(b).any(|(a, b)| (a - b).abs() > 1e-3 + 1e-3 * a.abs())
            }
            (None, None) => false,
            _ => true,
        })
}

struct Follower<'a> {
    assembly: &'a Assembly<'a>,
    setup: SetupId,
    overlay: &'a Overlay,
    swept: Swept,
    range: Range,
    watched: &'a [Watched],
}

/// A board with what every part does on it.
#[derive(Clone)]
struct Stop {
    solved: Solved,
    does: Vec<Option<&'static str>>,
}

impl Follower<'_> {
    /// One way over some places; with it, where the board stands at the end.
    fn run(&self, places: &[f64], start: Option<Stop>) -> (Run, Option<Stop>) {
        let mut volts = Vec::with_capacity(places.len());
        let mut turns: Vec<Turn> = Vec::new();
        let mut last: Option<(f64, Stop)> = start.map(|stop| (places[0], stop));
        for &place in places {
            let next = match &last {
                Some((_, stop)) => self.onward(place, stop),
                None => None,
            };
            let next = next.or_else(|| self.fresh(place).ok());
            if let (Some((was, before)), Some(now)) = (&last, &next)
                && before.does != now.does
                && turns.len() < MOST_TURNS
            {
                turns.extend(self.turns((*was, before), (place, now)));
            }
            volts.push(next.as_ref().map(|stop| {
                self.watched.iter().map(|one| stop.solved.value(self.assembly, *one)).collect()
            }));
            last = next.map(|stop| (place, stop));
        }
        (Run { volts, turns }, last.map(|(_, stop)| stop))
    }

    /// The board at a place, powered up there.
    fn fresh(&self, place: f64) -> Result<Stop, Ending> {
        self.at(place, |assembly, overlay| Solved::new(assembly, self.setup, overlay))
    }

    /// The board at a place, coming from where it stood.
    fn onward(&self, place: f64, from: &Stop) -> Option<Stop> {
        let (states, start) = (from.solved.network.states(), &from.solved.point.volts);
        self.at(place, |assembly, overlay| {
            let found = assembly.carry_on(self.setup, overlay, states, start);
            found.map(|(network, point)| Solved { network, point }).ok_or(Ending::Singular)
        })
        .ok()
    }

    fn at(
        &self,
        place: f64,
        solve: impl Fn(&Assembly<'_>, &Overlay) -> Result<Solved, Ending>,
    ) -> Result<Stop, Ending> {
        let mut overlay = self.overlay.clone();
        match self.swept {
            Swept::Parameter { part, name, .. } => {
                overlay.changes.push(Change::Parameter { part, name, value: place });
            }
            Swept::Fault(fault) => {
                let fault = fault.with_value(Some(place)).overlay(self.assembly.circuit());
                overlay.changes.extend(fault.unwrap_or_default().changes);
            }
            Swept::Temperature => {
                let mut warm = fitted(self.assembly, &[]);
                warm.setups[self.setup.0].celsius = place;
                let warm = Assembly::new(&warm);
                let solved = solve(&warm, &overlay)?;
                let does = does(&warm, self.setup, &solved);
                return Ok(Stop { solved, does });
            }
        }
        let solved = solve(self.assembly, &overlay)?;
        let does = does(self.assembly, self.setup, &solved);
        Ok(Stop { solved, does })
    }

    /// Where between two places each part that does something else begins to.
    fn turns(&self, (was, before): (f64, &Stop), (is, after): (f64, &Stop)) -> Vec<Turn> {
        let mut found = Vec::new();
        for (idx, (from, to)) in before.does.iter().zip(&after.does).enumerate() {
            let (Some(from), Some(to)) = (from, to) else { continue };
            if from == to {
                continue;
            }
            let (mut low, mut high, mut stand) = (was, is, before.clone());
            for _ in 0..HALVINGS {
                let middle = self.range.between(low, high);
                match self.onward(middle, &stand) {
                    Some(there) if there.does[idx] == Some(*from) => {
                        low = middle;
                        stand = there;
                    }
                    Some(_) => high = middle,
                    None => break,
                }
            }
            found.push(Turn { part: PartId(idx as u32), at: high, from, to });
        }
        // In the order of the way; of what happens at one place, what switches by a condition of its
        // own comes before what follows from it.
        let step = 1e-6 * (is - was).abs();
        let sign = if is >= was { 1.0 } else { -1.0 };
        let place = |turn: &Turn| (sign * turn.at / step.max(f64::MIN_POSITIVE)).round();
        let follows = |turn: &Turn| !self.assembly.is_stateful(turn.part);
        found.sort_by(|a, b| {
            place(a).total_cmp(&place(b)).then_with(|| follows(a).cmp(&follows(b)))
        });
        found
    }
}

/// What every part does, where there is something to say of it; a switching input that its kind has
/// no word for is on or off.
fn does(assembly: &Assembly<'_>, setup: SetupId, solved: &Solved) -> Vec<Option<&'static str>> {
    let Solved { network, point } = solved;
    let has_states = |part: PartId| network.states()[part.index()] != 0;
    assembly
        .circuit()
        .parts_by_id()
        .map(|(id, part)| {
            if !part.fitted || !assembly.is_connected(id, setup.0) {
                return None;
            }
            let pins = point.pin_amps(network, id, part.pins.len());
            let remembers = assembly.is_stateful(id);
            part_state(assembly, setup, (network, point), id, &pins)
                .or_else(|| remembers.then(|| if has_states(id) { "on" } else { "off" }))
        })
        .collect()
}

/// Limits, thresholds and maxima of some nets.
fn levels(assembly: &Assembly<'_>, setup: SetupId, nets: &[NetId]) -> Vec<Level> {
    let circuit = assembly.circuit();
    let mut found = Vec::new();
    for &(net, limit) in circuit.limits.iter().filter(|(net, _)| nets.contains(net)) {
        for (volts, kind) in [(limit.min, LevelKind::Least), (limit.max, LevelKind::Most)] {
            found.extend(volts.map(|volts| Level { net, volts, kind }));
        }
    }
    let network = assembly.network(setup, &Overlay::none());
    for watch in assembly.watches(setup, &network) {
        let part = &circuit[watch.part];
        let [red, black] = watch.condition.pins.map(|pin| part.pins[pin].net);
        if nets.contains(&red) && black == NetId::GROUND {
            let kind = LevelKind::Threshold(watch.part, watch.condition.name);
            let mut volts = vec![watch.condition.on_at, watch.condition.off_at];
            volts.dedup();
            found.extend(volts.into_iter().map(|volts| Level { net: red, volts, kind }));
        }
    }
    for (id, part) in circuit.parts_by_id().filter(|(_, part)| part.fitted) {
        let ground = part.pin("ground").map_or(NetId::GROUND, |pin| part.pins[pin].net);
        for &(pin, most) in &part.maximum {
            let net = part.pins.get(pin).map(|pin| pin.net);
            if let Some(net) = net.filter(|net| nets.contains(net) && ground == NetId::GROUND) {
                found.push(Level { net, volts: most, kind: LevelKind::Maximum(id, pin) });
            }
        }
    }
    found
}
