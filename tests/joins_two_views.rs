//! Two phones, one run: `--end-view` lines the clips up and takes each quantity from the view that sees
//! it best.
//!
//! Source of the truth: `truth.json` and `truth_frames.csv` of the scenes `pair-side` and `pair-end`,
//! drawn from one run by the model under `scripts/draw_run`, which shares no code with the tool. The
//! side phone has two floor marks in its picture, the end phone four; it began to film 0.237 s earlier.
#![allow(clippy::unwrap_used, clippy::panic, reason = "tests fail by panicking")]

mod command;
mod common;

use command::{Facts, KEYS, Table, fixture, gripline, median, text};
use std::path::{Path, PathBuf};
use std::process::Output;
use tempfile::TempDir;

/// Sound's way to each phone is known only where its place is: 2.3 m one way or the other are 7 ms.
/// Measured: 0.3 ms.
const SOUND_OFFSET_S: f64 = 0.004;
/// Two first motions, each between two frames. Measured: 2.2 ms.
const MOTION_OFFSET_S: f64 = 0.020;
/// Measured: 0.2 mm at the end, 0.3 mm along the run.
const DEVIATION_M: f64 = 0.003;
/// Measured: 0.0003 of 0.1055.
const CURVATURE_PER_M: f64 = 0.004;

fn run(side: &Path, end: &Path, out: &Path, more: &[&str]) -> Output {
    let sheet = fixture("pair-side", "run.toml");
    let mut words: Vec<std::ffi::OsString> = vec!["measure".into(), side.into()];
    words.extend([
        "--end-view".into(),
        end.into(),
        "--sheet".into(),
        sheet.into(),
    ]);
    words.extend(["--out".into(), out.into(), "--draws".into(), "20".into()]);
    words.extend(more.iter().map(Into::into));
    gripline(words)
}

struct Joined {
    summary: Facts,
    rows: Table,
    words: String,
    _home: TempDir,
}

fn joined(end: &Path) -> Joined {
    let home = tempfile::tempdir().unwrap();
    let output = run(&fixture("pair-side", "clip.mp4"), end, home.path(), &[]);
    assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
    let folder = home.path().join("clip");
    Joined {
        summary: Facts::read(&folder.join("summary.json")),
        rows: Table::read(&folder.join("frames.csv")),
        words: text(&output.stdout),
        _home: home,
    }
}

/// Where the side clip's clock stands when the end clip's stands at zero.
fn true_offset_s() -> f64 {
    let release = |run| Facts::read(&fixture(run, "truth.json")).number("release_time_s");
    release("pair-side") - release("pair-end")
}

fn check_offset(end_view: &serde_json::Value, allowed_s: f64) {
    let part = |name: &str| end_view["offset_s"][name].as_f64().unwrap();
    let error = part("value") - true_offset_s();
    assert!(error.abs() < allowed_s, "offset off by {error} s");
    assert!(part("low") < true_offset_s() && true_offset_s() < part("high"));
}

fn without_sound(home: &TempDir, run: &str) -> PathBuf {
    let out = home.path().join("clip.mp4");
    let input = fixture(run, "clip.mp4").display().to_string();
    let words = format!("-i {} -an -c copy", input.replace(' ', "%"));
    common::ffmpeg(&words, &out);
    out
}

#[test]
fn the_snap_lines_the_clips_up_and_each_view_gives_what_it_sees() {
    let found = joined(&fixture("pair-end", "clip.mp4"));
    let summary = &found.summary;
    let end_view = &summary.0["end_view"];
    assert_eq!(end_view["joined"], true);
    assert_eq!(end_view["aligned_by"], "sound");
    check_offset(end_view, SOUND_OFFSET_S);
    let residual = end_view["residual_s"]["value"].as_f64().unwrap();
    assert!(residual.abs() < MOTION_OFFSET_S, "{residual}");
    assert_eq!(end_view["clip_sha256"].as_str().unwrap().len(), 64);

    let mut from = [0, 0];
    for key in KEYS {
        match (summary.value(key), summary.0[key]["view"].as_str()) {
            (Some(_), Some("side")) => from[0] += 1,
            (Some(_), Some("end")) => from[1] += 1,
            (None, None) => {}
            other => panic!("{key}: {other:?}"),
        }
    }
    assert!(from[0] >= 4 && from[1] >= 5, "{from:?}");
    let view = |key: &str| summary.0[key]["view"].as_str().unwrap().to_owned();
    for key in [
        "final_deviation_m",
        "drift_m_per_m",
        "curvature_per_m",
        "implied_skew_rad",
    ] {
        assert_eq!(view(key), "end", "{key}");
    }
    for key in ["release_s", "distance_m", "wheel_turns", "spun_away_m"] {
        assert_eq!(view(key), "side", "{key}");
    }
    assert_eq!(summary.cause(), "alignment");
    assert!(found.words.contains("lined up by the snap of the spring"));
    assert!(found.words.contains("From the second view: "));
}

