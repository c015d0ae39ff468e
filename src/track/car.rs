//! Which chain of blobs is the car.
//!
//! A car rests, then drives away with a wheel mark that goes round beside it. Each chain of the
//! sticker's colour gets a score from how long it was seen, how fast it moved for its size, whether it
//! rested first, whether it looks like a disc, and whether something circles with it. A chain that comes
//! near the best one's score is a rival: then nothing but a person's pointing finger can tell.

use super::link::{Tracklet, median};
use super::wheel::{WheelPatches, follow_wheel};
use super::{FollowError, Hint, Lead, TrackNote};
use crate::noise::quantile;
use crate::sighting::Sightings;

/// The chain taken for the sticker, and what to say about the choice.
pub(super) struct Chosen<'a> {
    pub(super) tracklet: &'a Tracklet,
    pub(super) notes: Vec<TrackNote>,
}

/// A chain has moved when it travelled farther than this many times its own size, and this far, px.
pub const MOVED_SIZES: f64 = 1.5;
/// See [`MOVED_SIZES`].
pub const MOVED_PX: f64 = 12.0;
/// A pointed place belongs to a chain that passes within this many sizes.
const POINTED_SIZES: f64 = 1.5;
/// Shorter chains are not followed.
const MIN_STEPS: usize = 6;
/// The circle of the wheel mark is searched beside this many chains, the likeliest before it.
const MAX_CIRCLES: usize = 6;
/// Something that goes round beside a chain in fewer than the first share of its frames is chance, in
/// more than the second a wheel mark.
const CIRCLE_SHARES: (f64, f64) = (0.10, 0.35);
/// A chain that comes nearer to the best one than this cannot be told from it. Common practice, no
/// source.
const RIVAL_SHARE: f64 = 0.5;
/// ... but a much stronger patch on the same car may come less near: an arm across a sticker leaves pieces of it, seen
/// for a part of the run.
const STRONGER_SHARE: f64 = 0.15;
/// A part of the same car: this near, in sticker sizes, and fainter than this share.
const RIDER_SIZES: f64 = 9.0;
const RIDER_CONTRAST: f64 = 0.6;
/// The middles of two tracklets of one mark are nearer to each other than its diameter, 1.13 sizes (roots of
/// its area); those of two marks are farther apart.
const PIECE_SIZES: f64 = 1.0;
/// Pace is measured over this many frames.
const PACE_FRAMES: usize = 8;
/// A chain rests first when it stays within this many px for this many observations.
const REST_PX: f64 = 1.5;
const REST_OBSERVATIONS: usize = 5;

/// A chain with what speaks for it.
struct Scored<'a> {
    tracklet: &'a Tracklet,
    /// The same without the camera's own movement.
    steady: Tracklet,
    /// Manner: seen long, rested first, like a disc, circled by a wheel mark, pointed at.
    manner: f64,
    /// How far it went, in its own sizes.
    travel: f64,
    /// Its fastest pace, in its own sizes a frame.
    pace: f64,
}

impl Scored<'_> {
    fn score(&self) -> f64 {
        self.manner * (self.travel * self.pace).sqrt()
    }

    /// How near this chain comes to a better one. One that went nearly as far, or nearly as fast, may
    /// be the car: a hand can push as fast as a spring, or farther.
    fn nearness(&self, best: &Self) -> f64 {
        let ratio = |own: f64, other: f64| own / other.max(1e-9);
        let extent = ratio(self.travel, best.travel).max(ratio(self.pace, best.pace));
        ratio(self.manner, best.manner) * extent
    }
}

/// Picks the chain that behaves like a car: seen long, at rest then away, a wheel mark in company. `shift` is
/// how far the camera's own movement has shifted the picture by each frame.
pub(super) fn choose<'a>(
    seen: &Sightings,
    chains: &'a [Tracklet],
    shift: &[(f64, f64)],
    wheel: Option<&WheelPatches<'_>>,
    hint: Option<Hint>,
) -> Result<Chosen<'a>, FollowError> {
    let mut scored: Vec<Scored<'_>> = chains
        .iter()
        .filter(|chain| chain.steps.len() >= MIN_STEPS)
        .map(|tracklet| {
            let steady = tracklet.steadied(shift);
            Scored {
                tracklet,
                manner: manner(&steady) * pointed(seen, tracklet, hint),
                travel: steady.travel_px() / tracklet.area_px2().sqrt().max(1.0),
                pace: best_pace(&steady),
                steady,
            }
        })
        .collect();
    sort(&mut scored);
    if let Some(patches) = wheel {
        for (rank, chain) in scored.iter_mut().enumerate() {
            let observation = rank < MAX_CIRCLES && moved(&chain.steady);
            let share = if observation {
                follow_wheel(patches, &chain.tracklet.places(seen.frames.len())).share
            } else {
                0.0
            };
            let circled = (share - CIRCLE_SHARES.0) / (CIRCLE_SHARES.1 - CIRCLE_SHARES.0);
            chain.manner *= 0.1 + 0.9 * circled.clamp(0.0, 1.0);
        }
        sort(&mut scored);
    }
    decide(seen, &scored)
}

