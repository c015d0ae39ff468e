//! The car as a thing to look at: deck, spring, axles, wheels, card and marks, in the car's own frame
//! (origin under the middle of the driven axle, x ahead, y left, z up).

use crate::paint::{Hit, Rgb, WHITE_CARD, named, nearer};
use crate::pose::Pose;
use crate::scene::{Facing, Scene, SideArm, WheelMark, WheelStyle};
use crate::solids::{Ray, block, passes, plane, rod, tube};
use crate::view::Vec3;

pub(crate) const WHEEL_THICKNESS_M: f64 = 0.005;
/// The small disc that carries an axle mark stands this far off the wheel's face.
const AXLE_DISC_GAP_M: f64 = 0.003;
const AXLE_DISC_RADIUS_M: f64 = 0.019;
const CARD_HALF_THICKNESS_M: f64 = 0.0006;
/// Card and patch reach this many mark radii from the mark's centre.
const CARD_REACH: f64 = 1.4;
const STEEL: Rgb = [0.40, 0.41, 0.42];
const STRING: Rgb = [0.55, 0.50, 0.40];

/// One of the car's round marks.
#[derive(Debug, Clone, Copy)]
struct Mark {
    colour: Rgb,
    radius_m: f64,
    /// Distance from the axle.
    arm_m: f64,
    angle_rad: f64,
}

/// Everything about the car's looks that does not change during a run.
#[derive(Debug, Clone)]
pub(crate) struct Body {
    wheelbase_m: f64,
    half_track_m: f64,
    pub(crate) radius_m: f64,
    pub(crate) front_radius_m: f64,
    /// The axle with half the string on it.
    winding_radius_m: f64,
    off_axle_m: f64,
    near: f64,
    deck: Rgb,
    acrylic: (Rgb, f64),
    sticker_colour: Rgb,
    sticker_radius_m: f64,
    /// Centre of the sticker.
    pub(crate) sticker_m: Vec3,
    facing: Facing,
    wheel_mark: Option<Mark>,
    more_wheel_marks: Vec<Mark>,
    axle_mark: Option<Mark>,
    arm_m: f64,
    pivot_m: Vec3,
    side_arm: Option<SideArm>,
    deck_z: [f64; 2],
    low: Vec3,
    high: Vec3,
}

