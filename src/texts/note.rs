//! What a stage has to tell in passing: which text, with which numbers. A page says it in its own language.

use super::{Args, Language, Texts};
use std::fmt;

/// A text with its variables, to be said in any language.
#[derive(Debug, Clone, PartialEq)]
pub struct Note {
    id: &'static str,
    with: Vec<(&'static str, Value)>,
}

#[derive(Debug, Clone, PartialEq)]
enum Value {
    /// A number and its decimals.
    Number(f64, usize),
    /// A number with all its digits.
    Exact(f64),
    /// A number that chooses a plural.
    Count(u64),
    /// Words that are the same in all languages, or by which a text chooses.
    Words(String),
    /// A text by its name.
    Text(String),
    /// What somebody else says, in each language.
    Told(Vec<(Language, String)>),
}

impl Note {
    /// A text, by its name.
    pub const fn new(id: &'static str) -> Self {
        Self {
            id,
            with: Vec::new(),
        }
    }

    /// With a number, rounded to so many decimals.
    #[must_use]
    pub fn number(self, name: &'static str, value: f64, digits: usize) -> Self {
        self.and(name, Value::Number(value, digits))
    }

    /// With a whole number, by which a text may choose its plural.
    #[must_use]
    pub fn count(self, name: &'static str, count: u64) -> Self {
        self.and(name, Value::Count(count))
    }

    /// With words that are the same in all languages, or by which a text chooses.
    #[must_use]
    pub fn words(self, name: &'static str, words: impl Into<String>) -> Self {
        self.and(name, Value::Words(words.into()))
    }

    /// With another text, by its name.
    #[must_use]
    pub fn text(self, name: &'static str, id: impl Into<String>) -> Self {
        self.and(name, Value::Text(id.into()))
    }

    /// With a number and all its digits.
    #[must_use]
    pub fn exact(self, name: &'static str, value: f64) -> Self {
        self.and(name, Value::Exact(value))
    }

    /// With what somebody else says in each language.
    #[must_use]
    pub fn told(self, name: &'static str, tell: impl Fn(&Texts) -> String) -> Self {
        let told = Language::ALL.map(|language| (language, tell(Texts::of(language))));
        self.and(name, Value::Told(told.into()))
    }

    fn and(mut self, name: &'static str, value: Value) -> Self {
        self.with.push((name, value));
        self
    }

    /// Its words.
    pub fn said(&self, texts: &Texts) -> String {
        let args = (self.with.iter()).fold(Args::new(), |args, (name, value)| {
            value.put(args, name, texts)
        });
        texts.say(self.id, &args)
    }
}

impl Value {
    fn put<'a>(&'a self, args: Args<'a>, name: &'static str, texts: &Texts) -> Args<'a> {
        match self {
            Self::Number(value, digits) => args.with(name, texts.fixed(*value, *digits)),
            Self::Exact(value) => args.with(name, texts.marked(&value.to_string())),
            Self::Count(count) => args.with(name, *count),
            Self::Words(words) => args.with(name, words.as_str()),
            Self::Text(id) => args.with(name, texts.text(id)),
            Self::Told(told) => {
                let ours = told
                    .iter()
                    .find(|(language, _)| *language == texts.language());
                args.with(name, ours.map_or("", |(_, words)| words.as_str()))
            }
        }
    }
}

impl fmt::Display for Note {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.said(Texts::english()))
    }
}
