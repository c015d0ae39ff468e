//! The page's addresses. Nothing of a request ever becomes a path: frames go by number, files of the page
//! and the report by fixed names.

use super::answers::{aside, body, failed, frame_of, ours};
use super::checking::Fault;
use super::clip_seen::Follow;
use super::draft::Draft;
use super::end_view;
use super::gate::{Gate, guard};
use super::missing::missing;
use super::numbering::floor_mark_name;
use super::page;
use super::session::{Saved, Session};
use super::spot::spot;
use super::storing::key_of;
use super::tasks::Told;
use crate::pipeline::REPORT_NAME;
use axum::body::Bytes;
use axum::extract::{DefaultBodyLimit, Path, State};
use axum::http::{StatusCode, header};
use axum::middleware::from_fn_with_state;
use axum::response::{IntoResponse, Response};
use axum::routing::{get, post};
use axum::{Json, Router};
use serde::Deserialize;
use serde_json::json;
use std::sync::Arc;
use tokio::sync::Notify;

/// Most bytes of a request's body: a sheet with 200 floor marks needs about 40 kB.
const MOST_BODY_BYTES: usize = 256 * 1024;
/// Most bytes of a report that is sent.
const MOST_REPORT_BYTES: u64 = 64 * 1024 * 1024;

#[derive(Clone)]
pub(super) struct Shared {
    pub(super) session: Arc<Session>,
    done: Arc<Notify>,
}

/// Everything that the server answers to.
pub(super) fn routes(session: Arc<Session>, gate: Arc<Gate>, done: Arc<Notify>) -> Router {
    Router::new()
        .route("/", get(async || page::file("page.html")))
        .route(
            "/page/{name}",
            get(async |Path(name): Path<String>| page::file(&name)),
        )
        .route("/frames/{number}", get(frame))
        .route("/standing", get(standing))
        .route("/patches", get(found))
        .route("/sheet", get(sheet))
        .route("/sheet/again", post(again))
        .route("/sheet/save", post(save))
        .route("/follows", post(follows))
        .route("/floor", post(floor))
        .route("/measure", post(measure))
        .route("/report", get(report))
        .route("/done", post(finish))
        .merge(end_view::routes())
        .fallback(async || (StatusCode::NOT_FOUND, "There is nothing at this address.\n"))
        .layer(DefaultBodyLimit::max(MOST_BODY_BYTES))
        .layer(from_fn_with_state(gate, guard))
        .with_state(Shared { session, done })
}

async fn frame(State(shared): State<Shared>, Path(number): Path<u32>) -> Response {
    aside(move || frame_of(&shared.session.side, number)).await
}

async fn standing(State(shared): State<Shared>) -> Response {
    let session = &shared.session;
    let name = |path: &std::path::Path| {
        path.file_name()
            .unwrap_or_default()
            .to_string_lossy()
            .into_owned()
    };
    let results = session.results();
    Json(json!({
        "clip": name(&session.side.path),
        "end": session.end.as_ref().map(|end| json!({ "clip": name(&end.path), "looking": end.first.standing() })),
        "sheet": session.sheet.to_string_lossy(),
        "sheet_exists": session.base().is_some(),
        "looking": session.side.first.standing(),
        "measuring": session.measuring.standing(),
        "words": session.measuring.done().as_deref(),
        "results": results.as_ref().map(|folder| folder.to_string_lossy().into_owned()),
        "result_exists": results.as_ref().is_some_and(|folder| folder.exists()),
        "report_exists": results.is_some_and(|folder| folder.join(REPORT_NAME).is_file()),
    }))
    .into_response()
}

