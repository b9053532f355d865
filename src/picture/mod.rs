//! Drawings as SVG.

mod plot;

pub use plot::{Plot, PlotLevel, PlotLine, plot_svg};
