//! The car's path and the wheel's turn, smoothed, with the sway that both show.

use super::refine::{Refined, SwayCourse, refine_sway};
use super::shape::Phase;
use super::sway::{beside, find_sway, in_step};
use super::wheel::{Circling, Wheel, smooth_wheel};
use super::{Body, CarGeometry, MotionReason, Tuning, WheelTuning, smooth_body};
use crate::camera::View;
use crate::track::Track;
use rayon::prelude::*;

/// A car that shows no sway to the side may hop: the observations must be this much likelier with it, as a logarithm.
/// One such car in about twenty is expected, and one in a hundred of those said to do so may not.
const SWAYS: f64 = 7.0;
/// Rounds of finding a sway and smoothing with it.
const SWAY_ROUNDS: usize = 5;
/// Rounds of seeking the parts of one sway ...
const CLIMB_ROUNDS: usize = 12;
/// ... either of which ends where the logarithm of the likelihood grows by no more than this. Chosen by hand, as the
/// rounds are.
const SETTLED: f64 = 0.5;

/// Shares of the way to the parts that are sought, tried in turn.
const SHARES: [f64; 2] = [1.0, 0.4];
/// Rounds of smoothing with a known sway and seeing anew what it keeps step with: each leaves about half of an error.
const AGAIN_ROUNDS: usize = 2;

/// How many looks at the wheel's mark count as one: what takes it off its circle does so for many frames alike. Chosen by
/// hand; not measured.
const ALIKE_ON_CIRCLE: f64 = 8.0;
/// Nearer to it than this share of its radius is as good as on it.
const LEAST_OFF_CIRCLE: f64 = 0.01;

/// The car's path and the wheel's turn, smoothed with a sway.
pub(super) struct Smoothed {
    pub(super) body: Body,
    pub(super) wheel: Result<Wheel, MotionReason>,
    pub(super) sway: Option<SwayCourse>,
}

/// What the smoothers look at, however often they do.
#[derive(Clone, Copy)]
pub(super) struct Seen<'a> {
    pub(super) track: &'a Track,
    pub(super) view: &'a View,
    pub(super) car: &'a CarGeometry,
    pub(super) released_s: Option<f64>,
}

