//! What a wrong-value substitute does: before and after for nets, limits, chips and dissipation.

use std::collections::BTreeSet;

use super::bands::{Band, bands};
use super::consumers::{Consumer, consumers, is_lost};
use super::operating::{Operating, Requirement, operating};
use super::solved::{Watched, watched_nets};
use crate::circuit::{Circuit, Limit, NetId, Overlay, POWERED, PartId, Substitute};
use crate::device::of;
use crate::engine::{Assembly, Ending};
use crate::quantity::Unit;

/// A net is told of when its nominal voltage moves by more than so many standard uncertainties.
const MOVED: f64 = 2.0;
/// What a net feeds is told of when it moves by more than this share, or by this many volts.
const FELT: (f64, f64) = (2e-3, 1e-3);

/// How something stands to what is allowed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Stand {
    /// Kept in the worst case.
    Kept,
    /// Kept by nominal values, broken in the worst case.
    Tight,
    /// Broken by nominal values.
    Broken,
}

/// A net before and after.
#[derive(Debug, Clone, PartialEq)]
pub struct NetChange {
    /// The net.
    pub net: NetId,
    /// Its band as drawn.
    pub before: Band,
    /// Its band with the substitutes.
    pub after: Band,
    /// Its limit, with how it stood before and stands after.
    pub limit: Option<(Limit, Stand, Stand)>,
}

/// Something rated: watts of a resistor, amps of a fuse, volts of a capacitor; or the dissipation of
/// a part that was substituted.
#[derive(Debug, Clone, PartialEq)]
pub struct RatingChange {
    /// The part.
    pub part: PartId,
    /// The unit of the numbers.
    pub unit: Unit,
    /// Nominal before.
    pub before: f64,
    /// Nominal after.
    pub after: f64,
    /// The most after, in the worst case.
    pub most: f64,
    /// What it is rated for; `None` where the file does not say.
    pub rated: Option<f64>,
    /// How it stands after.
    pub stand: Stand,
    /// How it stood before.
    pub stood: Stand,
}

/// A pin with an absolute maximum.
#[derive(Debug, Clone, PartialEq)]
pub struct PinChange {
    /// The part.
    pub part: PartId,
    /// The pin, by its number.
    pub pin: usize,
    /// Volts against the part's ground before, nominal.
    pub before: f64,
    /// Volts after, nominal.
    pub after: f64,
    /// The most after, in the worst case.
    pub most: f64,
    /// The absolute maximum.
    pub maximum: f64,
    /// How it stands after.
    pub stand: Stand,
    /// How it stood before.
    pub stood: Stand,
}

/// A condition of a chip before and after.
#[derive(Debug, Clone, PartialEq)]
pub struct ConditionChange {
    /// Before; `None` where it was not looked at.
    pub before: Option<Requirement>,
    /// After.
    pub after: Option<Requirement>,
}

impl ConditionChange {
    /// The condition, as it is after where it is.
    pub fn now(&self) -> Option<&Requirement> {
        self.after.as_ref().or(self.before.as_ref())
    }

    /// How it stands after: one that held and holds no more is broken.
    pub fn stand(&self) -> Stand {
        let held = self.before.as_ref().is_none_or(|before| before.holds);
        match &self.after {
            Some(after) if after.holds && after.marginal => Stand::Tight,
            Some(after) if after.holds => Stand::Kept,
            _ if held => Stand::Broken,
            _ => Stand::Kept,
        }
    }
}

