//! The sound track: a quiet room, the snap of the spring, and the hum of the wheels.

use std::path::Path;

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

use crate::scene::Scene;
use crate::view::Vec3;

const RATE_HZ: f64 = 44_100.0;
const SOUND_M_PER_S: f64 = 343.0;

/// When the snap reaches the phone.
pub(crate) fn snap_time_s(scene: &Scene) -> f64 {
    scene.release_s + Vec3::from(scene.camera.position_m).norm() / SOUND_M_PER_S
}

/// Writes a 16-bit mono WAV file as long as the clip.
pub(crate) fn write(scene: &Scene, path: &Path) -> anyhow::Result<()> {
    let snap_s = snap_time_s(scene);
    let mut rng = ChaCha8Rng::seed_from_u64(scene.seed ^ 0x50_0d);
    let count = (scene.duration_s * RATE_HZ) as u32;
    let mut low = 0.0;
    let mut data = Vec::with_capacity(count as usize * 2);
    for i in 0..count {
        let t = f64::from(i) / RATE_HZ;
        let hiss: f64 = rng.random_range(-1.0..1.0);
        low += 0.08 * (hiss - low);
        let mut level = 0.004 * hiss + 0.02 * low;
        if t >= snap_s {
            let since = t - snap_s;
            let ring = (std::f64::consts::TAU * 2300.0 * since).sin()
                + 0.5 * (std::f64::consts::TAU * 5100.0 * since).sin();
            level += 0.5 * (-since / 0.006).exp() * (0.6 * ring + 0.7 * hiss);
            level += 0.01 * low;
        }
        let sample = (level.clamp(-1.0, 1.0) * 32_767.0) as i16;
        data.extend_from_slice(&sample.to_le_bytes());
    }
    let size = data.len() as u32;
    let rate = RATE_HZ as u32;
    let mut wav = Vec::with_capacity(data.len() + 44);
    wav.extend_from_slice(b"RIFF");
    wav.extend_from_slice(&(36 + size).to_le_bytes());
    wav.extend_from_slice(b"WAVEfmt ");
    wav.extend_from_slice(&16_u32.to_le_bytes());
    wav.extend_from_slice(&[1, 0, 1, 0]);
    wav.extend_from_slice(&rate.to_le_bytes());
    wav.extend_from_slice(&(2 * rate).to_le_bytes());
    wav.extend_from_slice(&[2, 0, 16, 0]);
    wav.extend_from_slice(b"data");
    wav.extend_from_slice(&size.to_le_bytes());
    wav.extend_from_slice(&data);
    std::fs::write(path, wav)?;
    Ok(())
}
