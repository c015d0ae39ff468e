//! `frames.csv`: one row a frame (RFC 4180), empty where nothing was seen.

use super::{Measures, Story};
use crate::track::Place;
use crate::uncertainty::COVERAGE_FACTOR;

/// The columns, in order; each name ends in its unit.
pub const COLUMNS: [&str; 23] = [
    "frame",
    "time_s",
    "sticker_u_px",
    "sticker_v_px",
    "wheel_mark_u_px",
    "wheel_mark_v_px",
    "x_m",
    "y_m",
    "heading_rad",
    "speed_m_per_s",
    "speed_low_m_per_s",
    "speed_high_m_per_s",
    "acceleration_m_per_s2",
    "wheel_angle_rad",
    "wheel_rate_rad_per_s",
    "rim_speed_m_per_s",
    "slip_ratio",
    "slip_low",
    "slip_high",
    "deviation_m",
    "deviation_low_m",
    "deviation_high_m",
    "phase",
];

/// The last column: what to know about a row.
const FLAGS: &str = "flags";

/// The file's bytes.
///
/// # Errors
/// What the CSV writer says; writing to memory does not fail in practice.
pub fn frames_csv(story: &Story<'_>) -> Result<Vec<u8>, csv::Error> {
    let mut writer = csv::WriterBuilder::new()
        .terminator(csv::Terminator::CRLF)
        .from_writer(Vec::new());
    writer.write_record(COLUMNS.iter().copied().chain([FLAGS]))?;
    for frame in 0..story.track.times_s.len() {
        writer.write_record(row(story, frame))?;
    }
    writer
        .into_inner()
        .map_err(|error| csv::Error::from(error.into_error()))
}

fn number(value: Option<f64>, digits: usize) -> String {
    value
        .filter(|v| v.is_finite())
        .map_or_else(String::new, |v| format!("{v:.digits$}"))
}

/// Whether seconds mean anything in this clip.
const fn timed(story: &Story<'_>) -> bool {
    story.clock_doubt.is_none()
}

fn row(story: &Story<'_>, frame: usize) -> Vec<String> {
    let track = story.track;
    let (sticker, wheel) = (track.sticker[frame], track.wheel[frame]);
    let place = |mark: Option<Place>, get: fn(&Place) -> f64| number(mark.as_ref().map(get), 3);
    let mut out = vec![
        frame.to_string(),
        number(Some(track.times_s[frame]).filter(|_| timed(story)), 6),
        place(sticker, |p| p.u_px),
        place(sticker, |p| p.v_px),
        place(wheel, |p| p.u_px),
        place(wheel, |p| p.v_px),
    ];
    let empty_flags = vec![if sticker.is_some() {
        ""
    } else {
        "sticker_hidden"
    }];
    let (measured, flags) = story.measured.as_ref().map_or_else(
        |_| (vec![String::new(); 17], empty_flags),
        |m| measured(story, m, frame),
    );
    out.extend(measured);
    out.push(
        flags
            .into_iter()
            .filter(|flag| !flag.is_empty())
            .collect::<Vec<_>>()
            .join(" "),
    );
    out
}

fn measured<'a>(
    story: &Story<'_>,
    measures: &Measures<'_>,
    frame: usize,
) -> (Vec<String>, Vec<&'a str>) {
    let metres = measures.view.scale.is_ok();
    let body = measures.motion.body.states[frame].as_ref();
    let wheel = measures
        .motion
        .wheel
        .as_ref()
        .ok()
        .and_then(|w| w.states[frame].as_ref());
    let found = &measures.findings.frames[frame];
    let spread = measures
        .result
        .frame_spread
        .get(frame)
        .copied()
        .unwrap_or_default();
    let in_view = |get: &dyn Fn(&crate::motion::BodyState) -> f64| body.filter(|_| metres).map(get);
    let lateral = measures.view.lateral.is_ok();
    let timed = timed(story);
    let speed = in_view(&|b| b.mean[3]).filter(|_| timed);
    let scale = spread.speed_share.hypot(measures.result.scale_rel_sd);
    let half = in_view(&|b| {
        COVERAGE_FACTOR
            * b.covariance[(3, 3)]
                .max(0.0)
                .sqrt()
                .hypot(b.mean[3] * scale)
    });
    let slip = found.slip;
    let slip_half = slip.map(|s| COVERAGE_FACTOR * s.sd.hypot(spread.slip));
    let deviation = found.deviation;
    let deviation_half = deviation.map(|d| COVERAGE_FACTOR * d.1.hypot(spread.deviation_m));
    let ends = |value: Option<f64>, half: Option<f64>, sign: f64| {
        value.zip(half).map(|(value, half)| value + sign * half)
    };
    let columns = vec![
        number(in_view(&|b| b.mean[0]), 5),
        number(in_view(&|b| b.mean[1]).filter(|_| lateral), 5),
        number(in_view(&|b| b.mean[2]).filter(|_| lateral), 5),
        number(speed, 5),
        number(ends(speed, half, -1.0), 5),
        number(ends(speed, half, 1.0), 5),
        number(in_view(&|b| b.mean[4]).filter(|_| timed), 4),
        number(wheel.map(|w| w.mean[0]), 5),
        number(wheel.map(|w| w.mean[1]).filter(|_| timed), 4),
        number(found.rim_speed_m_per_s.filter(|_| metres), 5),
        number(slip.map(|s| s.ratio), 5),
        number(ends(slip.map(|s| s.ratio), slip_half, -1.0), 5),
        number(ends(slip.map(|s| s.ratio), slip_half, 1.0), 5),
        number(deviation.map(|d| d.0), 5),
        number(ends(deviation.map(|d| d.0), deviation_half, -1.0), 5),
        number(ends(deviation.map(|d| d.0), deviation_half, 1.0), 5),
        found.phase.map_or("", phase_word).to_owned(),
    ];
    let mut flags = Vec::new();
    if story.track.sticker[frame].is_none() {
        flags.push("sticker_hidden");
    }
    if measures.motion.wheel.is_ok() && story.track.wheel[frame].is_none() {
        flags.push("wheel_hidden");
    }
    if wheel.is_some_and(|w| w.ambiguous) {
        flags.push("turn_ambiguous");
    }
    if !timed {
        flags.push("clock_doubted");
    }
    (columns, flags)
}

const fn phase_word(phase: crate::findings::Phase) -> &'static str {
    use crate::findings::Phase;
    match phase {
        Phase::Rest => "rest",
        Phase::Powered => "powered",
        Phase::Coast => "coast",
        Phase::Stopped => "stopped",
    }
}
