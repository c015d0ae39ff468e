//! What a draft still lacks, the most useful first, each with the one thing to do.

use super::draft::{Draft, Part};
use super::numbering::floor_mark_name;
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

/// A size of the car: field, what to do, what it gives.
const SIZES: &[(&str, &str, &str)] = &[
    (
        "car.wheel_diameter_mm",
        "Measure the wheel diameter of the driven wheels.",
        "how fast the rim turns, and where the hub is",
    ),
    (
        "sticker.height_mm",
        "Measure the sticker height, from the floor up to its middle.",
        "true distances; with a guess they are all less sure",
    ),
    (
        "sticker.ahead_mm",
        "Measure how far the sticker is ahead of the driven axle.",
        "where the wheel is",
    ),
    (
        "car.track_width_mm",
        "Measure the track width, outer face to outer face of the driven wheels.",
        "how far the wheel is from the camera",
    ),
    (
        "sticker.off_centre_mm",
        "Measure the sticker's side offset, from the car's middle to the sticker.",
        "how far the car moves sideways",
    ),
    (
        "car.facing_side",
        "Say which side of the car faced the camera.",
        "which way is left",
    ),
    (
        "car.wheelbase_mm",
        "Measure the wheelbase, from axle to axle.",
        "how far an axle is turned when the car curves",
    ),
];

/// Collects what is missing.
#[derive(Default)]
struct List(Vec<Missing>);

impl List {
    fn add(&mut self, needed: bool, field: &'static str, does: &str, gives: &'static str) {
        self.0.push(Missing {
            needed,
            field,
            does: does.to_owned(),
            gives,
        });
    }
}

const SIDEWAYS: &str = "how far the car moves sideways, and true distances";

/// What is missing.
pub(super) fn missing(draft: &Draft, preview: Option<&Preview>) -> Vec<Missing> {
    let mut out = List::default();
    if draft.sticker.text("colour").is_empty() {
        let does = "Say which patch is the sticker on the car.";
        out.add(true, "marks", does, "anything at all");
    }
    floor_marks(&mut out, draft, preview);
    let wheel = draft.wheel_mark.as_ref();
    if wheel.is_none_or(|mark| mark.text("colour").is_empty()) {
        let does = "Say which patch is the mark on the driven wheel.";
        out.add(false, "marks", does, "wheel slip");
    }
    for (field, does, gives) in SIZES {
        if draft.text(field).is_empty() {
            out.add(false, field, does, gives);
        }
    }
    if draft.aim.is_blank() {
        let gives = "how far the car drifts; without it the line is straight down the track";
        out.add(
            false,
            "aim.from_x_mm",
            "Say where the car should have gone.",
            gives,
        );
    }
    let unsaid = |key| draft.car.text(key).is_empty();
    let slips = "whether the string slips on its axle";
    if unsaid("axle_diameter_mm") || unsaid("string_mm") {
        let does = "Measure the bare axle's diameter and the string, with the spring unwound.";
        out.add(false, "car.axle_diameter_mm", does, slips);
    } else if unsaid("string_diameter_mm") {
        let does = "Measure how thick the string is: ten turns side by side, divided by ten.";
        out.add(false, "car.string_diameter_mm", does, slips);
    }
    out.0
}

fn floor_marks(out: &mut List, draft: &Draft, preview: Option<&Preview>) {
    let unplaced = |mark: &Part| mark.text("x_mm").is_empty() || mark.text("y_mm").is_empty();
    let rows = draft.floor_marks.iter().enumerate();
    let half: Vec<String> = rows
        .filter(|(_, mark)| unplaced(mark))
        .map(|(row, mark)| floor_mark_name(mark, row))
        .collect();
    if !half.is_empty() {
        let does = match half.as_slice() {
            [one] => format!("Type x and y of floor mark {one}, or remove it if it is not one."),
            more => format!(
                "Type x and y of floor marks {}, or remove marks that are not floor marks.",
                more.join(", ")
            ),
        };
        out.add(true, "floor", &does, "their places on the floor");
    }
    let named = draft.floor_marks.len();
    let whole = named - half.len();
    if named < 4 {
        let more = if named == 3 {
            "one more floor mark"
        } else {
            "four floor marks or more"
        };
        let does = format!("Point out {more}, not all in one line.");
        out.add(false, "floor", &does, SIDEWAYS);
    } else if half.is_empty() && preview.is_some_and(|preview| !preview.sideways) {
        let does = "Look at the floor marks again: no four of them fit their numbers.";
        out.add(false, "floor", does, SIDEWAYS);
    } else if whole == 4 && named == 4 {
        out.add(
            false,
            "floor",
            "Lay a fifth floor mark and point it out.",
            "a check on the other four",
        );
    }
}
