//! The room and everything in it: what a ray sees at a moment.

use crate::body::Body;
use crate::paint::{Hit, Rgb, WHITE_CARD, mix, named, nearer};
use crate::pose::Pose;
use crate::run::Run;
use crate::scene::{ParkedCar, Poster, Room, Scene, WheelStyle};
use crate::solids::{Ray, plane};
use crate::texture::{floor, harbour, smooth, wall};
use crate::things::{PERSON_HALF_WIDTH_M, PERSON_HEIGHT_M, Person, Shape, Thing};
use crate::view::Vec3;

/// The lamp's direction, and the shares of its light and of the light from all round.
const LAMP: [f64; 3] = [-0.32, -0.52, 0.79];
const LAMP_SHARE: f64 = 0.62;
const AMBIENT_SHARE: f64 = 0.58;
/// A stack of acrylic sheets deeper than this adds nothing visible.
const DEEPEST: usize = 8;
const START_LINE_HALF_M: f64 = 0.17;

/// All that can be seen.
#[derive(Debug, Clone)]
pub(crate) struct World {
    pub(crate) body: Body,
    pub(crate) run: Run,
    room: Room,
    light: Rgb,
    things: Vec<Thing>,
    people: Vec<Person>,
    posters: Vec<(Poster, Rgb)>,
    marks: Vec<[f64; 2]>,
    mark_radius: f64,
    mark_colour: Rgb,
    /// White tape across the track, just ahead of the waiting car.
    start_line_m: f64,
    parked: Option<Parked>,
}

/// A second car.
#[derive(Debug, Clone)]
struct Parked {
    body: Body,
    at_first: Pose,
    push: ParkedCar,
}

impl Parked {
    fn pose(&self, time_s: f64) -> Pose {
        self.at_first.rolled(self.push.travel_m(time_s), &self.body)
    }

    fn moves(&self) -> bool {
        self.push.pushed_m != 0.0
    }
}

impl World {
    pub(crate) fn new(scene: &Scene, run: Run) -> anyhow::Result<Self> {
        let mut things = Vec::new();
        let colour = |rgb: &Option<Rgb>, name: &Option<String>| match name {
            Some(name) => named(name),
            None => Ok(rgb.unwrap_or([0.42, 0.33, 0.22])),
        };
        for b in &scene.boxes {
            let half = [b.size_m[0] / 2.0, b.size_m[1] / 2.0];
            let low = Vec3::new(b.at_m[0] - half[0], b.at_m[1] - half[1], b.base_m);
            let high = low + Vec3::from(b.size_m);
            let shape = Shape::Block { low, high };
            things.push(Thing {
                shape,
                colour: colour(&b.rgb, &b.colour)?,
            });
        }
        for d in &scene.drums {
            let shape = Shape::Drum {
                centre: d.at_m,
                radius: d.diameter_m / 2.0,
                height: d.height_m,
            };
            things.push(Thing {
                shape,
                colour: colour(&d.rgb, &d.colour)?,
            });
        }
        let mut people = Vec::new();
        for w in &scene.walker {
            let colour = named(&w.colour)?;
            let trousers = if w.all_over {
                colour
            } else {
                [0.07, 0.08, 0.11]
            };
            people.push(Person {
                from: w.from_m,
                velocity: w.velocity_m_per_s,
                colour,
                trousers,
            });
        }
        let mut posters = Vec::new();
        for p in &scene.poster {
            posters.push((p.clone(), named(&p.colour)?));
        }
        let parked = match &scene.parked_car {
            None => None,
            Some(p) => {
                let mut other = scene.clone();
                other.car.wheel_style = WheelStyle::Grey;
                let pose = Pose::parked(p.at_m, p.heading_deg.to_radians());
                Some(Parked {
                    body: Body::new(&other)?,
                    at_first: pose,
                    push: p.clone(),
                })
            }
        };
        Ok(Self {
            body: Body::new(scene)?,
            run,
            room: scene.room.clone(),
            light: scene.exposure.light_rgb,
            things,
            people,
            posters,
            marks: scene
                .floor_marks
                .at_mm
                .iter()
                .map(|p| p.map(|mm| mm / 1e3))
                .collect(),
            mark_radius: scene.floor_marks.diameter_mm / 2e3,
            mark_colour: named(&scene.floor_marks.colour)?,
            start_line_m: (scene.car.wheelbase_mm + scene.car.front_wheel_diameter_mm / 2.0) / 1e3
                + 0.03,
            parked,
        })
    }

