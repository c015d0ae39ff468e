//! The marks of a car that only stands there: a test shot, in which nothing can be told by its motion.

use super::floor::STILL_PX;
use super::link::{Tracklet, distance, join_tracklets, link_tracklets, median};
use super::{MarksWanted, Place, Places, Track, TrackNote, floor};
use crate::sighting::Sightings;

/// A standing mark is seen in at least this share of the frames.
const MIN_SHARE: f64 = 0.6;
/// The wheel's mark is at most this many sticker diameters from the sticker.
const NEAR_DIAMETERS: f64 = 12.0;

/// The marks as they stand: the strongest disc of the sticker's colour, and the wheel mark nearest to it.
/// `None` where nothing of the sticker's colour stands still.
pub fn follow_at_rest(seen: &Sightings, times_s: Vec<f64>, wanted: &MarksWanted) -> Option<Track> {
    let frames = seen.frames.len();
    let standing = |slot: usize| -> Vec<Tracklet> {
        let mut tracklets = join_tracklets(link_tracklets(seen, slot));
        tracklets.retain(|tracklet| tracklet.steps.len() as f64 >= MIN_SHARE * frames as f64);
        tracklets.retain(stands);
        tracklets
    };
    let sticker = standing(seen.slot(wanted.sticker)?)
        .into_iter()
        .max_by(|a, b| strength(a).total_cmp(&strength(b)))?;
    let at = middle(&sticker)?;
    let reach_px = NEAR_DIAMETERS * (4.0 * at.area_px2 / std::f64::consts::PI).sqrt();
    let wheel = wanted
        .wheel
        .and_then(|colour| seen.slot(colour))
        .map(standing)
        .unwrap_or_default()
        .into_iter()
        .filter_map(|tracklet| Some((distance(&middle(&tracklet)?, &at), tracklet)))
        .filter(|(away_px, _)| *away_px < reach_px)
        .min_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(_, tracklet)| tracklet);
    let mut marks = Vec::new();
    for &colour in &wanted.floor {
        if let Some(slot) = seen.slot(colour) {
            marks.extend(floor::still_marks(seen, slot, colour, None));
        }
    }
    Some(Track {
        width_px: seen.width_px,
        height_px: seen.height_px,
        times_s,
        in_view: sticker.span(),
        sticker: sticker.places(frames),
        wheel: wheel.map_or_else(
            || -> Places { vec![None; frames] },
            |tracklet| tracklet.places(frames),
        ),
        more_wheel: Vec::new(),
        axle: vec![None; frames],
        floor: marks,
        floor_paths: Vec::new(),
        notes: vec![TrackNote::StickerStill],
    })
}

/// The observation in the middle of a piece, by time.
fn middle(tracklet: &Tracklet) -> Option<Place> {
    tracklet
        .steps
        .get(tracklet.steps.len() / 2)
        .map(|(_, place)| *place)
}

fn stands(tracklet: &Tracklet) -> bool {
    let spread = |get: &dyn Fn(&Place) -> f64| {
        let values: Vec<f64> = tracklet.steps.iter().map(|(_, place)| get(place)).collect();
        let centre = median(values.clone());
        median(values.iter().map(|value| (value - centre).abs()).collect())
    };
    spread(&|p| p.u_px) < STILL_PX && spread(&|p| p.v_px) < STILL_PX
}

/// Discs that stand out count before what is only large: a poster is no disc.
fn strength(tracklet: &Tracklet) -> f64 {
    let fitted = tracklet
        .steps
        .iter()
        .filter(|(_, place)| place.fitted)
        .count();
    let contrast = median(
        tracklet
            .steps
            .iter()
            .map(|(_, place)| place.contrast)
            .collect(),
    );
    contrast * fitted as f64 / tracklet.steps.len() as f64
}
