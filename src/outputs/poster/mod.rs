//! One picture of a whole run: the car at equal time steps over the floor it ran on, from the clip itself.
//!
//! # How it is made
//!
//! `plan.rs` picks the frames: as many at equal time steps as leave the cars apart, and some more for what is behind
//! them. `zone.rs` says where each shows the car, from the sheet's sizes and the measured place through the projection.
//! `raster.rs` brings them onto one raster as they come by in the second pass; where the camera moved, each is laid on
//! the floor by its own rows' poses. `stack.rs` brings them to one light and takes the median of what surely is not the
//! car, so that a car that rests for half of the clip leaves no ghost. `cars.rs` cuts each car out by its difference
//! from that. `ticks.rs` lays a ruler on the floor through the projection, `picture.rs` draws floor, ruler, cars and
//! their numbers, `above.rs` the same from straight above. `rulers.rs` sets the rim's way beside the car's. `sheet.rs`
//! sets it all on a page as one SVG, which `poster.html` holds and `print.rs` turns into `poster.png`, so that both say
//! the same. Memory does not grow with the clip: eleven layers of 1.3 million pixels are held.

mod above;
mod cars;
mod numbers;
mod picture;
mod plan;
mod print;
mod raster;
mod reader;
mod rulers;
mod sheet;
mod stack;
mod ticks;
mod zone;

pub(crate) use numbers::{Number, three};
pub use print::Paper;
pub(crate) use rulers::Rulers;
pub use sheet::{Poster, PosterError, poster};

use super::Story;
use super::film::jpeg;
use super::values::FrameValues;
use super::wording::{Said, shown_in_english};
use crate::clip::Frame;
use crate::texts::{Texts, say};
use cars::Shown;
use image::{RgbImage, RgbaImage};
use nalgebra::Vector2;
use plan::Plan;
use raster::{Layer, Raster};
use std::ops::Range;
use ticks::{FloorRuler, Laid};

/// Why there is no picture of a whole run.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PosterReason {
    /// The camera moved and its places are not known.
    CameraUnfollowed,
    /// No two frames show where the car is.
    CarUnplaced,
    /// The car moved by less than a fifth of its length.
    HardlyMoved,
    /// The car does not differ from the floor.
    CarUnseen,
}

shown_in_english!(PosterReason);

impl Said for PosterReason {
    fn said(&self, texts: &Texts) -> String {
        texts.text(match self {
            Self::CameraUnfollowed => "why-poster-camera",
            Self::CarUnplaced => "why-poster-car-unplaced",
            Self::HardlyMoved => "why-poster-hardly-moved",
            Self::CarUnseen => "why-poster-car-unseen",
        })
    }
}

/// The car at equal time steps over what lies behind it.
#[derive(Debug, Clone)]
pub struct Exposure {
    raster: Raster,
    background: RgbImage,
    cars: RgbaImage,
    shown: Vec<Shown>,
    step_s: Option<f64>,
    cut: usize,
    /// Frames that the floor was taken from.
    stacked: usize,
    ruler: Option<FloorRuler>,
    laid: Option<Laid>,
}

impl Exposure {
    /// The picture as a JPEG file of a width in pixels, and its height; `None` beyond memory.
    pub(crate) fn jpeg(&self, width: u32, quality: u8) -> Option<(u32, Vec<u8>)> {
        let picture = picture::drawn(self, width)?;
        let bytes = jpeg(&picture, quality)?;
        Some((picture.height(), bytes))
    }

    /// What lies behind the cars, as the clip shows it: a pixel of the clip where it is no larger than the poster needs.
    pub const fn floor(&self) -> &RgbImage {
        &self.background
    }

    /// The cars on a clear layer over [`Self::floor`], later ones over earlier ones.
    pub const fn cars(&self) -> &RgbaImage {
        &self.cars
    }

    /// Floor and cars together.
    pub fn composed(&self) -> RgbImage {
        let mut out = self.background.clone();
        for (under, over) in out.pixels_mut().zip(self.cars.pixels()) {
            *under = picture::mixed(*under, over.0);
        }
        out
    }

