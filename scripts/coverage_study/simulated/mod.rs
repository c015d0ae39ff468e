//! Simulated runs with known truth, as tracks (pixels with noise), so that hundreds can be measured: a
//! car's equations of motion, seen by a pinhole camera, written down on a run sheet by someone whose ruler
//! is as uncertain as the tool assumes. Nothing but the tool's input types is shared with the library.
#![allow(
    dead_code,
    unused_imports,
    unreachable_pub,
    missing_docs,
    reason = "a module of several programs, each of which uses its own part"
)]
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    reason = "a study fails by panicking"
)]

pub mod car;
pub mod causes;
pub mod film;
pub mod truth;

use car::Car;
use film::{Camera, Filmed, Marks, Noise};
use gripline::analysis::{Analysis, analyse};
use gripline::camera::locate;
use gripline::priors::Priors;
use gripline::sheet::RunSheet;
use gripline::uncertainty::{Result95, with_intervals};
use gripline::verdict::{Verdict, judge};
use rand::{Rng, RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};
use std::fmt::Write as _;
use std::path::Path;
use truth::truth;
pub use truth::{Truth, holds};

/// A run to be measured, and what is true of it.
pub struct Case {
    pub car: Car,
    pub filmed: Filmed,
    pub sheet: RunSheet,
    pub truth: Truth,
}

/// How strong each fault is; 0 is none.
#[derive(Debug, Clone, Copy, Default)]
pub struct Faults {
    pub mu: Option<f64>,
    pub skew_rad: f64,
    pub aim_rad: f64,
    pub yaw_per_spun_m: f64,
    pub sway_m: f64,
    pub sway_rate: f64,
    pub string_slip: f64,
    pub wheel_loose: f64,
    pub rolling: Option<f64>,
    pub shift_m: f64,
    pub rise_m: f64,
    pub off_axle_m: f64,
    pub soft_s: f64,
    pub soft_from: f64,
    /// What the free wheels' turning adds to the mass, as a share.
    pub free_wheels: f64,
}

/// How the run is filmed and written down.
#[allow(
    clippy::struct_excessive_bools,
    reason = "each is something that a coach does or leaves out"
)]
#[derive(Debug, Clone, Copy)]
pub struct Filming {
    pub view: View,
    pub fps: f64,
    pub noise_px: f64,
    /// Likeness of one frame's error to the next one's.
    pub likeness: f64,
    /// A further error that lasts for several frames, px.
    pub slow_px: f64,
    pub wheel_mark: bool,
    pub axle_mark: bool,
    pub string_on_sheet: bool,
    /// Whether someone measured how thick the string is.
    pub thickness_on_sheet: bool,
    pub duration_s: f64,
}

#[derive(Debug, Clone, Copy, PartialEq)]
pub enum View {
    /// From the side, a little behind and above.
    Side,
    /// From behind and beside, along the track.
    Oblique,
    /// From high up, nearly straight down.
    Above,
    /// From behind, a little beside the track.
    Behind,
}

impl Default for Filming {
    fn default() -> Self {
        Self {
            view: View::Side,
            fps: 60.0,
            noise_px: 0.07,
            likeness: 0.3,
            slow_px: 0.0,
            wheel_mark: true,
            axle_mark: false,
            string_on_sheet: true,
            thickness_on_sheet: true,
            duration_s: 3.0,
        }
    }
}

const WHEELBASE_M: f64 = 0.215;

fn normal<R: Rng>(random: &mut R, sd: f64) -> f64 {
    let value: f64 = StandardNormal.sample(random);
    sd * value
}

/// Thickness of a string, from thread to mason's line, m.
fn draw_string(seed: u64) -> f64 {
    ChaCha8Rng::seed_from_u64(seed ^ 0x7468_7265_6164).random_range(0.0003..0.0015)
}

/// Mass and driven share as a kitchen balance gives them: a hundredth either way.
fn weighed(seed: u64, car: &Car) -> (f64, f64) {
    let mut random = ChaCha8Rng::seed_from_u64(seed ^ 0x0062_616c_616e_6365);
    let mass = car.mass_kg * (1.0 + normal(&mut random, 0.01));
    (mass, car.driven_share + normal(&mut random, 0.01))
}