/// A board as drawn and with substitutes.
#[derive(Debug, Clone)]
pub struct Comparison {
    /// The nets that are watched: with limits, outputs of regulators, asked for, or moved.
    pub nets: Vec<NetChange>,
    /// Ratings that move or are broken, and the dissipation of what was substituted.
    pub ratings: Vec<RatingChange>,
    /// Pins with a maximum on nets that moved, or past it.
    pub pins: Vec<PinChange>,
    /// Conditions whose margin moved, or that are broken.
    pub conditions: Vec<ConditionChange>,
    /// What the moved nets feed, and what carries the current of a substitute.
    pub consumers: Vec<Consumer>,
    /// The power-up order before and after, where it differs.
    pub order: Option<[Vec<Requirement>; 2]>,
    /// What is done by every part, where that differs: before and after.
    pub states: Vec<(PartId, Option<&'static str>, Option<&'static str>)>,
    /// The whole.
    pub stand: Stand,
}

/// Compares a circuit as drawn with the same with substitutes, in the powered setup.
///
/// # Errors
///
/// How the run ended where one of the two has no operating point, and whether that is the board as
/// drawn.
///
/// ```
/// use ohmhound::quantity::{Tolerance, Toleranced};
/// use ohmhound::study::{Stand, compare};
/// use ohmhound::{circuit::*, engine::Assembly, file::read_circuit, finding::Source};
///
/// let text = "[parts]\nJ1 = { kind = \"supply\", volts = \"12 V\", nets = [\"IN\", \"GND\"] }\n\
///             R1 = { value = \"10k\", nets = [\"IN\", \"OUT\"] }\n\
///             R2 = { value = \"10k\", nets = [\"OUT\", \"GND\"] }";
/// let circuit = read_circuit(&Source::new("divider.toml", text), &mut |_| Err(String::new()));
/// let circuit = circuit.value.ok_or("the circuit is in order")?;
///
/// let part = circuit.part("R2").ok_or("a part")?;
/// let param = Param::Number(Toleranced::bare(12e3).or(Tolerance::Fraction(0.01)));
/// let substitute = Substitute { part, parameter: "value", param };
/// let found = compare(&Assembly::new(&circuit), &[substitute], &[]);
/// let found = found.map_err(|(end, _)| format!("{end:?}"))?;
/// // No net of this board states a limit that could be broken.
/// assert_eq!(found.stand, Stand::Kept);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn compare(
    assembly: &Assembly<'_>,
    substitutes: &[Substitute],
    asked: &[NetId],
) -> Result<Comparison, (Ending, bool)> {
    let touched: Vec<PartId> = substitutes.iter().map(|one| one.part).collect();
    AsDrawn::new(assembly, &touched).and_then(|drawn| drawn.compare(substitutes, asked))
}

/// The board as drawn, for several comparisons.
#[derive(Debug)]
pub struct AsDrawn<'a> {
    assembly: &'a Assembly<'a>,
    before: Operating,
    /// Bands of every net, and of what is rated or may be touched.
    was: Vec<Band>,
}

impl<'a> AsDrawn<'a> {
    /// Solves the board as drawn; `touched` are all the parts that substitutes may be for.
    ///
    /// # Errors
    ///
    /// How the run ended, when it has no operating point; and that it is the board as drawn.
    pub fn new(
        assembly: &'a Assembly<'a>,
        touched: &[PartId],
    ) -> Result<AsDrawn<'a>, (Ending, bool)> {
        let healthy = Overlay::none();
        let before = operating(assembly, POWERED, &healthy).map_err(|ending| (ending, true))?;
        let nets = before.nets.iter().filter(|state| !state.floating).map(|state| state.net);
        let watched = watched(assembly.circuit(), nets, &rated(assembly, touched));
        let was = bands(assembly, POWERED, &healthy, &watched).map_err(|ending| (ending, true))?;
        Ok(AsDrawn { assembly, before, was })
    }

    /// The same with substitutes, beside it.
    ///
    /// # Errors
    ///
    /// As [`compare`].
    pub fn compare(
        &self,
        substitutes: &[Substitute],
        asked: &[NetId],
    ) -> Result<Comparison, (Ending, bool)> {
        let AsDrawn { assembly, before, was } = self;
        let other = fitted(assembly, substitutes);
        let other = Assembly::new(&other);
        let healthy = Overlay::none();
        let after = operating(&other, POWERED, &healthy).map_err(|ending| (ending, false))?;
        let circuit = assembly.circuit();
        let boards = Boards { circuit, other: other.circuit(), before, after };
        let touched: Vec<PartId> = substitutes.iter().map(|one| one.part).collect();
        let all = circuit.nets_by_id().skip(1).map(|(net, _)| net);
        let nets: Vec<NetId> = all.filter(|net| !boards.floats(*net)).collect();
        let parts = rated(assembly, &touched);
        let watched = watched(circuit, nets.iter().copied(), &parts);
        let is = bands(&other, POWERED, &healthy, &watched).map_err(|ending| (ending, false))?;
        let both = Both { was, is };
        Ok(compared(&boards, &both, (&nets, &parts, &touched), asked))
    }
}

