//! `gripline compare`: results of many runs in, one comparison out.

use super::{complain, recovered, say, wrong_usage};
use crate::comparison::{PAGE_NAME, comparison_words, write_comparison};
use crate::findings::Key;
use crate::outputs::{WriteError, printable_path};
use crate::sheet::nearest;
use crate::treatments::{OrderBy, Question, SheetKey, compare, read_runs};
use clap::Args;
use std::collections::BTreeMap;
use std::path::PathBuf;

#[derive(Debug, Args)]
#[command(after_long_help = include_str!("help/compare.txt"))]
pub(super) struct CompareArguments {
    /// Results to compare: result folders, folders of them, or summary.json files
    #[arg(required = true, value_name = "RESULTS")]
    results: Vec<PathBuf>,
    /// What runs are grouped by: treatment, car, change, floor, or any key of the run sheet (`car.mass_g`)
    #[arg(long, value_name = "KEY", default_value = "treatment")]
    by: String,
    /// Quantities to compare, by their names in summary.json, with commas between; or "all"
    #[arg(long, value_name = "QUANTITY,...", value_delimiter = ',')]
    of: Vec<String>,
    /// Compare only runs of the same KEY with each other (such as car): pairs, where each had every treatment
    #[arg(long, value_name = "KEY")]
    pair_by: Option<String>,
    /// Order of the runs: filmed (the clips' own times), name (the clips' file names), or a key of the run sheet
    /// [default: filmed where every clip tells its own time, else name]
    #[arg(long, value_name = "ORDER")]
    order_by: Option<String>,
    /// The group that the others are set against [default: that of the first run]
    #[arg(long, value_name = "GROUP")]
    against: Option<String>,
    /// A difference that you would like to see, such as `spun_away_m=0.1`: says how many runs that takes
    #[arg(long, value_name = "QUANTITY=DIFFERENCE")]
    detect: Vec<String>,
    /// Folder for the comparison
    #[arg(long, value_name = "FOLDER", default_value = "comparison")]
    out: PathBuf,
    /// Write it anew where a comparison is there already
    #[arg(long)]
    replace: bool,
}

/// Compares runs; false where there was nothing to compare or it could not be written.
pub(super) fn run(arguments: &CompareArguments) -> bool {
    let question = question(arguments);
    let out = &arguments.out;
    recovered(out.parent());
    if out.symlink_metadata().is_ok() && !arguments.replace {
        let error = WriteError::Exists { path: out.clone() };
        complain(&error, error.hint());
        return false;
    }
    let runs = read_runs(&arguments.results).map_err(|error| complain(&error, error.hint()));
    let Ok(runs) = runs else { return false };
    let read: Vec<PathBuf> = runs.iter().map(|run| run.path.clone()).collect();
    let found = compare(runs, question).map_err(|error| complain(&error, error.hint()));
    let Ok(found) = found else { return false };
    match write_comparison(&found, out, arguments.replace, &read) {
        Ok(()) => {
            say(&comparison_words(&found));
            say(&format!("Comparison: {}\n", printable_path(out)));
            say(&format!("Page: {}\n", printable_path(&out.join(PAGE_NAME))));
            true
        }
        Err(error) => {
            complain(&error, error.hint());
            false
        }
    }
}

/// What is asked; a wrong key or quantity is wrong usage.
fn question(arguments: &CompareArguments) -> Question {
    let key = |text: &String| {
        SheetKey::parse(text.trim()).unwrap_or_else(|error| wrong_usage(&error.to_string()))
    };
    let of = if arguments.of == ["all"] {
        Key::ALL.to_vec()
    } else {
        let mut of = Vec::new();
        for text in &arguments.of {
            let key = quantity(text);
            if !of.contains(&key) {
                of.push(key);
            }
        }
        of
    };
    let order_by = arguments.order_by.as_ref().map(|text| match text.trim() {
        "filmed" => OrderBy::Filmed,
        "name" => OrderBy::ClipName,
        _ => OrderBy::Sheet(key(text)),
    });
    Question {
        by: key(&arguments.by),
        of,
        pair_by: arguments.pair_by.as_ref().map(key),
        order_by,
        against: arguments.against.clone(),
        detect: detect(&arguments.detect),
    }
}

fn quantity(text: &str) -> Key {
    let text = text.trim();
    let found = Key::ALL.into_iter().find(|key| key.as_str() == text);
    found.unwrap_or_else(|| {
        let (nearest, _) = nearest(text, Key::ALL.into_iter().map(Key::as_str)).unwrap_or_default();
        wrong_usage(&format!(
            "no quantity is called `{text}`; the nearest is `{nearest}` (all of them stand in summary.json)"
        ))
    })
}

fn detect(texts: &[String]) -> BTreeMap<Key, f64> {
    (texts.iter())
        .map(|text| {
            let parts = text.split_once('=');
            let number = parts.and_then(|(_, number)| number.trim().parse::<f64>().ok());
            match (parts, number.filter(|number| number.is_finite() && *number > 0.0)) {
                (Some((name, _)), Some(number)) => (quantity(name), number),
                _ => wrong_usage(&format!(
                    "`--detect {text}` is no quantity and difference: write it as in spun_away_m=0.1"
                )),
            }
        })
        .collect()
}
