//! The page: picture, verdict, three numbers, rulers, the view from above and how it was made, as one SVG.

use super::above::from_above;
use super::numbers::three;
use super::print::{Paper, png};
use super::{Exposure, Rulers, rulers};
use crate::outputs::film::jpeg;
use crate::outputs::sketch::{BOLD, Letters, REGULAR};
use crate::outputs::values::FrameValues;
use crate::outputs::wording::Said as _;
use crate::outputs::{Story, words};
use crate::texts::Texts;
use askama::Template;
use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;

/// The page in tenths of a millimetre of A4; A3 is the same, larger.
const WIDE: f64 = 2970.0;
const HIGH: f64 = 2100.0;
const MARGIN: f64 = 105.0;
/// Width of the picture in pixels, sharp at the width that it has on A4 at 300 dots an inch.
const PICTURE_PX: u32 = 2400;
const QUALITY: u8 = 93;
/// Sizes of letters, tenths of a millimetre of the em square: title, numbers, headings, running text, small print.
const TITLE: f64 = 112.0;
const NUMBER: f64 = 96.0;
const HEAD: f64 = 44.0;
const TEXT: f64 = 38.0;
const SMALL: f64 = 31.0;
/// From line to line, in letters.
const LINE: f64 = 1.32;

/// Why a poster could not be made. None of these happens for reasons of the clip.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum PosterError {
    /// The template engine failed.
    #[error("the poster could not be put together: {0}")]
    Page(#[from] askama::Error),
    /// The picture does not fit into memory.
    #[error("the poster's picture could not be drawn: it is too large for this computer's memory")]
    Memory,
}

/// A poster's two files.
#[derive(Debug)]
pub struct Poster {
    /// The print.
    pub png: Vec<u8>,
    /// The page.
    pub html: Vec<u8>,
}

/// Words at a place.
struct Line {
    x: f64,
    y: f64,
    size: f64,
    bold: bool,
    soft: bool,
    words: String,
}

/// A picture at a place.
struct Image {
    x: f64,
    y: f64,
    wide: f64,
    high: f64,
    data: String,
}

#[derive(Template)]
#[template(
    path = "sheet.svg",
    config = "src/outputs/poster/askama.toml",
    escape = "html"
)]
struct Sheet<'a> {
    title: &'a str,
    description: &'a str,
    lines: &'a [Line],
    images: &'a [Image],
    rulers: Option<(f64, f64, String)>,
}

#[derive(Template)]
#[template(path = "poster.html", config = "src/outputs/poster/askama.toml")]
struct Page<'a> {
    tool: &'static str,
    t: &'static Texts,
    car: &'a str,
    paper: &'static str,
    wide_mm: f64,
    high_mm: f64,
    regular: String,
    bold: String,
    sheet: &'a str,
}

/// A poster of a run.
///
/// # Errors
/// That the template engine failed, or memory ran out.
pub fn poster(
    story: &Story<'_>,
    values: &[FrameValues],
    exposure: &Exposure,
    paper: Paper,
) -> Result<Poster, PosterError> {
    let laid_out = Layout::of(story, values, exposure).ok_or(PosterError::Memory)?;
    let sheet = Sheet {
        title: &laid_out.title,
        description: &laid_out.description,
        lines: &laid_out.lines,
        images: &laid_out.images,
        rulers: laid_out.rulers.clone(),
    };
    let svg = sheet.render()?;
    let (wide_mm, high_mm) = paper.size_mm();
    let page = Page {
        tool: concat!("gripline ", env!("CARGO_PKG_VERSION")),
        t: story.texts(),
        car: &story.car_name(),
        paper: paper.word(),
        wide_mm,
        high_mm,
        regular: STANDARD.encode(REGULAR),
        bold: STANDARD.encode(BOLD),
        sheet: &svg,
    };
    Ok(Poster {
        html: page.render()?.into_bytes(),
        png: png(&svg, WIDE, paper).ok_or(PosterError::Memory)?,
    })
}

