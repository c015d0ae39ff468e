//! The evening of the makers' club that tests of comparisons share: twelve clips drawn from known motion
//! (`scripts/demo_compare`), measured by the tool; their summaries and the truth are in `fixtures/club-evening`.
//! What the summaries do not have (other frame rates, notes, cars) is written into copies of them.
#![allow(
    dead_code,
    unreachable_pub,
    reason = "a module of several test programs, each of which uses its own part"
)]
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    reason = "helpers of tests fail the test"
)]

use crate::command::{gripline, text};
use boon::{Compiler, Schemas};
use gripline::comparison::COMPARISON_SCHEMA;
use serde_json::Value;
use std::ffi::OsString;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Output;
use tempfile::TempDir;

pub fn evening() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures/club-evening")
}

/// A copy of the evening's results that can be changed.
pub struct Club(pub TempDir);

impl Club {
    pub fn new() -> Self {
        let club = Self(tempfile::tempdir().unwrap());
        for run in 1..=12 {
            club.copy(run, &format!("run{run:02}"));
        }
        club
    }

    pub fn results(&self) -> PathBuf {
        self.0.path().join("results")
    }

    pub fn summary(&self, name: &str) -> PathBuf {
        self.results().join(name).join("summary.json")
    }

    pub fn copy(&self, run: usize, name: &str) {
        let from = evening().join(format!("results/run{run:02}/summary.json"));
        fs::create_dir_all(self.results().join(name)).unwrap();
        fs::copy(from, self.summary(name)).unwrap();
    }

    pub fn remove(&self, runs: impl IntoIterator<Item = usize>) {
        for run in runs {
            fs::remove_dir_all(self.results().join(format!("run{run:02}"))).unwrap();
        }
    }

    /// Changes the summary of a run.
    pub fn change(&self, run: usize, change: impl FnOnce(&mut Value)) {
        let path = self.summary(&format!("run{run:02}"));
        let mut summary = json_of(&path);
        change(&mut summary);
        fs::write(path, serde_json::to_vec(&summary).unwrap()).unwrap();
    }

    pub fn out(&self) -> PathBuf {
        self.0.path().join("comparison")
    }

    pub fn compare(&self, more: &[&str]) -> Output {
        let mut words: Vec<OsString> = vec!["compare".into(), self.results().into()];
        words.extend(["--out".into(), self.out().into(), "--replace".into()]);
        words.extend(more.iter().map(OsString::from));
        gripline(&words)
    }

    /// The comparison's words and numbers.
    pub fn compared(&self, more: &[&str]) -> (String, Value) {
        let output = self.compare(more);
        assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
        let numbers = json_of(&self.out().join("comparison.json"));
        check_schema(&numbers);
        (text(&output.stdout), numbers)
    }
}

pub fn json_of(path: &Path) -> Value {
    serde_json::from_slice(&fs::read(path).unwrap()).unwrap()
}

pub fn check_schema(numbers: &Value) {
    let (mut schemas, mut compiler) = (Schemas::new(), Compiler::new());
    let schema: Value = serde_json::from_str(COMPARISON_SCHEMA).unwrap();
    compiler.add_resource("schema.json", schema).unwrap();
    let index = compiler.compile("schema.json", &mut schemas).unwrap();
    if let Err(error) = schemas.validate(numbers, index) {
        panic!("{error:#}");
    }
}

#[track_caller]
pub fn has(words: &str, part: &str) {
    assert!(words.contains(part), "{part:?} is not in:\n{words}");
}

#[track_caller]
pub fn lacks(words: &str, part: &str) {
    assert!(!words.contains(part), "{part:?} is in:\n{words}");
}
