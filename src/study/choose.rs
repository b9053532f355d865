//! The best of what there is: values from a series or a drawer, alone or two of them together, for
//! one part or for both parts of a divider.
//!
//! The value v* that would bring the net to its target is found first, by bisection between values
//! at which the net lies on both sides of it; as all that competes is near v*, its worst-case error
//! is that of the rest of the board plus |dV/d ln v| · (|ln v/v*| + tolerance) to first order. What is
//! nearest by that is solved in full, corners included.

use super::bands::bands;
use super::solved::{Solved, Watched};
use super::substitute::fitted;
use crate::circuit::{Change, NetId, Overlay, POWERED, Param, PartId, StockItem, Substitute};
use crate::engine::{Assembly, Ending};
use crate::quantity::{Point, Series, Spread, Toleranced};

/// Choices of each sort that are solved with their corners.
const SOLVED: usize = 12;
/// A first part of a divider is at most this many times larger or smaller than the one drawn.
const AWAY: f64 = 10.0;
/// Decades around the drawn value in which the right one is looked for, whatever there is.
const BEYOND: i32 = 3;
/// Worst-case errors that differ by less than this share of the target are as good as each other:
/// then what is nearest to the drawn value goes first.
const ALIKE: f64 = 5e-4;

/// How a value is made up.
#[derive(Debug, Clone, PartialEq)]
pub enum Makeup {
    /// One part.
    Single(StockItem),
    /// Two, one behind the other.
    Series(StockItem, StockItem),
    /// Two, side by side.
    Parallel(StockItem, StockItem),
}

impl Makeup {
    /// The value of it all, with what it may be when each part is at its end.
    pub fn value(&self) -> Toleranced {
        let between = |pick: &dyn Fn(f64, f64) -> f64, a: &StockItem, b: &StockItem| {
            let (a, b) = (a.value, b.value);
            let (least, most) = (pick(a.least(), b.least()), pick(a.most(), b.most()));
            let nominal = pick(a.nominal, b.nominal);
            Toleranced { nominal, spread: Some(Spread::Between { least, most }) }
        };
        match self {
            Makeup::Single(one) => one.value,
            Makeup::Series(a, b) => between(&|a, b| a + b, a, b),
            Makeup::Parallel(a, b) => between(&|a, b| a * b / (a + b), a, b),
        }
    }

    /// How many parts it takes.
    pub fn count(&self) -> usize {
        if matches!(self, Makeup::Single(_)) { 1 } else { 2 }
    }
}

/// One choice.
#[derive(Debug, Clone, PartialEq)]
pub struct Choice {
    /// Per part, what is put in its place.
    pub parts: Vec<(PartId, Makeup)>,
    /// Nominal volts of the net.
    pub nominal: f64,
    /// The least and the most in the worst case.
    pub ends: (f64, f64),
    /// The largest distance from the target in the worst case, in volts.
    pub error: f64,
    /// The same as values to put in, one per part in their order; behind them ratings that the parts
    /// bring along.
    pub substitutes: Vec<Substitute>,
}

/// The choices for a target.
#[derive(Debug, Clone, PartialEq)]
pub struct Choices {
    /// The net.
    pub net: NetId,
    /// The volts it should have.
    pub target: f64,
    /// What the parts would have to be, where there is such a value: per part alone.
    pub ideal: Vec<(PartId, f64)>,
    /// One value for one part, the best first.
    pub singles: Vec<Choice>,
    /// Two in series or side by side for one part, the best first.
    pub pairs: Vec<Choice>,
    /// One value for each of two parts, the best first.
    pub both: Vec<Choice>,
}

/// The values of a series between two values, as items with the tolerance that it is made for.
///
/// ```
/// use ohmhound::quantity::Series;
/// use ohmhound::study::of_series;
///
/// let items = of_series(Series::E3, 0.05, 1e3, 10e3);
/// let values: Vec<f64> = items.iter().map(|item| item.value.nominal).collect();
/// assert_eq!(values, [1e3, 2.2e3, 4.7e3, 10e3]);
/// ```
pub fn of_series(series: Series, tolerance: f64, low: f64, high: f64) -> Vec<StockItem> {
    let item = |nominal: f64| StockItem {
        value: Toleranced { nominal, spread: Some(Spread::Absolute(tolerance * nominal)) },
        rated: None,
        quantity: None,
        note: String::new(),
    };
    (low.log10().floor() as i32..=high.log10().ceil() as i32)
        .flat_map(|decade| series.decade(decade))
        .filter(|value| (low..=high).contains(value))
        .map(item)
        .collect()
}

