//! Pixel formats that are read, and their reduction to 8-bit planes.

use ffmpeg_next::format::Pixel;
use ffmpeg_next::frame::Video;

use super::raw;

/// How a pixel format keeps its samples.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Stored {
    /// Bits per sample.
    pub(super) bit_depth: u8,
    /// Luma pixels per colour sample along a row.
    pub(super) step_u: u32,
    /// Luma pixels per colour sample down a column.
    pub(super) step_v: u32,
    /// The format's name says full range.
    pub(super) full_range: bool,
    /// Bytes per sample.
    sample_bytes: usize,
    /// Bits by which a sample must be shifted down to have 8.
    shift: u32,
    /// Cb and Cr in one plane: which of the two is first.
    interleaved: Option<First>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum First {
    Cb,
    Cr,
}

/// What is known of a pixel format; `None` for one that is not read.
pub(super) fn stored_as(format: Pixel) -> Option<Stored> {
    let planar = |bit_depth: u8, step_u, step_v| Stored {
        bit_depth,
        step_u,
        step_v,
        full_range: false,
        sample_bytes: if bit_depth > 8 { 2 } else { 1 },
        shift: u32::from(bit_depth) - 8,
        interleaved: None,
    };
    let full = |stored| Stored {
        full_range: true,
        ..stored
    };
    let paired = |stored, first| Stored {
        interleaved: Some(first),
        ..stored
    };
    Some(match format {
        Pixel::YUV420P => planar(8, 2, 2),
        Pixel::YUV422P => planar(8, 2, 1),
        Pixel::YUV444P => planar(8, 1, 1),
        Pixel::YUVJ420P => full(planar(8, 2, 2)),
        Pixel::YUVJ422P => full(planar(8, 2, 1)),
        Pixel::YUVJ444P => full(planar(8, 1, 1)),
        Pixel::YUV420P10LE => planar(10, 2, 2),
        Pixel::YUV422P10LE => planar(10, 2, 1),
        Pixel::YUV444P10LE => planar(10, 1, 1),
        Pixel::YUV420P12LE => planar(12, 2, 2),
        Pixel::YUV422P12LE => planar(12, 2, 1),
        Pixel::YUV444P12LE => planar(12, 1, 1),
        Pixel::NV12 => paired(planar(8, 2, 2), First::Cb),
        Pixel::NV21 => paired(planar(8, 2, 2), First::Cr),
        // Ten bits in the upper part of sixteen.
        Pixel::P010LE => Stored {
            shift: 8,
            ..paired(planar(10, 2, 2), First::Cb)
        },
        _ => return None,
    })
}

impl Stored {
    /// The samples can be used as they are.
    pub(super) fn is_plain(self) -> bool {
        self.sample_bytes == 1 && self.interleaved.is_none()
    }

    /// Width and height of a colour plane for this picture size, rounded up.
    pub(super) fn chroma_size(self, width: u32, height: u32) -> (usize, usize) {
        (
            width.div_ceil(self.step_u) as usize,
            height.div_ceil(self.step_v) as usize,
        )
    }

    /// Bytes in a row and number of rows of a stored plane; zeros for a plane that is not there.
    pub(super) fn plane_bytes(self, plane: usize, width: u32, height: u32) -> (usize, usize) {
        let (chroma_width, chroma_height) = self.chroma_size(width, height);
        match (plane, self.interleaved) {
            (0, _) => (width as usize * self.sample_bytes, height as usize),
            (1 | 2, None) => (chroma_width * self.sample_bytes, chroma_height),
            (1, Some(_)) => (chroma_width * 2 * self.sample_bytes, chroma_height),
            _ => (0, 0),
        }
    }

    /// Y, Cb and Cr of a frame of this format as tight 8-bit planes, rounded to the nearest code.
    pub(super) fn to_8_bit(self, frame: &Video) -> [Vec<u8>; 3] {
        match self.interleaved {
            None => [0, 1, 2].map(|plane| self.samples(frame, plane, 1, 0)),
            Some(first) => {
                let (cb_at, cr_at) = if first == First::Cb { (0, 1) } else { (1, 0) };
                [
                    self.samples(frame, 0, 1, 0),
                    self.samples(frame, 1, 2, cb_at),
                    self.samples(frame, 1, 2, cr_at),
                ]
            }
        }
    }

