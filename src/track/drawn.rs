//! Sightings of marks with known ways: for tests.

use crate::colour::Colour;
use crate::sighting::{Blob, FrameSightings, Sightings};

/// A good observation at a disc of 100 px².
pub(super) fn blob(u_px: f64, v_px: f64) -> Blob {
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

/// A clip of frames at these times; `blobs` gives each frame's lists, one a colour.
pub(super) fn clip(
    times_s: &[f64],
    colours: &[Colour],
    blobs: impl Fn(usize) -> Vec<Vec<Blob>>,
) -> Sightings {
    let frame = |(index, time_s): (usize, &f64)| FrameSightings {
        frame: index as u32,
        time_s: *time_s,
        blobs: blobs(index),
        rims: Vec::new(),
    };
    Sightings {
        width_px: 640.0,
        height_px: 360.0,
        colours: colours.to_vec(),
        frames: times_s.iter().enumerate().map(frame).collect(),
    }
}

/// Times of `frames` frames at this rate.
pub(super) fn even(frames: usize, per_s: f64) -> Vec<f64> {
    (0..frames).map(|frame| frame as f64 / per_s).collect()
}
