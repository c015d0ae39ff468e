//! What was wrong with a file that could still be read in part.

use std::mem::discriminant;

/// One thing that was wrong with the file.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub enum Damage {
    /// The file is shorter than its own boxes say.
    Truncated {
        /// Bytes that are missing at the end.
        missing_bytes: u64,
    },
    /// Packets that could not be read or decoded.
    BrokenPackets {
        /// How many.
        count: u64,
    },
    /// Frames that decoded only in part, or from other frames that were lost; they were left out.
    SpoiltFrames {
        /// How many.
        count: u64,
    },
    /// Frames without a timestamp; they were left out.
    MissingTimes {
        /// How many.
        count: u64,
    },
    /// Frames not later than the one before; they were left out.
    TimesNotIncreasing {
        /// How many.
        count: u64,
    },
    /// Frames over a day after the first; they were left out.
    TimesTooLate {
        /// How many.
        count: u64,
    },
    /// Frames whose size or pixel format differs from the header's; they were left out.
    PictureChanged {
        /// How many.
        count: u64,
    },
    /// The header promises clearly more frames than came out.
    FewerFrames {
        /// Frames that the header promises.
        promised: u64,
        /// Frames that came out of the decoder.
        decoded: u64,
    },
    /// The edit list shows part of the recording more than once.
    RepeatedSegments,
    /// The edit list leaves out part of the recording, so that time jumps inside the clip.
    CutSegments,
    /// The edit list plays part of the recording at another speed.
    ChangedSpeed {
        /// Play speed, 1 for as recorded; 0 for a still.
        rate: f64,
    },
    /// The header says that pixels are not square.
    PixelsNotSquare {
        /// Width of a stored pixel over its height.
        ratio: f64,
    },
}

impl Damage {
    fn count_mut(&mut self) -> Option<&mut u64> {
        match self {
            Self::BrokenPackets { count }
            | Self::SpoiltFrames { count }
            | Self::MissingTimes { count }
            | Self::TimesNotIncreasing { count }
            | Self::TimesTooLate { count }
            | Self::PictureChanged { count } => Some(count),
            _ => None,
        }
    }
}

/// Damage gathered so far; counted kinds are kept as one entry each.
#[derive(Debug, Default)]
pub(super) struct DamageLog(Vec<Damage>);

impl DamageLog {
    pub(super) fn add(&mut self, fresh: Damage) {
        let known = self
            .0
            .iter_mut()
            .find(|known| discriminant(*known) == discriminant(&fresh))
            .and_then(Damage::count_mut);
        if let (Some(total), Some(more)) = (known, fresh.clone().count_mut()) {
            *total += *more;
        } else {
            self.0.push(fresh);
        }
    }

    pub(super) fn all(&self) -> &[Damage] {
        &self.0
    }

    /// All of it, each part after a semicolon, to go on from what is said of the file.
    pub(super) fn words(&self) -> String {
        let mut words = String::new();
        for damage in &self.0 {
            words += "; ";
            words += &damage.to_string();
        }
        words
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn counted_damage_is_one_entry_that_grows() {
        let mut log = DamageLog::default();
        log.add(Damage::MissingTimes { count: 1 });
        log.add(Damage::BrokenPackets { count: 1 });
        log.add(Damage::MissingTimes { count: 1 });
        let wanted = [
            Damage::MissingTimes { count: 2 },
            Damage::BrokenPackets { count: 1 },
        ];
        assert_eq!(log.all(), wanted);
        assert_eq!(
            log.all()[0].to_string(),
            "2 frames without a time, left out"
        );
        assert_eq!(
            log.all()[1].to_string(),
            "1 packet of the picture could not be decoded"
        );
    }
}
