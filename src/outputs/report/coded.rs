//! Texts with names in backticks, as the terminal shows them, in parts for the page.

use crate::findings::Key;
use crate::outputs::wording::meaning;
use crate::texts::Texts;

/// A piece of a text.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Part {
    /// Whether it is a name from a file, to be set as such.
    pub(crate) code: bool,
    /// The words.
    pub(crate) words: String,
}

/// Splits a text at its backticks. The name of a quantity becomes its meaning, which is what stands in
/// the page's table.
pub(crate) fn coded(texts: &Texts, text: &str) -> Vec<Part> {
    let paired = text.matches('`').count() / 2 * 2;
    let pieces = text.splitn(paired + 1, '`').enumerate();
    pieces
        .map(|(number, piece)| {
            let code = number % 2 == 1;
            let key = Key::ALL.into_iter().find(|key| key.as_str() == piece);
            match key.filter(|_| code) {
                Some(key) => Part {
                    code: false,
                    words: texts.with("quoted", "words", &meaning(texts, key)),
                },
                None => Part {
                    code,
                    words: piece.to_owned(),
                },
            }
        })
        .filter(|part| !part.words.is_empty())
        .collect()
}

/// A text without the marks about names.
pub(crate) fn plain(texts: &Texts, text: &str) -> String {
    coded(texts, text)
        .into_iter()
        .map(|part| part.words)
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn parts(text: &str) -> Vec<(bool, String)> {
        let parts = coded(Texts::english(), text).into_iter();
        parts.map(|part| (part.code, part.words)).collect()
    }

    #[test]
    fn names_are_told_from_words() {
        let all = parts("give `[camera] capture_fps` in the sheet");
        let wanted = [
            (false, "give "),
            (true, "[camera] capture_fps"),
            (false, " in the sheet"),
        ];
        assert_eq!(all, wanted.map(|(code, words)| (code, words.to_owned())));
        assert_eq!(parts("plain"), [(false, "plain".to_owned())]);
        assert_eq!(parts("an `odd mark"), [(false, "an `odd mark".to_owned())]);
    }

    #[test]
    fn a_quantity_is_called_what_the_table_calls_it() {
        let all = parts("60 % of `spun_away_m`");
        assert_eq!(all[1], (false, "“distance wasted in wheelspin”".to_owned()));
    }
}
