//! One table of a run sheet, read key by key; what is wrong is collected with its place.

use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::error::{Problem, shown};
use super::keys::{Key, Kind, table_named};
use super::range::{Objection, Range};
use super::unknown::{known, nearest, unknown};
use crate::texts::Note;

/// Longest free text, in characters.
const MAX_TEXT_CHARS: usize = 200;

/// How alike a word and a choice must be for the choice to be offered: half the letters.
const MIN_LIKENESS: f64 = 0.5;

/// The first fault in file order. The tables are read in any order; only the earliest is kept.
#[derive(Debug, Default)]
pub(super) struct Faults {
    first: Option<Fault>,
    /// Whether what is missing stands in another sheet.
    in_part: bool,
    /// Numbers that are allowed and unusual, in the order of reading.
    doubts: Vec<Note>,
}

#[derive(Debug)]
struct Fault {
    order: usize,
    at: usize,
    problem: Problem,
}

impl Faults {
    /// For a sheet that is laid over another: keys may be missing.
    pub(super) fn in_part() -> Self {
        Self {
            in_part: true,
            ..Self::default()
        }
    }

    /// Notes a fault at a byte of the file.
    pub(super) fn add(&mut self, at: usize, problem: Problem) {
        self.add_late(at, at, problem);
    }

    /// Notes a fault that is shown at the byte `at` and counts as standing at the byte `order`.
    fn add_late(&mut self, order: usize, at: usize, problem: Problem) {
        if self.in_part && matches!(problem, Problem::MissingKey { .. }) {
            return;
        }
        if self.first.as_ref().is_none_or(|first| order < first.order) {
            self.first = Some(Fault { order, at, problem });
        }
    }

    /// What is allowed and unusual.
    pub(super) fn take_doubts(&mut self) -> Vec<Note> {
        std::mem::take(&mut self.doubts)
    }

    /// The first fault and its place.
    pub(super) fn into_first(self) -> Option<(usize, Problem)> {
        self.first.map(|fault| (fault.at, fault.problem))
    }
}

/// A table, its name and where it stands.
#[derive(Debug, Clone, Copy)]
pub(super) struct Section<'t> {
    name: &'static str,
    table: &'t DeTable<'t>,
    /// Byte at which it begins.
    pub(super) at: usize,
}

impl<'t> Section<'t> {
    /// The table `name` at byte `at`, with its unknown keys noted.
    pub(super) fn new(
        name: &'static str,
        table: &'t DeTable<'t>,
        at: usize,
        faults: &mut Faults,
    ) -> Self {
        let known = known(name);
        for (key, value) in table {
            if !known.contains(&key.get_ref().as_ref()) {
                let kind = if value.get_ref().is_table() {
                    "table"
                } else {
                    "key"
                };
                faults.add(key.span().start, unknown(name, key.get_ref(), kind));
            }
        }
        Self { name, table, at }
    }

