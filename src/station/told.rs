//! What is told of a run: where it is, and of a result its verdict, what shows it and what to try.

use super::book::{Run, State, Team};
use super::sheets::typed;
use crate::outputs::cause_in_words;
use crate::verdict::Cause;
use serde::Serialize;
use serde_json::Value;
use std::fs;
use std::path::Path;

/// Files of a result that are sent, and what they are. Nothing else is.
pub(super) const FILES: [(&str, &str); 6] = [
    ("report.html", "text/html; charset=utf-8"),
    ("worksheet.html", "text/html; charset=utf-8"),
    ("poster.html", "text/html; charset=utf-8"),
    ("poster.png", "image/png"),
    ("overlay.mp4", "video/mp4"),
    ("frames.csv", "text/csv; charset=utf-8"),
];
/// Quantities of the class's table.
pub(super) const NUMBERS: [&str; 6] = [
    "peak_speed_m_per_s",
    "distance_m",
    "max_slip",
    "spun_away_m",
    "final_deviation_m",
    "coast_deceleration_m_per_s2",
];
/// Name of a result's numbers.
const SUMMARY: &str = "summary.json";
/// Lines of grounds and of advice that are told.
const MOST_LINES: usize = 3;

/// A result, for page and table.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub(super) struct Verdict {
    /// The stable name of the cause.
    pub(super) cause: String,
    /// It in a sentence.
    pub(super) says: String,
    /// What shows it.
    pub(super) because: Vec<String>,
    /// What to try next.
    pub(super) try_next: Vec<String>,
    /// What this view could not show; told where nothing was decided.
    pub(super) not_seen: Vec<String>,
    /// Value, low and high end of each of [`NUMBERS`]; nothing where it is not observable.
    pub(super) numbers: Vec<Option<[f64; 3]>>,
    /// Names of the files that can be asked for.
    pub(super) files: Vec<&'static str>,
}

fn lines(of: &Value, key: &str) -> Vec<String> {
    let lines = of.get(key).and_then(Value::as_array);
    let texts = lines.into_iter().flatten().filter_map(Value::as_str);
    texts.take(MOST_LINES).map(str::to_owned).collect()
}

/// Reads what a result says; `None` where it is gone or not one.
pub(super) fn verdict(result: &Path) -> Option<Verdict> {
    let summary: Value = serde_json::from_slice(&fs::read(result.join(SUMMARY)).ok()?).ok()?;
    let of = summary.get("verdict")?;
    let cause: Cause = serde_json::from_value(of.get("cause")?.clone()).ok()?;
    let number = |key: &&str| {
        let quantity = summary.get(*key)?;
        let end = |name: &str| quantity.get(name).and_then(Value::as_f64);
        Some([end("value")?, end("low")?, end("high")?])
    };
    Some(Verdict {
        cause: cause.as_str().to_owned(),
        says: cause_in_words(cause),
        because: lines(of, "because"),
        try_next: lines(of, "try"),
        not_seen: lines(of, "not_seen"),
        numbers: NUMBERS.iter().map(number).collect(),
        files: (FILES.iter().map(|(name, _)| *name))
            .filter(|name| result.join(name).is_file())
            .collect(),
    })
}

/// A run as page and table are told of it.
#[derive(Debug, Serialize)]
pub(super) struct Told {
    pub(super) number: u32,
    pub(super) clip: String,
    pub(super) car: String,
    pub(super) treatment: String,
    pub(super) change: String,
    pub(super) state: &'static str,
    /// What arrived of how much.
    pub(super) bytes: [u64; 2],
    /// How many clips are measured before it; 0 is the next.
    pub(super) before: Option<usize>,
    pub(super) why: Option<super::book::Why>,
    pub(super) verdict: Option<Verdict>,
}

/// A car as its team wrote it.
fn car_name(team: &Team, id: &str) -> String {
    let draft = team.cars.get(id).map(|sheet| typed(sheet));
    let name = draft.map(|draft| draft.car.text("name").to_owned());
    name.filter(|name| !name.is_empty())
        .unwrap_or_else(|| id.to_owned())
}

/// What is told of a run; `before` is its place in the queue.
pub(super) fn told(team: &Team, number: u32, run: &Run, before: Option<usize>) -> Told {
    let order = &run.order;
    let (state, bytes) = match &run.state {
        State::Receiving { bytes, .. } => ("receiving", *bytes),
        State::Waiting => ("waiting", order.bytes),
        State::Measuring => ("measuring", order.bytes),
        State::Done => ("done", order.bytes),
        State::Failed(_) => ("failed", order.bytes),
    };
    let why = match &run.state {
        State::Failed(why) => Some(why.clone()),
        _ => None,
    };
    Told {
        number,
        clip: order.clip.clone(),
        car: car_name(team, &order.car),
        treatment: order.treatment.clone(),
        change: order.change.clone(),
        state,
        bytes: [bytes, order.bytes],
        before,
        why,
        verdict: run.verdict.clone(),
    }
}
