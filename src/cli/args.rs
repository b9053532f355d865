//! What can be typed.

use std::path::PathBuf;

use clap::{Args as ClapArgs, Parser, Subcommand, ValueEnum};

/// What the exit status says.
pub(super) const EXITS: &str = "Exit status: 0 done; 1 the answer is \"no\"; 2 bad input or usage; \
                                3 no operating point.";

/// Finds which single fault on a board explains the readings of a bench meter.
#[derive(Debug, Parser)]
#[command(name = "ohmhound", version = env!("OHMHOUND_VERSION"), max_term_width = 80)]
#[command(after_help = EXITS)]
pub(super) struct Args {
    /// When to use colour; `auto` is on a terminal only, and NO_COLOR is honoured
    #[arg(
        long,
        value_enum,
        value_name = "WHEN",
        default_value = "auto",
        global = true,
        display_order = 99
    )]
    pub(super) color: Color,
    /// Threads to compute with; all cores when left out
    #[arg(
        long,
        value_name = "N",
        global = true,
        display_order = 99,
        value_parser = clap::value_parser!(u16).range(1..=1024)
    )]
    pub(super) threads: Option<u16>,
    #[command(subcommand)]
    pub(super) command: Command,
}

// The values have no help of their own: with it, the help of every command fills a screen.
/// When to use colour.
#[derive(Debug, Clone, Copy, ValueEnum)]
pub(super) enum Color {
    Auto,
    Always,
    Never,
}

/// The form of the output.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(super) enum Format {
    Text,
    Json,
}

/// The form of a tree.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(super) enum TreeFormat {
    Text,
    Json,
    Markdown,
}

/// The commands.
#[derive(Debug, Subcommand)]
pub(super) enum Command {
    /// Write a commented circuit file to fill in from the schematic
    Starter(Starter),
    /// Look over a circuit file: structure, odd values, ratings, defaults that apply
    Check(Check),
    /// Solve the circuit: nets, currents, dissipation; with faults, beside the healthy board
    Solve(Solve),
    /// List the faults that reproduce the readings
    Diagnose(Diagnose),
    /// Name the measurement that tells most about what remains
    Next(Next),
    /// Guide a session at the bench: it asks, you measure, every answer is kept
    Bench(Bench),
    /// What another value does to the board, and which one of the drawer is the best
    Substitute(Substitute),
    /// Say what the marking on a resistor or capacitor can mean
    Marking(Marking),
    /// Follow nets while a value, a source, the temperature or a fault goes over a range
    Curve(Curve),
    /// Write one page for the job ticket: for the customer in short, then for the technician
    Report(Report),
    /// Work the equations of the circuit step by step, for a class
    Lesson(Lesson),
    /// Hide a fault to be found, and mark the way to it; or make sheets of that for a class
    Quiz(Quiz),
    /// Every single fault and what it does to a few nets, for the classroom; or empty to fill in
    FaultTable(FaultTable),
    /// List every form of a fault phrase
    Faults,
    /// List the kinds of parts; or say what can be typed of some, what applies without, how they fail
    Kinds(Kinds),
    /// Print the shape of a result or of a file as JSON Schema
    Schema(Schema),
    /// Print the script by which a shell completes commands and options
    Completions(Completions),
    /// Print the manual page, or write one for each command into a folder
    Manual(Manual),
}

#[derive(Debug, ClapArgs)]
pub(super) struct Kinds {
    /// Kinds to tell of, such as resistor, or the letters of a designator, such as R; without any, the
    /// list
    #[arg(value_name = "KIND")]
    pub(super) kinds: Vec<String>,
}

#[derive(Debug, ClapArgs)]
pub(super) struct Completions {
    /// The shell
    #[arg(value_enum)]
    pub(super) shell: clap_complete::Shell,
}

#[derive(Debug, ClapArgs)]
pub(super) struct Manual {
    /// The folder for the pages; it is made where it is not there
    #[arg(long, value_name = "FOLDER")]
    pub(super) into: Option<PathBuf>,
}

#[derive(Debug, ClapArgs)]
pub(super) struct Schema {
    /// The schema; without it, all of them are listed
    pub(super) name: Option<String>,
}

#[derive(Debug, ClapArgs)]
pub(super) struct Starter {
    /// The file to write; it must not exist
    pub(super) file: Option<PathBuf>,
    /// The pattern to start from
    #[arg(long, value_name = "NAME")]
    pub(super) pattern: Option<String>,
    /// List the patterns
    #[arg(long)]
    pub(super) list: bool,
}

