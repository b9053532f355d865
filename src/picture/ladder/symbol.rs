//! Graphical symbols of parts with two leads, and of transistors with a third one at the side.
//!
//! The shapes follow IEC 60617, "Graphical symbols for diagrams"; from memory, so that proportions
//! are our own. Where the standard has no symbol for what a kind is, the nearest general one stands:
//! a load is the square of an object in general with an arrow for the current that it takes, a
//! ferrite bead an inductor with a core, a platinum sensor a resistor that depends on temperature.
//!
//! Every symbol stands upright around (0, 0), its leads at (0, -[`HALF`]) and (0, [`HALF`]), a third
//! lead at the left; the first pin of its kind is on top. Only absolute moves, lines and arcs are
//! used.

/// Half the height of a symbol, leads included.
pub(super) const HALF: f64 = 14.0;

/// What is drawn for a part, or for a piece of it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Symbol {
    Resistor,
    Capacitor,
    Polarised,
    Inductor,
    Bead,
    Fuse,
    Link,
    Connector,
    Closed,
    Open,
    Diode,
    Led,
    Zener,
    Source,
    Battery,
    Current,
    Load,
    Thermistor,
    Potentiometer,
    Npn,
    Pnp,
    PhotoTransistor,
    Nmos,
    Pmos,
    Coil,
    Make,
    Break,
    Reference,
    Wire,
}

/// The strokes of a symbol.
#[derive(Debug, Clone, Copy)]
pub(super) struct Strokes {
    /// The outline, as the data of a path; closed shapes are filled with the ground.
    pub(super) outline: &'static str,
    /// What is filled with ink: arrow heads, plates.
    pub(super) filled: &'static str,
    /// A circle around (0, 0) of this radius, 0 for none.
    pub(super) circle: f64,
    /// How far it reaches to the left and to the right.
    pub(super) reach: (f64, f64),
}