impl Body {
    pub(crate) fn new(scene: &Scene) -> anyhow::Result<Self> {
        let (c, s) = (&scene.car, &scene.sticker);
        let near = c.facing_side.y_sign();
        let radius_m = c.wheel_diameter_mm / 2e3;
        let front_radius_m = c.front_wheel_diameter_mm / 2e3;
        let half_track_m = c.track_width_mm / 2e3;
        let wheelbase_m = c.wheelbase_mm / 1e3;
        let deck_z = [
            radius_m.min(front_radius_m) + 0.006,
            radius_m.max(front_radius_m) + 0.012,
        ];
        let arm_m = scene.drive.arm_mm / 1e3;
        let arm_y_m = scene
            .side_arm
            .as_ref()
            .map_or(0.0, |a| (a.off_centre_mm + a.thickness_mm) / 1e3);
        let half_width_m = half_track_m.max(arm_y_m) + 0.006;
        let top = deck_z[1] + arm_m + 0.02;
        let reach = radius_m + 0.004;
        let mark = |colour: &str, diameter_mm: f64, arm_mm: f64, angle_deg: f64| {
            anyhow::Ok(Mark {
                colour: named(colour)?,
                radius_m: diameter_mm / 2e3,
                arm_m: arm_mm / 1e3,
                angle_rad: angle_deg.to_radians(),
            })
        };
        let w = &scene.wheel_mark;
        let on_wheel = |w: &WheelMark| mark(&w.colour, w.diameter_mm, w.radius_mm, w.angle_deg);
        let wheel_mark = w.shown.then(|| on_wheel(w));
        let more_wheel_marks = scene.more_wheel_marks.iter().map(on_wheel);
        let axle_mark = scene
            .axle_mark
            .as_ref()
            .map(|a| mark(&a.colour, a.diameter_mm, a.radius_mm, a.angle_deg));
        Ok(Self {
            wheelbase_m,
            half_track_m,
            radius_m,
            front_radius_m,
            winding_radius_m: c.winding_diameter_mm() / 2e3,
            off_axle_m: scene.path.off_axle_mm / 1e3,
            near,
            deck: c.body_rgb,
            acrylic: match c.wheel_style {
                WheelStyle::Clear => ([0.62, 0.68, 0.70], 0.35),
                WheelStyle::Smoke => ([0.16, 0.18, 0.20], 0.78),
                WheelStyle::Grey => ([0.36, 0.37, 0.38], 1.0),
                WheelStyle::Dark => ([0.035, 0.037, 0.042], 1.0),
            },
            sticker_colour: named(&s.colour)?,
            sticker_radius_m: s.diameter_mm / 2e3,
            sticker_m: Vec3::new(s.ahead_mm, near * s.off_centre_mm, s.height_mm) / 1e3,
            facing: s.facing,
            wheel_mark: wheel_mark.transpose()?,
            more_wheel_marks: more_wheel_marks.collect::<anyhow::Result<_>>()?,
            axle_mark: axle_mark.transpose()?,
            arm_m,
            pivot_m: Vec3::new(scene.drive.pivot_ahead_mm / 1e3, 0.0, deck_z[1] + 0.012),
            deck_z,
            side_arm: scene.side_arm.clone(),
            low: Vec3::new(-reach - 0.03, -half_width_m, -0.001),
            high: Vec3::new(
                (wheelbase_m + front_radius_m + 0.02)
                    .max(scene.drive.pivot_ahead_mm / 1e3 + arm_m + 0.01),
                half_width_m,
                top.max(s.height_mm / 1e3 + s.diameter_mm / 1e3),
            ),
        })
    }

    /// Opposite corners of a box round the car and its shade, in the car's frame.
    fn reach(&self) -> [Vec3; 2] {
        let pad = Vec3::new(0.08, 0.08, 0.0);
        [self.low - pad, self.high + pad]
    }

    /// Whether a ray comes near the car or its shade.
    pub(crate) fn is_near(&self, world: &Ray, pose: &Pose) -> bool {
        let [low, high] = self.reach();
        passes(&pose.ray(world), &low, &high)
    }

    /// Corners of the box round the car and its shade.
    pub(crate) fn corners(&self) -> [Vec3; 8] {
        let ends = self.reach();
        std::array::from_fn(|i| Vec3::new(ends[i & 1].x, ends[i >> 1 & 1].y, ends[i >> 2].z))
    }

    /// A mark that goes round a middle.
    fn about(mark: &Mark, [x, z]: [f64; 2], turn_rad: f64, y: f64) -> Vec3 {
        let (s, c) = (mark.angle_rad - turn_rad).sin_cos();
        Vec3::new(x + mark.arm_m * c, y, z + mark.arm_m * s)
    }

    /// Middle of a driven wheel in the car's own frame, which rises with the axle.
    fn wheel_middle(&self, turn_rad: f64) -> [f64; 2] {
        let (s, c) = (-turn_rad).sin_cos();
        [self.off_axle_m * c, self.radius_m + self.off_axle_m * s]
    }

    /// Centre of the wheel mark.
    pub(crate) fn wheel_mark_m(&self, pose: &Pose) -> Option<Vec3> {
        let y = self.near * self.half_track_m;
        self.wheel_mark
            .as_ref()
            .map(|m| Self::about(m, self.wheel_middle(pose.wheel_rad), pose.wheel_rad, y))
    }

    /// Centre of the axle mark.
    pub(crate) fn axle_mark_m(&self, pose: &Pose) -> Option<Vec3> {
        let y = self.near * (self.half_track_m + AXLE_DISC_GAP_M);
        self.axle_mark
            .as_ref()
            .map(|m| Self::about(m, [0.0, self.radius_m], pose.axle_rad, y))
    }

