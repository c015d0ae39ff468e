//! A clip that begins long before the run: what is measured stays, and the annotated clip shows the run with a little
//! of the rest.
#![allow(clippy::unwrap_used, clippy::panic, reason = "tests fail by panicking")]

mod command;
mod common;

use command::{Facts, Table, fixture, measure, text};
use common::{ffmpeg, read, times};
use gripline::clip::Frame;
use std::path::{Path, PathBuf};
use std::process::Command;

/// So much of the rest is shown, s.
const AROUND_S: f64 = 1.5;

/// The clean run after a rest of so many seconds, with reordered frames, key frames two seconds apart, and sound.
fn rested(seconds: u32, home: &Path) -> PathBuf {
    let clip = home.join(format!("rest-{seconds}.mp4"));
    let words = format!(
        "-i {} -f lavfi -i sine=frequency=440:sample_rate=48000 -map 0:v -map 1:a -shortest \
         -vf tpad=start_duration={seconds}:start_mode=clone,noise=c0s=4:c0f=t:c0_seed=3 \
         -c:v libx264 -preset veryfast -crf 14 -g 120 -bf 2 -pix_fmt yuv420p -c:a aac",
        fixture("clean", "clip.mp4").display()
    );
    ffmpeg(&words, &clip);
    clip
}

fn measured(clip: &Path, home: &Path) -> PathBuf {
    let more = ["--no-report", "--draws", "60"];
    let output = measure(clip, &fixture("clean", "run.toml"), home, &more);
    assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
    home.join(clip.file_stem().unwrap())
}

/// How unlike two pictures are, in codes of brightness, in the band in which the car goes.
fn unlike(a: &Frame, b: &Frame) -> f64 {
    let (a, b) = (a.picture.y(), b.picture.y());
    let rows = 2 * a.nrows() / 5..11 * a.nrows() / 20;
    let off = rows.flat_map(|row| (0..a.ncols()).map(move |column| (row, column)));
    let codes = off.map(|at| (f64::from(a[at]) - f64::from(b[at])).abs());
    codes.sum::<f64>() / (a.len() as f64)
}

/// How long the sound of a clip is, as the codec library's own tool tells it.
fn sound_s(path: &Path) -> f64 {
    let output = Command::new("ffprobe")
        .args(["-v", "error", "-select_streams", "a", "-of", "csv=p=0"])
        .args(["-show_entries", "stream=duration"])
        .arg(path)
        .output()
        .unwrap();
    text(&output.stdout).trim().parse().unwrap()
}

#[test]
fn a_long_rest_changes_no_number_and_is_not_drawn() {
    let home = tempfile::tempdir().unwrap();
    let (short, long) = (rested(1, home.path()), rested(9, home.path()));
    let (of_short, of_long) = (measured(&short, home.path()), measured(&long, home.path()));

    let (short_facts, long_facts) = (
        Facts::read(&of_short.join("summary.json")),
        Facts::read(&of_long.join("summary.json")),
    );
    for key in [
        "peak_speed_m_per_s",
        "distance_m",
        "wheel_turns",
        "max_slip",
        "drift_m_per_m",
    ] {
        let part = |facts: &Facts, part: &str| {
            facts.0[key][part]
                .as_f64()
                .unwrap_or_else(|| panic!("no {key}"))
        };
        let half = 0.5 * (part(&short_facts, "high") - part(&short_facts, "low"));
        let half_of_long = 0.5 * (part(&long_facts, "high") - part(&long_facts, "low"));
        let off = part(&short_facts, "value") - part(&long_facts, "value");
        // Both clips are coded anew, each with errors of its own.
        assert!(off.abs() < 0.6 * half, "{key}: off by {off}, of {half}");
        assert!(
            (half_of_long / half - 1.0).abs() < 0.3,
            "{key}: {half_of_long} {half}"
        );
    }

    let release_s = long_facts.value("release_s").unwrap();
    let (theirs, _) = read(&long);
    let rows = Table::read(&of_long.join("frames.csv"));
    assert_eq!(rows.len(), theirs.len(), "the table has every frame");
    let (ours, _) = read(&of_long.join("overlay.mp4"));
    let (ours_s, theirs_s) = (times(&ours), times(&theirs));
    let in_motion = theirs.len() - 20;
    let off: Vec<f64> = ours
        .iter()
        .map(|frame| unlike(frame, &theirs[in_motion]))
        .collect();
    let same = (0..ours.len())
        .min_by(|&a, &b| off[a].total_cmp(&off[b]))
        .unwrap();
    assert!(
        off[same] < 0.9 * off[same - 1].min(off[same + 1]),
        "{off:?}"
    );
    let first = in_motion - same;
    let before_s = release_s - theirs_s[first];
    assert!(
        (before_s - AROUND_S).abs() < 0.15,
        "{before_s} s before the release"
    );
    let begins_s = theirs_s[first];
    for (ours_s, theirs_s) in ours_s.iter().zip(&theirs_s[first..]) {
        assert!((ours_s - (theirs_s - begins_s)).abs() < 1e-4);
    }
    let sound_s = sound_s(&of_long.join("overlay.mp4"));
    let shown_s = theirs_s[theirs.len() - 1] - theirs_s[first];
    assert!(
        (sound_s - shown_s).abs() < 0.1,
        "{sound_s} s of sound for {shown_s} s"
    );
}
