//! Car speed and rim speed on one axis, the gap between them shaded.

use super::{Chart, Content, Legend, Series, Source, band_pieces, broken, pieces};
use crate::findings::Key;
use crate::outputs::report::plot::{Hue, Item, Plot, Style, range_of};
use crate::outputs::shown::show;
use crate::outputs::values::Band;
use crate::outputs::wording::Said as _;
use crate::texts::{Texts, say};

const ID: &str = "speed";
const TITLE: &str = "chart-speed";

/// The chart where nothing was measured.
pub(super) fn blank(texts: &Texts, why: &str) -> Chart {
    Chart::missing(texts, ID, TITLE, why)
}

/// The chart.
pub(super) fn chart(source: &Source<'_>) -> Chart {
    let texts = source.texts();
    if let Err(why) = &source.measures.view.scale {
        return blank(texts, &why.said(texts));
    }
    if !source.timed() {
        let peak = source.measures.result.get(Key::PeakSpeedMPerS);
        let why = show(texts, Key::PeakSpeedMPerS, &peak)
            .map_or_else(|why| why.said(texts), |_| texts.text("chart-speed-clock"));
        return blank(texts, &why);
    }
    let x = source.times();
    let car: Vec<_> = source.values.iter().map(|v| v.speed).collect();
    let rim: Vec<_> = source.values.iter().map(|v| v.rim_speed).collect();
    let with_rim = rim.iter().any(Option::is_some);
    let plot = plot(source, &x, &car, &rim);
    let series = |name: &str, values| Series {
        name: texts.text(name),
        unit: "m/s",
        digits: 3,
        values,
    };
    let mut all = vec![series("chart-car", car)];
    if with_rim {
        all.push(series("chart-rim", rim));
    }
    match Content::new(plot, (source.time_head(), x), all) {
        Ok(content) => Chart {
            id: ID,
            title: texts.text(TITLE),
            reading: reading(source, with_rim),
            legend: legend(texts, with_rim),
            content: Some(content),
        },
        Err(why) => blank(texts, &why.to_string()),
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
        texts: source.texts(),
        x_name: source.time_name(),
        y_name: source.texts().text("chart-speed-axis"),
        x: source.time_range(),
        y: highest.start.min(0.0)..highest.end,
        items,
    }
}

fn legend(texts: &Texts, with_rim: bool) -> Vec<Legend> {
    let entries = [
        ("car", "chart-car"),
        ("rim", "chart-rim"),
        ("gap", "chart-gap"),
    ];
    let shown = if with_rim { 3 } else { 1 };
    let entry = |(class, words): (&'static str, &str)| Legend::new(class, texts.text(words));
    entries.into_iter().take(shown).map(entry).collect()
}

fn reading(source: &Source<'_>, with_rim: bool) -> String {
    let texts = source.texts();
    let peak = source.measures.result.get(Key::PeakSpeedMPerS);
    let peak = match show(texts, Key::PeakSpeedMPerS, &peak) {
        Err(why) => say!(texts, "chart-speed-peak-unseen", why = why.said(texts)),
        Ok(peak) => say!(texts, "chart-speed-peak", peak = peak.both()),
    };
    format!("{peak} {}", gap_words(source, with_rim))
}

/// What the gap between the lines says.
fn gap_words(source: &Source<'_>, with_rim: bool) -> String {
    let texts = source.texts();
    if !with_rim {
        return match &source.measures.findings.rolling {
            Err(why) => say!(texts, "chart-speed-no-rim-why", why = why.said(texts)),
            _ => texts.text("chart-speed-no-rim"),
        };
    }
    let spun = source.measures.result.get(Key::SpunAwayM);
    match show(texts, Key::SpunAwayM, &spun) {
        Err(why) => say!(texts, "chart-speed-spun-unseen", why = why.said(texts)),
        Ok(said) if spun.low().is_some_and(|low| low <= 0.0) => say!(
            texts,
            "chart-speed-together",
            value = said.value,
            interval = said.interval,
        ),
        Ok(said) => say!(texts, "chart-speed-gap", gap = said.both()),
    }
}
