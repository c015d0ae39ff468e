//! A part of a picture at another size, upright, in red, green and blue.
//!
//! Rows are summed first and columns after, so that a sample costs one sum however small the picture becomes. A pixel is
//! the mean over places spread over it, as many as the samples that it covers, up to eight along each side.

use super::{ColourCoding, Picture, Plane, whole_code};
use ndarray::{ArrayView1, s};

/// Most places that a pixel is averaged over along each side.
const MOST_PLACES: f64 = 8.0;

/// Which part of the upright picture is wanted, and how large.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Part {
    /// Left edge (not centre) of its first column, px of the picture.
    pub left_px: f64,
    /// Top edge of its first row, px of the picture.
    pub top_px: f64,
    /// Pixels of the picture for one of the part, along each side.
    pub step_px: f64,
    /// Width of the part, in its own pixels.
    pub width: usize,
    /// Height of the part, in its own pixels.
    pub height: usize,
}

/// Reads a part of a picture row by row.
pub struct Developer<'a> {
    planes: [Sampled<'a>; 3],
    colours: Colours,
}

/// Memory for a row, to be used again for the next.
#[derive(Debug, Default)]
pub struct RowBuffer {
    sums: Vec<f32>,
    codes: [Vec<f32>; 3],
    colours: Vec<[u8; 3]>,
}

impl<'a> Developer<'a> {
    /// Prepares to read a part. What lies beyond the picture's edge looks like the edge.
    pub fn new(picture: &'a Picture, part: &Part) -> Self {
        let turn = picture.turn();
        let size = (picture.stored_width(), picture.stored_height());
        let luma = turn.stood(picture.y());
        let layout = picture.chroma();
        let (step_u, step_v) = (
            f64::from(layout.step_u.max(1)),
            f64::from(layout.step_v.max(1)),
        );
        // A place of the upright picture, on the upright plane of colour.
        let colour_place = |plane: &Plane<'_>, u_px: f64, v_px: f64| {
            let (u, v) = turn.stored(size, u_px, v_px);
            let (u, v) = (
                (u - layout.offset_u_px) / step_u,
                (v - layout.offset_v_px) / step_v,
            );
            turn.upright((plane.ncols() as u32, plane.nrows() as u32), u, v)
        };
        let [cb, cr] = [picture.cb(), picture.cr()].map(|stored| {
            let across = |u_px: f64| colour_place(&stored, u_px, 0.0).0;
            let down = |v_px: f64| colour_place(&stored, 0.0, v_px).1;
            Sampled::of(&turn.stood(stored), part, &across, &down)
        });
        let luma = Sampled::of(&luma, part, &|u_px| u_px, &|v_px| v_px);
        Self {
            planes: [luma, cb, cr],
            colours: Colours::of(picture.coding()),
        }
    }

    /// A row of the part.
    pub fn row<'b>(&self, row: usize, buffer: &'b mut RowBuffer) -> &'b [[u8; 3]] {
        for (plane, codes) in self.planes.iter().zip(&mut buffer.codes) {
            plane.row(row, &mut buffer.sums, codes);
        }
        let [luma, cb, cr] = &buffer.codes;
        let colour = luma.iter().zip(cb).zip(cr);
        buffer.colours.clear();
        (buffer.colours).extend(colour.map(|((&y, &cb), &cr)| self.colours.rgb(y, cb, cr)));
        &buffer.colours
    }
}

/// Two neighbouring samples and how much of the second counts.
#[derive(Debug, Clone, Copy)]
struct Between {
    first: usize,
    second: f32,
}

/// The places along one side that the part's pixels are averaged over.
struct Places {
    of: Vec<Between>,
    /// How many for each pixel.
    each: usize,
}

impl Places {
    /// For so many pixels; `place` is where a coordinate of the picture lies among so many samples.
    fn of(
        (edge_px, step_px, pixels): (f64, f64, usize),
        place: &dyn Fn(f64) -> f64,
        samples: usize,
    ) -> Self {
        let apart = (place(step_px) - place(0.0)).abs();
        let each = apart.round().clamp(1.0, MOST_PLACES);
        let last = samples.saturating_sub(1) as f64;
        let count = pixels * each as usize;
        let of = (0..count).map(|number| {
            let pixel = (number as f64 + 0.5) / each;
            let at = place(edge_px + pixel * step_px - 0.5).clamp(0.0, last);
            Between {
                first: at as usize,
                second: at.fract() as f32,
            }
        });
        Self {
            of: of.collect(),
            each: each as usize,
        }
    }
}

