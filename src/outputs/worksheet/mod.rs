//! `worksheet.html`: one sheet of A4 for the write-up. What was measured is filled in; what the class thought, changed
//! and plans is left to write, on paper or in the browser.

mod glossary;

pub(super) use glossary::{Word, glossary};

use super::poster::{Number, three};
use super::report::STYLE;
use super::report::coded::{Part, coded};
use super::wording::{Said, caution, verdict_words};
use super::{Story, words};
use crate::texts::{Texts, say};
use askama::Template;

#[derive(Template)]
#[template(path = "worksheet.html", config = "src/outputs/worksheet/askama.toml")]
struct Page<'a> {
    t: &'static Texts,
    tool: &'static str,
    style: &'static str,
    car: &'a str,
    treatment: Option<&'a str>,
    change: Option<&'a str>,
    headline: String,
    numbers: Vec<Stated>,
    happened: Vec<Vec<Part>>,
    unseen: Vec<Part>,
    next: Option<Vec<Part>>,
    glossary: Vec<Word>,
    cautions: String,
}

/// A number, and its interval in a sentence.
struct Stated {
    number: Number,
    between: String,
}

/// Sentences under "what happened" at most: a pupil adds their own.
const MOST_SENTENCES: usize = 3;

/// The sheet.
///
/// # Errors
/// What the template engine says; writing to memory does not fail in practice.
pub fn worksheet_html(story: &Story<'_>) -> Result<Vec<u8>, askama::Error> {
    let texts = story.texts();
    let said = match &story.measured {
        Ok(measures) => {
            let said = verdict_words(texts, measures.verdict, measures.result);
            (
                words::headline(&words::sentence(texts, measures.verdict.cause)),
                said.because,
                said.try_next.into_iter().next(),
            )
        }
        Err(why) => (
            words::unmeasured(texts, story),
            vec![why.said(texts)],
            Some(words::to_check(texts, story)),
        ),
    };
    let (headline, because, next) = said;
    let unknown = texts.text("not-observable");
    let (unseen, seen): (Vec<String>, Vec<String>) =
        (because.into_iter()).partition(|text| text.contains(&unknown));
    let unseen = unseen.first().map_or_else(Vec::new, |text| {
        coded(texts, &say!(texts, "sheet-unseen", what = text.as_str()))
    });
    let page = Page {
        t: texts,
        tool: concat!("gripline ", env!("CARGO_PKG_VERSION")),
        style: STYLE,
        car: &story.car_name(),
        treatment: story.sheet.car.treatment.as_deref(),
        change: story.sheet.change_note.as_deref(),
        headline,
        numbers: stated(story),
        happened: (seen.iter().take(MOST_SENTENCES))
            .map(|text| coded(texts, text))
            .collect(),
        unseen,
        next: next.map(|step| coded(texts, &say!(texts, "sheet-suggest", step = step))),
        glossary: glossary(texts),
        cautions: caution(texts),
    };
    Ok(page.render()?.into_bytes())
}

fn stated(story: &Story<'_>) -> Vec<Stated> {
    let texts = story.texts();
    let stated = |number: Number| Stated {
        between: say!(
            texts,
            "sheet-between",
            meaning = number.meaning.as_str(),
            between = number.between.as_str(),
        ),
        number,
    };
    three(story).into_iter().map(stated).collect()
}
