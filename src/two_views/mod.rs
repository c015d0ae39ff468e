//! Two phones, one run: each quantity from the view that sees it best.
//!
//! The side view goes first: its frames and its clock are the result's. What both views know comes
//! from the one with the narrower interval, what one alone knows from that one. The start and the
//! extent of a view belong to that view, so times on a clip's clock and lengths "while in view" stay
//! with the side where it knows them.
//!
//! # How two clips become one result
//!
//! Each clip goes through all stages by itself. The offset of their clocks comes from the snap: the loudness of the
//! first channel, high-passed, in quarters of a millisecond; the steepest rise near the first motion (short over
//! long average); then the half height of the bang, less the sound's way from the start mark to the phone. First
//! motion in both pictures checks it, within 4 standard uncertainties, or stands in where there is no sound. Speeds
//! at the same moments must agree, else the clips are not joined. Then every quantity is taken from the view with
//! the narrower interval; times on a clip's clock and lengths while in view stay with the side. The deviation of a
//! side frame is read off the end view's course at the same moment, with the offset's uncertainty times the slope
//! added. Where the side saw the wheel spin and the end view does not show the wheel, the end view says where the
//! car went but not why: curvature, skew and first heading are then not observable. Sway locked to the wheel needs
//! wheel and sideways motion in one view: it is not joined. Nor does the end view mend a plain scale of the side
//! view.

mod align;
mod reason;
mod snap;

pub use align::{AlignedBy, Alignment, Moment, align};
pub use reason::{AlignmentNote, AlignmentReason, JoinReason, Missed, SnapReason};
pub use snap::{Snap, find_snap};

use crate::analysis::Analysis;
use crate::findings::{Effect, FrameFinding, Key};
use crate::noise::median;
use crate::uncertainty::{COVERAGE_FACTOR, FrameSpread, Quantity, QuantityReason, Result95};
use serde::Serialize;
use std::collections::BTreeMap;

/// Which phone a number came from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum ViewName {
    /// The first clip.
    Side,
    /// The second clip, from behind the start line or from above.
    End,
}

impl ViewName {
    /// The name used in the files.
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::Side => "side",
            Self::End => "end",
        }
    }
}

/// One view's analysis with its intervals.
#[derive(Debug, Clone, Copy)]
pub struct Viewed<'a> {
    /// What was found.
    pub analysis: &'a Analysis,
    /// The same with intervals.
    pub result: &'a Result95,
}

/// The result of two views.
#[derive(Debug, Clone, PartialEq)]
pub struct Joined {
    /// The quantities, on the side clip's frames.
    pub result: Result95,
    /// The side clip's frames, with the deviation from the view that sees it best.
    pub frames: Vec<FrameFinding>,
    /// Which view each known quantity came from.
    pub from: BTreeMap<Key, ViewName>,
    /// Which view the deviation of each frame came from, where one shows it.
    pub deviation_from: Option<ViewName>,
    /// Whether the speeds of the two clips could be compared to see that they show the same run.
    pub compared: bool,
}

/// Quantities that are told on the side clip's clock or over its extent where it knows them.
const SIDE_FIRST: [Key; 3] = [Key::ReleaseS, Key::DistanceM, Key::WheelTurns];
/// Speeds at the same moment that differ by more than this many standard uncertainties, and by more
/// than this share, are two runs'. A plain scale is good to a twentieth or so.
const OTHER_RUN_SDS: f64 = 4.0;
const OTHER_RUN_SHARE: f64 = 0.15;
/// Speeds below this are not compared, m/s.
const COMPARED_FROM_M_PER_S: f64 = 0.3;

