//! Laying a sketch over the planes of a picture, so that what is not drawn on stays as it was.

use crate::clip::{ColourCoding, Upright420, whole_code};
use crate::outputs::sketch::Sketch;

/// Codes of a colour as weights of its red, green and blue, and the code of nothing.
struct Weights {
    of: [[f32; 3]; 3],
    black: [f32; 3],
}

impl Weights {
    fn new(coding: ColourCoding) -> Self {
        let black = coding.ycbcr([0.0; 3]);
        let mut of = [[0.0; 3]; 3];
        for part in 0..3 {
            let mut rgb = [0.0; 3];
            rgb[part] = 255.0;
            let codes = coding.ycbcr(rgb);
            for plane in 0..3 {
                of[plane][part] = ((codes[plane] - black[plane]) / 255.0) as f32;
            }
        }
        Self {
            of,
            black: black.map(|code| code as f32),
        }
    }

    /// A code under ink: what shows through, and the ink, whose colour is multiplied by alpha already. Where there is
    /// no ink it stays as it is. Without a branch, so that many are mixed at once.
    fn mixed(&self, plane: usize, code: u8, [red, green, blue, alpha]: [f32; 4]) -> u8 {
        let of = &self.of[plane];
        let drawn = of[0] * red + of[1] * green + of[2] * blue;
        let code = f32::from(code);
        whole_code(code + (self.black[plane] - code) * (alpha / 255.0) + drawn)
    }
}

/// Lays a sketch of the same size over a picture.
pub fn lay_on_planes(picture: &mut Upright420, sketch: &Sketch) {
    let weights = Weights::new(picture.coding);
    let (width, height) = (picture.width, picture.height);
    let [luma, cb, cr] = &mut picture.planes;
    for pair in 0..height / 2 {
        let (upper, lower) = (2 * pair, 2 * pair + 1);
        // Below the last row of a sketch of odd height there is none.
        let lines = [sketch.row(upper), sketch.row(lower)];
        for (line, row) in lines.into_iter().zip([upper, lower]) {
            let codes = &mut luma[row * width..(row + 1) * width];
            for run in sketch.drawn(row..row + 1) {
                let (inks, _) = line[run.start * 4..run.end * 4].as_chunks::<4>();
                for (code, ink) in codes[run].iter_mut().zip(inks) {
                    *code = weights.mixed(0, *code, ink.map(f32::from));
                }
            }
        }
        for run in sketch.drawn(upper..lower + 1) {
            for column in run.start / 2..run.end.div_ceil(2).min(width / 2) {
                // Much of what lies between things drawn is clear.
                if lines.iter().all(|line| is_clear(line, column)) {
                    continue;
                }
                let mut sum = [0; 4];
                for line in lines {
                    for at in [2 * column, 2 * column + 1] {
                        for (sum, part) in sum.iter_mut().zip(ink_at(line, at)) {
                            *sum += u16::from(part);
                        }
                    }
                }
                let ink = sum.map(|part| f32::from(part) / 4.0);
                let place = pair * (width / 2) + column;
                cb[place] = weights.mixed(1, cb[place], ink);
                cr[place] = weights.mixed(2, cr[place], ink);
            }
        }
    }
}

/// Whether nothing is drawn on two columns that share their colour; what cannot be told is looked at.
fn is_clear(line: &[u8], pair: usize) -> bool {
    match line.get(pair * 8..pair * 8 + 8) {
        Some(&[.., one, _, _, _, other]) => one | other == 0,
        _ => line.is_empty(),
    }
}

fn ink_at(line: &[u8], column: usize) -> [u8; 4] {
    match line.get(column * 4..column * 4 + 4) {
        Some(&[red, green, blue, alpha]) => [red, green, blue, alpha],
        _ => [0; 4],
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::clip::Matrix;
    use crate::outputs::sketch::{Ink, Placement};

    fn grey(full_range: bool) -> Upright420 {
        Upright420 {
            width: 16,
            height: 8,
            planes: [vec![100; 128], vec![128; 32], vec![128; 32]],
            coding: ColourCoding {
                matrix: Matrix::Bt709,
                matrix_assumed: false,
                full_range,
                range_assumed: false,
            },
        }
    }

    #[test]
    fn ink_takes_the_codes_that_the_standard_gives_its_colour() {
        // ITU-R BT.709 limited range, 100 % colour bars: red is 63, 102, 240; white 235, 128, 128.
        for (rgb, codes) in [([255, 0, 0], [63, 102, 240]), ([255; 3], [235, 128, 128])] {
            let mut picture = grey(false);
            let mut sketch = Sketch::new(16, 8, Placement::WHOLE).unwrap();
            sketch.block(4.0, 2.0, 6.0, 4.0, Ink::solid(rgb));
            lay_on_planes(&mut picture, &sketch);
            assert!(picture.planes[0][3 * 16 + 6].abs_diff(codes[0]) <= 1);
            assert!(picture.planes[1][8 + 3].abs_diff(codes[1]) <= 1);
            assert!(picture.planes[2][8 + 3].abs_diff(codes[2]) <= 1);
            assert_eq!(picture.planes[0][0], 100, "what is not drawn on stays");
            assert_eq!(picture.planes[1][0], 128);
        }
    }

    #[test]
    fn half_ink_lets_half_of_the_ground_through() {
        let mut picture = grey(true);
        let mut sketch = Sketch::new(16, 8, Placement::WHOLE).unwrap();
        let ink = Ink::solid([255; 3]).faded(128);
        sketch.block(0.0, 0.0, 16.0, 8.0, ink);
        lay_on_planes(&mut picture, &sketch);
        assert!(
            picture.planes[0][40].abs_diff(178) <= 1,
            "{}",
            picture.planes[0][40]
        );
        assert!(picture.planes[1][10].abs_diff(128) <= 1);
    }
}
