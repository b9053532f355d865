//! Drawings as SVG.

mod palette;
mod plot;

pub use palette::{
    ACCENT, BOX, COLOURS, Colour, GOOD, GUIDE, INK, LINE, OFF, PAPER, QUIET, colours_of, contrast,
};
pub use plot::{Plot, PlotLevel, PlotLine, PlotMark, plot_svg};
