//! Colours through the whole way, against ffmpeg's own drawings of the standard colour bars.

mod common;

use common::{Studio, ffmpeg, read};
use gripline::clip::{Matrix, Picture};
use std::path::Path;

const WHITE_TO_BLUE: [[f64; 3]; 7] = [
    [1.0, 1.0, 1.0],
    [1.0, 1.0, 0.0],
    [0.0, 1.0, 1.0],
    [0.0, 1.0, 0.0],
    [1.0, 0.0, 1.0],
    [1.0, 0.0, 0.0],
    [0.0, 0.0, 1.0],
];

fn codes_at(picture: &Picture, u: usize, v: usize) -> [f64; 3] {
    let chroma = picture.chroma();
    let (chroma_u, chroma_v) = (u / chroma.step_u as usize, v / chroma.step_v as usize);
    [
        picture.y().row(v)[u],
        picture.cb().row(chroma_v)[chroma_u],
        picture.cr().row(chroma_v)[chroma_u],
    ]
    .map(f64::from)
}

/// The bars that SMPTE and EBU define have these colours at 75 % or 100 %; ffmpeg draws them from
/// tables of codes. A rounded code is within 1.2 of 255 of its colour.
#[test]
fn standard_bars_come_back_as_their_colours() {
    let studio = Studio::new();
    // Source, size, tag, matrix, amplitude, left edge and width of the bars.
    let rows = [
        (
            "smptehdbars",
            "1280x720",
            "bt709",
            Matrix::Bt709,
            0.75,
            160.0,
            137.0,
        ),
        (
            "smptebars",
            "704x480",
            "smpte170m",
            Matrix::Bt601,
            0.75,
            0.0,
            101.0,
        ),
        (
            "pal100bars",
            "720x576",
            "bt470bg",
            Matrix::Bt601,
            1.0,
            0.0,
            90.0,
        ),
    ];
    for (source, size, tag, matrix, amplitude, left, width) in rows {
        for pixels in ["yuv420p", "yuv422p", "yuv444p", "yuv422p10le"] {
            let words = format!(
                "-f lavfi -i {source}=s={size}:r=30 -frames:v 1 -c:v libx264 -qp 0 \
                 -pix_fmt {pixels} -colorspace {tag} -color_range tv"
            );
            let (frames, clip) = read(&studio.make(&words, "bars.mp4"));
            let coding = clip.info().coding;
            assert_eq!((coding.matrix, coding.matrix_assumed), (matrix, false));
            assert!(!coding.full_range && !coding.range_assumed);
            for (bar, colour) in WHITE_TO_BLUE.iter().enumerate() {
                let middle = left + width * (bar as f64 + 0.5);
                let [y, cb, cr] = codes_at(&frames[0].picture, middle as usize, 101);
                let rgb = coding.rgb(y, cb, cr);
                for (got, part) in rgb.iter().zip(colour) {
                    let wanted = part * 255.0 * amplitude;
                    assert!(
                        (got - wanted).abs() <= 1.2,
                        "{source} {pixels} bar {bar}: {rgb:?}"
                    );
                }
            }
        }
    }
}

/// Untagged pictures: BT.601 up to 576 rows and BT.709 above, marked as assumed.
#[test]
fn an_untagged_matrix_follows_the_size() {
    let studio = Studio::new();
    for (size, matrix) in [("720x576", Matrix::Bt601), ("640x578", Matrix::Bt709)] {
        let words = format!("-f lavfi -i color=gray:s={size}:r=30 -frames:v 1 -c:v libx264");
        let (_, clip) = read(&studio.make(&words, "plain.mp4"));
        let coding = clip.info().coding;
        assert_eq!((coding.matrix, coding.matrix_assumed), (matrix, true));
    }
}

/// A full-range clip, as Android phones make them, against ffmpeg's own conversion to RGB. The
/// drawing is rounded twice on its way, hence 2.5; read as limited it would be off by 10 and more.
#[test]
fn full_range_is_read_as_full() {
    let studio = Studio::new();
    let words = "-f lavfi -i color=0x30A050:s=64x48:r=30 -frames:v 1 -vf scale=out_range=pc \
                 -c:v libx264 -qp 0 -pix_fmt yuvj420p -color_range pc -colorspace bt470bg";
    let path = studio.make(words, "full.mp4");
    let (frames, clip) = read(&path);
    let coding = clip.info().coding;
    assert!(coding.full_range && !coding.range_assumed && !coding.matrix_assumed);
    assert_eq!(clip.info().pixel_format, "yuvj420p");
    let [y, cb, cr] = codes_at(&frames[0].picture, 30, 20);
    let rgb = coding.rgb(y, cb, cr);
    let input = path.display();
    let reference = ffmpeg(
        &format!("-i {input} -frames:v 1 -f rawvideo -pix_fmt rgb24"),
        Path::new("-"),
    );
    for (place, wanted) in [0x30, 0xA0, 0x50].into_iter().enumerate() {
        assert!((rgb[place] - f64::from(wanted)).abs() <= 2.5, "{rgb:?}");
        assert!((rgb[place] - f64::from(reference[place])).abs() <= 1.6);
    }
}

/// The six places that ITU-T H.264 table E-1 names, for 4:2:0.
#[test]
fn every_chroma_siting_is_told_apart() {
    let studio = Studio::new();
    let places = [
        (0.0, 0.5),
        (0.5, 0.5),
        (0.0, 0.0),
        (0.5, 0.0),
        (0.0, 1.0),
        (0.5, 1.0),
    ];
    for (number, place) in places.into_iter().enumerate() {
        let words = format!(
            "-f lavfi -i color=gray:s=64x48:r=30 -frames:v 1 -c:v libx264 \
             -x264-params chromaloc={number}"
        );
        let (frames, _) = read(&studio.make(&words, "siting.mp4"));
        let chroma = frames[0].picture.chroma();
        assert_eq!((chroma.offset_u_px, chroma.offset_v_px), place);
        assert_eq!(
            (chroma.step_u, chroma.step_v, chroma.assumed),
            (2, 2, false)
        );
    }
    let words = "-f lavfi -i color=gray:s=64x48:r=30 -frames:v 1 -c:v libx264 -pix_fmt yuv444p";
    let (frames, _) = read(&studio.make(words, "all.mp4"));
    let chroma = frames[0].picture.chroma();
    assert_eq!(
        (chroma.step_u, chroma.step_v, chroma.assumed),
        (1, 1, false)
    );
    assert_eq!((chroma.offset_u_px, chroma.offset_v_px), (0.0, 0.0));
}
