//! `gripline check` on clips with known faults: each is judged for what is wrong with it, and no other way.
//!
//! The clips are drawn by `scripts/draw_run`, which shares nothing with the tool; what is wrong with each
//! stands in its scene.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    reason = "a test's helpers: what is missing is the failure"
)]

use serde_json::Value;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

fn fixture(name: &str, file: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("fixtures")
        .join(name)
        .join(file)
}

fn gripline(arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_gripline"))
        .arg("check")
        .args(arguments)
        .output()
        .unwrap()
}

/// The judgement of a clip, and the exit code.
fn judged(name: &str, sheet: Option<&Path>) -> (Value, i32) {
    let clip = fixture(name, "clip.mp4");
    let mut arguments = vec![clip.to_str().unwrap(), "--json"];
    if let Some(sheet) = sheet {
        arguments.extend(["--sheet", sheet.to_str().unwrap()]);
    }
    let run = gripline(&arguments);
    let told = serde_json::from_slice(&run.stdout).unwrap();
    (told, run.status.code().unwrap())
}

fn with_its_sheet(name: &str) -> (Value, i32) {
    judged(name, Some(&fixture(name, "run.toml")))
}

fn item<'a>(told: &'a Value, name: &str) -> &'a Value {
    let items = told["items"].as_array().unwrap();
    let found = items.iter().find(|item| item["name"] == name);
    found.unwrap_or_else(|| panic!("no item {name} in {told:#}"))
}

fn number(told: &Value, of: &str, name: &str) -> f64 {
    let numbers = item(told, of)["numbers"].as_array().unwrap();
    let found = numbers.iter().find(|number| number["name"] == name);
    found.unwrap()["value"].as_f64().unwrap()
}

#[track_caller]
fn check(told: &Value, of: &str, grade: &str) {
    let item = item(told, of);
    assert_eq!(item["grade"], grade, "{item:#}");
}

#[test]
fn a_clean_clip_is_good_throughout() {
    let (told, code) = with_its_sheet("clean");
    assert_eq!((code, told["outcome"].as_str()), (0, Some("measurable")));
    let items = told["items"].as_array().unwrap();
    assert!(items.len() >= 15, "{} items", items.len());
    for item in items {
        assert_eq!(item["grade"], "good", "{item:#}");
        assert!(item["change"].is_null(), "{item:#}");
    }
    assert!(told["first_to_change"].is_null());
    assert_eq!(told["version"], 1);
}

#[test]
fn each_fault_is_pointed_at() {
    for (clip, first, grade) in [
        ("dim", "wheel_mark", "not_usable"),
        ("fast-wheel-30", "fastest_wheel", "not_usable"),
        ("fast-wheel", "fastest_wheel", "usable"),
        ("cups", "colours", "usable"),
        ("two-marks", "floor_marks", "usable"),
        ("hand-held", "camera", "usable"),
        ("uneven", "frame_times", "usable"),
    ] {
        let (told, code) = with_its_sheet(clip);
        assert_eq!(
            (code, told["outcome"].as_str()),
            (0, Some("measurable")),
            "{clip}"
        );
        assert_eq!(told["first_to_change"], first, "{clip}");
        check(&told, first, grade);
        assert!(item(&told, first)["change"].as_str().unwrap().len() > 10);
    }
}

#[test]
fn a_clip_that_is_too_far_and_too_dim_is_refused() {
    let (told, code) = with_its_sheet("far-and-dim");
    assert_eq!(
        (code, told["outcome"].as_str()),
        (1, Some("not_measurable"))
    );
    assert_eq!(told["first_to_change"], "sticker");
    check(&told, "light", "not_usable");
}

#[test]
fn the_fastest_wheel_is_half_a_turn_a_frame() {
    // By hand: pi x 0.096 m x 60 / 2 a second = 9.05 m/s; 30 turns a second.
    let (told, _) = with_its_sheet("clean");
    let close = |got: f64, wanted: f64| assert!((got / wanted - 1.0).abs() < 0.01, "{got}");
    close(
        number(&told, "fastest_wheel", "fastest_rim_speed_m_per_s"),
        9.05,
    );
    close(
        number(&told, "fastest_wheel", "fastest_wheel_turns_per_s"),
        30.0,
    );
    // What the wheel did, against the drawing's own truth.
    let truth: Value =
        serde_json::from_str(&std::fs::read_to_string(fixture("clean", "truth.json")).unwrap())
            .unwrap();
    let most = number(&told, "fastest_wheel", "largest_turn_per_frame");
    assert!(
        (most - truth["max_wheel_turn_per_frame"].as_f64().unwrap()).abs() < 0.01,
        "{most}"
    );
}

