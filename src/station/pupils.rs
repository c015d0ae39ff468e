//! The pupils' page: join, the car, a clip, its verdict. A phone sees and changes its own team, and nothing else.

use super::Station;
use super::answers::{OFFSET, aside, done, file, refusal, sent, with_headers};
use super::book::{BookError, Order, Run, State, Team};
use super::door::{Refused, cookie, own_page, team_of};
use super::intake::{IntakeError, MOST_PIECE_BYTES, may_come, take};
use super::names::{name, note};
use super::serve::From;
use super::sheets::{
    LONGEST_CHANGE, LONGEST_TREATMENT, Marks, car_sheet, run_sheet, typed, with_marks,
};
use super::told::told;
use super::{locked, page};
use crate::colour::Colour;
use crate::setup_page::Draft;
use axum::body::{Body, to_bytes};
use axum::extract::{Path, Request, State as Of};
use axum::http::{HeaderMap, HeaderValue, StatusCode, header};
use axum::middleware::{Next, from_fn_with_state};
use axum::response::{IntoResponse, Response};
use axum::routing::{get, post};
use axum::{Extension, Json, Router};
use serde::Deserialize;
use serde::de::DeserializeOwned;
use serde_json::json;
use std::sync::Arc;
use std::sync::atomic::Ordering;
use std::time::{Duration, Instant};

type Shared = Arc<Station>;

/// Most bytes of what a page says.
const MOST_WORDS_BYTES: usize = 16 << 10;
/// A request's body has to come within this.
const BODY: Duration = Duration::from_secs(60);

/// Everything that phones may ask for.
pub(super) fn routes(station: Shared) -> Router {
    Router::new()
        .route("/", get(async || page::file("pupils.html")))
        .route(
            "/page/{name}",
            get(async |Path(name): Path<String>| page::file(&name)),
        )
        .route("/mine", get(mine))
        .route("/join", post(join))
        .route("/cars", post(keep_car))
        .route("/runs", post(begin_run))
        .route("/runs/{number}/clip", get(standing).patch(piece))
        .route("/runs/{number}/again", post(again))
        .route("/runs/{number}/marks", post(marks))
        .route("/runs/{number}/film", get(film))
        .route("/runs/{number}", axum::routing::delete(delete_run))
        .route("/runs/{number}/{file}", get(result))
        .fallback(async || {
            refusal(
                StatusCode::NOT_FOUND,
                "there is nothing at this address",
                "go back",
            )
        })
        .layer(from_fn_with_state(Arc::clone(&station), guard))
        .with_state(station)
}

async fn guard(Of(station): Of<Shared>, request: Request, next: Next) -> Response {
    with_headers(
        match own_page(request.headers(), request.method(), station.port) {
            Ok(()) => next.run(request).await,
            Err(Refused::Host) => refusal(
                StatusCode::FORBIDDEN,
                "this address is not the station's own",
                "scan the code again",
            ),
            Err(Refused::Origin) => refusal(
                StatusCode::FORBIDDEN,
                "another page may not ask for this",
                "scan the code again",
            ),
        },
    )
}

/// A body of at most so many bytes that comes in time.
async fn body(body: Body, most: usize) -> Result<axum::body::Bytes, Response> {
    match tokio::time::timeout(BODY, to_bytes(body, most)).await {
        Ok(Ok(bytes)) => Ok(bytes),
        Ok(Err(_)) => Err(refusal(
            StatusCode::PAYLOAD_TOO_LARGE,
            "that is too much at once, or it broke off",
            "send it again",
        )),
        Err(_) => Err(refusal(
            StatusCode::REQUEST_TIMEOUT,
            "that came too slowly",
            "go nearer to the wifi and send it again",
        )),
    }
}

