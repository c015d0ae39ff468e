//! The colour table of a clip, centred on what grey things look like in its light.
//!
//! White balance wanders while a phone films. Every few frames the middle colour of the picture is
//! compared with that of the first frame, and the table is moved along.

use crate::clip::{ColourCoding, Picture, Plane};
use crate::colour::{Colour, Membership};
use ndarray::s;

/// A white balance is off by no more than this, codes: from memory, no source.
const MAX_CAST: f64 = 7.0;
/// Frames between two looks at the light.
const OBSERVATION_EVERY: u32 = 8;
/// Light wanders by no more than this between two observations, codes; a view that changes faster does so
/// because something else came into it.
const MAX_STEP: i32 = 3;
/// ... and by no more than this over a clip, codes: from memory, no source.
const MAX_DRIFT: i32 = 15;

/// A cast multiplies red, green and blue: it moves grey, which has all three, about twice as far as a
/// strong paint, which lacks one or two of them.
const GREY_TO_PAINT: i32 = 2;

/// The table for one clip, and how far its light has wandered.
#[derive(Debug)]
pub(super) struct Light {
    coding: ColourCoding,
    /// Middle colour of the first picture.
    first: (i32, i32),
    /// How far the light is from the first picture's, codes.
    drift: (i32, i32),
    /// The table in the first picture's light.
    start: Membership,
    /// The table in the light of now, where it has moved.
    now: Option<Membership>,
}

impl Light {
    pub(super) fn new(picture: &Picture, colours: &[Colour]) -> Self {
        let coding = picture.coding();
        let full_scale = if coding.full_range { 127.0 } else { 112.0 };
        let first = middle(picture);
        let start = Membership::new(colours, full_scale, neutral(first), |rgb| {
            let [_, cb, cr] = coding.ycbcr(rgb);
            (cb - 128.0, cr - 128.0)
        });
        Self {
            coding,
            first,
            drift: (0, 0),
            start,
            now: None,
        }
    }

    /// Whether the table holds for a picture at all.
    pub(super) fn fits(&self, picture: &Picture) -> bool {
        self.coding == picture.coding()
    }

    /// Takes the light of a picture into account, now and then.
    pub(super) fn follow(&mut self, picture: &Picture, index: u32) {
        if !index.is_multiple_of(OBSERVATION_EVERY) {
            return;
        }
        let now = middle(picture);
        let step = |old: i32, target: i32| {
            let wanted = (target / GREY_TO_PAINT).clamp(-MAX_DRIFT, MAX_DRIFT);
            old + (wanted - old).clamp(-MAX_STEP, MAX_STEP)
        };
        let drift = (
            step(self.drift.0, now.0 - self.first.0),
            step(self.drift.1, now.1 - self.first.1),
        );
        if drift != self.drift {
            self.drift = drift;
            self.now = Some(self.start.shifted(drift.0, drift.1));
        }
    }

    pub(super) fn table(&self) -> &Membership {
        self.now.as_ref().unwrap_or(&self.start)
    }
}

/// The middle colour of the first picture where it is nearly grey: the light's own cast. A floor of a
/// strong colour is no cast, and 128 stands.
fn neutral(middle: (i32, i32)) -> (f64, f64) {
    let middle = (f64::from(middle.0), f64::from(middle.1));
    let cast = (middle.0 - 128.0).hypot(middle.1 - 128.0);
    if cast <= MAX_CAST {
        middle
    } else {
        (128.0, 128.0)
    }
}

fn middle(picture: &Picture) -> (i32, i32) {
    (median_code(&picture.cb()), median_code(&picture.cr()))
}

fn median_code(plane: &Plane<'_>) -> i32 {
    let mut counts = [0_u32; 256];
    for &code in plane.slice(s![..;4, ..]) {
        counts[usize::from(code)] += 1;
    }
    let half = counts.iter().sum::<u32>() / 2;
    let mut below = 0;
    let middle = (0..).zip(&counts).find(|&(_, &count)| {
        below += count;
        below > half
    });
    middle.map_or(128, |(code, _)| code)
}
