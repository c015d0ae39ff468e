//! What an interval comes from, and what a user can do about it, in words.

use crate::priors::Input;
use crate::texts::Texts;

/// What it is.
pub(crate) fn input_name(texts: &Texts, input: Input) -> String {
    texts.text(&format!("input-{}", input.as_str()))
}

/// What to do for a smaller share of it; nothing where nobody knows what would help.
pub(super) fn input_advice(texts: &Texts, input: Input) -> Option<String> {
    (input != Input::Method).then(|| texts.text(&format!("input-{}-do", input.as_str())))
}
