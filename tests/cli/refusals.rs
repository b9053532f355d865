//! What the program refuses to do, and in which words: the arguments that bring it about, the status,
//! and the message, one row for each. Nothing of a refused input goes to stdout.

use crate::program::{circuits, folder, run_in};

const DIVIDER: &str = "ground = \"GND\"\n[parts]\n\
    J1 = { kind = \"supply\", nets = [\"IN\", \"GND\"], volts = \"12 V\" }\n\
    R1 = { value = \"10k\", nets = [\"IN\", \"OUT\"] }\n\
    R2 = { value = \"10k\", nets = [\"OUT\", \"GND\"] }\n";

/// A relay that cuts its own coil off.
const CHATTERS: &str = "ground = \"GND\"\n[parts]\n\
    J1 = { kind = \"supply\", nets = [\"IN\", \"GND\"], volts = \"12 V\" }\n\
    K1 = { kind = \"relay\", coil = \"400R\", pull_in = \"8 V\", drop_out = \"2 V\", \
    pins = { coil_plus = \"COIL\", coil_minus = \"GND\", common = \"IN\", normally_closed = \"COIL\", \
    normally_open = \"NO\" } }\n\
    R1 = { value = \"10k\", nets = [\"NO\", \"GND\"] }\n";

/// Two ideal sources against each other.
const FIGHTS: &str = "ground = \"GND\"\n[parts]\n\
    J1 = { kind = \"supply\", nets = [\"IN\", \"GND\"], volts = \"12 V\", resistance = 0 }\n\
    J2 = { kind = \"supply\", nets = [\"IN\", \"GND\"], volts = \"5 V\", resistance = 0 }\n\
    R1 = { value = \"10k\", nets = [\"IN\", \"GND\"] }\n";

const LED: &str = "ground = \"GND\"\n[parts]\n\
    J1 = { kind = \"supply\", nets = [\"IN\", \"GND\"], volts = \"5 V\" }\n\
    R1 = { value = \"1k\", nets = [\"IN\", \"A\"] }\n\
    D1 = { kind = \"led\", nets = [\"A\", \"GND\"], drop = \"2 V at 10 mA\" }\n\
    U1 = { kind = \"gate\", function = \"not\", \
    pins = { a = \"A\", y = \"Y\", supply = \"IN\", ground = \"GND\" } }\n\
    R2 = { value = \"1k\", nets = [\"Y\", \"GND\"] }\n";

const HIGH: &str = "ground = \"GND\"\n[parts]\n\
    J1 = { kind = \"supply\", nets = [\"IN\", \"GND\"], volts = \"90 V\" }\n\
    R1 = { value = \"10k\", nets = [\"IN\", \"GND\"] }\n";