/// A plane and where the part's pixels lie on it.
struct Sampled<'a> {
    plane: Plane<'a>,
    across: Places,
    down: Places,
}

impl<'a> Sampled<'a> {
    fn of(
        plane: &Plane<'a>,
        part: &Part,
        across: &dyn Fn(f64) -> f64,
        down: &dyn Fn(f64) -> f64,
    ) -> Self {
        let columns = (part.left_px, part.step_px, part.width);
        let rows = (part.top_px, part.step_px, part.height);
        let down = Places::of(rows, down, plane.nrows());
        let mut across = Places::of(columns, across, plane.ncols());
        // Only columns that are looked at are summed.
        let looked_at = || across.of.iter().map(|place| place.first);
        let from = looked_at().min().unwrap_or(0);
        let to = looked_at().max().map_or(0, |last| last + 2);
        let to = to.min(plane.ncols());
        for place in &mut across.of {
            place.first -= from;
        }
        Self {
            plane: (*plane).slice_move(s![.., from.min(to)..to]),
            across,
            down,
        }
    }

    /// The codes of a row of the part.
    fn row(&self, row: usize, sums: &mut Vec<f32>, codes: &mut Vec<f32>) {
        sums.clear();
        // One more than there are columns: the last one has a neighbour too.
        sums.resize(self.plane.ncols() + 1, 0.0);
        let last = self.plane.nrows().saturating_sub(1);
        let places = self.down.of.chunks_exact(self.down.each).nth(row);
        for place in places.unwrap_or_default() {
            let mut add = |row: usize, weight: f32| {
                add(sums, &self.plane.row(row.min(last)), weight);
            };
            add(place.first, 1.0 - place.second);
            if place.second > 0.0 {
                add(place.first + 1, place.second);
            }
        }
        if let [.., before, end] = sums.as_mut_slice() {
            *end = *before;
        }
        let share = 1.0 / (self.across.each * self.down.each) as f32;
        let sum = |places: &[Between]| {
            let codes = places.iter().map(|place| {
                let (one, other) = (sums[place.first], sums[place.first + 1]);
                one + (other - one) * place.second
            });
            codes.sum::<f32>() * share
        };
        codes.clear();
        codes.extend(self.across.of.chunks_exact(self.across.each).map(sum));
    }
}

/// Adds a row of samples times a weight.
fn add(sums: &mut [f32], row: &ArrayView1<'_, u8>, weight: f32) {
    match row.as_slice() {
        Some(codes) => {
            for (sum, &code) in sums.iter_mut().zip(codes) {
                *sum += weight * f32::from(code);
            }
        }
        None => {
            for (sum, &code) in sums.iter_mut().zip(row) {
                *sum += weight * f32::from(code);
            }
        }
    }
}

/// [`ColourCoding::rgb`] as sums of codes times weights.
struct Colours {
    black: [f32; 3],
    luma: f32,
    cb: [f32; 3],
    cr: [f32; 3],
}

impl Colours {
    fn of(coding: ColourCoding) -> Self {
        let black = coding.rgb(0.0, 0.0, 0.0);
        let weights = |rgb: [f64; 3]| [0, 1, 2].map(|part| (rgb[part] - black[part]) as f32);
        Self {
            black: black.map(|code| code as f32),
            luma: weights(coding.rgb(1.0, 0.0, 0.0))[0],
            cb: weights(coding.rgb(0.0, 1.0, 0.0)),
            cr: weights(coding.rgb(0.0, 0.0, 1.0)),
        }
    }

    fn rgb(&self, y: f32, cb: f32, cr: f32) -> [u8; 3] {
        [0, 1, 2].map(|part| {
            let luma = self.black[part] + self.luma * y;
            whole_code(luma + self.cb[part] * cb + self.cr[part] * cr)
        })
    }
}

#[cfg(test)]
mod tests {
    use super::super::{ChromaLayout, Matrix, QuarterTurn};
    use super::*;

    const CODING: ColourCoding = ColourCoding {
        matrix: Matrix::Bt709,
        matrix_assumed: false,
        full_range: false,
        range_assumed: false,
    };

