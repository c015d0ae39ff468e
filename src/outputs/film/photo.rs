//! From planes of a decoded frame to a small picture in red, green and blue.

use crate::clip::{Picture, Plane};
use crate::outputs::sketch::Sketch;
use crate::track::Track;
use image::{Rgb, RgbImage};

/// The part of the upright picture that the pictures show, px, by its edges (not centres).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Crop {
    /// Left edge.
    pub left_px: f64,
    /// Top edge.
    pub top_px: f64,
    /// Width.
    pub width_px: f64,
    /// Height.
    pub height_px: f64,
}

/// Room around the marks, as a share of the picture's shorter side.
const MARGIN_SHARE: f64 = 0.16;
/// Widest and narrowest shape of a crop, width over height.
const WIDEST: f64 = 2.3;
const NARROWEST: f64 = 1.5;

impl Crop {
    /// The part in which the car went, the same for all frames so that one sees it move.
    pub fn of(track: &Track) -> Self {
        let (whole_w, whole_h) = (track.width_px.max(1.0), track.height_px.max(1.0));
        let margin = MARGIN_SHARE * whole_w.min(whole_h);
        let marks = || track.sticker.iter().chain(&track.wheel).flatten();
        let least = |get: fn(&crate::track::Place) -> f64| {
            marks().map(get).fold(f64::INFINITY, f64::min) - margin
        };
        let most = |get: fn(&crate::track::Place) -> f64| {
            marks().map(get).fold(f64::NEG_INFINITY, f64::max) + margin
        };
        if marks().next().is_none() {
            return Self::between(0.0, 0.0, whole_w, whole_h);
        }
        let (left, right) = (least(|p| p.u_px).max(0.0), most(|p| p.u_px).min(whole_w));
        let (top, bottom) = (least(|p| p.v_px).max(0.0), most(|p| p.v_px).min(whole_h));
        let (mut w, mut h) = ((right - left).max(16.0), (bottom - top).max(16.0));
        if w / h > WIDEST {
            h = (w / WIDEST).min(whole_h);
        } else if w / h < NARROWEST {
            w = (h * NARROWEST).min(whole_w);
            h = h.min(w / NARROWEST.min(whole_w / whole_h));
        }
        let centred = |from: f64, to: f64, size: f64, whole: f64| {
            (f64::midpoint(from, to) - size / 2.0).clamp(0.0, (whole - size).max(0.0))
        };
        let (left, top) = (
            centred(left, right, w, whole_w),
            centred(top, bottom, h, whole_h),
        );
        Self::between(left, top, left + w.min(whole_w), top + h.min(whole_h))
    }

    fn between(left: f64, top: f64, right: f64, bottom: f64) -> Self {
        Self {
            left_px: left,
            top_px: top,
            width_px: right - left,
            height_px: bottom - top,
        }
    }

    /// Size of a picture of this width.
    pub fn size_for(&self, width: u32) -> (u32, u32) {
        let height = f64::from(width) * self.height_px / self.width_px;
        (width.max(1), (height.round() as u32).max(1))
    }
}

/// Most samples a pixel is averaged over, along each side.
const MOST_SAMPLES: usize = 2;

