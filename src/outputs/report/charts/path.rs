//! The path seen from above: distance from the aim line against the way along it.

use super::{Chart, Content, Legend, Series, Source, band_pieces, pieces};
use crate::findings::{Key, PathFit};
use crate::outputs::report::plot::{Hue, Item, Plot, SIZE, Style, range_of};
use crate::outputs::shown::{show, show_length};
use crate::uncertainty::Quantity;

const ID: &str = "path";
const TITLE: &str = "Path seen from above";
/// The sideways axis shows no less than this to each side, mm: else a straight run looks wild.
const LEAST_MM: f64 = 20.0;
/// Points of the fitted curve.
const CURVE_POINTS: usize = 60;

/// The chart where nothing was measured.
pub(super) fn blank(why: &str) -> Chart {
    Chart::missing(ID, TITLE, why)
}

/// The chart.
pub(super) fn chart(source: &Source<'_>) -> Chart {
    if let Err(why) = &source.measures.view.lateral {
        return blank(why);
    }
    let along = along(source);
    let off: Vec<_> = source
        .values
        .iter()
        .map(|v| v.deviation.map(|d| d.times(1000.0)))
        .collect();
    let fitted = curved(source).map(|fit| fitted_curve(fit, source, &along));
    let bounds = off.iter().flatten().flat_map(|b| [b.value, b.value]);
    let curve_y = fitted.iter().flatten().map(|p| p.1);
    let y = range_of(bounds.chain(curve_y).chain([-LEAST_MM, LEAST_MM]), 0.12);
    let x = range_of(along.iter().flatten().copied().chain([0.0]), 0.02);
    let stretch =
        ((x.end - x.start) * 1000.0 / f64::from(SIZE.0)) / ((y.end - y.start) / f64::from(SIZE.1));
    let mut items = vec![
        Item::Line(
            Hue::Reference,
            Style::Dashed,
            vec![vec![(x.start, 0.0), (x.end, 0.0)]],
        ),
        Item::Band(Hue::Car, 0.25, band_pieces(&along, &off)),
        Item::Line(Hue::Car, Style::Solid, pieces(&along, &off)),
    ];
    let has_curve = fitted.is_some();
    if let Some(curve) = fitted {
        items.push(Item::Line(Hue::Fit, Style::Dotted, vec![curve]));
    }
    let plot = Plot {
        x_name: "along the aim line, m",
        y_name: "right (−)  mm off line  (+) left".to_owned(),
        x,
        y,
        items,
    };
    let series = vec![Series {
        name: "left of the aim line",
        unit: "mm",
        digits: 1,
        values: off,
    }];
    match Content::new(plot, ("along the line, m", 3, along), series) {
        Ok(content) => Chart {
            id: ID,
            title: TITLE,
            reading: reading(source, has_curve, stretch),
            legend: legend(has_curve),
            content: Some(content),
        },
        Err(why) => blank(&why),
    }
}

fn legend(has_curve: bool) -> Vec<Legend> {
    let mut out = vec![
        Legend {
            class: "car",
            words: "car",
        },
        Legend {
            class: "aim",
            words: "aim line",
        },
    ];
    if has_curve {
        out.push(Legend {
            class: "fit",
            words: "fitted curve",
        });
    }
    out
}

/// Way along the aim line, m.
fn along(source: &Source<'_>) -> Vec<Option<f64>> {
    let aim = source.story.known.aim_m;
    let whole = aim[1] - aim[0];
    let length = whole.norm().max(1e-9);
    source
        .values
        .iter()
        .map(|v| {
            let (x, y) = (v.x_m? - aim[0].x, v.y_m? - aim[0].y);
            Some((x * whole.x + y * whole.y) / length)
        })
        .collect()
}

/// The path's fit, where its curvature is surely not nothing.
fn curved<'a>(source: &'a Source<'_>) -> Option<&'a PathFit> {
    let surely = match source.measures.result.get(Key::CurvaturePerM) {
        Quantity::Known { low, high, .. } => low > 0.0 || high < 0.0,
        Quantity::NotObservable { .. } => false,
    };
    source
        .measures
        .findings
        .path
        .as_ref()
        .ok()
        .filter(|_| surely)
}

/// The fitted arc as (m along the line, mm to its left).
///
/// # Source
/// A path of constant curvature k from heading ψ: along (sin(ψ + k s) - sin ψ) / k, aside
/// (cos ψ - cos(ψ + k s)) / k; kinematic single-track model, R. Rajamani, Vehicle Dynamics and
/// Control, chapter 2.
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

fn reading(source: &Source<'_>, has_curve: bool, stretch: f64) -> String {
    let result = source.measures.result;
    let say = |key: Key| show(key, &result.get(key));
    let side = |key: Key| {
        if result.value(key).unwrap_or(0.0) > 0.0 {
            "left"
        } else {
            "right"
        }
    };
    let end = end_words(
        &result.get(Key::FinalDeviationM),
        side(Key::FinalDeviationM),
    );
    let curve = match (has_curve, say(Key::CurvaturePerM), say(Key::ImpliedSkewRad)) {
        (true, Ok(curve), Ok(skew)) => format!(
            " It curved to the {} by {} ({}), as axles {} ({}) out of square would make it.",
            side(Key::CurvaturePerM),
            curve.value,
            curve.interval,
            skew.value,
            skew.interval
        ),
        (true, Ok(curve), Err(why)) => format!(
            " It curved to the {} by {} ({}); the skew of the axles is not observable: {why}.",
            side(Key::CurvaturePerM),
            curve.value,
            curve.interval
        ),
        (false, ..) => " No steady curve is certain.".to_owned(),
        (true, Err(_), _) => String::new(),
    };
    format!("{end}{curve} Sideways is drawn {stretch:.0} times larger than along.")
}

fn end_words(end: &Quantity, side: &str) -> String {
    let shown = match end {
        Quantity::Known { low, high, .. } if *low < 0.0 && *high > 0.0 => {
            return show_length(end).map_or_else(
                |why| format!("Not observable: {why}."),
                |v| {
                    format!(
                        "At the end of the view the car was on the aim line as far as this view can \
                         tell: {} ({}).",
                        v.value, v.interval
                    )
                },
            );
        }
        known => show_length(&known.magnitude()),
    };
    shown.map_or_else(
        |why| format!("Its end off the line is not observable: {why}."),
        |v| {
            format!(
                "At the end of the view the car was {} ({}) {side} of the aim line.",
                v.value, v.interval
            )
        },
    )
}
