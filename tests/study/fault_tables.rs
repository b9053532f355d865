//! Fault tables: against `solve --fault`, against hand arithmetic of networks in the field cases, and
//! the blank form that gives nothing away.

use crate::bench;
use std::process::{Command, Stdio};

use ohmhound::circuit::{Circuit, Meter, Observed, POWERED, Place, Quantity, Reading, Spot};
use ohmhound::diagnosis::{MARKED, diagnose};
use ohmhound::engine::Assembly;
use ohmhound::report::{
    FaultTableView, Style, fault_table_csv, fault_table_html, fault_table_json,
    fault_table_markdown, fault_table_text,
};
use ohmhound::study::{Arrow, FaultTable, HealthyCell, Row, fault_table};

fn at(circuit: &Circuit, net: &str) -> Place {
    Place::At(Spot::Net(circuit.net(net).unwrap_or_else(|| panic!("{net}"))))
}

fn table(circuit: &Circuit, places: &[Place], with_ohms: bool) -> FaultTable {
    let assembly = Assembly::new(circuit);
    fault_table(&assembly, POWERED, places, with_ohms).expect("the board runs")
}

fn row<'t>(circuit: &Circuit, table: &'t FaultTable, phrase: &str) -> &'t Row {
    let found = table.rows.iter().find(|row| row.fault.full_phrase(circuit) == phrase);
    found.unwrap_or_else(|| {
        let all: Vec<String> =
            table.rows.iter().map(|row| row.fault.full_phrase(circuit)).collect();
        panic!("{phrase} is not among {all:?}")
    })
}

/// The row that stands for this one: itself, or the one that it looks like.
fn leader(table: &FaultTable, row: &Row) -> usize {
    let own = table.rows.iter().position(|known| known == row).unwrap();
    row.same_as.unwrap_or(own)
}

// ---- Hand arithmetic.

/// Field case of classroom networks, part a: 24.7 V over 270 Ω into 560 Ω beside 1.2 kΩ; healthy
/// 37.9 mA, and 16.8 mA with the 560 Ω open. So the node stands at 24.7 V − 270 Ω · 37.9 mA = 14.5 V,
/// and at 24.7 V − 270 Ω · 16.8 mA = 20.2 V.
#[test]
fn a_resistor_into_two_beside_each_other() {
    let circuit = bench::circuit(
        r#"[parts]
        V1 = { kind = "supply", volts = "24.7 V", resistance = "1 mΩ", nets = ["IN", "GND"] }
        R1 = { value = "270R", nets = ["IN", "NODE"] }
        R2 = { value = "560R", nets = ["NODE", "GND"] }
        R3 = { value = "1k2", nets = ["NODE", "GND"] }"#,
    );
    let table = table(&circuit, &[at(&circuit, "IN"), at(&circuit, "NODE")], false);
    let healthy = table.healthy[1].value;
    assert!((healthy - (24.7 - 270.0 * 37.9e-3)).abs() < 0.03, "{healthy}");
    let rows: [(&str, f64, Arrow); 6] = [
        ("R2 open", 24.7 - 270.0 * 16.8e-3, Arrow::Higher),
        // 24.7 V · 560/830.
        ("R3 open", 24.7 * 560.0 / 830.0, Arrow::Higher),
        ("R1 open", 0.0, Arrow::Lower),
        ("R1 shorted", 24.7, Arrow::Higher),
        ("R2 shorted", 0.0, Arrow::Lower),
        // Twice 270 Ω into 381.8 Ω: 24.7 V · 381.8/921.8.
        ("R1 drifted 540 Ω", 24.7 * 381.8 / 921.8, Arrow::Lower),
    ];
    for (phrase, volts, arrow) in rows {
        let cell = row(&circuit, &table, phrase).cells[1];
        assert!((cell.low - volts).abs() < 0.02, "{phrase}: {}", cell.low);
        assert_eq!(cell.arrow, arrow, "{phrase}");
        assert_eq!(cell.low, cell.high);
    }
    // Both shorts, and an open R1, bring the node to nothing; at IN they look alike as well.
    let [short, other, open] =
        ["R2 shorted", "R3 shorted", "R1 open"].map(|phrase| row(&circuit, &table, phrase));
    assert_eq!(leader(&table, short), leader(&table, other));
    assert_eq!(leader(&table, short), leader(&table, open));
}

