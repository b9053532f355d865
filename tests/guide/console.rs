//! Blocks of a text that show the program at work: `console` blocks are run and compared, `toml`
//! blocks with a path in their first line are compared with that file.
//!
//! A block holds commands, each after `$ `, with what they print below them. Lines between `<<END`
//! and `END` are what is typed. A line `...` stands for lines that are left out.

use std::fs;
use std::path::{Path, PathBuf};

use super::program;
use super::{read, root, writes};

/// A fenced block: its language, the lines inside, and the numbers of its first and last line.
struct Block {
    language: String,
    lines: Vec<String>,
    from: usize,
    to: usize,
}

fn blocks(text: &str) -> Vec<Block> {
    let mut found = Vec::new();
    let mut open: Option<(String, usize)> = None;
    let lines: Vec<&str> = text.lines().collect();
    for (number, line) in lines.iter().enumerate() {
        let Some(language) = line.strip_prefix("```") else { continue };
        match open.take() {
            None => open = Some((language.to_owned(), number + 1)),
            Some((language, from)) => {
                let inside = lines[from..number].iter().map(|line| (*line).to_owned()).collect();
                found.push(Block { language, lines: inside, from, to: number });
            }
        }
    }
    found
}

/// A copy of a folder of the project, circuits only, that commands may write into.
pub fn copied(folder: &str) -> PathBuf {
    let name = folder.replace(['/', '.'], "_");
    let thread = format!("{:?}", std::thread::current().id());
    let number: String = thread.chars().filter(char::is_ascii_digit).collect();
    let copy = program::folder(&format!("guide_{name}_{number}"));
    if folder == "." {
        copy_files(&root().join("circuits"), &copy.join("circuits"));
    } else {
        copy_files(&root().join(folder), &copy);
    }
    copy
}

fn copy_files(from: &Path, to: &Path) {
    fs::create_dir_all(to).expect("a folder");
    for entry in fs::read_dir(from).expect("a folder") {
        let path = entry.expect("an entry").path();
        let name = path.file_name().expect("a name");
        if path.is_dir() {
            copy_files(&path, &to.join(name));
        } else {
            fs::copy(&path, to.join(name)).expect("a file");
        }
    }
}

/// One command of a block with what is typed and what it should print.
struct Command {
    shown: Vec<String>,
    args: Vec<String>,
    typed: String,
    printed: Vec<String>,
}

fn commands(block: &Block) -> Vec<Command> {
    let mut found: Vec<Command> = Vec::new();
    let mut lines = block.lines.iter();
    while let Some(line) = lines.next() {
        let Some(command) = line.strip_prefix("$ ohmhound") else {
            assert!(!line.starts_with("$ "), "only the program itself is run: {line}");
            let last = found.last_mut().expect("a block begins with a command");
            last.printed.push(line.clone());
            continue;
        };
        let mut one = Command {
            shown: vec![line.clone()],
            args: Vec::new(),
            typed: String::new(),
            printed: Vec::new(),
        };
        let command = match command.split_once(" <<") {
            None => command,
            Some((command, end)) => {
                for typed in lines.by_ref() {
                    one.shown.push(typed.clone());
                    if typed == end {
                        break;
                    }
                    one.typed.push_str(typed);
                    one.typed.push('\n');
                }
                command
            }
        };
        one.args = words(command);
        found.push(one);
    }
    found
}

/// Words as a shell takes them, with double quotes and single ones.
fn words(line: &str) -> Vec<String> {
    let mut found = Vec::new();
    let (mut word, mut quote, mut begun) = (String::new(), None, false);
    for letter in line.chars() {
        match (quote, letter) {
            (Some(end), letter) if letter == end => quote = None,
            (None, '"' | '\'') => (quote, begun) = (Some(letter), true),
            (None, ' ') if begun => {
                found.push(std::mem::take(&mut word));
                begun = false;
            }
            (None, ' ') => {}
            (_, letter) => {
                word.push(letter);
                begun = true;
            }
        }
    }
    if begun {
        found.push(word);
    }
    found
}

/// Runs what the text shows, in a copy of the folder, and compares.
pub fn check(path: &Path, folder: &str) {
    let text = read(path);
    let copy = copied(folder);
    let mut lines: Vec<String> = text.lines().map(str::to_owned).collect();
    let shown: Vec<Block> =
        blocks(&text).into_iter().filter(|block| block.language == "console").collect();
    let mut anew: Vec<(usize, usize, Vec<String>)> = Vec::new();
    for block in &shown {
        let mut now = Vec::new();
        for command in commands(block) {
            let args: Vec<&str> = command.args.iter().map(String::as_str).collect();
            let run = program::run_in(&copy, &args, &command.typed);
            assert!(run.status < 2, "{args:?} of {}: {}", path.display(), run.err);
            let printed: Vec<String> =
                run.out.lines().chain(run.err.lines()).map(str::to_owned).collect();
            now.extend(command.shown.iter().cloned());
            if is_like(&command.printed, &printed) {
                now.extend(command.printed);
            } else if writes() && !command.printed.iter().any(|line| line == "...") {
                now.extend(printed);
            } else {
                let line = block.from;
                let printed = printed.join("\n");
                panic!(
                    "{} below line {line}: {args:?} prints now\n{printed}\n\
                     GUIDE=write cargo test --test guide writes it anew, but for blocks with `...`",
                    path.display()
                );
            }
        }
        anew.push((block.from, block.to, now));
    }
    if !writes() {
        return;
    }
    for (from, to, now) in anew.into_iter().rev() {
        lines.splice(from..to, now);
    }
    fs::write(path, lines.join("\n") + "\n").expect("the text can be written");
}

/// Whether lines are as shown, where `...` stands for any number of them.
fn is_like(shown: &[String], printed: &[String]) -> bool {
    let Some(gap) = shown.iter().position(|line| line == "...") else { return shown == printed };
    if printed.len() < gap || shown[..gap] != printed[..gap] {
        return false;
    }
    let rest = &shown[gap + 1..];
    (gap..=printed.len()).any(|from| is_like(rest, &printed[from..]))
}

/// The files that a text shows.
pub fn files(path: &Path) -> Vec<String> {
    let blocks = blocks(&read(path)).into_iter().filter(|block| block.language == "toml");
    blocks.map(|block| block.lines.join("\n")).collect()
}

/// Compares the files that a text shows with the files.
pub fn check_files(root: &Path, path: &Path) {
    for block in blocks(&read(path)).iter().filter(|block| block.language == "toml") {
        let first = block.lines.first().map_or("", String::as_str);
        let Some(name) = first.strip_prefix("# circuits/") else { continue };
        let file = read(&root.join("circuits").join(name));
        let shown = block.lines[1..].join("\n");
        assert_eq!(shown.trim(), file.trim(), "{} shows {name}", path.display());
    }
}

#[test]
fn left_out_lines_are_found() {
    let lines = |text: &str| text.split(' ').map(str::to_owned).collect::<Vec<_>>();
    assert!(is_like(&lines("a ... d"), &lines("a b c d")));
    assert!(is_like(&lines("a ..."), &lines("a b")));
    assert!(!is_like(&lines("a ... e"), &lines("a b c d")));
    assert!(!is_like(&lines("a b"), &lines("a b c")));
    assert_eq!(words("check \"a b\" 'c' d"), ["check", "a b", "c", "d"]);
}
