//! `ohmhound bench` as a process: answers come in by a pipe, and what was accepted is in the log
//! whatever happens then.

use std::io::{BufRead, BufReader, Write};
use std::path::{Path, PathBuf};
use std::process::{Child, ChildStdin, Command, Output, Stdio};
use std::sync::mpsc::{Receiver, channel};
use std::time::Duration;

/// A folder of its own, empty.
fn folder(name: &str) -> PathBuf {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join("session").join(name);
    let _ = std::fs::remove_dir_all(&folder);
    std::fs::create_dir_all(&folder).unwrap();
    folder
}

fn program(circuit: &str, log: &Path) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_ohmhound"));
    let circuit = format!("{}/circuits/{circuit}.toml", env!("CARGO_MANIFEST_DIR"));
    command.args(["bench", &circuit, "--log"]).arg(log);
    command.stdin(Stdio::piped()).stdout(Stdio::piped()).stderr(Stdio::piped());
    command
}

/// A whole session with these answers.
fn session(circuit: &str, log: &Path, answers: &[&str]) -> Output {
    let mut child = program(circuit, log).spawn().unwrap();
    let mut input = child.stdin.take().unwrap();
    // A session that is over reads no more: that is no failure of the test.
    let _ = input.write_all(answers.join("\n").as_bytes());
    drop(input);
    child.wait_with_output().unwrap()
}

fn told(output: &Output) -> String {
    String::from_utf8_lossy(&output.stdout).into_owned()
}

fn complained(output: &Output) -> String {
    String::from_utf8_lossy(&output.stderr).into_owned()
}

fn log_of(path: &Path) -> String {
    std::fs::read_to_string(path).unwrap()
}

#[test]
fn a_session_from_the_first_question_to_a_board_that_is_mended() {
    let log = folder("whole").join("job.toml");
    // R1 is open on the standby supply: its enable never rises.
    let answers = [
        "symptom no light, the gate is dead",
        "LED_A 0.001",
        "VIN_F 23.98",
        "?",
        "EN 0.000",
        "status",
        "unpowered ohms VIN_F to EN OL",
    ];
    let output = session("standby-supply", &log, &answers);
    assert!(output.status.success(), "{}", complained(&output));
    let text = told(&output);
    assert!(text.contains("Before you begin") && text.contains("discharge"), "{text}");
    assert!(text.contains("? measure powered volts"), "{text}");
    assert!(text.contains("R1 open"), "{text}");
    let is_short = |line: &str| line.starts_with("The log is") || line.chars().count() <= 80;
    assert!(text.lines().all(is_short), "{text}");
    assert!(!text.contains('\u{1b}'), "no colour in a pipe: {text}");
    let known = log_of(&log);
    for line in ["symptom = \"no light, the gate is dead\"", "VIN_F = 23.98", "EN = 0.000"] {
        assert!(known.contains(line), "{line} is not in\n{known}");
    }
    // Gone on with later: the repair, and the same readings again.
    let output = session("standby-supply", &log, &["replaced R1 with 47k 1 %", "quit"]);
    let text = told(&output);
    assert!(text.contains("It holds 4 readings already"), "{text}");
    assert!(text.contains("After the repair, 4 readings to go"), "{text}");
    // What a mended board reads, in the order that they are asked for.
    let answers = ["1.965", "23.97", "4.215", "47.01k"];
    let asked: Vec<&str> = text.lines().filter(|line| line.starts_with("? measure")).collect();
    assert!(asked[asked.len() - 1].contains("LED_A"), "{asked:?}");
    let output = session("standby-supply", &log, &answers);
    let text = told(&output);
    let known = log_of(&log);
    assert!(known.contains("[after.powered.volts]"), "{known}");
    assert!(
        known.contains("action = \"replaced\"") && known.contains("with = \"47k 1 %\""),
        "{known}"
    );
    assert!(text.contains("Fixed"), "{text}");
}

