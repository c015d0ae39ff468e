//! Opening: from a path to a clip that is ready to decode, or to one clear error.

use std::fs::File;
use std::io::{Read, Seek};
use std::path::Path;
use std::thread::available_parallelism;

use ffmpeg_next::chroma::Location;
use ffmpeg_next::codec::packet::side_data;
use ffmpeg_next::codec::{self, threading};
use ffmpeg_next::color::{Range, Space};
use ffmpeg_next::format::context::{Input, StreamIo};
use ffmpeg_next::format::stream::{Disposition, Stream};
use ffmpeg_next::util::error::EIO;
use ffmpeg_next::{Dictionary, FieldOrder, decoder, format, log, media};

use super::boxes::{self, Boxes};
use super::damage::DamageLog;
use super::decode::{Clip, Progress};
use super::error::reading;
use super::foreign::{HEAD_BYTES, foreign_kind};
use super::picture::Reading;
use super::pixels::{Stored, stored_as};
use super::turn::TurnError;
use super::{ChromaLayout, ClipError, ClipInfo, ColourCoding, Damage, Matrix, QuarterTurn, raw};

/// Decoding threads: one more than there are cores, so that none is idle while another waits for its turn to hand over;
/// beyond this many each one costs a picture's memory and gains little.
const MOST_THREADS: usize = 16;
/// Pictures up to this height are standard definition, coded with BT.601 where nothing is said
/// (common practice, no source).
const STANDARD_DEFINITION_HEIGHT: u32 = 576;
/// How far from square the header may say that pixels are: scaling to whole pixels leaves that much.
const SQUARE_TOLERANCE: f64 = 0.005;
/// Endings of the tags in which phones note the capture rate: Android's `com.android.capture.fps`
/// (Android's media framework). `QuickTime` has no such key: Apple's phones store slow motion at the rate
/// of capture, and `com.apple.quicktime.full-frame-rate-playback-intent`, which says how to play it, is 0
/// in their ordinary clips too.
const CAPTURE_RATE_ENDINGS: [&str; 3] = ["capture.fps", "capture_fps", "capture-fps"];

/// Opens a clip.
pub(super) fn open(path: &Path) -> Result<Clip, ClipError> {
    let mut file = open_file(path)?;
    let boxes = boxes::scan(&mut file).map_err(|source| reading(path, source))?;
    let input = open_input(path, &boxes)?;
    let stream = picture_stream(path, &input)?;
    // What cannot be read of the boxes is libav's to judge: it has opened the file.
    if boxes.is_encrypted(&mut file, stream.id()).unwrap_or(false) {
        let path = path.to_path_buf();
        return Err(ClipError::Encrypted { path });
    }
    let decoder = open_decoder(path, &stream)?;
    let mut damage = DamageLog::default();
    if boxes.missing_bytes > 0 {
        let missing_bytes = boxes.missing_bytes;
        damage.add(Damage::Truncated { missing_bytes });
    }
    let stored = pixels_of(path, &decoder, &damage)?;
    let info = describe(path, &input, &stream, &decoder, stored)?;
    for edit in boxes
        .edit_damage(&mut file, stream.id())
        .unwrap_or_default()
    {
        damage.add(edit);
    }
    let ratio = f64::from(decoder.aspect_ratio());
    if ratio > 0.0 && ratio.is_finite() && (ratio - 1.0).abs() > SQUARE_TOLERANCE {
        damage.add(Damage::PixelsNotSquare { ratio });
    }

    let reading = Reading {
        stored,
        chroma: info.chroma,
        coding: info.coding,
        turn: info.turn,
    };
    let (index, time_base) = (stream.index(), stream.time_base());
    Ok(Clip {
        info,
        damage,
        input,
        decoder,
        stream: index,
        time_base,
        reading,
        progress: Progress::default(),
    })
}

