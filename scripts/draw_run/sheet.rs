//! The run sheet that a user would write for this scene, and the same facts as `scene.json`.

use std::fmt::Write as _;

use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, Normal};
use serde_json::{Value, json};

use crate::body::WHEEL_THICKNESS_M;
use crate::scene::{CaptureRateIn, Facing, Scene};

/// Places of the floor marks as the user measured them.
fn stated_marks_mm(scene: &Scene) -> anyhow::Result<Vec<[f64; 2]>> {
    let error = Normal::new(0.0, scene.floor_marks.measured_with_error_mm)?;
    let mut rng = ChaCha8Rng::seed_from_u64(scene.seed ^ 0xf100);
    Ok(scene
        .floor_marks
        .at_mm
        .iter()
        .map(|p| p.map(|mm| ((mm + error.sample(&mut rng)) * 10.0).round() / 10.0))
        .collect())
}

fn stated_diameter_mm(scene: &Scene) -> f64 {
    scene.car.wheel_diameter_mm * (1.0 + scene.car.stated_diameter_error_percent / 100.0)
}

/// The run sheet, TOML.
pub(crate) fn run_sheet(scene: &Scene) -> anyhow::Result<String> {
    let (c, s, w) = (&scene.car, &scene.sticker, &scene.wheel_mark);
    let mut t = String::new();
    writeln!(
        t,
        "[car]\nname = {:?}\ntreatment = {:?}",
        c.name, c.treatment
    )?;
    writeln!(t, "wheel_diameter_mm = {:.2}", stated_diameter_mm(scene))?;
    writeln!(t, "wheelbase_mm = {:.1}", c.wheelbase_mm)?;
    writeln!(t, "track_width_mm = {:.1}", c.track_width_mm)?;
    writeln!(t, "facing_side = {:?}", c.facing_side.word())?;
    writeln!(t, "axle_diameter_mm = {:.2}", c.axle_diameter_mm)?;
    writeln!(
        t,
        "string_mm = {:.1}\nstring_diameter_mm = {:.2}\nmass_g = {:.1}",
        c.string_mm, c.string_diameter_mm, c.mass_g
    )?;
    writeln!(t, "driven_share = {:.3}", c.driven_share)?;
    writeln!(
        t,
        "\n[sticker]\ncolour = {:?}\nheight_mm = {:.1}",
        s.colour, s.height_mm
    )?;
    writeln!(
        t,
        "ahead_mm = {:.1}\noff_centre_mm = {:.1}",
        s.ahead_mm, s.off_centre_mm
    )?;
    let marks = w.shown.then_some(w).into_iter();
    let header = if scene.more_wheel_marks.is_empty() {
        "[wheel_mark]"
    } else {
        "[[wheel_mark]]"
    };
    for w in marks.chain(&scene.more_wheel_marks) {
        writeln!(
            t,
            "\n{header}\ncolour = {:?}\nradius_mm = {:.1}",
            w.colour, w.radius_mm
        )?;
    }
    if let Some(a) = &scene.axle_mark {
        writeln!(t, "\n[axle_mark]\ncolour = {:?}", a.colour)?;
    }
    for [x, y] in stated_marks_mm(scene)? {
        let colour = &scene.floor_marks.colour;
        writeln!(
            t,
            "\n[[floor_mark]]\ncolour = {colour:?}\nx_mm = {x:.1}\ny_mm = {y:.1}"
        )?;
    }
    let aim = scene.floor_marks.aim_mm;
    writeln!(t, "\n[aim]\nfrom_mm = [0.0, 0.0]\nto_mm = [{aim:.1}, 0.0]")?;
    if scene.clip.capture_rate_in == CaptureRateIn::Sheet {
        writeln!(t, "\n[camera]\ncapture_fps = {:.1}", scene.clip.fps)?;
    }
    if let Some(s) = &scene.end_view {
        writeln!(
            t,
            "\n[end_view]\ncolour = {:?}\nheight_mm = {:.1}",
            s.colour, s.height_mm
        )?;
        writeln!(
            t,
            "ahead_mm = {:.1}\noff_centre_mm = {:.1}",
            s.ahead_mm, s.off_centre_mm
        )?;
    }
    Ok(t)
}

/// The same facts in metres, in the shape of the other clips with exact truth.
pub(crate) fn scene_json(scene: &Scene) -> anyhow::Result<Value> {
    let (c, s, w) = (&scene.car, &scene.sticker, &scene.wheel_mark);
    let m = &scene.floor_marks;
    let marks: Vec<Value> = stated_marks_mm(scene)?
        .iter()
        .map(|[x, y]| {
            json!({"color": m.colour, "shape": "disc", "size_m": m.diameter_mm / 1e3,
                   "x_m": x / 1e3, "y_m": y / 1e3})
        })
        .collect();
    let outer_m = c.track_width_mm / 1e3;
    let facing = match s.facing {
        Facing::Side => "side",
        Facing::Rear => "rear",
        Facing::Top => "top",
    };
    let wheel_mark = w.shown.then(|| {
        json!({"color": w.colour, "diameter_m": w.diameter_mm / 1e3,
               "radius_from_hub_m": w.radius_mm / 1e3})
    });
    let axle_mark = scene.axle_mark.as_ref().map(|a| {
        json!({"color": a.colour, "diameter_m": a.diameter_mm / 1e3,
               "radius_from_axis_m": a.radius_mm / 1e3})
    });
    let stated = scene.clip.capture_rate_in == CaptureRateIn::Sheet;
    let capture_fps = stated.then_some(scene.clip.fps);
    Ok(json!({
        "aim_line": {"from_m": [0.0, 0.0], "to_m": [m.aim_mm / 1e3, 0.0]},
        "axle_diameter_m": c.axle_diameter_mm / 1e3,
        "axle_mark": axle_mark,
        "capture_fps": capture_fps,
        "floor_marks": marks,
        "side_facing_camera": c.facing_side.word(),
        "sticker": {
            "ahead_of_driven_axle_m": s.ahead_mm / 1e3,
            "color": s.colour,
            "diameter_m": s.diameter_mm / 1e3,
            "facing": facing,
            "height_m": s.height_mm / 1e3,
            "inside_near_wheel_plane_m":
                (outer_m - WHEEL_THICKNESS_M) / 2.0 - s.off_centre_mm / 1e3,
            "left_of_centre_line_m": c.facing_side.y_sign() * s.off_centre_mm / 1e3,
        },
        "string_diameter_m": c.string_diameter_mm / 1e3,
        "string_length_m": c.string_mm / 1e3,
        "track_width_m": outer_m - WHEEL_THICKNESS_M,
        "wheel_diameter_m": stated_diameter_mm(scene) / 1e3,
        "wheel_mark": wheel_mark,
        "wheelbase_m": c.wheelbase_mm / 1e3,
    }))
}
