//! What an installation adds: completions of the shells, pages of the manual, the commit in the version.

// The build script, for what it finds out; its `main` is not run here.
#[allow(dead_code)]
#[path = "../../src/build.rs"]
mod build;

use std::path::Path;
use std::process::Command;

use crate::program::{circuits, folder, run_in};

fn good(args: &[&str]) -> String {
    let run = run_in(&circuits(), args, "");
    assert_eq!((run.status, run.err.as_str()), (0, ""), "{args:?}");
    run.out
}

/// The commands, as the help lists them.
fn commands() -> Vec<String> {
    let help = good(&["--help"]);
    let list = help.lines().skip_while(|line| *line != "Commands:").skip(1);
    let names = list
        .take_while(|line| !line.is_empty())
        .filter(|line| line.starts_with("  ") && !line.starts_with("   "))
        .filter_map(|line| line.split_whitespace().next().map(str::to_owned));
    let names: Vec<String> = names.filter(|name| name != "help").collect();
    assert!(names.len() >= 17, "{names:?}");
    names
}

/// The long options of a command, as its help lists them.
fn options(command: &str) -> Vec<String> {
    let help = good(&[command, "--help"]);
    let words = help.lines().filter(|line| line.trim_start().starts_with('-'));
    let words = words.flat_map(|line| line.split_whitespace().take(2).map(str::to_owned));
    let long = words.filter(|word| word.starts_with("--"));
    long.map(|word| word.trim_end_matches(',').to_owned()).collect()
}

const SHELLS: [&str; 5] = ["bash", "zsh", "fish", "elvish", "powershell"];

#[test]
fn completions_hold_every_command_and_option() {
    for shell in SHELLS {
        let script = good(&["completions", shell]);
        for command in commands() {
            assert!(script.contains(&command), "{shell}: {command}");
            for option in options(&command) {
                // Fish writes the name apart from its dashes.
                let name = option.trim_start_matches('-');
                let there = script.contains(&option) || script.contains(&format!("-l {name}"));
                assert!(there, "{shell}: {command} {option}");
            }
        }
        // Words of options, where the shell can be told of them.
        let has_words = ["bash", "zsh", "fish"].contains(&shell);
        assert!(!has_words || script.contains("markdown"), "{shell}: words");
    }
    let run = run_in(&circuits(), &["completions", "csh"], "");
    assert_eq!((run.status, run.out.as_str()), (2, ""));
    assert!(run.err.contains("fish"), "{}", run.err);
}

/// Where the shell is there, it reads the script. The script is written into a file: a shell that is
/// given it otherwise may stop at the first command.
#[test]
fn shells_read_their_completions() {
    let folder = folder("install/completions");
    for (shell, args) in [("bash", vec!["-n"]), ("zsh", vec!["-n"]), ("fish", vec!["--no-execute"])]
    {
        let file = folder.join(shell);
        std::fs::write(&file, good(&["completions", shell])).expect("a file");
        let Ok(output) = Command::new(shell).args(&args).arg(&file).output() else { continue };
        assert!(output.status.success(), "{shell}: {}", String::from_utf8_lossy(&output.stderr));
    }
    // Somebody types a piece of a command: the script completes it.
    let ask = format!(
        "source {}; COMP_WORDS=(ohmhound dia); COMP_CWORD=1; _ohmhound ohmhound dia ohmhound; \
         echo ${{COMPREPLY[@]}}",
        folder.join("bash").display()
    );
    if let Ok(output) = Command::new("bash").args(["-c", &ask]).output() {
        assert_eq!(String::from_utf8_lossy(&output.stdout).trim(), "diagnose");
    }
}

