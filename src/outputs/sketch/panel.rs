//! The panel with time, phase, a pair of bars for rim and car, and the slip.

use super::site::{HEIGHT_LETTERS, Site, WIDTH_LETTERS};
use super::{Ink, Mark, Sketch, inks};
use crate::findings::Phase;
use crate::outputs::shown::number;
use crate::outputs::values::{Band, when};
use crate::texts::Texts;

/// What the panel shows.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reading {
    /// Number of the frame.
    pub frame: usize,
    /// Real time since the first frame, s, where it is known.
    pub time_s: Option<f64>,
    /// Part of the run.
    pub phase: Option<Phase>,
    /// Speed of the rim.
    pub rim: Option<f64>,
    /// Speed of the car.
    pub car: Option<f64>,
    /// Slip ratio, where it is defined.
    pub slip: Option<Band>,
    /// Speed at which a bar is full; 0 where there is none.
    pub full: f64,
    /// Whether the speeds are in m/s; else they are shown without numbers.
    pub metres: bool,
}

/// A slip below this that may be none is called rolling: a smaller one is not seen by eye.
const ROLLING_SLIP: f64 = 0.03;
/// ... unless the view knows so little of it that this much could hide in it.
const HIDDEN_SLIP: f64 = 0.2;

/// Between the bars' names and the bars at the least, in letters.
const NAME_GAP_LETTERS: f64 = 0.3;
/// Size of the numbers at the bars' ends, in letters.
const END_LETTERS: f64 = 0.75;

fn phase_words(texts: &Texts, phase: Option<Phase>) -> String {
    let phase = match phase {
        Some(Phase::Rest) => "panel-rest",
        Some(Phase::Powered) => "panel-powered",
        Some(Phase::Coast) => "panel-coast",
        Some(Phase::Stopped) => "panel-stopped",
        None => return String::new(),
    };
    texts.text(phase)
}

/// The slip in words.
fn slip_words(texts: &Texts, slip: Option<Band>) -> String {
    let Some(slip) = slip else {
        return texts.with("panel-slip", "slip", "–");
    };
    let may_be_none = slip.low <= 0.0 && slip.high >= 0.0 && slip.value.abs() < ROLLING_SLIP;
    if may_be_none && slip.low > -HIDDEN_SLIP && slip.high < HIDDEN_SLIP {
        texts.text("panel-rolling")
    } else {
        texts.with("panel-slip", "slip", &texts.number(slip.value, 2))
    }
}

/// The end of the bars' scale: the next round number above the highest speed; 0 where there is none.
pub(in crate::outputs) fn scale_end(most: f64) -> f64 {
    const ROUND: [f64; 8] = [1.0, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 7.5];
    if most <= 0.0 || !most.is_finite() {
        return 0.0;
    }
    let ten = 10f64.powf(most.log10().floor());
    let end = ROUND.into_iter().map(|round| round * ten);
    end.into_iter()
        .find(|end| *end >= most)
        .unwrap_or(10.0 * ten)
}

/// Draws the panel.
pub fn draw_panel(texts: &Texts, sketch: &mut Sketch, site: &Site, reading: &Reading) {
    let Site { left, top, letter } = *site;
    let (wide, high) = (WIDTH_LETTERS * letter, HEIGHT_LETTERS * letter);
    sketch.ground([left, top, wide, high], inks::EDGE.faded(205));
    let inner = left + 0.6 * letter;
    let right = left + wide - 0.6 * letter;
    let first = top + 1.35 * letter;
    let time = when(texts, reading.frame, reading.time_s);
    sketch.words(inner, first, letter, inks::PAPER, &time);
    let phase = phase_words(texts, reading.phase);
    let phase_left = right - sketch.width_of(&phase, letter);
    sketch.words(phase_left, first, letter, inks::PAPER, &phase);
    let bars = Bars {
        texts,
        left: inner,
        right,
        letter,
    };
    if reading.time_s.is_some() {
        let row = |row: f64| top + (3.1 + 1.45 * row) * letter;
        bars.draw(
            sketch,
            row(0.0),
            (&texts.text("panel-rim"), Mark::WheelMark),
            reading.rim,
            reading,
        );
        bars.draw(
            sketch,
            row(1.0),
            (&texts.text("panel-car"), Mark::Sticker),
            reading.car,
            reading,
        );
        bars.ends(sketch, row(1.0) + letter, reading);
    } else {
        // Empty bars would look like a car that stands.
        for (row, words) in ["panel-no-speeds-1", "panel-no-speeds-2"]
            .iter()
            .enumerate()
        {
            let base = top + (3.1 + 1.4 * row as f64) * letter;
            sketch.words(
                inner,
                base,
                letter,
                inks::PAPER.faded(220),
                &texts.text(words),
            );
        }
    }
    let base = top + 7.75 * letter;
    let slip = slip_words(texts, reading.slip);
    sketch.words(inner, base, 1.5 * letter, inks::PAPER, &slip);
}

