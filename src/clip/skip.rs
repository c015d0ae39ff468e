//! Opening a clip to go on from a later frame, by the file's index of key frames.

use super::ClipError;
use super::decode::{Clip, seconds};
use std::path::Path;

/// A key frame is sought this much before the frame that is wanted: files are indexed by the times of decoding, which
/// lie before those of showing by a few frames.
const BEFORE_S: f64 = 0.5;

impl Clip {
    /// Opens a clip that was decoded before to go on with the frame of this presentation time. Numbers and times of
    /// frames count from there. In a file that cannot be sought in, the frames before it are decoded and left out.
    ///
    /// # Errors
    /// As [`open`](Self::open).
    pub fn open_from(path: &Path, pts_ticks: i64) -> Result<Self, ClipError> {
        let mut clip = Self::open(path)?;
        let from_s = seconds(i128::from(pts_ticks), clip.time_base) - BEFORE_S;
        if from_s > 0.0 {
            let micros = (from_s * 1e6) as i64;
            if clip.input.seek(micros, ..micros).is_err() {
                clip = Self::open(path)?;
            }
        }
        clip.progress.leave_out_before_ticks = Some(pts_ticks);
        Ok(clip)
    }
}
