//! `gripline compare` on an evening of the makers' club: twelve clips drawn from known motion
//! (`scripts/demo_compare`), measured by the tool; their summaries and the truth are in `fixtures/club-evening`.
//! What the summaries do not have (other frame rates, notes, cars) is written into copies of them.
#![allow(clippy::unwrap_used, clippy::panic, reason = "tests fail by panicking")]

mod command;

use boon::{Compiler, Schemas};
use command::{gripline, text};
use gripline::outputs::comparison::COMPARISON_SCHEMA;
use serde_json::{Value, json};
use std::ffi::OsString;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Output;
use tempfile::TempDir;

fn evening() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures/club-evening")
}

/// A copy of the evening's results that can be changed.
struct Club(TempDir);

impl Club {
    fn new() -> Self {
        let club = Self(tempfile::tempdir().unwrap());
        for run in 1..=12 {
            club.copy(run, &format!("run{run:02}"));
        }
        club
    }

    fn results(&self) -> PathBuf {
        self.0.path().join("results")
    }

    fn summary(&self, name: &str) -> PathBuf {
        self.results().join(name).join("summary.json")
    }

    fn copy(&self, run: usize, name: &str) {
        let from = evening().join(format!("results/run{run:02}/summary.json"));
        fs::create_dir_all(self.results().join(name)).unwrap();
        fs::copy(from, self.summary(name)).unwrap();
    }

    fn remove(&self, runs: impl IntoIterator<Item = usize>) {
        for run in runs {
            fs::remove_dir_all(self.results().join(format!("run{run:02}"))).unwrap();
        }
    }

    /// Changes the summary of a run.
    fn change(&self, run: usize, change: impl FnOnce(&mut Value)) {
        let path = self.summary(&format!("run{run:02}"));
        let mut summary = json_of(&path);
        change(&mut summary);
        fs::write(path, serde_json::to_vec(&summary).unwrap()).unwrap();
    }

    fn out(&self) -> PathBuf {
        self.0.path().join("comparison")
    }

    fn compare(&self, more: &[&str]) -> Output {
        let mut words: Vec<OsString> = vec!["compare".into(), self.results().into()];
        words.extend(["--out".into(), self.out().into(), "--replace".into()]);
        words.extend(more.iter().map(OsString::from));
        gripline(&words)
    }

    /// The comparison's words and numbers.
    fn compared(&self, more: &[&str]) -> (String, Value) {
        let output = self.compare(more);
        assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
        let numbers = json_of(&self.out().join("comparison.json"));
        check_schema(&numbers);
        (text(&output.stdout), numbers)
    }
}

fn json_of(path: &Path) -> Value {
    serde_json::from_slice(&fs::read(path).unwrap()).unwrap()
}

fn check_schema(numbers: &Value) {
    let (mut schemas, mut compiler) = (Schemas::new(), Compiler::new());
    let schema: Value = serde_json::from_str(COMPARISON_SCHEMA).unwrap();
    compiler.add_resource("schema.json", schema).unwrap();
    let index = compiler.compile("schema.json", &mut schemas).unwrap();
    if let Err(error) = schemas.validate(numbers, index) {
        panic!("{error:#}");
    }
}

#[track_caller]
fn has(words: &str, part: &str) {
    assert!(words.contains(part), "{part:?} is not in:\n{words}");
}

#[track_caller]
fn lacks(words: &str, part: &str) {
    assert!(!words.contains(part), "{part:?} is in:\n{words}");
}

/// Mean of the true values of a treatment.
fn truth(treatment: &str, column: usize) -> f64 {
    let mut reader = csv::Reader::from_path(evening().join("truth.csv")).unwrap();
    let values: Vec<f64> = (reader.records().map(Result::unwrap))
        .filter(|row| &row[1] == treatment)
        .map(|row| row[column].parse().unwrap())
        .collect();
    assert_eq!(values.len(), 4, "{treatment}");
    values.iter().sum::<f64>() / 4.0
}

