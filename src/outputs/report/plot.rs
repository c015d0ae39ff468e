//! A chart as inline SVG. Axes, ticks, lines and bands come from the plotting library; here it is told
//! what to draw and in which style.

use crate::texts::Texts;
use plotters::coord::Shift;
use plotters::prelude::*;
use plotters::style::text_anchor::{HPos, Pos, VPos};
use std::ops::Range;

/// Size of a chart, px: small enough that its letters stay legible when a phone shrinks it.
pub(crate) const SIZE: (u32, u32) = (560, 360);
/// The library divides sizes of letters by 1.24 when it writes SVG; this gives 16 px.
pub(crate) const LETTERS: f64 = 20.0;
pub(crate) const BLACK_INK: RGBColor = RGBColor(0, 0, 0);
pub(crate) const GRID: RGBColor = RGBColor(0xD9, 0xDD, 0xE1);
pub(crate) const AXIS: RGBColor = RGBColor(0x5C, 0x66, 0x70);

/// Colours of the lines. The car and its rim have those of the marks that tell of them, the sticker and the wheel
/// mark, in a tone for paper (`sketch/look.rs` has the light ones); the others are from the palette by Okabe and Ito,
/// Color Universal Design, 2008. The page's style sheet swaps them for their light siblings on a dark ground.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Hue {
    /// The car, by its sticker: pink.
    Car,
    /// The rim, by the wheel mark: green.
    Rim,
    /// Slip: blue.
    Slip,
    /// The aim line: yellow with a dark edge.
    Aim,
    /// A line to compare with: grey.
    Reference,
    /// A fitted line: as good as black, and told from the words by the style sheet.
    Fit,
    /// The gap between rim and car: orange.
    Gap,
}

/// Edge of the aim line.
const AIM_EDGE: RGBColor = RGBColor(0x16, 0x19, 0x1C);

impl Hue {
    const fn rgb(self) -> RGBColor {
        match self {
            Self::Car => RGBColor(0xA8, 0x35, 0x7F),
            Self::Rim => RGBColor(0x28, 0x79, 0x2C),
            Self::Slip => RGBColor(0x00, 0x72, 0xB2),
            Self::Aim => RGBColor(0xF0, 0xE4, 0x42),
            Self::Reference => AXIS,
            Self::Fit => RGBColor(0x01, 0x01, 0x01),
            Self::Gap => RGBColor(0xE6, 0x9F, 0x00),
        }
    }
}

/// How a line is drawn, so that it is known without its colour.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Style {
    Solid,
    Dashed,
    Dotted,
}

/// One thing on a chart.
#[derive(Debug, Clone)]
pub(crate) enum Item {
    /// A line in pieces, broken where nothing was seen.
    Line(Hue, Style, Vec<Vec<(f64, f64)>>),
    /// An interval: (x, low, high) in pieces.
    Band(Hue, f64, Vec<Vec<(f64, f64, f64)>>),
    /// A thin upright line at an x with words at its top.
    Upright(f64, String),
    /// A thin level line at a y.
    Level(f64),
}

/// A chart to draw; its numbers are written as in the language of `texts`.
#[derive(Debug, Clone)]
pub(crate) struct Plot {
    pub(crate) texts: &'static Texts,
    pub(crate) x_name: String,
    pub(crate) y_name: String,
    pub(crate) x: Range<f64>,
    pub(crate) y: Range<f64>,
    pub(crate) items: Vec<Item>,
}

/// A drawn chart.
#[derive(Debug, Clone)]
pub(crate) struct Drawn {
    /// The SVG element.
    pub(crate) svg: String,
    /// Left, top, right and bottom of the plotting area, px.
    pub(crate) area: [i32; 4],
}

pub(super) type Failed = Box<dyn std::error::Error + Send + Sync>;
type Area<'a> = DrawingArea<SVGBackend<'a>, Shift>;
type Context<'a> = ChartContext<
    'a,
    SVGBackend<'a>,
    Cartesian2d<plotters::coord::types::RangedCoordf64, plotters::coord::types::RangedCoordf64>,
>;

