//! The one pass over a clip's frames: every patch of a wanted colour, whatever it will turn out to be. Decoding and
//! looking run side by side.

use super::spent::timed;
use super::{RunError, Spent};
use crate::clip::{Clip, ClipError, ClipInfo, Damage, Frame};
use crate::colour::{Colour, MAX_WANTED};
use crate::sighting::{Finder, FrameSightings, Sightings, Wanted};
use crate::track::MarksWanted;
use std::path::Path;
use std::sync::mpsc::sync_channel;
use std::time::Duration;

/// What was seen in a clip, and what is known of the file.
#[derive(Debug)]
pub struct Observed {
    /// The blobs.
    pub seen: Sightings,
    /// The clip.
    pub clip: ClipInfo,
    /// When the first frame is shown by the file's own clock, s.
    pub zero_s: f64,
    /// When each frame is shown, in the file's own time base.
    pub frame_ticks: Vec<i64>,
    /// What was wrong with its file.
    pub damage: Vec<Damage>,
    /// What that cost.
    pub spent: Spent,
}

/// Frames that may wait between decoding and looking: enough to keep both busy.
const QUEUE: usize = 3;

/// Decodes a clip and looks at every frame. `progress` is told frames done and frames expected.
///
/// # Errors
/// What is wrong with the clip.
pub fn observe_clip(
    path: &Path,
    wanted: &MarksWanted,
    progress: &dyn Fn(u64, Option<u64>),
) -> Result<Observed, RunError> {
    let clip = Clip::open(path)?;
    let mut finder = Finder::new(wanted_colours(wanted)?);
    let names = finder.colours();
    Ok(observe_frames(
        clip,
        names,
        |frame| finder.find(frame),
        progress,
    )?)
}

/// Looks at every frame of a clip that was opened, for patches of `colours`.
///
/// # Errors
/// What is wrong with the clip.
pub fn observe_frames(
    mut clip: Clip,
    colours: Vec<Colour>,
    mut observation: impl FnMut(&Frame) -> FrameSightings + Send,
    progress: &dyn Fn(u64, Option<u64>),
) -> Result<Observed, ClipError> {
    let expected = clip.info().frame_count_hint;
    let (send, receive) = sync_channel(QUEUE);
    let mut frame_ticks = Vec::new();
    let (mut observe, mut decode) = (Duration::ZERO, Duration::ZERO);
    let side_by_side = || {
        std::thread::scope(
            |scope| -> Result<(Vec<FrameSightings>, Duration), ClipError> {
                let looker = scope.spawn(move || {
                    let mut look = Duration::ZERO;
                    let frames = (receive.iter())
                        .map(|frame| timed(&mut look, || observation(&frame)))
                        .collect();
                    (frames, look)
                });
                while let Some(frame) = timed(&mut decode, || clip.next_frame())? {
                    frame_ticks.push(frame.pts_ticks);
                    progress(frame_ticks.len() as u64, expected);
                    if send.send(frame).is_err() {
                        break;
                    }
                }
                drop(send);
                Ok(looker.join().unwrap_or_default())
            },
        )
    };
    let (frames, look) = timed(&mut observe, side_by_side)?;
    let info = clip.info().clone();
    Ok(Observed {
        seen: Sightings {
            width_px: f64::from(info.width_px),
            height_px: f64::from(info.height_px),
            colours,
            frames,
        },
        zero_s: clip.first_frame_s().unwrap_or(0.0),
        frame_ticks,
        damage: clip.damage().to_vec(),
        clip: info,
        spent: Spent {
            decode,
            look,
            observe,
            ..Spent::default()
        },
    })
}

/// Floor marks lie still: a disc fit now and then is enough for them.
const FLOOR_FIT_EVERY: u32 = 6;

fn wanted_colours(wanted: &MarksWanted) -> Result<Vec<Wanted>, RunError> {
    let circling = wanted.wheel.iter().chain(&wanted.more_wheel);
    if circling.clone().any(|colour| *colour == wanted.sticker) {
        return Err(RunError::SameColour {
            colour: wanted.sticker.to_string(),
        });
    }
    let moving = std::iter::once(&wanted.sticker).chain(circling);
    let moving = moving.chain(&wanted.axle).map(|colour| (*colour, 1));
    let still = wanted.floor.iter().map(|colour| (*colour, FLOOR_FIT_EVERY));
    let mut out: Vec<Wanted> = Vec::new();
    for (colour, fit_every) in moving.chain(still) {
        if out.iter().all(|w| w.colour != colour) {
            out.push(Wanted { colour, fit_every });
        }
    }
    match out.len() {
        count if count > MAX_WANTED => Err(RunError::TooManyColours {
            count,
            most: MAX_WANTED,
        }),
        _ => Ok(out),
    }
}