/// Arguments, status, and what the message says.
const REFUSED: &[(&[&str], i32, &str)] = &[
    (
        &["solve", "chatters.toml"],
        3,
        "no DC operating point: parts keep switching each other on and off",
    ),
    (
        &["solve", "fights.toml"],
        3,
        "an ideal source is shorted, or ideal sources stand against each other",
    ),
    (
        &["lesson", "chatters.toml"],
        3,
        "there is no operating point to teach: parts keep switching each other on and off",
    ),
    (
        &["lesson", "fights.toml"],
        3,
        "there is no operating point to teach: an ideal source is shorted, or ideal sources stand against each other",
    ),
    (
        &["fault-table", "chatters.toml"],
        3,
        "the healthy board has no operating point in setup `powered`",
    ),
    (
        &["fault-table", "fights.toml"],
        3,
        "the healthy board has no operating point in setup `powered`",
    ),
    (
        &["fault-table", "divider.toml", "--at", "OUT to OUT"],
        2,
        "both leads would be on one net at `OUT to OUT`",
    ),
    (&["fault-table", "divider.toml", "--at", "GND"], 2, "both leads would be on one net at `GND`"),
    (
        &["curve", "fights.toml", "R1", "1k..10k"],
        3,
        "the board has no operating point anywhere over",
    ),
    (&["curve", "divider.toml", "J1.limit", "1..2"], 2, "`J1` has no `limit` that is a number"),
    (&["curve", "divider.toml", "R1", "10k"], 2, "expected a range, found `10k`"),
    (&["curve", "divider.toml", "R1", "0..10k"], 2, "`value` of `R1` cannot go over `0..10k`"),
    (
        &["curve", "divider.toml", "R1 open", "1..2"],
        2,
        "`R1 open` has no value that could go over a range",
    ),
    (
        &["curve", "divider.toml", "J1", "0..12", "--log"],
        2,
        "expected a range above zero for a logarithmic axis",
    ),
    (
        &["next", "divider.toml", "--format", "markdown"],
        2,
        "the next measurement has no form in Markdown",
    ),
    (
        &["solve", "divider.toml", "--picture", "board.png"],
        2,
        "expected the name of a picture that ends in `.svg`, found `board.png`",
    ),
    (
        &["solve", "divider.toml", "--picture", "nowhere/board.svg"],
        2,
        "cannot write the picture `nowhere/board.svg`: ",
    ),
    (
        &["quiz", "divider.toml", "--format", "html"],
        2,
        "a quiz is played as text, and marked as text or JSON",
    ),
    (
        &["quiz", "divider.toml", "--class", "2", "--format", "json"],
        2,
        "sheets come as text, Markdown or HTML",
    ),
    (&["quiz", "high.toml"], 2, "this board has more than 60 V: it is no exercise"),
    (
        &["quiz", "divider.toml", "--log", "divider.toml"],
        2,
        "expected a new file for --log, found `divider.toml`",
    ),
    (
        &["report", "divider.toml", "--volts", "OUT=6.0", "-o", "divider.toml"],
        2,
        "expected a file for the page, found `divider.toml`, which is an input of this report",
    ),
    (&["substitute", "chatters.toml", "R1=10k"], 3, "the board as drawn has no operating point: "),
    (
        &["substitute", "chatters.toml", "R1", "--series", "E24"],
        3,
        "the board as drawn has no operating point",
    ),
    (
        &["substitute", "divider.toml", "J1.limit", "--series", "E24", "--target", "OUT=5"],
        2,
        "`J1` has no `limit` that is a number",
    ),
    (
        &["substitute", "divider.toml", "R1", "J1", "--series", "E24", "--target", "OUT=5"],
        2,
        "expected two parts of one unit, found ohms and volts",
    ),
    (
        &["substitute", "divider.toml", "R1", "R1", "--series", "E24", "--target", "OUT=5"],
        2,
        "expected two different parts, found `R1` twice",
    ),
    (
        &["substitute", "divider.toml", "R1", "--series", "E24"],
        2,
        "expected a net that should have a value",
    ),
    (
        &["substitute", "divider.toml", "R1.leakage=3"],
        2,
        "resistor `R1` has no parameter `leakage`",
    ),
    (
        &["substitute", "divider.toml", "R1", "--series", "E24", "--target", "GND=5"],
        2,
        "`GND` is ground: it is at nothing",
    ),
    (
        &["bench", "divider.readings.toml", "--log", "new.toml"],
        2,
        "expected a circuit file before `--log`, found a readings file",
    ),
    (&["schema", "diagnos"], 2, "unknown schema `diagnos`"),
    (&["substitute", "led.toml", "U1=5"], 2, "`U1` has no value of its own"),
    (&["starter", "my.toml", "--pattern", "dividre"], 2, "unknown pattern `dividre`"),
    (
        &["diagnose", "divider.toml", "--volts", "OUT"],
        2,
        "expected a place and a value, found `OUT`",
    ),
    (&["diagnose", "divider.toml", "--volts", "OUTT=3"], 2, "unknown net or part `OUTT`"),
];

