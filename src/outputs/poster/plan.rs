//! Which frames make a poster: those that show the car at equal time steps, and some more for what lies behind it.

use super::PosterReason;
use super::zone::Zone;
use crate::outputs::Story;
use crate::outputs::film::nearest;
use nalgebra::Vector2;
use std::collections::BTreeMap;
use std::ops::Range;

/// Most and fewest pictures of the car. More than these stand in each other's way on paper.
const MOST: usize = 9;
const FEWEST: usize = 3;
/// Neighbours stand apart by at least this share of the car's length in the picture, ...
const APART: f64 = 0.62;
/// ... but for the first two: a car that spins on the spot hardly moves at first.
const APART_AT_FIRST: f64 = 0.36;
/// A car that moved by less than this, in its own lengths, did not drive: two pictures of it would look like one.
const LEAST_WAY: f64 = 0.2;
/// Frames that are held at once: with fewer, chance passes for the background.
const STACK: usize = 11;

/// One picture of the car.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Moment {
    /// Frame.
    pub(crate) frame: usize,
    /// Real time since the first of them, s; `None` where the clip's clock cannot be believed.
    pub(crate) since_s: Option<f64>,
}

/// The frames of a poster.
#[derive(Debug, Clone)]
pub(super) struct Plan {
    /// The car, in order of time.
    pub(super) moments: Vec<Moment>,
    /// From one to the next, s; `None` where the clip's clock cannot be believed.
    pub(super) step_s: Option<f64>,
    /// Pictures that were left out of that order because the edge of the frame cuts the car.
    pub(super) cut: usize,
    /// Where each frame that is looked at shows the car; `None` where it is out of view.
    pub(super) zones: BTreeMap<usize, Option<Zone>>,
}

/// Plans the poster of a run.
pub(super) fn plan(story: &Story<'_>, stretch: &Range<usize>) -> Result<Plan, PosterReason> {
    let track = story.track;
    let unfollowed = |view: &crate::camera::View| view.moving.is_none();
    let moves = !track.floor_paths.is_empty();
    if moves && story.measured.as_ref().map_or(true, |m| unfollowed(m.view)) {
        return Err(PosterReason::CameraUnfollowed);
    }
    let (first, last) = span(story).ok_or(PosterReason::CarUnplaced)?;
    let chosen = equal_steps(story, first, last).ok_or(PosterReason::HardlyMoved)?;
    let (chosen, cut) = without_cut(story, chosen);
    let begun_s = track.times_s.get(first).copied().unwrap_or_default();
    let timed = story.clock_doubt.is_none();
    let since = |frame: usize| timed.then(|| track.times_s[frame] - begun_s);
    let moments: Vec<Moment> = (chosen.iter())
        .map(|&frame| Moment {
            frame,
            since_s: since(frame),
        })
        .collect();
    let whole_s = since(last);
    let step_s = whole_s.map(|whole| whole / (moments.len() + cut - 1).max(1) as f64);
    Ok(Plan {
        zones: stack(story, stretch, &chosen),
        moments,
        step_s,
        cut,
    })
}

/// First and last frame of the run that show the whole car, from its release on.
fn span(story: &Story<'_>) -> Option<(usize, usize)> {
    let track = story.track;
    let (first, last) = track.in_view;
    let last = last.min(track.times_s.len().checked_sub(1)?);
    let pull = story.measured.as_ref().ok().map(|m| m.findings.pull);
    let release = pull.and_then(|pull| pull.release_s);
    let begin = release.map_or(first, |release_s| nearest(story, release_s).max(first));
    // A car that stands again would be shown in one place many times.
    let stopped = pull.and_then(|pull| pull.stopped_s);
    let end = stopped.map_or(last, |stopped_s| nearest(story, stopped_s).min(last));
    let shows = |whole: bool| {
        move |frame: &usize| {
            Zone::of(story, *frame)
                .is_some_and(|zone| !whole || zone.whole_in(track.width_px, track.height_px))
        }
    };
    [true, false].into_iter().find_map(|whole| {
        let from = (begin..=end).find(shows(whole))?;
        let to = (begin..=end).rev().find(shows(whole))?;
        (to > from + 1).then_some((from, to))
    })
}

