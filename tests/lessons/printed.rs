//! Reads the equations that a lesson prints and solves them with another library.

use std::collections::BTreeMap;

use faer::linalg::solvers::Solve;
use faer::{Col, Mat};

/// A value that is linear in the unknowns: factors by name, and a number.
#[derive(Debug, Clone, Default)]
struct Linear {
    factors: BTreeMap<String, f64>,
    number: f64,
}

impl Linear {
    fn number(number: f64) -> Linear {
        Linear { factors: BTreeMap::new(), number }
    }

    fn add(&mut self, other: &Linear, sign: f64) {
        self.number += sign * other.number;
        for (name, factor) in &other.factors {
            *self.factors.entry(name.clone()).or_default() += sign * factor;
        }
    }

    fn scaled(&self, by: f64) -> Linear {
        let factors = self.factors.iter().map(|(name, factor)| (name.clone(), by * factor));
        Linear { factors: factors.collect(), number: by * self.number }
    }
}

/// Equations as rows that are zero.
#[derive(Debug, Default)]
struct Reader {
    rows: Vec<Linear>,
    quotients: usize,
}

/// What a unit with its prefix is worth; `None` for anything else.
fn unit(word: &str) -> Option<f64> {
    let prefixes = [
        ("p", 1e-12),
        ("n", 1e-9),
        ("µ", 1e-6),
        ("m", 1e-3),
        ("", 1.0),
        ("k", 1e3),
        ("M", 1e6),
        ("G", 1e9),
        ("T", 1e12),
    ];
    let units = ["V", "A", "Ω", "S", "W"];
    let found = prefixes
        .into_iter()
        .find(|(prefix, _)| word.strip_prefix(prefix).is_some_and(|rest| units.contains(&rest)));
    found.map(|(_, worth)| worth)
}

/// A printed value with the worth of its last digit.
pub fn value(text: &str) -> (f64, f64) {
    let (digits, word) = text.trim().split_once(' ').unwrap_or((text.trim(), ""));
    let scale = if word.is_empty() { 1.0 } else { unit(word).unwrap_or_else(|| panic!("{text}")) };
    let number: f64 = digits.parse().unwrap_or_else(|_| panic!("{text}"));
    let (plain, power) = digits.split_once('e').unwrap_or((digits, "0"));
    let decimals = plain.split_once('.').map_or(0, |(_, after)| after.len() as i32);
    let power: i32 = power.parse().unwrap();
    (number * scale, scale * 10.0_f64.powi(power - decimals))
}

struct Cursor<'a> {
    letters: Vec<char>,
    at: usize,
    reader: &'a mut Reader,
}

impl Cursor<'_> {
    fn peek(&self) -> Option<char> {
        self.letters.get(self.at).copied()
    }

    fn blanks(&mut self) {
        while self.peek() == Some(' ') {
            self.at += 1;
        }
    }

    fn expect(&mut self, letter: char) {
        assert_eq!(self.peek(), Some(letter), "at {} of {:?}", self.at, self.letters);
        self.at += 1;
    }

    fn side(&mut self) -> Linear {
        self.blanks();
        let mut sum = Linear::default();
        let mut sign = 1.0;
        if self.peek() == Some('-') {
            (self.at, sign) = (self.at + 1, -1.0);
        }
        loop {
            let term = self.term();
            sum.add(&term, sign);
            self.blanks();
            sign = match self.peek() {
                Some('+') => 1.0,
                Some('-') => -1.0,
                _ => return sum,
            };
            self.at += 1;
        }
    }

    fn term(&mut self) -> Linear {
        let mut found = self.factor();
        loop {
            // A long line may be broken before a factor.
            let rest = &self.letters[self.at..];
            let blanks = rest.iter().take_while(|letter| **letter == ' ').count();
            if matches!(rest.get(blanks), Some('·' | '/')) {
                self.at += blanks;
            }
            match self.peek() {
                Some('·') => {
                    self.at += 1;
                    let other = self.factor();
                    found = match (found.factors.is_empty(), other.factors.is_empty()) {
                        (true, _) => other.scaled(found.number),
                        (_, true) => found.scaled(other.number),
                        _ => panic!("a product of unknowns in {:?}", self.letters),
                    };
                }
                Some('/') => {
                    self.at += 1;
                    let below = self.factor();
                    assert!(below.factors.is_empty(), "{:?}", self.letters);
                    // The quotient is an unknown of its own, so that milliohms and megohms do not
                    // meet in one sum.
                    let name = format!("#{}", self.reader.quotients);
                    self.reader.quotients += 1;
                    let mut row = found;
                    row.factors.insert(name.clone(), -below.number);
                    self.reader.rows.push(row);
                    found = Linear { factors: BTreeMap::from([(name, 1.0)]), number: 0.0 };
                }
                _ => return found,
            }
        }
    }

    fn factor(&mut self) -> Linear {
        self.blanks();
        match self.peek() {
            Some('(') => {
                self.at += 1;
                let inner = self.side();
                self.expect(')');
                inner
            }
            Some(letter @ ('V' | 'I')) => {
                self.at += 1;
                let (start, mut depth) = (self.at, 0);
                loop {
                    match self.peek() {
                        Some('(') => depth += 1,
                        Some(')') => depth -= 1,
                        None => panic!("{:?}", self.letters),
                        _ => {}
                    }
                    self.at += 1;
                    if depth == 0 {
                        break;
                    }
                }
                let name: String = self.letters[start..self.at].iter().collect();
                let factors = BTreeMap::from([(format!("{letter}{name}"), 1.0)]);
                Linear { factors, number: 0.0 }
            }
            _ => self.number(),
        }
    }

    fn number(&mut self) -> Linear {
        let start = self.at;
        while let Some(letter) = self.peek() {
            let after_e = self.at > start && self.letters[self.at - 1] == 'e';
            if letter.is_ascii_digit()
                || letter == '.'
                || letter == 'e'
                || (letter == '-' && after_e)
            {
                self.at += 1;
            } else {
                break;
            }
        }
        let text: String = self.letters[start..self.at].iter().collect();
        let number: f64 = text.parse().unwrap_or_else(|_| panic!("{text} in {:?}", self.letters));
        let rest: String = self.letters[self.at..].iter().collect();
        let word: String = rest
            .strip_prefix(' ')
            .unwrap_or("")
            .chars()
            .take_while(|one| one.is_alphabetic())
            .collect();
        match unit(&word) {
            Some(worth) => {
                self.at += 1 + word.chars().count();
                Linear::number(number * worth)
            }
            None => Linear::number(number),
        }
    }
}

