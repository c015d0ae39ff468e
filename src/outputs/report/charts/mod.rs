//! The four charts of a run: what each draws, says, and holds for reading off.

mod path;
mod slip;
mod speed;
mod turns;

use super::coded::{Part, coded};
use super::plot::{Drawn, Failed, Item, Plot};
use crate::outputs::film::nearest;
use crate::outputs::values::{Band, FrameValues};
use crate::outputs::wording::Said as _;
use crate::outputs::{Measures, Story};
use crate::texts::{Texts, say};
use serde::Serialize;

/// A line of a chart, an entry a frame.
#[derive(Debug, Clone)]
pub(super) struct Series {
    /// What it is.
    pub(super) name: String,
    /// Its unit, empty for none.
    pub(super) unit: &'static str,
    /// Decimals for reading off.
    pub(super) digits: usize,
    /// The values.
    pub(super) values: Vec<Option<Band>>,
}

/// An entry of a chart's legend: the class of its swatch and its words.
#[derive(Debug, Clone)]
pub(super) struct Legend {
    pub(super) class: &'static str,
    pub(super) words: String,
}

impl Legend {
    fn new(class: &'static str, words: String) -> Self {
        Self { class, words }
    }
}

/// A chart, or why there is none.
#[derive(Debug, Clone)]
pub(super) struct Chart {
    pub(super) id: &'static str,
    pub(super) title: String,
    /// One line on what it shows, or why it is missing.
    pub(super) reading: String,
    pub(super) legend: Vec<Legend>,
    pub(super) content: Option<Content>,
}

/// The drawn part of a chart.
#[derive(Debug, Clone)]
pub(super) struct Content {
    pub(super) drawn: Drawn,
    plot: Plot,
    x_series: Vec<Option<f64>>,
    series: Vec<Series>,
    pub(super) table: Table,
}

/// The data behind a chart, as text.
#[derive(Debug, Clone)]
pub(super) struct Table {
    pub(super) head: Vec<String>,
    pub(super) rows: Vec<Vec<String>>,
    pub(super) caption: String,
}

/// What the page's script needs to read a chart off.
#[derive(Debug, Serialize)]
pub(super) struct Readable<'a> {
    id: &'a str,
    area: [i32; 4],
    x_range: [f64; 2],
    y_range: [f64; 2],
    x: Vec<Option<f64>>,
    series: Vec<ReadableSeries<'a>>,
}

#[derive(Debug, Serialize)]
struct ReadableSeries<'a> {
    name: &'a str,
    unit: &'a str,
    digits: usize,
    values: Vec<Option<f64>>,
    low: Vec<Option<f64>>,
    high: Vec<Option<f64>>,
}

/// What the charts are made from.
pub(super) struct Source<'a> {
    pub(super) story: &'a Story<'a>,
    pub(super) measures: &'a Measures<'a>,
    pub(super) values: &'a [FrameValues],
}

/// Rows of a table behind a chart: what a person reads; all frames are in `frames.csv`.
const TABLE_ROWS: usize = 16;
/// Digits kept for the page's script: finer than a pixel of the chart.
const KEPT: f64 = 1e5;

/// The charts of a run.
pub(super) fn all(story: &Story<'_>, values: &[FrameValues]) -> Vec<Chart> {
    let measures = match &story.measured {
        Ok(measures) => measures,
        Err(why) => {
            let why = why.said(story.texts());
            let charts = [speed::blank, slip::blank, path::blank, turns::blank];
            return charts.map(|blank| blank(story.texts(), &why)).into();
        }
    };
    let source = Source {
        story,
        measures,
        values,
    };
    [
        speed::chart(&source),
        slip::chart(&source),
        path::chart(&source),
        turns::chart(&source),
    ]
    .into()
}

impl Chart {
    /// A chart that cannot be drawn, with the reason.
    fn missing(texts: &Texts, id: &'static str, title: &str, why: &str) -> Self {
        Self {
            id,
            title: texts.text(title),
            reading: say!(texts, "chart-missing", why = why),
            legend: Vec::new(),
            content: None,
        }
    }

    /// The reading in parts for the page.
    pub(super) fn said(&self, texts: &Texts) -> Vec<Part> {
        coded(texts, &self.reading)
    }

    /// For readers of the page's script; `None` where there is nothing to read.
    pub(super) fn readable(&self) -> Option<Readable<'_>> {
        let content = self.content.as_ref()?;
        let kept = |v: Option<f64>| v.map(|v| (v * KEPT).round() / KEPT);
        let part = |series: &Series, get: fn(&Band) -> f64| {
            let values = series.values.iter();
            values.map(|band| kept(band.as_ref().map(get))).collect()
        };
        Some(Readable {
            id: self.id,
            area: content.drawn.area,
            x_range: [content.plot.x.start, content.plot.x.end],
            y_range: [content.plot.y.start, content.plot.y.end],
            x: content.x_series.iter().copied().map(kept).collect(),
            series: content
                .series
                .iter()
                .map(|series| ReadableSeries {
                    name: &series.name,
                    unit: series.unit,
                    digits: series.digits,
                    values: part(series, |b| b.value),
                    low: part(series, |b| b.low),
                    high: part(series, |b| b.high),
                })
                .collect(),
        })
    }
}