/// Looks for the best choices for one or two parts out of some items, so that a net comes to its
/// target.
///
/// # Errors
///
/// How the run ended where the board as drawn has no operating point.
pub fn choose(
    assembly: &Assembly<'_>,
    named: &[(PartId, &'static str)],
    (net, target): (NetId, f64),
    items: &[StockItem],
    most: usize,
) -> Result<Choices, Ending> {
    Solved::new(assembly, POWERED, &Overlay::none())?;
    let search = Search { assembly, net, target, items };
    let mut found = Choices {
        net,
        target,
        ideal: Vec::new(),
        singles: Vec::new(),
        pairs: Vec::new(),
        both: Vec::new(),
    };
    for &(part, parameter) in named {
        let ideals = search.ideals(part, parameter);
        found.ideal.extend(ideals.iter().map(|ideal| (part, *ideal)));
        let singles = items.iter().map(|item| Makeup::Single(item.clone())).collect();
        found.singles.extend(search.ranked(part, parameter, &ideals, singles));
        let is_resistance = is_ohmic(assembly, part, parameter);
        // Where no value brings the net there, two that make one up do not either.
        if is_resistance && !ideals.is_empty() {
            let pairs = search.pairs(&ideals);
            found.pairs.extend(search.ranked(part, parameter, &ideals, pairs));
        }
    }
    if let [first, second] = named {
        found.both = search.both(*first, *second);
    }
    for list in [&mut found.singles, &mut found.pairs, &mut found.both] {
        search.sort(list);
        list.truncate(most);
    }
    Ok(found)
}

/// The net that goes most with a parameter, as a share of what it has; `None` where none of them does.
pub fn moves_most(
    assembly: &Assembly<'_>,
    (part, name): (PartId, &'static str),
    nets: &[NetId],
) -> Option<NetId> {
    let nominal = assembly.circuit()[part].toleranced(name)?.nominal;
    let volts = |value: f64| {
        let changes = vec![Change::Parameter { part, name, value }];
        Some(Solved::new(assembly, POWERED, &Overlay { changes }).ok()?.point.volts)
    };
    let (low, high) = (volts(0.98 * nominal)?, volts(1.02 * nominal)?);
    let moves = |net: &NetId| {
        let (low, high) = (low[net.index()], high[net.index()]);
        (high - low).abs() / (high.abs() + low.abs()).max(1e-6)
    };
    let best = nets.iter().copied().max_by(|a, b| moves(a).total_cmp(&moves(b)));
    best.filter(|net| moves(net) > 1e-4)
}

/// Whether two of a parameter can be put in series or side by side.
fn is_ohmic(assembly: &Assembly<'_>, part: PartId, parameter: &str) -> bool {
    assembly.circuit()[part].kind == "resistor" && parameter == "value"
}

struct Search<'a> {
    assembly: &'a Assembly<'a>,
    net: NetId,
    target: f64,
    items: &'a [StockItem],
}

impl Search<'_> {
    /// Volts of the net with these values in place, less the target; `None` without an operating
    /// point.
    fn off(&self, values: &[(PartId, &'static str, f64)]) -> Option<f64> {
        let changes = values
            .iter()
            .map(|&(part, name, value)| Change::Parameter { part, name, value })
            .collect();
        let solved = Solved::new(self.assembly, POWERED, &Overlay { changes }).ok()?;
        Some(solved.point.volts[self.net.index()] - self.target)
    }

    fn drawn(&self, part: PartId, parameter: &str) -> f64 {
        self.assembly.circuit()[part].toleranced(parameter).map_or(1.0, |value| value.nominal)
    }

    /// The values of a part at which the net is at its target.
    fn ideals(&self, part: PartId, parameter: &'static str) -> Vec<f64> {
        let mut values: Vec<f64> = self.items.iter().map(|item| item.value.nominal).collect();
        // The value may lie beyond all that there is.
        let drawn = self.drawn(part, parameter);
        values.extend((-BEYOND..=BEYOND).map(|decades| drawn * 10.0_f64.powi(decades)));
        values.retain(|value| *value > 0.0);
        values.sort_by(f64::total_cmp);
        values.dedup();
        let at = |value: f64| self.off(&[(part, parameter, value)]);
        let off: Vec<Option<f64>> = values.iter().map(|value| at(*value)).collect();
        let mut found = Vec::new();
        for idx in 1..values.len() {
            let (Some(low), Some(high)) = (off[idx - 1], off[idx]) else { continue };
            if low == 0.0 {
                found.push(values[idx - 1]);
            } else if low * high < 0.0 {
                found.extend(bisected((values[idx - 1], low), (values[idx], high), &at));
            }
        }
        if let (Some(last), Some(Some(0.0))) = (values.last(), off.last()) {
            found.push(*last);
        }
        found
    }

    /// Pairs of items that come near one of these values.
    fn pairs(&self, ideals: &[f64]) -> Vec<Makeup> {
        let mut near: Vec<(f64, Makeup)> = Vec::new();
        for (idx, a) in self.items.iter().enumerate() {
            for b in &self.items[idx..] {
                if std::ptr::eq(a, b) && a.quantity == Some(1) {
                    continue;
                }
                for makeup in
                    [Makeup::Series(a.clone(), b.clone()), Makeup::Parallel(a.clone(), b.clone())]
                {
                    let key = nearness(&makeup.value(), ideals);
                    if near.len() < 4 * SOLVED || near.last().is_none_or(|(last, _)| key < *last) {
                        let place = near.partition_point(|(known, _)| *known <= key);
                        near.insert(place, (key, makeup));
                        near.truncate(4 * SOLVED);
                    }
                }
            }
        }
        near.into_iter().map(|(_, makeup)| makeup).collect()
    }

    /// The nearest of some makeups for one part, solved with their corners.
    fn ranked(
        &self,
        part: PartId,
        parameter: &'static str,
        ideals: &[f64],
        makeups: Vec<Makeup>,
    ) -> Vec<Choice> {
        let mut near: Vec<(f64, Makeup)> = makeups
            .into_iter()
            .map(|makeup| {
                let value = makeup.value();
                let key = if ideals.is_empty() {
                    // No value brings the net there: by how far it stays away.
                    let off = self.off(&[(part, parameter, value.nominal)]);
                    off.map_or(f64::INFINITY, f64::abs)
                } else {
                    nearness(&value, ideals)
                };
                (key, makeup)
            })
            .collect();
        near.sort_by(|a, b| a.0.total_cmp(&b.0));
        let near = near.into_iter().take(SOLVED);
        near.filter_map(|(_, makeup)| self.choice(vec![(part, parameter, makeup)])).collect()
    }

    /// One item for each of two parts.
    fn both(&self, first: (PartId, &'static str), second: (PartId, &'static str)) -> Vec<Choice> {
        let drawn = [first, second].map(|(part, parameter)| self.drawn(part, parameter));
        let mut sorted: Vec<&StockItem> = self.items.iter().collect();
        sorted.sort_by(|a, b| a.value.nominal.total_cmp(&b.value.nominal));
        let mut near: Vec<(f64, f64, [StockItem; 2])> = Vec::new();
        let mut guess = drawn[1];
        for one in &sorted {
            let value = one.value.nominal;
            if !(drawn[0] / AWAY..=drawn[0] * AWAY).contains(&value) {
                continue;
            }
            let at =
                |other: f64| self.off(&[(first.0, first.1, value), (second.0, second.1, other)]);
            let Some(ideal) = root(guess, &at) else { continue };
            guess = ideal;
            let above = sorted.partition_point(|item| item.value.nominal < ideal);
            for item in [above.checked_sub(1), Some(above)].into_iter().flatten() {
                let Some(other) = sorted.get(item) else { continue };
                let is_same = std::ptr::eq(*one, *other) && one.quantity == Some(1);
                if is_same {
                    continue;
                }
                let key = nearness(&other.value, &[ideal]) + relative(&one.value);
                let away = (value / drawn[0]).ln().abs();
                near.push((key, away, [(*one).clone(), (*other).clone()]));
            }
        }
        near.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1)));
        near.truncate(2 * SOLVED);
        near.into_iter()
            .filter_map(|(.., [one, other])| {
                self.choice(vec![
                    (first.0, first.1, Makeup::Single(one)),
                    (second.0, second.1, Makeup::Single(other)),
                ])
            })
            .collect()
    }

    /// A choice solved with its corners.
    fn choice(&self, parts: Vec<(PartId, &'static str, Makeup)>) -> Option<Choice> {
        let circuit = self.assembly.circuit();
        let mut substitutes: Vec<Substitute> = parts
            .iter()
            .map(|(part, parameter, makeup)| {
                let value = makeup.value();
                let param = match circuit[*part].param(parameter) {
                    Some(Param::Point(old)) => Param::Point(Point { value, at: old.at }),
                    _ => Param::Number(value),
                };
                Substitute { part: *part, parameter, param }
            })
            .collect();
        // A single part brings its own rating.
        let rated = parts.iter().filter_map(|(part, _, makeup)| match makeup {
            Makeup::Single(StockItem { rated: Some(rated), .. }) => Some(Substitute {
                part: *part,
                parameter: "rated",
                param: Param::Number(Toleranced::bare(*rated)),
            }),
            _ => None,
        });
        substitutes.extend(rated);
        let other = fitted(self.assembly, &substitutes);
        let other = Assembly::new(&other);
        let watched = [Watched::Net(self.net)];
        let band = bands(&other, POWERED, &Overlay::none(), &watched).ok()?.into_iter().next()?;
        let error = (band.high - self.target).abs().max((band.low - self.target).abs());
        Some(Choice {
            parts: parts.into_iter().map(|(part, _, makeup)| (part, makeup)).collect(),
            nominal: band.nominal,
            ends: (band.low, band.high),
            error,
            substitutes,
        })
    }

    /// The least worst-case error first; of those as good as each other the one nearest to what is
    /// drawn.
    fn sort(&self, choices: &mut [Choice]) {
        let alike = ALIKE * self.target.abs().max(1e-3);
        let away = |choice: &Choice| -> f64 {
            let of_part = |(substitute, (part, makeup)): (&Substitute, &(PartId, Makeup))| {
                let drawn = self.drawn(*part, substitute.parameter);
                (makeup.value().nominal / drawn).ln().abs()
            };
            choice.substitutes.iter().zip(&choice.parts).map(of_part).sum()
        };
        // Two parts are compared at all only when both are on the list, so rounding is harmless.
        choices.sort_by(|a, b| {
            let rounded = |choice: &Choice| (choice.error / alike).round();
            let off = |choice: &Choice| (choice.nominal - self.target).abs();
            rounded(a).total_cmp(&rounded(b)).then(if a.parts.len() > 1 {
                away(a).total_cmp(&away(b))
            } else {
                off(a).total_cmp(&off(b))
            })
        });
    }
}

/// How far a value is from the nearest of some others, in the logarithm, its tolerance added.
fn nearness(value: &Toleranced, ideals: &[f64]) -> f64 {
    let away = |ideal: &f64| (value.nominal / ideal).ln().abs();
    ideals.iter().map(away).fold(f64::INFINITY, f64::min) + relative(value)
}

/// A tolerance as a share of the value.
fn relative(value: &Toleranced) -> f64 {
    value.half_width_high().max(value.half_width_low()) / value.nominal.abs().max(f64::MIN_POSITIVE)
}

/// The value between two at which the net is at its target.
fn bisected(
    (mut low, off_low): (f64, f64),
    (mut high, _): (f64, f64),
    at: &dyn Fn(f64) -> Option<f64>,
) -> Option<f64> {
    for _ in 0..60 {
        let middle = (low * high).sqrt();
        if high / low - 1.0 < 1e-10 {
            break;
        }
        let off = at(middle)?;
        if off * off_low > 0.0 {
            low = middle;
        } else {
            high = middle;
        }
    }
    let middle = (low * high).sqrt();
    // A jump over the target is no way to be at it.
    let (below, above) = (at(low)?, at(high)?);
    ((above - below).abs() < 1e-4 * (1.0 + below.abs())).then_some(middle)
}

/// The value at which the net is at its target, near a guess.
fn root(guess: f64, at: &dyn Fn(f64) -> Option<f64>) -> Option<f64> {
    let here = at(guess)?;
    if here == 0.0 {
        return Some(guess);
    }
    for reach in [1.3_f64, 2.0, 5.0, 20.0, 100.0] {
        for other in [guess * reach, guess / reach] {
            if let Some(there) = at(other).filter(|there| there * here < 0.0) {
                let ends = [(guess, here), (other, there)];
                let (low, high) =
                    if other > guess { (ends[0], ends[1]) } else { (ends[1], ends[0]) };
                return bisected(low, high, at);
            }
        }
    }
    None
}
