//! What the job is, and its readings: a table with drawings.

use super::Ticket;
use crate::circuit::{Circuit, NetId, Observed, Place, Quantity, Reading, SetupId, Spot};
use crate::diagnosis::ReadingLine;
use crate::meter::Scale;
use crate::picture::{Ladder, Measured, Whisker, whisker_svg};
use crate::quantity::{Unit, print_short};
use crate::report::document::{Block, Cell, Section, Table, Tone};
use crate::report::doubts::remark_text;
use crate::report::told::{OFF_BY, expected_words, far};
use crate::report::words::{
    accuracy_words, appearance_words, list, observed, sentence_case, setup_words, unit_of,
    where_taken,
};

/// The width of the drawing in pixels: near that of A4 between its margins.
const LADDER: f64 = 800.0;

pub(super) fn job(ticket: &Ticket<'_>) -> Option<Section> {
    let (circuit, readings) = (ticket.circuit, ticket.readings);
    let mut facts = Vec::new();
    let mut fact = |name: &str, text: String| facts.push((name.to_owned(), text));
    if !circuit.title.is_empty() {
        fact("Circuit", circuit.title.clone());
    }
    for (key, text) in &readings.job.entries {
        fact(&sentence_case(&key.replace('_', " ")), text.clone());
    }
    if !readings.seen.is_empty() {
        let seen: Vec<String> = readings
            .seen
            .iter()
            .map(|(part, look)| format!("{} {}", circuit[*part].name, appearance_words(*look)))
            .collect();
        fact("Seen", list(&seen, seen.len()));
    }
    fact("Read from", ticket.origin.to_owned());
    if !readings.good.is_empty() {
        let n = readings.good.len();
        fact("Good board", format!("{n} readings of one were taken into account"));
    }
    let used = |id: &SetupId| readings.readings.iter().any(|reading| reading.setup == *id);
    for id in (2..circuit.setups.len()).map(SetupId).filter(used) {
        fact(&format!("Setup {}", circuit[id].name), setup_words(circuit, &circuit[id]));
    }
    let meter = &readings.meter;
    let volts = format!(
        "volts {} with {} between its leads; amps {}; ohms {}; diode {}",
        accuracy_words(&meter.volts.accuracy),
        print_short(meter.volts.input.ohms(), Unit::Ohm),
        accuracy_words(&meter.amps.accuracy),
        accuracy_words(&meter.ohms.accuracy),
        accuracy_words(&meter.diode.accuracy)
    );
    fact("Meter", volts);
    Some(Section::new("job", "The job", vec![Block::Facts(facts)]))
}

/// The drawing of the circuit with its readings.
pub(super) fn ladder(ticket: &Ticket<'_>) -> Option<Section> {
    let circuit = ticket.circuit;
    let mut ladder = Ladder::new(circuit, ticket.healthy)
        .with_readings(&ticket.readings.readings, ticket.diagnosis)
        .with_links()
        .titled("")
        .wide(LADDER);
    let mut caption = "Nets by the volts of a healthy board, the highest on top, with the parts \
                       between them and what was measured at the right. A name leads to its reading."
        .to_owned();
    if let Some((fault, faulted)) = &ticket.likeliest {
        let fault = fault.rounded();
        ladder = ladder.with_faults(&[fault], *faulted);
        caption =
            format!("{caption} Drawn in: the likeliest fault, {}.", fault.full_phrase(circuit));
    }
    let blocks = vec![Block::Picture(ladder.svgs(), caption)];
    Some(Section::new("ladder", "The circuit and its readings", blocks))
}

pub(super) fn readings(ticket: &Ticket<'_>) -> Option<Section> {
    let own = &ticket.readings.readings;
    let mut table = table(ticket.circuit, own, &ticket.diagnosis.readings);
    let unread = &ticket.coverage.unread;
    let (anchors, left) = anchors(ticket.circuit, own, unread);
    for (row, nets) in table.rows.iter_mut().zip(anchors) {
        if let Some(cell) = row.first_mut() {
            cell.nets = nets;
        }
    }
    let ground = ticket.circuit.net_name(NetId::GROUND);
    let text = format!("Volts are against {ground} where no second lead is named; {OFF_BY}.");
    let mut blocks = vec![
        Block::Table(table),
        Block::Key(
            "The bar from cap to cap is what a healthy board may read. A dot is a reading that \
             agrees, a cross one that is off, an arrow one that is only known to lie beyond."
                .to_owned(),
        ),
        Block::About(left, text),
    ];
    if !ticket.diagnosis.remarks.is_empty() {
        let remarks = ticket.diagnosis.remarks.iter();
        let lines = remarks.map(|remark| remark_text(ticket.circuit, own, remark));
        blocks.push(Block::Heading("Look at these readings again".to_owned()));
        blocks.push(Block::List(lines.collect()));
    }
    Some(Section::new("readings", "Readings", blocks))
}

