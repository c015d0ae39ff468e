//! `plan.html`: what to change, on one page.

use super::rows::{ChangeRow, LeverRow, Rows, rows};
use super::say::{CAUTIONS, because, careful, headline, task};
use super::trade_off::{alt, chart, legend};
use crate::outputs::report::STYLE;
use crate::outputs::report::plot::Drawn;
use crate::outputs::shown::{decimals, number};
use crate::plan::{COMMON_PRACTICE, Plan, Task, learnt};
use askama::Template;

/// Why a page could not be made. None of these happens for reasons of the runs.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum PlanPageError {
    /// The template engine failed.
    #[error("the plan's page could not be put together: {0}")]
    Page(#[from] askama::Error),
    /// A chart could not be drawn.
    #[error("the chart of the plan could not be drawn: {0}")]
    Chart(String),
}

#[derive(Template)]
#[template(path = "page.html", config = "src/plan_page/askama.toml")]
struct Page {
    tool: &'static str,
    style: &'static str,
    own_style: &'static str,
    kicker: String,
    headline: String,
    because: Vec<String>,
    careful: Vec<String>,
    levers: Vec<LeverRow>,
    changes: Vec<ChangeRow>,
    sprint: String,
    chart: Option<Drawn>,
    alt: String,
    legend: Vec<(&'static str, &'static str)>,
    target: bool,
    chassis: Option<String>,
    practice: [&'static str; 3],
    open: Vec<String>,
    next: Vec<String>,
    learnt: Vec<[String; 4]>,
    cautions: &'static str,
}

/// The page.
///
/// # Errors
/// What the template engine or the plotting library says; writing to memory does not fail in practice.
pub fn plan_html(of: &Plan) -> Result<Vec<u8>, PlanPageError> {
    let Rows {
        levers,
        changes,
        open,
        next,
        chassis,
    } = rows(of);
    let car = of.evidence.car.as_deref().unwrap_or("a car without a name");
    let runs = of.evidence.runs.len();
    let page = Page {
        tool: concat!("gripline ", env!("CARGO_PKG_VERSION")),
        style: STYLE,
        own_style: include_str!("page.css"),
        kicker: format!(
            "Plan · {car} · to {} · from {runs} measured run{}",
            task(of),
            if runs == 1 { "" } else { "s" }
        ),
        headline: headline(of),
        because: because(of).iter().map(|line| sentence(line)).collect(),
        careful: careful(of).iter().map(|line| sentence(line)).collect(),
        levers,
        changes,
        sprint: format!("{} m", number(of.task.sprint_m(), 2)),
        chart: chart(of).map_err(|error| PlanPageError::Chart(error.to_string()))?,
        alt: alt(of),
        legend: legend(of),
        target: matches!(of.task, Task::Distance { .. }),
        chassis: chassis.map(|line| sentence(&line)),
        practice: COMMON_PRACTICE,
        open: open.iter().map(|line| sentence(line)).collect(),
        next: next.iter().map(|line| sentence(line)).collect(),
        learnt: learnt_rows(of),
        cautions: CAUTIONS,
    };
    Ok(page.render()?.into_bytes())
}

/// A capital at its beginning and a full stop at its end.
fn sentence(line: &str) -> String {
    let mut letters = line.chars();
    let first = letters.next().map(|first| first.to_uppercase().to_string());
    let mut out = first.unwrap_or_default() + letters.as_str();
    if !out.ends_with('.') {
        out.push('.');
    }
    out
}

/// What the runs say of the car: in words, before, after, and where the range before comes from.
fn learnt_rows(of: &Plan) -> Vec<[String; 4]> {
    let row = |one: crate::plan::Learnt| {
        let digits = |half: f64| decimals(half).min(4);
        let [low, high] = one.before;
        let wide = digits((high - low) / 2.0);
        let narrow = digits((one.after.high - one.after.low) / 2.0);
        [
            sentence(one.words).trim_end_matches('.').to_owned(),
            format!("{} to {}", number(low, wide), number(high, wide)),
            format!(
                "{} ({} to {})",
                number(one.after.value, narrow),
                number(one.after.low, narrow),
                number(one.after.high, narrow)
            ),
            one.from.to_owned(),
        ]
    };
    learnt(of).into_iter().map(row).collect()
}
