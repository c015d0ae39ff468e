//! Answers that both pages give alike: refusals, files of a result, and the headers that every answer has.

use super::book::{BookError, Run};
use super::intake::IntakeError;
use super::told::FILES;
use crate::setup_page::set_headers;
use axum::Json;
use axum::body::Body;
use axum::extract::Request;
use axum::http::{HeaderMap, HeaderName, HeaderValue, StatusCode, header};
use axum::response::{IntoResponse, Response};
use serde_json::json;
use std::path::PathBuf;
use tower_http::services::ServeFile;

/// A refusal as a page shows it.
pub(super) fn refusal(status: StatusCode, says: &str, hint: &str) -> Response {
    (status, Json(json!({ "says": says, "hint": hint }))).into_response()
}

impl IntoResponse for BookError {
    fn into_response(self) -> Response {
        let (status, hint) = match &self {
            Self::Full { .. } => (
                StatusCode::TOO_MANY_REQUESTS,
                "delete what is not needed, or ask your coach",
            ),
            Self::Wrong { .. } => (StatusCode::UNPROCESSABLE_ENTITY, "change it and try again"),
            Self::NoRun => (StatusCode::NOT_FOUND, "load the page again"),
            Self::Io(_) => (
                StatusCode::INSUFFICIENT_STORAGE,
                "tell your coach: the laptop's disk may be full",
            ),
        };
        refusal(status, &self.to_string(), hint)
    }
}

impl IntoResponse for IntakeError {
    fn into_response(self) -> Response {
        let says = self.to_string();
        match self {
            Self::Book(error) => error.into_response(),
            Self::Elsewhere { there } => {
                let mut answer = refusal(StatusCode::CONFLICT, &says, "send what comes after them");
                answer
                    .headers_mut()
                    .insert(OFFSET, HeaderValue::from(there));
                answer
            }
            Self::TooMuch => refusal(
                StatusCode::PAYLOAD_TOO_LARGE,
                &says,
                "choose the clip again",
            ),
            Self::DiskFull => refusal(
                StatusCode::INSUFFICIENT_STORAGE,
                &says,
                "nothing that was sent is lost; tell your coach to make room",
            ),
        }
    }
}

/// Where a clip goes on.
pub(super) const OFFSET: HeaderName = HeaderName::from_static("upload-offset");

/// What a report may do: show itself. It holds its own script, and runs in a world of its own, without the session.
const REPORT_POLICY: &str = "sandbox allow-scripts allow-modals allow-popups; default-src 'none'; style-src 'unsafe-inline'; \
     script-src 'unsafe-inline'; img-src data:; font-src data:";
/// What a page of ours may load and do: its own files, and nothing from elsewhere.
const POLICY: &str = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; media-src 'self'; \
     connect-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'";

/// A page that was measured or compared, in a world of its own.
pub(super) fn sandboxed(answer: &mut Response) {
    let policy = HeaderValue::from_static(REPORT_POLICY);
    answer
        .headers_mut()
        .insert(header::CONTENT_SECURITY_POLICY, policy);
}

/// A file of a result by its fixed name, whole or the part that a player asks for.
pub(super) async fn file(run: &Run, name: &str, request_headers: &HeaderMap) -> Response {
    let Some((own, kind)) = FILES.iter().find(|(own, _)| *own == name) else {
        return refusal(
            StatusCode::NOT_FOUND,
            "there is no such file",
            "load the page again",
        );
    };
    let mut answer = sent(run.result().join(own), kind, request_headers).await;
    if kind.starts_with("text/html") {
        sandboxed(&mut answer);
    }
    answer
}

/// A file, whole or the part that a player asks for.
pub(super) async fn sent(
    path: PathBuf,
    kind: &'static str,
    request_headers: &HeaderMap,
) -> Response {
    let mut request = Request::new(Body::empty());
    *request.headers_mut() = request_headers.clone();
    let found = ServeFile::new(path).try_call(request).await;
    let Ok(found) = found else {
        let says = "there is no such file";
        return refusal(StatusCode::NOT_FOUND, says, "load the page again");
    };
    let mut answer = found.map(Body::new).into_response();
    let kind = HeaderValue::from_static(kind);
    answer.headers_mut().insert(header::CONTENT_TYPE, kind);
    answer
}

/// Headers that every answer has.
pub(super) fn with_headers(mut answer: Response) -> Response {
    set_headers(&mut answer, POLICY);
    answer
}

/// Runs what touches the disk beside the server's own thread.
pub(super) async fn aside(work: impl FnOnce() -> Response + Send + 'static) -> Response {
    let done = tokio::task::spawn_blocking(work).await;
    done.unwrap_or_else(|_| {
        let says = "the work stopped half-way";
        refusal(StatusCode::INTERNAL_SERVER_ERROR, says, "try it again")
    })
}

/// Nothing to say but that it is done, or why not.
pub(super) fn done(result: Result<(), BookError>) -> Response {
    match result {
        Ok(()) => StatusCode::NO_CONTENT.into_response(),
        Err(error) => error.into_response(),
    }
}
