//! Calibration by simulation: boards drawn from their tolerances, faults from their weights, readings
//! with the meter's errors; how far the answers keep what their probabilities promise.
//!
//! Arguments choose the parts and how many draws: any of `model`, `uniform`, `corners`, `ranks`,
//! `pairs`, `unlisted` (all of them when none is named), `boards=pilot,soil-probe`, `draws=300`,
//! `seed=1`. Rows come out as a table; runs with different seeds may be put together.
#![allow(clippy::print_stdout, clippy::print_stderr)]

#[path = "../tests/bench/mod.rs"]
mod bench;
#[path = "../tests/calibration/boards.rs"]
mod boards;
#[path = "../tests/chance/mod.rs"]
mod chance;
#[path = "../tests/calibration/exact.rs"]
mod exact;
#[path = "../tests/calibration/figures.rs"]
mod figures;
#[path = "../tests/calibration/pilot.rs"]
mod pilot;

use boards::{Board, Verdicts};
use chance::{Chance, Draw, place};
use figures::{Figures, Mean, even};
use ohmhound::diagnosis::Case;
use ohmhound::engine::Assembly;

/// The name of the board of nine resistors.
const PILOT: &str = "pilot";
/// Boards when none is named: those that are quick to diagnose.
const QUICK: &str = "pilot,fence-loop,leaf-bridge,soil-probe,gate-supply,sensor-battery,pump-lamp";
/// A row of the table.
const HEAD: &str = "| board | draws | what | figure | goal |\n| --- | --- | --- | --- | --- |";

struct Asked {
    words: Vec<String>,
    boards: Vec<String>,
    draws: usize,
    seed: u64,
}

impl Asked {
    fn new() -> Asked {
        let arguments: Vec<String> = std::env::args().skip(1).collect();
        let value = |key: &str| arguments.iter().find_map(|one| one.strip_prefix(key));
        let number = |key: &str, usual: u64| {
            value(key).and_then(|number| number.parse().ok()).unwrap_or(usual)
        };
        let boards = value("boards=").unwrap_or(QUICK).split(',').map(str::to_owned).collect();
        let words = arguments
            .iter()
            .filter(|one| !one.contains('=') && !one.starts_with('-'))
            .cloned()
            .collect();
        Asked { boards, draws: number("draws=", 300) as usize, seed: number("seed=", 1), words }
    }

    fn wants(&self, word: &str) -> bool {
        self.words.is_empty() || self.words.iter().any(|known| known == word)
    }
}

fn main() {
    let asked = Asked::new();
    println!("{HEAD}");
    for name in &asked.boards {
        if name == PILOT { nine_resistors(&asked) } else { demo(&asked, name) }
    }
}

fn row(board: &str, draws: usize, what: &str, figure: &str, goal: &str) {
    println!("| {board} | {draws} | {what} | {figure} | {goal} |");
}

/// A share with its Monte Carlo error, in percent.
fn percent(mean: &Mean) -> String {
    format!("{:.2} ± {:.2} %", 100.0 * mean.value(), 100.0 * mean.error())
}

fn rows(board: &str, how: &str, draws: usize, figures: &Figures) {
    let goal = if how == "model" { "99.0 % within three errors" } else { "≥ 98.5 %" };
    let what = |text: &str| format!("{how}: {text}");
    row(board, draws, &what("coverage of 99 % sets"), &percent(&figures.coverage), goal);
    let (error, by_chance) = figures.calibration();
    let figure = format!("{:.3} % (by chance {:.3} %)", 100.0 * error, 100.0 * by_chance);
    row(board, draws, &what("calibration error, all classes"), &figure, "≤ 1 %");
    let (error, by_chance) = figures.top_calibration();
    let figure = format!("{:.2} % (by chance {:.2} %)", 100.0 * error, 100.0 * by_chance);
    row(board, draws, &what("calibration error, likeliest class"), &figure, "");
    let figure = format!("{:.4} ± {:.4}", figures.loss.value(), figures.loss.error());
    row(board, draws, &what("log loss"), &figure, "");
    let figure = format!("{:.3} ± {:.3}", figures.size.value(), figures.size.error());
    row(board, draws, &what("size of 99 % sets"), &figure, "");
    row(board, draws, &what("likeliest is true"), &percent(&figures.first), "");
}

