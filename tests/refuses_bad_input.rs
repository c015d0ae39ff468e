//! What cannot be measured gets one clear error, a hint and no results; a poor sheet gets what it
//! can support and no more.
#![allow(clippy::unwrap_used, clippy::panic, reason = "tests fail by panicking")]

mod command;

use command::{Facts, Table, fixture, gripline, measure, text};
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};
use tempfile::TempDir;

/// A temporary folder with the spin-out run's sheet in it.
struct Home(TempDir);

impl Home {
    fn new() -> Self {
        Self(tempfile::tempdir().unwrap())
    }

    fn path(&self, name: &str) -> PathBuf {
        self.0.path().join(name)
    }

    fn write(&self, name: &str, bytes: impl AsRef<[u8]>) -> PathBuf {
        let path = self.path(name);
        fs::write(&path, bytes).unwrap();
        path
    }

    /// Measures a known run with another sheet, which must work.
    fn degraded(&self, run: &str, sheet: &str) -> (Table, Facts) {
        let (clip, sheet) = (fixture(run, "clip.mp4"), self.write("run.toml", sheet));
        let output = measure(&clip, &sheet, &self.path("out"), &[]);
        assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
        let folder = self.path("out").join("clip");
        let facts = Facts::read(&folder.join("summary.json"));
        facts.check_shape();
        (Table::read(&folder.join("frames.csv")), facts)
    }

    /// Measures, and expects a refusal that says `wanted` and leaves no results.
    fn refused(&self, clip: &Path, sheet: &Path, wanted: &[&str]) {
        let out = self.path("out");
        let output = measure(clip, sheet, &out, &[]);
        check_refusal(&output, wanted);
        let left = fs::read_dir(&out).map_or(0, Iterator::count);
        assert_eq!(
            left, 0,
            "a refused run left something in the results folder"
        );
    }
}

/// Exit 1, one `error:` line, a `hint:` line, nothing else: no progress, no escape codes.
fn check_refusal(output: &Output, wanted: &[&str]) {
    let said = text(&output.stderr);
    assert_eq!(output.status.code(), Some(1), "{said}");
    assert_eq!(
        text(&output.stdout),
        "",
        "an error belongs on the error stream"
    );
    assert!(said.starts_with("error: "), "{said}");
    let count = |start: &str| said.lines().filter(|line| line.starts_with(start)).count();
    assert_eq!((count("error:"), count("hint:")), (1, 1), "{said}");
    let hint = said.lines().find(|line| line.starts_with("hint:")).unwrap();
    assert!(hint.len() > 20, "{said}");
    assert!(
        !said.contains(['\u{1b}', '\r']) && !said.contains("panicked"),
        "{said:?}"
    );
    for word in wanted {
        assert!(said.contains(word), "no `{word}` in: {said}");
    }
}

fn spin_out_clip() -> PathBuf {
    fixture("spin-out", "clip.mp4")
}

fn spin_out_sheet() -> String {
    fs::read_to_string(fixture("spin-out", "run.toml")).unwrap()
}

/// The sheet without the tables (`[name]` or `[[name]]`) that `leave_out` picks by name and by how
/// many of that name came before.
fn without(sheet: &str, leave_out: impl Fn(&str, usize) -> bool) -> String {
    let mut seen: Vec<String> = Vec::new();
    let (mut kept, mut keep) = (String::new(), true);
    for line in sheet.lines() {
        if line.starts_with('[') {
            let name = line.trim_matches(['[', ']']).to_owned();
            let before = seen.iter().filter(|other| **other == name).count();
            keep = !leave_out(&name, before);
            seen.push(name);
        }
        if keep {
            kept += line;
            kept.push('\n');
        }
    }
    assert!(kept.len() < sheet.len(), "nothing was left out");
    kept
}

fn changed(from: &str, to: &str) -> String {
    let sheet = spin_out_sheet();
    assert!(sheet.contains(from), "the sheet has no `{from}`");
    sheet.replacen(from, to, 1)
}

fn ffmpeg(words: &[&str], out: &Path) {
    let start = ["-nostdin", "-y", "-v", "error"];
    let status = Command::new("ffmpeg")
        .args(start)
        .args(words)
        .arg(out)
        .status();
    assert!(
        status.is_ok_and(|status| status.success()),
        "the tests need the ffmpeg command"
    );
}