/// Field case of a bridge with one bad arm: four arms of 1 kΩ at 20 V. Left to right it shows +10 V for
/// R1 shorted, R2 open, R3 open, R4 shorted, and −10 V for the other four.
#[test]
fn a_bridge_with_one_bad_arm() {
    let circuit = bench::circuit(
        r#"[parts]
        V1 = { kind = "supply", volts = "20 V", resistance = "1 mΩ", nets = ["TOP", "GND"] }
        R1 = { value = "1k", tolerance = "1 %", nets = ["TOP", "LEFT"] }
        R2 = { value = "1k", tolerance = "1 %", nets = ["LEFT", "GND"] }
        R3 = { value = "1k", tolerance = "1 %", nets = ["TOP", "RIGHT"] }
        R4 = { value = "1k", tolerance = "1 %", nets = ["RIGHT", "GND"] }"#,
    );
    let [left, right] = ["LEFT", "RIGHT"].map(|net| Spot::Net(circuit.net(net).unwrap()));
    let table = table(&circuit, &[Place::Between(left, right)], false);
    assert!(table.healthy[0].value.abs() < 1e-6);
    let high = ["R1 shorted", "R2 open", "R3 open", "R4 shorted"];
    let low = ["R1 open", "R2 shorted", "R3 shorted", "R4 open"];
    for (phrases, volts, arrow) in [(high, 10.0, Arrow::Higher), (low, -10.0, Arrow::Lower)] {
        let mut leaders = Vec::new();
        for phrase in phrases {
            let row = row(&circuit, &table, phrase);
            assert!((row.cells[0].low - volts).abs() < 0.01, "{phrase}: {:?}", row.cells);
            assert_eq!(row.cells[0].arrow, arrow, "{phrase}");
            leaders.push(leader(&table, row));
        }
        leaders.dedup();
        assert_eq!(leaders.len(), 1, "they look the same: {leaders:?}");
    }
}

/// Fault table of a base-biased transistor (as in A. P. Malvino, "Electronic Principles", from memory):
/// base and collector for each trouble of resistors and supplies.
#[test]
fn a_base_biased_transistor() {
    let circuit = bench::circuit(
        r#"[parts]
        VBB = { kind = "supply", volts = 15, nets = ["P1", "GND"], resistance = "1 mΩ" }
        RB = { kind = "resistor", value = "470k", nets = ["P1", "B"] }
        VCC = { kind = "supply", volts = 15, nets = ["P2", "GND"], resistance = "1 mΩ" }
        RC = { kind = "resistor", value = "1k", nets = ["P2", "C"] }
        Q1 = { kind = "npn", gain = "100 ± 2 %", drop = "0.7 V ± 2 %", approximation = "constant drop", pins = { collector = "C", base = "B", emitter = "GND" } }"#,
    );
    let table = table(&circuit, &[at(&circuit, "B"), at(&circuit, "C")], false);
    // 15 V − 1 kΩ · 100 · (15 V − 0.7 V)/470 kΩ.
    assert!((table.healthy[1].value - 11.96).abs() < 0.02);
    use Arrow::{Higher, Lower, Same};
    for (phrase, arrows, collector) in [
        ("RB open", [Lower, Higher], 15.0),
        ("VBB absent", [Lower, Higher], 15.0),
        ("RC shorted", [Same, Higher], 15.0),
        ("Q1.base shorted to emitter", [Lower, Higher], 15.0),
        ("Q1.collector open", [Same, Higher], 15.0),
    ] {
        let row = row(&circuit, &table, phrase);
        assert_eq!(row.cells.iter().map(|cell| cell.arrow).collect::<Vec<_>>(), arrows, "{phrase}");
        assert!((row.cells[1].low - collector).abs() < 0.02, "{phrase}: {:?}", row.cells);
    }
    let same = |one: &str, other: &str| {
        leader(&table, row(&circuit, &table, one)) == leader(&table, row(&circuit, &table, other))
    };
    assert!(same("RC shorted", "Q1.collector open"));
    assert!(!same("RB open", "RC shorted"));
}

/// A net behind an open part floats, and its value is the meter's: 10 MΩ to ground. A bridge from a
/// relay's coil to its own contact makes it chatter.
#[test]
fn floating_and_switching() {
    let circuit = bench::circuit(
        r#"[parts]
        V1 = { kind = "supply", volts = "9 V", nets = ["IN", "GND"] }
        R1 = { value = "1k", nets = ["IN", "OUT"] }
        C1 = { value = "1 µF", nets = ["OUT", "GND"] }"#,
    );
    let table_of = table(&circuit, &[at(&circuit, "OUT")], true);
    let open = row(&circuit, &table_of, "R1 open");
    assert_eq!(open.cells[0].arrow, Arrow::Floating);
    // Ohms: OL, above the healthy kilohm through a supply that is off.
    assert_eq!(table_of.columns[1].quantity, Quantity::Ohms);
    assert!(open.cells[1].low.is_infinite() || open.cells[1].arrow == Arrow::Same);
    let relay = bench::demo("relay-driver");
    let table = table(&relay, &[at(&relay, "PUMP"), at(&relay, "COIL")], false);
    let chatters = table.rows.iter().filter(|row| row.cells[0].arrow == Arrow::Switching);
    let names: Vec<String> = chatters.map(|row| row.fault.full_phrase(&relay)).collect();
    assert!(names.iter().any(|name| name.contains("COIL") && name.contains("PUMP")), "{names:?}");
    let cell =
        table.rows.iter().find(|row| row.cells[0].arrow == Arrow::Switching).unwrap().cells[0];
    assert!(cell.low < cell.high);
}

