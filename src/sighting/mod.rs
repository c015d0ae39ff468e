//! Every blob of a wanted colour in one frame, placed to a fraction of a pixel.
//!
//! The whole frame is searched; nothing is remembered about where a mark was, so nothing can be lost.
//! Places are in the upright picture, origin at the centre of the top-left pixel, u right, v down.

mod components;
mod disc;
#[cfg(test)]
mod drawn;
mod finder;
mod levels;
mod light;
mod rim;
mod silhouette;

pub use components::{Component, Run};
pub use disc::{DiscFit, fit_disc};
pub use finder::{Finder, MAX_BLOBS_PER_COLOUR, MAX_DISC_FITS, Wanted};
pub use levels::{LevelMap, base_level};
pub use rim::Rim;

use crate::colour::Colour;

/// One patch of a wanted colour.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Blob {
    /// Centre, upright picture.
    pub u_px: f64,
    /// Centre, upright picture.
    pub v_px: f64,
    /// Variance of `u_px`, what coding does to it included, px².
    pub var_u_px2: f64,
    /// Variance of `v_px`, likewise, px².
    pub var_v_px2: f64,
    /// Area of the patch, px².
    pub area_px2: f64,
    /// Long half-axis over short half-axis of the patch, at least 1.
    pub elongation: f64,
    /// Chroma distance between the patch and what surrounds it, codes.
    pub contrast: f64,
    /// The ellipse round the patch: squares and product (uu, vv, uv) of its half-axes, upright picture,
    /// px²; a place is on it at `d` from the centre where `d' E⁻¹ d` is 1.
    pub outline_px2: [f64; 3],
    /// Mean (Cb, Cr) of the patch, offsets from neutral in codes.
    pub chroma: [f64; 2],
    /// Height of the patch in the sensor's raster as a share of the rows, 0 first row, 1 last: a
    /// rolling shutter takes the rows one after another.
    pub row_frac: f64,
    /// Whether the place is a disc fitted to all three planes (else a weighted centroid of colour).
    pub fitted: bool,
    /// Whether the patch touches the picture's border, so that part of it may be missing.
    pub at_border: bool,
}

/// All blobs of one frame.
#[derive(Debug, Clone, PartialEq)]
pub struct FrameSightings {
    /// Number of the frame in the clip, from 0.
    pub frame: u32,
    /// Time of the frame since the clip's first, seconds, as the file says.
    pub time_s: f64,
    /// One list for each wanted colour, strongest first.
    pub blobs: Vec<Vec<Blob>>,
    /// The rims of the first blobs of each list, where the colour is one of marks that move.
    pub rims: Vec<Vec<Rim>>,
}

/// What was seen in a whole clip.
#[derive(Debug, Clone, PartialEq)]
pub struct Sightings {
    /// Width of the upright picture.
    pub width_px: f64,
    /// Height of the upright picture.
    pub height_px: f64,
    /// The colours looked for; `FrameSightings::blobs` follows this order.
    pub colours: Vec<Colour>,
    /// One entry a frame, in presentation order.
    pub frames: Vec<FrameSightings>,
}

impl Sightings {
    /// The slot of a colour in each frame's lists.
    pub fn slot(&self, colour: Colour) -> Option<usize> {
        self.colours.iter().position(|&wanted| wanted == colour)
    }
}