#[test]
fn a_file_that_is_no_clip_is_refused() {
    let home = Home::new();
    let sheet = fixture("spin-out", "run.toml");
    let folder = home.path("folder.mp4");
    fs::create_dir(&folder).unwrap();
    let sound = home.path("sound.mp4");
    ffmpeg(&["-f", "lavfi", "-i", "sine=d=0.2"], &sound);
    let rows = [
        (home.path("none.mp4"), "no such file"),
        (folder, "directory"),
        (home.write("empty.mp4", ""), "empty"),
        (
            home.write("text.mp4", "run 3, bare wheels\n"),
            "not an MP4 or MOV",
        ),
        (sound, "only sound"),
    ];
    for (clip, wanted) in rows {
        home.refused(&clip, &sheet, &[wanted, &clip.display().to_string()]);
    }
}

#[test]
fn a_clip_without_the_sticker_is_refused() {
    let home = Home::new();
    let sheet = home.write("run.toml", changed("\"magenta\"", "\"purple\""));
    home.refused(&spin_out_clip(), &sheet, &["purple", "sticker"]);
}

#[test]
fn a_wrong_sheet_is_refused() {
    let rows = [
        (
            changed("wheel_diameter_mm", "wheel_diametre_mm"),
            "wheel_diameter_mm",
        ),
        (changed("height_mm = 96.0", "height_cm = 9.6"), "height_mm"),
        (
            changed("wheelbase_mm = 215.0", "wheelbase_mm = -215.0"),
            "wheelbase_mm",
        ),
    ];
    for (sheet, wanted) in rows {
        let home = Home::new();
        let sheet = home.write("run.toml", sheet);
        home.refused(&spin_out_clip(), &sheet, &[wanted, "run.toml"]);
    }
    let home = Home::new();
    home.refused(&spin_out_clip(), &home.path("none.toml"), &["none.toml"]);
}

#[test]
fn an_output_folder_that_cannot_be_written_is_refused() {
    let home = Home::new();
    let out = home.write("out", "a file in the way");
    let output = measure(
        &spin_out_clip(),
        &fixture("spin-out", "run.toml"),
        &out,
        &[],
    );
    check_refusal(&output, &["out"]);
    assert_eq!(fs::read(&out).unwrap(), b"a file in the way");
}

#[test]
fn a_result_is_kept_unless_replacing_is_asked_for() {
    let home = Home::new();
    let (sheet, out) = (home.write("run.toml", spin_out_sheet()), home.path("out"));
    assert_eq!(
        measure(&spin_out_clip(), &sheet, &out, &[]).status.code(),
        Some(0)
    );
    let files = ["frames.csv", "summary.json"].map(|name| out.join("clip").join(name));
    let read = || files.each_ref().map(|file| fs::read(file).unwrap());
    let first = read();
    home.write("run.toml", changed("Dunlin", "Curlew"));
    check_refusal(
        &measure(&spin_out_clip(), &sheet, &out, &[]),
        &["already", "--replace"],
    );
    assert!(read() == first, "the kept result was changed");
    let again = measure(&spin_out_clip(), &sheet, &out, &["--replace"]);
    assert_eq!(again.status.code(), Some(0), "{}", text(&again.stderr));
    assert!(text(&read()[1]).contains("Curlew"));
    assert_eq!(
        fs::read_dir(&out).unwrap().count(),
        1,
        "one result folder and nothing beside it"
    );
}

#[test]
fn wrong_usage_exits_2() {
    let clip = spin_out_clip();
    let sheet = fixture("spin-out", "run.toml");
    let words = [
        vec!["measure".as_ref(), clip.as_os_str(), "--sheet".as_ref()],
        vec!["measure".as_ref(), "--sheet".as_ref(), sheet.as_os_str()],
    ];
    for (words, wanted) in words.iter().zip(["--sheet", "CLIP"]) {
        let output = gripline(words);
        let said = text(&output.stderr);
        assert_eq!(output.status.code(), Some(2), "{said}");
        assert!(said.contains(wanted), "{said}");
    }
}

#[test]
fn a_cut_clip_is_measured_and_said_to_be_cut() {
    let home = Home::new();
    let whole = home.path("whole.mp4");
    let clip = spin_out_clip();
    let source = clip.to_str().unwrap();
    ffmpeg(
        &["-i", source, "-c", "copy", "-movflags", "+faststart"],
        &whole,
    );
    let bytes = fs::read(&whole).unwrap();
    let cut = home.write("cut.mp4", &bytes[..bytes.len() * 6 / 10]);
    let output = measure(
        &cut,
        &fixture("spin-out", "run.toml"),
        &home.path("out"),
        &[],
    );
    assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
    let said = text(&output.stdout) + &text(&output.stderr);
    let tells = ["cut", "missing", "truncated", "ends before"];
    assert!(tells.iter().any(|word| said.contains(word)), "{said}");
    let folder = home.path("out").join("cut");
    let rows = Table::read(&folder.join("frames.csv"));
    let all = Table::read(&fixture("spin-out", "truth_frames.csv")).len();
    assert!(
        rows.len() > all / 4 && rows.len() < all,
        "{} of {all} frames",
        rows.len()
    );
    Facts::read(&folder.join("summary.json")).check_shape();
}

