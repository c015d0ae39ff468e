//! `report.html`: one file that a student can print into a write-up and a judge can follow.
//!
//! It needs no network and no script: charts are inline SVG, pictures are data URIs, and the script
//! only adds reading-off. Every text from users goes through the template engine's escaping.

mod charts;
pub(crate) mod coded;
mod method;
mod plain;
pub(crate) mod plot;
mod tables;
mod whole;

use super::film::{Film, Still};
use super::poster::Exposure;
use super::values::{FrameValues, frame_values, when};
use super::wording::{Said as _, cause_name, caution, verdict_words};
use super::worksheet::{Word, glossary};
use super::{Measures, Story, words};
use crate::texts::{Texts, say};
use crate::verdict::{Cause, NEGLIGIBLE_M, NEGLIGIBLE_SHARE};
use askama::Template;
use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use charts::{Chart, Readable};
use coded::{Part, coded};
use plain::EnergyBar;
use serde::Serialize;
use tables::{CostRow, ResultRow, Unseen, costs, results, unseen};
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
    t: &'static Texts,
    tool: &'static str,
    style: &'static str,
    script: String,
    car: &'a str,
    treatment: Option<&'a str>,
    change: Option<&'a str>,
    clip: String,
    title: String,
    cause: String,
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
    glossary: Vec<Word>,
    charts: Vec<Chart>,
    results: Vec<ResultRow>,
    costs: Vec<CostRow>,
    costs_caption: String,
    unseen: Vec<Unseen>,
    strip: String,
    method: Vec<(String, Vec<Part>)>,
    cautions: String,
    readings: String,
}

/// The page's script, with its words.
#[derive(Template)]
#[template(
    path = "page.js",
    config = "src/outputs/report/askama.toml",
    escape = "none"
)]
struct Script {
    t: &'static Texts,
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
    let texts = story.texts();
    let values = frame_values(story);
    let charts = charts::all(story, &values);
    let readings = script_safe(&serde_json::to_string(&readings(&values, &charts, film))?);
    let (told, car) = (told(story), story.car_name());
    let measures = story.measured.as_ref().ok();
    let page = Page {
        t: texts,
        tool: concat!("gripline ", env!("CARGO_PKG_VERSION")),
        style: STYLE,
        script: Script { t: texts }.render()?,
        car: &car,
        treatment: story.sheet.car.treatment.as_deref(),
        change: story.sheet.change_note.as_deref(),
        clip: method::clip_name(story),
        title: told.title,
        cause: told.cause,
        headline: told.headline,
        big: big(story, &values, exposure, &told.try_next),
        glossary: glossary(texts),
        because: parts(texts, &told.because),
        also: told.also,
        try_next: parts(texts, &told.try_next),
        doubt: story
            .clock_doubt
            .map(|doubt| coded(texts, &doubt.said(texts))),
        plain: measures.map_or_else(Vec::new, |m| plain::told(texts, m)),
        energy: measures.and_then(|m| plain::energy(texts, m.result)),
        film: played(story, film, overlay),
        whole: exposure.and_then(|exposure| whole(story, &values, exposure)),
        stills: film
            .stills
            .iter()
            .map(|s| picture(texts, s, &values))
            .collect(),
        strip: say!(texts, "report-strip", count = film.stills.len()),
        charts,
        results: results(story),
        costs: costs(story),
        costs_caption: costs_caption(texts),
        unseen: unseen(story),
        method: method::method(story)
            .into_iter()
            .map(|(head, text)| (head, coded(texts, &text)))
            .collect(),
        cautions: caution(texts),
        readings,
    };
    Ok(page.render()?.into_bytes())
}

/// From what on a cause counts.
fn costs_caption(texts: &Texts) -> String {
    say!(
        texts,
        "report-costs-caption",
        mm = texts.fixed(1000.0 * NEGLIGIBLE_M, 0),
        share = texts.fixed(100.0 * NEGLIGIBLE_SHARE, 0),
    )
}

/// Texts in parts.
fn parts(texts: &Texts, of: &[String]) -> Vec<Vec<Part>> {
    of.iter().map(|text| coded(texts, text)).collect()
}

/// The verdict as the page tells it.
struct Told {
    title: String,
    cause: String,
    headline: String,
    because: Vec<String>,
    also: String,
    try_next: Vec<String>,
}

fn told(story: &Story<'_>) -> Told {
    let texts = story.texts();
    let title = |cause: &str| {
        let car = story.car_name();
        say!(texts, "report-title", car = car, cause = cause)
    };
    match &story.measured {
        Ok(Measures {
            verdict, result, ..
        }) => {
            let said = verdict_words(texts, verdict, result);
            Told {
                title: title(&cause_name(texts, verdict.cause)),
                cause: cause_name(texts, verdict.cause),
                headline: words::headline(&words::sentence(texts, verdict.cause)),
                because: said.because,
                also: words::also(texts, &verdict.also),
                try_next: said.try_next,
            }
        }
        Err(why) => Told {
            title: title(&cause_name(texts, Cause::Undetermined)),
            cause: cause_name(texts, Cause::Undetermined),
            headline: words::unmeasured(texts, story),
            because: vec![why.said(texts)],
            also: String::new(),
            try_next: vec![words::to_check(texts, story)],
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

fn picture(texts: &Texts, still: &Still, values: &[FrameValues]) -> Picture {
    let moment = &still.moment;
    let frame = values.get(moment.frame).copied().unwrap_or_default();
    let [car, rim] = [frame.speed, frame.rim_speed].map(|speed| Some(texts.fixed(speed?.value, 2)));
    let time = when(texts, moment.frame, frame.time_s);
    let (at, caption) = (time.as_str(), moment.caption.as_str());
    let alt = match (car, rim) {
        (None, _) => say!(texts, "still-alt", time = at, caption = caption),
        (Some(car), None) => {
            say!(
                texts,
                "still-alt-car",
                time = at,
                caption = caption,
                car = car
            )
        }
        (Some(car), Some(rim)) => say!(
            texts,
            "still-alt-rim",
            time = at,
            caption = caption,
            car = car,
            rim = rim,
        ),
    };
    Picture {
        data: STANDARD.encode(&still.jpeg),
        width: still.size.0,
        height: still.size.1,
        time,
        caption: moment.caption.clone(),
        alt,
    }
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
