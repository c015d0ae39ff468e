//! The picture as it is printed: the floor with its ruler, the cars over it, and their numbers.

use super::Exposure;
use super::ticks::FloorRuler;
use crate::outputs::film::lay_over;
use crate::outputs::sketch::{Ink, Placement, Sketch, inks};
use image::imageops::{FilterType, resize};
use image::{Rgb, RgbImage};
use nalgebra::Vector2;

/// Width of a thin line, as a share of the picture's width.
const LINE_SHARE: f64 = 1.0 / 700.0;
/// Height of letters on the floor, m, and their limits as shares of the picture's width.
const LETTER_M: f64 = 0.055;
const LETTERS: (f64, f64) = (0.012, 0.026);
/// Height of the cars' numbers, as a share of the picture's width.
const NUMBER_SHARE: f64 = 0.017;
/// The ruler: white with a dark edge.
const RULER: Ink = inks::PAPER;

/// Draws the picture at a width in pixels; `None` beyond memory.
pub(super) fn drawn(exposure: &Exposure, width: u32) -> Option<RgbImage> {
    let raster = &exposure.raster;
    let height = (f64::from(width) * raster.height as f64 / raster.width as f64).round() as u32;
    let scale = f64::from(width) / raster.width as f64;
    let placement = Placement {
        left_px: raster.left_px,
        top_px: raster.top_px,
        scale: raster.scale * scale,
    };
    // At the raster's own size there is nothing to resample.
    let own = width as usize == raster.width;
    let mut picture = if own {
        exposure.background.clone()
    } else {
        resize(&exposure.background, width, height, FilterType::CatmullRom)
    };
    let mut sketch = Sketch::new(width, height, placement)?;
    if let Some(ruler) = &exposure.ruler {
        draw_ruler(&mut sketch, ruler, width);
        lay_over(&mut picture, &sketch);
    }
    let larger = (!own).then(|| resize(&exposure.cars, width, height, FilterType::CatmullRom));
    let cars = larger.as_ref().unwrap_or(&exposure.cars);
    for (under, over) in picture.pixels_mut().zip(cars.pixels()) {
        *under = mixed(*under, over.0);
    }
    sketch.clear();
    draw_numbers(&mut sketch, exposure, scale, width);
    lay_over(&mut picture, &sketch);
    Some(picture)
}

/// A colour under another that lets some of it through.
pub(super) fn mixed(under: Rgb<u8>, [red, green, blue, alpha]: [u8; 4]) -> Rgb<u8> {
    let over = u32::from(alpha);
    let part = |under: u8, over_part: u8| {
        ((u32::from(under) * (255 - over) + u32::from(over_part) * over + 127) / 255) as u8
    };
    Rgb([
        part(under.0[0], red),
        part(under.0[1], green),
        part(under.0[2], blue),
    ])
}

fn draw_ruler(sketch: &mut Sketch, ruler: &FloorRuler, width: u32) {
    let line = LINE_SHARE * f64::from(width);
    let dash = [(9.0 * line) as f32, (7.0 * line) as f32];
    sketch.line(&ruler.aim, inks::AIM, 1.2 * line, Some(dash));
    sketch.line(&ruler.edge, RULER, 1.2 * line, None);
    for tick in &ruler.ticks {
        let wide = if tick.words.is_some() { 1.6 } else { 1.0 };
        sketch.line(&[tick.from, tick.to], RULER, wide * line, None);
    }
    let (least, most) = (LETTERS.0 * f64::from(width), LETTERS.1 * f64::from(width));
    let mut taken = f64::NEG_INFINITY;
    for words in ruler.ticks.iter().filter_map(|tick| tick.words.as_ref()) {
        let letter = (LETTER_M * words.px_per_m * sketch.scale()).clamp(least, most);
        let at = sketch.place(words.at);
        let wide = sketch.width_of(&words.text, letter);
        let left = at.x - wide / 2.0;
        if left < taken || left < 0.0 || at.x + wide / 2.0 > f64::from(width) {
            continue;
        }
        taken = at.x + wide / 2.0 + 0.4 * letter;
        edged(
            sketch,
            Vector2::new(left, at.y + 0.36 * letter),
            letter,
            &words.text,
        );
    }
}

/// The cars' numbers above them; one that would stand on another is left out.
fn draw_numbers(sketch: &mut Sketch, exposure: &Exposure, scale: f64, width: u32) {
    let letter = NUMBER_SHARE * f64::from(width);
    let mut taken: Vec<Vector2<f64>> = Vec::new();
    for (number, shown) in exposure.shown.iter().enumerate() {
        let [left, top, right, _] = shown.bounds.map(|px| f64::from(px) * scale);
        let text = (number + 1).to_string();
        let at = Vector2::new(
            f64::midpoint(left, right),
            (top - 0.35 * letter).max(letter),
        );
        if taken.iter().any(|other| (other - at).norm() < 1.3 * letter) {
            continue;
        }
        let from = Vector2::new(at.x - sketch.width_of(&text, letter) / 2.0, at.y);
        edged(sketch, from, letter, &text);
        taken.push(at);
    }
}

/// Words with a dark edge, to be read on any floor; `from` is the left end of their baseline on the sheet.
pub(super) fn edged(sketch: &mut Sketch, from: Vector2<f64>, letter: f64, words: &str) {
    let off = (letter / 14.0).max(1.2);
    for (x, y) in [
        (-1.0, -1.0),
        (1.0, -1.0),
        (-1.0, 1.0),
        (1.0, 1.0),
        (0.0, 1.3),
        (0.0, -1.3),
        (1.3, 0.0),
        (-1.3, 0.0),
    ] {
        sketch.words(
            from.x + x * off,
            from.y + y * off,
            letter,
            inks::EDGE,
            words,
        );
    }
    sketch.words(from.x, from.y, letter, inks::PAPER, words);
}
