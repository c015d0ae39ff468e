//! Summaries of runs with changes, read and compared.

#![allow(
    dead_code,
    unreachable_pub,
    reason = "a module of several programs, each of which uses its own part"
)]

use crate::change;
use crate::results::{check_intervals, check_table, check_words};
use gripline::comparison::{comparison_csv, comparison_html, comparison_json, comparison_words};
use gripline::findings::Key;
use gripline::treatments::{Question, SheetKey, compare, read_runs};
use rand::{Rng, RngExt};
use serde_json::Value;
use std::collections::BTreeMap;
use std::fs;

/// Most quantities that are asked of one comparison.
const MOST_ASKED: usize = 4;

/// Compares an evening of which some summaries are changed: one clear error, or a comparison that is all numbers.
pub fn compared(random: &mut dyn Rng, evening: &[Value]) -> Result<bool, String> {
    let folder = tempfile::tempdir().map_err(|error| error.to_string())?;
    for (number, summary) in evening.iter().enumerate() {
        let mut summary = summary.clone();
        if random.random_range(0..16) == 0 {
            change::json(random, &mut summary);
        }
        let mut bytes = summary.to_string().into_bytes();
        if random.random_range(0..40) == 0 {
            let len = bytes.len();
            change::bytes(random, &mut bytes, 0..len);
        }
        let run = folder.path().join(format!("run{number:02}"));
        fs::create_dir(&run).map_err(|error| error.to_string())?;
        fs::write(run.join("summary.json"), bytes).map_err(|error| error.to_string())?;
    }
    let Ok(runs) = read_runs(&[folder.path().to_path_buf()]) else {
        return Ok(false);
    };
    let by = *change::one_of(random, &["treatment", "car", "car.mass_g", "change"]);
    let by = SheetKey::parse(by).map_err(|error| error.to_string())?;
    let of = (0..random.random_range(0..=MOST_ASKED)).map(|_| *change::one_of(random, &Key::ALL));
    let question = Question {
        by,
        of: of.collect(),
        pair_by: None,
        order_by: None,
        against: None,
        detect: BTreeMap::new(),
    };
    let Ok(found) = compare(runs, question) else {
        return Ok(false);
    };
    let json = comparison_json(&found).map_err(|error| error.to_string())?;
    check_intervals(&serde_json::from_slice(&json).map_err(|error| error.to_string())?)?;
    let table = comparison_csv(&found).map_err(|error| error.to_string())?;
    check_table(&String::from_utf8_lossy(&table))?;
    check_words(&comparison_words(&found))?;
    let page = comparison_html(&found).map_err(|error| error.to_string())?;
    check_words(&String::from_utf8_lossy(&page)).map(|()| true)
}
