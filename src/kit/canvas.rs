//! Lines, discs and words on a page, in millimetres from its top left corner.

use super::letters::{Face, Letters};
use krilla::color::rgb;
use krilla::geom::{Path, PathBuilder, Point, Transform};
use krilla::paint::{Fill, LineCap, LineJoin, Stroke, StrokeDash};
use krilla::surface::Surface;
use krilla::text::TextDirection;

/// Points (1/72 inch) a millimetre: PDF's unit, ISO 32000-1 section 8.3.2.3.
pub(super) const PT_PER_MM: f32 = 72.0 / 25.4;

/// A colour, R'G'B' of sRGB.
pub(super) type Ink = [u8; 3];

/// Words and outlines.
pub(super) const INK: Ink = [31, 42, 54];
/// Words that matter less.
pub(super) const SOFT: Ink = [84, 97, 110];
/// Cut lines and hair lines.
pub(super) const HAIR: Ink = [140, 152, 164];
/// Ground behind words.
pub(super) const WASH: Ink = [236, 241, 244];
/// Headings and arrows.
pub(super) const TEAL: Ink = [16, 92, 112];
/// Border of a caution; its words and sign carry the meaning.
pub(super) const AMBER: Ink = [150, 90, 8];
/// Ground of a caution.
pub(super) const AMBER_WASH: Ink = [253, 243, 224];
/// Paper.
pub(super) const WHITE: Ink = [255, 255, 255];

/// A place on the page, mm.
pub(super) type At = (f32, f32);

/// How a line is drawn.
#[derive(Debug, Clone, Copy)]
pub(super) struct Pen {
    pub(super) ink: Ink,
    pub(super) width_mm: f32,
    pub(super) dash_mm: Option<[f32; 2]>,
}

impl Pen {
    pub(super) const fn new(ink: Ink, width_mm: f32) -> Self {
        Self {
            ink,
            width_mm,
            dash_mm: None,
        }
    }

    pub(super) const fn dashed(ink: Ink, width_mm: f32, dash_mm: [f32; 2]) -> Self {
        Self {
            ink,
            width_mm,
            dash_mm: Some(dash_mm),
        }
    }
}

/// Where to cut.
pub(super) const CUT: Pen = Pen::dashed(HAIR, 0.25, [2.0, 1.5]);

/// How words are set.
#[derive(Debug, Clone, Copy)]
pub(super) struct Type {
    pub(super) face: Face,
    pub(super) size_mm: f32,
    pub(super) ink: Ink,
}

impl Type {
    pub(super) const fn plain(size_mm: f32) -> Self {
        Self {
            face: Face::Regular,
            size_mm,
            ink: INK,
        }
    }

    pub(super) const fn bold(size_mm: f32) -> Self {
        Self {
            face: Face::Bold,
            size_mm,
            ink: INK,
        }
    }

    pub(super) const fn in_ink(self, ink: Ink) -> Self {
        Self { ink, ..self }
    }
}

/// Where words stand about their place.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Anchor {
    Left,
    Middle,
    Right,
}

/// Baseline to baseline, in sizes of the letters.
const LEADING: f32 = 1.38;
/// A quarter of a circle as a cubic curve: control points at this share of the radius keep within 0.03 % of
/// it; from memory, 4 (sqrt 2 - 1) / 3.
const QUARTER: f32 = 0.552_284_8;

/// A page that is being drawn.
pub(super) struct Canvas<'a, 's> {
    surface: &'a mut Surface<'s>,
    letters: &'a Letters,
}

impl<'a, 's> Canvas<'a, 's> {
    /// A canvas whose origin lies at `origin_mm` of the page.
    pub(super) fn new(surface: &'a mut Surface<'s>, letters: &'a Letters, origin_mm: At) -> Self {
        surface.push_transform(&Transform::from_row(
            PT_PER_MM,
            0.0,
            0.0,
            PT_PER_MM,
            origin_mm.0 * PT_PER_MM,
            origin_mm.1 * PT_PER_MM,
        ));
        Self { surface, letters }
    }

    pub(super) fn finish(self) {
        self.surface.pop();
    }

    fn fill(&mut self, path: Option<Path>, ink: Ink) {
        let Some(path) = path else { return };
        self.surface.set_stroke(None);
        self.surface.set_fill(Some(fill(ink)));
        self.surface.draw_path(&path);
    }

    fn stroke(&mut self, path: Option<Path>, pen: Pen) {
        let Some(path) = path else { return };
        self.surface.set_fill(None);
        self.surface.set_stroke(Some(Stroke {
            paint: rgb_of(pen.ink).into(),
            width: pen.width_mm,
            line_cap: LineCap::Butt,
            line_join: LineJoin::Round,
            dash: pen.dash_mm.map(|dash| StrokeDash {
                array: dash.to_vec(),
                offset: 0.0,
            }),
            ..Stroke::default()
        }));
        self.surface.draw_path(&path);
    }

    pub(super) fn disc(&mut self, centre: At, diameter_mm: f32, ink: Ink) {
        self.fill(circle(centre, diameter_mm / 2.0), ink);
    }

    pub(super) fn ring(&mut self, centre: At, diameter_mm: f32, pen: Pen) {
        self.stroke(circle(centre, diameter_mm / 2.0), pen);
    }

    pub(super) fn line(&mut self, points: &[At], pen: Pen) {
        self.stroke(polygon(points, false), pen);
    }

    pub(super) fn outline(&mut self, points: &[At], pen: Pen) {
        self.stroke(polygon(points, true), pen);
    }

