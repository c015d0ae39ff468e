//! `report.html`: one file that a student can print into a write-up and a judge can follow.
//!
//! It needs no network and no script: charts are inline SVG, pictures are data URIs, and the script
//! only adds reading-off. Every text from users goes through the template engine's escaping.

mod charts;
pub(crate) mod coded;
mod method;
mod plain;
pub(crate) mod plot;
mod whole;

use super::film::{Film, Still};
use super::poster::Exposure;
use super::shown::{ShownQuantity, show, show_cost};
use super::sketch::KEY;
use super::values::{FrameValues, frame_values, when};
use super::wording::{CAUTION, verdict_words};
use super::worksheet::{GLOSSARY, Word};
use super::{Measures, Story, words};
use crate::findings::{Key, STATED_DISTANCE_M};
use crate::uncertainty::{Quantity, QuantityReason};
use crate::verdict::{Cause, Cost, NEGLIGIBLE_M, NEGLIGIBLE_SHARE};
use askama::Template;
use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use charts::{Chart, Readable};
use coded::{Part, coded};
use plain::EnergyBar;
use serde::Serialize;
use whole::{Big, Whole, big, whole};

/// Why a report could not be made. None of these happens for reasons of the clip.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum ReportError {
    /// The template engine failed.
    #[error("the report page could not be put together: {0}")]
    Page(#[from] askama::Error),
    /// The readings could not be written as JSON.
    #[error("the report's readings could not be written: {0}")]
    Readings(#[from] serde_json::Error),
}

/// The style sheet, which other pages share.
pub(crate) const STYLE: &str = concat!(include_str!("colours.css"), include_str!("page.css"));

#[derive(Template)]
#[template(path = "page.html", config = "src/outputs/report/askama.toml")]
struct Page<'a> {
    tool: &'static str,
    style: &'static str,
    script: &'static str,
    car: &'a str,
    treatment: Option<&'a str>,
    change: Option<&'a str>,
    clip: String,
    cause: &'a str,
    headline: String,
    because: Vec<Vec<Part>>,
    also: String,
    try_next: Vec<Vec<Part>>,
    doubt: Option<Vec<Part>>,
    plain: Vec<String>,
    energy: Option<EnergyBar>,
    film: PlayedFilm,
    /// The whole run in one picture; key frames stand in where there is none.
    whole: Option<Whole>,
    stills: Vec<Picture>,
    big: Big,
    glossary: &'static [Word],
    film_key: &'static str,
    charts: Vec<Chart>,
    results: Vec<ResultRow>,
    costs: Vec<CostRow>,
    costs_caption: String,
    unseen: Vec<Unseen>,
    method: Vec<(&'static str, Vec<Part>)>,
    cautions: &'static str,
    readings: String,
}

/// The annotated clip on the page, which lies beside it.
struct PlayedFilm {
    /// Its file's name; none where none was written.
    name: Option<&'static str>,
    /// The picture that stands for it until it plays, as a JPEG in base 64.
    poster: Option<String>,
    size: (u32, u32),
}

/// A key frame on the page.
struct Picture {
    data: String,
    width: u32,
    height: u32,
    time: String,
    caption: String,
    alt: String,
}

struct ResultRow {
    /// Left out in print, where the reasons stand beside the table.
    unknown: bool,
    meaning: &'static str,
    key: &'static str,
    value: String,
    /// The same in other words; empty where they would add nothing.
    words: String,
    interval: String,
}

struct CostRow {
    cause: &'static str,
    travel: String,
    off_line: String,
    /// What it would be farther on, where that says more.
    farther: Option<Farther>,
}

struct Farther {
    travel: String,
    off_line: String,
    at: String,
}

/// Quantities that share a reason for not being observable.
struct Unseen {
    what: String,
    why: Vec<Part>,
}

/// What the page's script reads.
#[derive(Serialize)]
struct Readings<'a> {
    times: Vec<Option<f64>>,
    charts: Vec<Readable<'a>>,
    film: Option<ReadableFilm<'a>>,
}

#[derive(Serialize)]
struct ReadableFilm<'a> {
    image: String,
    cell: (u32, u32),
    columns: usize,
    frames: &'a [usize],
}

