//! The units of the job and the prefixes of the SI.

/// A unit in which values are written.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Unit {
    /// Volts.
    Volt,
    /// Amps.
    Amp,
    /// Ohms.
    Ohm,
    /// Watts.
    Watt,
    /// Degrees Celsius; values stay in degrees Celsius.
    Celsius,
    /// Kelvins, as in the beta of a thermistor.
    Kelvin,
    /// A plain ratio, a gain, a share.
    One,
    /// Farads.
    Farad,
    /// Henries.
    Henry,
    /// Siemens.
    Siemens,
}

impl Unit {
    /// Every unit.
    pub const ALL: [Unit; 10] = [
        Unit::Volt,
        Unit::Amp,
        Unit::Ohm,
        Unit::Watt,
        Unit::Celsius,
        Unit::Kelvin,
        Unit::One,
        Unit::Farad,
        Unit::Henry,
        Unit::Siemens,
    ];

    /// The symbol printed after a number; empty for a plain ratio.
    ///
    /// ```
    /// assert_eq!(ohmhound::quantity::Unit::Ohm.symbol(), "Ω");
    /// ```
    pub fn symbol(self) -> &'static str {
        match self {
            Unit::Volt => "V",
            Unit::Amp => "A",
            Unit::Ohm => "Ω",
            Unit::Watt => "W",
            Unit::Celsius => "°C",
            Unit::Kelvin => "K",
            Unit::One => "",
            Unit::Farad => "F",
            Unit::Henry => "H",
            Unit::Siemens => "S",
        }
    }

    /// The unit in words, plural, for messages: `volts`, `ohms`, `a plain number`.
    pub fn name(self) -> &'static str {
        match self {
            Unit::Volt => "volts",
            Unit::Amp => "amps",
            Unit::Ohm => "ohms",
            Unit::Watt => "watts",
            Unit::Celsius => "degrees Celsius",
            Unit::Kelvin => "kelvins",
            Unit::One => "a plain number",
            Unit::Farad => "farads",
            Unit::Henry => "henries",
            Unit::Siemens => "siemens",
        }
    }

    /// Whether the unit is written with prefixes; degrees Celsius and kelvins are not.
    pub fn takes_prefix(self) -> bool {
        !matches!(self, Unit::Celsius | Unit::Kelvin)
    }

    /// Whether a value in this unit cannot be less than zero.
    pub(super) fn never_negative(self) -> bool {
        matches!(self, Unit::Ohm | Unit::Farad | Unit::Henry | Unit::Kelvin)
    }

    /// A well written value, for the help of an error.
    pub(super) fn example(self) -> &'static str {
        match self {
            Unit::Volt => "3.3 V",
            Unit::Amp => "10 mA",
            Unit::Ohm => "4.7 kΩ",
            Unit::Watt => "250 mW",
            Unit::Celsius => "25 °C",
            Unit::Kelvin => "3380 K",
            Unit::One => "0.5",
            Unit::Farad => "100 nF",
            Unit::Henry => "10 µH",
            Unit::Siemens => "20 mS",
        }
    }

    /// Whether `text` is a way to write this unit, without a prefix.
    pub(super) fn is_written(self, text: &str) -> bool {
        match self {
            Unit::Volt => matches!(text, "V" | "volt" | "volts"),
            Unit::Amp => matches!(text, "A" | "amp" | "amps"),
            // Greek capital omega, the ohm sign, and the letter of IEC 60062.
            Unit::Ohm => {
                matches!(text, "\u{3a9}" | "\u{2126}" | "R")
                    || text.eq_ignore_ascii_case("ohm")
                    || text.eq_ignore_ascii_case("ohms")
            }
            Unit::Watt => matches!(text, "W" | "watt" | "watts"),
            Unit::Celsius => matches!(text, "°C" | "\u{2103}" | "C" | "degC"),
            Unit::Kelvin => matches!(text, "K" | "\u{212a}"),
            Unit::One => false,
            Unit::Farad => text == "F",
            Unit::Henry => text == "H",
            Unit::Siemens => matches!(text, "S" | "siemens"),
        }
    }

    /// The letter that may stand where the decimal point would be.
    ///
    /// `R` for ohms and `F` for farads are those of IEC 60062; `3V3`, `1A5` and the like are
    /// common practice, no published source.
    pub(super) fn point_letter(self) -> Option<char> {
        match self {
            Unit::Volt => Some('V'),
            Unit::Amp => Some('A'),
            Unit::Ohm => Some('R'),
            Unit::Watt => Some('W'),
            Unit::Farad => Some('F'),
            Unit::Henry => Some('H'),
            Unit::Celsius | Unit::Kelvin | Unit::One | Unit::Siemens => None,
        }
    }
}

/// The exponent of ten of a prefix letter.
pub(super) fn prefix_exponent(letter: char) -> Option<i32> {
    Some(match letter {
        'p' => -12,
        'n' => -9,
        // Latin u, the micro sign and the Greek mu.
        'u' | '\u{b5}' | '\u{3bc}' => -6,
        'm' => -3,
        'k' | 'K' => 3,
        'M' => 6,
        'G' => 9,
        'T' => 12,
        _ => return None,
    })
}

/// The prefix printed for an exponent of ten, as letter and as word.
pub(super) fn prefix(exponent: i32) -> Option<(&'static str, &'static str)> {
    Some(match exponent {
        -12 => ("p", "pico"),
        -9 => ("n", "nano"),
        -6 => ("µ", "micro"),
        -3 => ("m", "milli"),
        0 => ("", ""),
        3 => ("k", "kilo"),
        6 => ("M", "mega"),
        9 => ("G", "giga"),
        12 => ("T", "tera"),
        _ => return None,
    })
}
