//! What was wrong with a file, in words.

use super::{Said, shown_in_english};
use crate::clip::Damage;
use crate::texts::{Texts, say};

shown_in_english!(Damage);

impl Said for Damage {
    fn said(&self, texts: &Texts) -> String {
        match *self {
            Self::Truncated { missing_bytes } => {
                say!(texts, "damage-truncated", bytes = missing_bytes)
            }
            Self::BrokenPackets { count } => say!(texts, "damage-packets", count = count),
            Self::SpoiltFrames { count } => say!(texts, "damage-spoilt", count = count),
            Self::MissingTimes { count } => say!(texts, "damage-untimed", count = count),
            Self::TimesNotIncreasing { count } => say!(texts, "damage-unordered", count = count),
            Self::TimesTooLate { count } => say!(texts, "damage-late", count = count),
            Self::PictureChanged { count } => say!(texts, "damage-changed", count = count),
            Self::FewerFrames { promised, decoded } => say!(
                texts,
                "damage-fewer",
                promised = promised.to_string(),
                decoded = decoded.to_string(),
            ),
            Self::RepeatedSegments => texts.text("damage-repeated"),
            Self::CutSegments => texts.text("damage-cut"),
            Self::ChangedSpeed { rate } => {
                let rate = texts.marked(&rate.to_string());
                say!(texts, "damage-speed", rate = rate)
            }
            Self::PixelsNotSquare { ratio } => {
                say!(texts, "damage-pixels", ratio = texts.fixed(ratio, 3))
            }
        }
    }
}
