//! Holds what was typed against the rules of the run sheet, and says which field of the page is wrong.

use super::WriteSheetError;
use super::draft::{Draft, Part};
use super::writing::{NoNumber, sheet_text};
use crate::outputs::printable;
use crate::sheet::{RunSheet, SheetError};
use serde::Serialize;
use std::path::Path;

/// Something wrong with what was typed.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Fault {
    /// Name of the field on the page; empty where it concerns none.
    pub field: String,
    /// What is wrong.
    pub says: String,
    /// What to do about it.
    pub hint: String,
}

/// A draft as far as it is a run sheet.
#[derive(Debug, Clone, PartialEq)]
pub struct Checked {
    /// The sheet, without what is wrong; `None` where too little is left.
    pub sheet: Option<RunSheet>,
    /// For each floor mark of the sheet, which of the draft's it is.
    pub rows: Vec<usize>,
    /// What is wrong.
    pub faults: Vec<Fault>,
}

/// Rounds of taking out what is wrong; each takes out one field at least.
const MOST_ROUNDS: usize = 40;

/// Checks a draft. `base` is what is on disk, since what the page does not know of counts too.
///
/// # Errors
/// Where `base` is not TOML.
pub fn check(base: Option<&str>, draft: &Draft, path: &Path) -> Result<Checked, WriteSheetError> {
    let mut sieve = Sieve::new(draft);
    for _ in 0..MOST_ROUNDS {
        let no_numbers = sheet_text(base, &sieve.draft)?.no_numbers;
        sieve.take_out_no_numbers(no_numbers);
        let text = sheet_text(base, &sieve.draft)?.text;
        if sieve.draft.sticker.text("colour").is_empty() {
            break;
        }
        let goes_on = match RunSheet::parse(&text, path) {
            Ok(sheet) => return Ok(sieve.checked(Some(sheet))),
            Err(error) => sieve.take_out_wrong(&error, &text),
        };
        if !goes_on {
            break;
        }
    }
    Ok(sieve.checked(None))
}

/// A draft while what is wrong is taken out of it.
struct Sieve {
    draft: Draft,
    rows: Rows,
    faults: Vec<Fault>,
}

impl Sieve {
    /// A draft without floor marks that are not typed in full yet, which is no fault.
    fn new(draft: &Draft) -> Self {
        let mut draft = draft.clone();
        let complete = |part: &Part| {
            ["colour", "x_mm", "y_mm"]
                .iter()
                .all(|key| !part.text(key).is_empty())
        };
        let mut rows: Vec<usize> = (0..draft.floor_marks.len()).collect();
        rows.retain(|&row| complete(&draft.floor_marks[row]));
        draft.floor_marks.retain(complete);
        let rows = Rows {
            floor: rows,
            more_wheel: (0..draft.more_wheel_marks.len()).collect(),
        };
        Self {
            draft,
            rows,
            faults: Vec::new(),
        }
    }

    /// Takes out fields that hold no numbers, and whole floor marks that have one.
    fn take_out_no_numbers(&mut self, no_numbers: Vec<NoNumber>) {
        let mut spoilt_rows = Vec::new();
        for wrong in no_numbers {
            let place = Place::of_field(&wrong.field);
            self.faults.push(Fault {
                field: place.on_page(&self.rows),
                says: if wrong.typed.is_empty() {
                    "this number is missing".into()
                } else {
                    format!(
                        "\u{201c}{}\u{201d} is not a number",
                        printable(&wrong.typed)
                    )
                },
                hint: "type a plain number such as 110 or 110.5, without its unit".into(),
            });
            if place.table == "floor_mark" {
                spoilt_rows.push(place.index);
            } else {
                place.clear(&mut self.draft, &mut self.rows);
            }
        }
        spoilt_rows.dedup();
        for row in spoilt_rows.into_iter().rev() {
            self.draft.floor_marks.remove(row);
            self.rows.floor.remove(row);
        }
    }