/// The unknowns of printed equations, solved.
pub fn solved(equations: &[String]) -> BTreeMap<String, f64> {
    let mut reader = Reader::default();
    for equation in equations {
        let mut cursor = Cursor { letters: equation.chars().collect(), at: 0, reader: &mut reader };
        let mut left = cursor.side();
        cursor.blanks();
        cursor.expect('=');
        let right = cursor.side();
        assert_eq!(cursor.peek(), None, "{equation}");
        left.add(&right, -1.0);
        reader.rows.push(left);
    }
    let mut names: Vec<String> = Vec::new();
    for name in reader.rows.iter().flat_map(|row| row.factors.keys()) {
        if !names.contains(name) {
            names.push(name.clone());
        }
    }
    let n = names.len();
    assert_eq!(reader.rows.len(), n, "as many equations as unknowns: {equations:#?}");
    if n == 0 {
        return BTreeMap::new();
    }
    let largest: Vec<f64> = reader
        .rows
        .iter()
        .map(|row| row.factors.values().fold(0.0_f64, |most, factor| most.max(factor.abs())))
        .collect();
    let place = |name: &String| names.iter().position(|known| known == name).unwrap();
    let mut matrix = Mat::<f64>::zeros(n, n);
    for (at, row) in reader.rows.iter().enumerate() {
        for (name, factor) in &row.factors {
            matrix[(at, place(name))] = factor / largest[at];
        }
    }
    let right = Col::from_fn(n, |at| -reader.rows[at].number / largest[at]);
    let factors = matrix.partial_piv_lu();
    let mut solution = factors.solve(&right);
    for _ in 0..4 {
        let left = Col::from_fn(n, |row| {
            right[row] - (0..n).map(|column| matrix[(row, column)] * solution[column]).sum::<f64>()
        });
        solution += factors.solve(&left);
    }
    names.into_iter().enumerate().map(|(at, name)| (name, solution[at])).collect()
}

/// The equations with values of a lesson as text: joined where they go over several lines.
pub fn equations_of_text(text: &str) -> Vec<String> {
    let after = text.lines().skip_while(|line| line.trim() != "With the values").skip(1);
    let mut found: Vec<String> = Vec::new();
    for line in after.take_while(|line| !line.is_empty()) {
        if line.starts_with("   ") {
            let last = found.last_mut().expect("a first line");
            last.push(' ');
            last.push_str(line.trim());
        } else {
            let (_, equation) = line.split_once(": ").unwrap_or_else(|| panic!("{line}"));
            found.push(equation.trim().to_owned());
        }
    }
    found
}

/// The same of Markdown.
pub fn equations_of_markdown(text: &str) -> Vec<String> {
    let after = text.lines().skip_while(|line| *line != "### With the values").skip(3);
    after
        .take_while(|line| *line != "```")
        .map(|line| line.split_once(": ").unwrap_or_else(|| panic!("{line}")).1.to_owned())
        .collect()
}

/// The solution as the text prints it: unknowns with value and worth of the last digit.
pub fn solution_of_text(text: &str) -> Vec<(String, f64, f64)> {
    let after = text.lines().skip_while(|line| *line != "Solution").skip(2);
    after
        .take_while(|line| line.starts_with(" V(") || line.starts_with(" I("))
        .map(|line| {
            let (name, printed) = line.trim().split_once(") ").unwrap_or_else(|| panic!("{line}"));
            let (value, count) = value(printed);
            (format!("{name})"), value, count)
        })
        .collect()
}
