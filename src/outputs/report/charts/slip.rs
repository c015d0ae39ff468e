//! Slip ratio over time.

use super::{Chart, Content, Legend, Series, Source, band_pieces, pieces};
use crate::findings::{Key, MIN_RIM_SPEED_M_PER_S};
use crate::outputs::report::plot::{Hue, Item, Plot, Style};
use crate::outputs::shown::show;
use std::fmt::Display;

const ID: &str = "slip";
const TITLE: &str = "Slip ratio";
/// Slip below this is drawn on the chart's lower edge: a wheel that drags or noise while slow.
const LOWEST: f64 = -0.3;

/// The chart where nothing was measured.
pub(super) fn blank(why: &dyn Display) -> Chart {
    Chart::missing(ID, TITLE, why)
}

/// The chart.
pub(super) fn chart(source: &Source<'_>) -> Chart {
    let slip: Vec<_> = source.values.iter().map(|v| v.slip).collect();
    if slip.iter().all(Option::is_none) {
        // A wheel that is not seen gives no rolling radius either, and that says why.
        return match &source.measures.findings.rolling {
            Err(why) => blank(why),
            Ok(_) => blank(&format!(
                "the rim never went faster than {MIN_RIM_SPEED_M_PER_S} m/s"
            )),
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
        x_name: source.time_name(),
        y_name: "slip ratio".to_owned(),
        x: source.time_range(),
        y: lowest.max(LOWEST)..1.04,
        items,
    };
    let series = vec![Series {
        name: "slip ratio",
        unit: "",
        digits: 3,
        values: slip,
    }];
    let (head, digits) = source.time_head();
    match Content::new(plot, (head, digits, x), series) {
        Ok(content) => Chart {
            id: ID,
            title: TITLE,
            reading: reading(source),
            legend: vec![
                Legend {
                    class: "slip",
                    words: "slip ratio",
                },
                Legend {
                    class: "slip-band",
                    words: "95 % interval",
                },
            ],
            content: Some(content),
        },
        Err(why) => blank(&why),
    }
}

fn reading(source: &Source<'_>) -> String {
    let most = show(Key::MaxSlip, &source.measures.result.get(Key::MaxSlip));
    let most = most.map_or_else(
        |why| format!("The largest slip under power is not observable: {why}."),
        |v| format!("Largest under power: {} ({}).", v.value, v.interval),
    );
    let slow = if source.timed() {
        format!("below a rim speed of {MIN_RIM_SPEED_M_PER_S} m/s")
    } else {
        "while the rim is slow".to_owned()
    };
    format!("{most} At 0 the wheel rolls, at 1 it spins on the spot; {slow} it is undefined.")
}
