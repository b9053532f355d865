//! Every message that the program can give, in one list: read out of the source, held against the
//! rules of wording, and kept as a golden text that is reread as a whole.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::{Path, PathBuf};

use syn::visit::{self, Visit};

/// Calls that take a message; the last word of their path, and which of their arguments hold texts
/// for people.
const MAKERS: &[(&str, &[usize])] = &[
    ("Finding::error", &[1]),
    ("Finding::warning", &[1]),
    ("Finding::note", &[1]),
    ("Problem::new", &[1]),
    ("ValueError::new", &[1]),
    (".error", &[1, 2]),
    (".value_error", &[0]),
    (".help", &[0]),
    (".complain", &[0, 1]),
];

/// Texts of one file: what a call is given, as it stands in the source.
#[derive(Default)]
struct Texts {
    found: BTreeSet<(&'static str, String)>,
    /// What names of the function at hand were bound to.
    bound: BTreeMap<String, syn::Expr>,
}

/// Literals inside of an expression.
#[derive(Default)]
struct Literals {
    texts: Vec<String>,
    names: Vec<String>,
}

impl<'ast> Visit<'ast> for Literals {
    fn visit_lit_str(&mut self, text: &'ast syn::LitStr) {
        self.texts.push(text.value());
    }

    fn visit_macro(&mut self, called: &'ast syn::Macro) {
        // The first literal of a `format!` is the text.
        let arguments = called.parse_body_with(
            syn::punctuated::Punctuated::<syn::Expr, syn::Token![,]>::parse_terminated,
        );
        let Ok(arguments) = arguments else { return };
        arguments.iter().take(1).for_each(|argument| self.visit_expr(argument));
    }

    fn visit_expr_path(&mut self, path: &'ast syn::ExprPath) {
        self.names.extend(path.path.get_ident().map(ToString::to_string));
    }

    fn visit_expr_if(&mut self, branch: &'ast syn::ExprIf) {
        // Conditions are no texts.
        self.visit_block(&branch.then_branch);
        if let Some((_, other)) = &branch.else_branch {
            self.visit_expr(other);
        }
    }

    fn visit_expr_match(&mut self, choice: &'ast syn::ExprMatch) {
        choice.arms.iter().for_each(|arm| self.visit_expr(&arm.body));
    }
}

impl Texts {
    fn take(&mut self, role: &'static str, argument: &syn::Expr) {
        let mut literals = Literals::default();
        literals.visit_expr(argument);
        let mut known = BTreeSet::new();
        while let Some(name) = literals.names.pop() {
            if let Some(bound) = self.bound.get(&name).filter(|_| known.insert(name)) {
                literals.visit_expr(bound);
            }
        }
        let sayings = literals.texts.into_iter().filter(|text| text.contains(' '));
        self.found.extend(sayings.map(|text| (role, text)));
    }

    fn call(&mut self, name: &str, arguments: &[&syn::Expr]) {
        let Some((maker, places)) = MAKERS.iter().find(|(maker, _)| name.ends_with(maker)) else {
            return;
        };
        for place in *places {
            let role = match (*maker, *place) {
                (".help", _) | (".complain", 1) => "help",
                (".error", 2) => "label",
                _ => "message",
            };
            if let Some(argument) = arguments.get(*place) {
                self.take(role, argument);
            }
        }
    }
}

impl<'ast> Visit<'ast> for Texts {
    fn visit_item_mod(&mut self, module: &'ast syn::ItemMod) {
        // Modules inside files are tests.
        if module.content.is_none() {
            visit::visit_item_mod(self, module);
        }
    }

    fn visit_block(&mut self, block: &'ast syn::Block) {
        let before = self.bound.clone();
        visit::visit_block(self, block);
        self.bound = before;
    }

    fn visit_local(&mut self, local: &'ast syn::Local) {
        if let (syn::Pat::Ident(name), Some(init)) = (&local.pat, &local.init) {
            self.bound.insert(name.ident.to_string(), (*init.expr).clone());
        }
        if let (syn::Pat::Tuple(names), Some(init)) = (&local.pat, &local.init) {
            for name in &names.elems {
                if let syn::Pat::Ident(name) = name {
                    self.bound.insert(name.ident.to_string(), (*init.expr).clone());
                }
            }
        }
        visit::visit_local(self, local);
    }

    fn visit_expr_call(&mut self, called: &'ast syn::ExprCall) {
        if let syn::Expr::Path(path) = &*called.func {
            let words: Vec<String> =
                path.path.segments.iter().map(|segment| segment.ident.to_string()).collect();
            self.call(&words.join("::"), &called.args.iter().collect::<Vec<_>>());
        }
        visit::visit_expr_call(self, called);
    }

