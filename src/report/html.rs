//! A page of HTML that needs nothing else: no network, no script.
//!
//! Text is escaped by the templates; [`picture`] is the one place where markup goes in as it is.

pub(super) mod blocks;

use maud::{DOCTYPE, Markup, PreEscaped, html};

use crate::picture::colours_of;

/// What every page looks like, on screens from 360 pixels and on A4.
const SHEET: &str = include_str!("html/page.css");

/// A whole page.
///
/// ```
/// use maud::html;
///
/// let page = ohmhound::report::page("Gate <opener>", &html! { p { "a < b" } });
/// assert!(page.contains("<title>Gate &lt;opener&gt;</title>"));
/// assert!(page.contains("a &lt; b"));
/// ```
#[must_use]
pub fn page(title: &str, body: &Markup) -> String {
    let sheet = format!("{}{SHEET}", colours_of(":root"));
    let page = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta name="color-scheme" content="light dark";
                title { (title) }
                style { (PreEscaped(sheet)) }
            }
            body { main { (body) } }
        }
    };
    page.into_string()
}

/// A drawing of this crate in a page: the only markup that is not escaped here, since `picture`
/// escapes what it writes.
#[must_use]
pub fn picture(svg: &str) -> Markup {
    // What stands before the element belongs to a file of its own.
    let svg = svg.find("<svg").map_or("", |at| &svg[at..]);
    html! { div.picture { (PreEscaped(svg)) } }
}