/// The page. `exposure` is the picture of the whole run and `overlay` the name of the annotated clip that lies beside
/// the page, where there are any.
///
/// # Errors
/// What the template engine or the JSON writer says; writing to memory does not fail in practice.
pub fn report_html(
    story: &Story<'_>,
    film: &Film,
    exposure: Option<&Exposure>,
    overlay: Option<&'static str>,
) -> Result<Vec<u8>, ReportError> {
    let values = frame_values(story);
    let charts = charts::all(story, &values);
    let readings = script_safe(&serde_json::to_string(&readings(&values, &charts, film))?);
    let told = told(story);
    let measures = story.measured.as_ref().ok();
    let page = Page {
        tool: concat!("gripline ", env!("CARGO_PKG_VERSION")),
        style: STYLE,
        script: include_str!("page.js"),
        car: story.sheet.car.name.as_deref().unwrap_or("the car"),
        treatment: story.sheet.car.treatment.as_deref(),
        change: story.sheet.change_note.as_deref(),
        clip: method::clip_name(story),
        cause: told.cause,
        headline: told.headline,
        big: big(story, &values, exposure, &told.try_next),
        glossary: &GLOSSARY,
        because: told.because.iter().map(|text| coded(text)).collect(),
        also: told.also,
        try_next: told.try_next.iter().map(|text| coded(text)).collect(),
        doubt: story.clock_doubt.map(|doubt| coded(&doubt.to_string())),
        plain: measures.map_or_else(Vec::new, plain::told),
        energy: measures.and_then(|m| plain::energy(m.result)),
        film: played(story, film, overlay),
        whole: exposure.and_then(|exposure| whole(story, &values, exposure)),
        stills: film.stills.iter().map(|s| picture(s, &values)).collect(),
        film_key: KEY,
        charts,
        results: results(story),
        costs: costs(story),
        costs_caption: format!(
            "A cause counts from {:.0} mm, or from {:.0} % of the way if that is more",
            1000.0 * NEGLIGIBLE_M,
            100.0 * NEGLIGIBLE_SHARE
        ),
        unseen: unseen(story),
        method: method::method(story)
            .into_iter()
            .map(|(head, text)| (head, coded(&text)))
            .collect(),
        cautions: CAUTION,
        readings,
    };
    Ok(page.render()?.into_bytes())
}

/// The verdict as the page tells it.
struct Told<'a> {
    cause: &'a str,
    headline: String,
    because: Vec<String>,
    also: String,
    try_next: Vec<String>,
}

fn told<'a>(story: &'a Story<'_>) -> Told<'a> {
    match &story.measured {
        Ok(Measures {
            verdict, result, ..
        }) => {
            let said = verdict_words(verdict, result);
            let also: Vec<&str> = verdict.also.iter().map(|cause| cause.as_str()).collect();
            Told {
                cause: verdict.cause.as_str(),
                headline: words::headline(words::sentence(verdict.cause)),
                because: said.because,
                also: also.join(", "),
                try_next: said.try_next,
            }
        }
        Err(why) => Told {
            cause: "undetermined",
            headline: words::unmeasured(story).to_owned(),
            because: vec![why.to_string()],
            also: String::new(),
            try_next: vec![words::to_check(story).to_owned()],
        },
    }
}

fn played(story: &Story<'_>, film: &Film, name: Option<&'static str>) -> PlayedFilm {
    let middle = film.stills.get(film.stills.len() / 2);
    PlayedFilm {
        name,
        poster: middle.map(|still| STANDARD.encode(&still.jpeg)),
        size: (story.clip.width_px, story.clip.height_px),
    }
}

fn picture(still: &Still, values: &[FrameValues]) -> Picture {
    let moment = &still.moment;
    let frame = values.get(moment.frame).copied().unwrap_or_default();
    let rim = frame
        .rim_speed
        .map_or_else(String::new, |rim| format!(", its rim {:.2} m/s", rim.value));
    let speeds = frame.speed.map_or_else(String::new, |speed| {
        format!(" The car goes {:.2} m/s{rim}.", speed.value)
    });
    let time = when(moment.frame, frame.time_s);
    let alt = format!("Frame at {time}: {}.{speeds}", moment.caption);
    Picture {
        data: STANDARD.encode(&still.jpeg),
        width: still.size.0,
        height: still.size.1,
        time,
        caption: moment.caption.clone(),
        alt,
    }
}