    /// The frames that show the car, in order.
    pub fn frames(&self) -> Vec<usize> {
        self.shown.iter().map(|shown| shown.moment.frame).collect()
    }

    /// Where the floor's picture shows a pixel of the clip's upright one; of a camera that moved, of the picture that
    /// it had at the middle of the run.
    pub fn place(&self, u_px: f64, v_px: f64) -> (f64, f64) {
        let at = self.raster.on_raster(Vector2::new(u_px, v_px));
        (at.x, at.y)
    }

    /// The floor's ruler: for each tick its distance from the zero in metres and the pixel of the clip's upright
    /// picture in which it begins. Empty without metres.
    pub fn ticks(&self) -> Vec<(f64, [f64; 2])> {
        let ticks = self.ruler.iter().flat_map(|ruler| &ruler.ticks);
        ticks
            .map(|tick| (tick.at_m, [tick.from.x, tick.from.y]))
            .collect()
    }

    /// How the picture was made, in a sentence or two.
    pub(crate) fn caption(&self, texts: &Texts) -> String {
        let (every, step) = match self.step_s {
            Some(step_s) => ("time", texts.fixed(step_s, 2)),
            None => ("frames", String::new()),
        };
        let ruler = match (&self.ruler, &self.raster.projection) {
            (None, _) => "none",
            (Some(_), Some(crate::camera::Projection::Flat(_))) => "flat",
            (Some(_), _) => "floor",
        };
        say!(
            texts,
            "caption-taken",
            every = every,
            count = self.shown.len(),
            step = step,
            cut = self.cut,
            frames = self.stacked,
            ruler = ruler,
        )
    }

    /// Width of the raster, px.
    pub(crate) fn width(&self) -> u32 {
        self.raster.width as u32
    }

    /// Width over height.
    fn shape(&self) -> f64 {
        self.raster.width as f64 / self.raster.height.max(1) as f64
    }
}

/// Takes what a poster needs from frames as they come by.
pub struct PosterMaker<'a> {
    story: &'a Story<'a>,
    plan: Result<(Plan, Raster), PosterReason>,
    layers: Vec<Layer>,
}

impl<'a> PosterMaker<'a> {
    /// Plans the poster of a run, which lies in this stretch of frames.
    pub fn new(story: &'a Story<'a>, stretch: &Range<usize>) -> Self {
        let plan = plan::plan(story, stretch).map(|plan| {
            let raster = Raster::about(story, &plan);
            (plan, raster)
        });
        Self {
            story,
            plan,
            layers: Vec::new(),
        }
    }

    /// Looks at the next frame and keeps what is wanted of it.
    pub fn take(&mut self, frame: &Frame) {
        let Ok((plan, raster)) = &self.plan else {
            return;
        };
        if let Some(zone) = plan.zones.get(&(frame.index as usize)) {
            self.layers
                .push(raster.take(self.story, frame, zone.as_ref()));
        }
    }

    /// The picture.
    ///
    /// # Errors
    /// Why there is none.
    pub fn finish(self) -> Result<Exposure, PosterReason> {
        let (plan, raster) = self.plan?;
        let mut layers = self.layers;
        stack::level(&mut layers);
        let background = stack::background(&raster, &layers);
        let (cars, shown) = cars::cut_out(&raster, &background, &layers, &plan.moments);
        if shown.is_empty() {
            return Err(PosterReason::CarUnseen);
        }
        let laid = Laid::of(self.story, &plan.moments);
        let ruler = laid
            .zip(raster.projection)
            .map(|(laid, seen_by)| laid.seen(self.story.texts(), &seen_by));
        Ok(Exposure {
            background,
            cars,
            step_s: plan.step_s,
            cut: plan.cut,
            stacked: layers.len(),
            ruler,
            laid,
            raster,
            shown,
        })
    }
}

/// The two rulers of a run, where its lengths are known.
pub(crate) fn rulers(
    story: &Story<'_>,
    values: &[FrameValues],
    exposure: &Exposure,
) -> Option<Rulers> {
    Rulers::of(story, values, &exposure.shown)
}
