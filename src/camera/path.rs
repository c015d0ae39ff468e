//! A camera that moves: its pose as a smooth function of time.

use super::projection::Pinhole;
use nalgebra::{Matrix3, Rotation3, Vector3, Vector6};

/// Turn (rotation vector, rad) and shift (m) of a camera away from a base pose, and their rates, at a time.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PoseNode {
    /// Time, s.
    pub time_s: f64,
    /// Rotation vector, then shift.
    pub pose: Vector6<f64>,
    /// Their rates.
    pub rate: Vector6<f64>,
}

/// The pose of a moving camera over a clip.
#[derive(Debug, Clone, PartialEq)]
pub struct CameraPath {
    /// The pose that the nodes are counted from, with the lens.
    pub base: Pinhole,
    /// Poses in order of time.
    pub nodes: Vec<PoseNode>,
}

/// A pose farther than this from any observation at a floor mark is not known, s: a hand changes its mind in
/// about a quarter of a second.
const KNOWN_WITHIN_S: f64 = 0.06;

impl CameraPath {
    /// The camera at a time; `None` where no floor mark was seen about then.
    pub fn at(&self, time_s: f64) -> Option<Pinhole> {
        let after = self.nodes.partition_point(|node| node.time_s < time_s);
        let later = self.nodes.get(after);
        let earlier = after.checked_sub(1).and_then(|i| self.nodes.get(i));
        let near = |node: &PoseNode| (node.time_s - time_s).abs() <= KNOWN_WITHIN_S;
        let pose = match (earlier, later) {
            (Some(a), Some(b)) if near(a) && near(b) => between(a, b, time_s),
            (Some(a), _) if near(a) => a.pose + a.rate * (time_s - a.time_s),
            (_, Some(b)) if near(b) => b.pose + b.rate * (time_s - b.time_s),
            _ => return None,
        };
        Some(moved(&self.base, &pose))
    }
}

/// The base camera turned and shifted.
pub(super) fn moved(base: &Pinhole, pose: &Vector6<f64>) -> Pinhole {
    let turn = Vector3::new(pose[0], pose[1], pose[2]);
    Pinhole {
        camera_from_floor: Rotation3::new(turn) * base.camera_from_floor,
        position_m: base.position_m + Vector3::new(pose[3], pose[4], pose[5]),
        ..*base
    }
}

/// How much a camera turns on for each radian that is added to a part of its pose's rotation vector: the left Jacobian
/// of the rotation group (T. D. Barfoot, State Estimation for Robotics, section 7.1.5; from memory).
pub(super) fn turn_slopes(pose: &Vector6<f64>) -> Matrix3<f64> {
    let turn = Vector3::new(pose[0], pose[1], pose[2]);
    let angle = turn.norm();
    if angle < SMALL_TURN_RAD {
        return Matrix3::identity() + turn.cross_matrix() / 2.0;
    }
    let (sin, cos) = angle.sin_cos();
    let axis = turn / angle;
    Matrix3::identity() * (sin / angle)
        + axis * axis.transpose() * (1.0 - sin / angle)
        + axis.cross_matrix() * ((1.0 - cos) / angle)
}

/// Below this angle two terms of the series are as exact as the closed form, rad.
const SMALL_TURN_RAD: f64 = 1e-6;

/// Turn and shift that lead from the base to `camera`.
pub(super) fn pose_from_base(base: &Pinhole, camera: &Pinhole) -> Vector6<f64> {
    let turn = (camera.camera_from_floor * base.camera_from_floor.inverse()).scaled_axis();
    let shift = camera.position_m - base.position_m;
    Vector6::new(turn.x, turn.y, turn.z, shift.x, shift.y, shift.z)
}

/// Cubic with the poses and rates of both nodes (Hermite's form).
fn between(a: &PoseNode, b: &PoseNode, time_s: f64) -> Vector6<f64> {
    let span = b.time_s - a.time_s;
    if span < 1e-9 {
        return a.pose;
    }
    let t = (time_s - a.time_s) / span;
    let (t2, t3) = (t * t, t * t * t);
    a.pose * (2.0 * t3 - 3.0 * t2 + 1.0)
        + a.rate * (span * (t3 - 2.0 * t2 + t))
        + b.pose * (3.0 * t2 - 2.0 * t3)
        + b.rate * (span * (t3 - t2))
}

#[cfg(test)]
mod tests {
    use super::*;
    use nalgebra::{Point3, Vector2};

    fn base() -> Pinhole {
        Pinhole {
            focal_px: 800.0,
            centre_px: Vector2::new(319.5, 179.5),
            k1: 0.0,
            camera_from_floor: Rotation3::from_euler_angles(0.3, -1.2, 0.1),
            position_m: Point3::new(0.5, -1.5, 0.8),
        }
    }

    #[test]
    fn a_pose_comes_back_from_the_camera_it_gives() {
        let pose = Vector6::new(0.02, -0.3, 0.01, 0.1, -0.02, 0.03);
        let back = pose_from_base(&base(), &moved(&base(), &pose));
        assert!((back - pose).norm() < 1e-12);
    }

    #[test]
    fn slopes_of_the_turn_are_those_of_the_rotations_themselves() {
        const STEP: f64 = 1e-6;
        for turn in [[0.3, -0.5, 0.2], [0.0, 0.0, 0.0], [1e-7, 2e-7, -1e-7]] {
            let pose = Vector6::new(turn[0], turn[1], turn[2], 0.0, 0.0, 0.0);
            for part in 0..3 {
                let (mut less, mut more) = (pose, pose);
                less[part] -= STEP;
                more[part] += STEP;
                let turned =
                    |pose: &Vector6<f64>| moved(&base(), pose).camera_from_floor.into_inner();
                let by = (turned(&more) - turned(&less)) / (2.0 * STEP);
                // The rate of a rotation times its transpose is the cross matrix of what it turns by.
                let by = by * turned(&pose).transpose();
                let found = Vector3::new(by[(2, 1)], by[(0, 2)], by[(1, 0)]);
                let expected = turn_slopes(&pose).column(part).into_owned();
                assert!(
                    (found - expected).norm() < 1e-8,
                    "{turn:?}: {found} {expected}"
                );
            }
        }
    }

    #[test]
    fn a_steady_swing_is_followed_between_nodes_and_lost_far_from_them() {
        // A cubic in time is Hermite's own: exact between nodes.
        let node = |time_s: f64| PoseNode {
            time_s,
            pose: Vector6::new(time_s.powi(3), 0.0, time_s, 0.0, time_s * time_s, 0.0),
            rate: Vector6::new(3.0 * time_s * time_s, 0.0, 1.0, 0.0, 2.0 * time_s, 0.0),
        };
        let path = CameraPath {
            base: base(),
            nodes: vec![node(0.0), node(0.05), node(0.1)],
        };
        let pose = pose_from_base(&base(), &path.at(0.03).unwrap());
        assert!((pose - node(0.03).pose).norm() < 1e-9);
        assert!(path.at(0.3).is_none());
    }
}
