//! What really happened: one row a frame, and the run in key numbers.

use serde_json::{Value, json};

use crate::body::Which;
use crate::drive::State;
use crate::paint::encoded;
use crate::room::World;
use crate::run::Run;
use crate::scene::{Matrix, Scene};
use crate::sound::snap_time_s;
use crate::timetable::{Slot, container_fps};
use crate::view::{Phone, Vec3};

/// A mark that less than this shows of counts as hidden.
const VISIBLE_SHARE: f64 = 0.5;

pub(crate) const COLUMNS: &str = "frame,pts_s,capture_time_s,x_m,y_m,heading_rad,v_m_s,\
wheel_angle_rad,omega_rad_s,slip_ratio,deviation_m,spun_away_m,body_u,body_v,body_visible,\
body_visible_frac,wheel_time_s,wheel_angle_at_mark_rad,wheel_u,wheel_v,wheel_visible,\
wheel_visible_frac,axle_angle_rad,axle_u,axle_v,axle_visible";

/// Where and when one mark is seen in one frame.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Seen {
    pub(crate) time_s: f64,
    pub(crate) at_px: [f64; 2],
    pub(crate) share: f64,
}

impl Seen {
    pub(crate) fn visible(&self) -> bool {
        self.share >= VISIBLE_SHARE
    }
}

/// One frame's truth.
#[derive(Debug, Clone)]
pub(crate) struct Row {
    pub(crate) pts_s: f64,
    pub(crate) sticker: Seen,
    pub(crate) wheel: Option<Seen>,
    pub(crate) axle: Option<Seen>,
    pub(crate) slip_ratio: f64,
    pub(crate) heading_rad: f64,
    /// The middle of the driven axle, over the floor.
    pub(crate) at_m: [f64; 2],
    pub(crate) state: State,
    wheel_rad: f64,
    /// The wheel's turn when the sticker is seen.
    turned_rad: f64,
}

/// Everything that is true of one scene.
pub(crate) struct Truth<'a> {
    pub(crate) scene: &'a Scene,
    pub(crate) world: &'a World,
    pub(crate) phone: &'a Phone,
}