impl Symbol {
    /// The strokes.
    pub(super) fn strokes(self) -> Strokes {
        let (outline, filled, circle, reach) = match self {
            Symbol::Resistor => (BOX, "", 0.0, (5.0, 5.0)),
            Symbol::Capacitor => {
                ("M 0 -14 L 0 -3 M -9 -3 L 9 -3 M -9 3 L 9 3 M 0 3 L 0 14", "", 0.0, (9.0, 9.0))
            }
            Symbol::Polarised => (
                "M 0 -14 L 0 -6 M -9 -6 L 9 -6 L 9 -2 L -9 -2 Z M 0 3 L 0 14 \
                 M 4 -11 L 10 -11 M 7 -14 L 7 -8",
                "M -9 2 L 9 2 L 9 5 L -9 5 Z",
                0.0,
                (9.0, 10.0),
            ),
            Symbol::Inductor => (COILED, "", 0.0, (1.0, 5.0)),
            Symbol::Bead => (
                "M 0 -14 L 0 -12 A 4 4 0 0 1 0 -4 A 4 4 0 0 1 0 4 A 4 4 0 0 1 0 12 L 0 14 \
                 M 7 -12 L 7 12",
                "",
                0.0,
                (1.0, 7.0),
            ),
            Symbol::Fuse => {
                ("M -5 -11 L 5 -11 L 5 11 L -5 11 Z M 0 -14 L 0 14", "", 0.0, (5.0, 5.0))
            }
            Symbol::Link => (
                "M 0 -14 L 0 -10 M -2.5 -7.5 A 2.5 2.5 0 0 1 2.5 -7.5 A 2.5 2.5 0 0 1 -2.5 -7.5 Z \
                 M 0 -5 L 0 5 M -2.5 7.5 A 2.5 2.5 0 0 1 2.5 7.5 A 2.5 2.5 0 0 1 -2.5 7.5 Z \
                 M 0 10 L 0 14",
                "",
                0.0,
                (3.0, 3.0),
            ),
            Symbol::Connector => (
                "M 0 -14 L 0 -8 M -6 5 A 6 6 0 0 1 6 5 M 0 -1 L 0 14",
                "M -3 -10 L 3 -10 L 3 -3 L -3 -3 Z",
                0.0,
                (6.0, 6.0),
            ),
            Symbol::Closed | Symbol::Break => {
                ("M 0 -14 L 0 -7 L 8 -7 M 0 14 L 0 9 L 7 -10", "", 0.0, (2.0, 9.0))
            }
            Symbol::Open | Symbol::Make => {
                ("M 0 -14 L 0 -7 M 0 14 L 0 9 L -8 -8", "", 0.0, (9.0, 2.0))
            }
            Symbol::Diode => (DIODE, "", 0.0, (8.0, 8.0)),
            Symbol::Led => (
                "M 0 -14 L 0 14 M -7 -6 L 7 -6 L 0 6 Z M -7 6 L 7 6 \
                 M 9 -4 L 14 -9 M 9 2 L 14 -3",
                "M 16 -11 L 11.5 -9.7 L 14.7 -6.5 Z M 16 -5 L 11.5 -3.7 L 14.7 -0.5 Z",
                0.0,
                (8.0, 16.0),
            ),
            Symbol::Zener => {
                ("M 0 -14 L 0 14 M -7 -6 L 7 -6 L 0 6 Z M -7 2 L -7 6 L 7 6", "", 0.0, (8.0, 8.0))
            }
            Symbol::Source => {
                ("M 0 -14 L 0 14 M 8 -13 L 14 -13 M 11 -16 L 11 -10", "", 10.0, (10.0, 14.0))
            }
            Symbol::Battery => (
                "M 0 -14 L 0 -7 M -9 -7 L 9 -7 M 0 -3 L 0 3 M -9 3 L 9 3 M 0 7 L 0 14 \
                 M 5 -12 L 11 -12 M 8 -15 L 8 -9",
                "M -5 -4 L 5 -4 L 5 -2 L -5 -2 Z M -5 6 L 5 6 L 5 8 L -5 8 Z",
                0.0,
                (9.0, 11.0),
            ),
            // The arrow beside it shows the way that the current is driven, out of pin 1.
            Symbol::Current => (
                "M 0 -14 L 0 -10 M -10 0 L 10 0 M 0 10 L 0 14 M 14 10 L 14 -6",
                "M 14 -11 L 11.5 -5 L 16.5 -5 Z",
                10.0,
                (10.0, 17.0),
            ),
            Symbol::Load => (
                "M 0 -14 L 0 -10 M -10 -10 L 10 -10 L 10 10 L -10 10 Z M 0 -6 L 0 3 M 0 10 L 0 14",
                "M 0 7 L -3 1 L 3 1 Z",
                0.0,
                (10.0, 10.0),
            ),
            Symbol::Thermistor => (
                "M 0 -14 L 0 -11 M -5 -11 L 5 -11 L 5 11 L -5 11 Z M 0 11 L 0 14 \
                 M -13 9 L -9 9 L 9 -9",
                "",
                0.0,
                (13.0, 9.0),
            ),
            Symbol::Potentiometer => (
                "M 0 -14 L 0 -11 M -5 -11 L 5 -11 L 5 11 L -5 11 Z M 0 11 L 0 14 M -11 0 L -9 0",
                "M -5 0 L -10 -3 L -10 3 Z",
                0.0,
                (11.0, 5.0),
            ),
            Symbol::Npn => (BIPOLAR, "M 0 8.5 L -5.7 7.5 L -2.3 3 Z", 0.0, (11.0, 1.0)),
            Symbol::Pnp => (BIPOLAR, "M -9 2 L -6.7 6.5 L -3.6 2.5 Z", 0.0, (11.0, 1.0)),
            Symbol::PhotoTransistor => (
                "M 0 -14 L 0 -9 L -9 -2.5 M -9 -9 L -9 9 M -9 2 L 0 8.5 L 0 14",
                "M 0 8.5 L -5.7 7.5 L -2.3 3 Z",
                0.0,
                (10.0, 1.0),
            ),
            Symbol::Nmos => (MOSFET, "M -8 0 L -3 -2.6 L -3 2.6 Z", 0.0, (13.0, 1.0)),
            Symbol::Pmos => (MOSFET, "M -1 0 L -6 -2.6 L -6 2.6 Z", 0.0, (13.0, 1.0)),
            Symbol::Coil => (
                "M 0 -14 L 0 -8 M -12 -8 L 12 -8 L 12 8 L -12 8 Z M 0 8 L 0 14",
                "",
                0.0,
                (12.0, 12.0),
            ),
            Symbol::Reference => (
                "M 0 -14 L 0 14 M -7 6 L 7 6 L 0 -6 Z M 7 -2 L 7 -6 L -11 -6",
                "",
                0.0,
                (11.0, 8.0),
            ),
            Symbol::Wire => ("M 0 -14 L 0 14", "", 0.0, (3.0, 3.0)),
        };
        Strokes { outline, filled, circle, reach }
    }

