//! How a run was measured, for the methods section of a write-up.

use crate::findings::{Key, RollingSource};
use crate::noise::median_step_s;
use crate::outputs::shown::number;
use crate::outputs::words::{end_words, track_words, view_words};
use crate::outputs::{EndStory, Measures, Story};

/// The clip's file name.
pub(super) fn clip_name(story: &Story<'_>) -> String {
    story.clip.path.file_name().map_or_else(
        || "a clip without a name".to_owned(),
        |name| name.to_string_lossy().into_owned(),
    )
}

/// Headings and texts.
pub(super) fn method(story: &Story<'_>) -> Vec<(&'static str, String)> {
    let measures = story.measured.as_ref().ok();
    let mut out = Vec::new();
    out.extend(measures.map(|measures| ("Camera", camera_words(measures))));
    out.push(("Marks seen", marks_words(story)));
    out.push(("Frames", frames_words(story)));
    if let Some(measures) = measures {
        measured(measures, &mut out);
    }
    out.push(("Clip", clip_words(story)));
    let end_view = story.end_view.as_ref();
    out.extend(end_view.map(|end| ("Second view", second_view_words(end))));
    notes(story, &mut out);
    out.push((
        "Measured with",
        format!(
            "gripline {}; every frame’s values are in frames.csv, all quantities in summary.json",
            env!("CARGO_PKG_VERSION")
        ),
    ));
    out
}

fn camera_words(measures: &Measures<'_>) -> String {
    let note = measures.view.note.as_ref();
    let note = note.map_or_else(String::new, |note| format!(". Note: {note}"));
    format!("{}{note}", view_words(&measures.view.source))
}

fn marks_words(story: &Story<'_>) -> String {
    let track = story.track;
    format!(
        "sticker in {} and wheel mark in {} of {} frames; {} patches lay still on the floor",
        track.sticker_frames(),
        track.wheel_frames(),
        track.times_s.len(),
        track.floor.len()
    )
}

fn clip_words(story: &Story<'_>) -> String {
    let clip = story.clip;
    format!(
        "{}, {} × {} px, {} in {}, {} bits a sample, SHA-256 {}",
        clip_name(story),
        clip.width_px,
        clip.height_px,
        clip.codec,
        clip.pixel_format,
        clip.bit_depth,
        story.clip_sha256
    )
}

fn second_view_words(end: &EndStory<'_>) -> String {
    let lines = end_words(end);
    let said: Vec<&str> = lines.iter().map(|line| line.trim()).collect();
    let name = end.clip.path.file_name().unwrap_or_default();
    let (name, sha256) = (name.to_string_lossy(), end.clip_sha256);
    format!("{name}, SHA-256 {sha256}. {}", said.join("; "))
}

/// What to know of the clip and the run sheet, each kind where there is something to say.
fn notes(story: &Story<'_>, out: &mut Vec<(&'static str, String)>) {
    let track_notes = story.track.notes.iter().map(|note| track_words(*note));
    let of_clip: Vec<String> = story.damage.iter().cloned().chain(track_notes).collect();
    let kinds = [
        ("Notes on the clip", &of_clip),
        ("Worth a second look", &story.priors.doubts),
        (
            "Taken for lack of a size in the run sheet",
            &story.priors.assumed,
        ),
    ];
    let told = kinds.into_iter().filter(|(_, notes)| !notes.is_empty());
    out.extend(told.map(|(heading, notes)| (heading, notes.join("; "))));
}

fn frames_words(story: &Story<'_>) -> String {
    let times = &story.track.times_s;
    if story.clock_doubt.is_some() {
        // The track's times then go by a likely rate, which is nothing to state.
        return format!("{}; times {}", times.len(), story.clock);
    }
    let steps = || times.windows(2).map(|pair| pair[1] - pair[0]);
    let (least, most) = (
        steps().fold(f64::MAX, f64::min),
        steps().fold(0.0, f64::max),
    );
    let rate = match median_step_s(times) {
        Some(middle) => format!(
            ", usually {:.2} ms apart ({:.2} to {:.2}): {:.1} a second",
            1000.0 * middle,
            1000.0 * least,
            1000.0 * most,
            1.0 / middle
        ),
        _ => String::new(),
    };
    format!("{}{rate}; times from {}", times.len(), story.clock)
}

fn measured(measures: &Measures<'_>, out: &mut Vec<(&'static str, String)>) {
    let body = &measures.motion.body;
    let sticker = format!(
        "the sticker is off by {:.2} px (root mean square) from the smoothed path",
        body.residual_px
    );
    let wheel = measures.motion.wheel.as_ref().map(|wheel| {
        format!(
            ", the wheel mark {:.2} mm from its circle of {:.1} mm",
            1000.0 * wheel.residual_m,
            1000.0 * wheel.mark_radius_m
        )
    });
    let residuals = sticker + &wheel.unwrap_or_default();
    out.push(("Residuals", residuals));
    if let Ok(rolling) = &measures.findings.rolling {
        let words = match rolling.source {
            RollingSource::Coast => format!(
                "{:.1} mm, from {:.2} m of coasting in this clip",
                1000.0 * rolling.radius_m.value,
                rolling.over_m
            ),
            RollingSource::RunSheet => format!(
                "{:.1} mm, half of the diameter in the run sheet",
                1000.0 * rolling.radius_m.value
            ),
        };
        out.push(("Rolling radius", words));
    }
    out.push((
        "Intervals",
        format!(
            "95 %: value ± coverage factor × standard uncertainty (GUM, JCGM 100); sizes, lens and floor marks by {} \
             Monte Carlo draws, what differs from frame to frame by the smoothers’ own variances, added in squares; slip is 1 − v / (ω R), undefined \
             below a rim speed of {} m/s",
            measures.result.draws,
            crate::findings::MIN_RIM_SPEED_M_PER_S
        ),
    ));
    let sources = sources(measures);
    if !sources.is_empty() {
        out.push(("Where the intervals come from", sources));
    }
    if measures.findings.path.is_ok() {
        let models = measures.result.models;
        let told = [
            ("steady curve", models.curve),
            ("turning while the wheel spins", models.yaw),
            ("sway with the driven wheel", models.sway_of_driven_wheel),
            ("sway at another rate", models.sway_at_another_rate),
        ];
        let told = told.map(|(words, weight)| format!("{words} {}", number(weight, 2)));
        out.push((
            "Rival shapes of the path",
            format!("weights from 0 to 1: {}", told.join(", ")),
        ));
    }
}

/// Quantities whose largest source of uncertainty is named on the page; `summary.json` has it for all.
const EXPLAINED: [(Key, &str); 5] = [
    (Key::PeakSpeedMPerS, "highest speed"),
    (Key::MaxSlip, "largest slip"),
    (Key::SpunAwayM, "distance wasted in wheelspin"),
    (Key::FinalDeviationM, "distance off line"),
    (Key::CurvaturePerM, "curvature"),
];

fn sources(measures: &Measures<'_>) -> String {
    let result = measures.result;
    let largest = |key: Key| result.budgets.get(&key).and_then(|shares| shares.first());
    let told: Vec<String> = EXPLAINED
        .into_iter()
        .filter(|(key, _)| result.value(*key).is_some())
        .filter_map(|(key, words)| {
            let most = largest(key)?;
            let share = 100.0 * most.share;
            Some(format!("{words}: {share:.0} % {}", most.input.name()))
        })
        .collect();
    if told.is_empty() {
        return String::new();
    }
    format!("largest share of the variance, {}", told.join("; "))
}
