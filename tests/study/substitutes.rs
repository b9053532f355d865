//! Substitutes and choices: set points by hand, the best of all there is by an exhaustive search.

use crate::bench;
use ohmhound::circuit::{Circuit, NetId, Param, StockItem, Substitute};
use ohmhound::engine::Assembly;
use ohmhound::file::{Parsed, Wanted, read_stock, read_stock_csv, substitute_argument};
use ohmhound::finding::Source;
use ohmhound::quantity::{Series, Spread, Tolerance, Toleranced, Unit};
use ohmhound::study::{
    Choice, Choices, Comparison, Consumer, Makeup, NetChange, Stand, choose, compare, of_series,
};

/// The demo board, with the diodes at its chips' pins known exactly: within their 0.2 V, which is all
/// that is known of them, their leakage alone moves the rail by a thousandth.
fn demo() -> Circuit {
    let mut circuit = bench::demo("standby-supply");
    for part in &mut circuit.parts {
        for (name, param) in &mut part.params {
            if let (&mut "clamp_drop", Param::Point(point)) = (name, param) {
                point.value.spread = Some(Spread::Absolute(0.0));
            }
        }
    }
    circuit
}

/// Substitutes as they are typed.
fn typed(circuit: &Circuit, texts: &[&str]) -> Vec<Substitute> {
    let one = |text: &&str| {
        let parsed = substitute_argument(circuit, text);
        let told: Vec<_> = parsed.findings.iter().map(|one| one.message.clone()).collect();
        parsed.value.unwrap_or_else(|| panic!("{text}: {told:?}"))
    };
    texts.iter().map(one).collect()
}

fn compared(circuit: &Circuit, texts: &[&str]) -> Comparison {
    compare(&Assembly::new(circuit), &typed(circuit, texts), &[]).unwrap()
}

fn net<'a>(circuit: &Circuit, found: &'a Comparison, name: &str) -> &'a NetChange {
    let net = circuit.net(name).unwrap();
    found.nets.iter().find(|one| one.net == net).unwrap_or_else(|| panic!("{name} is not told"))
}

fn consumer<'a>(circuit: &Circuit, found: &'a Comparison, name: &str) -> &'a Consumer {
    let part = circuit.part(name).unwrap();
    let known = found.consumers.iter().find(|one| one.part == part);
    known.unwrap_or_else(|| panic!("{name} is not told: {:#?}", found.consumers))
}

#[track_caller]
fn near(found: f64, wanted: f64, within: f64) {
    assert!((found - wanted).abs() <= within, "{found}, expected {wanted}");
}

/// 5V_SB of the demo board by hand, for its reference and the two of its divider: Vref (1 + R3 / R4),
/// nominal and at the two worst corners.
struct SetPoint {
    reference: (f64, f64),
    /// Nominal, least, most.
    top: (f64, f64, f64),
    bottom: (f64, f64, f64),
}

/// A value with a tolerance of so many parts in one.
fn within(value: f64, tolerance: f64) -> (f64, f64, f64) {
    (value, value * (1.0 - tolerance), value * (1.0 + tolerance))
}

impl SetPoint {
    fn drawn() -> SetPoint {
        let (top, bottom) = (within(52.3e3, 0.01), within(10e3, 0.01));
        SetPoint { reference: (0.8, 0.015), top, bottom }
    }

    fn volts(&self) -> (f64, f64, f64) {
        let (v, share) = self.reference;
        let of = |v: f64, top: f64, bottom: f64| v * (1.0 + top / bottom);
        (
            of(v, self.top.0, self.bottom.0),
            of(v * (1.0 - share), self.top.1, self.bottom.2),
            of(v * (1.0 + share), self.top.2, self.bottom.1),
        )
    }

    /// The furthest from a target in the worst case.
    fn error(&self, target: f64) -> f64 {
        let (_, low, high) = self.volts();
        (high - target).abs().max((low - target).abs())
    }

    #[track_caller]
    fn is(&self, found: &NetChange) {
        let (nominal, low, high) = self.volts();
        near(found.after.nominal, nominal, 1e-4);
        near(found.after.low, low, 1e-4);
        near(found.after.high, high, 1e-4);
    }
}