/// The first of the chains, unless another could as well be the car.
fn decide<'a>(seen: &Sightings, scored: &[Scored<'a>]) -> Result<Chosen<'a>, FollowError> {
    let best = strongest_of_its_car(scored).ok_or(FollowError::Nothing)?;
    if !moved(&best.steady) {
        return Ok(Chosen {
            tracklet: best.tracklet,
            notes: vec![TrackNote::StickerStill],
        });
    }
    let others: Vec<&Scored<'_>> = scored
        .iter()
        .filter(|other| !std::ptr::eq(other.tracklet, best.tracklet) && moved(&other.steady))
        .filter(|other| !is_same_thing(best.tracklet, other.tracklet))
        .collect();
    let rivals = others
        .iter()
        .filter(|other| other.nearness(best) > RIVAL_SHARE);
    let mut leads: Vec<Lead> = rivals.filter_map(|r| lead(seen, r.tracklet)).collect();
    if !leads.is_empty() {
        leads.splice(0..0, lead(seen, best.tracklet));
        return Err(FollowError::Several { leads });
    }
    let mut notes = Vec::new();
    if !others.is_empty() {
        let others = others.len();
        notes.push(TrackNote::SeveralMoving { others });
    }
    Ok(Chosen {
        tracklet: best.tracklet,
        notes,
    })
}

/// The first of the chains, or that of a much stronger patch on the same car: wood in warm light passes for a
/// faint orange, and goes where the sticker goes.
fn strongest_of_its_car<'b, 'a>(scored: &'b [Scored<'a>]) -> Option<&'b Scored<'a>> {
    let first = scored.first()?;
    let carries = |other: &&Scored<'_>| {
        moved(&other.steady)
            && other.nearness(first) > STRONGER_SHARE
            && rides_on(other.tracklet, first.tracklet)
    };
    Some(scored[1..].iter().find(carries).unwrap_or(first))
}

