//! `fault-table`: every single fault and what it does to a few nets, for the classroom.

use ohmhound::circuit::{Circuit, NetId, Place, Spot};
use ohmhound::engine::Assembly;
use ohmhound::report::{
    FaultTableView, fault_table_csv, fault_table_html, fault_table_json, fault_table_markdown,
    fault_table_text,
};
use ohmhound::study::{Watched, fault_table};

use super::args::{FaultTable as Args, TableFormat};
use super::output::Output;
use super::patience::patiently;
use super::{Exit, Stop, inputs};

pub(super) fn run(args: &Args, output: &Output) -> Result<Exit, Stop> {
    let circuit = inputs::circuit(&args.circuit, output)?;
    let setup = inputs::setup(&circuit, &args.setup, output)?;
    let places = places(&circuit, &args.at, output)?;
    let assembly = Assembly::new(&circuit);
    let made = patiently(|| fault_table(&assembly, setup, &places, args.ohms));
    let Ok(table) = made else {
        let name = &circuit[setup].name;
        let message = format!("the healthy board has no operating point in setup `{name}`");
        output.complain(&message, "`solve` says more, `check` may say why");
        return Err(Stop(Exit::NoPoint));
    };
    let view = FaultTableView { circuit: &circuit, table: &table, blank: args.blank };
    let text = match args.format {
        TableFormat::Text => fault_table_text(&view, output.result_style(), output.width()),
        TableFormat::Markdown => fault_table_markdown(&view),
        TableFormat::Csv => fault_table_csv(&view),
        TableFormat::Html => fault_table_html(&view),
        TableFormat::Json => {
            output.json(&fault_table_json(&view))?;
            return Ok(Exit::Done);
        }
    };
    output.result(&text)?;
    Ok(Exit::Done)
}

/// Where the columns are.
fn places(circuit: &Circuit, at: &[String], output: &Output) -> Result<Vec<Place>, Stop> {
    let mut places: Vec<Place> = Vec::new();
    for (text, watched) in at.iter().zip(inputs::watched(circuit, "--at", at, output)?) {
        let place = match watched {
            Watched::Net(net) if net != NetId::GROUND => Place::At(Spot::Net(net)),
            Watched::Between(red, black) if red != black => {
                Place::Between(Spot::Net(red), Spot::Net(black))
            }
            _ => {
                let message = format!("both leads would be on one net at `{text}`");
                output.complain(&message, "volts of a net are read against ground: name another");
                return Err(Stop(Exit::BadInput));
            }
        };
        if !places.contains(&place) {
            places.push(place);
        }
    }
    Ok(places)
}
