//! The run: rest before the release, blur, the wheel against the frame rate, and the coast.

use super::marks::lost_turns;
use super::{Evidence, Grade, Item, RunEvidence, at_least, at_most};
use crate::camera::Projection;
use crate::findings::{Key, RollingSource};
use crate::motion::MotionReason;
use crate::noise::{median, median_step_s};
use crate::sighting::Blob;
use crate::track::Place;
use nalgebra::Point3;
use std::f64::consts::PI;

/// Rest in view before the release, s: the zero of way and speed comes from it, and a few frames give it.
const GOOD_REST_S: f64 = 0.2;
const USABLE_REST_S: f64 = 0.06;
/// Turn of the wheel from frame to frame, in turns. Half a turn is the end of counting with one mark.
const GOOD_TURN: f64 = 0.3;
const USABLE_TURN: f64 = 0.45;
/// Rim speed that these cars reach at most, a spinning start included, m/s: common practice, no source.
const FAST_RIM_M_PER_S: f64 = 6.0;
/// How much longer the moving sticker looks than the resting one. A disc that is blurred by less than its own
/// diameter keeps its half-height length and is seen at mid-exposure; longer blur is seen as a longer patch.
const GOOD_STRETCH: f64 = 1.15;
const USABLE_STRETCH: f64 = 1.6;
/// Sticker speeds above this share of the top speed count as fast, below the other as slow.
const FAST_SHARE: f64 = 0.8;
const SLOW_SHARE: f64 = 0.25;

pub(super) fn items(evidence: &Evidence<'_>, run: &RunEvidence<'_>, moved: bool) -> Vec<Item> {
    let mut out = Vec::new();
    if moved {
        out.push(blur(evidence, run));
        out.push(rest(run));
        out.push(coast(run));
    } else {
        let says = "nothing was released in this clip: taken as a test shot".to_owned();
        out.push(Item::new("motion", "motion", Grade::NotSeen, says));
    }
    out
}

fn frames_per_s(run: &RunEvidence<'_>) -> Option<f64> {
    median_step_s(&run.track.times_s).map(|step_s| 1.0 / step_s)
}

/// The fastest wheel that the frame rate can follow, and the run's own.
pub(super) fn wheel_rate(evidence: &Evidence<'_>, run: &RunEvidence<'_>, moved: bool) -> Item {
    let fps = frames_per_s(run).unwrap_or(f64::NAN);
    let turns_per_s = fps / 2.0;
    let diameter_m = 2.0 * run.priors.wheel_radius_m.value;
    let rim_m_per_s = PI * diameter_m * turns_per_s;
    let assumed = if run.priors.wheel_radius_given {
        ""
    } else {
        " if it is an ordinary one"
    };
    let limit = format!(
        "up to {turns_per_s:.0} turns a second, for this {:.0} mm wheel{assumed} a rim speed of {rim_m_per_s:.1} m/s",
        1000.0 * diameter_m
    );
    let item = |grade, says| {
        Item::new("fastest_wheel", "fastest wheel", grade, says)
            .change(
                "film at a higher frame rate: one mark can be counted up to half a turn a frame",
            )
            .number("fastest_wheel_turns_per_s", turns_per_s)
            .number("fastest_rim_speed_m_per_s", rim_m_per_s)
    };
    let by_limit = at_least(rim_m_per_s, FAST_RIM_M_PER_S, FAST_RIM_M_PER_S / 2.0);
    let analysis = match run.analysis {
        Ok(analysis) if moved && evidence.wanted.wheel.is_some() => analysis,
        _ => return item(by_limit, limit),
    };
    let wheel = match (&analysis.motion.wheel, lost_turns(run)) {
        (Ok(wheel), _) => wheel,
        (Err(_), Some(lost @ MotionReason::HalfTurns { .. })) => {
            return item(Grade::NotUsable, format!("{limit}; here {}", lost.fact()))
                .change(&lost.remedy().unwrap_or_default());
        }
        (Err(_), _) => return item(by_limit, limit),
    };
    let states = || {
        wheel
            .states
            .iter()
            .flatten()
            .filter(|state| !state.forecast)
    };
    let most = states()
        .map(|state| state.rate_rad_per_s().abs() / fps / (2.0 * PI))
        .fold(0.0, f64::max);
    let ambiguous = states().any(|state| state.ambiguous);
    // The turns were counted all the same, from how steadily the wheel gathers speed.
    let grade = at_most(most, GOOD_TURN, USABLE_TURN).min(Grade::Usable);
    let beyond = if ambiguous {
        ", counted by its steadiness alone"
    } else {
        ""
    };
    let says = format!("{limit}; here {most:.2} of a turn a frame at most{beyond}");
    item(grade, says).number("largest_turn_per_frame", most)
}

