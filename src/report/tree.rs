//! The troubleshooting tree: measurements, what they may show, and what to do at the end.

use serde_json::{Value, json};

use super::Style;
use super::json::{VERSION, number, share};
use super::markdown::escaped;
use super::next::step;
use super::text::Page;
use super::words::{self, list, percent, range};
use crate::circuit::Circuit;
use crate::plan::{Branch, Repair, Tree, where_to_measure};

/// The tree as text: every measurement, and under it what it may show.
pub fn tree_text(circuit: &Circuit, tree: &Tree, style: Style, width: usize) -> String {
    let mut page = Page::new(style, width);
    lines(&mut page, circuit, tree, 0);
    page.finish()
}

fn lines(page: &mut Page, circuit: &Circuit, tree: &Tree, depth: usize) {
    let indent = "  ".repeat(2 * depth + 1);
    let Some(measurement) = &tree.measurement else {
        for text in ends(tree) {
            page.sentence(&indent, &text);
        }
        return;
    };
    let text =
        format!("measure {} (effort {})", where_to_measure(circuit, measurement), tree.effort);
    page.sentence(&indent, &text);
    for branch in &tree.branches {
        let text = head(circuit, tree, branch);
        page.hanging(&format!("{indent}- "), &format!("{indent}  "), &text);
        lines(page, circuit, &branch.tree, depth + 1);
    }
}

/// What a branch is: the values, and how likely they are.
fn head(circuit: &Circuit, tree: &Tree, branch: &Branch) -> String {
    let values = tree.measurement.as_ref().map_or_else(String::new, |measurement| {
        let quantity = measurement.probe.quantity;
        match branch.low <= branch.high {
            true => {
                let unit = words::unit_of(quantity, circuit, None);
                range(branch.low, branch.high, quantity, unit)
            }
            false => "nothing that settles".to_owned(),
        }
    });
    format!("{values} ({})", percent(branch.tree.probability))
}

/// What an end of the tree says.
fn ends(tree: &Tree) -> Vec<String> {
    let remaining = list(&tree.remaining, 4);
    if tree.is_cut {
        return vec![format!("{remaining}: more measurements follow")];
    }
    if tree.repairs.is_empty() {
        return vec![remaining];
    }
    tree.repairs.iter().map(step).collect()
}

/// The tree as a nested list of Markdown.
pub fn tree_markdown(circuit: &Circuit, tree: &Tree) -> String {
    let mut text = String::new();
    markdown(&mut text, circuit, tree, 0);
    text
}

fn markdown(text: &mut String, circuit: &Circuit, tree: &Tree, depth: usize) {
    let indent = "  ".repeat(depth);
    let mut line = |words: &str| {
        text.push_str(&indent);
        text.push_str("- ");
        text.push_str(&escaped(words));
        text.push('\n');
    };
    let Some(measurement) = &tree.measurement else {
        ends(tree).iter().for_each(|end| line(end));
        return;
    };
    line(&format!("measure {}", where_to_measure(circuit, measurement)));
    for branch in &tree.branches {
        let indent = "  ".repeat(depth + 1);
        text.push_str(&format!("{indent}- **{}**\n", escaped(&head(circuit, tree, branch))));
        markdown(text, circuit, &branch.tree, depth + 2);
    }
}

/// The tree as JSON: `probability`, `remaining`, and either `measure` with `branches` or `repairs`.
pub fn tree_json(circuit: &Circuit, tree: &Tree) -> Value {
    let mut value = node_json(circuit, tree);
    value["version"] = json!(VERSION);
    value
}

/// A place in the tree, with all that is below it.
fn node_json(circuit: &Circuit, tree: &Tree) -> Value {
    let measure = tree.measurement.as_ref().map(|one| {
        json!({
            "setup": circuit[one.probe.setup].name,
            "quantity": one.probe.quantity.word(),
            "place": one.place_text,
            "effort": tree.effort,
        })
    });
    let branches: Vec<Value> = tree
        .branches
        .iter()
        .map(|branch| {
            let (low, high) = (number(branch.low), number(branch.high));
            json!({ "low": low, "high": high, "tree": node_json(circuit, &branch.tree) })
        })
        .collect();
    json!({
        "probability": share(tree.probability),
        "remaining": tree.remaining,
        "measure": measure,
        "branches": branches,
        "repairs": tree.repairs.iter().map(|repair| repair_json(circuit, repair)).collect::<Vec<_>>(),
        "cut": tree.is_cut,
    })
}

/// A repair as JSON.
pub(super) fn repair_json(circuit: &Circuit, repair: &Repair) -> Value {
    json!({
        "part": repair.part.map(|part| circuit[part].name.clone()),
        "faults": repair.faults,
        "probability": share(repair.probability),
        "effort": repair.effort,
        "action": repair.action,
    })
}
