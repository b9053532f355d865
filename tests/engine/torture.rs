//! Circuits that no board has, to see that an answer is right or is none: eighteen decades of
//! resistance in one network, against exact arithmetic; strings of hundreds of junctions, against
//! the sum of their drops; loops of links, islands, sources against each other; every kind of chip
//! wired at random, its own output to its own input among them.

// The counts are what a reader of the test's output wants to see.
#![allow(clippy::print_stdout)]

use crate::active::{Dice, Draft, accepted, listed};
use crate::strategies;
use crate::strategies::{Spec, circuit, config, part, resistor, source, sums, volts};
use num_rational::BigRational;
use num_traits::{Signed, ToPrimitive, Zero};
use ohmhound::circuit::{Circuit, Overlay, POWERED};
use ohmhound::device::{ALL, Kind, Pins, Shape};
use ohmhound::engine::{Assembly, Ending, OperatingPoint, Settings};
use proptest::prelude::*;

fn exact(value: f64) -> BigRational {
    BigRational::from_float(value).unwrap()
}

/// Volts of every net but ground, and amps of every part, of resistors and ideal sources from
/// ground, in exact arithmetic: what the numbers in the file say, to the last digit.
fn by_fractions(specs: &[Spec]) -> (Vec<(String, BigRational)>, Vec<BigRational>) {
    let mut names: Vec<&String> = Vec::new();
    for net in specs.iter().flat_map(|spec| &spec.nets) {
        if net != "GND" && !names.contains(&net) {
            names.push(net);
        }
    }
    let at = |net: &String| names.iter().position(|name| *name == net);
    let n = names.len();
    let zero = BigRational::zero;
    // One row per net, the right side in the last column.
    let mut rows = vec![vec![zero(); n + 1]; n];
    for spec in specs.iter().filter(|spec| spec.kind == "resistor") {
        let conductance = exact(spec.number("value").unwrap()).recip();
        let ends = [at(&spec.nets[0]), at(&spec.nets[1])];
        for (own, other) in [(ends[0], ends[1]), (ends[1], ends[0])] {
            let Some(own) = own else { continue };
            rows[own][own] += &conductance;
            if let Some(other) = other {
                rows[own][other] -= &conductance;
            }
        }
    }
    for spec in specs.iter().filter(|spec| spec.kind != "resistor") {
        let net = at(&spec.nets[0]).unwrap();
        rows[net] = vec![zero(); n + 1];
        rows[net][net] = exact(1.0);
        rows[net][n] = exact(spec.number("volts").unwrap());
    }
    for pivot in 0..n {
        let best = (pivot..n).find(|row| !rows[*row][pivot].is_zero()).unwrap();
        rows.swap(pivot, best);
        let inverse = rows[pivot][pivot].clone().recip();
        rows[pivot].iter_mut().for_each(|entry| *entry *= &inverse);
        let row = rows[pivot].clone();
        for other in (0..n).filter(|other| *other != pivot) {
            let factor = rows[other][pivot].clone();
            if !factor.is_zero() {
                for (entry, own) in rows[other].iter_mut().zip(&row) {
                    *entry -= &factor * own;
                }
            }
        }
    }
    let volts = |net: &String| at(net).map_or_else(zero, |net| rows[net][n].clone());
    let amps = specs.iter().map(|spec| match spec.kind {
        "resistor" => {
            (volts(&spec.nets[0]) - volts(&spec.nets[1])) / exact(spec.number("value").unwrap())
        }
        _ => zero(),
    });
    (names.iter().map(|name| ((*name).clone(), volts(name))).collect(), amps.collect())
}