/// The sticker's blob at a place.
fn blob_at<'a>(evidence: &Evidence<'a>, frame: usize, place: &Place) -> Option<&'a Blob> {
    let slot = evidence.seen.slot(evidence.wanted.sticker)?;
    let blobs = evidence.seen.frames.get(frame)?.blobs.get(slot)?;
    blobs
        .iter()
        .find(|blob| (blob.u_px - place.u_px).hypot(blob.v_px - place.v_px) < 0.5)
}

/// Length of the sticker in the picture, brought to one distance, and its speed.
fn lengths(evidence: &Evidence<'_>, run: &RunEvidence<'_>) -> Vec<(f64, f64)> {
    let Ok(analysis) = run.analysis else {
        return Vec::new();
    };
    let states = &analysis.motion.body.states;
    let frames = run.track.sticker.iter().enumerate();
    let observation = |(frame, place): (usize, &Option<Place>)| {
        let state = states.get(frame)?.as_ref()?;
        let blob = blob_at(evidence, frame, place.as_ref()?)?;
        let length_px = 2.0 * (blob.area_px2 * blob.elongation / PI).sqrt();
        let away = match analysis.view.at(state.time_s)? {
            Projection::Pinhole(camera) => {
                let at = Point3::new(state.x_m(), state.y_m(), 0.0);
                (camera.position_m - at).norm()
            }
            Projection::Flat(_) => 1.0,
        };
        (!blob.at_border && blob.fitted).then_some((state.speed_m_per_s().abs(), length_px * away))
    };
    frames.filter_map(observation).collect()
}

fn blur(evidence: &Evidence<'_>, run: &RunEvidence<'_>) -> Item {
    let observations = lengths(evidence, run);
    let top = observations
        .iter()
        .map(|observation| observation.0)
        .fold(0.0, f64::max);
    let of = |keep: &dyn Fn(f64) -> bool| {
        median(
            observations
                .iter()
                .filter(|observation| keep(observation.0))
                .map(|observation| observation.1),
        )
    };
    let (slow, fast) = (of(&|v| v < SLOW_SHARE * top), of(&|v| v > FAST_SHARE * top));
    let item = |grade, says| {
        Item::new("blur", "exposure blur", grade, says)
            .change("more light or a shorter exposure: tap and hold, then pull the brightness down")
    };
    let (Some(slow), Some(fast)) = (slow, fast) else {
        return item(
            Grade::NotSeen,
            "the sticker was not seen both slow and fast".to_owned(),
        );
    };
    let stretch = fast / slow;
    let says = if stretch <= GOOD_STRETCH {
        format!("at {top:.1} m/s the sticker is blurred by less than its own size")
    } else {
        format!("at {top:.1} m/s the sticker looks {stretch:.1} times as long as at rest")
    };
    item(at_most(stretch, GOOD_STRETCH, USABLE_STRETCH), says)
        .number("sticker_stretch", stretch)
        .number("top_speed_m_per_s", top)
}

fn rest(run: &RunEvidence<'_>) -> Item {
    let item = |grade, says| {
        Item::new("rest", "rest before release", grade, says)
            .change("start filming a second before the car is let go")
    };
    let release = match run.analysis {
        Ok(analysis) => (analysis.motion.release.as_ref()).map_err(|why| (*why).into()),
        Err(why) => Err(why),
    };
    match release {
        Ok(release) => {
            let first = run
                .track
                .sticker
                .iter()
                .position(Option::is_some)
                .unwrap_or(0);
            let rest_s = release.time_s - run.track.times_s.get(first).copied().unwrap_or(0.0);
            item(
                at_least(rest_s, GOOD_REST_S, USABLE_REST_S),
                format!("{rest_s:.2} s in view"),
            )
            .number("rest_s", rest_s)
        }
        Err(why) => item(Grade::Usable, why.to_string()),
    }
}

fn coast(run: &RunEvidence<'_>) -> Item {
    let item = |grade, says: &str| {
        Item::new("coast", "coast in view", grade, says.to_owned())
            .change("show more of the run: where the car coasts, its wheel measures itself")
    };
    let Ok(analysis) = run.analysis else {
        return item(Grade::NotSeen, "the run was not analysed");
    };
    let over_m = match &analysis.findings.rolling {
        Ok(rolling) if rolling.source == RollingSource::Coast => Some(rolling.over_m),
        _ => None,
    };
    match (over_m, analysis.findings.get(Key::CoastDecelerationMPerS2)) {
        (Some(over_m), _) => item(
            Grade::Good,
            &format!("the car coasts over {over_m:.2} m, which gives the rolling radius"),
        )
        .number("coast_m", over_m),
        (None, Ok(_)) => item(Grade::Good, "the car coasts in view"),
        (None, Err(_)) => item(
            Grade::Usable,
            "the car hardly coasts in view: the rolling radius rests on the run sheet",
        ),
    }
}
