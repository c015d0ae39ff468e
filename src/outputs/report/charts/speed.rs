//! Car speed and rim speed on one axis, the gap between them shaded.

use super::{Chart, Content, Legend, Series, Source, band_pieces, broken, pieces};
use crate::findings::Key;
use crate::outputs::report::plot::{Hue, Item, Plot, Style, range_of};
use crate::outputs::shown::show;
use crate::outputs::values::Band;
use std::fmt::Display;

const ID: &str = "speed";
const TITLE: &str = "Speed of the car and of the wheel’s rim";

/// The chart where nothing was measured.
pub(super) fn blank(why: &dyn Display) -> Chart {
    Chart::missing(ID, TITLE, why)
}

/// The chart.
pub(super) fn chart(source: &Source<'_>) -> Chart {
    if let Err(why) = &source.measures.view.scale {
        return blank(why);
    }
    if !source.timed() {
        let peak = show(
            Key::PeakSpeedMPerS,
            &source.measures.result.get(Key::PeakSpeedMPerS),
        );
        let why = peak.err();
        return why.map_or_else(|| blank(&"the clip's clock is in doubt"), |why| blank(&why));
    }
    let x = source.times();
    let car: Vec<_> = source.values.iter().map(|v| v.speed).collect();
    let rim: Vec<_> = source.values.iter().map(|v| v.rim_speed).collect();
    let with_rim = rim.iter().any(Option::is_some);
    let plot = plot(source, &x, &car, &rim);
    let series = |name, values| Series {
        name,
        unit: "m/s",
        digits: 3,
        values,
    };
    let mut all = vec![series("car", car)];
    if with_rim {
        all.push(series("rim", rim));
    }
    let (head, digits) = source.time_head();
    match Content::new(plot, (head, digits, x), all) {
        Ok(content) => Chart {
            id: ID,
            title: TITLE,
            reading: reading(source, with_rim),
            legend: legend(with_rim),
            content: Some(content),
        },
        Err(why) => blank(&why),
    }
}

/// Both speeds, m/s, against the time, with the gap between them.
fn plot(
    source: &Source<'_>,
    x: &[Option<f64>],
    car: &[Option<Band>],
    rim: &[Option<Band>],
) -> Plot {
    let top = car.iter().chain(rim).flatten().map(|b| b.value);
    let highest = range_of(top.chain([0.0]), 0.08);
    let gap = broken(x.iter().zip(car.iter().zip(rim)).map(|(x, (car, rim))| {
        let (x, car, rim) = ((*x)?, (*car)?.value, (*rim)?.value);
        Some((x, car.min(rim), rim.max(car)))
    }));
    let mut items = vec![
        Item::Band(Hue::Gap, 0.32, gap),
        Item::Band(Hue::Rim, 0.25, band_pieces(x, rim)),
        Item::Band(Hue::Car, 0.25, band_pieces(x, car)),
        Item::Line(Hue::Rim, Style::Dashed, pieces(x, rim)),
        Item::Line(Hue::Car, Style::Solid, pieces(x, car)),
    ];
    items.extend(source.milestones());
    Plot {
        x_name: source.time_name(),
        y_name: "speed, m/s".to_owned(),
        x: source.time_range(),
        y: highest.start.min(0.0)..highest.end,
        items,
    }
}

fn legend(with_rim: bool) -> Vec<Legend> {
    let car = Legend {
        class: "car",
        words: "car",
    };
    if !with_rim {
        return vec![car];
    }
    vec![
        car,
        Legend {
            class: "rim",
            words: "rim",
        },
        Legend {
            class: "gap",
            words: "gap: slip",
        },
    ]
}

fn reading(source: &Source<'_>, with_rim: bool) -> String {
    let result = source.measures.result;
    let peak = show(Key::PeakSpeedMPerS, &result.get(Key::PeakSpeedMPerS));
    let peak = peak.map_or_else(
        |why| format!("The highest speed is not observable: {why}."),
        |v| format!("The car reached {} ({}).", v.value, v.interval),
    );
    let spun = result.get(Key::SpunAwayM);
    let gap = if with_rim && spun.low().is_some_and(|low| low <= 0.0) {
        show(Key::SpunAwayM, &spun).map_or_else(
            |why| format!("How much was spun away is not observable: {why}."),
            |v| {
                format!(
                    "The lines lie together: no travel was surely spun away ({}, {}).",
                    v.value, v.interval
                )
            },
        )
    } else if with_rim {
        show(Key::SpunAwayM, &spun).map_or_else(
            |why| format!("How much was spun away is not observable: {why}."),
            |v| {
                format!(
                    "The shaded gap is distance wasted in wheelspin: {} ({}) in all.",
                    v.value, v.interval
                )
            },
        )
    } else {
        match &source.measures.findings.rolling {
            Err(why) => format!("No rim speed: {why}."),
            _ => "No rim speed was seen.".to_owned(),
        }
    };
    format!("{peak} {gap}")
}
