//! Blobs linked from frame to frame into tracklets, and tracklets joined across gaps (`join.rs`).

mod join;

pub use join::join_tracklets;

use super::{Place, Places};
use crate::sighting::{Blob, Sightings};
use std::sync::Arc;

/// A run of blobs that are surely one thing: frame index and place, in order of time.
#[derive(Debug, Clone, PartialEq)]
pub struct Tracklet {
    /// Where it was, by frame index; increasing, gaps allowed.
    pub steps: Vec<(usize, Place)>,
    /// Time of every frame of the clip in usual frame steps: phones lose frames and keep no even beat,
    /// and a pace must not jump with them.
    pub(super) beats: Arc<[f64]>,
}

/// A tracklet may skip this many frames before it ends.
const MAX_SKIP: usize = 3;
/// Tracklets are joined across gaps of at most this many frames.
const MAX_GAP: usize = 20;
/// Shorter tracklets are noise.
const MIN_STEPS: usize = 3;
/// Frames over which a tracklet's own pace is estimated.
const PACE_STEPS: usize = 4;

impl Tracklet {
    /// First and last frame index.
    pub fn span(&self) -> (usize, usize) {
        let first = self.steps.first().map_or(0, |step| step.0);
        let last = self.steps.last().map_or(0, |step| step.0);
        (first, last)
    }

    /// One entry a frame of a clip of `frames` frames.
    pub fn places(&self, frames: usize) -> Places {
        let mut out = vec![None; frames];
        for &(frame, place) in &self.steps {
            if let Some(entry) = out.get_mut(frame) {
                *entry = Some(place);
            }
        }
        out
    }

    /// The same as a camera that stands still would have seen it; `shift` is how far the picture moved.
    pub(super) fn steadied(&self, shift: &[(f64, f64)]) -> Self {
        let mut out = self.clone();
        for (frame, place) in &mut out.steps {
            let (u, v) = shift.get(*frame).copied().unwrap_or_default();
            place.u_px -= u;
            place.v_px -= v;
        }
        out
    }

    /// Undoes [`Self::steadied`].
    fn shaken(mut self, shift: &[(f64, f64)]) -> Self {
        for (frame, place) in &mut self.steps {
            let (u, v) = shift.get(*frame).copied().unwrap_or_default();
            place.u_px += u;
            place.v_px += v;
        }
        self
    }

    /// Farthest distance from the first place, px.
    pub fn travel_px(&self) -> f64 {
        let Some((_, start)) = self.steps.first() else {
            return 0.0;
        };
        self.steps
            .iter()
            .map(|(_, place)| distance(start, place))
            .fold(0.0, f64::max)
    }

    /// Median area, px².
    pub fn area_px2(&self) -> f64 {
        median(self.steps.iter().map(|(_, place)| place.area_px2).collect())
    }

    /// Usual frame steps from one frame to another.
    pub(super) fn beats_between(&self, from: usize, to: usize) -> f64 {
        match (self.beats.get(from), self.beats.get(to)) {
            (Some(a), Some(b)) => b - a,
            _ => to as f64 - from as f64,
        }
    }

    /// Place expected in a later frame, at the pace of the last few observations, and that pace.
    pub(super) fn expected(&self, frame: usize) -> Option<(f64, f64, f64)> {
        let (last_frame, last) = self.steps.last()?;
        let (du, dv) = self.pace(self.steps.iter().rev().take(PACE_STEPS));
        let ahead = self.beats_between(*last_frame, frame);
        Some((last.u_px + du * ahead, last.v_px + dv * ahead, du.hypot(dv)))
    }

    /// Root of the last observation's area, px.
    pub(super) fn last_size_px(&self) -> f64 {
        self.steps
            .last()
            .map_or(0.0, |(_, place)| place.area_px2.sqrt())
    }

    fn pace<'a>(&self, mut steps: impl Iterator<Item = &'a (usize, Place)>) -> (f64, f64) {
        let Some(first) = steps.next() else {
            return (0.0, 0.0);
        };
        let ((f0, a), (f1, b)) = (first, steps.last().unwrap_or(first));
        let beats = self.beats_between(*f0, *f1);
        if beats == 0.0 {
            return (0.0, 0.0);
        }
        ((b.u_px - a.u_px) / beats, (b.v_px - a.v_px) / beats)
    }
}

pub(super) fn distance(a: &Place, b: &Place) -> f64 {
    (a.u_px - b.u_px).hypot(a.v_px - b.v_px)
}

/// Median of a list; 0 of an empty one.
pub(super) fn median(values: Vec<f64>) -> f64 {
    crate::noise::median(values).unwrap_or(0.0)
}

