//! The card at the end of an annotated clip: what is to blame, in one sentence, and the numbers that show it.

use crate::outputs::report::coded::plain;
use crate::outputs::sketch::{Sketch, inks, letter_px};
use crate::outputs::wording::{Said as _, verdict_words};
use crate::outputs::{Story, words};
use crate::texts::Texts;

/// Numbers on the card.
const NUMBERS: usize = 3;
/// How the words on the card are set, in letters: the verdict's size, the numbers' size, from line to line, and
/// between one text and the next.
const VERDICT: f64 = 1.5;
const NUMBER: f64 = 1.0;
const LINE: f64 = 1.3;
const GAP: f64 = 0.9;
/// The card's margin as a share of the picture's width.
const MARGIN_SHARE: f64 = 0.07;
/// Words that do not fit are made smaller by this, until they do.
const SMALLER: f64 = 0.93;
/// ... this often at most.
const MOST_TRIES: usize = 30;

/// What the card says.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Card {
    verdict: String,
    numbers: Vec<String>,
}

impl Card {
    /// The card of a run.
    pub(super) fn of(story: &Story<'_>) -> Self {
        let texts = story.texts();
        match &story.measured {
            Ok(measures) => {
                let said = verdict_words(texts, measures.verdict, measures.result);
                Self {
                    verdict: words::headline(&words::sentence(texts, measures.verdict.cause)),
                    numbers: said
                        .because
                        .iter()
                        .take(NUMBERS)
                        .map(|text| brief(texts, text))
                        .collect(),
                }
            }
            Err(why) => Self {
                verdict: words::unmeasured(texts, story),
                numbers: vec![plain(texts, &why.said(texts))],
            },
        }
    }

    /// Draws the card over the whole sheet.
    pub(super) fn draw(&self, sketch: &mut Sketch) {
        let (width, height) = sketch.size();
        let (width, height) = (f64::from(width), f64::from(height));
        sketch.block(0.0, 0.0, width, height, inks::EDGE.faded(242));
        let margin = MARGIN_SHARE * width;
        let mut letter = letter_px(width, height);
        let mut lines = self.lines(sketch, width - 2.0 * margin, letter);
        for _ in 0..MOST_TRIES {
            let deep = lines.last().map_or(0.0, |line| line.base);
            if deep <= height - 2.0 * letter {
                break;
            }
            letter *= SMALLER;
            lines = self.lines(sketch, width - 2.0 * margin, letter);
        }
        let deep = lines.last().map_or(0.0, |line| line.base);
        let top = ((height - deep) / 2.0).max(0.0);
        for line in &lines {
            sketch.words(margin, top + line.base, line.size, inks::PAPER, &line.words);
        }
    }

    /// The words broken into lines, each with its baseline counted from the first line's top.
    fn lines(&self, sketch: &Sketch, room: f64, letter: f64) -> Vec<Line> {
        let mut out = Vec::new();
        let mut base = 0.0;
        let texts = std::iter::once((&self.verdict, VERDICT));
        for (text, size) in texts.chain(self.numbers.iter().map(|text| (text, NUMBER))) {
            let size = size * letter;
            for words in sketch.in_lines(text, size, room) {
                base += LINE * size;
                out.push(Line { words, size, base });
            }
            base += GAP * letter;
        }
        out
    }
}

struct Line {
    words: String,
    size: f64,
    base: f64,
}

/// A reason without why something is not observable: the report has room for that.
fn brief(texts: &Texts, text: &str) -> String {
    let ends = texts.text("not-observable");
    let kept = text
        .find(&format!(": {ends}, "))
        .map_or(text, |at| &text[..at + 2 + ends.len()]);
    plain(texts, kept)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::outputs::sketch::Placement;

    fn card() -> Card {
        Card {
            verdict: "The driven wheels spun on the spot: the pull never reached the floor.".into(),
            numbers: vec![
                "largest slip under power 0.86 (0.84 to 0.88)".into(),
                "wasted in wheelspin 0.61 m (0.58 to 0.64)".into(),
                "highest speed 1.02 m/s (1.00 to 1.04)".into(),
            ],
        }
    }

    #[test]
    fn the_card_fits_any_picture() {
        for (width, height) in [(640, 360), (360, 640), (1920, 1080), (160, 90)] {
            let mut sketch = Sketch::new(width, height, Placement::WHOLE).unwrap();
            card().draw(&mut sketch);
            let ground = sketch.row(0)[..4].to_vec();
            let rows = height as usize;
            let clear = |row: usize| sketch.row(row).chunks(4).all(|pixel| pixel == ground);
            assert!(clear(0) && clear(rows - 1), "{width} x {height}");
            assert!(!(0..rows).all(clear), "nothing is written");
            let edge = (0..rows).all(|row| sketch.row(row)[width as usize * 4 - 4..] == ground);
            assert!(edge, "words reach the right edge of {width} x {height}");
        }
    }

    #[test]
    fn reasons_are_cut_where_they_explain() {
        let said = "wasted in wheelspin: not observable, the wheel mark was not seen";
        assert_eq!(
            brief(Texts::english(), said),
            "wasted in wheelspin: not observable"
        );
        assert_eq!(
            brief(Texts::english(), "highest speed 1 m/s"),
            "highest speed 1 m/s"
        );
    }
}
