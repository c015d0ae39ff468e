//! The keys of a run sheet, and what an unknown one was probably meant to be.

use super::error::{Problem, shown};

/// Name that the top of the file has in [`TABLES`].
pub(super) const TOP: &str = "";

/// The keys of `[car]`.
pub const CAR_KEYS: &[&str] = &[
    "name",
    "treatment",
    "wheel_diameter_mm",
    "wheelbase_mm",
    "track_width_mm",
    "facing_side",
    "axle_diameter_mm",
    "string_mm",
    "string_diameter_mm",
    "mass_g",
    "driven_share",
];

/// Every table of a run sheet with its keys.
const TABLES: &[(&str, &[&str])] = &[
    (
        TOP,
        &[
            "car",
            "sticker",
            "wheel_mark",
            "axle_mark",
            "floor_mark",
            "floor",
            "aim",
            "camera",
            "end_view",
            "change",
        ],
    ),
    ("car", CAR_KEYS),
    (
        "sticker",
        &[
            "colour",
            "height_mm",
            "ahead_mm",
            "off_centre_mm",
            "at_px",
            "at_s",
        ],
    ),
    (
        "wheel_mark",
        &["colour", "radius_mm", "angle_deg", "at_px", "at_s"],
    ),
    ("axle_mark", &["colour", "at_px", "at_s"]),
    ("floor_mark", &["colour", "x_mm", "y_mm", "at_px", "at_s"]),
    ("floor", &["surface"]),
    ("aim", &["from_mm", "to_mm"]),
    ("camera", &["capture_fps", "readout_ms", "k1"]),
    (
        END_VIEW,
        &[
            "colour",
            "height_mm",
            "ahead_mm",
            "off_centre_mm",
            "capture_fps",
            "readout_ms",
            "k1",
        ],
    ),
    ("change", &["note"]),
];

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

/// Every table and key that a run sheet may have, in the order of the help of `measure`.
pub fn known_keys() -> impl Iterator<Item = (&'static str, &'static str)> {
    (TABLES.iter())
        .filter(|(table, _)| *table != TOP)
        .flat_map(|(table, keys)| keys.iter().map(move |key| (*table, *key)))
}

/// The keys of `table`; none for a table that no run sheet has.
pub(super) fn known(table: &str) -> &'static [&'static str] {
    TABLES
        .iter()
        .find(|(name, _)| *name == table)
        .map_or(&[], |(_, keys)| *keys)
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
    let nearest = keys
        .iter()
        .copied()
        .fold(("", -1.0), |best: (&str, f64), candidate| {
            let likeness = strsim::normalized_damerau_levenshtein(key, candidate);
            if likeness > best.1 {
                (candidate, likeness)
            } else {
                best
            }
        });
    (
        format!("the nearest known one is `{}`", nearest.0),
        format!("rename it or take it out; known here: {}", keys.join(", ")),
    )
}

/// The key of `table` that means the same as `key`, with what to know about its unit.
fn same_but_for_its_unit(table: &'static str, key: &str) -> Option<(&'static str, &'static str)> {
    let right = known(table)
        .iter()
        .copied()
        .find(|known| stem(known) == stem(key))?;
    let rule = match right.rsplit('_').next() {
        Some("mm") => "lengths here are millimetres",
        Some("g") => "masses here are grams",
        Some("ms") => "times here are milliseconds",
        Some("s") => "times in the clip are seconds",
        Some("deg") => "angles here are degrees",
        Some("px") => "places in the picture are pixels",
        Some("fps") => "rates here are frames per second",
        Some("share") => "shares here are fractions from 0 to 1",
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
    let mut homes = TABLES
        .iter()
        .filter(|(name, keys)| ![TOP, END_VIEW].contains(name) && keys.contains(&key));
    match (homes.next(), homes.next()) {
        (Some((home, _)), None) => Some(home),
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
        for (table, keys) in TABLES {
            for key in *keys {
                let same = keys.iter().filter(|other| stem(other) == stem(key)).count();
                // `at_px` and `at_s` are the one pair that only the unit tells apart.
                let expected = if stem(key) == "at" { 2 } else { 1 };
                assert_eq!(same, expected, "{key} in [{table}]");
            }
        }
    }
}
