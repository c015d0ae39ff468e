//! Encoding: upright pictures in, an MP4 file out that phones and browsers play.

use super::error::WriteClipError;
use super::{Clip, Matrix, Upright420, raw, sound_copy};
use ffmpeg_next::color::{Range, Space};
use ffmpeg_next::format::{self, Pixel};
use ffmpeg_next::util::error::EAGAIN;
use ffmpeg_next::{Dictionary, Error, Packet, Rational, codec, encoder, frame};
use std::fs::File;
use std::path::{Path, PathBuf};

/// Encoders in the order of liking: H.264 plays everywhere; MPEG-4 part 2 is in every libav and plays on
/// computers and most phones, but not in every browser.
pub const ENCODERS: [&str; 3] = ["libx264", "libopenh264", "mpeg4"];
/// Bits a pixel and frame for encoders that are told a rate instead of a quality.
const BITS_A_PIXEL: f64 = 0.2;
/// A picture that is held is written this often, s.
const HELD_STEP_S: f64 = 0.1;
/// MPEG-4 part 2 counts time in 16 bits.
const FINEST_MPEG4_TICK: i32 = 65_535;

/// How a clip that is written differs from the one that it is made from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Change {
    /// How many times slower it plays.
    pub slower: u32,
    /// How many times smaller its pictures are.
    pub smaller: u32,
    /// By how much later than its source it begins, in the source's time base.
    pub begins_ticks: i64,
}

impl Change {
    /// None at all.
    pub const NONE: Self = Self {
        slower: 1,
        smaller: 1,
        begins_ticks: 0,
    };
}

/// Writes a clip frame by frame.
pub struct ClipWriter {
    path: PathBuf,
    output: format::context::Output,
    /// Keeps the name good by which libav knows the file.
    _folder: Option<File>,
    encoder: encoder::Video,
    encoder_name: &'static str,
    /// Time base of the source's timestamps.
    source_base: Rational,
    encoder_base: Rational,
    slow: i64,
    begins_ticks: i64,
    /// A frame's usual duration, in the encoder's time base.
    usual_ticks: i64,
    sound: Option<sound_copy::Sound>,
    sound_left_out: Option<&'static str>,
    size: (u32, u32),
    colours: (Space, Range),
    /// Time of the last picture that was written, in the encoder's time base.
    last_pts: Option<i64>,
}

impl ClipWriter {
    /// Begins a clip at `path` with the frame times of `like` but for a `change`, and its sound where there is any and it
    /// is played at its own speed.
    ///
    /// # Errors
    /// [`WriteClipError::NoEncoder`] where none of [`ENCODERS`] is there; else what failed.
    pub fn create(path: &Path, like: &Clip, change: Change) -> Result<Self, WriteClipError> {
        Self::create_with(path, like, change, &ENCODERS)
    }

    /// The same with a choice of encoders.
    ///
    /// # Errors
    /// As [`create`](Self::create).
    pub fn create_with(
        path: &Path,
        like: &Clip,
        change: Change,
        encoders: &[&'static str],
    ) -> Result<Self, WriteClipError> {
        let failed = |doing| failure(path, doing);
        let info = like.info();
        let size = Upright420::size_of(info.width_px, info.height_px, change.smaller);
        let colours = (
            space_of(info.coding.matrix),
            range_of(info.coding.full_range),
        );
        let slow = change.slower.max(1);
        let fps = info.nominal_fps.unwrap_or(30.0) / f64::from(slow);
        let wanted = Wanted {
            size,
            colours,
            base: like.time_base,
            fps,
        };
        let (encoder_name, encoder, encoder_base) = encoders
            .iter()
            .find_map(|name| wanted.open(name).map(|(e, base)| (*name, e, base)))
            .ok_or_else(|| WriteClipError::NoEncoder {
                wanted: encoders.join(", "),
            })?;
        let (mut output, folder) = open_output(path)?;
        {
            let mut stream = output
                .add_stream_with(&encoder)
                .map_err(failed("adding a picture"))?;
            stream.set_time_base(encoder_base);
        }
        let (sound, sound_left_out) = sound_copy::of(like, change, &mut output);
        let mut options = Dictionary::new();
        options.set("movflags", "+faststart");
        output
            .write_header_with(options)
            .map_err(failed("starting"))?;
        Ok(Self {
            path: path.to_path_buf(),
            output,
            _folder: folder,
            encoder,
            encoder_name,
            source_base: like.time_base,
            encoder_base,
            slow: i64::from(slow),
            begins_ticks: change.begins_ticks,
            usual_ticks: (f64::from(encoder_base).recip() / fps).round().max(1.0) as i64,
            sound,
            sound_left_out,
            size,
            colours,
            last_pts: None,
        })
    }

    /// Which of [`ENCODERS`] is at work.
    pub fn encoder_name(&self) -> &'static str {
        self.encoder_name
    }

