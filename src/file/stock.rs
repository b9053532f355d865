//! What lies in the drawer, as TOML or as comma-separated values.

use std::collections::HashMap;
use std::path::Path;
use std::sync::Arc;

use super::Parsed;
use super::csv::lines;
use super::keys::{self, names};
use super::limits::MOST_READINGS;
use super::load::load_source;
use super::syntax;
use super::take::{listed, refuse_unknown, suggested};
use super::tree::{Data, Node, Table};
use super::written::Written;
use crate::circuit::StockItem;
use crate::finding::{Code, Finding, Source};
use crate::quantity::{
    Tolerance, Toleranced, Unit, parse_number, parse_tolerance, parse_toleranced,
};

/// The units of values that a drawer may hold besides the one looked for.
const OTHERS: [Unit; 4] = [Unit::Ohm, Unit::Farad, Unit::Henry, Unit::Volt];

/// What to do about too long a list.
const SPLIT: &str = "every one of them is tried in the circuit; split the list by drawers";

/// What values are looked for.
#[derive(Debug, Clone, Copy)]
pub struct Wanted {
    /// Their unit.
    pub unit: Unit,
    /// The unit of their ratings.
    pub rated: Unit,
    /// The tolerance of a value that does not say its own.
    pub tolerance: Tolerance,
}

/// Reads a stock list from the disk; a name that ends in `.csv` is read as comma-separated values.
pub fn load_stock(path: impl AsRef<Path>, wanted: Wanted) -> Parsed<Vec<StockItem>> {
    let path = path.as_ref();
    let is_csv = path.extension().is_some_and(|end| end.eq_ignore_ascii_case("csv"));
    match load_source(path) {
        Ok(source) if is_csv => read_stock_csv(&source, wanted),
        Ok(source) => read_stock(&source, wanted),
        Err(finding) => Parsed::refused(finding),
    }
}

/// Reads a stock list: `[[stock]]` with `value`, and as known `tolerance`, `rated`, `quantity`,
/// `note`. Values in another unit, such as capacitors among resistors, are left out; so are those
/// without a unit that only another unit makes sense of, such as `100n` among resistors.
///
/// ```
/// use ohmhound::file::{Wanted, read_stock};
/// use ohmhound::finding::Source;
/// use ohmhound::quantity::{Tolerance, Unit};
///
/// let wanted = Wanted { unit: Unit::Ohm, rated: Unit::Watt, tolerance: Tolerance::Fraction(0.05) };
/// let text = "[[stock]]\nvalue = \"51k\"\ntolerance = \"1 %\"\n\n[[stock]]\nvalue = \"100 nF\"\n";
/// let items = read_stock(&Source::new("drawer.toml", text), wanted).value.ok_or("a list")?;
/// assert_eq!(items.len(), 1);
/// assert_eq!(items[0].value.most(), 51.51e3);
/// # Ok::<(), &str>(())
/// ```
pub fn read_stock(source: &Arc<Source>, wanted: Wanted) -> Parsed<Vec<StockItem>> {
    let mut found = Vec::new();
    let file = match syntax::parse(source, "") {
        Ok(file) => file,
        Err(findings) => return Parsed { value: None, findings },
    };
    refuse_unknown(&file, "the stock list", keys::STOCK_FILE, &mut found);
    let mut items = Vec::new();
    let list = file.get("stock").and_then(|node| node.take_list("`stock`", &mut found));
    let list = list.unwrap_or_default();
    if let Some(first) = list.get(MOST_READINGS) {
        let message =
            format!("there are {} values in stock, more than {MOST_READINGS}", list.len());
        found.push(first.error(Code::TooLarge, message, "the first one too many").help(SPLIT));
    }
    for node in list.iter().take(MOST_READINGS) {
        let Some(table) = node.take_table("an entry of `stock`", &mut found) else { continue };
        refuse_unknown(table, "an entry of `stock`", keys::STOCK, &mut found);
        let fields = fields_of(table, &mut found);
        if !table.entries.iter().any(|entry| entry.key.text == "value") {
            let message = "an entry of `stock` has no `value`";
            found.push(node.error(Code::WrongShape, message, ""));
            continue;
        }
        items.extend(item(&fields, wanted, &mut found));
    }
    finish(items, found, source, wanted)
}

