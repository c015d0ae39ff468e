//! The generator against facts from outside it.

use crate::body::Which;
use crate::drive::Tyres;
use crate::picture::Painter;
use crate::room::World;
use crate::run::Run;
use crate::scene::{Matrix, Scene, Siting};
use crate::sensor::{Coding, stored};
use crate::timetable::slots;
use crate::truth::Truth;
use crate::view::{Lens, Phone, Vec3, View};

fn scene(text: &str) -> Scene {
    toml::from_str(text).unwrap()
}

fn run(text: &str) -> Run {
    Run::new(&scene(text)).unwrap()
}

#[track_caller]
fn near(got: f64, expected: f64, tolerance: f64) {
    assert!(
        (got - expected).abs() <= tolerance,
        "got {got}, expected {expected} +- {tolerance}"
    );
}

const SLIPPERY: &str = "[drive]\nmu_static = 0.2\nmu_kinetic = 0.16";

#[test]
fn a_pinhole_camera_projects_as_worked_out_by_hand() {
    // By hand: camera 2 m behind the origin (y = -2) at height 1, level, 1000 px focal length,
    // 1280 x 720. A point 1 m right, 2 m further and 0.5 m up is 4 m away, 1 m right, 0.5 m down.
    let lens = Lens {
        focal_px: 1000.0,
        half_size: [640.0, 360.0],
        k1: 0.0,
    };
    let view = View::new(
        Vec3::new(0.0, -2.0, 1.0),
        Vec3::new(0.0, 5.0, 1.0),
        0.0,
        lens,
    );
    let [u, v] = view.project(&Vec3::new(1.0, 2.0, 0.5)).unwrap();
    near(u, 640.0 + 1000.0 / 4.0, 1e-9);
    near(v, 360.0 + 1000.0 * 0.5 / 4.0, 1e-9);
    // Half a right angle down: the middle of the picture sees the floor under it.
    let down = View::new(Vec3::new(0.0, -2.0, 2.0), Vec3::zeros(), 0.0, lens);
    let [u, v] = down.project(&Vec3::zeros()).unwrap();
    near(u, 640.0, 1e-9);
    near(v, 360.0, 1e-9);
    // Distances along the axis: 2.828 m to the origin; 0.1 m to the right is 35.36 px.
    let [u, _] = down.project(&Vec3::new(0.1, 0.0, 0.0)).unwrap();
    near(u, 640.0 + 100.0 / 8.0_f64.sqrt(), 1e-9);
    // A point behind is not seen.
    assert!(view.project(&Vec3::new(0.0, -3.0, 1.0)).is_none());
}

#[test]
fn radial_distortion_follows_the_usual_polynomial_and_rays_undo_it() {
    // Zhang, IEEE Trans. PAMI 22(11), 2000: u = u0 + f x (1 + k1 r^2). By hand with x = 0.5, y = 0,
    // k1 = -0.2: 0.5 (1 - 0.05) = 0.475.
    let lens = Lens {
        focal_px: 800.0,
        half_size: [480.0, 270.0],
        k1: -0.2,
    };
    let view = View::new(Vec3::zeros(), Vec3::new(0.0, 1.0, 0.0), 0.0, lens);
    let [u, v] = view.project(&Vec3::new(1.0, 2.0, 0.0)).unwrap();
    near(u, 480.0 + 800.0 * 0.475, 1e-9);
    near(v, 270.0, 1e-9);
    for (u, v) in [(3.0, 7.0), (480.0, 270.0), (901.5, 400.25)] {
        let [seen_u, seen_v] = view
            .project(&(view.position + view.ray(u, v) * 3.0))
            .unwrap();
        near(seen_u, u, 1e-6);
        near(seen_v, v, 1e-6);
    }
}

#[test]
fn energy_is_accounted_for() {
    for text in [
        "",
        SLIPPERY,
        "[drive]\nstring_slip = 0.3",
        "[drive]\nwheel_loose = 0.25",
        "[drive]\nrolling_resistance = 0.09",
        "[path]\nskew_deg = 2.0\nwobble_lateral_mm = 4.0",
    ] {
        let run = run(text);
        let (given, missing) = run.energy_balance_j();
        assert!(given > 0.1, "{text}: the spring gave {given} J");
        near(missing / given, 0.0, 1e-6);
        assert!(run.events.stop.is_some(), "{text}: the car stops at last");
    }
}