/// The cropped part of a picture at another size: each pixel's luma is the average of samples spread over
/// it, and its colour, which is coarse anyway, the sample at its middle.
pub(super) fn develop(picture: &Picture, crop: &Crop, width: u32, height: u32) -> RgbImage {
    let step = crop.width_px / f64::from(width);
    let samples = (step.round() as usize).clamp(1, MOST_SAMPLES);
    // The way from a pixel of the sheet to one of the stored planes is a shift, a scale and a turn.
    let place = |x: f64, y: f64| {
        let (u, v) = (crop.left_px + x * step - 0.5, crop.top_px + y * step - 0.5);
        picture.stored(u, v)
    };
    let origin = place(0.0, 0.0);
    let (across, down) = (place(1.0, 0.0), place(0.0, 1.0));
    let across = (across.0 - origin.0, across.1 - origin.1);
    let down = (down.0 - origin.0, down.1 - origin.1);
    let (luma, cb, cr) = (picture.y(), picture.cb(), picture.cr());
    let chroma = picture.chroma();
    let steps = (
        f64::from(chroma.step_u.max(1)),
        f64::from(chroma.step_v.max(1)),
    );
    let coding = picture.coding();
    RgbImage::from_fn(width, height, |x, y| {
        let at = |px: f64, py: f64| {
            (
                origin.0 + px * across.0 + py * down.0,
                origin.1 + px * across.1 + py * down.1,
            )
        };
        let (x, y) = (f64::from(x), f64::from(y));
        let mut sum = 0.0;
        for part in 0..samples * samples {
            let offset = |n: usize| (n as f64 + 0.5) / samples as f64;
            let (u, v) = at(x + offset(part % samples), y + offset(part / samples));
            sum += sample(&luma, u, v);
        }
        let (u, v) = at(x + 0.5, y + 0.5);
        let (cu, cv) = (
            (u - chroma.offset_u_px) / steps.0,
            (v - chroma.offset_v_px) / steps.1,
        );
        let count = (samples * samples) as f64;
        let rgb = coding.rgb(sum / count, sample(&cb, cu, cv), sample(&cr, cu, cv));
        Rgb(rgb.map(|part| (part + 0.5).clamp(0.0, 255.0) as u8))
    })
}

/// The nearest sample; the edge's beyond the edge.
fn sample(plane: &Plane<'_>, u: f64, v: f64) -> f64 {
    let column = ((u + 0.5).max(0.0) as usize).min(plane.ncols().saturating_sub(1));
    let row = ((v + 0.5).max(0.0) as usize).min(plane.nrows().saturating_sub(1));
    plane
        .get((row, column))
        .map_or(0.0, |&code| f64::from(code))
}

/// Lays a sketch over a picture of the same size.
pub(in crate::outputs) fn lay_over(photo: &mut RgbImage, sketch: &Sketch) {
    for row in 0..photo.height() {
        let (bytes, columns) = sketch.row(row);
        for column in columns {
            let Some(&[red, green, blue, alpha]) = bytes.get(column * 4..column * 4 + 4) else {
                break;
            };
            let keep = 255 - u32::from(alpha);
            let pixel = photo.get_pixel_mut(column as u32, row);
            for (part, ink) in pixel.0.iter_mut().zip([red, green, blue]) {
                let mixed = u32::from(*part) * keep / 255 + u32::from(ink);
                *part = mixed.min(255) as u8;
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::clip::{ChromaLayout, ColourCoding, Matrix, QuarterTurn};

    /// A picture whose upright left half is white and right half black, stored turned.
    fn halves(turn: QuarterTurn) -> Picture {
        let coding = ColourCoding {
            matrix: Matrix::Bt709,
            matrix_assumed: false,
            full_range: true,
            range_assumed: false,
        };
        let chroma = ChromaLayout {
            step_u: 1,
            step_v: 1,
            offset_u_px: 0.0,
            offset_v_px: 0.0,
            assumed: false,
        };
        let grey = vec![128_u8; 64];
        let mut y = vec![0_u8; 64];
        let blank = Picture::from_planes(
            8,
            8,
            y.clone(),
            grey.clone(),
            grey.clone(),
            chroma,
            coding,
            turn,
        )
        .unwrap();
        for v in 0..8 {
            for u in 0..4 {
                let (su, sv) = blank.stored(f64::from(u), f64::from(v));
                y[sv as usize * 8 + su as usize] = 255;
            }
        }
        Picture::from_planes(8, 8, y, grey.clone(), grey, chroma, coding, turn).unwrap()
    }

    #[test]
    fn a_turned_picture_is_developed_upright() {
        let crop = Crop::between(0.0, 0.0, 8.0, 8.0);
        for turn in [
            QuarterTurn::None,
            QuarterTurn::Clockwise90,
            QuarterTurn::Half,
            QuarterTurn::Clockwise270,
        ] {
            for size in [4, 8, 16] {
                let photo = develop(&halves(turn), &crop, size, size);
                assert_eq!(photo.get_pixel(0, size - 1).0, [255; 3], "{turn:?} {size}");
                assert_eq!(
                    photo.get_pixel(size / 2 - 1, 0).0,
                    [255; 3],
                    "{turn:?} {size}"
                );
                assert_eq!(photo.get_pixel(size / 2, 0).0, [0; 3], "{turn:?} {size}");
            }
        }
    }
}
