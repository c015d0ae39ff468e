//! A sticker that something lies across: an arm, a string, a post.
//!
//! What is left in sight is one piece or several, and no piece's middle is the mark's. But a mark keeps
//! its shape: how large it is and how it leans is known from the frames that show it whole, and an
//! outline of that shape is laid over what is left of the rim. Where too little of the rim is left, the
//! piece keeps its place, doubted by what is missing.

use super::rim_fit::{Outline, lay};
use super::whole::{ROUGH_RIM_PX, Whole, patches};
use super::{Place, Places};
use crate::sighting::{Blob, Rim, Sightings};

/// An observation with less than this share of the whole mark's area shows a piece of it.
const WHOLE_SHARE: f64 = 0.90;
/// ... and so does one beside it in time with less than this: what lies across leaves bit by bit.
const NEARLY_WHOLE_SHARE: f64 = 0.97;
/// Pieces of a mark lie within this many half-axes of where it is expected.
const PIECE_REACH: f64 = 1.5;
/// A mark is followed on from its last observation while no more frames than this show nothing of it.
const MAX_SKIP: usize = 3;
/// A rim that is rough by the pixel is so only where it is rougher than those of whole observations by this factor.
const ROUGHER: f64 = 2.0;
/// An observation with so rough a rim, as a share of what is rough, is cut however large it seems: what is left
/// runs together before a slow shutter.
const TORN: f64 = 2.0;
/// The rims of smaller marks are too short for their shape to be told, px of the half-axis ...
const LEAST_HALF_AXIS_PX: f64 = 5.0;
/// ... and their areas alone say that they are cut, when less than this share is left.
const SMALL_SHARE: f64 = 0.8;
/// ... and no farther from an observation that is surely cut than this many observations.
const BESIDE_OBSERVATIONS: usize = 12;
/// A piece's middle is off by no more than the missing share of the half-axis and this share.
const BEYOND: f64 = 0.1;
/// A mark that goes less than this a frame, in its sizes, is as good as at rest.
const REST_SIZES: f64 = 0.04;
/// Observations from which the pace at an end is taken.
const PACE_OBSERVATIONS: usize = 4;
/// A place that rests on a part of the rim is surely no better than this share of the half-axis (measured:
/// 0.01 to 0.05), look after look in the same direction.
const RIM_SHARE: f64 = 0.04;

/// The same places with those of pieces put where the whole mark must be, and followed on through
/// frames that show pieces only. The camera stands still.
pub(super) fn mended(seen: &Sightings, slot: usize, places: &Places) -> Places {
    let Some(whole) = Whole::of(seen, slot, places) else {
        return places.clone();
    };
    let mender = Mender {
        seen,
        slot,
        whole,
        row_slope: row_slope(seen, places),
    };
    let mut out = places.clone();
    let pieces = mender.pieces(places);
    for &frame in &pieces {
        let resting = mender.rests(places, frame);
        out[frame] = places[frame].and_then(|place| mender.put_right(frame, &place, resting));
    }
    mender.fill_gaps(&mut out, &pieces);
    let observations = places.iter().enumerate();
    let begins_cut = observations
        .filter(|(_, place)| place.is_some())
        .take(BESIDE_OBSERVATIONS)
        .any(|(frame, _)| pieces.contains(&frame));
    if begins_cut {
        mender.follow_back(&mut out);
    }
    out
}

struct Mender<'a> {
    seen: &'a Sightings,
    slot: usize,
    whole: Whole,
    /// Change of the sensor's row, as a share of its rows, by px to the right and down.
    row_slope: (f64, f64),
}