#[test]
fn what_is_no_answer_changes_nothing() {
    let log = folder("no-answer").join("job.toml");
    let answers =
        ["hello", "FOO 3", "EM 0.02", "12..", "EN", "replaced", "replaced R99", "cleaned", "", "?"];
    let output = session("standby-supply", &log, &answers);
    assert!(output.status.success());
    let (text, findings) = (told(&output), complained(&output));
    assert!(text.contains("`FOO` is neither a net nor a part"), "{text}");
    assert!(text.contains("did you mean `EN`?"), "{text}");
    assert!(text.contains("say what EN reads"), "{text}");
    assert!(text.contains("`R99` is no part of this board"), "{text}");
    assert!(findings.contains("answer:1:") && findings.contains("help"), "{findings}");
    assert!(!log_of(&log).contains("volts"), "{}", log_of(&log));
}

#[test]
fn a_reading_that_contradicts_an_earlier_one_is_asked_about() {
    let folder = folder("contradict");
    for (answer, wanted) in
        [("old", "EN = 4.20\n"), ("new", "EN = 0.42\n"), ("both", "EN = [4.20, 0.42]\n")]
    {
        let log = folder.join(format!("{answer}.toml"));
        let output = session("standby-supply", &log, &["EN 4.20", "EN 0.42", "perhaps", answer]);
        let text = told(&output);
        assert!(text.contains("which is right?"), "{text}");
        assert!(text.contains("expected `new`, `old` or `both`"), "{text}");
        assert!(log_of(&log).contains(wanted), "{answer}: {}", log_of(&log));
    }
    // Within the meter's accuracy nothing is asked.
    let log = folder.join("same.toml");
    let output = session("standby-supply", &log, &["EN 4.20", "EN 4.21"]);
    assert!(!told(&output).contains("which is right"), "{}", told(&output));
}

#[test]
fn skip_and_undo() {
    let log = folder("undo").join("job.toml");
    let output = session("standby-supply", &log, &["skip", "EN 0.02", "undo", "undo", "help"]);
    let text = told(&output);
    let questions: Vec<&str> = text.lines().filter(|line| line.starts_with("? ")).collect();
    assert_ne!(questions[0], questions[1], "a skipped question comes again");
    assert!(text.contains("the last answer is taken back"), "{text}");
    assert!(text.contains("nothing was answered in this session yet"), "{text}");
    assert!(!log_of(&log).contains("EN"), "{}", log_of(&log));
}

#[test]
fn two_sessions_on_one_log_and_logs_that_cannot_be() {
    let folder = folder("two");
    let log = folder.join("job.toml");
    let mut first = Running::start("standby-supply", &log);
    first.wait_for(&["? measure"]);
    let second = session("standby-supply", &log, &["EN 0.02"]);
    assert_eq!(second.status.code(), Some(2));
    assert!(complained(&second).contains("another session has the log"), "{}", complained(&second));
    first.child.kill().unwrap();
    first.child.wait().unwrap();
    assert!(session("standby-supply", &log, &["quit"]).status.success());
    // A folder that is a file.
    let output = session("standby-supply", &log.join("below.toml"), &["EN 0.02"]);
    assert_eq!(output.status.code(), Some(2));
    assert!(complained(&output).contains("cannot write the log"), "{}", complained(&output));
    assert!(complained(&output).contains("help"), "{}", complained(&output));
}

/// A session that runs.
struct Running {
    child: Child,
    input: ChildStdin,
    lines: Receiver<String>,
}

impl Running {
    fn start(circuit: &str, log: &Path) -> Running {
        let mut child = program(circuit, log).spawn().unwrap();
        let input = child.stdin.take().unwrap();
        let output = BufReader::new(child.stdout.take().unwrap());
        let (sender, lines) = channel();
        std::thread::spawn(move || {
            for line in output.lines().map_while(Result::ok) {
                if sender.send(line).is_err() {
                    break;
                }
            }
        });
        Running { child, input, lines }
    }

