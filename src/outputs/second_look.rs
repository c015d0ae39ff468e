//! The second pass over a clip, when it is known what happened: pictures for the report and the
//! overlay, from one decoding of the stretch in which the run is. One thread decodes, some draw, one encodes.

use super::Story;
use super::film::{Film, FilmMaker};
use super::overlay::{Overlay, Pace};
use super::poster::{Exposure, PosterMaker, PosterReason};
use super::stretch::run_stretch;
use super::values::frame_values;
use crate::clip::{Clip, ClipError, Frame, WriteClipError};
use std::path::Path;
use std::sync::mpsc::sync_channel;

/// Frames that may wait between decoding and drawing.
const QUEUE: usize = 3;

/// What to make of a clip.
#[derive(Debug, Clone, Copy)]
pub struct Wishes<'a> {
    /// Whether the report's pictures are wanted.
    pub film: bool,
    /// Whether the picture of the whole run is wanted.
    pub exposure: bool,
    /// Where the overlay goes and how fast it plays, if it is wanted.
    pub overlay: Option<(&'a Path, Pace)>,
}

/// What was made.
#[derive(Debug, Default)]
pub struct Made {
    /// The report's pictures; empty where none were wanted.
    pub film: Film,
    /// The picture of the whole run, or why there is none; `None` where it was not wanted.
    pub exposure: Option<Result<Exposure, PosterReason>>,
    /// Whether there is an overlay.
    pub overlay: bool,
    /// What the user should know of it.
    pub notes: Vec<String>,
}

/// Why the second pass failed.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum LookError {
    /// The clip, which was read before, cannot be read now.
    #[error(transparent)]
    Clip(#[from] ClipError),
    /// The overlay could not be written.
    #[error(transparent)]
    Write(#[from] WriteClipError),
}

impl LookError {
    /// What to do next.
    pub fn hint(&self) -> &'static str {
        match self {
            Self::Clip(error) => error.hint(),
            Self::Write(error) => error.hint(),
        }
    }
}

/// Goes through a clip again and makes what is wished for. `progress` is told frames done and frames
/// expected. Without any encoder there is no overlay but a note.
///
/// # Errors
/// What is wrong with the clip, or with writing the overlay.
pub fn look_again(
    path: &Path,
    story: &Story<'_>,
    wishes: &Wishes<'_>,
    progress: &dyn Fn(u64, Option<u64>),
) -> Result<Made, LookError> {
    let values = frame_values(story);
    let ticks = story.frame_ticks;
    let stretch = run_stretch(story);
    let begins = ticks.get(stretch.start).filter(|_| stretch.start > 0);
    let clip = match begins {
        None => Clip::open(path)?,
        Some(begins) => Clip::open_from(path, *begins)?,
    };
    let begins_ticks = begins
        .zip(ticks.first())
        .map_or(0, |(begins, first)| begins - first);
    let mut notes = Vec::new();
    let mut overlay = None;
    if let Some((place, pace)) = wishes.overlay {
        match Overlay::begin(place, &clip, (pace, begins_ticks), story, &values) {
            Ok(begun) => overlay = Some(begun),
            Err(error @ WriteClipError::NoEncoder { .. }) => {
                notes.push(format!("no annotated clip: {error}; {}", error.hint()));
            }
            Err(error) => return Err(error.into()),
        }
    }
    let mut film = (wishes.film).then(|| FilmMaker::new(story, &values, &stretch));
    let mut poster = wishes.exposure.then(|| PosterMaker::new(story, &stretch));
    let expected = stretch.len() as u64;
    let mut done = 0;
    if film.is_some() || overlay.is_some() || poster.is_some() {
        every_frame(clip, ticks, stretch.end, &mut |frame| {
            if let Some(film) = &mut film {
                film.take(&frame);
            }
            if let Some(poster) = &mut poster {
                poster.take(&frame);
            }
            if let Some(overlay) = &mut overlay {
                overlay.add(frame)?;
            }
            done += 1;
            progress(done, Some(expected));
            Ok(())
        })?;
    }
    let made_overlay = overlay.is_some();
    if let Some(overlay) = overlay {
        notes.extend(overlay.finish()?);
    }
    Ok(Made {
        film: film.map(FilmMaker::finish).unwrap_or_default(),
        exposure: poster.map(PosterMaker::finish),
        overlay: made_overlay,
        notes,
    })
}

/// Decodes a clip in one thread and hands each frame before `end` to `work` in this one. A frame is known by the time
/// at which it is shown: its number is that of the first pass.
fn every_frame(
    mut clip: Clip,
    ticks: &[i64],
    end: usize,
    work: &mut dyn FnMut(Frame) -> Result<(), LookError>,
) -> Result<(), LookError> {
    let (send, receive) = sync_channel::<Frame>(QUEUE);
    std::thread::scope(|scope| {
        let decoder = scope.spawn(move || -> Result<(), ClipError> {
            while let Some(mut frame) = clip.next_frame()? {
                let Ok(number) = ticks.binary_search(&frame.pts_ticks) else {
                    continue;
                };
                frame.index = number as u32;
                if number >= end || send.send(frame).is_err() {
                    break;
                }
            }
            Ok(())
        });
        let mut outcome = Ok(());
        for frame in &receive {
            outcome = work(frame);
            if outcome.is_err() {
                break;
            }
        }
        // The decoder must not wait for a taker that is gone.
        drop(receive);
        let decoded = decoder.join().unwrap_or(Ok(()));
        outcome?;
        Ok(decoded?)
    })
}
