//! An upright picture that can be drawn on and encoded: Y, Cb and Cr with colour halved both ways.

use super::{ColourCoding, Picture, Plane, QuarterTurn};

/// An upright 4:2:0 picture of even size. Where the original's size is odd, its last column or row is
/// there twice; coordinates stay those of the original, or those over the number of times that it is smaller.
#[derive(Debug, Clone, PartialEq)]
pub struct Upright420 {
    /// Width, even.
    pub width: usize,
    /// Height, even.
    pub height: usize,
    /// Y, Cb and Cr, row by row without gaps.
    pub planes: [Vec<u8>; 3],
    /// How codes become colours.
    pub coding: ColourCoding,
}

impl Upright420 {
    /// The picture turned upright, with colour at half size. Where colour samples lie exactly is not
    /// kept: this picture is for looking at, not for measuring.
    pub fn from_picture(picture: &Picture) -> Self {
        let turn = picture.turn();
        let (across, down) = turn.upright_size(picture.stored_width(), picture.stored_height());
        let (width, height) = even_size(across, down);
        let chroma = picture.chroma();
        let plain = turn == QuarterTurn::None && (chroma.step_u, chroma.step_v) == (2, 2);
        let luma = filled(&turn.stood(picture.y()), width, height);
        let [cb, cr] = [picture.cb(), picture.cr()].map(|plane| {
            if plain {
                filled(&plane, width / 2, height / 2)
            } else {
                let upright = (across as usize, down as usize);
                halved(picture, &plane, upright, (width, height))
            }
        });
        let planes = [luma, cb, cr];
        Self {
            width,
            height,
            planes,
            coding: picture.coding(),
        }
    }

    /// Size of an upright picture of this size once it is so many times smaller.
    pub fn size_of(width_px: u32, height_px: u32, times: u32) -> (u32, u32) {
        let (width, height) = even_size(width_px, height_px);
        let times = times.max(1) as usize;
        let smaller = |size: usize| (size / (2 * times) * 2) as u32;
        (smaller(width), smaller(height))
    }

    /// The picture so many times smaller, each sample an average. What is left over at the right and the lower edge,
    /// less than two of the new samples, is cut off.
    #[must_use]
    pub fn shrunk(self, times: u32) -> Self {
        if times <= 1 {
            return self;
        }
        let size = Self::size_of(self.width as u32, self.height as u32, times);
        let (across, down) = (size.0 as usize, size.1 as usize);
        let [luma, cb, cr] = &self.planes;
        let times = times as usize;
        let half = (across / 2, down / 2);
        let planes = [
            averaged(luma, self.width, (across, down), times),
            averaged(cb, self.width / 2, half, times),
            averaged(cr, self.width / 2, half, times),
        ];
        Self {
            width: across,
            height: down,
            planes,
            coding: self.coding,
        }
    }
}

/// An upright size made even.
fn even_size(across: u32, down: u32) -> (usize, usize) {
    let even = |size: u32| (size + size % 2) as usize;
    (even(across), even(down))
}

/// Rows as they are, the last column and row repeated where the plane is smaller.
fn filled(plane: &Plane<'_>, width: usize, height: usize) -> Vec<u8> {
    let rows = plane.nrows();
    if rows == 0 {
        return vec![0; width * height];
    }
    let mut out = Vec::with_capacity(width * height);
    for v in (0..height).map(|v| v.min(rows - 1)) {
        let end = out.len() + width;
        let row = plane.row(v);
        match row.as_slice() {
            Some(whole) => out.extend_from_slice(&whole[..width.min(whole.len())]),
            None => out.extend(row.iter().take(width)),
        }
        let last = out.last().copied().unwrap_or(0);
        out.resize(end, last);
    }
    out
}

/// A plane of this size in samples, each the average of `times` by `times` samples of a plane that is `width` wide.
fn averaged(plane: &[u8], width: usize, size: (usize, usize), times: usize) -> Vec<u8> {
    match times {
        2 => averaged_by::<2>(plane, width, size),
        3 => averaged_by::<3>(plane, width, size),
        4 => averaged_by::<4>(plane, width, size),
        _ => averaged_by_any(plane, width, size, times),
    }
}

/// The same for a number of times that is known beforehand, and whose sums fit 16 bits: many samples are added at once.
fn averaged_by<const TIMES: usize>(
    plane: &[u8],
    width: usize,
    (across, down): (usize, usize),
) -> Vec<u8> {
    let mut out = Vec::with_capacity(across * down);
    let mut sums = vec![0_u16; across];
    let count = (TIMES * TIMES) as u16;
    for band in plane.chunks_exact(width * TIMES).take(down) {
        sums.fill(0);
        for row in band.chunks_exact(width) {
            let (groups, _) = row.as_chunks::<TIMES>();
            for (sum, codes) in sums.iter_mut().zip(groups) {
                *sum += codes.iter().map(|&code| u16::from(code)).sum::<u16>();
            }
        }
        out.extend(sums.iter().map(|sum| ((sum + count / 2) / count) as u8));
    }
    out
}

