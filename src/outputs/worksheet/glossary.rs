//! Ten words that the pages use, for readers of twelve.

/// A word and what it means.
#[derive(Debug, Clone, Copy)]
pub(in crate::outputs) struct Word {
    /// The word.
    pub(in crate::outputs) word: &'static str,
    /// What it means.
    pub(in crate::outputs) means: &'static str,
}

const fn word(word: &'static str, means: &'static str) -> Word {
    Word { word, means }
}

/// The words, in the order of a run.
pub(in crate::outputs) const GLOSSARY: [Word; 10] = [
    word("Release", "the moment when the car starts to move."),
    word(
        "Pull",
        "the part of the run in which the spring pulls the string and the string turns the axle.",
    ),
    word(
        "Coast",
        "the part after the pull: the car rolls on with the speed that it has.",
    ),
    word(
        "Rim",
        "the outer edge of a wheel, where it touches the floor.",
    ),
    word(
        "Wheelspin",
        "the wheel turns but slides on the floor, so the car goes less far than the rim turned.",
    ),
    word(
        "Slip",
        "how much of the rim's turning is wasted. 0: the wheel rolls. 0.5: half is wasted. 1: it spins on the spot.",
    ),
    word(
        "Grip",
        "how hard the floor holds the wheel. More grip, less wheelspin.",
    ),
    word(
        "Aim line",
        "the straight line on the floor that the car should follow.",
    ),
    word(
        "Off line",
        "how far to the side of the aim line the car is.",
    ),
    word(
        "Interval",
        "two numbers. The true value lies between them in 95 of 100 cases. A narrow interval is a sure number.",
    ),
];

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_pupil_reads_each_word_in_a_breath() {
        for entry in GLOSSARY {
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
