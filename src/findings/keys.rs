//! The names of what is found in a run: its quantities, and what each fault cost.

use serde::Serialize;

/// The quantities of a run; the name ends in the unit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "snake_case")]
#[expect(missing_docs, reason = "each is explained by its text in `src/texts/`")]
pub enum Key {
    ReleaseS,
    PoweredS,
    #[serde(rename = "peak_speed_m_per_s")]
    PeakSpeedMPerS,
    DistanceM,
    WheelTurns,
    MaxSlip,
    SpunAwayM,
    GainWithoutSlipM,
    RollingRadiusM,
    FinalDeviationM,
    #[serde(rename = "drift_m_per_m")]
    DriftMPerM,
    AimErrorRad,
    CurvaturePerM,
    ImpliedSkewRad,
    WobbleM,
    StringSlipTurns,
    LooseWheelTurns,
    #[serde(rename = "coast_deceleration_m_per_s2")]
    CoastDecelerationMPerS2,
    RollingResistance,
    GripCoefficient,
    EnergyMovingCarJ,
    EnergyLostInSlipJ,
    EnergyLostRollingJ,
}

impl Key {
    /// All quantities, in the order of a run.
    pub const ALL: [Self; 23] = [
        Self::ReleaseS,
        Self::PoweredS,
        Self::PeakSpeedMPerS,
        Self::DistanceM,
        Self::WheelTurns,
        Self::MaxSlip,
        Self::SpunAwayM,
        Self::GainWithoutSlipM,
        Self::RollingRadiusM,
        Self::FinalDeviationM,
        Self::DriftMPerM,
        Self::AimErrorRad,
        Self::CurvaturePerM,
        Self::ImpliedSkewRad,
        Self::WobbleM,
        Self::StringSlipTurns,
        Self::LooseWheelTurns,
        Self::CoastDecelerationMPerS2,
        Self::RollingResistance,
        Self::GripCoefficient,
        Self::EnergyMovingCarJ,
        Self::EnergyLostInSlipJ,
        Self::EnergyLostRollingJ,
    ];

    /// The key as written in `summary.json`.
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::ReleaseS => "release_s",
            Self::PoweredS => "powered_s",
            Self::PeakSpeedMPerS => "peak_speed_m_per_s",
            Self::DistanceM => "distance_m",
            Self::WheelTurns => "wheel_turns",
            Self::MaxSlip => "max_slip",
            Self::SpunAwayM => "spun_away_m",
            Self::GainWithoutSlipM => "gain_without_slip_m",
            Self::RollingRadiusM => "rolling_radius_m",
            Self::FinalDeviationM => "final_deviation_m",
            Self::DriftMPerM => "drift_m_per_m",
            Self::AimErrorRad => "aim_error_rad",
            Self::CurvaturePerM => "curvature_per_m",
            Self::ImpliedSkewRad => "implied_skew_rad",
            Self::WobbleM => "wobble_m",
            Self::StringSlipTurns => "string_slip_turns",
            Self::LooseWheelTurns => "loose_wheel_turns",
            Self::CoastDecelerationMPerS2 => "coast_deceleration_m_per_s2",
            Self::RollingResistance => "rolling_resistance",
            Self::GripCoefficient => "grip_coefficient",
            Self::EnergyMovingCarJ => "energy_moving_car_j",
            Self::EnergyLostInSlipJ => "energy_lost_in_slip_j",
            Self::EnergyLostRollingJ => "energy_lost_rolling_j",
        }
    }
}

/// What a fault costs, metres.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Effect {
    /// Off line at the end of the view through the steady curve alone.
    CurveOff,
    /// The same after [`STATED_DISTANCE_M`](super::STATED_DISTANCE_M).
    CurveOffAtStated,
    /// Off line at the end of the view through the first heading alone.
    AimOff,
    /// The same after [`STATED_DISTANCE_M`](super::STATED_DISTANCE_M).
    AimOffAtStated,
    /// Off line at the end of the view through turning while the wheel spun.
    YawOff,
    /// The same after [`STATED_DISTANCE_M`](super::STATED_DISTANCE_M).
    YawOffAtStated,
    /// Sway of the driven axle from one side to the other.
    SwayOff,
    /// Way by which the swaying path is longer than its middle line.
    SwayLost,
    /// Turns of the string or axle that never reached the wheel, as travel.
    DriveLost,
    /// The most that this can be where the end of the pull was not seen.
    DriveLostAtMost,
    /// Travel spun away while the wheel was in view: the least that slip cost, where its start was not seen.
    SpunInView,
    /// Way that an ordinary coast would have gone further within the view.
    DragLost,
    /// The same until both stand.
    DragLostInAll,
}

impl Effect {
    /// All of them.
    pub const ALL: [Self; 13] = [
        Self::CurveOff,
        Self::CurveOffAtStated,
        Self::AimOff,
        Self::AimOffAtStated,
        Self::YawOff,
        Self::YawOffAtStated,
        Self::SwayOff,
        Self::SwayLost,
        Self::DriveLost,
        Self::DriveLostAtMost,
        Self::SpunInView,
        Self::DragLost,
        Self::DragLostInAll,
    ];

    /// What the path's shape alone says: the first of [`Self::ALL`].
    pub const OF_THE_PATH: [Self; 8] = {
        let [curve, curve_5, aim, aim_5, yaw, yaw_5, sway, sway_lost, ..] = Self::ALL;
        [curve, curve_5, aim, aim_5, yaw, yaw_5, sway, sway_lost]
    };
}