/// A car of ordinary sizes with these faults.
fn draw_car<R: Rng>(faults: &Faults, string_diameter_m: f64, random: &mut R) -> Car {
    let radius_m = random.random_range(0.042..0.058);
    let mass_kg = random.random_range(0.15..0.24);
    let winding_radius_m = random.random_range(0.0055..0.008);
    // Way under power about 1 to 1.5 m, acceleration about 1 to 1.8 m/s².
    let distance_m = random.random_range(0.75..1.15);
    let push_n = mass_kg * random.random_range(1.0..1.7);
    Car {
        radius_m,
        axle_radius_m: winding_radius_m - string_diameter_m / 2.0,
        string_diameter_m,
        string_m: distance_m / radius_m * winding_radius_m
            / (1.0 - faults.string_slip)
            / (1.0 - faults.wheel_loose),
        mass_kg,
        inertia_kg_m2: 0.024 * radius_m * radius_m,
        free_wheels_kg: faults.free_wheels * mass_kg,
        driven_share: 0.58,
        pull_n: push_n * radius_m / winding_radius_m,
        pull_falls: random.random_range(-0.3..0.8),
        mu_static: faults.mu.map_or(0.85, |mu| 1.2 * mu),
        mu_kinetic: faults.mu.unwrap_or(0.7),
        rolling: faults
            .rolling
            .unwrap_or_else(|| random.random_range(0.012..0.024)),
        air_n_per_m2_s2: 0.0072,
        curvature_per_m: faults.skew_rad.tan() / WHEELBASE_M,
        aim_rad: faults.aim_rad,
        yaw_per_spun_m: faults.yaw_per_spun_m,
        sway_rad: faults.sway_m / radius_m * faults.sway_rate.max(1.0),
        sway_rate: if faults.sway_rate == 0.0 {
            1.0
        } else {
            faults.sway_rate
        },
        string_slip: faults.string_slip,
        wheel_loose: faults.wheel_loose,
        shift_m: faults.shift_m,
        rise_m: faults.rise_m,
        off_axle_m: faults.off_axle_m,
        soft_s: faults.soft_s,
        soft_from: faults.soft_from,
    }
}

fn draw_camera<R: Rng>(filming: &Filming, random: &mut R) -> Camera {
    let shake = |random: &mut dyn FnMut() -> f64, at: [f64; 3]| at.map(|x| x + 0.08 * random());
    let mut draw = || random.random_range(-1.0..1.0);
    let (at, to) = match filming.view {
        View::Side => ([0.75, -1.9, 0.85], [0.9, 0.0, 0.02]),
        View::Oblique => ([-0.75, -1.3, 1.05], [0.95, 0.0, 0.0]),
        View::Above => ([0.8, -0.6, 2.1], [0.85, 0.0, 0.0]),
        View::Behind => ([-1.0, -0.75, 0.9], [0.9, 0.0, 0.0]),
    };
    let (at_m, to_m) = (shake(&mut draw, at), shake(&mut draw, to));
    Camera {
        at_m,
        to_m,
        focal_px: 790.0 + 30.0 * draw(),
        k1: normal(random, 0.02),
        size_px: [960.0, 540.0],
        readout_s: (0.012 + normal(random, 0.005)).max(0.0),
        fps: filming.fps,
    }
}

/// A run with these faults, filmed and written down.
pub fn case(seed: u64, faults: &Faults, filming: &Filming) -> Case {
    let mut random = ChaCha8Rng::seed_from_u64(seed);
    let car = draw_car(faults, draw_string(seed), &mut random);
    let camera = draw_camera(filming, &mut random);
    let marks = Marks {
        sticker_ahead_m: 0.106,
        sticker_left_m: -0.046,
        sticker_height_m: 0.096,
        face_left_m: -0.063,
        wheel_mark_m: filming.wheel_mark.then_some(0.6 * car.radius_m),
        axle_mark_m: filming.axle_mark.then_some(0.011),
    };
    let noise = Noise {
        sd_px: filming.noise_px,
        claimed_px: filming.noise_px / 1.5,
        likeness: filming.likeness,
        slow_px: filming.slow_px,
        lost: 0.03,
    };
    let floor: Vec<[f64; 2]> = [0.0, 0.9, 1.8]
        .iter()
        .flat_map(|&x| [[x, -0.3], [x, 0.4]])
        .collect();
    let release_s = random.random_range(0.25..0.4);
    let run = car.run(filming.duration_s + 0.2);
    let filmed = film::Filming {
        car: &car,
        run: &run,
        camera: &camera,
        marks: &marks,
        noise: &noise,
        release_s,
        duration_s: filming.duration_s,
    }
    .film(&floor, &mut random);
    let text = sheet_text(
        &car,
        weighed(seed, &car),
        &marks,
        &floor,
        filming,
        &mut random,
    );
    let sheet =
        RunSheet::parse(&text, Path::new("run.toml")).expect("the study writes good sheets");
    let truth = truth(&car, WHEELBASE_M, &filmed, release_s);
    Case {
        car,
        filmed,
        sheet,
        truth,
    }
}

