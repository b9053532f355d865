//! Markup as the standards have it: HTML (WHATWG, Living Standard) as parsed by a library that
//! follows it and tells every parse error, headings, names and text alternatives as WCAG 2.2 asks
//! for (1.1.1, 1.3.1, 2.4.2, 3.1.1).

use std::collections::HashSet;

use scraper::{ElementRef, Html, Selector};

fn select<'a>(page: &'a Html, what: &str) -> Vec<ElementRef<'a>> {
    page.select(&Selector::parse(what).expect("a selector")).collect()
}

fn text(element: ElementRef<'_>) -> String {
    element.text().collect::<String>().trim().to_owned()
}

/// The bytes of a text in which `%41` stands for `A` (RFC 3986, 2.1).
fn decoded(text: &str) -> String {
    let bytes = text.as_bytes();
    let mut found = Vec::new();
    let mut at = 0;
    while at < bytes.len() {
        let code = (bytes[at] == b'%')
            .then(|| text.get(at + 1..at + 3))
            .flatten()
            .and_then(|digits| u8::from_str_radix(digits, 16).ok());
        match code {
            Some(byte) => {
                found.push(byte);
                at += 3;
            }
            None => {
                found.push(bytes[at]);
                at += 1;
            }
        }
    }
    String::from_utf8(found).expect("links are UTF-8")
}

/// Everything that is wrong with the markup of a page.
pub fn wrong(html: &str) -> Vec<String> {
    let page = Html::parse_document(html);
    let mut found: Vec<String> = page.errors.iter().map(|error| error.to_string()).collect();
    let mut claim = |holds: bool, words: String| {
        if !holds {
            found.push(words);
        }
    };
    claim(html.starts_with("<!DOCTYPE html>"), "no doctype".to_owned());
    let lang = page.root_element().value().attr("lang");
    claim(lang == Some("en"), format!("the language is {lang:?}"));
    let titles = select(&page, "head > title");
    claim(titles.len() == 1 && !text(titles[0]).is_empty(), "no title".to_owned());
    // Sheets for a class are pages of their own, each with its title.
    let n_titles = select(&page, ".sheet").len().max(1);
    let n = select(&page, "h1").len();
    claim(n == n_titles, format!("{n} times `h1`"));
    for once in ["meta[charset=utf-8]", "meta[name=viewport]", "main"] {
        let n = select(&page, once).len();
        claim(n == 1, format!("{n} times `{once}`"));
    }
    // Nothing comes from elsewhere, and nothing runs.
    let active = "script, link, base, iframe, frame, object, embed, img, form, [src], [srcset], \
                  [action], [onload], [onclick], [onerror], use, image, foreignObject";
    for element in select(&page, active) {
        claim(false, format!("`{}` in the page", element.value().name()));
    }
    for sheet in select(&page, "style") {
        let sheet = text(sheet);
        claim(!sheet.contains("url(") && !sheet.contains("@import"), "a sheet loads".to_owned());
    }
    let mut names = HashSet::new();
    for element in select(&page, "[id]") {
        let id = element.value().attr("id").unwrap_or_default();
        claim(!id.is_empty() && !id.contains(char::is_whitespace), format!("the name {id:?}"));
        claim(names.insert(id.to_owned()), format!("the name {id:?} twice"));
    }
    for element in select(&page, "[href], [*|href]") {
        let attributes = element.value().attrs();
        for (_, link) in attributes.filter(|(name, _)| name.ends_with("href")) {
            let place = link.strip_prefix('#').map(decoded);
            claim(
                place.as_ref().is_some_and(|place| names.contains(place)),
                format!("the link {link:?} leads nowhere"),
            );
            // What a fragment may hold (RFC 3986, 3.5), with percent signs of codes.
            let is_allowed =
                |byte: u8| byte.is_ascii_alphanumeric() || b"-._~%!$&'()*+,;=:@/?".contains(&byte);
            let fragment = link.strip_prefix('#').unwrap_or_default();
            claim(fragment.bytes().all(is_allowed), format!("the link {link:?} is not encoded"));
        }
    }
    let mut last = 0;
    for heading in select(&page, "h1, h2, h3, h4, h5, h6") {
        let level: u32 = heading.value().name()[1..].parse().expect("a level");
        claim(level <= last + 1, format!("h{level} after h{last}: {}", text(heading)));
        claim(!text(heading).is_empty(), format!("an empty h{level}"));
        last = level;
    }
    for drawing in select(&page, "svg") {
        let mut children = drawing.child_elements();
        for name in ["title", "desc"] {
            let child = children.next();
            let is_there =
                child.is_some_and(|one| one.value().name() == name && !text(one).is_empty());
            claim(is_there, format!("a drawing without its {name}"));
        }
        let role = drawing.value().attr("role");
        // Links in an image would not be reached by whoever hears the page.
        let has_links = drawing.select(&Selector::parse("a").expect("a selector")).next().is_some();
        let wanted = if has_links { "group" } else { "img" };
        claim(role == Some(wanted), format!("a drawing with the role {role:?}"));
    }
    for table in select(&page, "table") {
        let cells = |row: ElementRef<'_>| row.child_elements().count();
        let rows: Vec<ElementRef<'_>> =
            table.select(&Selector::parse("tr").expect("a selector")).collect();
        let head = Selector::parse("thead th[scope=col]").expect("a selector");
        claim(
            table.select(&head).count() >= 2,
            format!("a table without headers: {}", text(table)),
        );
        claim(rows.len() >= 2, format!("a table without rows: {}", text(table)));
        let width = rows.first().map_or(0, |row| cells(*row));
        for row in rows {
            claim(
                cells(row) == width,
                format!("a row of {}, not {width}: {}", cells(row), text(row)),
            );
        }
    }
    found
}

#[test]
fn every_page_is_in_order() {
    for job in super::jobs::all().into_iter().chain(super::jobs::for_a_class()) {
        let wrong = wrong(&job.html);
        assert!(wrong.is_empty(), "{}: {wrong:#?}", job.name);
    }
}

/// The checks themselves see what is wrong.
#[test]
fn pages_out_of_order_are_seen() {
    let page = |body: &str| {
        format!(
            "<!DOCTYPE html><html lang=\"en\"><head><meta charset=\"utf-8\">\
             <meta name=\"viewport\" content=\"width=device-width\"><title>t</title></head>\
             <body><main><h1>t</h1>{body}</main></body></html>"
        )
    };
    assert_eq!(wrong(&page("<p>fine</p>")), Vec::<String>::new());
    for bad in [
        "<p><div></p>",
        "<b><i></b></i>",
        "<p id=\"a\"></p><p id=\"a\"></p>",
        "<a href=\"#b\">b</a>",
        "<a href=\"https://example.org\">b</a>",
        "<script>1</script>",
        "<p onclick=\"1\"></p>",
        "<h3>too deep</h3>",
        "<svg role=\"img\"><title>t</title></svg>",
        "<table><tr><td>1</td></tr></table>",
        "<style>p{background:url(x)}</style>",
    ] {
        assert!(!wrong(&page(bad)).is_empty(), "{bad}");
    }
}
