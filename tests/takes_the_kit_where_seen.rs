//! A sheet of four lines measures a clip of the printed kit; a floor plan that was never laid is not taken.
//!
//! Truth is that of `scripts/draw_run`, which shares nothing with the tool.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    reason = "a test's helpers: what is missing is the failure"
)]

use gripline::camera::ViewSource;
use gripline::findings::Key;
use gripline::pipeline::{Measured, measure};
use gripline::sheet::{KitPart, RunSheet};
use std::path::{Path, PathBuf};

/// The four sizes that a user of the kit gives.
const FOUR_LINES: &str = "[car]\nwheel_diameter_mm = 96\nwheelbase_mm = 215\ntrack_width_mm = 126\n\
                          [sticker]\nheight_mm = 96\n";

fn clip(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("fixtures")
        .join(name)
        .join("clip.mp4")
}

fn measured(name: &str, sheet: &str) -> Measured {
    let sheet = RunSheet::parse(sheet, Path::new("run.toml")).unwrap();
    measure(&clip(name), &sheet, 60, &|_, _| {}).unwrap()
}

/// The interval of the highest speed.
fn speed(run: &Measured) -> (f64, f64) {
    let speed = run.result.as_ref().unwrap().get(Key::PeakSpeedMPerS);
    (speed.low().unwrap(), speed.high().unwrap())
}

/// The true value of `key` in `truth.json`.
fn truth(name: &str, key: &str) -> f64 {
    let text = std::fs::read_to_string(clip(name).with_file_name("truth.json")).unwrap();
    let truth: serde_json::Value = serde_json::from_str(&text).unwrap();
    truth[key].as_f64().unwrap()
}

#[test]
fn four_lines_measure_a_kits_clip() {
    let run = measured("kit-beside", FOUR_LINES);
    let from_kit = [
        KitPart::StickerColour,
        KitPart::WheelMark,
        KitPart::FloorPlan,
    ];
    assert_eq!(run.outline.priors.from_kit, from_kit);
    for part in from_kit {
        assert!(
            run.outline.priors.assumed.contains(&part.note()),
            "{}",
            part.note()
        );
    }
    let view = &run.outline.analysis.as_ref().unwrap().view;
    assert!(matches!(
        view.source,
        ViewSource::FloorMarks { marks: 6, .. }
    ));
    let (low, high) = speed(&run);
    let true_speed = truth("kit-beside", "peak_speed_m_s");
    assert!(
        low <= true_speed && true_speed <= high,
        "{low} {high} {true_speed}"
    );
    assert!(high - low < 0.05, "{low} {high}");
}

#[test]
fn the_kits_marks_named_one_by_one_give_the_same_camera() {
    let named = std::fs::read_to_string(clip("kit-beside").with_file_name("run.toml")).unwrap();
    let by_hand = measured("kit-beside", &named);
    let by_kit = measured("kit-beside", FOUR_LINES);
    let focal = |run: &Measured| match run.outline.analysis.as_ref().unwrap().view.source {
        ViewSource::FloorMarks { focal_px, .. } => focal_px,
        _ => panic!("no camera"),
    };
    assert!((focal(&by_hand) / focal(&by_kit) - 1.0).abs() < 0.002);
    assert!(by_hand.outline.priors.from_kit.is_empty());
}

#[test]
fn a_plan_of_another_size_is_not_taken_for_the_kits() {
    let run = measured("kit-shape", FOUR_LINES);
    assert!(!run.outline.priors.from_kit.contains(&KitPart::FloorPlan));
    let why = run
        .outline
        .priors
        .assumed
        .iter()
        .find(|why| why.to_string().contains("the plan was not taken"));
    assert!(why.is_some(), "{:?}", run.outline.priors.assumed);
    // What is left is a plain scale from the wheel: by the plan the speed would be 1.25 times the true one.
    let (low, high) = speed(&run);
    let true_speed = truth("kit-shape", "peak_speed_m_s");
    assert!(
        low <= true_speed && true_speed <= high,
        "{low} {high} {true_speed}"
    );
}

#[test]
fn blue_marks_of_another_layout_are_not_the_kits_plan() {
    // The plain scene's marks are 64 mm wide at 900 mm by 350 mm: neither size nor shape is the kit's.
    let run = measured("clean", FOUR_LINES);
    assert_eq!(
        run.outline.priors.from_kit,
        [KitPart::StickerColour, KitPart::WheelMark]
    );
}

/// `gripline measure CLIP` without a sheet.
fn without_a_sheet(name: &str) -> (std::process::Output, tempfile::TempDir) {
    let home = tempfile::tempdir().unwrap();
    let run = std::process::Command::new(env!("CARGO_BIN_EXE_gripline"))
        .arg("measure")
        .arg(clip(name))
        .args(["--no-overlay", "--no-report", "--draws", "20", "--out"])
        .arg(home.path().join("out"))
        .output()
        .unwrap();
    (run, home)
}

#[test]
fn a_kits_clip_needs_no_sheet() {
    let (run, home) = without_a_sheet("kit-beside");
    assert_eq!(run.status.code(), Some(0), "{run:?}");
    let summary = home.path().join("out/clip/summary.json");
    let summary: serde_json::Value =
        serde_json::from_str(&std::fs::read_to_string(summary).unwrap()).unwrap();
    let speed = &summary["peak_speed_m_per_s"];
    let true_speed = truth("kit-beside", "peak_speed_m_s");
    assert!(
        speed["low"].as_f64().unwrap() <= true_speed
            && true_speed <= speed["high"].as_f64().unwrap(),
        "{speed} {true_speed}"
    );
    let assumed = summary["measured_by"]["assumed"].to_string();
    assert!(assumed.contains("there is no run sheet"), "{assumed}");
}

#[test]
fn without_sheet_and_kit_the_page_that_makes_a_sheet_is_named() {
    let (run, home) = without_a_sheet("clean");
    assert_eq!(run.status.code(), Some(1));
    let said = String::from_utf8(run.stderr).unwrap();
    assert!(
        said.contains("no blue floor marks lie on the kit's plan"),
        "{said}"
    );
    assert!(said.contains("gripline setup"), "{said}");
    assert!(!home.path().join("out").exists());
}
