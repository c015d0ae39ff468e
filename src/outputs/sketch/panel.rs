//! The panel with time, phase, a pair of bars for rim and car, and the slip.

use super::{Ink, Sketch, inks};
use crate::findings::Phase;
use crate::outputs::shown::number;
use crate::outputs::values::when;
use crate::track::Track;

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
    pub slip: Option<f64>,
    /// Speed at which a bar is full; 0 where there is none.
    pub full: f64,
    /// Whether the speeds are in m/s; else they are shown without numbers.
    pub metres: bool,
}

/// A corner of the picture.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[expect(missing_docs, reason = "the names say it")]
pub enum Corner {
    TopLeft,
    TopRight,
    BottomLeft,
    BottomRight,
}

/// Size of the panel's letters as a share of the picture's shorter side: read from a metre away on a
/// projector two metres wide.
const LETTER_SHARE: f64 = 0.043;
/// ... and never smaller than this, px.
const LEAST_LETTER_PX: f64 = 11.0;
/// Width and height of the panel in letters.
const WIDTH_LETTERS: f64 = 17.0;
const HEIGHT_LETTERS: f64 = 7.6;
/// Distance from the picture's edge in letters.
const MARGIN_LETTERS: f64 = 0.6;

fn letter_px(width: f64, height: f64) -> f64 {
    let wanted = (LETTER_SHARE * width.min(height)).max(LEAST_LETTER_PX);
    // A very small picture must still hold the panel.
    wanted.min(width / (WIDTH_LETTERS + 2.0 * MARGIN_LETTERS))
}

fn place_of(corner: Corner, width: f64, height: f64) -> (f64, f64, f64) {
    let letter = letter_px(width, height);
    let (w, h, m) = (
        WIDTH_LETTERS * letter,
        HEIGHT_LETTERS * letter,
        MARGIN_LETTERS * letter,
    );
    let left = match corner {
        Corner::TopLeft | Corner::BottomLeft => m,
        Corner::TopRight | Corner::BottomRight => width - w - m,
    };
    let top = match corner {
        Corner::TopLeft | Corner::TopRight => m,
        Corner::BottomLeft | Corner::BottomRight => height - h - m,
    };
    (left, top, letter)
}

/// The corner in which the panel hides the fewest marks; the top left one where it hides none.
pub fn panel_corner(track: &Track) -> Corner {
    let all = [
        Corner::TopLeft,
        Corner::TopRight,
        Corner::BottomLeft,
        Corner::BottomRight,
    ];
    let hidden = |corner: &Corner| {
        let (left, top, letter) = place_of(*corner, track.width_px, track.height_px);
        let inside = |u: f64, v: f64| {
            (left - letter..left + (WIDTH_LETTERS + 1.0) * letter).contains(&u)
                && (top - letter..top + (HEIGHT_LETTERS + 1.0) * letter).contains(&v)
        };
        let marks = track.sticker.iter().chain(&track.wheel).flatten();
        let floor = track
            .floor
            .iter()
            .filter(|m| inside(m.u_px, m.v_px))
            .count();
        marks.filter(|p| inside(p.u_px, p.v_px)).count() * 10 + floor
    };
    all.into_iter()
        .min_by_key(hidden)
        .unwrap_or(Corner::TopLeft)
}

const fn phase_words(phase: Option<Phase>) -> &'static str {
    match phase {
        Some(Phase::Rest) => "at rest",
        Some(Phase::Powered) => "pulling",
        Some(Phase::Coast) => "coasting",
        Some(Phase::Stopped) => "stopped",
        None => "",
    }
}

/// Draws the panel into a corner of the sheet.
pub fn draw_panel(sketch: &mut Sketch, corner: Corner, reading: &Reading) {
    let (width, height) = sketch.size();
    let (left, top, letter) = place_of(corner, f64::from(width), f64::from(height));
    let (wide, high) = (WIDTH_LETTERS * letter, HEIGHT_LETTERS * letter);
    sketch.block(left, top, wide, high, inks::EDGE.faded(205));
    let inner = left + 0.6 * letter;
    let right = left + wide - 0.6 * letter;
    let first = top + 1.35 * letter;
    let time = when(reading.frame, reading.time_s);
    sketch.words(inner, first, letter, inks::PAPER, &time);
    let phase = phase_words(reading.phase);
    let phase_left = right - sketch.width_of(phase, letter);
    sketch.words(phase_left, first, letter, inks::PAPER, phase);
    let bars = [
        ("rim", reading.rim, inks::RIM, true),
        ("car", reading.car, inks::CAR, false),
    ];
    if reading.time_s.is_none() {
        // Empty bars would look like a car that stands.
        for (row, words) in ["no speeds: the clip's", "frame rate is not known"]
            .iter()
            .enumerate()
        {
            let base = top + (3.1 + 1.4 * row as f64) * letter;
            sketch.words(inner, base, letter, inks::PAPER.faded(220), words);
        }
    }
    let bars = bars.into_iter().filter(|_| reading.time_s.is_some());
    for (row, (name, speed, ink, hatched)) in bars.enumerate() {
        let base = top + (3.1 + 1.55 * row as f64) * letter;
        let area = Bar {
            name,
            ink,
            hatched,
            left: inner,
            right,
            base,
            letter,
        };
        bar(sketch, &area, speed, reading);
    }
    let slip = reading
        .slip
        .map_or_else(|| "slip –".to_owned(), |s| format!("slip {}", number(s, 2)));
    let base = top + 6.85 * letter;
    sketch.words(inner, base, 1.5 * letter, inks::PAPER, &slip);
}

struct Bar {
    name: &'static str,
    ink: Ink,
    hatched: bool,
    left: f64,
    right: f64,
    base: f64,
    letter: f64,
}

fn bar(sketch: &mut Sketch, bar: &Bar, speed: Option<f64>, reading: &Reading) {
    let letter = bar.letter;
    sketch.words(bar.left, bar.base, letter, bar.ink, bar.name);
    let (from, to) = (bar.left + 2.4 * letter, bar.right - 6.3 * letter);
    let (top, high) = (bar.base - 0.85 * letter, 1.0 * letter);
    let line = (0.08 * letter).max(1.0);
    sketch.frame([from, top, to - from, high], inks::PAPER.faded(200), line);
    let words = match speed {
        Some(speed) if reading.metres => format!("{} m/s", number(speed, 2)),
        Some(_) => String::new(),
        None => "–".to_owned(),
    };
    let words_left = bar.right - sketch.width_of(&words, letter);
    sketch.words(words_left, bar.base, letter, inks::PAPER, &words);
    let Some(speed) = speed.filter(|_| reading.full > 0.0) else {
        return;
    };
    let filled = (to - from) * (speed / reading.full).clamp(0.0, 1.0);
    sketch.block(from, top, filled.max(line), high, bar.ink);
    if bar.hatched {
        // Stripes tell the rim's bar from the car's without colour.
        let step = 0.5 * letter;
        let mut at = from + step;
        while at + line < from + filled {
            sketch.block(at, top, line, high, inks::EDGE.faded(190));
            at += step;
        }
    }
}
