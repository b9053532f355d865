//! A plot out of characters, for a terminal: no kept crate draws limits with their names on it.

/// Rows of the plot.
const ROWS: usize = 16;
/// The signs of the lines, in order.
pub(super) const SIGNS: [char; 6] = ['o', 'x', '+', '#', '@', '%'];

/// A line: per place its value, with places between 0 and 1.
pub(super) struct Line {
    pub(super) sign: char,
    pub(super) points: Vec<(f64, Option<f64>)>,
}

/// A level across the plot, with its name.
pub(super) struct Mark {
    pub(super) value: f64,
    pub(super) name: String,
}

/// Draws lines over levels; `label` prints a value of the upright axis.
pub(super) fn drawn(
    lines: &[Line],
    marks: &[Mark],
    label: &dyn Fn(f64) -> String,
    width: usize,
) -> Vec<String> {
    let values = || lines.iter().flat_map(|line| &line.points).filter_map(|(_, value)| *value);
    let (mut low, mut high) = values()
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), y| (low.min(y), high.max(y)));
    if low > high {
        return Vec::new();
    }
    // Levels nearby belong into the picture; those far off would flatten it.
    let reach = 0.3 * (high - low).max(0.02 * high.abs()).max(1e-9);
    for mark in marks {
        if (low - reach..=high + reach).contains(&mark.value) {
            (low, high) = (low.min(mark.value), high.max(mark.value));
        }
    }
    if high - low < 1e-9 * high.abs().max(1e-9) {
        let room = 0.05 * high.abs().max(1e-3);
        (low, high) = (low - room, high + room);
    }
    let labels: Vec<String> =
        (0..ROWS).map(|row| label(high - (high - low) * row as f64 / (ROWS - 1) as f64)).collect();
    let margin = labels.iter().map(|text| text.chars().count()).max().unwrap_or(0);
    let columns = width.saturating_sub(margin + 4).clamp(20, 100);
    let row_of = |value: f64| {
        let row = (high - value) / (high - low) * (ROWS - 1) as f64;
        row.round().clamp(0.0, (ROWS - 1) as f64) as usize
    };
    let mut grid = vec![vec![' '; columns]; ROWS];
    for mark in marks.iter().filter(|mark| (low..=high).contains(&mark.value)) {
        let row = &mut grid[row_of(mark.value)];
        row.iter_mut().step_by(2).for_each(|place| *place = '-');
        let name: Vec<char> = format!(" {} ", mark.name).chars().collect();
        let first = columns.saturating_sub(name.len() + 1);
        for (place, letter) in row[first..].iter_mut().zip(name) {
            *place = letter;
        }
    }
    for line in lines {
        let mut last: Option<usize> = None;
        for column in 0..columns {
            let at = column as f64 / (columns - 1) as f64;
            let Some(value) = between(&line.points, at) else {
                last = None;
                continue;
            };
            let row = row_of(value);
            if let Some(last) = last {
                let (top, bottom) = (row.min(last), row.max(last));
                for row in grid.iter_mut().take(bottom).skip(top + 1) {
                    row[column] = ':';
                }
            }
            grid[row][column] = line.sign;
            last = Some(row);
        }
    }
    let mut rows: Vec<String> = grid
        .into_iter()
        .zip(&labels)
        .enumerate()
        .map(|(number, (row, label))| {
            let label = if number % 3 == 0 { label.as_str() } else { "" };
            let row: String = row.into_iter().collect();
            format!(" {label:>margin$} |{row}")
        })
        .collect();
    rows.push(format!(" {:>margin$} +{}", "", "-".repeat(columns)));
    rows
}

/// The value of a line at a place; nothing where a neighbour has none.
fn between(points: &[(f64, Option<f64>)], at: f64) -> Option<f64> {
    let above = points.partition_point(|(place, _)| *place < at - 1e-9);
    let (right, right_value) = points.get(above).or(points.last()).copied()?;
    if (right - at).abs() < 1e-9 || above == 0 {
        return right_value;
    }
    let (left, left_value) = points[above - 1];
    let (a, b) = (left_value?, right_value?);
    Some(a + (b - a) * (at - left) / (right - left).max(1e-12))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_straight_line_goes_from_corner_to_corner() {
        let points = (0..=10).map(|k| (f64::from(k) / 10.0, Some(f64::from(k)))).collect();
        let line = Line { sign: 'o', points };
        let mark = Mark { value: 5.0, name: "half".to_owned() };
        let rows = drawn(&[line], &[mark], &|y| format!("{y:.0}"), 60);
        assert_eq!(rows.len(), ROWS + 1);
        assert!(rows[0].ends_with('o'), "{:?}", rows[0]);
        assert!(rows[ROWS - 1].contains("|o"), "{:?}", rows[ROWS - 1]);
        assert!(rows.iter().any(|row| row.contains(" half ")));
        assert!(rows.iter().all(|row| row.chars().count() <= 60));
    }
}
