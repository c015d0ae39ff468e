//! What lies behind the car: the median of several frames, each without the part that may show the car.

use super::raster::{FREE, Layer, OUTSIDE, Raster};
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
    let rows = out.par_chunks_mut(3 * raster.width.max(1)).enumerate();
    rows.for_each_init(Medians::default, |medians, (number, row)| {
        for (block, pixels) in row.chunks_mut(3 * TOGETHER).enumerate() {
            let first = number * raster.width + block * TOGETHER;
            medians.of(layers, first, pixels);
        }
    });
    out
}

/// So many pixels are worked on at once.
const TOGETHER: usize = 16;

type Block = [[u8; 4]; TOGETHER];

/// Works out medians of some pixels at a time: layers are sorted as wholes, byte by byte, which is one instruction for
/// many bytes.
#[derive(Default)]
struct Medians {
    sorted: Vec<Block>,
}

impl Medians {
    /// Medians of the pixels from `first` on, as many as there is room for in `out`, three bytes each.
    fn of(&mut self, layers: &[Layer], first: usize, out: &mut [u8]) {
        self.sorted.clear();
        self.sorted.extend(layers.iter().map(|layer| {
            let mut block = [[0, 0, 0, OUTSIDE]; TOGETHER];
            let pixels = layer.pixels.iter().skip(first).take(out.len() / 3);
            for (to, from) in block.iter_mut().zip(pixels) {
                *to = *from;
            }
            block
        }));
        let mut best = [OUTSIDE; TOGETHER];
        for block in &self.sorted {
            for (best, pixel) in best.iter_mut().zip(block) {
                *best = pixel[3].max(*best);
            }
        }
        // What does not count is put last.
        let mut counts = [0_usize; TOGETHER];
        for block in &mut self.sorted {
            for ((pixel, best), count) in block.iter_mut().zip(best).zip(&mut counts) {
                if pixel[3] == best {
                    *count += 1;
                } else {
                    *pixel = [u8::MAX; 4];
                }
            }
        }
        sort(&mut self.sorted);
        for (place, pixel) in out.chunks_exact_mut(3).enumerate() {
            let row = |number: usize| self.sorted.get(number).map_or([0; 4], |row| row[place]);
            let count = counts[place];
            let (lower, upper) = (row(count.saturating_sub(1) / 2), row(count / 2));
            for (part, code) in pixel.iter_mut().enumerate() {
                *code = match best[place] {
                    OUTSIDE => BLANK[part],
                    _ => u8::midpoint(lower[part], upper[part]),
                };
            }
        }
    }
}

/// Sorts each byte of the blocks by itself: neighbours change places until none need to (odd-even transposition sort,
/// Knuth, The Art of Computer Programming 3, section 5.3.4, from memory).
fn sort(blocks: &mut [Block]) {
    for round in 0..blocks.len() {
        for pair in blocks[round % 2..].chunks_exact_mut(2) {
            if let [one, other] = pair {
                let (one, other) = (one.as_flattened_mut(), other.as_flattened_mut());
                for (one, other) in one.iter_mut().zip(other) {
                    (*one, *other) = ((*one).min(*other), (*one).max(*other));
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::raster::{AROUND, CAR};
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

    /// Against sorting in the standard library, for chance pixels of all kinds and a width that no block divides.
    #[test]
    fn medians_are_those_of_sorted_values() {
        let mut state = 7_u32;
        let mut chance = || {
            state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            (state >> 24) as u8
        };
        for count in 1..=11 {
            let layers: Vec<Layer> = (0..count)
                .map(|frame| Layer {
                    frame,
                    pixels: (0..2 * 37)
                        .map(|_| [chance(), chance(), chance(), chance() % 4])
                        .collect(),
                })
                .collect();
            let found = background(&raster(37, 2), &layers);
            for (place, pixel) in found.pixels().enumerate() {
                let seen = || layers.iter().map(|layer| layer.pixels[place]);
                let best = seen().map(|pixel| pixel[3]).max().unwrap();
                for part in 0..3 {
                    let mut values: Vec<u8> = (seen().filter(|pixel| pixel[3] == best))
                        .map(|pixel| pixel[part])
                        .collect();
                    values.sort_unstable();
                    let (lower, upper) = (values[(values.len() - 1) / 2], values[values.len() / 2]);
                    let wanted = match best {
                        OUTSIDE => BLANK[part],
                        _ => u8::midpoint(lower, upper),
                    };
                    assert_eq!(pixel.0[part], wanted, "{count} layers, pixel {place}");
                }
            }
        }
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