    /// The tables under `key`: none, one, or one for each element of a list of tables.
    pub(super) fn sections(&self, key: &'static str, faults: &mut Faults) -> Vec<Section<'t>> {
        let Some((at, value)) = self.entry(key) else {
            return Vec::new();
        };
        match value.get_ref() {
            DeValue::Table(table) => vec![Section::new(key, table, at, faults)],
            DeValue::Array(list) => list
                .iter()
                .filter_map(|item| match item.get_ref() {
                    DeValue::Table(table) => {
                        Some(Section::new(key, table, item.span().start, faults))
                    }
                    other => {
                        faults.add(item.span().start, wrong_type(key, other, "a table"));
                        None
                    }
                })
                .collect(),
            other => {
                faults.add(at, wrong_type(key, other, "a table"));
                Vec::new()
            }
        }
    }

    /// The one table under `key`.
    pub(super) fn section(&self, key: &'static str, faults: &mut Faults) -> Option<Section<'t>> {
        let (at, value) = self.entry(key)?;
        if let DeValue::Table(table) = value.get_ref() {
            return Some(Section::new(key, table, at, faults));
        }
        faults.add(at, wrong_type(key, value.get_ref(), "one table"));
        None
    }

    /// The byte where `key` stands, or else where the table begins.
    pub(super) fn place_of(&self, key: &str) -> usize {
        self.entry(key).map_or(self.at, |(at, _)| at)
    }

    /// The byte where `key` stands in the one table under `table`, or else where this table begins.
    pub(super) fn place_below(&self, table: &str, key: &str) -> usize {
        let Some((at, value)) = self.entry(table) else {
            return self.at;
        };
        let below = value.get_ref().as_table();
        below
            .and_then(|below| below.get_key_value(key))
            .map_or(at, |(key, _)| key.span().start)
    }

    /// Whether `key` is there, right or wrong.
    pub(super) fn has(&self, key: &str) -> bool {
        self.entry(key).is_some()
    }

    /// Notes that `key` is missing, unless it is there.
    pub(super) fn require(&self, key: &'static str, faults: &mut Faults) {
        if !self.has(key) {
            // At the end of its table: a misspelt key in the table explains more.
            let ends = self.table.values().map(|value| value.span().end);
            let end = ends.fold(self.at, usize::max);
            faults.add_late(
                end,
                self.at,
                Problem::MissingKey {
                    table: self.name,
                    key,
                },
            );
        }
    }

    /// The number under `key`, in SI units, which must be one that the table of keys allows.
    pub(super) fn number(&self, key: &str, faults: &mut Faults) -> Option<f64> {
        let (key, range) = self.range(key)?;
        let (at, value) = self.entry(key)?;
        let Some(number) = Number::new(value.get_ref()) else {
            faults.add(at, wrong_type(key, value.get_ref(), "a number"));
            return None;
        };
        number.checked(key, range, at, faults)
    }

    /// What the table of keys allows under `key`; a test reads every key, so none is looked for in vain.
    fn range(&self, key: &str) -> Option<(&'static str, &'static Range)> {
        let Key { name, kind, .. } = table_named(self.name)?.key(key)?;
        match kind {
            Kind::Number(range) | Kind::Pair(range) => Some((name, range)),
            Kind::Text => None,
        }
    }

    /// The two numbers under `key`, in SI units.
    pub(super) fn pair(&self, key: &str, faults: &mut Faults) -> Option<[f64; 2]> {
        let (key, range) = self.range(key)?;
        let (at, value) = self.entry(key)?;
        let numbers: Option<Vec<Number>> = match value.get_ref() {
            // No need to look at more than tells two from three.
            DeValue::Array(list) => list
                .iter()
                .take(3)
                .map(|item| Number::new(item.get_ref()))
                .collect(),
            _ => None,
        };
        let Some([first, second]) = numbers.as_deref() else {
            let problem = match value.get_ref() {
                DeValue::Array(_) => Problem::WrongType {
                    key,
                    got: "a list of something else",
                    wanted: "two numbers",
                },
                other => wrong_type(key, other, "two numbers"),
            };
            faults.add(at, problem);
            return None;
        };
        Some([
            first.checked(key, range, at, faults)?,
            second.checked(key, range, at, faults)?,
        ])
    }

    /// The free text under `key`, without spaces around it; `None` also where nothing remains.
    pub(super) fn text(&self, key: &'static str, faults: &mut Faults) -> Option<String> {
        let (at, text) = self.string(key, faults)?;
        let text = text.trim();
        let length = text.chars().count();
        if length > MAX_TEXT_CHARS {
            let why = format!("has {length} characters; at most {MAX_TEXT_CHARS} are kept");
            faults.add(at, Problem::BadText { key, why });
            return None;
        }
        if let Some(c) = text.chars().find(|c| c.is_control()) {
            let why = format!("holds the control character U+{:04X}", u32::from(c));
            faults.add(at, Problem::BadText { key, why });
            return None;
        }
        (!text.is_empty()).then(|| text.to_string())
    }

    /// The value that the word under `key` stands for, out of `choices`.
    pub(super) fn choice<T: Copy>(
        &self,
        key: &'static str,
        choices: &[(&'static str, T)],
        faults: &mut Faults,
    ) -> Option<T> {
        let (at, word) = self.string(key, faults)?;
        let wanted = word.trim();
        if let Some((_, value)) = choices.iter().find(|(n, _)| n.eq_ignore_ascii_case(wanted)) {
            return Some(*value);
        }
        let names: Vec<&str> = choices.iter().map(|(name, _)| *name).collect();
        let short: String = wanted.to_lowercase().chars().take(40).collect();
        let nearest = nearest(&short, names.iter().copied()).filter(|best| best.1 > MIN_LIKENESS);
        let problem = Problem::NotAChoice {
            key,
            written: shown(wanted),
            choices: names.join(", "),
            nearest: nearest.map(|(name, _)| name.to_owned()),
        };
        faults.add(at, problem);
        None
    }

    fn string(&self, key: &'static str, faults: &mut Faults) -> Option<(usize, &'t str)> {
        let (at, value) = self.entry(key)?;
        if let DeValue::String(text) = value.get_ref() {
            return Some((at, text));
        }
        faults.add(at, wrong_type(key, value.get_ref(), "a text"));
        None
    }

    fn entry(&self, key: &str) -> Option<(usize, &'t Spanned<DeValue<'t>>)> {
        let (key, value) = self.table.get_key_value(key)?;
        Some((key.span().start, value))
    }
}

/// A number, and how it was written.
struct Number {
    value: f64,
    written: String,
}

impl Number {
    fn new(value: &DeValue<'_>) -> Option<Self> {
        let (value, written) = match value {
            DeValue::Float(float) => (float.as_str().parse().ok()?, float.to_string()),
            DeValue::Integer(integer) if integer.radix() == 10 => {
                (integer.as_str().parse().ok()?, integer.to_string())
            }
            DeValue::Integer(integer) => {
                let whole = i64::from_str_radix(integer.as_str(), integer.radix()).ok()?;
                (whole as f64, integer.to_string())
            }
            _ => return None,
        };
        Some(Self { value, written })
    }

    fn checked(
        &self,
        key: &'static str,
        range: &Range,
        at: usize,
        faults: &mut Faults,
    ) -> Option<f64> {
        let written = shown(&self.written);
        let Some(Objection { why, instead }) = range.objection(self.value) else {
            if let Some(doubt) = range.doubt(self.value) {
                faults
                    .doubts
                    .push(doubt.words("written", format!("{key} = {written}")));
            }
            return Some(range.quantity.to_si(self.value));
        };
        faults.add(
            at,
            Problem::NotPlausible {
                key,
                written,
                why,
                instead,
            },
        );
        None
    }
}

fn wrong_type(key: &'static str, got: &DeValue<'_>, wanted: &'static str) -> Problem {
    let got = match got {
        DeValue::String(_) => "a text in quotes",
        // What can be read as a number is no wrong type where one is wanted.
        DeValue::Integer(_) | DeValue::Float(_) if wanted == "a number" => {
            "a number of too many digits"
        }
        DeValue::Integer(_) | DeValue::Float(_) => "a number",
        DeValue::Boolean(_) => "true or false",
        DeValue::Datetime(_) => "a date or time",
        DeValue::Array(_) => "a list",
        DeValue::Table(_) => "a table",
    };
    Problem::WrongType { key, got, wanted }
}
