//! From what was typed to the text of a run sheet. What the page does not know of stays as it was:
//! comments, order, spelling of numbers, further tables and keys.

use super::comments::comments_lost;
use super::draft::{AIM, At, Draft, Part, number_of, pair_of, typed_number};
use crate::sheet::{Key, TABLES, Table as SheetTable};
use toml_edit::{Array, ArrayOfTables, DocumentMut, InlineTable, Item, Table, TableLike, Value};

/// Why no text of a sheet can be made.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum WriteSheetError {
    /// What is on disk cannot be changed because it cannot be read.
    #[error("the sheet is not valid TOML: {0}")]
    Syntax(#[from] toml_edit::TomlError),
}

/// A typed text that is no number: which field, and the text.
#[derive(Debug, Clone, PartialEq)]
pub struct NoNumber {
    /// Name of the field on the page, such as `car.wheelbase_mm` or `floor_mark.2.x_mm`.
    pub field: String,
    /// What was typed.
    pub typed: String,
}

/// A sheet's text, and what was left out of it.
#[derive(Debug, Clone, PartialEq)]
pub struct SheetText {
    /// TOML.
    pub text: String,
    /// Fields left out because what was typed there is no number.
    pub no_numbers: Vec<NoNumber>,
}

/// What a new sheet begins with.
const HEAD: &str = "# Run sheet. Lengths in millimetres, masses in grams.\n";

/// The text of the sheet: `base` with what was typed set in it.
///
/// # Errors
/// [`WriteSheetError::Syntax`] where `base` is not TOML.
pub fn sheet_text(base: Option<&str>, draft: &Draft) -> Result<SheetText, WriteSheetError> {
    let before = base.unwrap_or_default();
    let mut doc: DocumentMut = before.parse()?;
    let mut out = Setter::default();
    for table in TABLES.iter().filter(|table| table.typed().count() > 0) {
        match table.name {
            "floor_mark" => out.list(&mut doc, table, draft.floor_marks.iter()),
            "wheel_mark" if !draft.more_wheel_marks.is_empty() || is_list(&doc, "wheel_mark") => {
                let marks = draft.wheel_mark.iter().chain(&draft.more_wheel_marks);
                out.list(&mut doc, table, marks);
            }
            "aim" => out.aim(&mut doc, &draft.aim),
            name => out.one(&mut doc, table, draft.single(name)),
        }
    }
    explain(&mut doc, &before.parse()?);
    let mut text = doc.to_string();
    if before.trim().is_empty() && !before.contains('#') {
        text = format!(
            "{HEAD}{}{text}",
            if text.starts_with('\n') { "" } else { "\n" }
        );
    }
    // What was taken out takes its comments along; they are someone's words and are kept.
    let ours = |comment: &String| all_keys().any(|key| comment[1..].trim() == key.meaning);
    for comment in comments_lost(before, &text)
        .into_iter()
        .filter(|lost| !ours(lost))
    {
        if !text.is_empty() && !text.ends_with('\n') {
            text.push('\n');
        }
        text += &comment;
        text.push('\n');
    }
    Ok(SheetText {
        text,
        no_numbers: out.no_numbers,
    })
}

fn all_keys() -> impl Iterator<Item = &'static Key> {
    TABLES.iter().flat_map(|table| table.keys)
}

/// Says beside each key that is new what it means, in tables that stand once.
fn explain(doc: &mut DocumentMut, before: &DocumentMut) {
    for table in TABLES {
        let Some(own) = doc.get_mut(table.name).and_then(Item::as_table_mut) else {
            continue;
        };
        let old = before.get(table.name);
        let is_new = |key: &&Key| old.is_none_or(|old| old.get(key.name).is_none());
        for key in table.keys.iter().filter(is_new) {
            if let Some(value) = own.get_mut(key.name).and_then(Item::as_value_mut) {
                value.decor_mut().set_suffix(format!(" # {}", key.meaning));
            }
        }
    }
}

/// Writes parts into a document and notes what cannot be written.
#[derive(Default)]
struct Setter {
    no_numbers: Vec<NoNumber>,
}

impl Setter {
    /// Sets a table that stands once (a list's first element where the sheet has a list).
    fn one(&mut self, doc: &mut DocumentMut, of: &SheetTable, part: Option<&Part>) {
        let name = of.name;
        let Some(part) = part else {
            doc.remove(name);
            return;
        };
        if part.is_blank() && doc.get(name).is_none() {
            return;
        }
        if doc.get(name).is_none() {
            doc.insert(name, Item::Table(spaced_table()));
        }
        if let Some(table) = doc.get_mut(name).and_then(first_mut) {
            self.set(table, of, name, part);
            if let Item::Table(table) = &mut doc[name]
                && table.is_empty()
                && table
                    .decor()
                    .prefix()
                    .and_then(|p| p.as_str())
                    .is_none_or(|p| p.trim().is_empty())
            {
                doc.remove(name);
            }
        }
    }

    fn set(&mut self, table: &mut dyn TableLike, of: &SheetTable, field: &str, part: &Part) {
        for key in of.typed() {
            let (name, typed) = (key.name, part.text(key.name));
            if typed.is_empty() {
                table.remove(name);
            } else if key.is_text() {
                set_word(table, name, typed);
            } else if let Some(number) = typed_number(typed) {
                set_number(table, name, number);
            } else {
                self.no_numbers.push(NoNumber {
                    field: format!("{field}.{name}"),
                    typed: typed.to_owned(),
                });
            }
        }
        set_pointed(table, part.at);
    }

