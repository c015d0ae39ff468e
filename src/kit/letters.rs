//! The two faces of the kit, and how wide words are in them.

use super::KitError;
use ab_glyph::{Font as _, FontRef};
use krilla::text::Font;

const REGULAR: &[u8] = include_bytes!("font/DejaVuSans-latin.ttf");
const BOLD: &[u8] = include_bytes!("../outputs/sketch/font/DejaVuSans-Bold-latin.ttf");

/// A face.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Face {
    Regular,
    Bold,
}

/// The faces, for drawing and for measuring.
pub(super) struct Letters {
    fonts: [Font; 2],
    outlines: [FontRef<'static>; 2],
}

impl Letters {
    /// Reads the built-in fonts.
    pub(super) fn built_in() -> Result<Self, KitError> {
        let font = |bytes: &'static [u8]| Font::new(bytes.into(), 0).ok_or(KitError::Font);
        let outline = |bytes| FontRef::try_from_slice(bytes).map_err(|_| KitError::Font);
        Ok(Self {
            fonts: [font(REGULAR)?, font(BOLD)?],
            outlines: [outline(REGULAR)?, outline(BOLD)?],
        })
    }

    pub(super) fn font(&self, face: Face) -> Font {
        self.fonts[face as usize].clone()
    }

    /// Width of a line of words; kerning, which the page does and this does not, changes it by less than a
    /// per cent.
    pub(super) fn width_mm(&self, face: Face, size_mm: f32, words: &str) -> f32 {
        let outlines = &self.outlines[face as usize];
        let units = outlines.units_per_em().unwrap_or(2048.0);
        let advance: f32 = words
            .chars()
            .map(|c| outlines.h_advance_unscaled(outlines.glyph_id(c)))
            .sum();
        advance / units * size_mm
    }

    /// Words broken into lines no wider than `width_mm`; a longer word stands alone.
    pub(super) fn lines(
        &self,
        face: Face,
        size_mm: f32,
        words: &str,
        width_mm: f32,
    ) -> Vec<String> {
        let mut lines: Vec<String> = Vec::new();
        for word in words.split(' ') {
            let longer = lines.last().map(|line| format!("{line} {word}"));
            match longer.filter(|line| self.width_mm(face, size_mm, line) <= width_mm) {
                Some(line) => {
                    if let Some(last) = lines.last_mut() {
                        *last = line;
                    }
                }
                None => lines.push(word.to_owned()),
            }
        }
        lines
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn both_faces_have_every_sign_of_the_pages() {
        let letters = Letters::built_in().unwrap();
        let ascii: String = (' '..='~').collect();
        for outlines in &letters.outlines {
            for sign in ascii
                .chars()
                .chain("\u{2212}\u{2019}\u{201c}\u{201d}\u{d7}".chars())
            {
                assert_ne!(outlines.glyph_id(sign).0, 0, "{sign:?}");
            }
        }
    }

    #[test]
    fn lines_are_no_wider_than_asked() {
        let letters = Letters::built_in().unwrap();
        let words = "hold it by its base and work with it unwound";
        let lines = letters.lines(Face::Regular, 3.3, words, 40.0);
        assert!(lines.len() > 1);
        assert_eq!(lines.join(" "), words);
        for line in &lines {
            assert!(letters.width_mm(Face::Regular, 3.3, line) <= 40.0, "{line}");
        }
    }
}
