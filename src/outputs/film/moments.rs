//! Which moments of a run are worth a picture.

use crate::findings::{Key, Phase};
use crate::outputs::Story;
use crate::outputs::shown::show;
use crate::outputs::values::FrameValues;
use crate::outputs::wording::side;
use crate::texts::say;

/// A moment with its picture's caption.
#[derive(Debug, Clone, PartialEq)]
pub struct KeyMoment {
    /// Frame.
    pub frame: usize,
    /// What happens.
    pub caption: String,
}

/// Fewest and most pictures of a strip.
const FEWEST: usize = 4;
const MOST: usize = 6;
/// Two pictures nearer than this many frames show the same.
const APART: usize = 3;
/// Slip below this is not seen by eye.
const WORTH_SHOWING: f64 = 0.05;

/// Four to six moments in order of time: release, largest slip, end of the pull, end of the view, and
/// what lies between, of the frames from `first` to `last`. Fewer only where the car was in view for too few frames.
pub fn key_moments(
    story: &Story<'_>,
    values: &[FrameValues],
    (first, last): (usize, usize),
) -> Vec<KeyMoment> {
    let last = last.min(values.len().saturating_sub(1));
    if values.is_empty() || first > last {
        return Vec::new();
    }
    let texts = story.texts();
    let mut out: Vec<KeyMoment> = Vec::new();
    let mut add = |frame: usize, caption: String| {
        let near = out.iter().any(|m| m.frame.abs_diff(frame) < APART);
        if !near && out.len() < MOST && (first..=last).contains(&frame) {
            out.push(KeyMoment { frame, caption });
        }
    };
    if let (Some(frame), Some(slip)) = (worst_slip(values), largest_slip(story)) {
        add(frame, texts.with("moment-slip", "slip", &slip));
    }
    let pull = story.measured.as_ref().ok().map(|m| m.findings.pull);
    match pull.and_then(|p| p.release_s) {
        Some(release_s) => add(nearest(story, release_s), texts.text("moment-release")),
        None => add(first, texts.text("moment-first")),
    }
    if let Some(end_s) = pull.and_then(|p| p.end_s) {
        add(nearest(story, end_s), texts.text("moment-pull-ends"));
    }
    add(last, texts.text("moment-view-ends"));
    let away = farthest_off_line(values);
    if let Some((frame, off_m)) = away {
        let mm = texts.fixed(1000.0 * off_m.abs(), 0);
        let side = side(off_m > 0.0);
        add(frame, say!(texts, "moment-farthest", mm = mm, side = side));
    }
    for share in [0.5, 0.25, 0.75] {
        if out.len() < FEWEST + 1 {
            let frame = first + ((last - first) as f64 * share) as usize;
            let near = out.iter().any(|m| m.frame.abs_diff(frame) < APART);
            if !near {
                let caption = texts.text("moment-on-the-way");
                out.push(KeyMoment { frame, caption });
            }
        }
    }
    out.sort_by_key(|m| m.frame);
    out
}

/// The largest slip as the results state it: one frame's own value is larger by its noise.
fn largest_slip(story: &Story<'_>) -> Option<String> {
    let most = story.measured.as_ref().ok()?.result.get(Key::MaxSlip);
    show(story.texts(), Key::MaxSlip, &most)
        .ok()
        .map(|shown| shown.value)
}

fn worst_slip(values: &[FrameValues]) -> Option<usize> {
    values
        .iter()
        .enumerate()
        .filter(|(_, v)| v.phase == Some(Phase::Powered))
        .filter_map(|(frame, v)| Some((frame, v.slip?)))
        .filter(|(_, slip)| slip.value >= WORTH_SHOWING && slip.low > 0.0)
        .map(|(frame, slip)| (frame, slip.value))
        .max_by(|a, b| a.1.total_cmp(&b.1))
        .map(|(frame, _)| frame)
}

/// The frame farthest from the aim line, where that is surely off it.
fn farthest_off_line(values: &[FrameValues]) -> Option<(usize, f64)> {
    values
        .iter()
        .enumerate()
        .filter_map(|(frame, v)| Some((frame, v.deviation?)))
        .filter(|(_, d)| d.low > 0.0 || d.high < 0.0)
        .map(|(frame, d)| (frame, d.value))
        .max_by(|a, b| a.1.abs().total_cmp(&b.1.abs()))
}

/// The frame nearest to a time of the track.
pub fn nearest(story: &Story<'_>, time_s: f64) -> usize {
    let times = &story.track.times_s;
    (0..times.len())
        .min_by(|&a, &b| {
            let off = |frame: usize| (times[frame] - time_s).abs();
            off(a).total_cmp(&off(b))
        })
        .unwrap_or(0)
}
