//! Mutations that know what files of this kind are made of.
//!
//! A byte changed at random makes most texts no TOML at all; a word put in place of another one, a
//! line copied under another name, makes another board.

use std::sync::OnceLock;

use ohmhound::device::{ALL, Pins, Shape};
use rand_xoshiro::SplitMix64;
use rand_xoshiro::rand_core::{Rng, SeedableRng};

/// The most bytes that a mutation grows to.
const MOST: usize = 1 << 14;

/// Numbers that are hard on arithmetic, and words of files that no table of a kind holds.
const WORDS: &[&str] = &[
    "0",
    "-1",
    "1",
    "1e-12",
    "1e-6",
    "1e12",
    "1e308",
    "-1e308",
    "1e-308",
    "nan",
    "inf",
    "0.5",
    "2",
    "1n",
    "1p",
    "1 TΩ",
    "10 MΩ",
    "1 mΩ",
    "4k7",
    "R05",
    "0R",
    "5 %",
    "99 %",
    "100 %",
    "0 %",
    "1 V",
    "24 V",
    "-5 V",
    "60 V",
    "1e6 V",
    "10 mA",
    "1 µA",
    "1 kA",
    "25 °C",
    "-100 °C",
    "250 °C",
    "0.7 V at 10 mA",
    "5.1 V at 20 mA",
    "1.1 V / 1.2 V / 1.3 V",
    "50 mΩ at 4.5 V",
    "± 10 %",
    "OL",
    "< 0.05",
    "> 20",
    "3.1..3.4",
    "24 ± 0.1",
    "true",
    "false",
    "lit",
    "dark",
    "hot",
    "down 1M",
    "up 1 µA",
    "GND",
    "A",
    "B",
    "EN",
    "VIN",
    "nets",
    "pins",
    "kind",
    "type",
    "value",
    "tolerance",
    "fitted",
    "maximum",
    "ground",
    "shelf",
    "[parts]",
    "[types.t]",
    "[board]",
    "[limits]",
    "[setups.s]",
    "base",
    "disconnect",
    "connect",
    "open",
    "closed",
    "lifted",
    "temperature",
    "resistance",
    "volts",
    "limit",
    "neighbours",
    "weight",
    "budget",
    "no_access",
    "hard_to_reach",
    "min",
    "max",
    "powered",
    "unpowered",
    "[powered.volts]",
    "[powered.amps]",
    "[unpowered.ohms]",
    "[unpowered.diode]",
    "[unpowered.beep]",
    "[powered.seen]",
    "[good.unpowered.ohms]",
    "[after.powered.volts]",
    "[meter]",
    "[job]",
    "[seen]",
    "[[done]]",
    "action",
    "part",
    "with",
    "accuracy",
    "input",
    "to",
    "to_ground",
    "draws",
    "clamp_to",
    "net",
    "shorted",
    "drifted",
    "leaky",
    "resistive",
    "reversed",
    "absent",
    "bridge",
    "exchanged",
    "leak",
    "dead",
    "stuck",
    "high",
    "low",
    "lost",
    "alike",
    "and",
    "replaced",
    "ohms",
    "diode",
    "amps",
    "beep",
    "seen",
    "undo",
    "[[stock]]",
    "rated",
    "quantity",
    "note",
    "setup,quantity,place,value",
    "value,tolerance,rated,quantity,note",
    "\"",
    "'",
    "\\",
    ",",
    "=",
    "{",
    "}",
    "[",
    "]",
    ".",
    "#",
    "\u{feff}",
    "\u{200b}",
    "漢",
    "\r\n",
    "\t",
    "\0",
    "1979-05-27",
    "0x1f",
    "1_000",
];

/// The words above, and those of the kinds' tables.
fn known() -> &'static [String] {
    static KNOWN: OnceLock<Vec<String>> = OnceLock::new();
    KNOWN.get_or_init(|| {
        let mut words: Vec<String> = WORDS.iter().map(|word| (*word).to_owned()).collect();
        for kind in ALL {
            words.push(format!("kind = \"{}\"", kind.name()));
            words.push(kind.name().to_owned());
            let named: &[&[&str]] = match kind.pins() {
                Pins::Named(all) => &[all],
                Pins::Fitted(needed, others) => &[needed, others],
                _ => &[],
            };
            let pins: Vec<String> =
                named.concat().iter().map(|pin| format!("{pin} = \"{pin}\"")).collect();
            words.push(format!("pins = {{ {} }}", pins.join(", ")));
            for row in kind.parameters() {
                words.push(row.name.to_owned());
                if let Shape::Word(all) = row.shape {
                    words.extend(all.iter().map(|word| (*word).to_owned()));
                }
            }
        }
        words.sort();
        words.dedup();
        words
    })
}

