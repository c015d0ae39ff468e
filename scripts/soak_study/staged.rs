//! Sightings that a camera might give of a car on a floor with marks, with more or less wrong about them: so that
//! every later stage is reached.
#![allow(
    dead_code,
    unreachable_pub,
    reason = "a module of several programs, each of which uses its own part"
)]

use crate::change::one_of;
use crate::tracks::{HEIGHT_PX, WIDTH_PX, blob};
use gripline::colour::Colour;
use gripline::sheet::RunSheet;
use gripline::sighting::Blob;
use rand::{Rng, RngExt};
use std::f64::consts::TAU;

/// Angle of the wheel mark at rest, and how far back the hub lies from the sticker, where the sheet does not say.
const HUB_BEHIND_M: f64 = 0.1;
const RADIUS_M: f64 = 0.05;

/// A pinhole, and a car's way on the floor.
pub struct Stage {
    eye: [f64; 3],
    axes: [[f64; 3]; 3],
    focal_px: f64,
    start_s: f64,
    push_m_per_s2: f64,
    drag_m_per_s2: f64,
    pulled_s: f64,
    bend_per_m: f64,
    slip: f64,
    seen: f64,
    leap: bool,
}

fn unit(v: [f64; 3]) -> [f64; 3] {
    let length = dot(v, v).sqrt().max(1e-9);
    v.map(|x| x / length)
}

fn dot(a: [f64; 3], b: [f64; 3]) -> f64 {
    a[0] * b[0] + a[1] * b[1] + a[2] * b[2]
}

fn cross(a: [f64; 3], b: [f64; 3]) -> [f64; 3] {
    [
        a[1] * b[2] - a[2] * b[1],
        a[2] * b[0] - a[0] * b[2],
        a[0] * b[1] - a[1] * b[0],
    ]
}

impl Stage {
    pub fn drawn(random: &mut dyn Rng) -> Self {
        let eye = [
            random.random_range(-1.0..2.5),
            random.random_range(-4.0..-0.8),
            random.random_range(0.15..2.5),
        ];
        let at = [
            random.random_range(0.5..1.5),
            random.random_range(-0.3..0.3),
            0.0,
        ];
        let ahead = unit([at[0] - eye[0], at[1] - eye[1], at[2] - eye[2]]);
        let right = unit(cross(ahead, [0.0, 0.0, 1.0]));
        let down = cross(ahead, right);
        Self {
            eye,
            axes: [right, down, ahead],
            focal_px: random.random_range(250.0..900.0),
            start_s: random.random_range(0.0..0.6),
            push_m_per_s2: random.random_range(0.2..9.0),
            drag_m_per_s2: random.random_range(0.05..3.0),
            pulled_s: random.random_range(0.1..1.2),
            bend_per_m: random.random_range(-0.4..0.4),
            slip: *one_of(random, &[0.0, 0.0, 0.1, 0.5, 0.95]),
            seen: *one_of(random, &[1.0, 1.0, 0.9, 0.5]),
            leap: random.random_range(0..12) == 0,
        }
    }

    fn seen_at(&self, place: [f64; 3]) -> Option<[f64; 2]> {
        let from_eye = std::array::from_fn(|i| place[i] - self.eye[i]);
        let [right, down, ahead] = self.axes.map(|axis| dot(axis, from_eye));
        let at = [
            WIDTH_PX / 2.0 + self.focal_px * right / ahead,
            HEIGHT_PX / 2.0 + self.focal_px * down / ahead,
        ];
        let inside =
            ahead > 0.05 && (0.0..WIDTH_PX).contains(&at[0]) && (0.0..HEIGHT_PX).contains(&at[1]);
        inside.then_some(at)
    }

    /// Way along the floor, and way that the rim went.
    fn ways(&self, time_s: f64) -> (f64, f64) {
        let t = (time_s - self.start_s).max(0.0);
        let pulled = t.min(self.pulled_s);
        let speed = self.push_m_per_s2 * pulled;
        let coasted = (t - pulled).clamp(0.0, speed / self.drag_m_per_s2);
        let way =
            0.5 * speed * pulled + speed * coasted - 0.5 * self.drag_m_per_s2 * coasted * coasted;
        let way = if self.leap && t > 0.4 { way + 0.3 } else { way };
        (
            way,
            way + self.slip / (1.0 - self.slip) * 0.5 * speed * pulled,
        )
    }

    /// What is seen in one frame, a list for each colour.
    pub fn seen(
        &self,
        random: &mut dyn Rng,
        time_s: f64,
        colours: &[Colour],
        sheet: &RunSheet,
    ) -> Vec<Vec<Blob>> {
        let (way, rim) = self.ways(time_s);
        let radius = sheet.car.wheel_diameter_m.map_or(RADIUS_M, |d| d / 2.0);
        let y = 0.5 * self.bend_per_m * way * way;
        let side = -sheet.car.track_width_m.unwrap_or(0.12) / 2.0;
        let hub = [way, y + side, radius];
        let ahead = sheet.sticker.ahead_m.unwrap_or(HUB_BEHIND_M);
        let height = sheet.sticker.height_m.unwrap_or(0.07);
        let mut lists = vec![Vec::new(); colours.len()];
        let mut add = |random: &mut dyn Rng, colour: Colour, place: [f64; 3], size_px2: f64| {
            let slot = colours.iter().position(|wanted| *wanted == colour);
            if let (Some(slot), Some(at)) = (slot, self.seen_at(place))
                && random.random::<f64>() < self.seen
            {
                lists[slot].push(blob(random, at, size_px2));
            }
        };
        add(
            random,
            sheet.sticker.colour,
            [way + ahead, y - 0.03, height],
            150.0,
        );
        for (number, mark) in sheet.wheel_marks.iter().enumerate() {
            let out = mark.radius_m.unwrap_or(0.7 * radius);
            let turn = rim / radius + TAU * number as f64 / 3.0;
            let place = [hub[0] + out * turn.sin(), hub[1], hub[2] + out * turn.cos()];
            add(random, mark.colour, place, 60.0);
        }
        for mark in &sheet.floor_marks {
            add(random, mark.colour, [mark.x_m, mark.y_m, 0.0], 90.0);
        }
        lists
    }
}
