//! How much later the one phone's clock is than the other's.

use super::{AlignmentNote, AlignmentReason, Missed, Snap, SnapReason, ViewName};
use crate::findings::Estimate;
use crate::uncertainty::QuantityReason;
use serde::Serialize;

/// What one phone's clip says about the moment of release, on its own clock.
#[derive(Debug, Clone, PartialEq)]
pub struct Moment {
    /// The snap of the spring, or why it was not heard.
    pub snap: Result<Snap, SnapReason>,
    /// First motion, or why it was not seen.
    pub first_motion: Result<Estimate, QuantityReason>,
    /// Way from the start mark to the phone, m, where the phone's place is known.
    pub phone_away_m: Option<f64>,
}

/// What two clips were lined up by.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum AlignedBy {
    /// The snap of the spring in both sound tracks.
    Sound,
    /// The first motion in both pictures.
    FirstMotion,
}

/// How the clocks of two clips of one run lie to each other.
#[derive(Debug, Clone, PartialEq)]
pub struct Alignment {
    /// By what.
    pub by: AlignedBy,
    /// Time on the side clip's clock less that on the end clip's at the same moment, s.
    pub offset_s: Estimate,
    /// The offset by sound less that by first motion, s, where both are to be had.
    pub residual_s: Option<Estimate>,
    /// Why it was not the sound, or that the sound was not checked.
    pub note: Option<AlignmentNote>,
}

impl Alignment {
    /// The moment of the end clip's time on the side clip's clock.
    pub fn on_side_clock(&self, end_s: f64) -> f64 {
        end_s + self.offset_s.value
    }
}

/// Speed of sound in air of 20 °C (handbook value, 343.2 m/s in dry air).
const SOUND_M_PER_S: f64 = 343.0;
/// A phone whose place is not known stands about this far from the start: common practice, no source.
const USUAL_AWAY_M: Estimate = Estimate {
    value: 2.2,
    sd: 0.8,
};
/// The spring sits on the car, some tenths of a metre from the start mark.
const PLACED_SD_M: f64 = 0.2;
/// Sound and motion that disagree by more than this many standard uncertainties tell of two events.
const MOST_SDS: f64 = 4.0;

/// Lines two clips up: by the snap in both sound tracks, else by first motion in both pictures.
///
/// # Errors
/// The reason where neither is to be had in both.
pub fn align(side: &Moment, end: &Moment) -> Result<Alignment, AlignmentReason> {
    let by_sound =
        heard(side, ViewName::Side).and_then(|a| Ok(difference(a, heard(end, ViewName::End)?)));
    let by_motion =
        seen(side, ViewName::Side).and_then(|a| Ok(difference(a, seen(end, ViewName::End)?)));
    match (by_sound, by_motion) {
        (Ok(sound), Ok(motion)) => {
            let residual = difference(sound, motion);
            let agree = residual.value.abs() <= MOST_SDS * residual.sd;
            Ok(Alignment {
                by: if agree {
                    AlignedBy::Sound
                } else {
                    AlignedBy::FirstMotion
                },
                offset_s: if agree { sound } else { motion },
                residual_s: Some(residual),
                note: (!agree).then_some(AlignmentNote::OtherBang {
                    apart_s: residual.value,
                }),
            })
        }
        (Ok(sound), Err(why)) => Ok(Alignment {
            by: AlignedBy::Sound,
            offset_s: sound,
            residual_s: None,
            note: Some(AlignmentNote::Unchecked(why)),
        }),
        (Err(why), Ok(motion)) => Ok(Alignment {
            by: AlignedBy::FirstMotion,
            offset_s: motion,
            residual_s: None,
            note: Some(AlignmentNote::NoSnap(why)),
        }),
        (Err(sound), Err(motion)) => Err(AlignmentReason { sound, motion }),
    }
}

