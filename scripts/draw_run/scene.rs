//! The scene file: what is driven, filmed and stored. Everything has a default, so a scene file
//! names only what is special about it.

use serde::Deserialize;

pub(crate) use crate::filming::*;

/// A whole scene, as read from `fixtures/scenes/NAME.toml`.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub(crate) struct Scene {
    pub(crate) note: String,
    /// The true verdict, one of the causes that the tool may name.
    pub(crate) cause: String,
    /// What this view can show at all.
    pub(crate) answerable: Vec<String>,
    pub(crate) must_refuse: bool,
    pub(crate) seed: u64,
    pub(crate) duration_s: f64,
    pub(crate) release_s: f64,
    pub(crate) car: Car,
    pub(crate) drive: Drive,
    pub(crate) path: Path,
    pub(crate) sticker: Sticker,
    pub(crate) wheel_mark: WheelMark,
    /// Further marks on the same wheel; the truth is told of the first.
    pub(crate) more_wheel_marks: Vec<WheelMark>,
    pub(crate) axle_mark: Option<AxleMark>,
    pub(crate) side_arm: Option<SideArm>,
    pub(crate) floor_marks: FloorMarks,
    pub(crate) camera: Camera,
    /// The sticker that faces a second phone, whose clip is a scene of its own: for the sheet only.
    pub(crate) end_view: Option<Sticker>,
    pub(crate) exposure: Exposure,
    pub(crate) noise: Noise,
    pub(crate) room: Room,
    #[serde(rename = "box")]
    pub(crate) boxes: Vec<Crate>,
    #[serde(rename = "drum")]
    pub(crate) drums: Vec<Drum>,
    pub(crate) poster: Vec<Poster>,
    pub(crate) walker: Vec<Walker>,
    pub(crate) parked_car: Option<ParkedCar>,
    pub(crate) clip: Clip,
}

impl Default for Scene {
    fn default() -> Self {
        Self {
            note: String::new(),
            cause: "none".into(),
            answerable: ["speed", "slip", "deviation"].map(String::from).to_vec(),
            must_refuse: false,
            seed: 1,
            duration_s: 2.2,
            release_s: 0.3,
            car: Car::default(),
            drive: Drive::default(),
            path: Path::default(),
            sticker: Sticker::default(),
            wheel_mark: WheelMark::default(),
            more_wheel_marks: Vec::new(),
            axle_mark: None,
            side_arm: None,
            floor_marks: FloorMarks::default(),
            camera: Camera::default(),
            end_view: None,
            exposure: Exposure::default(),
            noise: Noise::default(),
            room: Room::default(),
            boxes: Vec::new(),
            drums: Vec::new(),
            poster: Vec::new(),
            walker: Vec::new(),
            parked_car: None,
            clip: Clip::default(),
        }
    }
}

/// Sizes and weights of the car.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub(crate) struct Car {
    pub(crate) name: String,
    pub(crate) treatment: String,
    pub(crate) wheel_diameter_mm: f64,
    pub(crate) front_wheel_diameter_mm: f64,
    pub(crate) wheelbase_mm: f64,
    /// Between the outer faces of the driven wheels.
    pub(crate) track_width_mm: f64,
    /// The side of the car that the camera sees.
    pub(crate) facing_side: Side,
    /// What the string is wound on, bare.
    pub(crate) axle_diameter_mm: f64,
    pub(crate) string_mm: f64,
    /// Thickness of the string, which lies on the axle in one layer.
    pub(crate) string_diameter_mm: f64,
    pub(crate) mass_g: f64,
    pub(crate) driven_share: f64,
    /// One driven wheel; the front wheels weigh the same per area.
    pub(crate) wheel_mass_g: f64,
    pub(crate) wheel_style: WheelStyle,
    pub(crate) body_rgb: [f64; 3],
    /// How far the diameter that the user measured is from the true rolling diameter.
    pub(crate) stated_diameter_error_percent: f64,
}

impl Car {
    /// Diameter at which the middle of the string winds; a string keeps its middle's length when it is
    /// bent.
    pub(crate) fn winding_diameter_mm(&self) -> f64 {
        self.axle_diameter_mm + self.string_diameter_mm
    }
}

impl Default for Car {
    fn default() -> Self {
        Self {
            name: "Tern".into(),
            treatment: "silicone bead".into(),
            wheel_diameter_mm: 96.0,
            front_wheel_diameter_mm: 70.0,
            wheelbase_mm: 215.0,
            track_width_mm: 126.0,
            facing_side: Side::Right,
            axle_diameter_mm: 13.0,
            string_mm: 235.0,
            string_diameter_mm: 1.0,
            mass_g: 185.0,
            driven_share: 0.58,
            wheel_mass_g: 24.0,
            wheel_style: WheelStyle::Smoke,
            body_rgb: [0.30, 0.34, 0.36],
            stated_diameter_error_percent: 0.0,
        }
    }
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub(crate) enum Side {
    Left,
    Right,
}

impl Side {
    /// Sign of y (left positive) on this side of the car.
    pub(crate) fn y_sign(self) -> f64 {
        match self {
            Self::Left => 1.0,
            Self::Right => -1.0,
        }
    }

    pub(crate) fn word(self) -> &'static str {
        match self {
            Self::Left => "left",
            Self::Right => "right",
        }
    }
}

/// What the acrylic of the wheels looks like.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub(crate) enum WheelStyle {
    Clear,
    Smoke,
    Grey,
    Dark,
}

