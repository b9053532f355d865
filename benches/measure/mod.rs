//! What the benches share: several functions timed in one run, ratios between them with their
//! intervals, memory beside each, and claims that are kept or not.
//!
//! Single times depend on the machine; a claim is about a ratio of two of them, or about how one
//! grows. The statistics are `criterion`'s: the median with its bootstrap interval of 95 %.
#![allow(dead_code, reason = "each bench uses its own part of it")]
#![allow(clippy::print_stdout)]

pub mod boards;

use std::fs;
use std::hint::black_box;
use std::path::PathBuf;
use std::time::Duration;

use allocation_counter::AllocationInfo;
use criterion::{Criterion, SamplingMode};

/// Time of one unit of work, in nanoseconds.
#[derive(Debug, Clone, Copy)]
pub struct Time {
    pub median: f64,
    pub low: f64,
    pub high: f64,
}

impl Time {
    /// The same for a unit that is this many times as small.
    pub fn over(self, units: f64) -> Time {
        Time { median: self.median / units, low: self.low / units, high: self.high / units }
    }

    /// How many times as long as another one, with the ends that both intervals allow.
    pub fn ratio(self, other: Time) -> Time {
        Time {
            median: self.median / other.median,
            low: self.low / other.high,
            high: self.high / other.low,
        }
    }

    pub fn words(self) -> String {
        nanoseconds(self.median)
    }
}

/// The timing of one bench.
pub struct Measure {
    criterion: Criterion,
    folder: PathBuf,
    group: String,
}

/// One row of the table.
struct Row {
    what: String,
    time: Time,
    ratio: Option<Time>,
    memory: Option<Memory>,
}

/// Allocations of one call.
#[derive(Debug, Clone, Copy)]
pub struct Memory {
    pub allocations: u64,
    pub peak: u64,
}

impl Measure {
    /// A bench by its name; each function takes about a second.
    pub fn new(group: &str) -> Measure {
        let folder = PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join("benches");
        let criterion = Criterion::default()
            .output_directory(&folder)
            .with_output_color(false)
            .warm_up_time(Duration::from_millis(200))
            .measurement_time(Duration::from_millis(800));
        Measure { criterion, folder, group: group.to_owned() }
    }

    /// The same for functions of a tenth of a second and more: fewer samples of each.
    pub fn of_long_runs(group: &str) -> Measure {
        let mut measure = Measure::new(group);
        measure.criterion = measure.criterion.sample_size(10);
        measure
    }

    /// Times a function by a short name of letters, digits and lines.
    pub fn time<R>(&mut self, name: &str, run: impl FnMut() -> R) -> Time {
        self.sampled(name, 30, run)
    }

    /// The same for a function that takes a tenth of a second and more: in as few samples as there
    /// can be.
    pub fn time_slowly<R>(&mut self, name: &str, run: impl FnMut() -> R) -> Time {
        self.sampled(name, 10, run)
    }

    fn sampled<R>(&mut self, name: &str, samples: usize, mut run: impl FnMut() -> R) -> Time {
        let mut group = self.criterion.benchmark_group(&self.group);
        group.sample_size(samples).sampling_mode(SamplingMode::Flat);
        group.bench_function(name, |bencher| bencher.iter(|| black_box(run())));
        group.finish();
        let path = self.folder.join(&self.group).join(name).join("new/estimates.json");
        let text = fs::read_to_string(&path).expect("the estimates of this run");
        let estimates: serde_json::Value = serde_json::from_str(&text).expect("estimates as JSON");
        let median = &estimates["median"];
        let interval = &median["confidence_interval"];
        let number = |value: &serde_json::Value| value.as_f64().expect("a number");
        Time {
            median: number(&median["point_estimate"]),
            low: number(&interval["lower_bound"]),
            high: number(&interval["upper_bound"]),
        }
    }
}

/// What one call allocates.
pub fn memory<R>(mut run: impl FnMut() -> R) -> Memory {
    let AllocationInfo { count_total, bytes_max, .. } = allocation_counter::measure(|| {
        black_box(run());
    });
    Memory { allocations: count_total, peak: bytes_max }
}

/// The table of a bench, with its claims under it.
#[derive(Default)]
pub struct Report {
    rows: Vec<Row>,
    claims: Vec<String>,
}

impl Report {
    pub fn row(&mut self, what: impl Into<String>, time: Time) -> &mut Report {
        self.rows.push(Row { what: what.into(), time, ratio: None, memory: None });
        self
    }