/// The parts that are rated, or may be touched.
fn rated(assembly: &Assembly<'_>, touched: &[PartId]) -> Vec<PartId> {
    let circuit = assembly.circuit();
    let counts = |(id, part): (PartId, &crate::circuit::Part)| {
        let is_there = part.fitted && assembly.is_connected(id, POWERED.0);
        (is_there && (rating_unit(circuit, id).is_some() || touched.contains(&id))).then_some(id)
    };
    circuit.parts_by_id().filter_map(counts).collect()
}

/// The numbers of these nets, and those that parts are rated by.
fn watched(circuit: &Circuit, nets: impl Iterator<Item = NetId>, parts: &[PartId]) -> Vec<Watched> {
    let of_part = |id: &PartId| match rating_unit(circuit, *id) {
        Some(Unit::Amp) => Some(Watched::Amps(*id)),
        Some(Unit::Volt) => None,
        _ => Some(Watched::Watts(*id)),
    };
    nets.map(Watched::Net).chain(parts.iter().filter_map(of_part)).collect()
}

/// What there is to tell of two boards.
fn compared(
    boards: &Boards<'_>,
    both: &Both<'_>,
    (nets, parts, touched): (&[NetId], &[PartId], &[PartId]),
    asked: &[NetId],
) -> Comparison {
    let circuit = boards.circuit;
    let moving = |least: &dyn Fn(&Band, &Band) -> f64| -> BTreeSet<NetId> {
        let moves = |net: &NetId| {
            let bands = both.of(Watched::Net(*net));
            bands.is_some_and(|(was, is)| (is.nominal - was.nominal).abs() > least(was, is))
        };
        nets.iter().copied().filter(moves).collect()
    };
    let moved = moving(&|was, is| MOVED * was.u.max(is.u).max(1e-4));
    let felt = moving(&|was, _| FELT.1.max(FELT.0 * was.nominal.abs()));
    let mut told: Vec<NetId> = watched_nets(circuit);
    told.extend(asked);
    told.extend(&moved);
    let mut seen = BTreeSet::new();
    told.retain(|net| seen.insert(*net) && nets.contains(net));
    let nets: Vec<NetChange> =
        told.iter().filter_map(|net| net_change(circuit, *net, both)).collect();
    let ratings = ratings(boards, parts, touched, both);
    let pins = pins(boards, &felt, both);
    let conditions = conditions(boards);
    let states = boards.states();
    let rails: BTreeSet<NetId> = felt.iter().copied().filter(|net| told.contains(net)).collect();
    let consumers = consumers(boards, (&rails, touched), (&ratings, &pins, &conditions));
    let names = |list: &[Requirement]| -> Vec<(PartId, &'static str)> {
        list.iter().map(|need| (need.part, need.condition)).collect()
    };
    let order = (names(&boards.before.power_up) != names(&boards.after.power_up))
        .then(|| [boards.before.power_up.clone(), boards.after.power_up.clone()]);
    let stand = nets
        .iter()
        .filter_map(|net| net.limit.map(|(.., after)| after))
        .chain(ratings.iter().map(|one| one.stand))
        .chain(pins.iter().map(|one| one.stand))
        .chain(conditions.iter().map(ConditionChange::stand))
        .chain(consumers.iter().map(|one| one.stand))
        .chain(states.iter().filter(|(_, was, is)| is_lost((*was, *is))).map(|_| Stand::Broken))
        .max()
        .unwrap_or(Stand::Kept);
    Comparison { nets, ratings, pins, conditions, consumers, order, states, stand }
}

