//! Calibration by simulation.
#![allow(clippy::print_stdout)]

#[path = "../tests/bench/mod.rs"]
mod bench;
#[allow(dead_code)]
#[path = "../tests/calibration/boards.rs"]
mod boards;
#[path = "../tests/chance/mod.rs"]
mod chance;
#[allow(dead_code)]
#[path = "../tests/calibration/figures.rs"]
mod figures;
#[allow(dead_code)]
#[path = "../tests/calibration/pilot.rs"]
mod pilot;

use boards::Board;
use chance::{Chance, Draw};
use figures::{Figures, Mean};
use ohmhound::engine::Assembly;

fn main() {
    let args: Vec<String> = std::env::args().collect();
    if let Some(names) = args.iter().find_map(|a| a.strip_prefix("boards=")) {
        let draws: usize = std::env::args().find_map(|a| a.parse().ok()).unwrap_or(300);
        for name in names.split(',') {
            let circuit = bench::demo(name);
            let assembly = Assembly::new(&circuit);
            let board = Board::new(&assembly);
            for how in [
                (Draw::Normal, Draw::Normal),
                (Draw::Uniform, Draw::Uniform),
                (Draw::Corner, Draw::Uniform),
            ] {
                let start = std::time::Instant::now();
                let (f, v) = boards::run(&board, draws, &mut Chance::new(7), how);
                println!(
                    "{name} {how:?} {} hyp: cov {:.4}±{:.4} size {:.3} loss {:.4}±{:.4} top {:.4} ece {:?} topece {:?} {:.2} ms",
                    board.list.len(),
                    f.coverage.value(),
                    f.coverage.error(),
                    f.size.value(),
                    f.loss.value(),
                    f.loss.error(),
                    f.first.value(),
                    f.calibration(),
                    f.top_calibration(),
                    start.elapsed().as_secs_f64() * 1e3 / draws as f64
                );
                println!(
                    "  strained {} excluded {} nothing {} other {:.4}",
                    v.strained,
                    v.excluded.len(),
                    v.nothing,
                    v.other.value()
                );
                for e in v.excluded.iter().take(6) {
                    println!("     {e}");
                }
            }
        }
        return;
    }
    let draws: usize = std::env::args().find_map(|a| a.parse().ok()).unwrap_or(300);
    let circuit = pilot::circuit();
    let assembly = Assembly::new(&circuit);
    let list = pilot::hypotheses();
    let mut chance = Chance::new(1);
    let (mut ours, mut exact) = (Figures::default(), Figures::default());
    let (mut kl, mut own) = (Mean::default(), Mean::default());
    let (mut t1, mut t2) = (0.0, 0.0);
    for _ in 0..draws {
        let class = (chance.share() * 27.0) as usize;
        let truth = pilot::truth(class, &mut chance);
        let siemens = pilot::siemens(&[truth], &mut chance, Draw::Normal);
        let y = pilot::read(pilot::volts(&siemens), &mut chance, Draw::Normal);
        let start = std::time::Instant::now();
        let a = pilot::diagnosed(&assembly, &list, &y);
        t1 += start.elapsed().as_secs_f64();
        let start = std::time::Instant::now();
        let b = pilot::exact(&y, &mut chance);
        t2 += start.elapsed().as_secs_f64();
        let c = pilot::exact(&y, &mut chance);
        ours.add(&a, class, |_| false);
        exact.add(&b, class, |_| false);
        kl.add((b[class].max(1e-30) / a[class].max(1e-30)).ln());
        own.add((b[class].max(1e-30) / c[class].max(1e-30)).ln());
        if (b[class].max(1e-30) / a[class].max(1e-30)).ln().abs() > 0.5 {
            println!("{truth:?} ours {:.4} exact {:.4}", a[class], b[class]);
        }
    }
    for (name, f) in [("ours", &ours), ("exact", &exact)] {
        println!(
            "{name}: cov {:.4}±{:.4} size {:.3} loss {:.4}±{:.4} top {:.4} ece {:?} topece {:?}",
            f.coverage.value(),
            f.coverage.error(),
            f.size.value(),
            f.loss.value(),
            f.loss.error(),
            f.first.value(),
            f.calibration(),
            f.top_calibration()
        );
    }
    println!(
        "loss ours-exact {:.5}±{:.5}; own {:.5}±{:.5}; ms {:.2} {:.2}",
        kl.value(),
        kl.error(),
        own.value(),
        own.error(),
        t1 * 1e3 / draws as f64,
        t2 * 1e3 / draws as f64
    );
}