#[test]
fn a_piped_run_prints_no_progress_and_no_escape_codes() {
    let home = Home::new();
    let sheet = fixture("spin-out", "run.toml");
    let output = measure(&spin_out_clip(), &sheet, &home.path("out"), &[]);
    assert_eq!(output.status.code(), Some(0));
    assert_eq!(text(&output.stderr), "");
    let said = text(&output.stdout);
    assert!(
        said.contains("Verdict") && !said.contains(['\u{1b}', '\r']),
        "{said:?}"
    );
}

#[test]
fn without_a_wheel_mark_speed_and_path_are_known_and_slip_is_not() {
    let home = Home::new();
    let (rows, facts) = home.degraded(
        "spin-out",
        &without(&spin_out_sheet(), |name, _| name == "wheel_mark"),
    );
    let truth = Facts::read(&fixture("spin-out", "truth.json"));
    let peak = truth.number("peak_speed_m_s");
    let error = facts.value("peak_speed_m_per_s").unwrap() - peak;
    assert!(error.abs() <= 0.03 * peak, "peak speed off by {error}");
    let deviation = facts.value("final_deviation_m").unwrap();
    assert!(
        (deviation - truth.number("final_deviation_m")).abs() <= 0.008,
        "{deviation}"
    );
    assert!(
        facts.reason("max_slip").is_some(),
        "slip without a wheel mark"
    );
    for column in [
        "slip_ratio",
        "wheel_mark_u_px",
        "wheel_angle_rad",
        "rim_speed_m_per_s",
    ] {
        assert_eq!(rows.filled(column), 0, "{column}");
    }
    assert!(rows.filled("speed_m_per_s") * 10 >= rows.len() * 9);
}

/// What holds where the floor marks cannot place the camera sideways.
fn check_no_sideways(run: &str, sheet: &str) {
    let (rows, facts) = Home::new().degraded(run, sheet);
    assert!(
        facts.reason("final_deviation_m").is_some(),
        "{:?}",
        facts.0["final_deviation_m"]
    );
    assert_eq!(rows.filled("deviation_m"), 0);
    // The shape check has seen to a reason where the speed is not known.
    if let Some(speed) = facts.value("peak_speed_m_per_s") {
        let peak = Facts::read(&fixture(run, "truth.json")).number("peak_speed_m_s");
        assert!(
            (speed - peak).abs() <= 0.10 * peak,
            "peak speed {speed}, truth {peak}"
        );
        let bound = |end: &str| facts.0["peak_speed_m_per_s"][end].as_f64().unwrap();
        assert!(
            bound("low") <= peak && peak <= bound("high"),
            "the interval misses {peak}"
        );
    }
}

fn with_floor_marks(run: &str, count: usize) -> String {
    let sheet = fs::read_to_string(fixture(run, "run.toml")).unwrap();
    without(&sheet, |name, before| {
        name == "floor_mark" && before >= count
    })
}

#[test]
fn two_floor_marks_show_nothing_sideways() {
    check_no_sideways("spin-out", &with_floor_marks("spin-out", 2));
}

#[test]
fn floor_marks_in_a_line_show_nothing_sideways() {
    // The first three lie at y = -300 mm.
    check_no_sideways("spin-out", &with_floor_marks("spin-out", 3));
}

#[test]
fn a_sticker_alone_gives_pixels_and_nothing_in_metres() {
    let home = Home::new();
    let (rows, facts) = home.degraded("spin-out", "[sticker]\ncolour = \"magenta\"\n");
    assert!(rows.filled("sticker_u_px") * 10 >= rows.len() * 9);
    assert!(rows.filled("sticker_v_px") * 10 >= rows.len() * 9);
    let metric =
        |key: &&str| key.ends_with("_m") || key.contains("_m_per") || key.contains("per_m");
    for key in command::KEYS.iter().filter(|key| metric(key)) {
        assert!(facts.reason(key).is_some(), "{key}: {:?}", facts.0[*key]);
    }
    let columns = [
        "x_m",
        "y_m",
        "speed_m_per_s",
        "rim_speed_m_per_s",
        "deviation_m",
    ];
    for column in columns {
        assert_eq!(rows.filled(column), 0, "{column}");
    }
    assert_eq!(facts.cause(), "undetermined");
}