fn nine_resistors(asked: &Asked) {
    let circuit = pilot::circuit();
    let assembly = Assembly::new(&circuit);
    let list = pilot::hypotheses();
    let draws = asked.draws;
    let any = |chance: &mut Chance| {
        let class = (chance.share() * pilot::CLASSES as f64) as usize;
        pilot::truth(class, chance)
    };
    for (how, draw) in
        [("model", Draw::Normal), ("uniform", Draw::Uniform), ("corners", Draw::Corner)]
    {
        if !asked.wants(how) {
            continue;
        }
        let mut chance = Chance::new(asked.seed);
        let meter = if draw == Draw::Corner { Draw::Uniform } else { draw };
        let (mut ours, mut bayes) = (Figures::default(), Figures::default());
        let (mut worse, mut itself, mut size) = (Mean::default(), Mean::default(), Mean::default());
        for _ in 0..draws {
            let truth = any(&mut chance);
            let siemens = pilot::siemens(&[truth], &mut chance, draw);
            let y = pilot::read(pilot::volts(&siemens), &mut chance, meter);
            let own = pilot::diagnosed(&assembly, &list, &y);
            ours.add(&own, truth.class, |_| false);
            if draw != Draw::Normal {
                continue;
            }
            let [one, two] = [(); 2].map(|()| exact::exact(&y, &mut chance));
            bayes.add(&one, truth.class, |_| false);
            let loss = |shares: &[f64]| -shares[truth.class].max(1e-30).ln();
            worse.add(loss(&own) - loss(&one));
            itself.add(loss(&two) - loss(&one));
            let mut single = [Figures::default(), Figures::default()];
            single[0].add(&own, truth.class, |_| false);
            single[1].add(&one, truth.class, |_| false);
            size.add(single[0].size.value() - single[1].size.value());
        }
        rows(PILOT, how, draws, &ours);
        if draw != Draw::Normal {
            continue;
        }
        let loss = bayes.loss.value();
        let part = |mean: &Mean, of: f64| {
            format!("{:+.2} ± {:.2} %", 100.0 * mean.value() / of, 100.0 * mean.error() / of)
        };
        let text = format!("{loss:.4}; ours {}", part(&worse, loss));
        row(PILOT, draws, "model: log loss of exact marginalisation", &text, "within 2 %");
        row(PILOT, draws, "model: the same, exact run twice", &part(&itself, loss), "");
        let of = bayes.size.value();
        let text = format!("{of:.3}; ours {}", part(&size, of));
        row(PILOT, draws, "model: set size of exact marginalisation", &text, "within 5 %");
        let apart = 100.0 * (ours.first.value() - bayes.first.value());
        let text = format!("{}; ours {apart:+.2} points", percent(&bayes.first));
        row(PILOT, draws, "model: likeliest of exact is true", &text, "within one point");
    }
    if asked.wants("ranks") {
        let (mut fair, mut least) = (0, 1.0_f64);
        for part in 0..9 {
            let mut chance = Chance::new(asked.seed + part as u64);
            let ranks = pilot::ranks(&assembly, &list, part, draws, &mut chance);
            let p = even(&ranks);
            fair += usize::from(p > 0.01);
            least = least.min(p);
        }
        let text = format!("{fair} of 9 (least {least:.4})");
        row(PILOT, draws, "ranks of values, per part: p > 0.01", &text, "≥ 95 % of parts");
    }
    if asked.wants("pairs") {
        for (how, draw) in [("model", Draw::Normal), ("corners", Draw::Corner)] {
            let mut chance = Chance::new(asked.seed);
            let (mut over, mut most) = (Mean::default(), f64::NEG_INFINITY);
            for _ in 0..draws {
                let first = any(&mut chance);
                let second = loop {
                    let second = any(&mut chance);
                    if second.class / 3 != first.class / 3 {
                        break second;
                    }
                };
                let siemens = pilot::siemens(&[first, second], &mut chance, draw);
                let meter = if draw == Draw::Corner { Draw::Uniform } else { draw };
                let volts = pilot::volts(&siemens);
                if volts.iter().any(|volts| !volts.is_finite()) {
                    continue;
                }
                let y = pilot::read(volts, &mut chance, meter);
                let readings = pilot::readings(&y, &circuit);
                let case = Case::new(&assembly, &readings);
                let Some(ahead) = pilot::displaced(&case, &list, [first, second]) else { continue };
                over.add(f64::from(u8::from(ahead > 100.0_f64.ln())));
                most = most.max(ahead);
            }
            let text = format!("{}; most {:.3}", percent(&over), most.exp());
            let what = format!("{how}: a single fault is over 100 times a true pair");
            row(PILOT, over.count() as usize, &what, &text, "never");
        }
    }
    if asked.wants("unlisted") {
        let mut chance = Chance::new(asked.seed);
        let (mut told, mut wrong) = (Mean::default(), Mean::default());
        for _ in 0..draws {
            let truth = any(&mut chance);
            let part = truth.class / 3;
            let others: Vec<_> = (0..pilot::CLASSES)
                .filter(|class| class / 3 != part)
                .map(|class| list[class].clone())
                .collect();
            let fits = |y: &[f64; 4], list: &[_], share: f64| {
                let readings = pilot::readings(y, &circuit);
                let case = Case::new(&assembly, &readings);
                pilot::traces(&case, list).iter().flatten().any(|one| pilot::fits(one, share))
            };
            let siemens = pilot::siemens(&[truth], &mut chance, Draw::Nominal);
            let exact = pilot::volts(&siemens);
            let siemens = pilot::siemens(&[truth], &mut chance, Draw::Normal);
            let y = pilot::read(pilot::volts(&siemens), &mut chance, Draw::Normal);
            wrong.add(f64::from(u8::from(!fits(&y, &list, 0.99))));
            if !fits(&exact, &others, 0.9999) {
                told.add(f64::from(u8::from(!fits(&y, &others, 0.99))));
            }
        }
        row(PILOT, draws, "nothing fits, with a listed fault", &percent(&wrong), "< 1 %");
        let text = percent(&told);
        row(PILOT, told.count() as usize, "nothing fits, with an unlisted one", &text, "> 90 %");
    }
}

