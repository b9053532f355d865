//! Files that the readers refuse: the schemas refuse them too, but for what no schema can see.

use super::{files, read, said, validator};

/// What lies in a value that is written as a text.
const IN_A_TEXT: &[&str] = &[
    "circuit/prefix_milli_for_mega",
    "circuit/setup_too_hot",
    "circuit/tolerance_below_zero",
    "circuit/tolerance_of_nothing",
    "circuit/tolerance_twice",
    "circuit/tolerance_without_percent",
    "circuit/value_in_the_wrong_unit",
    "circuit/value_negative",
    "circuit/value_too_small_for_the_arithmetic",
    "circuit/value_with_a_comma",
    "circuit/value_with_too_wide_a_tolerance",
    "readings/few_digits",
    "readings/few_digits_in_ohms",
    "circuit/values_that_say_too_much",
    "readings/values_of_a_meter",
];

/// A rule between values of one part, which is no matter of a table.
const RULES: &[&str] = &[
    "circuit/chip_without_ground",
    "circuit/enable_falls_above_its_rise",
    "circuit/enable_threshold_twice",
    "circuit/ideal_source_with_a_limit",
    "circuit/load_says_nothing",
    "circuit/load_says_two_things",
    "circuit/regulator_with_two_set_points",
    "circuit/regulator_without_ground",
    "circuit/regulator_without_reference",
    "circuit/rules_of_junctions",
    "circuit/rules_of_regulators",
    "circuit/shunt_reference_without_adjust",
];

/// What depends on the names of the circuit, on its setups or on other files.
const NAMES: &[&str] = &[
    "circuit/both_pins_on_one_net",
    "circuit/chip_clamp_to_unknown_pin",
    "circuit/ground_by_another_name",
    "circuit/ground_that_no_part_touches",
    "circuit/net_and_part_share_a_name",
    "circuit/net_differs_only_in_case",
    "circuit/no_ground",
    "circuit/part_and_net_differ_only_in_case",
    "circuit/part_differs_only_in_case",
    "circuit/setup_base_unknown",
    "circuit/setup_open_and_closed",
    "circuit/setup_opens_a_resistor",
    "circuit/setup_unknown_part",
    "circuit/shelf_in_a_circle",
    "circuit/shelf_with_a_slip",
    "circuit/type_unknown",
    "readings/after_and_good",
    "readings/amps_at_a_net",
    "readings/beep_on_a_bench_supply",
    "readings/diode_at_a_bare_net",
    "readings/diode_under_power",
    "readings/ground_alone",
    "readings/net_unknown",
    "readings/ohms_under_power",
    "readings/pair_with_an_unclear_part",
    "readings/pair_with_unknown_ends",
    "readings/part_with_many_pins",
    "readings/pin_unknown",
    "readings/setup_unknown",
];

#[test]
fn what_a_schema_can_see_is_refused() {
    let mut unseen = Vec::new();
    for (folder, schema) in
        [("tests/files/rejects/circuit", "circuit"), ("tests/files/rejects/readings", "readings")]
    {
        let validator = validator(schema);
        for path in files(folder) {
            let name = path.file_stem().and_then(|name| name.to_str()).expect("a plain name");
            let is_toml = path.extension().is_some_and(|end| end == "toml");
            let Some(file) = read(&path).filter(|_| is_toml) else { continue };
            if said(&validator, &file).is_empty() {
                unseen.push(format!("{schema}/{name}"));
            }
        }
    }
    let mut listed = [IN_A_TEXT, RULES, NAMES].concat();
    listed.sort_unstable();
    assert_eq!(unseen, listed, "the schema is to say what it can; the rest stands in these lists");
}