#[derive(Debug, ClapArgs)]
pub(super) struct Check {
    /// The circuit file
    pub(super) circuit: PathBuf,
    /// Text for people, JSON for scripts
    #[arg(long, value_enum, default_value = "text")]
    pub(super) format: Format,
}

#[derive(Debug, ClapArgs)]
pub(super) struct Solve {
    /// The circuit file
    pub(super) circuit: PathBuf,
    /// The setup to solve
    #[arg(long, value_name = "NAME", default_value = "powered")]
    pub(super) setup: String,
    /// A fault to put in, such as "R1 open"; may be repeated. `ohmhound faults` lists the forms
    #[arg(long, value_name = "PHRASE")]
    pub(super) fault: Vec<String>,
    /// The table for the bench: what the meter should show at every net
    #[arg(long)]
    pub(super) expect: bool,
    /// List every operating point that the board has, stable or not
    #[arg(long)]
    pub(super) all_states: bool,
    /// How far nets and currents may be from nominal, and which parts make that of them
    #[arg(long, conflicts_with_all = ["expect", "all_states"])]
    pub(super) bands: bool,
    /// With --bands: draw this many boards from the tolerances, for the share that keeps the limits
    #[arg(long, value_name = "N", requires = "bands", value_parser = clap::value_parser!(u32).range(2..=1_000_000))]
    pub(super) draws: Option<u32>,
    /// With --draws: the same number draws the same boards
    #[arg(long, value_name = "NUMBER", default_value_t = 1)]
    pub(super) seed: u64,
    /// With --bands: tell what contributes to this net, or to "LEFT to RIGHT"; may be repeated.
    /// Without it: nets with limits and outputs of regulators
    #[arg(long, value_name = "NET", requires = "bands")]
    pub(super) watch: Vec<String>,
    /// Draw the circuit as a voltage ladder into this file
    #[arg(long, value_name = "FILE.svg")]
    pub(super) picture: Option<PathBuf>,
    /// Text for people, JSON for scripts
    #[arg(long, value_enum, default_value = "text")]
    pub(super) format: Format,
}

/// Readings, from a file and from the command line.
#[derive(Debug, ClapArgs)]
pub(super) struct ReadingArgs {
    /// The circuit file; may be left out when the readings file names it
    #[arg(value_name = "CIRCUIT")]
    pub(super) first: PathBuf,
    /// The readings file (TOML or CSV)
    #[arg(value_name = "READINGS")]
    pub(super) second: Option<PathBuf>,
    /// A voltage, red lead on the net and black on ground, such as EN=0.02; may be repeated
    #[arg(long, value_name = "PLACE=VALUE")]
    pub(super) volts: Vec<String>,
    /// A current through a part with two pins, such as F1=0.35
    #[arg(long, value_name = "PART=VALUE")]
    pub(super) amps: Vec<String>,
    /// A resistance with the power off, such as EN=10k or "IN to EN=OL"
    #[arg(long, value_name = "PLACE=VALUE")]
    pub(super) ohms: Vec<String>,
    /// A diode reading with the power off, red lead first, such as "GND to OUT=0.48"
    #[arg(long, value_name = "PLACE=VALUE")]
    pub(super) diode: Vec<String>,
    /// The setup of the voltages and currents given here; ohms and diode readings use unpowered,
    /// unless this setup has no live source either
    #[arg(long, value_name = "NAME", default_value = "powered")]
    pub(super) setup: String,
}

#[derive(Debug, ClapArgs)]
pub(super) struct Diagnose {
    #[command(flatten)]
    pub(super) readings: ReadingArgs,
    /// Text for people, JSON for scripts
    #[arg(long, value_enum, default_value = "text")]
    pub(super) format: Format,
    /// Look for two faults at once, even when a single one fits
    #[arg(long)]
    pub(super) pairs: bool,
    /// Draw the circuit as a voltage ladder into this file: readings beside their nets, and the
    /// likeliest fault where it reproduces them
    #[arg(long, value_name = "FILE.svg")]
    pub(super) picture: Option<PathBuf>,
}

#[derive(Debug, ClapArgs)]
pub(super) struct Next {
    #[command(flatten)]
    pub(super) readings: ReadingArgs,
    /// Text for people, JSON for scripts; a tree also as Markdown
    #[arg(long, value_enum, default_value = "text")]
    pub(super) format: TreeFormat,
    /// How many measurements to name
    #[arg(long, value_name = "N", default_value_t = 3, value_parser = clap::value_parser!(u8).range(1..=50))]
    pub(super) most: u8,
    /// The whole troubleshooting tree instead, this many measurements deep
    #[arg(long, value_name = "DEPTH", num_args = 0..=1, default_missing_value = "4", value_parser = clap::value_parser!(u8).range(1..=12))]
    pub(super) tree: Option<u8>,
}