#[test]
fn rolling_wheels_do_not_slip_and_spinning_ones_do() {
    let rolls = run("");
    for i in 0..40 {
        let s = rolls.state(f64::from(i) * 0.05);
        near(s.v, s.omega * rolls.car.radius_m, 1e-9);
    }
    assert!(rolls.events.slip_from.is_none());
    let spins = run(SLIPPERY);
    let s = spins.state(spins.events.slip_from.unwrap() + 0.4);
    assert!(s.omega * spins.car.radius_m > 1.5 * s.v);
    // While they spin the car is pushed by kinetic friction alone (Coulomb): m' a = mu N - losses.
    let a = spins.car.rates(&s, Tyres::Slide, true).v;
    let push = 0.16 * 0.58 * 0.185 * 9.806_65;
    let resist = 0.018 * 0.185 * 9.806_65 + 0.6 * 0.012 * s.v * s.v;
    let front_kg = 0.024 * (70.0_f64 / 96.0).powi(2);
    near(a, (push - resist) / (0.185 + front_kg), 1e-9);
}

#[test]
fn a_skewed_axle_steers_as_the_kinematic_single_track_model_says() {
    // Rajamani, Vehicle Dynamics and Control, ch. 2 (citation from memory): R = L / tan(delta). Worked values:
    // L 0.20 m and 1 degree: R 11.45799 m, 1.07374 m sideways and 25.003 degrees after 5 m;
    // L 0.30 m and 1 degree: 0.72218 m; L 0.20 m and 2 degrees: 2.04740 m.
    for (wheelbase_mm, skew_deg, sideways_m) in [
        (200.0, 1.0_f64, 1.07374),
        (300.0, 1.0, 0.72218),
        (200.0, 2.0, 2.04740),
    ] {
        let text = format!(
            "duration_s = 6.0\n[car]\nwheelbase_mm = {wheelbase_mm}\n[path]\nskew_deg = {skew_deg}"
        );
        let run = run(&text);
        let (mut low, mut high) = (0.0, 6.0);
        while high - low > 1e-9 {
            let middle = f64::midpoint(low, high);
            if run.state(middle).travel < 5.0 {
                low = middle;
            } else {
                high = middle;
            }
        }
        let s = run.state(low);
        near(s.travel, 5.0, 1e-6);
        near(s.y, sideways_m, 1e-5);
        near(
            s.heading,
            5.0 * skew_deg.to_radians().tan() / (wheelbase_mm / 1e3),
            1e-6,
        );
    }
}

#[test]
fn coasting_loses_what_rolling_resistance_takes() {
    // Coast-down: a = c g for a car whose wheels weigh next to nothing, in no wind.
    let text = "duration_s = 4.0\n[car]\nwheel_mass_g = 1e-6\n[drive]\nrolling_resistance = 0.02\n\
                bearing_torque_n_m = 0.0\ndrag_area_m2 = 0.0";
    let run = run(text);
    let from = run.events.string_out.unwrap() + 0.01;
    let a = (run.state(from + 1.0).v - run.state(from).v) / 1.0;
    near(a, -0.02 * 9.806_65, 1e-6);
}

#[test]
fn the_string_turns_the_axle_as_often_as_it_goes_round() {
    let turns = |text: &str| {
        let s = run(text).at_string_out.unwrap();
        (
            s.wheel / std::f64::consts::TAU,
            s.axle / std::f64::consts::TAU,
        )
    };
    let budget = 235.0 / (std::f64::consts::PI * 14.0);
    near(turns("").0, budget, 1e-6);
    near(turns("[drive]\nstring_slip = 0.3").0, 0.7 * budget, 1e-6);
    let (wheel, axle) = turns("[drive]\nwheel_loose = 0.25");
    near(axle, budget, 1e-6);
    near(wheel, 0.75 * budget, 1e-6);
    // The string's middle keeps its length: one turn takes π times axle and string together.
    let thick = "[car]\naxle_diameter_mm = 12.0\nstring_diameter_mm = 1.5";
    near(turns(thick).0, 235.0 / (std::f64::consts::PI * 13.5), 1e-6);
}

#[test]
fn colour_bars_get_the_published_code_values() {
    // 100 % bars, 8 bit, limited range (EBU and SMPTE bar codes): BT.709 and BT.601.
    let coding = |matrix| Coding {
        matrix,
        full_range: false,
        bits: 8,
        siting: Siting::Center,
    };
    let red = [1.0, 0.0, 0.0];
    let green = [0.0, 1.0, 0.0];
    let blue = [0.0, 0.0, 1.0];
    let hd = coding(Matrix::Bt709);
    assert_eq!(hd.triple(red), [63, 102, 240]);
    assert_eq!(hd.triple(green), [173, 42, 26]);
    assert_eq!(hd.triple(blue), [32, 240, 118]);
    let sd = coding(Matrix::Bt601);
    assert_eq!(sd.triple(red), [81, 90, 240]);
    assert_eq!(sd.triple(green), [145, 54, 34]);
    assert_eq!(sd.triple(blue), [41, 240, 110]);
}

