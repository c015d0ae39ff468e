//! The three numbers that tell most of a run.

use crate::findings::Key;
use crate::outputs::Story;
use crate::outputs::shown::show;
use crate::uncertainty::Quantity;
use crate::verdict::Cause;

/// A number on the poster.
pub(crate) struct Number {
    pub(crate) value: String,
    pub(crate) meaning: String,
    /// Its interval: "1.2 and 1.4 m".
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
        .filter_map(|key| number(key, measures.result.get(key)))
        .take(3)
        .collect()
}

/// A quantity as a number with its meaning; one that has a side without its sign and with the side in words.
fn number(key: Key, quantity: Quantity) -> Option<Number> {
    let Quantity::Stated { value, low, high } = quantity else {
        return None;
    };
    let sided = match key {
        Key::FinalDeviationM => Some("off line at the end of the view,"),
        Key::AimErrorRad => Some("off line in its heading at the start,"),
        Key::ImpliedSkewRad => Some("axles askew, steering"),
        _ => None,
    };
    let (quantity, meaning) = match sided {
        Some(what) if low > 0.0 => (quantity, format!("{what} to the left")),
        Some(what) if high < 0.0 => {
            let turned = Quantity::stated(-value, -high, -low);
            (turned, format!("{what} to the right"))
        }
        _ => (quantity, key.meaning().to_owned()),
    };
    let said = show(key, &quantity).ok()?;
    Some(Number {
        value: said.value,
        between: format!("{}{}", said.interval.replace(" to ", " and "), said.unit),
        meaning,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_side_is_told_in_words_where_there_surely_is_one() {
        let right = number(
            Key::FinalDeviationM,
            Quantity::stated(-0.219, -0.2225, -0.2154),
        )
        .unwrap();
        assert_eq!(right.value, "0.2190 m");
        assert_eq!(right.between, "0.2154 and 0.2225 m");
        assert!(right.meaning.ends_with("to the right"), "{}", right.meaning);
        let open = number(Key::FinalDeviationM, Quantity::stated(0.001, -0.005, 0.007)).unwrap();
        assert_eq!(open.between, "−5.0 and 7.0 mm");
        assert!(!open.meaning.contains("right"), "{}", open.meaning);
    }
}
