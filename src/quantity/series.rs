//! The preferred values of IEC 60063:2015.

use std::sync::LazyLock;

/// A series of preferred values.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Series {
    /// Three values a decade.
    E3,
    /// Six values a decade, for 20 %.
    E6,
    /// Twelve values a decade, for 10 %.
    E12,
    /// Twenty-four values a decade, for 5 %.
    E24,
    /// Forty-eight values a decade, for 2 %.
    E48,
    /// Ninety-six values a decade, for 1 %.
    E96,
    /// 192 values a decade, for 0.5 % and less.
    E192,
}

/// IEC 60063:2015, table 1. Eight of these are not what rounding 10 · 10^(i/24) gives.
const E24: [u16; 24] = [
    10, 11, 12, 13, 15, 16, 18, 20, 22, 24, 27, 30, 33, 36, 39, 43, 47, 51, 56, 62, 68, 75, 82, 91,
];
const E12: [u16; 12] = [10, 12, 15, 18, 22, 27, 33, 39, 47, 56, 68, 82];
const E6: [u16; 6] = [10, 15, 22, 33, 47, 68];
const E3: [u16; 3] = [10, 22, 47];

/// IEC 60063:2015, table 2: 100 · 10^(i/192) rounded, except that 919 is 920 in the standard.
static E192: LazyLock<[u16; 192]> = LazyLock::new(|| {
    std::array::from_fn(|i| {
        // At most 988, so the cast keeps the value.
        let rounded = (100.0 * 10_f64.powf(i as f64 / 192.0)).round() as u16;
        if rounded == 919 { 920 } else { rounded }
    })
});
static E96: LazyLock<[u16; 96]> = LazyLock::new(|| std::array::from_fn(|i| E192[2 * i]));
static E48: LazyLock<[u16; 48]> = LazyLock::new(|| std::array::from_fn(|i| E192[4 * i]));

impl Series {
    /// Every series, from the coarsest to the finest.
    pub const ALL: [Series; 7] =
        [Series::E3, Series::E6, Series::E12, Series::E24, Series::E48, Series::E96, Series::E192];

    /// The values of one decade: from 10 to 91 up to E24, from 100 to 988 above.
    ///
    /// ```
    /// use ohmhound::quantity::Series;
    ///
    /// assert_eq!(Series::E6.values(), [10, 15, 22, 33, 47, 68]);
    /// ```
    pub fn values(self) -> &'static [u16] {
        match self {
            Series::E3 => &E3,
            Series::E6 => &E6,
            Series::E12 => &E12,
            Series::E24 => &E24,
            Series::E48 => E48.as_slice(),
            Series::E96 => E96.as_slice(),
            Series::E192 => E192.as_slice(),
        }
    }

    /// The values from ten to the power of `decade` up to ten times that, in ascending order; those
    /// that a number can hold.
    ///
    /// ```
    /// use ohmhound::quantity::Series;
    ///
    /// assert!(Series::E3.decade(3).eq([1e3, 2.2e3, 4.7e3]));
    /// ```
    pub fn decade(self, decade: i32) -> impl Iterator<Item = f64> {
        let width = if self.values().len() > E24.len() { 2 } else { 1 };
        let exponent = decade - width;
        self.values()
            .iter()
            // Through decimal digits: 47 and 3 give 47000, not a neighbour of it.
            .filter_map(move |step| format!("{step}e{exponent}").parse::<f64>().ok())
            .filter(|value| value.is_finite() && *value > 0.0)
    }

    /// The preferred value nearest to `value`, by ratio, in the unit of `value`.
    ///
    /// A value that is not positive and finite has no nearest one and is given back unchanged.
    ///
    /// ```
    /// use ohmhound::quantity::Series;
    ///
    /// assert_eq!(Series::E12.nearest(45e3), 47e3);
    /// assert_eq!(Series::E24.nearest(9600.0), 10e3);
    /// ```
    pub fn nearest(self, value: f64) -> f64 {
        if !(value.is_finite() && value > 0.0) {
            return value;
        }
        // A finite positive number has a logarithm between -324 and 309, so the cast keeps it.
        let decade = value.log10().floor() as i32;
        let distance = |candidate: &f64| (candidate / value).ln().abs();
        (decade - 1..=decade + 1)
            .flat_map(|decade| self.decade(decade))
            .min_by(|a, b| distance(a).total_cmp(&distance(b)))
            .unwrap_or(value)
    }

    /// Whether `value` is in the series, within a relative 1e-9.
    pub fn contains(self, value: f64) -> bool {
        value.is_finite() && value > 0.0 && (self.nearest(value) / value - 1.0).abs() <= 1e-9
    }

    /// The coarsest series in which values of this tolerance (0.05 for 5 %) are customary.
    ///
    /// 20 % E6, 10 % E12, 5 % E24, 2 % E48, 1 % E96, 0.5 % and less E192 (IEC 60063:2015); a
    /// tolerance between two of these takes the finer series. More than 20 % is E3.
    pub fn for_tolerance(fraction: f64) -> Series {
        // The slack lets 5/100 as somebody computed it count as 5 %.
        let at_most = |limit: f64| fraction <= limit * (1.0 + 1e-9);
        match fraction {
            _ if at_most(0.005) => Series::E192,
            _ if at_most(0.01) => Series::E96,
            _ if at_most(0.02) => Series::E48,
            _ if at_most(0.05) => Series::E24,
            _ if at_most(0.10) => Series::E12,
            _ if at_most(0.20) => Series::E6,
            _ => Series::E3,
        }
    }
}

#[cfg(test)]
mod tests;
