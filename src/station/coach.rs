//! The coach's page, on this computer only: who sent what, who needs help, the treatments so far, the class's table.

use super::Station;
use super::answers::{aside, done, file, refusal, sandboxed, with_headers};
use super::book::{BookError, State};
use super::export::{Export, class_csv};
use super::intake::free_bytes;
use super::told::told;
use super::{locked, page};
use crate::setup_page::{Gate, guard};
use axum::extract::{Path, State as Of};
use axum::http::{HeaderMap, StatusCode, header};
use axum::middleware::{from_fn_with_state, map_response};
use axum::response::{IntoResponse, Response};
use axum::routing::{get, post};
use axum::{Json, Router};
use serde::Deserialize;
use serde_json::json;
use std::process::{Command, Stdio};
use std::sync::Arc;
use std::sync::atomic::Ordering;

type Shared = Arc<Station>;

/// Name of the folder that holds the class's comparison.
const COMPARISON: &str = "comparison";

/// Everything that the coach's page may ask for.
pub(super) fn routes(station: Shared, gate: Arc<Gate>) -> Router {
    Router::new()
        .route("/", get(async || page::file("coach.html")))
        .route("/board", get(async || page::file("board.html")))
        .route(
            "/page/{name}",
            get(async |Path(name): Path<String>| page::file(&name)),
        )
        .route("/class", get(class))
        .route("/join.svg", get(join_svg))
        .route("/freeze", post(freeze))
        .route("/again", post(again))
        .route("/delete", post(delete))
        .route("/compare", post(compare))
        .route("/comparison", get(comparison))
        .route("/class.csv", get(table))
        .route("/class.zip", get(zip))
        .route("/runs/{team}/{number}/{file}", get(result))
        .fallback(async || {
            refusal(
                StatusCode::NOT_FOUND,
                "there is nothing at this address",
                "go back",
            )
        })
        .layer(map_response(async |answer: Response| with_headers(answer)))
        .layer(from_fn_with_state(gate, guard))
        .with_state(station)
}

async fn class(Of(station): Of<Shared>) -> Response {
    aside(move || {
        let queue = station.queue();
        let book = locked(&station.book).clone_teams();
        let teams: Vec<_> = (book.iter())
            .map(|(id, team)| {
                let runs = team.runs.iter().rev();
                let runs: Vec<_> = runs
                    .map(|(number, run)| {
                        let before = queue.iter().position(|place| place.0 == *id && place.1 == *number);
                        told(team, *number, run, before)
                    })
                    .collect();
                json!({ "id": id, "name": team.about.name, "key": team.about.key.to_string(), "runs": runs })
            })
            .collect();
        Json(json!({
            "teams": teams, "code": locked(&station.book).code.to_string(), "address": station.address(),
            "frozen": station.frozen.load(Ordering::Relaxed), "waiting": queue.len(),
            "free_mb": free_bytes(&station.root).map(|free| free / 1_000_000),
            "comparison": station.root.join(COMPARISON).join("comparison.html").is_file(),
        }))
        .into_response()
    })
    .await
}

