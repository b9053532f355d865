//! Drawings as SVG.

mod escaped;
mod ladder;
mod palette;
mod plot;
mod whisker;

pub use ladder::Ladder;
pub use palette::{
    ACCENT, BOX, COLOURS, Colour, GOOD, GUIDE, INK, LINE, OFF, PAPER, QUIET, colours_of, contrast,
};
pub use plot::{Plot, PlotLevel, PlotLine, PlotMark, plot_svg};
pub use whisker::{Measured, Whisker, whisker_svg};