struct Chance(SplitMix64);

impl Chance {
    /// A number below another one; 0 below 0.
    fn below(&mut self, most: usize) -> usize {
        (self.0.next_u64() % most.max(1) as u64) as usize
    }

    fn one<'a, T: ?Sized>(&mut self, all: &[&'a T]) -> Option<&'a T> {
        all.get(self.below(all.len())).copied()
    }
}

/// Another input made from one; the same seed makes the same.
pub fn mutated(bytes: &[u8], seed: u64) -> Vec<u8> {
    let mut chance = Chance(SplitMix64::seed_from_u64(seed));
    let mut new = bytes.to_vec();
    for _ in 0..=chance.below(3) {
        new = match std::str::from_utf8(&new) {
            Ok(text) => changed(text, &mut chance),
            Err(_) => by_byte(&new, &mut chance),
        };
    }
    new.truncate(MOST);
    new
}

fn by_byte(bytes: &[u8], chance: &mut Chance) -> Vec<u8> {
    let mut new = bytes.to_vec();
    let at = chance.below(new.len() + 1);
    match chance.below(3) {
        0 => new.truncate(at),
        1 => new.insert(at, chance.below(256) as u8),
        _ if at < new.len() => new[at] ^= 1 << chance.below(8),
        _ => {}
    }
    new
}

/// Words of a text with their places.
fn words(text: &str) -> Vec<(usize, &str)> {
    let is_word = |c: char| c.is_alphanumeric() || "_-+.%µΩ±°".contains(c);
    let mut found: Vec<(usize, &str)> = Vec::new();
    for piece in text.split(|c| !is_word(c)).filter(|piece| !piece.is_empty()) {
        found.push((piece.as_ptr() as usize - text.as_ptr() as usize, piece));
    }
    found
}

fn changed(text: &str, chance: &mut Chance) -> Vec<u8> {
    let all = words(text);
    let lines: Vec<&str> = text.split_inclusive('\n').collect();
    let put = |at: usize, old: usize, new: &str| {
        [&text.as_bytes()[..at], new.as_bytes(), &text.as_bytes()[at + old..]].concat()
    };
    match chance.below(9) {
        0 => by_byte(text.as_bytes(), chance),
        1 | 2 if !all.is_empty() => {
            let (at, old) = all[chance.below(all.len())];
            let (_, new) = all[chance.below(all.len())];
            put(at, old.len(), new)
        }
        3 if !all.is_empty() => {
            let (at, old) = all[chance.below(all.len())];
            put(at, old.len(), &known()[chance.below(known().len())])
        }
        4 => {
            let known = &known()[chance.below(known().len())];
            let at = all.get(chance.below(all.len())).map_or(0, |(at, _)| *at);
            put(at, 0, known)
        }
        5 if !lines.is_empty() => {
            // A line once more, its first number another one: a part like another.
            let line = lines[chance.below(lines.len())];
            let digit = line.find(|c: char| c.is_ascii_digit());
            let number = chance.below(30).to_string();
            let copy = match digit {
                Some(at) => format!("{}{number}{}", &line[..at], &line[at + 1..]),
                None => line.to_owned(),
            };
            let at = chance.below(lines.len());
            [&lines[..at], &[copy.as_str()], &lines[at..]].concat().concat().into_bytes()
        }
        6 if lines.len() > 1 => {
            let gone = chance.below(lines.len());
            [&lines[..gone], &lines[gone + 1..]].concat().concat().into_bytes()
        }
        7 if lines.len() > 1 => {
            let mut lines = lines;
            let (a, b) = (chance.below(lines.len()), chance.below(lines.len()));
            lines.swap(a, b);
            lines.concat().into_bytes()
        }
        _ => {
            // A number a thousand times larger or smaller, or none.
            let is_number =
                |word: &&(usize, &str)| word.1.starts_with(|c: char| c.is_ascii_digit());
            let numbers: Vec<&(usize, &str)> = all.iter().filter(is_number).collect();
            let Some((at, old)) = chance.one(&numbers) else {
                return by_byte(text.as_bytes(), chance);
            };
            let suffixes = ["e3", "e-3", "e9", "e-9", "k", "m", "M", "0000"];
            let suffix = chance.one(&suffixes).unwrap_or_default();
            put(*at, old.len(), &format!("{old}{suffix}"))
        }
    }
}