    /// How far below the middle the third lead is.
    pub(super) fn side_drop(self) -> f64 {
        match self {
            Symbol::Nmos | Symbol::Pmos => 8.0,
            Symbol::Reference => -6.0,
            _ => 0.0,
        }
    }

    /// Whether a dashed line of a coil moves it.
    pub(super) fn is_moved(self) -> bool {
        matches!(self, Symbol::Make | Symbol::Break)
    }
}

const BOX: &str = "M 0 -14 L 0 -11 M -5 -11 L 5 -11 L 5 11 L -5 11 Z M 0 11 L 0 14";
const COILED: &str = "M 0 -14 L 0 -12 A 4 4 0 0 1 0 -4 A 4 4 0 0 1 0 4 A 4 4 0 0 1 0 12 L 0 14";
const DIODE: &str = "M 0 -14 L 0 14 M -7 -6 L 7 -6 L 0 6 Z M -7 6 L 7 6";
/// Collector on top, emitter below, base at the left; the arrow tells npn from pnp.
const BIPOLAR: &str =
    "M 0 -14 L 0 -9 L -9 -2.5 M -9 -9 L -9 9 M -9 2 L 0 8.5 L 0 14 M -11 0 L -9 0";
/// An enhancement type, drain on top, source below, gate at the left in line with the source; the
/// arrow of the bulk tells the channel.
const MOSFET: &str = "M 0 -14 L 0 -8 L -8 -8 M 0 14 L 0 0 L -8 0 M 0 8 L -8 8 \
                      M -8 -11 L -8 -5 M -8 -3 L -8 3 M -8 5 L -8 11 M -12 -9 L -12 8 L -13 8";

#[cfg(test)]
mod tests {
    use super::*;

    const ALL: [Symbol; 29] = [
        Symbol::Resistor,
        Symbol::Capacitor,
        Symbol::Polarised,
        Symbol::Inductor,
        Symbol::Bead,
        Symbol::Fuse,
        Symbol::Link,
        Symbol::Connector,
        Symbol::Closed,
        Symbol::Open,
        Symbol::Diode,
        Symbol::Led,
        Symbol::Zener,
        Symbol::Source,
        Symbol::Battery,
        Symbol::Current,
        Symbol::Load,
        Symbol::Thermistor,
        Symbol::Potentiometer,
        Symbol::Npn,
        Symbol::Pnp,
        Symbol::PhotoTransistor,
        Symbol::Nmos,
        Symbol::Pmos,
        Symbol::Coil,
        Symbol::Make,
        Symbol::Break,
        Symbol::Reference,
        Symbol::Wire,
    ];

    #[test]
    fn every_symbol_stays_within_its_reach_and_has_both_leads() {
        for symbol in ALL {
            let strokes = symbol.strokes();
            let data = format!("{} {}", strokes.outline, strokes.filled);
            let mut points = Vec::new();
            let mut words = data.split_whitespace();
            while let Some(word) = words.next() {
                if word == "A" {
                    (0..5).for_each(|_| drop(words.next()));
                }
                if word == "Z" {
                    continue;
                }
                let mut number = || words.next().unwrap().parse::<f64>().unwrap();
                points.push((number(), number()));
            }
            let (left, right) = strokes.reach;
            for (x, y) in &points {
                assert!((-left..=right).contains(x), "{symbol:?} reaches {x}");
                assert!(y.abs() <= HALF + 2.0, "{symbol:?} reaches {y}");
            }
            assert!(points.contains(&(0.0, -HALF)) && points.contains(&(0.0, HALF)), "{symbol:?}");
        }
    }
}
