//! Dumps observations, truth and today's estimates as JSON lines (local, not for merging).
use crate::frames::{KINDS, drawn};
use crate::simulated::{Case, Outcome, measure};
use gripline::analysis::analyse;
use gripline::camera::{Projection, locate, relocate};
use gripline::motion::settle_readout;
use gripline::priors::{Prior, Priors};
use gripline::track::Place;
use gripline::uncertainty::with_intervals;
use gripline::verdict::judge;
use serde_json::{Value, json};
use std::io::Write as _;
use std::time::Instant;

fn places(places: &[Option<Place>]) -> Vec<Value> {
    places
        .iter()
        .map(|p| p.map_or(Value::Null, |p| json!([p.u_px, p.v_px, p.var_u_px2, p.var_v_px2, p.row_frac])))
        .collect()
}

fn settled(case: &Case, draws: usize) -> Option<(Outcome, Priors, f64, f64)> {
    let mut priors = Priors::from_sheet(&case.sheet);
    let track = &case.filmed.track;
    let t0 = Instant::now();
    let view = locate(track, &priors.camera_sheet());
    let first = analyse(track, view.clone(), &priors, None).ok()?;
    let (value, sd) = settle_readout(
        track,
        &view,
        &priors.camera_sheet(),
        &priors.car_geometry(),
        &first.motion,
        (priors.readout_s.value, priors.readout_s.sd),
    );
    priors.readout_s = Prior { value, sd };
    let view = relocate(track, &priors.camera_sheet(), &view);
    let analysis = analyse(track, view, &priors, None).ok()?;
    let best_s = t0.elapsed().as_secs_f64();
    let t1 = Instant::now();
    let result = with_intervals(track, &analysis, &priors, draws);
    let draws_s = t1.elapsed().as_secs_f64();
    let verdict = judge(&result);
    Some((Outcome { analysis, result, verdict }, priors, best_s, draws_s))
}

fn today(_: &Case, outcome: &Outcome) -> Vec<Value> {
    today_of(outcome)
}

fn today_of(outcome: &Outcome) -> Vec<Value> {
    let (best, spread) = (&outcome.analysis, &outcome.result.frame_spread);
    (0..best.motion.body.states.len())
        .map(|frame| {
            let Some(body) = best.motion.body.states[frame].as_ref() else {
                return Value::Null;
            };
            let found = &best.findings.frames[frame];
            let own = body.covariance[(3, 3)].max(0.0).sqrt();
            let wheel = best.motion.wheel.as_ref().ok().and_then(|w| w.states[frame].as_ref());
            json!({
                "time_s": body.time_s,
                "mean": body.mean.as_slice(),
                "speed": [body.mean[3], own.hypot(spread[frame].speed_m_per_s)],
                "slip": found.slip.map(|s| [s.ratio, s.sd.hypot(spread[frame].slip)]),
                "deviation": found.deviation.map(|(v, sd)| [v, sd.hypot(spread[frame].deviation_m)]),
                "wheel": wheel.map(|w| json!([w.mean[0], w.mean[1], w.mean[2]])),
                "wheel_seen": wheel.map(|w| w.observation.map(|o| o.0)),
            })
        })
        .collect()
}

pub(crate) fn dump(runs: usize, draws: usize) {
    let mut out = std::fs::File::create(std::env::var("DUMP").expect("DUMP")).expect("file");
    for kind in KINDS {
        if std::env::var("ONLY").is_ok_and(|only| !only.split(',').any(|o| o == kind)) {
            continue;
        }
        let from: u64 = std::env::var("FROM").ok().and_then(|v| v.parse().ok()).unwrap_or(0);
        for seed in from..from + runs as u64 {
            let case = drawn(kind, 7000 + seed, true);
            let Some(plain) = measure(&case, draws) else { continue };
            let Some((outcome, priors, best_s, draws_s)) = settled(&case, draws) else { continue };
            let track = &case.filmed.track;
            let view = &outcome.analysis.view;
            let camera = match view.projection {
                Projection::Pinhole(c) => json!({
                    "focal": c.focal_px, "k1": c.k1,
                    "centre": [c.centre_px.x, c.centre_px.y],
                    "rotation": c.camera_from_floor.matrix().transpose().as_slice(),
                    "position": [c.position_m.x, c.position_m.y, c.position_m.z],
                }),
                Projection::Flat(_) => Value::Null,
            };
            let truth: Vec<Value> = case.filmed.states.iter().map(|s| s.as_ref().map_or(Value::Null, |s| json!({
                "since": s.time_s, "v": s.v, "omega": s.omega, "left": s.axle_left_m(), "wheel": s.shown_rad,
                "powered": s.powered, "slipping": s.slipping, "x": s.x_m,
            }))).collect();
            let sheet = Priors::from_sheet(&case.sheet);
            let of = |p: Prior| [p.value, p.sd];
            let motion = &outcome.analysis.motion;
            let line = json!({
                "kind": kind, "seed": seed, "times_s": track.times_s,
                "size": [track.width_px, track.height_px],
                "sticker": places(&track.sticker), "wheel": places(&track.wheel),
                "floor_px": track.floor.iter().map(|m| [m.u_px, m.v_px, m.sd_px]).collect::<Vec<_>>(),
                "floor_m": sheet.marks.iter().map(|m| [m.floor_m.x, m.floor_m.y]).collect::<Vec<_>>(),
                "correspondence": format!("{:?}", view.correspondence),
                "corr": serde_json::to_value(&view.correspondence).unwrap(),
                "mark_sd_m": sheet.mark_sd_m,
                "camera": camera,
                "priors": {
                    "height": of(sheet.sticker_height_m), "ahead": of(sheet.sticker_ahead_m),
                    "off": of(sheet.sticker_off_centre_m), "track": of(sheet.track_width_m),
                    "radius": of(sheet.wheel_radius_m), "mark_radius": sheet.mark_radius_m.map(of),
                    "focal_share": of(sheet.focal_share), "k1": of(sheet.k1), "readout": of(sheet.readout_s),
                    "readout_settled": of(priors.readout_s),
                },
                "truth": truth, "radius_true": case.car.radius_m,
                "release_true": case.truth.values.get(&gripline::findings::Key::ReleaseS),
                "release": motion.release.as_ref().ok().map(|r| r.time_s),
                "pull_end": outcome.analysis.findings.pull.end_s,
                "body_breaks": motion.tuning.body.change_points_s,
                "body_jerk": motion.tuning.body.jerk_density,
                "body_factor": motion.tuning.body.variance_factor,
                "wheel_breaks": motion.tuning.wheel.as_ref().map(|w| w.settled.change_points_s.clone()),
                "wheel_jerk": motion.tuning.wheel.as_ref().map(|w| w.settled.jerk_density),
                "rolling": outcome.analysis.findings.rolling.as_ref().ok().map(|r| [r.radius_m.value, r.radius_m.sd]),
                "today": today(&case, &outcome), "today_unsettled": today(&case, &plain),
                "best_s": best_s, "draws_s": draws_s, "draws": draws,
            });
            writeln!(out, "{line}").expect("write");
        }
        println!("{kind}");
    }
}

