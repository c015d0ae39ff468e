//! What a wrong wheel size does to the slip: by algebra, a radius that is taken too large by a share p makes 1 - s
//! smaller by the factor 1 / (1 + p). A wheel that coasts rolls, so a coast in the same clip gives the radius, and the
//! sheet's size does not matter.
#![allow(clippy::unwrap_used, reason = "tests fail by panicking")]

mod command;

use command::{Facts, fixture, measure, text};
use gripline::findings::slip_ratio;
use std::fs;

/// Worked by hand: a rolling wheel of 60 mm at 1.2 m/s (20 rad/s), and one that slips by a fifth.
#[test]
fn a_radius_taken_too_large_reads_as_slip() {
    for (speed, share, slip) in [
        (1.2, 0.02, 0.019_607_843),
        (1.2, -0.02, -0.020_408_163),
        (0.96, 0.02, 0.215_686_275),
        (0.96, 0.0, 0.2),
    ] {
        let radius = 0.06 * (1.0 + share);
        let found = slip_ratio(speed, 20.0, radius).unwrap();
        assert!((found - slip).abs() < 1e-9, "{found}");
    }
}

/// The demo's wheel is drawn with a radius of 50 mm (`truth.json`). Taken from the sheet, 2 % too much would add 2 % of
/// what the rim turned, some 0.06 m, to the way spun away.
#[test]
fn a_coast_gives_the_radius_whatever_the_sheet_says() {
    let sheet = fs::read_to_string(fixture("demo", "run.toml")).unwrap();
    let wheel = "wheel_diameter_mm = 100.00";
    assert!(sheet.contains(wheel));
    let home = tempfile::tempdir().unwrap();
    let [right, wrong] = ["100.00", "102.00"].map(|diameter| {
        let path = home.path().join(format!("{diameter}.toml"));
        let named = format!("wheel_diameter_mm = {diameter}");
        fs::write(&path, sheet.replace(wheel, &named)).unwrap();
        let out = home.path().join(diameter);
        let clip = fixture("demo", "clip.mp4");
        let output = measure(&clip, &path, &out, &["--no-report", "--no-overlay"]);
        assert!(output.status.success(), "{}", text(&output.stderr));
        Facts::read(&out.join("clip/summary.json"))
    });
    let truth = Facts::read(&fixture("demo", "truth.json"));
    let radius = truth.number("rolling_radius_m");
    for summary in [&right, &wrong] {
        let found = summary.value("rolling_radius_m").unwrap();
        assert!((found / radius - 1.0).abs() < 0.003, "{found}");
    }
    let spun = [&right, &wrong].map(|summary| summary.value("spun_away_m").unwrap());
    assert!((spun[1] - spun[0]).abs() < 0.005, "{spun:?}");
    let slip = [&right, &wrong].map(|summary| summary.value("max_slip").unwrap());
    assert!((slip[1] - slip[0]).abs() < 0.001, "{slip:?}");
}
