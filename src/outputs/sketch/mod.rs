//! Drawing on film: anti-aliased lines, rings and letters on a clear sheet that is laid over a frame.
//!
//! Places are given in pixels of the upright picture, centres on integers. A [`Placement`] says which
//! part of it the sheet covers and at what scale, so the same drawing serves the full-size overlay and
//! the small frames of the report.

mod letters;
mod look;
mod panel;
mod scene;
mod site;
mod touched;

pub use look::{Mark, Outline, inks};
pub(super) use panel::scale_end;
pub use panel::{Reading, draw_panel};
pub(super) use scene::seen_in;
pub use scene::{Scene, Shown};
pub(super) use site::letter_px;
pub use site::{Site, Spot, site};

pub(super) use letters::{BOLD, Letters, REGULAR};
use nalgebra::Vector2;
use std::ops::Range;
use tiny_skia::{
    BlendMode, FillRule, LineCap, LineJoin, Paint, Path, PathBuilder, Pixmap, Rect, Stroke,
    StrokeDash, Transform,
};
use touched::Touched;

/// A colour with opacity.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ink {
    /// Red, green, blue.
    pub rgb: [u8; 3],
    /// Opacity, 0 to 255.
    pub alpha: u8,
}

impl Ink {
    /// An opaque colour.
    pub const fn solid(rgb: [u8; 3]) -> Self {
        Self { rgb, alpha: 255 }
    }

    /// The same colour with another opacity.
    #[must_use]
    pub const fn faded(self, alpha: u8) -> Self {
        Self { alpha, ..self }
    }

    fn paint(self) -> Paint<'static> {
        let mut paint = Paint {
            anti_alias: true,
            ..Paint::default()
        };
        let [red, green, blue] = self.rgb;
        paint.set_color_rgba8(red, green, blue, self.alpha);
        paint
    }
}

/// Which part of the upright picture a sheet covers.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Placement {
    /// Left edge (not centre) of the first column covered, px: 0 for the whole picture.
    pub left_px: f64,
    /// Top edge of the first row covered, px.
    pub top_px: f64,
    /// Pixels of the sheet for a pixel of the picture.
    pub scale: f64,
}

impl Placement {
    /// The whole picture at its own size.
    pub const WHOLE: Self = Self {
        left_px: 0.0,
        top_px: 0.0,
        scale: 1.0,
    };

    fn on_sheet(&self, at: Vector2<f64>) -> (f32, f32) {
        (
            ((at.x + 0.5 - self.left_px) * self.scale) as f32,
            ((at.y + 0.5 - self.top_px) * self.scale) as f32,
        )
    }
}

/// Corners of a dot. A circle of the same few pixels looks the same, and takes longer where a trail has hundreds of them.
const DOT_CORNERS: usize = 12;

/// A clear sheet over (part of) a picture.
pub struct Sketch {
    pixmap: Pixmap,
    placement: Placement,
    letters: Letters,
    touched: Touched,
}

impl Sketch {
    /// A clear sheet of this size; `None` for a size of nothing or beyond memory.
    pub fn new(width: u32, height: u32, placement: Placement) -> Option<Self> {
        Some(Self {
            pixmap: Pixmap::new(width, height)?,
            placement,
            letters: Letters::load()?,
            touched: Touched::none_of(width, height),
        })
    }

    /// Size of the sheet.
    pub fn size(&self) -> (u32, u32) {
        (self.pixmap.width(), self.pixmap.height())
    }

    /// Makes the sheet clear again.
    pub fn clear(&mut self) {
        let row_bytes = self.pixmap.width() as usize * 4;
        let rows = self.pixmap.data_mut().chunks_exact_mut(row_bytes.max(4));
        for (number, row) in rows.enumerate() {
            for run in self.touched.runs(number..number + 1) {
                row[run.start * 4..run.end * 4].fill(0);
            }
        }
        self.touched.clear();
    }

    /// Red, green, blue and alpha of a row, with colours already multiplied by alpha; nothing beyond the last row.
    pub fn row(&self, row: usize) -> &[u8] {
        let row_bytes = self.pixmap.width() as usize * 4;
        let start = row * row_bytes;
        let bytes = self.pixmap.data().get(start..start + row_bytes);
        bytes.unwrap_or_default()
    }

    /// The columns of some rows in which something is drawn, from left to right: from an even column up to an even one
    /// or the sheet's edge.
    pub fn drawn(&self, rows: Range<usize>) -> impl Iterator<Item = Range<usize>> + use<> {
        self.touched.runs(rows)
    }

