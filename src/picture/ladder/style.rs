//! Sizes of text and the style sheet of a ladder.

use crate::picture::palette::colours_of;

/// The size of titles, in pixels.
pub(super) const TITLE: f64 = 16.0;
/// The size of the names of parts and nets, and of volts.
pub(super) const NAME: f64 = 12.0;
/// The size of values, kinds and notes.
pub(super) const SMALL: f64 = 11.0;
/// The size of the names of pins.
pub(super) const PIN: f64 = 10.0;

/// The class of every ladder: selectors begin with it, so that a page with several, or with other
/// pictures, is not touched.
pub(super) const CLASS: &str = "ladder-picture";

/// The style sheet. Colours are custom properties, so that a page may set its own.
pub(super) fn sheet() -> String {
    let own = format!("svg.{CLASS}");
    let mut sheet = colours_of(&own);
    let rules = [
        ("", "background:var(--paper);max-width:100%;height:auto"),
        (
            " text",
            "font-family:system-ui,'Segoe UI',Roboto,Helvetica,Arial,'DejaVu Sans',sans-serif;\
             fill:var(--ink);stroke:none;direction:ltr;unicode-bidi:isolate;white-space:pre",
        ),
        (" .ladder-paper", "fill:var(--paper)"),
        (" .ladder-title", "font-weight:700"),
        (" .ladder-name", "font-weight:700"),
        (" .ladder-quiet", "fill:var(--quiet)"),
        (" .ladder-struck", "fill:var(--quiet);text-decoration:line-through"),
        (" .ladder-fault-words", "fill:var(--off);font-weight:700"),
        (" .ladder-agrees", "fill:var(--good);font-weight:700"),
        (" .ladder-off", "fill:var(--off);font-weight:700"),
        (" .ladder-mark-agrees", "fill:none;stroke:var(--good);stroke-width:2"),
        (" .ladder-mark-off", "fill:var(--off);stroke:none"),
        (" .ladder-line", "fill:none;stroke:var(--ink);stroke-width:2.6"),
        // Told by its width too, where there is no colour.
        (" .ladder-line-off", "stroke:var(--off);stroke-width:4"),
        (" .ladder-behind", "fill:none;stroke:var(--line);stroke-width:1.4;stroke-dasharray:3 3"),
        (" .ladder-guide", "fill:none;stroke:var(--guide);stroke-width:1;stroke-dasharray:1.5 3"),
        (" .ladder-wire", "fill:none;stroke:var(--ink);stroke-width:1.3"),
        (
            " .ladder-symbol",
            "fill:var(--paper);stroke:var(--ink);stroke-width:1.4;stroke-linejoin:round",
        ),
        (" .ladder-filled", "fill:var(--ink);stroke:none"),
        (" .ladder-box", "fill:var(--box);stroke:var(--ink);stroke-width:1.5"),
        (" .ladder-joint", "fill:var(--ink);stroke:none"),
        (" .ladder-ring", "fill:var(--paper);stroke:var(--ink);stroke-width:1.3"),
        (" .ladder-linked", "fill:none;stroke:var(--line);stroke-width:1.2;stroke-dasharray:4 2.5"),
        (" .ladder-broken", "fill:none;stroke:var(--off);stroke-width:2"),
        (" .ladder-rule", "fill:none;stroke:var(--guide);stroke-width:1"),
    ];
    for (of, rule) in rules {
        sheet.push_str(&format!("{own}{of}{{{rule}}}"));
    }
    let struck = [
        ("ladder-symbol", "stroke:var(--off);stroke-width:2"),
        ("ladder-wire", "stroke:var(--off);stroke-width:2"),
        ("ladder-filled", "fill:var(--off)"),
        ("ladder-box", "stroke:var(--off);stroke-width:2.4;stroke-dasharray:7 3"),
        ("ladder-joint", "fill:var(--off)"),
    ];
    for (of, rule) in struck {
        sheet.push_str(&format!("{own} .ladder-struck-part .{of}{{{rule}}}"));
    }
    sheet.push_str(&format!("{own} .ladder-absent .ladder-symbol{{stroke-dasharray:2.5 2}}"));
    sheet.push_str(&format!("{own} a text{{fill:var(--accent);text-decoration:underline}}"));
    sheet
}
