//! The sound of a clip, copied packet by packet into another file.

use super::{Change, Clip, raw};
use ffmpeg_next::format::context::{Input, Output, StreamIo};
use ffmpeg_next::{Error, Packet, Rational, codec, encoder, format, media};
use std::fs::File;

/// A sound track on its way from one file to another.
pub(super) struct Sound {
    input: Input,
    from: usize,
    to: usize,
    base: Rational,
    /// What begins before this time of the source is left out, s.
    begins_s: f64,
    /// Read already, and later than what was asked for.
    waiting: Option<Packet>,
    ended: bool,
}

/// The sound of `like`, with a stream added for it to `output`; else why there is none, where the clip
/// has sound.
pub(super) fn of(
    like: &Clip,
    change: Change,
    output: &mut Output,
) -> (Option<Sound>, Option<&'static str>) {
    if !like.info().has_audio {
        return (None, None);
    }
    if change.slower > 1 {
        return (None, Some("note-sound-slow"));
    }
    match open(like, change, output) {
        Ok(Some(sound)) => (Some(sound), None),
        Ok(None) => (None, Some("note-sound-form")),
        Err(_) => (None, Some("note-sound-unread")),
    }
}

fn open(like: &Clip, change: Change, output: &mut Output) -> Result<Option<Sound>, Error> {
    let file = File::open(&like.info().path).map_err(|_| Error::StreamNotFound)?;
    let mut input = format::input_from_stream(StreamIo::from_read_seek(file)?, None, None)?;
    let (from, base, parameters) = {
        let stream = input
            .streams()
            .best(media::Type::Audio)
            .ok_or(Error::StreamNotFound)?;
        (stream.index(), stream.time_base(), stream.parameters())
    };
    if !raw::holds(output, parameters.id()) {
        return Ok(None);
    }
    let begins_s = change.begins_ticks as f64 * f64::from(like.time_base);
    if begins_s > 0.0 {
        let micros = (begins_s * 1e6) as i64;
        input.seek(micros, ..micros)?;
    }
    let to = {
        let mut stream = output.add_stream(encoder::find(codec::Id::None))?;
        stream.set_parameters(parameters);
        stream.set_time_base(base);
        raw::clear_codec_tag(&mut stream);
        stream.index()
    };
    Ok(Some(Sound {
        input,
        from,
        to,
        base,
        begins_s,
        waiting: None,
        ended: false,
    }))
}

impl Sound {
    /// Copies what begins up to a time of the new clip. A sound track that breaks off ends there.
    pub(super) fn copy(&mut self, until_s: f64, output: &mut Output) -> Result<(), Error> {
        while !self.ended {
            let Some(mut packet) = self.waiting.take().or_else(|| self.next()) else {
                self.ended = true;
                break;
            };
            let begins_s = packet
                .pts()
                .map_or(f64::NEG_INFINITY, |pts| pts as f64 * f64::from(self.base))
                - self.begins_s;
            if begins_s > until_s {
                self.waiting = Some(packet);
                break;
            }
            if self.begins_s > 0.0 {
                if begins_s < 0.0 {
                    continue;
                }
                earlier(
                    &mut packet,
                    (self.begins_s / f64::from(self.base)).round() as i64,
                );
            }
            let base = output.stream(self.to).map_or(self.base, |s| s.time_base());
            packet.set_stream(self.to);
            packet.set_position(-1);
            packet.rescale_ts(self.base, base);
            packet.write_interleaved(output)?;
        }
        Ok(())
    }

    fn next(&mut self) -> Option<Packet> {
        loop {
            let mut packet = Packet::empty();
            packet.read(&mut self.input).ok()?;
            if packet.stream() == self.from {
                return Some(packet);
            }
        }
    }
}

/// Moves a packet to an earlier time.
fn earlier(packet: &mut Packet, ticks: i64) {
    packet.set_pts(packet.pts().map(|pts| pts - ticks));
    packet.set_dts(packet.dts().map(|dts| dts - ticks));
}