#[test]
fn the_differences_are_those_that_were_drawn() {
    let club = Club::new();
    let (words, numbers) = club.compared(&[]);
    has(
        &words,
        "Inner-tube strip cut the spun-away distance by 0.62 m",
    );
    has(
        &words,
        "12 runs by treatment: bare (4), inner-tube strip (4), silicone bead (4)",
    );
    for (quantity, column) in [
        ("spun_away_m", 2),
        ("max_slip", 3),
        ("peak_speed_m_per_s", 4),
    ] {
        let differences = numbers["quantities"][quantity]["differences"]
            .as_array()
            .unwrap();
        assert_eq!(differences.len(), 3);
        for found in differences {
            let [from, to] = ["from", "to"].map(|end| truth(found[end].as_str().unwrap(), column));
            let [low, high] = ["low", "high"].map(|end| found["interval"][end].as_f64().unwrap());
            assert!(
                (low..=high).contains(&(to - from)),
                "{quantity}: {} in {found}",
                to - from
            );
            assert_eq!(found["told"], true, "{found}");
            // 4 + 4 runs can be dealt in 70 ways, and these lie apart as far as they can.
            assert_eq!(found["shuffles"]["as_far"], 2);
            assert_eq!(found["shuffles"]["of"], 70);
        }
    }
    for found in numbers["quantities"]["final_deviation_m"]["differences"]
        .as_array()
        .unwrap()
    {
        assert_eq!(found["told"], false, "they were set down alike: {found}");
    }
    assert_eq!(
        numbers["careful"]
            .as_array()
            .unwrap()
            .iter()
            .filter(|w| w.to_string().contains("block"))
            .count(),
        0
    );
}

#[test]
fn two_groups_are_told_in_one_sentence() {
    let club = Club::new();
    club.remove([3, 4, 9, 10]);
    let (words, numbers) = club.compared(&["--of", "spun_away_m", "--detect", "spun_away_m=0.1"]);
    has(
        &words,
        "  - inner-tube strip cut the spun-away distance by 0.62 m (0.49 to 0.74); 4 runs each; chance alone \
         would do this in 1 of 35 shuffles\n",
    );
    let plan = &numbers["quantities"]["spun_away_m"]["plan"];
    assert_eq!(plan["needs"][0]["why"], "asked");
    let runs = plan["needs"][0]["runs"].as_u64().unwrap();
    // The rule of thumb of 16 (s / d)² runs (Lehr, 1992; from memory) is near for such numbers.
    let thumb = 16.0 * (plan["sd"].as_f64().unwrap() / 0.1).powi(2);
    assert!((runs as f64 - thumb).abs() < 2.5, "{runs} and {thumb}");
    let (words, _) = club.compared(&["--of", "spun_away_m", "--against", "inner-tube strip"]);
    has(
        &words,
        "bare raised the spun-away distance by 0.62 m (0.49 to 0.74)",
    );
}

#[test]
fn the_table_has_a_row_a_run() {
    let club = Club::new();
    club.change(2, |s| s["run"]["clip"] = json!("=1+1.mp4"));
    club.change(5, |s| {
        s["run"]["sheet"]["change"] = json!({"note": "-x, \"y\""});
    });
    club.compared(&[]);
    let path = club.out().join("comparison.csv");
    let mut reader = csv::Reader::from_path(path).unwrap();
    let head = reader.headers().unwrap().clone();
    let column = |name: &str| head.iter().position(|one| one == name).unwrap();
    let rows: Vec<_> = reader.records().map(Result::unwrap).collect();
    assert_eq!(rows.len(), 12);
    let clips: Vec<&str> = rows.iter().map(|row| &row[column("clip")]).collect();
    assert!(
        clips.contains(&"'=1+1.mp4"),
        "no spreadsheet runs it: {clips:?}"
    );
    assert!(
        rows.iter()
            .any(|row| &row[column("change")] == "'-x, \"y\"")
    );
    for row in &rows {
        let [value, low, high] = ["spun_away_m", "spun_away_low_m", "spun_away_high_m"]
            .map(|name| row[column(name)].parse::<f64>().unwrap());
        assert!(low <= value && value <= high);
        // Numbers keep their minus.
        let place = &row[column("final_deviation_m")];
        assert!(place.parse::<f64>().is_ok(), "{place}");
    }
}

