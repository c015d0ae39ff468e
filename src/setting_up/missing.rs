//! What a draft still lacks, the most useful first, each with the one thing to do.

use super::draft::{Draft, Part};
use super::preview::Preview;
use serde::Serialize;

/// Something that is missing.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub(super) struct Missing {
    /// Whether nothing can be measured without it.
    pub needed: bool,
    /// Field of the page to go to.
    pub field: &'static str,
    /// The one thing to do.
    pub does: String,
    /// What it is good for.
    pub gives: &'static str,
}

/// A size of the car: table, key, field, what to do, what it gives.
const SIZES: &[(&str, &str, &str, &str, &str)] = &[
    (
        "car",
        "wheel_diameter_mm",
        "car.wheel_diameter_mm",
        "Measure the driven wheel's diameter.",
        "the speed of its rim, and where its hub is",
    ),
    (
        "sticker",
        "height_mm",
        "sticker.height_mm",
        "Measure how high the sticker's middle is above the floor.",
        "a right scale: a guess widens every length",
    ),
    (
        "sticker",
        "ahead_mm",
        "sticker.ahead_mm",
        "Measure how far the sticker is ahead of the driven axle.",
        "where the wheel is",
    ),
    (
        "car",
        "track_width_mm",
        "car.track_width_mm",
        "Measure across the driven wheels, outer face to outer face.",
        "the distance of the wheel from the camera",
    ),
    (
        "sticker",
        "off_centre_mm",
        "sticker.off_centre_mm",
        "Measure how far the sticker is from the car's centre line.",
        "the way sideways",
    ),
    (
        "car",
        "facing_side",
        "car.facing_side",
        "Say which side of the car faced the camera.",
        "left and right",
    ),
    (
        "car",
        "wheelbase_mm",
        "car.wheelbase_mm",
        "Measure from axle to axle.",
        "how far an axle is askew when the car curves",
    ),
];

/// What is missing.
pub(super) fn missing(draft: &Draft, preview: Option<&Preview>) -> Vec<Missing> {
    let mut out = Vec::new();
    let mut add = |needed: bool, field: &'static str, does: String, gives: &'static str| {
        out.push(Missing {
            needed,
            field,
            does,
            gives,
        });
    };
    if draft.sticker.text("colour").is_empty() {
        add(
            true,
            "marks",
            "Say which patch is the sticker on the body.".into(),
            "anything at all",
        );
    }
    let half: Vec<String> = draft
        .floor_marks
        .iter()
        .enumerate()
        .filter(|(_, mark)| mark.text("x_mm").is_empty() || mark.text("y_mm").is_empty())
        .map(|(row, _)| format!("F{}", row + 1))
        .collect();
    if !half.is_empty() {
        let which = if half.len() == 1 {
            "floor mark"
        } else {
            "floor marks"
        };
        let does = format!(
            "Type x and y of {which} {}, or take them out.",
            half.join(", ")
        );
        add(true, "floor", does, "their places on the floor");
    }
    let whole = draft.floor_marks.len() - half.len();
    if whole < 4 {
        let does = format!(
            "Name {} more floor marks that are not all in a line.",
            4 - whole
        );
        add(
            false,
            "floor",
            does,
            "the way sideways, drift and a scale without parallax",
        );
    } else if preview.is_some_and(|preview| !preview.sideways) && half.is_empty() {
        let does = "Look at the floor marks again: no four of them fit their numbers.".into();
        add(
            false,
            "floor",
            does,
            "the way sideways, drift and a scale without parallax",
        );
    } else if whole == 4 {
        add(
            false,
            "floor",
            "Lay and name a fifth floor mark.".into(),
            "a check on the other four",
        );
    }
    if draft
        .wheel_mark
        .as_ref()
        .is_none_or(|mark| mark.text("colour").is_empty())
    {
        add(
            false,
            "marks",
            "Say which patch is the mark on the driven wheel.".into(),
            "wheel slip",
        );
    }
    let part = |table: &str| -> &Part {
        if table == "car" {
            &draft.car
        } else {
            &draft.sticker
        }
    };
    for (table, key, field, does, gives) in SIZES {
        if part(table).text(key).is_empty() {
            add(false, field, (*does).into(), gives);
        }
    }
    if draft.aim.is_blank() {
        add(
            false,
            "aim.from_x_mm",
            "Say where the car should have gone.".into(),
            "drift: without it the x of the floor marks is taken",
        );
    }
    if draft.car.text("axle_diameter_mm").is_empty() || draft.car.text("string_mm").is_empty() {
        let does = "Measure the axle's diameter and the string, spring unwound.".into();
        add(
            false,
            "car.axle_diameter_mm",
            does,
            "whether the string slips on its axle",
        );
    }
    out
}
