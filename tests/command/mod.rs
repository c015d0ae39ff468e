//! Runs the built command on clips whose true motion is known, and reads what it wrote.
#![allow(
    dead_code,
    unreachable_pub,
    reason = "a module of several test programs, each of which uses its own part"
)]
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    reason = "helpers of tests fail the test"
)]

use assert_cmd::Command;
use serde_json::Value;
use std::collections::HashMap;
use std::path::{Path, PathBuf};
use std::process::Output;

/// The quantities of `summary.json`.
pub const KEYS: [&str; 22] = [
    "release_s",
    "powered_s",
    "peak_speed_m_per_s",
    "distance_m",
    "wheel_turns",
    "max_slip",
    "spun_away_m",
    "rolling_radius_m",
    "final_deviation_m",
    "drift_m_per_m",
    "aim_error_rad",
    "curvature_per_m",
    "implied_skew_rad",
    "wobble_m",
    "string_slip_turns",
    "loose_wheel_turns",
    "coast_deceleration_m_per_s2",
    "rolling_resistance",
    "grip_coefficient",
    "energy_moving_car_j",
    "energy_lost_in_slip_j",
    "energy_lost_rolling_j",
];

/// A file of the folder of known runs.
pub fn fixture(run: &str, file: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("fixtures")
        .join(run)
        .join(file)
}

/// Runs the command with these words.
pub fn gripline<I: AsRef<std::ffi::OsStr>>(words: impl IntoIterator<Item = I>) -> Output {
    Command::new(env!("CARGO_BIN_EXE_gripline"))
        .args(words)
        .output()
        .unwrap()
}

/// Runs `measure` on one clip.
pub fn measure(clip: &Path, sheet: &Path, out: &Path, more: &[&str]) -> Output {
    let mut words: Vec<std::ffi::OsString> = vec![
        "measure".into(),
        clip.into(),
        "--sheet".into(),
        sheet.into(),
    ];
    words.extend(["--out".into(), out.into()]);
    words.extend(more.iter().map(Into::into));
    gripline(words)
}

/// What a stream of the command says.
pub fn text(bytes: &[u8]) -> String {
    String::from_utf8(bytes.to_vec()).expect("the command prints UTF-8")
}

/// A table of named columns.
pub struct Table(Vec<HashMap<String, String>>);

impl Table {
    pub fn read(path: &Path) -> Self {
        let mut reader = csv::Reader::from_path(path).unwrap();
        Self(reader.deserialize().map(Result::unwrap).collect())
    }

    pub fn len(&self) -> usize {
        self.0.len()
    }

    /// The number in a cell; `None` where it is empty.
    pub fn get(&self, row: usize, column: &str) -> Option<f64> {
        let cell = self.0[row]
            .get(column)
            .unwrap_or_else(|| panic!("no column {column}"));
        let parse = |cell: &String| cell.parse().unwrap_or_else(|_| panic!("{column}: {cell}"));
        Some(cell).filter(|cell| !cell.is_empty()).map(parse)
    }

    /// The number in a cell that is never empty.
    pub fn at(&self, row: usize, column: &str) -> f64 {
        self.get(row, column)
            .unwrap_or_else(|| panic!("row {row} has no {column}"))
    }

    /// How many cells of a column are filled.
    pub fn filled(&self, column: &str) -> usize {
        (0..self.len())
            .filter(|&row| self.get(row, column).is_some())
            .count()
    }
}

/// `summary.json` or `truth.json`.
pub struct Facts(pub Value);

impl Facts {
    pub fn read(path: &Path) -> Self {
        Self(serde_json::from_slice(&std::fs::read(path).unwrap()).unwrap())
    }

    /// A plain number of the truth.
    pub fn number(&self, key: &str) -> f64 {
        self.0[key]
            .as_f64()
            .unwrap_or_else(|| panic!("no number {key}"))
    }

    /// The value of a measured quantity; `None` where it is not observable.
    pub fn value(&self, key: &str) -> Option<f64> {
        self.0[key]["value"].as_f64()
    }

    /// Why a quantity is not observable.
    pub fn reason(&self, key: &str) -> Option<&str> {
        self.0[key]["not_observable"].as_str()
    }

    pub fn cause(&self) -> &str {
        self.0["verdict"]["cause"]
            .as_str()
            .expect("a verdict has a cause")
    }

    /// Every quantity is there, with an ordered interval or else with a reason.
    pub fn check_shape(&self) {
        for key in KEYS {
            let quantity = self.0[key]
                .as_object()
                .unwrap_or_else(|| panic!("no {key}"));
            if let Some(reason) = quantity.get("not_observable") {
                assert_eq!(quantity.len(), 1, "{key}: {quantity:?}");
                assert!(
                    reason.as_str().is_some_and(|words| words.len() > 10),
                    "{key}: {reason}"
                );
                continue;
            }
            assert_eq!(quantity.len(), 3, "{key}: {quantity:?}");
            let part = |name: &str| quantity[name].as_f64().unwrap();
            let (low, value, high) = (part("low"), part("value"), part("high"));
            assert!(low <= value && value <= high, "{key}: {low} {value} {high}");
        }
    }
}

/// Root of the mean square.
pub fn rms(values: &[f64]) -> f64 {
    assert!(!values.is_empty(), "nothing to compare");
    (values.iter().map(|value| value * value).sum::<f64>() / values.len() as f64).sqrt()
}

/// The middle value.
pub fn median(mut values: Vec<f64>) -> f64 {
    assert!(!values.is_empty(), "nothing to compare");
    values.sort_by(f64::total_cmp);
    let half = values.len() / 2;
    if values.len() % 2 == 1 {
        values[half]
    } else {
        f64::midpoint(values[half - 1], values[half])
    }
}
