//! The keys of the files that the program reads, in words: what may stand behind each, and what
//! applies without it.
//!
//! The readers have their own lists; a test holds the two against each other.

use crate::circuit::{Accuracy, Meter, Setup};
use crate::quantity::{Unit, print_short};

/// A text that stands here, or one that is made of what the code has.
#[derive(Debug, Clone, Copy)]
pub enum Words {
    /// As it stands.
    Fixed(&'static str),
    /// Made anew each time.
    Made(fn() -> String),
}

impl Words {
    /// The text.
    pub fn text(self) -> String {
        match self {
            Words::Fixed(text) => text.to_owned(),
            Words::Made(make) => make(),
        }
    }
}

/// One key of a table.
#[derive(Debug, Clone, Copy)]
pub struct Key {
    /// The key.
    pub name: &'static str,
    /// What may stand behind it, with unit and range.
    pub value: &'static str,
    /// What applies when it is left out.
    pub without: Words,
    /// What it is.
    pub about: &'static str,
}

/// The keys that one table of a file may hold.
#[derive(Debug, Clone, Copy)]
pub struct KeyTable {
    /// The table as it is written.
    pub place: &'static str,
    /// What it is for, in a sentence.
    pub about: &'static str,
    /// Its keys.
    pub keys: &'static [Key],
}

const fn key(
    name: &'static str,
    value: &'static str,
    without: &'static str,
    about: &'static str,
) -> Key {
    Key { name, value, without: Words::Fixed(without), about }
}

const fn made(
    name: &'static str,
    value: &'static str,
    without: fn() -> String,
    about: &'static str,
) -> Key {
    Key { name, value, without: Words::Made(without), about }
}

const fn table(place: &'static str, about: &'static str, keys: &'static [Key]) -> KeyTable {
    KeyTable { place, about, keys }
}

const NEEDED: &str = "must be given";
const NONE: &str = "none";

/// A circuit file.
pub const CIRCUIT: &[KeyTable] = &[
    table(
        "The top of the file",
        "Only `[parts]` has to be there.",
        &[
            key("title", "a text", "empty", "what the board is; stands above every result"),
            key("ground", "the name of a net", "`GND`", "the net that all volts are counted from"),
            key("shelf", "a list of file names, beside this file", NONE, "files with types"),
            key("parts", "a table of parts", NEEDED, "what is on the board"),
            key("types", "a table of types", NONE, "values that several parts share"),
            key(
                "setups",
                "a table of setups",
                "`powered` and `unpowered`, which are always there",
                "conditions under which readings are taken",
            ),
            key("limits", "a table of nets", NONE, "the volts that nets may carry"),
            key(
                "board",
                "a table",
                NONE,
                "what only the board shows: neighbours, suspicion, reach",
            ),
        ],
    ),
    table(
        "[parts.NAME], or NAME = { .. } under [parts]",
        "One part. Beside these keys stand those of its kind.",
        &[
            key(
                "kind",
                "a kind of part",
                "that of its type, or of the first letters of its name",
                "what the part is",
            ),
            key(
                "type",
                "the name of a type",
                NONE,
                "takes what this table does not say from there",
            ),
            key("nets", "a list of two nets", NEEDED, "pin 1 first; for kinds with two pins"),
            key(
                "pins",
                "a table of nets by the names of the pins",
                NEEDED,
                "for kinds with named pins; takes the place of `nets`",
            ),
            key("fitted", "true, false", "true", "false for a place that the maker left empty"),
            key(
                "tolerance",
                "`\"5 %\"`, `\"100 Ω\"`, `\"×/÷ 2\"`",
                "that of the kind's table",
                "half-width of `value`; of a kind without `value`, of its first parameter that has one",
            ),
            key(
                "maximum",
                "a table of volts by pin, more than zero",
                NONE,
                "the most volts that pins may see, against the ground pin",
            ),
        ],
    ),
    table(
        "[types.NAME]",
        "Values that several parts share. Beside these keys stand those of the kind.",
        &[
            key("kind", "a kind of part", "that of the part", "what parts of this type are"),
            key("tolerance", "as of a part", "that of the kind's table", "as of a part"),
            key("maximum", "as of a part", NONE, "as of a part"),
        ],
    ),
    table(
        "pins = { NAME = { .. } } of a chip",
        "One pin of a chip of which only the pins matter; a net alone may stand here as well.",
        &[
            key("net", "the name of a net", NEEDED, "the net that the pin is on"),
            key("to_ground", "ohms > 0", NONE, "resistance from the pin to the pin `ground`"),
            key(
                "draws",
                "amps > 0, as in `\"20 mA above 2.7 V\"`",
                NONE,
                "current from the pin to the pin `ground`; ohmic below the volts, or below 0.1 V",
            ),
            key(
                "clamp_to",
                "the name of another pin",
                NONE,
                "the pin that a protection diode leads up to",
            ),
        ],
    ),
    table(
        "[setups.NAME]",
        "A condition under which readings are taken. `powered` is the circuit as drawn, `unpowered` \
         the same without its sources.",
        &[
            key(
                "base",
                "the name of a setup above",
                "`powered`",
                "the setup that this one starts from",
            ),
            key("disconnect", "a list of parts", NONE, "parts that are taken out"),
            key("connect", "a list of tables", NONE, "what is clipped on"),
            key("open", "a list of switches", NONE, "switches that stand open here"),
            key("closed", "a list of switches", NONE, "switches that stand closed here"),
            key(
                "lifted",
                "a list of parts",
                NONE,
                "parts with one leg off; with all pins off where there are more than two",
            ),
            made("temperature", "°C, from -100 to 250", room, "the temperature of the whole board"),
        ],
    ),
    table(
        "connect = [{ .. }] of a setup",
        "A bench supply when `volts` are given, else a resistor or a link.",
        &[
            key("nets", "a list of two nets", NEEDED, "plus first"),
            key("volts", "volts", "a resistor or a link", "what the bench supply is set to"),
            key("limit", "amps > 0", NONE, "its current limit"),
            key(
                "resistance",
                "ohms, from 1 µΩ to 1 TΩ",
                "10 mΩ of a bench supply",
                "its resistance, leads included; of a link, its resistance",
            ),
        ],
    ),
    table(
        "[limits.NET], or NET = { .. } under [limits]",
        "What a net may carry, against ground. `check`, `solve --bands` and `substitute` look at it.",
        &[
            key("min", "volts", NONE, "the least"),
            key("max", "volts, above `min`", NONE, "the most"),
        ],
    ),
    table(
        "[board]",
        "What the schematic does not show.",
        &[
            key(
                "neighbours",
                "a list of pairs: two nets, or two parts",
                NONE,
                "nets that may be bridged, parts that may stand in each other's place",
            ),
            key(
                "weight",
                "a table: parts to a number > 0, or to a table of failures",
                "1",
                "how many times likelier than usual a part fails, or fails in this way",
            ),
            key(
                "budget",
                "a table: classes of causes to a share between 0 and 1",
                "the usual shares",
                "what share of all causes a class has; the rest is shared out as usual",
            ),
            key(
                "hard_to_reach",
                "a table: nets and parts to an effort > 0",
                "1 for a net, 10 for a leg",
                "what probing a net, or lifting a part, costs; the planner counts it",
            ),
            key("no_access", "a list of nets", NONE, "nets that no probe reaches"),
        ],
    ),
];

/// A readings file.
pub const READINGS: &[KeyTable] = &[
    table(
        "The top of the file",
        "Every other name at the top is a setup of the circuit, or `\"R1 lifted\"`.",
        &[
            key(
                "circuit",
                "a file name, beside this file",
                "named on the command line",
                "its circuit",
            ),
            key("job", "a table of texts", NONE, "what the job ticket says: any keys"),
            key("meter", "a table", "the usual meter", "what the readings were taken with"),
            key(
                "seen",
                "a table: parts to a word, or to a list",
                NONE,
                "how parts look, without power",
            ),
            key("done", "a list of tables, `[[done]]`", NONE, "what was done to the board"),
            key("after", "a table of setups", NONE, "readings that were taken after the repair"),
            key(
                "good",
                "a table of setups",
                NONE,
                "the same readings of a board that is known to be good",
            ),
        ],
    ),
    table(
        "[meter]",
        "What is not said is that of the usual meter.",
        &[
            key("volts", "a table", "the usual meter", "the meter on volts"),
            key("amps", "a table", "the usual meter", "the meter on amps"),
            key("ohms", "a table", "the usual meter", "the meter on ohms"),
            key("diode", "a table", "the usual meter", "the meter on diode mode"),
            key("beep", "a table", "the usual meter", "the meter on continuity"),
        ],
    ),
    table(
        "[meter.volts]",
        "A voltmeter is a resistance between its leads.",
        &[
            made("accuracy", ACCURACY, volts_accuracy, "half-width of a reading"),
            made(
                "input",
                "ohms > 0, or `\"20 kΩ/V on 10 V\"` of a moving-coil meter",
                volts_input,
                "the resistance between its leads",
            ),
        ],
    ),
    table(
        "[meter.amps]",
        "An ammeter is a resistance in the broken path.",
        &[
            made("accuracy", ACCURACY, amps_accuracy, "half-width of a reading"),
            made("resistance", "ohms ≥ 0", amps_resistance, "what it puts into the path"),
        ],
    ),
    table(
        "[meter.ohms]",
        "An ohmmeter is a voltage behind a resistance.",
        &[
            made("accuracy", ACCURACY, ohms_accuracy, "half-width of a reading"),
            made("open_volts", "volts > 0", ohms_open_volts, "volts at its open leads"),
            made("amps", "amps > 0", ohms_amps, "its current into a short"),
            made(
                "leads",
                "ohms ≥ 0",
                ohms_leads,
                "resistance of the leads, which every reading contains",
            ),
            made(
                "range",
                "ohms > 0",
                ohms_range,
                "the largest resistance that it shows; beyond is OL",
            ),
        ],
    ),
    table(
        "[meter.diode]",
        "Diode mode is a constant current up to a voltage.",
        &[
            made("accuracy", ACCURACY, diode_accuracy, "half-width of a reading"),
            made("amps", "amps > 0", diode_amps, "its current"),
            made("compliance", "volts > 0", diode_compliance, "the most volts it drives"),
            made(
                "display_max",
                "volts > 0",
                diode_display_max,
                "the most volts it shows; beyond is OL",
            ),
            key(
                "red_on",
                "`\"ground\"`, `\"net\"`",
                "a bare net is refused",
                "where the red lead is when a reading names a bare net",
            ),
        ],
    ),
    table(
        "[meter.beep]",
        "",
        &[made("below", "ohms > 0", beep_below, "it beeps below about this much")],
    ),
    table(
        "PLACE = { .. } of one reading",
        "A reading that was taken with another meter. Else the value stands by itself.",
        &[
            key("value", "a reading", NEEDED, "what was read"),
            key("meter", "a table as of the quantity under `[meter]`", "`[meter]`", "this meter"),
        ],
    ),
    table(
        "[[done]]",
        "One thing that was done to the board, for the report and for the session after it.",
        &[
            key(
                "action",
                "`replaced`, `lifted`, `cleaned`, `removed`, `disconnected`",
                NEEDED,
                "what was done",
            ),
            key("part", "the name of a part", NONE, "to which part"),
            key("with", "a text or a value", NONE, "what was put in"),
        ],
    ),
];

/// A shelf file: types for several circuits.
pub const SHELF: &[KeyTable] = &[table(
    "The top of the file",
    "A shelf holds nothing but types, and may build on other shelves.",
    &[
        key("types", "a table of types", NONE, "as of a circuit file"),
        key("shelf", "a list of file names, beside this file", NONE, "further shelf files"),
    ],
)];

/// A stock list, as TOML under `[[stock]]` or as CSV with these columns.
pub const STOCK: &[KeyTable] = &[table(
    "[[stock]], or the columns of a CSV file",
    "What lies in the drawer. Values in another unit than the one looked for are left out.",
    &[
        key("value", "a value, with its tolerance or without", NEEDED, "what it is"),
        key("tolerance", "`\"5 %\"`", "that of the part it would replace", "its tolerance"),
        key("rated", "watts, volts or amps, as the kind has it", "not known", "what it stands"),
        key("quantity", "a whole number", "some", "how many there are; 0 leaves it out"),
        key("note", "a text", "empty", "where it lies, what it was bought for"),
    ],
)];

/// The columns of readings as CSV, in this order, named in the first line.
pub const READINGS_CSV: &[KeyTable] = &[table(
    "The first line: `setup,quantity,place,value`",
    "Fields are separated and quoted as in RFC 4180, points stand in numbers. The meter is the usual one.",
    &[
        key(
            "setup",
            "the name of a setup",
            NEEDED,
            "`powered`, `unpowered`, or one of the circuit's",
        ),
        key(
            "quantity",
            "`volts`, `amps`, `ohms`, `diode`, `beep`, `seen`",
            NEEDED,
            "what was read",
        ),
        key("place", "a place", NEEDED, "where"),
        key("value", "a reading", NEEDED, "what stood on the meter"),
    ],
)];

const ACCURACY: &str = "`\"0.5 % + 2 counts\"`, or either of the two";

fn room() -> String {
    print_short(Setup::powered().celsius, Unit::Celsius)
}

fn accuracy(accuracy: Accuracy) -> String {
    format!(
        "{} % + {} counts",
        print_short(100.0 * accuracy.fraction, Unit::One),
        print_short(accuracy.counts, Unit::One)
    )
}

fn volts_accuracy() -> String {
    accuracy(Meter::default().volts.accuracy)
}

fn volts_input() -> String {
    print_short(Meter::default().volts.input.ohms(), Unit::Ohm)
}

fn amps_accuracy() -> String {
    accuracy(Meter::default().amps.accuracy)
}

fn amps_resistance() -> String {
    print_short(Meter::default().amps.resistance, Unit::Ohm)
}

fn ohms_accuracy() -> String {
    accuracy(Meter::default().ohms.accuracy)
}

fn ohms_open_volts() -> String {
    print_short(Meter::default().ohms.open_volts, Unit::Volt)
}

fn ohms_amps() -> String {
    print_short(Meter::default().ohms.amps, Unit::Amp)
}

fn ohms_leads() -> String {
    print_short(Meter::default().ohms.leads, Unit::Ohm)
}

fn ohms_range() -> String {
    print_short(Meter::default().ohms.range, Unit::Ohm)
}

fn diode_accuracy() -> String {
    accuracy(Meter::default().diode.accuracy)
}

fn diode_amps() -> String {
    print_short(Meter::default().diode.amps, Unit::Amp)
}

fn diode_compliance() -> String {
    print_short(Meter::default().diode.compliance, Unit::Volt)
}

fn diode_display_max() -> String {
    print_short(Meter::default().diode.display_max, Unit::Volt)
}

fn beep_below() -> String {
    print_short(Meter::default().beep_below, Unit::Ohm)
}