    /// The same room with nobody in it; the car is to be put out of sight by its pose.
    pub(crate) fn without_movers(&self) -> Self {
        Self {
            people: Vec::new(),
            parked: self.parked.clone().filter(|p| !p.moves()),
            ..self.clone()
        }
    }

    /// Whether a ray comes near something that moves, or its shade.
    pub(crate) fn stirs(&self, ray: &Ray, time_s: f64, pose: &Pose) -> bool {
        let pushed = self.parked.as_ref().filter(|p| p.moves());
        self.body.is_near(ray, pose)
            || self.people.iter().any(|p| p.is_near(ray, time_s))
            || pushed.is_some_and(|p| p.body.is_near(ray, &p.pose(time_s)))
    }

    pub(crate) fn pose(&self, time_s: f64) -> Pose {
        Pose::of(&self.run, &self.body, time_s)
    }

    /// Light that comes along a ray, with the car at a pose.
    pub(crate) fn look(&self, mut ray: Ray, time_s: f64, pose: &Pose) -> Rgb {
        let mut light = [0.0; 3];
        let mut through = 1.0;
        for _ in 0..DEEPEST {
            let Some(hit) = self.hit(&ray, time_s, pose) else {
                break;
            };
            let shade = if hit.glows {
                [1.0; 3]
            } else {
                self.shading(hit.normal)
            };
            for i in 0..3 {
                light[i] += through * hit.opacity * hit.albedo[i] * shade[i];
            }
            through *= 1.0 - hit.opacity;
            if through < 0.004 {
                break;
            }
            ray.from = hit.distance + 1e-6;
        }
        light
    }

    /// Share of the light that reaches the camera from a point, with nothing or acrylic before it.
    pub(crate) fn clear_view(&self, eye: &Vec3, point: &Vec3, time_s: f64, pose: &Pose) -> f64 {
        let out = point - eye;
        let far = out.norm();
        let mut ray = Ray {
            start: *eye,
            along: out / far,
            from: 1e-3,
        };
        let mut through = 1.0;
        for _ in 0..DEEPEST {
            match self.hit(&ray, time_s, pose) {
                Some(hit) if hit.distance < far - 2e-4 => {
                    through *= 1.0 - hit.opacity;
                    ray.from = hit.distance + 1e-6;
                }
                _ => break,
            }
        }
        through
    }

    fn shading(&self, n: [f64; 3]) -> Rgb {
        let lamp: f64 = (0..3).map(|i| n[i] * LAMP[i]).sum();
        // Light from all round is a little stronger from above.
        let level = AMBIENT_SHARE * (0.85 + 0.15 * n[2]) + LAMP_SHARE * lamp.max(0.0);
        self.light.map(|c| c * level)
    }

    fn hit(&self, ray: &Ray, time_s: f64, pose: &Pose) -> Option<Hit> {
        let mut best = self.body.hit(ray, pose);
        if let Some(p) = &self.parked {
            best = nearer(best, p.body.hit(ray, &p.pose(time_s)));
        }
        for thing in &self.things {
            best = nearer(best, thing.hit(ray));
        }
        for person in &self.people {
            best = nearer(best, person.hit(ray, time_s));
        }
        let limit = best.map_or(f64::INFINITY, |hit| hit.distance);
        self.shell_hit(ray, time_s, pose, limit).or(best)
    }