/// Joins two views of one run.
///
/// # Errors
/// The reason where the two clips show different runs.
pub fn join(
    side: Viewed<'_>,
    end: Viewed<'_>,
    alignment: &Alignment,
) -> Result<Joined, JoinReason> {
    let same = same_run(side, end, alignment);
    let compared = same.is_some();
    same.unwrap_or(Ok(()))?;
    let mut from = BTreeMap::new();
    let mut result = side.result.clone();
    for key in Key::ALL {
        let (ours, theirs) = (side.result.get(key), end.result.get(key));
        let theirs = if key == Key::ReleaseS {
            on_side_clock(theirs, alignment)
        } else {
            theirs
        };
        let (name, chosen) = if SIDE_FIRST.contains(&key) {
            first_known(ours, theirs)
        } else {
            surer(ours, theirs)
        };
        if chosen.value().is_some() {
            from.insert(key, name);
        }
        result.values.insert(key, chosen);
    }
    budgets_of_their_views(end, &from, &mut result);
    if from.get(&Key::CurvaturePerM) == Some(&ViewName::End) {
        path_of(end, &mut result);
        if end.analysis.motion.wheel.is_err() {
            without_steering_where_spun(side.result, &mut from, &mut result);
        }
    }
    let mut frames = side.analysis.findings.frames.clone();
    let deviation_from =
        join_deviations(side, end, alignment, &mut frames, &mut result.frame_spread);
    Ok(Joined {
        result,
        frames,
        from,
        deviation_from,
        compared,
    })
}

/// What the path's shape says beside its quantities goes with the view that shows it.
fn path_of(end: Viewed<'_>, result: &mut Result95) {
    for effect in Effect::OF_THE_PATH {
        result.effects.insert(effect, end.result.effect(effect));
    }
    result.models = end.result.models;
    if result.value(Key::SpunAwayM).is_some() {
        // The side view saw the slip; where the wheel spun, nothing is said of the steering at all.
        result.models.curve_coasts_on = 1.0;
    }
}

fn budgets_of_their_views(end: Viewed<'_>, from: &BTreeMap<Key, ViewName>, result: &mut Result95) {
    for (key, _) in from.iter().filter(|(_, view)| **view == ViewName::End) {
        match end.result.budgets.get(key) {
            Some(shares) => result.budgets.insert(*key, shares.clone()),
            None => result.budgets.remove(key),
        };
    }
}

/// Travel spun away beyond this may have turned the car as well, m; what the verdict neglects.
const SPUN_M: f64 = 0.02;

/// What a path says of the car's steering and of how it was set down.
const STEERING: [Key; 3] = [Key::CurvaturePerM, Key::ImpliedSkewRad, Key::AimErrorRad];
const STEERING_EFFECTS: [Effect; 4] = [
    Effect::CurveOff,
    Effect::CurveOffAtStated,
    Effect::AimOff,
    Effect::AimOffAtStated,
];

/// A car that turns only while its wheel spins, one that steers itself and one that was set down askew
/// leave much the same path. A view without the wheel cannot tell them apart, so where the other view
/// saw it spin, the end view says where the car went but not why.
fn without_steering_where_spun(
    side: &Result95,
    from: &mut BTreeMap<Key, ViewName>,
    result: &mut Result95,
) {
    if side
        .get(Key::SpunAwayM)
        .low()
        .is_none_or(|low| low <= SPUN_M)
    {
        return;
    }
    let why = QuantityReason::SpunOutOfSight;
    for effect in STEERING_EFFECTS {
        result.effects.insert(effect, Quantity::not_observable(why));
    }
    for key in STEERING {
        from.remove(&key);
        result.budgets.remove(&key);
        result.values.insert(key, Quantity::not_observable(why));
    }
}

fn first_known(ours: Quantity, theirs: Quantity) -> (ViewName, Quantity) {
    if ours.value().is_some() || theirs.value().is_none() {
        (ViewName::Side, ours)
    } else {
        (ViewName::End, theirs)
    }
}

fn surer(ours: Quantity, theirs: Quantity) -> (ViewName, Quantity) {
    match (width(&ours), width(&theirs)) {
        (Some(a), Some(b)) if b < a => (ViewName::End, theirs),
        (None, Some(_)) => (ViewName::End, theirs),
        _ => (ViewName::Side, ours),
    }
}

fn width(quantity: &Quantity) -> Option<f64> {
    Some(quantity.high()? - quantity.low()?)
}

fn on_side_clock(time: Quantity, alignment: &Alignment) -> Quantity {
    let Quantity::Stated { value, low, high } = time else {
        return time;
    };
    let half = ((high - low) / 2.0).hypot(COVERAGE_FACTOR * alignment.offset_s.sd);
    let value = alignment.on_side_clock(value);
    Quantity::stated(value, value - half, value + half)
}

