//! Turns that were counted once, taken over where the same looks are placed a little differently.

use super::{AngleObservation, Turns};
use std::f64::consts::TAU;

/// Looks at a wheel whose turns were counted.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Counted {
    /// In order of frames.
    looks: Vec<CountedLook>,
    /// As in [`Turns`].
    pub(in crate::motion) ambiguous: Vec<bool>,
}

#[derive(Debug, Clone, Copy, PartialEq)]
struct CountedLook {
    frame: usize,
    /// Angle but for whole turns, rad.
    seen_rad: f64,
    /// Angle with them.
    angle_rad: Option<f64>,
}

impl Turns {
    /// What was counted, to be taken over where the same looks are placed a little differently.
    pub(in crate::motion) fn counted(&self, observations: &[AngleObservation]) -> Counted {
        let mut looks: Vec<CountedLook> = (observations.iter().zip(&self.angles))
            .map(|(observation, angle)| CountedLook {
                frame: observation.frame,
                seen_rad: observation.angle_rad,
                angle_rad: *angle,
            })
            .collect();
        looks.sort_by_key(|look| look.frame);
        Counted {
            looks,
            ambiguous: self.ambiguous.clone(),
        }
    }
}

impl Counted {
    /// The same where frames are counted from a later one.
    pub(in crate::motion) fn starting_at(&self, from: usize) -> Self {
        let later = self.looks.iter().filter(|look| look.frame >= from);
        Self {
            looks: later
                .map(|look| CountedLook {
                    frame: look.frame - from,
                    ..*look
                })
                .collect(),
            ambiguous: self.ambiguous[from.min(self.ambiguous.len())..].to_vec(),
        }
    }

    /// The angles of observations, each with the turns of the counted look that it is nearest to in its frame; `None`
    /// where that was of something else, or there is none.
    pub(in crate::motion) fn angles(&self, observations: &[AngleObservation]) -> Vec<Option<f64>> {
        observations.iter().map(|one| self.angle_of(one)).collect()
    }

    fn angle_of(&self, observation: &AngleObservation) -> Option<f64> {
        let from = (self.looks).partition_point(|look| look.frame < observation.frame);
        let off = |look: &CountedLook| {
            let apart = look.seen_rad - observation.angle_rad;
            (apart - TAU * (apart / TAU).round()).abs()
        };
        let of_frame = self.looks[from..]
            .iter()
            .take_while(|look| look.frame == observation.frame);
        let nearest = of_frame.min_by(|a, b| off(a).total_cmp(&off(b)))?;
        let turns = ((nearest.angle_rad? - observation.angle_rad) / TAU).round();
        Some(observation.angle_rad + turns * TAU)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn look_at(frame: usize, angle_rad: f64) -> AngleObservation {
        AngleObservation {
            frame,
            time_s: frame as f64 / 60.0,
            angle_rad: angle_rad.sin().atan2(angle_rad.cos()),
            variance: 1e-4,
        }
    }

    #[test]
    fn looks_placed_a_little_differently_keep_their_turns() {
        // 1.5 rad a frame; a look is of something else.
        let angle = |frame: usize| 1.0 + 1.5 * frame as f64;
        let seen: Vec<AngleObservation> = (0..90).map(|n| look_at(n, angle(n))).collect();
        let turns = Turns {
            angles: (0..90).map(|n| (n != 70).then(|| angle(n))).collect(),
            ambiguous: vec![false; 90],
            sure_observations: 90,
            top_rate: 90.0,
        };
        // Two frames fewer at the beginning, and one of the rest not seen.
        let counted = turns.counted(&seen).starting_at(2);
        let off = |frame: usize| 0.25 * (frame as f64).sin();
        let moved: Vec<AngleObservation> = (3..90)
            .map(|frame| look_at(frame - 2, angle(frame) + off(frame)))
            .collect();
        for (frame, found) in (3..90).zip(counted.angles(&moved)) {
            match found {
                Some(found) => {
                    let expected = angle(frame) + off(frame);
                    assert!((found - expected).abs() < 1e-9, "{frame}: {found}");
                }
                None => assert_eq!(frame, 70),
            }
        }
        assert_eq!(counted.ambiguous.len(), 88);
    }
}
