//! The decode loop.

use std::path::Path;

use ffmpeg_next::util::error::{EAGAIN, EINVAL, ENOMEM};
use ffmpeg_next::{Packet, Rational, decoder, format, frame};

use super::damage::DamageLog;
use super::picture::Reading;
use super::{ClipError, ClipInfo, Damage, Picture, open};

/// Frames that may be missing without a word: decoders may not show a few leading ones of a clip
/// that was trimmed inside a group of pictures.
const FRAMES_MISSED_SILENTLY: u64 = 2;
/// Failed reads in a row after which the rest of the file is given up.
const MOST_FAILED_READS: u32 = 1000;

/// No phone takes frames faster than this, frames a second; the run sheet's limit for the rate of
/// capture is the same.
const FASTEST_FPS: f64 = 2000.0;
/// No clip of a run is longer than a day; times beyond it are damage, and so far out are not told apart any more, s.
const LONGEST_CLIP_S: f64 = 86_400.0;

/// An opened clip, decoded forward.
pub struct Clip {
    pub(super) info: ClipInfo,
    pub(super) damage: DamageLog,
    pub(super) input: format::context::Input,
    pub(super) decoder: decoder::Video,
    pub(super) stream: usize,
    pub(super) time_base: Rational,
    pub(super) reading: Reading,
    pub(super) progress: Progress,
}

/// How far decoding has come.
#[derive(Debug, Default)]
pub(super) struct Progress {
    /// No more packets will come.
    draining: bool,
    /// Nothing more will come.
    ended: bool,
    failed_reads: u32,
    /// Latest timestamp of a packet handed to the decoder.
    latest_sent_ticks: Option<i64>,
    /// Frames later than this rest on data that was lost, up to the next key frame.
    lost_after_ticks: Option<i64>,
    /// Timestamps of the first and of the latest frame delivered.
    first_and_last_ticks: Option<(i64, i64)>,
    delivered: u32,
    /// Frames that decoded but were left out, each with its damage.
    left_out: u64,
    /// Frames before this time are not wanted.
    pub(super) leave_out_before_ticks: Option<i64>,
}

/// A decoded frame.
#[derive(Debug)]
pub struct Frame {
    /// Place among the delivered frames, from 0.
    pub index: u32,
    /// Presentation time as the file keeps it, in its own time base.
    pub pts_ticks: i64,
    /// Time since the first delivered frame, from the integer timestamps.
    pub time_s: f64,
    /// The picture.
    pub picture: Picture,
}

enum Received {
    Frame(frame::Video),
    NeedsInput,
    Broken,
    End,
}

impl Clip {
    /// Opens a clip and reads its header.
    ///
    /// # Errors
    /// [`ClipError`] when the file is not an MP4 or MOV with a picture that can be decoded and
    /// turned upright.
    pub fn open(path: &Path) -> Result<Self, ClipError> {
        open::open(path)
    }

    /// What the header says.
    pub fn info(&self) -> &ClipInfo {
        &self.info
    }

    /// The next frame in presentation order; `None` at the end.
    ///
    /// Frames that cannot be used are left out and told in [`damage`](Self::damage), never
    /// replaced; broken data does not end the clip early.
    ///
    /// # Errors
    /// [`ClipError`] when reading fails, the clip turns out to be interlaced, or it ends without one
    /// frame. After an error the clip is at its end.
    pub fn next_frame(&mut self) -> Result<Option<Frame>, ClipError> {
        if self.progress.ended {
            return Ok(None);
        }
        let next = self.decode_next();
        if !matches!(next, Ok(Some(_))) {
            self.progress.ended = true;
        }
        next
    }

    /// What was wrong with the file so far; complete once [`next_frame`](Self::next_frame) has
    /// returned `None`.
    pub fn damage(&self) -> &[Damage] {
        self.damage.all()
    }

    /// Presentation time of the first delivered frame by the file's own clock, on which the sound
    /// lies too; `None` before there is one.
    pub fn first_frame_s(&self) -> Option<f64> {
        let (first, _) = self.progress.first_and_last_ticks?;
        Some(seconds(i128::from(first), self.time_base))
    }

    fn decode_next(&mut self) -> Result<Option<Frame>, ClipError> {
        loop {
            match self.receive()? {
                Received::Frame(decoded) => {
                    if let Some(frame) = self.accept(decoded)? {
                        return Ok(Some(frame));
                    }
                }
                Received::NeedsInput => self.feed()?,
                Received::Broken => self.lose_after(self.latest_delivered_ticks()),
                Received::End => return self.finish().map(|()| None),
            }
        }
    }