/// Resistors of 1 µΩ to 1 TΩ between up to eight nets, every net joined to the one before, and one
/// or two ideal sources.
fn wide() -> impl Strategy<Value = Vec<Spec>> {
    let links = proptest::collection::vec((0_usize..100, 0_usize..100, -6.0..12.0_f64), 1..14);
    (2_usize..9, links, -6.0..12.0_f64, any::<bool>()).prop_map(|(n, links, first, two)| {
        let name = |net: usize| if net == 0 { "GND".to_owned() } else { format!("N{net}") };
        let mut specs = vec![source("V1", ["N1", "GND"], 12.0)];
        if two && n > 2 {
            specs.push(source("V2", ["N2", "GND"], -3.3));
        }
        for (idx, (from, to, decade)) in links.iter().enumerate() {
            let (from, to) = (from % n, to % n);
            if from != to {
                let nets = [name(from), name(to)];
                let ohms = 10.0_f64.powf(*decade);
                specs.push(resistor(&format!("R{idx}"), [&nets[0], &nets[1]], ohms));
            }
        }
        for net in 1..n {
            let ohms = 10.0_f64.powf((first + 5.0 * net as f64 + 6.0) % 18.0 - 6.0);
            let nets = [name(net - 1), name(net)];
            specs.push(resistor(&format!("S{net}"), [&nets[0], &nets[1]], ohms));
        }
        specs
    })
}

fn solved(circuit: &Circuit) -> OperatingPoint {
    let run = Assembly::new(circuit).solve(POWERED, &Overlay::none());
    run.point.unwrap_or_else(|| panic!("{:?}", run.ending))
}

proptest! {
    #![proptest_config(config(2000, 91))]

    /// Volts to 1e-13 of the largest, and every current to 1e-9 of itself, or to a tenth of what the
    /// last digit of the largest voltage would drive through the resistor, or a femtoamp.
    #[test]
    fn eighteen_decades_come_out_as_in_exact_arithmetic(specs in wide(), dense in any::<bool>()) {
        let board = circuit(&specs);
        // The ways of small networks and of large ones.
        let settings = Settings { dense: if dense { 64 } else { 0 }, ..Settings::default() };
        let run = Assembly::with_settings(&board, settings).solve(POWERED, &Overlay::none());
        let point = run.point.unwrap();
        prop_assert!(point.kcl_share <= 1.0);
        let (nets, amps) = by_fractions(&specs);
        for (name, exact) in &nets {
            let found = volts(&board, &point, name);
            let exact = exact.to_f64().unwrap();
            prop_assert!((found - exact).abs() <= 12.0 * 1e-13, "{}: {} and {}", name, found, exact);
        }
        for (idx, spec) in specs.iter().enumerate().filter(|(_, spec)| spec.kind == "resistor") {
            let found = point.amps[idx];
            let error = (exact(found) - &amps[idx]).abs().to_f64().unwrap();
            let own = amps[idx].to_f64().unwrap().abs();
            // In a large network the drop of a resistor at an ideal source, or in another cluster than
            // its end, is the difference of two voltages of that size.
            let digits = if dense { 0.1 } else { 4.0 };
            let last = f64::EPSILON * 12.0 / spec.number("value").unwrap();
            prop_assert!(error <= 1e-9 * own + digits * last + 1e-15, "{} dense {}: {:e} and {:e}", spec.name, dense, found,
                amps[idx].to_f64().unwrap());
        }
    }
}

/// A string of junctions and resistors behind an ideal source.
struct Chain {
    specs: Vec<Spec>,
    /// Of each link: saturation current and slope voltage of a junction that points down (`true`)
    /// or up, or ohms.
    links: Vec<Link>,
}

enum Link {
    Ohms(f64),
    Junction { saturation: f64, slope: f64, down: bool },
}

/// kT/q at 25 °C (CODATA 2018 k and e, exact by definition).
const THERMAL: f64 = 1.380_649e-23 * 298.15 / 1.602_176_634e-19;