/// 51 kΩ for 52.3 kΩ: 0.8 V × 6.1 = 4.88 V. The rail's limit of 4.75 V is kept by that, and missed by
/// 0.788 V × (1 + 50.49 / 10.1) = 4.727 V in the worst case; the 3.3 V behind it do not care.
#[test]
fn a_lower_value_in_a_feedback_divider() {
    let circuit = demo();
    let found = compared(&circuit, &["R3=51k"]);
    let rail = net(&circuit, &found, "5V_SB");
    near(rail.before.nominal, 4.984, 1e-4);
    near(rail.after.nominal, 4.88, 1e-4);
    SetPoint { top: within(51e3, 0.01), ..SetPoint::drawn() }.is(rail);
    let (limit, before, after) = rail.limit.unwrap();
    assert_eq!((limit.min, limit.max), (Some(4.75), Some(5.25)));
    assert_eq!((before, after), (Stand::Kept, Stand::Tight));
    let low = net(&circuit, &found, "3V3");
    near(low.after.nominal, low.before.nominal, 1e-3);
    assert_eq!(
        low.limit.map(|(_, before, after)| (before, after)),
        Some((Stand::Kept, Stand::Kept))
    );
    assert_eq!(found.stand, Stand::Tight);
    // What hangs on the rail is told, each once: the LED with its resistor and the regulator.
    let names: Vec<&str> =
        found.consumers.iter().map(|one| circuit[one.part].name.as_str()).collect();
    for name in ["R5", "U2"] {
        assert_eq!(names.iter().filter(|known| **known == name).count(), 1, "{names:?}");
    }
    // Neither the regulator that makes the rail nor what does not touch it.
    for name in ["U1", "R4", "R6", "R7", "U3", "A1", "J1"] {
        assert!(!names.contains(&name), "{names:?}");
    }
    let regulator = consumer(&circuit, &found, "U2");
    assert_eq!((regulator.stand, regulator.is_known), (Stand::Kept, true));
    assert_eq!(regulator.states.0, regulator.states.1);
    assert!(found.states.is_empty() && found.order.is_none());
}

/// 39 kΩ make 3.92 V, under the limit and, at 0.3 V at 300 mA, still enough for the 3.3 V; 22 kΩ make
/// 2.56 V, and the regulator, the supervisor and the order behind it are lost.
#[test]
fn a_value_that_breaks_what_hangs_on_the_rail() {
    let circuit = demo();
    let found = compared(&circuit, &["R3=39k"]);
    near(net(&circuit, &found, "5V_SB").after.nominal, 3.92, 1e-4);
    assert_eq!(found.stand, Stand::Broken);
    assert_eq!(net(&circuit, &found, "5V_SB").limit.unwrap().2, Stand::Broken);
    assert_eq!(net(&circuit, &found, "3V3").limit.unwrap().2, Stand::Kept);
    assert_eq!(consumer(&circuit, &found, "U2").stand, Stand::Kept);
    let found = compared(&circuit, &["R3=22k"]);
    near(net(&circuit, &found, "5V_SB").after.nominal, 2.56, 1e-4);
    let regulator = consumer(&circuit, &found, "U2");
    assert_eq!(regulator.stand, Stand::Broken);
    assert_eq!(regulator.states.1, Some("in dropout"));
    let reset = circuit.part("U3").unwrap();
    let change = found.conditions.iter().find(|one| one.now().unwrap().part == reset).unwrap();
    assert_eq!(change.stand(), Stand::Broken);
    // 68 kΩ make 6.24 V and break the limit above, not the 10 V of C2; 150 kΩ make 12.8 V.
    let found = compared(&circuit, &["R3=68k"]);
    let rated = circuit.part("C2").unwrap();
    let rating = |found: &Comparison| found.ratings.iter().find(|one| one.part == rated).cloned();
    assert_eq!(rating(&found).unwrap().stand, Stand::Kept);
    assert_eq!(found.stand, Stand::Broken);
    let broken = rating(&compared(&circuit, &["R3=150k"])).unwrap();
    near(broken.after, 12.8, 1e-3);
    assert_eq!(
        (broken.stood, broken.stand, broken.rated),
        (Stand::Kept, Stand::Broken, Some(10.0))
    );
}

