//! Which blob is which mark, decided over the whole clip.
//!
//! Blobs are linked into short certain pieces (`link`), pieces are joined across gaps, and only then
//! is it decided which chain is the car (`car`), which blobs circle with it (`wheel`) and which
//! lie still on the floor (`floor`). Nothing here knows metres.
//!
//! # How the marks are told
//!
//! Blobs are linked into short certain pieces by frame *times*, and pieces are joined over gaps by their paces; looks
//! at a piece's end that are half hidden already do not count for its pace. The sticker's chain is then chosen by its
//! manner (seen long, at rest first, disc-like), by how far and how fast it went in its own sizes, and by whether
//! something circles beside it. `ring.rs` looks for that circle, an ellipse relative to the sticker, which is refined
//! with its slow drift. A chain that comes within half of the best one's score is a rival, and then nothing is chosen:
//! the error names the places for `at_px` and `at_s`. Slower and shorter movers are only noted. Single observations
//! that are unlike their neighbours in area or contrast are dropped: half a mark has its centre elsewhere. Frames that
//! only repeat a rest are looked at once for the circle, so a rest of any length changes nothing. What lies still in a
//! floor mark's colour is no wheel mark. Where a codec repeats old blocks, what a look lags behind becomes part of its
//! variance.
//!
//! # A sticker that an arm cuts (`hidden.rs`, `rim_fit.rs`)
//!
//! Each moving colour's patch keeps the places where its colour crosses half height (`sighting/rim.rs`). Observations
//! that show all of the mark give its shape, and its size as a line along the way in the picture. An observation whose
//! rim is rough, or with more of the mark beside it, is cut: the outline of known shape is laid over the rims of all
//! pieces, places outside it count against, places inside are cut sides, and size is held to 3 %. Where that leaves
//! the centre open, the piece of a car at rest stays, doubted by what is missing, and that of a car on its way is left
//! out. Of marks of less than 10 px the area alone says that a part is hidden: they are doubted by what is missing.
//! This is not done for a camera that moves. On seven drawn clips with an arm (three views and three rates, sizes and
//! colours at random; two were refused before) sticker errors of 0.9 to 4.2 px fell to 0.15 to
//! 0.93 px, and the frames' intervals hold 99 % of the speeds and 96 % of the slips.

mod at_rest;
mod car;
mod doubted;
#[cfg(test)]
mod drawn;
mod floor;
mod hidden;
mod link;
mod lost;
mod rim_fit;
mod ring;
mod unsteady;
mod wheel;
mod whole;

pub use at_rest::follow_at_rest;
pub use car::{MOVED_PX, MOVED_SIZES};
pub use floor::{MIN_SHARE as MIN_STILL_SHARE, SAME_PX as SAME_STILL_PX, StillMark};
pub use link::{Tracklet, join_tracklets, link_tracklets};
pub use unsteady::FloorPath;
pub use wheel::MIN_FRAMES as MIN_CIRCLING_FRAMES;

use crate::colour::Colour;
use crate::sighting::{Blob, Sightings};
use doubted::{doubted_where_frozen, without_lone, without_odd};
use serde::Serialize;
use wheel::WheelPatches;

/// A place where someone pointed at a mark.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Hint {
    /// Place in the upright picture.
    pub u_px: f64,
    /// Place in the upright picture.
    pub v_px: f64,
    /// Time in the clip, if one was given.
    pub at_s: Option<f64>,
}

/// What to look for in the sightings.
#[derive(Debug, Clone, PartialEq)]
pub struct MarksWanted {
    /// Colour of the sticker on the body.
    pub sticker: Colour,
    /// Someone pointed at the sticker.
    pub sticker_hint: Option<Hint>,
    /// Colour of the mark on the driven wheel, if there is one.
    pub wheel: Option<Colour>,
    /// Colours of further marks on the driven wheel, all different.
    pub more_wheel: Vec<Colour>,
    /// Colour of the mark on the axle's end, if there is one.
    pub axle: Option<Colour>,
    /// Colours of the floor marks, each once.
    pub floor: Vec<Colour>,
}

/// Where a mark is in one frame.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Place {
    /// Centre, upright picture, px.
    pub u_px: f64,
    /// Centre, upright picture, px.
    pub v_px: f64,
    /// Variance of `u_px`, px².
    pub var_u_px2: f64,
    /// Variance of `v_px`, px².
    pub var_v_px2: f64,
    /// Area, px².
    pub area_px2: f64,
    /// Chroma distance from what surrounds it, codes.
    pub contrast: f64,
    /// Height in the sensor's raster as a share of its rows.
    pub row_frac: f64,
    /// Whether a disc was fitted.
    pub fitted: bool,
}

impl From<&Blob> for Place {
    fn from(blob: &Blob) -> Self {
        Self {
            u_px: blob.u_px,
            v_px: blob.v_px,
            var_u_px2: blob.var_u_px2,
            var_v_px2: blob.var_v_px2,
            area_px2: blob.area_px2,
            contrast: blob.contrast,
            row_frac: blob.row_frac,
            fitted: blob.fitted,
        }
    }
}

