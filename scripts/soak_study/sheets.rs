//! Run sheets with changes, read by the library; and what the set-up page sends, checked and written as a sheet.

#![allow(
    dead_code,
    unreachable_pub,
    reason = "a module of several programs, each of which uses its own part"
)]

use crate::change;
use gripline::outputs::sheet_facts;
use gripline::priors::Priors;
use gripline::setup_page::{Draft, check, sheet_text};
use gripline::sheet::RunSheet;
use rand::{Rng, RngExt};
use std::path::Path;

/// Reads a changed sheet: one clear error, or facts that are all numbers.
pub fn read(random: &mut dyn Rng, sheets: &[String]) -> Result<bool, String> {
    let good = change::one_of(random, sheets);
    judged(&change::text(random, good))
}

/// Reads a text as a sheet: one clear error, or facts that are all numbers.
pub fn judged(text: &str) -> Result<bool, String> {
    match RunSheet::parse(text, Path::new("run.toml")) {
        Err(error) => clear(&error.to_string(), &error.hint()).map(|()| false),
        Ok(sheet) => {
            let facts = sheet_facts(&sheet);
            // What is no number is written as `null`, and a sheet has none.
            if facts.to_string().contains("null") {
                return Err(format!("facts without a number: {facts}"));
            }
            let priors = format!("{:?}", Priors::from_sheet(&sheet));
            let odd = priors.contains("NaN") || priors.contains(": inf") || priors.contains("-inf");
            if odd {
                return Err(format!("priors that are none: {priors}"));
            }
            Ok(true)
        }
    }
}

/// Says that an error is one line with a hint of one line.
fn clear(says: &str, hint: &str) -> Result<(), String> {
    let odd = |c: char| c.is_control();
    if says.is_empty() || hint.is_empty() || says.contains(odd) || hint.contains(odd) {
        return Err(format!("no clear error: {says:?}, {hint:?}"));
    }
    Ok(())
}

/// What the page would send, changed: a request that is refused, or a sheet's text that can be read again.
pub fn request(random: &mut dyn Rng, sheets: &[String]) -> Result<bool, String> {
    let base = change::one_of(random, sheets).clone();
    let draft = Draft::read(&base).map_err(|error| format!("a good sheet is refused: {error}"))?;
    let mut sent = serde_json::to_value(&draft).map_err(|error| error.to_string())?;
    change::json(random, &mut sent);
    let mut bytes = sent.to_string().into_bytes();
    if random.random_range(0..3) == 0 {
        let len = bytes.len();
        change::bytes(random, &mut bytes, 0..len);
    }
    let base = match random.random_range(0..4) {
        0 => None,
        1 => Some(change::text(random, &base)),
        _ => Some(base),
    };
    written(base.as_deref(), &bytes)
}

/// Writes what the page would send into a sheet, or refuses it.
pub fn written(base: Option<&str>, sent: &[u8]) -> Result<bool, String> {
    let Ok(draft) = serde_json::from_slice::<Draft>(sent) else {
        return Ok(false);
    };
    let path = Path::new("run.toml");
    let Ok(written) = sheet_text(base, &draft) else {
        return Ok(false);
    };
    if let Err(error) = written.text.parse::<toml::Table>() {
        return Err(format!(
            "the page writes no TOML: {error} in {:?}",
            written.text
        ));
    }
    let checked = check(base, &draft, path).map_err(|error| error.to_string())?;
    for fault in &checked.faults {
        clear(&fault.says, &fault.hint)?;
    }
    Ok(checked.sheet.is_some())
}