/// The circuit with substitutes. A load's least voltage that follows from the board as drawn stays
/// as it was there: it is the load that is the same.
pub fn fitted(assembly: &Assembly<'_>, substitutes: &[Substitute]) -> Circuit {
    let mut circuit = assembly.circuit().with(substitutes);
    assembly.keep_minimums(&mut circuit);
    circuit
}

/// A board as drawn and the same with substitutes, each at its operating point.
pub(super) struct Boards<'a> {
    pub(super) circuit: &'a Circuit,
    other: &'a Circuit,
    pub(super) before: &'a Operating,
    pub(super) after: Operating,
}

impl Boards<'_> {
    fn floats(&self, net: NetId) -> bool {
        let on =
            |point: &Operating| point.nets.iter().any(|state| state.net == net && state.floating);
        on(self.before) || on(&self.after)
    }

    fn states(&self) -> Vec<(PartId, Option<&'static str>, Option<&'static str>)> {
        let both = self.before.parts.iter().zip(&self.after.parts);
        let differ = both.filter(|(was, is)| was.state != is.state);
        differ.map(|(was, is)| (was.part, was.state, is.state)).collect()
    }
}

/// Bands before and after, of the same numbers.
struct Both<'a> {
    was: &'a [Band],
    is: Vec<Band>,
}

impl Both<'_> {
    fn of(&self, watched: Watched) -> Option<(&Band, &Band)> {
        let same = |band: &&Band| band.watched == watched;
        Some((self.was.iter().find(same)?, self.is.iter().find(same)?))
    }

    /// Volts between two nets: nominal before, nominal after, and the most after, each net in its
    /// own worst case.
    fn between(&self, red: NetId, black: NetId) -> (f64, f64, f64, f64) {
        let of = |net: NetId| self.of(Watched::Net(net));
        let part = |net: NetId, pick: fn(&Band) -> f64| {
            of(net).map_or((0.0, 0.0), |(was, is)| (pick(was), pick(is)))
        };
        let (red_was, red_is) = part(red, |band| band.nominal);
        let (black_was, black_is) = part(black, |band| band.nominal);
        let (high_was, high_is) = part(red, |band| band.high);
        let (low_was, low_is) = part(black, |band| band.low);
        (red_was - black_was, red_is - black_is, high_was - low_was, high_is - low_is)
    }
}

fn stand(nominal: bool, worst: bool) -> Stand {
    match (nominal, worst) {
        (true, true) => Stand::Kept,
        (true, false) => Stand::Tight,
        _ => Stand::Broken,
    }
}

fn net_change(circuit: &Circuit, net: NetId, both: &Both<'_>) -> Option<NetChange> {
    let (was, is) = both.of(Watched::Net(net))?;
    let limit = circuit.limits.iter().find(|(known, _)| *known == net).map(|(_, limit)| *limit);
    let keeps = |volts: f64, limit: &Limit| super::draws::keeps(volts, limit);
    let of_band = |band: &Band, limit: &Limit| {
        stand(keeps(band.nominal, limit), keeps(band.low, limit) && keeps(band.high, limit))
    };
    let limit = limit.map(|limit| (limit, of_band(was, &limit), of_band(is, &limit)));
    Some(NetChange { net, before: was.clone(), after: is.clone(), limit })
}