/// Opens the container alone.
pub(super) fn open_plain(path: &Path) -> Result<Input, ClipError> {
    let mut file = open_file(path)?;
    let boxes = boxes::scan(&mut file).map_err(|source| reading(path, source))?;
    open_input(path, &boxes)
}

fn open_file(path: &Path) -> Result<File, ClipError> {
    let data = std::fs::metadata(path).map_err(|source| reading(path, source))?;
    let owned = || path.to_path_buf();
    if data.is_dir() {
        return Err(ClipError::IsDirectory { path: owned() });
    }
    if !data.is_file() {
        let detail = "it is not a regular file".to_owned();
        return Err(ClipError::NotAVideo {
            path: owned(),
            detail,
        });
    }
    if data.len() == 0 {
        return Err(ClipError::EmptyFile { path: owned() });
    }
    File::open(path).map_err(|source| reading(path, source))
}

/// Opens the container. The file is handed over open, so libav never sees the path: odd names are
/// no problem and it cannot be led to another file or to the network.
fn open_input(path: &Path, boxes: &Boxes) -> Result<Input, ClipError> {
    let failed = |error: ffmpeg_next::Error| ClipError::DecoderFailed {
        path: path.to_path_buf(),
        doing: "opening",
        detail: error.to_string(),
    };
    ffmpeg_next::init().map_err(failed)?;
    // What matters of libav's messages is told as errors and damage.
    log::set_level(log::Level::Quiet);

    if boxes.looks_like_movie && !boxes.has_header {
        let path = path.to_path_buf();
        return Err(ClipError::NoMovieHeader { path });
    }
    let mut file = File::open(path).map_err(|source| reading(path, source))?;
    let not_a_video = |what: &str| ClipError::NotAVideo {
        path: path.to_path_buf(),
        detail: format!("it is {what}"),
    };
    let mut head = Vec::new();
    let begun = (&mut file).take(HEAD_BYTES).read_to_end(&mut head);
    begun
        .and_then(|_| file.rewind())
        .map_err(|source| reading(path, source))?;
    if let Some(what) = foreign_kind(&head) {
        return Err(not_a_video(what));
    }
    let io = StreamIo::from_read_seek(file).map_err(failed)?;
    let mut options = Dictionary::new();
    options.set("format_whitelist", "mov");
    format::input_from_stream(io, None, Some(options)).map_err(|error| match error {
        ffmpeg_next::Error::Other { errno: EIO } => {
            reading(path, std::io::Error::from_raw_os_error(EIO))
        }
        _ if boxes.looks_like_movie => ClipError::DamagedHeader {
            path: path.to_path_buf(),
        },
        // The library's own words say nothing to a user.
        _ => not_a_video("of a kind that is not known here, or damaged at its beginning"),
    })
}

fn picture_stream<'a>(path: &Path, input: &'a Input) -> Result<Stream<'a>, ClipError> {
    input
        .streams()
        .best(media::Type::Video)
        .filter(|stream| !stream.disposition().contains(Disposition::ATTACHED_PIC))
        .ok_or_else(|| ClipError::NoPicture {
            path: path.to_path_buf(),
            has_audio: has_audio(input),
        })
}

fn has_audio(input: &Input) -> bool {
    input
        .streams()
        .any(|stream| stream.parameters().medium() == media::Type::Audio)
}

