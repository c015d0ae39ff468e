//! Letters as outlines, from a font that is built in.

use ab_glyph::{Font, FontRef, OutlineCurve, Point};
use tiny_skia::{Path, PathBuilder};

/// `DejaVu` Sans Bold, cut to Latin letters; its licence lies beside it.
pub(in crate::outputs) const BOLD: &[u8] = include_bytes!("font/DejaVuSans-Bold-latin.ttf");
/// `DejaVu` Sans in the kit's cut, for running text.
pub(in crate::outputs) const REGULAR: &[u8] = include_bytes!("../../kit/font/DejaVuSans-latin.ttf");

/// A built-in font.
pub(in crate::outputs) struct Letters(FontRef<'static>);

impl Letters {
    /// Reads the bold font; a test sees to it that this does not fail.
    pub(in crate::outputs) fn load() -> Option<Self> {
        FontRef::try_from_slice(BOLD).ok().map(Self)
    }

    /// Reads the font for running text; the same test holds.
    pub(in crate::outputs) fn regular() -> Option<Self> {
        FontRef::try_from_slice(REGULAR).ok().map(Self)
    }

    fn em(&self) -> f32 {
        self.0.units_per_em().unwrap_or(2048.0)
    }

    /// A text at a size in lines no wider than `room`; a single word may be.
    pub(in crate::outputs) fn in_lines(&self, text: &str, size: f64, room: f64) -> Vec<String> {
        let mut lines: Vec<String> = Vec::new();
        let fits = |line: &str| f64::from(self.width(line, size as f32)) <= room;
        for word in text.split_whitespace() {
            match lines.last_mut() {
                Some(line) if fits(&format!("{line} {word}")) => {
                    line.push(' ');
                    line.push_str(word);
                }
                _ => lines.push(word.to_owned()),
            }
        }
        lines
    }

    /// Width of words at a size (of the em square), px.
    pub(in crate::outputs) fn width(&self, words: &str, size: f32) -> f32 {
        let units: f32 = words
            .chars()
            .map(|c| self.0.h_advance_unscaled(self.0.glyph_id(c)))
            .sum();
        units * size / self.em()
    }

    /// Outline of words whose baseline begins at a point; `None` for words of spaces only.
    pub(super) fn outline(&self, words: &str, size: f32, at: (f32, f32)) -> Option<Path> {
        let scale = size / self.em();
        let mut builder = PathBuilder::new();
        let mut pen = at.0;
        for letter in words.chars() {
            let glyph = self.0.glyph_id(letter);
            if let Some(outline) = self.0.outline(glyph) {
                let place = |p: &Point| (pen + p.x * scale, at.1 - p.y * scale);
                trace(&mut builder, &outline.curves, &place);
            }
            pen += self.0.h_advance_unscaled(glyph) * scale;
        }
        builder.finish()
    }
}

/// Curves come one after another; a new contour begins where one does not start at the last end.
fn trace(builder: &mut PathBuilder, curves: &[OutlineCurve], place: &dyn Fn(&Point) -> (f32, f32)) {
    let mut last: Option<Point> = None;
    for curve in curves {
        let (start, end) = match curve {
            OutlineCurve::Line(a, b)
            | OutlineCurve::Quad(a, _, b)
            | OutlineCurve::Cubic(a, _, _, b) => (*a, *b),
        };
        if last != Some(start) {
            if last.is_some() {
                builder.close();
            }
            let (x, y) = place(&start);
            builder.move_to(x, y);
        }
        let (x, y) = place(&end);
        match curve {
            OutlineCurve::Line(..) => builder.line_to(x, y),
            OutlineCurve::Quad(_, control, _) => {
                let (cx, cy) = place(control);
                builder.quad_to(cx, cy, x, y);
            }
            OutlineCurve::Cubic(_, one, two, _) => {
                let ((ax, ay), (bx, by)) = (place(one), place(two));
                builder.cubic_to(ax, ay, bx, by, x, y);
            }
        }
        last = Some(end);
    }
    if last.is_some() {
        builder.close();
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_built_in_font_has_every_letter_that_the_tool_writes() {
        for letters in [Letters::load(), Letters::regular()] {
            let letters = letters.unwrap();
            for letter in
                "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789.,;:/%²°·–−()[]_'’“”äöüÄÖÜß»«"
                    .chars()
            {
                let glyph = letters.0.glyph_id(letter);
                assert!(glyph.0 != 0 || letter == ' ', "no glyph for {letter}");
            }
        }
        let letters = Letters::load().unwrap();
        assert!(letters.width("slip 0.68", 20.0) > 80.0);
        assert!(letters.outline("8", 20.0, (0.0, 20.0)).is_some());
    }
}
