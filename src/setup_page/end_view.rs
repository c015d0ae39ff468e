//! The second phone's clip on the page: its frames, what moves in it, and where the sticker that faces it was
//! followed.

use super::answers::{aside, failed, frame_of, ours};
use super::clip_seen::{ClipSeen, Follow};
use super::draft::Draft;
use super::http::Shared;
use super::patches::{Manner, Patch};
use super::preview::view_words;
use super::tasks::Told;
use crate::pipeline::Outline;
use crate::sheet::RunSheet;
use axum::body::Bytes;
use axum::extract::{Path, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};
use axum::routing::{get, post};
use axum::{Json, Router};
use serde::{Deserialize, Serialize};
use serde_json::json;

/// The addresses about the second clip.
pub(super) fn routes() -> Router<Shared> {
    Router::new()
        .route("/end/frames/{number}", get(frame))
        .route("/end/patches", get(found))
        .route("/end/follows", post(follows))
}

/// What follows from a sheet for the second clip.
#[derive(Debug, PartialEq, Serialize)]
struct EndSeen {
    /// Frames of the clip.
    frames: usize,
    /// Where the sticker is in each, px.
    sticker: Vec<Option<[f64; 2]>>,
    /// How that phone sees the floor, in a sentence.
    view: String,
}

fn end_seen(outline: &Outline, sheet: &RunSheet) -> EndSeen {
    let round = |px: f64| (px * 10.0).round() / 10.0;
    let sticker = outline.track.sticker.iter();
    EndSeen {
        frames: outline.track.times_s.len(),
        sticker: sticker
            .map(|place| place.map(|p| [round(p.u_px), round(p.v_px)]))
            .collect(),
        view: view_words(&outline.view, sheet.floor_marks.len()),
    }
}

fn no_end_clip() -> Response {
    let told = Told::new(
        &"there is no second clip",
        "start gripline setup with --end-view and that clip",
    );
    failed(StatusCode::NOT_FOUND, &told)
}

async fn frame(State(shared): State<Shared>, Path(number): Path<u32>) -> Response {
    aside(move || match &shared.session.end {
        Some(end) => frame_of(end, number),
        None => no_end_clip(),
    })
    .await
}

async fn found(State(shared): State<Shared>) -> Response {
    let Some(end) = &shared.session.end else {
        return no_end_clip();
    };
    let Some(first) = end.first.done() else {
        let told = Told::new(&"the second clip is still being looked at", "wait a moment");
        return failed(StatusCode::CONFLICT, &told);
    };
    let observed = &first.observed;
    let moves = |patch: &&Patch| patch.manner != Manner::Still;
    Json(json!({
        "width_px": observed.clip.width_px,
        "height_px": observed.clip.height_px,
        "times_s": observed.seen.frames.iter().map(|frame| frame.time_s).collect::<Vec<_>>(),
        "patches": first.patches.iter().filter(moves).collect::<Vec<_>>(),
    }))
    .into_response()
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Asked {
    draft: Draft,
}

async fn follows(State(shared): State<Shared>, bytes: Bytes) -> Response {
    let asked = match ours(&bytes, |asked: &Asked| &asked.draft) {
        Ok(asked) => asked,
        Err(refusal) => return *refusal,
    };
    aside(move || {
        let Some(end) = &shared.session.end else {
            return no_end_clip();
        };
        let checked = shared.session.check(&asked.draft);
        let sheet = checked.ok().and_then(|checked| checked.sheet);
        let Some(sheet) = sheet.map(|sheet| sheet.for_end_view()) else {
            return Json(json!({ "state": "empty" })).into_response();
        };
        Json(followed(end, &sheet)).into_response()
    })
    .await
}

fn followed(end: &ClipSeen, sheet: &RunSheet) -> serde_json::Value {
    match end.follow(sheet) {
        Follow::Waiting(progress) => json!({ "state": "waiting", "progress": progress }),
        Follow::Ready(outline) => json!({ "state": "ready", "seen": end_seen(&outline, sheet) }),
        Follow::Failed(told) => json!({ "state": "failed", "told": told }),
    }
}
