//! Clips made at test time with the `ffmpeg` command line, a declared dependency of the tests.
#![allow(
    dead_code,
    unreachable_pub,
    reason = "a module of several test programs, each of which uses its own part"
)]
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    reason = "helpers of tests fail the test"
)]

use std::path::{Path, PathBuf};
use std::process::Command;

use gripline::clip::{Clip, ClipError, Frame};
use tempfile::TempDir;

/// Source of a car's sticker that rests and then goes, on grey: 24 frames of 160 x 96 at 30/s. More filters may follow.
pub const RUN: &str = "-f lavfi -i color=gray:s=160x96:r=30:d=0.8 -f lavfi -i color=magenta:s=16x16:r=30:d=0.8 \
     -filter_complex overlay=x='if(lt(n,6),20,20+(n-6)*5)':y=40:eval=frame,format=yuv420p";

/// A temporary folder in which clips are made.
pub struct Studio(TempDir);

impl Studio {
    pub fn new() -> Self {
        Self(tempfile::tempdir().unwrap())
    }

    pub fn path(&self, name: &str) -> PathBuf {
        self.0.path().join(name)
    }

    /// Runs ffmpeg with words separated by spaces and `name` as its last argument.
    pub fn make(&self, words: &str, name: &str) -> PathBuf {
        let path = self.path(name);
        ffmpeg(words, &path);
        path
    }
}

/// Runs ffmpeg; in the words a `%` stands for a space inside one argument.
pub fn ffmpeg(words: &str, out: &Path) -> Vec<u8> {
    let arguments = words.split_whitespace().map(|word| word.replace('%', " "));
    let output = Command::new("ffmpeg")
        .args(["-nostdin", "-y", "-v", "error"])
        .args(arguments)
        .arg(out)
        .output()
        .expect("the tests need the ffmpeg command");
    let complaint = String::from_utf8_lossy(&output.stderr).into_owned();
    assert!(output.status.success(), "ffmpeg {words}: {complaint}");
    output.stdout
}

/// Source of `frames` frames of 64 x 48 at 30/s; frame n is flat with luma 16 + 3n.
pub fn counting(frames: u32) -> String {
    format!(
        "-f lavfi -i color=black:s=64x48:r=30,format=yuv420p,geq=lum=16+3*N:cb=128:cr=128 \
         -frames:v {frames}"
    )
}

/// All frames of a clip, and the clip for its damage.
pub fn read(path: &Path) -> (Vec<Frame>, Clip) {
    let mut clip = Clip::open(path).unwrap();
    let mut frames = Vec::new();
    while let Some(frame) = clip.next_frame().unwrap() {
        frames.push(frame);
    }
    (frames, clip)
}

/// The error of opening, or else of decoding to the end.
pub fn refusal(path: &Path) -> ClipError {
    let mut clip = match Clip::open(path) {
        Ok(clip) => clip,
        Err(error) => return error,
    };
    loop {
        match clip.next_frame() {
            Ok(Some(_)) => {}
            Ok(None) => panic!("{} was read without an error", path.display()),
            Err(error) => return error,
        }
    }
}

pub fn times(frames: &[Frame]) -> Vec<f64> {
    frames.iter().map(|frame| frame.time_s).collect()
}

/// The number that `counting` wrote into a frame.
pub fn number_of(frame: &Frame) -> i32 {
    let luma = i32::from(frame.picture.y().row(20)[30]);
    (luma - 16 + 1).div_euclid(3)
}

/// Place just behind the four letters of the first box of this kind.
pub fn box_place(bytes: &[u8], kind: [u8; 4]) -> usize {
    let found = bytes.windows(4).position(|four| four == kind);
    found.expect("the box is there") + 4
}

/// Writes a display matrix's linear part, in whole units, into the first track header.
pub fn set_matrix(path: &Path, a: i32, b: i32, c: i32, d: i32) {
    let mut bytes = std::fs::read(path).unwrap();
    // Version 0 `tkhd`: 40 bytes of flags, times, id, duration and so on come first
    // (ISO/IEC 14496-12); numbers are 16.16, in the order a, b, u, c, d, v, x, y, w.
    let start = box_place(&bytes, *b"tkhd") + 40;
    let mut put = |place: usize, value: i32| {
        let at = start + place * 4;
        bytes[at..at + 4].copy_from_slice(&(value * 0x1_0000).to_be_bytes());
    };
    put(0, a);
    put(1, b);
    put(3, c);
    put(4, d);
    std::fs::write(path, bytes).unwrap();
}