/// Several at once: 0.6 V × (1 + 47 / 6.2) = 5.148 V.
#[test]
fn several_substitutes_at_once() {
    let circuit = demo();
    let found = compared(&circuit, &["R3=47k", "R4=6k2", "U1.reference=0.6 V ± 2 %"]);
    let (top, bottom) = (within(47e3, 0.01), within(6.2e3, 0.01));
    let point = SetPoint { reference: (0.6, 0.02), top, bottom };
    near(point.volts().0, 5.148, 1e-3);
    point.is(net(&circuit, &found, "5V_SB"));
    // The dissipation of each of them is told.
    for (name, ohms, volts) in [("R3", 47e3, 4.5484), ("R4", 6.2e3, 0.6)] {
        let part = circuit.part(name).unwrap();
        let change = found.ratings.iter().find(|one| one.part == part).unwrap();
        near(change.after, volts * volts / ohms, 1e-8);
        assert_eq!(change.rated, None);
    }
}

/// A reference without a tolerance of its own has that of the one before.
#[test]
fn another_reference() {
    let circuit = demo();
    let found = compared(&circuit, &["U1.reference=0.6"]);
    SetPoint { reference: (0.6, 0.015), ..SetPoint::drawn() }.is(net(&circuit, &found, "5V_SB"));
    assert_eq!(found.stand, Stand::Broken);
}

/// Another tolerance widens the band and moves nothing: 52.3 kΩ ± 5 % over 10 kΩ ± 1 %.
#[test]
fn another_tolerance_widens_the_band_only() {
    let circuit = demo();
    let found = compared(&circuit, &["R3.tolerance=5 %"]);
    let rail = net(&circuit, &found, "5V_SB");
    near(rail.after.nominal, rail.before.nominal, 1e-9);
    SetPoint { top: within(52.3e3, 0.05), ..SetPoint::drawn() }.is(rail);
    assert!(rail.after.u > rail.before.u);
    assert_eq!(rail.limit.unwrap().2, Stand::Tight);
    assert!(found.consumers.is_empty() && found.states.is_empty(), "{:?}", found.consumers);
    // The same typed with the value.
    let same = compared(&circuit, &["R3=52k3 ± 5 %"]);
    assert_eq!(net(&circuit, &same, "5V_SB").after, rail.after);
}

/// An LED of 1.8 V for one of 2.0 V: by 0.2 V / (680 Ω + 2 × 25.9 mV / I) more current, 0.29 mA.
#[test]
fn another_led() {
    let circuit = demo();
    let asked: [NetId; 1] = [circuit.net("LED_A").unwrap()];
    let substitutes = typed(&circuit, &["D1=1.8 V"]);
    let found = compare(&Assembly::new(&circuit), &substitutes, &asked).unwrap();
    let part = circuit.part("D1").unwrap();
    let watts = found.ratings.iter().find(|one| one.part == part).unwrap();
    let anode = net(&circuit, &found, "LED_A");
    let amps = |volts: f64| (4.984 - volts) / 680.0;
    let (before, after) = (amps(anode.before.nominal), amps(anode.after.nominal));
    near(after - before, 0.2 / (680.0 + 2.0 * 25.9e-3 / before), 0.02 * (after - before));
    near(watts.before, anode.before.nominal * before, 1e-6);
    near(watts.after, anode.after.nominal * after, 1e-6);
    let told = consumer(&circuit, &found, "R5").amps.unwrap();
    near(told.0, before, 1e-6);
    near(told.1, after, 1e-6);
    assert_eq!(found.stand, Stand::Kept);
    // The junction's current at which the drop holds stays as it was drawn.
    let Param::Point(point) = &substitutes[0].param else { panic!() };
    assert_eq!(point.at, Some(10e-3));
}