async fn found(State(shared): State<Shared>) -> Response {
    let Some(first) = shared.session.side.first.done() else {
        let told = Told::new(&"the clip is still being looked at", "wait a moment");
        return failed(StatusCode::CONFLICT, &told);
    };
    let observed = &first.observed;
    Json(json!({
        "width_px": observed.clip.width_px,
        "height_px": observed.clip.height_px,
        "times_s": observed.seen.frames.iter().map(|frame| (frame.time_s * 1e5).round() / 1e5).collect::<Vec<_>>(),
        "capture_fps": observed.clip.capture_fps,
        "damage": observed.damage.iter().map(ToString::to_string).collect::<Vec<_>>(),
        "patches": first.patches,
        "doubts": first.proposal.doubts,
        "colours": crate::colour::Colour::ALL.map(crate::colour::Colour::as_str),
        "kit": kit(),
    }))
    .into_response()
}

/// The printed kit's floor plan and aim line, mm.
fn kit() -> serde_json::Value {
    use crate::sheet::kit::{
        AIM_MM, AXLE_MARK_LETTER, END_STICKER_LETTER, FLOOR_MARK, FLOOR_PLAN_MM, STICKER_LETTER,
        WHEEL_MARK_LETTER,
    };
    json!({
        "colour": FLOOR_MARK.as_str(), "places_mm": FLOOR_PLAN_MM, "aim_mm": AIM_MM,
        "letters": { "sticker": STICKER_LETTER, "wheel_mark": WHEEL_MARK_LETTER, "axle_mark": AXLE_MARK_LETTER, "end_view": END_STICKER_LETTER },
    })
}

async fn sheet(State(shared): State<Shared>) -> Response {
    match shared.session.first_draft() {
        Ok(draft) => Json(json!({ "draft": draft, "exists": shared.session.base().is_some() }))
            .into_response(),
        Err(error) => {
            let told = Told::new(
                &error,
                "correct the sheet in a text editor, then load this page again",
            );
            failed(StatusCode::CONFLICT, &told)
        }
    }
}

