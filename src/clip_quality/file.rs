//! The file: whole or not, its frames, their times and its clock.

use super::{Evidence, Grade, Item, at_least, at_most};
use crate::clip::Damage;
use crate::noise::median_step_s;

/// Frames a second: 60 as phones write it, with slack; below 20 a wheel of 100 mm cannot be counted beyond
/// 3 m/s, which such cars reach.
const GOOD_FPS: f64 = 50.0;
const USABLE_FPS: f64 = 20.0;
/// A step between frames this much longer than the usual one has lost a frame.
const LOST_STEP: f64 = 1.5;
/// Share of steps that lost a frame. Each frame's own time is used, so gaps cost observations, not truth.
const GOOD_LOST: f64 = 0.01;
const USABLE_LOST: f64 = 0.15;
/// Steps that wander by this share of the usual one are still even.
const EVEN: f64 = 0.2;
/// Fewer frames than this are no clip of a run.
const MIN_FRAMES: usize = 10;

pub(super) fn items(evidence: &Evidence<'_>) -> Vec<Item> {
    let times: Vec<f64> = (evidence.seen.frames.iter())
        .map(|frame| frame.time_s / evidence.slowed)
        .collect();
    let steps: Vec<f64> = times.windows(2).map(|pair| pair[1] - pair[0]).collect();
    let Some(usual_s) = median_step_s(&times).filter(|_| times.len() >= MIN_FRAMES) else {
        let says = format!("{} frames can be read", times.len());
        let item = Item::new("frames", "frames", Grade::NotUsable, says);
        let what = "film a second or more, and keep the file as the phone wrote it";
        return vec![item.essential().change(what)];
    };
    let mut out = vec![whole(evidence)];
    let fps = 1.0 / usual_s;
    let says = format!("{fps:.0} frames a second, {} of them", times.len());
    let rate = Item::new(
        "frame_rate",
        "frame rate",
        at_least(fps, GOOD_FPS, USABLE_FPS),
        says,
    );
    out.push(
        rate.change("film at 60 frames a second or more")
            .number("frames_per_s", fps)
            .number("frames", times.len() as f64),
    );
    let count =
        |long: &dyn Fn(f64) -> bool| steps.iter().filter(|step| long(**step)).count() as f64;
    let lost = count(&|step| step > LOST_STEP * usual_s) / steps.len() as f64;
    let uneven = count(&|step| (step / usual_s - 1.0).abs() > EVEN) / steps.len() as f64;
    let says = match (lost > 0.0, uneven > 0.0) {
        (false, false) => "evenly spaced".to_owned(),
        (false, true) => format!(
            "uneven in {:.0} % of the steps; each frame\u{2019}s own time is used",
            100.0 * uneven
        ),
        (true, _) => format!("frames missing in {:.0} % of the steps", 100.0 * lost),
    };
    let grade = at_most(lost, GOOD_LOST, USABLE_LOST).max(at_most(uneven, USABLE_LOST, 1.0));
    out.push(
        Item::new("frame_times", "frame times", grade, says)
            .change("use the phone\u{2019}s original file in good light: messengers and dim rooms drop frames")
            .number("steps_with_lost_frames_share", lost)
            .number("uneven_steps_share", uneven),
    );
    out.push(clock(evidence));
    out
}

fn whole(evidence: &Evidence<'_>) -> Item {
    let (grade, says) = if evidence.damage.is_empty() {
        (Grade::Good, "read to its end".to_owned())
    } else {
        let damage: Vec<String> = evidence.damage.iter().map(Damage::to_string).collect();
        (Grade::Usable, damage.join("; "))
    };
    Item::new("file", "file", grade, says).change("copy the file from the phone again")
}

fn clock(evidence: &Evidence<'_>) -> Item {
    let (grade, says) = match evidence.clock_doubt {
        Some(doubt) => (Grade::NotUsable, doubt.to_string()),
        None if (evidence.slowed - 1.0).abs() > 1e-9 => (
            Grade::Good,
            format!(
                "slow motion, {:.1} times; the rate it was filmed at is known",
                evidence.slowed
            ),
        ),
        None => (Grade::Good, "the frame times look plausible".to_owned()),
    };
    Item::new("clock", "clock", grade, says)
        .essential()
        .change("write the rate that the phone filmed at under [camera] as `capture_fps`")
        .number("slowed", evidence.slowed)
}
