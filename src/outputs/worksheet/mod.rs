//! `worksheet.html`: one sheet of A4 for the write-up. What was measured is filled in; what the class thought, changed
//! and plans is left to write, on paper or in the browser.

mod glossary;

pub(super) use glossary::{GLOSSARY, Word};

use super::poster::{Number, three};
use super::report::STYLE;
use super::report::coded::{Part, coded};
use super::wording::{CAUTION, verdict_words};
use super::{Story, words};
use askama::Template;

#[derive(Template)]
#[template(path = "worksheet.html", config = "src/outputs/worksheet/askama.toml")]
struct Page<'a> {
    tool: &'static str,
    style: &'static str,
    car: &'a str,
    treatment: Option<&'a str>,
    change: Option<&'a str>,
    headline: String,
    numbers: Vec<Number>,
    happened: Vec<Vec<Part>>,
    unseen: Vec<Part>,
    next: Option<Vec<Part>>,
    glossary: &'static [Word],
    cautions: &'static str,
}

/// Sentences under "what happened" at most: a pupil adds their own.
const MOST_SENTENCES: usize = 3;

/// The sheet.
///
/// # Errors
/// What the template engine says; writing to memory does not fail in practice.
pub fn worksheet_html(story: &Story<'_>) -> Result<Vec<u8>, askama::Error> {
    let said = match &story.measured {
        Ok(measures) => {
            let said = verdict_words(measures.verdict, measures.result);
            (
                words::headline(words::sentence(measures.verdict.cause)),
                said.because,
                said.try_next.into_iter().next(),
            )
        }
        Err(why) => (
            words::unmeasured(story).to_owned(),
            vec![why.to_string()],
            Some(words::to_check(story).to_owned()),
        ),
    };
    let (headline, because, next) = said;
    let (unseen, seen): (Vec<String>, Vec<String>) =
        (because.into_iter()).partition(|text| text.contains("not observable"));
    let page = Page {
        tool: concat!("gripline ", env!("CARGO_PKG_VERSION")),
        style: STYLE,
        car: story.sheet.car.name.as_deref().unwrap_or("the car"),
        treatment: story.sheet.car.treatment.as_deref(),
        change: story.sheet.change_note.as_deref(),
        headline,
        numbers: three(story),
        happened: (seen.iter().take(MOST_SENTENCES))
            .map(|text| coded(text))
            .collect(),
        unseen: unseen.first().map_or_else(Vec::new, |text| coded(text)),
        next: next.map(|text| coded(&text)),
        glossary: &GLOSSARY,
        cautions: CAUTION,
    };
    Ok(page.render()?.into_bytes())
}