impl Seen<'_> {
    /// Smooths the car's path and, about it, the wheel's turn; `known` is what the smoothers settled on before.
    pub(super) fn smoothed(
        &self,
        known: Option<&Tuning>,
        sway: Option<SwayCourse>,
    ) -> Result<Smoothed, MotionReason> {
        let (track, view, car) = (self.track, self.view, self.car);
        let of_body = known.map(|t| &t.body);
        let body = smooth_body(track, view, car, self.released_s, of_body, sway.as_ref())?;
        let of_wheel = known.and_then(|t| t.wheel.as_ref());
        let wheel = self.turn(&wheel_marks(track, car), &body, of_wheel);
        Ok(Smoothed { body, wheel, sway })
    }

    /// The turn of what marks circle about, beside the car's path.
    fn turn(
        &self,
        marks: &[Circling<'_>],
        body: &Body,
        known: Option<&WheelTuning>,
    ) -> Result<Wheel, MotionReason> {
        let times_s = &self.track.times_s;
        smooth_wheel(
            marks,
            times_s,
            self.view,
            self.car,
            body,
            self.released_s,
            known,
        )
    }

    /// The axle's turn, by the mark on its end.
    pub(super) fn axle(
        &self,
        body: &Body,
        known: Option<&WheelTuning>,
    ) -> Result<Wheel, MotionReason> {
        if self.track.axle.iter().all(Option::is_none) {
            return Err(MotionReason::NoAxleMark);
        }
        let mark = Circling {
            places: &self.track.axle,
            radius_m: None,
        };
        self.turn(&[mark], body, known)
    }

    /// The same with the sway that path and turn show, where sideways motion can be seen.
    ///
    /// The wheel's angle is measured beside the body, the body's sway goes by the wheel's angle, and both are curved:
    /// a few rounds settle them, each of which must make the observations likelier. Without that they may walk away
    /// from the sway to one that turns, shifts and lifts the car a great deal to explain its own errors.
    pub(super) fn smoothed_with_its_sway(&self) -> Result<Smoothed, MotionReason> {
        let best = self.climbed_to_its_sway()?;
        if !best.wheel.as_ref().is_ok_and(Wheel::off_its_circle) {
            return Ok(best);
        }
        // What does not circle as the wheel does says nothing of the car's sway either.
        let without = Track {
            wheel: vec![None; self.track.wheel.len()],
            more_wheel: Vec::new(),
            ..self.track.clone()
        };
        let mut best = Seen {
            track: &without,
            ..*self
        }
        .climbed_to_its_sway()?;
        best.wheel = Err(MotionReason::NoCircle);
        Ok(best)
    }

    fn climbed_to_its_sway(&self) -> Result<Smoothed, MotionReason> {
        let mut best = self.smoothed(None, None)?;
        if self.view.lateral.is_err() {
            return Ok(best);
        }
        best = self.ascended(best, SWAY_ROUNDS, |from| self.better_with_a_sway(from));
        self.add_spread(&mut best);
        Ok(best)
    }

    /// The same with what the smoothers settled on before. What the sway keeps step with is seen beside the car that
    /// sways, so an error of one is one of the other: a sway of a drawn size moves both.
    pub(super) fn smoothed_again(&self, known: &Tuning) -> Result<Smoothed, MotionReason> {
        let mut out = self.smoothed(Some(known), known.sway.clone())?;
        let Some(sway) = known.sway.as_ref().filter(|sway| sway.step.is_some()) else {
            return Ok(out);
        };
        for _ in 0..AGAIN_ROUNDS {
            let Some(beside) = beside(&out.body, out.wheel.as_ref().ok(), self.car, sway) else {
                break;
            };
            out = self.smoothed(Some(known), Some(beside))?;
        }
        Ok(out)
    }

    /// How well the parts of a motion's sway are known.
    fn add_spread(&self, smoothed: &mut Smoothed) {
        let sways = smoothed.sway.as_mut().filter(|sway| sway.step.is_some());
        let Some(sway) = sways else { return };
        if let Some(refined) = self.refined(&smoothed.body, sway) {
            sway.covariance = refined.course.covariance;
        }
    }

    /// Takes what is likelier until that settles.
    fn ascended(
        &self,
        mut best: Smoothed,
        rounds: usize,
        likelier: impl Fn(&Smoothed) -> Option<Smoothed>,
    ) -> Smoothed {
        for _ in 0..rounds {
            let Some(next) = likelier(&best) else { break };
            let gain = self.likelihood(&next) - self.likelihood(&best);
            best = next;
            if gain < SETTLED {
                break;
            }
        }
        best
    }

    /// Logarithm of the likelihood of the sticker's places, of how far the wheel's mark is off its circle beside such a
    /// car, and of the sway among those that wheels have.
    fn likelihood(&self, of: &Smoothed) -> f64 {
        let of_sway = of.sway.as_ref().map_or(0.0, SwayCourse::log_prior);
        // Normal errors of a size that is open: each look counts by that size's logarithm. A wheel that cannot be
        // followed, or gives no circle, is as far off as its circle is large.
        let off = match &of.wheel {
            Ok(wheel) if wheel.residual_m > 0.0 => wheel.off_circle().max(LEAST_OFF_CIRCLE),
            _ => 1.0,
        };
        let looks = self.track.wheel.iter().flatten().count() as f64;
        of.body.log_likelihood + of_sway - looks / ALIKE_ON_CIRCLE * off.ln()
    }

    /// The motion with the likeliest of the sways that a smoothed motion shows; `None` where none is likelier than what
    /// was smoothed with.
    fn better_with_a_sway(&self, smoothed: &Smoothed) -> Option<Smoothed> {
        let tried: Vec<Smoothed> = self
            .sways_about(smoothed)
            .into_par_iter()
            .filter_map(
                |sway| match smoothed.sway.as_ref().and_then(|before| before.step) {
                    // What was climbed to stays where it is, and what goes by the wheel's own turn needs no stand-in.
                    Some(step) if Some(step) == sway.step || step == Phase::DrivenWheel => {
                        self.smoothed(None, Some(sway)).ok()
                    }
                    _ => self.climbed(sway),
                },
            )
            .collect();
        tried
            .into_iter()
            .filter(|tried| self.likelihood(tried) > self.likelihood(smoothed))
            .max_by(|a, b| self.likelihood(a).total_cmp(&self.likelihood(b)))
    }

    /// The motion with a sway, and with what its parts become where they are sought again beside that motion.
    fn climbed(&self, sway: SwayCourse) -> Option<Smoothed> {
        let beginning = self.smoothed(None, Some(sway)).ok()?;
        Some(self.ascended(beginning, CLIMB_ROUNDS, |from| self.likelier(from)))
    }

    /// The motion with its sway's parts sought again; not all the way where that goes too far, since both are curved.
    fn likelier(&self, smoothed: &Smoothed) -> Option<Smoothed> {
        let (body, wheel) = (&smoothed.body, smoothed.wheel.as_ref().ok());
        let before = smoothed.sway.as_ref().filter(|sway| sway.step.is_some())?;
        let beside = beside(body, wheel, self.car, before)?;
        let refined = self.refined(body, &beside)?.course;
        SHARES.iter().find_map(|share| {
            let sway = SwayCourse {
                parts: before.parts.lerp(&refined.parts, *share),
                ..refined.clone()
            };
            let tried = self.smoothed(None, Some(sway)).ok()?;
            (self.likelihood(&tried) > self.likelihood(smoothed)).then_some(tried)
        })
    }

    fn refined(&self, body: &Body, course: &SwayCourse) -> Option<Refined> {
        refine_sway(
            self.track,
            self.view,
            self.car,
            self.released_s,
            body,
            course,
        )
    }

    /// The sways that a smoothed path and turn show, by what they may keep step with; the search for their parts starts
    /// from those smoothed with.
    fn sways_about(&self, smoothed: &Smoothed) -> Vec<SwayCourse> {
        let (body, wheel) = (&smoothed.body, smoothed.wheel.as_ref().ok());
        let found = find_sway(body, wheel, self.car);
        let mut courses = in_step(body, wheel, self.car);
        courses.extend(found.clone().filter(|found| !found.phase.is_empty()));
        for course in &mut courses {
            let before = smoothed.sway.as_ref();
            course.parts = before.map_or(course.parts, |before| before.parts);
            if let Some(found) = &found {
                course.turn_rad.clone_from(&found.turn_rad);
                course.yaw_per_spun_m = found.yaw_per_spun_m;
            }
        }
        courses.dedup();
        let refined = courses
            .iter()
            .filter_map(|course| self.refined(body, course))
            .filter(|refined| refined.gain > SWAYS);
        refined
            .map(|refined| refined.course)
            .chain(found.clone())
            .collect()
    }
}

/// The marks of the driven wheel, the first one with the radius that the sheet gives.
fn wheel_marks<'a>(track: &'a Track, car: &CarGeometry) -> Vec<Circling<'a>> {
    let first = Circling {
        places: &track.wheel,
        radius_m: car.mark_radius_m,
    };
    let further = track.more_wheel.iter().map(|places| Circling {
        places,
        radius_m: None,
    });
    std::iter::once(first).chain(further).collect()
}
