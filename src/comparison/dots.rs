//! The two charts of a quantity as inline SVG: every run with its own interval and each group's mean, and
//! the same runs in the order in which they were made. The plotting library draws; shapes tell the groups
//! apart as well as colours do.

use super::names::Scale;
use crate::outputs::report::plot::{AXIS, BLACK_INK, Drawn, GRID, LETTERS, digits_for, range_of};
use crate::outputs::shown::number;
use crate::treatments::{Comparison, OfQuantity, Point, SIGNIFICANT};
use plotters::coord::Shift;
use plotters::coord::types::RangedCoordf64;
use plotters::prelude::*;
use plotters::style::text_anchor::{HPos, Pos, VPos};
use std::ops::Range;

/// Width of a chart, px, and the height of the one of the order.
const WIDTH: u32 = 560;
const HEIGHT: u32 = 360;
/// Letters of a group's name, px.
const LINE: f64 = 27.0;
/// Height of a run's line, px: less where there are many.
const ROW: Range<f64> = 5.0..16.0;
/// A group's runs together, px, at most.
const BLOCK: f64 = 200.0;
/// Height of a mean's line with the gap after it, px.
const MEAN: f64 = 34.0;
/// Longest name that is drawn, in characters.
const NAME: usize = 46;
/// Half the size of a shape, px.
const SIZE: i32 = 6;

/// Colours of the groups, from the palette by Okabe and Ito (Color Universal Design, 2008). The page's style
/// sheet swaps them for light ones on a dark ground.
const HUES: [RGBColor; 5] = [
    RGBColor(0x00, 0x72, 0xB2),
    RGBColor(0xD5, 0x5E, 0x00),
    RGBColor(0x9B, 0x45, 0x78),
    RGBColor(0x00, 0x9E, 0x73),
    RGBColor(0x5C, 0x66, 0x70),
];
const INK: RGBColor = RGBColor(0x01, 0x01, 0x01);

type Failed = Box<dyn std::error::Error + Send + Sync>;
type Area<'a> = DrawingArea<SVGBackend<'a>, Shift>;
type Chart<'a> = ChartContext<'a, SVGBackend<'a>, Cartesian2d<RangedCoordf64, RangedCoordf64>>;

/// Outlines of the groups' shapes about (0, 0), px; the first is a circle of eight corners' worth.
fn outline(group: usize) -> Vec<(i32, i32)> {
    let s = SIZE;
    match group % 6 {
        0 => (0..16)
            .map(|corner| {
                let angle = f64::from(corner) * std::f64::consts::PI / 8.0;
                let at = |share: f64| (share * f64::from(s)).round() as i32;
                (at(angle.cos()), at(angle.sin()))
            })
            .collect(),
        1 => vec![(0, -s - 1), (s + 1, s - 1), (-s - 1, s - 1)],
        2 => vec![
            (-s + 1, -s + 1),
            (s - 1, -s + 1),
            (s - 1, s - 1),
            (-s + 1, s - 1),
        ],
        3 => vec![(0, -s - 1), (s + 1, 0), (0, s + 1), (-s - 1, 0)],
        4 => vec![(0, s + 1), (s + 1, -s + 1), (-s - 1, -s + 1)],
        _ => {
            let t = s / 3;
            vec![
                (-t, -s),
                (t, -s),
                (t, -t),
                (s, -t),
                (s, t),
                (t, t),
                (t, s),
                (-t, s),
                (-t, t),
                (-s, t),
                (-s, -t),
                (-t, -t),
            ]
        }
    }
}

/// A group's hue, and whether its shape is filled: twelve groups are told apart without their colours.
fn observation(group: usize) -> (RGBColor, bool) {
    (HUES[group % HUES.len()], group < 6)
}

/// A group's shape for a legend: an SVG path, its class, and whether it is filled.
pub(super) fn swatch(group: usize) -> (String, String) {
    let corners: Vec<String> = (outline(group).iter())
        .map(|(x, y)| format!("{} {}", x + 8, y + 8))
        .collect();
    let (_, filled) = observation(group);
    let hollow = if filled { "" } else { " hollow" };
    let class = format!("group-{}{hollow}", group % HUES.len());
    (format!("M{}z", corners.join("L")), class)
}

fn mark(chart: &mut Chart<'_>, group: usize, at: (f64, f64)) -> Result<(), Failed> {
    let (hue, filled) = observation(group);
    let shape = outline(group);
    if filled {
        let dot = EmptyElement::at(at) + Polygon::new(shape, hue.filled());
        chart.draw_series(std::iter::once(dot))?;
    } else {
        let closed: Vec<_> = shape.iter().chain(shape.first()).copied().collect();
        let ring = EmptyElement::at(at) + PathElement::new(closed, hue.stroke_width(2));
        chart.draw_series(std::iter::once(ring))?;
    }
    Ok(())
}

