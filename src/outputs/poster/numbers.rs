//! The three numbers that tell most of a run.

use crate::findings::Key;
use crate::outputs::Story;
use crate::outputs::shown::show;
use crate::outputs::wording::meaning;
use crate::texts::Texts;
use crate::uncertainty::Quantity;
use crate::verdict::Cause;

/// A number on the poster.
pub(crate) struct Number {
    pub(crate) value: String,
    pub(crate) meaning: String,
    /// Its interval: "1.2 and 1.4 m" in English.
    pub(crate) between: String,
}

/// The three numbers that tell most of a run: what the verdict rests on, then how far and how fast.
pub(crate) fn three(story: &Story<'_>) -> Vec<Number> {
    let Ok(measures) = &story.measured else {
        return Vec::new();
    };
    let first: &[Key] = match measures.verdict.cause {
        Cause::Grip => &[Key::SpunAwayM],
        Cause::Alignment => &[Key::FinalDeviationM, Key::ImpliedSkewRad],
        Cause::Aim => &[Key::FinalDeviationM, Key::AimErrorRad],
        Cause::Wobble => &[Key::WobbleM],
        Cause::Drive => &[Key::StringSlipTurns, Key::LooseWheelTurns],
        Cause::Drag => &[Key::CoastDecelerationMPerS2],
        Cause::None | Cause::Undetermined => &[],
    };
    let then = [
        Key::DistanceM,
        Key::PeakSpeedMPerS,
        Key::MaxSlip,
        Key::FinalDeviationM,
        Key::WheelTurns,
    ];
    let mut keys: Vec<Key> = Vec::new();
    for key in first.iter().copied().chain(then) {
        if !keys.contains(&key) {
            keys.push(key);
        }
    }
    keys.into_iter()
        .filter_map(|key| number(story.texts(), key, measures.result.get(key)))
        .take(3)
        .collect()
}

/// A quantity as a number with its meaning; one that has a side without its sign and with the side in words.
fn number(texts: &Texts, key: Key, quantity: Quantity) -> Option<Number> {
    let Quantity::Stated { value, low, high } = quantity else {
        return None;
    };
    let sided = match key {
        Key::FinalDeviationM => Some("number-off-line"),
        Key::AimErrorRad => Some("number-heading"),
        Key::ImpliedSkewRad => Some("number-skew"),
        _ => None,
    };
    let (quantity, meaning) = match sided {
        Some(what) if low > 0.0 => (quantity, texts.with(what, "side", "left")),
        Some(what) if high < 0.0 => {
            let turned = Quantity::stated(-value, -high, -low);
            (turned, texts.with(what, "side", "right"))
        }
        _ => (quantity, meaning(texts, key)),
    };
    let said = show(texts, key, &quantity).ok()?;
    Some(Number {
        value: said.value,
        between: said.between,
        meaning,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_side_is_told_in_words_where_there_surely_is_one() {
        let right = number(
            Texts::english(),
            Key::FinalDeviationM,
            Quantity::stated(-0.219, -0.2225, -0.2154),
        )
        .unwrap();
        assert_eq!(right.value, "0.2190 m");
        assert_eq!(right.between, "0.2154 and 0.2225 m");
        assert!(right.meaning.ends_with("to the right"), "{}", right.meaning);
        let open = number(
            Texts::english(),
            Key::FinalDeviationM,
            Quantity::stated(0.001, -0.005, 0.007),
        )
        .unwrap();
        assert_eq!(open.between, "−5.0 and 7.0 mm");
        assert!(!open.meaning.contains("right"), "{}", open.meaning);
    }
}
