//! Blobs linked from frame to frame into pieces, and pieces joined across gaps.

use super::{Place, Places};
use crate::sighting::{Blob, Sightings};

/// A run of blobs that are surely one thing: frame index and place, in order of time.
#[derive(Debug, Clone, PartialEq)]
pub struct Piece {
    /// Where it was, by frame index; increasing, gaps allowed.
    pub steps: Vec<(usize, Place)>,
}

/// A piece may skip this many frames before it ends.
const MAX_SKIP: usize = 3;
/// Pieces are joined across gaps of at most this many frames.
const MAX_GAP: usize = 20;
/// Shorter pieces are noise.
const MIN_STEPS: usize = 3;
/// Frames over which a piece's own pace is estimated.
const PACE_STEPS: usize = 4;

impl Piece {
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

    /// Place expected `ahead` frames after the last step, at the pace of the last few.
    pub(super) fn expected(&self, frame: usize) -> Option<(f64, f64, f64)> {
        let (last_frame, last) = self.steps.last()?;
        let (du, dv) = pace(self.steps.iter().rev().take(PACE_STEPS));
        let ahead = frame as f64 - *last_frame as f64;
        Some((last.u_px + du * ahead, last.v_px + dv * ahead, du.hypot(dv)))
    }

    /// Root of the last look's area, px.
    pub(super) fn last_size_px(&self) -> f64 {
        self.steps
            .last()
            .map_or(0.0, |(_, place)| place.area_px2.sqrt())
    }

    /// Pace over the first few steps, px a frame.
    fn pace_at_start(&self) -> (f64, f64) {
        pace(self.steps.iter().take(PACE_STEPS))
    }
}

fn pace<'a>(steps: impl Iterator<Item = &'a (usize, Place)>) -> (f64, f64) {
    let steps: Vec<_> = steps.collect();
    let (Some((f0, a)), Some((f1, b))) = (steps.first(), steps.last()) else {
        return (0.0, 0.0);
    };
    let frames = *f1 as f64 - *f0 as f64;
    if frames == 0.0 {
        return (0.0, 0.0);
    }
    ((b.u_px - a.u_px) / frames, (b.v_px - a.v_px) / frames)
}

pub(super) fn distance(a: &Place, b: &Place) -> f64 {
    (a.u_px - b.u_px).hypot(a.v_px - b.v_px)
}

/// Median of a list; 0 of an empty one.
pub(super) fn median(mut values: Vec<f64>) -> f64 {
    if values.is_empty() {
        return 0.0;
    }
    values.sort_by(f64::total_cmp);
    values[values.len() / 2]
}

/// Links the blobs of one colour into pieces. Blobs at the picture's border are left out: part of
/// them may be missing, and their place would be wrong.
pub fn link_pieces(seen: &Sightings, slot: usize) -> Vec<Piece> {
    let mut open: Vec<Piece> = Vec::new();
    let mut closed: Vec<Piece> = Vec::new();
    for (frame, sightings) in seen.frames.iter().enumerate() {
        let blobs: Vec<&Blob> = sightings
            .blobs
            .get(slot)
            .into_iter()
            .flatten()
            .filter(|b| !b.at_border)
            .collect();
        let mut free = vec![true; blobs.len()];
        for (piece, blob) in pairs(&open, &blobs, frame) {
            let taken = open[piece].steps.last().is_some_and(|step| step.0 == frame);
            if free[blob] && !taken {
                free[blob] = false;
                open[piece].steps.push((frame, Place::from(blobs[blob])));
            }
        }
        for (blob, _) in blobs.iter().zip(&free).filter(|(_, free)| **free) {
            open.push(Piece {
                steps: vec![(frame, Place::from(*blob))],
            });
        }
        let (still, ended): (Vec<_>, Vec<_>) = open
            .into_iter()
            .partition(|piece| piece.span().1 + MAX_SKIP >= frame);
        open = still;
        closed.extend(ended);
    }
    closed.extend(open);
    closed.retain(|piece| piece.steps.len() >= MIN_STEPS);
    closed
}

/// All plausible (piece, blob) pairs of a frame, the surest first.
fn pairs(open: &[Piece], blobs: &[&Blob], frame: usize) -> Vec<(usize, usize)> {
    let mut costs: Vec<(f64, usize, usize)> = Vec::new();
    for (index, piece) in open.iter().enumerate() {
        let Some((u, v, speed)) = piece.expected(frame) else {
            continue;
        };
        let Some((last, place)) = piece.steps.last() else {
            continue;
        };
        let waited = (frame - last) as f64;
        for (number, blob) in blobs.iter().enumerate() {
            let size = place.area_px2.max(blob.area_px2).sqrt();
            // A car gathers speed by less than its own size a frame; a longer wait doubts more.
            // A single look has no pace: a thing already in flight may be well over its own size away.
            let sizes = if piece.steps.len() == 1 { 1.6 } else { 0.6 };
            let gate = (3.0 + sizes * size + 0.4 * speed) * waited.sqrt();
            let off = (blob.u_px - u).hypot(blob.v_px - v) / gate;
            let resized = (blob.area_px2 / place.area_px2).ln().abs();
            if off < 1.0 && resized < 1.1 {
                // A piece of one or two steps has no pace yet and must not steal.
                let young = if piece.steps.len() < 3 { 0.3 } else { 0.0 };
                costs.push((off + 0.5 * resized + young, index, number));
            }
        }
    }
    costs.sort_by(|a, b| a.0.total_cmp(&b.0));
    costs
        .into_iter()
        .map(|(_, piece, blob)| (piece, blob))
        .collect()
}

/// Joins pieces whose paces meet across a gap, longest agreement first.
pub fn join_pieces(mut pieces: Vec<Piece>) -> Vec<Piece> {
    pieces.sort_by_key(|piece| piece.span().0);
    while let Some((first, second)) = best_join(&pieces) {
        let tail = pieces.remove(second);
        pieces[first].steps.extend(tail.steps);
    }
    pieces
}

fn best_join(pieces: &[Piece]) -> Option<(usize, usize)> {
    let mut best: Option<(f64, usize, usize)> = None;
    for (i, first) in pieces.iter().enumerate() {
        for (j, second) in pieces.iter().enumerate() {
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

/// How badly two pieces fit together, from both their paces; `None` where they cannot be one thing.
fn mismatch(first: &Piece, second: &Piece) -> Option<f64> {
    let (_, end) = first.steps.last()?;
    let (start_frame, start) = second.steps.first()?;
    let gap = *start_frame as f64 - first.span().1 as f64;
    let (u, v, speed) = first.expected(*start_frame)?;
    let (du, dv) = second.pace_at_start();
    let ahead = (start.u_px - u, start.v_px - v);
    let back = (
        start.u_px - du * gap - end.u_px,
        start.v_px - dv * gap - end.v_px,
    );
    // A thing that gathers or loses speed misses both forecasts by the same way, in opposite senses.
    let off_px = (ahead.0 + back.0).hypot(ahead.1 + back.1) / 2.0;
    let pull_px = (ahead.0 - back.0).hypot(ahead.1 - back.1) / 2.0;
    let size = end.area_px2.max(start.area_px2).sqrt();
    let gate = 4.0 + 0.5 * size + 0.5 * speed.max(du.hypot(dv)) * gap.sqrt();
    let resized = (start.area_px2 / end.area_px2).ln().abs();
    let off = off_px / gate;
    (off < 1.0 && pull_px < 2.0 * gate && resized < 1.2).then_some(off + 0.3 * resized + 0.02 * gap)
}
