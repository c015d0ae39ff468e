//! Which blob of the wheel mark's colour turns with the car.
//!
//! Places are taken relative to the sticker and in units of its size, so that a car that comes nearer
//! or moves away still has its wheel mark on one circle (`ring`). A best path (Viterbi) through the
//! candidates keeps to it.

use super::link::{Tracklet, link_tracklets, median};
use super::ring::{Observation, Ring, find_ring};
use super::{Place, Places, StillMark};
use crate::colour::Colour;
use crate::noise::quantile;
use crate::sighting::{Blob, Sightings};

/// A wheel mark seen in fewer frames than this is none.
pub const MIN_FRAMES: usize = 8;
/// The mark is within this many sticker sizes of the sticker.
const REACH_SIZES: f64 = 9.0;
/// Cost of saying that the mark is hidden in a frame.
const HIDDEN_COST: f64 = 4.0;
/// Cost of a look for every factor e that it is fainter than the strong ones.
const FAINT_COST: f64 = 2.0;
/// A patch that could not be fitted as a disc counts with this share of its contrast.
const UNFITTED_SHARE: f64 = 0.6;
/// Off the circle by this share of its radius costs 1.
const RING_SHARE: f64 = 0.35;

/// A patch that stays within this many px ...
const STILL_PX: f64 = 2.5;
/// ... while the sticker moves by this many of its sizes belongs to the room, not to the car.
const STILL_SIZES: f64 = 1.5;

/// A floor mark that something hides a part of keeps about this place, in its own sizes, ...
const FLOOR_SIZES: f64 = 0.25;
/// ... and size, as a logarithm.
const FLOOR_ALIKE: f64 = 0.25;

/// Frames of a rest that are looked at for the circle: the rest of them show it again.
const REST_FRAMES: usize = 12;
/// The sticker rests while it stays within this, in its sizes ...
const REST_STICKER_SIZES: f64 = 0.1;
/// ... and the wheel while each strong patch beside it does within this.
const REST_WHEEL_SIZES: f64 = 0.15;
/// A patch of at least this share of the strongest contrast may be the mark.
const STRONG_SHARE: f64 = 0.5;

/// All patches of the wheel mark's colour in a clip, for any sticker that they may go round with.
pub(super) struct WheelPatches<'a> {
    seen: &'a Sightings,
    slot: usize,
    tracklets: Vec<Tracklet>,
    /// What lies still in a floor mark's colour: colours that are near reach into each other.
    floor: &'a [StillMark],
}

#[derive(Debug, Clone, Copy)]
struct Candidate {
    place: Place,
    observation: Observation,
}

/// What goes round with a sticker.
pub(super) struct Circling {
    /// The mark's place in each frame.
    pub(super) places: Places,
    /// Share of the sticker's frames in which something is on one circle beside it, going round.
    pub(super) share: f64,
}

impl<'a> WheelPatches<'a> {
    /// `None` where the colour was not looked for.
    pub(super) fn new(seen: &'a Sightings, colour: Colour, floor: &'a [StillMark]) -> Option<Self> {
        let slot = seen.slot(colour)?;
        Some(Self {
            tracklets: link_tracklets(seen, slot),
            seen,
            slot,
            floor,
        })
    }

    /// The patches of a frame that may be the mark.
    fn of_frame(&self, frame: usize) -> impl Iterator<Item = &Blob> {
        self.seen.frames[frame]
            .blobs
            .get(self.slot)
            .into_iter()
            .flatten()
    }

    /// Whether a patch is one of the floor's: of its place, or of its size and about there.
    fn is_floor(&self, blob: &Blob) -> bool {
        self.floor.iter().any(|mark| {
            let off = (blob.u_px - mark.u_px).hypot(blob.v_px - mark.v_px);
            let alike = (blob.area_px2 / mark.area_px2).ln().abs() < FLOOR_ALIKE;
            off < STILL_PX || (alike && off < FLOOR_SIZES * mark.area_px2.sqrt())
        })
    }

    /// Places, by frame, of what stood still while the sticker moved on.
    fn standing(&self, sticker: &[Option<(f64, f64)>], size: f64) -> Vec<Vec<(f64, f64)>> {
        let mut out = vec![Vec::new(); sticker.len()];
        for tracklet in self.tracklets.iter().filter(|p| p.travel_px() < STILL_PX) {
            let mut along = tracklet
                .steps
                .iter()
                .filter_map(|(frame, _)| sticker[*frame]);
            let Some(from) = along.next() else { continue };
            let moved = along
                .map(|at| (at.0 - from.0).hypot(at.1 - from.1))
                .fold(0.0, f64::max);
            if moved > STILL_SIZES * size {
                for (frame, place) in &tracklet.steps {
                    out[*frame].push((place.u_px, place.v_px));
                }
            }
        }
        out
    }
}