    /// Why the sound is not in the new clip, where the source has any.
    pub fn sound_left_out(&self) -> Option<&'static str> {
        self.sound_left_out
    }

    /// Adds a picture with the source's timestamp.
    ///
    /// # Errors
    /// What failed; a picture of another size than the clip's is an error too.
    pub fn write(&mut self, picture: &Upright420, pts_ticks: i64) -> Result<(), WriteClipError> {
        let ticks = pts_ticks
            .saturating_sub(self.begins_ticks)
            .saturating_mul(self.slow);
        let pts = raw::rescaled(ticks, self.source_base, self.encoder_base);
        self.write_at(picture, pts)
    }

    /// Goes on with one picture for so many seconds of playing after the last frame; nothing where there was none.
    ///
    /// # Errors
    /// As [`write`](Self::write).
    pub fn hold(&mut self, picture: &Upright420, seconds: f64) -> Result<(), WriteClipError> {
        let Some(last) = self.last_pts else {
            return Ok(());
        };
        let ticks_in = |seconds: f64| (seconds / f64::from(self.encoder_base)).round() as i64;
        // One long frame would do, but some players cut the last one short.
        let step = ticks_in(HELD_STEP_S).max(self.usual_ticks);
        let begin = last + self.usual_ticks;
        let closing = begin + (ticks_in(seconds) - self.usual_ticks).max(0);
        let mut at = begin;
        while at < closing {
            self.write_at(picture, at)?;
            at += step;
        }
        self.write_at(picture, closing)
    }

    fn write_at(&mut self, picture: &Upright420, pts: i64) -> Result<(), WriteClipError> {
        let failed = failure(&self.path, "encoding");
        if (picture.width as u32, picture.height as u32) != self.size {
            return Err(failed(Error::InvalidData));
        }
        let mut video = frame::Video::new(Pixel::YUV420P, self.size.0, self.size.1);
        for (number, plane) in picture.planes.iter().enumerate() {
            let width = if number == 0 {
                picture.width
            } else {
                picture.width / 2
            };
            let stride = video.stride(number);
            let rows = video.data_mut(number).chunks_mut(stride.max(1));
            for (to, from) in rows.zip(plane.chunks_exact(width.max(1))) {
                to[..width].copy_from_slice(from);
            }
        }
        self.last_pts = Some(pts);
        video.set_pts(Some(pts));
        video.set_color_space(self.colours.0);
        video.set_color_range(self.colours.1);
        self.encoder.send_frame(&video).map_err(failed)?;
        self.collect()?;
        let until_s = pts as f64 * f64::from(self.encoder_base);
        self.copy_sound(until_s)
    }

    /// Ends the clip and puts its index first.
    ///
    /// # Errors
    /// What failed.
    pub fn finish(mut self) -> Result<(), WriteClipError> {
        self.encoder
            .send_eof()
            .map_err(failure(&self.path, "encoding the end"))?;
        self.collect()?;
        self.copy_sound(f64::INFINITY)?;
        self.output
            .write_trailer()
            .map_err(failure(&self.path, "finishing"))
    }

    /// Moves what the encoder has ready into the file.
    fn collect(&mut self) -> Result<(), WriteClipError> {
        loop {
            let mut packet = Packet::empty();
            match self.encoder.receive_packet(&mut packet) {
                Ok(()) => {}
                Err(Error::Eof | Error::Other { errno: EAGAIN }) => return Ok(()),
                Err(error) => return Err(failure(&self.path, "encoding")(error)),
            }
            packet.set_stream(0);
            // Without a duration the last frame would last no time and be hidden.
            if packet.duration() <= 0 {
                packet.set_duration(self.usual_ticks);
            }
            let base = self
                .output
                .stream(0)
                .map_or(self.encoder_base, |stream| stream.time_base());
            packet.rescale_ts(self.encoder_base, base);
            packet
                .write_interleaved(&mut self.output)
                .map_err(failure(&self.path, "writing"))?;
        }
    }

    fn copy_sound(&mut self, until_s: f64) -> Result<(), WriteClipError> {
        let Some(sound) = &mut self.sound else {
            return Ok(());
        };
        sound
            .copy(until_s, &mut self.output)
            .map_err(failure(&self.path, "writing the sound"))
    }
}

