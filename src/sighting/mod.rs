//! Every blob of a wanted colour in one frame, placed to a fraction of a pixel.
//!
//! The whole frame is searched; nothing is remembered about where a mark was, so nothing can be lost.
//! Places are in the upright picture, origin at the centre of the top-left pixel, u right, v down.
//!
//! # Finding a patch
//!
//! A table of 256 × 256 entries gives each chroma sample a level from 0 to 7 for each wanted colour; the steps
//! between levels are factors of about 1.5. Connected patches are built from the highest level down, and a patch is
//! outlined two levels below its own peak, which is about half of it: a *half-peak outline*. It stays higher where
//! it would run into another patch (`components.rs`). At most 40 blobs of a colour are kept from a frame, and none
//! is thrown away for not being the mark: that is decided later. A level is searched where it covers little of the
//! picture, or more in wide solid areas: a poster or a shirt beside the mark does not hide it. Where two wanted
//! colours meet, a sample belongs to the nearer hue. White balance may wander: every eighth frame the picture's
//! middle colour is compared with the first frame's, and the table moves half as far (`light.rs`).
//!
//! # Placing a disc
//!
//! The outline of a patch only starts a least-squares fit. The model of each plane is background + contrast × S,
//! where S is a soft-edged ellipse: six shared unknowns (centre, three of shape, width of the edge). Each plane's
//! own background and contrast are eliminated inside each step (`disc.rs`). Each plane weighs by its own residual,
//! and samples far from the model lose weight (holes in a wheel, the border of a card). Chroma samples are taken
//! where the clip's siting says that they are. A fit that strays, grows or has no colour contrast is refused, after
//! three rounds if it is plain by then, and the blob keeps its mask's centroid with a rough variance. The first
//! rounds take every second sample each way of a large disc: they only bring the guess near.
//!
//! # A smeared or pale mark
//!
//! Why brightness is needed stands in `silhouette.rs`; coding drops colour in blocks of 8 by 8 samples. Where a
//! moving colour's patch differs from its surroundings by under 16 codes in colour and by twice as much in
//! brightness, brightness and colour outline it together, if that is a disc or a streak on calm ground; a disc fit
//! that takes less than 80 % of the outline is left for the outline's middle with a rough variance. On a thrown
//! ball read by eye (14 frames, reading errors 1 to 4 px) 11 frames are placed, nine within 4 px and all within
//! 4.6; before it was eight, the worst 13.7 px off. Frames with two codes of colour left are not seen, on purpose.
//!
//! # Colours between two levels (`components.rs`)
//!
//! Noise breaks a mark whose colour lies just between two levels into several patches at the upper one. Where they
//! fill one ellipse a level lower they are one mark: two drawn clips had been measured by a camera that rested on
//! such fragments, with speeds 0.4 and 0.5 % off, half of them outside their intervals.
//!
//! # How sure a place is
//!
//! A fit's own variance is multiplied by 3 for correlated noise, and (2 / contrast in codes)² px² is added for
//! coding, and more for discs of a few pixels (`finder.rs`). Errors over claimed standard deviations, 68 of 100
//! within, against drawn truth: 0.9 to 1.3 in clean, dim and compressed clips, 2.0 in a dim one at rate factor 35.
//! Without these terms it was 2.4 to 7.

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