/// Reads a stock list from comma-separated values: a header that names the columns, `value` among
/// them.
pub fn read_stock_csv(source: &Arc<Source>, wanted: Wanted) -> Parsed<Vec<StockItem>> {
    let mut found = Vec::new();
    let mut lines = lines(source);
    let header = match lines.next() {
        Some((Ok(header), range)) => (header, range),
        Some((Err(finding), _)) => return Parsed::refused(*finding),
        None => return Parsed::refused(empty(source)),
    };
    let (header, range) = header;
    let columns = names(keys::STOCK);
    for name in &header {
        if !columns.contains(&name.text.as_str()) {
            let message = format!("unknown column `{}`", name.shown());
            let finding = name.error(Code::BadCsv, message, "");
            found.push(match suggested(&name.text, columns.iter().copied(), &found) {
                Some(near) => finding.help(format!("did you mean `{near}`?")),
                None => finding.help(format!("columns are {}", listed(&columns))),
            });
        }
    }
    if found.is_empty() && !header.iter().any(|name| name.text == "value") {
        let line = Written::verbatim(source, range);
        let message = format!("expected a column `value`, found `{}`", line.shown());
        found.push(line.error(Code::BadCsv, message, "").help("as in `value,tolerance,quantity`"));
    }
    if !found.is_empty() {
        return Parsed::new(None, found, source);
    }
    let mut items = Vec::new();
    for (count, (fields, range)) in lines.enumerate() {
        if count == MOST_READINGS {
            let message = format!("there are more than {MOST_READINGS} values in stock");
            let finding = Finding::error(Code::TooLarge, message);
            found.push(finding.at(source, range, "the first one too many").help(SPLIT));
            break;
        }
        let fields = match fields {
            Ok(fields) if fields.len() == header.len() => fields,
            Ok(fields) => {
                let message = format!("expected {} fields, found {}", header.len(), fields.len());
                found.push(
                    Finding::error(Code::BadCsv, message)
                        .at(source, range, "")
                        .help("put a field that holds a comma in quotes; write points in numbers"),
                );
                continue;
            }
            Err(finding) => {
                found.push(*finding);
                continue;
            }
        };
        let names = header.iter().map(|name| name.text.clone());
        let given = names.zip(fields).filter(|(_, field)| !field.text.is_empty()).collect();
        items.extend(item(&given, wanted, &mut found));
    }
    finish(items, found, source, wanted)
}

fn empty(source: &Arc<Source>) -> Finding {
    Finding::error(Code::WrongShape, format!("the stock list `{}` is empty", source.name))
        .help("one value a line under a header such as `value,tolerance,quantity`")
}

/// The texts of a table by their keys.
fn fields_of(table: &Table, found: &mut Vec<Finding>) -> HashMap<String, Written> {
    let mut fields = HashMap::new();
    for entry in &table.entries {
        let Node { data, .. } = &entry.value;
        match data {
            Data::Text(text) | Data::Number(text) => {
                fields.insert(entry.key.text.clone(), text.clone());
            }
            _ => {
                let what = format!("`{}` of an entry of `stock`", entry.key.shown());
                entry.value.take_value(&what, found);
            }
        }
    }
    fields
}

/// Whether a value was written without a unit and is none that a part has in this unit: `100n` and
/// `4n7` are capacitors and no resistors, `51k` is no capacitor.
fn is_of_another(text: &str, nominal: f64, unit: Unit) -> bool {
    let usual = match unit {
        Unit::Ohm => 1e-4..f64::INFINITY,
        Unit::Farad => 0.0..1.0,
        Unit::Henry => 0.0..100.0,
        Unit::Volt => 1e-3..1e3,
        _ => return false,
    };
    // What another unit can be read out of too does not say its own.
    let is_bare =
        || OTHERS.iter().any(|other| *other != unit && parse_toleranced(text, *other).is_ok());
    nominal > 0.0 && !usual.contains(&nominal) && is_bare()
}

/// One item; nothing for a value in another unit.
fn item(
    fields: &HashMap<String, Written>,
    wanted: Wanted,
    found: &mut Vec<Finding>,
) -> Option<StockItem> {
    let text = fields.get("value")?;
    let mut value = match parse_toleranced(&text.text, wanted.unit) {
        Ok(value) if is_of_another(&text.text, value.nominal, wanted.unit) => return None,
        Ok(value) if value.least() > 0.0 => value,
        Ok(_) => {
            let message = format!("expected a value of more than zero, found `{}`", text.shown());
            found.push(text.error(Code::BadValue, message, ""));
            return None;
        }
        Err(error) => {
            let is_other =
                |unit: &Unit| *unit != wanted.unit && parse_toleranced(&text.text, *unit).is_ok();
            if !OTHERS.iter().any(is_other) {
                found.push(text.value_error("`value`", error));
            }
            return None;
        }
    };
    if let Some(text) = fields.get("tolerance") {
        match parse_tolerance(&text.text, wanted.unit) {
            Ok(tolerance) => {
                value = Toleranced {
                    nominal: value.nominal,
                    spread: Some(tolerance.of(value.nominal)),
                };
            }
            Err(error) => found.push(text.value_error("`tolerance`", error)),
        }
    }
    let rated = fields.get("rated").and_then(|text| match parse_number(&text.text, wanted.rated) {
        Ok(number) => Some(number.value),
        Err(error) => {
            found.push(text.value_error("`rated`", error));
            None
        }
    });
    let quantity = fields.get("quantity").and_then(|text| match text.text.parse::<u32>() {
        Ok(count) => Some(count),
        Err(_) => {
            let message = format!("`quantity`: expected a whole number, found `{}`", text.shown());
            found.push(text.error(Code::BadValue, message, ""));
            None
        }
    });
    if quantity == Some(0) {
        return None;
    }
    let note = fields.get("note").filter(|note| note.can_be_shown("`note`", found));
    let note = note.map_or(String::new(), |note| note.text.clone());
    Some(StockItem { value: value.or(wanted.tolerance), rated, quantity, note })
}

fn finish(
    items: Vec<StockItem>,
    mut found: Vec<Finding>,
    source: &Arc<Source>,
    wanted: Wanted,
) -> Parsed<Vec<StockItem>> {
    if items.is_empty() && !found.iter().any(Finding::is_error) {
        let is_blank = source.text.trim().is_empty();
        found.push(if is_blank {
            empty(source)
        } else {
            let message = format!(
                "the stock list `{}` holds no value in {}",
                source.name,
                wanted.unit.name()
            );
            Finding::error(Code::WrongShape, message)
        });
    }
    Parsed::new(Some(items), found, source)
}
