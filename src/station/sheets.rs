//! Run sheets of the class's cars: typed once on a phone, checked by the rules of the run sheet.

use super::names::note;
use crate::setup_page::{At, Draft, Fault, check, sheet_text};
use crate::sheet::RunSheet;
use serde::Deserialize;
use std::path::Path;
use toml_edit::{DocumentMut, Item, Table, value};

/// Fields of the car's form; everything else is left to the printed kit.
pub(super) const FIELDS: [&str; 10] = [
    "car.name",
    "car.wheel_diameter_mm",
    "car.axle_diameter_mm",
    "car.string_mm",
    "car.mass_g",
    "car.facing_side",
    "sticker.height_mm",
    "sticker.ahead_mm",
    "sticker.off_centre_mm",
    "wheel_mark.radius_mm",
];
/// Longest treatment and note of a change, in characters.
pub(super) const LONGEST_TREATMENT: usize = 40;
/// See [`LONGEST_TREATMENT`].
pub(super) const LONGEST_CHANGE: usize = 200;

/// A field that no form of ours has.
fn stranger(draft: &Draft) -> Option<String> {
    let parts = [
        ("car", Some(&draft.car)),
        ("sticker", Some(&draft.sticker)),
        ("wheel_mark", draft.wheel_mark.as_ref()),
    ];
    let keys = parts.into_iter().flat_map(|(table, part)| {
        let keys = part.into_iter().flat_map(|part| part.texts.keys());
        keys.map(move |key| format!("{table}.{key}"))
    });
    let more = draft.axle_mark.is_some() || !draft.floor_marks.is_empty();
    let more = more || !draft.more_wheel_marks.is_empty();
    let more = more
        || [&draft.aim, &draft.camera, &draft.end_view]
            .into_iter()
            .any(|part| !part.texts.is_empty());
    keys.into_iter()
        .find(|key| !FIELDS.contains(&key.as_str()))
        .or_else(|| more.then(|| "floor marks".to_owned()))
}

/// The sheet of a car as it was typed, or what is wrong with it.
pub(super) fn car_sheet(draft: &Draft) -> Result<String, Vec<Fault>> {
    let wrong = |field: &str, says: String| {
        vec![Fault {
            field: field.to_owned(),
            says,
            hint: "change it and save again".to_owned(),
        }]
    };
    if let Some(key) = stranger(draft) {
        return Err(wrong("", format!("no form of this page has `{key}`")));
    }
    if super::names::name(draft.car.text("name")).is_none() {
        return Err(wrong(
            "car.name",
            "the car has no name, or one of more than 40 letters".to_owned(),
        ));
    }
    // Measuring takes the kit's colours too where none is typed.
    let with_colours = draft.clone().with_kit_colours();
    let checked = check(None, &with_colours, Path::new("car"))
        .map_err(|error| wrong("", error.to_string()))?;
    if checked.sheet.is_none() || !checked.faults.is_empty() {
        return Err(checked.faults);
    }
    let sheet = sheet_text(None, draft).map_err(|error| wrong("", error.to_string()))?;
    Ok(sheet.text)
}

/// What was typed for a car, for its form.
pub(super) fn typed(sheet: &str) -> Draft {
    Draft::read(sheet).unwrap_or_default()
}

/// The sheet of one run: the car's, with the treatment and what was changed.
///
/// # Errors
/// What the sheet's rules say.
pub(super) fn run_sheet(car: &str, treatment: &str, change: &str) -> Result<String, String> {
    let mut doc: DocumentMut = car
        .parse()
        .map_err(|error: toml_edit::TomlError| error.to_string())?;
    let mut set = |table: &str, key: &str, text: String| {
        let table = doc.entry(table).or_insert(Item::Table(Table::new()));
        if let (Some(table), false) = (table.as_table_mut(), text.is_empty()) {
            table.insert(key, value(text));
        }
    };
    set("car", "treatment", note(treatment, LONGEST_TREATMENT));
    set("change", "note", note(change, LONGEST_CHANGE));
    if note(change, LONGEST_CHANGE).is_empty() {
        doc.remove("change");
    }
    let text = doc.to_string();
    RunSheet::parse(&text, Path::new("run.toml")).map_err(|error| error.to_string())?;
    Ok(text)
}

/// A mark as someone showed it on the phone.
#[derive(Debug, Clone, Default, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Shown {
    /// Its colour, by name.
    colour: Option<String>,
    /// Where it is in the upright picture, and when.
    at: Option<At>,
}

