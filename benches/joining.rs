//! What joining tracklets costs against how many there are.
//!
//! ```text
//! cargo bench --bench joining
//! ```
//!
//! Twenty things cross the picture, each seen for four frames and hidden for five by turns. After half of its gaps a
//! thing goes on as it was going and its pieces can be joined; after the others it is elsewhere. The more pieces, the
//! longer the clip: so many are in sight at a time as before. Printed are the best time of some rounds and how it grows
//! from one number to the next (the slope between logarithms: 1 is in proportion, 3 as the cube).
#![expect(clippy::print_stdout, reason = "its output is what it is for")]

use std::hint::black_box;
use std::time::{Duration, Instant};

use gripline::colour::Colour;
use gripline::sighting::{Blob, FrameSightings, Sightings};
use gripline::track::{Tracklet, join_tracklets, link_tracklets};

const THINGS: usize = 20;
const SEEN: usize = 4;
const HIDDEN: usize = 5;
const COUNTS: [usize; 7] = [100, 300, 1_000, 3_000, 10_000, 30_000, 100_000];

/// A number from 0 to 1 that looks like chance, the same for the same two numbers (the mixing of S. Vigna's
/// splitmix64, from memory).
fn chance(a: usize, b: usize) -> f64 {
    let mut mixed = (a as u64) << 32 | b as u64;
    mixed = mixed.wrapping_mul(0x9e37_79b9_7f4a_7c15);
    mixed = (mixed ^ (mixed >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    (mixed ^ (mixed >> 31)) as f64 / u64::MAX as f64
}

fn blob(u_px: f64, v_px: f64) -> Blob {
    Blob {
        u_px,
        v_px,
        var_u_px2: 0.01,
        var_v_px2: 0.01,
        area_px2: 100.0,
        elongation: 1.0,
        contrast: 60.0,
        outline_px2: [100.0, 100.0, 0.0],
        chroma: [60.0, 0.0],
        row_frac: 0.5,
        fitted: true,
        at_border: false,
    }
}

/// About so many pieces.
fn pieces(count: usize) -> Vec<Tracklet> {
    let turns = count / THINGS;
    let frames = turns * (SEEN + HIDDEN);
    let mut seen = Sightings {
        width_px: 3840.0,
        height_px: 2160.0,
        colours: vec![Colour::Blue],
        frames: Vec::with_capacity(frames),
    };
    let mut elsewhere = [0.0; THINGS];
    for frame in 0..frames {
        let (turn, at) = (frame / (SEEN + HIDDEN), frame % (SEEN + HIDDEN));
        let mut blobs = Vec::new();
        for (thing, start_px) in elsewhere.iter_mut().enumerate() {
            if at == 0 && chance(thing, turn) < 0.5 {
                *start_px = 3000.0 * chance(thing + THINGS, turn);
            }
            if at < SEEN {
                let u = (*start_px + 2.0 * frame as f64) % 3800.0;
                blobs.push(blob(u, 100.0 * (thing + 1) as f64));
            }
        }
        seen.frames.push(FrameSightings {
            frame: frame as u32,
            time_s: frame as f64 / 60.0,
            blobs: vec![blobs],
            rims: Vec::new(),
        });
    }
    link_tracklets(&seen, 0)
}

/// The best time of some rounds, and how many chains were left.
fn timed(pieces: &[Tracklet]) -> (Duration, usize) {
    let rounds = (300_000 / pieces.len()).clamp(3, 100);
    let mut best = Duration::MAX;
    let mut left = 0;
    for _ in 0..rounds {
        let pieces = pieces.to_vec();
        let start = Instant::now();
        let joined = black_box(join_tracklets(pieces));
        best = best.min(start.elapsed());
        left = joined.len();
    }
    (best, left)
}

fn main() {
    println!(
        "{:>8} {:>8} {:>12} {:>7}",
        "pieces", "chains", "ms", "slope"
    );
    let mut before: Option<(f64, f64)> = None;
    for count in COUNTS {
        let pieces = pieces(count);
        let (took, left) = timed(&pieces);
        let here = ((pieces.len() as f64).ln(), took.as_secs_f64().ln());
        let slope = before.map_or_else(String::new, |last| {
            format!("{:.2}", (here.1 - last.1) / (here.0 - last.0))
        });
        let ms = 1000.0 * took.as_secs_f64();
        println!("{:>8} {left:>8} {ms:>12.3} {slope:>7}", pieces.len());
        before = Some(here);
    }
}