    /// Sets the tables of a list, one for each mark.
    fn list<'p>(
        &mut self,
        doc: &mut DocumentMut,
        of: &SheetTable,
        parts: impl Iterator<Item = &'p Part>,
    ) {
        let name = of.name;
        let parts: Vec<&Part> = parts.collect();
        if parts.is_empty() && doc.get(name).is_none() {
            return;
        }
        if let Some(Item::Table(single)) = doc.get(name) {
            let mut list = ArrayOfTables::new();
            list.push(single.clone());
            doc.insert(name, Item::ArrayOfTables(list));
        }
        if !doc.contains_key(name) {
            doc.insert(name, Item::ArrayOfTables(ArrayOfTables::new()));
        }
        match &mut doc[name] {
            Item::Value(Value::Array(list)) => {
                let old: Vec<Value> = list.iter().cloned().collect();
                while !list.is_empty() {
                    list.remove(0);
                }
                for (index, part) in parts.into_iter().enumerate() {
                    let kept = part
                        .from
                        .and_then(|from| old.get(from)?.as_inline_table().cloned());
                    let mut table = kept.unwrap_or_else(InlineTable::new);
                    self.set(&mut table, of, &format!("{name}.{index}"), part);
                    list.push_formatted(Value::InlineTable(table));
                }
            }
            Item::ArrayOfTables(list) => {
                let old: Vec<Table> = list.iter().cloned().collect();
                list.clear();
                for (index, part) in parts.into_iter().enumerate() {
                    let kept = part.from.and_then(|from| old.get(from).cloned());
                    let mut table = kept.unwrap_or_else(spaced_table);
                    self.set(&mut table, of, &format!("{name}.{index}"), part);
                    list.push(table);
                }
                if list.is_empty() {
                    doc.remove(name);
                }
            }
            _ => {}
        }
    }

    fn aim(&mut self, doc: &mut DocumentMut, part: &Part) {
        if part.is_blank() {
            // A line that could not be read is not on the page, and is not taken out by it either.
            let readable = |(key, _)| {
                doc.get("aim")
                    .and_then(|t| t.get(key))
                    .and_then(pair_of)
                    .is_some()
            };
            if AIM.into_iter().all(readable) {
                doc.remove("aim");
            }
            return;
        }
        if doc.get("aim").is_none() {
            doc.insert("aim", Item::Table(spaced_table()));
        }
        let Some(table) = doc.get_mut("aim").and_then(first_mut) else {
            return;
        };
        for (key, names) in AIM {
            let typed = names.map(|name| typed_number(part.text(name)));
            for (name, number) in names.iter().zip(typed) {
                if number.is_none() {
                    self.no_numbers.push(NoNumber {
                        field: format!("aim.{name}"),
                        typed: part.text(name).to_owned(),
                    });
                }
            }
            match typed {
                [Some(x), Some(y)] if table.get(key).and_then(pair_of) != Some([x, y]) => {
                    set_value(table, key, pair_value([x, y]));
                }
                _ => {}
            }
        }
    }
}

/// Whether a sheet has several tables of that name.
fn is_list(doc: &DocumentMut, name: &str) -> bool {
    match doc.get(name) {
        Some(Item::ArrayOfTables(list)) => list.len() > 1,
        Some(Item::Value(Value::Array(list))) => list.len() > 1,
        _ => false,
    }
}

/// A new table with an empty line before it.
fn spaced_table() -> Table {
    let mut table = Table::new();
    table.decor_mut().set_prefix("\n");
    table
}

fn first_mut(item: &mut Item) -> Option<&mut dyn TableLike> {
    match item {
        Item::ArrayOfTables(list) => list.get_mut(0).map(|t| t as &mut dyn TableLike),
        Item::Value(Value::Array(list)) => {
            let first = list.get_mut(0)?.as_inline_table_mut()?;
            Some(first as &mut dyn TableLike)
        }
        other => other.as_table_like_mut(),
    }
}

fn set_word(table: &mut dyn TableLike, key: &str, word: &str) {
    let same = table
        .get(key)
        .and_then(Item::as_str)
        .is_some_and(|old| old.trim() == word);
    if !same {
        set_value(table, key, word.into());
    }
}

fn set_number(table: &mut dyn TableLike, key: &str, number: f64) {
    let old = table.get(key).and_then(Item::as_value).and_then(number_of);
    if old != Some(number) {
        set_value(table, key, number.into());
    }
}

/// Places are kept to a hundredth of a pixel and a ten-thousandth of a second.
fn set_pointed(table: &mut dyn TableLike, at: Option<At>) {
    let Some(at) = at else {
        table.remove("at_px");
        table.remove("at_s");
        return;
    };
    let round = |value: f64, parts: f64| (value * parts).round() / parts;
    let place = [round(at.u_px, 100.0), round(at.v_px, 100.0)];
    let old = table.get("at_px").and_then(pair_of);
    let unchanged =
        old == Some([at.u_px, at.v_px]) && table.get("at_s").is_none() && at.at_s == 0.0;
    if old != Some(place) && old != Some([at.u_px, at.v_px]) {
        set_value(table, "at_px", pair_value(place));
    }
    if !unchanged {
        set_number(table, "at_s", round(at.at_s, 1e4));
    }
}

fn pair_value(pair: [f64; 2]) -> Value {
    Value::Array(pair.into_iter().collect::<Array>())
}

/// Sets a value and keeps what stands around the old one.
fn set_value(table: &mut dyn TableLike, key: &str, mut value: Value) {
    if let Some(old) = table.get(key).and_then(Item::as_value) {
        *value.decor_mut() = old.decor().clone();
    }
    match table.get_mut(key) {
        Some(item) => *item = Item::Value(value),
        None => {
            table.insert(key, Item::Value(value));
        }
    }
}