/// The unit that a part is rated in.
fn rating_unit(circuit: &Circuit, part: PartId) -> Option<Unit> {
    let own = &circuit[part];
    own.nominal("rated")?;
    of(own).parameters().iter().find(|row| row.name == "rated").map(|row| row.unit)
}

fn ratings(
    boards: &Boards<'_>,
    parts: &[PartId],
    touched: &[PartId],
    both: &Both<'_>,
) -> Vec<RatingChange> {
    let of_part = |&part: &PartId| {
        let own = &boards.circuit[part];
        let rated = boards.other[part].nominal("rated");
        let unit = rating_unit(boards.circuit, part).unwrap_or(Unit::Watt);
        let (before, after, most_before, most) = if unit == Unit::Volt {
            let [plus, minus] = [own.pins[0].net, own.pins[1].net];
            both.between(plus, minus)
        } else {
            let watched =
                if unit == Unit::Amp { Watched::Amps(part) } else { Watched::Watts(part) };
            let (was, is) = both.of(watched)?;
            let most = |band: &Band| band.high.abs().max(band.low.abs());
            (was.nominal.abs(), is.nominal.abs(), most(was), most(is))
        };
        let within = |value: f64| rated.is_none_or(|rated| value <= rated);
        let change = RatingChange {
            part,
            unit,
            before,
            after,
            most,
            rated,
            stand: stand(within(after), within(most)),
            stood: stand(within(before), within(most_before)),
        };
        let moves = (after - before).abs() > 0.02 * before.abs().max(1e-6);
        let told = touched.contains(&part) || moves || change.stand != Stand::Kept;
        told.then_some(change)
    };
    parts.iter().filter_map(of_part).collect()
}

fn pins(boards: &Boards<'_>, moved: &BTreeSet<NetId>, both: &Both<'_>) -> Vec<PinChange> {
    let mut found = Vec::new();
    for (part, own) in boards.circuit.parts_by_id().filter(|(_, part)| part.fitted) {
        let ground = own.pin("ground").map_or(NetId::GROUND, |pin| own.pins[pin].net);
        for &(pin, maximum) in &own.maximum {
            let Some(place) = own.pins.get(pin) else { continue };
            let (before, after, most_before, most) = both.between(place.net, ground);
            let change = PinChange {
                part,
                pin,
                before,
                after,
                most,
                maximum,
                stand: stand(after <= maximum, most <= maximum),
                stood: stand(before <= maximum, most_before <= maximum),
            };
            if moved.contains(&place.net) || change.stand != Stand::Kept {
                found.push(change);
            }
        }
    }
    found
}

fn conditions(boards: &Boards<'_>) -> Vec<ConditionChange> {
    // What switches while power comes up stands in one list where it holds, in the other where not.
    let all = |point: &Operating| -> Vec<Requirement> {
        let mut all = point.power_up.clone();
        all.extend(point.waiting.iter().copied());
        all
    };
    let (was, is) = (all(boards.before), all(&boards.after));
    let same = |a: &Requirement, b: &Requirement| (a.part, a.condition) == (b.part, b.condition);
    let mut found: Vec<ConditionChange> = Vec::new();
    let mut put = |before: Option<&Requirement>, after: Option<&Requirement>| {
        let known = |change: &ConditionChange| {
            change.now().zip(after.or(before)).is_some_and(|(a, b)| same(a, b))
        };
        if !found.iter().any(known) {
            found.push(ConditionChange { before: before.copied(), after: after.copied() });
        }
    };
    for before in &was {
        put(Some(before), is.iter().rev().find(|after| same(before, after)));
    }
    for after in &is {
        put(was.iter().rev().find(|before| same(before, after)), Some(after));
    }
    found.retain(|change| {
        let margins = change.before.zip(change.after).map(|(a, b)| (a.margin, b.margin));
        let moves = margins.is_none_or(|(a, b)| (a - b).abs() > 0.02 * a.abs().max(1e-3));
        moves || change.stand() == Stand::Broken
    });
    found
}
