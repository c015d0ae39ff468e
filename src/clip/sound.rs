//! How loud a clip's sound is over time: enough to find a bang to a fraction of a millisecond.

use std::path::Path;

use ffmpeg_next::format::sample::{Sample, Type};
use ffmpeg_next::util::error::EAGAIN;
use ffmpeg_next::{Packet, codec, decoder, frame, media};

use super::ClipError;
use super::decode::seconds;

/// Slices a second: a quarter of a millisecond is 8 cm of sound's way.
const SLICES_PER_S: f64 = 4000.0;
/// Sound beyond this is not listened to: a clip of a run is a minute long at most.
const MOST_SLICES: usize = 600 * 4000;

/// Loudness over time, from the first channel of a sound track.
#[derive(Debug, Clone, PartialEq)]
pub struct Loudness {
    /// Presentation time of the first slice's beginning, by the file's clock, s.
    pub start_s: f64,
    /// Length of a slice, s.
    pub slice_s: f64,
    /// For each slice the mean square of the differences of neighbouring samples (full scale is 1):
    /// differences pass a snap, which is sharp, better than voices and rumble.
    pub mean_squares: Vec<f32>,
}

/// Reads the loudness of a clip's sound; `None` where there is no sound track that can be decoded.
///
/// # Errors
/// [`ClipError`] when the file cannot be opened.
pub fn read_loudness(path: &Path) -> Result<Option<Loudness>, ClipError> {
    let mut input = super::open::open_plain(path)?;
    let Some(stream) = input.streams().best(media::Type::Audio) else {
        return Ok(None);
    };
    let (index, time_base) = (stream.index(), stream.time_base());
    let Ok(mut context) = codec::Context::from_parameters(stream.parameters()) else {
        return Ok(None);
    };
    context.set_threading(codec::threading::Config::default());
    let mut decoder = context.decoder();
    decoder.set_packet_time_base(time_base);
    let Ok(mut decoder) = decoder.audio() else {
        return Ok(None);
    };
    let mut meter = Meter::default();
    let mut listen = |decoder: &mut decoder::Audio| -> bool {
        let mut heard = frame::Audio::empty();
        loop {
            match decoder.receive_frame(&mut heard) {
                Ok(()) => {
                    let at_s = heard
                        .timestamp()
                        .map(|ticks| seconds(i128::from(ticks), time_base));
                    if !meter.hear(&heard, at_s) {
                        return false;
                    }
                }
                Err(ffmpeg_next::Error::Other { errno: EAGAIN }) => return true,
                Err(_) => return false,
            }
        }
    };
    let mut more = true;
    while more {
        let mut packet = Packet::empty();
        match packet.read(&mut input) {
            Ok(()) if packet.stream() == index => {
                // A broken packet leaves a gap, which the times of the next ones show.
                if decoder.send_packet(&packet).is_ok() {
                    more = listen(&mut decoder);
                }
            }
            Ok(()) => {}
            Err(_) => {
                more = false;
                if decoder.send_eof().is_ok() {
                    listen(&mut decoder);
                }
            }
        }
    }
    Ok(meter.finish())
}

/// Gathers slices from frames of samples.
#[derive(Debug, Default)]
struct Meter {
    start_s: Option<f64>,
    rate_hz: f64,
    before: Option<f64>,
    /// Samples heard or missed since the start.
    samples: u64,
    sums: Vec<(f64, u32)>,
}

impl Meter {
    /// Takes one frame; false where no more is wanted.
    fn hear(&mut self, heard: &frame::Audio, at_s: Option<f64>) -> bool {
        let rate_hz = f64::from(heard.rate());
        if heard.samples() == 0 || heard.planes() == 0 || rate_hz <= 0.0 {
            return true;
        }
        if self.rate_hz == 0.0 {
            self.rate_hz = rate_hz;
        } else if rate_hz != self.rate_hz {
            return false;
        }
        let start_s = *self.start_s.get_or_insert(at_s.unwrap_or(0.0));
        if let Some(at_s) = at_s {
            // Times are rounded to ticks: only a real gap moves the count.
            let expected = start_s + self.samples as f64 / self.rate_hz;
            if at_s - expected > 2.0 / SLICES_PER_S {
                self.samples = ((at_s - start_s) * self.rate_hz).round() as u64;
                self.before = None;
            }
        }
        let step = if heard.is_packed() {
            usize::from(heard.channels())
        } else {
            1
        };
        let bytes = heard.data(0);
        for place in 0..heard.samples() {
            let Some(value) = sample(bytes, heard.format(), place * step) else {
                break;
            };
            if let Some(before) = self.before {
                let slice = (self.samples as f64 / self.rate_hz * SLICES_PER_S) as usize;
                if slice >= MOST_SLICES {
                    return false;
                }
                if self.sums.len() <= slice {
                    self.sums.resize(slice + 1, (0.0, 0));
                }
                self.sums[slice].0 += (value - before).powi(2);
                self.sums[slice].1 += 1;
            }
            self.before = Some(value);
            self.samples += 1;
        }
        true
    }

    fn finish(self) -> Option<Loudness> {
        let start_s = self.start_s?;
        let mean = |(sum, count): (f64, u32)| (sum / f64::from(count.max(1))) as f32;
        let loud = Loudness {
            start_s,
            slice_s: 1.0 / SLICES_PER_S,
            mean_squares: self.sums.into_iter().map(mean).collect(),
        };
        (!loud.mean_squares.is_empty()).then_some(loud)
    }
}

/// The sample at a place among a plane's values, full scale 1.
fn sample(bytes: &[u8], kind: Sample, place: usize) -> Option<f64> {
    let size = kind.bytes();
    let raw = bytes.get(place * size..(place + 1) * size)?;
    Some(match kind {
        Sample::U8(_) => (f64::from(raw[0]) - 128.0) / 128.0,
        Sample::I16(Type::Packed | Type::Planar) => {
            f64::from(i16::from_ne_bytes(raw.try_into().ok()?)) / 32_768.0
        }
        Sample::I32(_) => f64::from(i32::from_ne_bytes(raw.try_into().ok()?)) / 2_147_483_648.0,
        Sample::F32(_) => f64::from(f32::from_ne_bytes(raw.try_into().ok()?)),
        Sample::F64(_) => f64::from_ne_bytes(raw.try_into().ok()?),
        Sample::I64(_) | Sample::None => return None,
    })
}
