//! Every text that a pupil reads, as data: one file a language, looked up by name.
//!
//! `en.ftl` and `de.ftl` are in the syntax of Project Fluent (messages, selectors, plurals of the Unicode CLDR). A
//! text is a message in both files with the same variables, which `tests/speaks_two_languages.rs` holds. Numbers come
//! in already rounded and written by [`Texts::number`] or [`Texts::fixed`]; whole numbers that choose a plural come in
//! as numbers. Whatever is missing in another language is said in English.

mod note;

pub use note::Note;

use fluent_bundle::concurrent::FluentBundle;
use fluent_bundle::{FluentArgs, FluentResource, FluentValue};
use std::fmt;
use std::sync::LazyLock;
use unic_langid::LanguageIdentifier;

/// A language of pages, pictures and words.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Language {
    /// English.
    #[default]
    English,
    /// German.
    German,
}

impl Language {
    /// All of them.
    pub const ALL: [Self; 2] = [Self::English, Self::German];

    /// Its tag (BCP 47), as in `<html lang>`.
    pub const fn tag(self) -> &'static str {
        match self {
            Self::English => "en",
            Self::German => "de",
        }
    }

    /// The mark before a number's decimals.
    ///
    /// # Source
    /// ISO 80000-1, 7.3.2: a comma or a point on the line. DIN 1333 writes the comma in German. Both from memory.
    pub const fn decimal_mark(self) -> &'static str {
        match self {
            Self::English => ".",
            Self::German => ",",
        }
    }

    const fn source(self) -> &'static str {
        match self {
            Self::English => include_str!("en.ftl"),
            Self::German => include_str!("de.ftl"),
        }
    }

    fn locale(self) -> LanguageIdentifier {
        LanguageIdentifier::from_bytes(self.tag().as_bytes()).unwrap_or_default()
    }
}

/// The texts of a language.
pub struct Texts {
    language: Language,
    bundle: FluentBundle<FluentResource>,
}

impl fmt::Debug for Texts {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "Texts({:?})", self.language)
    }
}

static ENGLISH: LazyLock<Texts> = LazyLock::new(|| Texts::read(Language::English));
static GERMAN: LazyLock<Texts> = LazyLock::new(|| Texts::read(Language::German));

impl Texts {
    /// The texts of a language.
    pub fn of(language: Language) -> &'static Self {
        match language {
            Language::English => &ENGLISH,
            Language::German => &GERMAN,
        }
    }

    /// The English texts, which errors and machine files keep.
    pub fn english() -> &'static Self {
        &ENGLISH
    }

    /// A message that cannot be read is left out; a test holds that all can be.
    fn read(language: Language) -> Self {
        let mut bundle = FluentBundle::new_concurrent(vec![language.locale()]);
        bundle.set_use_isolating(false);
        let source = FluentResource::try_new(language.source().to_owned());
        bundle.add_resource_overriding(source.unwrap_or_else(|(read, _)| read));
        Self { language, bundle }
    }

    /// The language.
    pub const fn language(&self) -> Language {
        self.language
    }

    /// Its tag for `<html lang>`.
    pub const fn tag(&self) -> &'static str {
        self.language.tag()
    }

    /// A text with its variables filled in: in English where this language lacks it, its name where both do.
    pub fn say(&self, id: &str, args: &Args<'_>) -> String {
        self.found(id, args)
            .or_else(|| Self::english().found(id, args))
            .unwrap_or_else(|| id.to_owned())
    }

    /// A text without variables.
    pub fn text(&self, id: &str) -> String {
        self.say(id, &Args::new())
    }

    /// A text with one variable, for templates.
    pub fn with(&self, id: &str, name: &'static str, value: &str) -> String {
        self.say(id, &Args::new().with(name, value))
    }

    fn found(&self, id: &str, args: &Args<'_>) -> Option<String> {
        let pattern = self.bundle.get_message(id)?.value()?;
        let mut wrong = Vec::new();
        let said = (self.bundle).format_pattern(pattern, Some(&args.0), &mut wrong);
        wrong.is_empty().then(|| said.into_owned())
    }

    /// A number as the language writes it, with a true minus sign and without a negative zero.
    pub fn number(&self, value: f64, digits: usize) -> String {
        let text = self.fixed(value, digits);
        let nothing = !text.contains(|c: char| ('1'..='9').contains(&c));
        match text.strip_prefix('-') {
            Some(size) if nothing => size.to_owned(),
            Some(size) => format!("−{size}"),
            None => text,
        }
    }

    /// A number that is never negative, as the language writes it.
    pub fn fixed(&self, value: f64, digits: usize) -> String {
        self.marked(&format!("{value:.digits$}"))
    }

    /// Digits with a point, with the language's decimal mark.
    pub fn marked(&self, digits: &str) -> String {
        digits.replace('.', self.language.decimal_mark())
    }
}

/// The variables of a text.
#[derive(Debug, Default)]
pub struct Args<'a>(FluentArgs<'a>);

impl<'a> Args<'a> {
    /// None yet.
    pub fn new() -> Self {
        Self::default()
    }

    /// One more.
    #[must_use]
    pub fn with(mut self, name: &'static str, value: impl Into<FluentValue<'a>>) -> Self {
        self.0.set(name, value);
        self
    }
}

/// A text by its name, with its variables: `say!(texts, "told-side", told = told, side = side)`.
macro_rules! say {
    ($texts:expr, $id:literal $(, $name:ident = $value:expr)* $(,)?) => {
        $crate::texts::Texts::say(
            $texts,
            $id,
            &$crate::texts::Args::new()$(.with(stringify!($name), $value))*,
        )
    };
}
pub(crate) use say;

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_have_the_languages_mark() {
        assert_eq!(Texts::of(Language::German).number(-1.984, 2), "−1,98");
        assert_eq!(Texts::english().number(-1.984, 2), "−1.98");
        assert_eq!(Texts::of(Language::German).number(-0.001, 2), "0,00");
    }

    #[test]
    fn what_is_missing_is_said_by_its_name() {
        assert_eq!(
            Texts::of(Language::German).text("nobody-wrote-this"),
            "nobody-wrote-this"
        );
    }
}
