use super::*;

/// Rows of IEC 60063:2015, tables 1 and 2, as published.
const TABLE: &str = include_str!("../../../tests/data/e_series.csv");

fn published(series: Series) -> Vec<u16> {
    let name = format!("{series:?},");
    TABLE
        .lines()
        .filter_map(|line| line.strip_prefix(&name))
        .map(|row| row.split(',').nth(1).unwrap().parse().unwrap())
        .collect()
}

#[test]
fn every_series_is_the_published_one() {
    for series in Series::ALL {
        let name = format!("{series:?}");
        assert_eq!(format!("E{}", series.values().len()), name);
        assert_eq!(series.values(), published(series), "{name}");
    }
}

/// IEC 60063:2015: each finer series of a table holds the coarser one.
#[test]
fn series_are_nested() {
    let nested = [
        (Series::E3, Series::E6),
        (Series::E6, Series::E12),
        (Series::E12, Series::E24),
        (Series::E48, Series::E96),
        (Series::E96, Series::E192),
    ];
    for (coarse, fine) in nested {
        assert!(coarse.values().iter().all(|v| fine.values().contains(v)), "{coarse:?}");
    }
}

#[test]
fn e24_departs_from_rounding_in_eight_places() {
    let rounded = |i: usize| (10.0 * 10_f64.powf(i as f64 / 24.0)).round() as u16;
    let exceptions: Vec<u16> =
        (0..24).filter(|i| published(Series::E24)[*i] != rounded(*i)).map(|i| E24[i]).collect();
    assert_eq!(exceptions, [27, 30, 33, 36, 39, 43, 47, 82]);
}

#[test]
fn e192_departs_from_rounding_in_one_place() {
    let rounded = |i: usize| (100.0 * 10_f64.powf(i as f64 / 192.0)).round() as u16;
    let table = published(Series::E192);
    let exceptions: Vec<u16> =
        (0..192).filter(|i| table[*i] != rounded(*i)).map(|i| table[i]).collect();
    assert_eq!(exceptions, [920]);
}

#[test]
fn few_values_of_e24_are_in_e96() {
    let shared: Vec<u16> =
        E24.iter().copied().filter(|v| Series::E96.contains(f64::from(*v))).collect();
    assert_eq!(shared, [10, 11, 13, 15, 20, 75]);
}

#[test]
fn nearest_and_contains_hold_in_every_decade() {
    for series in Series::ALL {
        for decade in -12..=12 {
            for step in series.values() {
                let value: f64 = format!("{step}e{decade}").parse().unwrap();
                assert_eq!(series.nearest(value), value);
                assert!(series.contains(value * (1.0 + 1e-10)));
                assert!(!series.contains(value * (1.0 + 1e-8)));
                assert_eq!(series.nearest(value * 1.001), value, "{series:?} {value}");
            }
        }
    }
    assert_eq!(Series::E3.nearest(9.9), 10.0);
    assert_eq!(Series::E24.nearest(0.0), 0.0);
    assert_eq!(Series::E24.nearest(-5.0), -5.0);
    assert!(Series::E24.nearest(f64::NAN).is_nan());
    assert!(!Series::E24.contains(0.0));
    for extreme in [f64::MIN_POSITIVE, 5e-324, f64::MAX] {
        assert!(Series::E192.nearest(extreme).is_finite());
    }
}

/// The customary pairing of series and tolerance, IEC 60063:2015.
#[test]
fn tolerance_settles_the_series() {
    let rows = [
        (0.5, Series::E3),
        (0.2, Series::E6),
        (0.1, Series::E12),
        (0.05, Series::E24),
        (0.02, Series::E48),
        (0.01, Series::E96),
        (0.005, Series::E192),
        (0.001, Series::E192),
        (0.03, Series::E24),
    ];
    for (fraction, series) in rows {
        assert_eq!(Series::for_tolerance(fraction), series, "{fraction}");
    }
}