/// The wheel mark's place in each frame, and how surely it goes round with the sticker.
pub(super) fn follow_wheel(patches: &WheelPatches<'_>, sticker: &Places) -> Circling {
    let mut candidates = candidates(patches, sticker);
    let telling = telling_frames(&candidates, sticker);
    weigh_faintness(&mut candidates, &telling);
    time_by(&telling, &mut candidates);
    let observations: Vec<Vec<Observation>> = candidates
        .iter()
        .map(|list| list.iter().map(|c| c.observation).collect())
        .collect();
    let of_ring: Vec<Vec<Observation>> = telling.iter().map(|f| observations[*f].clone()).collect();
    let ring = find_ring(&of_ring);
    let path = best_path(&observations, ring.as_ref());
    let places = candidates
        .iter()
        .zip(&path)
        .map(|(list, pick)| pick.map(|index| list[index].place))
        .collect();
    let frames = telling.iter().filter(|f| sticker[**f].is_some()).count();
    Circling {
        places,
        share: ring.map_or(0.0, |ring| ring.frames / frames.max(1) as f64),
    }
}

/// Frames that say something about the circle: all but those that repeat a rest. A rest of any length
/// before or after the run then changes nothing.
fn telling_frames(candidates: &[Vec<Candidate>], sticker: &Places) -> Vec<usize> {
    let size = median(
        sticker
            .iter()
            .flatten()
            .map(|p| p.area_px2.sqrt())
            .collect(),
    )
    .max(1.0);
    let at = bridged(sticker);
    let strongest = candidates.iter().flatten().map(|c| c.observation.faint);
    let strong = STRONG_SHARE * strongest.fold(0.0, f64::max);
    let marks = |frame: usize| {
        let all = candidates[frame].iter().map(|c| &c.observation);
        all.filter(|observation| observation.faint > strong)
    };
    let resting = |from: usize, frame: usize| {
        let (Some(a), Some(b)) = (at[from], at[frame]) else {
            return at[from].is_none() && at[frame].is_none();
        };
        let still = (a.0 - b.0).hypot(a.1 - b.1) < REST_STICKER_SIZES * size;
        still
            && marks(frame).all(|observation| {
                marks(from).any(|old| {
                    (observation.at.0 - old.at.0).hypot(observation.at.1 - old.at.1)
                        < REST_WHEEL_SIZES
                })
            })
    };
    let mut telling = Vec::new();
    let mut from = 0;
    for frame in 0..candidates.len() {
        if !resting(from, frame) {
            from = frame;
        }
        if frame - from < REST_FRAMES {
            telling.push(frame);
        }
    }
    telling
}

/// Sets each observation's moment by the telling frames: -1 at the first, 1 at the last.
fn time_by(telling: &[usize], candidates: &mut [Vec<Candidate>]) {
    let mut passed = 0;
    for (frame, list) in candidates.iter_mut().enumerate() {
        passed += usize::from(telling.get(passed).is_some_and(|next| *next < frame));
        let when = 2.0 * passed as f64 / telling.len().max(1) as f64 - 1.0;
        for candidate in list {
            candidate.observation.when = when;
        }
    }
}

/// Turns each candidate's contrast into the cost of being fainter than the clip's strong observations: the
/// mark is the strongest thing of its colour near the car, grey parts with a tint are not.
fn weigh_faintness(candidates: &mut [Vec<Candidate>], telling: &[usize]) {
    let of_frame = |frame: &usize| candidates[*frame].iter().map(|c| c.observation.faint);
    let Some(strong) = quantile(telling.iter().flat_map(of_frame), (3, 4)) else {
        return;
    };
    for candidate in candidates.iter_mut().flatten() {
        let observation = &mut candidate.observation;
        observation.faint = FAINT_COST * (strong / observation.faint.max(0.1)).ln().max(0.0);
    }
}

fn candidates(patches: &WheelPatches<'_>, sticker: &Places) -> Vec<Vec<Candidate>> {
    let sizes = steady_sizes(sticker);
    let bridged = bridged(sticker);
    let standing = patches.standing(&bridged, median(sizes.clone()));
    (0..patches.seen.frames.len())
        .map(|frame| {
            let Some((u, v)) = bridged[frame] else {
                return Vec::new();
            };
            let size = sizes[frame];
            patches
                .of_frame(frame)
                .filter(|blob| !blob.at_border)
                .filter(|blob| !patches.is_floor(blob))
                .filter(|blob| !standing[frame].contains(&(blob.u_px, blob.v_px)))
                .map(|blob| Candidate {
                    place: Place::from(blob),
                    observation: Observation {
                        when: 0.0,
                        at: ((blob.u_px - u) / size, (blob.v_px - v) / size),
                        size: blob.area_px2.sqrt() / size,
                        faint: blob.contrast * if blob.fitted { 1.0 } else { UNFITTED_SHARE },
                    },
                })
                .filter(|c| {
                    let apart = c.observation.at.0.hypot(c.observation.at.1);
                    apart < REACH_SIZES && apart > 0.3
                })
                .collect()
        })
        .collect()
}

