//! A plot of lines over a linear or logarithmic axis, as SVG.

use plotters::coord::ranged1d::{AsRangedCoord, ValueFormatter};
use plotters::prelude::*;
use plotters::style::text_anchor::{HPos, Pos, VPos};

use super::escaped::escaped;

/// What is drawn.
#[derive(Debug, Clone, PartialEq)]
pub struct Plot {
    /// The title; with the description it is the text alternative.
    pub title: String,
    /// What the plot shows, in words, for whoever cannot see it.
    pub description: String,
    /// The title of the lower axis, unit included.
    pub across: String,
    /// The title of the upright axis, unit included.
    pub up: String,
    /// Whether the lower axis is logarithmic; its ends are above zero then.
    pub is_log: bool,
    /// The ends of the lower axis.
    pub range: (f64, f64),
    /// The lines.
    pub lines: Vec<PlotLine>,
    /// Levels across the plot.
    pub levels: Vec<PlotLevel>,
    /// Places that are marked.
    pub marks: Vec<PlotMark>,
}

/// A place that is marked in a plot.
#[derive(Debug, Clone, PartialEq)]
pub struct PlotMark {
    /// What stands beside it.
    pub name: String,
    /// Where it is, along the lower axis and up.
    pub at: (f64, f64),
}

/// A line of a plot.
#[derive(Debug, Clone, PartialEq)]
pub struct PlotLine {
    /// Its name.
    pub name: String,
    /// Its points; a gap where there is no value.
    pub points: Vec<(f64, Option<f64>)>,
    /// Lines of one group share a colour.
    pub group: usize,
    /// Drawn with gaps: the way back.
    pub is_dashed: bool,
}

/// A level across a plot.
#[derive(Debug, Clone, PartialEq)]
pub struct PlotLevel {
    /// Its name.
    pub name: String,
    /// Where it is on the upright axis.
    pub value: f64,
}

/// Colours that are told apart with every kind of colour vision (M. Okabe, K. Ito, "Color universal
/// design", 2002; values from memory), the yellow left out: it is too pale on white.
const COLOURS: [RGBColor; 6] = [
    RGBColor(0, 114, 178),
    RGBColor(213, 94, 0),
    RGBColor(0, 130, 95),
    RGBColor(160, 80, 130),
    RGBColor(60, 60, 60),
    RGBColor(150, 105, 0),
];
/// Length and height of a picture, in pixels.
const SIZE: (u32, u32) = (860, 520);

/// Draws a plot.
///
/// # Errors
///
/// What the drawing library says; it needs finite ends that are apart.
pub fn plot_svg(plot: &Plot) -> Result<String, String> {
    let mut svg = String::new();
    let ends = upright(plot);
    {
        let area = SVGBackend::with_string(&mut svg, SIZE).into_drawing_area();
        let drawn = if plot.is_log {
            draw(plot, &area, (plot.range.0..plot.range.1).log_scale(), ends)
        } else {
            draw(plot, &area, plot.range.0..plot.range.1, ends)
        };
        drawn.and_then(|()| area.present().map_err(|error| error.to_string()))?;
    }
    // The text alternative stands first, as SVG 2, 5.8 has it.
    let words = format!(
        "<title>{}</title>\n<desc>{}</desc>\n",
        escaped(&plot.title),
        escaped(&plot.description)
    );
    if let Some(end) = svg.find('>') {
        svg.insert_str(end, " role=\"img\"");
        let end = svg.find('>').unwrap_or(end);
        svg.insert_str(end + 1, &format!("\n{words}"));
    }
    Ok(svg)
}

/// The ends of the upright axis: lines and levels nearby, with a little room.
fn upright(plot: &Plot) -> (f64, f64) {
    let values = plot.lines.iter().flat_map(|line| &line.points).filter_map(|(_, value)| *value);
    let (low, high) = values
        .filter(|value| value.is_finite())
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), y| (low.min(y), high.max(y)));
    if low > high {
        return (0.0, 1.0);
    }
    let reach = 0.3 * (high - low).max(0.02 * high.abs()).max(1e-9);
    let near = plot.levels.iter().map(|level| level.value);
    let near = near.filter(|value| (low - reach..=high + reach).contains(value));
    let (low, high) = near.fold((low, high), |(low, high), y| (low.min(y), high.max(y)));
    let room = 0.06 * (high - low).max(0.01 * high.abs()).max(1e-6);
    (low - room, high + room)
}

