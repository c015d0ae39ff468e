//! How a run was measured, for the methods section of a write-up.

use crate::findings::{Key, MIN_RIM_SPEED_M_PER_S, RollingSource};
use crate::noise::median_step_s;
use crate::outputs::wording::{Said as _, input_name};
use crate::outputs::words::{clock_words, end_words, track_words, view_words};
use crate::outputs::{EndStory, Measures, Story};
use crate::texts::{Note, Texts, say};

/// A heading and its text.
type Entry = (String, String);

/// The clip's file name.
pub(super) fn clip_name(story: &Story<'_>) -> String {
    story.clip.path.file_name().map_or_else(
        || story.texts().text("method-no-name"),
        |name| name.to_string_lossy().into_owned(),
    )
}

/// Headings and texts.
pub(super) fn method(story: &Story<'_>) -> Vec<Entry> {
    let texts = story.texts();
    let entry = |heading: &str, words: String| (texts.text(heading), words);
    let measures = story.measured.as_ref().ok();
    let mut out = Vec::new();
    out.extend(measures.map(|m| entry("method-camera", camera_words(texts, m))));
    out.push(entry("method-marks", marks_words(story)));
    out.push(entry("method-frames", frames_words(story)));
    if let Some(measures) = measures {
        measured(texts, measures, &mut out);
    }
    out.push(entry("method-clip", clip_words(story)));
    let end_view = story.end_view.as_ref();
    out.extend(end_view.map(|end| entry("method-second", second_view_words(texts, end))));
    notes(story, &mut out);
    let version = env!("CARGO_PKG_VERSION");
    let tool = say!(texts, "method-tool-words", version = version);
    out.push(entry("method-tool", tool));
    out
}

fn camera_words(texts: &Texts, measures: &Measures<'_>) -> String {
    let view = view_words(texts, &measures.view.source);
    match &measures.view.note {
        Some(note) => {
            let note = note.said(texts);
            say!(texts, "method-camera-note", view = view, note = note)
        }
        None => view,
    }
}

fn marks_words(story: &Story<'_>) -> String {
    let track = story.track;
    say!(
        story.texts(),
        "method-marks-words",
        sticker = track.sticker_frames(),
        wheel = track.wheel_frames(),
        frames = track.times_s.len(),
        patches = track.floor.len(),
    )
}

fn clip_words(story: &Story<'_>) -> String {
    let clip = story.clip;
    say!(
        story.texts(),
        "method-clip-words",
        name = clip_name(story),
        width = clip.width_px.to_string(),
        height = clip.height_px.to_string(),
        codec = clip.codec.as_str(),
        pixels = clip.pixel_format.as_str(),
        bits = clip.bit_depth.to_string(),
        sha = story.clip_sha256,
    )
}

fn second_view_words(texts: &Texts, end: &EndStory<'_>) -> String {
    let lines = end_words(texts, end);
    let said: Vec<&str> = lines.iter().map(|line| line.trim()).collect();
    let name = end.clip.path.file_name().unwrap_or_default();
    say!(
        texts,
        "method-second-words",
        name = name.to_string_lossy(),
        sha = end.clip_sha256,
        said = said.join("; "),
    )
}

/// What to know of the clip and the run sheet, each kind where there is something to say.
fn notes(story: &Story<'_>, out: &mut Vec<Entry>) {
    let texts = story.texts();
    let said = |notes: &[Note]| -> Vec<String> { notes.iter().map(|n| n.said(texts)).collect() };
    let track_notes = (story.track.notes.iter()).map(|note| track_words(texts, *note));
    let damage = story.damage.iter().map(|damage| damage.said(texts));
    let of_clip: Vec<String> = damage.chain(track_notes).collect();
    let kinds = [
        ("method-notes-clip", of_clip),
        ("method-notes-doubts", said(&story.priors.doubts)),
        ("method-notes-assumed", said(&story.priors.assumed)),
    ];
    let told = kinds.into_iter().filter(|(_, notes)| !notes.is_empty());
    out.extend(told.map(|(heading, notes)| (texts.text(heading), notes.join("; "))));
}