    /// Points over a mark, as offsets from its centre in the car's frame.
    pub(crate) fn spread(&self, which: Which) -> Vec<Vec3> {
        let radius = match which {
            Which::Sticker => self.sticker_radius_m,
            Which::Wheel => self.wheel_mark.map_or(0.0, |m| m.radius_m),
            Which::Axle => self.axle_mark.map_or(0.0, |m| m.radius_m),
        };
        let facing = if which == Which::Sticker {
            self.facing
        } else {
            Facing::Side
        };
        (0..64)
            .map(|i| {
                // Sunflower points: even over the disc.
                let r = radius * ((f64::from(i) + 0.5) / 64.0).sqrt();
                let (s, c) = (f64::from(i) * 2.399_963_229_728_653).sin_cos();
                match facing {
                    Facing::Side => Vec3::new(r * c, 0.0, r * s),
                    Facing::Rear => Vec3::new(0.0, r * c, r * s),
                    Facing::Top => Vec3::new(r * c, r * s, 0.0),
                }
            })
            .collect()
    }

    /// What a ray meets first on the car, in the floor frame.
    pub(crate) fn hit(&self, world: &Ray, pose: &Pose) -> Option<Hit> {
        let ray = pose.ray(world);
        if !passes(&ray, &self.low, &self.high) {
            return None;
        }
        let mut best = self.frame_hit(&ray, pose);
        for side in [-1.0, 1.0] {
            best = nearer(best, self.wheel_hit(&ray, pose, side, true));
            best = nearer(best, self.wheel_hit(&ray, pose, side, false));
        }
        best = nearer(best, self.card_hit(&ray));
        best = nearer(best, self.side_arm_hit(&ray, pose));
        best = nearer(best, self.axle_disc_hit(&ray, pose));
        best.map(|mut hit| {
            hit.normal = pose.turned(hit.normal);
            hit
        })
    }

    /// Deck, axles, spool, spring, arm and string.
    fn frame_hit(&self, ray: &Ray, pose: &Pose) -> Option<Hit> {
        let matt = |colour: Rgb| move |(d, n)| Hit::matt(d, n, colour);
        let beam = |low: [f64; 3], high: [f64; 3], colour: Rgb| {
            block(ray, &Vec3::from(low), &Vec3::from(high)).map(matt(colour))
        };
        let [z0, z1] = self.deck_z;
        let (b, p) = (self.wheelbase_m, &self.pivot_m);
        let mut best = beam([-0.02, -0.026, z0], [b + 0.02, 0.026, z1], self.deck);
        let base = [p.x - 0.03, -0.022, z1];
        best = nearer(
            best,
            beam(base, [p.x + 0.06, 0.022, z1 + 0.007], [0.50, 0.42, 0.28]),
        );
        let half = self.half_track_m;
        let r = self.radius_m;
        let thin = tube(ray, 1, [r, 0.0], 0.0025, [-half, half]);
        best = nearer(best, thin.map(matt(STEEL)));
        let front = tube(ray, 1, [self.front_radius_m, b], 0.002, [-half, half]);
        best = nearer(best, front.map(matt(STEEL)));
        let spool = tube(ray, 1, [r, 0.0], self.winding_radius_m, [-0.012, 0.012]);
        best = nearer(best, spool.map(matt([0.6, 0.6, 0.58])));
        let (s, c) = pose.arm_rad.sin_cos();
        let tip = p + Vec3::new(self.arm_m * c, 0.0, self.arm_m * s);
        best = nearer(best, rod(ray, p, &tip, 0.0016).map(matt(STEEL)));
        if pose.string_on {
            let axle = Vec3::new(0.0, 0.0, r + self.winding_radius_m);
            best = nearer(best, rod(ray, &axle, &tip, 0.0007).map(matt(STRING)));
        }
        best
    }