/// Spring, string, tyres and losses.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub(crate) struct Drive {
    pub(crate) spring_stiffness_n_m_per_rad: f64,
    /// Twist that is left in the spring when its arm is fully over.
    pub(crate) spring_preload_rad: f64,
    pub(crate) arm_mm: f64,
    pub(crate) pivot_ahead_mm: f64,
    /// Arm angle when cocked, from straight ahead.
    pub(crate) start_angle_deg: f64,
    pub(crate) mu_static: f64,
    pub(crate) mu_kinetic: f64,
    pub(crate) rolling_resistance: f64,
    pub(crate) bearing_torque_n_m: f64,
    /// Drag coefficient times frontal area.
    pub(crate) drag_area_m2: f64,
    /// Share of the string's travel that slides over the axle.
    pub(crate) string_slip: f64,
    /// Share of the axle's turn that the wheel does not follow while pulled.
    pub(crate) wheel_loose: f64,
}

impl Default for Drive {
    fn default() -> Self {
        Self {
            spring_stiffness_n_m_per_rad: 0.085,
            spring_preload_rad: 0.7,
            arm_mm: 140.0,
            pivot_ahead_mm: 165.0,
            start_angle_deg: 158.0,
            mu_static: 0.85,
            mu_kinetic: 0.75,
            rolling_resistance: 0.018,
            bearing_torque_n_m: 2.0e-4,
            drag_area_m2: 0.012,
            string_slip: 0.0,
            wheel_loose: 0.0,
        }
    }
}

/// Where the car steers.
#[derive(Debug, Clone, Default, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub(crate) struct Path {
    /// Front axle out of square, left positive.
    pub(crate) skew_deg: f64,
    /// Heading at rest against the aim line.
    pub(crate) aim_error_deg: f64,
    /// Yaw that one wheel letting go gives, per metre spun away.
    pub(crate) yaw_per_spun_m_deg: f64,
    /// Sideways sway locked to the driven wheels' turn.
    pub(crate) wobble_lateral_mm: f64,
    /// Rise and fall locked to the driven wheels' turn.
    pub(crate) wobble_vertical_mm: f64,
    /// The body shifts sideways in step with the driven wheels, without turning.
    pub(crate) shift_lateral_mm: f64,
    /// How far the driven wheels' middles are off their axle: both the same way, ahead of it at rest.
    pub(crate) off_axle_mm: f64,
}

/// The round sticker on its white card.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub(crate) struct Sticker {
    pub(crate) colour: String,
    pub(crate) diameter_mm: f64,
    pub(crate) height_mm: f64,
    pub(crate) ahead_mm: f64,
    /// Towards the camera from the car's centre line.
    pub(crate) off_centre_mm: f64,
    pub(crate) facing: Facing,
}

impl Default for Sticker {
    fn default() -> Self {
        Self {
            colour: "magenta".into(),
            diameter_mm: 44.0,
            height_mm: 96.0,
            ahead_mm: 106.0,
            off_centre_mm: 46.0,
            facing: Facing::Side,
        }
    }
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub(crate) enum Facing {
    Side,
    Rear,
    Top,
}

/// The mark on the outer face of the near driven wheel.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub(crate) struct WheelMark {
    pub(crate) shown: bool,
    pub(crate) colour: String,
    pub(crate) diameter_mm: f64,
    pub(crate) radius_mm: f64,
    /// Where it sits at rest: 0 ahead of the hub, 90 above it.
    pub(crate) angle_deg: f64,
}

impl Default for WheelMark {
    fn default() -> Self {
        Self {
            shown: true,
            colour: "green".into(),
            diameter_mm: 25.0,
            radius_mm: 30.0,
            angle_deg: 200.0,
        }
    }
}

/// A dot off the middle of a small disc on the axle's end.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub(crate) struct AxleMark {
    pub(crate) colour: String,
    pub(crate) diameter_mm: f64,
    pub(crate) radius_mm: f64,
    pub(crate) angle_deg: f64,
}

impl Default for AxleMark {
    fn default() -> Self {
        Self {
            colour: "orange".into(),
            diameter_mm: 16.0,
            radius_mm: 10.0,
            angle_deg: 60.0,
        }
    }
}

/// A flat arm on the spring that swings past the sticker's face, and the string at its tip.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub(crate) struct SideArm {
    pub(crate) width_mm: f64,
    pub(crate) thickness_mm: f64,
    /// Towards the camera from the car's centre line; the sticker hides what is behind it.
    pub(crate) off_centre_mm: f64,
    pub(crate) rgb: [f64; 3],
    /// Thickness of the string from the arm's tip to the axle.
    pub(crate) string_diameter_mm: f64,
}

impl Default for SideArm {
    fn default() -> Self {
        Self {
            width_mm: 8.0,
            thickness_mm: 2.0,
            off_centre_mm: 54.0,
            rgb: [0.035, 0.037, 0.042],
            string_diameter_mm: 1.4,
        }
    }
}

/// Discs flat on the floor.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub(crate) struct FloorMarks {
    pub(crate) colour: String,
    pub(crate) diameter_mm: f64,
    pub(crate) at_mm: Vec<[f64; 2]>,
    /// Length of the aim line on the sheet.
    pub(crate) aim_mm: f64,
    /// How far (standard deviation) the places on the sheet are from the true ones.
    pub(crate) measured_with_error_mm: f64,
}

impl Default for FloorMarks {
    fn default() -> Self {
        Self {
            colour: "blue".into(),
            diameter_mm: 64.0,
            at_mm: vec![
                [0.0, -300.0],
                [900.0, -300.0],
                [1800.0, -300.0],
                [0.0, 400.0],
                [900.0, 400.0],
                [1800.0, 400.0],
            ],
            aim_mm: 2400.0,
            measured_with_error_mm: 0.0,
        }
    }
}