#[cfg(test)]
impl Place {
    /// A good observation at a disc of 100 px².
    fn example(u_px: f64, v_px: f64) -> Self {
        Self {
            u_px,
            v_px,
            var_u_px2: 0.01,
            var_v_px2: 0.01,
            area_px2: 100.0,
            contrast: 60.0,
            row_frac: 0.5,
            fitted: true,
        }
    }
}

/// One mark over the clip: an entry a frame, `None` where it was not seen.
pub type Places = Vec<Option<Place>>;

/// What could not be followed, for the user.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum TrackNote {
    /// No wheel-mark colour moved with the sticker.
    NoWheelMark,
    /// The sticker was found but never moved by more than its own size.
    StickerStill,
    /// The sticker was lost while it moved, well inside the picture.
    StickerLost {
        /// Time of the last observation since the clip's first frame, ms.
        at_ms: u64,
    },
    /// Other things in the sticker's colour moved as well, none of them like the car.
    SeveralMoving {
        /// How many chains.
        others: usize,
    },
}

/// The marks of a whole clip, in pixels.
#[derive(Debug, Clone, PartialEq)]
pub struct Track {
    /// Width of the upright picture, px.
    pub width_px: f64,
    /// Height of the upright picture, px.
    pub height_px: f64,
    /// Real time of each frame since the first, s.
    pub times_s: Vec<f64>,
    /// The sticker.
    pub sticker: Places,
    /// Frames in which the car is in view, first and last: the sticker may be half out of the picture
    /// or run into something of its own colour at the ends, too little for a place.
    pub in_view: (usize, usize),
    /// The mark on the driven wheel; all `None` where there is none.
    pub wheel: Places,
    /// Further marks on the driven wheel.
    pub more_wheel: Vec<Places>,
    /// The mark on the axle's end; all `None` where there is none.
    pub axle: Places,
    /// Everything in a floor mark's colour that lay still.
    pub floor: Vec<StillMark>,
    /// Everything in a floor mark's colour, followed, where the camera moves; empty where it stands.
    pub floor_paths: Vec<FloorPath>,
    /// What could not be followed.
    pub notes: Vec<TrackNote>,
}

impl Track {
    /// The same from a frame on, with its times as they are. What lay still is what lay still in all of the clip.
    #[must_use]
    pub fn starting_at(&self, from: usize) -> Self {
        let later = |places: &Places| places[from.min(places.len())..].to_vec();
        Self {
            times_s: self.times_s[from.min(self.times_s.len())..].to_vec(),
            sticker: later(&self.sticker),
            in_view: (
                self.in_view.0.saturating_sub(from),
                self.in_view.1.saturating_sub(from),
            ),
            wheel: later(&self.wheel),
            more_wheel: self.more_wheel.iter().map(later).collect(),
            axle: later(&self.axle),
            ..self.clone()
        }
    }

    /// Number of frames in which the sticker was seen.
    pub fn sticker_frames(&self) -> usize {
        self.sticker.iter().flatten().count()
    }

    /// Number of frames in which the wheel mark was seen.
    pub fn wheel_frames(&self) -> usize {
        self.wheel.iter().flatten().count()
    }
}

/// Where and when something that may be the sticker is first seen.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Lead {
    /// Place in the upright picture, px.
    pub u_px: f64,
    /// Place in the upright picture, px.
    pub v_px: f64,
    /// Time in the file since the first frame, s.
    pub time_s: f64,
}

/// Why no sticker could be followed.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum FollowError {
    /// No chain of the sticker's colour is long enough.
    #[error("nothing in the sticker's colour was seen steadily enough")]
    Nothing,
    /// Several chains behave like the car, and the clip does not say which is.
    #[error("{} things in the sticker's colour move like the car", leads.len())]
    Several {
        /// Where each of them is first seen, the likeliest first.
        leads: Vec<Lead>,
    },
}

