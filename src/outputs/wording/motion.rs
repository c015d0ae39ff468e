//! What the marks do not show of the motion, in words: what is wrong, and what to do about it.

use crate::motion::MotionReason;
use std::fmt;

impl fmt::Display for MotionReason {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.fact())?;
        match self.remedy() {
            Some(remedy) => write!(f, "; {remedy}"),
            None => Ok(()),
        }
    }
}

impl MotionReason {
    /// What is wrong.
    pub fn fact(&self) -> String {
        match self {
            Self::View(reason) => reason.to_string(),
            Self::StickerUnseen => "the sticker was not seen".into(),
            Self::StickerSeldom => "the sticker was seen in too few frames".into(),
            Self::OffTheFloor => "the sticker's place does not meet the floor in this view".into(),
            Self::NoSmoothPath => {
                "no smooth path fits the sticker's places at the times of the frames".into()
            }
            Self::NeverMoves => "the car does not move in this clip".into(),
            Self::AlreadyMoving => "the car was already moving when it came into view".into(),
            Self::RestUnsure => {
                "whether the car stood still when the clip begins cannot be told".into()
            }
            Self::ShortClip => "the clip is too short".into(),
            Self::NoWheelMark => "no mark was named".into(),
            Self::NoAxleMark => {
                "no mark on the axle's end was named in the run sheet, or none was seen".into()
            }
            Self::FewWheelFrames { seen, needed } => format!(
                "the wheel mark was seen beside the sticker in {seen} frames; at least {needed} are needed"
            ),
            Self::OffHub { by_m } => format!(
                "what has the wheel mark's colour circles a point {:.0} mm from the hub that the run sheet gives",
                1000.0 * by_m
            ),
            Self::NoCircle => {
                "what has the wheel mark's colour does not keep to a circle about the hub".into()
            }
            Self::TurnedTooLittle => {
                "the wheel turned too little for its hub to be found, and the run sheet does not give the mark's \
                 radius"
                    .into()
            }
            Self::FewKept { .. } | Self::HalfTurns { .. } | Self::CountUnsure { .. } => {
                self.miscounted()
            }
            Self::OtherWheel {
                rolls_on_m,
                sheet_m,
            } => format!(
                "the wheel mark's turns on the coast ask for a wheel of {:.0} mm, the run sheet says {:.0} mm: \
                 something else was taken for the mark, or turns were lost",
                2000.0 * rolls_on_m,
                2000.0 * sheet_m
            ),
            Self::TurnedLess { short_m } => format!(
                "the wheel mark turned {short_m:.2} m less than the car went, which no driving wheel does: \
                 something else was taken for the mark, or turns were lost"
            ),
        }
    }

    /// Why the turns are not counted.
    fn miscounted(&self) -> String {
        match self {
            Self::FewKept { kept, of } => format!(
                "only {kept} of {of} sightings of the wheel mark keep to a circle and to a steady turn"
            ),
            Self::HalfTurns { beyond, of, .. } => format!(
                "the wheel turns by more than half a turn from one sighting of its mark to the next in {beyond} \
                 of {of}, so its turns cannot be counted surely"
            ),
            Self::CountUnsure { sure, of } => format!(
                "after {sure} of {of} sightings of the wheel mark its turns can no longer be counted surely"
            ),
            _ => String::new(),
        }
    }

    /// What to do about it, where there is something.
    pub fn remedy(&self) -> Option<String> {
        let remedy = match self {
            Self::OffTheFloor => "check the floor marks' places and the sticker's height",
            Self::RestUnsure => "begin a second before the release, and hold the phone still",
            Self::OffHub { .. } => {
                "check `ahead_mm` and the wheel's diameter, and that nothing else near the car has that colour"
            }
            Self::FewKept { .. } => {
                "film in better light or nearer, with nothing else of its colour near the car"
            }
            Self::HalfTurns {
                enough_per_s: Some(fps),
                ..
            } => return Some(format!("film at {fps:.0} frames a second or more")),
            Self::HalfTurns { .. } => "use a larger wheel or a slower start",
            Self::CountUnsure { .. } => {
                "keep the mark in view and in good light, or film at a higher frame rate"
            }
            Self::OtherWheel { .. } => "film nearer, in better light, or with more frames a second",
            _ => return None,
        };
        Some(remedy.to_owned())
    }
}