/// The sheet as a person with a ruler writes it: errors as the tool assumes them.
fn sheet_text<R: Rng>(
    car: &Car,
    (mass_kg, driven_share): (f64, f64),
    marks: &Marks,
    floor: &[[f64; 2]],
    filming: &Filming,
    random: &mut R,
) -> String {
    let mut ruled = |metres: f64, sd_mm: f64| 1e3 * metres + normal(random, sd_mm);
    let mut text = String::from("[car]\n");
    let mut line = |key: &str, value: f64| writeln!(text, "{key} = {value:.4}").unwrap();
    let radius_mm = 1e3 * car.radius_m;
    let diameter = 2.0 * ruled(car.radius_m, (0.003 * radius_mm).hypot(0.25));
    line("wheel_diameter_mm", diameter);
    line("wheelbase_mm", ruled(WHEELBASE_M, 1.0));
    line("track_width_mm", ruled(-2.0 * marks.face_left_m, 1.0));
    line("mass_g", 1e3 * mass_kg);
    line("driven_share", driven_share);
    if filming.string_on_sheet {
        line("string_mm", ruled(car.string_m, 3.0));
        line("axle_diameter_mm", ruled(2.0 * car.axle_radius_m, 0.1));
    }
    // Drawn in any case, so that what is written changes nothing else about a run.
    let thickness = ruled(car.string_diameter_m, 0.1).max(0.1);
    if filming.string_on_sheet && filming.thickness_on_sheet {
        line("string_diameter_mm", thickness);
    }
    let (ahead, off) = (
        ruled(marks.sticker_ahead_m, 1.0),
        ruled(-marks.sticker_left_m, 1.0),
    );
    let height = ruled(marks.sticker_height_m, 1.0);
    write!(
        text,
        "facing_side = \"right\"\n[sticker]\ncolour = \"magenta\"\nheight_mm = {height:.3}\n\
         ahead_mm = {ahead:.3}\noff_centre_mm = {off:.3}\n"
    )
    .unwrap();
    if let Some(radius) = marks.wheel_mark_m {
        let radius = ruled(radius, 1.0);
        write!(
            text,
            "[wheel_mark]\ncolour = \"green\"\nradius_mm = {radius:.3}\n"
        )
        .unwrap();
    }
    if marks.axle_mark_m.is_some() {
        text += "[axle_mark]\ncolour = \"orange\"\n";
    }
    for [x, y] in floor {
        let (x, y) = (ruled(*x, 1.0), ruled(*y, 1.0));
        write!(
            text,
            "[[floor_mark]]\ncolour = \"blue\"\nx_mm = {x:.3}\ny_mm = {y:.3}\n"
        )
        .unwrap();
    }
    text + "[aim]\nfrom_mm = [0.0, 0.0]\nto_mm = [2400.0, 0.0]\n"
}

/// What the tool makes of a case.
pub struct Outcome {
    pub analysis: Analysis,
    pub result: Result95,
    pub verdict: Verdict,
}

/// Measures a case; `None` where its view is not found.
pub fn measure(case: &Case, draws: usize) -> Option<Outcome> {
    let priors = Priors::from_sheet(&case.sheet);
    let track = &case.filmed.track;
    let view = locate(track, &priors.camera_sheet());
    let analysis = analyse(track, view, &priors, None).ok()?;
    let result = with_intervals(track, &analysis, &priors, draws);
    let verdict = judge(&result);
    Some(Outcome {
        analysis,
        result,
        verdict,
    })
}