async fn join_svg(Of(station): Of<Shared>) -> Response {
    match station.code_svg() {
        Some(svg) => ([(header::CONTENT_TYPE, "image/svg+xml")], svg).into_response(),
        None => refusal(
            StatusCode::NOT_FOUND,
            "the address is too long to draw",
            "type it",
        ),
    }
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Freeze {
    on: bool,
}

async fn freeze(Of(station): Of<Shared>, Json(wish): Json<Freeze>) -> Response {
    station.frozen.store(wish.on, Ordering::Relaxed);
    StatusCode::NO_CONTENT.into_response()
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Which {
    team: String,
    /// The whole team where no run is named.
    number: Option<u32>,
}

async fn again(Of(station): Of<Shared>, Json(which): Json<Which>) -> Response {
    aside(move || {
        let result = match which.number {
            Some(number) => locked(&station.book).again(&which.team, number),
            None => Err(BookError::NoRun),
        };
        station.wake();
        done(result)
    })
    .await
}

async fn delete(Of(station): Of<Shared>, Json(which): Json<Which>) -> Response {
    aside(move || {
        let mut book = locked(&station.book);
        done(match which.number {
            Some(number) => book.delete_run(&which.team, number),
            None => book.delete_team(&which.team),
        })
    })
    .await
}

/// Compares the treatments of everything that was measured, as `gripline compare` does.
async fn compare(Of(station): Of<Shared>) -> Response {
    aside(move || {
        let results: Vec<_> = {
            let book = locked(&station.book);
            let runs = book.teams.values().flat_map(|team| team.runs.values());
            runs.filter(|run| run.state == State::Done)
                .map(super::book::Run::result)
                .collect()
        };
        if results.is_empty() {
            let says = "nothing was measured yet";
            return refusal(StatusCode::CONFLICT, says, "wait for the first verdicts");
        }
        let ran = std::env::current_exe().and_then(|tool| {
            Command::new(tool)
                .arg("compare")
                .args(&results)
                .arg("--replace")
                .arg("--out")
                .arg(station.root.join(COMPARISON))
                .stdin(Stdio::null())
                .output()
        });
        match ran {
            Ok(output) if output.status.success() => StatusCode::NO_CONTENT.into_response(),
            Ok(output) => {
                let words = String::from_utf8_lossy(&output.stderr);
                let line = |mark: &str| words.lines().find_map(|line| line.strip_prefix(mark));
                let says = line("error: ").unwrap_or("the runs could not be compared");
                refusal(
                    StatusCode::CONFLICT,
                    says,
                    line("hint: ").unwrap_or("measure more runs first"),
                )
            }
            Err(error) => refusal(
                StatusCode::INTERNAL_SERVER_ERROR,
                &error.to_string(),
                "try it again",
            ),
        }
    })
    .await
}

async fn comparison(Of(station): Of<Shared>) -> Response {
    aside(move || {
        let page = station.root.join(COMPARISON).join("comparison.html");
        match std::fs::read(page) {
            Ok(bytes) => {
                let mut answer =
                    ([(header::CONTENT_TYPE, "text/html; charset=utf-8")], bytes).into_response();
                sandboxed(&mut answer);
                answer
            }
            Err(_) => refusal(
                StatusCode::NOT_FOUND,
                "nothing was compared yet",
                "press Compare first",
            ),
        }
    })
    .await
}

async fn table(Of(station): Of<Shared>) -> Response {
    aside(move || {
        let teams = locked(&station.book).clone_teams();
        match class_csv(&teams) {
            Ok(csv) => {
                let headers = [
                    (header::CONTENT_TYPE, "text/csv; charset=utf-8"),
                    (
                        header::CONTENT_DISPOSITION,
                        "attachment; filename=\"class.csv\"",
                    ),
                ];
                (headers, csv).into_response()
            }
            Err(error) => refusal(
                StatusCode::INTERNAL_SERVER_ERROR,
                &error.to_string(),
                "try it again",
            ),
        }
    })
    .await
}

/// Everything in one file. It is made beside the class's folders and goes when it was sent.
async fn zip(Of(station): Of<Shared>) -> Response {
    let made = tokio::task::spawn_blocking(move || {
        let teams = locked(&station.book).clone_teams();
        Export::make(&station.root, &teams)
    })
    .await;
    match made {
        Ok(Ok(export)) => export.into_response(),
        Ok(Err(error)) => refusal(
            StatusCode::INSUFFICIENT_STORAGE,
            &error.to_string(),
            "make room on the disk",
        ),
        Err(_) => refusal(
            StatusCode::INTERNAL_SERVER_ERROR,
            "the work stopped half-way",
            "try it again",
        ),
    }
}

async fn result(
    Of(station): Of<Shared>,
    Path((team, number, name)): Path<(String, u32, String)>,
    headers: HeaderMap,
) -> Response {
    let run = locked(&station.book).run(&team, number).cloned();
    match run {
        Ok(run) => file(&run, &name, &headers).await,
        Err(error) => error.into_response(),
    }
}
