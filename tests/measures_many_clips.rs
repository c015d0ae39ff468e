//! `gripline measure` with many clips: a sheet for all with one beside each clip laid over it, bad clips that
//! stop nobody, and work that is done already.
#![allow(clippy::unwrap_used, clippy::panic, reason = "tests fail by panicking")]

mod command;

use command::{fixture, gripline, text};
use serde_json::Value;
use std::ffi::OsString;
use std::fs;
use std::path::PathBuf;
use std::process::Output;
use tempfile::TempDir;

/// A folder with clips and sheets.
struct Evening(TempDir);

impl Evening {
    fn new() -> Self {
        let home = Self(tempfile::tempdir().unwrap());
        fs::copy(fixture("spin-out", "clip.mp4"), home.path("one.mp4")).unwrap();
        fs::copy(fixture("clean", "clip.mp4"), home.path("two.mp4")).unwrap();
        fs::copy(fixture("spin-out", "run.toml"), home.path("evening.toml")).unwrap();
        home.write(
            "one.toml",
            "[car]\ntreatment = 'tape'\n[change]\nnote = 'tape on the rims'\n",
        );
        fs::copy(fixture("clean", "run.toml"), home.path("two.toml")).unwrap();
        home
    }

    fn path(&self, name: &str) -> PathBuf {
        self.0.path().join(name)
    }

    fn write(&self, name: &str, text: &str) {
        fs::write(self.path(name), text).unwrap();
    }

    fn measure(&self, clips: &[&str], more: &[&str]) -> Output {
        let mut words: Vec<OsString> = vec!["measure".into()];
        words.extend(clips.iter().map(|clip| self.path(clip).into_os_string()));
        words.extend(["--out".into(), self.path("results").into()]);
        words.extend(["--no-report", "--no-overlay", "--draws", "10"].map(Into::into));
        words.extend(more.iter().map(OsString::from));
        gripline(&words)
    }

    fn with_sheet(&self, clips: &[&str], more: &[&str]) -> Output {
        let sheet = self.path("evening.toml");
        let mut words = vec!["--sheet", sheet.to_str().unwrap()];
        words.extend(more);
        self.measure(clips, &words)
    }

    fn summary(&self, name: &str) -> Value {
        let path = self.path("results").join(name).join("summary.json");
        serde_json::from_slice(&fs::read(path).unwrap()).unwrap()
    }
}

#[track_caller]
fn line_of<'a>(words: &'a str, begins: &str) -> &'a str {
    let found = words.lines().find(|line| line.starts_with(begins));
    found.unwrap_or_else(|| panic!("no line {begins:?} in:\n{words}"))
}

#[test]
fn one_bad_clip_stops_nobody_and_done_work_is_not_done_again() {
    let home = Evening::new();
    home.write("bad.mp4", "no clip");
    home.write("wrong.mp4", "no clip either");
    home.write("wrong.toml", "[car]\ntretment = 'x'\n");
    let clips = ["one.mp4", "bad.mp4", "wrong.mp4", "two.mp4"];
    let first = home.with_sheet(&clips, &["--at-once", "2"]);
    let (said, complained) = (text(&first.stdout), text(&first.stderr));
    assert_eq!(first.status.code(), Some(1), "{complained}");
    assert!(line_of(&said, "one.mp4").contains("grip"), "{said}");
    assert!(line_of(&said, "bad.mp4").contains("no result"), "{said}");
    assert!(
        line_of(&said, "wrong.mp4").contains("wrong.toml`, line 2"),
        "{said}"
    );
    assert!(line_of(&said, "two.mp4").contains("none"), "{said}");
    line_of(&said, "2 measured, 0 up to date, 2 without a result");
    assert_eq!(complained.matches("hint: ").count(), 2, "{complained}");

    // What stands beside the clip is laid over the sheet for all.
    let run = home.summary("one")["run"].clone();
    assert_eq!(
        (run["treatment"].as_str(), run["car"].as_str()),
        (Some("tape"), Some("Dunlin"))
    );
    assert_eq!(run["sheet"]["change"]["note"], "tape on the rims");
    assert_eq!(run["frames_per_s"], 60.0);

    let made = |name: &str| {
        let path = home.path("results").join(name).join("summary.json");
        fs::metadata(path).unwrap().modified().unwrap()
    };
    let before = ["one", "two"].map(made);
    fs::remove_file(home.path("bad.mp4")).unwrap();
    let again = home.with_sheet(&["one.mp4", "two.mp4"], &[]);
    assert_eq!(again.status.code(), Some(0), "{}", text(&again.stderr));
    line_of(
        &text(&again.stdout),
        "0 measured, 2 up to date, 0 without a result",
    );
    assert_eq!(["one", "two"].map(made), before, "nothing was written");

    // Another sheet is another result: it is said, and kept.
    home.write("one.toml", "[car]\ntreatment = 'bare'\n");
    let stale = home.with_sheet(&["one.mp4", "two.mp4"], &[]);
    assert_eq!(stale.status.code(), Some(1));
    assert!(line_of(&text(&stale.stdout), "one.mp4").contains("the run sheet was another one"));
    assert!(text(&stale.stderr).contains("--replace"));
    assert_eq!(home.summary("one")["run"]["treatment"], "tape");
    let replaced = home.with_sheet(&["one.mp4", "two.mp4"], &["--replace"]);
    assert_eq!(
        replaced.status.code(),
        Some(0),
        "{}",
        text(&replaced.stderr)
    );
    assert_eq!(home.summary("one")["run"]["treatment"], "bare");
}

#[test]
fn a_sheet_beside_a_clip_is_enough() {
    let home = Evening::new();
    // Its own sheet is whole, and another comment or another way to write a number changes nothing.
    let output = home.measure(&["two.mp4"], &[]);
    assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
    let own = fs::read_to_string(home.path("two.toml")).unwrap();
    home.write("two.toml", &format!("# said again\n{own}"));
    let again = home.measure(&["two.mp4"], &[]);
    assert_eq!(again.status.code(), Some(0), "{}", text(&again.stderr));
    assert!(
        text(&again.stdout).starts_with("Up to date"),
        "{}",
        text(&again.stdout)
    );
}

#[test]
fn clips_without_a_sheet_and_clips_of_one_name_are_refused() {
    let home = Evening::new();
    fs::remove_file(home.path("one.toml")).unwrap();
    let none = home.measure(&["one.mp4"], &[]);
    // Its marks are not the printed kit's: without a sheet nothing can be measured, and the page helps.
    assert_eq!(none.status.code(), Some(1), "{}", text(&none.stderr));
    assert!(text(&none.stderr).contains("gripline setup"));
    let other = home.path("other");
    fs::create_dir(&other).unwrap();
    fs::write(other.join("one.mp4"), "any").unwrap();
    let both = home.measure(&["one.mp4", "other/one.mp4", "two.mp4"], &[]);
    let said = text(&both.stdout);
    assert_eq!(both.status.code(), Some(1));
    assert!(said.contains("no run sheet for"), "{said}");
    assert!(
        said.contains("have one name, and so one result folder"),
        "{said}"
    );
    assert!(line_of(&said, "two.mp4").contains("none"), "{said}");
}
