//! `comparison.html`: one file that stands up to a science fair's judge.

use super::care::care;
use super::dots::{by_group, in_order, swatch};
use super::method::method;
use super::names::{Scale, capital, noun};
use super::phrases::runs_words;
use super::rows::{
    Difference, Log, PlanRow, RunRow, car_log, differences, group_rows, overall, plans, run_row,
    spreads,
};
use super::say::{Asked, because, headline, leading, sentence};
use super::scatter::spread_sentence;
use super::terminal::{order_words, shown_by_none};
use crate::outputs::report::STYLE;
use crate::outputs::report::coded::{Part, coded};
use crate::outputs::report::plot::Drawn;
use crate::outputs::{caution, meaning};
use crate::texts::Texts;
use crate::treatments::{Comparison, OfQuantity};
use askama::Template;

/// Why a page could not be made. None of these happens for reasons of the runs.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum PageError {
    /// The template engine failed.
    #[error("the comparison page could not be put together: {0}")]
    Page(#[from] askama::Error),
    /// A chart could not be drawn.
    #[error("a chart of the comparison could not be drawn: {0}")]
    Chart(String),
}

#[derive(Template)]
#[template(path = "page.html", config = "src/comparison/askama.toml")]
struct Page {
    tool: &'static str,
    style: &'static str,
    own_style: &'static str,
    by: String,
    kicker: String,
    headline: String,
    /// How sure the headline is.
    sure: Option<Vec<Part>>,
    /// The chart that shows it, with its quantity.
    lead: Option<(String, Chart)>,
    because: Vec<Vec<Part>>,
    careful: Vec<Vec<Part>>,
    legend: Vec<Entry>,
    quantities: Vec<Section>,
    plans: Vec<PlanRow>,
    plan_unit: &'static str,
    /// How many changes were tested at once.
    changes: usize,
    logs: Vec<Log>,
    log_heads: Vec<String>,
    value_heads: Vec<String>,
    runs: Vec<RunRow>,
    /// Whether runs are of several cars, and whether any notes a change.
    cars: bool,
    noted: bool,
    order: String,
    method: Vec<(&'static str, Vec<Part>)>,
    cautions: String,
}

/// An entry of the legend.
struct Entry {
    path: String,
    class: String,
    label: String,
}

/// A quantity on the page.
struct Section {
    id: &'static str,
    title: String,
    meaning: String,
    said: Vec<String>,
    /// Both charts; `None` where no run shows the quantity.
    charts: Option<[Chart; 2]>,
    points: Vec<[String; 5]>,
    value_head: String,
    unit_words: String,
    groups: Cells,
    differences: Vec<Table>,
    spreads: Vec<Difference>,
    /// Whether a drift over the order could be looked for.
    drifts: bool,
    overall: Option<String>,
    unseen: Vec<String>,
}

/// A table of differences.
struct Table {
    caption: &'static str,
    cells: Cells,
    clear: Vec<&'static str>,
}

/// A table without the columns in which no row says anything.
struct Cells {
    heads: Vec<String>,
    rows: Vec<Vec<String>>,
}

/// What stands for nothing.
const DASH: &str = "–";

impl Cells {
    /// Leaves out every column but the first that holds dashes alone.
    fn of(heads: &[&str], rows: &[Vec<String>]) -> Self {
        let says = |column: usize| {
            let mut cells = rows.iter().filter_map(|row| row.get(column));
            column == 0 || cells.any(|cell| !cell.is_empty() && cell != DASH)
        };
        let kept: Vec<usize> = (0..heads.len()).filter(|column| says(*column)).collect();
        let keep = |row: &Vec<String>| kept.iter().filter_map(|c| row.get(*c).cloned()).collect();
        Self {
            heads: kept
                .iter()
                .map(|column| heads[*column].to_owned())
                .collect(),
            rows: rows.iter().map(keep).collect(),
        }
    }
}

struct Chart {
    drawn: Drawn,
    alt: String,
    /// First and last value of the axis of values.
    range: [String; 2],
}

/// The page.
///
/// # Errors
/// What the template engine or the plotting library says; writing to memory does not fail in practice.
pub fn comparison_html(of: &Comparison) -> Result<Vec<u8>, PageError> {
    let counted: usize = of.groups.iter().map(|group| group.runs.len()).sum();
    let parts = |texts: Vec<String>| -> Vec<Vec<Part>> {
        texts
            .iter()
            .map(|text| coded(Texts::english(), &capital(text)))
            .collect()
    };
    let runs: Vec<RunRow> = (0..of.runs.len()).map(|place| run_row(of, place)).collect();
    let mut shown = parts(because(of)).into_iter();
    let quantities: Result<Vec<Section>, PageError> = (of.quantities.iter())
        .map(|quantity| section(of, quantity))
        .collect();
    let heads = |quantity: &OfQuantity| {
        let scale = Scale::of(quantity);
        capital(&format!("{}{}", noun(quantity.key), scale.comma_unit()))
    };
    let page = Page {
        tool: concat!("gripline ", env!("CARGO_PKG_VERSION")),
        style: STYLE,
        own_style: include_str!("page.css"),
        by: capital(&of.question.by.words()),
        kicker: format!(
            "Comparison of runs · by {} · {} in {} group{}",
            of.question.by.words(),
            runs_words(counted),
            of.groups.len(),
            if of.groups.len() == 1 { "" } else { "s" }
        ),
        headline: headline(of),
        sure: shown.next(),
        lead: lead(of)?,
        because: shown.collect(),
        careful: parts(care(of)),
        legend: legend(of),
        quantities: quantities?,
        plans: plans(of),
        plan_unit: match of.question.pair_by {
            Some(_) => "Pairs",
            None => "Runs in each group",
        },
        changes: changes(of),
        logs: of.logs.iter().map(|log| car_log(of, log)).collect(),
        log_heads: of.quantities.iter().map(heads).collect(),
        value_heads: of.quantities.iter().map(heads).collect(),
        cars: runs.iter().any(|row| row.cells[2] != runs[0].cells[2]),
        noted: runs.iter().any(|row| row.cells[4] != DASH),
        runs,
        order: order_words(of),
        method: method(of)
            .into_iter()
            .map(|(head, text)| (head, coded(Texts::english(), &text)))
            .collect(),
        cautions: caution(Texts::english()),
    };
    Ok(page.render()?.into_bytes())
}

/// The chart of the quantity that the headline is about.
fn lead(of: &Comparison) -> Result<Option<(String, Chart)>, PageError> {
    let Some(quantity) = leading(of) else {
        return Ok(None);
    };
    let title = capital(noun(quantity.key));
    let [dots, _] = charts(of, quantity, &Scale::of(quantity), &title)?;
    Ok(Some((title, dots)))
}

fn legend(of: &Comparison) -> Vec<Entry> {
    (of.groups.iter().enumerate())
        .map(|(group, found)| {
            let (path, class) = swatch(group);
            Entry {
                path,
                class,
                label: found.label.clone(),
            }
        })
        .collect()
}

/// Changes from step to step that were tested.
fn changes(of: &Comparison) -> usize {
    (of.logs.iter())
        .flat_map(|log| &log.steps)
        .flat_map(|step| &step.values)
        .filter(|value| value.change.is_some_and(|change| change.p.is_some()))
        .count()
}

fn section(of: &Comparison, quantity: &OfQuantity) -> Result<Section, PageError> {
    let scale = Scale::of(quantity);
    let title = capital(noun(quantity.key));
    let none = shown_by_none(quantity);
    Ok(Section {
        id: quantity.key.as_str(),
        meaning: meaning(Texts::english(), quantity.key),
        charts: match none {
            Some(_) => None,
            None => Some(charts(of, quantity, &scale, &title)?),
        },
        said: none.map_or_else(|| said(of, quantity), |none| vec![format!("{none}.")]),
        points: points(of, quantity, &scale),
        value_head: format!("Value{}", scale.comma_unit()),
        unit_words: if scale.unit.is_empty() {
            String::new()
        } else {
            format!(", in {}", scale.unit)
        },
        groups: Cells::of(
            &[
                &capital(&of.question.by.words()),
                "n",
                "Mean (from the runs' scatter)",
                "with shared errors",
                "Standard deviation",
                "Repeatability limit r",
                "Run to run",
                "Measuring",
            ],
            &(group_rows(of, quantity, &scale).into_iter())
                .map(Vec::from)
                .collect::<Vec<Vec<String>>>(),
        ),
        differences: tables(of, quantity),
        spreads: spreads(of, quantity),
        drifts: quantity.drift.is_some(),
        overall: overall(of, quantity),
        unseen: unseen(of, quantity),
        title,
    })
}

fn charts(
    of: &Comparison,
    quantity: &OfQuantity,
    scale: &Scale,
    title: &str,
) -> Result<[Chart; 2], PageError> {
    let axis = format!("{}{}", noun(quantity.key), scale.comma_unit());
    let failed =
        |error: Box<dyn std::error::Error + Send + Sync>| PageError::Chart(error.to_string());
    Ok([
        Chart {
            alt: dots_alt(of, quantity, scale, title),
            range: ends(quantity, scale),
            drawn: by_group(of, quantity, scale, &axis).map_err(failed)?,
        },
        Chart {
            alt: order_alt(of, quantity, scale, title),
            range: [String::from("1"), of.runs.len().to_string()],
            drawn: in_order(of, quantity, scale, &axis).map_err(failed)?,
        },
    ])
}

fn tables(of: &Comparison, quantity: &OfQuantity) -> Vec<Table> {
    let captions = [
        (Asked::Mean, "Differences between the groups"),
        (
            Asked::OffLine,
            "Differences in how far off the line, whichever side",
        ),
    ];
    (captions.into_iter())
        .map(|(asked, caption)| {
            let rows = differences(of, quantity, asked);
            let heads = [
                "Groups",
                "Clear difference?",
                "Difference",
                "Runs",
                "p",
                "p, Holm",
                "Shuffled runs do this",
                "Hedges' g",
            ];
            let clear = rows.iter().map(|row| row.clear).collect();
            let whole = |row: Difference| {
                let first = [row.groups, row.clear.to_owned()].into_iter();
                first.chain(row.cells).collect()
            };
            let rows: Vec<Vec<String>> = rows.into_iter().map(whole).collect();
            let cells = Cells::of(&heads, &rows);
            Table {
                caption,
                cells,
                clear,
            }
        })
        .filter(|table| !table.clear.is_empty())
        .collect()
}

/// The least and the largest value, for whoever checks a chart.
fn ends(quantity: &OfQuantity, scale: &Scale) -> [String; 2] {
    let values = || quantity.points.iter().map(|p| p.value.value * scale.factor);
    [
        values().fold(f64::INFINITY, f64::min),
        values().fold(f64::NEG_INFINITY, f64::max),
    ]
    .map(|end| end.to_string())
}

fn said(of: &Comparison, quantity: &OfQuantity) -> Vec<String> {
    let means = Asked::of(quantity).iter().flat_map(|&asked| {
        let with_first = (asked.contrasts(quantity).iter()).filter(|one| one.groups[0] == 0);
        with_first.map(move |contrast| sentence(of, quantity, asked, contrast))
    });
    let spreads = (quantity.straightness.iter())
        .filter_map(|found| found.spreads.as_ref())
        .flat_map(|found| found.pairs.iter().filter(|pair| pair.groups[0] == 0))
        .filter_map(|pair| spread_sentence(of, quantity, pair));
    (means.chain(spreads))
        .map(|said| format!("{}.", capital(&said)))
        .collect()
}

fn dots_alt(of: &Comparison, quantity: &OfQuantity, scale: &Scale, title: &str) -> String {
    let told: Vec<String> = (of.groups.iter().zip(&quantity.groups))
        .filter_map(|(group, found)| {
            let found = (*found)?;
            let interval = found.interval.map_or_else(String::new, |interval| {
                format!(
                    ", 95 % interval {}",
                    scale.range(interval.low, interval.high)
                )
            });
            let n = runs_words(found.sample.n);
            let mean = scale.with_unit(found.sample.mean);
            Some(format!("{}: {n}, mean {mean}{interval}", group.label))
        })
        .collect();
    format!(
        "{title} of every run, a dot with its own interval each. {}.",
        told.join("; ")
    )
}

fn order_alt(of: &Comparison, quantity: &OfQuantity, scale: &Scale, title: &str) -> String {
    let drift = quantity.drift.map_or_else(
        || "too few runs to show a drift".to_owned(),
        |drift| {
            format!(
                "change from run to run {} ({})",
                scale.with_unit(drift.per_run),
                scale.range(drift.interval.low, drift.interval.high)
            )
        },
    );
    let count = of.runs.len();
    format!("{title} in the order of the runs, 1 to {count}: {drift}.")
}

fn points(of: &Comparison, quantity: &OfQuantity, scale: &Scale) -> Vec<[String; 5]> {
    (quantity.points.iter())
        .map(|point| {
            let v = point.value;
            [
                (point.run + 1).to_string(),
                of.runs[point.run].name.clone(),
                of.groups[point.group].label.clone(),
                scale.bare(v.value),
                scale.range(v.low, v.high),
            ]
        })
        .collect()
}

fn unseen(of: &Comparison, quantity: &OfQuantity) -> Vec<String> {
    // Where no run shows it, that is said already.
    if quantity.points.is_empty() {
        return Vec::new();
    }
    (quantity.left_out.iter())
        .map(|(run, why)| format!("Run {} ({}): {why}.", run + 1, of.runs[*run].name))
        .collect()
}
