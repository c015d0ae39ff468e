//! What must hold of every result folder, whoever wrote it and however that ended: whole, readable, every number
//! finite, every value inside its own interval, and nothing left lying beside it.
#![allow(
    dead_code,
    unreachable_pub,
    reason = "a module of several programs, each of which uses its own part"
)]

use serde_json::Value;
use sha2::{Digest, Sha256};
use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};

/// The list of its files that lies in each result.
const CONTENTS: &str = "gripline-contents.json";
/// What hidden folders of results in the making, and what was saved from them, begin with.
const LEFTOVERS: [&str; 2] = [".gripline-work-", "kept-by-gripline-"];
/// Columns of `frames.csv` that are a value and the ends of its interval.
const INTERVALS: [[&str; 3]; 3] = [
    ["speed_m_per_s", "speed_low_m_per_s", "speed_high_m_per_s"],
    ["slip_ratio", "slip_low", "slip_high"],
    ["deviation_m", "deviation_low_m", "deviation_high_m"],
];
/// How machines write what is no finite number.
const NOT_FINITE: [&str; 6] = ["nan", "-nan", "inf", "-inf", "infinity", "-infinity"];

/// Says that a folder holds a whole result.
///
/// # Errors
/// What is missing, torn, unreadable or no number.
pub fn check_whole(folder: &Path) -> Result<(), String> {
    let read = |name: &str| {
        fs::read(folder.join(name))
            .map_err(|error| format!("{name} of {}: {error}", folder.display()))
    };
    let list: Value =
        serde_json::from_slice(&read(CONTENTS)?).map_err(|error| format!("{CONTENTS}: {error}"))?;
    let files = list["files"].as_object().ok_or("a list without files")?;
    let mut there = names_in(folder);
    if !there.remove(CONTENTS) || there != files.keys().cloned().collect() {
        return Err(format!("{there:?} is there, {files:?} is listed"));
    }
    for (name, listed) in files {
        let bytes = read(name)?;
        let hash = in_hexadecimal(&Sha256::digest(&bytes));
        let same = listed["sha256"] == hash && listed["bytes"] == bytes.len();
        if !same || bytes.is_empty() {
            return Err(format!("{name} is not what is listed"));
        }
        check_file(name, &bytes).map_err(|error| format!("{name}: {error}"))?;
    }
    Ok(())
}

fn in_hexadecimal(bytes: &[u8]) -> String {
    let digit = |four: u8| char::from_digit(u32::from(four), 16).unwrap_or_default();
    let digits = bytes.iter().flat_map(|byte| [byte >> 4, byte & 15]);
    digits.map(digit).collect()
}

fn check_file(name: &str, bytes: &[u8]) -> Result<(), String> {
    let text = || std::str::from_utf8(bytes).map_err(|error| error.to_string());
    match Path::new(name)
        .extension()
        .and_then(|ending| ending.to_str())
    {
        Some("json") => {
            let value = serde_json::from_slice(bytes).map_err(|error| error.to_string())?;
            check_intervals(&value)
        }
        Some("csv") => check_table(text()?),
        Some("html") => {
            let text = text()?;
            let torn = !text.trim_end().ends_with("</html>");
            if torn {
                return Err("it does not end".to_owned());
            }
            check_words(text)
        }
        Some("png") if !bytes.ends_with(b"IEND\xae\x42\x60\x82") => {
            Err("it does not end".to_owned())
        }
        _ => Ok(()),
    }
}

/// Says that every value in a file lies inside its own interval.
///
/// # Errors
/// The first that does not.
pub fn check_intervals(value: &Value) -> Result<(), String> {
    match value {
        Value::Object(map) => {
            let number = |name: &str| map.get(name).and_then(Value::as_f64).unwrap_or(f64::NAN);
            // What is no number is written as `null`.
            let interval = ["low", "value", "high"]
                .iter()
                .all(|name| map.contains_key(*name));
            if interval && !(number("low") <= number("value") && number("value") <= number("high"))
            {
                return Err(format!("no value in its interval: {value}"));
            }
            map.values().try_for_each(check_intervals)
        }
        Value::Array(list) => list.iter().try_for_each(check_intervals),
        Value::Number(number) if number.as_f64().is_none_or(|n| !n.is_finite()) => {
            Err(format!("{number} is not finite"))
        }
        _ => Ok(()),
    }
}