// ---- Against the other commands.

/// An arrow stands where a diagnosis marks the reading, for every row and column.
#[test]
fn arrows_stand_where_a_diagnosis_marks_the_reading() {
    for name in ["soil-probe", "gate-supply", "pump-lamp"] {
        let circuit = bench::demo(name);
        let assembly = Assembly::new(&circuit);
        let table = table(&circuit, &[], true);
        let mut n_marked = 0;
        for row in table.rows.iter().step_by(3) {
            for (probe, cell) in table.columns.iter().zip(&row.cells) {
                let observed = match cell.low.is_finite() {
                    true => Observed::Number {
                        value: cell.low,
                        count: Meter::count(probe.quantity, cell.low),
                        half_width: None,
                    },
                    false => Observed::Over,
                };
                let reading = Reading {
                    setup: probe.setup,
                    quantity: probe.quantity,
                    place: probe.place,
                    place_text: String::new(),
                    observed,
                    meter: Meter::default(),
                };
                let off = diagnose(&assembly, &[reading], &[]).readings[0].off;
                // A hair's breadth at the edge is not looked at.
                if (off.abs() - MARKED).abs() < 0.05 {
                    continue;
                }
                let marked = match cell.arrow {
                    Arrow::Same => 0.0,
                    Arrow::Higher => 1.0,
                    Arrow::Lower => -1.0,
                    Arrow::Floating | Arrow::Switching | Arrow::NoPoint => continue,
                };
                let told = row.fault.full_phrase(&circuit);
                let sign = if off.abs() > MARKED { off.signum() } else { 0.0 };
                assert_eq!(sign, marked, "{name}: {told} at {probe:?}: {off} {cell:?}");
                n_marked += usize::from(marked != 0.0);
            }
        }
        assert!(n_marked > 20, "{name}: {n_marked}");
    }
}

fn run(args: &[&str]) -> (i32, String, String) {
    let output = Command::new(env!("CARGO_BIN_EXE_ohmhound"))
        .args(args)
        .current_dir(bench::folder())
        .stdin(Stdio::null())
        .output()
        .expect("the program runs");
    let text = |bytes: &[u8]| String::from_utf8_lossy(bytes).into_owned();
    (output.status.code().unwrap(), text(&output.stdout), text(&output.stderr))
}

/// Every cell is what `solve --fault` finds, the meter's 10 MΩ apart.
#[test]
fn cells_are_what_solving_with_the_fault_finds() {
    let (status, table, _) = run(&["fault-table", "soil-probe.toml", "--format", "json"]);
    assert_eq!(status, 0);
    let table: serde_json::Value = serde_json::from_str(&table).unwrap();
    let rows = table["rows"].as_array().unwrap();
    let columns = table["columns"].as_array().unwrap();
    for row in rows.iter().step_by(7) {
        let fault = row["fault"].as_str().unwrap();
        let (status, solved, why) =
            run(&["solve", "soil-probe.toml", "--fault", fault, "--format", "json"]);
        assert_eq!(status, 0, "{fault}: {why}");
        let solved: serde_json::Value = serde_json::from_str(&solved).unwrap();
        for (column, cell) in columns.iter().zip(row["cells"].as_array().unwrap()) {
            let net = column["place"].as_str().unwrap();
            let volts = solved["nets"][net]["volts"].as_f64().unwrap_or_else(|| panic!("{solved}"));
            let shown = cell["value"].as_f64().unwrap();
            // 10 MΩ beside no more than 47 kΩ, what A3 is: half a percent.
            assert!(
                (shown - volts).abs() <= 5e-3 * volts.abs() + 1e-9,
                "{fault} {net}: {shown} {volts}"
            );
        }
    }
}

// ---- The blank form.