impl Content {
    /// Draws a plot and makes the table behind it.
    fn new(
        plot: Plot,
        x: (Option<(String, usize)>, Vec<Option<f64>>),
        series: Vec<Series>,
    ) -> Result<Self, Failed> {
        let drawn = plot.draw()?;
        let (x_head, x_series) = x;
        let table = table(plot.texts, x_head, &x_series, &series);
        Ok(Self {
            drawn,
            plot,
            x_series,
            series,
            table,
        })
    }
}

/// The table; `x_head` are head and decimals of the column of the x axis, where that is not the frames' numbers.
fn table(
    texts: &Texts,
    x_head: Option<(String, usize)>,
    x: &[Option<f64>],
    series: &[Series],
) -> Table {
    let filled: Vec<usize> = (0..x.len())
        .filter(|&f| x[f].is_some() && series.iter().any(|s| s.values[f].is_some()))
        .collect();
    let (x_name, x_digits) = x_head.unzip();
    let mut head = vec![texts.text("chart-frame")];
    head.extend(x_name);
    for series in series {
        let unit = if series.unit.is_empty() {
            String::new()
        } else {
            format!(", {}", series.unit)
        };
        head.push(format!("{}{unit}", series.name));
        head.push(texts.text("report-interval"));
    }
    let shown = TABLE_ROWS.min(filled.len());
    let rows = (0..shown)
        .map(|row| filled[row * (filled.len() - 1) / (shown - 1).max(1)])
        .map(|f| {
            let mut cells = vec![f.to_string()];
            cells.extend(x_digits.map(|digits| texts.number(x[f].unwrap_or(0.0), digits)));
            for series in series {
                match series.values[f] {
                    Some(band) => {
                        let number = |v: f64| texts.number(v, series.digits);
                        cells.push(number(band.value));
                        let (low, high) = (number(band.low), number(band.high));
                        cells.push(say!(texts, "interval", low = low, high = high));
                    }
                    None => cells.extend([texts.text("chart-unseen"), String::new()]),
                }
            }
            cells
        })
        .collect();
    let caption = say!(
        texts,
        "report-rows",
        rows = shown.to_string(),
        frames = filled.len().to_string(),
    );
    Table {
        head,
        rows,
        caption,
    }
}

/// (x, value) in pieces, broken where either is missing.
fn pieces(x: &[Option<f64>], values: &[Option<Band>]) -> Vec<Vec<(f64, f64)>> {
    let points = x
        .iter()
        .zip(values)
        .map(|(x, v)| Some(((*x)?, (*v)?.value)));
    broken(points)
}

/// (x, low, high) in pieces.
fn band_pieces(x: &[Option<f64>], values: &[Option<Band>]) -> Vec<Vec<(f64, f64, f64)>> {
    let points = x
        .iter()
        .zip(values)
        .map(|(x, v)| Some(((*x)?, (*v)?.low, (*v)?.high)));
    broken(points)
}

fn broken<T>(points: impl Iterator<Item = Option<T>>) -> Vec<Vec<T>> {
    let mut out = vec![Vec::new()];
    for point in points {
        match (point, out.last_mut()) {
            (Some(point), Some(piece)) => piece.push(point),
            (None, Some(piece)) if !piece.is_empty() => out.push(Vec::new()),
            _ => {}
        }
    }
    out
}

impl Source<'_> {
    fn texts(&self) -> &'static Texts {
        self.story.texts()
    }

    /// Whether the clip's clock can be believed; else charts go by the frames' numbers.
    const fn timed(&self) -> bool {
        self.story.clock_doubt.is_none()
    }

    /// What an axis of time is called.
    fn time_name(&self) -> String {
        self.texts().text(if self.timed() {
            "chart-time"
        } else {
            "chart-frames"
        })
    }

    /// Head of a table's column of times, and its decimals; none where the frames' numbers stand for them.
    fn time_head(&self) -> Option<(String, usize)> {
        self.timed()
            .then(|| (self.texts().text("chart-time-head"), 3))
    }

    /// The place on the axis of time of every frame in which the car was in view.
    fn times(&self) -> Vec<Option<f64>> {
        let numbered = self.values.iter().enumerate();
        numbered
            .map(|(frame, v)| {
                // Without a wheel in view the phases after the release are open.
                let in_view = v.phase.is_some() || v.travelled_m.is_some() || v.x_m.is_some();
                in_view.then(|| v.time_s.unwrap_or(frame as f64))
            })
            .collect()
    }

    /// A moment of the track on the axis of time.
    fn moment(&self, time_s: f64) -> f64 {
        if self.timed() {
            time_s
        } else {
            nearest(self.story, time_s) as f64
        }
    }

    /// Axis of time: the part in which the car was in view, with at most a fifth of a second of rest.
    fn time_range(&self) -> std::ops::Range<f64> {
        let times = self.times();
        let first = times.iter().flatten().next().copied().unwrap_or(0.0);
        let last = times.iter().flatten().next_back().copied().unwrap_or(1.0);
        let release_s = self.measures.findings.pull.release_s;
        let from = release_s.map_or(first, |s| first.max(self.moment(s - 0.2)));
        from..last.max(from + 1e-3)
    }

    /// Upright lines at release and end of the pull.
    fn milestones(&self) -> Vec<Item> {
        let pull = &self.measures.findings.pull;
        let mut out = Vec::new();
        if let Some(release) = pull.release_s {
            out.push(Item::Upright(
                self.moment(release),
                self.texts().text("chart-release"),
            ));
        }
        if let Some(end) = pull.end_s {
            out.push(Item::Upright(
                self.moment(end),
                self.texts().text("chart-pull-ends"),
            ));
        }
        out
    }
}