/// Says that every number of a table is finite, and every value in its interval.
///
/// # Errors
/// The first that is not.
pub fn check_table(text: &str) -> Result<(), String> {
    let mut reader = csv::Reader::from_reader(text.as_bytes());
    let head = reader.headers().map_err(|error| error.to_string())?.clone();
    let place = |name: &str| head.iter().position(|column| column == name);
    let intervals: Vec<[usize; 3]> = INTERVALS
        .iter()
        .filter_map(|[value, low, high]| Some([place(low)?, place(value)?, place(high)?]))
        .collect();
    for row in reader.records() {
        let row = row.map_err(|error| error.to_string())?;
        let odd = |cell: &&str| NOT_FINITE.contains(&cell.to_lowercase().as_str());
        if let Some(cell) = row.iter().find(odd) {
            return Err(format!("a cell is {cell}"));
        }
        for [low, value, high] in &intervals {
            let number = |at: usize| row.get(at).and_then(|cell| cell.parse::<f64>().ok());
            match (number(*low), number(*value), number(*high)) {
                (Some(low), Some(value), Some(high)) if low <= value && value <= high => {}
                (None, None, None) => {}
                other => return Err(format!("{other:?} is no interval with its value")),
            }
        }
    }
    Ok(())
}

/// Says that text for people holds nothing that is no number.
///
/// # Errors
/// The words about it.
pub fn check_words(text: &str) -> Result<(), String> {
    text.split("<script").try_for_each(|part| {
        // A page's own script may well name what is no number.
        let after = part
            .split_once("</script>")
            .map_or(part, |(_, after)| after);
        check_plain(after)
    })
}

fn check_plain(text: &str) -> Result<(), String> {
    let word = |c: char| !c.is_alphanumeric() && c != '_' && c != '.';
    let mut place = 0;
    for part in text.split_inclusive(word) {
        let bare = part.trim_end_matches(word);
        if ["NaN", "inf", "Infinity"].contains(&bare) {
            let from = text[..place]
                .char_indices()
                .rev()
                .nth(40)
                .map_or(0, |(at, _)| at);
            let about: String = text[from..].chars().take(80).collect();
            return Err(format!("a number that is none: {about}"));
        }
        place += part.len();
    }
    Ok(())
}

/// Names in a folder.
pub fn names_in(folder: &Path) -> BTreeSet<String> {
    let entries = fs::read_dir(folder).into_iter().flatten().flatten();
    entries
        .map(|entry| entry.file_name().to_string_lossy().into_owned())
        .collect()
}

/// What a process left lying about in a folder, or in one below it.
pub fn leftovers(folder: &Path) -> Vec<PathBuf> {
    let mut found = Vec::new();
    for name in names_in(folder) {
        let path = folder.join(&name);
        if LEFTOVERS.iter().any(|start| name.starts_with(start)) {
            found.push(path);
        } else if path.is_dir() {
            found.extend(leftovers(&path));
        }
    }
    found
}

/// Says that what the command told of a failure is one error with one hint in plain characters.
///
/// # Errors
/// What is wrong with it.
pub fn check_told(stderr: &[u8]) -> Result<(), String> {
    let said = std::str::from_utf8(stderr).map_err(|error| error.to_string())?;
    let count = |start: &str| said.lines().filter(|line| line.starts_with(start)).count();
    if (count("error: "), count("hint: ")) != (1, 1) || said.lines().count() != 2 {
        return Err(format!("not one error and one hint: {said:?}"));
    }
    if said.contains("panicked") || said.chars().any(|c| c.is_control() && c != '\n') {
        return Err(format!("no plain words: {said:?}"));
    }
    Ok(())
}
