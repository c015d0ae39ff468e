//! What an unknown key of a run sheet was probably meant to be.

use super::error::{Problem, shown};
use super::keys::{Kind, TABLES, table_named};

/// Name that the top of the file has where a table is named.
pub(super) const TOP: &str = "";

/// The table that repeats keys of `[sticker]` and `[camera]` for a second phone; a stray key is never
/// sent there.
const END_VIEW: &str = "end_view";

/// Endings of a key that name a unit, ours and the ones written by mistake.
const UNIT_ENDINGS: &[&str] = &[
    "mm", "cm", "dm", "m", "km", "um", "in", "inch", "inches", "ft", "g", "gram", "grams", "kg",
    "mg", "oz", "lb", "s", "sec", "ms", "us", "ns", "deg", "degrees", "rad", "px", "pixel",
    "pixels", "fps", "hz", "percent", "pct",
];

/// Longest part of a key that is compared, in characters; no known key comes near it.
const MAX_COMPARED_CHARS: usize = 40;

/// The names that may stand in a table: its keys, or the tables at the top.
pub(super) fn known(name: &str) -> Vec<&'static str> {
    if name == TOP {
        return TABLES.iter().map(|table| table.name).collect();
    }
    let keys = table_named(name).map_or(&[][..], |table| table.keys);
    keys.iter().map(|key| key.name).collect()
}

/// The error for `key`, which stands in `table` and is not among its keys; `kind` says what it is.
pub(super) fn unknown(table: &'static str, key: &str, kind: &'static str) -> Problem {
    let plain: String = key
        .to_lowercase()
        .replace(['-', ' '], "_")
        .chars()
        .take(MAX_COMPARED_CHARS)
        .collect();
    let (nearest, hint) = advice(table, &plain);
    let place = if table == TOP {
        "at the top of the sheet".to_string()
    } else {
        format!("in [{table}]")
    };
    Problem::UnknownKey {
        kind,
        key: shown(key),
        place,
        nearest,
        hint,
    }
}

/// The name that is most like a text, the first of several, and how much of it is alike, from 0 to 1.
pub fn nearest<'n>(text: &str, names: impl Iterator<Item = &'n str>) -> Option<(&'n str, f64)> {
    let alike = |name: &'n str| (name, strsim::normalized_damerau_levenshtein(text, name));
    names
        .map(alike)
        .reduce(|best, other| if other.1 > best.1 { other } else { best })
}

fn advice(table: &'static str, key: &str) -> (String, String) {
    if let Some((right, rule)) = same_but_for_its_unit(table, key) {
        let hint = if right == key {
            format!("write it in lower case: `{right}`")
        } else {
            format!("rename it `{right}` and give the number in that unit")
        };
        return (format!("{rule}: `{right}`"), hint);
    }
    if let Some(home) = only_home_of(key) {
        return (
            format!("it belongs in [{home}]"),
            format!("move the line below `[{home}]`"),
        );
    }
    let keys = known(table);
    let (nearest, _) = nearest(key, keys.iter().copied()).unwrap_or_default();
    (
        format!("the nearest known one is `{nearest}`"),
        format!("rename it or take it out; known here: {}", keys.join(", ")),
    )
}

/// The key of `table` that means the same as `key`, with what to know about its unit.
fn same_but_for_its_unit(table: &'static str, key: &str) -> Option<(&'static str, &'static str)> {
    let same = |known: &&str| stem(known) == stem(key);
    let right = known(table).into_iter().find(same)?;
    let rule = match table_named(table)
        .and_then(|table| table.key(right))
        .map(|key| key.kind)
    {
        Some(Kind::Number(range) | Kind::Pair(range)) => range.quantity.rule(),
        _ => "the key is written",
    };
    Some((right, rule))
}

/// `key` without the unit at its end.
fn stem(key: &str) -> &str {
    match key.rsplit_once('_') {
        Some((stem, unit)) if UNIT_ENDINGS.contains(&unit) => stem,
        _ => key,
    }
}

/// The table that `key` belongs to, where there is exactly one.
fn only_home_of(key: &str) -> Option<&'static str> {
    let mut homes = (TABLES.iter())
        .filter(|table| table.name != END_VIEW && table.key(key).is_some())
        .map(|table| table.name);
    match (homes.next(), homes.next()) {
        (Some(home), None) => Some(home),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn check(table: &'static str, key: &str, expected: &str) {
        let text = unknown(table, key, "key").to_string();
        assert!(text.contains(expected), "{text:?} lacks {expected:?}");
    }

    #[test]
    fn a_wrong_unit_is_named_as_such() {
        check(
            "car",
            "wheel_diameter_cm",
            "lengths here are millimetres: `wheel_diameter_mm`",
        );
        check(
            "car",
            "wheel_diameter",
            "lengths here are millimetres: `wheel_diameter_mm`",
        );
        check("car", "mass_kg", "masses here are grams: `mass_g`");
        check(
            "car",
            "driven_share_percent",
            "fractions from 0 to 1: `driven_share`",
        );
        check(
            "sticker",
            "height_m",
            "lengths here are millimetres: `height_mm`",
        );
        check(
            "wheel_mark",
            "angle_rad",
            "angles here are degrees: `angle_deg`",
        );
        check(
            "camera",
            "readout_s",
            "times here are milliseconds: `readout_ms`",
        );
        check("camera", "capture_hz", "frames per second: `capture_fps`");
        check("floor_mark", "x_m", "`x_mm`");
    }

    #[test]
    fn a_misspelt_key_gets_the_nearest_one() {
        check("sticker", "color", "nearest known one is `colour`");
        check(
            "car",
            "wheelbasis_mm",
            "nearest known one is `wheelbase_mm`",
        );
        check(TOP, "floor_marks", "nearest known one is `floor_mark`");
        check(TOP, "stiker", "nearest known one is `sticker`");
    }

    #[test]
    fn a_key_in_the_wrong_table_is_sent_home() {
        check(TOP, "treatment", "it belongs in [car]");
        check("sticker", "wheelbase_mm", "it belongs in [car]");
        check("car", "Wheelbase-mm", "`wheelbase_mm`");
        check(TOP, "capture_fps", "it belongs in [camera]");
        check("end_view", "wheelbase_mm", "it belongs in [car]");
    }

    #[test]
    fn every_known_key_has_one_stem_in_its_table() {
        for table in TABLES {
            for key in known(table.name) {
                let same = |other: &&&str| stem(other) == stem(key);
                let same = known(table.name).iter().filter(same).count();
                // `at_px` and `at_s` are the one pair that only the unit tells apart.
                let expected = if stem(key) == "at" { 2 } else { 1 };
                assert_eq!(same, expected, "{key} in [{}]", table.name);
            }
        }
    }
}
