//! Quarter turns between the stored and the upright picture.

use super::Plane;
use ndarray::Axis;

/// Largest tilt that is still read as a quarter turn; a display matrix holds whole quarter turns in
/// practice, so this only forgives rounding.
const TILT_TOLERANCE_RAD: f64 = std::f64::consts::PI / 180.0;
/// Largest relative difference between the two axes' scales.
const STRETCH_TOLERANCE: f64 = 0.01;

/// How the stored picture must be turned to stand upright.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum QuarterTurn {
    /// It is upright as stored.
    None,
    /// A quarter turn clockwise.
    Clockwise90,
    /// Half a turn.
    Half,
    /// A quarter turn anticlockwise.
    Clockwise270,
}

/// Why a display matrix asks for no quarter turn.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub(super) enum TurnError {
    #[error("the display matrix is too short")]
    Short,
    #[error("the display matrix is empty")]
    Empty,
    #[error("the picture is mirrored")]
    Mirrored,
    #[error("the picture is stretched")]
    Stretched,
    #[error("the picture is tilted by {by_deg:.1} degrees")]
    Tilted {
        /// By how much, degrees.
        by_deg: f64,
    },
}

impl QuarterTurn {
    /// The turn that a display matrix asks for, from the four numbers of its linear part.
    ///
    /// # Source
    /// `QuickTime` File Format, "Matrices": x' = a p + c q + x, y' = b p + d q + y, y downward.
    ///
    /// # Errors
    /// What is wrong when the matrix is mirrored, stretched, empty or tilted.
    pub(super) fn from_matrix(a: f64, b: f64, c: f64, d: f64) -> Result<Self, TurnError> {
        let (scale_p, scale_q) = (a.hypot(b), c.hypot(d));
        if scale_p == 0.0 || scale_q == 0.0 {
            return Err(TurnError::Empty);
        }
        if a * d - b * c < 0.0 {
            return Err(TurnError::Mirrored);
        }
        if (scale_p / scale_q - 1.0).abs() > STRETCH_TOLERANCE {
            return Err(TurnError::Stretched);
        }
        let angle_p_rad = b.atan2(a);
        let angle_q_rad = (-c).atan2(d);
        let quarters = (angle_p_rad / std::f64::consts::FRAC_PI_2).round();
        let off = |angle_rad: f64| {
            let left_rad = angle_rad - quarters * std::f64::consts::FRAC_PI_2;
            left_rad.sin().atan2(left_rad.cos()).abs()
        };
        if off(angle_p_rad) > TILT_TOLERANCE_RAD || off(angle_q_rad) > TILT_TOLERANCE_RAD {
            return Err(TurnError::Tilted {
                by_deg: angle_p_rad.to_degrees(),
            });
        }
        Ok(match (quarters as i32).rem_euclid(4) {
            0 => Self::None,
            1 => Self::Clockwise90,
            2 => Self::Half,
            _ => Self::Clockwise270,
        })
    }