    fn stroke(&mut self, path: &Path, ink: Ink, width: f64, dash: Option<[f32; 2]>) {
        let stroke = Stroke {
            width: width as f32,
            line_cap: LineCap::Round,
            line_join: LineJoin::Round,
            dash: dash.and_then(|d| StrokeDash::new(d.to_vec(), 0.0)),
            ..Stroke::default()
        };
        self.touched.mark_along(path, width as f32);
        let paint = ink.paint();
        let steady = Transform::identity();
        self.pixmap.stroke_path(path, &paint, &stroke, steady, None);
    }

    fn fill(&mut self, path: &Path, ink: Ink) {
        self.touched.mark_filled(path);
        let (paint, steady) = (ink.paint(), Transform::identity());
        self.pixmap
            .fill_path(path, &paint, FillRule::Winding, steady, None);
    }

    fn through(&self, places: &[Vector2<f64>]) -> PathBuilder {
        let mut builder = PathBuilder::new();
        for (number, &place) in places.iter().enumerate() {
            let (x, y) = self.placement.on_sheet(place);
            if number == 0 {
                builder.move_to(x, y);
            } else {
                builder.line_to(x, y);
            }
        }
        builder
    }

    /// A line through places of the picture with a dark edge; widths are pixels of the sheet.
    pub fn line(&mut self, places: &[Vector2<f64>], ink: Ink, width: f64, dash: Option<[f32; 2]>) {
        let Some(path) = self.through(places).finish() else {
            return;
        };
        self.stroke(&path, inks::EDGE.faded(150), width + 2.0, dash);
        self.stroke(&path, ink, width, dash);
    }

    /// Dots at places of the picture, with a dark edge.
    pub fn dots(&mut self, places: &[Vector2<f64>], ink: Ink, radius: f64) {
        for (ink, radius) in [(inks::EDGE.faded(170), radius + 1.0), (ink, radius)] {
            let around: [(f32, f32); DOT_CORNERS] = std::array::from_fn(|corner| {
                let turn = corner as f64 / DOT_CORNERS as f64;
                let (sin, cos) = (turn * std::f64::consts::TAU).sin_cos();
                ((radius * cos) as f32, (radius * sin) as f32)
            });
            let mut builder = PathBuilder::new();
            for &place in places {
                let (x, y) = self.placement.on_sheet(place);
                let [(right, below), corners @ ..] = around;
                builder.move_to(x + right, y + below);
                for (right, below) in corners {
                    builder.line_to(x + right, y + below);
                }
                builder.close();
            }
            if let Some(path) = builder.finish() {
                self.fill(&path, ink);
            }
        }
    }

    /// An outline about a place of the picture, with a dark edge. A disc of `radius` fits into it, so that a mark's
    /// own edge stays free.
    pub fn about(
        &mut self,
        place: Vector2<f64>,
        outline: Outline,
        radius: f64,
        ink: Ink,
        width: f64,
    ) {
        let (x, y) = self.placement.on_sheet(place);
        let corners = |reach: f64, turns: &[f64]| {
            let mut builder = PathBuilder::new();
            for (number, turn) in turns.iter().enumerate() {
                let (sin, cos) = (turn * std::f64::consts::TAU).sin_cos();
                let (u, v) = (x + (reach * cos) as f32, y + (reach * sin) as f32);
                if number == 0 {
                    builder.move_to(u, v);
                } else {
                    builder.line_to(u, v);
                }
            }
            builder.close();
            builder.finish()
        };
        let path = match outline {
            Outline::Circle => PathBuilder::from_circle(x, y, radius as f32),
            Outline::Diamond => corners(radius * std::f64::consts::SQRT_2, &[0.0, 0.25, 0.5, 0.75]),
            Outline::Triangle => corners(2.0 * radius, &[0.75, 1.0 / 12.0, 5.0 / 12.0]),
        };
        let Some(path) = path else { return };
        self.stroke(&path, inks::EDGE.faded(170), width + 2.0, None);
        self.stroke(&path, ink, width, None);
    }

    /// A filled shape with its corners at places of the picture, with a dark edge.
    pub fn shape(&mut self, places: &[Vector2<f64>], ink: Ink) {
        let mut builder = self.through(places);
        builder.close();
        let Some(path) = builder.finish() else { return };
        self.stroke(&path, inks::EDGE.faded(170), 2.0, None);
        self.fill(&path, ink);
    }