/// Everything on the page, with its place.
struct Layout {
    title: String,
    description: String,
    lines: Vec<Line>,
    images: Vec<Image>,
    rulers: Option<(f64, f64, String)>,
    bold: Letters,
    regular: Letters,
}

impl Layout {
    fn of(story: &Story<'_>, values: &[FrameValues], exposure: &Exposure) -> Option<Self> {
        let mut layout = Self {
            title: title(story),
            description: String::new(),
            lines: Vec::new(),
            images: Vec::new(),
            rulers: None,
            bold: Letters::load()?,
            regular: Letters::regular()?,
        };
        let top = layout.head(story);
        let below = layout.picture(exposure, top)?;
        layout.numbers(story, top, below);
        let beside = layout.above(story, exposure, below);
        let rulers = rulers(story, values, exposure);
        layout.lengths(story.texts(), rulers.as_ref(), below, beside);
        layout.foot(story.texts(), exposure);
        layout.description = layout.told(rulers.as_ref());
        Some(layout)
    }

    /// Whose run it is and what is to blame; where the next begins.
    fn head(&mut self, story: &Story<'_>) -> f64 {
        let car = &story.sheet.car;
        let name = story.car_name();
        let whose = match &car.treatment {
            Some(treatment) => format!("{name} · {treatment}"),
            None => name,
        };
        let room = WIDE - 2.0 * MARGIN;
        let whose = self
            .broken(&whose, HEAD, true, room)
            .into_iter()
            .next()
            .unwrap_or_default();
        let mut y = MARGIN + HEAD;
        self.add(MARGIN, y, HEAD, (true, true), whose);
        let title = self.title.clone();
        let size = [TITLE, 0.86 * TITLE, 0.74 * TITLE, 0.6 * TITLE].into_iter();
        let fits = |size: &f64| self.broken(&title, *size, true, room).len() <= 2;
        let size = size.clone().find(fits).unwrap_or(0.6 * TITLE);
        for line in self.broken(&title, size, true, room) {
            y += 1.16 * size;
            self.add(MARGIN, y, size, (true, false), line);
        }
        y + 0.55 * TITLE
    }

    /// The picture, as large as leaves room for what is beside and below; where the next begins.
    fn picture(&mut self, exposure: &Exposure, top: f64) -> Option<f64> {
        let (_, data) = exposure.jpeg(PICTURE_PX, QUALITY)?;
        let most_high = 1400.0 - top;
        let most_wide = 2130.0;
        let wide = (most_high * exposure.shape()).min(most_wide);
        let high = wide / exposure.shape();
        let data = STANDARD.encode(data);
        self.images.push(Image {
            x: MARGIN,
            y: top,
            wide,
            high,
            data,
        });
        Some(top + high)
    }

    /// Three numbers beside the picture.
    fn numbers(&mut self, story: &Story<'_>, top: f64, below: f64) {
        let left = self
            .images
            .first()
            .map_or(MARGIN, |image| image.x + image.wide)
            + 70.0;
        let room = WIDE - MARGIN - left;
        let texts = story.texts();
        let numbers = three(story);
        let each = (below - top) / numbers.len().max(1) as f64;
        let mut y = top;
        for (place, number) in numbers.iter().enumerate() {
            y = y.max(top + place as f64 * each) + 0.8 * NUMBER;
            let wide = |size: f64| f64::from(self.bold.width(&number.value, size as f32));
            let size = NUMBER.min(NUMBER * room / wide(NUMBER).max(1.0));
            self.add(left, y, size, (true, false), number.value.clone());
            for line in self.broken(&number.meaning, TEXT, false, room) {
                y += LINE * TEXT;
                self.add(left, y, TEXT, (false, false), line);
            }
            y += LINE * TEXT;
            self.add(
                left,
                y,
                SMALL,
                (false, true),
                texts.with("poster-between", "between", &number.between),
            );
            y += 0.3 * NUMBER;
        }
        if numbers.is_empty() {
            let why = match &story.measured {
                Ok(_) => texts.text("poster-no-number"),
                Err(why) => why.said(texts),
            };
            let mut y = top;
            for line in self.broken(&why, TEXT, false, room) {
                y += LINE * TEXT;
                self.add(left, y, TEXT, (false, false), line);
            }
        }
    }