    /// A stored plane as it stands upright: its axes exchanged and reversed, nothing copied.
    pub(super) fn stood(self, mut plane: Plane<'_>) -> Plane<'_> {
        let (rows, columns) = (Axis(0), Axis(1));
        if matches!(self, Self::Clockwise90 | Self::Clockwise270) {
            plane = plane.reversed_axes();
        }
        if matches!(self, Self::Half | Self::Clockwise270) {
            plane.invert_axis(rows);
        }
        if matches!(self, Self::Half | Self::Clockwise90) {
            plane.invert_axis(columns);
        }
        plane
    }

    /// Upright size of a stored size, (width, height).
    pub fn upright_size(self, width: u32, height: u32) -> (u32, u32) {
        match self {
            Self::None | Self::Half => (width, height),
            Self::Clockwise90 | Self::Clockwise270 => (height, width),
        }
    }

    /// Upright coordinate of a stored one, for a picture of this stored size.
    pub(super) fn upright(self, size: (u32, u32), u_px: f64, v_px: f64) -> (f64, f64) {
        let (last_u, last_v) = (f64::from(size.0) - 1.0, f64::from(size.1) - 1.0);
        match self {
            Self::None => (u_px, v_px),
            Self::Clockwise90 => (last_v - v_px, u_px),
            Self::Half => (last_u - u_px, last_v - v_px),
            Self::Clockwise270 => (v_px, last_u - u_px),
        }
    }

    /// How far down the stored picture an upright place is, as a share of its rows: what a sensor that
    /// reads row by row goes by. `size` is the upright picture's, (width, height).
    pub fn row_share(self, size: (u32, u32), u_px: f64, v_px: f64) -> f64 {
        let stored = self.upright_size(size.0, size.1);
        (self.stored(stored, u_px, v_px).1 + 0.5) / f64::from(stored.1)
    }

    /// Stored coordinate of an upright one, for a picture of this stored size.
    pub(super) fn stored(self, size: (u32, u32), u_px: f64, v_px: f64) -> (f64, f64) {
        let (last_u, last_v) = (f64::from(size.0) - 1.0, f64::from(size.1) - 1.0);
        match self {
            Self::None => (u_px, v_px),
            Self::Clockwise90 => (v_px, last_v - u_px),
            Self::Half => (last_u - u_px, last_v - v_px),
            Self::Clockwise270 => (last_u - v_px, u_px),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const ALL: [QuarterTurn; 4] = [
        QuarterTurn::None,
        QuarterTurn::Clockwise90,
        QuarterTurn::Half,
        QuarterTurn::Clockwise270,
    ];

    /// The linear parts (a, b, c, d) of the four turns follow from the `QuickTime` matrix convention.
    #[test]
    fn matrices_name_their_turns() {
        let rows = [
            ((1.0, 0.0, 0.0, 1.0), QuarterTurn::None),
            ((0.0, 1.0, -1.0, 0.0), QuarterTurn::Clockwise90),
            ((-1.0, 0.0, 0.0, -1.0), QuarterTurn::Half),
            ((0.0, -1.0, 1.0, 0.0), QuarterTurn::Clockwise270),
        ];
        for ((a, b, c, d), turn) in rows {
            assert_eq!(QuarterTurn::from_matrix(a, b, c, d), Ok(turn));
        }
    }

    #[test]
    fn a_tilt_is_forgiven_within_one_degree_only() {
        let tilted = |degrees: f64| {
            let (sin, cos) = degrees.to_radians().sin_cos();
            QuarterTurn::from_matrix(cos, sin, -sin, cos)
        };
        assert_eq!(tilted(90.9), Ok(QuarterTurn::Clockwise90));
        assert_eq!(tilted(-179.2), Ok(QuarterTurn::Half));
        let Err(TurnError::Tilted { by_deg }) = tilted(91.1) else {
            panic!("{:?}", tilted(91.1))
        };
        assert!((by_deg - 91.1).abs() < 1e-9, "{by_deg}");
        assert!(tilted(45.0).is_err());
    }

    #[test]
    fn mirrored_stretched_and_empty_matrices_are_refused() {
        let refused = |a, d| QuarterTurn::from_matrix(a, 0.0, 0.0, d).unwrap_err();
        assert_eq!(refused(-1.0, 1.0), TurnError::Mirrored);
        assert_eq!(refused(1.0, 1.2), TurnError::Stretched);
        assert_eq!(refused(0.0, 0.0), TurnError::Empty);
    }

    #[test]
    fn stored_undoes_upright() {
        let (u_px, v_px) = (25.7, 6.2);
        for turn in ALL {
            let (u, v) = turn.upright((64, 48), u_px, v_px);
            let back = turn.stored((64, 48), u, v);
            assert!((back.0 - u_px).abs() < 1e-12 && (back.1 - v_px).abs() < 1e-12);
        }
    }

    #[test]
    fn a_clockwise_quarter_turn_takes_the_top_left_corner_to_the_top_right() {
        let turn = QuarterTurn::Clockwise90;
        assert_eq!(turn.upright_size(64, 48), (48, 64));
        assert_eq!(turn.upright((64, 48), 0.0, 0.0), (47.0, 0.0));
        assert_eq!(turn.upright((64, 48), 63.0, 0.0), (47.0, 63.0));
    }
}
