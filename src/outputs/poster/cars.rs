//! The cars, cut out of their frames by how they differ from what lies behind them.

use super::plan::Moment;
use super::raster::{CAR, FREE, Layer, OUTSIDE, Raster};
use image::{GrayImage, Luma, RgbImage, Rgba, RgbaImage};
use imageproc::distance_transform::Norm;
use imageproc::filter::box_filter;
use imageproc::morphology::{close, dilate};
use imageproc::region_labelling::{Connectivity, connected_components};
use std::collections::BTreeSet;

/// A pixel belongs to the car where it differs by this many times what the floor beside it differs, and so many codes
/// more.
const ABOVE_NOISE: f64 = 2.5;
const LEAST_CODES: f64 = 5.0;
/// From there to fully the car, codes: edges stay soft.
const RAMP_CODES: f64 = 12.0;
/// Openings smaller than this share of the car's length are filled: a body in the floor's own colour.
const FILLED_SHARE: f64 = 0.045;
/// Edges of the car are kept for so many pixels around what surely differs.
const EDGE_PX: u8 = 2;
/// A car of fewer pixels is none.
const LEAST_PX: usize = 24;

/// Where the raster shows one of the cars.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Shown {
    /// Which moment.
    pub(crate) moment: Moment,
    /// Left, top, right and bottom pixel of what was cut out.
    pub(super) bounds: [u32; 4],
}

/// All cars on one clear layer, later ones over earlier ones, and where each is.
pub(super) fn cut_out(
    raster: &Raster,
    background: &RgbImage,
    layers: &[Layer],
    moments: &[Moment],
) -> (RgbaImage, Vec<Shown>) {
    let mut cars = RgbaImage::from_fn(background.width(), background.height(), |x, y| {
        let [red, green, blue] = background.get_pixel(x, y).0;
        Rgba([red, green, blue, 0])
    });
    let mut shown = Vec::new();
    for &moment in moments {
        let Some(layer) = layers.iter().find(|layer| layer.frame == moment.frame) else {
            continue;
        };
        let Some(window) = Window::of(raster, layer) else {
            continue;
        };
        if let Some((alpha, bounds)) = window.car(raster, background, layer) {
            window.lay(&mut cars, raster, layer, &alpha);
            shown.push(Shown { moment, bounds });
        }
    }
    (cars, shown)
}

/// The part of the raster about a car.
struct Window {
    left: usize,
    top: usize,
    width: usize,
    height: usize,
    /// The car's length by its sizes, px.
    length: usize,
}

impl Window {
    fn of(raster: &Raster, layer: &Layer) -> Option<Self> {
        let kinds = layer
            .pixels
            .iter()
            .enumerate()
            .map(|(place, pixel)| (place % raster.width, place / raster.width, pixel[3]));
        let bounds = |is: fn(u8) -> bool| {
            let places = kinds.clone().filter(|(_, _, kind)| is(*kind));
            places.fold(None, |found: Option<[usize; 4]>, (x, y, _)| {
                let [left, top, right, bottom] = found.unwrap_or([x, y, x, y]);
                Some([left.min(x), top.min(y), right.max(x), bottom.max(y)])
            })
        };
        let car = bounds(|kind| kind == CAR)?;
        let around = bounds(|kind| kind != FREE && kind != OUTSIDE)?;
        // The floor beside it tells what differs without a car.
        let room = (around[2] - around[0]) / 6 + 4;
        let (left, top) = (
            around[0].saturating_sub(room),
            around[1].saturating_sub(room),
        );
        let right = (around[2] + room).min(raster.width - 1);
        let bottom = (around[3] + room).min(raster.height - 1);
        Some(Self {
            left,
            top,
            width: right - left + 1,
            height: bottom - top + 1,
            length: car[2] - car[0] + 1,
        })
    }

    fn place(&self, raster: &Raster, x: u32, y: u32) -> usize {
        (self.top + y as usize) * raster.width + self.left + x as usize
    }