/// Every quantity, or nothing where nothing was measured.
fn quantities<'a>(story: &'a Story<'_>) -> impl Iterator<Item = (Key, Quantity)> + 'a {
    Key::ALL.into_iter().map(|key| match &story.measured {
        Ok(measures) => (key, measures.result.get(key)),
        Err(why) => (key, Quantity::not_observable(*why)),
    })
}

fn results(story: &Story<'_>) -> Vec<ResultRow> {
    quantities(story)
        .map(|(key, quantity)| {
            let shown = show(key, &quantity);
            let unknown = shown.is_err();
            let shown = shown.unwrap_or_else(|_| ShownQuantity {
                value: "not observable".to_owned(),
                interval: "–".to_owned(),
                unit: String::new(),
            });
            ResultRow {
                unknown,
                meaning: key.meaning(),
                key: key.as_str(),
                value: shown.value,
                words: plain::in_words(key, &quantity),
                interval: shown.interval,
            }
        })
        .collect()
}

fn costs(story: &Story<'_>) -> Vec<CostRow> {
    let Ok(Measures { verdict, .. }) = &story.measured else {
        return Vec::new();
    };
    let say = |quantity: &Quantity| match quantity {
        Quantity::Stated { value, low, high } if (*value, *low, *high) == (0.0, 0.0, 0.0) => {
            "–".to_owned()
        }
        quantity => show_cost(quantity).unwrap_or_else(|_| "not observable".to_owned()),
    };
    verdict
        .costs()
        .iter()
        .map(|(cause, cost)| CostRow {
            cause: cause.as_str(),
            travel: say(&cost.travel_lost_m),
            off_line: say(&cost.off_line_m),
            farther: farther(*cause, cost, &say),
        })
        .collect()
}

fn farther(cause: Cause, cost: &Cost, say: &dyn Fn(&Quantity) -> String) -> Option<Farther> {
    let away = &cost.after_5_m;
    let same = away.travel_lost_m == cost.travel_lost_m && away.off_line_m == cost.off_line_m;
    let unknown = away.travel_lost_m.value().is_none() && away.off_line_m.value().is_none();
    (!same && !unknown).then(|| Farther {
        travel: say(&away.travel_lost_m),
        off_line: say(&away.off_line_m),
        at: if cause == Cause::Drag {
            "until the car stands".to_owned()
        } else {
            format!("after {STATED_DISTANCE_M:.0} m")
        },
    })
}

fn unseen(story: &Story<'_>) -> Vec<Unseen> {
    let mut groups: Vec<(String, QuantityReason)> = Vec::new();
    for (key, quantity) in quantities(story) {
        let Quantity::NotObservable { reason } = quantity else {
            continue;
        };
        match groups.iter_mut().find(|(_, why)| *why == reason) {
            Some((what, _)) => {
                what.push_str("; ");
                what.push_str(key.meaning());
            }
            None => groups.push((key.meaning().to_owned(), reason)),
        }
    }
    let said = groups.into_iter();
    said.map(|(what, why)| Unseen {
        what,
        why: coded(&why.to_string()),
    })
    .collect()
}

fn readings<'a>(values: &[FrameValues], charts: &'a [Chart], film: &'a Film) -> Readings<'a> {
    Readings {
        times: values.iter().map(|v| v.time_s).collect(),
        charts: charts.iter().filter_map(Chart::readable).collect(),
        film: film.contact.as_ref().map(|contact| ReadableFilm {
            image: format!("data:image/jpeg;base64,{}", STANDARD.encode(&contact.jpeg)),
            cell: contact.cell,
            columns: contact.columns,
            frames: &contact.frames,
        }),
    }
}

/// JSON that cannot end the element it stands in, whatever the names in it (HTML Living Standard,
/// 4.12.1.3, restrictions for contents of script elements).
fn script_safe(json: &str) -> String {
    json.replace('<', "\\u003c").replace('>', "\\u003e")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn readings_cannot_end_their_element() {
        let safe = script_safe(r#"{"a":"</script><!--"}"#);
        assert!(!safe.contains('<'));
        let back: serde_json::Value = serde_json::from_str(&safe).unwrap();
        assert_eq!(back["a"], "</script><!--");
    }
}