fn chain(dice: &mut Dice, volts: f64, length: usize, reversed: f64) -> Chain {
    let mut specs = vec![source("V1", ["n0", "GND"], volts)];
    let mut links = Vec::new();
    for idx in 0..length {
        let ends = [
            format!("n{idx}"),
            if idx + 1 == length { "GND".to_owned() } else { format!("n{}", idx + 1) },
        ];
        if dice.chance(0.3) {
            let ohms = dice.log(1e-6, 1e9);
            specs.push(resistor(&format!("R{idx}"), [&ends[0], &ends[1]], ohms));
            links.push(Link::Ohms(ohms));
        } else {
            let (saturation, ideality) = (dice.log(1e-18, 1e-6), dice.between(1.0, 4.0));
            let down = !dice.chance(reversed);
            let nets = if down { [&*ends[0], &*ends[1]] } else { [&*ends[1], &*ends[0]] };
            specs.push(
                part(&format!("D{idx}"), "diode", nets)
                    .with("saturation_current", saturation)
                    .with("ideality", ideality),
            );
            links.push(Link::Junction { saturation, slope: ideality * THERMAL, down });
        }
    }
    Chain { specs, links }
}

/// Amps beyond which the law of a junction goes on as a straight line.
const BURNT: f64 = 100.0;

/// Volts over a link that carries so many amps: W. Shockley, "The theory of p-n junctions in
/// semiconductors and p-n junction transistors", Bell System Technical Journal 28, 1949, solved for
/// the voltage.
fn drop_of(link: &Link, amps: f64) -> f64 {
    match link {
        Link::Ohms(ohms) => ohms * amps,
        Link::Junction { saturation, slope, down: true } => slope * (amps / saturation).ln_1p(),
        Link::Junction { saturation, slope, down: false } => {
            // Never more than its saturation current backwards.
            if amps >= *saturation { f64::INFINITY } else { -slope * (-amps / saturation).ln_1p() }
        }
    }
}

/// The one current at which the drops add up, by bisection of its logarithm.
fn amps_of(links: &[Link], volts: f64) -> f64 {
    let (mut low, mut high) = (-80.0_f64, 20.0_f64);
    for _ in 0..200 {
        let middle = 0.5 * (low + high);
        let sum: f64 = links.iter().map(|link| drop_of(link, middle.exp())).sum();
        if sum < volts { low = middle } else { high = middle }
    }
    (0.5 * (low + high)).exp()
}

/// Every part of the string carries the one current; `false` where it is one that burns.
fn carries_one_current(chain: &Chain, volts: f64) -> bool {
    let run = Assembly::new(&circuit(&chain.specs)).solve(POWERED, &Overlay::none());
    let point = run.point.unwrap_or_else(|| panic!("{:?}", run.ending));
    assert!(point.kcl_share <= 1.0);
    let exact = amps_of(&chain.links, volts);
    if exact > BURNT {
        return false;
    }
    let settings = Settings::default();
    for (spec, amps) in chain.specs[1..].iter().zip(&point.amps[1..]) {
        // Kirchhoff's law holds to a picoamp at every net. In a large network the drop of a resistor
        // at an ideal source is the difference of two voltages of that size.
        let mut allowed = 1e-6 * exact + settings.absolute_amps * chain.links.len() as f64;
        if let (Some(ohms), "n0") = (spec.number("value"), &*spec.nets[0]) {
            allowed += 4.0 * f64::EPSILON * volts / ohms;
        }
        // A part that points up counts its current the other way.
        assert!((amps.abs() - exact).abs() <= allowed, "{spec:?}: {amps:e} and {exact:e}");
    }
    true
}

/// Strings of up to a thousand junctions of any saturation current, resistors of 1 µΩ to 1 GΩ
/// between them, at volts that light none of them or nearly burn all.
#[test]
fn strings_of_junctions_carry_what_their_drops_say() {
    let mut dice = Dice::new(17);
    let carried = (0..200).filter(|round| {
        let length = [3, 10, 60, 300, 1000][round % 5];
        let volts = dice.log(0.05, 2.0 * length as f64);
        carries_one_current(&chain(&mut dice, volts, length, 0.0), volts)
    });
    assert!(carried.count() > 150);
}

/// Junctions the wrong way round let no more through than the least of their saturation currents.
#[test]
fn strings_with_junctions_the_wrong_way_round_leak() {
    let mut dice = Dice::new(18);
    let carried = (0..200).filter(|round| {
        let length = [3, 10, 60, 300][round % 4];
        let volts = dice.log(0.5, 20.0 + length as f64);
        carries_one_current(&chain(&mut dice, volts, length, 0.2), volts)
    });
    assert!(carried.count() > 150);
}