    /// Floor and walls nearer than a limit; the ceiling is out of the picture.
    fn shell_hit(&self, ray: &Ray, time_s: f64, pose: &Pose, limit: f64) -> Option<Hit> {
        let down = plane(ray, 2, 0.0).map(|d| (d, 2));
        let back = plane(ray, 1, self.room.wall_y_m).map(|d| (d, 1));
        let end = plane(ray, 0, self.room.end_wall_x_m).map(|d| (d, 0));
        let (d, axis) = [down, back, end]
            .into_iter()
            .flatten()
            .filter(|(d, _)| *d < limit)
            .min_by(|a, b| a.0.total_cmp(&b.0))?;
        let p = ray.at(d);
        Some(match axis {
            2 => Hit::matt(d, [0.0, 0.0, 1.0], self.floor_at(&p, time_s, pose)),
            1 => self.wall_hit(d, &p),
            _ => Hit::matt(d, [-1.0, 0.0, 0.0], wall(self.room.wall_rgb, p.y, p.z)),
        })
    }

    fn floor_at(&self, p: &Vec3, time_s: f64, pose: &Pose) -> Rgb {
        let on_mark =
            |m: &[f64; 2]| (p.x - m[0]).powi(2) + (p.y - m[1]).powi(2) < self.mark_radius.powi(2);
        let mut colour = floor(self.room.floor, p.x, p.y);
        if (p.x - self.start_line_m).abs() < 0.012 && p.y.abs() < START_LINE_HALF_M {
            colour = [0.66, 0.65, 0.60];
        }
        if self.marks.iter().any(on_mark) {
            colour = self.mark_colour;
        }
        let mut left = self.body.shade(&pose.to_car(p));
        if let Some(other) = &self.parked {
            left *= other.body.shade(&other.pose(time_s).to_car(p));
        }
        for thing in &self.things {
            left *= thing.shade(p);
        }
        // The light falls off away from the lamp, and towards the wall.
        let pool = 1.06 - 0.02 * (p.x - 1.0).powi(2) - 0.02 * (p.y + 0.3).powi(2);
        let corner = 1.0 - 0.25 * (1.0 - (self.room.wall_y_m - p.y) / 0.25).clamp(0.0, 1.0);
        colour.map(|c| c * left * pool.max(0.6) * corner)
    }

    fn wall_hit(&self, distance: f64, p: &Vec3) -> Hit {
        let normal = [0.0, -1.0, 0.0];
        if self.room.porthole {
            let (x, z) = (p.x - 1.75, p.z - 1.10);
            let r = x.hypot(z);
            if r < 0.26 {
                return Hit {
                    glows: true,
                    ..Hit::matt(distance, normal, harbour(x, z + 0.05))
                };
            }
            if r < 0.31 {
                return Hit::matt(distance, normal, [0.42, 0.33, 0.18]);
            }
        }
        for (poster, colour) in &self.posters {
            let (x, z) = (p.x - poster.centre_m[0], p.z - poster.centre_m[1]);
            if x.abs() < poster.size_m[0] / 2.0 && z.abs() < poster.size_m[1] / 2.0 {
                let ink = match poster.disc_m {
                    Some(disc) if x.hypot(z) > disc / 2.0 => WHITE_CARD,
                    Some(_) => *colour,
                    None => mix(*colour, WHITE_CARD, 0.15 * smooth(x * 8.0, z * 8.0, 40)),
                };
                return Hit::matt(distance, normal, ink);
            }
        }
        Hit::matt(distance, normal, wall(self.room.wall_rgb, p.x, p.z))
    }

    /// Corners of the boxes round all that moves, at a time.
    pub(crate) fn moving_corners(&self, time_s: f64) -> Vec<Vec<Vec3>> {
        let pose = self.pose(time_s);
        let mut groups = vec![
            self.body
                .corners()
                .iter()
                .map(|c| pose.to_world(c))
                .collect(),
        ];
        if let Some(p) = self.parked.as_ref().filter(|p| p.moves()) {
            let pose = p.pose(time_s);
            groups.push(p.body.corners().iter().map(|c| pose.to_world(c)).collect());
        }
        for person in &self.people {
            let (x, y) = person.place(time_s);
            let half = PERSON_HALF_WIDTH_M;
            groups.push(
                (0..8)
                    .map(|i| {
                        let pick = |bit: usize| if i >> bit & 1 == 1 { half } else { -half };
                        let z = if i >> 2 == 1 {
                            PERSON_HEIGHT_M + 0.05
                        } else {
                            -0.05
                        };
                        Vec3::new(x + pick(0), y + pick(1), z)
                    })
                    .collect(),
            );
        }
        groups
    }
}