/// A number with three digits and no more zeros than it needs.
fn tick(value: f64) -> String {
    let size = value.abs();
    let (scaled, prefix) = match size {
        _ if size < 1e-12 => (0.0, ""),
        _ if size < 1e-6 => (value * 1e9, "n"),
        _ if size < 1e-3 => (value * 1e6, "µ"),
        _ if size < 1.0 => (value * 1e3, "m"),
        _ if size < 1e3 => (value, ""),
        _ if size < 1e6 => (value / 1e3, "k"),
        _ if size < 1e9 => (value / 1e6, "M"),
        _ => (value / 1e9, "G"),
    };
    let text = format!("{scaled:.2}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    format!("{text}{prefix}")
}

fn draw<X>(
    plot: &Plot,
    area: &DrawingArea<SVGBackend<'_>, plotters::coord::Shift>,
    across: X,
    (low, high): (f64, f64),
) -> Result<(), String>
where
    X: AsRangedCoord<Value = f64>,
    X::CoordDescType: ValueFormatter<f64> + Ranged<ValueType = f64>,
{
    let told = |error: &dyn std::fmt::Display| error.to_string();
    area.fill(&WHITE).map_err(|error| told(&error))?;
    let mut chart = ChartBuilder::on(area)
        .caption(&plot.title, ("sans-serif", 18))
        .margin(14)
        .x_label_area_size(46)
        .y_label_area_size(70)
        .build_cartesian_2d(across, low..high)
        .map_err(|error| told(&error))?;
    chart
        .configure_mesh()
        .x_desc(&plot.across)
        .y_desc(&plot.up)
        .x_label_formatter(&|value| tick(*value))
        .y_label_formatter(&|value| tick(*value))
        .light_line_style(RGBColor(238, 238, 238))
        .bold_line_style(RGBColor(214, 214, 214))
        .label_style(("sans-serif", 14))
        .draw()
        .map_err(|error| told(&error))?;
    let grey = RGBColor(90, 90, 90);
    // Names stand at the right end, above their levels; where levels lie close together the next name
    // stands left of the one before, and a name is not repeated beside itself.
    let close = 0.045 * (high - low);
    let mut written: Vec<(f64, &str, i32)> = Vec::new();
    for level in plot.levels.iter().filter(|level| (low..=high).contains(&level.value)) {
        let ends = [(plot.range.0, level.value), (plot.range.1, level.value)];
        chart
            .draw_series(DashedLineSeries::new(ends, 3, 5, grey.stroke_width(1)))
            .map_err(|error| told(&error))?;
        let near = |(value, ..): &&(f64, &str, i32)| (value - level.value).abs() < close;
        if written.iter().filter(near).any(|(_, name, _)| *name == level.name) {
            continue;
        }
        let taken = written
            .iter()
            .filter(near)
            .map(|(_, name, left)| left + 8 * name.chars().count() as i32 + 14);
        let left = taken.max().unwrap_or(6);
        written.push((level.value, &level.name, left));
        let style = ("sans-serif", 13).into_font().color(&grey);
        let style = style.pos(Pos::new(HPos::Right, VPos::Bottom));
        let name = Text::new(level.name.clone(), (-left, -2), style);
        let at = EmptyElement::at((plot.range.1, level.value)) + name;
        chart.draw_series(std::iter::once(at)).map_err(|error| told(&error))?;
    }
    for line in &plot.lines {
        let colour = COLOURS[line.group % COLOURS.len()];
        let mut named = false;
        for piece in line.points.split(|(_, value)| value.is_none()) {
            let points: Vec<(f64, f64)> =
                piece.iter().filter_map(|(x, y)| Some((*x, (*y)?))).collect();
            if points.is_empty() {
                continue;
            }
            let drawn = if line.is_dashed {
                let series = DashedLineSeries::new(points, 8, 5, colour.stroke_width(2));
                chart.draw_series(series)
            } else {
                chart.draw_series(LineSeries::new(points, colour.stroke_width(2)))
            };
            let drawn = drawn.map_err(|error| told(&error))?;
            if !std::mem::replace(&mut named, true) {
                let width = if line.is_dashed { 1 } else { 3 };
                drawn.label(&line.name).legend(move |(x, y)| {
                    PathElement::new([(x, y), (x + 22, y)], colour.stroke_width(width))
                });
            }
        }
    }
    let ink = RGBColor(28, 34, 48);
    for mark in &plot.marks {
        // Where a line falls and another rises, there is room above to the right and below to the
        // left.
        let is_left = mark.at.0 < 0.5 * (plot.range.0 + plot.range.1);
        let (pos, away) = match is_left {
            true => (Pos::new(HPos::Left, VPos::Bottom), (12, -8)),
            false => (Pos::new(HPos::Right, VPos::Top), (-12, 8)),
        };
        let style = ("sans-serif", 14).into_font().color(&ink).pos(pos);
        let ring = Circle::new((0, 0), 6, ink.stroke_width(2));
        let name = Text::new(mark.name.clone(), away, style);
        let at = EmptyElement::at(mark.at) + ring + name;
        chart.draw_series(std::iter::once(at)).map_err(|error| told(&error))?;
    }
    if plot.lines.len() > 1 {
        chart
            .configure_series_labels()
            .background_style(WHITE.mix(0.85))
            .border_style(RGBColor(200, 200, 200))
            .label_font(("sans-serif", 14))
            .position(match plot.marks.is_empty() {
                true => SeriesLabelPosition::LowerRight,
                // A load line ends there.
                false => SeriesLabelPosition::UpperRight,
            })
            .draw()
            .map_err(|error| told(&error))?;
    }
    Ok(())
}
