use super::*;

fn regulation(topology: Topology) -> Regulation {
    Regulation {
        topology,
        reference: 0.8,
        limit: Some(1.5),
        drop: 0.0,
        ohms: Some(0.6),
        minimum_load: 0.0,
        efficiency: 0.9,
    }
}

/// A plain generator of numbers between 0 and 1 (the multiplier of the minimal standard, Park
/// and Miller, Communications of the ACM 31, 1988).
fn numbers() -> impl FnMut() -> f64 {
    let mut state = 12_345_u64;
    move || {
        state = state * 48_271 % 2_147_483_647;
        state as f64 / 2_147_483_647.0
    }
}

fn check_slopes(law: &dyn Driven, volts: &[f64; 4]) {
    let mut slopes = [0.0; 4];
    law.at(volts, &mut slopes);
    for idx in 0..4 {
        let h = 1e-9;
        let moved = |sign: f64| {
            let mut there = *volts;
            there[idx] += sign * h;
            there
        };
        let (up, down) = (moved(1.0), moved(-1.0));
        if law.segment(&up) != law.segment(volts) || law.segment(&down) != law.segment(volts) {
            continue;
        }
        let slope = (law.at(&up, &mut [0.0; 4]) - law.at(&down, &mut [0.0; 4])) / (2.0 * h);
        let scale = 1e-3 * (1.0 + slopes[idx].abs());
        assert!((slope - slopes[idx]).abs() <= scale, "{law:?} {volts:?} {idx}: {slope}");
    }
}

#[test]
fn slopes_are_the_derivatives() {
    let mut number = numbers();
    for topology in [Topology::Series, Topology::Buck, Topology::Boost] {
        for limit in [Some(1.5), None] {
            let law = Regulation { limit, minimum_load: 1e-2, ..regulation(topology) };
            for _ in 0..3_000 {
                // Half of the points lie in the narrow piece in which it regulates.
                let sense = match number() < 0.5 {
                    true => 0.8 * (1.0 - 1.2e-6 * number()),
                    false => 2.0 * number() - 0.5,
                };
                let [d, u] = [16.0 * number() - 8.0, 14.0 * number() - 2.0];
                let volts = [number(), d, sense, u];
                check_slopes(&law.output_law(), &volts);
                check_slopes(&law.input_law(), &volts);
            }
        }
    }
}

#[test]
fn the_law_has_no_step_anywhere() {
    let mut number = numbers();
    for topology in [Topology::Series, Topology::Buck, Topology::Boost] {
        let law = regulation(topology);
        let laws: [Box<dyn Driven>; 2] = [Box::new(law.output_law()), Box::new(law.input_law())];
        for law in laws {
            for _ in 0..300 {
                let end = |number: &mut dyn FnMut() -> f64| {
                    [0.0, 16.0 * number() - 8.0, 2.0 * number() - 0.5, 14.0 * number() - 2.0]
                };
                let (a, b) = (end(&mut number), end(&mut number));
                let at = |share: f64| {
                    let there: Vec<f64> =
                        a.iter().zip(&b).map(|(a, b)| a + share * (b - a)).collect();
                    law.at(&there, &mut [0.0; 4])
                };
                // Where the current changes most, halving the stretch again and again has to
                // take the change down to nothing.
                let (mut low, mut high) = (0.0, 1.0);
                while high - low > 1e-13 {
                    let middle = 0.5 * (low + high);
                    let first = (at(middle) - at(low)).abs();
                    if first > (at(high) - at(middle)).abs() {
                        high = middle;
                    } else {
                        low = middle;
                    }
                }
                assert!((at(high) - at(low)).abs() < 1e-4, "{law:?} {a:?} {b:?} {low}");
            }
        }
    }
}

#[test]
fn a_converter_takes_no_less_power_than_it_gives() {
    let mut number = numbers();
    for topology in [Topology::Series, Topology::Buck, Topology::Boost] {
        let law = regulation(topology);
        for _ in 0..2_000 {
            let u = 12.0 * number();
            let w = 15.0 * number();
            let volts = [0.0, u - w, 0.8 * (1.0 - 1.2e-6 * number()), u];
            let given = w * law.output_law().at(&volts, &mut [0.0; 4]);
            let taken = u * law.input_law().at(&volts, &mut [0.0; 4]);
            assert!(taken >= given - 1e-9, "{topology:?} {u} {w}: {taken} for {given}");
        }
    }
}

#[test]
fn a_held_output_follows_the_same_law() {
    let mut number = numbers();
    let law = regulation(Topology::Buck);
    for _ in 0..1_000 {
        let own = -0.8 * (1.0 - 1.2e-6 * number());
        let [d, u] = [8.0 * number(), 12.0 * number()];
        let amps = law.output_law().at(&[own, d, -own, u], &mut [0.0; 4]);
        let mut slopes = [0.0; 3];
        let held = law.own_output_law();
        assert_eq!(held.at(&[own, d, u], &mut slopes), amps);
        let (up, down) = ([own + 1e-9, d, u], [own - 1e-9, d, u]);
        if held.segment(&up) == held.segment(&down) {
            let slope = (held.at(&up, &mut [0.0; 3]) - held.at(&down, &mut [0.0; 3])) / 2e-9;
            assert!((slope - slopes[0]).abs() <= 1e-3 * (1.0 + slopes[0].abs()));
        }
    }
}

#[test]
fn it_is_finite_at_the_ends_of_the_numbers() {
    for topology in [Topology::Series, Topology::Buck, Topology::Boost] {
        let law = regulation(topology);
        for u in [-1e6, -1e-9, 0.0, 1e-300, 1e-9, 1e6] {
            for d in [-1e6, -1e-9, 0.0, 1e-9, 1e6] {
                for s in [-1e6, 0.0, 1e6] {
                    let mut slopes = [0.0; 4];
                    for law in [&law.output_law() as &dyn Driven, &law.input_law()] {
                        let amps = law.at(&[0.0, d, s, u], &mut slopes);
                        assert!(amps.is_finite(), "{topology:?} {d} {s} {u}");
                        assert!(slopes.iter().all(|slope| slope.is_finite()), "{slopes:?}");
                    }
                }
            }
        }
    }
}