fn sort(scored: &mut [Scored<'_>]) {
    scored.sort_by(|a, b| b.score().total_cmp(&a.score()));
}

fn moved(chain: &Tracklet) -> bool {
    let least_px = (MOVED_SIZES * chain.area_px2().sqrt()).max(MOVED_PX);
    chain.travel_px() > least_px && strides_px(chain) > least_px
}

/// A step goes on where one beside it goes at least this share of it the same way.
const GOES_ON: f64 = 0.02;

/// The way that a chain goes in steps that go on. Grains of a floor, of which now this one and now that one passes for the
/// mark, give leaps between places that stand still.
fn strides_px(chain: &Tracklet) -> f64 {
    let steps: Vec<(f64, f64)> = (chain.steps.windows(2))
        .map(|pair| {
            let [(_, a), (_, b)] = pair else {
                return (0.0, 0.0);
            };
            (b.u_px - a.u_px, b.v_px - a.v_px)
        })
        .collect();
    let along = |a: &(f64, f64), b: &(f64, f64)| a.0 * b.0 + a.1 * b.1;
    let goes_on = |at: usize| {
        let least = GOES_ON * along(&steps[at], &steps[at]);
        let before = at.checked_sub(1).map(|before| &steps[before]);
        let beside = before.into_iter().chain(steps.get(at + 1));
        beside
            .into_iter()
            .any(|other| along(&steps[at], other) > least)
    };
    let strides = (0..steps.len()).filter(|at| goes_on(*at));
    strides.map(|at| steps[at].0.hypot(steps[at].1)).sum()
}

/// How much the manner of a chain is that of a sticker on a car that drives away.
fn manner(chain: &Tracklet) -> f64 {
    let frames = chain.steps.len() as f64;
    if !moved(chain) {
        return 0.01 * frames.sqrt();
    }
    let fitted = chain.steps.iter().filter(|(_, p)| p.fitted).count() as f64 / frames;
    let rested = if rests_first(chain) { 1.0 } else { 0.7 };
    // A car may leave the view early: being seen twice as long does not settle it.
    frames.sqrt() * rested * (0.3 + 0.7 * fitted)
}

/// Fastest pace over a few frames, in its own sizes a frame: a second car that is nearer or farther is
/// measured by its own sticker.
fn best_pace(chain: &Tracklet) -> f64 {
    let size = chain.area_px2().sqrt().max(1.0);
    let window = PACE_FRAMES.min(chain.steps.len() - 1);
    let paces = chain.steps.iter().zip(&chain.steps[window..]);
    paces
        .map(|((f0, a), (f1, b))| {
            super::link::distance(a, b) / chain.beats_between(*f0, *f1).max(1.0) / size
        })
        .fold(0.0, f64::max)
}

fn rests_first(chain: &Tracklet) -> bool {
    let Some((_, start)) = chain.steps.first() else {
        return false;
    };
    let mut first = chain.steps.iter().take(REST_OBSERVATIONS);
    chain.steps.len() > REST_OBSERVATIONS
        && first.all(|(_, p)| super::link::distance(start, p) < REST_PX)
}

/// Whether two chains may be parts of one car: never in view together, or one a faint patch that keeps
/// its place beside the other.
fn is_same_thing(best: &Tracklet, other: &Tracklet) -> bool {
    together(best, other).map_or_else(
        || apart_in_time(best, other),
        |beside| beside.inside || (beside.near && beside.contrast < RIDER_CONTRAST),
    )
}

/// Whether `other` is a faint patch that keeps its place beside `tracklet`.
fn rides_on(tracklet: &Tracklet, other: &Tracklet) -> bool {
    together(tracklet, other).is_some_and(|beside| beside.near && beside.contrast < RIDER_CONTRAST)
}

/// Root of the area of a chain's large observations: small ones may be of tracklets.
fn whole_size(chain: &Tracklet) -> f64 {
    let sizes = chain.steps.iter().map(|(_, p)| p.area_px2.sqrt());
    quantile(sizes, (9, 10)).unwrap_or(0.0)
}

/// A chain beside another.
struct Beside {
    /// Whether it was near in most frames that show both.
    near: bool,
    /// Whether it lay within the other's whole outline: a tracklet of it, cut off by an arm or a string.
    inside: bool,
    /// Its contrast as a share of the other's.
    contrast: f64,
}

/// How `other` goes beside `best`; `None` where too few frames show both.
fn together(best: &Tracklet, other: &Tracklet) -> Option<Beside> {
    let mut offsets = Vec::new();
    let mut contrasts = Vec::new();
    let whole = whole_size(best).max(whole_size(other));
    let mut rest = best.steps.iter().peekable();
    for (frame, place) in &other.steps {
        while rest.next_if(|(f, _)| f < frame).is_some() {}
        if let Some((_, own)) = rest.next_if(|(f, _)| f == frame) {
            // The whole of a cut mark is no smaller than its tracklets together.
            let size = (own.area_px2 + place.area_px2).sqrt().max(whole);
            offsets.push((
                (place.u_px - own.u_px) / size,
                (place.v_px - own.v_px) / size,
            ));
            contrasts.push(place.contrast / own.contrast.max(1.0));
        }
    }
    let mostly = |within: f64| {
        let near = offsets.iter().filter(|(u, v)| u.hypot(*v) < within).count();
        !offsets.is_empty() && near * 10 > offsets.len() * 8
    };
    let inside = mostly(PIECE_SIZES);
    if offsets.len() < MIN_STEPS && !inside {
        return None;
    }
    Some(Beside {
        near: mostly(RIDER_SIZES),
        inside,
        contrast: median(contrasts),
    })
}

/// A chain that begins where and when the other ends may be the same thing seen again.
fn apart_in_time(a: &Tracklet, b: &Tracklet) -> bool {
    let ((a0, a1), (b0, b1)) = (a.span(), b.span());
    b0 >= a1 || a0 >= b1
}

fn pointed(seen: &Sightings, chain: &Tracklet, hint: Option<Hint>) -> f64 {
    match hint {
        Some(hint) if passes(seen, chain, hint) => POINTED_FACTOR,
        _ => 1.0,
    }
}

/// A pointing finger outweighs all the rest.
const POINTED_FACTOR: f64 = 1e4;

fn passes(seen: &Sightings, chain: &Tracklet, hint: Hint) -> bool {
    let reach = POINTED_SIZES * chain.area_px2().sqrt().max(8.0);
    chain.steps.iter().any(|(frame, place)| {
        let near = (place.u_px - hint.u_px).hypot(place.v_px - hint.v_px) < reach;
        let then = hint
            .at_s
            .is_none_or(|at| (seen.frames[*frame].time_s - at).abs() < 0.1);
        near && then
    })
}

/// Where a person may point at a chain: its first observation.
fn lead(seen: &Sightings, chain: &Tracklet) -> Option<Lead> {
    let (frame, place) = chain.steps.first()?;
    Some(Lead {
        u_px: place.u_px,
        v_px: place.v_px,
        time_s: seen.frames[*frame].time_s,
    })
}

#[cfg(test)]
mod tests;
