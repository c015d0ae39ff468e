//! What a clip says about itself before any frame is decoded.

use std::path::PathBuf;

use super::{ChromaLayout, ColourCoding, QuarterTurn};

/// What the file's header says about the clip. `None` where the file does not say.
#[derive(Debug, Clone)]
pub struct ClipInfo {
    /// The file, as it was given.
    pub path: PathBuf,
    /// Width of the upright picture.
    pub width_px: u32,
    /// Height of the upright picture.
    pub height_px: u32,
    /// How the stored picture must be turned to stand upright.
    pub turn: QuarterTurn,
    /// Codec name, such as `h264` or `hevc`.
    pub codec: String,
    /// Pixel format name as libav spells it, such as `yuv420p10le`.
    pub pixel_format: String,
    /// Bits per sample in the file; planes are always delivered with 8.
    pub bit_depth: u8,
    /// Average frame rate from the header, for display only: times come from each frame.
    pub nominal_fps: Option<f64>,
    /// Frames that the header promises after its edit list.
    pub frame_count_hint: Option<u64>,
    /// How Y, Cb and Cr become red, green and blue.
    pub coding: ColourCoding,
    /// Where the colour samples lie between the luma samples.
    pub chroma: ChromaLayout,
    /// Rate at which the frames were captured, where the phone wrote it down. It differs from
    /// [`nominal_fps`](Self::nominal_fps) in slow-motion clips that play slowly.
    pub capture_fps: Option<f64>,
    /// When the clip was made, as its file says: ISO 8601, UTC. Programs that rewrite clips may drop it.
    pub filmed: Option<String>,
    /// Whether there is a sound track.
    pub has_audio: bool,
}