    fn map(&self, value: impl Fn(u32, u32) -> u8) -> GrayImage {
        GrayImage::from_fn(self.width as u32, self.height as u32, |x, y| {
            Luma([value(x, y)])
        })
    }

    /// How much of each pixel is the car, and where it is; `None` where nothing differs from the floor.
    fn car(
        &self,
        raster: &Raster,
        background: &RgbImage,
        layer: &Layer,
    ) -> Option<(GrayImage, [u32; 4])> {
        let pixel = |x: u32, y: u32| layer.pixels[self.place(raster, x, y)];
        let differs = self.map(|x, y| {
            let [red, green, blue, kind] = pixel(x, y);
            let behind = background
                .get_pixel(self.left as u32 + x, self.top as u32 + y)
                .0;
            let parts = [red, green, blue].into_iter().zip(behind);
            let most = parts.map(|(one, other)| one.abs_diff(other)).max();
            if kind == OUTSIDE {
                0
            } else {
                most.unwrap_or(0)
            }
        });
        let differs = box_filter(&differs, 1, 1);
        let low = ABOVE_NOISE * beside(&differs, &pixel) + LEAST_CODES;
        let part = |code: u8| ((f64::from(code) - low) / RAMP_CODES).clamp(0.0, 1.0);
        let sure = self.map(|x, y| {
            let mine = pixel(x, y)[3] != FREE && pixel(x, y)[3] != OUTSIDE;
            let differs = part(differs.get_pixel(x, y).0[0]) >= 0.5;
            if mine && differs { 255 } else { 0 }
        });
        let (mine, bounds) = self.connected(&sure, &pixel)?;
        let filled = ((FILLED_SHARE * self.length as f64).round() as usize).clamp(1, 16);
        let filled = close(&mine, Norm::LInf, filled as u8);
        let edge = dilate(&mine, Norm::LInf, EDGE_PX);
        let alpha = self.map(|x, y| {
            if pixel(x, y)[3] == OUTSIDE {
                0
            } else if filled.get_pixel(x, y).0[0] > 0 {
                255
            } else if edge.get_pixel(x, y).0[0] > 0 {
                (255.0 * part(differs.get_pixel(x, y).0[0])) as u8
            } else {
                0
            }
        });
        let [left, top, right, bottom] = bounds;
        let (x, y) = (self.left as u32, self.top as u32);
        Some((alpha, [left + x, top + y, right + x, bottom + y]))
    }

    /// What hangs together with something where the car must be, and where that is.
    fn connected(
        &self,
        sure: &GrayImage,
        pixel: &dyn Fn(u32, u32) -> [u8; 4],
    ) -> Option<(GrayImage, [u32; 4])> {
        let pieces = connected_components(sure, Connectivity::Eight, Luma([0]));
        let own: BTreeSet<u32> = (pieces.enumerate_pixels())
            .filter(|(x, y, piece)| piece.0[0] > 0 && pixel(*x, *y)[3] == CAR)
            .map(|(_, _, piece)| piece.0[0])
            .collect();
        let is = |x: u32, y: u32| own.contains(&pieces.get_pixel(x, y).0[0]);
        let mine = self.map(|x, y| if is(x, y) { 255 } else { 0 });
        let places = mine.enumerate_pixels().filter(|(_, _, on)| on.0[0] > 0);
        let start = ([u32::MAX, u32::MAX, 0, 0], 0);
        let (bounds, count) = places.fold(start, |([l, t, r, b], count), (x, y, _)| {
            ([l.min(x), t.min(y), r.max(x), b.max(y)], count + 1)
        });
        (count >= LEAST_PX).then_some((mine, bounds))
    }