fn line(chart: &mut Chart<'_>, ends: [(f64, f64); 2], style: ShapeStyle) -> Result<(), Failed> {
    chart.draw_series(std::iter::once(PathElement::new(ends, style)))?;
    Ok(())
}

/// Heights, px from the top: of each group's name, of its runs, and of its mean.
struct Rows {
    height: f64,
    groups: Vec<Row>,
}

struct Row {
    name: f64,
    runs: Vec<f64>,
    mean: Option<f64>,
}

fn rows(of: &Comparison, quantity: &OfQuantity) -> Rows {
    let mut at = 4.0;
    let groups = (0..of.groups.len())
        .map(|group| {
            let count = quantity.points.iter().filter(|p| p.group == group).count();
            let step = (BLOCK / count.max(1) as f64).clamp(ROW.start, ROW.end);
            let name = at + LINE / 2.0;
            at += LINE + 2.0;
            let runs: Vec<f64> = (0..count)
                .map(|run| at + (run as f64 + 0.5) * step)
                .collect();
            at += count as f64 * step;
            let mean = (count > 1).then_some(at + MEAN / 3.0);
            at += if count > 1 { MEAN } else { MEAN / 3.0 };
            Row { name, runs, mean }
        })
        .collect();
    Rows { height: at, groups }
}

/// Every run of each group as a dot with its own interval, and under them the group's mean with its.
pub(super) fn by_group(
    of: &Comparison,
    quantity: &OfQuantity,
    scale: &Scale,
    name: &str,
) -> Result<Drawn, Failed> {
    let rows = rows(of, quantity);
    let x = values_range(quantity, scale);
    let (top, bottom) = (6, 56);
    let height = rows.height.ceil() as u32 + top + bottom;
    let mut svg = String::new();
    let area = {
        let root: Area<'_> = SVGBackend::with_string(&mut svg, (WIDTH, height)).into_drawing_area();
        let mut chart = ChartBuilder::on(&root)
            .margin_top(top)
            .margin_right(18)
            .margin_left(12)
            .margin_bottom(4)
            .x_label_area_size(bottom - 4)
            .build_cartesian_2d(x.clone(), -rows.height..0.0)?;
        let letters = ("sans-serif", LETTERS).into_font().color(&BLACK_INK);
        let digits = digits_for(&x, 7);
        chart
            .configure_mesh()
            .max_light_lines(0)
            .bold_line_style(GRID.stroke_width(1))
            .axis_style(AXIS.stroke_width(1))
            .disable_y_mesh()
            .label_style(letters.clone())
            .axis_desc_style(letters)
            .x_labels(7)
            .x_label_formatter(&|v| number(*v, digits))
            .x_desc(name)
            .draw()?;
        for (group, row) in rows.groups.iter().enumerate() {
            draw_group(&mut chart, of, quantity, scale, (group, row), x.start)?;
        }
        let (x, y) = chart.plotting_area().get_pixel_range();
        root.present()?;
        [x.start, y.start, x.end, y.end]
    };
    Ok(Drawn { svg, area })
}

fn draw_group(
    chart: &mut Chart<'_>,
    of: &Comparison,
    quantity: &OfQuantity,
    scale: &Scale,
    (group, row): (usize, &Row),
    left: f64,
) -> Result<(), Failed> {
    let words = group_words(of, quantity, group);
    let style = ("sans-serif", LETTERS)
        .into_font()
        .color(&BLACK_INK)
        .pos(Pos::new(HPos::Left, VPos::Center));
    let text = EmptyElement::at((left, -row.name)) + Text::new(words, (4, 0), style);
    chart.draw_series(std::iter::once(text))?;
    let (hue, _) = observation(group);
    let points: Vec<&Point> = quantity
        .points
        .iter()
        .filter(|p| p.group == group)
        .collect();
    for (point, at) in points.iter().zip(&row.runs) {
        let v = point.value;
        let ends = [v.low, v.high].map(|end| (end * scale.factor, -at));
        line(chart, ends, hue.mix(0.6).stroke_width(2))?;
    }
    for (point, at) in points.iter().zip(&row.runs) {
        mark(chart, group, (point.value.value * scale.factor, -at))?;
    }
    let found = quantity.groups.get(group).copied().flatten();
    if let (Some(at), Some(found)) = (row.mean, found) {
        let mean = found.sample.mean * scale.factor;
        for (interval, width) in [(found.full_interval, 1), (found.interval, 5)] {
            if let Some(interval) = interval {
                let ends = [interval.low, interval.high].map(|end| (end * scale.factor, -at));
                line(chart, ends, INK.stroke_width(width))?;
            }
        }
        let tick = [(mean, -at - 8.0), (mean, -at + 8.0)];
        line(chart, tick, INK.stroke_width(4))?;
    }
    Ok(())
}

