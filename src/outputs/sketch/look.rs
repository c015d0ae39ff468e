//! What each mark looks like on film and what it is called: one table for the annotated clip, the report's pictures
//! and the words under them.
//!
//! Marks have the colours of the printed kit, in a light tone that stands out on film, and the outlines that the
//! set-up page gives them, so that each is known without its colour. The sheet may name other colours: a mark is
//! drawn by what it is, not by its paint. Pink and green differ along blue and yellow, which readers without red or
//! green cones see; the test below holds that.

use super::Ink;

/// A mark on the car.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Mark {
    /// On the body.
    Sticker,
    /// On the driven wheel.
    WheelMark,
    /// On the end of the driven axle.
    AxleMark,
}

/// The outline that is drawn about a mark.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[expect(missing_docs, reason = "the names say it")]
pub enum Outline {
    Circle,
    Diamond,
    Triangle,
}

impl Mark {
    /// What a mark is drawn in.
    pub const fn ink(self) -> Ink {
        match self {
            Self::Sticker => inks::STICKER,
            Self::WheelMark => inks::WHEEL_MARK,
            Self::AxleMark => inks::AXLE_MARK,
        }
    }

    /// What is drawn about it.
    pub const fn outline(self) -> Outline {
        match self {
            Self::Sticker => Outline::Circle,
            Self::WheelMark => Outline::Diamond,
            Self::AxleMark => Outline::Triangle,
        }
    }
}
/// Colours on film, each with a dark edge, because a floor may have any colour.
pub mod inks {
    use super::Ink;

    /// The sticker, and the car's speed: pink, solid lines.
    pub const STICKER: Ink = Ink::solid([0xFF, 0x86, 0xCB]);
    /// The wheel mark, and the rim's speed: green, broken lines and hatching.
    pub const WHEEL_MARK: Ink = Ink::solid([0x5B, 0xD4, 0x5F]);
    /// The axle mark: orange (Okabe and Ito, Color Universal Design, 2008).
    pub const AXLE_MARK: Ink = Ink::solid([0xE6, 0x9F, 0x00]);
    /// The aim line: yellow (Okabe and Ito), in dashes.
    pub const AIM: Ink = Ink::solid([0xF0, 0xE4, 0x42]);
    /// Words and the heading.
    pub const PAPER: Ink = Ink::solid([0xFF, 0xFF, 0xFF]);
    /// Edges and grounds.
    pub const EDGE: Ink = Ink::solid([0x10, 0x14, 0x18]);
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Linear light of an R'G'B' code (IEC 61966-2-1).
    fn linear(code: u8) -> f64 {
        let share = f64::from(code) / 255.0;
        if share <= 0.040_45 {
            share / 12.92
        } else {
            ((share + 0.055) / 1.055).powf(2.4)
        }
    }

    /// What remains of a colour for a reader without red or without green cones, as CIE 1976 L*a*b*. The matrices
    /// are those of Viénot, Brettel and Mollon, "Digital video colourmaps for checking the legibility of displays by
    /// dichromats", 1999 (from memory).
    fn seen(ink: Ink, first_row: [f64; 3], last_row: [f64; 3]) -> [f64; 3] {
        let [r, g, b] = ink.rgb.map(linear);
        let dot = |row: [f64; 3]| row[0] * r + row[1] * g + row[2] * b;
        let (yellow, blue) = (dot(first_row), dot(last_row));
        let (r, g, b) = (yellow, yellow, blue);
        let xyz = [
            (0.4124 * r + 0.3576 * g + 0.1805 * b) / 0.9505,
            0.2126 * r + 0.7152 * g + 0.0722 * b,
            (0.0193 * r + 0.1192 * g + 0.9505 * b) / 1.089,
        ];
        let [x, y, z] = xyz.map(|t: f64| {
            if t > 0.008_856 {
                t.cbrt()
            } else {
                7.787 * t + 16.0 / 116.0
            }
        });
        [116.0 * y - 16.0, 500.0 * (x - y), 200.0 * (y - z)]
    }

    #[test]
    fn marks_are_told_apart_without_red_or_green_cones() {
        let without_red = ([0.112_38, 0.887_62, 0.0], [0.004_01, -0.004_01, 1.0]);
        let without_green = ([0.292_75, 0.707_25, 0.0], [-0.022_34, 0.022_34, 1.0]);
        for (first, last) in [without_red, without_green] {
            let [sticker, wheel] =
                [inks::STICKER, inks::WHEEL_MARK].map(|ink| seen(ink, first, last));
            let apart: f64 = sticker
                .iter()
                .zip(wheel)
                .map(|(a, b)| (a - b).powi(2))
                .sum::<f64>()
                .sqrt();
            assert!(apart > 30.0, "{sticker:?} {wheel:?}");
        }
    }
}
