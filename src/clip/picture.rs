//! One decoded picture: three planes and how to read them.

use std::fmt;

use ffmpeg_next::frame::Video;
use ndarray::{ArrayView2, ShapeBuilder};

use super::pixels::Stored;
use super::{ChromaLayout, ColourCoding, QuarterTurn, raw};

/// Y, Cb and Cr planes of 8 bits as stored (not turned), with what is needed to read them.
///
/// Cheap to move to another thread: planes that the decoder made with 8 bits are not copied.
pub struct Picture {
    planes: Planes,
    width: u32,
    height: u32,
    chroma: ChromaLayout,
    coding: ColourCoding,
    turn: QuarterTurn,
}

enum Planes {
    /// The decoder's own buffers, counted by reference.
    Decoded(Video),
    /// Tight planes.
    Owned([Vec<u8>; 3]),
}

/// One plane of samples, rows by columns: a view of what the decoder made, whatever its rows are apart.
pub type Plane<'a> = ArrayView2<'a, u8>;

/// How the pictures of one clip are to be read.
#[derive(Debug, Clone, Copy)]
pub(super) struct Reading {
    pub(super) stored: Stored,
    pub(super) chroma: ChromaLayout,
    pub(super) coding: ColourCoding,
    pub(super) turn: QuarterTurn,
}

impl Picture {
    /// A picture from tight planes, for tests; `None` where one does not hold width times height samples. Sizes are the stored
    /// ones; colour planes are rounded up where `chroma` halves them.
    #[expect(clippy::too_many_arguments, reason = "a picture has these eight parts")]
    pub fn from_planes(
        width: u32,
        height: u32,
        y: Vec<u8>,
        cb: Vec<u8>,
        cr: Vec<u8>,
        chroma: ChromaLayout,
        coding: ColourCoding,
        turn: QuarterTurn,
    ) -> Option<Self> {
        let picture = Self {
            planes: Planes::Owned([y, cb, cr]),
            width,
            height,
            chroma,
            coding,
            turn,
        };
        let holds = |plane: usize| {
            let (width, height) = picture.plane_size(plane);
            matches!(&picture.planes, Planes::Owned(planes) if planes[plane].len() == width * height)
        };
        (0..3).all(holds).then_some(picture)
    }

    /// A picture around a decoded frame, whose format and size the caller has checked; `None` when
    /// its planes are missing or upside down.
    pub(super) fn from_decoded(frame: Video, reading: &Reading) -> Option<Self> {
        let (width, height) = (frame.width(), frame.height());
        if (0..3).any(|plane| {
            let wanted = reading.stored.plane_bytes(plane, width, height) != (0, 0);
            wanted && raw::plane(&frame, plane).is_empty()
        }) {
            return None;
        }
        let planes = if reading.stored.is_plain() {
            Planes::Decoded(frame)
        } else {
            Planes::Owned(reading.stored.to_8_bit(&frame))
        };
        Some(Self {
            planes,
            width,
            height,
            chroma: reading.chroma,
            coding: reading.coding,
            turn: reading.turn,
        })
    }

    fn plane_size(&self, plane: usize) -> (usize, usize) {
        if plane == 0 {
            return (self.width as usize, self.height as usize);
        }
        (
            self.width.div_ceil(self.chroma.step_u.max(1)) as usize,
            self.height.div_ceil(self.chroma.step_v.max(1)) as usize,
        )
    }

    fn plane(&self, plane: usize) -> Plane<'_> {
        let (width, height) = self.plane_size(plane);
        let (data, stride) = match &self.planes {
            Planes::Decoded(frame) => (
                raw::plane(frame, plane),
                raw::stride(frame, plane).unwrap_or(width),
            ),
            Planes::Owned(planes) => (planes[plane].as_slice(), width),
        };
        // Whoever made the picture saw to it that its planes hold so much; what does not is seen as empty.
        Plane::from_shape((height, width).strides((stride, 1)), data)
            .unwrap_or_else(|_| Plane::from(&[[0; 0]; 0]))
    }

    /// Luma samples.
    pub fn y(&self) -> Plane<'_> {
        self.plane(0)
    }

    /// Blue-difference samples.
    pub fn cb(&self) -> Plane<'_> {
        self.plane(1)
    }

    /// Red-difference samples.
    pub fn cr(&self) -> Plane<'_> {
        self.plane(2)
    }

    /// Where colour samples lie on the luma raster, as stored.
    pub fn chroma(&self) -> ChromaLayout {
        self.chroma
    }

    /// How codes become colours.
    pub fn coding(&self) -> ColourCoding {
        self.coding
    }

    /// How the stored picture must be turned to stand upright.
    pub fn turn(&self) -> QuarterTurn {
        self.turn
    }

    /// Width of the luma plane.
    pub fn stored_width(&self) -> u32 {
        self.width
    }

    /// Height of the luma plane.
    pub fn stored_height(&self) -> u32 {
        self.height
    }

    /// Upright coordinate of a stored luma coordinate, both in pixels with centres on integers.
    pub fn upright(&self, u_px: f64, v_px: f64) -> (f64, f64) {
        self.turn.upright((self.width, self.height), u_px, v_px)
    }

    /// Stored luma coordinate of an upright one; undoes [`upright`](Self::upright).
    pub fn stored(&self, u_px: f64, v_px: f64) -> (f64, f64) {
        self.turn.stored((self.width, self.height), u_px, v_px)
    }
}

impl fmt::Debug for Picture {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        out.debug_struct("Picture")
            .field("width", &self.width)
            .field("height", &self.height)
            .field("chroma", &self.chroma)
            .field("coding", &self.coding)
            .field("turn", &self.turn)
            .finish_non_exhaustive()
    }
}

#[cfg(test)]
mod tests {
    use super::super::Matrix;
    use super::*;

    const LEFT_420: ChromaLayout = ChromaLayout {
        step_u: 2,
        step_v: 2,
        offset_u_px: 0.0,
        offset_v_px: 0.5,
        assumed: false,
    };
    const CODING: ColourCoding = ColourCoding {
        matrix: Matrix::Bt709,
        matrix_assumed: false,
        full_range: false,
        range_assumed: false,
    };

    fn picture(y: usize, cb: usize, cr: usize) -> Option<Picture> {
        let plane = |count: usize| (0..count).map(|place| place as u8).collect::<Vec<_>>();
        let turn = QuarterTurn::Clockwise90;
        Picture::from_planes(5, 3, plane(y), plane(cb), plane(cr), LEFT_420, CODING, turn)
    }

    #[test]
    fn planes_of_an_odd_size_round_up() {
        let picture = picture(15, 6, 6).unwrap();
        assert_eq!(picture.y().row(2).to_vec(), [10, 11, 12, 13, 14]);
        assert_eq!(picture.cb().row(1).to_vec(), [3, 4, 5]);
        assert_eq!(picture.cr().dim(), (2, 3));
        assert_eq!(picture.upright(0.0, 0.0), (2.0, 0.0));
    }

    #[test]
    fn planes_of_the_wrong_size_are_refused() {
        assert!(picture(15, 6, 4).is_none());
        assert!(picture(14, 6, 6).is_none());
    }

    #[test]
    fn pictures_and_clips_may_change_threads() {
        fn sendable<T: Send>() {}
        sendable::<Picture>();
        sendable::<super::super::Frame>();
        sendable::<super::super::Clip>();
    }
}
