//! The path seen from above: distance from the aim line against the way along it.

use super::{Chart, Content, Legend, Series, Source, band_pieces, pieces};
use crate::findings::{Key, PathFit};
use crate::outputs::report::plot::{Hue, Item, Plot, SIZE, Style, range_of};
use crate::outputs::shown::{show, show_length};
use crate::outputs::values::Band;
use crate::outputs::wording::{Said as _, side};
use crate::texts::{Texts, say};
use crate::two_views::ViewName;
use crate::uncertainty::Quantity;

const ID: &str = "path";
const TITLE: &str = "chart-path";
/// The sideways axis shows no less than this to each side, mm: else a straight run observations wild.
const LEAST_MM: f64 = 20.0;
/// Points of the fitted curve.
const CURVE_POINTS: usize = 60;

/// The chart where nothing was measured.
pub(super) fn blank(texts: &Texts, why: &str) -> Chart {
    Chart::missing(texts, ID, TITLE, why)
}

/// The chart.
pub(super) fn chart(source: &Source<'_>) -> Chart {
    let texts = source.texts();
    if source.values.iter().all(|v| v.deviation.is_none()) {
        let lateral = source.measures.view.lateral.as_ref();
        let why = lateral
            .err()
            .map_or_else(|| texts.text("chart-path-no-frame"), |why| why.said(texts));
        return blank(texts, &why);
    }
    let along = along(source);
    let off: Vec<_> = source
        .values
        .iter()
        .map(|v| v.deviation.map(|d| d.times(1000.0)))
        .collect();
    let curve = curved(source).map(|fit| fitted_curve(fit, source, &along));
    let curve_name = curve.as_ref().map(|_| curve_name(source));
    let (x_name, x_head) = if source.measures.view.lateral.is_ok() {
        ("chart-path-x", "chart-path-x-head")
    } else {
        ("chart-travel", "chart-travel-head")
    };
    let plot = plot(texts, x_name, &along, &off, curve);
    let stretch = stretch(&plot);
    let series = vec![Series {
        name: texts.text("chart-path-series"),
        unit: "mm",
        digits: 1,
        values: off,
    }];
    match Content::new(plot, (Some((texts.text(x_head), 3)), along), series) {
        Ok(content) => Chart {
            id: ID,
            title: texts.text(TITLE),
            reading: reading(source, stretch),
            legend: legend(texts, curve_name),
            content: Some(content),
        },
        Err(why) => blank(texts, &why.to_string()),
    }
}

/// The way against the distance off line, mm, with the aim line and, where there is one, the fitted curve.
fn plot(
    texts: &'static Texts,
    x_name: &str,
    along: &[Option<f64>],
    off: &[Option<Band>],
    curve: Option<Vec<(f64, f64)>>,
) -> Plot {
    let bounds = off.iter().flatten().flat_map(|b| [b.value, b.value]);
    let curve_y = curve.iter().flatten().map(|p| p.1);
    let y = range_of(bounds.chain(curve_y).chain([-LEAST_MM, LEAST_MM]), 0.12);
    let x = range_of(along.iter().flatten().copied().chain([0.0]), 0.02);
    let mut items = vec![
        Item::Line(
            Hue::Aim,
            Style::Dashed,
            vec![vec![(x.start, 0.0), (x.end, 0.0)]],
        ),
        Item::Band(Hue::Car, 0.25, band_pieces(along, off)),
        Item::Line(Hue::Car, Style::Solid, pieces(along, off)),
    ];
    items.extend(curve.map(|curve| Item::Line(Hue::Fit, Style::Dotted, vec![curve])));
    Plot {
        texts,
        x_name: texts.text(x_name),
        y_name: texts.text("chart-path-y"),
        x,
        y,
        items,
    }
}

/// How many times larger the chart draws distances off line than the way.
fn stretch(Plot { x, y, .. }: &Plot) -> f64 {
    ((x.end - x.start) * 1000.0 / f64::from(SIZE.0)) / ((y.end - y.start) / f64::from(SIZE.1))
}