    /// Lays the car over those before it.
    fn lay(&self, cars: &mut RgbaImage, raster: &Raster, layer: &Layer, alpha: &GrayImage) {
        for (x, y, part) in alpha.enumerate_pixels() {
            let over = f64::from(part.0[0]) / 255.0;
            if over <= 0.0 {
                continue;
            }
            let new = layer.pixels[self.place(raster, x, y)];
            let under = cars.get_pixel_mut(self.left as u32 + x, self.top as u32 + y);
            let kept = f64::from(under.0[3]) / 255.0 * (1.0 - over);
            let all = over + kept;
            for (under, new) in under.0.iter_mut().zip(new).take(3) {
                let mixed = (f64::from(new) * over + f64::from(*under) * kept) / all;
                *under = (mixed + 0.5) as u8;
            }
            under.0[3] = (255.0 * all + 0.5).min(255.0) as u8;
        }
    }
}

/// The median difference where there is no car, codes.
fn beside(differs: &GrayImage, pixel: &dyn Fn(u32, u32) -> [u8; 4]) -> f64 {
    let free = differs
        .enumerate_pixels()
        .filter(|(x, y, _)| pixel(*x, *y)[3] == FREE);
    let mut codes: Vec<u8> = free.map(|(_, _, code)| code.0[0]).collect();
    if codes.is_empty() {
        return 0.0;
    }
    let middle = codes.len() / 2;
    f64::from(*codes.select_nth_unstable(middle).1)
}

#[cfg(test)]
mod tests {
    use super::super::raster::AROUND;
    use super::*;

    /// A floor of 120 with a car of 40 in the middle whose deck has the floor's own colour, and a stranger beside.
    fn filmed() -> (Raster, RgbImage, Layer) {
        let raster = Raster::plain(80, 60);
        let background = RgbImage::from_pixel(80, 60, image::Rgb([120; 3]));
        let pixels = (0..80 * 60)
            .map(|place| {
                let (x, y) = (place % 80, place / 80);
                let inside = |l: usize, t: usize, r: usize, b: usize| {
                    (l..r).contains(&x) && (t..b).contains(&y)
                };
                let deck = inside(38, 28, 40, 32);
                let grey = if inside(30, 25, 50, 35) && !deck || inside(2, 2, 8, 8) {
                    40
                } else {
                    120
                };
                let kind = if inside(28, 22, 52, 38) {
                    CAR
                } else if inside(20, 15, 60, 45) {
                    AROUND
                } else {
                    FREE
                };
                [grey, grey, grey, kind]
            })
            .collect();
        (raster, background, Layer { frame: 3, pixels })
    }

    #[test]
    fn the_whole_car_and_nothing_else_is_cut_out() {
        let (raster, background, layer) = filmed();
        let moment = Moment {
            frame: 3,
            since_s: None,
        };
        let (cars, shown) = cut_out(&raster, &background, &[layer], &[moment]);
        assert_eq!(shown.len(), 1);
        let alpha = |x: u32, y: u32| cars.get_pixel(x, y).0[3];
        for (x, y) in [(30, 25), (49, 34), (40, 30), (31, 33)] {
            assert_eq!(alpha(x, y), 255, "{x} {y}");
        }
        assert_eq!(
            alpha(39, 30),
            255,
            "a body in the floor's own colour is not seen through"
        );
        assert_eq!(alpha(4, 4), 0, "a stranger stays out");
        assert_eq!(alpha(24, 20), 0, "the floor beside the car stays the floor");
        let [left, top, right, bottom] = shown[0].bounds;
        assert!(
            left.abs_diff(30) < 2
                && top.abs_diff(25) < 2
                && right.abs_diff(49) < 2
                && bottom.abs_diff(34) < 2
        );
    }

    #[test]
    fn a_floor_without_a_car_shows_none() {
        let (raster, background, mut layer) = filmed();
        for pixel in &mut layer.pixels {
            pixel[0] = 121;
            pixel[1] = 120;
            pixel[2] = 120;
        }
        let moment = Moment {
            frame: 3,
            since_s: None,
        };
        let (cars, shown) = cut_out(&raster, &background, &[layer], &[moment]);
        assert!(shown.is_empty() && cars.pixels().all(|pixel| pixel.0[3] == 0));
    }
}
