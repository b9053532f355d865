//! Values with the half-width of what they may be.

/// How far a value may be from its nominal.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Spread {
    /// Half-width in the unit of the value.
    Absolute(f64),
    /// Times or divided by this; more than 1.
    Factor(f64),
    /// Least and most, as in a datasheet, in the unit of the value.
    Between {
        /// The least it may be.
        least: f64,
        /// The most it may be.
        most: f64,
    },
}

/// A tolerance before it is known of what: `5 %`, `100 Ω`, `×/÷ 2`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Tolerance {
    /// Half-width as a fraction of the nominal: 0.05 for 5 %.
    Fraction(f64),
    /// Half-width in the unit of the value.
    Absolute(f64),
    /// Times or divided by this; more than 1.
    Factor(f64),
}

impl Tolerance {
    /// The spread that this tolerance gives to a nominal value.
    pub fn of(self, nominal: f64) -> Spread {
        match self {
            Tolerance::Fraction(fraction) => Spread::Absolute(fraction * nominal.abs()),
            Tolerance::Absolute(half_width) => Spread::Absolute(half_width),
            Tolerance::Factor(factor) => Spread::Factor(factor),
        }
    }
}

/// A value with what it may be.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Toleranced {
    /// The value on the schematic or the typical one of the datasheet.
    pub nominal: f64,
    /// How far from it the part may be; `None` where nothing was written.
    pub spread: Option<Spread>,
}

impl Toleranced {
    /// A value with nothing said about its spread.
    pub fn bare(nominal: f64) -> Toleranced {
        Toleranced { nominal, spread: None }
    }

    /// The same value with `tolerance` where nothing was written.
    ///
    /// ```
    /// use ohmhound::quantity::{Tolerance, Toleranced};
    ///
    /// let resistor = Toleranced::bare(1000.0).or(Tolerance::Fraction(0.05));
    /// assert_eq!(resistor.most(), 1050.0);
    /// ```
    #[must_use]
    pub fn or(self, tolerance: Tolerance) -> Toleranced {
        let spread = self.spread.unwrap_or_else(|| tolerance.of(self.nominal));
        Toleranced { nominal: self.nominal, spread: Some(spread) }
    }

    /// The least the value may be, in its unit.
    pub fn least(&self) -> f64 {
        match self.spread {
            None => self.nominal,
            Some(Spread::Absolute(half_width)) => self.nominal - half_width,
            Some(Spread::Factor(factor)) => (self.nominal / factor).min(self.nominal * factor),
            Some(Spread::Between { least, .. }) => least,
        }
    }

    /// The most the value may be, in its unit.
    pub fn most(&self) -> f64 {
        match self.spread {
            None => self.nominal,
            Some(Spread::Absolute(half_width)) => self.nominal + half_width,
            Some(Spread::Factor(factor)) => (self.nominal / factor).max(self.nominal * factor),
            Some(Spread::Between { most, .. }) => most,
        }
    }

    /// How far below the nominal the value may be, in its unit; zero or more.
    pub fn half_width_low(&self) -> f64 {
        match self.spread {
            Some(Spread::Absolute(half_width)) => half_width,
            _ => self.nominal - self.least(),
        }
    }

    /// How far above the nominal the value may be, in its unit; zero or more.
    pub fn half_width_high(&self) -> f64 {
        match self.spread {
            Some(Spread::Absolute(half_width)) => half_width,
            _ => self.most() - self.nominal,
        }
    }

    /// One standard uncertainty, in the unit of the value.
    ///
    /// A bound of half-width a with nothing else known is a rectangular distribution, and its
    /// standard uncertainty is a/√3 (GUM, JCGM 100:2008, 4.3.7). With unequal half-widths their
    /// mean is taken. A factor f is a rectangle in the logarithm: its half-width there is ln f, so
    /// the standard uncertainty is nominal · ln f / √3 to first order. Zero where nothing was
    /// written.
    ///
    /// ```
    /// use ohmhound::quantity::{Spread, Toleranced};
    ///
    /// let value = Toleranced { nominal: 5.0, spread: Some(Spread::Absolute(0.3)) };
    /// assert!((value.standard_uncertainty() - 0.1732).abs() < 1e-4);
    /// ```
    pub fn standard_uncertainty(&self) -> f64 {
        let half_width = match self.spread {
            None => 0.0,
            Some(Spread::Absolute(half_width)) => half_width,
            Some(Spread::Factor(factor)) => self.nominal.abs() * factor.ln(),
            Some(Spread::Between { least, most }) => (most - least) / 2.0,
        };
        half_width / 3.0_f64.sqrt()
    }
}

/// A value and the point at which it holds, as in `0.7 V at 10 mA`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Point {
    /// The value before `at`.
    pub value: Toleranced,
    /// The value after `at`, in its own unit; `None` where nothing was written.
    pub at: Option<f64>,
}

#[cfg(test)]
mod tests;
