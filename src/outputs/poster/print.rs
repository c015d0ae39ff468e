//! A page of vectors as a picture of 300 dots an inch.

use crate::outputs::sketch::{BOLD, REGULAR};
use resvg::tiny_skia::{Pixmap, Transform};
use resvg::usvg::{Options, Tree};
use std::sync::Arc;

/// Paper, both in landscape (ISO 216).
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
#[expect(missing_docs, reason = "the names say it")]
pub enum Paper {
    #[default]
    A4,
    A3,
}

/// Dots an inch of a print, and in an inch that many millimetres.
const DOTS_PER_INCH: f64 = 300.0;
const MM_PER_INCH: f64 = 25.4;

impl Paper {
    /// Width and height, mm.
    pub const fn size_mm(self) -> (f64, f64) {
        match self {
            Self::A4 => (297.0, 210.0),
            Self::A3 => (420.0, 297.0),
        }
    }

    /// What CSS calls it.
    pub(super) const fn word(self) -> &'static str {
        match self {
            Self::A4 => "A4",
            Self::A3 => "A3",
        }
    }

    /// Width and height of its print, px.
    pub(crate) fn dots(self) -> (u32, u32) {
        let (wide, high) = self.size_mm();
        let dots = |mm: f64| (mm / MM_PER_INCH * DOTS_PER_INCH).round() as u32;
        (dots(wide), dots(high))
    }
}

/// Draws a page's SVG, `units` wide, as a PNG file; `None` where it is no SVG or beyond memory.
pub(super) fn png(svg: &str, units: f64, paper: Paper) -> Option<Vec<u8>> {
    let mut options = Options {
        font_family: "DejaVu Sans".to_owned(),
        ..Options::default()
    };
    let fonts = Arc::make_mut(&mut options.fontdb);
    fonts.load_font_data(REGULAR.to_vec());
    fonts.load_font_data(BOLD.to_vec());
    let page = Tree::from_str(svg, &options).ok()?;
    let (width, height) = paper.dots();
    let mut dots = Pixmap::new(width, height)?;
    let scale = (f64::from(width) / units) as f32;
    resvg::render(
        &page,
        Transform::from_scale(scale, scale),
        &mut dots.as_mut(),
    );
    // The page is opaque: its ground is white.
    let colours: Vec<u8> = dots
        .data()
        .chunks_exact(4)
        .flat_map(|dot| [dot[0], dot[1], dot[2]])
        .collect();
    encoded(&colours, width, height)
}

fn encoded(colours: &[u8], width: u32, height: u32) -> Option<Vec<u8>> {
    let mut bytes = Vec::new();
    let mut encoder = png::Encoder::new(&mut bytes, width, height);
    encoder.set_color(png::ColorType::Rgb);
    encoder.set_depth(png::BitDepth::Eight);
    encoder.set_compression(png::Compression::Fast);
    let dots_per_m = (DOTS_PER_INCH / MM_PER_INCH * 1000.0).round() as u32;
    encoder.set_pixel_dims(Some(png::PixelDimensions {
        xppu: dots_per_m,
        yppu: dots_per_m,
        unit: png::Unit::Meter,
    }));
    let mut writer = encoder.write_header().ok()?;
    writer.write_image_data(colours).ok()?;
    writer.finish().ok()?;
    Some(bytes)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_page_has_300_dots_an_inch() {
        // ISO 216: A4 is 210 mm x 297 mm, A3 297 mm x 420 mm; an inch is 25.4 mm.
        assert_eq!(Paper::A4.dots(), (3508, 2480));
        assert_eq!(Paper::A3.dots(), (4961, 3508));
        let svg = r##"<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 2970 2100" width="2970" height="2100"><rect width="2970" height="2100" fill="#fff"/><text x="200" y="400" font-family="DejaVu Sans" font-size="300">8</text></svg>"##;
        let bytes = png(svg, 2970.0, Paper::A4).unwrap();
        let mut reader = png::Decoder::new(std::io::Cursor::new(&bytes))
            .read_info()
            .unwrap();
        let mut colours = vec![0; reader.output_buffer_size().unwrap()];
        reader.next_frame(&mut colours).unwrap();
        let info = reader.info();
        assert_eq!((info.width, info.height), (3508, 2480));
        // PNG, third edition, 11.3.4.3: pHYs counts pixels a metre.
        let dots = info.pixel_dims.unwrap();
        assert_eq!((dots.xppu, dots.yppu), (11811, 11811));
        let dark = colours.chunks_exact(3).filter(|dot| dot[0] < 128).count();
        assert!(dark > 5000, "letters are drawn: {dark}");
    }
}
