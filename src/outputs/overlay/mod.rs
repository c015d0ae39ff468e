//! `overlay.mp4`: the upright clip with what was measured drawn into it, frame by frame as it streams
//! by, so that memory does not grow with its length. After the last frame a card says what the run came to.
//!
//! As many pictures are drawn at once as there are cores, up to a few, and encoded meanwhile. One that is wider or
//! higher than screens that play it (`MOST_PX`) is made smaller by a whole number first.

mod blend;
mod card;
mod press;

pub use blend::lay_on_planes;

use super::Story;
use super::sketch::{
    Placement, Reading, Scene, Shown, Site, Sketch, Spot, draw_panel, scale_end, site,
};
use super::values::FrameValues;
use crate::clip::{Change, Clip, ClipInfo, ClipWriter, Frame, Upright420, WriteClipError};
use crate::texts::Texts;
use crate::track::Place;
use card::Card;
use press::Press;
use rayon::prelude::*;
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

/// Longest side of an annotated clip, px: more is not seen on a phone, a page or a projector (common practice, no
/// source), and twice the side is four times the pixels to draw and to encode.
const MOST_PX: u32 = 2048;

/// How many times smaller than its clip an annotated clip is.
fn times_smaller(clip: &ClipInfo) -> u32 {
    clip.width_px.max(clip.height_px).div_ceil(MOST_PX).max(1)
}

/// Width of a thin line as a share of the picture's shorter side.
const LINE_SHARE: f64 = 1.0 / 300.0;
/// ... and never less than this, px.
const LEAST_LINE_PX: f64 = 1.3;

/// Draws a run without encoding it.
pub struct Annotator<'a> {
    texts: &'static Texts,
    scene: Scene<'a>,
    values: &'a [FrameValues],
    sketch: Sketch,
    times_smaller: u32,
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
        let smaller = times_smaller(story.clip);
        let whole = (story.clip.width_px, story.clip.height_px);
        let (width, height) = match smaller {
            1 => whole,
            _ => Upright420::size_of(whole.0, whole.1, smaller),
        };
        let placement = Placement {
            scale: 1.0 / f64::from(smaller),
            ..Placement::WHOLE
        };
        let speeds = values.iter().flat_map(|v| [v.speed, v.rim_speed]).flatten();
        let full = speeds.map(|band| band.value).fold(0.0, f64::max);
        let metres = story.measured.as_ref().is_ok_and(|m| m.view.scale.is_ok());
        let scene = Scene::new(story, values);
        let (across, down) = (f64::from(width), f64::from(height));
        Some(Self {
            texts: story.texts(),
            site: site(across, down, &in_sight(story, &scene, placement.scale)),
            scene,
            values,
            sketch: Sketch::new(width, height, placement)?,
            times_smaller: smaller,
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
        draw_panel(self.texts, &mut self.sketch, &self.site, &reading);
        let mut picture = Upright420::from_picture(&frame.picture).shrunk(self.times_smaller);
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

/// What the panel should not cover, on a sheet of this scale: the way of the car's marks, the marks on the floor, and
/// where the aim line starts.
fn in_sight(story: &Story<'_>, scene: &Scene<'_>, scale: f64) -> Vec<Spot> {
    let track = story.track;
    let frames = track.times_s.len();
    let reach = OUTLINE_SHARE * track.width_px.min(track.height_px);
    let spot = |u_px: f64, v_px: f64, area_px2: f64, frames: usize| Spot {
        u_px: scale * u_px,
        v_px: scale * v_px,
        radius_px: scale * ((area_px2.max(0.0) / std::f64::consts::PI).sqrt() + reach),
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

/// Pictures that are drawn at once, at most: each needs a sheet of its own, 8 MB at 1080p.
const MOST_AT_ONCE: usize = 4;

/// An overlay on its way into a file.
pub struct Overlay<'a> {
    annotators: Vec<Annotator<'a>>,
    /// Frames that wait until each annotator has one.
    waiting: Vec<Frame>,
    press: Press,
    notes: Vec<String>,
}

/// How long the end card stands, s: a sentence and three numbers are read again by holding the clip there.
pub const CARD_S: f64 = 1.5;

impl<'a> Overlay<'a> {
    /// Begins the overlay of `clip` at `path`, of its frames from `begins_ticks` after its first one on.
    ///
    /// # Errors
    /// Why it cannot be encoded.
    pub fn begin(
        path: &Path,
        clip: &Clip,
        (pace, begins_ticks): (Pace, i64),
        story: &'a Story<'a>,
        values: &'a [FrameValues],
    ) -> Result<Self, WriteClipError> {
        let change = Change {
            slower: pace.slower(),
            smaller: times_smaller(clip.info()),
            begins_ticks,
        };
        let writer = ClipWriter::create(path, clip, change)?;
        let at_once = rayon::current_num_threads().clamp(1, MOST_AT_ONCE);
        let annotators: Option<Vec<_>> = (0..at_once)
            .map(|_| Annotator::new(story, values))
            .collect();
        let annotators = annotators.ok_or_else(|| WriteClipError::Failed {
            path: path.to_path_buf(),
            doing: "drawing",
            detail: "the picture is too large".to_owned(),
        })?;
        let (texts, mut notes) = (story.texts(), Vec::new());
        if let Some(why) = writer.sound_left_out() {
            notes.push(texts.with("note-no-sound", "why", &texts.text(why)));
        }
        if writer.encoder_name() == "mpeg4" {
            notes.push(texts.text("note-no-h264"));
        }
        Ok(Self {
            waiting: Vec::with_capacity(annotators.len()),
            annotators,
            press: Press::start(path, writer),
            notes,
        })
    }

    /// Draws the next frame, as soon as there are some, and hands it on to be encoded.
    ///
    /// # Errors
    /// Why an earlier one could not be encoded.
    pub fn add(&mut self, frame: Frame) -> Result<(), WriteClipError> {
        self.waiting.push(frame);
        if self.waiting.len() < self.annotators.len() {
            return Ok(());
        }
        self.draw()
    }

    /// Draws what waits.
    fn draw(&mut self) -> Result<(), WriteClipError> {
        let frames = self.annotators.par_iter_mut().zip(&self.waiting);
        let drawn: Vec<(Upright420, i64)> = frames
            .map(|(annotator, frame)| (annotator.annotated(frame), frame.pts_ticks))
            .collect();
        self.waiting.clear();
        for (picture, pts_ticks) in drawn {
            self.press.take(picture, pts_ticks)?;
        }
        Ok(())
    }

    /// Shows the end card and ends the file; what the user should know of it.
    ///
    /// # Errors
    /// Why it could not be finished.
    pub fn finish(mut self) -> Result<Vec<String>, WriteClipError> {
        self.draw()?;
        let (mut writer, last) = self.press.stop()?;
        if let Some((mut picture, annotator)) = last.zip(self.annotators.first_mut()) {
            annotator.ended(&mut picture);
            writer.hold(&picture, CARD_S)?;
        }
        writer.finish()?;
        Ok(self.notes)
    }
}