#[derive(Debug, ClapArgs)]
pub(super) struct Bench {
    /// The circuit file; or the log of a session to go on with
    pub(super) circuit: PathBuf,
    /// The log, a readings file; without it NAME.log.toml beside the circuit
    #[arg(long, value_name = "READINGS")]
    pub(super) log: Option<PathBuf>,
}

/// A series of preferred values.
#[derive(Debug, Clone, Copy, ValueEnum)]
#[value(rename_all = "verbatim")]
pub(super) enum SeriesName {
    E3,
    E6,
    E12,
    E24,
    E48,
    E96,
    E192,
}

impl From<SeriesName> for ohmhound::quantity::Series {
    fn from(name: SeriesName) -> Self {
        use ohmhound::quantity::Series;
        match name {
            SeriesName::E3 => Series::E3,
            SeriesName::E6 => Series::E6,
            SeriesName::E12 => Series::E12,
            SeriesName::E24 => Series::E24,
            SeriesName::E48 => Series::E48,
            SeriesName::E96 => Series::E96,
            SeriesName::E192 => Series::E192,
        }
    }
}

#[derive(Debug, ClapArgs)]
pub(super) struct Substitute {
    /// The circuit file
    pub(super) circuit: PathBuf,
    /// What is put in: R3=51k, "R3=51k ± 5 %", U1.reference=0.6, R3.tolerance="5 %". With --target,
    /// --series or --stock the part alone, or the two parts of a divider
    #[arg(required = true, value_name = "PART=VALUE")]
    pub(super) parts: Vec<String>,
    /// Find the value that brings a net to these volts, such as 5V_SB=5.0
    #[arg(long, value_name = "NET=VOLTS")]
    pub(super) target: Option<String>,
    /// Out of the values of this series, as IEC 60063 has them; without it the series that is
    /// customary for the tolerance of the part
    #[arg(long, value_enum, ignore_case = true, conflicts_with = "stock")]
    pub(super) series: Option<SeriesName>,
    /// Out of a list of what there is (TOML or CSV: value, tolerance, rated, quantity, note)
    #[arg(long, value_name = "FILE")]
    pub(super) stock: Option<PathBuf>,
    /// Watch this net as well; may be repeated
    #[arg(long, value_name = "NET")]
    pub(super) watch: Vec<String>,
    /// Text for people, JSON for scripts
    #[arg(long, value_enum, default_value = "text")]
    pub(super) format: Format,
}

#[derive(Debug, ClapArgs)]
pub(super) struct Marking {
    /// What is printed on the part, such as 103, 4K7, 01C or 104K; several may be given
    #[arg(required = true, value_name = "CODE")]
    pub(super) codes: Vec<String>,
    /// Text for people, JSON for scripts
    #[arg(long, value_enum, default_value = "text")]
    pub(super) format: Format,
}

/// The form of a curve.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(super) enum CurveFormat {
    Text,
    Csv,
    Svg,
    Json,
}

#[derive(Debug, ClapArgs)]
pub(super) struct Curve {
    /// The circuit file
    pub(super) circuit: PathBuf,
    /// What goes over the range: a part (R3), one of its parameters (U1.reference, RV1.position),
    /// `temperature`, or a fault without its value ("R3 drifted", "EN leak")
    #[arg(value_name = "PART")]
    pub(super) over: String,
    /// From where to where, such as 1k..100k, "0..24 V", "-20..60 °C"
    #[arg(value_name = "FROM..TO", allow_hyphen_values = true)]
    pub(super) range: String,
    /// The net to follow, or the volts "LEFT to RIGHT"; may be repeated. Without it: nets with limits
    /// and outputs of regulators
    #[arg(long, value_name = "NET")]
    pub(super) watch: Vec<String>,
    /// How many places
    #[arg(long, value_name = "N", default_value_t = 121, value_parser = clap::value_parser!(u16).range(2..=5001))]
    pub(super) points: u16,
    /// Space the places evenly in the logarithm; wide ranges of resistance are anyway
    #[arg(long, conflicts_with = "linear")]
    pub(super) log: bool,
    /// Space the places evenly
    #[arg(long)]
    pub(super) linear: bool,
    /// The setup to solve
    #[arg(long, value_name = "NAME", default_value = "powered")]
    pub(super) setup: String,
    /// A fault that is there all the time, such as "R1 open"; may be repeated
    #[arg(long, value_name = "PHRASE")]
    pub(super) fault: Vec<String>,
    /// Text for people, CSV for tables, SVG for a picture, JSON for scripts
    #[arg(long, value_enum, default_value = "text")]
    pub(super) format: CurveFormat,
}