fn demo(asked: &Asked, name: &str) {
    let circuit = bench::demo(name);
    let assembly = Assembly::new(&circuit);
    let board = Board::new(&assembly);
    let draws = asked.draws;
    for (how, parts, meter) in [
        ("model", Draw::Normal, Draw::Normal),
        ("uniform", Draw::Uniform, Draw::Uniform),
        ("corners", Draw::Corner, Draw::Uniform),
    ] {
        if !asked.wants(how) {
            continue;
        }
        let mut chance = Chance::new(asked.seed);
        let (figures, verdicts) = boards::run(&board, draws, &mut chance, (parts, meter));
        rows(name, how, draws, &figures);
        said(name, how, &verdicts);
    }
    if asked.wants("ranks") {
        let (mut fair, mut all, mut uneven) = (0, 0, Vec::new());
        for (truth, hypothesis) in board.list.iter().enumerate() {
            if hypothesis.curve.is_none() || board.weights[truth] == 0.0 {
                continue;
            }
            let mut chance = Chance::new(asked.seed + truth as u64);
            let ranks: Vec<f64> = (0..draws)
                .filter_map(|_| {
                    let place = place(hypothesis, &mut chance);
                    let change = board.overlay(truth, place);
                    let readings =
                        board.readings(&change, &mut chance, (Draw::Normal, Draw::Normal))?;
                    board.rank(&boards::Drawn { truth, place, readings }, &mut chance)
                })
                .collect();
            let p = even(&ranks);
            all += 1;
            fair += usize::from(p > 0.01);
            if p <= 0.01 {
                uneven.push(format!("{} {p:.1e}", hypothesis.name(&circuit)));
            }
        }
        let text = format!("{fair} of {all} {}", uneven.join(", "));
        row(name, draws, "ranks of values, per line: p > 0.01", &text, "≥ 95 % of lines");
    }
    if asked.wants("unlisted") {
        let told = boards::unlisted(&board, draws, &mut Chance::new(asked.seed));
        let text = percent(&told);
        row(name, told.count() as usize, "nothing fits, with an unlisted fault", &text, "> 90 %");
    }
}

fn said(name: &str, how: &str, verdicts: &Verdicts) {
    let draws = verdicts.draws;
    let share = |count: usize| {
        let share = count as f64 / draws as f64;
        let error = (share * (1.0 - share) / draws as f64).sqrt();
        format!("{:.2} ± {:.2} %", 100.0 * share, 100.0 * error)
    };
    let what = |text: &str| format!("{how}: {text}");
    let goal = if how == "corners" { "≤ 0.1 %" } else { "" };
    row(name, draws, &what("the truth is excluded"), &share(verdicts.excluded.len()), goal);
    row(name, draws, &what("the truth is strained"), &share(verdicts.strained), "");
    let goal = if how == "corners" { "" } else { "< 1 %" };
    row(name, draws, &what("nothing fits"), &share(verdicts.nothing), goal);
    for text in verdicts.excluded.iter().take(5) {
        eprintln!("{name} {how}: excluded {text}");
    }
}