    fn visit_expr_method_call(&mut self, called: &'ast syn::ExprMethodCall) {
        let arguments: Vec<&syn::Expr> = called.args.iter().collect();
        self.call(&format!(".{}", called.method), &arguments);
        visit::visit_expr_method_call(self, called);
    }
}

fn sources(folder: &Path, found: &mut Vec<PathBuf>) {
    for entry in fs::read_dir(folder).expect("a folder").map(|entry| entry.expect("an entry")) {
        let path = entry.path();
        if path.is_dir() {
            sources(&path, found);
        } else if path.extension().is_some_and(|end| end == "rs") {
            found.push(path);
        }
    }
}

/// All texts, by file.
fn catalogue() -> BTreeMap<String, BTreeSet<(&'static str, String)>> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let mut paths = Vec::new();
    sources(&root, &mut paths);
    let mut all = BTreeMap::new();
    for path in paths {
        let file = syn::parse_file(&fs::read_to_string(&path).expect("a text")).expect("Rust");
        let mut texts = Texts::default();
        texts.visit_file(&file);
        if !texts.found.is_empty() {
            let name = path.strip_prefix(&root).expect("under src").to_string_lossy().into_owned();
            all.insert(name, texts.found);
        }
    }
    all
}

/// The pieces of a text between what is filled in.
fn pieces(text: &str) -> Vec<&str> {
    let mut rest = text;
    let mut pieces = Vec::new();
    while let Some(open) = rest.find('{') {
        pieces.push(&rest[..open]);
        rest = rest[open..].split_once('}').map_or("", |(_, after)| after);
    }
    pieces.push(rest);
    pieces
}

/// One voice: a message is one sentence in lower case without a full stop that says what was
/// expected before what was found; nobody is told off, nothing is shouted.
#[test]
fn messages_speak_with_one_voice() {
    let unwanted = [
        "invalid",
        "illegal",
        "error",
        "fail",
        "please",
        "sorry",
        "oops",
        "must",
        "can't",
        "don't",
        "unable",
        "could not",
        "unexpected",
        "!",
        "  ",
    ];
    let mut wrong = Vec::new();
    for (file, texts) in catalogue() {
        for (role, text) in &texts {
            let mut say = |what: &str| wrong.push(format!("{file}: {role} \"{text}\" {what}"));
            let first = text.chars().next();
            if first.is_some_and(char::is_uppercase) && role != &"help" {
                say("begins with a capital");
            }
            if text.ends_with('.') && !text.ends_with("..") || text.ends_with(' ') {
                say("ends with a full stop or a space");
            }
            if text.matches('`').count() % 2 != 0 || text.matches('"').count() % 2 != 0 {
                say("has a quote that is not closed");
            }
            let own = pieces(text).join("…").to_lowercase();
            for word in unwanted.iter().filter(|word| own.contains(**word)) {
                say(&format!("has \"{word}\""));
            }
            if let (Some(expected), Some(found)) = (own.find("expected"), own.find("found"))
                && found < expected
            {
                say("tells what was found before what was expected");
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

/// Messages for what hardly any input brings about: a machine that fails, or numerics that stumble.
/// Those of logs and of limits are looked for in tests by their codes.
const OUT_OF_REACH: &[&str] = &[
    "cannot read an answer: {why}",
    "the plot cannot be drawn: {why}",
    "there is no operating point to teach: the equations have no single answer",
    "this board has a part whose law a lesson cannot write out",
    "`{}` has no fault of level {} that readings show and that can be found by them",
    "none of these is fit: each breaks something, see `{net}` and the limits",
    "no DC operating point found: parts keep switching each other on and off",
    "no operating point found: these nets do not settle: {}",
    "no operating point: the equations have no single answer",
    "the circuit has {} parts, more than {MOST_PARTS}",
    "there are more than {MOST_READINGS} readings",
    "there are more than {MOST_SETUPS} setups",
    "there are more than {MOST_SHELF} shelf files",
    "`{}` holds something else where the answer belongs, such as a value with its own meter",
    "`{}` is not valid TOML",
    "cannot write the result: {}",
    "cannot make the folder `{}`: {why}",
    "expected a name in UTF-8, found `{}`",
    "there are more than {MOST_READINGS} values in stock",
    "there are {} values in stock, more than {MOST_READINGS}",
    "tables and lists are nested more deeply than is read",
    "another session has the log `{name}` open",
    "cannot write the log `{name}`: {why}",
    "the log `{}` was changed by something else since it was read",
];

/// Every message is seen by a test: its longest piece stands in a golden text or in a test.
#[test]
fn every_message_is_given_in_some_test() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let mut seen = String::new();
    let mut paths = Vec::new();
    sources(&root.join("tests"), &mut paths);
    for group in fs::read_dir(root.join("tests")).expect("a folder") {
        let Ok(golden) = fs::read_dir(group.expect("an entry").path().join("snapshots")) else {
            continue;
        };
        paths.extend(golden.map(|entry| entry.expect("an entry").path()));
    }
    // Tests beside the code.
    let mut own = Vec::new();
    sources(&root.join("src"), &mut own);
    for path in paths {
        let name = path.file_name().unwrap_or_default().to_string_lossy().into_owned();
        if !name.contains("messages") {
            seen += &fs::read_to_string(&path).expect("a text");
        }
    }
    for path in own {
        let text = fs::read_to_string(&path).expect("a text");
        seen += text.split_once("#[cfg(test)]").map_or("", |(_, tests)| tests);
    }
    // Golden texts are wrapped, with a border.
    let plain = |text: &str| {
        let words =
            text.split_whitespace().filter(|word| !matches!(*word, "|" | "=" | "│" | "///"));
        words.collect::<Vec<_>>().join(" ").replace("\\\"", "\"")
    };
    let seen = plain(&seen);
    let mut absent = Vec::new();
    for (file, texts) in catalogue() {
        for (role, text) in &texts {
            let longest = pieces(text).into_iter().max_by_key(|piece| piece.len()).unwrap_or("");
            let is_help = text.starts_with("`solve`");
            let is_known = is_help || OUT_OF_REACH.contains(&text.as_str());
            if *role == "message" && !is_known && !seen.contains(plain(longest).trim()) {
                absent.push(format!("{file}: {text}"));
            }
        }
    }
    assert!(absent.is_empty(), "{} messages are in no test:\n{}", absent.len(), absent.join("\n"));
}

#[test]
fn every_message_is_in_the_list() {
    let mut list = String::new();
    for (file, texts) in catalogue() {
        list += &format!("{file}\n");
        for (role, text) in texts {
            list += &format!("  {role:<8} {text}\n");
        }
    }
    insta::assert_snapshot!(list);
}