/// Ideal sources side by side have no answer, however near to each other they are; behind a microohm
/// each, a microvolt between them drives half an amp.
#[test]
fn sources_within_a_microvolt_of_each_other() {
    let apart = |ohms: f64, volts: f64| {
        let specs = [
            part("V1", "supply", ["A", "GND"]).with("volts", 5.0).with("resistance", ohms),
            part("V2", "supply", ["A", "GND"]).with("volts", 5.0 + volts).with("resistance", ohms),
            resistor("R1", ["A", "GND"], 1e3),
        ];
        Assembly::new(&circuit(&specs)).solve(POWERED, &Overlay::none())
    };
    for volts in [1e-6, -1e-6, 1e-12, 4.0 * f64::EPSILON, 1.0] {
        let run = apart(0.0, volts);
        assert!(matches!(run.ending, Ending::Contradiction { .. }), "{volts}: {:?}", run.ending);
        assert!(run.point.is_none());
    }
    let point = apart(1e-6, 1e-6).point.unwrap();
    // 5 V + 1 µV is the nearest number to it, 4e-10 of the microvolt off.
    assert!(
        (point.amps[0] + 0.5 - 2.5e-3).abs() < 1e-8 || (point.amps[0] - 0.5 + 2.5e-3).abs() < 1e-8,
        "{:?}",
        point.amps
    );
}

/// Islands that nothing joins to ground: marked, and right among themselves.
#[test]
fn islands_are_right_among_themselves() {
    let mut dice = Dice::new(19);
    for _ in 0..100 {
        let mut specs = vec![source("V0", ["A", "GND"], 3.0), resistor("R0", ["A", "GND"], 1e-6)];
        let mut wanted = Vec::new();
        for island in 0..1 + dice.below(20) {
            let (top, bottom) = (format!("T{island}"), format!("B{island}"));
            let middle = format!("M{island}");
            let (volts, above, below) =
                (dice.log(1e-3, 1e3), dice.log(1e-6, 1e12), dice.log(1e-6, 1e12));
            specs.push(source(&format!("V{}", island + 1), [&top, &bottom], volts));
            specs.push(resistor(&format!("RA{island}"), [&top, &middle], above));
            specs.push(resistor(&format!("RB{island}"), [&middle, &bottom], below));
            wanted.push((middle, bottom, volts * below / (above + below), volts));
        }
        let board = circuit(&specs);
        let point = solved(&board);
        assert!(point.kcl_share <= 1.0);
        for (middle, bottom, exact, whole) in wanted {
            assert!(point.floating[strategies::net(&board, &middle)]);
            let found = volts(&board, &point, &middle) - volts(&board, &point, &bottom);
            assert!((found - exact).abs() <= 1e-12 * whole, "{found} and {exact}");
        }
        assert!(!point.floating[strategies::net(&board, "A")]);
    }
}

/// Links from microohms to a joint gone bad in rings with chords: what goes round in them, the nets
/// stand within what the links let fall, and what goes in comes out.
#[test]
fn loops_of_links_are_nearly_one_net() {
    let mut dice = Dice::new(20);
    for round in 0..100 {
        let n = 2 + dice.below(90);
        let mut specs =
            vec![source("V1", ["IN", "GND"], 12.0), resistor("R1", ["IN", "L0"], 100.0)];
        let name = |net: usize| format!("L{net}");
        for number in 0..n + dice.below(3 * n) {
            // A ring, and chords over it.
            let ends = match number < n {
                true => [name(number), name((number + 1) % n)],
                false => [name(dice.below(n)), name(dice.below(n))],
            };
            if ends[0] != ends[1] {
                let link = part(&format!("W{number}"), "link", [&ends[0], &ends[1]]);
                specs.push(link.with("resistance", dice.log(1e-6, 1e-3)));
            }
        }
        let last = name(n - 1);
        specs.push(resistor("R2", [&last, "GND"], 500.0));
        let board = circuit(&specs);
        let network = Assembly::new(&board).network(POWERED, &Overlay::none());
        let point = solved(&board);
        // Twenty milliamps flow, through a milliohm at most in each link of the ring.
        for net in 0..n {
            let found = volts(&board, &point, &name(net));
            assert!((found - 10.0).abs() < 2e-5 * n as f64, "round {round}: {found}");
        }
        let (left, sizes) = sums(&network, &point.amps);
        for (left, size) in left.iter().zip(&sizes).skip(1) {
            assert!(left.abs() <= 1e-9 * size, "round {round}: {left:e} of {size:e}");
        }
    }
}