#[test]
fn a_turned_picture_is_upright_again_after_the_players_turn() {
    // Upright 3 x 2 picture; a player turns the stored one clockwise.
    let upright = [1, 2, 3, 4, 5, 6];
    assert_eq!(stored(&upright, 3, 2, 0).0, upright);
    // Clockwise by 90: the stored picture's left column, read upwards, is the upright first row.
    assert_eq!(stored(&upright, 3, 2, 90), (vec![3, 6, 2, 5, 1, 4], 2, 3));
    assert_eq!(stored(&upright, 3, 2, 180), (vec![6, 5, 4, 3, 2, 1], 3, 2));
    assert_eq!(stored(&upright, 3, 2, 270), (vec![4, 1, 5, 2, 6, 3], 2, 3));
}

#[test]
fn an_arm_across_the_sticker_hides_as_much_as_its_strip_covers() {
    // By hand: the sticker's centre (106, 96) seen from the pivot (165, 72) is 63.7 mm away at 157.9 degrees;
    // an arm at that angle covers a strip of 9 mm through the middle of a disc of 44 mm, which is
    // 2 (22^2 asin(4.5 / 22) + 4.5 sqrt(22^2 - 4.5^2)) = 393 of 1521 square mm.
    let text = "release_s = 9.0\n[drive]\nstart_angle_deg = 157.9\n[side_arm]\nwidth_mm = 9.0\n\
                off_centre_mm = 47.2\nstring_diameter_mm = 0.0\n[camera]\nposition_m = [0.106, -30.0, 0.096]\n\
                look_at_m = [0.106, 0.0, 0.096]\nhfov_deg = 10.0";
    let scene = scene(text);
    let world = World::new(&scene, Run::new(&scene).unwrap()).unwrap();
    let phone = Phone::new(&scene);
    let truth = Truth {
        scene: &scene,
        world: &world,
        phone: &phone,
    };
    let first = truth.row(slots(&scene)[0]).unwrap();
    // 64 points tell a share to about a thirtieth.
    near(first.sticker.share, 1.0 - 393.0 / 1521.0, 0.035);
}

#[test]
fn truth_stands_at_rest_before_release_and_the_marks_are_in_sight() {
    let scene = scene("");
    let world = World::new(&scene, Run::new(&scene).unwrap()).unwrap();
    let phone = Phone::new(&scene);
    let truth = Truth {
        scene: &scene,
        world: &world,
        phone: &phone,
    };
    let first = truth.row(slots(&scene)[0]).unwrap();
    near(first.state.v, 0.0, 0.0);
    near(first.sticker.share, 1.0, 1e-9);
    near(first.wheel.unwrap().share, 1.0, 1e-9);
    // The row that sees the mark fixes its time: readout down to it, and half the exposure.
    let v = first.sticker.at_px[1];
    near(first.sticker.time_s, v / 540.0 * 0.012 + 0.002, 1e-12);
    assert!(truth.see(Which::Axle, 0.0).is_none());
}

#[test]
fn a_misspelt_key_is_refused() {
    assert!(toml::from_str::<Scene>("[car]\nwheel_diameter = 96.0").is_err());
}

#[test]
fn every_scene_can_be_driven() {
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/fixtures/scenes");
    let mut count = 0;
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        let text = std::fs::read_to_string(&path).unwrap();
        let scene: Scene = toml::from_str(&text).unwrap_or_else(|e| panic!("{path:?}: {e}"));
        let run = Run::new(&scene).unwrap_or_else(|e| panic!("{path:?}: {e}"));
        let (given, missing) = run.energy_balance_j();
        near(missing / given, 0.0, 1e-6);
        World::new(&scene, run).unwrap_or_else(|e| panic!("{path:?}: {e}"));
        count += 1;
    }
    assert!(count >= 3);
}

