//! Why a clip cannot be measured, and what to do next.

use std::io;
use std::path::{Path, PathBuf};

/// Why a clip could not be opened or decoded.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum ClipError {
    /// Nothing has this path.
    #[error("no such file: {}", path.display())]
    NoSuchFile {
        /// The path as given.
        path: PathBuf,
    },
    /// The path is a directory.
    #[error("{} is a directory, not a clip", path.display())]
    IsDirectory {
        /// The path as given.
        path: PathBuf,
    },
    /// The file has no bytes.
    #[error("{} is empty", path.display())]
    EmptyFile {
        /// The path as given.
        path: PathBuf,
    },
    /// The file is not an MP4 or MOV video.
    #[error("{} is not an MP4 or MOV video ({detail})", path.display())]
    NotAVideo {
        /// The path as given.
        path: PathBuf,
        /// What the reader made of it.
        detail: String,
    },
    /// The file is an MP4 or MOV whose index was never written.
    #[error("{} has no movie header: the recording was not finished or the copy was cut", path.display())]
    NoMovieHeader {
        /// The path as given.
        path: PathBuf,
    },
    /// The header with the index is there, and makes no sense.
    #[error("the movie header of {} is damaged", path.display())]
    DamagedHeader {
        /// The path as given.
        path: PathBuf,
    },
    /// The pictures are encrypted.
    #[error("the pictures of {} are encrypted", path.display())]
    Encrypted {
        /// The path as given.
        path: PathBuf,
    },
    /// The file has no picture stream.
    #[error("{} has no picture, {}", path.display(), if *has_audio { "only sound" } else { "and no sound either" })]
    NoPicture {
        /// The path as given.
        path: PathBuf,
        /// Whether there is sound.
        has_audio: bool,
    },
    /// The pictures are stored in a way that is not read.
    #[error("{} stores its pictures as {format}, which is not supported", path.display())]
    UnsupportedPixels {
        /// The path as given.
        path: PathBuf,
        /// The pixel format or colour coding.
        format: String,
    },
    /// The installed libav has no decoder for this codec.
    #[error("no decoder for {codec} is installed, needed for {}", path.display())]
    DecoderMissing {
        /// The path as given.
        path: PathBuf,
        /// Codec name.
        codec: String,
    },
    /// No quarter turn makes the picture upright.
    #[error("{} cannot be turned upright: {detail}", path.display())]
    NotUprightAble {
        /// The path as given.
        path: PathBuf,
        /// What is odd about its display matrix.
        detail: String,
    },
    /// Two half pictures taken at different times share each frame.
    #[error("{} is interlaced", path.display())]
    Interlaced {
        /// The path as given.
        path: PathBuf,
    },
    /// Not one frame came out.
    #[error("not one frame of {} could be decoded{damage}", path.display())]
    NothingDecodes {
        /// The path as given.
        path: PathBuf,
        /// What was wrong with the file, each part after a semicolon.
        damage: String,
    },
    /// The frames follow one another faster than any phone takes them, or all at the same time.
    #[error("{} has no usable times: {frames} frames in {span_s:.4} s", path.display())]
    NoDuration {
        /// The path as given.
        path: PathBuf,
        /// Frames that decoded.
        frames: u64,
        /// Time from the first to the last, s.
        span_s: f64,
    },
    /// The decoder gave up, which broken data alone does not make it do.
    #[error("{doing} of {} failed: {detail}", path.display())]
    DecoderFailed {
        /// The path as given.
        path: PathBuf,
        /// The operation.
        doing: &'static str,
        /// The decoder's own words.
        detail: String,
    },
    /// Reading the file failed.
    #[error("reading {} failed", path.display())]
    Io {
        /// The path as given.
        path: PathBuf,
        /// The system's reason.
        #[source]
        source: io::Error,
    },
}

impl ClipError {
    /// What to do next, in one sentence.
    pub fn hint(&self) -> &'static str {
        match self {
            Self::NoSuchFile { .. } => "check the spelling and the folder",
            Self::IsDirectory { .. } => "give the clips inside it, one path for each",
            Self::EmptyFile { .. } => "copy the clip from the phone again",
            Self::NotAVideo { .. } => "give the MP4 or MOV file as the phone recorded it",
            Self::NoMovieHeader { .. }
            | Self::DamagedHeader { .. }
            | Self::NoPicture {
                has_audio: false, ..
            } => "copy the clip from the phone again; if it is the same there, film the run again",
            Self::Encrypted { .. } => {
                "give the file as the phone's own camera app recorded it: nobody else's can be read"
            }
            Self::NoPicture { .. } => "give the clip that shows the run, not a sound recording",
            Self::UnsupportedPixels { .. } => {
                "give the phone's own file, or convert it to H.264 with pixel format yuv420p, keeping all frame times"
            }
            Self::DecoderMissing { .. } => {
                "install libav with this codec, or set the phone's camera to its most compatible format (H.264)"
            }
            Self::NotUprightAble { .. } => {
                "export the clip without mirroring or tilt, or film with the phone's own camera app"
            }
            Self::Interlaced { .. } => {
                "film in a progressive mode (a \"p\" in the camera's menu, such as 1080p60)"
            }
            Self::NoDuration { .. } => {
                "give the phone's own file: a program that copied or cut this one has lost its frame times"
            }
            Self::NothingDecodes { .. } => {
                "see whether the clip plays elsewhere, then copy it from the phone again"
            }
            Self::DecoderFailed { .. } => {
                "copy the clip from the phone again; if that fails too, close other programs to free memory"
            }
            Self::Io { .. } => "check that the file may be read and that its disk is connected",
        }
    }
}

/// Why a clip could not be written.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum WriteClipError {
    /// The installed libav has none of the encoders.
    #[error("no video encoder is installed; looked for {wanted}")]
    NoEncoder {
        /// Names of the encoders.
        wanted: String,
    },
    /// The file's name is not text.
    #[error("{} cannot be named to the video library", path.display())]
    OddName {
        /// The file.
        path: PathBuf,
    },
    /// Encoding or writing failed.
    #[error("{doing} the clip {} failed: {detail}", path.display())]
    Failed {
        /// The file.
        path: PathBuf,
        /// The operation.
        doing: &'static str,
        /// The library's own words.
        detail: String,
    },
}

impl WriteClipError {
    /// What to do next, in one sentence.
    pub fn hint(&self) -> &'static str {
        match self {
            Self::NoEncoder { .. } => "install libav with the x264 encoder for an annotated clip",
            Self::OddName { .. } => "choose a folder with a plain name, with `--out`",
            Self::Failed { .. } => {
                "see that the disk is not full, or leave the annotated clip out with `--no-overlay`"
            }
        }
    }
}

/// The error for a file system failure on `path`.
pub(super) fn reading(path: &Path, source: io::Error) -> ClipError {
    let path = path.to_path_buf();
    match source.kind() {
        io::ErrorKind::NotFound | io::ErrorKind::NotADirectory => ClipError::NoSuchFile { path },
        io::ErrorKind::IsADirectory => ClipError::IsDirectory { path },
        _ => ClipError::Io { path, source },
    }
}
