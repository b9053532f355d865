//! Runs of the program that print JSON.

use serde_json::Value;

use crate::program::{Run as Ended, circuits, run_in};

/// One run, in the folder of the demo circuits.
pub struct Run {
    /// The schema of what it prints.
    pub schema: &'static str,
    pub args: Vec<String>,
    /// Lines that it reads.
    pub input: &'static str,
}

impl Run {
    /// What it prints.
    #[track_caller]
    pub fn output(&self) -> Value {
        let args: Vec<&str> = self.args.iter().map(String::as_str).collect();
        let args = [&args[..], &["--format", "json"]].concat();
        let Ended { status, out, err } = run_in(&circuits(), &args, self.input);
        let expected = if self.schema == "cycle" { 3..=3 } else { 0..=2 };
        assert!(expected.contains(&status), "{args:?}: {status}\n{err}");
        serde_json::from_str(&out).unwrap_or_else(|error| panic!("{args:?}: {error}\n{out}{err}"))
    }
}

fn run(schema: &'static str, args: &str) -> Run {
    // A word in bars holds spaces.
    let args = args.split('|').enumerate().flat_map(|(at, piece)| match at % 2 {
        0 => piece.split_whitespace().map(str::to_owned).collect(),
        _ => vec![piece.to_owned()],
    });
    Run { schema, args: args.collect(), input: "" }
}

/// Demo boards, small ones first.
const BOARDS: &[&str] = &[
    "cold-store",
    "fence-loop",
    "gate-supply",
    "leaf-bridge",
    "load-switch",
    "packing-shed",
    "pump-controller",
    "pump-lamp",
    "relay-driver",
    "sensor-battery",
    "soil-amplifier",
    "soil-probe",
    "standby-supply",
    "lessons/diode-models",
    "lessons/leaf-bridge",
    "lessons/level-loop",
    "lessons/low-battery",
    "lessons/meter-divider",
    "lessons/valve-switch",
    "lessons/zener-rail",
];

/// Demo readings.
const READINGS: &[&str] = &[
    "cold-store",
    "fence-loop",
    "gate-supply",
    "leaf-bridge",
    "load-switch",
    "load-switch.fuse",
    "packing-shed",
    "pump-controller",
    "pump-controller.motor",
    "pump-lamp",
    "relay-driver",
    "relay-driver.contact",
    "sensor-battery",
    "soil-amplifier",
    "soil-amplifier.frost",
    "soil-probe",
    "standby-supply",
    "standby-supply.feedback",
    "standby-supply.short",
];

/// A game with every kind of answer.
const GAME: &str = "\
predict TAP_5 4.6 mV
predict TAP_9 8.80
predict TAP_2 -2.28
predict V12 1.20000
tap_9
ohms R2
hint
hint
hint
guess R2
guess R2 open
C1 0.3
guess TAP_5 leak
amps C1
guess A2 shorted
guess C1 shorted
";

/// What is done with every demo board and its readings.
pub fn demos() -> Vec<Run> {
    let mut runs = Vec::new();
    for board in BOARDS {
        for (schema, args) in [
            ("check", "check BOARD"),
            ("solve", "solve BOARD --all-states"),
            ("expect", "solve BOARD --expect"),
            ("bands", "solve BOARD --bands"),
            ("lesson", "lesson BOARD"),
            ("fault-table", "fault-table BOARD --blank"),
        ] {
            // Forty parts with chips: its table alone would take as long as everything else.
            if schema != "fault-table" || *board != "cold-store" {
                runs.push(run(schema, &args.replace("BOARD", &format!("{board}.toml"))));
            }
        }
    }
    for readings in READINGS {
        runs.push(run("diagnose", &format!("diagnose {readings}.readings.toml")));
    }
    runs
}