/// Readings beside what a healthy board shows.
pub(super) fn table(circuit: &Circuit, readings: &[Reading], lines: &[ReadingLine]) -> Table {
    let rows = readings.iter().zip(lines).map(|(reading, line)| {
        vec![
            where_taken(reading, circuit).into(),
            observed(reading, circuit).into(),
            expected_words(circuit, reading, line).into(),
            Cell::drawn(drawing(circuit, reading, line)),
            Cell::toned(tone(line), stand(reading, line)).and(Tone::Quiet, off_words(line)),
        ]
    });
    Table {
        caption: String::new(),
        header: vec!["reading", "measured", "healthy board", "side by side", "verdict"],
        rows: rows.collect(),
        right: vec![1],
    }
}

fn tone(line: &ReadingLine) -> Tone {
    match line.off.is_nan() {
        true => Tone::Quiet,
        false if line.is_off() => Tone::Off,
        false => Tone::Good,
    }
}

/// How far off a reading is; nothing where there is nothing to be off from.
fn off_words(line: &ReadingLine) -> String {
    if line.off.is_nan() { String::new() } else { format!("off by {}", far(line.off)) }
}

/// How a reading stands, in words.
fn stand(reading: &Reading, line: &ReadingLine) -> &'static str {
    let is_counted = !matches!(reading.quantity, Quantity::Beep | Quantity::Seen);
    match line.is_off() {
        _ if line.off.is_nan() => "nothing to compare",
        false => "agrees",
        true if is_counted && line.off > 0.0 => "too high",
        true if is_counted => "too low",
        true => "off",
    }
}

/// The drawing of a reading; none for what is heard or seen.
fn drawing(circuit: &Circuit, reading: &Reading, line: &ReadingLine) -> Option<String> {
    let expected = line.expected?;
    let measured = match reading.observed {
        Observed::Number { value, .. } => Measured::At(value),
        Observed::Between { low, high } => Measured::Between(low, high),
        Observed::Below(most) => Measured::Below(most),
        Observed::Above(least) => Measured::Above(least),
        Observed::Over => Measured::At(f64::INFINITY),
        Observed::Beep(_) | Observed::Sight(_) => return None,
    };
    let half = if line.expected_u.is_finite() { 2.0 * line.expected_u } else { 0.0 };
    let scale = if reading.quantity == Quantity::Ohms { Scale::Log } else { Scale::Plain };
    let band = match scale {
        Scale::Log if expected > 0.0 && expected.is_finite() => {
            let factor = (half / expected).exp();
            (expected / factor, expected * factor)
        }
        _ => (expected - half, expected + half),
    };
    Some(whisker_svg(&Whisker {
        title: where_taken(reading, circuit),
        description: format!(
            "measured {}, a healthy board {}: {}",
            observed(reading, circuit),
            expected_words(circuit, reading, line),
            stand(reading, line)
        ),
        unit: unit_of(reading.quantity, circuit, Some(reading)),
        band,
        measured,
        is_off: line.is_off(),
    }))
}

/// Per reading, the nets that links to it are for: each net is at one place of the page only, at a
/// reading of it against ground where there is one. `elsewhere` are nets that have their place
/// somewhere else; the nets that have none are the second result.
fn anchors(
    circuit: &Circuit,
    readings: &[Reading],
    elsewhere: &[NetId],
) -> (Vec<Vec<String>>, Vec<String>) {
    let of = |spot: Spot| match spot {
        Spot::Net(net) => net,
        Spot::Pin(part, pin) => circuit[part].pins[pin].net,
    };
    let mut found = vec![Vec::new(); readings.len()];
    let mut placed = elsewhere.to_vec();
    placed.push(NetId::GROUND);
    let ranked = |rank: usize| {
        readings.iter().enumerate().filter(move |(_, reading)| match reading.place {
            Place::At(Spot::Net(_)) => rank == 0,
            _ => rank == 1,
        })
    };
    for (number, reading) in ranked(0).chain(ranked(1)) {
        let nets = match reading.place {
            Place::At(spot) => vec![of(spot)],
            Place::Between(red, black) => vec![of(red), of(black)],
            Place::Part(part) => circuit[part].pins.iter().map(|pin| pin.net).collect(),
        };
        for net in nets {
            if !placed.contains(&net) {
                placed.push(net);
                found[number].push(circuit.net_name(net).to_owned());
            }
        }
    }
    let is_left = |net: &NetId| *net == NetId::GROUND || !placed.contains(net);
    let left = circuit.nets_by_id().filter(|(net, _)| is_left(net));
    (found, left.map(|(_, name)| name.to_owned()).collect())
}