fn failure<'a>(
    path: &'a Path,
    doing: &'static str,
) -> impl FnOnce(Error) -> WriteClipError + use<'a> {
    move |error| WriteClipError::Failed {
        path: path.to_path_buf(),
        doing,
        detail: error.to_string(),
    }
}

const fn space_of(matrix: Matrix) -> Space {
    match matrix {
        Matrix::Bt601 => Space::SMPTE170M,
        Matrix::Bt709 => Space::BT709,
        Matrix::Bt2020 => Space::BT2020NCL,
    }
}

const fn range_of(full: bool) -> Range {
    if full { Range::JPEG } else { Range::MPEG }
}

/// Opens the file. libav takes names as text and reads a colon as a protocol, so the name is made
/// absolute and said to be a file's. What it opens by that name it may close and open again, so the second part stays as
/// long as it does.
fn open_output(path: &Path) -> Result<(format::context::Output, Option<File>), WriteClipError> {
    let odd = || WriteClipError::OddName {
        path: path.to_path_buf(),
    };
    let whole = std::path::absolute(path).map_err(|_| odd())?;
    let (name, folder) = match whole.to_str() {
        Some(text) => (text.to_owned(), None),
        None => by_its_folder(&whole).ok_or_else(odd)?,
    };
    let output = format::output_as(&format!("file:{name}"), "mp4");
    Ok((output.map_err(failure(path, "creating"))?, folder))
}

/// A name in plain letters of a file in a folder whose name is no text: by the number of the folder, which stays open.
#[cfg(target_os = "linux")]
fn by_its_folder(path: &Path) -> Option<(String, Option<File>)> {
    use std::os::fd::AsRawFd;
    let folder = File::open(path.parent()?).ok()?;
    let name = path.file_name()?.to_str()?;
    let name = format!("/proc/self/fd/{}/{name}", folder.as_raw_fd());
    Some((name, Some(folder)))
}

#[cfg(not(target_os = "linux"))]
fn by_its_folder(_path: &Path) -> Option<(String, Option<File>)> {
    None
}

/// How x264 works. Who waits for the clip wants it soon, and it is looked at a few times: the same coarseness for every
/// picture spares judging each beforehand, which is half of the work at this preset. Pictures are encoded beside decoding
/// and drawing, so one thread does, and none are kept to look ahead: a school's laptop has better uses for the memory.
const X264: [(&str, &str); 4] = [
    ("preset", "ultrafast"),
    ("qp", "26"),
    // Who goes through it by hand does not wait for four seconds of pictures.
    ("g", "60"),
    (
        "x264-params",
        "threads=1:rc-lookahead=0:sync-lookahead=0:bframes=0:ref=1",
    ),
];

/// What an encoder is asked for.
struct Wanted {
    size: (u32, u32),
    colours: (Space, Range),
    base: Rational,
    fps: f64,
}

impl Wanted {
    /// The encoder of this name, ready to work, and its time base; `None` where it is not there or does
    /// not take the job.
    fn open(&self, name: &str) -> Option<(encoder::Video, Rational)> {
        let codec = encoder::find_by_name(name)?;
        let mut video = codec::Context::new_with_codec(codec)
            .encoder()
            .video()
            .ok()?;
        let mut base = self.base;
        let mut options = Dictionary::new();
        if name == "libx264" {
            for (name, value) in X264 {
                options.set(name, value);
            }
        } else {
            let (width, height) = (f64::from(self.size.0), f64::from(self.size.1));
            video.set_bit_rate((width * height * self.fps * BITS_A_PIXEL) as usize);
        }
        if name == "mpeg4" && base.denominator() > FINEST_MPEG4_TICK {
            base = Rational::new(1, 60_000);
        }
        video.set_width(self.size.0);
        video.set_height(self.size.1);
        video.set_format(Pixel::YUV420P);
        video.set_time_base(base);
        video.set_frame_rate(Some(Rational::from(self.fps)));
        video.set_colorspace(self.colours.0);
        video.set_color_range(self.colours.1);
        // MP4 keeps the codec's headers apart from the frames.
        video.set_flags(codec::Flags::GLOBAL_HEADER);
        let opened = video.open_as_with(codec, options).ok()?;
        Some((opened, base))
    }
}