    /// Takes out what a sheet's text is refused for; whether there was such a field.
    fn take_out_wrong(&mut self, error: &SheetError, text: &str) -> bool {
        let place = error
            .line()
            .map_or_else(Place::default, |line| Place::of_line(text, line));
        self.faults.push(Fault {
            field: place.on_page(&self.rows),
            says: error.problem().to_string(),
            hint: error.hint(),
        });
        place.clear(&mut self.draft, &mut self.rows)
    }

    /// What was found, with the sheet that is left.
    fn checked(self, sheet: Option<RunSheet>) -> Checked {
        Checked {
            sheet,
            rows: self.rows.floor,
            faults: self.faults,
        }
    }
}

/// Which of the page's marks those are that are left, by their places in its lists.
struct Rows {
    floor: Vec<usize>,
    more_wheel: Vec<usize>,
}

/// A place in the sheet: table, which one of a list, and key.
#[derive(Debug, Default, PartialEq)]
struct Place {
    table: String,
    index: usize,
    key: String,
}

impl Place {
    fn of_field(field: &str) -> Self {
        let parts: Vec<&str> = field.split('.').collect();
        Self {
            table: parts.first().copied().unwrap_or_default().to_owned(),
            index: if parts.len() > 2 {
                parts[1].parse().unwrap_or_default()
            } else {
                0
            },
            key: parts.last().copied().unwrap_or_default().to_owned(),
        }
    }

    /// The place at a line (from 1) of a sheet with its tables under headers, as sheets are written.
    fn of_line(text: &str, line: usize) -> Self {
        let mut place = Self::default();
        let mut headers: Vec<String> = Vec::new();
        for row in text.lines().take(line) {
            let row = row.trim();
            if let Some(header) = row.strip_prefix('[') {
                let name = header
                    .trim_start_matches('[')
                    .split(']')
                    .next()
                    .unwrap_or_default()
                    .trim();
                place = Self {
                    table: name.to_owned(),
                    index: headers.iter().filter(|header| *header == name).count(),
                    key: String::new(),
                };
                headers.push(name.to_owned());
            } else if let Some((key, _)) = row.split_once('=')
                && !row.starts_with('#')
            {
                key.trim().clone_into(&mut place.key);
            }
        }
        place
    }

    /// The page's name for the place; empty where the page has no such field.
    fn on_page(&self, rows: &Rows) -> String {
        match self.table.as_str() {
            "floor_mark" => {
                let row = rows.floor.get(self.index).copied().unwrap_or(self.index);
                format!("floor_mark.{row}.{}", self.key)
            }
            "wheel_mark" if self.index > 0 => {
                let own = self.index - 1;
                let row = rows.more_wheel.get(own).copied().unwrap_or(own);
                format!("more_wheel_marks.{row}.{}", self.key)
            }
            "aim" if self.key == "from_mm" => "aim.from_x_mm".into(),
            "aim" if self.key == "to_mm" || self.key.is_empty() => "aim.to_x_mm".into(),
            "" => String::new(),
            table => format!("{table}.{}", self.key),
        }
    }

    /// Whether a mark is nothing without what stands there.
    fn is_whole_mark(&self) -> bool {
        self.key == "colour" || self.key.is_empty()
    }

