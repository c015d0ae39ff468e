//! Colour coding: how stored Y, Cb, Cr codes become non-linear red, green and blue.

/// The luma weights that a clip was coded with.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Matrix {
    /// ITU-R BT.601: small pictures, and most phones' full-range clips.
    Bt601,
    /// ITU-R BT.709: high definition.
    Bt709,
    /// ITU-R BT.2020, non-constant luminance: high dynamic range clips.
    Bt2020,
}

impl Matrix {
    /// Weights of red and of blue in luma.
    ///
    /// # Source
    /// ITU-R BT.601-7, BT.709-6 section 3, BT.2020-2 table 4.
    fn weights(self) -> (f64, f64) {
        match self {
            Self::Bt601 => (0.299, 0.114),
            Self::Bt709 => (0.2126, 0.0722),
            Self::Bt2020 => (0.2627, 0.0593),
        }
    }
}

/// How to read Y, Cb, Cr codes of 8 bits.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ColourCoding {
    /// The luma weights.
    pub matrix: Matrix,
    /// The file does not name its matrix (or names one that is only close to `matrix`).
    pub matrix_assumed: bool,
    /// Luma runs 0..=255 (full) rather than 16..=235, chroma 0..=255 rather than 16..=240.
    pub full_range: bool,
    /// The file does not name its range.
    pub range_assumed: bool,
}

impl ColourCoding {
    /// Luma code of black, and codes between black and white for luma and for chroma.
    fn scales(self) -> (f64, f64, f64) {
        if self.full_range {
            (0.0, 255.0, 255.0)
        } else {
            (16.0, 219.0, 224.0)
        }
    }

    /// Non-linear R'G'B' on 0..=255 of a Y, Cb, Cr code triple; not clipped.
    ///
    /// # Source
    /// ITU-R BT.709-6 section 3 for the form; ITU-T T.871 for full range.
    pub fn rgb(self, y: f64, cb: f64, cr: f64) -> [f64; 3] {
        let (weight_r, weight_b) = self.matrix.weights();
        let weight_g = 1.0 - weight_r - weight_b;
        let (black, luma_span, chroma_span) = self.scales();
        let luma = (y - black) * 255.0 / luma_span;
        let blue_less_luma = (cb - 128.0) * 255.0 / chroma_span * 2.0 * (1.0 - weight_b);
        let red_less_luma = (cr - 128.0) * 255.0 / chroma_span * 2.0 * (1.0 - weight_r);
        let green_less_luma = -(weight_b * blue_less_luma + weight_r * red_less_luma) / weight_g;
        [
            luma + red_less_luma,
            luma + green_less_luma,
            luma + blue_less_luma,
        ]
    }

    /// Y, Cb, Cr codes (not rounded) of a non-linear R'G'B' triple on 0..=255; undoes
    /// [`rgb`](Self::rgb).
    pub fn ycbcr(self, rgb: [f64; 3]) -> [f64; 3] {
        let [red, green, blue] = rgb;
        let (weight_r, weight_b) = self.matrix.weights();
        let (black, luma_span, chroma_span) = self.scales();
        let luma = weight_r * red + (1.0 - weight_r - weight_b) * green + weight_b * blue;
        [
            black + luma * luma_span / 255.0,
            128.0 + (blue - luma) / (2.0 * (1.0 - weight_b)) * chroma_span / 255.0,
            128.0 + (red - luma) / (2.0 * (1.0 - weight_r)) * chroma_span / 255.0,
        ]
    }
}

/// Where colour samples lie on the luma raster.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ChromaLayout {
    /// Luma pixels per colour sample, along a row: 2 for 4:2:0 and 4:2:2, 1 for 4:4:4.
    pub step_u: u32,
    /// Luma pixels per colour sample, down a column: 2 for 4:2:0, 1 for 4:2:2 and 4:4:4.
    pub step_v: u32,
    /// Luma column, in pixels (centres on integers), of the centre of colour sample (0, 0).
    pub offset_u_px: f64,
    /// Luma row, in pixels (centres on integers), of the centre of colour sample (0, 0).
    pub offset_v_px: f64,
    /// The file does not say; the usual place for its codec is taken.
    pub assumed: bool,
}

/// The whole number nearest to a code, from 0 to 255. A plain conversion asks of every number whether it is one, which
/// takes several times as long as the sums before it; numbers from 2^23 up have no places after the point, so the lowest
/// bits of the sum are the rounded code (IEEE 754, binary32).
pub fn whole_code(code: f32) -> u8 {
    const WHOLE_FROM: f32 = 8_388_608.0;
    (code.clamp(0.0, 255.0) + WHOLE_FROM).to_bits() as u8
}

#[cfg(test)]
mod tests {
    use super::*;

    fn limited(matrix: Matrix) -> ColourCoding {
        ColourCoding {
            matrix,
            matrix_assumed: false,
            full_range: false,
            range_assumed: false,
        }
    }

    fn near(got: [f64; 3], wanted: [f64; 3], tolerance: f64) {
        for (g, w) in got.iter().zip(wanted) {
            assert!((g - w).abs() <= tolerance, "got {got:?}, wanted {wanted:?}");
        }
    }

    /// Coefficients of the limited-range decode, from ITU-R BT.709-6 section 3 and BT.601-7,
    /// the same as the open colour-science library's.
    #[test]
    fn codes_are_rounded_and_kept_in_their_range() {
        for (code, whole) in [
            (-3.0, 0),
            (0.0, 0),
            (0.49, 0),
            (0.51, 1),
            (127.6, 128),
            (254.4, 254),
            (255.0, 255),
            (400.0, 255),
        ] {
            assert_eq!(whole_code(code), whole, "{code}");
        }
    }