/// A load's least voltage follows from the board as drawn, and is that of the same load still: 4.984
/// V make a load that runs down to 0.997 V, so 0.96 V, of R3 = 2 kΩ, are too little for it. Taken from
/// the board with the substitute it would run down to 0.192 V.
#[test]
fn a_load_keeps_its_least_voltage() {
    let circuit = bench::circuit(
        r#"[parts]
        J1 = { kind = "supply", volts = "12 V", nets = ["IN", "GND"] }
        R3 = { value = "52k3", tolerance = "1 %", nets = ["OUT", "FB"] }
        R4 = { value = "10k", tolerance = "1 %", nets = ["FB", "GND"] }
        A1 = { kind = "load", amps = "20 mA", nets = ["OUT", "GND"] }
        [parts.U1]
        kind = "buck"
        reference = "0.8 V ± 1.5 %"
        pins = { input = "IN", output = "OUT", feedback = "FB", ground = "GND" }"#,
    );
    let found = compared(&circuit, &["R3=2k"]);
    near(net(&circuit, &found, "OUT").after.nominal, 0.96, 1e-4);
    let load = consumer(&circuit, &found, "A1");
    assert_eq!(load.states, (Some("running"), Some("below its minimum")));
    assert_eq!((load.stand, found.stand), (Stand::Broken, Stand::Broken));
    // Below its minimum it is a resistance.
    near(load.amps.unwrap().1, 20e-3 * 0.96 / (0.2 * 4.984), 1e-6);
    let found = compared(&circuit, &["R3=3k"]);
    assert_eq!(consumer(&circuit, &found, "A1").states.1, Some("running"));
}

/// The values of a series between two, with a tolerance.
fn e24() -> Vec<StockItem> {
    of_series(Series::E24, 0.01, 52.3, 52.3e6)
}

fn chosen(circuit: &Circuit, parts: &[&str], target: f64, items: &[StockItem]) -> Choices {
    let named: Vec<_> = parts.iter().map(|name| (circuit.part(name).unwrap(), "value")).collect();
    let rail = circuit.net("5V_SB").unwrap();
    choose(&Assembly::new(circuit), &named, (rail, target), items, 5).unwrap()
}

/// The ends of a makeup of two values of 1 %.
fn ends(a: f64, b: f64, parallel: bool) -> (f64, f64, f64) {
    let value = if parallel { a * b / (a + b) } else { a + b };
    // Both scale it: each at its end is the whole at its end.
    within(value, 0.01)
}

/// The least error and the error of every choice of a list, by hand.
#[track_caller]
fn is_the_best(list: &[Choice], least: f64, target: f64, by_hand: &dyn Fn(&Choice) -> f64) {
    let best = list.iter().map(|choice| choice.error).fold(f64::INFINITY, f64::min);
    near(best, least, 1e-3);
    // Errors that differ by less than a part in two thousand of the target count as the same.
    assert!(list[0].error <= least + 5e-4 * target + 1e-4, "{} for {least}", list[0].error);
    for choice in list {
        // What the feedback pin's diodes leak is a third of a nanoamp in half a megohm.
        near(choice.error, by_hand(choice), 5e-4);
    }
}

/// E24 for R3, so that 5V_SB comes to 5.0 V: every single value, every pair in series and every pair
/// side by side is tried by hand.
#[test]
fn the_best_of_a_series_is_the_best_of_all() {
    let circuit = demo();
    let items = e24();
    // Six decades of 24, both ends of the span cut off within a decade.
    assert_eq!(items.len(), 144);
    let values: Vec<f64> = items.iter().map(|item| item.value.nominal).collect();
    for target in [5.0, 4.9, 5.1, 3.3, 1.05] {
        let point = |top| SetPoint { top, ..SetPoint::drawn() };
        let found = chosen(&circuit, &["R3"], target, &items);
        // V = 0.8 V (1 + R3 / 10 kΩ) turned round.
        near(found.ideal[0].1, (target / 0.8 - 1.0) * 10e3, 1.0);
        let single = values.iter().map(|value| point(within(*value, 0.01)).error(target));
        let single = single.fold(f64::INFINITY, f64::min);
        let by_hand = |choice: &Choice| {
            let top = match &choice.parts[0].1 {
                Makeup::Single(a) => within(a.value.nominal, 0.01),
                Makeup::Series(a, b) => ends(a.value.nominal, b.value.nominal, false),
                Makeup::Parallel(a, b) => ends(a.value.nominal, b.value.nominal, true),
            };
            point(top).error(target)
        };
        is_the_best(&found.singles, single, target, &by_hand);
        let mut pair = f64::INFINITY;
        for (idx, a) in values.iter().enumerate() {
            for b in &values[idx..] {
                for parallel in [false, true] {
                    pair = pair.min(point(ends(*a, *b, parallel)).error(target));
                }
            }
        }
        is_the_best(&found.pairs, pair, target, &by_hand);
        assert!(found.both.is_empty());
    }
}

