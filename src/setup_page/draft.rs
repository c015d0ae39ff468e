//! What is typed and pointed on the page, as text: the run sheet before anybody has checked it.

use super::WriteSheetError;
use super::numbering::number_floor_marks;
use crate::sheet::{TABLES, Table, kit, table_named};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use toml_edit::{DocumentMut, Item, TableLike, Value};

/// Keys and what was typed for them; an empty text says nothing.
pub type Texts = BTreeMap<String, String>;

/// A place in the upright picture of one frame.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct At {
    /// Column, px; the centre of the top-left pixel is 0.
    pub u_px: f64,
    /// Row, px.
    pub v_px: f64,
    /// Seconds in the file since the first frame.
    pub at_s: f64,
}

/// One table of the sheet.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Part {
    /// What was typed.
    pub texts: Texts,
    /// Where someone pointed at the mark.
    pub at: Option<At>,
    /// For a floor mark or a wheel mark: which one of the sheet on disk it is, counted from 0.
    pub from: Option<usize>,
    /// For a floor mark: what number the page calls it by.
    pub number: Option<usize>,
}

/// The whole sheet as the page holds it.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Draft {
    /// `[car]`.
    pub car: Part,
    /// `[sticker]`.
    pub sticker: Part,
    /// `[wheel_mark]`, the first one.
    pub wheel_mark: Option<Part>,
    /// Further ones on the same wheel, each in a colour of its own: the rest of `[[wheel_mark]]`.
    pub more_wheel_marks: Vec<Part>,
    /// `[axle_mark]`.
    pub axle_mark: Option<Part>,
    /// `[[floor_mark]]`.
    pub floor_marks: Vec<Part>,
    /// `[aim]`, with its two places taken apart: `from_x_mm`, `from_y_mm`, `to_x_mm`, `to_y_mm`.
    pub aim: Part,
    /// `[camera]`.
    pub camera: Part,
    /// `[end_view]`.
    pub end_view: Part,
}

/// The aim line's two places, and what the page calls their coordinates.
pub(super) const AIM: [(&str, [&str; 2]); 2] = [
    ("from_mm", ["from_x_mm", "from_y_mm"]),
    ("to_mm", ["to_x_mm", "to_y_mm"]),
];

impl Part {
    /// A part that says one thing.
    #[must_use]
    pub fn with(mut self, key: &str, text: impl Into<String>) -> Self {
        self.texts.insert(key.to_owned(), text.into());
        self
    }

    /// What was typed for a key, without spaces around it.
    pub fn text(&self, key: &str) -> &str {
        self.texts.get(key).map_or("", |text| text.trim())
    }

    pub(super) fn is_blank(&self) -> bool {
        self.texts.values().all(|text| text.trim().is_empty()) && self.at.is_none()
    }
}

impl Draft {
    /// The part of a table that stands once, if the page has it.
    pub(super) fn single(&self, table: &str) -> Option<&Part> {
        match table {
            "car" => Some(&self.car),
            "sticker" => Some(&self.sticker),
            "wheel_mark" => self.wheel_mark.as_ref(),
            "axle_mark" => self.axle_mark.as_ref(),
            "aim" => Some(&self.aim),
            "camera" => Some(&self.camera),
            "end_view" => Some(&self.end_view),
            _ => None,
        }
    }

    /// What was typed for a key, by its full name such as `car.mass_g`.
    pub(super) fn text(&self, field: &str) -> &str {
        let (table, key) = field.split_once('.').unwrap_or_default();
        self.single(table).map_or("", |part| part.text(key))
    }

    /// The first key that no page of ours sends.
    pub(super) fn stranger(&self) -> Option<String> {
        let single = |table: &'static Table| self.single(table.name).map(|part| (table, part));
        let lists = [
            ("floor_mark", &self.floor_marks),
            ("wheel_mark", &self.more_wheel_marks),
        ];
        let listed = lists.into_iter().flat_map(|(name, parts)| {
            let table = table_named(name).into_iter();
            table.flat_map(move |table| parts.iter().map(move |part| (table, part)))
        });
        let all = TABLES.iter().filter_map(single).chain(listed);
        all.flat_map(|(table, part)| part.texts.keys().map(move |key| (table, key)))
            .find(|(table, key)| !has_field(table, key))
            .map(|(table, key)| format!("{}.{key}", table.name))
    }

