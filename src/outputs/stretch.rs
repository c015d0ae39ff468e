//! The stretch of a clip in which the run is: what pictures and the annotated clip show of it.

use super::Story;
use crate::track::{Place, Places};
use std::ops::Range;

/// So much of what lies still before and after the run is shown with it, s.
const AROUND_S: f64 = 1.5;
/// A mark that is this far from where it lay has moved, px.
const MOVED_PX: f64 = 3.0;
/// ... when it is there for so many looks in a row.
const LOOKS: usize = 3;

/// Frames of the run with a little of the rest before and after it. All of them where the camera moves, which makes
/// everything move, and where no run was measured.
pub(super) fn run_stretch(story: &Story<'_>) -> Range<usize> {
    let track = story.track;
    let whole = 0..track.times_s.len();
    let still = |measures: &super::Measures<'_>| measures.view.moving.is_none();
    if !story.measured.as_ref().is_ok_and(still) {
        return whole;
    }
    let marks = [&track.sticker, &track.wheel];
    let moves = |backwards| marks.iter().filter_map(move |of| first_away(of, backwards));
    let (Some(begins), Some(ends)) = (moves(false).min(), moves(true).max()) else {
        return whole;
    };
    // The sticker may come into view or leave it at full speed.
    let (first_seen, last_seen) = track.in_view;
    let begins = if first_seen > 0 {
        begins.min(first_seen)
    } else {
        begins
    };
    let ends = if last_seen + 1 < whole.end {
        ends.max(last_seen)
    } else {
        ends
    };
    let (from_s, to_s) = (
        track.times_s[begins] - AROUND_S,
        track.times_s[ends] + AROUND_S,
    );
    let from = track.times_s.partition_point(|time_s| *time_s < from_s);
    let to = track.times_s.partition_point(|time_s| *time_s <= to_s);
    from.min(begins)..to.max(ends + 1)
}

/// The first frame in which a mark is away from where it was seen first; with `backwards` the last one in which it is
/// away from where it was seen last.
fn first_away(places: &Places, backwards: bool) -> Option<usize> {
    let mut seen: Vec<(usize, Place)> = (places.iter().enumerate())
        .filter_map(|(frame, place)| place.map(|place| (frame, place)))
        .collect();
    if backwards {
        seen.reverse();
    }
    let (_, rest) = *seen.first()?;
    let away =
        |of: &(usize, Place)| (of.1.u_px - rest.u_px).hypot(of.1.v_px - rest.v_px) > MOVED_PX;
    let moving = seen.windows(LOOKS).position(|looks| looks.iter().all(away));
    moving.map(|at| seen[at].0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_mark_has_moved_when_it_is_away_for_some_looks() {
        let place = |u_px: f64| Place {
            u_px,
            v_px: 20.0,
            var_u_px2: 0.01,
            var_v_px2: 0.01,
            area_px2: 100.0,
            contrast: 60.0,
            row_frac: 0.5,
            fitted: true,
        };
        // At rest for ten frames but for one odd look, on its way for five, then still for six; frame 12 unseen.
        let mut ways = vec![50.0; 10];
        ways[4] = 80.0;
        ways.extend([60.0, 80.0, 100.0, 120.0, 140.0]);
        ways.extend([150.0; 6]);
        let mut places: Places = ways.into_iter().map(|u_px| Some(place(u_px))).collect();
        places[12] = None;
        assert_eq!(first_away(&places, false), Some(10));
        assert_eq!(first_away(&places, true), Some(14));
        assert_eq!(first_away(&vec![Some(place(5.0)); 9], false), None);
        assert_eq!(first_away(&vec![None; 9], true), None);
    }
}
