//! A phone clip, opened and decoded forward, one frame at a time; and a clip written the same way.
//!
//! This is the only part of the crate that names ffmpeg, and no type of it leaves by a public
//! signature. What comes out is a [`Frame`]: a time taken from the file's own integer timestamps,
//! and a [`Picture`] of Y, Cb and Cr planes exactly as stored, with what is needed to read them.
//!
//! | the file says | where it goes |
//! |---|---|
//! | frame times, edit list | [`Frame::time_s`]; frames outside the edit list are not delivered |
//! | display matrix | [`QuarterTurn`], [`Picture::upright`]; mirrored or tilted is an error |
//! | colour matrix, range | [`ColourCoding`]; what the file left out is assumed and marked so |
//! | chroma siting | [`ChromaLayout`] |
//! | capture rate | [`ClipInfo::capture_fps`] |
//! | sound | [`read_loudness`], on the same clock as [`Clip::first_frame_s`] |
//! | primaries, transfer | not used: colours are told apart on the non-linear values |
//! | frames that are cut, broken or without a time | [`Clip::damage`] |
//!
//! Pixel coordinates everywhere: integers are pixel centres, (0, 0) is the centre of the top-left
//! pixel, u to the right, v down.

mod boxes;
mod coding;
mod damage;
mod decode;
mod develop;
mod error;
mod fingerprint;
mod foreign;
mod info;
mod open;
mod picture;
mod pixels;
mod raw;
mod skip;
mod sound;
mod sound_copy;
mod turn;
mod upright;
mod write;

pub use coding::{ChromaLayout, ColourCoding, Matrix, whole_code};
pub use damage::Damage;
pub use decode::{Clip, Frame};
pub use develop::{Developer, Part, RowBuffer};
pub use error::{ClipError, WriteClipError};
pub use fingerprint::sha256_of_file;
pub use info::ClipInfo;
pub use picture::{Picture, Plane};
pub use sound::{Loudness, read_loudness};
pub use turn::QuarterTurn;
pub use upright::Upright420;
pub use write::{Change, ClipWriter, ENCODERS};
