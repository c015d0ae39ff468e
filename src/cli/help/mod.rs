//! Parts of the long help that are made from tables.

use crate::sheet::{Compared, Key, TABLES};

/// Width of the long help, in characters; terminals are 80 wide (common practice, no source).
const WIDTH: usize = 80;
/// Column at which explanations begin.
const INDENT: usize = 23;
/// Where the keys stand in the help of `measure`.
const PLACE: &str = "{keys of the run sheet}";

/// The long help of `measure`, with every key of the run sheet.
pub(super) fn measure() -> String {
    include_str!("measure.txt").replace(PLACE, sheet_keys().trim_end())
}

/// Every table of the run sheet with its keys and what they mean.
fn sheet_keys() -> String {
    let points = |key: &&Key| key.compared == Compared::Pointing;
    let mut out = String::new();
    for table in TABLES {
        out += &explained(&format!("  [{}]", table.name), table.meaning);
        for key in table.keys.iter().filter(|key| !points(key)) {
            out += &of_key(key);
        }
    }
    out += "  Any mark may also say where someone pointed at it:\n";
    let marks = TABLES
        .iter()
        .find(|table| table.keys.iter().any(|key| points(&key)));
    let pointing = marks
        .into_iter()
        .flat_map(|table| table.keys)
        .filter(points);
    out + &pointing.map(of_key).collect::<String>()
}

fn of_key(key: &Key) -> String {
    let words = [key.meaning, key.more].concat();
    explained(&format!("    {}", key.name), &words)
}

/// A name with its explanation beside it, broken into lines.
fn explained(name: &str, words: &str) -> String {
    let mut line = name.to_owned();
    let mut out = String::new();
    for word in words.split_whitespace() {
        if line.chars().count() + 1 + word.chars().count() > WIDTH {
            out = out + &line + "\n";
            line.clear();
        }
        let used = line.chars().count();
        line += &" ".repeat(INDENT.saturating_sub(used).max(1));
        line += word;
    }
    out + &line + "\n"
}
