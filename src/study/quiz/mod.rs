//! A quiz: a hidden fault on a board drawn by seed, the readings that a student asks for, hints,
//! guesses, and the marking.
//!
//! ```text
//! seed ─ hidden ─▶ a fault from the list, part values and a meter inside their tolerances
//!          │ board      what the meter shows, each reading by itself
//!          │ symptom    what is seen from outside
//!          ▼ way        how the planner finds it on this very board
//!        Quiz ─▶ Play   what a student did: readings, hints, guesses, predictions
//!                  │
//!                  ▼
//!               Marking points, every reading replayed        Sheet: the same on paper
//! ```

mod board;
mod guess;
mod hidden;
mod hint;
mod marking;
mod play;
mod points;
mod prediction;
mod sheet;
mod symptom;
mod way;

pub use board::Board;
pub use guess::Judgement;
pub use hidden::{HIGHEST_LEVEL, Hidden};
pub use hint::Hint;
pub use marking::{Marking, Replayed, Standing};
pub use play::{Guess, Play, Predicted, Reply};
pub use points::{Performance, Points, points};
pub use prediction::{Digits, Match, Prediction};
pub use sheet::{Question, Sheet, sheets};
pub use symptom::{Sign, Symptom};
pub use way::{Taken, Way};

use std::cell::OnceCell;

use crate::circuit::{Circuit, Meter, Overlay, Reading, RedOn};
use crate::engine::Assembly;
use crate::fault::Fault;

/// A quiz with one hidden fault.
#[derive(Debug)]
pub struct Quiz<'a> {
    assembly: &'a Assembly<'a>,
    seed: u64,
    level: u8,
    hidden: Hidden,
    /// The change that makes the board of it: the fault, and part values of its own.
    overlay: Overlay,
    board: Board<'a>,
    symptom: Symptom,
    way: Way,
    /// What no measurement tells from what is hidden, once it was asked for.
    inseparable: OnceCell<Vec<Fault>>,
}

/// Boards that are drawn before it is said that nothing can be hidden.
const DRAWS: usize = 400;

/// The meter of a quiz: the usual one, red on the net where a diode reading names one net alone.
pub fn quiz_meter() -> Meter {
    let mut meter = Meter::default();
    meter.diode.red_on = Some(RedOn::Net);
    meter
}

impl<'a> Quiz<'a> {
    /// Hides a fault: one of the list by its weight, with a value from its spread, on a board whose
    /// part values lie evenly inside their tolerances, read with a meter inside its accuracy. The same
    /// seed hides the same. Only a fault is taken that readings show, and that the planned way finds.
    ///
    /// Level 1 hides what is broken outright, level 2 also what changed its value or lost its contact,
    /// level 3 whatever is on the list, and tells nothing of what is seen from outside.
    ///
    /// `None` where the board has no fault of that level that readings show.
    ///
    /// ```
    /// # fn main() -> Result<(), String> {
    /// use ohmhound::circuit::Circuit;
    /// use ohmhound::device::two_pin;
    /// use ohmhound::engine::Assembly;
    /// use ohmhound::study::{Judgement, Quiz};
    ///
    /// let mut circuit = Circuit::new("divider", "GND");
    /// two_pin(&mut circuit, "V1", "supply", ["IN", "GND"], &[("volts", 12.0)])?;
    /// two_pin(&mut circuit, "R1", "resistor", ["IN", "OUT"], &[("value", 2e3)])?;
    /// two_pin(&mut circuit, "R2", "resistor", ["OUT", "GND"], &[("value", 1e3)])?;
    /// let assembly = Assembly::new(&circuit);
    /// let quiz = Quiz::new(&assembly, 7, 1).ok_or("something can be hidden")?;
    /// let mut play = quiz.play();
    /// let judged = play.guess(quiz.hidden().fault);
    /// assert_eq!(judged, Judgement::Hidden);
    /// # Ok(())
    /// # }
    /// ```
    pub fn new(assembly: &'a Assembly<'a>, seed: u64, level: u8) -> Option<Quiz<'a>> {
        let meter = quiz_meter();
        let drawer = hidden::Drawer::new(assembly, seed, level, &meter)?;
        (0..DRAWS).find_map(|number| {
            let (hidden, overlay) = drawer.draw(number)?;
            let board = Board::new(assembly, &overlay, seed, &meter)?;
            let symptom = Symptom::of(assembly, &board, &meter, level);
            let way = Way::planned(assembly, &board, &symptom, &meter);
            let found = way.finds(assembly.circuit(), &hidden.fault);
            found.then(|| Quiz {
                assembly,
                seed,
                level,
                hidden,
                overlay,
                board,
                symptom,
                way,
                inseparable: OnceCell::new(),
            })
        })
    }

    /// A game that has just begun.
    pub fn play(&self) -> Play<'_> {
        Play::new(self)
    }

    /// The circuit.
    pub fn circuit(&self) -> &'a Circuit {
        self.assembly.circuit()
    }

    /// The seed.
    pub fn seed(&self) -> u64 {
        self.seed
    }

    /// The level.
    pub fn level(&self) -> u8 {
        self.level
    }

    /// What is hidden.
    pub fn hidden(&self) -> &Hidden {
        &self.hidden
    }

    /// The board with what is hidden on it.
    pub fn board(&self) -> &Board<'a> {
        &self.board
    }

    /// What is seen from outside.
    pub fn symptom(&self) -> &Symptom {
        &self.symptom
    }

    /// How the planner finds it.
    pub fn way(&self) -> &Way {
        &self.way
    }

    /// The meter that the board is read with.
    pub fn meter(&self) -> Meter {
        self.board.meter()
    }

    /// What is known after some readings: the symptom and they.
    fn known<'r>(&self, readings: impl Iterator<Item = &'r Reading>) -> Vec<Reading> {
        self.symptom.readings.iter().cloned().chain(readings.cloned()).collect()
    }

    fn is_hidden(&self, fault: &Fault) -> bool {
        fault.with_value(None) == self.hidden.fault.with_value(None)
    }
}
