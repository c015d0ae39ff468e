//! `gripline check`: is a clip good enough, and what would make it so.

use super::{complain, progress, say};
use crate::clip_quality::{Checked, Grade, Item, Outcome};
use crate::outputs::printable;
use crate::pipeline::{RunError, inspect};
use crate::sheet::RunSheet;
use clap::Args;
use serde_json::json;
use std::path::{Path, PathBuf};

#[derive(Debug, Args)]
#[command(after_long_help = include_str!("help/check.txt"))]
pub(super) struct CheckArguments {
    /// The clip: a run, or a test shot of the car at rest
    #[arg(value_name = "CLIP")]
    clip: PathBuf,
    /// The run sheet (TOML); without one the printed kit's marks are looked for
    #[arg(long, value_name = "RUN.TOML")]
    sheet: Option<PathBuf>,
    /// Print the judgement as JSON
    #[arg(long)]
    json: bool,
}

/// Version of what `--json` prints.
const CHECK_VERSION: u32 = 1;

/// Judges a clip; false where it cannot be measured as it is, or not be read.
pub(super) fn run(arguments: &CheckArguments) -> bool {
    let sheet = match &arguments.sheet {
        Some(path) => RunSheet::read(path),
        None => RunSheet::parse("", Path::new("")),
    };
    let sheet = sheet.map_err(|error| complain(&error, &error.hint()));
    let Ok(checked) = sheet.and_then(|sheet| {
        judged(&arguments.clip, &sheet).map_err(|error| complain(&error, error.hint()))
    }) else {
        return false;
    };
    let clip = arguments.clip.display().to_string();
    if arguments.json {
        let told = json!({
            "version": CHECK_VERSION,
            "clip": clip,
            "outcome": checked.outcome,
            "items": checked.items,
            "first_to_change": checked.first_to_change().map(|item| item.name),
        });
        say(&format!("{told:#}\n"));
    } else {
        say(&table(&printable(&clip), &checked));
    }
    checked.outcome != Outcome::NotMeasurable
}

fn judged(clip: &Path, sheet: &RunSheet) -> Result<Checked, RunError> {
    let name = clip.file_name().unwrap_or_default().to_string_lossy();
    let name = printable(&name);
    let bar = progress::bar("looking", &name);
    let checked = inspect(clip, sheet, &|done, expected| {
        progress::step(&bar, done, expected);
    });
    bar.finish_and_clear();
    checked
}

/// A sign beside the word: nothing here depends on colour.
const fn sign(grade: Grade) -> &'static str {
    match grade {
        Grade::Good => "[+]",
        Grade::Usable => "[~]",
        Grade::NotUsable => "[!]",
        Grade::NotSeen => "[ ]",
    }
}

fn table(clip: &str, checked: &Checked) -> String {
    let outcome = match checked.outcome {
        Outcome::Measurable => "can be measured",
        Outcome::TestShot => "a test shot: nothing moves in it, and what it shows is good enough",
        Outcome::NotMeasurable => "cannot be measured as it is",
    };
    let mut lines = vec![format!("{clip}: {outcome}")];
    lines.extend(checked.items.iter().map(|item| {
        format!(
            "  {} {:<11} {:<20} {}",
            sign(item.grade),
            item.grade.words(),
            item.title,
            item.says
        )
    }));
    let told = |item: &Item| {
        let change = item.change.as_deref().unwrap_or_default();
        format!("({}): {change}", item.title)
    };
    if let Some(first) = checked.first_to_change() {
        lines.push(format!("Change first {}", told(first)));
        let others = checked.items.iter().filter(|item| item.change.is_some());
        let others = others.filter(|item| item.name != first.name);
        lines.extend(others.map(|item| format!("  then {}", told(item))));
    } else {
        lines.push("Nothing to change.".to_owned());
    }
    lines.push(String::new());
    lines.join("\n")
}