/// A speed or a deviation over time: (time, value, standard uncertainty).
type Course = Vec<(f64, f64, f64)>;

fn speeds(view: Viewed<'_>) -> Course {
    let scale_sd = view.result.scale_rel_sd;
    let states = view.analysis.motion.body.states.iter().enumerate();
    states
        .filter_map(|(frame, state)| {
            let state = state.as_ref().filter(|state| state.seen)?;
            let spread = view.result.frame_spread.get(frame).copied();
            let speed = state.speed_m_per_s();
            let sd = state
                .speed_sd_m_per_s()
                .hypot(spread.unwrap_or_default().speed_m_per_s)
                .hypot(speed * scale_sd);
            Some((state.time_s, speed, sd))
        })
        .collect()
}

fn deviations(view: Viewed<'_>) -> Course {
    let states = &view.analysis.motion.body.states;
    let frames = view.analysis.findings.frames.iter().zip(states).enumerate();
    frames
        .filter_map(|(index, (frame, state))| {
            let (value, sd) = frame.deviation?;
            let spread = view.result.frame_spread.get(index).copied();
            let sd = sd.hypot(spread.unwrap_or_default().deviation_m);
            Some((state.as_ref()?.time_s, value, sd))
        })
        .collect()
}

/// The value at a time, by a straight line between neighbours, and its slope; `None` outside.
fn at(course: &Course, time_s: f64) -> Option<(f64, f64, f64)> {
    let after = course.partition_point(|(t, _, _)| *t < time_s);
    let b = course.get(after)?;
    let Some(a) = after.checked_sub(1).and_then(|before| course.get(before)) else {
        return (b.0 == time_s).then_some((b.1, b.2, 0.0));
    };
    let share = (time_s - a.0) / (b.0 - a.0);
    let slope = (b.1 - a.1) / (b.0 - a.0);
    Some((a.1 + share * (b.1 - a.1), a.2.max(b.2), slope))
}

/// Whether the speeds at the same moments are one run's; `None` where they cannot be compared.
fn same_run(
    side: Viewed<'_>,
    end: Viewed<'_>,
    alignment: &Alignment,
) -> Option<Result<(), JoinReason>> {
    side.analysis.view.scale.as_ref().ok()?;
    end.analysis.view.scale.as_ref().ok()?;
    let theirs = speeds(end);
    let offset = alignment.offset_s;
    let mut apart: Vec<(f64, f64)> = speeds(side)
        .into_iter()
        .filter_map(|(time_s, ours, our_sd)| {
            let (other, other_sd, slope) = at(&theirs, time_s - offset.value)?;
            let larger = ours.max(other);
            let sd = our_sd.hypot(other_sd).hypot(slope * offset.sd);
            (larger > COMPARED_FROM_M_PER_S)
                .then(|| ((ours - other).abs() / sd, (ours - other).abs() / larger))
        })
        .collect();
    apart.sort_by(|a, b| a.0.total_cmp(&b.0));
    let (sds, share) = *apart.get(apart.len() / 2)?;
    Some(if sds > OTHER_RUN_SDS && share > OTHER_RUN_SHARE {
        Err(JoinReason::OtherRun { apart: share })
    } else {
        Ok(())
    })
}

/// Puts the end view's deviation into the side view's frames where it is surer all in all: a column
/// that jumped from view to view would show steps that no car made.
fn join_deviations(
    side: Viewed<'_>,
    end: Viewed<'_>,
    alignment: &Alignment,
    frames: &mut [FrameFinding],
    spread: &mut [FrameSpread],
) -> Option<ViewName> {
    let (ours, theirs) = (deviations(side), deviations(end));
    let stay = (!ours.is_empty()).then_some(ViewName::Side);
    match (middle_sd(&ours), middle_sd(&theirs)) {
        (_, None) => return stay,
        (Some(a), Some(b)) if a <= b => return stay,
        _ => {}
    }
    let states = &side.analysis.motion.body.states;
    for ((frame, state), spread) in frames.iter_mut().zip(states).zip(spread) {
        let seen = state
            .as_ref()
            .and_then(|state| at(&theirs, state.time_s - alignment.offset_s.value));
        frame.deviation =
            seen.map(|(value, sd, slope)| (value, sd.hypot(slope * alignment.offset_s.sd)));
        // What repeats all along the end view's clip is in the value's own uncertainty already.
        spread.deviation_m = 0.0;
    }
    Some(ViewName::End)
}