/// The form of a page.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(super) enum PageFormat {
    Html,
    Markdown,
}

#[derive(Debug, ClapArgs)]
pub(super) struct Report {
    #[command(flatten)]
    pub(super) readings: ReadingArgs,
    /// The file to write; without it, stdout
    #[arg(short, long, value_name = "FILE")]
    pub(super) output: Option<PathBuf>,
    /// One page of HTML that needs nothing else, or Markdown
    #[arg(long, value_enum, default_value = "html")]
    pub(super) format: PageFormat,
    /// What was put in place of what is drawn: R3=51k, "R3=51k ± 5 %", U1.reference=0.6; may be
    /// repeated
    #[arg(long, value_name = "PART=VALUE")]
    pub(super) substitute: Vec<String>,
    /// Look for two faults at once, even when a single one fits
    #[arg(long)]
    pub(super) pairs: bool,
}

/// The form of a sheet for people.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(super) enum TableFormat {
    Text,
    Markdown,
    Csv,
    Json,
    Html,
}

#[derive(Debug, ClapArgs)]
pub(super) struct FaultTable {
    /// The circuit file
    pub(super) circuit: PathBuf,
    /// A net to show, or the volts "LEFT to RIGHT"; may be repeated. Without it: nets with limits,
    /// outputs of regulators, and the few more that tell most faults apart
    #[arg(long, value_name = "NET")]
    pub(super) at: Vec<String>,
    /// The setup of the volts
    #[arg(long, value_name = "NAME", default_value = "powered")]
    pub(super) setup: String,
    /// Add ohms at the same nets with the power off
    #[arg(long)]
    pub(super) ohms: bool,
    /// Leave the cells empty, for students to fill in
    #[arg(long)]
    pub(super) blank: bool,
    /// Text for people, CSV for spreadsheets, HTML to print, JSON for scripts
    #[arg(long, value_enum, default_value = "text")]
    pub(super) format: TableFormat,
}

#[derive(Debug, ClapArgs)]
pub(super) struct Quiz {
    /// The circuit file
    pub(super) circuit: PathBuf,
    /// The same number hides the same fault on the same board
    #[arg(long, value_name = "NUMBER", default_value_t = 1)]
    pub(super) seed: u64,
    /// 1: what is broken outright; 2: also values that changed and poor contacts; 3: anything on the
    /// list, and nothing is told of what can be seen
    #[arg(long, value_name = "N", default_value_t = 2, value_parser = clap::value_parser!(u8).range(1..=3))]
    pub(super) level: u8,
    /// Keep the readings in this file, which must not exist; `diagnose` reads it
    #[arg(long, value_name = "READINGS", conflicts_with = "class")]
    pub(super) log: Option<PathBuf>,
    /// Make exercise sheets instead, one for each of this many students
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..=200))]
    pub(super) class: Option<u16>,
    /// With --class: the key, for the teacher
    #[arg(long, requires = "class")]
    pub(super) key: bool,
    /// Text for people; JSON prints the marking alone; sheets and their key also as Markdown and HTML
    #[arg(long, value_enum, default_value = "text")]
    pub(super) format: SheetFormat,
}

/// The form of a lesson, or of a quiz and its sheets.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(super) enum SheetFormat {
    Text,
    Markdown,
    Html,
    Json,
}

#[derive(Debug, ClapArgs)]
pub(super) struct Lesson {
    /// The circuit file
    pub(super) circuit: PathBuf,
    /// The setup to work through
    #[arg(long, value_name = "NAME", default_value = "powered")]
    pub(super) setup: String,
    /// A fault to put in, such as "R1 open"; may be repeated. `ohmhound faults` lists the forms
    #[arg(long, value_name = "PHRASE")]
    pub(super) fault: Vec<String>,
    /// A voltmeter of so many ohms over a net, such as EN=10M, to show how it loads; may be repeated
    #[arg(long, value_name = "NET=OHMS")]
    pub(super) meter: Vec<String>,
    /// The questions first, with blanks for the values, and the answers at the end
    #[arg(long)]
    pub(super) ask: bool,
    /// Also draw the circuit as a voltage ladder; with --ask blanks stand for the volts
    #[arg(long, value_name = "FILE.svg")]
    pub(super) picture: Option<PathBuf>,
    /// Text for people, Markdown, a page of HTML with the formulas set, JSON for scripts
    #[arg(long, value_enum, default_value = "text")]
    pub(super) format: SheetFormat,
}