impl Mender<'_> {
    /// Frames whose observations show pieces: with a rim that is no disc's, or in several parts; and observations
    /// beside them in time that are a little too small.
    fn pieces(&self, places: &Places) -> Vec<usize> {
        let observations: Vec<(usize, f64, bool)> = places
            .iter()
            .enumerate()
            .filter_map(|(frame, place)| {
                let place = place.as_ref()?;
                let size = self.whole.size_at(self.whole.way((place.u_px, place.v_px)));
                let share = place.area_px2 / (size * size);
                Some((frame, share, self.is_cut(frame, place, share)))
            })
            .collect();
        let mut piece: Vec<bool> = observations
            .iter()
            .map(|observation| observation.2)
            .collect();
        let near_cut = |rank: usize| {
            let near = rank.saturating_sub(BESIDE_OBSERVATIONS)
                ..(rank + BESIDE_OBSERVATIONS + 1).min(observations.len());
            observations[near].iter().any(|observation| observation.2)
        };
        let ranks = (1..observations.len()).chain((1..observations.len()).rev());
        for rank in ranks {
            for (here, beside) in [(rank, rank - 1), (rank - 1, rank)] {
                let grows = piece[beside] && observations[here].1 < NEARLY_WHOLE_SHARE;
                piece[here] |= grows && near_cut(here);
            }
        }
        let pieces = observations.iter().zip(&piece).filter(|(_, piece)| **piece);
        pieces.map(|((frame, ..), _)| *frame).collect()
    }

    /// Whether an observation is of a mark that is cut: its rim is no disc's, or more of the mark is beside it. One
    /// that is only small is of a mark that is farther away.
    fn is_cut(&self, frame: usize, place: &Place, share: f64) -> bool {
        let at = (place.u_px, place.v_px);
        let Some((outline, _)) = self.whole.outline_at(self.whole.way(at)) else {
            return false;
        };
        if outline.half_axis_px() < LEAST_HALF_AXIS_PX {
            return share < SMALL_SHARE;
        }
        let reach = PIECE_REACH * outline.half_axis_px();
        patches(self.seen, frame, self.slot).any(|(blob, rim)| {
            let off = (blob.u_px - place.u_px).hypot(blob.v_px - place.v_px);
            if off == 0.0 {
                let least = if share < WHOLE_SHARE { 1.0 } else { TORN };
                self.roughness(blob, rim) > least
            } else {
                share < WHOLE_SHARE && off < reach && blob.contrast > 0.5 * place.contrast
            }
        })
    }

    /// How rough a patch's rim is, as a share of what is rough.
    fn roughness(&self, blob: &Blob, rim: &Rim) -> f64 {
        Outline::new(blob.outline_px2).map_or(0.0, |own| {
            let rough = (ROUGH_RIM_PX / own.half_axis_px()).max(ROUGHER * self.whole.rim_misfit);
            own.misfit(rim, (blob.u_px, blob.v_px)) / rough
        })
    }

    /// A piece's place mended: by the rim that is left, else, at rest, doubted by what is missing. Of a
    /// mark on its way the piece says nothing: what is missing shifts look after look the same way.
    fn put_right(&self, frame: usize, place: &Place, resting: bool) -> Option<Place> {
        let size = self.whole.size_at(self.whole.way((place.u_px, place.v_px)));
        // What is missing bounds how far a piece's middle can be from the mark's.
        let missing = (1.0 - place.area_px2 / (size * size)).clamp(0.0, 1.0);
        let most_px = (missing + BEYOND) * size / std::f64::consts::PI.sqrt();
        let found = self
            .by_rim(frame, (place.u_px, place.v_px))
            .filter(|found| (found.u_px - place.u_px).hypot(found.v_px - place.v_px) < most_px);
        if found.is_some() {
            return found;
        }
        if size < LEAST_HALF_AXIS_PX * std::f64::consts::PI.sqrt() {
            return Some(self.doubted(place));
        }
        if !resting {
            return None;
        }
        // The largest piece is nearest to the mark's own middle.
        let reach = self.whole.size_at(self.whole.way((place.u_px, place.v_px)));
        let largest = patches(self.seen, frame, self.slot)
            .map(|(blob, _)| blob)
            .filter(|blob| (blob.u_px - place.u_px).hypot(blob.v_px - place.v_px) < reach)
            .filter(|blob| !blob.at_border && blob.area_px2 < reach * reach)
            .max_by(|a, b| a.area_px2.total_cmp(&b.area_px2));
        let piece = largest.map_or(*place, Place::from);
        Some(self.doubted(&piece))
    }

    /// A piece's place, doubted by what is missing of the mark.
    fn doubted(&self, place: &Place) -> Place {
        let size = self.whole.size_at(self.whole.way((place.u_px, place.v_px)));
        let missing = (1.0 - place.area_px2 / (size * size)).clamp(0.0, 1.0);
        if missing <= 1.0 - WHOLE_SHARE {
            return *place;
        }
        let bias_px2 = (missing * size).powi(2) / std::f64::consts::PI;
        Place {
            var_u_px2: place.var_u_px2 + bias_px2,
            var_v_px2: place.var_v_px2 + bias_px2,
            area_px2: size * size,
            contrast: self.usual_contrast(place).max(place.contrast),
            ..*place
        }
    }

    fn usual_contrast(&self, place: &Place) -> f64 {
        let way = self.whole.way((place.u_px, place.v_px));
        self.whole
            .outline_at(way)
            .map_or(0.0, |(_, contrast)| contrast)
    }

    /// Where the whole mark is, by the rims of all its pieces near a place.
    fn by_rim(&self, frame: usize, near: (f64, f64)) -> Option<Place> {
        let (outline, contrast) = self.whole.outline_at(self.whole.way(near))?;
        if outline.half_axis_px() < LEAST_HALF_AXIS_PX {
            return None;
        }
        let reach = PIECE_REACH * outline.half_axis_px();
        let mut pieces: Vec<(&Blob, &Rim)> = patches(self.seen, frame, self.slot)
            .filter(|(blob, _)| (blob.u_px - near.0).hypot(blob.v_px - near.1) < reach)
            .filter(|(blob, _)| !blob.at_border)
            .collect();
        pieces.sort_by(|a, b| b.0.area_px2.total_cmp(&a.0.area_px2));
        let (main, _) = pieces.first()?;
        let rims: Vec<&Rim> = pieces.iter().map(|(_, rim)| *rim).collect();
        let laid = lay(&outline, (main.u_px, main.v_px), &rims)?;
        let size = self.whole.size_at(self.whole.way(laid.at));
        let (du, dv) = (laid.at.0 - main.u_px, laid.at.1 - main.v_px);
        let least = (RIM_SHARE * outline.half_axis_px()).powi(2);
        Some(Place {
            u_px: laid.at.0,
            v_px: laid.at.1,
            var_u_px2: laid.var_px2.0 + least,
            var_v_px2: laid.var_px2.1 + least,
            area_px2: size * size,
            contrast,
            row_frac: main.row_frac + du * self.row_slope.0 + dv * self.row_slope.1,
            fitted: true,
        })
    }

    /// Whether a mark is as good as at rest about a frame.
    fn rests(&self, places: &Places, frame: usize) -> bool {
        let observation = |f: usize| places.get(f).copied().flatten().map(|p| (f, p));
        let before = (0..frame)
            .rev()
            .take(PACE_OBSERVATIONS)
            .find_map(observation);
        let after = (frame + 1..frame + 1 + PACE_OBSERVATIONS).find_map(observation);
        let here = observation(frame);
        let pairs = [(before, here), (here, after)];
        pairs.iter().all(|pair| {
            let (Some((f0, a)), Some((f1, b))) = pair else {
                return true;
            };
            let size = self.whole.size_at(self.whole.way((a.u_px, a.v_px)));
            let went = (b.u_px - a.u_px).hypot(b.v_px - a.v_px);
            went < REST_SIZES * size * (f1 - f0) as f64
        })
    }

    /// Frames between observations in which only pieces are in sight, where an observation beside them is of a piece.
    fn fill_gaps(&self, places: &mut Places, pieces: &[usize]) {
        let known: Vec<usize> = (0..places.len()).filter(|f| places[*f].is_some()).collect();
        for pair in known.windows(2) {
            let (Some(a), Some(b)) = (places[pair[0]], places[pair[1]]) else {
                continue;
            };
            if !pair.iter().any(|frame| pieces.contains(frame)) {
                continue;
            }
            let between = places
                .iter_mut()
                .enumerate()
                .take(pair[1])
                .skip(pair[0] + 1);
            for (frame, entry) in between {
                let share = (frame - pair[0]) as f64 / (pair[1] - pair[0]) as f64;
                let near = (
                    a.u_px + share * (b.u_px - a.u_px),
                    a.v_px + share * (b.v_px - a.v_px),
                );
                *entry = self.found_near(frame, near, false);
            }
        }
    }

    /// What is left of the mark about where it is expected: the mark, or else a piece of it.
    fn found_near(&self, frame: usize, expected: (f64, f64), resting: bool) -> Option<Place> {
        let size = self.whole.size_at(self.whole.way(expected));
        let off = |u: f64, v: f64| (u - expected.0).hypot(v - expected.1);
        let near = |place: &Place| off(place.u_px, place.v_px) < 0.5 * size;
        if let Some(found) = self.by_rim(frame, expected).filter(near) {
            return Some(found);
        }
        if !resting {
            return None;
        }
        let (piece, _) = patches(self.seen, frame, self.slot)
            .filter(|(blob, _)| !blob.at_border && blob.area_px2 < size * size)
            .min_by(|a, b| off(a.0.u_px, a.0.v_px).total_cmp(&off(b.0.u_px, b.0.v_px)))?;
        let place = Place::from(piece);
        near(&place).then(|| self.doubted(&place))
    }

    /// Frames before the first observation in which pieces are in sight.
    fn follow_back(&self, places: &mut Places) {
        let mut near: Vec<(usize, Place)> = places
            .iter()
            .enumerate()
            .filter_map(|(frame, place)| place.map(|place| (frame, place)))
            .take(PACE_OBSERVATIONS)
            .collect();
        let Some(first) = near.first().map(|(frame, _)| *frame) else {
            return;
        };
        let mut missed = 0;
        for frame in (0..first).rev() {
            let Some(expected) = ahead(&near, frame) else {
                return;
            };
            let (to, place) = near[0];
            let size = self.whole.size_at(self.whole.way((place.u_px, place.v_px)));
            let went = (expected.0 - place.u_px).hypot(expected.1 - place.v_px);
            // Before it set off the car stood: what is seen of the mark then stays where it is.
            let resting = went < 3.0 * REST_SIZES * size * (to - frame) as f64;
            if let Some(found) = self.found_near(frame, expected, resting) {
                places[frame] = Some(found);
                near.insert(0, (frame, found));
                near.truncate(PACE_OBSERVATIONS);
                missed = 0;
            } else {
                missed += 1;
            }
            if missed > MAX_SKIP {
                return;
            }
        }
    }
}

