//! What lies behind the car: the median of several frames, each without the part that may show the car.

use super::raster::{AROUND, CAR, FREE, Layer, OUTSIDE, Raster};
use image::RgbImage;
use rayon::prelude::*;

/// Where no frame shows anything.
pub(super) const BLANK: [u8; 3] = [0xE4, 0xE7, 0xEA];
/// Every so many pixels are looked at to see by how much one frame is lighter than another.
const SAMPLED: usize = 41;
/// Lighter or darker by less than this is noise, codes.
const LEAST_OFFSET: i16 = 2;

/// Brings all frames to the middle one's light: phones adjust their exposure, and what differs would show as patches.
pub(super) fn level(layers: &mut [Layer]) {
    let Some(base) = layers
        .get(layers.len() / 2)
        .map(|layer| layer.pixels.clone())
    else {
        return;
    };
    for layer in layers {
        let offsets = [0, 1, 2].map(|part| offset(&base, &layer.pixels, part));
        if offsets.iter().all(|by| by.abs() < LEAST_OFFSET) {
            continue;
        }
        layer.pixels.par_iter_mut().for_each(|pixel| {
            for (part, by) in pixel.iter_mut().zip(offsets) {
                *part = (i16::from(*part) + by).clamp(0, 255) as u8;
            }
        });
    }
}

/// The median difference of two frames where neither shows the car, codes.
fn offset(base: &[[u8; 4]], other: &[[u8; 4]], part: usize) -> i16 {
    let pairs = base.iter().zip(other).step_by(SAMPLED);
    let mut differences: Vec<i16> = pairs
        .filter(|(base, other)| base[3] == FREE && other[3] == FREE)
        .map(|(base, other)| i16::from(base[part]) - i16::from(other[part]))
        .collect();
    differences.sort_unstable();
    differences.get(differences.len() / 2).copied().unwrap_or(0)
}

/// The median of each pixel over the frames that surely do not show the car there. Where all may show it, those count
/// that do not show it by its sizes, and where all do, all.
pub(super) fn background(raster: &Raster, layers: &[Layer]) -> RgbImage {
    let mut out = RgbImage::new(raster.width as u32, raster.height as u32);
    out.par_chunks_mut(3)
        .enumerate()
        .for_each(|(place, pixel)| {
            let seen = [FREE, AROUND, CAR].into_iter().find_map(|least| {
                let seen = || {
                    let pixels = layers.iter().filter_map(|layer| layer.pixels.get(place));
                    pixels.filter(move |pixel| pixel[3] != OUTSIDE && pixel[3] >= least)
                };
                seen().next().is_some().then(|| median(&seen()))
            });
            pixel.copy_from_slice(&seen.unwrap_or(BLANK));
        });
    out
}

fn median<'a>(pixels: &(impl Iterator<Item = &'a [u8; 4]> + Clone)) -> [u8; 3] {
    [0, 1, 2].map(|part| {
        let mut values = [0_u8; 64];
        let mut count = 0;
        for (value, pixel) in values.iter_mut().zip(pixels.clone()) {
            *value = pixel[part];
            count += 1;
        }
        let values = &mut values[..count];
        values.sort_unstable();
        let upper = values.get(count / 2).copied().unwrap_or(0);
        let lower = values
            .get(count.saturating_sub(1) / 2)
            .copied()
            .unwrap_or(0);
        u8::midpoint(lower, upper)
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn raster(width: usize, height: usize) -> Raster {
        Raster::plain(width, height)
    }

    fn layers(values: &[(u8, u8)]) -> Vec<Layer> {
        let layer = |(frame, &(grey, kind)): (usize, &(u8, u8))| Layer {
            frame,
            pixels: vec![[grey, grey, grey, kind]],
        };
        values.iter().enumerate().map(layer).collect()
    }

    fn one(values: &[(u8, u8)]) -> u8 {
        background(&raster(1, 1), &layers(values)).get_pixel(0, 0).0[0]
    }

    #[test]
    fn a_car_that_rests_for_most_of_the_clip_leaves_no_ghost() {
        // The car is dark (20) in five of seven frames; the floor is 120.
        let mut values = vec![(20, CAR); 5];
        values.extend([(120, FREE), (120, FREE)]);
        assert_eq!(one(&values), 120);
        // Where only its surroundings are free, these count.
        assert_eq!(one(&[(20, CAR), (20, CAR), (118, AROUND)]), 118);
        assert_eq!(one(&[(20, CAR)]), 20);
        assert_eq!(one(&[(20, OUTSIDE)]), BLANK[0]);
    }

    #[test]
    fn a_passer_by_in_one_frame_is_not_there() {
        assert_eq!(
            one(&[
                (100, FREE),
                (104, FREE),
                (250, FREE),
                (102, FREE),
                (98, FREE)
            ]),
            102
        );
    }

    #[test]
    fn frames_are_brought_to_one_light() {
        let pixels = |grey: u8| vec![[grey, grey, grey, FREE]; 500];
        let mut layers: Vec<Layer> = [90, 100, 110]
            .into_iter()
            .enumerate()
            .map(|(frame, grey)| Layer {
                frame,
                pixels: pixels(grey),
            })
            .collect();
        level(&mut layers);
        assert!(layers.iter().all(|layer| layer.pixels[7][0] == 100));
    }
}