fn middle_sd(course: &Course) -> Option<f64> {
    median(course.iter().map(|(_, _, sd)| *sd))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_surer_view_is_taken_or_the_only_one() {
        let wide = Quantity::stated(1.0, 0.8, 1.2);
        let narrow = Quantity::stated(1.1, 1.0, 1.2);
        let none = Quantity::not_observable(QuantityReason::Indeterminate);
        assert_eq!(surer(wide, narrow), (ViewName::End, narrow));
        assert_eq!(surer(narrow, wide), (ViewName::Side, narrow));
        assert_eq!(surer(none, wide), (ViewName::End, wide));
        assert_eq!(surer(wide, none), (ViewName::Side, wide));
        assert_eq!(first_known(wide, narrow), (ViewName::Side, wide));
        assert_eq!(first_known(none, narrow), (ViewName::End, narrow));
    }

    /// A result with these values alone.
    fn result(values: &[(Key, Quantity)]) -> Result95 {
        let curve = Quantity::stated(0.1, 0.08, 0.12);
        Result95 {
            values: values.iter().copied().collect(),
            effects: [(Effect::CurveOff, curve)].into(),
            budgets: BTreeMap::new(),
            models: crate::uncertainty::ModelWeights::default(),
            frame_spread: Vec::new(),
            draws: 0,
            scale_rel_sd: 0.0,
        }
    }

    #[test]
    fn a_path_without_its_wheel_says_nothing_of_steering_where_the_wheel_spun() {
        let skew = Quantity::stated(0.02, 0.018, 0.022);
        let joined = |spun: Quantity| {
            let side = result(&[(Key::SpunAwayM, spun)]);
            let mut out = result(&[(Key::ImpliedSkewRad, skew)]);
            let mut from = BTreeMap::from([(Key::ImpliedSkewRad, ViewName::End)]);
            without_steering_where_spun(&side, &mut from, &mut out);
            (
                out.get(Key::ImpliedSkewRad).value(),
                out.effect(Effect::CurveOff).value(),
                from.len(),
            )
        };
        let rolled = joined(Quantity::stated(0.03, -0.04, 0.1));
        assert_eq!(rolled, (Some(0.02), Some(0.1), 1));
        let spun = joined(Quantity::stated(0.4, 0.3, 0.5));
        assert_eq!(spun, (None, None, 0));
    }

    #[test]
    fn a_course_is_read_between_its_frames_and_not_beyond() {
        let course = vec![(0.0, 1.0, 0.1), (0.5, 2.0, 0.2)];
        let (value, sd, slope) = at(&course, 0.25).unwrap();
        assert!((value - 1.5).abs() < 1e-12 && (slope - 2.0).abs() < 1e-12);
        assert_eq!(sd, 0.2);
        assert_eq!(at(&course, 0.0), Some((1.0, 0.1, 0.0)));
        assert!(at(&course, -0.01).is_none() && at(&course, 0.51).is_none());
    }

    #[test]
    fn a_time_moves_to_the_other_clock_with_the_offset_s_doubt() {
        let alignment = Alignment {
            by: AlignedBy::Sound,
            offset_s: crate::findings::Estimate {
                value: -0.25,
                sd: 0.003,
            },
            residual_s: None,
            note: None,
        };
        let half = 0.004 * COVERAGE_FACTOR;
        let time = Quantity::stated(0.75, 0.75 - half, 0.75 + half);
        let moved = on_side_clock(time, &alignment);
        // 3 and 4 in squares are 5.
        assert!((moved.value().unwrap() - 0.5).abs() < 1e-12);
        assert!((width(&moved).unwrap() / 2.0 - 0.005 * COVERAGE_FACTOR).abs() < 1e-12);
    }
}
