//! The licences of everything that the program is made of, and of what only tests and benches use.

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;
use std::process::Command;

use cargo_metadata::{DependencyKind, Metadata, MetadataCommand, Package, PackageId};
use spdx::{Expression, LicenseReq};

/// What may go into the program: whoever passes it on has to keep the notices, and nothing more.
const IN_THE_PROGRAM: &[&str] = &[
    "MIT",
    "MIT-0",
    "Apache-2.0",
    "BSD-2-Clause",
    "BSD-3-Clause",
    "ISC",
    "Unicode-3.0",
    "Unlicense",
    "Zlib",
];

/// What tests and benches may use besides: it reaches nobody with the program, and asks only for
/// changes to itself.
const IN_TESTS: &[&str] = &["MPL-2.0"];

fn metadata() -> Metadata {
    // The packages of other systems need not be there.
    let rustc = std::env::var("RUSTC").unwrap_or_else(|_| "rustc".to_owned());
    let said = Command::new(rustc).arg("-vV").output().expect("rustc says what it is");
    let said = String::from_utf8(said.stdout).expect("a text");
    let host = said.lines().find_map(|line| line.strip_prefix("host: ")).expect("the host");
    MetadataCommand::new()
        .manifest_path(Path::new(env!("CARGO_MANIFEST_DIR")).join("Cargo.toml"))
        .other_options(["--locked", "--offline", "--filter-platform", host].map(str::to_owned))
        .exec()
        .expect("what was built can be listed")
}

/// Everything that a package needs, itself left out; with its own tests or without.
fn needed(metadata: &Metadata, with_tests: bool) -> BTreeSet<&PackageId> {
    let resolve = metadata.resolve.as_ref().expect("a resolved list");
    let root = &metadata.root_package().expect("this package").id;
    let mut found = BTreeSet::new();
    let mut open = vec![root];
    while let Some(id) = open.pop() {
        let node = resolve.nodes.iter().find(|node| node.id == *id).expect("a node");
        for dependency in &node.deps {
            let is_wanted = dependency
                .dep_kinds
                .iter()
                .any(|one| one.kind != DependencyKind::Development || (with_tests && id == root));
            if is_wanted && found.insert(&dependency.pkg) {
                open.push(&dependency.pkg);
            }
        }
    }
    found
}

fn expression(package: &Package) -> Expression {
    let name = &package.name;
    let said = package.license.as_ref().unwrap_or_else(|| panic!("`{name}` states no licence"));
    // The older form, in which a stroke stands for "or".
    Expression::parse(&said.replace('/', " OR "))
        .unwrap_or_else(|error| panic!("`{name}`: `{said}`: {error}"))
}

fn allows(list: &[&str], wanted: &LicenseReq) -> bool {
    let id = wanted.license.id().map(|id| id.name);
    id.is_some_and(|id| list.contains(&id))
}

#[test]
fn every_licence_is_on_the_list() {
    let metadata = metadata();
    let program = needed(&metadata, false);
    let mut refused = Vec::new();
    for id in needed(&metadata, true) {
        let package = &metadata[id];
        let more = if program.contains(id) { &[][..] } else { IN_TESTS };
        let list = [IN_THE_PROGRAM, more].concat();
        if !expression(package).evaluate(|wanted| allows(&list, wanted)) {
            refused.push(format!("{} {:?}", package.name, package.license));
        }
    }
    assert_eq!(refused, Vec::<String>::new(), "licences that are not on the list");
    let own = metadata.root_package().expect("this package");
    assert_eq!(own.license.as_deref(), Some("MIT OR Apache-2.0"));
}

/// The list refuses what it should: a test that lets everything through would say nothing.
#[test]
fn the_list_refuses() {
    let refused = |text: &str| {
        let expression = Expression::parse(text).expect(text);
        !expression.evaluate(|wanted| allows(IN_THE_PROGRAM, wanted))
    };
    for text in
        ["GPL-3.0-only", "AGPL-3.0-or-later", "MPL-2.0", "MIT AND GPL-2.0-only", "CC-BY-NC-4.0"]
    {
        assert!(refused(text), "{text}");
    }
    for text in ["GPL-2.0-only OR MIT", "(MIT OR Apache-2.0) AND Unicode-3.0", "Zlib"] {
        assert!(!refused(text), "{text}");
    }
}

/// One line per licence, with the names under it.
fn table(metadata: &Metadata, ids: &BTreeSet<&PackageId>) -> String {
    let mut rows: BTreeMap<String, BTreeSet<String>> = BTreeMap::new();
    for id in ids {
        let package = &metadata[id];
        let said = package.license.clone().unwrap_or_default().replace('/', " OR ");
        rows.entry(said).or_default().insert(package.name.to_string());
    }
    rows.iter()
        .map(|(licence, names)| {
            let names: Vec<&str> = names.iter().map(String::as_str).collect();
            format!("| {licence} | {} |\n", names.join(", "))
        })
        .collect()
}

/// The lists of DEVELOPERS.md are those of Cargo.lock. They are of one system: others have further
/// packages for their terminals.
#[test]
#[cfg(all(target_os = "linux", target_arch = "x86_64"))]
fn the_lists_are_printed_as_they_are() {
    let metadata = metadata();
    let program = needed(&metadata, false);
    let tests: BTreeSet<_> = needed(&metadata, true).difference(&program).copied().collect();
    let page = Path::new(env!("CARGO_MANIFEST_DIR")).join("DEVELOPERS.md");
    let page = std::fs::read_to_string(page).expect("DEVELOPERS.md");
    for (heading, ids) in
        [("In the program, and to build it", program), ("In tests and benches only", tests)]
    {
        let table = table(&metadata, &ids);
        let start =
            page.find(&format!("**{heading}**")).unwrap_or_else(|| panic!("no `{heading}`"));
        let rows: String = page[start..]
            .lines()
            .skip_while(|line| !line.starts_with("| ---"))
            .skip(1)
            .take_while(|line| line.starts_with('|'))
            .map(|line| format!("{line}\n"))
            .collect();
        assert!(rows == table, "DEVELOPERS.md, {heading}: expected these rows\n{table}");
    }
}
