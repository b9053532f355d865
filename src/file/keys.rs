//! Every key that files may hold, apart from the parameters of the kinds, which stand in the tables
//! of [`crate::device`]. What the readers refuse and what the schemas of `schema` publish are both
//! these rows.

use super::limits::CELSIUS;
use crate::circuit::Quantity;
use crate::quantity::Unit;

/// The form of the value of a key.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Form {
    /// A text.
    Text,
    /// Yes or no.
    Flag,
    /// A value in a unit: a number, or a text with the value and perhaps its unit.
    Value(Unit),
    /// The same, more than zero.
    Positive(Unit),
    /// The same, zero or more.
    NotNegative(Unit),
    /// The same, from the first to the second, both included.
    Within(Unit, f64, f64),
    /// A number or a text, as it stands.
    Written,
    /// A word out of a list.
    Word(&'static [&'static str]),
    /// Any number of names.
    Names,
    /// The names of two nets.
    Pair,
    /// A form of its own, which the schema of that name describes.
    Own(&'static str),
}

/// One key.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Key {
    pub(super) name: &'static str,
    pub(super) form: Form,
    /// What it is, in a few words.
    pub(super) about: &'static str,
}

const fn key(name: &'static str, form: Form, about: &'static str) -> Key {
    Key { name, form, about }
}

/// The names of keys, for a reader that refuses all others.
pub(super) fn names(keys: &[Key]) -> Vec<&'static str> {
    keys.iter().map(|key| key.name).collect()
}

/// Keys of a circuit file.
pub(super) const CIRCUIT: &[Key] = &[
    key("title", Form::Text, "what the board is"),
    key("ground", Form::Text, "the net that volts are counted from; GND when it is left out"),
    SHELF_FILES,
    key("parts", Form::Own("parts"), "every part by its name"),
    TYPES,
    key("setups", Form::Own("setups"), "conditions under which readings are taken"),
    key("limits", Form::Own("limits"), "what nets may carry"),
    key("board", Form::Own("board"), "what only the board shows"),
];

/// Keys of a shelf file.
pub(super) const SHELF: &[Key] = &[TYPES, SHELF_FILES];

const TYPES: Key = key("types", Form::Own("types"), "values that several parts share");
const SHELF_FILES: Key = key("shelf", Form::Names, "files of types, relative to this one");

/// Keys of a part besides the parameters of its kind.
pub(super) const PART: &[Key] = &[
    KIND,
    key("type", Form::Text, "the type that gives what is not said here"),
    key("nets", Form::Pair, "the nets of its two pins, pin 1 first"),
    key("pins", Form::Own("pins"), "the net of each pin"),
    key("fitted", Form::Flag, "whether it is on the board; it is unless this says otherwise"),
    TOLERANCE,
    MAXIMUM,
];

/// Keys of a type besides the parameters of its kind.
pub(super) const TYPE: &[Key] = &[KIND, TOLERANCE, MAXIMUM];

const KIND: Key =
    key("kind", Form::Own("kind"), "the kind of part, where its class letters do not say it");
const TOLERANCE: Key =
    key("tolerance", Form::Written, "the tolerance of its main value, such as \"1 %\"");
const MAXIMUM: Key = key("maximum", Form::Own("maximum"), "the most volts that its pins may see");

/// Keys of one pin of a chip of which only the pins matter.
pub(super) const CHIP_PIN: &[Key] = &[
    key("net", Form::Text, "the net of the pin"),
    key("to_ground", Form::Positive(Unit::Ohm), "the resistance of the pin to ground"),
    key(
        "draws",
        Form::Positive(Unit::Amp),
        "the current that it draws to ground, such as \"20 mA above 2.7 V\"",
    ),
    key("clamp_to", Form::Text, "the supply pin that its protection diode leads up to"),
];

/// Keys of a setup.
pub(super) const SETUP: &[Key] = &[
    key("base", Form::Text, "the setup that this one starts from; `powered` when it is left out"),
    key("disconnect", Form::Names, "parts that are taken off"),
    key("connect", Form::Own("connections"), "bench supplies and links that are put on"),
    key("open", Form::Names, "switches that are open"),
    key("closed", Form::Names, "switches that are closed"),
    key("lifted", Form::Names, "parts with one leg lifted"),
    key(
        "temperature",
        Form::Within(Unit::Celsius, *CELSIUS.start(), *CELSIUS.end()),
        "the temperature of the board",
    ),
];

/// Keys of a connection of a setup.
pub(super) const CONNECTION: &[Key] = &[
    key("nets", Form::Pair, "the two nets, plus first"),
    key("volts", Form::Value(Unit::Volt), "the volts of a bench supply; none for a link"),
    key("limit", Form::Positive(Unit::Amp), "the current limit of a bench supply"),
    key("resistance", Form::Positive(Unit::Ohm), "the resistance of the leads or of the link"),
];

