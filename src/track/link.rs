//! Blobs linked from frame to frame into tracklets, and tracklets joined across gaps.

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

// Numbers below whose comments name no source were chosen by hand; not measured.
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

    fn pace<'a>(&self, steps: impl Iterator<Item = &'a (usize, Place)>) -> (f64, f64) {
        let steps: Vec<_> = steps.collect();
        let (Some((f0, a)), Some((f1, b))) = (steps.first(), steps.last()) else {
            return (0.0, 0.0);
        };
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
    let mut open: Vec<Tracklet> = Vec::new();
    let mut closed: Vec<Tracklet> = Vec::new();
    let beats = beats(seen);
    for (frame, sightings) in seen.frames.iter().enumerate() {
        let blobs: Vec<&Blob> = sightings
            .blobs
            .get(slot)
            .into_iter()
            .flatten()
            .filter(|b| !b.at_border)
            .collect();
        let mut free = vec![true; blobs.len()];
        for (tracklet, blob) in pairs(&open, &blobs, frame) {
            let taken = open[tracklet]
                .steps
                .last()
                .is_some_and(|step| step.0 == frame);
            if free[blob] && !taken {
                free[blob] = false;
                open[tracklet].steps.push((frame, Place::from(blobs[blob])));
            }
        }
        for (blob, _) in blobs.iter().zip(&free).filter(|(_, free)| **free) {
            open.push(Tracklet {
                steps: vec![(frame, Place::from(*blob))],
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
fn pairs(open: &[Tracklet], blobs: &[&Blob], frame: usize) -> Vec<(usize, usize)> {
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

/// Joins tracklets whose paces meet across a gap, longest agreement first.
pub fn join_tracklets(mut tracklets: Vec<Tracklet>) -> Vec<Tracklet> {
    tracklets.sort_by_key(|tracklet| tracklet.span().0);
    while let Some((first, second)) = best_join(&tracklets) {
        let tail = tracklets.remove(second);
        tracklets[first].steps.extend(tail.steps);
    }
    tracklets
}

fn best_join(tracklets: &[Tracklet]) -> Option<(usize, usize)> {
    let mut best: Option<(f64, usize, usize)> = None;
    for (i, first) in tracklets.iter().enumerate() {
        for (j, second) in tracklets.iter().enumerate() {
            let (end, start) = (first.span().1, second.span().0);
            if i == j || start <= end || start - end > MAX_GAP {
                continue;
            }
            let Some(cost) = mismatch(first, second) else {
                continue;
            };
            if best.is_none_or(|(least, _, _)| cost < least) {
                best = Some((cost, i, j));
            }
        }
    }
    best.map(|(_, i, j)| (i, j))
}

/// A tracklet's last or first whole observation and the pace there.
struct End {
    frame: usize,
    place: Place,
    /// px a usual frame step.
    pace: (f64, f64),
}

/// Observations from which the usual area at a tracklet's end is taken.
const END_STEPS: usize = 12;
/// At most this many looks at an end are taken to be of a mark that is half hidden already ...
const MAX_CLIPPED: usize = 5;
/// ... when their area or contrast is below this share of the usual: their centre is that of the part
/// in sight, and the pace between them is wrong.
const WHOLE_SHARE: f64 = 0.88;

/// The end of a tracklet given from that end inwards.
fn end<'a>(tracklet: &Tracklet, inwards: impl Iterator<Item = &'a (usize, Place)>) -> Option<End> {
    let near: Vec<&(usize, Place)> = inwards.take(END_STEPS).collect();
    let area = median(near.iter().map(|(_, p)| p.area_px2).collect());
    let contrast = median(near.iter().map(|(_, p)| p.contrast).collect());
    let whole = |p: &Place| p.area_px2 > WHOLE_SHARE * area && p.contrast > WHOLE_SHARE * contrast;
    let clipped = near.iter().take_while(|(_, p)| !whole(p)).count();
    // A tracklet that has no more than its clipped end is taken as it is.
    let from = if clipped <= MAX_CLIPPED && clipped + PACE_STEPS <= near.len() {
        clipped
    } else {
        0
    };
    let (frame, place) = **near.get(from)?;
    Some(End {
        frame,
        place,
        pace: tracklet.pace(near[from..].iter().copied().take(PACE_STEPS)),
    })
}

/// How badly two tracklets fit together, from both their paces; `None` where they cannot be one thing.
fn mismatch(first: &Tracklet, second: &Tracklet) -> Option<f64> {
    let last = end(first, first.steps.iter().rev())?;
    let next = end(second, second.steps.iter())?;
    let gap = first.beats_between(last.frame, next.frame);
    let (went, goes) = (last.pace, next.pace);
    let across = (
        next.place.u_px - last.place.u_px,
        next.place.v_px - last.place.v_px,
    );
    let ahead = (across.0 - went.0 * gap, across.1 - went.1 * gap);
    let back = (across.0 - goes.0 * gap, across.1 - goes.1 * gap);
    // A thing that gathers or loses speed misses both forecasts by the same way, in opposite senses.
    let off_px = (ahead.0 + back.0).hypot(ahead.1 + back.1) / 2.0;
    let pull_px = (ahead.0 - back.0).hypot(ahead.1 - back.1) / 2.0;
    let size = last.place.area_px2.max(next.place.area_px2).sqrt();
    let speed = went.0.hypot(went.1).max(goes.0.hypot(goes.1));
    let gate = 4.0 + 0.5 * size + 0.5 * speed * gap.sqrt();
    let resized = (next.place.area_px2 / last.place.area_px2).ln().abs();
    let off = off_px / gate;
    (off < 1.0 && pull_px < 2.0 * gate && resized < 1.2).then_some(off + 0.3 * resized + 0.02 * gap)
}

#[cfg(test)]
mod tests;
