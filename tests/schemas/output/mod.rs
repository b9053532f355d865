//! The published schemas of the JSON output, held against the output of every command and the output
//! against them: what is printed is in the schema, and what is in the schema is printed.

mod runs;
mod strict;
mod walk;

use std::collections::BTreeSet;

use jsonschema::Validator;
use ohmhound::report::OUTPUTS;
use rayon::iter::{IntoParallelIterator, ParallelIterator};
use serde_json::Value;

use crate::program;

/// A schema by its name.
fn schema(name: &str) -> Value {
    let found = OUTPUTS.iter().find(|schema| schema.name == name);
    let found = found.unwrap_or_else(|| panic!("no schema `{name}`"));
    serde_json::from_str(found.text).expect("a schema is JSON")
}

fn validator(schema: &Value) -> Validator {
    jsonschema::draft202012::options().build(schema).expect("a schema is a schema")
}

/// Says where an output departs from its schema.
#[track_caller]
fn check(validator: &Validator, output: &Value, what: &str) {
    let said: Vec<String> = validator
        .iter_errors(output)
        .take(5)
        .map(|error| format!("{}: {error}", error.instance_path()))
        .collect();
    assert!(said.is_empty(), "{what}\n{}", said.join("\n"));
}

#[test]
fn schemas_are_schemas() {
    let mut names = BTreeSet::new();
    for one in OUTPUTS {
        let value = schema(one.name);
        assert!(jsonschema::draft202012::meta::is_valid(&value), "{}", one.name);
        assert_eq!(
            value["$id"],
            format!("urn:ohmhound:output:{}:{}", one.name, ohmhound::report::VERSION)
        );
        assert!(names.insert(one.name), "`{}` is there twice", one.name);
    }
    let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("src/report/schema");
    for entry in std::fs::read_dir(folder).expect("the folder of the schemas") {
        let name = entry.expect("a file").file_name();
        let name = name.to_str().expect("a plain name").trim_end_matches(".json").to_owned();
        assert!(names.contains(name.as_str()), "`{name}` is published nowhere");
    }
}

/// Every run of `runs` validates; every key of every schema comes up in one of them; and whatever is
/// taken away from an output, or put into it, is refused.
#[test]
fn output_and_schemas_agree() {
    let mut seen = walk::Seen::default();
    let mut runs = runs::demos();
    runs.extend(runs::others());
    let runs: Vec<_> = runs.into_par_iter().map(|run| (run.output(), run)).collect();
    let runs: Vec<_> = runs.iter().map(|(output, run)| (run, output)).collect();
    for name in OUTPUTS.iter().map(|schema| schema.name) {
        let schema = schema(name);
        let validator = validator(&schema);
        let own: Vec<_> = runs.iter().filter(|(run, _)| run.schema == name).collect();
        assert!(!own.is_empty(), "no run prints `{name}`");
        for (run, output) in own {
            let what = format!("{name}: {:?}", run.args);
            check(&validator, output, &what);
            let walk = walk::Walk::new(&schema);
            walk.follow(output, name, &mut seen);
            walk.refuses_changes(&validator, output, &what);
        }
    }
    let unseen: Vec<String> = OUTPUTS
        .iter()
        .flat_map(|one| walk::keys(&schema(one.name), one.name))
        .filter(|key| !seen.keys.contains(key))
        .collect();
    assert_eq!(unseen, Vec::<String>::new(), "keys that no run prints");
    // A list of words counts once, wherever it stands.
    let words: BTreeSet<String> =
        OUTPUTS.iter().flat_map(|one| walk::words(&schema(one.name))).collect();
    let is = |word: &str, rare: &str| word.starts_with(&format!("\"{rare}\" of "));
    let is_rare = |word: &str| runs::RARE.iter().any(|(rare, _)| is(word, rare));
    let unsaid: Vec<_> =
        words.iter().filter(|word| !seen.words.contains(*word) && !is_rare(word)).collect();
    assert_eq!(unsaid, Vec::<&String>::new(), "words that no run prints");
    for (rare, _) in runs::RARE {
        assert!(words.iter().any(|word| is(word, rare)), "`{rare}` is no word");
    }
}

/// All demo boards with all their readings: by hand, as it takes minutes.
#[test]
#[ignore = "takes minutes; what the other test leaves out"]
fn every_board_in_every_way() {
    runs::slow().into_par_iter().for_each(|run| {
        let output = run.output();
        check(&validator(&schema(run.schema)), &output, &format!("{}: {:?}", run.schema, run.args));
    });
}

#[test]
fn the_program_prints_every_schema() {
    let run = |args: &[&str]| program::run_in(&program::circuits(), args, "");
    let list = run(&["schema"]);
    assert_eq!((list.status, list.err.as_str()), (0, ""));
    let names: Vec<&str> = list.out.lines().filter_map(|line| line.split(' ').next()).collect();
    let inputs = ohmhound::file::SCHEMAS.iter().map(|schema| schema.name);
    let all: Vec<&str> = inputs.chain(OUTPUTS.iter().map(|schema| schema.name)).collect();
    assert_eq!(names, all);
    for name in names {
        let printed = run(&["schema", name]);
        assert_eq!((printed.status, printed.err.as_str()), (0, ""), "{name}");
        let value: Value = serde_json::from_str(&printed.out).expect("a schema is JSON");
        assert!(jsonschema::draft202012::meta::is_valid(&value), "{name}");
    }
    let slip = run(&["schema", "diagnos"]);
    assert_eq!((slip.status, slip.out.as_str()), (2, ""));
    assert!(slip.err.contains("did you mean `diagnose`?"), "{}", slip.err);
}