    #[test]
    fn limited_range_coefficients_are_the_standards() {
        let rows = [
            (
                Matrix::Bt709,
                [1.792_741, -0.213_249, -0.532_909, 2.112_402],
            ),
            (
                Matrix::Bt601,
                [1.596_027, -0.391_762, -0.812_968, 2.017_232],
            ),
        ];
        for (matrix, [red_v, green_u, green_v, blue_u]) in rows {
            let coding = limited(matrix);
            near(coding.rgb(17.0, 128.0, 128.0), [1.164_384; 3], 1e-6);
            near(
                coding.rgb(16.0, 128.0, 129.0),
                [red_v, green_v, 0.0],
                1.5e-6,
            );
            near(
                coding.rgb(16.0, 129.0, 128.0),
                [0.0, green_u, blue_u],
                1.5e-6,
            );
        }
    }

    /// ITU-T T.871 (JFIF), citation from memory, coefficients recomputed from Kr and Kb.
    #[test]
    fn full_range_coefficients_are_those_of_jfif() {
        let coding = ColourCoding {
            full_range: true,
            ..limited(Matrix::Bt601)
        };
        near(
            coding.rgb(100.0, 129.0, 128.0),
            [100.0, 100.0 - 0.344_136, 101.772],
            1e-6,
        );
        near(
            coding.rgb(100.0, 128.0, 129.0),
            [101.402, 100.0 - 0.714_136, 100.0],
            1e-6,
        );
    }

    /// Unclipped decodes, recomputed with the colour-science library.
    #[test]
    fn decodes_outside_the_cube_are_not_clipped() {
        let hd = limited(Matrix::Bt709);
        near(hd.rgb(63.0, 102.0, 240.0), [255.513, 0.585, -0.196], 1e-3);
        near(hd.rgb(173.0, 42.0, 26.0), [-0.051, 255.504, 1.142], 1e-3);
        near(hd.rgb(32.0, 240.0, 118.0), [0.703, 0.075, 255.219], 1e-3);
        near(hd.rgb(126.0, 128.0, 128.0), [128.082; 3], 1e-3);
        // A BT.601 red read with the wrong matrix: green near 24 gives it away.
        near(hd.rgb(81.0, 90.0, 240.0), [276.47, 24.10, -4.59], 5e-3);
    }

    /// Colour-bar codes of the EBU and SMPTE bars, as tabulated by the colour-science library and
    /// by ffmpeg's `smptehdbars`, `smptebars` and `pal100bars` sources.
    #[test]
    fn colour_bars_encode_to_the_tabulated_codes() {
        const COLOURS: [[f64; 3]; 8] = [
            [1.0, 1.0, 1.0],
            [1.0, 1.0, 0.0],
            [0.0, 1.0, 1.0],
            [0.0, 1.0, 0.0],
            [1.0, 0.0, 1.0],
            [1.0, 0.0, 0.0],
            [0.0, 0.0, 1.0],
            [0.0, 0.0, 0.0],
        ];
        #[rustfmt::skip]
        let tables: [(Matrix, f64, [[f64; 3]; 8]); 4] = [
            (Matrix::Bt601, 255.0, [
                [235.0, 128.0, 128.0], [210.0, 16.0, 146.0], [170.0, 166.0, 16.0], [145.0, 54.0, 34.0],
                [106.0, 202.0, 222.0], [81.0, 90.0, 240.0], [41.0, 240.0, 110.0], [16.0, 128.0, 128.0]]),
            (Matrix::Bt601, 191.25, [
                [180.0, 128.0, 128.0], [162.0, 44.0, 142.0], [131.0, 156.0, 44.0], [112.0, 72.0, 58.0],
                [84.0, 184.0, 198.0], [65.0, 100.0, 212.0], [35.0, 212.0, 114.0], [16.0, 128.0, 128.0]]),
            (Matrix::Bt709, 255.0, [
                [235.0, 128.0, 128.0], [219.0, 16.0, 138.0], [188.0, 154.0, 16.0], [173.0, 42.0, 26.0],
                [78.0, 214.0, 230.0], [63.0, 102.0, 240.0], [32.0, 240.0, 118.0], [16.0, 128.0, 128.0]]),
            (Matrix::Bt709, 191.25, [
                [180.0, 128.0, 128.0], [168.0, 44.0, 136.0], [145.0, 147.0, 44.0], [133.0, 63.0, 52.0],
                [63.0, 193.0, 204.0], [51.0, 109.0, 212.0], [28.0, 212.0, 120.0], [16.0, 128.0, 128.0]]),
        ];
        for (matrix, amplitude, codes) in tables {
            let coding = limited(matrix);
            for (colour, code) in COLOURS.iter().zip(codes) {
                let rgb = colour.map(|part| part * amplitude);
                assert_eq!(coding.ycbcr(rgb).map(f64::round), code);
                let [y, cb, cr] = code;
                near(coding.rgb(y, cb, cr), rgb, 1.2);
            }
        }
    }

    #[test]
    fn ycbcr_undoes_rgb_for_every_matrix_and_range() {
        for matrix in [Matrix::Bt601, Matrix::Bt709, Matrix::Bt2020] {
            for full_range in [false, true] {
                let coding = ColourCoding {
                    full_range,
                    ..limited(matrix)
                };
                let [red, green, blue] = coding.rgb(77.0, 90.5, 201.25);
                near(
                    coding.ycbcr([red, green, blue]),
                    [77.0, 90.5, 201.25],
                    1e-10,
                );
            }
        }
    }
}
