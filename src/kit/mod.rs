//! The printed kit: stickers, wheel marks, floor marks and the filming card, true to scale, as PDF.
//!
//! All sizes, places and colours come from [`crate::sheet::kit`]; this folder only draws them. The pages are
//! vector graphics with embedded fonts, and the same paper gives the same bytes.

mod canvas;
mod car;
mod letters;
mod pages;

use crate::colour::Colour;
use canvas::{Canvas, Ink, PT_PER_MM};
use krilla::Document;
use krilla::metadata::Metadata;
use krilla::page::PageSettings;
use letters::Letters;

/// A size of paper.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Paper {
    /// 210 mm by 297 mm (ISO 216).
    A4,
    /// 8.5 inches by 11 inches (ANSI/ASME Y14.1 size A).
    Letter,
}

impl Paper {
    /// Width and height, mm.
    pub const fn size_mm(self) -> (f32, f32) {
        match self {
            Self::A4 => (210.0, 297.0),
            Self::Letter => (215.9, 279.4),
        }
    }
}

/// Nothing is drawn nearer to the edge than this, mm: common printers leave about 5 mm blank.
pub const MARGIN_MM: f32 = 10.0;
/// Width and height that both papers have within their margins, mm: one layout serves both.
const WIDTH_MM: f32 = 190.0;
const HEIGHT_MM: f32 = 259.0;
/// Length of the bar that shows whether the printer kept the scale, mm.
pub const BAR_MM: f32 = 100.0;

/// What stands in each kit: the program that made it. A file without it is nobody's kit.
pub const KIT_CREATOR: &str = "gripline kit";

/// Why no kit could be drawn.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum KitError {
    /// A built-in font is damaged.
    #[error("a font that is built into the tool cannot be read")]
    Font,
    /// The PDF could not be put together.
    #[error("the pages could not be put together: {why}")]
    Pdf {
        /// What the library says.
        why: String,
    },
}

/// The kit for a size of paper, as the bytes of a PDF.
///
/// # Errors
/// [`KitError`] where a font or the PDF library fails; nothing that a user does leads to it.
pub fn kit_pdf(paper: Paper) -> Result<Vec<u8>, KitError> {
    let letters = Letters::built_in()?;
    let mut document = Document::new();
    let (width_mm, height_mm) = paper.size_mm();
    let left_mm = (width_mm - WIDTH_MM) / 2.0;
    // What the longer paper has over is shared between top and bottom.
    let top_mm = MARGIN_MM.max((height_mm - HEIGHT_MM) / 2.0 - 4.0);
    for draw in pages::ALL {
        let settings = PageSettings::from_wh(width_mm * PT_PER_MM, height_mm * PT_PER_MM)
            .ok_or_else(|| KitError::Pdf {
                why: "the paper has no size".into(),
            })?;
        let mut page = document.start_page_with(settings);
        let mut surface = page.surface();
        let mut canvas = Canvas::new(&mut surface, &letters, (left_mm, top_mm));
        draw(&mut canvas);
        canvas.finish();
        surface.finish();
        page.finish();
    }
    document.set_metadata(
        Metadata::new()
            .title("Gripline kit: stickers, floor marks and filming card".into())
            .language("en-GB".into())
            .creator(KIT_CREATOR.into()),
    );
    document.finish().map_err(|error| KitError::Pdf {
        why: format!("{error:?}"),
    })
}

/// The ink of a patch: the paint that the tool has in mind when it reads the colour's name.
pub fn patch_rgb(colour: Colour) -> [u8; 3] {
    let ink: Ink = colour.typical_rgb().map(|code| code.round() as u8);
    ink
}
