//! What the page's addresses share: reading what the page sends, and answering it.

use super::clip_seen::ClipSeen;
use super::draft::Draft;
use super::tasks::Told;
use axum::Json;
use axum::body::Bytes;
use axum::http::{StatusCode, header};
use axum::response::{IntoResponse, Response};
use serde::de::DeserializeOwned;
use serde_json::json;

/// A failure as the page shows it.
pub(super) fn failed(status: StatusCode, told: &Told) -> Response {
    (
        status,
        Json(json!({ "says": told.says, "hint": told.hint })),
    )
        .into_response()
}

fn fault_of_tool() -> Response {
    let told = Told::new(
        &"the work stopped half-way",
        "this is a fault of the tool: please report it with the clip and the run sheet",
    );
    failed(StatusCode::INTERNAL_SERVER_ERROR, &told)
}

/// Runs work that takes a while beside the server's own thread.
pub(super) async fn aside(work: impl FnOnce() -> Response + Send + 'static) -> Response {
    tokio::task::spawn_blocking(work)
        .await
        .unwrap_or_else(|_| fault_of_tool())
}

/// Reads a body that the page sends.
pub(super) fn body<T: DeserializeOwned>(bytes: &[u8]) -> Result<T, Box<Response>> {
    serde_json::from_slice(bytes).map_err(|error| {
        let told = Told::new(
            &format!("the page sent something odd: {error}"),
            "load the page again",
        );
        Box::new(failed(StatusCode::BAD_REQUEST, &told))
    })
}

/// A request with a draft that only a page of ours can have sent.
pub(super) fn ours<T: DeserializeOwned>(
    bytes: &Bytes,
    draft: impl Fn(&T) -> &Draft,
) -> Result<T, Box<Response>> {
    let sent: T = body(bytes)?;
    let stranger = draft(&sent).stranger();
    stranger.map_or(Ok(sent), |key| {
        let told = Told::new(
            &format!("no sheet of this page has a key `{key}`"),
            "load the page again",
        );
        Err(Box::new(failed(StatusCode::BAD_REQUEST, &told)))
    })
}

/// A frame of a clip as JPEG.
pub(super) fn frame_of(clip: &ClipSeen, number: u32) -> Response {
    match clip.frame(number) {
        Ok(Some(jpeg)) => (
            [(header::CONTENT_TYPE, "image/jpeg")],
            Bytes::copy_from_slice(&jpeg),
        )
            .into_response(),
        Ok(None) => {
            let told = Told::new(
                &format!("the clip has no frame {number}"),
                "choose an earlier one",
            );
            failed(StatusCode::NOT_FOUND, &told)
        }
        Err(told) => failed(StatusCode::SERVICE_UNAVAILABLE, &told),
    }
}