    /// Asks the decoder for a frame, telling its three other answers apart.
    fn receive(&mut self) -> Result<Received, ClipError> {
        let mut decoded = frame::Video::empty();
        match self.decoder.receive_frame(&mut decoded) {
            Ok(()) => Ok(Received::Frame(decoded)),
            Err(ffmpeg_next::Error::Other { errno: EAGAIN }) if !self.progress.draining => {
                Ok(Received::NeedsInput)
            }
            Err(ffmpeg_next::Error::Eof | ffmpeg_next::Error::Other { errno: EAGAIN }) => {
                Ok(Received::End)
            }
            Err(error) => self.broken(error).map(|()| Received::Broken),
        }
    }

    /// Lets broken data pass, which the caller counts, but not a lack of memory.
    fn broken(&self, error: ffmpeg_next::Error) -> Result<(), ClipError> {
        match error {
            ffmpeg_next::Error::Other { errno: ENOMEM } => Err(ClipError::DecoderFailed {
                path: self.info.path.clone(),
                doing: "decoding",
                detail: error.to_string(),
            }),
            _ => Ok(()),
        }
    }

    /// Reads one packet and hands it to the decoder, or tells it that there are no more.
    fn feed(&mut self) -> Result<(), ClipError> {
        let mut packet = Packet::empty();
        let sent = match packet.read(&mut self.input) {
            Ok(()) => {
                self.progress.failed_reads = 0;
                if packet.stream() != self.stream {
                    return Ok(());
                }
                // Half a packet decodes to half a picture.
                if packet.is_corrupt() {
                    self.lose_after(self.progress.latest_sent_ticks);
                    return Ok(());
                }
                let latest = self.progress.latest_sent_ticks.max(packet.pts());
                self.progress.latest_sent_ticks = latest;
                self.decoder.send_packet(&packet)
            }
            Err(ffmpeg_next::Error::Eof) => self.drain(),
            // A number that says that the disk failed, not that the file is odd.
            Err(ffmpeg_next::Error::Other { errno }) if errno != EINVAL => {
                return Err(ClipError::Io {
                    path: self.info.path.clone(),
                    source: std::io::Error::from_raw_os_error(errno),
                });
            }
            Err(_) => {
                self.progress.failed_reads += 1;
                self.lose_after(self.progress.latest_sent_ticks);
                if self.progress.failed_reads <= MOST_FAILED_READS {
                    return Ok(());
                }
                self.drain()
            }
        };
        if let Err(error) = sent {
            self.broken(error)?;
            self.lose_after(self.latest_delivered_ticks());
        }
        Ok(())
    }

    /// Records a broken packet. Frames after this time are copies of what came before the break,
    /// changed by what came after it: they look whole but show things in the wrong place.
    fn lose_after(&mut self, ticks: Option<i64>) {
        self.damage.add(Damage::BrokenPackets { count: 1 });
        let ticks = ticks.unwrap_or(i64::MIN);
        let earlier = self
            .progress
            .lost_after_ticks
            .map_or(ticks, |known| known.min(ticks));
        self.progress.lost_after_ticks = Some(earlier);
    }

    fn latest_delivered_ticks(&self) -> Option<i64> {
        self.progress.first_and_last_ticks.map(|(_, last)| last)
    }

    /// Whether a frame rests on lost data; a key frame rests on nothing and ends the loss.
    fn rests_on_lost_data(&mut self, decoded: &frame::Video, ticks: i64) -> bool {
        let lost = self
            .progress
            .lost_after_ticks
            .is_some_and(|after| ticks > after);
        if lost && decoded.is_key() {
            self.progress.lost_after_ticks = None;
            return false;
        }
        lost
    }

    /// Tells the decoder that no more packets come. It takes note even when it answers with an
    /// error, which is then that of an earlier packet.
    fn drain(&mut self) -> Result<(), ffmpeg_next::Error> {
        self.progress.draining = true;
        self.decoder.send_eof()
    }

    /// The first frame's ticks, and the time since then at these.
    fn time_of(&self, ticks: i64) -> Result<(i64, f64), Damage> {
        let first = match self.progress.first_and_last_ticks {
            Some((_, last)) if ticks <= last => {
                return Err(Damage::TimesNotIncreasing { count: 1 });
            }
            Some((first, _)) => first,
            None => ticks,
        };
        let time_s = seconds(i128::from(ticks) - i128::from(first), self.time_base);
        if time_s > LONGEST_CLIP_S {
            return Err(Damage::TimesTooLate { count: 1 });
        }
        Ok((first, time_s))
    }

