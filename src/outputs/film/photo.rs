//! From planes of a decoded frame to a small picture in red, green and blue.

use crate::clip::{Developer, Part, Picture, RowBuffer};
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

/// The cropped part of a picture at another size.
pub(super) fn develop(picture: &Picture, crop: &Crop, width: u32, height: u32) -> RgbImage {
    let part = Part {
        left_px: crop.left_px,
        top_px: crop.top_px,
        step_px: crop.width_px / f64::from(width),
        width: width as usize,
        height: height as usize,
    };
    let developer = Developer::new(picture, &part);
    let mut buffer = RowBuffer::default();
    let mut photo = RgbImage::new(width, height);
    for (number, row) in photo.rows_mut().enumerate() {
        for (pixel, colour) in row.zip(developer.row(number, &mut buffer)) {
            *pixel = Rgb(*colour);
        }
    }
    photo
}

/// Lays a sketch over a picture of the same size.
pub(in crate::outputs) fn lay_over(photo: &mut RgbImage, sketch: &Sketch) {
    for row in 0..photo.height() {
        let number = row as usize;
        let (inks, _) = sketch.row(number).as_chunks::<4>();
        for column in sketch.drawn(number..number + 1).flatten() {
            let [red, green, blue, alpha] = inks[column];
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
            for size in [4, 8] {
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
