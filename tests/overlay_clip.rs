//! `overlay.mp4`, decoded again: frame count, frame times, where a mark is drawn, sound, and what is done
//! without the best encoder.
#![allow(clippy::unwrap_used, clippy::panic, reason = "tests fail by panicking")]

mod command;
mod common;

use command::{Table, fixture, measure, text};
use common::{ffmpeg, read, times};
use gripline::clip::{Change, Clip, ClipWriter, Frame, Upright420, WriteClipError};
use gripline::outputs::overlay::CARD_S;
use std::path::{Path, PathBuf};
use std::process::Command;
use tempfile::TempDir;

/// Measures a clip; the folder of its results.
fn results(clip: &Path, run: &str, more: &[&str]) -> (TempDir, PathBuf) {
    let home = tempfile::tempdir().unwrap();
    let words = [&["--no-report", "--draws", "10"], more].concat();
    let output = measure(clip, &fixture(run, "run.toml"), home.path(), &words);
    assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
    let folder = home.path().join(clip.file_stem().unwrap());
    (home, folder)
}

/// Whether the overlay has the clip's frame times, and after them the end card: one and a half seconds of playing,
/// from one usual step after the last frame to the end of the card's own last frame.
fn near(ours: &[f64], theirs: &[f64], factor: f64) {
    assert!(theirs.len() > 50);
    assert!(ours.len() > theirs.len(), "frame count, with the card");
    let (ours, card) = ours.split_at(theirs.len());
    assert!(card.is_sorted_by(|a, b| a < b), "{card:?}");
    let mut steps: Vec<f64> = theirs.windows(2).map(|pair| pair[1] - pair[0]).collect();
    steps.sort_by(f64::total_cmp);
    let usual = factor * steps[steps.len() / 2];
    let long = card[card.len() - 1] - ours[ours.len() - 1];
    // Where frame times are uneven the nominal step is not quite the middle one.
    assert!((long - CARD_S).abs() < 0.5 * usual + 1e-3, "{long} {usual}");
    let wait = card[0] - ours[ours.len() - 1];
    assert!(wait > 0.0 && wait < 2.0 * usual, "{wait} {usual}");
    for (ours, theirs) in ours.iter().zip(theirs) {
        assert!((ours - theirs * factor).abs() < 1e-6, "{ours} {theirs}");
    }
}

#[test]
fn the_overlay_has_the_frames_and_times_of_its_clip() {
    // One clip with even and one with uneven frame times.
    for run in ["spin-out", "uneven"] {
        let clip = fixture(run, "clip.mp4");
        let (_home, folder) = results(&clip, run, &[]);
        let (theirs, _) = read(&clip);
        let (ours, info) = read(&folder.join("overlay.mp4"));
        near(&times(&ours), &times(&theirs), 1.0);
        assert_eq!(info.info().codec, "h264");
        assert_eq!(info.info().pixel_format, "yuv420p");
        let bytes = std::fs::read(folder.join("overlay.mp4")).unwrap();
        let place = |kind: &[u8; 4]| bytes.windows(4).position(|four| four == kind);
        assert!(
            place(b"moov").unwrap() < place(b"mdat").unwrap(),
            "the index comes first"
        );
    }
}

#[test]
fn a_slow_overlay_has_stretched_times() {
    let clip = fixture("clean", "clip.mp4");
    for (speed, factor) in [("half", 2.0), ("quarter", 4.0)] {
        let (_home, folder) = results(&clip, "clean", &["--overlay-speed", speed]);
        let (ours, _) = read(&folder.join("overlay.mp4"));
        near(&times(&ours), &times(&read(&clip).0), factor);
    }
}

#[test]
fn a_turned_clip_becomes_an_upright_overlay() {
    let clip = fixture("turned", "clip.mp4");
    let (_home, folder) = results(&clip, "turned", &[]);
    let source = Clip::open(&clip).unwrap();
    let overlay = Clip::open(&folder.join("overlay.mp4")).unwrap();
    let size = |clip: &Clip| (clip.info().width_px, clip.info().height_px);
    assert_eq!(size(&overlay), size(&source));
    assert_eq!(overlay.info().turn, gripline::clip::QuarterTurn::None);
}