fn averaged_by_any(
    plane: &[u8],
    width: usize,
    (across, down): (usize, usize),
    times: usize,
) -> Vec<u8> {
    let mut out = Vec::with_capacity(across * down);
    let mut sums = vec![0_u32; across];
    let count = (times * times) as u32;
    for band in plane.chunks_exact(width * times).take(down) {
        sums.fill(0);
        for row in band.chunks_exact(width) {
            for (sum, codes) in sums.iter_mut().zip(row.chunks_exact(times)) {
                *sum += codes.iter().map(|&code| u32::from(code)).sum::<u32>();
            }
        }
        out.extend(sums.iter().map(|sum| ((sum + count / 2) / count) as u8));
    }
    out
}

/// A plane of colour at half the upright size: each sample is the average over the four pixels that share it.
fn halved(
    picture: &Picture,
    plane: &Plane<'_>,
    upright: (usize, usize),
    (width, height): (usize, usize),
) -> Vec<u8> {
    let chroma = picture.chroma();
    let (step_u, step_v) = (chroma.step_u.max(1) as usize, chroma.step_v.max(1) as usize);
    let (last_v, last_u) = (
        plane.nrows().saturating_sub(1),
        plane.ncols().saturating_sub(1),
    );
    let at = |x: usize, y: usize| {
        let (x, y) = (x.min(upright.0 - 1), y.min(upright.1 - 1));
        let (u, v) = picture.stored(x as f64, y as f64);
        let (u, v) = (u.round() as usize / step_u, v.round() as usize / step_v);
        plane
            .get((v.min(last_v), u.min(last_u)))
            .copied()
            .unwrap_or(0)
    };
    let mut out = Vec::with_capacity(width * height / 4);
    for y in (0..height).step_by(2) {
        for x in (0..width).step_by(2) {
            let four = [(0, 0), (1, 0), (0, 1), (1, 1)];
            let sum: u32 = (four.iter())
                .map(|(right, below)| u32::from(at(x + right, y + below)))
                .sum();
            out.push(((sum + 2) / 4) as u8);
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::super::{ChromaLayout, Matrix};
    use super::*;

    fn picture(turn: QuarterTurn, step: u32) -> Picture {
        let coding = ColourCoding {
            matrix: Matrix::Bt709,
            matrix_assumed: false,
            full_range: false,
            range_assumed: false,
        };
        let chroma = ChromaLayout {
            step_u: step,
            step_v: step,
            offset_u_px: 0.0,
            offset_v_px: 0.0,
            assumed: false,
        };
        let colours = 5_usize.div_ceil(step as usize) * 3_usize.div_ceil(step as usize);
        let plane = |count: usize, first: u8| (0..count).map(|n| first + n as u8).collect();
        let (y, cb, cr) = (plane(15, 0), plane(colours, 50), plane(colours, 90));
        Picture::from_planes(5, 3, y, cb, cr, chroma, coding, turn).unwrap()
    }

    #[test]
    fn an_odd_picture_keeps_its_places_and_repeats_its_edge() {
        let upright = Upright420::from_picture(&picture(QuarterTurn::None, 2));
        assert_eq!((upright.width, upright.height), (6, 4));
        assert_eq!(upright.planes[0][..6], [0, 1, 2, 3, 4, 4]);
        assert_eq!(upright.planes[0][18..], [10, 11, 12, 13, 14, 14]);
        assert_eq!(upright.planes[1], [50, 51, 52, 53, 54, 55]);
    }

    #[test]
    fn a_smaller_picture_is_the_average_and_keeps_its_shape() {
        let mut upright = Upright420::from_picture(&picture(QuarterTurn::None, 2));
        // 6 by 4 becomes 2 by 2: of 6 columns the last two are left over.
        let small = upright.clone().shrunk(2);
        assert_eq!((small.width, small.height), (2, 2));
        assert_eq!(Upright420::size_of(5, 3, 2), (2, 2));
        // Rows 0 1 2 3, 5 6 7 8 and 10 11 12 13 twice.
        assert_eq!(small.planes[0], [3, 5, 11, 13]);
        assert_eq!(small.planes[1], [52]);
        upright.planes[0].fill(7);
        let same = upright.clone().shrunk(1);
        assert_eq!(same, upright);
        assert_eq!(upright.shrunk(3).planes[0].len(), 0);
    }

    #[test]
    fn a_turned_picture_stands_upright() {
        let upright = Upright420::from_picture(&picture(QuarterTurn::Clockwise90, 1));
        assert_eq!((upright.width, upright.height), (4, 6));
        // Clockwise: the stored left column, from the bottom, becomes the top row.
        assert_eq!(upright.planes[0][..4], [10, 5, 0, 0]);
        // Colour of the top-left four: stored (0..2, 1..3), so 60 + 55 + 61 + 56 over 4.
        assert_eq!(upright.planes[1][0], 58);
    }
}
