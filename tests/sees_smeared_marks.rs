//! Marks that a long exposure smears until little of their colour is left.
//!
//! Source of the truth: a disc swept along a line at an even pace darkens a pixel by the share of the exposure
//! for which it covers it, and the middle of the exposure is the middle of the line. Pixels are summed here
//! one by one over the exposure, with no code of the tool.
#![allow(clippy::unwrap_used, clippy::panic, reason = "tests fail by panicking")]

use gripline::clip::{ChromaLayout, ColourCoding, Frame, Matrix, Picture, QuarterTurn};
use gripline::colour::Colour;
use gripline::sighting::{Blob, Finder, Wanted};

const WIDTH: usize = 240;
const HEIGHT: usize = 240;
const RADIUS_PX: f64 = 16.0;
const WALL: f64 = 150.0;
/// Moments of the exposure that are summed.
const MOMENTS: usize = 60;

/// Share of the exposure for which a disc that goes from `from` to `to` covers a pixel.
fn covered(from: (f64, f64), to: (f64, f64), u: f64, v: f64) -> f64 {
    let covers = |moment: &usize| {
        let share = (*moment as f64 + 0.5) / MOMENTS as f64;
        let (x, y) = (
            from.0 + share * (to.0 - from.0),
            from.1 + share * (to.1 - from.1),
        );
        (u - x).hypot(v - y) < RADIUS_PX
    };
    (0..MOMENTS).filter(covers).count() as f64 / MOMENTS as f64
}

/// What a coder that drops colours fainter than `dropped` codes leaves of a green disc before a grey wall,
/// `dark` codes darker than it and `strong` codes greener, smeared from `from` to `to`.
fn smeared(from: (f64, f64), to: (f64, f64), dark: f64, strong: f64, dropped: f64) -> Frame {
    let cells = |width: usize, height: usize, code: &dyn Fn(f64, f64) -> f64| -> Vec<u8> {
        let places = (0..width * height).map(|cell| ((cell % width) as f64, (cell / width) as f64));
        places.map(|(u, v)| code(u, v).round() as u8).collect()
    };
    let y = cells(WIDTH, HEIGHT, &|u, v| WALL - dark * covered(from, to, u, v));
    let colour = cells(WIDTH / 2, HEIGHT / 2, &|u, v| {
        let offset = strong * covered(from, to, 2.0 * u + 0.5, 2.0 * v + 0.5);
        128.0 - if offset < dropped { 0.0 } else { offset }
    });
    let layout = ChromaLayout {
        step_u: 2,
        step_v: 2,
        offset_u_px: 0.5,
        offset_v_px: 0.5,
        assumed: false,
    };
    let coding = ColourCoding {
        matrix: Matrix::Bt709,
        matrix_assumed: false,
        full_range: false,
        range_assumed: false,
    };
    let (width, height) = (WIDTH as u32, HEIGHT as u32);
    let picture = Picture::from_planes(
        width,
        height,
        y,
        colour.clone(),
        colour,
        layout,
        coding,
        QuarterTurn::None,
    );
    Frame {
        index: 0,
        pts_ticks: 0,
        time_s: 0.0,
        picture: picture.unwrap(),
    }
}

fn the_only_blob(frame: &Frame) -> Blob {
    let mut finder = Finder::new(vec![Wanted {
        colour: Colour::Green,
        fit_every: 1,
    }]);
    let blobs = finder.find(frame).blobs;
    assert_eq!(blobs[0].len(), 1, "{:?}", blobs[0]);
    blobs[0][0]
}

#[test]
fn a_streak_is_placed_at_the_middle_of_the_exposure() {
    // Slanted, upright and level, over one to three diameters; up to half of the colour is dropped.
    for (from, to, dark, strong) in [
        ((120.0, 90.0), (120.0, 122.0), 45.0, 8.0),
        ((110.3, 80.8), (130.9, 158.4), 90.0, 20.0),
        ((80.2, 119.6), (150.7, 121.1), 90.0, 18.0),
    ] {
        let blob = the_only_blob(&smeared(from, to, dark, strong, 6.0));
        let (u, v) = (f64::midpoint(from.0, to.0), f64::midpoint(from.1, to.1));
        let off = (blob.u_px - u).hypot(blob.v_px - v);
        assert!(off < 0.5, "{from:?} to {to:?}: off by {off} px: {blob:?}");
        let length = (to.0 - from.0).hypot(to.1 - from.1);
        // Both ends fade over half a diameter or more, and the faintest part is not counted.
        let swept_px2 = std::f64::consts::PI * RADIUS_PX * RADIUS_PX + 2.0 * RADIUS_PX * length;
        assert!(
            (0.65..1.1).contains(&(blob.area_px2 / swept_px2)),
            "{} px2 of {swept_px2}",
            blob.area_px2
        );
    }
}

#[test]
fn a_pale_ball_that_is_lit_from_one_side_is_placed_whole() {
    // The lit quarter keeps no contrast in brightness, the shaded half none in colour.
    let (u, v) = (120.4, 118.7);
    let mut frame = smeared((u, v), (u, v), 60.0, 9.0, 1.0);
    let picture = &frame.picture;
    let mut y: Vec<u8> = (0..HEIGHT)
        .flat_map(|row| picture.y().row(row).to_vec())
        .collect();
    let mut colour: Vec<u8> = (0..HEIGHT / 2)
        .flat_map(|row| picture.cb().row(row).to_vec())
        .collect();
    for row in 0..HEIGHT {
        for column in 0..WIDTH {
            if (column as f64) < u - RADIUS_PX / 2.0 {
                y[row * WIDTH + column] = WALL as u8;
            }
            if column as f64 > u {
                colour[row / 2 * (WIDTH / 2) + column / 2] = 128;
            }
        }
    }
    let picture = Picture::from_planes(
        WIDTH as u32,
        HEIGHT as u32,
        y,
        colour.clone(),
        colour,
        picture.chroma(),
        picture.coding(),
        QuarterTurn::None,
    );
    frame.picture = picture.unwrap();
    let blob = the_only_blob(&frame);
    let off = (blob.u_px - u).hypot(blob.v_px - v);
    assert!(off < 1.0, "off by {off} px: {blob:?}");
}
