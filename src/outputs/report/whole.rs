//! The picture of the whole run on the page, and the two rulers below it.

use super::coded::plain;
use crate::outputs::Story;
use crate::outputs::poster::{Exposure, Number, Rulers, rulers, three};
use crate::outputs::values::FrameValues;
use crate::texts::say;
use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;

/// Least and greatest width of the picture, px: sharp at the page's full width, and as it is where it is about so wide.
const WIDTHS_PX: (u32, u32) = (1280, 1760);
const QUALITY: u8 = 80;
/// The rulers' own units: width of the drawing, size of its letters.
const WIDE: f64 = 1000.0;
const LETTER: f64 = 22.0;

/// The whole run in one picture.
pub(super) struct Whole {
    pub(super) data: String,
    pub(super) width: u32,
    pub(super) height: u32,
    pub(super) alt: String,
    pub(super) caption: String,
    pub(super) lengths: Option<Lengths>,
}

/// What the page shows large enough to be read from the back of a room.
pub(super) struct Big {
    /// Rim and car as rulers where the wheels spun; else the picture of the whole run stands there.
    pub(super) lengths: Option<Lengths>,
    /// The number that tells most, and its meaning with its interval.
    pub(super) number: Option<(String, String)>,
    /// The first thing to try.
    pub(super) first: Option<String>,
}

/// Size of the letters on the large rulers.
const BIG_LETTER: f64 = 36.0;

/// The large view of a run.
pub(super) fn big(
    story: &Story<'_>,
    values: &[FrameValues],
    exposure: Option<&Exposure>,
    try_next: &[String],
) -> Big {
    let rulers = exposure.and_then(|exposure| rulers(story, values, exposure));
    let spun = rulers.filter(Rulers::spun);
    // The rulers have the number that tells most in them.
    let number = three(story).into_iter().next().filter(|_| spun.is_none());
    Big {
        lengths: spun.map(|rulers| {
            let (svg, high) = rulers.svg(WIDE, BIG_LETTER);
            let said = rulers.said();
            Lengths { svg, high, said }
        }),
        number: number.map(
            |Number {
                 value,
                 meaning,
                 between,
             }| {
                let said = say!(
                    story.texts(),
                    "report-big-between",
                    meaning = meaning,
                    between = between
                );
                (value, said)
            },
        ),
        // What it would gain stands in brackets, too long for a wall.
        first: try_next.first().map(|text| {
            let text = plain(story.texts(), text);
            let brief = text.split(" (").next().unwrap_or_default();
            capital(brief)
        }),
    }
}

fn capital(text: &str) -> String {
    let mut letters = text.chars();
    let first = letters.next().into_iter().flat_map(char::to_uppercase);
    first.chain(letters.as_str().chars()).collect()
}

/// Rim and car as rulers.
#[derive(Clone)]
pub(super) struct Lengths {
    pub(super) svg: String,
    pub(super) high: f64,
    pub(super) said: String,
}

/// The picture of a run; `None` beyond memory.
pub(super) fn whole(
    story: &Story<'_>,
    values: &[FrameValues],
    exposure: &Exposure,
) -> Option<Whole> {
    let width = exposure.width().clamp(WIDTHS_PX.0, WIDTHS_PX.1);
    let (height, jpeg) = exposure.jpeg(width, QUALITY)?;
    let lengths = rulers(story, values, exposure).map(|rulers| {
        let (svg, high) = rulers.svg(WIDE, LETTER);
        let said = rulers.said();
        Lengths { svg, high, said }
    });
    let told = lengths.as_ref().map_or("", |lengths| lengths.said.as_str());
    let texts = story.texts();
    let caption = exposure.caption(texts);
    Some(Whole {
        data: STANDARD.encode(&jpeg),
        width,
        height,
        alt: texts.with("report-whole-alt", "rulers", told),
        caption,
        lengths,
    })
}
