//! The class letters at the start of a reference designator.

/// A class of parts and the letters that stand for it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Class {
    /// The letters, in upper case.
    pub letters: &'static str,
    /// What they stand for.
    pub what: &'static str,
    /// In the list of IEEE 315-1975, clause 22.4; otherwise common practice, no published source.
    pub standard: bool,
}

/// A row of IEEE 315-1975, clause 22.4.
const fn standard(letters: &'static str, what: &'static str) -> Class {
    Class { letters, what, standard: true }
}

/// A row of the same clause, quoted from memory.
const fn recalled(letters: &'static str, what: &'static str) -> Class {
    Class { letters, what, standard: true }
}

/// Common practice on boards, no published source.
const fn common(letters: &'static str, what: &'static str) -> Class {
    Class { letters, what, standard: false }
}

/// Every class: first those of IEEE 315-1975, clause 22.4, then those of common practice.
///
/// `X` stands in both parts, as socket and as crystal; the letters alone do not settle which.
pub const CLASSES: &[Class] = &[
    standard("A", "assembly or sub-assembly"),
    recalled("AR", "amplifier"),
    recalled("AT", "attenuator or resistive termination"),
    standard("B", "motor fan or blower"),
    recalled("BT", "battery or solar cell"),
    standard("C", "capacitor of any kind (fixed variable network)"),
    recalled("CB", "circuit breaker"),
    recalled("CP", "connector adapter"),
    standard("CR", "diode (older US usage)"),
    standard("D", "diode (rectifier or signal; bridge too)"),
    recalled("DC", "directional coupler"),
    recalled("DL", "delay line"),
    standard("DS", "lamp or LED or display"),
    standard("E", "antenna / terminal / ferrite bead / miscellaneous electrical part"),
    recalled("EQ", "equaliser"),
    standard("F", "fuse"),
    standard("FL", "filter (crystal filters too)"),
    recalled("G", "generator or oscillator"),
    recalled("H", "hardware (screws)"),
    recalled("HR", "heater"),
    recalled("HY", "hybrid or circulator"),
    standard("J", "connector: the more fixed of a mating pair (any gender)"),
    standard("K", "relay or contactor"),
    standard("L", "inductor coil or choke"),
    recalled("LS", "loudspeaker or buzzer"),
    standard("M", "meter"),
    recalled("MK", "microphone"),
    standard("MP", "mechanical part (heat sink)"),
    standard("P", "connector: the more movable of a mating pair"),
    recalled("PS", "power supply"),
    recalled("Q", "transistor or thyristor"),
    standard("R", "resistor incl. potentiometer and network"),
    standard("RT", "thermistor (resettable PTC fuse too)"),
    standard("RV", "varistor"),
    recalled("S", "switch"),
    recalled("T", "transformer"),
    recalled("TB", "terminal board"),
    recalled("TC", "thermocouple"),
    standard("TP", "test point; the standard gives a note, not a part class"),
    standard("U", "integrated circuit or other inseparable assembly (optocoupler)"),
    recalled("V", "electron tube"),
    standard("VR", "breakdown (zener) diode or voltage regulator"),
    standard("W", "wire cable or jumper wire"),
    standard("X", "socket or holder (XF fuse holder; XU IC socket)"),
    recalled("Y", "crystal or resonator"),
    standard("Z", "general network"),
    common("FB", "ferrite bead (standard letter is E)"),
    common("FU", "fuse (standard letter is F)"),
    common("IC", "integrated circuit (standard letter is U)"),
    common("JP", "jumper (standard letter is J/P or W)"),
    common("LED", "light-emitting diode (standard letters are DS)"),
    common("RN", "resistor network (standard letter is R)"),
    common("CN", "connector or capacitor network (standard J/P or C)"),
    common("HS", "heat sink (standard letters are MP)"),
    common("MH", "mounting hole"),
    common("SW", "switch (standard letter is S)"),
    common("X", "crystal (standard letter is Y)"),
    common("ZD", "zener diode (standard letters are VR)"),
    common("BR", "bridge rectifier (standard letter is D)"),
    common("TH", "thermistor (standard letters are RT)"),
];

/// The class letters of a reference designator: all that stands before the first digit or `_`.
///
/// They must be in [`CLASSES`], so the longest listed letters win: `FB3` is a ferrite bead and not
/// a fuse. Upper and lower case count. `None` where the letters are not listed.
///
/// ```
/// use ohmhound::quantity::class_letters;
///
/// assert_eq!(class_letters("FB3"), Some("FB"));
/// assert_eq!(class_letters("LED_GREEN"), Some("LED"));
/// assert_eq!(class_letters("RELAY1"), None);
/// ```
pub fn class_letters(name: &str) -> Option<&'static str> {
    let end = name.find(|c: char| c.is_ascii_digit() || c == '_').unwrap_or(name.len());
    let letters = &name[..end];
    CLASSES.iter().map(|class| class.letters).find(|listed| *listed == letters)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_letters_before_a_digit_or_underscore_are_the_class() {
        let rows = [
            ("R12", "R"),
            ("FB3", "FB"),
            ("F1", "F"),
            ("LED_GREEN", "LED"),
            ("SW1", "SW"),
            ("S1", "S"),
            ("U1", "U"),
            ("Q2", "Q"),
            ("J1", "J"),
            ("P1", "P"),
            ("VR1", "VR"),
            ("V1", "V"),
            ("K1", "K"),
            ("BT1", "BT"),
            ("TH1", "TH"),
            ("RT1", "RT"),
            ("RV1", "RV"),
            ("ZD1", "ZD"),
            ("D1A", "D"),
            ("TP", "TP"),
        ];
        for (name, letters) in rows {
            assert_eq!(class_letters(name), Some(letters), "{name}");
        }
    }

    #[test]
    fn letters_that_are_not_listed_give_no_class() {
        for name in ["", "_", "1R", "RX1", "LEDS", "FEEDBACK", "r1", "R-1", "Ω1", "5V"] {
            assert_eq!(class_letters(name), None, "{name}");
        }
    }

    #[test]
    fn only_the_socket_and_crystal_letter_is_listed_twice() {
        for class in CLASSES {
            let times = CLASSES.iter().filter(|other| other.letters == class.letters).count();
            assert_eq!(times, if class.letters == "X" { 2 } else { 1 }, "{}", class.letters);
            assert!(class.letters.chars().all(|c| c.is_ascii_uppercase()));
            assert!(!class.what.is_empty());
        }
    }

    /// IEEE 315-1975, clause 22.4: an LED is DS, a ferrite bead E, a switch S, a zener VR.
    #[test]
    fn board_habit_is_told_from_the_standard() {
        let standard = |letters| CLASSES.iter().find(|c| c.letters == letters).map(|c| c.standard);
        for letters in ["DS", "E", "S", "VR", "R", "C", "L", "F", "D", "U", "Q"] {
            assert_eq!(standard(letters), Some(true), "{letters}");
        }
        for letters in ["LED", "FB", "SW", "ZD", "JP", "IC"] {
            assert_eq!(standard(letters), Some(false), "{letters}");
        }
    }
}