/// Where a mark is expected at a frame, at the pace of the observations nearest to it, the nearest first.
fn ahead(near: &[(usize, Place)], frame: usize) -> Option<(f64, f64)> {
    let ((f0, a), (f1, b)) = (near.first()?, near.last()?);
    let steps = *f1 as f64 - *f0 as f64;
    let on = frame as f64 - *f0 as f64;
    let pace = |a: f64, b: f64| if steps == 0.0 { 0.0 } else { (b - a) / steps };
    Some((
        a.u_px + on * pace(a.u_px, b.u_px),
        a.v_px + on * pace(a.v_px, b.v_px),
    ))
}

/// How the sensor's row changes along the picture's sides: a picture is turned by quarters only.
fn row_slope(seen: &Sightings, places: &Places) -> (f64, f64) {
    let (across, down) = (1.0 / seen.width_px, 1.0 / seen.height_px);
    let observations: Vec<&Place> = places.iter().flatten().collect();
    let off = |slope: &(f64, f64)| -> f64 {
        let steps = observations.windows(2).map(|pair| {
            let (du, dv) = (pair[1].u_px - pair[0].u_px, pair[1].v_px - pair[0].v_px);
            (pair[1].row_frac - pair[0].row_frac - du * slope.0 - dv * slope.1).abs()
        });
        steps.sum()
    };
    [(0.0, down), (0.0, -down), (across, 0.0), (-across, 0.0)]
        .into_iter()
        .min_by(|a, b| off(a).total_cmp(&off(b)))
        .unwrap_or_default()
}