#[test]
fn the_same_clip_counts_once() {
    let club = Club::new();
    club.copy(1, "run13");
    let (words, numbers) = club.compared(&["--of", "spun_away_m"]);
    has(&words, "`run13` is the clip `run01` again, byte for byte");
    assert_eq!(numbers["quantities"]["spun_away_m"]["groups"][0]["n"], 4);
    let runs = numbers["runs"].as_array().unwrap();
    assert_eq!(runs.len(), 13);
    assert_eq!(
        runs.iter().filter(|run| run["same_clip_as"] == 1).count(),
        1
    );
}

#[test]
fn unequal_conditions_and_few_runs_are_named() {
    let club = Club::new();
    club.remove([1, 6, 7]);
    for run in [2, 5, 8, 11] {
        club.change(run, |s| s["run"]["frames_per_s"] = json!(120.0));
    }
    club.change(12, |s| {
        s["verdict"]["cause"] = json!("undetermined");
        s["max_slip"] = json!({"not_observable": "the wheel mark was hidden"});
        s["run"]["sheet"]["floor"]["surface"] = json!("gym floor");
        s["measured_by"]["view"] = json!({"plain_scale": {"from": "wheel"}});
    });
    let (words, numbers) = club.compared(&[]);
    for part in [
        "fewer than 3 runs of bare (1)",
        "the clips' frame rates differ: 120 frames a second in 4 of the runs and 60 frames a second in 5 of the runs",
        "the runs were not seen in the same way: floor marks in 8 of the runs and plain scale in 1",
        "the floors differ: \"clubhouse lino\" in 8 of the runs and \"gym floor\" in 1",
        "the largest slip was not observable in 1 of 1 of bare (the wheel mark was hidden)",
        "no cause could be determined for `run12`",
    ] {
        has(&words, part);
    }
    let bare = &numbers["quantities"]["spun_away_m"]["groups"];
    assert!(
        bare.as_array()
            .unwrap()
            .iter()
            .any(|group| group["n"] == 1 && group["sd"].is_null())
    );
    lacks(&words, "NaN");
}

#[test]
fn two_runs_of_a_kind_tell_nothing() {
    let club = Club::new();
    club.remove([3, 4, 7, 8, 9, 10, 11, 12]);
    let (words, numbers) = club.compared(&["--of", "spun_away_m"]);
    has(
        &words,
        "fewer than 3 runs of bare (2) and inner-tube strip (2)",
    );
    has(&words, "No difference by treatment can be told.");
    has(&words, "shuffling cannot show anything below 5");
    let found = &numbers["quantities"]["spun_away_m"]["differences"][0];
    assert_eq!(found["told"], false);
    has(
        found["words"].as_str().unwrap(),
        "from so few nothing is told",
    );
}

#[test]
fn conditions_that_go_with_the_groups_are_said_to() {
    let club = Club::new();
    club.remove([3, 4, 9, 10]);
    for run in [2, 5, 8, 11] {
        club.change(run, |s| s["run"]["frames_per_s"] = json!(240.0));
    }
    let (words, _) = club.compared(&[]);
    has(&words, "so that the one cannot be told from the other");
}

#[test]
fn runs_in_blocks_and_a_drift_are_warned_of() {
    let club = Club::new();
    let order = [1, 6, 7, 12, 2, 5, 8, 11, 3, 4, 9, 10];
    for (place, run) in order.into_iter().enumerate() {
        club.change(run, |s| {
            s["run"]["filmed"] = json!(format!("2026-05-09T17:{place:02}:00.000000Z"));
            let v = s["spun_away_m"]["value"].as_f64().unwrap() + 0.08 * place as f64;
            s["spun_away_m"] = json!({"value": v, "low": v - 0.02, "high": v + 0.02});
        });
    }
    let (words, numbers) = club.compared(&[]);
    has(&words, "in order of the clips' own times of filming");
    has(&words, "each group was run in one block");
    has(&words, "the spun-away distance rose by");
    let drift = &numbers["quantities"]["spun_away_m"]["drift"];
    assert!(drift["p"].as_f64().unwrap() < 0.05, "{drift}");
    let (words, _) = club.compared(&["--order-by", "name"]);
    has(&words, "in order of the clips' file names");
    lacks(&words, "in one block");
}