/// The room of both bars.
struct Bars<'a> {
    texts: &'a Texts,
    left: f64,
    right: f64,
    letter: f64,
}

impl Bars<'_> {
    /// Ends of the bars, px of the sheet.
    fn span(&self, sketch: &Sketch) -> (f64, f64) {
        let names = ["panel-rim", "panel-car"].map(|name| self.texts.text(name));
        let widest = names.map(|name| sketch.width_of(&name, self.letter));
        let room = widest.into_iter().fold(0.0, f64::max) + NAME_GAP_LETTERS * self.letter;
        (
            self.left + room.max(2.4 * self.letter),
            self.right - 6.3 * self.letter,
        )
    }

    fn draw(
        &self,
        sketch: &mut Sketch,
        base: f64,
        (name, mark): (&str, Mark),
        speed: Option<f64>,
        reading: &Reading,
    ) {
        let letter = self.letter;
        sketch.words(self.left, base, letter, mark.ink(), name);
        let (from, to) = self.span(sketch);
        let (top, high) = (base - 0.85 * letter, 1.0 * letter);
        let line = (0.08 * letter).max(1.0);
        sketch.frame([from, top, to - from, high], inks::PAPER.faded(200), line);
        let words = match speed {
            Some(speed) if reading.metres => format!("{} m/s", self.texts.number(speed, 2)),
            Some(_) => String::new(),
            None => "–".to_owned(),
        };
        let words_left = self.right - sketch.width_of(&words, letter);
        sketch.words(words_left, base, letter, inks::PAPER, &words);
        let Some(speed) = speed.filter(|_| reading.full > 0.0) else {
            return;
        };
        let filled = (to - from) * (speed / reading.full).clamp(0.0, 1.0);
        sketch.block(from, top, filled.max(line), high, mark.ink());
        if mark == Mark::WheelMark {
            // Stripes tell the rim's bar from the car's without colour.
            stripes(sketch, [from, top, filled, high], line, 0.5 * letter);
        }
    }

    /// What a bar means at its ends.
    fn ends(&self, sketch: &mut Sketch, base: f64, reading: &Reading) {
        if reading.full <= 0.0 || !reading.metres {
            return;
        }
        let (from, to) = self.span(sketch);
        let size = END_LETTERS * self.letter;
        let ink: Ink = inks::PAPER.faded(220);
        sketch.words(from, base, size, ink, "0");
        let end = format!("{} m/s", self.texts.marked(&short(reading.full)));
        let left = to - sketch.width_of(&end, size);
        sketch.words(left, base, size, ink, &end);
    }
}

/// A round number without zeros at its end.
fn short(value: f64) -> String {
    let text = number(value, 3);
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

fn stripes(sketch: &mut Sketch, [from, top, filled, high]: [f64; 4], line: f64, step: f64) {
    let mut at = from + step;
    while at + line < from + filled {
        sketch.block(at, top, line, high, inks::EDGE.faded(190));
        at += step;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_slip_that_may_be_none_is_called_rolling() {
        let words =
            |value: f64, half: f64| slip_words(Texts::english(), Some(Band::about(value, half)));
        assert_eq!(words(0.01, 0.04), "rolling");
        assert_eq!(words(-0.02, 0.04), "rolling");
        assert_eq!(words(0.02, 0.01), "slip 0.02", "surely some");
        assert_eq!(words(0.05, 0.08), "slip 0.05", "too much to call none");
        assert_eq!(words(0.01, 0.4), "slip 0.01", "nearly nothing is known");
        assert_eq!(slip_words(Texts::english(), None), "slip –");
    }

    #[test]
    fn scales_end_at_round_numbers() {
        for (most, end) in [
            (0.93, "1"),
            (1.0, "1"),
            (1.02, "1.5"),
            (2.1, "2.5"),
            (8.0, "10"),
            (0.24, "0.25"),
        ] {
            assert_eq!(short(scale_end(most)), end);
        }
        assert_eq!(scale_end(0.0), 0.0);
    }
}
