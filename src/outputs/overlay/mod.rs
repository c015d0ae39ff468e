//! `overlay.mp4`: the upright clip with what was measured drawn into it, frame by frame as it streams
//! by, so that memory does not grow with its length.

mod blend;

pub use blend::lay_on_planes;

use super::Story;
use super::sketch::{Corner, Placement, Reading, Scene, Shown, Sketch, draw_panel, panel_corner};
use super::values::FrameValues;
use crate::clip::{Clip, ClipWriter, Frame, Upright420, WriteClipError};
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
    corner: Corner,
    line: f64,
    /// Highest of both speeds: where the bars are full.
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
        Some(Self {
            scene: Scene::new(story, values),
            values,
            sketch: Sketch::new(width, height, Placement::WHOLE)?,
            corner: panel_corner(story.track),
            line: (LINE_SHARE * f64::from(width.min(height))).max(LEAST_LINE_PX),
            full,
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
            slip: values.slip.map(|band| band.value),
            full: self.full,
            metres: self.metres,
        };
        draw_panel(&mut self.sketch, self.corner, &reading);
        let mut picture = Upright420::from_picture(&frame.picture);
        lay_on_planes(&mut picture, &self.sketch);
        picture
    }
}

/// An overlay on its way into a file.
pub struct Overlay<'a> {
    annotator: Annotator<'a>,
    writer: ClipWriter,
}

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
        Ok(Self { annotator, writer })
    }

    /// Draws and encodes the next frame.
    ///
    /// # Errors
    /// Why it could not be encoded.
    pub fn add(&mut self, frame: &Frame) -> Result<(), WriteClipError> {
        let picture = self.annotator.annotated(frame);
        self.writer.write(&picture, frame.pts_ticks)
    }

    /// Ends the file; what the user should know of it.
    ///
    /// # Errors
    /// Why it could not be finished.
    pub fn finish(self) -> Result<Vec<String>, WriteClipError> {
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
