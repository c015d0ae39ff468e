//! `overlay.mp4`: the upright clip with what was measured drawn into it, frame by frame as it streams
//! by, so that memory does not grow with its length. After the last frame a card says what the run came to.

mod blend;
mod card;

pub use blend::lay_on_planes;

use super::Story;
use super::sketch::{
    Placement, Reading, Scene, Shown, Site, Sketch, Spot, draw_panel, scale_end, site,
};
use super::values::FrameValues;
use crate::clip::{Clip, ClipWriter, Frame, Upright420, WriteClipError};
use crate::track::Place;
use card::Card;
use std::path::Path;

/// How fast an overlay plays.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Pace {
    /// As fast as the clip.
    #[default]
    Full,
    /// Half as fast.
    Half,
    /// A quarter as fast.
    Quarter,
}

impl Pace {
    /// How many times slower than the clip.
    pub const fn slower(self) -> u32 {
        match self {
            Self::Full => 1,
            Self::Half => 2,
            Self::Quarter => 4,
        }
    }
}

/// Width of a thin line as a share of the picture's shorter side.
const LINE_SHARE: f64 = 1.0 / 300.0;
/// ... and never less than this, px.
const LEAST_LINE_PX: f64 = 1.3;

/// Draws a run without encoding it.
pub struct Annotator<'a> {
    scene: Scene<'a>,
    values: &'a [FrameValues],
    sketch: Sketch,
    card: Card,
    site: Site,
    line: f64,
    /// End of the bars' scale.
    full: f64,
    metres: bool,
}

impl<'a> Annotator<'a> {
    /// Prepares to draw; `None` for a picture of no size or beyond memory.
    pub fn new(story: &'a Story<'a>, values: &'a [FrameValues]) -> Option<Self> {
        let (width, height) = (story.clip.width_px, story.clip.height_px);
        let speeds = values.iter().flat_map(|v| [v.speed, v.rim_speed]).flatten();
        let full = speeds.map(|band| band.value).fold(0.0, f64::max);
        let metres = story.measured.as_ref().is_ok_and(|m| m.view.scale.is_ok());
        let scene = Scene::new(story, values);
        let (across, down) = (f64::from(width), f64::from(height));
        Some(Self {
            site: site(across, down, &in_sight(story, &scene)),
            scene,
            values,
            sketch: Sketch::new(width, height, Placement::WHOLE)?,
            line: (LINE_SHARE * f64::from(width.min(height))).max(LEAST_LINE_PX),
            full: scale_end(full),
            card: Card::of(story),
            metres,
        })
    }

    /// A frame with what was measured drawn into it.
    pub fn annotated(&mut self, frame: &Frame) -> Upright420 {
        let number = frame.index as usize;
        let values = self.values.get(number).copied().unwrap_or_default();
        self.sketch.clear();
        self.scene
            .draw(&mut self.sketch, number, Shown::All, self.line);
        let reading = Reading {
            frame: number,
            time_s: values.time_s,
            phase: values.phase,
            rim: values.rim_speed.map(|band| band.value),
            car: values.speed.map(|band| band.value),
            slip: values.slip,
            full: self.full,
            metres: self.metres,
        };
        draw_panel(&mut self.sketch, &self.site, &reading);
        let mut picture = Upright420::from_picture(&frame.picture);
        lay_on_planes(&mut picture, &self.sketch);
        picture
    }

    /// The end card over a picture.
    fn ended(&mut self, picture: &mut Upright420) {
        self.sketch.clear();
        self.card.draw(&mut self.sketch);
        lay_on_planes(picture, &self.sketch);
    }
}

/// Rings and outlines reach beyond their marks by about this, as a share of the picture's shorter side.
const OUTLINE_SHARE: f64 = 0.02;

/// What the panel should not cover: the way of the car's marks, the marks on the floor, and where the aim line
/// starts.
fn in_sight(story: &Story<'_>, scene: &Scene<'_>) -> Vec<Spot> {
    let track = story.track;
    let frames = track.times_s.len();
    let reach = OUTLINE_SHARE * track.width_px.min(track.height_px);
    let spot = |u_px: f64, v_px: f64, area_px2: f64, frames: usize| Spot {
        u_px,
        v_px,
        radius_px: (area_px2.max(0.0) / std::f64::consts::PI).sqrt() + reach,
        frames,
    };
    let of = |place: &Place| spot(place.u_px, place.v_px, place.area_px2, 1);
    let car = [&track.sticker, &track.wheel, &track.axle].into_iter();
    let floor = track.floor.iter();
    // A camera that stands shows the start in one place.
    let moving = (story.measured.as_ref()).is_ok_and(|m| m.view.moving.is_some());
    let (looks, each) = if moving { (frames, 1) } else { (1, frames) };
    let starts = (0..looks).filter_map(|frame| scene.aim_start(frame));
    car.flatten()
        .flatten()
        .map(of)
        .chain(floor.map(|m| spot(m.u_px, m.v_px, m.area_px2, frames)))
        .chain(
            track
                .floor_paths
                .iter()
                .flat_map(|p| p.steps.iter().map(|(_, place)| of(place))),
        )
        .chain(starts.map(|at| spot(at.x, at.y, 0.0, each)))
        .collect()
}

/// An overlay on its way into a file.
pub struct Overlay<'a> {
    annotator: Annotator<'a>,
    writer: ClipWriter,
    /// The last frame as it was drawn.
    last: Option<Upright420>,
}

/// How long the end card stands, s: a sentence and three numbers are read again by holding the clip there.
pub const CARD_S: f64 = 1.5;

impl<'a> Overlay<'a> {
    /// Begins the overlay of `clip` at `path`.
    ///
    /// # Errors
    /// Why it cannot be encoded.
    pub fn begin(
        path: &Path,
        clip: &Clip,
        pace: Pace,
        story: &'a Story<'a>,
        values: &'a [FrameValues],
    ) -> Result<Self, WriteClipError> {
        let writer = ClipWriter::create(path, clip, pace.slower())?;
        let annotator = Annotator::new(story, values).ok_or_else(|| WriteClipError::Failed {
            path: path.to_path_buf(),
            doing: "drawing",
            detail: "the picture is too large".to_owned(),
        })?;
        Ok(Self {
            annotator,
            writer,
            last: None,
        })
    }

    /// Draws and encodes the next frame.
    ///
    /// # Errors
    /// Why it could not be encoded.
    pub fn add(&mut self, frame: &Frame) -> Result<(), WriteClipError> {
        let picture = self.annotator.annotated(frame);
        self.writer.write(&picture, frame.pts_ticks)?;
        self.last = Some(picture);
        Ok(())
    }

    /// Shows the end card and ends the file; what the user should know of it.
    ///
    /// # Errors
    /// Why it could not be finished.
    pub fn finish(mut self) -> Result<Vec<String>, WriteClipError> {
        if let Some(mut picture) = self.last.take() {
            self.annotator.ended(&mut picture);
            self.writer.hold(&picture, CARD_S)?;
        }
        let mut notes = Vec::new();
        if let Some(why) = self.writer.sound_left_out() {
            notes.push(format!("the annotated clip has no sound: {why}"));
        }
        if self.writer.encoder_name() == "mpeg4" {
            notes.push(
                "no H.264 encoder is installed: the annotated clip is MPEG-4 part 2, which some \
                 browsers do not play"
                    .to_owned(),
            );
        }
        self.writer.finish()?;
        Ok(notes)
    }
}