    /// A picture of 12 by 8 pixels whose luma rises along its stored rows and falls along its columns; colour at half
    /// the size rises along both.
    fn ramps(turn: QuarterTurn) -> Picture {
        let chroma = ChromaLayout {
            step_u: 2,
            step_v: 2,
            offset_u_px: 0.0,
            offset_v_px: 0.5,
            assumed: false,
        };
        let luma = (0..96).map(|at| 60 + 8 * (at % 12) as u8 - 5 * (at / 12) as u8);
        let cb = (0..24).map(|at| 90 + 6 * (at % 6) as u8 + 4 * (at / 6) as u8);
        let cr = (0..24).map(|at| 150 - 4 * (at % 6) as u8 + 2 * (at / 6) as u8);
        let planes = (luma.collect(), cb.collect(), cr.collect());
        Picture::from_planes(12, 8, planes.0, planes.1, planes.2, chroma, CODING, turn).unwrap()
    }

    /// The colour of the ramps at a stored place.
    fn ramp(u: f64, v: f64) -> [f64; 3] {
        let (cu, cv) = (u / 2.0, (v - 0.5) / 2.0);
        CODING.rgb(
            60.0 + 8.0 * u - 5.0 * v,
            90.0 + 6.0 * cu + 4.0 * cv,
            150.0 - 4.0 * cu + 2.0 * cv,
        )
    }

    #[test]
    fn between_samples_goes_a_straight_line_whatever_turn_and_size() {
        for turn in [
            QuarterTurn::None,
            QuarterTurn::Clockwise90,
            QuarterTurn::Half,
            QuarterTurn::Clockwise270,
        ] {
            let picture = ramps(turn);
            for step_px in [0.4, 1.0, 1.3, 2.0] {
                let part = Part {
                    left_px: 3.25,
                    top_px: 3.5,
                    step_px,
                    width: 2,
                    height: 1,
                };
                let developer = Developer::new(&picture, &part);
                let mut buffer = RowBuffer::default();
                for (x, colour) in developer.row(0, &mut buffer).iter().enumerate() {
                    let (u, v) = (
                        part.left_px + (x as f64 + 0.5) * step_px - 0.5,
                        part.top_px + 0.5 * step_px - 0.5,
                    );
                    let (u, v) = picture.stored(u, v);
                    for (found, wanted) in colour.iter().zip(ramp(u, v)) {
                        assert!(
                            (f64::from(*found) - wanted).abs() <= 0.51,
                            "{turn:?} {step_px} {x}: {colour:?} {:?}",
                            ramp(u, v)
                        );
                    }
                }
            }
        }
    }

    #[test]
    fn a_smaller_picture_averages_all_that_it_leaves_out() {
        // Stripes of one pixel: a picture a quarter as large is even grey.
        let flat = ChromaLayout {
            step_u: 1,
            step_v: 1,
            offset_u_px: 0.0,
            offset_v_px: 0.0,
            assumed: false,
        };
        let stripes = (0..256).map(|at| if at % 2 == 0 { 16 } else { 235 });
        let grey = vec![128; 256];
        let none = QuarterTurn::None;
        let planes = (stripes.collect(), grey.clone(), grey);
        let picture =
            Picture::from_planes(16, 16, planes.0, planes.1, planes.2, flat, CODING, none).unwrap();
        let part = Part {
            left_px: 0.0,
            top_px: 0.0,
            step_px: 4.0,
            width: 4,
            height: 4,
        };
        let developer = Developer::new(&picture, &part);
        let mut buffer = RowBuffer::default();
        for row in 0..4 {
            for colour in developer.row(row, &mut buffer) {
                assert!(
                    colour.iter().all(|code| code.abs_diff(128) <= 1),
                    "{colour:?}"
                );
            }
        }
    }

    #[test]
    fn beyond_the_edge_it_looks_like_the_edge() {
        let picture = ramps(QuarterTurn::None);
        let part = Part {
            left_px: -5.0,
            top_px: -5.0,
            step_px: 1.0,
            width: 30,
            height: 30,
        };
        let developer = Developer::new(&picture, &part);
        let mut buffer = RowBuffer::default();
        let corner = developer.row(0, &mut buffer)[0];
        assert_eq!(developer.row(5, &mut buffer)[5], corner);
        let row = developer.row(29, &mut buffer);
        assert_eq!(row[29], row[16]);
    }
}