async fn words<T: DeserializeOwned>(request: Request) -> Result<T, Response> {
    let bytes = body(request.into_body(), MOST_WORDS_BYTES).await?;
    serde_json::from_slice(&bytes).map_err(|error| {
        let says = format!("the page sent something odd: {error}");
        refusal(StatusCode::BAD_REQUEST, &says, "load the page again")
    })
}

fn not_joined() -> Response {
    refusal(
        StatusCode::UNAUTHORIZED,
        "this phone has not joined a team",
        "type the code on the board",
    )
}

/// Does something with the phone's own team, beside the server's own thread.
async fn as_team(
    station: Shared,
    headers: HeaderMap,
    work: impl FnOnce(&Station, &str, &Team) -> Response + Send + 'static,
) -> Response {
    aside(move || {
        let found = {
            let book = locked(&station.book);
            team_of(&headers, &book).map(|(id, team)| (id, team.clone()))
        };
        found.map_or_else(not_joined, |(id, team)| work(&station, &id, &team))
    })
    .await
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Join {
    code: String,
    team: String,
    /// Of a team that is there already.
    key: String,
}

async fn join(
    Of(station): Of<Shared>,
    Extension(from): Extension<From>,
    request: Request,
) -> Response {
    let wish: Join = match words(request).await {
        Ok(wish) => wish,
        Err(refused) => return refused,
    };
    aside(move || {
        let now = Instant::now();
        let mut wrong = locked(&station.wrong);
        if wrong.must_wait(from.0, now) {
            let says = "too many wrong codes came from this phone";
            return refusal(StatusCode::TOO_MANY_REQUESTS, says, "wait two minutes");
        }
        match admit(&station, &wish) {
            Ok((team, value)) => {
                wrong.forget(from.0);
                let mut answer = Json(json!({ "team": team })).into_response();
                answer.headers_mut().insert(header::SET_COOKIE, value);
                answer
            }
            Err(refused) => {
                if refused.status() == StatusCode::FORBIDDEN {
                    wrong.count(from.0, now);
                }
                *refused
            }
        }
    })
    .await
}

/// The team's name and the cookie for whoever typed the right code, and the right key of a team that is there.
fn admit(station: &Station, wish: &Join) -> Result<(String, HeaderValue), Box<Response>> {
    let refused = |status, says: &str, hint: &str| Box::new(refusal(status, says, hint));
    let mut book = locked(&station.book);
    if !book.code.is(&wish.code) {
        let hint = "read it again: three and three letters or digits";
        return Err(refused(
            StatusCode::FORBIDDEN,
            "that is not the code on the board",
            hint,
        ));
    }
    let name = name(&wish.team).ok_or_else(|| {
        let says = "the team needs a name of 1 to 40 letters";
        refused(StatusCode::UNPROCESSABLE_ENTITY, says, "type one")
    })?;
    let known = (book.teams.iter())
        .find(|(_, team)| team.about.name == name)
        .map(|(id, team)| (id.clone(), team.about.clone()));
    let (id, secret) = match known {
        Some((id, about)) if about.key.is(&wish.key) => (id, about.secret),
        Some(_) => {
            let says = "there is a team of that name, and that is not its key";
            let hint = "the first phone of that team shows the key; or take another name";
            return Err(refused(StatusCode::FORBIDDEN, says, hint));
        }
        None if station.frozen.load(Ordering::Relaxed) => return Err(Box::new(frozen())),
        None => (book.begin_team(&name)).map_err(|error| Box::new(error.into_response()))?,
    };
    let value = HeaderValue::from_str(&cookie(&id, &secret));
    let value = value.map_err(|_| Box::new(BookError::NoRun.into_response()))?;
    Ok((name, value))
}

fn frozen() -> Response {
    refusal(
        StatusCode::LOCKED,
        "your coach takes no more clips for now",
        "what was sent is kept and measured",
    )
}

async fn mine(Of(station): Of<Shared>, headers: HeaderMap) -> Response {
    as_team(station, headers, |station, id, team| {
        let queue = station.queue();
        let runs = team.runs.iter().rev();
        let runs: Vec<_> = runs
            .map(|(number, run)| {
                let before = queue
                    .iter()
                    .position(|place| place.0 == id && place.1 == *number);
                told(team, *number, run, before)
            })
            .collect();
        let cars: Vec<_> = team
            .cars
            .iter()
            .map(|(id, sheet)| json!({ "id": id, "draft": typed(sheet) }))
            .collect();
        Json(json!({
            "team": team.about.name, "key": team.about.key.to_string(), "cars": cars, "runs": runs,
            "treatments": station.treatments(), "colours": Colour::ALL.map(Colour::as_str), "frozen": station.frozen.load(Ordering::Relaxed),
            "piece_bytes": MOST_PIECE_BYTES / 4, "most_bytes": station.settings.most_clip_bytes,
        }))
        .into_response()
    })
    .await
}

async fn keep_car(Of(station): Of<Shared>, headers: HeaderMap, request: Request) -> Response {
    let draft: Draft = match words(request).await {
        Ok(draft) => draft,
        Err(refused) => return refused,
    };
    as_team(station, headers, move |station, id, _| {
        match car_sheet(&draft) {
            Ok(sheet) => {
                let kept = locked(&station.book).keep_car(id, draft.car.text("name"), sheet);
                match kept {
                    Ok(car) => Json(json!({ "car": car })).into_response(),
                    Err(error) => error.into_response(),
                }
            }
            Err(faults) => (
                StatusCode::UNPROCESSABLE_ENTITY,
                Json(json!({ "faults": faults })),
            )
                .into_response(),
        }
    })
    .await
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Wish {
    token: String,
    clip: String,
    bytes: u64,
    car: String,
    treatment: String,
    change: String,
}

async fn begin_run(Of(station): Of<Shared>, headers: HeaderMap, request: Request) -> Response {
    let wish: Wish = match words(request).await {
        Ok(wish) => wish,
        Err(refused) => return refused,
    };
    as_team(station, headers, move |station, id, team| {
        if station.frozen.load(Ordering::Relaxed) {
            return frozen();
        }
        match order(station, team, &wish)
            .and_then(|(order, sheet)| Ok(locked(&station.book).take_order(id, order, &sheet)?))
        {
            Ok(number) => Json(json!({ "number": number })).into_response(),
            Err(error) => error.into_response(),
        }
    })
    .await
}

/// The order that a phone's wish amounts to, and the run's sheet.
fn order(station: &Station, team: &Team, wish: &Wish) -> Result<(Order, String), IntakeError> {
    let wrong = |says: &str| BookError::Wrong {
        says: says.to_owned(),
    };
    let token_good = (16..=64).contains(&wish.token.len())
        && wish.token.bytes().all(|byte| byte.is_ascii_hexdigit());
    if !token_good {
        return Err(wrong("the page sent no token").into());
    }
    may_come(&station.root, wish.bytes, station.settings.most_clip_bytes)?;
    let car = team
        .cars
        .get(&wish.car)
        .ok_or_else(|| wrong("say first which car it is"))?;
    let treatment = note(&wish.treatment, LONGEST_TREATMENT);
    let change = note(&wish.change, LONGEST_CHANGE);
    let sheet = run_sheet(car, &treatment, &change).map_err(|says| BookError::Wrong { says })?;
    let order = Order {
        token: wish.token.clone(),
        clip: note(&wish.clip, 80),
        bytes: wish.bytes,
        car: wish.car.clone(),
        treatment,
        change,
    };
    Ok((order, sheet))
}

/// How much of a clip is here.
async fn standing(
    Of(station): Of<Shared>,
    Path(number): Path<u32>,
    headers: HeaderMap,
) -> Response {
    as_team(station, headers, move |_, _, team| {
        let Some(run) = team.runs.get(&number) else {
            return BookError::NoRun.into_response();
        };
        let there = match run.state {
            State::Receiving { bytes, .. } => bytes,
            _ => run.order.bytes,
        };
        let mut answer = StatusCode::NO_CONTENT.into_response();
        answer
            .headers_mut()
            .insert(OFFSET, HeaderValue::from(there));
        answer
    })
    .await
}

async fn piece(
    Of(station): Of<Shared>,
    Path(number): Path<u32>,
    headers: HeaderMap,
    request: Request,
) -> Response {
    let offset = headers
        .get(OFFSET)
        .and_then(|value| value.to_str().ok()?.parse::<u64>().ok());
    let Some(offset) = offset else {
        return refusal(
            StatusCode::BAD_REQUEST,
            "the page did not say where this piece belongs",
            "load the page again",
        );
    };
    // Whoever has not joined sends nothing.
    if team_of(&headers, &locked(&station.book)).is_none() {
        return not_joined();
    }
    let bytes = match body(request.into_body(), MOST_PIECE_BYTES).await {
        Ok(bytes) => bytes,
        Err(refused) => return refused,
    };
    as_team(station, headers, move |station, id, _| {
        match take(&station.book, (id, number), offset, &bytes) {
            Ok(there) => {
                station.wake();
                let mut answer = StatusCode::NO_CONTENT.into_response();
                answer
                    .headers_mut()
                    .insert(OFFSET, HeaderValue::from(there));
                answer
            }
            Err(error) => error.into_response(),
        }
    })
    .await
}

async fn again(Of(station): Of<Shared>, Path(number): Path<u32>, headers: HeaderMap) -> Response {
    as_team(station, headers, move |station, id, _| {
        let result = locked(&station.book).again(id, number);
        station.wake();
        done(result)
    })
    .await
}

/// Marks that were not found, as someone shows them; the clip is measured again.
async fn marks(
    Of(station): Of<Shared>,
    Path(number): Path<u32>,
    headers: HeaderMap,
    request: Request,
) -> Response {
    let marks: Marks = match words(request).await {
        Ok(marks) => marks,
        Err(refused) => return refused,
    };
    as_team(station, headers, move |station, id, team| {
        let Some(run) = team.runs.get(&number) else {
            return BookError::NoRun.into_response();
        };
        let sheet = std::fs::read_to_string(run.sheet()).map_err(BookError::Io);
        let sheet = sheet
            .and_then(|sheet| with_marks(&sheet, &marks).map_err(|says| BookError::Wrong { says }));
        let result = sheet.and_then(|sheet| locked(&station.book).correct(id, number, &sheet));
        station.wake();
        done(result)
    })
    .await
}

/// A run of the phone's own team.
fn own_run(station: &Station, number: u32, headers: &HeaderMap) -> Result<Run, Box<Response>> {
    let book = locked(&station.book);
    let (_, team) = team_of(headers, &book).ok_or_else(|| Box::new(not_joined()))?;
    let run = team.runs.get(&number).cloned();
    run.ok_or_else(|| Box::new(BookError::NoRun.into_response()))
}

/// The team's own clip, to show the marks in.
async fn film(Of(station): Of<Shared>, Path(number): Path<u32>, headers: HeaderMap) -> Response {
    match own_run(&station, number, &headers) {
        Ok(run) => sent(run.clip(), "video/mp4", &headers).await,
        Err(refused) => *refused,
    }
}

async fn delete_run(
    Of(station): Of<Shared>,
    Path(number): Path<u32>,
    headers: HeaderMap,
) -> Response {
    as_team(station, headers, move |station, id, _| {
        done(locked(&station.book).delete_run(id, number))
    })
    .await
}

async fn result(
    Of(station): Of<Shared>,
    Path((number, name)): Path<(u32, String)>,
    headers: HeaderMap,
) -> Response {
    match own_run(&station, number, &headers) {
        Ok(run) => file(&run, &name, &headers).await,
        Err(refused) => *refused,
    }
}