impl Truth<'_> {
    fn mark_at(&self, which: Which, time_s: f64) -> Option<Vec3> {
        let (pose, body) = (self.world.pose(time_s), &self.world.body);
        let local = match which {
            Which::Sticker => Some(body.sticker_m),
            Which::Wheel => body.wheel_mark_m(&pose),
            Which::Axle => body.axle_mark_m(&pose),
        };
        local.map(|p| pose.to_world(&p))
    }

    pub(crate) fn see(&self, which: Which, frame_s: f64) -> Option<Seen> {
        self.mark_at(which, frame_s)?;
        let (time_s, at_px) = self.phone.see(frame_s, |t| {
            self.mark_at(which, t).unwrap_or_else(Vec3::zeros)
        });
        let at_px = at_px.unwrap_or([f64::NAN; 2]);
        let share = self.share_in_sight(which, time_s);
        Some(Seen {
            time_s,
            at_px,
            share,
        })
    }

    /// How much of a mark is in the picture with nothing before it.
    fn share_in_sight(&self, which: Which, time_s: f64) -> f64 {
        let (pose, view) = (self.world.pose(time_s), self.phone.at(time_s));
        let Some(centre) = self.mark_at(which, time_s) else {
            return 0.0;
        };
        let size = view.half_size.map(|h| 2.0 * h);
        let offsets = self.world.body.spread(which);
        let sum: f64 = offsets
            .iter()
            .map(|offset| {
                let point = centre + (pose.to_world(offset) - pose.origin);
                let inside = view
                    .project(&point)
                    .is_some_and(|p| (0..2).all(|i| p[i] >= 0.0 && p[i] <= size[i]));
                let clear = || self.world.clear_view(&view.position, &point, time_s, &pose);
                if inside { clear() } else { 0.0 }
            })
            .sum();
        sum / offsets.len() as f64
    }

    pub(crate) fn row(&self, slot: Slot) -> anyhow::Result<Row> {
        let see = |which| self.see(which, slot.capture_s);
        let sticker = see(Which::Sticker).ok_or_else(|| anyhow::anyhow!("no sticker"))?;
        let wheel = see(Which::Wheel);
        let run = &self.world.run;
        let wheel_time_s = wheel.map_or(sticker.time_s, |w| w.time_s);
        let moment = run.moment(sticker.time_s);
        Ok(Row {
            pts_s: slot.pts_s(),
            sticker,
            wheel,
            axle: see(Which::Axle),
            slip_ratio: run.slip_ratio(sticker.time_s),
            heading_rad: moment.heading_rad,
            at_m: [moment.x_m, moment.y_m],
            state: run.state(sticker.time_s),
            wheel_rad: run.moment(wheel_time_s).wheel_rad,
            turned_rad: moment.wheel_rad,
        })
    }

    pub(crate) fn csv(&self, rows: &[Row]) -> String {
        let mut text = format!("{COLUMNS}\n");
        for (frame, row) in rows.iter().enumerate() {
            text += &self.csv_line(frame, row);
            text.push('\n');
        }
        text
    }

    pub(crate) fn csv_line(&self, frame: usize, row: &Row) -> String {
        let s = &row.state;
        let mark = |seen: &Option<Seen>| match seen {
            Some(m) => format!(
                "{:.4},{:.4},{},{:.3}",
                m.at_px[0],
                m.at_px[1],
                u8::from(m.visible()),
                m.share
            ),
            None => ",,0,0".into(),
        };
        let wheel_time = row
            .wheel
            .map_or(String::new(), |w| format!("{:.6}", w.time_s));
        let axle = row.axle.map_or(",,,0".into(), |a| {
            let angle = self.world.run.state(a.time_s).axle;
            let shown = u8::from(a.visible());
            format!("{angle:.5},{:.4},{:.4},{shown}", a.at_px[0], a.at_px[1])
        });
        // The aim line of a scene is the x axis, so the deviation is y.
        format!(
            "{frame},{:.6},{:.6},{:.6},{:.6},{:.7},{:.5},{:.5},{:.4},{:.5},{:.6},{:.6},{},{},{:.5},{},{}",
            row.pts_s,
            row.sticker.time_s,
            row.at_m[0],
            row.at_m[1],
            row.heading_rad,
            s.v,
            row.turned_rad,
            s.omega,
            row.slip_ratio,
            row.at_m[1],
            s.spun_away,
            mark(&Some(row.sticker)),
            wheel_time,
            row.wheel_rad,
            mark(&row.wheel),
            axle
        )
    }

    pub(crate) fn json(&self, name: &str, rows: &[Row], file_bytes: u64) -> anyhow::Result<Value> {
        let without_slip_m = Run::distance_without_slip_m(self.scene)?;
        let mut all = self.run_numbers(rows, without_slip_m);
        let filming = self.filming_numbers(name, rows, file_bytes);
        if let (Some(all), Some(filming)) = (all.as_object_mut(), filming.as_object()) {
            all.extend(filming.clone());
        }
        Ok(all)
    }

    fn run_numbers(&self, rows: &[Row], without_slip_m: f64) -> Value {
        let (scene, run) = (self.scene, &self.world.run);
        let (car, e) = (&run.car, &run.events);
        let last = rows.last().map(|r| r.state).unwrap_or_default();
        let heading = rows.last().map_or(0.0, |r| r.heading_rad);
        let at_m = rows.last().map_or([0.0; 2], |r| r.at_m);
        let most = |f: &dyn Fn(&Row) -> f64| rows.iter().map(f).fold(0.0, f64::max);
        let turns = car.string_m * 1e3 / (std::f64::consts::PI * scene.car.winding_diameter_mm());
        let power = run.at_string_out.map(|s| s.wheel / std::f64::consts::TAU);
        let (spring_j, missing_j) = run.energy_balance_j();
        let (end, path) = (&run.at_end, &scene.path);
        let curvature = path.skew_deg.to_radians().tan() / (scene.car.wheelbase_mm / 1e3);
        let turned = last.heading - car.aim_error_rad;
        let last_s = rows.last().map_or(0.0, |r| r.sticker.time_s);
        json!({
            "aim_error_rad": car.aim_error_rad,
            "car": {
                "crr": scene.drive.rolling_resistance,
                "drive_to_grip_ratio_at_start": car.drive_to_grip_at_start(),
                "mass_kg": car.mass_kg(),
                "mu_kinetic": scene.drive.mu_kinetic,
                "mu_static": scene.drive.mu_static,
            },
            "coast_deceleration_m_s2": run.at_string_out.map(|s| car.coast_deceleration(s.v)),
            "coast_from_s": e.string_out.map(|t| t.max(e.slip_to.unwrap_or(t))),
            "energy_j": {
                "bearing": end.bearing_j,
                "drag": end.drag_j,
                "joint": end.joint_j,
                "kinetic_at_end": car.kinetic_j(end),
                "relative_residual": missing_j / spring_j,
                "rolling": end.rolling_j,
                "slip": end.slip_j,
                "spring": spring_j,
            },
            "final_deviation_m": at_m[1],
            "final_heading_rad": heading,
            "final_x_m": at_m[0],
            "mean_curvature_1_m": if last.travel > 0.0 { turned / last.travel } else { 0.0 },
            "path_curvature_1_m": curvature,
            "path_length_in_clip_m": last.travel,
            "peak_omega_rad_s": most(&|r| r.state.omega),
            "peak_slip_ratio": most(&|r| r.slip_ratio),
            "peak_speed_m_s": most(&|r| r.state.v),
            "peak_wheel_surface_speed_m_s": most(&|r| r.state.omega) * car.radius_m,
            "release_time_s": scene.release_s,
            "rolling_radius_m": car.radius_m,
            "skew_angle_rad": path.skew_deg.to_radians(),
            "slip_from_s": e.slip_from,
            "slip_to_s": e.slip_to,
            "spun_away_m": last.spun_away,
            "stop_distance_m": end.travel,
            "stop_distance_without_slip_m": without_slip_m,
            "stop_time_s": e.stop,
            "stops_within_clip": e.stop.is_some_and(|t| t < last_s),
            "string_out_time_s": e.string_out,
            "string_slip": scene.drive.string_slip,
            "wheel_loose": scene.drive.wheel_loose,
            "wheel_turns_expected_from_string": turns,
            "wheel_turns_in_power_stroke": power,
            "wobble_lateral_amplitude_m": path.wobble_lateral_mm / 1e3,
            "wobble_vertical_amplitude_m": path.wobble_vertical_mm / 1e3,
            "shift_lateral_amplitude_m": path.shift_lateral_mm / 1e3,
            "wheel_off_axle_m": car.off_axle_m,
            "yaw_while_slipping_only": path.yaw_per_spun_m_deg != 0.0,
        })
    }

    fn filming_numbers(&self, name: &str, rows: &[Row], file_bytes: u64) -> Value {
        let (scene, c) = (self.scene, &self.scene.camera);
        let view = self.phone.at(self.phone.clock.readout_s / 2.0);
        let marks: Vec<Option<[f64; 2]>> = scene
            .floor_marks
            .at_mm
            .iter()
            .map(|p| view.project(&Vec3::new(p[0] / 1e3, p[1] / 1e3, 0.0)))
            .collect();
        let per_frame = rows
            .windows(2)
            .map(|w| (w[1].wheel_rad - w[0].wheel_rad).abs() / std::f64::consts::TAU)
            .fold(0.0, f64::max);
        let seen = |f: &dyn Fn(&Row) -> bool| rows.iter().filter(|r| f(r)).count();
        let matrix = match scene.clip.matrix {
            Matrix::Bt709 => "bt709",
            Matrix::Bt601 => "bt601",
        };
        let white = encoded(scene.exposure.brightness.min(1.0));
        json!({
            "answerable": scene.answerable,
            "audio_snap_time_s": scene.clip.sound.then(|| snap_time_s(scene)),
            "body_visible_frames": seen(&|r| r.sticker.visible()),
            "camera": {
                "focal_px": view.focal_px,
                "hfov_deg": c.hfov_deg,
                "k1": c.k1,
                "look_at_m": c.look_at_m,
                "moving": self.phone.moves(),
                "position_m": c.position_m,
                "roll_deg": c.roll_deg,
            },
            "capture_fps": scene.clip.fps,
            "cause": scene.cause,
            "container_fps": container_fps(scene),
            "exposure_s": scene.exposure.shutter_s,
            "file_bytes": file_bytes,
            "floor_mark_pixels_first_frame": marks,
            "frames": rows.len(),
            "matrix": matrix,
            "max_wheel_turn_per_frame": per_frame,
            "must_refuse": scene.must_refuse,
            "name": name,
            "note": scene.note,
            "readout_time_s": scene.exposure.readout_s,
            "rotation_metadata_deg": scene.clip.rotation_deg,
            "upright_size": [scene.clip.width, scene.clip.height],
            "variable_frame_rate": scene.clip.jitter_ms > 0.0
                || !scene.clip.dropped_frames.is_empty(),
            "wheel_visible_frames": seen(&|r| r.wheel.is_some_and(|w| w.visible())),
            "white_code": white,
        })
    }

    /// The camera's pose half-way through each frame: its place and its three axes.
    pub(crate) fn camera_csv(&self, slots: &[Slot]) -> String {
        let clock = &self.phone.clock;
        let lines = slots.iter().enumerate().map(|(frame, slot)| {
            let time_s = slot.capture_s + clock.readout_s / 2.0 + clock.shutter_s / 2.0;
            let view = self.phone.at(time_s);
            let axes = view.axes.transpose();
            let numbers: Vec<String> = view
                .position
                .iter()
                .chain(axes.iter())
                .map(|value| format!("{value:.9}"))
                .collect();
            format!("{frame},{time_s:.6},{}\n", numbers.join(","))
        });
        let head = "frame,time_s,x_m,y_m,z_m,right_x,right_y,right_z,\
                    down_x,down_y,down_z,forward_x,forward_y,forward_z\n";
        std::iter::once(head.to_owned()).chain(lines).collect()
    }
}
