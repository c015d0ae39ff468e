//! `frames.csv`: one row a frame (RFC 4180), empty where nothing was seen.

use super::Story;
use super::values::{Band, FrameValues, frame_values, phase_word};
use crate::track::Place;

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
pub(super) const FLAGS: &str = "flags";

/// The file's bytes.
///
/// # Errors
/// What the CSV writer says; writing to memory does not fail in practice.
pub fn frames_csv(story: &Story<'_>) -> Result<Vec<u8>, csv::Error> {
    let mut writer = csv::WriterBuilder::new()
        .terminator(csv::Terminator::CRLF)
        .from_writer(Vec::new());
    writer.write_record(COLUMNS.iter().copied().chain([FLAGS]))?;
    for (frame, values) in frame_values(story).iter().enumerate() {
        writer.write_record(row(story, values, frame))?;
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

fn row(story: &Story<'_>, values: &FrameValues, frame: usize) -> Vec<String> {
    let track = story.track;
    let (sticker, wheel) = (track.sticker[frame], track.wheel[frame]);
    let place = |mark: Option<Place>, get: fn(&Place) -> f64| number(mark.as_ref().map(get), 3);
    let band = |band: Option<Band>| {
        [
            number(band.map(|b| b.value), 5),
            number(band.map(|b| b.low), 5),
            number(band.map(|b| b.high), 5),
        ]
    };
    let mut out = vec![
        frame.to_string(),
        number(values.time_s, 6),
        place(sticker, |p| p.u_px),
        place(sticker, |p| p.v_px),
        place(wheel, |p| p.u_px),
        place(wheel, |p| p.v_px),
        number(values.x_m, 5),
        number(values.y_m, 5),
        number(values.heading_rad, 5),
    ];
    out.extend(band(values.speed));
    out.extend([
        number(values.acceleration, 4),
        number(values.wheel_angle.map(|b| b.value), 5),
        number(values.wheel_rate, 4),
        number(values.rim_speed.map(|b| b.value), 5),
    ]);
    out.extend(band(values.slip));
    out.extend(band(values.deviation));
    out.push(values.phase.map_or("", phase_word).to_owned());
    out.push(flags(values));
    out
}

fn flags(values: &FrameValues) -> String {
    let all = [
        (values.sticker_hidden, "sticker_hidden"),
        (values.wheel_hidden, "wheel_hidden"),
        (values.turn_ambiguous, "turn_ambiguous"),
        (values.time_s.is_none(), "clock_doubted"),
    ];
    let set: Vec<&str> = all.iter().filter(|(set, _)| *set).map(|f| f.1).collect();
    set.join(" ")
}