/// Both of the divider out of E24, each within a factor of ten of what is drawn.
#[test]
fn the_best_of_both_parts_is_the_best_of_all() {
    let circuit = demo();
    let items = e24();
    for target in [5.0, 4.9, 5.1, 3.3] {
        let found = chosen(&circuit, &["R3", "R4"], target, &items);
        let near_to = |drawn: f64| {
            let all = items.iter().map(|item| item.value.nominal);
            all.filter(move |value| (drawn / 10.0..=drawn * 10.0).contains(value))
        };
        let mut best = f64::INFINITY;
        for top in near_to(52.3e3) {
            for bottom in near_to(10e3) {
                let (top, bottom) = (within(top, 0.01), within(bottom, 0.01));
                let point = SetPoint { top, bottom, ..SetPoint::drawn() };
                best = best.min(point.error(target));
            }
        }
        let by_hand = |choice: &Choice| {
            let [(_, Makeup::Single(top)), (_, Makeup::Single(bottom))] = &choice.parts[..] else {
                panic!("{choice:?}")
            };
            let of = |item: &StockItem| within(item.value.nominal, 0.01);
            SetPoint { top: of(top), bottom: of(bottom), ..SetPoint::drawn() }.error(target)
        };
        is_the_best(&found.both, best, target, &by_hand);
    }
}

fn wanted() -> Wanted {
    Wanted { unit: Unit::Ohm, rated: Unit::Watt, tolerance: Tolerance::Fraction(0.01) }
}

fn from_toml(text: &str) -> Parsed<Vec<StockItem>> {
    read_stock(&Source::new("drawer.toml", text), wanted())
}

fn from_csv(text: &str) -> Parsed<Vec<StockItem>> {
    read_stock_csv(&Source::new("drawer.csv", text), wanted())
}

fn list(text: &str) -> Vec<StockItem> {
    from_csv(text).value.unwrap()
}

/// Of a value that is there once there is no pair with itself: 105 kΩ twice side by side, and 26.25
/// kΩ twice in series, would be the 52.5 kΩ.
#[test]
fn one_piece_is_not_used_twice() {
    let circuit = demo();
    let of_two = |choice: &Choice| match &choice.parts[0].1 {
        Makeup::Series(a, b) | Makeup::Parallel(a, b) => Some((a.value.nominal, b.value.nominal)),
        Makeup::Single(_) => None,
    };
    let pairs = |text: &str| -> Vec<(f64, f64)> {
        chosen(&circuit, &["R3"], 5.0, &list(text)).pairs.iter().filter_map(of_two).collect()
    };
    let once = pairs("value,quantity\n105k,1\n26.25k,1\n");
    assert!(!once.is_empty() && once.iter().all(|(a, b)| a != b), "{once:?}");
    let twice = pairs("value,quantity\n105k,2\n26.25k,1\n");
    assert!(twice.contains(&(105e3, 105e3)) && !twice.contains(&(26.25e3, 26.25e3)), "{twice:?}");
    let any = pairs("value\n105k\n26.25k\n");
    assert!(any.contains(&(105e3, 105e3)) && any.contains(&(26.25e3, 26.25e3)), "{any:?}");
    // The same value on two lines, one piece of each, makes two pieces.
    let two_lines = pairs("value,quantity\n105k,1\n105k,1\n");
    assert!(two_lines.contains(&(105e3, 105e3)), "{two_lines:?}");
    // Nor for the two of a divider: one 22 kΩ does not do for both.
    let both = |text: &str| chosen(&circuit, &["R3", "R4"], 1.6, &list(text)).both.len();
    assert_eq!(both("value,quantity\n22k,1\n"), 0);
    assert_eq!(both("value,quantity\n22k,2\n"), 1);
}