    fn say(&mut self, answer: &str) {
        writeln!(self.input, "{answer}").unwrap();
        self.input.flush().unwrap();
    }

    /// Waits for a line with one of these texts: a minute at most.
    #[track_caller]
    fn wait_for(&mut self, texts: &[&str]) {
        let mut seen = String::new();
        while let Ok(line) = self.lines.recv_timeout(Duration::from_secs(60)) {
            if texts.iter().any(|text| line.contains(text)) {
                return;
            }
            seen = seen + &line + "\n";
        }
        panic!("none of {texts:?} came:\n{seen}");
    }
}

#[test]
fn killed_between_answers_it_goes_on_where_it_was() {
    let folder = folder("killed");
    let log = folder.join("job.toml");
    let answers = [("LED_A", "0.001"), ("VIN_F", "23.98"), ("EN", "0.020"), ("VIN", "24.0")];
    for (number, (net, value)) in answers.into_iter().enumerate() {
        let mut running = Running::start("standby-supply", &log);
        if number > 0 {
            running.wait_for(&[&format!("It holds {number} reading")]);
        }
        running.wait_for(&["? measure", "say what was done"]);
        running.say(&format!("{net} {value}"));
        // The next question is asked only when the answer is on disk.
        running.wait_for(&["now:"]);
        running.child.kill().unwrap();
        running.child.wait().unwrap();
        let known = log_of(&log);
        for (net, value) in &answers[..=number] {
            assert!(known.contains(&format!("{net} = {value}")), "{net} is not in\n{known}");
        }
    }
    let left: Vec<_> = std::fs::read_dir(&folder)
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .filter(|name| name.ends_with(".new"))
        .collect();
    assert!(left.is_empty(), "{left:?}");
}

/// A part that is lifted is measured alone, and its reading counts: in the log, in `diagnose`, and in
/// a session that goes on.
#[test]
fn a_lifted_part_is_measured_alone() {
    let log = folder("lifted").join("job.toml");
    let output = session("standby-supply", &log, &["EN 0.02", "lifted R1", "OL", "quit"]);
    assert!(output.status.success(), "{}", complained(&output));
    let text = told(&output);
    assert!(text.contains("? measure R1 alone, one leg off (ohms)"), "{text}");
    assert!(text.contains("replace R1: alone it reads wrong"), "{text}");
    let known = log_of(&log);
    assert!(known.contains("[\"R1 lifted\".ohms]\nR1 = \"OL\""), "{known}");
    // A good one is put back, and the questions go on.
    let log = folder("good").join("job.toml");
    let output = session("standby-supply", &log, &["EN 0.02", "lifted R1", "47.1k", "quit"]);
    let text = told(&output);
    assert!(text.contains("out: ") && text.contains("R1 open"), "{text}");
    assert!(text.contains("? measure "), "{text}");
    // Undone, the part is suspect again; and what was lifted is not asked for after a repair.
    let answers = ["undo", "undo", "quit"];
    assert!(session("standby-supply", &log, &answers).status.success());
    let output = session("standby-supply", &log, &["replaced F1", "quit"]);
    let text = told(&output);
    assert!(text.contains("After the repair, 1 reading to go"), "{text}");
    // A diode is measured as a diode; a part with more legs is looked over.
    let log = folder("diode").join("job.toml");
    let answers = ["5V_SB 0.02", "lifted D1", "1.62", "lifted U1", "quit"];
    let output = session("standby-supply", &log, &answers);
    let text = told(&output);
    assert!(text.contains("measure D1 alone, one leg off (diode mode"), "{text}");
    assert!(text.contains("look U1 over"), "{text}");
    let file = log.to_str().unwrap();
    let mut diagnose = Command::new(env!("CARGO_BIN_EXE_ohmhound"));
    let output = diagnose.args(["diagnose", file]).output().unwrap();
    assert!(told(&output).contains("D1 lifted diode D1"), "{}", complained(&output));
}
