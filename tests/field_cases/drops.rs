//! Volts that are lost on the way: soft sources, junctions, switches and links.

use crate::bench::bench;

/// Published field case, told in our own words: a rail of 4.2 V falls to 3.9 V with 33 Ω added:
/// 0.3 V / 118 mA = 2.54 Ω.
#[test]
fn a_soft_source_from_two_readings() {
    let case = bench(
        r#"[parts]
        BT1 = { volts = "4.2 V", resistance = "50 mΩ", nets = ["RAIL", "GND"] }
        [setups.loaded]
        connect = [{ nets = ["RAIL", "GND"], resistance = 33 }]"#,
        r#"[powered.volts]
        RAIL = 4.20
        [loaded.volts]
        RAIL = 3.90"#,
    );
    case.assert_inside("BT1 resistive", 0.3 / (3.9 / 33.0));
    assert!(!case.reproduces("BT1 low"), "{:#?}", case.all());
}

/// Published field case, told in our own words: battery volts on the charging connector. 4.1 V
/// inside and 3.45 V outside are one silicon junction apart; the Schottky diode that was blamed has
/// half of that. The load of 1 kΩ is ours.
#[test]
fn the_missing_volts_name_the_junction() {
    let connector = |drop: &str| {
        bench(
            &format!(
                r#"[parts]
                BT1 = {{ volts = 4.1, nets = ["BAT", "GND"] }}
                D1 = {{ drop = "{drop}", nets = ["BAT", "VBUS"] }}
                R1 = {{ value = "1k", nets = ["VBUS", "GND"] }}"#
            ),
            "[powered.volts]\nVBUS = 3.45\nBAT = 4.10",
        )
    };
    let silicon = connector("0.7 V at 10 mA");
    assert!(silicon.is_healthy(), "{:#?}", silicon.all());
    let schottky = connector("0.35 V at 10 mA");
    assert!(!schottky.is_healthy(), "{:#?}", schottky.all());
}

/// Published field cases, told in our own words: 4.7 V less a silicon diode is 4.0 V, 5 V less a
/// Schottky diode of 0.55 V is 4.45 V. The loads are ours.
#[test]
fn a_series_diode_takes_its_drop() {
    for (volts, drop, ohms, out) in
        [(4.7, "0.7 V at 10 mA", "400R", 4.00), (5.0, "0.55 V at 1 A", "4R45", 4.45)]
    {
        let case = bench(
            &format!(
                r#"[parts]
                PS1 = {{ volts = {volts}, resistance = 0, nets = ["IN", "GND"] }}
                D1 = {{ drop = "{drop}", nets = ["IN", "OUT"] }}
                R1 = {{ value = "{ohms}", nets = ["OUT", "GND"] }}"#
            ),
            &format!("[powered.volts]\nOUT = {out:.2}"),
        );
        assert!(case.is_healthy());
        assert!((case.expected()[0] - out).abs() < 1e-3, "{:?}", case.expected());
    }
}

/// Published field case, told in our own words: +12 V and −12 V through silicon diodes read +10 V
/// and −11 V, and the diodes were blamed. A drop of 0.7 V explains neither, and one fault not both.
#[test]
fn two_rails_that_miss_more_than_a_drop() {
    let case = bench(
        r#"[parts]
        PS1 = { volts = 12, nets = ["P12", "GND"] }
        PS2 = { volts = -12, nets = ["N12", "GND"] }
        D1 = { drop = "0.7 V at 10 mA", nets = ["P12", "POS"] }
        D2 = { drop = "0.7 V at 10 mA", nets = ["NEG", "N12"] }
        R1 = { value = "1k", nets = ["POS", "GND"] }
        R2 = { value = "1k", nets = ["NEG", "GND"] }"#,
        r#"[powered.volts]
        POS = "10.0 ± 0.1"
        NEG = "-11.0 ± 0.1"
        P12 = "12.0 ± 0.1"
        N12 = "-12.0 ± 0.1""#,
    );
    let expected = case.expected();
    assert!((expected[0] - 11.3).abs() < 0.02 && (expected[1] + 11.3).abs() < 0.02, "{expected:?}");
    assert!(case.diagnosis.nothing_fits, "{:#?}", case.all());
}

/// Published field case, told in our own words: a divider that halves rightly, fed too low. The
/// battery has 3.9 V, the top of the divider 2.6 V, its middle half of that: the switch between
/// them takes 1.3 V. The divider of twice 4.7 kΩ and the battery's resistance are ours.
#[test]
fn a_divider_is_right_and_its_feed_is_wrong() {
    let case = bench(
        r#"[parts]
        BT1 = { volts = 3.9, resistance = "200 mΩ", nets = ["BAT", "GND"] }
        S1 = { closed = true, nets = ["BAT", "TOP"] }
        R1 = { value = "4k7", nets = ["TOP", "MID"] }
        R2 = { value = "4k7", nets = ["MID", "GND"] }"#,
        r#"[powered.volts]
        BAT = 3.90
        TOP = 2.60
        MID = 1.30"#,
    );
    // 1.3 V at 2.6 V / 9.4 kΩ; the divider is exonerated, and so is everything else.
    case.assert_inside("S1 resistive", 4.7e3);
    assert_eq!(case.found().len(), 1, "{:#?}", case.all());
}

/// The same with 100 kΩ twice, as battery dividers often have. By hand the switch then has 1.3 V /
/// 13 µA = 100 kΩ, and nothing else on the board can take the 1.3 V.
#[test]
fn a_switch_may_be_worse_than_ten_kilohms() {
    let case = bench(
        r#"[parts]
        BT1 = { volts = 3.9, resistance = "200 mΩ", nets = ["BAT", "GND"] }
        S1 = { closed = true, nets = ["BAT", "TOP"] }
        R1 = { value = "100k", nets = ["TOP", "MID"] }
        R2 = { value = "100k", nets = ["MID", "GND"] }"#,
        r#"[powered.volts]
        BAT = 3.90
        TOP = 2.60
        MID = 1.30"#,
    );
    // Two meters of 10 MΩ, one at a time, move the readings by half a percent.
    case.assert_inside("S1 resistive", 100e3);
}

/// Published field case, told in our own words: two links of which one should be fitted. Both: the
/// rail is shorted to ground. Neither: the rail is dead. The limit and the load are ours.
#[test]
fn alternative_links_both_fitted_and_none() {
    const BOARD: &str = r#"[parts]
        PS1 = { volts = 3.3, limit = "1 A", nets = ["3V3", "GND"] }
        W1 = { nets = ["3V3", "RAIL"] }
        W2 = { fitted = false, nets = ["RAIL", "GND"] }
        R1 = { value = "330R", nets = ["RAIL", "GND"] }"#;
    let both = bench(BOARD, "[powered.volts]\n3V3 = 0.04\nRAIL = 0.02");
    assert!(both.reproduces("W2 fitted"), "{:#?}", both.all());
    assert!(!both.reproduces("W1 open") && !both.reproduces("PS1 absent"), "{:#?}", both.all());
    let none = bench(BOARD, "[powered.volts]\n3V3 = 3.30\nRAIL = 0.00");
    assert!(none.reproduces("W1 open"), "{:#?}", none.all());
    assert!(!none.reproduces("W2 fitted") && !none.reproduces("RAIL leak"), "{:#?}", none.all());
}