/// When the spring snapped: the sound's time less its way to the phone.
fn heard(clip: &Moment, view: ViewName) -> Result<Estimate, Missed<SnapReason>> {
    let snap = clip.snap.map_err(|why| Missed { view, why })?;
    let away_m = clip.phone_away_m.map_or(USUAL_AWAY_M, |value| Estimate {
        value,
        sd: PLACED_SD_M,
    });
    Ok(Estimate {
        value: snap.at_s - away_m.value / SOUND_M_PER_S,
        sd: snap.sd_s.hypot(away_m.sd / SOUND_M_PER_S),
    })
}

fn seen(clip: &Moment, view: ViewName) -> Result<Estimate, Missed<QuantityReason>> {
    clip.first_motion.map_err(|why| Missed { view, why })
}

fn difference(a: Estimate, b: Estimate) -> Estimate {
    Estimate {
        value: a.value - b.value,
        sd: a.sd.hypot(b.sd),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::findings::FindingReason;

    fn clip(snap_s: Option<f64>, motion_s: Option<f64>) -> Moment {
        Moment {
            snap: snap_s
                .map(|at_s| Snap {
                    at_s,
                    sd_s: 0.001,
                    rise: 50.0,
                })
                .ok_or(SnapReason::NoSound),
            first_motion: motion_s
                .map(|value| Estimate { value, sd: 0.006 })
                .ok_or(QuantityReason::Finding(FindingReason::PullUnseen)),
            phone_away_m: Some(2.0),
        }
    }

    #[test]
    fn sound_is_taken_and_motion_is_the_check() {
        let found = align(
            &clip(Some(0.506), Some(0.497)),
            &clip(Some(0.906), Some(0.903)),
        )
        .unwrap();
        assert_eq!(found.by, AlignedBy::Sound);
        assert!((found.offset_s.value + 0.4).abs() < 1e-12);
        assert!((found.residual_s.unwrap().value - 0.006).abs() < 1e-12);
        assert!((found.on_side_clock(1.0) - 0.6).abs() < 1e-12);
    }

    #[test]
    fn a_farther_phone_hears_later() {
        let near = clip(Some(0.5), None);
        let far = Moment {
            phone_away_m: Some(2.0 + 3.43),
            ..clip(Some(0.51), None)
        };
        let found = align(&near, &far).unwrap();
        // 3.43 m are 10 ms of sound's way: both snapped at the same reading of their clocks.
        assert!(found.offset_s.value.abs() < 1e-12);
        let unknown = Moment {
            phone_away_m: None,
            ..near
        };
        assert!(align(&unknown, &far).unwrap().offset_s.sd > found.offset_s.sd);
    }

    #[test]
    fn a_bang_that_is_not_the_release_is_left_out() {
        let found = align(&clip(Some(0.3), Some(0.5)), &clip(Some(0.9), Some(0.9))).unwrap();
        assert_eq!(found.by, AlignedBy::FirstMotion);
        assert!((found.offset_s.value + 0.4).abs() < 1e-12);
        let Some(AlignmentNote::OtherBang { apart_s }) = found.note else {
            panic!("{:?}", found.note)
        };
        assert!((apart_s + 0.2).abs() < 1e-12, "{apart_s}");
    }

    #[test]
    fn one_of_the_two_is_enough_and_neither_is_told() {
        let mute = align(&clip(None, Some(0.5)), &clip(Some(0.9), Some(0.9))).unwrap();
        assert_eq!(mute.by, AlignedBy::FirstMotion);
        assert_eq!(
            mute.note,
            Some(AlignmentNote::NoSnap(Missed {
                view: ViewName::Side,
                why: SnapReason::NoSound
            }))
        );
        let late = align(&clip(Some(0.5), None), &clip(Some(0.9), Some(0.9))).unwrap();
        assert_eq!(late.by, AlignedBy::Sound);
        let why = align(&clip(None, None), &clip(None, None)).unwrap_err();
        assert_eq!(
            (why.sound.view, why.motion.view),
            (ViewName::Side, ViewName::Side)
        );
        assert_eq!(why.sound.why, SnapReason::NoSound);
    }
}
