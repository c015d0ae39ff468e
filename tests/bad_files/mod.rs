//! Bad and odd files, each with what is to become of it, as tables: `clips.txt` (a good clip, damaged), `made.txt`
//! (files that a command makes), `sheets.txt` and `sheets.rs` (run sheets).
//!
//! What the decoding library makes of a damaged box was seen with `FFmpeg`'s libraries of Debian 12 (version 5.1);
//! the boxes and their meaning are those of ISO/IEC 14496-12. Expected outcomes are what a reader may ask for: what
//! shows the run is measured, with a word about such damage as can be told; the rest is refused in one sentence.
#![allow(
    unreachable_pub,
    dead_code,
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    reason = "helpers of tests fail the test"
)]

pub mod movie;
pub mod sheets;

use crate::bounded::{Came, Never};

/// A run sheet for the clips of these tables.
pub const SHEET: &str = "[sticker]\ncolour = \"magenta\"\n";
/// A line of a table: what is done, to what, and what is to come of it.
#[derive(Debug, Clone)]
pub struct Row {
    pub what: String,
    pub of: String,
    pub outcome: String,
    pub says: String,
}

/// The rows of a table: four cells, `|` between them; lines that begin with `#` are comments.
pub fn rows(table: &str) -> Vec<Row> {
    let is_row = |line: &&str| !line.trim().is_empty() && !line.starts_with('#');
    let row = |line: &str| {
        let cells: Vec<&str> = line.split('|').map(str::trim).collect();
        let [of, what, outcome, says] = cells[..] else {
            panic!("not four cells: {line}");
        };
        Row {
            what: what.into(),
            of: of.into(),
            outcome: outcome.into(),
            says: says.into(),
        }
    };
    table.lines().filter(is_row).map(row).collect()
}

/// Holds what came of each row against what the table says, and fails with all that differ, as rows of the table.
pub fn hold(rows: &[Row], come_of: impl Fn(&Row) -> Result<Came, Never>) {
    let mut wrong = Vec::new();
    for row in rows {
        let Row {
            what,
            of,
            outcome,
            says,
        } = row;
        match come_of(row) {
            Ok(came) if came.outcome == outcome && came.said.contains(says.as_str()) => {}
            Ok(came) => {
                let said = came.said.replace('\n', " / ");
                wrong.push(format!("{of} | {what} | {} | {said}", came.outcome));
            }
            Err(why) => wrong.push(format!("{of} | {what} | NEVER | {why}")),
        }
    }
    assert!(!rows.is_empty(), "an empty table");
    assert!(
        wrong.is_empty(),
        "{} of {} rows differ:\n{}",
        wrong.len(),
        rows.len(),
        wrong.join("\n")
    );
}