/// Marks that were shown in a clip in which they were not found.
#[derive(Debug, Clone, Default, PartialEq, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub(super) struct Marks {
    sticker: Shown,
    wheel_mark: Shown,
}

/// A run's sheet with the marks that were shown.
///
/// # Errors
/// What the sheet's rules say.
pub(super) fn with_marks(run: &str, marks: &Marks) -> Result<String, String> {
    let mut doc: DocumentMut =
        (run.parse()).map_err(|error: toml_edit::TomlError| error.to_string())?;
    for (name, shown) in [
        ("sticker", &marks.sticker),
        ("wheel_mark", &marks.wheel_mark),
    ] {
        if *shown == Shown::default() {
            continue;
        }
        let table = doc.entry(name).or_insert(Item::Table(Table::new()));
        let table = table
            .as_table_mut()
            .ok_or_else(|| format!("`{name}` is no table"))?;
        if let Some(colour) = &shown.colour {
            table.insert("colour", value(note(colour, LONGEST_TREATMENT)));
        }
        if let Some(at) = shown.at {
            let px: toml_edit::Array = [at.u_px, at.v_px].map(tenths).into_iter().collect();
            table.insert("at_px", value(px));
            table.insert("at_s", value((at.at_s * 1000.0).round() / 1000.0));
        }
    }
    let text = doc.to_string();
    RunSheet::parse(&text, Path::new("run.toml")).map_err(|error| error.to_string())?;
    Ok(text)
}

fn tenths(px: f64) -> f64 {
    (px * 10.0).round() / 10.0
}

#[cfg(test)]
#[allow(clippy::unwrap_used, reason = "tests fail by panicking")]
mod tests {
    use super::*;
    use crate::setup_page::Part;

    fn tern() -> Draft {
        Draft {
            car: Part::default()
                .with("name", "Tern")
                .with("wheel_diameter_mm", "96"),
            ..Draft::default()
        }
    }

    #[test]
    fn a_car_is_typed_once_and_every_run_says_its_treatment() {
        let car = car_sheet(&tern()).unwrap();
        assert_eq!(typed(&car).car.text("wheel_diameter_mm"), "96");
        let run = run_sheet(&car, "silicone \"bead\"\n[x]", "new string").unwrap();
        let sheet = RunSheet::parse(&run, Path::new("run.toml")).unwrap();
        assert_eq!(
            sheet.car.treatment.as_deref(),
            Some("silicone \"bead\" [x]")
        );
        assert_eq!(sheet.change_note.as_deref(), Some("new string"));
        assert_eq!(sheet.car.name.as_deref(), Some("Tern"));
        assert!(run_sheet(&car, "", "").is_ok());
    }

    #[test]
    fn marks_that_were_shown_go_into_the_run_s_sheet() {
        let run = run_sheet(&car_sheet(&tern()).unwrap(), "bare", "").unwrap();
        let marks = r#"{"sticker": {"colour": "cyan", "at": {"u_px": 100.04, "v_px": 50.0, "at_s": 0.25}},
                        "wheel_mark": {"colour": "yellow", "at": null}}"#;
        let marks: Marks = serde_json::from_str(marks).unwrap();
        let text = with_marks(&run, &marks).unwrap();
        assert!(text.contains("at_px = [100.0, 50.0]"), "{text}");
        let sheet = RunSheet::parse(&text, Path::new("run.toml")).unwrap();
        assert_eq!(sheet.sticker.colour.as_str(), "cyan");
        assert_eq!(with_marks(&run, &Marks::default()).unwrap(), run);
        let wrong: Marks =
            serde_json::from_str(r#"{"sticker": {"colour": "mauve", "at": null}}"#).unwrap();
        assert!(with_marks(&run, &wrong).unwrap_err().contains("mauve"));
    }

    #[test]
    fn what_is_wrong_is_told_by_its_field() {
        let mut wrong = tern();
        wrong.car = wrong.car.with("wheel_diameter_mm", "9x");
        assert_eq!(
            car_sheet(&wrong).unwrap_err()[0].field,
            "car.wheel_diameter_mm"
        );
        let nameless = Draft::default();
        assert_eq!(car_sheet(&nameless).unwrap_err()[0].field, "car.name");
        let mut strange = tern();
        strange.camera = Part::default().with("capture_fps", "240");
        assert!(car_sheet(&strange).is_err());
    }
}