    /// The view from above, right below; where it begins, or the right margin without it.
    fn above(&mut self, story: &Story<'_>, exposure: &Exposure, below: f64) -> f64 {
        let laid = exposure
            .laid
            .and_then(|laid| from_above(story, exposure, laid));
        let Some(data) = laid.as_ref().and_then(|seen| jpeg(&seen.picture, QUALITY)) else {
            return WIDE - MARGIN;
        };
        let shape = laid.map_or(2.0, |seen| {
            f64::from(seen.picture.width()) / f64::from(seen.picture.height())
        });
        let top = below + 40.0 + LINE * HEAD;
        let wide = (1120.0_f64).min((HIGH - 250.0 - top) * shape);
        let left = WIDE - MARGIN - wide;
        self.add(
            left,
            top - 22.0,
            HEAD,
            (true, false),
            story.texts().text("poster-above"),
        );
        let data = STANDARD.encode(data);
        self.images.push(Image {
            x: left,
            y: top,
            wide,
            high: wide / shape,
            data,
        });
        left - 90.0
    }

    /// Rim and car as rulers, left below.
    fn lengths(&mut self, texts: &Texts, rulers: Option<&Rulers>, below: f64, right: f64) {
        let top = below + 40.0 + LINE * HEAD;
        let Some(rulers) = rulers else {
            let why = texts.text("poster-no-way");
            self.add(MARGIN, top, TEXT, (false, false), why);
            return;
        };
        let head = match rulers.rim() {
            Some(_) if rulers.spun() => "poster-gap",
            Some(_) => "poster-no-gap",
            None => "poster-way",
        };
        self.add(MARGIN, top - 22.0, HEAD, (true, false), texts.text(head));
        let wide = right - MARGIN;
        let (svg, high) = rulers.svg(wide, TEXT);
        self.rulers = Some((MARGIN, top + 8.0, svg));
        if let Err(why) = &rulers.gap {
            let mut y = top + high + 20.0;
            let words = texts.with("poster-no-rim", "why", why);
            for line in self.broken(&words, SMALL, false, wide).into_iter().take(3) {
                y += LINE * SMALL;
                self.add(MARGIN, y, SMALL, (false, true), line);
            }
        }
    }

    fn foot(&mut self, texts: &Texts, exposure: &Exposure) {
        let foot = if self.images.len() > 1 {
            "poster-foot-above"
        } else {
            "poster-foot"
        };
        let words = texts.with(foot, "caption", &exposure.caption(texts));
        let lines = self.broken(&words, SMALL, false, WIDE - 2.0 * MARGIN);
        let mut y = HIGH - MARGIN + 20.0 - LINE * SMALL * (lines.len().saturating_sub(1)) as f64;
        for line in lines {
            self.add(MARGIN, y, SMALL, (false, true), line);
            y += LINE * SMALL;
        }
    }

    /// The page in words, for whoever does not see it.
    fn told(&self, rulers: Option<&Rulers>) -> String {
        let lines: Vec<&str> = self.lines.iter().map(|line| line.words.as_str()).collect();
        let lengths = rulers.map(Rulers::said).unwrap_or_default();
        format!("{} {lengths}", lines.join(" "))
    }

    fn add(&mut self, x: f64, y: f64, size: f64, (bold, soft): (bool, bool), words: String) {
        self.lines.push(Line {
            x,
            y,
            size,
            bold,
            soft,
            words,
        });
    }

    /// A text in lines no wider than `room`; a single word may be.
    fn broken(&self, text: &str, size: f64, bold: bool, room: f64) -> Vec<String> {
        let letters = if bold { &self.bold } else { &self.regular };
        letters.in_lines(text, size, room)
    }
}

fn title(story: &Story<'_>) -> String {
    let texts = story.texts();
    match &story.measured {
        Ok(measures) => words::headline(&words::sentence(texts, measures.verdict.cause)),
        Err(_) => words::unmeasured(texts, story),
    }
}