fn curve_name(source: &Source<'_>) -> &'static str {
    // Turning while the wheel spun is no part of the arc.
    if source.measures.result.models.yaw > 0.5 {
        "chart-path-fit-alone"
    } else {
        "chart-path-fit"
    }
}

/// `curve` is the text that names the fitted curve, where there is one.
fn legend(texts: &Texts, curve: Option<&str>) -> Vec<Legend> {
    let mut out = vec![
        Legend::new("car", texts.text("chart-car")),
        Legend::new("aim", texts.text("chart-path-aim")),
    ];
    out.extend(curve.map(|words| Legend::new("fit", texts.text(words))));
    out
}

/// Way along the aim line, m.
fn along(source: &Source<'_>) -> Vec<Option<f64>> {
    let aim = source.story.priors.aim_m;
    let whole = aim[1] - aim[0];
    let length = whole.norm().max(1e-9);
    source
        .values
        .iter()
        .map(|v| {
            // A side view without places on the floor still shows the way; a second view may give the rest.
            let Some(y_m) = v.y_m else {
                return v.travelled_m;
            };
            let (x, y) = (v.x_m? - aim[0].x, y_m - aim[0].y);
            Some((x * whole.x + y * whole.y) / length)
        })
        .collect()
}

/// Whether the path's curvature is surely not nothing.
fn surely_curved(source: &Source<'_>) -> bool {
    match source.measures.result.get(Key::CurvaturePerM) {
        Quantity::Stated { low, high, .. } => low > 0.0 || high < 0.0,
        Quantity::NotObservable { .. } => false,
    }
}

/// The path's fit, where its curvature is surely not nothing and comes from this view.
fn curved<'a>(source: &'a Source<'_>) -> Option<&'a PathFit> {
    let joined = source
        .story
        .end_view
        .as_ref()
        .and_then(|end| end.joined.ok());
    let theirs = joined.is_some_and(|j| j.from.get(&Key::CurvaturePerM) == Some(&ViewName::End));
    let fit = source.measures.findings.path.as_ref().ok();
    fit.filter(|_| surely_curved(source) && !theirs)
}

/// The fitted arc as (m along the line, mm to its left).
///
/// # Source
/// A path of constant curvature k from heading ψ: along (sin(ψ + k s) - sin ψ) / k, aside
/// (cos ψ - cos(ψ + k s)) / k; kinematic single-track model, R. Rajamani, Vehicle Dynamics and
/// Control, chapter 2 (citation from memory).
fn fitted_curve(fit: &PathFit, source: &Source<'_>, along: &[Option<f64>]) -> Vec<(f64, f64)> {
    let start = along.iter().flatten().next().copied().unwrap_or(0.0);
    let way = source.values.iter().rev().find_map(|v| v.travelled_m);
    let way = way.unwrap_or(fit.over_m);
    let (k, heading) = (fit.curvature_per_m.value, fit.heading_rad.value);
    (0..=CURVE_POINTS)
        .map(|n| {
            let s = way * n as f64 / CURVE_POINTS as f64;
            let turned = heading + k * s;
            let (ahead, aside) = if (k * s).abs() < 1e-6 {
                (s * heading.cos(), s * heading.sin())
            } else {
                (
                    (turned.sin() - heading.sin()) / k,
                    (heading.cos() - turned.cos()) / k,
                )
            };
            (start + ahead, 1000.0 * (fit.start_m.value + aside))
        })
        .collect()
}

fn reading(source: &Source<'_>, stretch: f64) -> String {
    let texts = source.texts();
    let end = end_words(texts, &source.measures.result.get(Key::FinalDeviationM));
    let times = texts.fixed(stretch, 0);
    let stretch = say!(texts, "chart-path-stretch", times = times);
    let said = [
        Some(end),
        Some(curve_words(source)),
        sway_words(source),
        Some(stretch),
    ];
    said.into_iter().flatten().collect::<Vec<_>>().join(" ")
}

/// The steady curve, and the axles that would steer it.
fn curve_words(source: &Source<'_>) -> String {
    let (texts, result) = (source.texts(), source.measures.result);
    let told = |key: Key| show(texts, key, &result.get(key));
    let curve = match told(Key::CurvaturePerM) {
        Err(why) => return say!(texts, "chart-path-curve-unseen", why = why.said(texts)),
        Ok(_) if !surely_curved(source) => return texts.text("chart-path-no-curve"),
        Ok(curve) => curve,
    };
    let side = side(result.value(Key::CurvaturePerM).unwrap_or(0.0) > 0.0);
    let (curve, interval) = (curve.value, curve.interval);
    match told(Key::ImpliedSkewRad) {
        Ok(skew) => say!(
            texts,
            "chart-path-curved",
            side = side,
            curve = curve,
            interval = interval,
            skew = skew.both(),
        ),
        Err(why) => say!(
            texts,
            "chart-path-curved-unseen",
            side = side,
            curve = curve,
            interval = interval,
            why = why.said(texts),
        ),
    }
}

/// A sway that is surely there.
fn sway_words(source: &Source<'_>) -> Option<String> {
    let (texts, result) = (source.texts(), source.measures.result);
    let sway = result.get(Key::WobbleM);
    let models = result.models;
    let weight = models.sway_of_driven_wheel.max(models.sway_at_another_rate);
    if weight < 0.5 || sway.low().is_none_or(|low| low <= 0.0) {
        return None;
    }
    let id = if models.sway_of_driven_wheel > models.sway_at_another_rate {
        "chart-path-sway"
    } else {
        "chart-path-sway-other"
    };
    let sway = show(texts, Key::WobbleM, &sway).ok()?;
    Some(texts.with(id, "sway", &sway.both()))
}

fn end_words(texts: &Texts, end: &Quantity) -> String {
    match end {
        Quantity::NotObservable { reason } => {
            say!(texts, "chart-path-end-unseen", why = reason.said(texts))
        }
        Quantity::Stated { value, low, high } => {
            let on_line = *low < 0.0 && *high > 0.0;
            let shown = if on_line { *end } else { end.magnitude() };
            let off = show_length(texts, &shown).map_or_else(|_| String::new(), |v| v.both());
            if on_line {
                say!(texts, "chart-path-end-on", off = off)
            } else {
                say!(
                    texts,
                    "chart-path-end",
                    off = off,
                    side = side(*value > 0.0)
                )
            }
        }
    }
}