    pub(super) fn area(&mut self, points: &[At], ink: Ink) {
        self.fill(polygon(points, true), ink);
    }

    pub(super) fn rectangle(&mut self, corner: At, width_mm: f32, height_mm: f32, ink: Ink) {
        self.area(&corners(corner, width_mm, height_mm), ink);
    }

    pub(super) fn frame(&mut self, corner: At, width_mm: f32, height_mm: f32, pen: Pen) {
        self.outline(&corners(corner, width_mm, height_mm), pen);
    }

    /// A line with a head at its end.
    pub(super) fn arrow(&mut self, from: At, to: At, pen: Pen) {
        const HEAD_MM: f32 = 2.4;
        let length = (to.0 - from.0).hypot(to.1 - from.1).max(0.01);
        let (u, v) = ((to.0 - from.0) / length, (to.1 - from.1) / length);
        let neck = (to.0 - u * HEAD_MM, to.1 - v * HEAD_MM);
        self.line(&[from, neck], pen);
        let side = 0.42 * HEAD_MM;
        let head = [
            to,
            (neck.0 - v * side, neck.1 + u * side),
            (neck.0 + v * side, neck.1 - u * side),
        ];
        self.area(&head, pen.ink);
    }

    /// A size between two places: a line with a head at each end, and the words beside its middle.
    pub(super) fn size(&mut self, from: At, to: At, words: &str, pen: Pen) {
        let middle = (f32::midpoint(from.0, to.0), f32::midpoint(from.1, to.1));
        self.arrow(middle, from, pen);
        self.arrow(middle, to, pen);
        let set = Type::bold(3.2).in_ink(pen.ink);
        let wide = self.letters.width_mm(set.face, set.size_mm, words) + 1.6;
        self.rectangle((middle.0 - wide / 2.0, middle.1 - 2.2), wide, 4.4, WHITE);
        self.words((middle.0, middle.1 + 1.15), words, set, Anchor::Middle);
    }

    /// One line of words, its baseline at `at`.
    pub(super) fn words(&mut self, at: At, words: &str, set: Type, anchor: Anchor) {
        let width = self.letters.width_mm(set.face, set.size_mm, words);
        let left = match anchor {
            Anchor::Left => at.0,
            Anchor::Middle => at.0 - width / 2.0,
            Anchor::Right => at.0 - width,
        };
        self.surface.set_stroke(None);
        self.surface.set_fill(Some(fill(set.ink)));
        self.surface.draw_text(
            Point::from_xy(left, at.1),
            self.letters.font(set.face),
            set.size_mm,
            words,
            false,
            TextDirection::LeftToRight,
        );
    }

    /// Words in lines no wider than `width_mm`, the first baseline at `at`; returns where the next line
    /// would stand.
    pub(super) fn paragraph(&mut self, at: At, width_mm: f32, words: &str, set: Type) -> f32 {
        let mut y = at.1;
        for line in self.letters.lines(set.face, set.size_mm, words, width_mm) {
            self.words((at.0, y), &line, set, Anchor::Left);
            y += LEADING * set.size_mm;
        }
        y
    }

    /// A numbered step: the number in a disc, the words beside it; returns where the next would stand.
    pub(super) fn step(&mut self, at: At, width_mm: f32, number: &str, words: &str) -> f32 {
        let set = Type::plain(3.3);
        self.disc((at.0 + 2.6, at.1 - 1.15), 5.2, TEAL);
        let small = Type::bold(3.0).in_ink(WHITE);
        self.words((at.0 + 2.6, at.1 - 0.05), number, small, Anchor::Middle);
        self.paragraph((at.0 + 7.0, at.1), width_mm - 7.0, words, set) + 1.5
    }

    /// A point of a list; returns where the next would stand.
    pub(super) fn point(&mut self, at: At, width_mm: f32, words: &str) -> f32 {
        let set = Type::plain(3.2);
        self.disc((at.0 + 1.0, at.1 - 1.1), 1.5, TEAL);
        self.paragraph((at.0 + 4.0, at.1), width_mm - 4.0, words, set) + 1.0
    }
}

fn rgb_of(ink: Ink) -> rgb::Color {
    rgb::Color::new(ink[0], ink[1], ink[2])
}

fn fill(ink: Ink) -> Fill {
    Fill {
        paint: rgb_of(ink).into(),
        ..Fill::default()
    }
}

fn corners((x, y): At, width_mm: f32, height_mm: f32) -> [At; 4] {
    [
        (x, y),
        (x + width_mm, y),
        (x + width_mm, y + height_mm),
        (x, y + height_mm),
    ]
}

fn polygon(points: &[At], closed: bool) -> Option<Path> {
    let mut path = PathBuilder::new();
    let (first, rest) = points.split_first()?;
    path.move_to(first.0, first.1);
    for point in rest {
        path.line_to(point.0, point.1);
    }
    if closed {
        path.close();
    }
    path.finish()
}

fn circle((x, y): At, r: f32) -> Option<Path> {
    let c = QUARTER * r;
    let mut path = PathBuilder::new();
    path.move_to(x + r, y);
    path.cubic_to(x + r, y + c, x + c, y + r, x, y + r);
    path.cubic_to(x - c, y + r, x - r, y + c, x - r, y);
    path.cubic_to(x - r, y - c, x - c, y - r, x, y - r);
    path.cubic_to(x + c, y - r, x + r, y - c, x + r, y);
    path.close();
    path.finish()
}
