//! Ten words that the pages use, for readers of twelve.

use crate::texts::Texts;

/// A word and what it means.
#[derive(Debug, Clone)]
pub(in crate::outputs) struct Word {
    /// The word.
    pub(in crate::outputs) word: String,
    /// What it means.
    pub(in crate::outputs) means: String,
}

/// The words' texts, in the order of a run.
const WORDS: [&str; 10] = [
    "word-release",
    "word-pull",
    "word-coast",
    "word-rim",
    "word-wheelspin",
    "word-slip",
    "word-grip",
    "word-aim-line",
    "word-off-line",
    "word-interval",
];

/// The words, in the order of a run.
pub(in crate::outputs) fn glossary(texts: &Texts) -> Vec<Word> {
    let word = |id: &str| Word {
        word: texts.text(id),
        means: texts.text(&format!("{id}-means")),
    };
    WORDS.map(word).into()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::texts::Language;

    #[test]
    fn a_pupil_reads_each_word_in_a_breath() {
        for entry in Language::ALL.map(Texts::of).map(glossary).concat() {
            // Short sentences: common practice, no source.
            let sentences = entry.means.split_inclusive(['.', ':']);
            for sentence in sentences {
                assert!(
                    sentence.split_whitespace().count() <= 22,
                    "{}: {sentence}",
                    entry.word
                );
            }
            assert!(entry.means.ends_with('.'));
        }
    }
}
