//! The film strip: key frames of a run with its marks drawn in, and a contact sheet of small frames
//! for reading the charts off.

mod moments;
mod photo;

pub use moments::{KeyMoment, key_moments, nearest};
pub use photo::Crop;
pub(in crate::outputs) use photo::lay_over;

use super::Story;
use super::sketch::{Placement, Scene, Shown, Sketch};
use super::values::FrameValues;
use crate::clip::{Frame, Picture};
use image::{ImageEncoder, RgbImage, codecs::jpeg::JpegEncoder};
use std::ops::Range;

/// A key frame.
#[derive(Debug, Clone, PartialEq)]
pub struct Still {
    /// Which moment it shows.
    pub moment: KeyMoment,
    /// Size of the picture, px.
    pub size: (u32, u32),
    /// The picture as a JPEG file.
    pub jpeg: Vec<u8>,
}

/// Many small frames in one picture, row by row.
#[derive(Debug, Clone, PartialEq)]
pub struct ContactSheet {
    /// Frames shown, in order.
    pub frames: Vec<usize>,
    /// Cells in a row.
    pub columns: usize,
    /// Size of a cell, px.
    pub cell: (u32, u32),
    /// The picture as a JPEG file.
    pub jpeg: Vec<u8>,
}

/// The pictures of a run.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Film {
    /// The key frames, in order of time.
    pub stills: Vec<Still>,
    /// The small frames; `None` where there are none.
    pub contact: Option<ContactSheet>,
}

/// Width of a key frame: sharp when printed six centimetres wide, px.
const STILL_WIDTH_PX: u32 = 640;
/// Width of a small frame, px.
const CELL_WIDTH_PX: u32 = 260;
/// Small frames kept at most: about a megabyte of page.
const MOST_CELLS: usize = 64;
const CELL_COLUMNS: usize = 8;
const STILL_QUALITY: u8 = 82;
const CELL_QUALITY: u8 = 62;

/// Takes the pictures that the report needs from frames as they come by; its memory does not grow with
/// the clip.
pub struct FilmMaker<'a> {
    scene: Scene<'a>,
    moments: Vec<KeyMoment>,
    cells: Vec<usize>,
    crop: Crop,
    stills: Vec<Still>,
    contact: Option<RgbImage>,
    taken: Vec<usize>,
}

impl<'a> FilmMaker<'a> {
    /// Plans the pictures of a run, which lies in this stretch of frames.
    pub fn new(story: &'a Story<'a>, values: &'a [FrameValues], stretch: &Range<usize>) -> Self {
        let crop = Crop::of(story.track);
        let (first, last) = story.track.in_view;
        let shown = (
            first.max(stretch.start),
            last.min(stretch.end.saturating_sub(1)),
        );
        let cells = small_frames(shown);
        let (width, height) = crop.size_for(CELL_WIDTH_PX);
        let rows = cells.len().div_ceil(CELL_COLUMNS) as u32;
        let contact =
            (!cells.is_empty()).then(|| RgbImage::new(width * CELL_COLUMNS as u32, height * rows));
        Self {
            scene: Scene::new(story, values),
            moments: key_moments(story, values, shown),
            cells,
            crop,
            stills: Vec::new(),
            contact,
            taken: Vec::new(),
        }
    }

    /// Looks at the next frame and keeps what is wanted of it.
    pub fn take(&mut self, frame: &Frame) {
        let number = frame.index as usize;
        let moment = self.moments.iter().find(|m| m.frame == number).cloned();
        if let Some(moment) = moment
            && let Some(photo) = self.photo(frame, STILL_WIDTH_PX, Shown::All)
            && let Some(jpeg) = jpeg(&photo, STILL_QUALITY)
        {
            self.stills.push(Still {
                moment,
                size: photo.dimensions(),
                jpeg,
            });
        }
        if self.cells.contains(&number)
            && let Some(photo) = self.photo(frame, CELL_WIDTH_PX, Shown::Marks)
            && let Some(contact) = &mut self.contact
        {
            let place = self.taken.len();
            let (width, height) = photo.dimensions();
            let (column, row) = (place % CELL_COLUMNS, place / CELL_COLUMNS);
            let (left, top) = (column as u32 * width, row as u32 * height);
            image::imageops::replace(contact, &photo, left.into(), top.into());
            self.taken.push(number);
        }
    }

    fn photo(&self, frame: &Frame, width: u32, shown: Shown) -> Option<RgbImage> {
        let (width, height) = self.crop.size_for(width);
        let mut photo = photo::develop(&frame.picture, &self.crop, width, height);
        let placement = Placement {
            left_px: self.crop.left_px,
            top_px: self.crop.top_px,
            scale: f64::from(width) / self.crop.width_px,
        };
        let mut sketch = Sketch::new(width, height, placement)?;
        let line = (f64::from(width) / 260.0).max(1.2);
        self.scene
            .draw(&mut sketch, frame.index as usize, shown, line);
        lay_over(&mut photo, &sketch);
        Some(photo)
    }

    /// The pictures.
    pub fn finish(self) -> Film {
        let cell = self.crop.size_for(CELL_WIDTH_PX);
        let taken = self.taken;
        let contact = self
            .contact
            .filter(|_| !taken.is_empty())
            .and_then(|sheet| jpeg(&sheet, CELL_QUALITY))
            .map(|jpeg| ContactSheet {
                frames: taken,
                columns: CELL_COLUMNS,
                cell,
                jpeg,
            });
        Film {
            stills: self.stills,
            contact,
        }
    }
}

/// Frames for the contact sheet: evenly from first to last.
fn small_frames((first, last): (usize, usize)) -> Vec<usize> {
    let step = (last.saturating_sub(first) + 1).div_ceil(MOST_CELLS).max(1);
    (first..=last).step_by(step).collect()
}

/// A whole decoded frame, upright, as a JPEG no wider or higher than `most_px`; with its size in pixels.
pub fn whole_frame_jpeg(picture: &Picture, most_px: u32) -> Option<((u32, u32), Vec<u8>)> {
    let stored = (picture.stored_width(), picture.stored_height());
    let (width, height) = picture.turn().upright_size(stored.0, stored.1);
    let crop = Crop {
        left_px: 0.0,
        top_px: 0.0,
        width_px: f64::from(width),
        height_px: f64::from(height),
    };
    let shrink = (f64::from(most_px) / f64::from(width.max(height).max(1))).min(1.0);
    let (width, height) = crop.size_for((f64::from(width) * shrink).round() as u32);
    let photo = photo::develop(picture, &crop, width, height);
    jpeg(&photo, STILL_QUALITY).map(|bytes| ((width, height), bytes))
}

/// A picture as a JPEG file; `None` only where it has no size.
pub(in crate::outputs) fn jpeg(photo: &RgbImage, quality: u8) -> Option<Vec<u8>> {
    let mut bytes = Vec::new();
    JpegEncoder::new_with_quality(&mut bytes, quality)
        .write_image(
            photo.as_raw(),
            photo.width(),
            photo.height(),
            image::ExtendedColorType::Rgb8,
        )
        .ok()
        .map(|()| bytes)
}
