//! Turns of the wheel against travel: a rolling wheel is a straight line.

use super::{Chart, Content, Legend, Series, Source, band_pieces, pieces};
use crate::findings::Key;
use crate::outputs::report::plot::{Hue, Item, Plot, Style, range_of};
use crate::outputs::shown::{number, show};
use crate::outputs::values::turns;
use std::f64::consts::TAU;
use std::fmt::Display;

const ID: &str = "turns";
const TITLE: &str = "Turns of the wheel against travel";

/// The chart where nothing was measured.
pub(super) fn blank(why: &dyn Display) -> Chart {
    Chart::missing(ID, TITLE, why)
}

/// The chart.
pub(super) fn chart(source: &Source<'_>) -> Chart {
    if let Err(why) = &source.measures.motion.wheel {
        return blank(why);
    }
    if let Err(why) = &source.measures.view.scale {
        return blank(why);
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
        x_name: "travel of the car, m",
        y_name: "turns of the wheel".to_owned(),
        x: range_of([0.0, farthest], 0.02),
        y: range_of([0.0, most.max(would)], 0.06),
        items,
    };
    let series = vec![Series {
        name: "turns",
        unit: "",
        digits: 3,
        values: turned,
    }];
    let content = Content::new(plot, ("travel, m", 3, way), series);
    match content {
        Ok(content) => Chart {
            id: ID,
            title: TITLE,
            reading: reading(source, would),
            legend: legend(rolling.is_some()),
            content: Some(content),
        },
        Err(why) => blank(&why),
    }
}

fn legend(with_rolling: bool) -> Vec<Legend> {
    let mut out = vec![Legend {
        class: "turned",
        words: "wheel",
    }];
    if with_rolling {
        out.push(Legend {
            class: "reference",
            words: "a wheel that rolls",
        });
    }
    out
}

fn reading(source: &Source<'_>, would: f64) -> String {
    let result = source.measures.result;
    let made = match (
        show(Key::WheelTurns, &result.get(Key::WheelTurns)),
        show(Key::DistanceM, &result.get(Key::DistanceM)),
    ) {
        (Ok(turns), Ok(way)) => format!(
            "The wheel made {} ({}) while the car went {} ({}).",
            turns.value, turns.interval, way.value, way.interval
        ),
        (Err(why), _) | (_, Err(why)) => {
            format!("Turns for the whole way are not observable: {why}.")
        }
    };
    if would > 0.0 {
        format!(
            "{made} Rolling all the way it would have made {}. The line is straight where the wheel \
             rolls and steeper where it spins.",
            number(would, 1)
        )
    } else {
        format!("{made} The line is straight where the wheel rolls and steeper where it spins.")
    }
}