impl Plot {
    /// Draws the chart.
    pub(crate) fn draw(&self) -> Result<Drawn, Failed> {
        let mut svg = String::new();
        let area = {
            let root: Area<'_> = SVGBackend::with_string(&mut svg, SIZE).into_drawing_area();
            let mut chart = ChartBuilder::on(&root)
                .margin_top(26)
                .margin_right(18)
                .margin_bottom(4)
                .x_label_area_size(50)
                .y_label_area_size(80)
                .build_cartesian_2d(self.x.clone(), self.y.clone())?;
            self.draw_mesh(&mut chart)?;
            for item in &self.items {
                self.draw_item(&mut chart, item)?;
            }
            let (x, y) = chart.plotting_area().get_pixel_range();
            self.draw_labels(&root, &x, &y)?;
            root.present()?;
            [x.start, y.start, x.end, y.end]
        };
        Ok(Drawn { svg, area })
    }

    fn draw_mesh(&self, chart: &mut Context<'_>) -> Result<(), Failed> {
        let letters = ("sans-serif", LETTERS).into_font().color(&BLACK_INK);
        let (x_digits, y_digits) = (digits_for(&self.x, 7), digits_for(&self.y, 6));
        chart
            .configure_mesh()
            .max_light_lines(0)
            .bold_line_style(GRID.stroke_width(1))
            .axis_style(AXIS.stroke_width(1))
            .label_style(letters.clone())
            .axis_desc_style(letters)
            .x_labels(7)
            .y_labels(6)
            .x_label_formatter(&|v| self.texts.number(*v, x_digits))
            .y_label_formatter(&|v| self.texts.number(*v, y_digits))
            .x_desc(self.x_name.as_str())
            .y_desc(self.y_name.as_str())
            .draw()?;
        Ok(())
    }

    fn draw_item(&self, chart: &mut Context<'_>, item: &Item) -> Result<(), Failed> {
        match item {
            Item::Band(hue, opacity, pieces) => {
                for piece in pieces.iter().filter(|piece| piece.len() > 1) {
                    let upper = piece.iter().map(|&(x, _, high)| (x, self.within(high)));
                    let lower = piece.iter().rev().map(|&(x, low, _)| (x, self.within(low)));
                    let outline: Vec<(f64, f64)> = upper.chain(lower).collect();
                    let fill = hue.rgb().mix(*opacity).filled();
                    chart.draw_series([Polygon::new(outline, fill)])?;
                }
            }
            Item::Line(hue, style, pieces) => {
                for piece in pieces.iter().filter(|piece| !piece.is_empty()) {
                    let points: Vec<_> = piece.iter().map(|&(x, y)| (x, self.within(y))).collect();
                    draw_line(chart, *hue, *style, points)?;
                }
            }
            Item::Upright(x, _) => {
                let ends = [(*x, self.y.start), (*x, self.y.end)];
                chart.draw_series(DashedLineSeries::new(ends, 2, 4, AXIS.stroke_width(1)))?;
            }
            Item::Level(y) => {
                let ends = [(self.x.start, *y), (self.x.end, *y)];
                chart.draw_series(LineSeries::new(ends, AXIS.stroke_width(1)))?;
            }
        }
        Ok(())
    }

    /// What lies beyond the chart is drawn on its edge.
    fn within(&self, y: f64) -> f64 {
        y.clamp(self.y.start, self.y.end)
    }

    /// Words above the upright lines, moved apart where they would touch.
    fn draw_labels(&self, root: &Area<'_>, x: &Range<i32>, y: &Range<i32>) -> Result<(), Failed> {
        let span = self.x.end - self.x.start;
        let mut free_from = x.start;
        for item in &self.items {
            let Item::Upright(at, words) = item else {
                continue;
            };
            let share = (at - self.x.start) / span;
            let centre = x.start + (share * f64::from(x.end - x.start)).round() as i32;
            // Bold guesses of the width: letters are about half as wide as high.
            let half = (words.chars().count() as f64 * 0.25 * LETTERS / 1.24 * 1.1) as i32;
            let centre = centre.max(free_from + half).min(x.end - half);
            free_from = centre + half + 8;
            let style = ("sans-serif", LETTERS - 1.0)
                .into_font()
                .color(&BLACK_INK)
                .pos(Pos::new(HPos::Center, VPos::Bottom));
            root.draw_text(words, &style, (centre, y.start - 4))?;
        }
        Ok(())
    }
}