fn open_decoder(path: &Path, stream: &Stream<'_>) -> Result<decoder::Video, ClipError> {
    let parameters = stream.parameters();
    let codec = parameters.id();
    if !matches!(
        raw::field_order(&parameters),
        FieldOrder::Unknown | FieldOrder::Progressive
    ) {
        let path = path.to_path_buf();
        return Err(ClipError::Interlaced { path });
    }
    let failed = |error: ffmpeg_next::Error| match error {
        // Nothing that could be installed reads it: the header does not say what it is, or nobody knows it.
        ffmpeg_next::Error::DecoderNotFound if codec == codec::Id::None => {
            ClipError::UnsupportedPixels {
                path: path.to_path_buf(),
                format: "something unknown".to_owned(),
            }
        }
        ffmpeg_next::Error::DecoderNotFound => ClipError::DecoderMissing {
            path: path.to_path_buf(),
            codec: codec.name().to_owned(),
        },
        _ => ClipError::DecoderFailed {
            path: path.to_path_buf(),
            doing: "opening the decoder",
            detail: error.to_string(),
        },
    };
    let mut context = codec::Context::from_parameters(parameters).map_err(failed)?;
    context.set_threading(threading::Config {
        kind: threading::Type::Frame,
        count: available_parallelism()
            .map_or(1, |cores| cores.get() + 1)
            .min(MOST_THREADS),
        ..threading::Config::default()
    });
    let mut decoder = context.decoder();
    decoder.set_packet_time_base(stream.time_base());
    decoder.video().map_err(failed)
}

fn pixels_of(
    path: &Path,
    decoder: &decoder::Video,
    damage: &DamageLog,
) -> Result<Stored, ClipError> {
    if decoder.format() == format::Pixel::None || decoder.width() == 0 || decoder.height() == 0 {
        // Opening decodes the first frames to learn their format.
        let (path, damage) = (path.to_path_buf(), damage.words());
        return Err(ClipError::NothingDecodes { path, damage });
    }
    stored_as(decoder.format()).ok_or_else(|| ClipError::UnsupportedPixels {
        path: path.to_path_buf(),
        format: pixel_name(decoder),
    })
}

fn pixel_name(decoder: &decoder::Video) -> String {
    let descriptor = decoder.format().descriptor();
    descriptor.map_or_else(
        || "an unknown format".to_owned(),
        |known| known.name().to_owned(),
    )
}

fn describe(
    path: &Path,
    input: &Input,
    stream: &Stream<'_>,
    decoder: &decoder::Video,
    stored: Stored,
) -> Result<ClipInfo, ClipError> {
    let turn = turn_of(stream).map_err(|why| ClipError::NotUprightAble {
        path: path.to_path_buf(),
        detail: why.to_string(),
    })?;
    let coding = coding_of(decoder, stored).ok_or_else(|| ClipError::UnsupportedPixels {
        path: path.to_path_buf(),
        format: format!("{} in {:?}", pixel_name(decoder), decoder.color_space()),
    })?;
    let (width_px, height_px) = turn.upright_size(decoder.width(), decoder.height());
    Ok(ClipInfo {
        path: path.to_path_buf(),
        width_px,
        height_px,
        turn,
        codec: stream.parameters().id().name().to_owned(),
        pixel_format: pixel_name(decoder),
        bit_depth: stored.bit_depth,
        nominal_fps: positive(f64::from(stream.avg_frame_rate())),
        frame_count_hint: promised_frames(stream),
        coding,
        chroma: chroma_of(decoder.chroma_location(), stored),
        capture_fps: capture_fps(input, stream),
        filmed: filmed(input, stream),
        has_audio: has_audio(input),
    })
}

fn positive(value: f64) -> Option<f64> {
    (value.is_finite() && value > 0.0).then_some(value)
}

/// Frames that the header promises: those of the index that the edit list shows. A fragmented file
/// promises nothing in its header.
fn promised_frames(stream: &Stream<'_>) -> Option<u64> {
    if stream.frames() <= 0 {
        return None;
    }
    Some(raw::shown_index_entries(stream)).filter(|count| *count > 0)
}

fn capture_fps(input: &Input, stream: &Stream<'_>) -> Option<f64> {
    let (of_file, of_stream) = (input.metadata(), stream.metadata());
    let mut tags = of_file.iter().chain(of_stream.iter());
    tags.find_map(|(name, value)| {
        let name = name.to_ascii_lowercase();
        let known = CAPTURE_RATE_ENDINGS
            .iter()
            .any(|ending| name.ends_with(ending));
        known.then(|| value.trim().parse().ok().and_then(positive))?
    })
}

