//! `summary.json`: the quantities, the verdict, and how they were measured.

use super::wording::verdict_words;
use super::words::{clock_words, not_compared};
use super::{EndStory, Story};
use crate::camera::View;
use crate::findings::{Estimate, Key};
use crate::noise::median_step_s;
use crate::sheet::RunSheet;
use crate::texts::Texts;
use crate::uncertainty::{COVERAGE_FACTOR, Quantity, Result95};
use serde_json::{Map, Value, json};

fn in_english<T: ToString>(notes: &[T]) -> Vec<String> {
    notes.iter().map(ToString::to_string).collect()
}

/// Version of the layout; a change that readers must know of raises it.
pub const SUMMARY_VERSION: u32 = 1;

/// The JSON Schema (draft 2020-12) of the file.
pub const SUMMARY_SCHEMA: &str = include_str!("summary.schema.json");

/// The file's bytes.
///
/// # Errors
/// What the JSON writer says; writing to memory does not fail in practice.
pub fn summary_json(story: &Story<'_>) -> Result<Vec<u8>, serde_json::Error> {
    let mut out = Map::new();
    out.insert("version".into(), json!(SUMMARY_VERSION));
    out.insert("run".into(), run(story));
    for key in Key::ALL {
        let quantity = match &story.measured {
            Ok(measures) => measures.result.get(key),
            Err(why) => Quantity::not_observable(*why),
        };
        let mut quantity = serde_json::to_value(quantity)?;
        if let (Some(view), Some(map)) = (view_of(story, key), quantity.as_object_mut()) {
            map.insert("view".into(), json!(view));
        }
        out.insert(key.as_str().into(), quantity);
    }
    out.insert("verdict".into(), verdict(story)?);
    if let Ok(measures) = &story.measured {
        out.insert("uncertainty_budget".into(), budgets(measures.result)?);
        let models = serde_json::to_value(measures.result.models)?;
        out.insert("path_models".into(), models);
    }
    out.insert("measured_by".into(), method(story)?);
    if let Some(end) = &story.end_view {
        out.insert("end_view".into(), end_view(end));
    }
    let mut bytes = serde_json::to_vec_pretty(&Value::Object(out))?;
    bytes.push(b'\n');
    Ok(bytes)
}

/// Which inputs cause each interval: shares of the variance, largest first.
fn budgets(result: &Result95) -> Result<Value, serde_json::Error> {
    let mut out = Map::new();
    for (key, shares) in &result.budgets {
        if result.value(*key).is_some() && !shares.is_empty() {
            out.insert(key.as_str().into(), serde_json::to_value(shares)?);
        }
    }
    Ok(Value::Object(out))
}

