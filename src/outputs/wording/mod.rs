//! Reasons, verdicts and advice in a user's words: stages say what is so with numbers, here it is told in the language
//! that is asked for (`src/texts/`), and rounded as everywhere (`shown.rs`). `Display` of a reason is English, which
//! errors and machine files keep.

mod advice;
mod camera;
mod damage;
mod findings;
mod inputs;
mod motion;
mod reasons;
mod two_views;
mod verdict;

pub use advice::caution;
pub(crate) use inputs::input_name;
pub use verdict::{VerdictWords, verdict_words};

use crate::findings::Key;
use crate::texts::Texts;
use crate::verdict::Cause;

/// What is told in any language.
pub trait Said {
    /// Its words.
    fn said(&self, texts: &Texts) -> String;
}

/// `Display` in English for what is told in any language.
macro_rules! shown_in_english {
    ($($kind:ty),+ $(,)?) => {$(
        impl std::fmt::Display for $kind {
            fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                f.write_str(&$crate::outputs::wording::Said::said(self, $crate::texts::Texts::english()))
            }
        }
    )+};
}
pub(crate) use shown_in_english;

/// What a quantity is, in a user's words.
pub fn meaning(texts: &Texts, key: Key) -> String {
    texts.text(&format!("key-{}", key.as_str()))
}

/// What a cause is called.
pub fn cause_name(texts: &Texts, cause: Cause) -> String {
    texts.text(&format!("cause-{}", cause.as_str()))
}

/// A side by its sign, as texts choose by it.
pub(crate) const fn side(left: bool) -> &'static str {
    if left { "left" } else { "right" }
}
