//! What a run's sheet said, by which runs can be grouped, paired and ordered.

use crate::sheet::{Compared, TABLES, by_full_name};
use serde_json::Value;
use std::collections::BTreeMap;
use std::fmt;

/// A key of the run sheet: its table and its name.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct SheetKey {
    /// The table.
    pub table: &'static str,
    /// The key in it.
    pub key: &'static str,
}

/// Why a text does not name a key of the run sheet.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum KeyError {
    /// There is no such key.
    #[error("no run sheet has a key `{asked}`; the nearest is `{nearest}`")]
    Unknown {
        /// What was asked for.
        asked: String,
        /// The most like it.
        nearest: String,
    },
    /// Several tables have a key of that name.
    #[error("several tables of a run sheet have a key `{asked}`: say which, as in {choices}")]
    Several {
        /// What was asked for.
        asked: String,
        /// The full names.
        choices: String,
    },
}

impl fmt::Display for SheetKey {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}.{}", self.table, self.key)
    }
}

impl SheetKey {
    /// How the wheels were treated.
    pub const TREATMENT: Self = Self {
        table: "car",
        key: "treatment",
    };
    /// What the car is called.
    pub const CAR: Self = Self {
        table: "car",
        key: "name",
    };
    /// What was changed since the run before.
    pub const CHANGE: Self = Self {
        table: "change",
        key: "note",
    };
    /// What the floor is made of.
    pub const FLOOR: Self = Self {
        table: "floor",
        key: "surface",
    };

    /// The key that a text names: `treatment`, `car`, `change`, `floor`, a key that one table alone has
    /// (`mass_g`), or table and key (`sticker.height_mm`).
    ///
    /// # Errors
    /// [`KeyError`], with the nearest key or the choices.
    pub fn parse(text: &str) -> Result<Self, KeyError> {
        let all: Vec<Self> = (TABLES.iter())
            .flat_map(|table| table.keys.iter().map(|key| (table.name, key.name)))
            .map(|(table, key)| Self { table, key })
            .collect();
        if let Some(own) = all.iter().find(|own| own.called() == Some(text)) {
            return Ok(*own);
        }
        let (table, key) = match text.split_once('.') {
            Some((table, key)) => (Some(table), key),
            None => (None, text),
        };
        let found: Vec<Self> = (all.iter().copied())
            .filter(|one| one.key == key && table.is_none_or(|table| one.table == table))
            .collect();
        match found.as_slice() {
            [one] => Ok(*one),
            [] => Err(KeyError::Unknown {
                asked: text.to_owned(),
                nearest: nearest(text, &all),
            }),
            several => Err(KeyError::Several {
                asked: text.to_owned(),
                choices: several
                    .iter()
                    .map(|one| format!("`{one}`"))
                    .collect::<Vec<_>>()
                    .join(", "),
            }),
        }
    }

    /// What it is called where that is not its name.
    fn called(self) -> Option<&'static str> {
        crate::sheet::table_named(self.table)?.key(self.key)?.called
    }

    /// What the key is called on a page.
    pub fn words(self) -> String {
        self.called()
            .map_or_else(|| self.to_string(), str::to_owned)
    }
}

fn nearest(text: &str, all: &[SheetKey]) -> String {
    let likeness = |key: &SheetKey| {
        let full = key.to_string();
        strsim::normalized_damerau_levenshtein(text, &full)
            .max(strsim::normalized_damerau_levenshtein(text, key.key))
    };
    all.iter()
        .max_by(|a, b| likeness(a).total_cmp(&likeness(b)))
        .map_or_else(String::new, |key| {
            if *key == SheetKey::TREATMENT {
                key.words()
            } else {
                key.to_string()
            }
        })
}

/// A value of the sheet as text, and as a number where it is one.
#[derive(Debug, Clone, PartialEq)]
pub struct Fact {
    /// As a person wrote it.
    pub text: String,
    /// As a number.
    pub number: Option<f64>,
}

/// Everything that a sheet said, by full key.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Facts(BTreeMap<String, Fact>);

/// How runs that differ in a key are compared, by its full name; one that only a newer sheet has, by itself.
pub(super) fn compared(key: &str) -> Compared {
    by_full_name(key).map_or(Compared::ByItself, |key| key.compared)
}

/// Whether a key says something of the run: all do but those that point into the clip's picture.
fn says(key: &str) -> bool {
    compared(key) != Compared::Pointing
}

impl Facts {
    /// From `run.sheet` of a summary.
    pub fn from_json(sheet: &Value) -> Self {
        let mut out = BTreeMap::new();
        for (table, value) in sheet.as_object().into_iter().flatten() {
            match value {
                Value::Object(keys) => {
                    for (key, value) in keys {
                        out.extend(fact(format!("{table}.{key}"), value));
                    }
                }
                Value::Array(tables) => {
                    for (number, keys) in tables.iter().enumerate() {
                        for (key, value) in keys.as_object().into_iter().flatten() {
                            out.extend(fact(format!("{table} {}.{key}", number + 1), value));
                        }
                    }
                }
                _ => {}
            }
        }
        Self(out)
    }

