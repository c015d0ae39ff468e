//! Whether the sticker was lost on its way, before it left the picture.

use super::{Place, Places};
use crate::sighting::Sightings;

/// Observations over which the pace at the end is taken.
const PACE_OBSERVATIONS: usize = 6;
/// A mark that goes less than this a frame, in its sizes, may have stopped.
const SLOW_SIZES: f64 = 0.04;
/// A mark nearer to the border than this, in its sizes, may leave the picture any moment.
const BORDER_SIZES: f64 = 1.5;
/// Frames after the last observation; fewer say nothing, since the pace at a border is not the pace before it.
const LEAST_FRAMES: usize = 4;

/// The frame of the last observation, where the mark was on its way and well inside the picture, and the clip goes
/// on without it.
pub(super) fn lost_at(seen: &Sightings, places: &Places) -> Option<usize> {
    let observations: Vec<(usize, &Place)> = places
        .iter()
        .enumerate()
        .filter_map(|(frame, place)| Some((frame, place.as_ref()?)))
        .collect();
    let (last, end) = *observations.last()?;
    let (first, start) = observations[observations.len().saturating_sub(PACE_OBSERVATIONS)];
    if last + LEAST_FRAMES >= places.len() || last == first {
        return None;
    }
    let frames = (last - first) as f64;
    let pace = (
        (end.u_px - start.u_px) / frames,
        (end.v_px - start.v_px) / frames,
    );
    let size = end.area_px2.sqrt();
    let inside = |at: f64, most: f64| at > BORDER_SIZES * size && at < most - BORDER_SIZES * size;
    let soon = LEAST_FRAMES as f64;
    let (u, v) = (end.u_px + soon * pace.0, end.v_px + soon * pace.1);
    let on_its_way = pace.0.hypot(pace.1) > SLOW_SIZES * size;
    (on_its_way && inside(u, seen.width_px) && inside(v, seen.height_px)).then_some(last)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn clip(places: &Places) -> Sightings {
        Sightings {
            width_px: 640.0,
            height_px: 360.0,
            colours: Vec::new(),
            frames: Vec::with_capacity(places.len()),
        }
    }

    fn run(until: usize, pace_px: f64) -> Places {
        let place = |frame: usize| Place::example(100.0 + pace_px * frame as f64, 180.0);
        (0..60)
            .map(|frame| (frame < until).then(|| place(frame)))
            .collect()
    }

    #[test]
    fn a_mark_that_ends_in_the_middle_of_its_way_is_lost() {
        let places = run(40, 5.0);
        assert_eq!(lost_at(&clip(&places), &places), Some(39));
    }

    #[test]
    fn one_that_stops_or_leaves_or_stays_to_the_end_is_not() {
        for (until, pace_px) in [(40, 0.1), (40, 13.0), (58, 5.0), (60, 5.0)] {
            let places = run(until, pace_px);
            assert_eq!(lost_at(&clip(&places), &places), None, "{until} {pace_px}");
        }
    }
}