    /// The last row beside a reference.
    pub fn beside(&mut self, reference: Time) -> &mut Report {
        if let Some(row) = self.rows.last_mut() {
            row.ratio = Some(row.time.ratio(reference));
        }
        self
    }

    pub fn with(&mut self, memory: Memory) -> &mut Report {
        if let Some(row) = self.rows.last_mut() {
            row.memory = Some(memory);
        }
        self
    }

    pub fn at_most(&mut self, claim: &str, found: Time, limit: f64, words: fn(f64) -> String) {
        self.claim(claim, found, (limit, found.median <= limit, "at most"), words);
    }

    pub fn at_least(&mut self, claim: &str, found: Time, limit: f64, words: fn(f64) -> String) {
        self.claim(claim, found, (limit, found.median >= limit, "at least"), words);
    }

    fn claim(
        &mut self,
        claim: &str,
        found: Time,
        (limit, kept, side): (f64, bool, &str),
        words: fn(f64) -> String,
    ) {
        let kept = if kept { "kept" } else { "NOT KEPT" };
        let interval = if found.low == found.high {
            String::new()
        } else {
            format!(" ({} to {})", words(found.low), words(found.high))
        };
        self.claims.push(format!(
            "{claim}: {}{interval}, {side} {}: {kept}",
            words(found.median),
            words(limit)
        ));
    }

    pub fn print(&self) {
        let header = ("what", "time", "95 % interval", "ratio", "allocations", "peak");
        let (what, time, interval, ratio, allocations, peak) = header;
        let line = |cells: [&str; 6]| {
            let [what, time, interval, ratio, allocations, peak] = cells;
            println!("{what:44} {time:>9} {interval:>21} {ratio:>9} {allocations:>11} {peak:>9}");
        };
        println!();
        line([what, time, interval, ratio, allocations, peak]);
        for row in &self.rows {
            let interval =
                format!("{} to {}", nanoseconds(row.time.low), nanoseconds(row.time.high));
            let ratio = row.ratio.map_or_else(String::new, |ratio| share(ratio.median));
            let (allocations, peak) = match row.memory {
                Some(memory) => (memory.allocations.to_string(), bytes(memory.peak)),
                None => Default::default(),
            };
            line([&row.what, &row.time.words(), &interval, &ratio, &allocations, &peak]);
        }
        for claim in &self.claims {
            println!("{claim}");
        }
    }
}

/// The same of counts.
pub fn exponent_of(points: &[(f64, u64)]) -> Time {
    let points: Vec<(f64, Time)> = points.iter().map(|(n, at)| (*n, exact(*at as f64))).collect();
    exponent(&points)
}

/// The exponent of growth: the slope of a line through the logarithms, by least squares.
pub fn exponent(points: &[(f64, Time)]) -> Time {
    let slope = |time: fn(&Time) -> f64| {
        let logs: Vec<(f64, f64)> = points.iter().map(|(n, at)| (n.ln(), time(at).ln())).collect();
        let count = logs.len() as f64;
        let mean_x = logs.iter().map(|(x, _)| x).sum::<f64>() / count;
        let mean_y = logs.iter().map(|(_, y)| y).sum::<f64>() / count;
        let top: f64 = logs.iter().map(|(x, y)| (x - mean_x) * (y - mean_y)).sum();
        top / logs.iter().map(|(x, _)| (x - mean_x).powi(2)).sum::<f64>()
    };
    let median = slope(|time| time.median);
    Time { median, low: median, high: median }
}

/// A number that was counted rather than timed.
pub fn exact(value: f64) -> Time {
    Time { median: value, low: value, high: value }
}

pub fn plain(value: f64) -> String {
    format!("{value:.0}")
}

pub fn share(value: f64) -> String {
    match value.abs() {
        size if size >= 100.0 => format!("{value:.0}"),
        size if size >= 1.0 => format!("{value:.2}"),
        _ => format!("{value:.4}"),
    }
}

pub fn nanoseconds(value: f64) -> String {
    match value.abs() {
        size if size < 1e3 => format!("{value:.2} ns"),
        size if size < 1e6 => format!("{:.2} µs", value / 1e3),
        size if size < 1e9 => format!("{:.2} ms", value / 1e6),
        _ => format!("{:.2} s", value / 1e9),
    }
}

pub fn bytes(value: u64) -> String {
    match value {
        value if value < 1024 => format!("{value} B"),
        value if value < 1024 * 1024 => format!("{:.1} kB", value as f64 / 1024.0),
        value => format!("{:.1} MB", value as f64 / 1024.0 / 1024.0),
    }
}