    /// Takes the place's text out of the draft; whether there was one.
    fn clear(&self, draft: &mut Draft, rows: &mut Rows) -> bool {
        let part = match self.table.as_str() {
            "floor_mark" if self.index < draft.floor_marks.len() => {
                draft.floor_marks.remove(self.index);
                rows.floor.remove(self.index);
                return true;
            }
            "wheel_mark" if self.index > draft.more_wheel_marks.len() => return false,
            "wheel_mark" if self.index > 0 && self.is_whole_mark() => {
                draft.more_wheel_marks.remove(self.index - 1);
                rows.more_wheel.remove(self.index - 1);
                return true;
            }
            "wheel_mark" if self.index > 0 => &mut draft.more_wheel_marks[self.index - 1],
            "aim" => {
                let had = !draft.aim.texts.is_empty();
                draft.aim = Part::default();
                return had;
            }
            "car" => &mut draft.car,
            "sticker" => &mut draft.sticker,
            "camera" => &mut draft.camera,
            "end_view" => &mut draft.end_view,
            "wheel_mark" if self.is_whole_mark() => return draft.wheel_mark.take().is_some(),
            "axle_mark" => return draft.axle_mark.take().is_some(),
            "wheel_mark" => match &mut draft.wheel_mark {
                Some(part) => part,
                None => return false,
            },
            _ => return false,
        };
        if matches!(self.key.as_str(), "at_px" | "at_s") {
            return part.at.take().is_some();
        }
        part.texts
            .remove(&self.key)
            .is_some_and(|text| !text.is_empty())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn draft() -> Draft {
        let mark = |x: &str, y: &str| {
            Part::default()
                .with("colour", "blue")
                .with("x_mm", x)
                .with("y_mm", y)
        };
        Draft {
            sticker: Part::default()
                .with("colour", "magenta")
                .with("height_mm", "70"),
            floor_marks: vec![mark("0", "-300"), mark("", "300"), mark("2000", "300")],
            ..Draft::default()
        }
    }

    fn checked(draft: &Draft) -> Checked {
        check(None, draft, Path::new("run.toml")).unwrap()
    }

    #[test]
    fn half_typed_floor_marks_wait_for_their_numbers() {
        let checked = checked(&draft());
        assert_eq!(checked.rows, [0, 2]);
        assert_eq!(checked.faults, []);
        assert_eq!(checked.sheet.map(|sheet| sheet.floor_marks.len()), Some(2));
    }

    #[test]
    fn every_wrong_field_is_named_and_the_rest_is_kept() {
        let mut draft = draft();
        draft.car = Part::default()
            .with("wheel_diameter_mm", "0.11")
            .with("wheelbase_mm", "24o");
        draft.floor_marks[2] = draft.floor_marks[2].clone().with("y_mm", "three");
        let checked = checked(&draft);
        let fields: Vec<&str> = checked
            .faults
            .iter()
            .map(|fault| fault.field.as_str())
            .collect();
        assert_eq!(
            fields,
            [
                "car.wheelbase_mm",
                "floor_mark.2.y_mm",
                "car.wheel_diameter_mm"
            ]
        );
        assert!(
            checked.faults[2].says.contains("looks like metres"),
            "{:?}",
            checked.faults[2]
        );
        let sheet = checked.sheet.unwrap();
        assert_eq!(sheet.sticker.height_m, Some(0.07));
        assert_eq!((checked.rows, sheet.floor_marks.len()), (vec![0], 1));
    }

    #[test]
    fn a_second_wheel_mark_is_named_by_its_own_place() {
        let mark = |colour: &str| Part::default().with("colour", colour);
        let mut draft = draft();
        draft.wheel_mark = Some(mark("green"));
        draft.more_wheel_marks = ["yellow", "green", "cyan"].map(mark).to_vec();
        let checked = checked(&draft);
        let fields: Vec<&str> = checked.faults.iter().map(|f| f.field.as_str()).collect();
        assert_eq!(fields, ["more_wheel_marks.1.colour"]);
        assert!(
            checked.faults[0].says.contains("green"),
            "{:?}",
            checked.faults
        );
        let left = checked.sheet.unwrap().wheel_marks;
        let colours: Vec<&str> = left.iter().map(|mark| mark.colour.as_str()).collect();
        assert_eq!(colours, ["green", "yellow", "cyan"]);
    }

    #[test]
    fn without_a_sticker_there_is_no_sheet_and_no_fault() {
        let mut draft = draft();
        draft.sticker = Part::default();
        let checked = checked(&draft);
        assert_eq!((checked.sheet, checked.faults), (None, Vec::new()));
    }
}