#[test]
fn runs_are_grouped_by_any_key_of_the_sheet() {
    let club = Club::new();
    for run in 1..=12 {
        let mass = if run % 2 == 0 { 185.0 } else { 1000.0 };
        club.change(run, |s| s["run"]["sheet"]["car"]["mass_g"] = json!(mass));
    }
    club.change(3, |s| {
        s["run"]["sheet"]["car"]
            .as_object_mut()
            .unwrap()
            .remove("mass_g");
    });
    let (words, numbers) = club.compared(&["--by", "mass_g", "--of", "spun_away_m"]);
    assert_eq!(numbers["by"], "car.mass_g");
    assert_eq!(
        numbers["groups"][0]["label"], "185",
        "numbers sort as numbers"
    );
    has(
        &words,
        "left out, because no `car.mass_g` stands on the run sheet: `run03`",
    );
    let (words, _) = club.compared(&["--by", "car"]);
    has(&words, "Two runs of Tern differ by less than");
}

#[test]
fn cars_can_be_compared_with_themselves() {
    let club = Club::new();
    club.remove([3, 4, 9, 10]);
    let cars = [(1, 2), (6, 5), (7, 8), (12, 11)];
    for (car, (bare, strip)) in cars.into_iter().enumerate() {
        for run in [bare, strip] {
            club.change(run, |s| {
                s["run"]["sheet"]["car"]["name"] = json!(format!("No. {car}"));
            });
        }
    }
    let (words, numbers) = club.compared(&["--pair-by", "car", "--of", "spun_away_m"]);
    has(
        &words,
        "; 4 pairs; chance alone would do this in 1 of 8 shuffles",
    );
    has(
        &words,
        "the rarest result would come up in 13 of 100 shuffles",
    );
    let found = &numbers["quantities"]["spun_away_m"]["differences"][0];
    assert_eq!(
        (found["paired"].clone(), found["df"].clone()),
        (json!(true), json!(3.0))
    );
    // One car alone of its treatment has no partner.
    club.change(1, |s| s["run"]["sheet"]["car"]["name"] = json!("No. 9"));
    let (words, _) = club.compared(&["--pair-by", "car", "--of", "spun_away_m"]);
    has(&words, "; 3 pairs;");
    has(
        &words,
        "without a partner of the same car, and so in no pair: `run01` and `run02`",
    );
}

#[test]
fn sizes_that_the_sheets_say_differently_widen_the_difference() {
    let club = Club::new();
    let half = |numbers: &Value| {
        let found = &numbers["quantities"]["final_deviation_m"]["differences"][0];
        let [low, high] = ["low", "high"].map(|end| found["interval"][end].as_f64().unwrap());
        (
            found["apart_uncertainty"].as_f64().unwrap(),
            (high - low) / 2.0,
        )
    };
    let (_, before) = club.compared(&[]);
    assert_eq!(half(&before).0, 0.0, "one sheet for all: its errors cancel");
    for run in [2, 5, 8, 11] {
        club.change(run, |s| {
            s["run"]["sheet"]["sticker"]["height_mm"] = json!(97.0);
        });
    }
    let (_, after) = club.compared(&[]);
    assert!(
        half(&after).0 > 0.001 && half(&after).1 > half(&before).1,
        "{:?}",
        half(&after)
    );
}