/// With every answer changed a blank table is the same, byte for byte, in every form; and it lists
/// every fault.
#[test]
fn a_blank_table_gives_nothing_away() {
    let circuit = bench::demo("pump-lamp");
    let whole = table(&circuit, &[], true);
    let mut other = whole.clone();
    for (at, row) in other.rows.iter_mut().enumerate() {
        row.same_as = None;
        for cell in &mut row.cells {
            (cell.low, cell.high) = (17.17 + at as f64, 17.17 + at as f64);
            cell.arrow = Arrow::Floating;
        }
    }
    other.healthy = vec![HealthyCell { value: 13.13, u: 1.0, floats: true }; whole.healthy.len()];
    let view = |table, blank| FaultTableView { circuit: &circuit, table, blank };
    type Form = fn(&FaultTableView<'_>) -> String;
    let forms: [Form; 5] = [
        |view| fault_table_text(view, Style::Plain, 80),
        fault_table_markdown,
        fault_table_csv,
        fault_table_html,
        |view| fault_table_json(view).to_string(),
    ];
    for form in forms {
        let blank = form(&view(&whole, true));
        assert_eq!(blank, form(&view(&other, true)));
        assert_ne!(form(&view(&whole, false)), form(&view(&other, false)));
        for row in &whole.rows {
            let fault = row.fault.full_phrase(&circuit);
            assert!(
                blank.contains(&fault) || blank.contains(&fault.replace('_', "\\_")),
                "{fault}"
            );
        }
    }
}

/// Lines fit the width, whatever the number of columns.
#[test]
fn wide_tables_are_folded() {
    let circuit = bench::demo("standby-supply");
    let places: Vec<Place> =
        circuit.nets_by_id().skip(1).map(|(net, _)| Place::At(Spot::Net(net))).collect();
    let whole = table(&circuit, &places, true);
    for blank in [true, false] {
        let view = FaultTableView { circuit: &circuit, table: &whole, blank };
        for width in [80, 120] {
            let text = fault_table_text(&view, Style::Plain, width);
            let widest = text.lines().map(|line| line.chars().count()).max().unwrap();
            assert!(widest <= width, "{widest} columns: {text}");
            for (_, name) in circuit.nets_by_id().skip(1) {
                assert!(text.contains(name), "{name}");
            }
        }
    }
}

/// Rows said to look the same are no further apart than the criterion at any column, with what the
/// boards share left out of it: here the values themselves are as good as equal.
#[test]
fn rows_that_look_the_same_show_the_same() {
    let circuit = bench::demo("soil-probe");
    let table = table(&circuit, &[], false);
    let mut n_alike = 0;
    for row in &table.rows {
        let Some(leader) = row.same_as else { continue };
        let leader = &table.rows[leader];
        assert!(leader.same_as.is_none(), "the first of them leads");
        n_alike += 1;
        for (own, first) in row.cells.iter().zip(&leader.cells) {
            assert_eq!(own.arrow, first.arrow);
            if own.arrow != Arrow::Same {
                // Three standard uncertainties of a meter of 0.5 %, and its counts.
                let room = 3.0 * (0.005 * first.low.abs() + 2e-3) / 3.0_f64.sqrt() + 0.02;
                assert!((own.low - first.low).abs() < room, "{own:?} {first:?}");
            }
        }
    }
    assert!(n_alike > 10, "{n_alike}");
}

#[test]
fn the_command_line_says_what_is_wrong() {
    let (status, _, why) = run(&["fault-table", "soil-probe.toml", "--at", "TAP_6"]);
    assert!(status == 2 && why.contains("did you mean `TAP_"), "{why}");
    let (status, _, why) = run(&["fault-table", "soil-probe.toml", "--at", "GND"]);
    assert!(status == 2 && why.contains("both leads would be on one net"), "{why}");
    let (status, _, why) = run(&["fault-table", "soil-probe.toml", "--setup", "pwered"]);
    assert!(status == 2 && why.contains("did you mean `powered`?"), "{why}");
    let (status, csv, _) =
        run(&["fault-table", "leaf-bridge.toml", "--at", "LEFT to RIGHT", "--format", "csv"]);
    assert_eq!(status, 0);
    let mut lines = csv.lines();
    assert_eq!(
        lines.next(),
        Some("number,fault,same as,LEFT to RIGHT in volts,LEFT to RIGHT arrow")
    );
    assert!(lines.next().unwrap().starts_with("0,healthy,,"), "{csv}");
    assert!(csv.contains("R1 open") && csv.contains(",lower"), "{csv}");
    let (status, text, _) = run(&["fault-table", "leaf-bridge.toml", "--setup", "unpowered"]);
    assert!(status == 0 && text.contains("Ω"), "{text}");
}