/// Keys of the limits of a net.
pub(super) const LIMIT: &[Key] = &[
    key("min", Form::Value(Unit::Volt), "the least it may carry"),
    key("max", Form::Value(Unit::Volt), "the most it may carry"),
];

/// Keys of `[board]`.
pub(super) const BOARD: &[Key] = &[
    key(
        "neighbours",
        Form::Own("neighbours"),
        "pairs of nets, or of parts, that lie close together",
    ),
    key("weight", Form::Own("weight"), "parts, or failures of them, so many times likelier"),
    key("budget", Form::Own("budget"), "the share of all causes that a class has"),
    key("hard_to_reach", Form::Own("efforts"), "nets and parts with the effort that they cost"),
    key("no_access", Form::Names, "nets that cannot be probed"),
];

/// Keys of a readings file that are not setups.
pub(super) const READINGS: &[Key] = &[
    key("circuit", Form::Text, "the circuit file, relative to this one"),
    key("job", Form::Own("job"), "lines of the job ticket"),
    key("meter", Form::Own("meter"), "what the readings were taken with"),
    key("seen", Form::Own("looks"), "how parts look"),
    key("done", Form::Own("done"), "steps of the repair, in their order"),
    key("after", Form::Own("setups"), "readings after the repair"),
    key("good", Form::Own("setups"), "readings of a board that is known to be good"),
];

/// Keys of one reading that is a table.
pub(super) const READING: &[Key] = &[
    key("value", Form::Own("value"), "what was read"),
    key("meter", Form::Own("meter"), "what it was taken with, where it was another meter"),
];

/// Keys of a step of the repair.
pub(super) const DONE: &[Key] = &[
    key("action", Form::Word(ACTIONS), "what was done"),
    key("part", Form::Text, "the part it was done to"),
    key("with", Form::Written, "what was put in its place"),
];

/// What can be done to a part.
pub(super) const ACTIONS: &[&str] = &["replaced", "lifted", "cleaned", "removed", "disconnected"];

/// Keys of a meter: the quantities that it shows.
pub(super) fn meters() -> Vec<Key> {
    let shown = Quantity::ALL.into_iter().filter(|quantity| !meter(*quantity).is_empty());
    shown
        .map(|quantity| key(quantity.word(), Form::Own("meter"), "what it is on this quantity"))
        .collect()
}

/// What a meter is described by on one quantity; nothing where no meter shows it.
pub(super) fn meter(quantity: Quantity) -> &'static [Key] {
    match quantity {
        Quantity::Volts => {
            const {
                &[
                    ACCURACY,
                    key(
                        "input",
                        Form::Written,
                        "its resistance, such as \"10 MΩ\" or \"20 kΩ/V on 10 V\"",
                    ),
                ]
            }
        }
        Quantity::Amps => {
            const {
                &[
                    ACCURACY,
                    key(
                        "resistance",
                        Form::NotNegative(Unit::Ohm),
                        "the resistance of the range in use",
                    ),
                ]
            }
        }
        Quantity::Ohms => {
            const {
                &[
                    ACCURACY,
                    key("open_volts", Form::Positive(Unit::Volt), "its volts with the leads apart"),
                    key("amps", Form::Positive(Unit::Amp), "its current with the leads together"),
                    key("leads", Form::NotNegative(Unit::Ohm), "what the leads add"),
                    key("range", Form::Positive(Unit::Ohm), "the most it shows; OL above"),
                ]
            }
        }
        Quantity::Diode => {
            const {
                &[
                    ACCURACY,
                    key("amps", Form::Positive(Unit::Amp), "the current that it sends"),
                    key("compliance", Form::Positive(Unit::Volt), "its volts with the leads apart"),
                    key("display_max", Form::Positive(Unit::Volt), "the most it shows; OL above"),
                    key(
                        "red_on",
                        Form::Word(RED_ON),
                        "where the red lead was in readings that name one net only",
                    ),
                ]
            }
        }
        Quantity::Beep => {
            const { &[key("below", Form::Positive(Unit::Ohm), "the resistance below which it beeps")] }
        }
        Quantity::Seen => &[],
    }
}

const ACCURACY: Key = key("accuracy", Form::Text, "its half-width, such as \"0.5 % + 2 counts\"");

/// Where the red lead of a diode reading may be.
pub(super) const RED_ON: &[&str] = &["ground", "net"];

/// Keys of a stock list.
pub(super) const STOCK_FILE: &[Key] =
    &[key("stock", Form::Own("stock"), "what there is, one entry a value")];

/// Keys of an entry of a stock list, and columns of one with commas.
pub(super) const STOCK: &[Key] = &[
    key("value", Form::Written, "the value, with its tolerance if you like"),
    key("tolerance", Form::Written, "the tolerance, such as \"1 %\""),
    key("rated", Form::Written, "the most it bears"),
    key("quantity", Form::Written, "how many there are"),
    key("note", Form::Written, "anything, such as the place in the drawer"),
];
