//! Three hundred bad and odd files and sheets: each is measured or refused as its table says, in one clear error, and
//! nothing half-written stays.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    reason = "tests fail by panicking"
)]
#![cfg(unix)]

mod bad_files;
mod bounded;
mod common;
mod results;

use bad_files::sheets::{self, Sheet};
use bad_files::{Row, SHEET, hold, movie, rows};
use bounded::Bench;
use common::{RUN, Studio};
use gripline::setup_page::{Draft, Part, check};
use gripline::treatments::read_runs;
use std::collections::BTreeMap;
use std::fs;
use std::path::Path;

const GRIPLINE: &str = env!("CARGO_BIN_EXE_gripline");

/// The good clips that are damaged, by the name that the table gives them.
fn good_clips() -> BTreeMap<&'static str, Vec<u8>> {
    let studio = Studio::new();
    let made = [
        ("late", " -c:v libx264 -g 8", "late.mp4"),
        (
            "early",
            " -c:v libx264 -g 8 -movflags +faststart",
            "early.mp4",
        ),
        (
            "pieces",
            " -c:v libx264 -g 8 -bf 0 -movflags +frag_keyframe+empty_moov",
            "pieces.mp4",
        ),
        (
            "hevc",
            " -c:v libx265 -x265-params log-level=none -tag:v hvc1 -movflags +faststart",
            "hevc.mp4",
        ),
    ];
    made.into_iter()
        .map(|(name, words, file)| {
            let path = studio.make(&format!("{RUN}{words}"), file);
            (name, fs::read(path).unwrap())
        })
        .collect()
}

/// Measures every `of`-th damaged clip from the `from`-th on.
fn hold_damaged(from: usize, of: usize) {
    let good = good_clips();
    let table = rows(include_str!("bad_files/clips.txt"));
    let mine: Vec<Row> = table.into_iter().skip(from).step_by(of).collect();
    let bench = Bench::new(GRIPLINE);
    let sheet = bench.write("run.toml", SHEET);
    hold(&mine, |row| {
        let mut bytes = good[row.of.as_str()].clone();
        movie::damage(&mut bytes, &row.what);
        let clip = bench.write("clip.mp4", bytes);
        bench.measured(&clip, &sheet)
    });
}

#[test]
fn damaged_clips_come_to_what_the_table_says() {
    hold_damaged(0, 2);
}

#[test]
fn the_other_half_of_them_too() {
    hold_damaged(1, 2);
}

#[test]
fn files_of_other_makes_come_to_what_the_table_says() {
    let studio = Studio::new();
    let table = rows(include_str!("bad_files/made.txt"));
    let bench = Bench::new(GRIPLINE);
    let sheet = bench.write("run.toml", SHEET);
    hold(&table, |row| {
        let clip = studio.make(&row.what.replace("RUN", RUN), &row.of);
        bench.measured(&clip, &sheet)
    });
}

/// Measures a good clip by each sheet.
fn hold_sheets(table: &[(Row, Vec<u8>)]) {
    let studio = Studio::new();
    let clip = studio.make(&format!("{RUN} -c:v libx264"), "clip.mp4");
    let bench = Bench::new(GRIPLINE);
    let rows: Vec<Row> = table.iter().map(|(row, _)| row.clone()).collect();
    hold(&rows, |row| {
        let found = table
            .iter()
            .find(|(of, _)| (&of.of, &of.what) == (&row.of, &row.what));
        let (_, bytes) = found.expect("it is in the table");
        bench.measured(&clip, &bench.write("run.toml", bytes))
    });
}

#[test]
fn sheets_come_to_what_the_table_says() {
    let table = rows(include_str!("bad_files/sheets.txt"));
    let with_text = |row: Row| {
        let text = sheets::text_of(&row.of, &row.what);
        (row, text.into_bytes())
    };
    hold_sheets(&table.into_iter().map(with_text).collect::<Vec<_>>());
}

#[test]
fn sheets_of_other_codings_and_far_too_large_ones_do_too() {
    let all: Vec<Sheet> = sheets::codings()
        .into_iter()
        .chain(sheets::large())
        .collect();
    let row = |(name, bytes, outcome, says): Sheet| {
        let row = Row {
            what: name.into(),
            of: "sheet".into(),
            outcome: outcome.into(),
            says: says.into(),
        };
        (row, bytes)
    };
    hold_sheets(&all.into_iter().map(row).collect::<Vec<_>>());
}

/// Found by `scripts/soak`: means and squares of such numbers were told as infinite.
#[test]
fn a_summary_with_a_number_of_no_car_is_not_compared() {
    let home = tempfile::tempdir().unwrap();
    let evening = Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures/club-evening/results");
    for run in 1..=3 {
        let name = format!("run{run:02}");
        let text = fs::read_to_string(evening.join(&name).join("summary.json")).unwrap();
        let mut summary: serde_json::Value = serde_json::from_str(&text).unwrap();
        if run == 2 {
            summary["peak_speed_m_per_s"]["high"] = 1e300.into();
        }
        fs::create_dir(home.path().join(&name)).unwrap();
        let path = home.path().join(&name).join("summary.json");
        fs::write(path, summary.to_string()).unwrap();
    }
    let error = read_runs(&[home.path().to_path_buf()])
        .unwrap_err()
        .to_string();
    assert!(
        error.contains("run02") && error.contains("`peak_speed_m_per_s` is larger"),
        "{error}"
    );
}

/// Found by `scripts/soak`: what was typed came back with its control characters.
#[test]
fn what_is_typed_on_the_page_comes_back_in_plain_characters() {
    let draft = Draft {
        car: Part::default().with("mass_g", "\u{1b}[31m190"),
        sticker: Part::default().with("colour", "magenta"),
        ..Draft::default()
    };
    let checked = check(None, &draft, Path::new("run.toml")).unwrap();
    let says = &checked.faults[0].says;
    assert!(
        says.contains("190") && !says.contains(char::is_control),
        "{says:?}"
    );
}