/// Sticker size (root of its area) as a straight line of time: blur and noise change it from frame to
/// frame, distance only slowly.
fn steady_sizes(sticker: &Places) -> Vec<f64> {
    let window = 7;
    (0..sticker.len())
        .map(|frame| {
            let mut span = window;
            loop {
                let low = frame.saturating_sub(span);
                let high = (frame + span + 1).min(sticker.len());
                let near: Vec<f64> = sticker[low..high]
                    .iter()
                    .flatten()
                    .map(|p| p.area_px2.sqrt())
                    .collect();
                if !near.is_empty() || span > sticker.len() {
                    return median(near).max(1.0);
                }
                span *= 2;
            }
        })
        .collect()
}

/// Sticker places with gaps filled along straight lines; `None` before the first and after the last.
fn bridged(sticker: &Places) -> Vec<Option<(f64, f64)>> {
    let known: Vec<(usize, (f64, f64))> = sticker
        .iter()
        .enumerate()
        .filter_map(|(frame, place)| place.map(|p| (frame, (p.u_px, p.v_px))))
        .collect();
    let mut out = vec![None; sticker.len()];
    for pair in known.windows(2) {
        let ((f0, a), (f1, b)) = (pair[0], pair[1]);
        for (frame, entry) in out.iter_mut().enumerate().take(f1 + 1).skip(f0) {
            let share = (frame - f0) as f64 / (f1 - f0) as f64;
            *entry = Some((a.0 + share * (b.0 - a.0), a.1 + share * (b.1 - a.1)));
        }
    }
    out
}

fn best_path(observations: &[Vec<Observation>], ring: Option<&Ring>) -> Vec<Option<usize>> {
    // State `k < len` is look k of the frame, the last state is "hidden".
    let mut costs: Vec<Vec<f64>> = Vec::with_capacity(observations.len());
    let mut from: Vec<Vec<usize>> = Vec::with_capacity(observations.len());
    for (frame, list) in observations.iter().enumerate() {
        let states = list.len() + 1;
        let mut cost = vec![f64::INFINITY; states];
        let mut back = vec![0; states];
        for state in 0..states {
            let here = list.get(state);
            let own = here.map_or(HIDDEN_COST, |observation| own_cost(observation, ring));
            let Some(before) = frame.checked_sub(1) else {
                cost[state] = own;
                continue;
            };
            for (previous, &so_far) in costs[before].iter().enumerate() {
                let total = so_far + own + step_cost(observations[before].get(previous), here);
                if total < cost[state] {
                    (cost[state], back[state]) = (total, previous);
                }
            }
        }
        costs.push(cost);
        from.push(back);
    }
    trace_back(observations, &costs, &from)
}

fn trace_back(
    observations: &[Vec<Observation>],
    costs: &[Vec<f64>],
    from: &[Vec<usize>],
) -> Vec<Option<usize>> {
    let mut path = vec![None; observations.len()];
    let Some(last) = costs.last() else {
        return path;
    };
    let mut state = (0..last.len())
        .min_by(|&a, &b| last[a].total_cmp(&last[b]))
        .unwrap_or(0);
    for frame in (0..observations.len()).rev() {
        path[frame] = (state < observations[frame].len()).then_some(state);
        state = from[frame][state];
    }
    path
}

fn own_cost(observation: &Observation, ring: Option<&Ring>) -> f64 {
    let Some(ring) = ring else {
        return observation.faint + 0.1 * observation.at.0.hypot(observation.at.1);
    };
    let off = ring.off(observation) / RING_SHARE;
    let resized = (observation.size / ring.size).ln() / 0.4;
    observation.faint + off * off + resized * resized
}

/// A mark on a wheel may go anywhere on its circle within a frame, but rarely does: nearer is likelier.
fn step_cost(old: Option<&Observation>, new: Option<&Observation>) -> f64 {
    let (Some(old), Some(new)) = (old, new) else {
        return 0.0;
    };
    let apart = (old.at.0 - new.at.0).hypot(old.at.1 - new.at.1);
    (0.5 * apart * apart).min(3.0)
}
