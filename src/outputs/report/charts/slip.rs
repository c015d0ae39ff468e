//! Slip ratio over time.

use super::{Chart, Content, Legend, Series, Source, band_pieces, pieces};
use crate::findings::{Key, MIN_RIM_SPEED_M_PER_S};
use crate::outputs::report::plot::{Hue, Item, Plot, Style};
use crate::outputs::shown::show;
use crate::outputs::wording::Said as _;
use crate::texts::{Texts, say};

const ID: &str = "slip";
const TITLE: &str = "chart-slip";
/// Slip below this is drawn on the chart's lower edge: a wheel that drags or noise while slow.
const LOWEST: f64 = -0.3;

/// The chart where nothing was measured.
pub(super) fn blank(texts: &Texts, why: &str) -> Chart {
    Chart::missing(texts, ID, TITLE, why)
}

/// The chart.
pub(super) fn chart(source: &Source<'_>) -> Chart {
    let texts = source.texts();
    let slip: Vec<_> = source.values.iter().map(|v| v.slip).collect();
    if slip.iter().all(Option::is_none) {
        // A wheel that is not seen gives no rolling radius either, and that says why.
        return match &source.measures.findings.rolling {
            Err(why) => blank(texts, &why.said(texts)),
            Ok(_) => blank(
                texts,
                &texts.with("chart-slip-slow-rim", "speed", &least(texts)),
            ),
        };
    }
    let x = source.times();
    let lowest = slip.iter().flatten().map(|b| b.low).fold(-0.04, f64::min);
    let mut items = vec![
        Item::Level(0.0),
        Item::Band(Hue::Slip, 0.25, band_pieces(&x, &slip)),
        Item::Line(Hue::Slip, Style::Solid, pieces(&x, &slip)),
    ];
    items.extend(source.milestones());
    let plot = Plot {
        texts,
        x_name: source.time_name(),
        y_name: texts.text("chart-slip-axis"),
        x: source.time_range(),
        y: lowest.max(LOWEST)..1.04,
        items,
    };
    let series = vec![Series {
        name: texts.text("chart-slip-axis"),
        unit: "",
        digits: 3,
        values: slip,
    }];
    match Content::new(plot, (source.time_head(), x), series) {
        Ok(content) => Chart {
            id: ID,
            title: texts.text(TITLE),
            reading: reading(source),
            legend: vec![
                Legend::new("slip", texts.text("chart-slip-axis")),
                Legend::new("slip-band", texts.text("report-interval")),
            ],
            content: Some(content),
        },
        Err(why) => blank(texts, &why.to_string()),
    }
}

/// The rim speed from which slip is defined.
fn least(texts: &Texts) -> String {
    texts.marked(&MIN_RIM_SPEED_M_PER_S.to_string())
}

fn reading(source: &Source<'_>) -> String {
    let texts = source.texts();
    let most = source.measures.result.get(Key::MaxSlip);
    let most = match show(texts, Key::MaxSlip, &most) {
        Err(why) => say!(texts, "chart-slip-most-unseen", why = why.said(texts)),
        Ok(most) => say!(texts, "chart-slip-most", slip = most.both()),
    };
    let means = if source.timed() {
        texts.with("chart-slip-means", "speed", &least(texts))
    } else {
        texts.text("chart-slip-means-slow")
    };
    format!("{most} {means}")
}