    /// A filled rectangle of the sheet itself, to whole pixels.
    pub fn block(&mut self, left: f64, top: f64, width: f64, height: f64, ink: Ink) {
        self.rectangle([left, top, width, height], ink, BlendMode::SourceOver);
    }

    /// A rectangle in the place of whatever was drawn there before.
    pub fn ground(&mut self, area: [f64; 4], ink: Ink) {
        self.rectangle(area, ink, BlendMode::Source);
    }

    fn rectangle(&mut self, area: [f64; 4], ink: Ink, blend_mode: BlendMode) {
        let [left, top, width, height] = area.map(|part| part as f32);
        if let Some(rect) = Rect::from_xywh(left, top, width, height) {
            self.touched.mark(rect.into(), 0.0);
            let paint = Paint {
                anti_alias: false,
                blend_mode,
                ..ink.paint()
            };
            (self.pixmap).fill_rect(rect, &paint, Transform::identity(), None);
        }
    }

    /// The outline of a rectangle of the sheet itself.
    pub fn frame(&mut self, area: [f64; 4], ink: Ink, line: f64) {
        let [left, top, width, height] = area.map(|part| part as f32);
        if let Some(rect) = Rect::from_xywh(left, top, width, height) {
            self.stroke(&PathBuilder::from_rect(rect), ink, line, None);
        }
    }

    /// Words with their baseline's left end at a point of the sheet.
    pub fn words(&mut self, left: f64, baseline: f64, size: f64, ink: Ink, words: &str) {
        let at = (left as f32, baseline as f32);
        if let Some(path) = self.letters.outline(words, size as f32, at) {
            self.fill(&path, ink);
        }
    }

    /// Where a place of the picture lies on the sheet.
    pub(super) fn place(&self, at: Vector2<f64>) -> Vector2<f64> {
        let (x, y) = self.placement.on_sheet(at);
        Vector2::new(f64::from(x), f64::from(y))
    }

    /// Pixels of the sheet for a pixel of the picture.
    pub(super) fn scale(&self) -> f64 {
        self.placement.scale
    }

    /// A text in lines no wider than `room`; a single word may be.
    pub fn in_lines(&self, text: &str, size: f64, room: f64) -> Vec<String> {
        self.letters.in_lines(text, size, room)
    }

    /// How wide words are at a size.
    pub fn width_of(&self, words: &str, size: f64) -> f64 {
        f64::from(self.letters.width(words, size as f32))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn alpha(sketch: &Sketch, x: usize, y: usize) -> u8 {
        sketch.row(y)[x * 4 + 3]
    }

    #[test]
    fn a_dot_is_centred_on_its_place() {
        let mut sketch = Sketch::new(40, 30, Placement::WHOLE).unwrap();
        sketch.dots(&[Vector2::new(20.0, 15.0)], inks::STICKER, 4.0);
        let (mut sum, mut u, mut v) = (0.0, 0.0, 0.0);
        for y in 0..30 {
            for x in 0..40 {
                let a = f64::from(alpha(&sketch, x, y));
                (sum, u, v) = (sum + a, u + a * x as f64, v + a * y as f64);
            }
        }
        assert!(sum > 0.0);
        assert!((u / sum - 20.0).abs() < 0.02 && (v / sum - 15.0).abs() < 0.02);
    }

    #[test]
    fn everything_drawn_lies_in_the_touched_columns_and_clears() {
        let mut sketch = Sketch::new(120, 60, Placement::WHOLE).unwrap();
        let places = [Vector2::new(10.0, 50.0), Vector2::new(90.0, 20.0)];
        sketch.line(&places, inks::WHEEL_MARK, 3.0, Some([6.0, 5.0]));
        sketch.words(5.0, 14.0, 12.0, inks::PAPER, "slip 0.68");
        let outside = |sketch: &Sketch| {
            (0..60)
                .flat_map(|y| (0..120).map(move |x| (x, y)))
                .filter(|&(x, y)| !sketch.drawn(y..y + 1).any(|run| run.contains(&x)))
                .filter(|&(x, y)| alpha(sketch, x, y) > 0)
                .count()
        };
        assert_eq!(outside(&sketch), 0);
        assert!(
            (0..120).any(|x| alpha(&sketch, x, 10) > 200),
            "the words are there"
        );
        sketch.clear();
        assert!((0..60).all(|y| (0..120).all(|x| alpha(&sketch, x, y) == 0)));
    }
}