/// Every kind of trouble on a healthy board.
const TROUBLED: &str = "ground = \"GND\"\n[parts]\n\
    J1 = { kind = \"supply\", nets = [\"IN\", \"GND\"], volts = \"5 V\" }\n\
    U1 = { kind = \"ldo\", output_volts = \"5 V\", dropout = \"0.5 V\", \
    pins = { input = \"IN\", output = \"OUT\", ground = \"GND\" } }\n\
    R1 = { value = \"1k\", nets = [\"OUT\", \"GND\"] }\n\
    U2 = { kind = \"ldo\", output_volts = \"3.3 V\", enable_threshold = \"9 V\", \
    pins = { input = \"IN\", output = \"OUT2\", enable = \"IN\", ground = \"GND\" } }\n\
    R2 = { value = \"1k\", nets = [\"OUT2\", \"GND\"] }\n\
    U3 = { kind = \"ldo\", output_volts = \"3.3 V\", enable_threshold = \"4.8 V\", \
    pins = { input = \"IN\", output = \"OUT3\", enable = \"IN\", ground = \"GND\" } }\n\
    R3 = { value = \"1k\", nets = [\"OUT3\", \"GND\"] }\n\
    I1 = { kind = \"current-source\", amps = \"1 A\", compliance = \"3 V\", nets = [\"A\", \"GND\"] }\n\
    R4 = { value = \"1k\", nets = [\"A\", \"GND\"] }\n";

/// Findings of `check` are its result.
#[test]
fn troubles_of_a_healthy_board_are_told() {
    let place = folder("cli_refusals_check");
    std::fs::write(place.join("troubled.toml"), TROUBLED).expect("a file");
    std::fs::write(place.join("fights.toml"), FIGHTS).expect("a file");
    std::fs::write(place.join("chatters.toml"), CHATTERS).expect("a file");
    let said = |file: &str| {
        let run = run_in(&place, &["check", file], "");
        run.out.split_whitespace().collect::<Vec<_>>().join(" ")
    };
    let troubled = said("troubled.toml");
    for message in [
        "`U1` cannot hold its set point on a healthy board: it is ",
        "`U2` does not start on a healthy board: `enable` is not met, ",
        "`enable` of `U3` is met by no more than tolerances on a healthy board: ",
        "current source `I1` is at its compliance on a healthy board: it gives ",
    ] {
        assert!(troubled.contains(message), "{message}\n{troubled}");
    }
    let fights = said("fights.toml");
    assert!(fights.contains("ideal sources form a loop: "), "{fights}");
    let chatters = said("chatters.toml");
    assert!(chatters.contains("the board has no operating point: "), "{chatters}");
}

#[test]
fn refusals_say_what_is_wrong() {
    let place = folder("cli_refusals");
    let files = [
        ("divider.toml", DIVIDER),
        ("chatters.toml", CHATTERS),
        ("fights.toml", FIGHTS),
        ("high.toml", HIGH),
        ("led.toml", LED),
        ("divider.readings.toml", "circuit = \"divider.toml\"\n[powered.volts]\nOUT = 6.0\n"),
    ];
    for (name, text) in files {
        std::fs::write(place.join(name), text).expect("a file");
    }
    let mut wrong = Vec::new();
    for (args, status, message) in REFUSED {
        let run = run_in(&place, args, "");
        // Messages are wrapped.
        let said = run.err.split_whitespace().collect::<Vec<_>>().join(" ");
        // What keeps switching is told as a result.
        let told = *status == 2 && !run.out.is_empty();
        if run.status != *status || !said.contains(message) || told {
            wrong.push(format!("{args:?}: {} {said}\n{}", run.status, run.out));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    // What was read is as it was.
    for (name, text) in files {
        assert_eq!(std::fs::read_to_string(place.join(name)).expect("a file"), text);
    }
    assert!(circuits().exists());
}