fn group_words(of: &Comparison, quantity: &OfQuantity, group: usize) -> String {
    let label = &of.groups[group].label;
    let shown = quantity.points.iter().filter(|p| p.group == group).count();
    let all = of.groups[group].runs.len();
    let count = match (shown, all) {
        (0, _) => "not observable".to_owned(),
        (1, 1) => "1 run".to_owned(),
        (shown, all) if shown == all => format!("{all} runs"),
        (shown, all) => format!("{shown} of {all} runs"),
    };
    let name: String = if label.chars().count() > NAME {
        label.chars().take(NAME - 1).chain(['…']).collect()
    } else {
        label.clone()
    };
    format!("{name} · {count}")
}

/// From the least to the largest end of any interval that is drawn.
fn values_range(quantity: &OfQuantity, scale: &Scale) -> Range<f64> {
    let runs = quantity
        .points
        .iter()
        .flat_map(|p| [p.value.low, p.value.high]);
    let means = (quantity.groups.iter().flatten())
        .filter_map(|found| found.full_interval)
        .flat_map(|interval| [interval.low, interval.high]);
    range_of(runs.chain(means).map(|v| v * scale.factor), 0.05)
}

/// The runs in the order in which they were made.
pub(super) fn in_order(
    of: &Comparison,
    quantity: &OfQuantity,
    scale: &Scale,
    name: &str,
) -> Result<Drawn, Failed> {
    let runs = quantity
        .points
        .iter()
        .flat_map(|p| [p.value.low, p.value.high]);
    let y = range_of(runs.map(|v| v * scale.factor), 0.07);
    let x = 0.5..of.runs.len() as f64 + 0.5;
    let mut svg = String::new();
    let area = {
        let root: Area<'_> = SVGBackend::with_string(&mut svg, (WIDTH, HEIGHT)).into_drawing_area();
        let mut chart = ChartBuilder::on(&root)
            .margin_top(14)
            .margin_right(18)
            .margin_bottom(4)
            .x_label_area_size(50)
            .y_label_area_size(80)
            .build_cartesian_2d(x, y.clone())?;
        let letters = ("sans-serif", LETTERS).into_font().color(&BLACK_INK);
        let digits = digits_for(&y, 6);
        chart
            .configure_mesh()
            .max_light_lines(0)
            .disable_x_mesh()
            .bold_line_style(GRID.stroke_width(1))
            .axis_style(AXIS.stroke_width(1))
            .label_style(letters.clone())
            .axis_desc_style(letters)
            .x_labels(of.runs.len().min(14))
            .y_labels(6)
            .x_label_formatter(&|at| run_number(*at))
            .y_label_formatter(&|v| number(*v, digits))
            .x_desc("run, in order")
            .y_desc(name)
            .draw()?;
        draw_levels(&mut chart, of, quantity, scale)?;
        draw_runs(&mut chart, quantity, scale)?;
        let (x, y) = chart.plotting_area().get_pixel_range();
        root.present()?;
        [x.start, y.start, x.end, y.end]
    };
    Ok(Drawn { svg, area })
}

/// Number of a run; nothing between two runs.
fn run_number(at: f64) -> String {
    if at.fract() == 0.0 {
        format!("{at:.0}")
    } else {
        String::new()
    }
}

/// Each run at its number, with its interval.
fn draw_runs(chart: &mut Chart<'_>, quantity: &OfQuantity, scale: &Scale) -> Result<(), Failed> {
    for point in &quantity.points {
        let (hue, _) = observation(point.group);
        let place = point.run as f64 + 1.0;
        let v = point.value;
        let ends = [v.low, v.high].map(|end| (place, end * scale.factor));
        line(chart, ends, hue.mix(0.6).stroke_width(2))?;
        mark(chart, point.group, (place, v.value * scale.factor))?;
    }
    Ok(())
}

/// Each group's mean over the stretch of its runs, dashed; sloping where there is a clear drift.
fn draw_levels(
    chart: &mut Chart<'_>,
    of: &Comparison,
    quantity: &OfQuantity,
    scale: &Scale,
) -> Result<(), Failed> {
    let slope = quantity.drift.filter(|drift| drift.p < SIGNIFICANT);
    let slope = slope.map_or(0.0, |drift| drift.per_run);
    for group in 0..of.groups.len() {
        let places = || {
            let of_group = quantity.points.iter().filter(|p| p.group == group);
            of_group.map(|p| p.run as f64 + 1.0)
        };
        let count = places().count();
        let Some(found) = quantity.groups[group].filter(|_| count > 1) else {
            continue;
        };
        let centre = places().sum::<f64>() / count as f64;
        let ends = [
            places().fold(f64::MAX, f64::min),
            places().fold(f64::MIN, f64::max),
        ];
        let level = |place: f64| (found.sample.mean + slope * (place - centre)) * scale.factor;
        let ends = ends.map(|place| (place, level(place)));
        let (hue, _) = observation(group);
        chart.draw_series(DashedLineSeries::new(ends, 7, 6, hue.stroke_width(2)))?;
    }
    Ok(())
}