/// Centroid of what is bluer than green near a place: a magenta sticker on a white card.
fn magenta_centroid(scene: &Scene, frame_s: f64) -> ([f64; 2], [f64; 2]) {
    let world = World::new(scene, Run::new(scene).unwrap()).unwrap();
    let phone = Phone::new(scene);
    let truth = Truth {
        scene,
        world: &world,
        phone: &phone,
    };
    let [u, v] = truth.see(Which::Sticker, frame_s).unwrap().at_px;
    let picture = Painter::new(scene, &world, &phone).frame(frame_s);
    let (mut sum, mut at) = (0.0, [0.0; 2]);
    for row in (v - 16.0) as usize..(v + 16.0) as usize {
        for column in (u - 16.0) as usize..(u + 16.0) as usize {
            let [_, green, blue] = picture.pixels[row * picture.width + column];
            // Acrylic and steel are a little bluish too.
            let weight = (blue - green - 0.03).max(0.0);
            sum += weight;
            at[0] += weight * (column as f64 + 0.5);
            at[1] += weight * (row as f64 + 0.5);
        }
    }
    ([u, v], at.map(|a| a / sum))
}

#[test]
fn the_drawn_sticker_is_where_the_truth_says() {
    // Fast, blurred and read out slowly, for a phone held level, upright or upside down: a row time
    // taken wrongly would show as pixels, since the sticker moves some 10 px during the readout.
    for (rotation_deg, width, height) in [(0, 320, 180), (90, 180, 320), (180, 320, 180)] {
        let text = format!(
            "[camera]\nposition_m = [1.2, -1.4, 0.5]\nlook_at_m = [1.25, 0.0, 0.1]\n\
             hfov_deg = 32.0\n[exposure]\nlight_rgb = [1.0, 1.0, 1.0]\nreadout_s = 0.02\n\
             shutter_s = 0.008\n[sticker]\ndiameter_mm = 40.0\n\
             [clip]\nwidth = {width}\nheight = {height}\nrotation_deg = {rotation_deg}"
        );
        let (truth, seen) = magenta_centroid(&scene(&text), 1.6);
        near(seen[0], truth[0], 0.06);
        near(seen[1], truth[1], 0.06);
    }
}

#[test]
fn a_shaken_phone_sees_the_sticker_where_the_truth_says() {
    let text = "[camera]\nposition_m = [1.2, -1.4, 0.5]\nlook_at_m = [1.25, 0.0, 0.1]\n\
                hfov_deg = 32.0\nshake_mrad = 6.0\nshake_mm = 5.0\n[exposure]\n\
                light_rgb = [1.0, 1.0, 1.0]\n[clip]\nwidth = 320\nheight = 180";
    let (truth, seen) = magenta_centroid(&scene(text), 1.6);
    near(seen[0], truth[0], 0.06);
    near(seen[1], truth[1], 0.06);
}

#[test]
fn stored_truth_is_what_the_scenes_give() {
    let fixtures = std::path::Path::new(concat!(env!("CARGO_MANIFEST_DIR"), "/fixtures"));
    let mut compared = 0;
    for entry in std::fs::read_dir(fixtures).unwrap() {
        let folder = entry.unwrap().path();
        let Ok(stored) = std::fs::read_to_string(folder.join("truth_frames.csv")) else {
            continue;
        };
        let name = folder.file_name().unwrap().to_string_lossy();
        let path = fixtures.join("scenes").join(format!("{name}.toml"));
        let scene = scene(&std::fs::read_to_string(path).unwrap());
        let world = World::new(&scene, Run::new(&scene).unwrap()).unwrap();
        let phone = Phone::new(&scene);
        let truth = Truth {
            scene: &scene,
            world: &world,
            phone: &phone,
        };
        let lines: Vec<&str> = stored.lines().skip(1).collect();
        let slots = slots(&scene);
        assert_eq!(slots.len(), lines.len(), "{name}: number of frames");
        for i in (0..slots.len()).step_by(16) {
            let now = truth.csv_line(i, &truth.row(slots[i]).unwrap());
            for (a, b) in now.split(',').zip(lines[i].split(',')) {
                let same = match (a.parse::<f64>(), b.parse::<f64>()) {
                    (Ok(a), Ok(b)) => (a - b).abs() < 1e-3,
                    _ => a == b,
                };
                assert!(
                    same,
                    "{name}, frame {i}: the scene gives {now}, the file has {}",
                    lines[i]
                );
            }
        }
        let sheet = std::fs::read_to_string(folder.join("run.toml")).unwrap();
        assert_eq!(
            sheet,
            crate::sheet::run_sheet(&scene).unwrap(),
            "{name}: run sheet"
        );
        compared += 1;
    }
    assert!(compared > 20, "only {compared} clips are stored");
}