    fn wheel_hit(&self, ray: &Ray, pose: &Pose, side: f64, driven: bool) -> Option<Hit> {
        let (radius, [x, z], turn) = if driven {
            let middle = self.wheel_middle(pose.wheel_rad);
            (self.radius_m, middle, pose.wheel_rad)
        } else {
            let middle = [self.wheelbase_m, self.front_radius_m];
            (self.front_radius_m, middle, pose.front_rad)
        };
        let outer = side * self.half_track_m;
        let inner = outer - side * WHEEL_THICKNESS_M;
        let span = [outer.min(inner), outer.max(inner)];
        let rim = tube(ray, 1, [z, x], radius, span)
            .map(|(d, n)| Hit::matt(d, n, self.acrylic.0))
            .map(|h| Hit {
                opacity: self.acrylic.1.max(0.6),
                ..h
            });
        let mut best = rim;
        for (y, is_outer) in [(outer, true), (inner, false)] {
            let Some(distance) = plane(ray, 1, y) else {
                continue;
            };
            let p = ray.at(distance);
            let (px, pz) = (p.x - x, p.z - z);
            if px * px + pz * pz > radius * radius {
                continue;
            }
            let marked = driven && is_outer && side == self.near;
            if let Some((albedo, opacity)) = self.face(px, pz, radius, turn, marked) {
                let normal = [0.0, if is_outer { side } else { -side }, 0.0];
                let hit = Hit {
                    distance,
                    normal,
                    albedo,
                    opacity,
                    glows: false,
                };
                best = nearer(best, Some(hit));
            }
        }
        best
    }

    /// Look of a wheel's face at a place off the hub; `None` in a hole.
    fn face(&self, x: f64, z: f64, radius: f64, turn: f64, marked: bool) -> Option<(Rgb, f64)> {
        let marks = self.wheel_mark.iter().chain(&self.more_wheel_marks);
        for m in marks.filter(|_| marked) {
            let (s, c) = (m.angle_rad - turn).sin_cos();
            let off = (x - m.arm_m * c).hypot(z - m.arm_m * s);
            if off < m.radius_m {
                return Some((m.colour, 1.0));
            }
            if off < CARD_REACH * m.radius_m {
                return Some((WHITE_CARD, 1.0));
            }
        }
        let r = x.hypot(z) / radius;
        if r < 0.15 {
            return Some(([0.30, 0.28, 0.25], 1.0));
        }
        if r > 0.965 {
            return Some((self.acrylic.0.map(|c| c * 0.6), 1.0));
        }
        let sixth = std::f64::consts::FRAC_PI_3;
        let angle = (z.atan2(x) + turn + 0.4).rem_euclid(sixth) - sixth / 2.0;
        let hole = ((r * angle.cos() - 0.56).powi(2) + (r * angle.sin()).powi(2)).sqrt();
        (hole > 0.15).then_some((self.acrylic.0, self.acrylic.1))
    }

    /// The white card with the sticker, on a thin stalk.
    fn card_hit(&self, ray: &Ray) -> Option<Hit> {
        let c = &self.sticker_m;
        let half = CARD_REACH * self.sticker_radius_m;
        let t = CARD_HALF_THICKNESS_M;
        let (axis, sense, reach) = match self.facing {
            Facing::Side => (1, self.near, Vec3::new(half, t, half)),
            Facing::Rear => (0, -1.0, Vec3::new(t, half, half)),
            Facing::Top => (2, 1.0, Vec3::new(half, half, t)),
        };
        // The sticker's face, not the card's middle, is where the sheet says.
        let mut middle = *c;
        middle[axis] -= sense * t;
        let card = block(ray, &(middle - reach), &(middle + reach)).map(|(d, n)| {
            let off = ray.at(d) - c;
            let shown = n[axis] == sense && off.norm() < self.sticker_radius_m;
            Hit::matt(
                d,
                n,
                if shown {
                    self.sticker_colour
                } else {
                    WHITE_CARD
                },
            )
        });
        let inward = self.near * 0.02;
        let foot = Vec3::new(middle.x, inward, self.deck_z[1]);
        let head = Vec3::new(middle.x, middle.y - self.near * 0.002, middle.z - half);
        let stalk = (head - foot).norm() > 1e-3;
        let stalk = stalk.then(|| rod(ray, &foot, &head, 0.002)).flatten();
        nearer(card, stalk.map(|(d, n)| Hit::matt(d, n, WHITE_CARD)))
    }

