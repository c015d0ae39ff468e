//! Whether phone and floor marks stayed where they were from one run to another.

use super::reading::Run;
use serde_json::Value;

/// Floor marks that a camera's place takes; with fewer it is not known.
const FEWEST_MARKS: usize = 4;
/// A mark seen this near to its place in another clip is the same mark seen from the same place, as a share of
/// the picture's width: 1 px of 640. Marks are found to a tenth of that; a phone that was taken away and put
/// back, or a mark laid anew, misses it by far more. A judgement, no source.
const SAME_PLACE: f64 = 1.0 / 640.0;

/// The marks' places in the picture; `None` where they are too few to tell a camera's place.
pub(super) fn place_in_picture(marks: Vec<Option<[f64; 2]>>) -> Option<Vec<Option<[f64; 2]>>> {
    (marks.iter().flatten().count() >= FEWEST_MARKS).then_some(marks)
}

impl Run {
    /// Whether phone and floor marks stayed where they were from one of two runs to the other: the same marks on
    /// both sheets, seen at the same places of the picture.
    pub fn filmed_at_one_place_as(&self, other: &Self) -> bool {
        let (Some(marks), Some(others)) = (&self.marks_at_px, &other.marks_at_px) else {
            return false;
        };
        let Some([width, _]) = self
            .picture_px
            .filter(|_| self.picture_px == other.picture_px)
        else {
            return false;
        };
        let mut both = 0;
        for (one, other) in marks.iter().zip(others) {
            if let (Some([u, v]), Some([x, y])) = (one, other) {
                if (u - x).hypot(v - y) > SAME_PLACE * width {
                    return false;
                }
                both += 1;
            }
        }
        both >= FEWEST_MARKS && self.set_up == other.set_up
    }
}

/// Floor marks, line and side of a sheet as text: two runs with the same were filmed at one set-up.
pub(super) fn set_up(sheet: &Value) -> Option<String> {
    let mut marks = sheet.get("floor_mark")?.clone();
    for mark in marks.as_array_mut().into_iter().flatten() {
        if let Some(mark) = mark.as_object_mut() {
            // Where someone pointed is not where the mark lies.
            mark.remove("at_px");
            mark.remove("at_s");
        }
    }
    let side = sheet.get("car").and_then(|car| car.get("facing_side"));
    Some(format!("{marks}{:?}{side:?}", sheet.get("aim")))
}
