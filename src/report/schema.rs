//! The published shapes of the JSON output, as JSON Schema (draft 2020-12): one file each under
//! `schema/`, which the program carries along.
//!
//! They are strict both ways: every key that is printed is in them, and every key in them is printed.
//! `tests/schemas/output/` holds the output of every command against them, and them against it. A key
//! that goes, or changes its meaning, raises [`super::VERSION`]; a further key does not.

/// The shape of one kind of output.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Schema {
    /// The name that `schema` takes.
    pub name: &'static str,
    /// What prints it.
    pub about: &'static str,
    /// The schema, as JSON.
    pub text: &'static str,
}

/// The schema whose text is the file of its name.
macro_rules! schema {
    ($name:literal, $about:literal) => {
        Schema {
            name: $name,
            about: $about,
            text: include_str!(concat!("schema/", $name, ".json")),
        }
    };
}

/// Every kind of output, in the order of the commands.
pub const OUTPUTS: &[Schema] = &[
    schema!("check", "`check --format json`"),
    schema!("solve", "`solve --format json`, with faults and other states too"),
    schema!("cycle", "the same where parts keep switching, with exit status 3"),
    schema!("expect", "`solve --expect --format json`"),
    schema!("bands", "`solve --bands --format json`"),
    schema!("diagnose", "`diagnose --format json`, and `next --format json`"),
    schema!("tree", "`next --tree --format json`"),
    schema!("substitute", "`substitute PART=VALUE --format json`"),
    schema!("choices", "`substitute PART --format json`, out of a series or a drawer"),
    schema!("marking", "`marking --format json`"),
    schema!("curve", "`curve --format json`"),
    schema!("lesson", "`lesson --format json`"),
    schema!("quiz", "`quiz --format json`, once the game is over"),
    schema!("fault-table", "`fault-table --format json`"),
];
