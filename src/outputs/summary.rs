//! `summary.json`: the quantities, the verdict, and how they were measured.

use super::Story;
use crate::findings::Key;
use crate::uncertainty::Quantity;
use serde_json::{Map, Value, json};

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
            Err(why) => Quantity::not_observable(why),
        };
        out.insert(key.as_str().into(), serde_json::to_value(quantity)?);
    }
    out.insert("verdict".into(), verdict(story)?);
    out.insert("measured_by".into(), method(story)?);
    let mut bytes = serde_json::to_vec_pretty(&Value::Object(out))?;
    bytes.push(b'\n');
    Ok(bytes)
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
    })
}

fn verdict(story: &Story<'_>) -> Result<Value, serde_json::Error> {
    match &story.measured {
        Ok(measures) => serde_json::to_value(measures.verdict),
        Err(why) => Ok(json!({
            "cause": "undetermined",
            "confidence": 0.0,
            "because": [why],
            "costs": {},
            "also": [],
            "not_seen": [why],
            "try": ["check the floor marks' places and the sticker's height in the run sheet"],
        })),
    }
}

fn method(story: &Story<'_>) -> Result<Value, serde_json::Error> {
    let mut out = json!({
        "tool": concat!("gripline ", env!("CARGO_PKG_VERSION")),
        "clock": story.clock,
        "frames": story.track.times_s.len(),
        "sticker_frames": story.track.sticker_frames(),
        "wheel_mark_frames": story.track.wheel_frames(),
        "picture_px": [story.clip.width_px, story.clip.height_px],
        "codec": story.clip.codec,
        "file_notes": story.damage,
        "track_notes": serde_json::to_value(&story.track.notes)?,
        "assumed": story.known.assumed,
    });
    if let (Ok(measures), Some(map)) = (&story.measured, out.as_object_mut()) {
        map.insert("view".into(), serde_json::to_value(&measures.view.source)?);
        map.insert("view_note".into(), json!(measures.view.note));
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
