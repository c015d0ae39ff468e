//! What the run sheet's colours are worth together.

use crate::colour::{Closeness, Colour, closeness, farthest_from};
use crate::sheet::RunSheet;
use crate::texts::Note;

/// One note for each pair of marks whose colours are too near each other.
///
/// Floor marks may have the sticker's colour: they lie still, and it does not.
pub fn colour_notes(sheet: &RunSheet) -> Vec<Note> {
    let marks = marks(sheet);
    let used: Vec<Colour> = marks.iter().map(|(_, colour)| *colour).collect();
    let mut notes = Vec::new();
    for (i, (mark, colour)) in marks.iter().enumerate() {
        for (other_mark, other) in &marks[i + 1..] {
            let near = match closeness(*colour, *other) {
                Closeness::Apart { .. } => continue,
                Closeness::Same if mark == other_mark || is_floor(other_mark) => continue,
                Closeness::Same => Note::new("doubt-same-colour"),
                Closeness::TooNear { apart_deg } => Note::new("doubt-near-colour")
                    .text("othercolour", other.text_id())
                    .number("apart", apart_deg, 0),
            };
            let others: Vec<Colour> = used.iter().copied().filter(|c| c != other).collect();
            let near = near
                .text("mark", *mark)
                .text("colour", colour.text_id())
                .text("other", *other_mark)
                .text("better", farthest_from(&others).text_id());
            notes.push(near);
        }
    }
    notes
}

const FLOOR: &str = "mark-floor";

fn is_floor(name: &str) -> bool {
    name == FLOOR
}

/// What has a colour, each pair of its text and colour once.
fn marks(sheet: &RunSheet) -> Vec<(&'static str, Colour)> {
    let mut marks = vec![("mark-sticker", sheet.sticker.colour)];
    marks.extend(sheet.wheel_marks.iter().map(|m| ("mark-wheel", m.colour)));
    marks.extend(sheet.axle_mark.iter().map(|m| ("mark-axle", m.colour)));
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
        let notes = colour_notes(&sheet.expect("a sheet"));
        notes.iter().map(Note::to_string).collect()
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