    /// The flat arm beside the card, which turns with the spring's, and its string.
    fn side_arm_hit(&self, ray: &Ray, pose: &Pose) -> Option<Hit> {
        let arm = self.side_arm.as_ref()?;
        let pivot = Vec3::new(
            self.pivot_m.x,
            self.near * arm.off_centre_mm / 1e3,
            self.pivot_m.z,
        );
        // The arm lies along its own x axis.
        let (s, c) = pose.arm_rad.sin_cos();
        let unturned = |v: Vec3| Vec3::new(c * v.x + s * v.z, v.y, c * v.z - s * v.x);
        let own = Ray {
            start: unturned(ray.start - pivot),
            along: unturned(ray.along),
            from: ray.from,
        };
        let (w, t) = (arm.width_mm / 2e3, arm.thickness_mm / 2e3);
        let bar =
            block(&own, &Vec3::new(-w, -t, -w), &Vec3::new(self.arm_m, t, w)).map(|(d, n)| {
                let normal = [c * n[0] - s * n[2], n[1], s * n[0] + c * n[2]];
                Hit::matt(d, normal, arm.rgb)
            });
        let tip = pivot + Vec3::new(self.arm_m * c, 0.0, self.arm_m * s);
        let axle = Vec3::new(0.0, pivot.y, self.radius_m + self.winding_radius_m);
        let thick = arm.string_diameter_mm / 2e3;
        let shown = pose.string_on && thick > 0.0;
        let string = shown.then(|| rod(ray, &axle, &tip, thick)).flatten();
        nearer(bar, string.map(|(d, n)| Hit::matt(d, n, arm.rgb)))
    }

    fn axle_disc_hit(&self, ray: &Ray, pose: &Pose) -> Option<Hit> {
        let m = self.axle_mark.as_ref()?;
        let y = self.near * (self.half_track_m + AXLE_DISC_GAP_M);
        let distance = plane(ray, 1, y)?;
        let p = ray.at(distance);
        let (x, z) = (p.x, p.z - self.radius_m);
        if x.hypot(z) > AXLE_DISC_RADIUS_M {
            return None;
        }
        let (s, c) = (m.angle_rad - pose.axle_rad).sin_cos();
        let on = (x - m.arm_m * c).hypot(z - m.arm_m * s) < m.radius_m;
        let colour = if on { m.colour } else { WHITE_CARD };
        Some(Hit::matt(distance, [0.0, self.near, 0.0], colour))
    }

    /// How much of the light under the car's place on the floor is left, at a point in its frame.
    pub(crate) fn shade(&self, p: &Vec3) -> f64 {
        let outside = |low: f64, high: f64, at: f64| (low - at).max(at - high).max(0.0);
        let fade = |d: f64, reach: f64| {
            let t = (1.0 - d / reach).max(0.0);
            t * t * (3.0 - 2.0 * t)
        };
        let dx = outside(0.0, self.wheelbase_m, p.x);
        let dy = outside(-0.03, 0.03, p.y);
        if dx > 0.09 || dy > 0.09 + self.half_track_m {
            return 1.0;
        }
        let mut left = 1.0 - 0.30 * fade(dx.hypot(dy), 0.09);
        for (x, radius) in [
            (0.0, self.radius_m),
            (self.wheelbase_m, self.front_radius_m),
        ] {
            let along = (p.x - x).abs() / (0.5 * radius);
            let across = (p.y.abs() - self.half_track_m + 0.0025).abs() / 0.018;
            left *= 1.0 - 0.45 * fade(along.hypot(across), 1.0);
        }
        left
    }
}

/// One of the marks on the car.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Which {
    Sticker,
    Wheel,
    Axle,
}