/// The same for drawn clips: folders as words.
pub(crate) fn clips(folders: &[String], draws: usize) {
    let mut out = std::fs::File::create(std::env::var("DUMP").expect("DUMP")).expect("file");
    for folder in folders {
        let dir = std::path::Path::new(folder);
        let Ok(sheet) = gripline::sheet::RunSheet::read(&dir.join("run.toml")) else {
            println!("{folder}: no sheet");
            continue;
        };
        let t0 = Instant::now();
        let measured = gripline::pipeline::measure(&dir.join("clip.mp4"), &sheet, draws, &|_, _| ());
        let all_s = t0.elapsed().as_secs_f64();
        let Ok(measured) = measured else {
            println!("{folder}: not measured");
            continue;
        };
        let (Ok(analysis), Some(result)) = (measured.outline.analysis, measured.result) else {
            println!("{folder}: no analysis");
            continue;
        };
        let t0 = Instant::now();
        let track = measured.outline.track;
        let settled = measured.outline.priors;
        let _ = analyse(&track, analysis.view.clone(), &settled, None);
        let best_s = t0.elapsed().as_secs_f64();
        let t0 = Instant::now();
        let _ = with_intervals(&track, &analysis, &settled, draws);
        let draws_s = t0.elapsed().as_secs_f64();
        let Projection::Pinhole(c) = analysis.view.projection else {
            println!("{folder}: flat");
            continue;
        };
        if analysis.view.moving.is_some() {
            println!("{folder}: moving");
            continue;
        }
        let verdict = judge(&result);
        let outcome = Outcome { analysis, result, verdict };
        let of = |p: Prior| [p.value, p.sd];
        let motion = &outcome.analysis.motion;
        let view = &outcome.analysis.view;
        let geometry = settled.car_geometry();
        let line = json!({
            "kind": dir.file_name().map(|n| n.to_string_lossy().into_owned()), "seed": 0, "times_s": track.times_s,
            "size": [track.width_px, track.height_px],
            "sticker": places(&track.sticker), "wheel": places(&track.wheel),
            "floor_px": track.floor.iter().map(|m| [m.u_px, m.v_px, m.sd_px]).collect::<Vec<_>>(),
            "floor_m": settled.marks.iter().map(|m| [m.floor_m.x, m.floor_m.y]).collect::<Vec<_>>(),
            "corr": serde_json::to_value(&view.correspondence).unwrap(),
            "mark_sd_m": settled.mark_sd_m, "from_right": settled.from_right,
            "aim": [geometry.aim_from_m.x, geometry.aim_from_m.y, geometry.aim_heading_rad],
            "camera": {
                "focal": c.focal_px, "k1": c.k1,
                "centre": [c.centre_px.x, c.centre_px.y],
                "rotation": c.camera_from_floor.matrix().transpose().as_slice(),
                "position": [c.position_m.x, c.position_m.y, c.position_m.z],
            },
            "priors": {
                "height": of(settled.sticker_height_m), "ahead": of(settled.sticker_ahead_m),
                "off": of(settled.sticker_off_centre_m), "track": of(settled.track_width_m),
                "radius": of(settled.wheel_radius_m), "mark_radius": settled.mark_radius_m.map(of),
                "focal_share": of(settled.focal_share), "k1": of(settled.k1),
                "readout": if settled.readout_given { of(settled.readout_s) } else { [0.012, 0.005] },
                "readout_settled": of(settled.readout_s),
            },
            "release": motion.release.as_ref().ok().map(|r| r.time_s),
            "pull_end": outcome.analysis.findings.pull.end_s,
            "body_breaks": motion.tuning.body.change_points_s,
            "body_jerk": motion.tuning.body.jerk_density,
            "body_factor": motion.tuning.body.variance_factor,
            "wheel_breaks": motion.tuning.wheel.as_ref().map(|w| w.settled.change_points_s.clone()),
            "rolling": outcome.analysis.findings.rolling.as_ref().ok().map(|r| [r.radius_m.value, r.radius_m.sd]),
            "today": today_of(&outcome),
            "best_s": best_s, "draws_s": draws_s, "all_s": all_s, "draws": draws,
        });
        writeln!(out, "{line}").expect("write");
        println!("{folder}");
    }
}