#[test]
fn a_test_shot_is_judged_without_a_run() {
    let home = tempfile::tempdir().unwrap();
    let sheet = home.path().join("run.toml");
    let four_lines = "[car]\nwheel_diameter_mm = 96\nwheelbase_mm = 215\ntrack_width_mm = 126\n\
                      [sticker]\nheight_mm = 96\n";
    std::fs::write(&sheet, four_lines).unwrap();
    let (told, code) = judged("kit-still", Some(&sheet));
    assert_eq!(
        (code, told["outcome"].as_str()),
        (0, Some("test_shot")),
        "{told:#}"
    );
    check(&told, "motion", "not_seen");
    check(&told, "floor_marks", "good");
    check(&told, "light", "good");
    check(&told, "sizes", "good");
    // 50 mm in a picture of 960 columns from 3.1 m, focal length 799 px: 12.9 px.
    let size_px = number(&told, "sticker", "sticker_diameter_px");
    assert!((size_px - 12.9).abs() < 1.0, "{size_px}");
    // The imagined run is about as sure as the real one of the same car before the same camera.
    let (run, _) = judged("kit-beside", Some(&sheet));
    for (of, name) in [
        ("expected_speed", "speed_half_width_m_per_s"),
        ("expected_drift", "drift_half_width_m_per_m"),
    ] {
        let (imagined, real) = (number(&told, of, name), number(&run, of, name));
        assert!(
            (0.4..2.5).contains(&(imagined / real)),
            "{name}: {imagined} {real}"
        );
    }
}

#[test]
fn sizes_that_nobody_typed_come_first_where_they_cost_most() {
    let (told, code) = judged("kit-beside", None);
    assert_eq!((code, told["outcome"].as_str()), (0, Some("measurable")));
    assert_eq!(told["first_to_change"], "sizes", "{told:#}");
    check(&told, "sizes", "usable");
    check(&told, "expected_speed", "usable");
    let change = item(&told, "sizes")["change"].as_str().unwrap();
    assert!(change.starts_with("type the sizes first"), "{change}");
    // Where nothing gives a scale, floor marks come first.
    let (told, _) = judged("spin-out", None);
    assert_eq!(told["first_to_change"], "floor_marks", "{told:#}");
    check(&told, "sizes", "usable");
}

#[test]
fn words_carry_the_judgement_without_colour() {
    let clip = fixture("two-marks", "clip.mp4");
    let sheet = fixture("two-marks", "run.toml");
    let run = gripline(&[clip.to_str().unwrap(), "--sheet", sheet.to_str().unwrap()]);
    let text = String::from_utf8(run.stdout).unwrap();
    assert!(text.contains("[~] usable      floor marks"), "{text}");
    assert!(
        text.contains("Change first (floor marks): lay four or more"),
        "{text}"
    );
    assert!(!text.contains('\u{1b}'), "no colour codes");
    let clip = fixture("fast-wheel-30", "clip.mp4");
    let sheet = fixture("fast-wheel-30", "run.toml");
    let run = gripline(&[clip.to_str().unwrap(), "--sheet", sheet.to_str().unwrap()]);
    let text = String::from_utf8(run.stdout).unwrap();
    assert!(text.contains("[!] not usable  fastest wheel"), "{text}");
}

#[test]
fn what_is_no_clip_is_one_clear_error() {
    let run = gripline(&[fixture("clean", "run.toml").to_str().unwrap()]);
    assert_eq!(run.status.code(), Some(1));
    let said = String::from_utf8(run.stderr).unwrap();
    assert!(
        said.starts_with("error: ") && said.contains("hint: "),
        "{said}"
    );
    assert!(run.stdout.is_empty());
    assert_eq!(gripline(&[]).status.code(), Some(2));
}
