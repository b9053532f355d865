//! What is printed on a part: all that a marking can mean, the likeliest first.
//!
//! The codes are those of IEC 60062:2016. A marking does not say whether it stands on a resistor or
//! on a capacitor, nor which code it follows, so most markings have several readings.

mod code;
mod letter;
mod refuse;
mod tolerance;

pub use tolerance::MarkedTolerance;

use super::error::ValueError;
use super::print::print_short;
use super::series::Series;
use super::unit::Unit;

/// The rule that a marking is read by.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Rule {
    /// A link of zero ohms: `0`, `000`, `0R`. Common practice, no published source.
    Link,
    /// Two digits and a power of ten, in ohms or picofarads: `103`.
    ThreeDigits,
    /// Three digits and a power of ten, in ohms or picofarads: `1002`.
    FourDigits,
    /// A letter in place of the decimal point: `4K7`, `2n2`.
    LetterCode,
    /// A number from 01 to 96 that stands for a value of E96, and a letter for the power of ten:
    /// `01C`.
    E96Code,
    /// A plain number of ohms or picofarads: `47`. Common practice, no published source.
    Plain,
}

impl Rule {
    /// The rule in a few words.
    ///
    /// ```
    /// assert_eq!(ohmhound::quantity::Rule::ThreeDigits.words(), "three digits");
    /// ```
    pub fn words(self) -> &'static str {
        match self {
            Rule::Link => "link",
            Rule::ThreeDigits => "three digits",
            Rule::FourDigits => "four digits",
            Rule::LetterCode => "letter code",
            Rule::E96Code => "two digits and a letter",
            Rule::Plain => "plain number",
        }
    }
}

/// How likely a reading of a marking is beside the other readings of the same marking.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Likelihood {
    /// The usual meaning, or nearly as usual as the usual one.
    Likely,
    /// Seen on parts or in drawings.
    Possible,
    /// The code allows it.
    Rare,
}

impl Likelihood {
    /// The word for it.
    pub fn word(self) -> &'static str {
        match self {
            Likelihood::Likely => "likely",
            Likelihood::Possible => "possible",
            Likelihood::Rare => "rare",
        }
    }
}

/// One reading of a marking.
#[derive(Debug, Clone, PartialEq)]
pub struct Marking {
    /// Ohms or farads.
    pub unit: Unit,
    /// The value, in ohms or farads.
    pub value: f64,
    /// The tolerance, where the marking says one.
    pub tolerance: Option<MarkedTolerance>,
    /// The rule it is read by.
    pub rule: Rule,
    /// How the rule leads to the value, in words.
    pub how: String,
    /// The coarsest series of IEC 60063 that has the value; `None` where it is no preferred value.
    pub series: Option<Series>,
    /// How likely this reading is beside the others.
    pub likelihood: Likelihood,
}

impl Marking {
    /// The value with its unit, as [`print_short`] gives it; picofarads also below one.
    ///
    /// ```
    /// let readings = ohmhound::quantity::readings_of("p47")?;
    /// assert_eq!(readings[0].text(), "0.47 pF");
    /// # Ok::<(), ohmhound::quantity::ValueError>(())
    /// ```
    pub fn text(&self) -> String {
        if self.unit == Unit::Farad && self.value < 1e-12 {
            // To attofarads, which takes the rounding of the product off again.
            return format!("{} pF", (self.value * 1e18).round() / 1e6);
        }
        print_short(self.value, self.unit)
    }
}

/// Every reading of a part marking, the likeliest first; at least one.
///
/// Blanks are left out, and a letter that no code has in lower case is read as the capital. `M` is
/// mega and `m` is milli, as everywhere. The order among the readings follows common practice, no
/// published source: a preferred value before any other, and the code that parts carry before the
/// plain number of a drawing.
///
/// # Errors
///
/// A [`ValueError`] that says what was expected where the text is no marking.
///
/// ```
/// use ohmhound::quantity::{Unit, readings_of};
///
/// let readings = readings_of("103")?;
/// assert_eq!((readings[0].unit, readings[0].value), (Unit::Ohm, 10e3));
/// assert_eq!((readings[1].unit, readings[1].value), (Unit::Farad, 10e-9));
/// let wrong = readings_of("97C").unwrap_err();
/// assert_eq!(wrong.message, "expected two digits from 01 to 96 before the letter, found `97`");
/// # Ok::<(), ohmhound::quantity::ValueError>(())
/// ```
pub fn readings_of(code: &str) -> Result<Vec<Marking>, ValueError> {
    let bare = without_blanks(code);
    let mut drafts = code::drafts(&bare);
    drafts.sort_by_key(|draft| draft.doubt);
    let Some(least) = drafts.first().map(|draft| draft.doubt) else {
        return Err(refuse::error(code, &bare));
    };
    let marking = |draft: code::Draft| Marking {
        unit: draft.unit,
        value: draft.value,
        tolerance: draft.tolerance,
        rule: draft.rule,
        how: draft.how,
        series: Series::ALL.into_iter().find(|series| series.contains(draft.value)),
        likelihood: match draft.doubt - least {
            0..=2 => Likelihood::Likely,
            3..=5 => Likelihood::Possible,
            _ => Likelihood::Rare,
        },
    };
    Ok(drafts.into_iter().map(marking).collect())
}

/// The characters of a marking. One more than the longest marking has is enough to refuse a text.
fn without_blanks(code: &str) -> String {
    code.chars().filter(|c| !c.is_whitespace()).take(code::LONGEST + 1).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn shown(code: &str) -> Vec<String> {
        let shown =
            |m: &Marking| format!("{} {} {}", m.likelihood.word(), m.text(), m.rule.words());
        readings_of(code).expect(code).iter().map(shown).collect()
    }

    /// Which reading comes first is common practice, no published source.
    #[test]
    fn likeliest_first() {
        let rows: [(&str, &[&str]); 6] = [
            ("6R8", &["likely 6.8 Ω letter code", "possible 6.8 pF letter code"]),
            ("01C", &["likely 10 kΩ two digits and a letter"]),
            ("0", &["likely 0 Ω link"]),
            (
                "680",
                &[
                    "likely 68 Ω three digits",
                    "likely 68 pF three digits",
                    "possible 680 Ω plain number",
                    "rare 680 pF plain number",
                ],
            ),
            ("R10", &["likely 100 mΩ letter code", "rare 0.1 pF letter code"]),
            (
                "10R",
                &[
                    "likely 10 Ω letter code",
                    "possible 1.24 Ω two digits and a letter",
                    "rare 10 pF letter code",
                ],
            ),
        ];
        for (code, wanted) in rows {
            assert_eq!(shown(code), wanted, "{code}");
        }
    }
}