/// As many frames at equal time steps as leave the cars apart; `None` where the car hardly moved.
fn equal_steps(story: &Story<'_>, first: usize, last: usize) -> Option<Vec<usize>> {
    let times = &story.track.times_s;
    let (from_s, to_s) = (*times.get(first)?, *times.get(last)?);
    // Pictures of a camera that moved are compared as one of them, in the middle of the run, would see them.
    let middle_s = f64::midpoint(from_s, to_s);
    let view = story.measured.as_ref().ok().map(|m| m.view);
    let through = view.filter(|view| view.moving.is_some());
    let through = through.and_then(|view| view.at(middle_s));
    let zone = |frame: usize| match &through {
        Some(projection) => Zone::through(story, frame, projection),
        None => Zone::of(story, frame),
    };
    let steps = |count: usize| -> Option<Vec<(usize, Zone)>> {
        (0..count)
            .map(|number| {
                let share = number as f64 / (count - 1) as f64;
                let frame = nearest(story, from_s + share * (to_s - from_s));
                Some((frame, zone(frame)?))
            })
            .collect()
    };
    let apart = |seen: &[(usize, Zone)]| {
        seen.windows(2).enumerate().all(|(number, pair)| {
            let least = if number == 0 { APART_AT_FIRST } else { APART };
            lengths_between(&pair[0].1, &pair[1].1) >= least
        })
    };
    let frames = |seen: Vec<(usize, Zone)>| seen.into_iter().map(|(frame, _)| frame).collect();
    let most = MOST.min(last - first + 1);
    for count in (FEWEST..=most).rev() {
        match steps(count) {
            Some(seen) if apart(&seen) => return Some(frames(seen)),
            _ => {}
        }
    }
    // Two pictures are better than none, if the second is another.
    let ends = steps(2)?;
    (lengths_between(&ends[0].1, &ends[1].1) >= LEAST_WAY).then(|| frames(ends))
}

/// Leaves out pictures that the edge of the frame cuts, as a hand that pans too slowly makes them, where two others
/// stay; and how many.
fn without_cut(story: &Story<'_>, chosen: Vec<usize>) -> (Vec<usize>, usize) {
    let track = story.track;
    let whole = |frame: &usize| {
        Zone::of(story, *frame).is_some_and(|zone| zone.whole_in(track.width_px, track.height_px))
    };
    let kept: Vec<usize> = chosen.iter().copied().filter(whole).collect();
    let cut = chosen.len() - kept.len();
    if kept.len() < 2 {
        (chosen, 0)
    } else {
        (kept, cut)
    }
}

/// How far two pictures of the car are apart, in lengths of the car along that way.
fn lengths_between(one: &Zone, other: &Zone) -> f64 {
    let way: Vector2<f64> = other.car.middle() - one.car.middle();
    let along = way.try_normalize(1e-9).unwrap_or_else(Vector2::x);
    let length = f64::midpoint(one.car.reach(along), other.car.reach(along));
    way.norm() / length.max(1.0)
}

/// The chosen frames, and more spread over the stretch in which the run is, so that what is behind the car is seen often enough.
fn stack(
    story: &Story<'_>,
    stretch: &Range<usize>,
    chosen: &[usize],
) -> BTreeMap<usize, Option<Zone>> {
    let (first, last) = story.track.in_view;
    let mut out: BTreeMap<usize, Option<Zone>> = BTreeMap::new();
    for &frame in chosen {
        out.insert(frame, Zone::of(story, frame));
    }
    let more = STACK.saturating_sub(out.len());
    for number in 0..more {
        let along = stretch.len() * (2 * number + 1) / (2 * more);
        let frame = (stretch.start + along).min(stretch.end.saturating_sub(1));
        let out_of_view = frame < first || frame > last;
        let zone = Zone::of(story, frame);
        if out_of_view || zone.is_some() {
            out.entry(frame).or_insert(zone.filter(|_| !out_of_view));
        }
    }
    out
}