async fn again(State(shared): State<Shared>) -> Response {
    aside(move || match shared.session.reload() {
        Ok(draft) => Json(json!({ "draft": draft, "exists": shared.session.base().is_some() }))
            .into_response(),
        Err(told) => failed(StatusCode::CONFLICT, &told),
    })
    .await
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Asked {
    draft: Draft,
    frame: usize,
}

async fn follows(State(shared): State<Shared>, bytes: Bytes) -> Response {
    let asked = match ours(&bytes, |asked: &Asked| &asked.draft) {
        Ok(asked) => asked,
        Err(refusal) => return *refusal,
    };
    aside(move || {
        let session = &shared.session;
        let checked = match session.check(&asked.draft) {
            Ok(checked) => checked,
            Err(error) => {
                return failed(
                    StatusCode::CONFLICT,
                    &Told::new(&error, "correct the sheet in a text editor"),
                );
            }
        };
        let (mut state, mut told, mut progress, mut preview) = ("empty", None, None, None);
        if let Some(sheet) = &checked.sheet {
            match session.side.follow(sheet) {
                Follow::Waiting(at) => {
                    state = "waiting";
                    progress = Some(at);
                }
                Follow::Ready(outline) => {
                    state = "ready";
                    preview = session.preview(&outline, &checked, asked.frame);
                }
                Follow::Failed(why) => {
                    state = "failed";
                    told = Some(why);
                }
            }
        }
        let missing = missing(&asked.draft, preview.as_ref());
        let faults: &[Fault] = &checked.faults;
        Json(json!({
            "state": state, "told": told, "progress": progress, "faults": faults,
            "missing": missing, "preview": preview,
        }))
        .into_response()
    })
    .await
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Pointed {
    draft: Draft,
    frame: usize,
    place_px: [f64; 2],
}

/// The spot of the floor at a place that was pointed at.
async fn floor(State(shared): State<Shared>, bytes: Bytes) -> Response {
    let pointed = match ours(&bytes, |pointed: &Pointed| &pointed.draft) {
        Ok(pointed) => pointed,
        Err(refusal) => return *refusal,
    };
    aside(move || {
        let none = || {
            let told = Told::new(
                &"that place cannot be told on the floor",
                "four floor marks with their places show where the floor is; then point at a spot on it",
            );
            failed(StatusCode::UNPROCESSABLE_ENTITY, &told)
        };
        let Some(checked) = shared.session.check(&pointed.draft).ok() else {
            return none();
        };
        let Some(sheet) = &checked.sheet else {
            return none();
        };
        let Follow::Ready(outline) = shared.session.side.follow(sheet) else {
            return none();
        };
        let Some(spot) = spot(&outline, sheet, pointed.frame, pointed.place_px) else {
            return none();
        };
        let row = spot.mark.and_then(|mark| checked.rows.get(mark).copied());
        let mark = row.and_then(|row| Some(floor_mark_name(pointed.draft.floor_marks.get(row)?, row)));
        Json(json!({ "x_mm": spot.x_mm, "y_mm": spot.y_mm, "mark": mark })).into_response()
    })
    .await
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct ToSave {
    draft: Draft,
    over: Option<String>,
}

async fn save(State(shared): State<Shared>, bytes: Bytes) -> Response {
    let wish = match ours(&bytes, |wish: &ToSave| &wish.draft) {
        Ok(wish) => wish,
        Err(refusal) => return *refusal,
    };
    aside(
        move || match shared.session.save(&wish.draft, wish.over.as_deref()) {
            Ok(Saved::Written { text }) => {
                let draft = Draft::read(&text).ok();
                let pointed = text.contains("at_px");
                Json(
                    json!({ "state": "written", "text": text, "draft": draft, "pointed": pointed }),
                )
                .into_response()
            }
            Ok(Saved::Changed { disk, would_be }) => {
                let key = key_of(disk.as_deref());
                let answer =
                    json!({ "state": "changed", "disk": disk, "key": key, "would_be": would_be });
                (StatusCode::CONFLICT, Json(answer)).into_response()
            }
            Ok(Saved::Incomplete(checked)) => {
                let answer = json!({ "state": "incomplete", "faults": checked.faults });
                (StatusCode::UNPROCESSABLE_ENTITY, Json(answer)).into_response()
            }
            Err(error) => failed(StatusCode::CONFLICT, &Told::new(&error, error.hint())),
        },
    )
    .await
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct ToMeasure {
    replace: bool,
}

async fn measure(State(shared): State<Shared>, bytes: Bytes) -> Response {
    match body::<ToMeasure>(&bytes) {
        Ok(wish) => shared.session.measure(wish.replace),
        Err(refusal) => return *refusal,
    }
    Json(shared.session.measuring.standing()).into_response()
}

/// What the report may do: show itself. It holds its own script, and runs in a world of its own.
const REPORT_POLICY: &str = "sandbox allow-scripts allow-modals; default-src 'none'; \
     style-src 'unsafe-inline'; script-src 'unsafe-inline'; img-src data:; frame-ancestors 'self'";

async fn report(State(shared): State<Shared>) -> Response {
    aside(move || {
        use std::io::Read;
        let file = shared
            .session
            .results()
            .and_then(|folder| std::fs::File::open(folder.join(REPORT_NAME)).ok());
        let mut bytes = Vec::new();
        let read = file.map(|file| file.take(MOST_REPORT_BYTES).read_to_end(&mut bytes));
        if !matches!(read, Some(Ok(_))) {
            return (
                StatusCode::NOT_FOUND,
                "There is no report yet: measure the clip first.\n",
            )
                .into_response();
        }
        let headers = [
            (header::CONTENT_TYPE, "text/html; charset=utf-8"),
            (header::CONTENT_SECURITY_POLICY, REPORT_POLICY),
        ];
        (headers, bytes).into_response()
    })
    .await
}

async fn finish(State(shared): State<Shared>) -> Response {
    if shared.session.measuring.standing().state == "running" {
        let told = Told::new(
            &"the clip is being measured",
            "wait until that is done, or press Ctrl-C in the terminal",
        );
        return failed(StatusCode::CONFLICT, &told);
    }
    shared.done.notify_one();
    Json(json!({ "state": "done" })).into_response()
}