#[test]
fn the_path_is_the_end_view_s_on_the_side_view_s_frames() {
    let found = joined(&fixture("pair-end", "clip.mp4"));
    let truth = Facts::read(&fixture("pair-end", "truth.json"));
    let summary = &found.summary;
    let near = |key: &str, wanted: f64, allowed: f64| {
        let got = summary.value(key).unwrap();
        assert!((got - wanted).abs() < allowed, "{key}: {got} for {wanted}");
        let part = |name: &str| summary.0[key][name].as_f64().unwrap();
        assert!(part("low") <= wanted && wanted <= part("high"), "{key}");
    };
    near(
        "final_deviation_m",
        truth.number("final_deviation_m"),
        DEVIATION_M,
    );
    near(
        "curvature_per_m",
        truth.number("path_curvature_1_m"),
        CURVATURE_PER_M,
    );

    // The rows are the side clip's: so are the truth's, at the side clip's own times.
    let true_rows = Table::read(&fixture("pair-side", "truth_frames.csv"));
    assert_eq!(found.rows.len(), true_rows.len());
    let (mut errors, mut held) = (Vec::new(), 0);
    for row in 0..true_rows.len() {
        let Some(got) = found.rows.get(row, "deviation_m") else {
            continue;
        };
        let wanted = true_rows.at(row, "deviation_m");
        errors.push((got - wanted).abs());
        let (low, high) = ("deviation_low_m", "deviation_high_m");
        held +=
            usize::from(found.rows.at(row, low) <= wanted && wanted <= found.rows.at(row, high));
    }
    assert!(errors.len() > 100, "{}", errors.len());
    let worst = errors.iter().copied().fold(0.0, f64::max);
    assert!(worst < DEVIATION_M, "{worst}");
    assert!(median(errors.clone()) < 0.001);
    assert!(held * 10 >= errors.len() * 9, "{held} of {}", errors.len());
    // What only the side shows is still there.
    assert!(found.rows.filled("rim_speed_m_per_s") > 50);
}

#[test]
fn without_sound_the_first_motion_lines_them_up() {
    let home = tempfile::tempdir().unwrap();
    let found = joined(&without_sound(&home, "pair-end"));
    let end_view = &found.summary.0["end_view"];
    assert_eq!(end_view["aligned_by"], "first_motion");
    assert!(end_view["residual_s"].is_null());
    check_offset(end_view, MOTION_OFFSET_S);
    assert!(
        end_view["notes"][0]
            .as_str()
            .unwrap()
            .contains("has no sound")
    );
    let deviation = found.summary.value("final_deviation_m").unwrap();
    let truth = Facts::read(&fixture("pair-end", "truth.json"));
    assert!((deviation - truth.number("final_deviation_m")).abs() < DEVIATION_M);
}

/// The same clip played at half its speed is no second view of the run.
#[test]
fn another_run_is_not_joined() {
    let home = tempfile::tempdir().unwrap();
    let slowed = home.path().join("slowed.mp4");
    let input = fixture("pair-end", "clip.mp4").display().to_string();
    let words = format!("-itsscale 1.6 -i {} -an -c copy", input.replace(' ', "%"));
    common::ffmpeg(&words, &slowed);
    let found = joined(&slowed);
    let end_view = &found.summary.0["end_view"];
    assert_eq!(end_view["joined"], false);
    let why = end_view["notes"].to_string();
    assert!(why.contains("do not show the same run"), "{why}");
    assert!(found.summary.value("final_deviation_m").is_none());
    assert!(found.summary.value("peak_speed_m_per_s").is_some());
    assert!(
        KEYS.iter()
            .all(|key| found.summary.0[*key].get("view").is_none())
    );
    assert!(found.words.contains("Second view not used"));
}

#[test]
fn one_clip_alone_names_no_view() {
    let home = tempfile::tempdir().unwrap();
    let (clip, sheet) = (
        fixture("pair-side", "clip.mp4"),
        fixture("pair-side", "run.toml"),
    );
    let output = command::measure(&clip, &sheet, home.path(), &["--draws", "10"]);
    assert_eq!(output.status.code(), Some(0));
    let summary = Facts::read(&home.path().join("clip/summary.json"));
    summary.check_shape();
    assert!(summary.0.get("end_view").is_none());
    assert!(summary.reason("final_deviation_m").is_some());
}

#[test]
fn a_second_clip_that_is_none_is_one_error_and_nothing_is_written() {
    let home = tempfile::tempdir().unwrap();
    let bad = home.path().join("second.mp4");
    std::fs::write(&bad, b"run 3, bare wheels, 14:05\n").unwrap();
    let out = home.path().join("out");
    let output = run(&fixture("pair-side", "clip.mp4"), &bad, &out, &[]);
    assert_eq!(output.status.code(), Some(1));
    let told = text(&output.stderr);
    assert!(
        told.contains("second.mp4") && told.contains("not an MP4"),
        "{told}"
    );
    assert!(!out.join("clip").exists());
}

#[test]
fn an_end_view_belongs_to_one_clip() {
    let home = tempfile::tempdir().unwrap();
    let clip = fixture("pair-side", "clip.mp4");
    let more = [clip.to_str().unwrap()];
    let output = run(&clip, &fixture("pair-end", "clip.mp4"), home.path(), &more);
    assert_eq!(output.status.code(), Some(2));
    assert!(text(&output.stderr).contains("give one CLIP with it"));
}