/// Decides which blobs are the marks. `times_s` holds the real time of each frame.
///
/// # Errors
/// [`FollowError`] where nothing of the sticker's colour can be followed, or several things can and
/// nothing tells which is the car.
pub fn follow(
    seen: &Sightings,
    times_s: Vec<f64>,
    wanted: &MarksWanted,
) -> Result<Track, FollowError> {
    let slot = seen.slot(wanted.sticker).ok_or(FollowError::Nothing)?;
    let unsteady = unsteady::floor_paths(seen, &wanted.floor, None);
    let shift = unsteady::camera_shift(&unsteady, seen.frames.len());
    let chains = link::chains(seen, slot, &shift);
    let lying = lying_still(seen, wanted, None);
    let of_colour = |colour: Colour| WheelPatches::new(seen, colour, &lying);
    let patches = wanted.wheel.and_then(of_colour);
    let chosen = car::choose(seen, &chains, &shift, patches.as_ref(), wanted.sticker_hint)?;
    // What never moved shows nothing by its motion: the strongest standing disc is the likelier sticker.
    if chosen.notes.contains(&TrackNote::StickerStill)
        && wanted.sticker_hint.is_none()
        && let Some(standing) = follow_at_rest(seen, times_s.clone(), wanted)
    {
        return Ok(standing);
    }
    let sticker = sticker_places(seen, slot, chosen.tracklet, !unsteady.is_empty());
    let wheel = circling(seen, patches.as_ref(), &sticker);
    let mut notes = chosen.notes;
    notes.extend(sticker_lost(seen, &sticker));
    if patches.is_some() && wheel.iter().flatten().count() < wheel::MIN_FRAMES {
        notes.push(TrackNote::NoWheelMark);
    }
    // The axle's mark circles about the same hub: it is followed in the same way.
    let follow_colour = |colour: &Colour| circling(seen, of_colour(*colour).as_ref(), &sticker);
    let axle = wanted
        .axle
        .as_ref()
        .map_or_else(|| vec![None; seen.frames.len()], follow_colour);
    Ok(Track {
        width_px: seen.width_px,
        height_px: seen.height_px,
        times_s,
        in_view: in_view(seen, slot, chosen.tracklet, &sticker),
        wheel,
        more_wheel: wanted.more_wheel.iter().map(follow_colour).collect(),
        axle,
        floor: lying_still(seen, wanted, Some(&sticker)),
        floor_paths: unsteady::floor_paths(seen, &wanted.floor, Some((wanted.sticker, &sticker))),
        sticker,
        notes,
    })
}

/// Where the sticker is, by the chain that was chosen for it.
fn sticker_places(
    seen: &Sightings,
    slot: usize,
    tracklet: &Tracklet,
    camera_moves: bool,
) -> Places {
    let observations = tracklet.places(seen.frames.len());
    // Before a camera that moves, size and shape follow no line in the picture.
    let observations = if camera_moves {
        observations
    } else {
        hidden::mended(seen, slot, &observations)
    };
    doubted_where_frozen(&without_odd(&observations))
}

/// Where a mark is that circles with the sticker; nowhere without patches of its colour.
fn circling(seen: &Sightings, patches: Option<&WheelPatches<'_>>, sticker: &Places) -> Places {
    let follow = |patches| {
        let circling = wheel::follow_wheel(patches, sticker);
        doubted_where_frozen(&without_lone(&without_odd(&circling.places)))
    };
    patches.map_or_else(|| vec![None; seen.frames.len()], follow)
}

/// What to tell of a sticker that was lost on its way.
fn sticker_lost(seen: &Sightings, sticker: &Places) -> Option<TrackNote> {
    let frame = lost::lost_at(seen, sticker)?;
    let at_ms = (1000.0 * seen.frames[frame].time_s).round() as u64;
    Some(TrackNote::StickerLost { at_ms })
}

/// Everything in a floor mark's colour that lay still; the sticker, once it is known, is none of it.
fn lying_still(seen: &Sightings, wanted: &MarksWanted, sticker: Option<&Places>) -> Vec<StillMark> {
    let of_colour = |&colour: &Colour| {
        let slot = seen.slot(colour)?;
        let taken = sticker.filter(|_| colour == wanted.sticker);
        Some(floor::still_marks(seen, slot, colour, taken))
    };
    wanted
        .floor
        .iter()
        .filter_map(of_colour)
        .flatten()
        .collect()
}

/// Frames past the last good observation in which something of the sticker's colour may still be it.
const TAIL_FRAMES: usize = 8;

/// The frames in which the car is in view, first and last: those of the sticker's good observations, and all up to the
/// last in which anything of the colour is where the sticker must be.
fn in_view(seen: &Sightings, slot: usize, tracklet: &Tracklet, sticker: &Places) -> (usize, usize) {
    let (first, last) = tracklet.span();
    let until = last_there(seen, slot, tracklet, last);
    let first_placed = sticker.iter().position(Option::is_some);
    let last_placed = sticker.iter().rposition(Option::is_some);
    (
        first_placed.map_or(first, |frame| first.min(frame)),
        last_placed.map_or(until, |frame| until.max(frame)),
    )
}

/// The last frame in which anything of the colour is where a chain that ends at `last` must be.
fn last_there(seen: &Sightings, slot: usize, tracklet: &Tracklet, last: usize) -> usize {
    let mut until = last;
    for frame in last + 1..(last + 1 + TAIL_FRAMES).min(seen.frames.len()) {
        let Some((u, v, _)) = tracklet.expected(frame) else {
            break;
        };
        let inside = u > -0.5 && v > -0.5 && u < seen.width_px - 0.5 && v < seen.height_px - 0.5;
        let reach = 3.0 + 0.8 * tracklet.last_size_px();
        let there = seen.frames[frame]
            .blobs
            .get(slot)
            .into_iter()
            .flatten()
            .any(|blob| (blob.u_px - u).hypot(blob.v_px - v) < reach);
        if !(there && inside) {
            break;
        }
        until = frame;
    }
    until
}