    /// Turns a decoded frame into one to deliver, or leaves it out with the reason on record.
    fn accept(&mut self, decoded: frame::Video) -> Result<Option<Frame>, ClipError> {
        if decoded.is_interlaced() {
            let path = self.info.path.clone();
            return Err(ClipError::Interlaced { path });
        }
        // Those after a key frame that was sought may rest on frames before it, so they are not looked at either.
        let unwanted = (decoded.timestamp())
            .zip(self.progress.leave_out_before_ticks)
            .is_some_and(|(ticks, wanted)| ticks < wanted);
        if unwanted {
            return Ok(None);
        }
        let leave_out = |clip: &mut Self, why| {
            clip.progress.left_out += 1;
            clip.damage.add(why);
            Ok(None)
        };
        if decoded.is_corrupt() || decoded.has_decode_errors() {
            let ticks = self.latest_delivered_ticks().unwrap_or(i64::MIN);
            self.progress.lost_after_ticks = Some(ticks);
            return leave_out(self, Damage::SpoiltFrames { count: 1 });
        }
        let size = self
            .info
            .turn
            .upright_size(decoded.width(), decoded.height());
        let stored = super::pixels::stored_as(decoded.format());
        if size != (self.info.width_px, self.info.height_px) || stored != Some(self.reading.stored)
        {
            return leave_out(self, Damage::PictureChanged { count: 1 });
        }
        let Some(ticks) = decoded.timestamp() else {
            return leave_out(self, Damage::MissingTimes { count: 1 });
        };
        let (first, time_s) = match self.time_of(ticks) {
            Ok(time) => time,
            Err(why) => return leave_out(self, why),
        };
        if self.rests_on_lost_data(&decoded, ticks) {
            return leave_out(self, Damage::SpoiltFrames { count: 1 });
        }
        let Some(picture) = Picture::from_decoded(decoded, &self.reading) else {
            return leave_out(self, Damage::SpoiltFrames { count: 1 });
        };
        self.progress.first_and_last_ticks = Some((first, ticks));
        let index = self.progress.delivered;
        self.progress.delivered += 1;
        Ok(Some(Frame {
            index,
            pts_ticks: ticks,
            time_s,
            picture,
        }))
    }

    /// Compares what came out with what the header promised.
    fn finish(&mut self) -> Result<(), ClipError> {
        let delivered = u64::from(self.progress.delivered);
        let decoded = delivered + self.progress.left_out;
        if let Some(promised) = self.info.frame_count_hint
            && promised > decoded + FRAMES_MISSED_SILENTLY
        {
            self.damage.add(Damage::FewerFrames { promised, decoded });
        }
        if delivered == 0 {
            let path = self.info.path.clone();
            let damage = self.damage.words();
            return Err(ClipError::NothingDecodes { path, damage });
        }
        self.check_times(delivered)
    }

    /// Refuses a clip whose times say nothing: motion cannot be measured by them.
    fn check_times(&self, delivered: u64) -> Result<(), ClipError> {
        let at_the_same_time = self.damage.all().iter().find_map(|damage| match damage {
            Damage::TimesNotIncreasing { count } => Some(*count),
            _ => None,
        });
        let frames = delivered + at_the_same_time.unwrap_or(0);
        let Some((first, last)) = self.progress.first_and_last_ticks else {
            return Ok(());
        };
        let span_s = seconds(i128::from(last) - i128::from(first), self.time_base);
        let steps = frames.saturating_sub(1);
        if span_s * FASTEST_FPS < steps as f64 {
            return Err(ClipError::NoDuration {
                path: self.info.path.clone(),
                frames,
                span_s,
            });
        }
        Ok(())
    }
}

/// Seconds in a number of ticks, rounded once.
pub(super) fn seconds(ticks: i128, time_base: Rational) -> f64 {
    let numerator = ticks * i128::from(time_base.numerator());
    numerator as f64 / f64::from(time_base.denominator())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn seconds_are_rounded_only_once() {
        assert_eq!(seconds(512, Rational::new(1, 15360)), 1.0 / 30.0);
        assert_eq!(
            seconds(100, Rational::new(1001, 30000)),
            100_100.0 / 30_000.0
        );
        let widest = i128::from(i64::MAX) - i128::from(i64::MIN);
        assert!(seconds(widest, Rational::new(1001, 30000)).is_finite());
    }
}
