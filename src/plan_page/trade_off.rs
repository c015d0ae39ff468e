//! Sprint against distance: one line for each lever as it goes through what can be built.

use crate::outputs::report::plot::{Drawn, Hue, Item, Plot, Style, range_of};
use crate::plan::{Lever, Plan, TradeOff};
use crate::texts::Texts;

/// Opacity of an interval.
const BAND: f64 = 0.16;
/// Room about the lines.
const ROOM: f64 = 0.06;

/// How a lever is drawn.
const fn look(lever: Lever) -> (Hue, Style, &'static str) {
    match lever {
        Lever::Axle => (Hue::Rim, Style::Dashed, "rim"),
        Lever::Arm => (Hue::Slip, Style::Dotted, "fit"),
        _ => (Hue::Car, Style::Solid, "car"),
    }
}

/// Time over the sprint (s), then middle, low and high end of the stop (m).
type Place = (f64, f64, f64, f64);

/// Points of one lever: time over the sprint, and the middle, low and high end of the stop; where it surely gets there.
fn points(of: &TradeOff) -> Vec<Place> {
    let pairs = of.sprint_s.iter().zip(&of.stop_m);
    let there = pairs.filter(|(time, _)| time.high.is_finite());
    there
        .map(|(time, stop)| (time.value, stop.value, stop.low, stop.high))
        .collect()
}

/// The levers that are drawn, with their points.
fn lines(of: &Plan) -> Vec<(Lever, Vec<Place>)> {
    (of.trade_off.iter())
        .map(|lever| (lever.lever, points(lever)))
        .filter(|(_, points)| points.len() > 1)
        .collect()
}

/// Look and name of each lever that is drawn.
pub(super) fn legend(of: &Plan) -> Vec<(&'static str, &'static str)> {
    let drawn = lines(of).into_iter();
    drawn
        .map(|(lever, _)| (look(lever).2, lever.words()))
        .collect()
}

/// The chart; `None` where no setting gets over the sprint.
pub(super) fn chart(of: &Plan) -> Result<Option<Drawn>, Box<dyn std::error::Error + Send + Sync>> {
    let lines = lines(of);
    if lines.is_empty() {
        return Ok(None);
    }
    let all = || lines.iter().flat_map(|(_, points)| points);
    let mut items = Vec::new();
    for (lever, points) in &lines {
        let (hue, style, _) = look(*lever);
        let mut sorted = points.clone();
        sorted.sort_by(|a, b| a.0.total_cmp(&b.0));
        if *lever == Lever::String {
            let band = sorted.iter().map(|p| (p.0, p.2, p.3)).collect();
            items.push(Item::Band(hue, BAND, vec![band]));
        }
        let line = points.iter().map(|p| (p.0, p.1)).collect();
        items.push(Item::Line(hue, style, vec![line]));
    }
    if let crate::plan::Task::Distance { metres } = of.task {
        items.push(Item::Level(metres));
    }
    if let Some(now) = of.present.sprint_s {
        items.push(Item::Upright(now.value, "as it is".to_owned()));
    }
    let plot = Plot {
        texts: Texts::english(),
        x_name: "time over the sprint, s".to_owned(),
        y_name: "stops at, m".to_owned(),
        x: range_of(all().map(|p| p.0), ROOM),
        y: range_of(all().flat_map(|p| [p.1, p.1]).chain([0.0]), ROOM),
        items,
    };
    plot.draw().map(Some)
}

/// The picture in words.
pub(super) fn alt(of: &Plan) -> String {
    let told = of.trade_off.iter().map(|lever| {
        let points = points(lever);
        let ends = points.first().zip(points.last());
        ends.map_or_else(
            || {
                format!(
                    "{}: no setting surely gets over the sprint",
                    lever.lever.words()
                )
            },
            |(a, b)| {
                format!(
                    "{}: from {:.2} s and {:.1} m to {:.2} s and {:.1} m",
                    lever.lever.words(),
                    a.0,
                    a.1,
                    b.0,
                    b.1
                )
            },
        )
    });
    format!(
        "Time over the sprint against the stopping place. {}.",
        told.collect::<Vec<_>>().join("; ")
    )
}
