//! Turns of the wheel against travel: a rolling wheel is a straight line.

use super::{Chart, Content, Legend, Series, Source, band_pieces, pieces};
use crate::findings::Key;
use crate::outputs::report::plot::{Hue, Item, Plot, Style, range_of};
use crate::outputs::shown::show;
use crate::outputs::values::turns;
use crate::outputs::wording::Said as _;
use crate::texts::{Texts, say};
use std::f64::consts::TAU;

const ID: &str = "turns";
const TITLE: &str = "chart-turns";

/// The chart where nothing was measured.
pub(super) fn blank(texts: &Texts, why: &str) -> Chart {
    Chart::missing(texts, ID, TITLE, why)
}

/// The chart.
pub(super) fn chart(source: &Source<'_>) -> Chart {
    let texts = source.texts();
    if let Err(why) = &source.measures.motion.wheel {
        return blank(texts, &why.said(texts));
    }
    if let Err(why) = &source.measures.view.scale {
        return blank(texts, &why.said(texts));
    }
    let way: Vec<_> = source.values.iter().map(|v| v.travelled_m).collect();
    let turned = turns(source.values);
    let rolling = source.measures.findings.rolling.as_ref().ok();
    let farthest = way.iter().flatten().copied().fold(0.0, f64::max);
    let most = turned.iter().flatten().map(|b| b.value).fold(0.0, f64::max);
    let mut items = Vec::new();
    if let Some(rolling) = rolling {
        let radius = rolling.radius_m;
        let at = |r: f64| farthest / (TAU * r);
        let half = 1.96 * radius.sd.min(0.5 * radius.value);
        let fan = vec![
            (0.0, 0.0, 0.0),
            (farthest, at(radius.value + half), at(radius.value - half)),
        ];
        items.push(Item::Band(Hue::Reference, 0.22, vec![fan]));
        let line = vec![(0.0, 0.0), (farthest, at(radius.value))];
        items.push(Item::Line(Hue::Reference, Style::Dashed, vec![line]));
    }
    items.push(Item::Band(Hue::Rim, 0.25, band_pieces(&way, &turned)));
    items.push(Item::Line(Hue::Rim, Style::Solid, pieces(&way, &turned)));
    let would = rolling.map_or(0.0, |r| farthest / (TAU * r.radius_m.value));
    let plot = Plot {
        texts,
        x_name: texts.text("chart-travel"),
        y_name: texts.text("chart-turns-axis"),
        x: range_of([0.0, farthest], 0.02),
        y: range_of([0.0, most.max(would)], 0.06),
        items,
    };
    let series = vec![Series {
        name: texts.text("chart-turns-series"),
        unit: "",
        digits: 3,
        values: turned,
    }];
    let content = Content::new(
        plot,
        (Some((texts.text("chart-travel-head"), 3)), way),
        series,
    );
    match content {
        Ok(content) => Chart {
            id: ID,
            title: texts.text(TITLE),
            reading: reading(source, would),
            legend: legend(texts, rolling.is_some()),
            content: Some(content),
        },
        Err(why) => blank(texts, &why.to_string()),
    }
}

fn legend(texts: &Texts, with_rolling: bool) -> Vec<Legend> {
    let mut out = vec![Legend::new("turned", texts.text("chart-turns-wheel"))];
    if with_rolling {
        out.push(Legend::new("reference", texts.text("chart-turns-rolls")));
    }
    out
}

fn reading(source: &Source<'_>, would: f64) -> String {
    let texts = source.texts();
    let told = |key: Key| show(texts, key, &source.measures.result.get(key));
    let made = match (told(Key::WheelTurns), told(Key::DistanceM)) {
        (Ok(turns), Ok(way)) => say!(
            texts,
            "chart-turns-made",
            turns = turns.both(),
            way = way.both(),
        ),
        (Err(why), _) | (_, Err(why)) => {
            say!(texts, "chart-turns-unseen", why = why.said(texts))
        }
    };
    let would = (would > 0.0).then(|| {
        let turns = texts.number(would, 1);
        say!(texts, "chart-turns-would", turns = turns)
    });
    let said = [Some(made), would, Some(texts.text("chart-turns-line"))];
    said.into_iter().flatten().collect::<Vec<_>>().join(" ")
}
