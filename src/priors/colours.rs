//! What the run sheet's colours are worth together.

use crate::colour::{Closeness, Colour, closeness, farthest_from};
use crate::sheet::RunSheet;

/// One note for each pair of marks whose colours are too near each other.
///
/// Floor marks may have the sticker's colour: they lie still, and it does not.
pub fn colour_notes(sheet: &RunSheet) -> Vec<String> {
    let marks = marks(sheet);
    let used: Vec<Colour> = marks.iter().map(|(_, colour)| *colour).collect();
    let mut notes = Vec::new();
    for (i, (name, colour)) in marks.iter().enumerate() {
        for (other_name, other) in &marks[i + 1..] {
            let alike = match closeness(*colour, *other) {
                Closeness::Apart { .. } => continue,
                Closeness::Same if name == other_name || is_floor(other_name) => continue,
                Closeness::Same => format!("the {name} and the {other_name} are both {colour}"),
                Closeness::TooNear { apart_deg } => format!(
                    "the {name} is {colour} and the {other_name} {other}, colours {apart_deg:.0} \
                     degrees apart where lamps and paints ask for 40"
                ),
            };
            let others: Vec<Colour> = used.iter().copied().filter(|c| c != other).collect();
            let better = farthest_from(&others);
            notes.push(format!(
                "{alike}: one may be taken for the other; {better} would be better for the {other_name}"
            ));
        }
    }
    notes
}

const FLOOR: &str = "floor mark";

fn is_floor(name: &str) -> bool {
    name == FLOOR
}

/// What has a colour, each pair of name and colour once.
fn marks(sheet: &RunSheet) -> Vec<(&'static str, Colour)> {
    let mut marks = vec![("sticker", sheet.sticker.colour)];
    marks.extend(sheet.wheel_marks.iter().map(|m| ("wheel mark", m.colour)));
    marks.extend(sheet.axle_mark.iter().map(|m| ("axle mark", m.colour)));
    marks.extend(sheet.floor_marks.iter().map(|m| (FLOOR, m.colour)));
    let mut once: Vec<(&'static str, Colour)> = Vec::new();
    for mark in marks {
        if !once.contains(&mark) {
            once.push(mark);
        }
    }
    once
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::path::Path;

    fn notes(sticker: &str, wheel: &str, floor: &str) -> Vec<String> {
        let text = format!(
            "[sticker]\ncolour = '{sticker}'\n[wheel_mark]\ncolour = '{wheel}'\n\
             [[floor_mark]]\ncolour = '{floor}'\nx_mm = 0\ny_mm = 0\n"
        );
        let sheet = RunSheet::parse(&text, Path::new("run.toml"));
        colour_notes(&sheet.expect("a sheet"))
    }

    #[test]
    fn colours_far_apart_need_no_word() {
        assert_eq!(notes("magenta", "green", "blue"), Vec::<String>::new());
        assert_eq!(notes("blue", "green", "blue"), Vec::<String>::new());
    }

    #[test]
    fn a_near_pair_is_named_with_a_better_colour() {
        let notes = notes("red", "orange", "blue");
        assert_eq!(notes.len(), 1, "{notes:?}");
        assert!(notes[0].contains("sticker is red and the wheel mark orange"));
        assert!(
            notes[0].contains("green would be better for the wheel mark"),
            "{notes:?}"
        );
    }

    #[test]
    fn a_wheel_mark_in_the_stickers_colour_is_named() {
        let notes = notes("green", "green", "blue");
        assert_eq!(notes.len(), 1, "{notes:?}");
        assert!(notes[0].contains("are both green"), "{notes:?}");
    }
}
