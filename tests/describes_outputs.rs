//! What stands beside the numbers: the JSON Schema of `summary.json` and the CSV on the Web metadata of
//! `frames.csv`, each held against real results.
//!
//! Sources: JSON Schema draft 2020-12, checked by an independent validator; W3C Recommendation, Metadata
//! Vocabulary for Tabular Data, 17 December 2015.
#![allow(clippy::unwrap_used, clippy::panic, reason = "tests fail by panicking")]

mod command;

use boon::{Compiler, SchemaIndex, Schemas};
use command::{KEYS, fixture, measure, text};
use gripline::outputs::SUMMARY_SCHEMA;
use serde_json::{Value, json};
use std::path::PathBuf;
use tempfile::TempDir;

fn results_of(run: &str) -> (TempDir, PathBuf) {
    let home = tempfile::tempdir().unwrap();
    let (clip, sheet) = (fixture(run, "clip.mp4"), fixture(run, "run.toml"));
    let more = ["--no-report", "--no-overlay", "--draws", "12"];
    let output = measure(&clip, &sheet, home.path(), &more);
    assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
    let folder = home.path().join("clip");
    (home, folder)
}

fn json_of(path: PathBuf) -> Value {
    serde_json::from_slice(&std::fs::read(path).unwrap()).unwrap()
}

fn schema() -> Value {
    serde_json::from_str(SUMMARY_SCHEMA).unwrap()
}

/// The schema, checked against its own draft and ready to check others.
struct Validator(Schemas, SchemaIndex);

impl Validator {
    fn new() -> Self {
        let name = schema()["$id"].as_str().unwrap().to_owned();
        let (mut schemas, mut compiler) = (Schemas::new(), Compiler::new());
        compiler.add_resource(&name, schema()).unwrap();
        let index = compiler.compile(&name, &mut schemas).unwrap();
        Self(schemas, index)
    }

    /// What is wrong with a value; empty where nothing is.
    fn wrong(&self, value: &Value) -> String {
        let checked = self.0.validate(value, self.1);
        checked.err().map(|e| format!("{e:#}")).unwrap_or_default()
    }
}

#[test]
fn the_schema_describes_every_quantity() {
    for key in KEYS {
        let words = schema()["properties"][key]["description"]
            .as_str()
            .map(str::len);
        assert!(words.is_some_and(|n| n > 10), "{key}");
    }
}

#[test]
fn summaries_keep_to_the_schema() {
    let validator = Validator::new();
    for run in [
        "spin-out",
        "no-wheel-mark",
        "two-marks",
        "wobble",
        "slow-motion-120",
    ] {
        let (_home, folder) = results_of(run);
        let summary = json_of(folder.join("summary.json"));
        assert_eq!(validator.wrong(&summary), "", "{run}");
    }
}

#[test]
fn the_schema_refuses_what_is_no_summary() {
    let validator = Validator::new();
    let (_home, folder) = results_of("clean");
    let summary = json_of(folder.join("summary.json"));
    assert_eq!(validator.wrong(&summary), "");
    let marks = summary["run"]["sheet"]["floor_mark"].as_array().unwrap();
    let places = summary["measured_by"]["floor_marks_at_px"]
        .as_array()
        .unwrap();
    assert_eq!(
        places.len(),
        marks.len(),
        "each mark of the sheet has its place in the picture"
    );
    let spoilt = |pointer: &str, value: Value| {
        let mut spoilt = summary.clone();
        *spoilt.pointer_mut(pointer).unwrap() = value;
        spoilt
    };
    let all = [
        spoilt("/version", json!(2)),
        spoilt("/max_slip", json!({"value": 0.1})),
        spoilt("/max_slip", json!(0.1)),
        spoilt("/distance_m", json!({"not_observable": ""})),
        spoilt("/verdict/cause", json!(1.2)),
        spoilt("/run/clip_sha256", json!("abc")),
        spoilt("/measured_by/floor_marks_at_px/0", json!([1.0])),
    ];
    for (number, one) in all.iter().enumerate() {
        assert_ne!(validator.wrong(one), "", "number {number} passes");
    }
}

/// Every cell is what the metadata's datatype for its column says.
#[test]
fn every_cell_is_of_the_type_that_the_metadata_names() {
    let (_home, folder) = results_of("spin-out");
    let metadata = json_of(folder.join("frames.csv-metadata.json"));
    assert_eq!(metadata["@context"][0], "http://www.w3.org/ns/csvw");
    let table = metadata["url"].as_str().unwrap();
    let columns = metadata["tableSchema"]["columns"].as_array().unwrap();
    let mut reader = csv::Reader::from_path(folder.join(table)).unwrap();
    let names: Vec<&str> = columns
        .iter()
        .map(|c| c["titles"].as_str().unwrap())
        .collect();
    assert_eq!(reader.headers().unwrap().iter().collect::<Vec<_>>(), names);
    let mut cells = 0;
    for record in reader.records() {
        let record = record.unwrap();
        assert_eq!(record.len(), columns.len());
        for (cell, column) in record.iter().zip(columns) {
            check(cell, column);
            cells += 1;
        }
    }
    assert!(cells > 1000);
}

fn check(cell: &str, column: &Value) {
    let name = column["name"].as_str().unwrap();
    if cell.is_empty() {
        assert_eq!(column["required"], false, "{name} is empty");
        return;
    }
    let fits = match column["datatype"]["base"].as_str().unwrap() {
        "nonNegativeInteger" => cell.parse::<u64>().is_ok(),
        "number" => cell.parse::<f64>().is_ok_and(f64::is_finite),
        "string" => column["datatype"]["format"]
            .as_str()
            .is_none_or(|words| words.split('|').any(|word| word == cell)),
        other => panic!("no datatype {other} is written"),
    };
    assert!(fits, "{name}: {cell}");
}
