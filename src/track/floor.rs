//! What lies still in a floor mark's colour.

use super::Places;
use super::link::{Tracklet, distance, join_tracklets, link_tracklets, median};
use crate::colour::Colour;
use crate::sighting::Sightings;

/// A patch of a floor mark's colour that lay still: perhaps a floor mark.
#[derive(Debug, Clone, PartialEq)]
pub struct StillMark {
    /// Its colour.
    pub colour: Colour,
    /// Centre, upright picture, px (median over the clip).
    pub u_px: f64,
    /// Centre, upright picture, px.
    pub v_px: f64,
    /// Standard uncertainty of each coordinate, px.
    pub sd_px: f64,
    /// Area, px².
    pub area_px2: f64,
    /// In how many frames it was seen.
    pub frames: usize,
}

/// A mark that wanders by more than this (robust spread) does not lie still, px.
pub(super) const STILL_PX: f64 = 0.8;
/// Pieces of one mark, parted by a car passing in front, are this near each other, px.
pub const SAME_PX: f64 = 2.0;
/// A mark is seen in at least this share of the clip.
pub const MIN_SHARE: f64 = 0.15;
/// What a still mark's place is uncertain by however many frames are averaged: coding and shading
/// errors do not average out (see the measurement notes in DEVELOPERS.md), px.
const FLOOR_SD_PX: f64 = 0.05;

/// Still marks of one colour. `taken` is the sticker, where it has the same colour.
pub(super) fn still_marks(
    seen: &Sightings,
    slot: usize,
    colour: Colour,
    taken: Option<&Places>,
) -> Vec<StillMark> {
    let least = ((seen.frames.len() as f64 * MIN_SHARE) as usize).max(3);
    let mut found: Vec<StillMark> = join_tracklets(link_tracklets(seen, slot))
        .iter()
        .filter(|tracklet| !is_taken(tracklet, taken))
        .filter_map(|tracklet| still(tracklet, colour))
        .collect();
    found.sort_by_key(|mark| std::cmp::Reverse(mark.frames));
    let mut out: Vec<StillMark> = Vec::new();
    for mark in found {
        let same = out
            .iter_mut()
            .find(|kept| (kept.u_px - mark.u_px).hypot(kept.v_px - mark.v_px) < SAME_PX);
        match same {
            // The longest look is the truest: shorter ones may be of a mark half hidden by the car.
            Some(kept) => kept.frames += mark.frames,
            None => out.push(mark),
        }
    }
    out.retain(|mark| mark.frames >= least);
    out
}

pub(super) fn is_taken(tracklet: &Tracklet, taken: Option<&Places>) -> bool {
    let Some(places) = taken else { return false };
    tracklet
        .steps
        .iter()
        .any(|(frame, place)| places[*frame].is_some_and(|other| distance(&other, place) < 0.5))
}

fn still(tracklet: &Tracklet, colour: Colour) -> Option<StillMark> {
    let fitted: Vec<_> = tracklet
        .steps
        .iter()
        .filter(|(_, place)| place.fitted)
        .collect();
    let is_fitted = fitted.len() >= 2;
    let used: Vec<_> = if is_fitted {
        fitted
    } else {
        tracklet.steps.iter().collect::<Vec<_>>()
    };
    let u_px = median(used.iter().map(|(_, p)| p.u_px).collect());
    let v_px = median(used.iter().map(|(_, p)| p.v_px).collect());
    let off = |get: &dyn Fn(&super::Place) -> f64| {
        1.4826 * median(used.iter().map(|(_, p)| get(p).abs()).collect())
    };
    let spread = off(&|p| p.u_px - u_px).max(off(&|p| p.v_px - v_px));
    if spread > STILL_PX {
        return None;
    }
    // A mask's place is wrong alike in every frame, by how the mark meets the pixel grid.
    let alike = if is_fitted {
        FLOOR_SD_PX
    } else {
        median(
            used.iter()
                .map(|(_, p)| p.var_u_px2.max(p.var_v_px2).sqrt())
                .collect(),
        )
    };
    // Frames are not independent; a handful of observations is what a long clip is worth.
    let observations = (used.len() as f64).clamp(1.0, 6.0);
    Some(StillMark {
        colour,
        u_px,
        v_px,
        sd_px: (spread * spread / observations + alike * alike).sqrt(),
        area_px2: median(used.iter().map(|(_, p)| p.area_px2).collect()),
        frames: tracklet.steps.len(),
    })
}