    /// The same with the printed kit's colours where a mark has none: measuring takes those too.
    #[must_use]
    pub(crate) fn with_kit_colours(mut self) -> Self {
        let floor = self
            .floor_marks
            .iter_mut()
            .map(|part| (part, kit::FLOOR_MARK));
        let parts = [(&mut self.sticker, kit::STICKER)];
        let wheel = self
            .wheel_mark
            .iter_mut()
            .map(|part| (part, kit::WHEEL_MARK));
        let axle = self.axle_mark.iter_mut().map(|part| (part, kit::AXLE_MARK));
        for (part, colour) in parts.into_iter().chain(wheel).chain(axle).chain(floor) {
            if part.text("colour").is_empty() {
                part.texts
                    .insert("colour".to_owned(), colour.as_str().to_owned());
            }
        }
        self
    }

    /// What the sheet on disk says.
    ///
    /// # Errors
    /// [`WriteSheetError::Syntax`] where it is not TOML.
    pub fn read(text: &str) -> Result<Self, WriteSheetError> {
        let doc: DocumentMut = text.parse()?;
        let parts = |name: &str| -> Vec<Part> {
            let found = elements(doc.get(name)).into_iter().enumerate();
            found
                .map(|(at, table)| read_part(name, table, at))
                .collect()
        };
        let part = |name: &str| parts(name).into_iter().next();
        let mut wheel_marks = parts("wheel_mark").into_iter();
        let mut floor_marks = parts("floor_mark");
        number_floor_marks(&mut floor_marks);
        Ok(Self {
            car: part("car").unwrap_or_default(),
            sticker: part("sticker").unwrap_or_default(),
            wheel_mark: wheel_marks.next(),
            more_wheel_marks: wheel_marks.collect(),
            axle_mark: part("axle_mark"),
            floor_marks,
            aim: elements(doc.get("aim"))
                .first()
                .map(|t| read_aim(*t))
                .unwrap_or_default(),
            camera: part("camera").unwrap_or_default(),
            end_view: part("end_view").unwrap_or_default(),
        })
    }
}

/// The tables under an item: none, one, or one for each element of a list, however it is written.
fn elements(item: Option<&Item>) -> Vec<&dyn TableLike> {
    match item {
        Some(Item::ArrayOfTables(list)) => list.iter().map(|t| t as &dyn TableLike).collect(),
        Some(Item::Value(Value::Array(list))) => list
            .iter()
            .filter_map(|value| value.as_inline_table().map(|t| t as &dyn TableLike))
            .collect(),
        Some(item) => item.as_table_like().into_iter().collect(),
        None => Vec::new(),
    }
}

/// Whether the page has a field for a key; the aim line's places are taken apart.
fn has_field(table: &Table, key: &str) -> bool {
    if table.name == "aim" {
        return AIM.iter().any(|(_, names)| names.contains(&key));
    }
    table.typed().any(|own| own.name == key)
}

/// A table of the sheet on disk, which is number `at` of its name.
fn read_part(name: &str, from: &dyn TableLike, at: usize) -> Part {
    let keys = table_named(name).into_iter().flat_map(Table::typed);
    let said = keys.filter_map(|key| {
        let text = value_text(from.get(key.name)?.as_value()?);
        Some((key.name.to_owned(), text))
    });
    let pair = from.get("at_px").and_then(pair_of);
    Part {
        texts: said.collect(),
        at: pair.map(|[u_px, v_px]| At {
            u_px,
            v_px,
            at_s: from
                .get("at_s")
                .and_then(Item::as_value)
                .and_then(number_of)
                .unwrap_or(0.0),
        }),
        from: ["floor_mark", "wheel_mark"].contains(&name).then_some(at),
        number: None,
    }
}

fn read_aim(table: &dyn TableLike) -> Part {
    let mut part = Part::default();
    for (key, names) in AIM {
        if let Some(pair) = table.get(key).and_then(pair_of) {
            for (name, number) in names.iter().zip(pair) {
                part = part.with(name, number.to_string());
            }
        }
    }
    part
}

/// A value as one would type it.
fn value_text(value: &Value) -> String {
    match (value, number_of(value)) {
        (Value::String(text), _) => text.value().clone(),
        (_, Some(number)) => number.to_string(),
        _ => value.to_string().trim().to_owned(),
    }
}

pub(super) fn number_of(value: &Value) -> Option<f64> {
    match value {
        Value::Float(number) => Some(*number.value()),
        Value::Integer(number) => Some(*number.value() as f64),
        _ => None,
    }
}

pub(super) fn pair_of(item: &Item) -> Option<[f64; 2]> {
    let list = item.as_array()?;
    let numbers: Option<Vec<f64>> = list.iter().map(number_of).collect();
    numbers?.try_into().ok()
}

/// A typed number: a decimal comma is as good as a point.
pub(super) fn typed_number(text: &str) -> Option<f64> {
    let number: f64 = text.trim().replace(',', ".").parse().ok()?;
    number.is_finite().then_some(number)
}