fn draw_line(
    chart: &mut Context<'_>,
    hue: Hue,
    style: Style,
    points: Vec<(f64, f64)>,
) -> Result<(), Failed> {
    let stroke = hue.rgb().stroke_width(3);
    match style {
        Style::Solid => {
            chart.draw_series(LineSeries::new(points, stroke))?;
        }
        Style::Dashed => {
            if hue == Hue::Aim {
                let edge = AIM_EDGE.stroke_width(6);
                chart.draw_series(DashedLineSeries::new(points.clone(), 11, 6, edge))?;
            }
            chart.draw_series(DashedLineSeries::new(points, 11, 6, stroke))?;
        }
        Style::Dotted => {
            chart.draw_series(DashedLineSeries::new(points, 3, 9, stroke))?;
        }
    }
    Ok(())
}

/// Decimals that tell about `ticks` marks on a range apart.
pub(crate) fn digits_for(range: &Range<f64>, ticks: u32) -> usize {
    let step = (range.end - range.start) / f64::from(ticks);
    if step > 0.0 && step.is_finite() {
        (-step.log10()).ceil().clamp(0.0, 4.0) as usize
    } else {
        2
    }
}

/// A range that holds all values with a little room, and never has no size.
pub(crate) fn range_of(values: impl IntoIterator<Item = f64>, room: f64) -> Range<f64> {
    let (mut low, mut high) = (f64::INFINITY, f64::NEG_INFINITY);
    for value in values.into_iter().filter(|v| v.is_finite()) {
        low = low.min(value);
        high = high.max(value);
    }
    if low > high {
        return 0.0..1.0;
    }
    let span = (high - low).max(1e-6 * high.abs()).max(1e-6);
    low - room * span..high + room * span
}

#[cfg(test)]
mod tests {
    use super::*;

    fn plot() -> Plot {
        Plot {
            texts: Texts::english(),
            x_name: "time, s".into(),
            y_name: "speed, m/s".into(),
            x: 0.0..2.0,
            y: 0.0..4.0,
            items: vec![
                Item::Band(Hue::Car, 0.2, vec![vec![(0.0, 0.9, 1.1), (2.0, 1.9, 9.0)]]),
                Item::Line(Hue::Car, Style::Solid, vec![vec![(0.0, 1.0), (2.0, 2.0)]]),
                Item::Line(Hue::Rim, Style::Dashed, vec![vec![(0.0, 3.0), (2.0, 2.0)]]),
                Item::Upright(1.0, "end of <pull>".into()),
            ],
        }
    }

    #[test]
    fn lines_lie_where_the_area_says() {
        let drawn = plot().draw().unwrap();
        let [left, top, right, bottom] = drawn.area;
        // (0, 1) and (2, 2) on axes 0..2 and 0..4.
        let y =
            |value: f64| (f64::from(bottom) - value / 4.0 * f64::from(bottom - top)).round() as i32;
        let line = drawn
            .svg
            .lines()
            .find(|l| l.contains("<polyline") && l.contains("#A8357F"))
            .unwrap();
        let points = line.split("points=\"").nth(1).unwrap();
        let near = |x: i32, y: i32| {
            (-1..=1)
                .any(|dx| (-1..=1).any(|dy| points.contains(&format!("{},{} ", x + dx, y + dy))))
        };
        assert!(near(left, y(1.0)) && near(right, y(2.0)), "{points}");
    }

    #[test]
    fn words_are_escaped_and_dashes_are_drawn() {
        let svg = plot().draw().unwrap().svg;
        assert!(svg.contains("end of &lt;pull&gt;") && !svg.contains("<pull>"));
        assert!(
            svg.matches("#28792C").count() > 8,
            "a dashed line has many parts"
        );
        assert!(svg.starts_with("<svg") && svg.trim_end().ends_with("</svg>"));
    }
}