/// Times before this are a clock that was never set: MP4 counts from 1904, cameras' clocks from 1970 or 1980.
const FIRST_YEAR: i32 = 2000;

/// The moment of making that MP4 and MOV keep in their headers (ISO/IEC 14496-12, `creation_time`).
fn filmed(input: &Input, stream: &Stream<'_>) -> Option<String> {
    let (of_file, of_stream) = (input.metadata(), stream.metadata());
    let time = of_file
        .get("creation_time")
        .or_else(|| of_stream.get("creation_time"))?
        .trim();
    let year: i32 = time.get(..4)?.parse().ok()?;
    (year >= FIRST_YEAR && time.ends_with('Z')).then(|| time.to_owned())
}

/// The turn that the stream's display matrix asks for; none without one.
fn turn_of(stream: &Stream<'_>) -> Result<QuarterTurn, TurnError> {
    let matrix = stream
        .side_data()
        .find(|data| data.kind() == side_data::Type::DisplayMatrix);
    let Some(matrix) = matrix else {
        return Ok(QuarterTurn::None);
    };
    let bytes = matrix.data();
    // Nine native 32-bit numbers, stored a, b, u, c, d, v, x, y, w; the first four in 16.16.
    let number = |place: usize| {
        let four = bytes.get(place * 4..place * 4 + 4)?;
        let four: [u8; 4] = four.try_into().ok()?;
        Some(f64::from(i32::from_ne_bytes(four)))
    };
    match (number(0), number(1), number(3), number(4)) {
        (Some(a), Some(b), Some(c), Some(d)) => QuarterTurn::from_matrix(a, b, c, d),
        _ => Err(TurnError::Short),
    }
}

/// The colour coding; `None` for one that three weights cannot express.
fn coding_of(decoder: &decoder::Video, stored: Stored) -> Option<ColourCoding> {
    let (matrix, matrix_assumed) = match decoder.color_space() {
        Space::BT709 => (Matrix::Bt709, false),
        Space::BT470BG | Space::SMPTE170M => (Matrix::Bt601, false),
        Space::BT2020NCL => (Matrix::Bt2020, false),
        // Two old codings whose weights differ from these by less than 0.02.
        Space::FCC => (Matrix::Bt601, true),
        Space::SMPTE240M => (Matrix::Bt709, true),
        Space::Unspecified | Space::Reserved => {
            let small = decoder.height() <= STANDARD_DEFINITION_HEIGHT;
            (if small { Matrix::Bt601 } else { Matrix::Bt709 }, true)
        }
        _ => return None,
    };
    let (full_range, range_assumed) = match decoder.color_range() {
        Range::JPEG => (true, false),
        Range::MPEG => (stored.full_range, false),
        Range::Unspecified => (stored.full_range, !stored.full_range),
    };
    Some(ColourCoding {
        matrix,
        matrix_assumed,
        full_range,
        range_assumed,
    })
}

/// Where colour samples lie: H.273 names the place of the first one within the luma pixels that it
/// covers. Only the halved directions can be off the luma raster.
fn chroma_of(location: Location, stored: Stored) -> ChromaLayout {
    let (across, down) = match location {
        Location::Left | Location::Unspecified => (0.0, 0.5),
        Location::Center => (0.5, 0.5),
        Location::TopLeft => (0.0, 0.0),
        Location::Top => (0.5, 0.0),
        Location::BottomLeft => (0.0, 1.0),
        Location::Bottom => (0.5, 1.0),
    };
    let halved = stored.step_u > 1 || stored.step_v > 1;
    ChromaLayout {
        step_u: stored.step_u,
        step_v: stored.step_v,
        offset_u_px: if stored.step_u > 1 { across } else { 0.0 },
        offset_v_px: if stored.step_v > 1 { down } else { 0.0 },
        assumed: halved && location == Location::Unspecified,
    }
}
