//! What floor marks are called on the page: by the numbers on the printed kit's sheets where they lie on its plan, else
//! in their order.

use super::draft::{Part, typed_number};
use crate::sheet::kit::{self, FLOOR_MARK, FLOOR_PLAN_MM};

/// Marks on places of the kit's plan that make it the kit's plan: two or three may lie there by chance.
const MIN_ON_PLAN: usize = 4;
/// A tape measure's millimetre.
const SAME_PLACE_MM: f64 = 0.5;

/// Gives every floor mark its number. Numbers stay while places are typed, so that nothing changes its name under the
/// user's hands.
pub(super) fn number_floor_marks(marks: &mut [Part]) {
    let mut taken = [false; FLOOR_PLAN_MM.len()];
    let on_plan: Vec<Option<usize>> = marks
        .iter()
        .map(|mark| {
            place_on_plan(mark).filter(|&place| !std::mem::replace(&mut taken[place], true))
        })
        .collect();
    if on_plan.iter().flatten().count() < MIN_ON_PLAN {
        for (row, mark) in marks.iter_mut().enumerate() {
            mark.number = Some(row + 1);
        }
        return;
    }
    let mut beyond = FLOOR_PLAN_MM.len();
    for (mark, place) in marks.iter_mut().zip(on_plan) {
        let number = place.map_or_else(
            || {
                beyond += 1;
                beyond
            },
            |place| place + 1,
        );
        mark.number = Some(number);
    }
}

/// What the page calls the floor mark in a row.
pub(super) fn floor_mark_name(mark: &Part, row: usize) -> String {
    kit::floor_mark_name(mark.number.unwrap_or(row + 1))
}

/// Which place of the kit's plan a mark lies on.
fn place_on_plan(mark: &Part) -> Option<usize> {
    let colour = mark.text("colour");
    if !colour.is_empty() && colour != FLOOR_MARK.as_str() {
        return None;
    }
    let (x_mm, y_mm) = typed_number(mark.text("x_mm")).zip(typed_number(mark.text("y_mm")))?;
    FLOOR_PLAN_MM
        .iter()
        .position(|[x, y]| (x - x_mm).abs() < SAME_PLACE_MM && (y - y_mm).abs() < SAME_PLACE_MM)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn marks(places: &[[f64; 2]]) -> Vec<Part> {
        let mark = |[x, y]: &[f64; 2]| {
            Part::default()
                .with("colour", "blue")
                .with("x_mm", x.to_string())
                .with("y_mm", y.to_string())
        };
        places.iter().map(mark).collect()
    }

    fn names(mut marks: Vec<Part>) -> Vec<String> {
        number_floor_marks(&mut marks);
        let rows = marks.iter().enumerate();
        rows.map(|(row, mark)| floor_mark_name(mark, row)).collect()
    }

    #[test]
    fn marks_on_the_kits_plan_have_the_numbers_of_its_sheets() {
        // Page 4 of the kit: 1 and 2 to the right of the line, 3 and 4 to its left, 5 and 6 half-way.
        let laid = [
            [0.0, 300.0],
            [1000.0, -300.0],
            [2000.0, 300.0],
            [2000.0, -300.0],
        ];
        assert_eq!(names(marks(&laid)), ["F4", "F5", "F3", "F2"]);
    }

    #[test]
    fn a_mark_beside_the_plan_and_a_second_one_at_a_place_come_after_it() {
        let laid = [
            [0.0, 300.0],
            [70.0, 0.0],
            [0.0, -300.0],
            [2000.0, 300.0],
            [2000.0, -300.0],
            [0.0, 300.0],
        ];
        assert_eq!(names(marks(&laid)), ["F4", "F7", "F1", "F3", "F2", "F8"]);
    }

    #[test]
    fn other_marks_are_counted_in_their_order() {
        assert_eq!(
            names(marks(&[[0.0, 300.0], [0.0, -300.0], [2000.0, 300.0]])),
            ["F1", "F2", "F3"]
        );
        let mut red = marks(&[
            [2000.0, 300.0],
            [0.0, -300.0],
            [0.0, 300.0],
            [2000.0, -300.0],
        ]);
        for mark in &mut red {
            mark.texts.insert("colour".to_owned(), "red".to_owned());
        }
        assert_eq!(names(red), ["F1", "F2", "F3", "F4"]);
    }
}