/// Times of the frames in usual (median) frame steps.
fn beats(seen: &Sightings) -> Arc<[f64]> {
    let times: Vec<f64> = seen.frames.iter().map(|frame| frame.time_s).collect();
    let usual = crate::noise::median_step_s(&times).unwrap_or(0.0);
    let start = times.first().copied().unwrap_or(0.0);
    times
        .iter()
        .enumerate()
        .map(|(frame, time)| {
            if usual > 0.0 {
                (time - start) / usual
            } else {
                frame as f64
            }
        })
        .collect()
}

/// Links the blobs of one colour into tracklets. Blobs at the picture's border are left out: part of
/// them may be missing, and their place would be wrong.
pub fn link_tracklets(seen: &Sightings, slot: usize) -> Vec<Tracklet> {
    linked(seen, slot, &[])
}

/// Blobs of one colour as chains: tracklets, joined across gaps. `shift` is how far the picture has moved by each frame,
/// nothing where the camera stands: a hand's jolt is no leap of the car, so they are linked where a camera that stands
/// would have seen them, and have the places that they were seen at.
pub(super) fn chains(seen: &Sightings, slot: usize, shift: &[(f64, f64)]) -> Vec<Tracklet> {
    let chains = join_tracklets(linked(seen, slot, shift));
    chains
        .into_iter()
        .map(|chain| chain.shaken(shift))
        .collect()
}

fn linked(seen: &Sightings, slot: usize, shift: &[(f64, f64)]) -> Vec<Tracklet> {
    let mut open: Vec<Tracklet> = Vec::new();
    let mut closed: Vec<Tracklet> = Vec::new();
    let beats = beats(seen);
    for (frame, sightings) in seen.frames.iter().enumerate() {
        let (u, v) = shift.get(frame).copied().unwrap_or_default();
        let steadied = |blob: &Blob| {
            let mut place = Place::from(blob);
            place.u_px -= u;
            place.v_px -= v;
            place
        };
        let blobs = sightings.blobs.get(slot).into_iter().flatten();
        let whole = blobs.filter(|b| !b.at_border);
        let places: Vec<Place> = whole.map(steadied).collect();
        let mut free = vec![true; places.len()];
        for (tracklet, blob) in pairs(&open, &places, frame) {
            let taken = open[tracklet]
                .steps
                .last()
                .is_some_and(|step| step.0 == frame);
            if free[blob] && !taken {
                free[blob] = false;
                open[tracklet].steps.push((frame, places[blob]));
            }
        }
        for (place, _) in places.iter().zip(&free).filter(|(_, free)| **free) {
            open.push(Tracklet {
                steps: vec![(frame, *place)],
                beats: Arc::clone(&beats),
            });
        }
        let (still, ended): (Vec<_>, Vec<_>) = open
            .into_iter()
            .partition(|tracklet| tracklet.span().1 + MAX_SKIP >= frame);
        open = still;
        closed.extend(ended);
    }
    closed.extend(open);
    closed.retain(|tracklet| tracklet.steps.len() >= MIN_STEPS);
    closed
}

/// All plausible (tracklet, blob) pairs of a frame, the surest first.
fn pairs(open: &[Tracklet], blobs: &[Place], frame: usize) -> Vec<(usize, usize)> {
    let mut costs: Vec<(f64, usize, usize)> = Vec::new();
    for (index, tracklet) in open.iter().enumerate() {
        let Some((u, v, speed)) = tracklet.expected(frame) else {
            continue;
        };
        let Some((last, place)) = tracklet.steps.last() else {
            continue;
        };
        let waited = tracklet.beats_between(*last, frame).max(0.1);
        for (number, blob) in blobs.iter().enumerate() {
            let size = place.area_px2.max(blob.area_px2).sqrt();
            // A car gathers speed by less than its own size a frame; a longer wait doubts more.
            // A single observation has no pace: a thing already in flight may be well over its own size away.
            let sizes = if tracklet.steps.len() == 1 { 1.6 } else { 0.6 };
            let gate = (3.0 + sizes * size + 0.4 * speed) * waited.sqrt();
            let off = (blob.u_px - u).hypot(blob.v_px - v) / gate;
            let resized = (blob.area_px2 / place.area_px2).ln().abs();
            if off < 1.0 && resized < 1.1 {
                // A tracklet of one or two steps has no pace yet and must not steal.
                let young = if tracklet.steps.len() < 3 { 0.3 } else { 0.0 };
                costs.push((off + 0.5 * resized + young, index, number));
            }
        }
    }
    costs.sort_by(|a, b| a.0.total_cmp(&b.0));
    costs
        .into_iter()
        .map(|(_, tracklet, blob)| (tracklet, blob))
        .collect()
}

#[cfg(test)]
mod tests;
