//! When each stored frame was captured, and when the file plays it.

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

use crate::scene::Scene;

/// Ticks per second of the file's video track.
pub(crate) const TIMESCALE: f64 = 90_000.0;

/// One stored frame.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Slot {
    /// Start of its first row, from the start of the first frame's.
    pub(crate) capture_s: f64,
    pub(crate) pts_ticks: i64,
}

impl Slot {
    pub(crate) fn pts_s(self) -> f64 {
        self.pts_ticks as f64 / TIMESCALE
    }
}

/// Rate at which the file plays.
pub(crate) fn container_fps(scene: &Scene) -> f64 {
    if scene.clip.container_fps > 0.0 {
        scene.clip.container_fps
    } else {
        scene.clip.fps
    }
}

pub(crate) fn is_regular(scene: &Scene) -> bool {
    scene.clip.jitter_ms == 0.0 && scene.clip.dropped_frames.is_empty()
}

pub(crate) fn slots(scene: &Scene) -> Vec<Slot> {
    let c = &scene.clip;
    let slowed = c.fps / container_fps(scene);
    let mut rng = ChaCha8Rng::seed_from_u64(scene.seed ^ 0x71_3e);
    let frames = (scene.duration_s * c.fps).round() as usize;
    (0..frames)
        .map(|i| {
            let jitter = if c.jitter_ms > 0.0 && i > 0 {
                rng.random_range(-c.jitter_ms..c.jitter_ms) / 1e3
            } else {
                0.0
            };
            let capture_s = i as f64 / c.fps + jitter;
            (
                i,
                Slot {
                    capture_s,
                    pts_ticks: (capture_s * slowed * TIMESCALE).round() as i64,
                },
            )
        })
        .filter(|(i, _)| !c.dropped_frames.contains(i))
        .map(|(_, slot)| slot)
        .collect()
}