    /// From the few facts that older summaries hold.
    pub fn few(facts: &[(SheetKey, Option<&str>)]) -> Self {
        let known = facts.iter().filter_map(|(key, text)| {
            let text = (*text)?.trim().to_owned();
            Some((key.to_string(), Fact { text, number: None }))
        });
        Self(known.collect())
    }

    /// What the sheet said under a key.
    pub fn get(&self, key: SheetKey) -> Option<&Fact> {
        // The first of several marks stands for them.
        (self.0.get(&key.to_string()))
            .or_else(|| self.0.get(&format!("{} 1.{}", key.table, key.key)))
    }

    /// What the sheet said under a full key, such as `car.mass_g` or `wheel_mark 2.colour`.
    pub fn by_name(&self, key: &str) -> Option<&Fact> {
        self.0.get(key)
    }

    /// All full keys but those of places pointed at.
    pub fn names(&self) -> impl Iterator<Item = &str> {
        self.0.keys().map(String::as_str).filter(|key| says(key))
    }

    /// The same as text.
    pub fn text(&self, key: SheetKey) -> Option<&str> {
        self.get(key).map(|fact| fact.text.as_str())
    }

    /// What the sheet said but for places pointed at: two runs with the same are runs of one state.
    pub fn state(&self) -> Vec<(&str, &str)> {
        (self.0.iter())
            .filter(|(key, _)| says(key))
            .map(|(key, fact)| (key.as_str(), fact.text.as_str()))
            .collect()
    }

    /// What differs from an earlier run's sheet: key, then, now. Notes and places pointed at are left out.
    pub fn changes_since<'a>(
        &'a self,
        before: &'a Self,
    ) -> impl Iterator<Item = (&'a str, Option<&'a str>, Option<&'a str>)> + 'a {
        let keys: std::collections::BTreeSet<&String> =
            before.0.keys().chain(self.0.keys()).collect();
        keys.into_iter()
            .filter(|key| says(key) && compared(key) != Compared::Note)
            .filter_map(|key| {
                let (then, now) = (before.0.get(key), self.0.get(key));
                let text = |fact: Option<&'a Fact>| fact.map(|fact| fact.text.as_str());
                (then != now).then(|| (key.as_str(), text(then), text(now)))
            })
    }
}

fn fact(key: String, value: &Value) -> Option<(String, Fact)> {
    let fact = match value {
        Value::String(text) => {
            let text = text.trim().to_owned();
            if text.is_empty() {
                return None;
            }
            Fact { text, number: None }
        }
        Value::Number(number) => {
            let number = number.as_f64()?;
            Fact {
                text: number.to_string(),
                number: Some(number),
            }
        }
        Value::Null => return None,
        other => Fact {
            text: other.to_string(),
            number: None,
        },
    };
    Some((key, fact))
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    #[test]
    fn keys_are_found_by_their_short_names() {
        assert_eq!(SheetKey::parse("treatment"), Ok(SheetKey::TREATMENT));
        assert_eq!(SheetKey::parse("car"), Ok(SheetKey::CAR));
        assert_eq!(SheetKey::parse("car.name"), Ok(SheetKey::CAR));
        assert_eq!(SheetKey::parse("mass_g").unwrap().to_string(), "car.mass_g");
        let unknown = SheetKey::parse("tretment").unwrap_err().to_string();
        assert!(unknown.contains("nearest is `treatment`"), "{unknown}");
        let several = SheetKey::parse("colour").unwrap_err().to_string();
        assert!(several.contains("`sticker.colour`"), "{several}");
    }

    #[test]
    fn changes_between_two_sheets_are_told() {
        let before = Facts::from_json(&json!({
            "car": {"mass_g": 190.0, "treatment": "bare"}, "change": {"note": "a"},
            "wheel_mark": [{"colour": "green", "at_px": [1.0, 2.0]}],
        }));
        let after = Facts::from_json(&json!({
            "car": {"mass_g": 205.0, "treatment": " bare "}, "change": {"note": "b"},
            "wheel_mark": [{"colour": "green", "at_px": [5.0, 2.0]}], "floor": {"surface": "lino"},
        }));
        let changes: Vec<_> = after.changes_since(&before).collect();
        let expected = [
            ("car.mass_g", Some("190"), Some("205")),
            ("floor.surface", None, Some("lino")),
        ];
        assert_eq!(changes, expected);
        let mark = SheetKey::parse("wheel_mark.colour").unwrap();
        assert_eq!(before.text(mark), Some("green"));
    }
}