/// A part of the kind, wired between these nets at random, a few of its numbers at the far ends of
/// what the reader lets in.
fn strained(dice: &mut Dice, kind: &'static dyn Kind, nets: &[&str]) -> Option<Draft> {
    let pins: Vec<&'static str> = match kind.pins() {
        Pins::Two => vec!["1", "2"],
        Pins::Named(names) => names.to_vec(),
        Pins::Fitted(required, optional) => [required, optional].concat(),
        Pins::Chip | Pins::Contacts => return None,
    };
    let wired: Vec<(&'static str, &str)> = pins.iter().map(|pin| (*pin, *dice.one(nets))).collect();
    let mut draft = Draft::new(kind.name(), &wired);
    for parameter in kind.parameters() {
        let required = matches!(parameter.fill, ohmhound::device::Fill::Required);
        if !required && !dice.chance(0.3) {
            continue;
        }
        let value = match dice.below(4) {
            0 => dice.log(1e-15, 1e-6),
            1 => dice.log(1e6, 1e15),
            _ => dice.log(1e-3, 1e3),
        };
        draft = match parameter.shape {
            Shape::Number => draft.with(parameter.name, value),
            Shape::Point(_) => {
                let at = dice.log(1e-9, 1e2);
                draft.at(parameter.name, value, at)
            }
            Shape::Word(words) => {
                let word: &str = words[dice.below(words.len())];
                draft.word(parameter.name, word)
            }
            Shape::Flag => draft.flag(parameter.name, dice.chance(0.5)),
            Shape::Pull => draft.pull(parameter.name, dice.chance(0.5), value),
        };
    }
    Some(draft)
}

/// Whatever the numbers, an answer is finite and holds Kirchhoff's law, or it is none.
#[test]
fn numbers_of_any_size_in_every_kind() {
    let mut dice = Dice::new(21);
    let nets = ["GND", "A", "B", "C"];
    let mut endings = std::collections::BTreeMap::<String, usize>::new();
    for kind in ALL {
        for _ in 0..60 {
            let Some(own) = strained(&mut dice, *kind, &nets) else { continue };
            let mut drafts = vec![own.named("X1")];
            for (idx, net) in nets[1..].iter().enumerate() {
                let supply = Draft::two("supply", net, "GND")
                    .named(&format!("J{idx}"))
                    .with("volts", dice.log(1e-3, 1e3))
                    .with("resistance", dice.log(1e-6, 1e9));
                drafts.push(supply);
            }
            let Ok(board) = accepted(&drafts) else { continue };
            let up = Assembly::new(&board).power_up(POWERED, &Overlay::none(), None);
            let word = format!("{:?}", up.run.ending);
            let word = word.split([' ', '{']).next().unwrap_or_default().to_owned();
            *endings.entry(word).or_default() += 1;
            if let Some(point) = &up.run.point {
                assert!(
                    point.volts.iter().chain(&point.amps).all(|value| value.is_finite()),
                    "{}",
                    listed(&drafts)
                );
                assert!(point.kcl_share <= 1.0, "{}\n{}", point.kcl_share, listed(&drafts));
                // No net beyond its sources, but for boosts and what gains.
            }
        }
    }
    println!("{endings:?}");
    assert!(endings["Converged"] > 500, "{endings:?}");
}