/// What is there none of is not used; what is no resistor is left out; what is not said of a value is
/// as on the board.
#[test]
fn what_a_list_leaves_out() {
    let text = "value,tolerance,rated,quantity,note\n\
                51k,5 %,0.25 W,3,top left\n\
                52k3,1 %,,0,used up\n\
                100 nF,10 %,50 V,20,\n\
                47k,,,,\n";
    let toml = r#"[[stock]]
        value = "51k"
        tolerance = "5 %"
        rated = "0.25 W"
        quantity = 3
        note = "top left"
        [[stock]]
        value = "52k3"
        tolerance = "1 %"
        quantity = 0
        note = "used up"
        [[stock]]
        value = "100 nF"
        tolerance = "10 %"
        rated = "50 V"
        quantity = 20
        [[stock]]
        value = "47k""#;
    for parsed in [from_csv(text), from_toml(toml)] {
        let told: Vec<_> = parsed.findings.iter().map(|one| one.message.clone()).collect();
        assert!(told.is_empty(), "{told:?}");
        let items = parsed.value.unwrap();
        let ends: Vec<_> = items
            .iter()
            .map(|item| (item.value.least(), item.value.most(), item.quantity, item.rated))
            .collect();
        let (five, one) = (51e3 * 0.95, 47e3 * 0.99);
        near(ends[0].0, five, 1e-6);
        near(ends[1].0, one, 1e-6);
        assert_eq!(items.len(), 2);
        assert_eq!((ends[0].2, ends[0].3), (Some(3), Some(0.25)));
        assert_eq!((ends[1].2, ends[1].3), (None, None));
        assert_eq!((items[0].note.as_str(), items[1].note.as_str()), ("top left", ""));
    }
}

/// A drawer's list often says `100n` and `10u` of its capacitors and no unit: those are no resistors
/// of nanoohms, nor is `51k` a capacitor. Small and large values that say their unit stay.
#[test]
fn values_without_a_unit_are_told_by_their_size() {
    let text = "value\n100n\n4n7\n10u\n47p\n22\n51k\n0R1\n5 mΩ\n50 µΩ\n";
    let values = |unit: Unit| -> Vec<f64> {
        let wanted = Wanted { unit, rated: Unit::Volt, ..wanted() };
        let parsed = read_stock_csv(&Source::new("drawer.csv", text), wanted);
        assert!(parsed.findings.is_empty());
        parsed.value.unwrap().iter().map(|item| item.value.nominal).collect()
    };
    assert_eq!(values(Unit::Ohm), [22.0, 51e3, 0.1, 5e-3, 50e-6]);
    assert_eq!(values(Unit::Farad), [100e-9, 4.7e-9, 10e-6, 47e-12]);
}

/// The right value is told even where it lies beyond all that there is: 5.0 V take 52.5 kΩ, and the
/// nearest of the list is below it.
#[test]
fn the_right_value_beyond_all_that_there_is() {
    let circuit = demo();
    let found = chosen(&circuit, &["R3"], 5.0, &list("value\n33k\n51k\n"));
    near(found.ideal[0].1, 52.5e3, 1.0);
    near(found.singles[0].nominal, 4.88, 1e-3);
    // Above the input nothing leads: then there is none.
    assert!(chosen(&circuit, &["R3"], 30.0, &list("value\n33k\n51k\n")).ideal.is_empty());
}

/// One clear message each, in TOML and with commas alike.
#[test]
fn a_list_that_is_not_in_order() {
    for (parsed, message) in [
        (from_toml(""), "the stock list `drawer.toml` is empty"),
        (from_csv(""), "the stock list `drawer.csv` is empty"),
        (from_csv("value,quantity\n"), "the stock list `drawer.csv` holds no value in ohms"),
        (
            from_toml("[[stock]]\nvalue = \"100 nF\"\n"),
            "the stock list `drawer.toml` holds no value in ohms",
        ),
        (from_csv("value\n100 nF\n"), "the stock list `drawer.csv` holds no value in ohms"),
        (
            from_toml("[[stock]]\nvalue = \"51k\"\nquantity = 0\n"),
            "the stock list `drawer.toml` holds no value in ohms",
        ),
        (from_csv("valu,quantity\n51k,1\n"), "unknown column `valu`"),
        (from_csv("quantity,note\n1,x\n"), "expected a column `value`, found `quantity,note`"),
        (
            from_toml("[[stock]]\nvalue = \"51k\"\nquantty = 1\n"),
            "unknown key `quantty` in an entry of `stock`",
        ),
        (from_toml("[[stok]]\nvalue = \"51k\"\n"), "unknown key `stok` in the stock list"),
        (from_toml("[[stock]]\nquantity = 1\n"), "an entry of `stock` has no `value`"),
        (from_toml("[[stock]]\nvalue = \"fifty\"\n"), "`value`: expected ohms, found `fifty`"),
        (from_csv("value\nfifty\n"), "`value`: expected ohms, found `fifty`"),
        (from_csv("value\n0\n"), "expected a value of more than zero, found `0`"),
        (from_csv("value\n-51k\n"), "expected a value of more than zero, found `-51k`"),
        (
            from_csv("value,quantity\n51k,some\n"),
            "`quantity`: expected a whole number, found `some`",
        ),
        (
            from_toml("[[stock]]\nvalue = \"51k\"\nquantity = \"some\"\n"),
            "`quantity`: expected a whole number, found `some`",
        ),
        (from_csv("value,quantity\n51k,-1\n"), "`quantity`: expected a whole number, found `-1`"),
        (from_csv("value,quantity\n51k\n"), "expected 2 fields, found 1"),
        (from_csv("value,tolerance\n51k,wide\n"), "`tolerance`: expected ohms, found `wide`"),
        (from_csv("value,rated\n51k,50 V\n"), "`rated`: expected watts, found volts in `50 V`"),
        (
            from_toml("[[stock]]\nvalue = [\"51k\"]\n"),
            "`value` of an entry of `stock`: expected a number or a text, found a list",
        ),
        (
            from_toml("stock = 3\n"),
            "`stock`: expected a list in square brackets, found the number `3`",
        ),
        (from_toml("stock\n"), "not valid TOML: key with no value, expected `=`"),
    ] {
        let told: Vec<_> = parsed.findings.iter().map(|one| one.message.clone()).collect();
        assert_eq!(told.len(), 1, "{message}: {told:?}");
        assert!(parsed.value.is_none(), "{told:?}");
        assert_eq!(told[0], message);
    }
}

