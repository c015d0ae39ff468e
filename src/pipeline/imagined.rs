//! An ordinary run put before the clip's own camera, for a clip in which nothing moves: the stages that
//! measure a run then say how well it would be measured.

use super::inspect::DRAWS;
use crate::analysis::analyse;
use crate::camera::{Projection, View};
use crate::clip_quality::RunEvidence;
use crate::noise::{median, median_step_s};
use crate::priors::Priors;
use crate::track::{Place, Places, Track};
use crate::uncertainty::{Result95, with_intervals};
use nalgebra::{Point3, Vector2};
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};

/// The run: rest, pull, coast (s), and the pull's acceleration (m/s²): common practice, no source.
const REST_S: f64 = 0.4;
const PULL_S: f64 = 1.0;
const COAST_S: f64 = 0.6;
const PULL_M_PER_S2: f64 = 1.6;
const COAST_M_PER_S2: f64 = -0.3;
/// The wheel mark sits at this share of the wheel's radius.
const MARK_SHARE: f64 = 0.65;
/// Same clip, same judgement.
const SEED: u64 = 0x6368_6563;
/// A run of which fewer observations than this fall into the picture says nothing.
const MIN_OBSERVATIONS: usize = 20;

/// The intervals of the run that is imagined in place of a car at rest, with a wheel mark or without; `None` where
/// no camera is known or the run leaves the picture at once.
pub(super) fn imagined_run(still: &RunEvidence<'_>, wants_wheel: bool) -> Option<Result95> {
    let (seen, priors, view) = (still.track, still.priors, still.view.ok()?);
    let Projection::Pinhole(_) = view.projection else {
        return None;
    };
    if view.moving.is_some() {
        return None;
    }
    let step_s = median_step_s(&seen.times_s)?;
    let like = typical(&seen.sticker)?;
    let mut imagined = Imagined {
        seen,
        view,
        priors,
        random: ChaCha8Rng::seed_from_u64(SEED),
    };
    let frames = ((REST_S + PULL_S + COAST_S) / step_s) as usize;
    let times_s: Vec<f64> = (0..frames).map(|frame| frame as f64 * step_s).collect();
    let sticker: Places = times_s
        .iter()
        .map(|t| imagined.sticker(&like, *t))
        .collect();
    let wheel: Places = times_s
        .iter()
        .map(|t| imagined.wheel_mark(&like, *t).filter(|_| wants_wheel))
        .collect();
    if sticker.iter().flatten().count() < MIN_OBSERVATIONS {
        return None;
    }
    let first = sticker.iter().position(Option::is_some)?;
    let last = sticker.iter().rposition(Option::is_some)?;
    let track = Track {
        times_s,
        in_view: (first, last),
        axle: vec![None; sticker.len()],
        more_wheel: Vec::new(),
        sticker,
        wheel,
        notes: Vec::new(),
        ..seen.clone()
    };
    let best = analyse(&track, view.clone(), priors, None).ok()?;
    Some(with_intervals(&track, &best, priors, DRAWS))
}

/// A look like the clip's own.
fn typical(places: &Places) -> Option<Place> {
    let observations: Vec<&Place> = places.iter().flatten().collect();
    let var = |get: &dyn Fn(&Place) -> f64| median(observations.iter().map(|place| get(place)));
    Some(Place {
        var_u_px2: var(&|p| p.var_u_px2)?,
        var_v_px2: var(&|p| p.var_v_px2)?,
        ..**observations.first()?
    })
}

struct Imagined<'a> {
    seen: &'a Track,
    view: &'a View,
    priors: &'a Priors,
    random: ChaCha8Rng,
}

impl Imagined<'_> {
    /// Way since the release, m.
    fn distance_m(time_s: f64) -> f64 {
        let t = (time_s - REST_S).max(0.0);
        let pull = t.min(PULL_S);
        let coast = (t - PULL_S).max(0.0);
        let end = PULL_M_PER_S2 * PULL_S;
        0.5 * PULL_M_PER_S2 * pull * pull + end * coast + 0.5 * COAST_M_PER_S2 * coast * coast
    }

    /// A point of the car: ahead of the reference point, left of it, above the floor.
    fn on_car(&self, time_s: f64, ahead_m: f64, left_m: f64, up_m: f64) -> Point3<f64> {
        let [from, to] = self.priors.aim_m;
        let along: Vector2<f64> = (to - from).normalize();
        let left = Vector2::new(-along.y, along.x);
        let at = from + along * (Self::distance_m(time_s) + ahead_m) + left * left_m;
        Point3::new(at.x, at.y, up_m)
    }

    fn sticker(&mut self, like: &Place, time_s: f64) -> Option<Place> {
        let car = self.priors.car_geometry();
        let at = self.on_car(
            time_s,
            car.sticker_ahead_m,
            car.sticker_left_m,
            car.sticker_height_m,
        );
        self.observation(like, &at)
    }

    fn wheel_mark(&mut self, like: &Place, time_s: f64) -> Option<Place> {
        let car = self.priors.car_geometry();
        let radius_m = car.hub_height_m;
        let mark_m = car.mark_radius_m.unwrap_or(MARK_SHARE * radius_m);
        // Rolling forward carries the top of the wheel ahead.
        let angle = 3.5 - Self::distance_m(time_s) / radius_m;
        let at = self.on_car(
            time_s,
            mark_m * angle.cos(),
            car.face_left_m,
            radius_m + mark_m * angle.sin(),
        );
        self.observation(like, &at)
    }

    /// How a point is seen, with the scatter of the clip's own observations; `None` outside the picture.
    fn observation(&mut self, like: &Place, at: &Point3<f64>) -> Option<Place> {
        let pixel = self.view.projection.pixel(at)?;
        let (width, height) = (self.seen.width_px, self.seen.height_px);
        let inside = (0.0..width).contains(&pixel.x) && (0.0..height).contains(&pixel.y);
        let mut scatter = |var: f64| -> f64 {
            let normal: f64 = StandardNormal.sample(&mut self.random);
            normal * var.sqrt()
        };
        let (u, v) = (scatter(like.var_u_px2), scatter(like.var_v_px2));
        inside.then(|| Place {
            u_px: pixel.x + u,
            v_px: pixel.y + v,
            row_frac: pixel.y / height,
            ..*like
        })
    }
}