fn frames_words(story: &Story<'_>) -> String {
    let texts = story.texts();
    let times = &story.track.times_s;
    let (count, clock) = (times.len().to_string(), clock_words(texts, story));
    if story.clock_doubt.is_some() {
        // The track's times then go by a likely rate, which is nothing to state.
        return say!(texts, "method-frames-unknown", count = count, clock = clock);
    }
    let Some(middle) = median_step_s(times) else {
        return say!(texts, "method-frames-words", count = count, clock = clock);
    };
    let steps = || times.windows(2).map(|pair| pair[1] - pair[0]);
    let ms = |step_s: f64| texts.fixed(1000.0 * step_s, 2);
    say!(
        texts,
        "method-frames-rate",
        count = count,
        middle = ms(middle),
        least = ms(steps().fold(f64::MAX, f64::min)),
        most = ms(steps().fold(0.0, f64::max)),
        rate = texts.fixed(1.0 / middle, 1),
        clock = clock,
    )
}

fn measured(texts: &Texts, measures: &Measures<'_>, out: &mut Vec<Entry>) {
    let mut add = |heading: &str, words: String| out.push((texts.text(heading), words));
    add("method-residuals", residuals(texts, measures));
    if let Ok(rolling) = &measures.findings.rolling {
        let radius = texts.fixed(1000.0 * rolling.radius_m.value, 1);
        let words = match rolling.source {
            RollingSource::Coast => {
                let over = texts.fixed(rolling.over_m, 2);
                say!(texts, "method-radius-coast", radius = radius, over = over)
            }
            RollingSource::RunSheet => say!(texts, "method-radius-sheet", radius = radius),
        };
        add("method-radius", words);
    }
    let intervals = say!(
        texts,
        "method-intervals-words",
        draws = measures.result.draws.to_string(),
        speed = texts.marked(&MIN_RIM_SPEED_M_PER_S.to_string()),
    );
    add("method-intervals", intervals);
    let sources = sources(texts, measures);
    if !sources.is_empty() {
        let words = say!(texts, "method-sources-words", list = sources.join("; "));
        add("method-sources", words);
    }
    if measures.findings.path.is_ok() {
        let models = measures.result.models;
        let shapes = say!(
            texts,
            "method-shapes-words",
            curve = texts.number(models.curve, 2),
            yaw = texts.number(models.yaw, 2),
            driven = texts.number(models.sway_of_driven_wheel, 2),
            other = texts.number(models.sway_at_another_rate, 2),
        );
        add("method-shapes", shapes);
    }
}

/// How far the marks were from the smoothed motion.
fn residuals(texts: &Texts, measures: &Measures<'_>) -> String {
    let px = texts.fixed(measures.motion.body.residual_px, 2);
    match &measures.motion.wheel {
        Err(_) => say!(texts, "method-residuals-sticker", px = px),
        Ok(wheel) => say!(
            texts,
            "method-residuals-both",
            px = px,
            off = texts.fixed(1000.0 * wheel.residual_m, 2),
            circle = texts.fixed(1000.0 * wheel.mark_radius_m, 1),
        ),
    }
}

/// Quantities whose largest source of uncertainty is named on the page; `summary.json` has it for all.
const EXPLAINED: [(Key, &str); 5] = [
    (Key::PeakSpeedMPerS, "method-source-speed"),
    (Key::MaxSlip, "method-source-slip"),
    (Key::SpunAwayM, "method-source-spun"),
    (Key::FinalDeviationM, "method-source-off-line"),
    (Key::CurvaturePerM, "method-source-curve"),
];

fn sources(texts: &Texts, measures: &Measures<'_>) -> Vec<String> {
    let result = measures.result;
    let largest = |key: Key| result.budgets.get(&key).and_then(|shares| shares.first());
    EXPLAINED
        .into_iter()
        .filter(|(key, _)| result.value(*key).is_some())
        .filter_map(|(key, words)| {
            let most = largest(key)?;
            Some(say!(
                texts,
                "method-source",
                what = texts.text(words),
                share = texts.fixed(100.0 * most.share, 0),
                input = input_name(texts, most.input),
            ))
        })
        .collect()
}
