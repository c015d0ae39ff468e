//! When the spring snapped, from the loudness of a sound track.
//!
//! # Source
//! A bang is where a short average of the energy stands highest above the long average before it: R. V.
//! Allen, Automatic earthquake recognition and timing from single traces, Bull. Seism. Soc. Am. 68(5),
//! 1978. Its moment is where the short average first reaches half of what it then rises to (common
//! practice, no source): coders for sound throw a shadow of a bang ahead of it, and pickers that look for
//! the first change of power find the shadow.

use super::SnapReason;
use crate::clip::Loudness;

/// The beginning of a bang.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Snap {
    /// When, on the clock of the clip's frames, s.
    pub at_s: f64,
    /// Standard uncertainty, s.
    pub sd_s: f64,
    /// Short average over long average.
    pub rise: f64,
}

/// Length of the short average and of the long one before it, s: a snap is a few milliseconds, and a
/// tenth of a second holds several periods of any hum.
const SHORT_S: f64 = 0.003;
const LONG_S: f64 = 0.1;
/// The least of the long average, s: a clip may begin just before the snap.
const LEAST_LONG_S: f64 = 0.02;
/// A bang is at least this many times louder than what was before it. Common practice with such
/// detectors is 3 to 10, no source; a phone beside the track hears a snap at a hundredfold.
const LEAST_RISE: f64 = 10.0;
/// The bang is loudest within this time of its steepest rise, s.
const LOUDEST_WITHIN_S: f64 = 0.04;
/// Width of the average whose half height is the moment, s.
const FINE_S: f64 = 0.002;
/// Share of the loudest at which a bang begins.
const HALF: f64 = 0.5;
/// In drawn clips, stored with 32 to 128 kbit/s, the moment was within 1 ms of the truth.
const STORED_SD_S: f64 = 0.001;

/// Finds the loudest rise between two times on the frames' clock, whose zero is `zero_s` on the file's.
///
/// # Errors
/// The reason where nothing rises enough.
pub fn find_snap(
    sound: &Loudness,
    zero_s: f64,
    from_s: f64,
    to_s: f64,
) -> Result<Snap, SnapReason> {
    let power = &sound.mean_squares;
    let time_of = |slice: usize| sound.start_s - zero_s + slice as f64 * sound.slice_s;
    let slices = |length_s: f64| (length_s / sound.slice_s).round() as usize;
    let (short, long, least) = (slices(SHORT_S), slices(LONG_S), slices(LEAST_LONG_S));
    let sums = running_sums(power);
    let mean = |a: usize, b: usize| (sums[b] - sums[a]) / (b - a) as f64;
    let floor = quietest(power);
    let (mut best, mut rise) = (None, 0.0);
    for at in least..power.len().saturating_sub(short) {
        if !(from_s..=to_s).contains(&time_of(at)) {
            continue;
        }
        let before = mean(at.saturating_sub(long), at).max(floor);
        let here = mean(at, at + short) / before;
        if here > rise {
            (best, rise) = (Some(at), here);
        }
    }
    let at = best
        .filter(|_| rise >= LEAST_RISE)
        .ok_or(SnapReason::NothingStandsOut)?;
    let (fine, within) = (slices(FINE_S), slices(LOUDEST_WITHIN_S));
    let last = (at + within).min(power.len() - fine);
    let first = at.saturating_sub(within).max(1);
    let loudness = |slice: usize| mean(slice, slice + fine);
    let loudest = (first..=last).map(loudness).fold(0.0, f64::max);
    let onset = (first..=last)
        .find(|slice| loudness(*slice) >= HALF * loudest)
        .unwrap_or(at);
    // The average reaches half when half of it lies in the bang.
    let onset_s = time_of(onset) + HALF * FINE_S;
    Ok(Snap {
        at_s: onset_s,
        sd_s: STORED_SD_S,
        rise,
    })
}

fn running_sums(power: &[f32]) -> Vec<f64> {
    let mut sums = Vec::with_capacity(power.len() + 1);
    let mut sum = 0.0;
    sums.push(sum);
    for value in power {
        sum += f64::from(*value);
        sums.push(sum);
    }
    sums
}

/// Digital silence has no logarithm: nothing is taken for quieter than a millionth of the loudest.
fn quietest(power: &[f32]) -> f64 {
    let loudest = power.iter().copied().fold(0.0, f32::max);
    (f64::from(loudest) * 1e-6).max(f64::MIN_POSITIVE)
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::{RngExt, SeedableRng};
    use rand_chacha::ChaCha8Rng;

    /// Two seconds of noise with a bang that dies away in 6 ms, `loud` times the noise's power.
    fn room(bang_s: Option<f64>, loud: f64) -> Loudness {
        let mut random = ChaCha8Rng::seed_from_u64(7);
        let slice_s = 1.0 / 4000.0;
        let mean_squares = (0..8000)
            .map(|slice| {
                let time_s = f64::from(slice) * slice_s;
                // The mean square of eleven samples scatters by a third.
                let noise = 1e-6 * random.random_range(0.5..1.5);
                let bang = bang_s
                    .filter(|at| time_s >= *at)
                    .map_or(0.0, |at| 1e-6 * loud * (-(time_s - at) / 0.003).exp());
                (noise + bang) as f32
            })
            .collect();
        Loudness {
            start_s: 0.25,
            slice_s,
            mean_squares,
        }
    }

    #[test]
    fn a_bang_is_found_within_a_millisecond() {
        for loud in [100.0, 10_000.0] {
            // On the frames' clock the sound begins at 0.25 - 0.1 s.
            let snap = find_snap(&room(Some(0.8), loud), 0.1, 0.0, 5.0).unwrap();
            assert!((snap.at_s - 0.95).abs() < 0.001, "{loud}: {}", snap.at_s);
            assert!(snap.rise > 10.0);
        }
    }

    /// A second generation of strong compression puts a tenth of the bang's power 17 ms ahead of it.
    #[test]
    fn the_shadow_ahead_of_a_bang_is_not_the_bang() {
        let mut sound = room(Some(0.8), 10_000.0);
        for slice in 3132..3200 {
            sound.mean_squares[slice] += 1e-3;
        }
        let snap = find_snap(&sound, 0.1, 0.0, 5.0).unwrap();
        assert!((snap.at_s - 0.95).abs() < 0.001, "{}", snap.at_s);
    }

    #[test]
    fn noise_has_no_snap_and_the_window_counts() {
        let why = find_snap(&room(None, 0.0), 0.1, 0.0, 5.0).unwrap_err();
        assert_eq!(why, SnapReason::NothingStandsOut);
        assert!(find_snap(&room(Some(0.8), 1000.0), 0.1, 1.2, 5.0).is_err());
        assert!(find_snap(&room(Some(0.8), 1000.0), 0.1, 0.0, 0.5).is_err());
    }

    #[test]
    fn silence_and_no_sound_are_no_snap() {
        let silent = |count| Loudness {
            start_s: 0.0,
            slice_s: 1.0 / 4000.0,
            mean_squares: vec![0.0; count],
        };
        assert!(find_snap(&silent(8000), 0.0, 0.0, 5.0).is_err());
        assert!(find_snap(&silent(3), 0.0, 0.0, 5.0).is_err());
    }
}