#[test]
fn pages_hold_every_command_and_option() {
    let folder = folder("install/manual");
    let into = folder.join("man1");
    let told = good(&["manual", "--into", into.to_str().expect("a plain name")]);
    let commands = commands();
    assert!(told.starts_with(&format!("wrote {} pages into", commands.len() + 1)), "{told}");
    let page = |name: &str| {
        let text = std::fs::read_to_string(into.join(name)).unwrap_or_else(|_| panic!("no {name}"));
        // A dash is written as `\-`.
        text.replace("\\-", "-")
    };
    let main = page("ohmhound.1");
    assert!(main.contains("no operating point"), "what the exit status says");
    for command in &commands {
        assert!(main.contains(&format!("ohmhound-{command}(1)")), "{command}");
        let text = page(&format!("ohmhound-{command}.1"));
        assert!(text.starts_with(".ie") || text.starts_with(".TH"), "{text}");
        for option in options(command) {
            assert!(text.contains(&option), "{command} {option}");
        }
    }
    let faults = page("ohmhound-faults.1");
    for line in good(&["faults"]).lines() {
        assert!(faults.contains(line.trim_start()), "{line}");
    }
    assert_eq!(good(&["manual"]).replace("\\-", "-"), main);
    let root = env!("CARGO_MANIFEST_DIR");
    let mut count = 0;
    for entry in std::fs::read_dir(&into).expect("the folder") {
        let name = entry.expect("a file").file_name().into_string().expect("a plain name");
        let text = page(&name);
        for word in [root, "/tmp", "/home", "/usr"] {
            assert!(!text.contains(word), "{name}: `{word}`");
        }
        assert!(!has_date(&text), "{name} holds a date");
        count += 1;
    }
    assert_eq!(count, commands.len() + 1, "no page is half written or left over");
    // A second time puts the same pages in place.
    good(&["manual", "--into", into.to_str().expect("a plain name")]);
    assert_eq!(page("ohmhound.1"), main);
    // A formatter, where there is one, has nothing to say.
    let Ok(output) = Command::new("groff")
        .args(["-man", "-Tutf8", "-ww", "-z"])
        .args(commands.iter().map(|command| into.join(format!("ohmhound-{command}.1"))))
        .output()
    else {
        return;
    };
    let said = String::from_utf8_lossy(&output.stderr);
    assert!(output.status.success() && said.is_empty(), "{said}");
}

#[test]
fn a_folder_that_cannot_be_made_is_told() {
    let folder = folder("install/refused");
    std::fs::write(folder.join("file"), "here").expect("a file");
    for into in ["file", "file/man1"] {
        let run = run_in(&folder, &["manual", "--into", into], "");
        assert_eq!((run.status, run.out.as_str()), (2, ""));
        assert!(run.err.starts_with("error: cannot make the folder"), "{}", run.err);
    }
    std::fs::create_dir_all(folder.join("taken/ohmhound.1")).expect("a folder");
    let run = run_in(&folder, &["manual", "--into", "taken"], "");
    assert_eq!(run.status, 2);
    assert!(run.err.contains("it is a folder"), "{}", run.err);
}

/// Whether a year with a month and a day stands somewhere.
fn has_date(text: &str) -> bool {
    text.as_bytes().windows(10).any(|piece| {
        piece.iter().enumerate().all(|(at, byte)| match at {
            4 | 7 => *byte == b'-',
            _ => byte.is_ascii_digit(),
        })
    })
}

fn git(folder: &Path, args: &[&str]) -> bool {
    let mut git = Command::new("git");
    git.current_dir(folder).args(["-c", "user.name=nobody", "-c", "user.email=nobody@localhost"]);
    git.env("GIT_COMMITTER_DATE", "2026-02-03T12:00:00+00:00");
    git.args(args).output().is_ok_and(|output| output.status.success())
}

#[test]
fn the_commit_is_that_of_the_checkout_itself() {
    let folder = folder("install/checkout");
    assert_eq!(build::commit(&folder), None, "no checkout");
    if !git(&folder, &["init", "-q"]) {
        return;
    }
    assert_eq!(build::commit(&folder), None, "no commit yet");
    assert!(git(&folder, &["commit", "-q", "--allow-empty", "-m", "First"]));
    let first = build::commit(&folder).expect("a commit");
    let (hash, day) = first.split_once(' ').expect("two words");
    assert!(hash.len() >= 7 && day == "2026-02-03", "{first}");
    let moves = build::moves_with_head(&folder).expect("a file");
    let before = std::fs::read(&moves).expect("its bytes");
    assert_eq!(build::commit(&folder).as_ref(), Some(&first), "the same again");
    assert!(git(&folder, &["commit", "-q", "--allow-empty", "-m", "Second"]));
    assert_ne!(build::commit(&folder), Some(first));
    assert_ne!(std::fs::read(&moves).expect("its bytes"), before, "it moves with the head");
    // Sources in a folder of somebody else's checkout are not of it.
    let inner = folder.join("vendor");
    std::fs::create_dir(&inner).expect("a folder");
    assert_eq!(build::commit(&inner), None);
    assert_eq!(build::moves_with_head(&inner), None);
}