    /// Every `step`-th sample of a plane, from sample `first` of each row on.
    fn samples(self, frame: &Video, plane: usize, step: usize, first: usize) -> Vec<u8> {
        let (row_bytes, rows) = self.plane_bytes(plane, frame.width(), frame.height());
        let stride = raw::stride(frame, plane).unwrap_or(row_bytes);
        let bytes = raw::plane(frame, plane);
        let mut out = Vec::with_capacity(rows * row_bytes / self.sample_bytes / step);
        let half = if self.shift == 0 {
            0
        } else {
            1_u32 << (self.shift - 1)
        };
        for row in bytes.chunks(stride.max(1)).take(rows) {
            let row = &row[..row_bytes.min(row.len())];
            if self.sample_bytes == 1 {
                out.extend(row.iter().skip(first).step_by(step));
            } else {
                out.extend(row.chunks_exact(2).skip(first).step_by(step).map(|pair| {
                    let code = u32::from(u16::from_le_bytes([pair[0], pair[1]]));
                    ((code + half) >> self.shift).min(255) as u8
                }));
            }
        }
        out
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A frame of 3 x 3 pixels (so odd) whose planes hold the given codes, row by row.
    fn frame(format: Pixel, planes: &[&[u16]]) -> Video {
        let mut frame = Video::new(format, 3, 3);
        let stored = stored_as(format).unwrap();
        for (plane, codes) in planes.iter().enumerate() {
            let (row_bytes, rows) = stored.plane_bytes(plane, 3, 3);
            let stride = frame.stride(plane);
            let per_row = row_bytes / stored.sample_bytes;
            assert_eq!(codes.len(), per_row * rows);
            let data = frame.data_mut(plane);
            for (place, code) in codes.iter().enumerate() {
                let at = place / per_row * stride + place % per_row * stored.sample_bytes;
                data[at..at + stored.sample_bytes]
                    .copy_from_slice(&code.to_le_bytes()[..stored.sample_bytes]);
            }
        }
        frame
    }

    #[test]
    fn ten_bit_codes_round_to_the_nearest_eight_bit_code() {
        let format = Pixel::YUV420P10LE;
        let luma = [64, 65, 66, 67, 68, 512, 940, 1021, 1023];
        let frame = frame(format, &[&luma, &[512, 514, 64, 960], &[0, 1, 2, 3]]);
        let [y, cb, cr] = stored_as(format).unwrap().to_8_bit(&frame);
        assert_eq!(y, [16, 16, 17, 17, 17, 128, 235, 255, 255]);
        assert_eq!(cb, [128, 129, 16, 240]);
        assert_eq!(cr, [0, 0, 1, 1]);
    }

    #[test]
    fn interleaved_colour_is_taken_apart_in_the_right_order() {
        let luma = [1, 2, 3, 4, 5, 6, 7, 8, 9];
        let pairs = [10, 20, 11, 21, 12, 22, 13, 23];
        for (format, swapped) in [(Pixel::NV12, false), (Pixel::NV21, true)] {
            let frame = frame(format, &[&luma, &pairs]);
            let [y, cb, cr] = stored_as(format).unwrap().to_8_bit(&frame);
            let (first, second) = if swapped { (cr, cb) } else { (cb, cr) };
            assert_eq!(y, [1, 2, 3, 4, 5, 6, 7, 8, 9]);
            assert_eq!(first, [10, 11, 12, 13]);
            assert_eq!(second, [20, 21, 22, 23]);
        }
    }

    #[test]
    fn codes_in_the_upper_bits_come_down() {
        let luma = [64 << 6, 940 << 6, 512 << 6, 1023 << 6, 0, 0, 0, 0, 66 << 6];
        let pairs = [512 << 6, 64 << 6, 0, 0, 0, 0, 0, 0];
        let frame = frame(Pixel::P010LE, &[&luma, &pairs]);
        let [y, cb, cr] = stored_as(Pixel::P010LE).unwrap().to_8_bit(&frame);
        assert_eq!(y, [16, 235, 128, 255, 0, 0, 0, 0, 17]);
        assert_eq!((cb[0], cr[0]), (128, 16));
    }

    #[test]
    fn formats_without_separate_luma_are_not_read() {
        for format in [Pixel::RGB24, Pixel::GRAY8, Pixel::GBRP, Pixel::YUYV422] {
            assert_eq!(stored_as(format), None);
        }
    }
}