/// Values to find for what is no resistance: singles only, in the unit of the parameter.
#[test]
fn a_reference_out_of_a_list() {
    let circuit = demo();
    let unit = Wanted { unit: Unit::Volt, rated: Unit::Watt, tolerance: Tolerance::Fraction(0.02) };
    let text = "value\n0.6 V\n0.8 V\n1.25 V\n51 kΩ\n";
    let items = read_stock_csv(&Source::new("drawer.csv", text), unit).value.unwrap();
    assert_eq!(items.len(), 3);
    let named = [(circuit.part("U1").unwrap(), "reference")];
    let rail = circuit.net("5V_SB").unwrap();
    let found = choose(&Assembly::new(&circuit), &named, (rail, 7.8), &items, 5).unwrap();
    assert!(found.pairs.is_empty() && found.both.is_empty());
    // 1.25 V × 6.23 = 7.79 V.
    near(found.singles[0].nominal, 7.7875, 1e-3);
    near(found.ideal[0].1, 7.8 / 6.23, 1e-4);
}

/// The tolerances of two of different kinds in one makeup: 47 kΩ ± 1 % and 5.1 kΩ ± 5 % in series.
#[test]
fn the_ends_of_a_makeup() {
    let item = |nominal: f64, share: f64| StockItem {
        value: Toleranced::bare(nominal).or(Tolerance::Fraction(share)),
        rated: None,
        quantity: None,
        note: String::new(),
    };
    let (a, b) = (item(47e3, 0.01), item(5.1e3, 0.05));
    let series = Makeup::Series(a.clone(), b.clone());
    near(series.value().least(), 46.53e3 + 4.845e3, 1e-6);
    near(series.value().most(), 47.47e3 + 5.355e3, 1e-6);
    let parallel = Makeup::Parallel(a, b);
    near(parallel.value().least(), 1.0 / (1.0 / 46.53e3 + 1.0 / 4.845e3), 1e-6);
    near(parallel.value().most(), 1.0 / (1.0 / 47.47e3 + 1.0 / 5.355e3), 1e-6);
    assert_eq!((series.count(), parallel.count()), (2, 2));
}

/// The net that a part moves is found by itself; of `NetId`s only those asked for.
#[test]
fn a_net_that_is_asked_for_is_told() {
    let circuit = demo();
    let asked: [NetId; 1] = [circuit.net("EN").unwrap()];
    let substitutes = typed(&circuit, &["R3=51k"]);
    let found = compare(&Assembly::new(&circuit), &substitutes, &asked).unwrap();
    let enable = net(&circuit, &found, "EN");
    // 24 V × 10 / 57, less what the fuse takes.
    near(enable.before.nominal, 24.0 * 10.0 / 57.0, 5e-3);
    near(enable.after.nominal, enable.before.nominal, 1e-3);
}