#[test]
fn a_cars_changes_are_followed_step_by_step() {
    let club = Club::new();
    for run in 1..=12 {
        club.change(run, |s| {
            let sheet = &mut s["run"]["sheet"];
            sheet["car"]["treatment"] = json!("bare");
            if run > 4 {
                sheet["change"] = json!({"note": "shorter arm"});
            }
            if run > 8 {
                sheet["car"]["mass_g"] = json!(200.0);
            }
        });
    }
    let (_, numbers) = club.compared(&["--of", "spun_away_m"]);
    let steps = numbers["car_logs"][0]["steps"].as_array().unwrap();
    assert_eq!(steps.len(), 3, "{steps:?}");
    assert_eq!(steps[0]["runs"], json!([1, 2, 3, 4]));
    assert_eq!(steps[1]["note"], "shorter arm");
    let weight = json!([{"key": "car.mass_g", "then": "185", "now": "200"}]);
    assert_eq!(steps[2]["changed"], weight);
    let mean = |step: usize| {
        steps[step]["values"]["spun_away_m"]["mean"]
            .as_f64()
            .unwrap()
    };
    let change = &steps[1]["values"]["spun_away_m"]["change"];
    assert!((change["difference"].as_f64().unwrap() - (mean(1) - mean(0))).abs() < 1e-12);
    assert!(change["interval"]["low"].as_f64().unwrap() < change["difference"].as_f64().unwrap());
}

#[track_caller]
fn refused(output: &Output, code: i32, parts: &[&str]) {
    let said = text(&output.stderr);
    assert_eq!(output.status.code(), Some(code), "{said}");
    assert!(output.stdout.is_empty());
    for part in parts {
        has(&said, part);
    }
}

#[test]
fn unusable_results_get_one_clear_error() {
    let club = Club::new();
    let compare = |place: &Path| {
        let out = club.out();
        gripline([Path::new("compare"), place, Path::new("--out"), &out])
    };
    refused(
        &compare(&club.0.path().join("none")),
        1,
        &["none", "hint: check the path"],
    );
    let empty = club.0.path().join("empty");
    fs::create_dir(&empty).unwrap();
    refused(
        &compare(&empty),
        1,
        &["no summary.json in", "gripline measure"],
    );
    for (bytes, part) in [
        (&b"{"[..], "EOF"),
        (b"[]", "does not say which layout"),
        (b"{\"version\": 1}", "missing field `run`"),
        (b"{\"version\": 99}", "has layout 99"),
    ] {
        fs::write(empty.join("summary.json"), bytes).unwrap();
        refused(&compare(&empty), 1, &["summary.json", part, "hint: "]);
    }
    club.change(4, |s| {
        s["max_slip"] = json!({"value": 2.0, "low": 0.0, "high": 1.0});
    });
    refused(
        &compare(&club.results()),
        1,
        &["run04", "`max_slip` lies outside its own interval"],
    );
    assert!(!club.out().exists(), "nothing was written");
}

#[test]
fn a_wrong_question_is_wrong_usage() {
    let club = Club::new();
    refused(
        &club.compare(&["--by", "tretment"]),
        2,
        &["the nearest is `treatment`"],
    );
    refused(&club.compare(&["--by", "colour"]), 2, &["`sticker.colour`"]);
    refused(
        &club.compare(&["--of", "spun_away"]),
        2,
        &["the nearest is `spun_away_m`"],
    );
    refused(
        &club.compare(&["--detect", "spun_away_m"]),
        2,
        &["spun_away_m=0.1"],
    );
    refused(
        &club.compare(&["--against", "glue"]),
        1,
        &["no run has", "\"silicone bead\""],
    );
    refused(
        &club.compare(&["--by", "change"]),
        1,
        &["none of the 12 runs has `change.note`"],
    );
    assert!(!club.out().exists());
}

#[test]
fn an_earlier_comparison_is_kept_and_the_same_runs_give_the_same_bytes() {
    let club = Club::new();
    club.compared(&[]);
    let files = ["comparison.csv", "comparison.json", "comparison.html"];
    let read = || files.map(|file| fs::read(club.out().join(file)).unwrap());
    let first = read();
    let again = [
        Path::new("compare"),
        &club.results(),
        Path::new("--out"),
        &club.out(),
    ];
    refused(&gripline(again), 1, &["already", "--replace"]);
    club.compared(&[]);
    assert!(read() == first, "same runs, same bytes");
    let page = text(&first[2]);
    for fetches in ["<script", "<link", "<img", "src=", "url(", "@import"] {
        assert!(!page.contains(fetches), "{fetches} is in the page");
    }
}
