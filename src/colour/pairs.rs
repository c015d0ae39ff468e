//! Which colour names are too near each other to be used for different marks.
//!
//! Nearness is the angle between the hues of typical paints in the (Cb, Cr) plane, of BT.709; BT.601
//! turns all of them by nearly as much.

use super::Colour;
use super::membership::{HUE_CORE_DEG, apart_deg};

/// How near two colours are.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Closeness {
    /// One colour: marks of it are told apart by place and motion alone.
    Same,
    /// A paint that is a little off its name, or a warm lamp, may turn one into the other.
    TooNear {
        /// Angle between their hues in the (Cb, Cr) plane, degrees.
        apart_deg: f64,
    },
    /// Told apart in any usual light.
    Apart {
        /// Angle between their hues in the (Cb, Cr) plane, degrees.
        apart_deg: f64,
    },
}

/// Names meet half-way between their hues. A paint is within `HUE_CORE_DEG` of its name's hue, so that
/// names must be twice as far apart for two such paints to keep to their sides.
const TOO_NEAR_DEG: f64 = 2.0 * HUE_CORE_DEG;

/// How near the two colours are.
pub fn closeness(a: Colour, b: Colour) -> Closeness {
    if a == b {
        return Closeness::Same;
    }
    let apart_deg = apart_deg(hue_rad(a) - hue_rad(b));
    if apart_deg < TOO_NEAR_DEG {
        Closeness::TooNear { apart_deg }
    } else {
        Closeness::Apart { apart_deg }
    }
}

/// The colour that is farthest from all of `used` (the first of the list where none is used).
pub fn farthest_from(used: &[Colour]) -> Colour {
    let room = |colour: Colour| {
        used.iter()
            .map(|&other| apart_deg(hue_rad(colour) - hue_rad(other)))
            .fold(f64::INFINITY, f64::min)
    };
    Colour::ALL
        .into_iter()
        .rev()
        .max_by(|&a, &b| room(a).total_cmp(&room(b)))
        .unwrap_or(Colour::Magenta)
}

/// How far the hue of a (Cb, Cr) pair, offsets from neutral, is from that of the colour's typical paint,
/// degrees.
pub fn off_hue_deg(colour: Colour, [cb, cr]: [f64; 2]) -> f64 {
    apart_deg(cr.atan2(cb) - hue_rad(colour))
}

/// Hue of a typical paint: the angle of (Cb, Cr), ITU-R BT.709-6 item 3.
fn hue_rad(colour: Colour) -> f64 {
    let [r, g, b] = colour.typical_rgb();
    let luma = 0.2126 * r + 0.7152 * g + 0.0722 * b;
    ((r - luma) / 1.5748).atan2((b - luma) / 1.8556)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::colour::Membership;

    fn too_near(a: Colour, b: Colour) -> bool {
        !matches!(closeness(a, b), Closeness::Apart { .. })
    }

    #[test]
    fn four_pairs_of_names_are_too_near() {
        let pairs: Vec<String> = Colour::ALL
            .iter()
            .enumerate()
            .flat_map(|(i, &a)| Colour::ALL[i + 1..].iter().map(move |&b| (a, b)))
            .filter(|&(a, b)| too_near(a, b))
            .map(|(a, b)| format!("{a} {b}"))
            .collect();
        let known = [
            "magenta red",
            "magenta purple",
            "red orange",
            "orange yellow",
        ];
        assert_eq!(pairs, known);
    }

    #[test]
    fn nearness_has_no_order() {
        for a in Colour::ALL {
            for b in Colour::ALL {
                assert_eq!(closeness(a, b), closeness(b, a));
            }
        }
    }

    #[test]
    fn the_colour_offered_is_near_none_of_those_used() {
        for a in Colour::ALL {
            for b in Colour::ALL {
                let offered = farthest_from(&[a, b]);
                assert!(
                    !too_near(offered, a) && !too_near(offered, b),
                    "{a} {b}: {offered}"
                );
            }
        }
    }

    /// Gains of red, green and blue: a warm lamp and a cold sky that the white balance has only half
    /// undone, and a dim warm room (common practice, no source).
    const LIGHTS: [(&str, [f64; 3]); 4] = [
        ("daylight", [1.0, 1.0, 1.0]),
        ("warm", [1.12, 1.0, 0.84]),
        ("cold", [0.88, 1.0, 1.12]),
        ("dim", [0.24, 0.22, 0.185]),
    ];
    /// A neutral wall, R'G'B'.
    const GREY: [f64; 3] = [150.0, 150.0, 150.0];

    /// R'G'B' under a light whose gains work on linear light (transfer curve of IEC 61966-2-1).
    fn lit(code: [f64; 3], gain: [f64; 3]) -> [f64; 3] {
        std::array::from_fn(|i| {
            let c: f64 = code[i] / 255.0;
            let linear = if c <= 0.040_45 {
                c / 12.92
            } else {
                ((c + 0.055) / 1.055).powf(2.4)
            };
            let light = (linear * gain[i]).min(1.0);
            let c = if light <= 0.003_130_8 {
                12.92 * light
            } else {
                1.055 * light.powf(1.0 / 2.4) - 0.055
            };
            255.0 * c
        })
    }

    /// Limited-range codes, ITU-R BT.709-6.
    fn chroma(rgb: [f64; 3]) -> (f64, f64) {
        let luma = 0.2126 * rgb[0] + 0.7152 * rgb[1] + 0.0722 * rgb[2];
        let scale = 224.0 / 255.0;
        (
            scale * (rgb[2] - luma) / 1.8556,
            scale * (rgb[0] - luma) / 1.5748,
        )
    }

    /// Level that a patch of `paint` reaches in each of two wanted colours, in a light to which the
    /// table is centred.
    fn levels(wanted: [Colour; 2], paint: Colour, gain: [f64; 3]) -> (u8, u8) {
        let neutral = chroma(lit(GREY, gain));
        let centre = (128.0 + neutral.0, 128.0 + neutral.1);
        let table = Membership::new(&wanted, 112.0, centre, chroma);
        let (b, r) = chroma(lit(paint.typical_rgb(), gain));
        let code = |x: f64| (x + 128.0).round().clamp(0.0, 255.0) as u8;
        let cell = table.packed(code(b), code(r));
        (Membership::level(cell, 0), Membership::level(cell, 1))
    }

    #[test]
    fn no_patch_is_taken_for_another_colour_in_any_light() {
        let mut observations = 0;
        for (light, gain) in LIGHTS {
            for a in Colour::ALL {
                for b in Colour::ALL.into_iter().filter(|&b| b != a) {
                    let (own, other) = levels([a, b], a, gain);
                    assert!(own >= 2, "{a} beside {b} in {light} light: level {own}");
                    assert_eq!(other, 0, "{a} is taken for {b} in {light} light");
                    observations += 1;
                }
            }
        }
        assert_eq!(observations, 4 * 8 * 7);
    }
}