/// How much more was drawn on the ring of this centre and radius than inside and outside it: by how many codes the
/// overlay's brightness differs from the clip's.
fn ring_score(frame: &Frame, clip: &Upright420, (u_px, v_px): (f64, f64), radius_px: f64) -> f64 {
    let ours = frame.picture.y();
    let drawn = |u: f64, v: f64| {
        let (column, row) = (u.round() as usize, v.round() as usize);
        let theirs = clip.planes[0][row * clip.width + column];
        (f64::from(ours.row(row)[column]) - f64::from(theirs)).abs()
    };
    let around = |radius: f64| -> f64 {
        (0..72)
            .map(|n| f64::from(n) * std::f64::consts::TAU / 72.0)
            .map(|angle| drawn(u_px + radius * angle.cos(), v_px + radius * angle.sin()))
            .sum::<f64>()
    };
    around(radius_px) - 0.5 * (around(radius_px - 4.0) + around(radius_px + 4.0))
}

#[test]
fn the_ring_about_the_sticker_is_drawn_where_the_track_has_it() {
    let clip = fixture("spin-out", "clip.mp4");
    let (_home, folder) = results(&clip, "spin-out", &[]);
    rings_are_in_place(&clip, &folder, 1);
}

#[test]
fn a_large_clip_gets_a_smaller_overlay_with_its_rings_in_place() {
    let studio = tempfile::tempdir().unwrap();
    let clip = studio.path().join("large.mp4");
    let source = fixture("spin-out", "clip.mp4");
    let words = format!(
        "-i {} -vf scale=2560:-2:flags=bicubic -c:v libx264 -preset ultrafast -crf 12",
        source.display()
    );
    ffmpeg(&words, &clip);
    let (_home, folder) = results(&clip, "spin-out", &[]);
    let size = |path: &Path| {
        let clip = Clip::open(path).unwrap();
        (clip.info().width_px, clip.info().height_px)
    };
    let (width, height) = size(&clip);
    assert_eq!(width, 2560);
    assert_eq!(size(&folder.join("overlay.mp4")), (width / 2, height / 2));
    rings_are_in_place(&clip, &folder, 2);
}

/// Looks for the sticker's ring in an overlay that is so many times smaller than its clip.
fn rings_are_in_place(clip: &Path, folder: &Path, times: u32) {
    let rows = Table::read(&folder.join("frames.csv"));
    let (frames, _) = read(&folder.join("overlay.mp4"));
    let (originals, _) = read(clip);
    for number in [8, 60, 100, 120] {
        let original = Upright420::from_picture(&originals[number].picture).shrunk(times);
        // Places count from the middle of the first pixel.
        let smaller = |at: f64| (at + 0.5) / f64::from(times) - 0.5;
        let (u, v) = (
            smaller(rows.at(number, "sticker_u_px")),
            smaller(rows.at(number, "sticker_v_px")),
        );
        let mut best = (f64::NEG_INFINITY, 0.0, 0.0);
        for step in 0..17 * 17 {
            let (du, dv) = (
                f64::from(step % 17 - 8) * 0.5,
                f64::from(step / 17 - 8) * 0.5,
            );
            for radius in 16..40 {
                let (at, radius) = ((u + du, v + dv), f64::from(radius) / 2.0);
                let score = ring_score(&frames[number], &original, at, radius);
                if score > best.0 {
                    best = (score, du, dv);
                }
            }
        }
        assert!(best.0 > 72.0 * 10.0, "frame {number}: no ring, {}", best.0);
        assert!(
            best.1.hypot(best.2) <= 1.0,
            "frame {number}: ring off by {best:?}"
        );
    }
}

/// Codec and length of the sound, as the codec library's own tool tells them.
fn sound_of(path: &Path) -> Option<(String, f64)> {
    let output = Command::new("ffprobe")
        .args(["-v", "error", "-select_streams", "a", "-of", "csv=p=0"])
        .args(["-show_entries", "stream=codec_name,duration"])
        .arg(path)
        .output()
        .unwrap();
    let said = text(&output.stdout);
    let (codec, length) = said.trim().split_once(',')?;
    Some((codec.to_owned(), length.parse().unwrap()))
}

