//! The colours of pictures and pages, light and dark, each with what it stands on.
//!
//! A colour never says anything alone: shape and words say the same.

/// A colour by what it is for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Colour {
    /// Its name as a custom property of style sheets, without the dashes.
    pub name: &'static str,
    /// On a light ground.
    pub light: u32,
    /// On a dark ground.
    pub dark: u32,
    /// The least contrast that it needs against [`PAPER`]: 4.5 where it is text, 3 where it is a
    /// line, and 1 where it is a ground or a guide that nothing depends on (WCAG 2.2, success
    /// criteria 1.4.3 and 1.4.11).
    pub contrast: f64,
}

/// The ground.
pub const PAPER: Colour = colour("paper", 0x00ff_ffff, 0x0014_1820, 1.0);
/// Text, nets and symbols.
pub const INK: Colour = colour("ink", 0x001c_2230, 0x00e6_e9ef, 4.5);
/// Text that matters less.
pub const QUIET: Colour = colour("quiet", 0x0054_5c6c, 0x00a6_aebc, 4.5);
/// The outline of what is not text: boxes, axes.
pub const LINE: Colour = colour("line", 0x0070_7888, 0x008a_93a3, 3.0);
/// Guides and grids.
pub const GUIDE: Colour = colour("guide", 0x00d5_d9e0, 0x0036_3d4a, 1.0);
/// The ground of boxes.
pub const BOX: Colour = colour("box", 0x00f3_f6fa, 0x001e_2430, 1.0);
/// A reading that is off, a fault.
pub const OFF: Colour = colour("off", 0x00a8_1238, 0x00ff_8fa3, 4.5);
/// A reading that agrees.
pub const GOOD: Colour = colour("good", 0x0006_6640, 0x006f_d6a4, 4.5);
/// Links, and bars of probability.
pub const ACCENT: Colour = colour("accent", 0x0005_5a9c, 0x0078_bdf5, 4.5);

/// Every colour.
pub const COLOURS: [Colour; 9] = [PAPER, INK, QUIET, LINE, GUIDE, BOX, OFF, GOOD, ACCENT];

const fn colour(name: &'static str, light: u32, dark: u32, contrast: f64) -> Colour {
    Colour { name, light, dark, contrast }
}

/// The custom properties of a style sheet, each as `--name`: light, and dark where the reader
/// prefers it. Paper is light: prints are as on a light ground.
///
/// ```
/// let sheet = ohmhound::picture::colours_of("svg");
/// assert!(sheet.starts_with("svg{--paper:#ffffff;"));
/// ```
#[must_use]
pub fn colours_of(selector: &str) -> String {
    let listed = |of: fn(&Colour) -> u32| -> String {
        COLOURS.iter().map(|one| format!("--{}:#{:06x};", one.name, of(one))).collect()
    };
    let (light, dark) = (listed(|one| one.light), listed(|one| one.dark));
    format!(
        "{selector}{{{light}}}@media screen and (prefers-color-scheme:dark){{{selector}{{{dark}}}}}"
    )
}

/// The contrast of two colours, 1 to 21: (L₁ + 0.05) / (L₂ + 0.05) of their relative luminance
/// (WCAG 2.2, "contrast ratio" and "relative luminance").
///
/// ```
/// let most = ohmhound::picture::contrast(0xffffff, 0x000000);
/// assert!((most - 21.0).abs() < 1e-9);
/// ```
#[must_use]
pub fn contrast(one: u32, other: u32) -> f64 {
    let luminance = |colour: u32| -> f64 {
        let channel = |shift: u32| -> f64 {
            let value = f64::from((colour >> shift) & 0xff) / 255.0;
            if value <= 0.04045 { value / 12.92 } else { ((value + 0.055) / 1.055).powf(2.4) }
        };
        0.2126 * channel(16) + 0.7152 * channel(8) + 0.0722 * channel(0)
    };
    let (one, other) = (luminance(one), luminance(other));
    (one.max(other) + 0.05) / (one.min(other) + 0.05)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// WCAG 2.2, 1.4.3 (4.5 for text) and 1.4.11 (3 for lines), against the paper and the boxes.
    #[test]
    fn every_colour_keeps_its_contrast_on_paper_and_on_boxes() {
        for one in COLOURS {
            for ground in [PAPER, BOX] {
                let light = contrast(one.light, ground.light);
                let dark = contrast(one.dark, ground.dark);
                assert!(light >= one.contrast, "{} on light {}: {light:.2}", one.name, ground.name);
                assert!(dark >= one.contrast, "{} on dark {}: {dark:.2}", one.name, ground.name);
            }
        }
    }
}
