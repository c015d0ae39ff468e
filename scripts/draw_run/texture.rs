//! Floors and walls from smooth and rough noise, the same at every look.

use crate::paint::{Rgb, mix, scaled};
use crate::scene::Floor;

/// A repeatable number from 0 to 1 for a cell (splitmix64 finaliser).
pub(crate) fn cell(x: i64, y: i64, salt: u64) -> f64 {
    scramble(x as u64, y as u64, salt)
}

/// The same for counts.
pub(crate) fn scramble(x: u64, y: u64, salt: u64) -> f64 {
    let mut h = x.wrapping_mul(0x9e37_79b9_7f4a_7c15)
        ^ y.wrapping_mul(0xc2b2_ae3d_27d4_eb4f)
        ^ salt.wrapping_mul(0x1656_67b1_9e37_79f9);
    h = (h ^ (h >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    h = (h ^ (h >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    ((h ^ (h >> 31)) >> 11) as f64 / (1_u64 << 53) as f64
}

/// Smooth noise from 0 to 1 with features about 1 wide.
pub(crate) fn smooth(x: f64, y: f64, salt: u64) -> f64 {
    let (ix, iy) = (x.floor(), y.floor());
    let ease = |t: f64| t * t * (3.0 - 2.0 * t);
    let (tx, ty) = (ease(x - ix), ease(y - iy));
    let (ix, iy) = (ix as i64, iy as i64);
    let row = |j: i64| {
        let a = cell(ix, j, salt);
        a + (cell(ix + 1, j, salt) - a) * tx
    };
    let (a, b) = (row(iy), row(iy + 1));
    a + (b - a) * ty
}

/// Albedo of the floor at a place.
pub(crate) fn floor(kind: Floor, x: f64, y: f64) -> Rgb {
    let stain = 0.93 + 0.14 * smooth(x * 1.7, y * 1.7, 1);
    match kind {
        Floor::Concrete => {
            let mottle = 0.6 * smooth(x * 14.0, y * 14.0, 2) + 0.4 * smooth(x * 45.0, y * 45.0, 3);
            let joint = (x - 1.3).rem_euclid(2.4) < 0.006 || (y + 0.9).rem_euclid(1.8) < 0.006;
            let grey = if joint {
                0.12
            } else {
                0.30 + 0.07 * (mottle - 0.5)
            };
            [grey * stain, grey * stain * 0.995, grey * stain * 0.965]
        }
        Floor::Cork => {
            let grain = cell((x * 260.0).floor() as i64, (y * 260.0).floor() as i64, 4);
            let clump = smooth(x * 55.0, y * 55.0, 5);
            let dark = if grain > 0.9 { 0.6 } else { 0.9 + 0.2 * clump };
            scaled([0.36, 0.25, 0.155], dark * stain)
        }
        Floor::Lino => {
            let marble = smooth(x * 9.0 + 3.0 * smooth(x * 3.0, y * 3.0, 6), y * 30.0, 7);
            let tile = |t: f64| (t / 0.5).floor() as i64;
            let seam = x.rem_euclid(0.5) < 0.003 || (y + 0.25).rem_euclid(0.5) < 0.003;
            let shift = 0.06 * (cell(tile(x), tile(y + 0.25), 8) - 0.5);
            let base = mix([0.34, 0.37, 0.35], [0.43, 0.45, 0.42], marble);
            scaled(base, if seam { 0.72 } else { stain + shift })
        }
        Floor::Planks => {
            let plank = (y / 0.14).floor();
            let shift = cell(plank as i64, 0, 9) * 1.9;
            let length = ((x + shift) / 1.9).floor();
            let tone = 0.8 + 0.4 * cell(plank as i64, length as i64, 10);
            let grain = smooth(x * 3.0, y * 160.0 + 40.0 * cell(plank as i64, 3, 11), 12);
            let gap = y.rem_euclid(0.14) < 0.003 || (x + shift).rem_euclid(1.9) < 0.003;
            let wood = scaled([0.33, 0.27, 0.20], tone * (0.85 + 0.3 * grain) * stain);
            if gap { scaled(wood, 0.4) } else { wood }
        }
    }
}

/// Albedo of the long wall: painted boards below a rail, plaster above.
pub(crate) fn wall(base: Rgb, x: f64, z: f64) -> Rgb {
    let plaster = 0.96 + 0.08 * smooth(x * 2.3, z * 2.3, 20);
    if z < 0.09 {
        return [0.20, 0.23, 0.25];
    }
    if z < 0.75 {
        let groove = x.rem_euclid(0.16) < 0.005;
        let board = 0.95 + 0.1 * cell((x / 0.16).floor() as i64, 1, 21);
        return scaled(
            mix(base, [0.30, 0.36, 0.38], 0.75),
            if groove { 0.6 } else { board },
        );
    }
    if z < 0.80 {
        return [0.55, 0.54, 0.50];
    }
    scaled(base, plaster)
}

/// What is seen through the round window: sky over water, with the far quay between.
pub(crate) fn harbour(x: f64, z: f64) -> Rgb {
    let sky = mix(
        [0.75, 0.80, 0.84],
        [0.55, 0.68, 0.82],
        (z * 2.0).clamp(0.0, 1.0),
    );
    let quay = 0.02 + 0.05 * cell((x * 16.0).floor() as i64, 5, 30);
    if z > quay {
        return sky;
    }
    if z > 0.0 {
        return [0.30, 0.27, 0.26];
    }
    let ripple = smooth(x * 12.0, z * 60.0, 31);
    mix([0.22, 0.30, 0.34], [0.38, 0.46, 0.50], ripple)
}