#[test]
fn sound_is_kept_at_full_speed_and_its_absence_is_said_at_half() {
    let studio = tempfile::tempdir().unwrap();
    let clip = studio.path().join("loud.mp4");
    let source = fixture("clean", "clip.mp4");
    let words = format!(
        "-i {} -f lavfi -i sine=frequency=440:duration=2 -map 0:v -map 1:a -c:v copy -c:a aac",
        source.display()
    );
    ffmpeg(&words, &clip);
    let wanted = sound_of(&clip).unwrap();
    let (_home, folder) = results(&clip, "clean", &[]);
    let kept = sound_of(&folder.join("overlay.mp4")).unwrap();
    assert_eq!(kept.0, "aac");
    assert!((kept.1 - wanted.1).abs() < 0.05, "{kept:?} {wanted:?}");
    near(
        &times(&read(&folder.join("overlay.mp4")).0),
        &times(&read(&clip).0),
        1.0,
    );

    let home = tempfile::tempdir().unwrap();
    let more = ["--no-report", "--draws", "10", "--overlay-speed", "half"];
    let output = measure(&clip, &fixture("clean", "run.toml"), home.path(), &more);
    assert!(
        text(&output.stdout).contains("sound"),
        "{}",
        text(&output.stdout)
    );
    assert_eq!(sound_of(&home.path().join("loud/overlay.mp4")), None);
}

/// Mean brightness code of a frame.
fn brightness(frame: &Frame) -> f64 {
    let luma = frame.picture.y();
    luma.iter().map(|&code| f64::from(code)).sum::<f64>() / luma.len() as f64
}

#[test]
fn the_end_card_is_dark_with_words_on_it_and_stands_still() {
    let clip = fixture("spin-out", "clip.mp4");
    let (_home, folder) = results(&clip, "spin-out", &[]);
    let (frames, _) = read(&folder.join("overlay.mp4"));
    let of_clip = read(&clip).0.len();
    let card = &frames[of_clip..];
    assert!(card.len() > 5);
    for frame in card {
        assert!(brightness(frame) < 0.5 * brightness(&frames[of_clip - 1]));
        let white = frame.picture.y().iter().filter(|&&code| code > 200).count();
        assert!(white > 500, "{white} bright samples");
        assert!((brightness(frame) - brightness(&card[0])).abs() < 1.0);
    }
}

#[test]
fn no_overlay_is_written_where_none_is_wanted() {
    let clip = fixture("clean", "clip.mp4");
    let (_home, folder) = results(&clip, "clean", &["--no-overlay"]);
    assert!(folder.join("frames.csv").exists());
    assert!(!folder.join("overlay.mp4").exists());
}

#[test]
fn the_next_encoder_takes_over_where_the_first_is_missing() {
    let home = tempfile::tempdir().unwrap();
    let source = fixture("uneven", "clip.mp4");
    let path = home.path().join("other.mp4");
    let mut clip = Clip::open(&source).unwrap();
    let refused = ClipWriter::create_with(&path, &clip, Change::NONE, &["no_such_encoder"]);
    assert!(matches!(refused, Err(WriteClipError::NoEncoder { .. })));
    let encoders = ["no_such_encoder", "mpeg4"];
    let mut writer = ClipWriter::create_with(&path, &clip, Change::NONE, &encoders).unwrap();
    assert_eq!(writer.encoder_name(), "mpeg4");
    while let Some(frame) = clip.next_frame().unwrap() {
        let picture = Upright420::from_picture(&frame.picture);
        writer.write(&picture, frame.pts_ticks).unwrap();
    }
    writer.finish().unwrap();
    let (ours, info) = read(&path);
    assert_eq!(info.info().codec, "mpeg4");
    let theirs = times(&read(&source).0);
    assert_eq!(ours.len(), theirs.len());
    // Its clock is coarser: a 60 000th of a second at worst.
    for (ours, theirs) in times(&ours).iter().zip(&theirs) {
        assert!((ours - theirs).abs() < 2e-5, "{ours} {theirs}");
    }
}