/// What besides brings up the rest.
pub fn others() -> Vec<Run> {
    let rows: &[(&str, &str)] = &[
        ("check", "check ../tests/files/rejects/circuit/value_with_a_comma.toml"),
        ("check", "check ../tests/files/rejects/circuit/name_with_a_space.toml"),
        ("check", "check gate-supply.readings.toml"),
        ("check", "check BOARDS/against.toml"),
        ("check", "check BOARDS/back-fed.toml"),
        ("solve", "solve BOARDS/back-fed.toml"),
        ("solve", "solve gate-supply.toml --fault |R1 open|"),
        ("solve", "solve standby-supply.toml --fault |F1 open|"),
        ("solve", "solve sensor-battery.toml --fault |D2 open| --setup night"),
        ("solve", "solve BOARDS/drip-flip.toml --all-states"),
        ("solve", "solve soil-amplifier.toml --fault |J1 absent|"),
        ("cycle", "solve BOARDS/pulled-enable.toml"),
        ("bands", "solve gate-supply.toml --bands --draws 20 --watch |VIN to EN|"),
        ("bands", "solve standby-supply.toml --bands --draws 5"),
        ("diagnose", "diagnose ../tests/pages/jobs/nothing-fits.readings.toml"),
        ("diagnose", "next gate-supply.readings.toml --most 20"),
        ("diagnose", "diagnose pump-lamp.toml --ohms V5Z=OL"),
        (
            "diagnose",
            "diagnose gate-supply.toml --volts VIN=23.9 --volts VIN_C=14.6 --volts EN=2560",
        ),
        (
            "diagnose",
            "diagnose gate-supply.toml --volts VIN=23.90 --volts VIN=22.90 --volts EN=4.20 \
                      --volts |VIN to EN=12.00|",
        ),
        (
            "diagnose",
            "diagnose BOARDS/threshold.toml --volts IN=12.00 --volts EN=1.260 --volts OUT=0.000",
        ),
        ("diagnose", "diagnose BOARDS/against.toml --volts LAMP=3.00"),
        (
            "diagnose",
            "diagnose BOARDS/back-fed.toml --volts EN=0.02 --volts OUT=0.001 --amps R1=0.0003",
        ),
        ("diagnose", "diagnose BOARDS/drip-flip.toml --volts C1=4.600 --volts C2=0.070"),
        ("diagnose", "diagnose standby-supply.toml --volts 5V_SB=0.002"),
        ("tree", "next gate-supply.toml --tree 2 --volts EN=0.001"),
        ("tree", "next standby-supply.readings.toml --tree 1"),
        ("tree", "next gate-supply.readings.toml --tree 2"),
        ("substitute", "substitute standby-supply.toml R3=51k |D1=1.8 V|"),
        ("substitute", "substitute standby-supply.toml R3=22k"),
        ("substitute", "substitute gate-supply.toml R1=100k"),
        ("substitute", "substitute BOARDS/threshold.toml R2=100k"),
        ("choices", "substitute standby-supply.toml R3 R4 --series E24 --target 5V_SB=5"),
        ("choices", "substitute standby-supply.toml R3 --series E6 --target 5V_SB=4.7"),
        ("marking", "marking 104K 000 4K7 01C 103 1002 1R0 154 124 114 1053 1023"),
        ("curve", "curve standby-supply.toml J1 0..30 --points 31"),
        ("curve", "curve gate-supply.toml R1 1k..1M --points 21"),
        ("curve", "curve gate-supply.toml |EN leak| 1..1M --points 21"),
        ("curve", "curve gate-supply.toml temperature 0..50 --points 5"),
        ("curve", "curve gate-supply.toml J1.limit 1..3 --points 5"),
        ("curve", "curve leaf-bridge.toml RV1.position 0.2..0.8 --points 5"),
        ("curve", "curve BOARDS/pulled-enable.toml J1 0..12 --points 25 --watch OUT"),
        ("lesson", "lesson gate-supply.toml --meter EN=10M"),
        ("lesson", "lesson lessons/valve-switch.toml --fault |J1 absent|"),
        ("lesson", "lesson BOARDS/drip-flip.toml"),
        ("fault-table", "fault-table gate-supply.toml --ohms"),
        ("fault-table", "fault-table soil-amplifier.toml"),
        ("fault-table", "fault-table BOARDS/shorted-switch.toml --at COIL"),
        ("fault-table", "fault-table lessons/valve-switch.toml"),
        ("quiz", "quiz gate-supply.toml --seed 5"),
    ];
    let boards = |args: &str| args.replace("BOARDS", "../tests/schemas/output/boards");
    let mut runs: Vec<Run> = rows.iter().map(|(schema, args)| run(schema, &boards(args))).collect();
    runs.push(Run { input: GAME, ..run("quiz", "quiz soil-probe.toml --seed 3") });
    runs
}

/// The demo readings in the ways that take longest.
pub fn slow() -> Vec<Run> {
    let mut runs = Vec::new();
    for readings in READINGS {
        for (schema, args) in [
            ("diagnose", "diagnose READINGS --pairs"),
            ("diagnose", "next READINGS --most 50"),
            ("tree", "next READINGS --tree 4"),
        ] {
            runs.push(run(schema, &args.replace("READINGS", &format!("{readings}.readings.toml"))));
        }
    }
    for board in BOARDS {
        runs.push(run("fault-table", &format!("fault-table {board}.toml --ohms")));
        runs.push(run("bands", &format!("solve {board}.toml --bands --draws 50")));
    }
    runs
}

/// Words that no run prints, each with the reason.
pub const RARE: &[(&str, &str)] = &[
    ("conductance stepping", "Newton's method settles every board of these by itself"),
    ("source stepping", "the same"),
    ("pseudo-transient", "the same"),
    ("W", "a unit that no demo board sweeps"),
    ("K", "a unit that no demo board sweeps"),
    ("F", "the same: capacitors carry no direct current"),
    ("H", "the same"),
    ("S", "the same"),
    ("beep", "never proposed where ohms tell more"),
    ("inseparable", "a guess that hits an equal fault"),
    ("not told apart", "a guess at what the readings so far allow too"),
    ("possible", "a guess without a reading"),
    ("no operating point", "a guess at a fault that leaves none"),
    ("off", "a prediction far off"),
    ("over range", "a prediction of OL"),
    ("too few", "a prediction of one digit"),
];