/// Which of two views a known quantity came from.
fn view_of(story: &Story<'_>, key: Key) -> Option<&'static str> {
    let joined = story.end_view.as_ref()?.joined.ok()?;
    joined.from.get(&key).map(|view| view.as_str())
}

fn end_view(end: &EndStory<'_>) -> Value {
    let clip = end.clip.path.file_name();
    let interval = |of: Estimate| {
        let half = COVERAGE_FACTOR * of.sd;
        json!({"value": of.value, "low": of.value - half, "high": of.value + half})
    };
    let mut notes = in_english(end.damage);
    notes.extend(end.clock_doubt.map(ToString::to_string));
    let mut out = json!({
        "clip": clip.map(|name| name.to_string_lossy()),
        "clip_sha256": end.clip_sha256,
        "joined": end.joined.is_ok(),
    });
    if let Ok(found) = end.alignment {
        out["aligned_by"] = json!(found.by);
        out["offset_s"] = interval(found.offset_s);
        out["residual_s"] = found.residual_s.map_or(Value::Null, interval);
        notes.extend(found.note.map(|note| note.to_string()));
    } else {
        // Why not is then the reason for which nothing was joined.
        out["aligned_by"] = Value::Null;
    }
    match end.joined {
        Ok(joined) => {
            out["deviation_from"] = json!(joined.deviation_from);
            notes.extend(not_compared(Texts::english(), joined));
        }
        Err(why) => notes.push(why.to_string()),
    }
    out["notes"] = json!(notes);
    out
}

fn run(story: &Story<'_>) -> Value {
    let clip = story
        .clip
        .path
        .file_name()
        .map(|name| name.to_string_lossy().into_owned());
    json!({
        "clip": clip,
        "clip_sha256": story.clip_sha256,
        "car": story.sheet.car.name,
        "treatment": story.sheet.car.treatment,
        "change": story.sheet.change_note,
        "filmed": story.clip.filmed,
        "frames_per_s": frames_per_s(story),
        "sheet": sheet_facts(story.sheet),
    })
}

/// Frames taken a second, to a thousandth; `None` where the clip's clock cannot be believed.
fn frames_per_s(story: &Story<'_>) -> Option<f64> {
    let step = median_step_s(&story.track.times_s)?;
    (story.clock_doubt.is_none()).then(|| (1000.0 / step).round() / 1000.0)
}

/// The run sheet as it was written, table by table. Whole numbers become plain ones, so that 110 and 110.0
/// are the same size.
pub fn sheet_facts(sheet: &RunSheet) -> Value {
    fn plain(value: &toml::Value) -> Value {
        match value {
            toml::Value::String(text) => json!(text),
            toml::Value::Integer(number) => json!(*number as f64),
            toml::Value::Float(number) => json!(number),
            toml::Value::Boolean(yes) => json!(yes),
            toml::Value::Datetime(time) => json!(time.to_string()),
            toml::Value::Array(list) => list.iter().map(plain).collect(),
            toml::Value::Table(table) => table_of(table),
        }
    }
    fn table_of(table: &toml::Table) -> Value {
        let keys = table.iter().map(|(key, value)| (key.clone(), plain(value)));
        Value::Object(keys.collect())
    }
    table_of(&sheet.written)
}

fn verdict(story: &Story<'_>) -> Result<Value, serde_json::Error> {
    match &story.measured {
        Ok(measures) => {
            let words = verdict_words(Texts::english(), measures.verdict, measures.result);
            Ok(json!({
                "cause": measures.verdict.cause,
                "because": words.because,
                "costs": serde_json::to_value(measures.verdict.costs())?,
                "also": measures.verdict.also,
                "not_seen": words.not_seen,
                "try": words.try_next,
            }))
        }
        Err(why) => Ok(json!({
            "cause": "undetermined",
            "because": [why.to_string()],
            "costs": {},
            "also": [],
            "not_seen": [why.to_string()],
            "try": [super::words::to_check(Texts::english(), story)],
        })),
    }
}

/// Where each of the sheet's floor marks lay in the picture: it tells whether phone and marks stayed where
/// they were from one clip to the next. Null for a mark not seen; none for a camera that moves.
fn marks_at_px(story: &Story<'_>, view: &View) -> Value {
    let seen = view.correspondence.iter().map(|patch| {
        let patch = (*patch).and_then(|patch| story.track.floor.get(patch));
        patch.map(|patch| [patch.u_px, patch.v_px])
    });
    json!(seen.collect::<Vec<_>>())
}

fn method(story: &Story<'_>) -> Result<Value, serde_json::Error> {
    let mut out = json!({
        "tool": concat!("gripline ", env!("CARGO_PKG_VERSION")),
        "clock": clock_words(Texts::english(), story),
        "frames": story.track.times_s.len(),
        "sticker_frames": story.track.sticker_frames(),
        "wheel_mark_frames": story.track.wheel_frames(),
        "picture_px": [story.clip.width_px, story.clip.height_px],
        "codec": story.clip.codec,
        "file_notes": in_english(story.damage),
        "track_notes": serde_json::to_value(&story.track.notes)?,
        "assumed": in_english(&story.priors.assumed),
        "doubts": in_english(&story.priors.doubts),
        "draws_asked": story.draws,
    });
    if let (Ok(measures), Some(map)) = (&story.measured, out.as_object_mut()) {
        map.insert("view".into(), serde_json::to_value(&measures.view.source)?);
        map.insert(
            "view_note".into(),
            json!(measures.view.note.map(|why| why.to_string())),
        );
        map.insert(
            "floor_marks_at_px".into(),
            marks_at_px(story, measures.view),
        );
        map.insert(
            "sticker_residual_px".into(),
            json!(measures.motion.body.residual_px),
        );
        map.insert("monte_carlo_draws".into(), json!(measures.result.draws));
        if let Ok(rolling) = &measures.findings.rolling {
            map.insert(
                "rolling_radius_from".into(),
                serde_json::to_value(rolling.source)?,
            );
        }
    }
    Ok(out)
}
