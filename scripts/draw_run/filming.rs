//! The part of a scene file that is about filming: camera, light, noise, room and storage.

use serde::Deserialize;

/// Where the phone stands and how it is held.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub(crate) struct Camera {
    pub(crate) position_m: [f64; 3],
    pub(crate) look_at_m: [f64; 3],
    pub(crate) hfov_deg: f64,
    pub(crate) roll_deg: f64,
    /// Radial distortion: a point at r (in focal lengths) is seen at `r (1 + k1 r^2)`.
    pub(crate) k1: f64,
    /// Hand tremble: standard deviation of the direction, and of the place.
    pub(crate) shake_mrad: f64,
    pub(crate) shake_mm: f64,
    /// The look-at point glides to here between the two times.
    pub(crate) pan_to_m: Option<[f64; 3]>,
    pub(crate) pan_from_s: f64,
    pub(crate) pan_until_s: f64,
}

impl Default for Camera {
    fn default() -> Self {
        Self {
            position_m: [0.75, -1.9, 0.85],
            look_at_m: [0.9, 0.0, 0.02],
            hfov_deg: 62.0,
            roll_deg: 0.0,
            k1: 0.0,
            shake_mrad: 0.0,
            shake_mm: 0.0,
            pan_to_m: None,
            pan_from_s: 0.0,
            pan_until_s: 1.0,
        }
    }
}

/// Shutter, row times and light.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub(crate) struct Exposure {
    pub(crate) shutter_s: f64,
    pub(crate) readout_s: f64,
    pub(crate) brightness: f64,
    pub(crate) light_rgb: [f64; 3],
    /// Relative change of the exposure over the clip, along a smooth ramp.
    pub(crate) drift: f64,
    /// Red gain up and blue gain down by this much over the clip.
    pub(crate) white_balance_drift: f64,
    /// Mains frequency; lamps beat at twice this.
    pub(crate) mains_hz: f64,
    pub(crate) flicker_depth: f64,
    /// Blur of lens and pixel, standard deviation.
    pub(crate) optics_blur_px: f64,
    pub(crate) samples: usize,
}

impl Default for Exposure {
    fn default() -> Self {
        Self {
            shutter_s: 0.004,
            readout_s: 0.012,
            brightness: 1.0,
            light_rgb: [1.0, 0.98, 0.94],
            drift: 0.0,
            white_balance_drift: 0.0,
            mains_hz: 50.0,
            flicker_depth: 0.0,
            optics_blur_px: 0.5,
            samples: 20,
        }
    }
}

/// Sensor noise, as it is left after the phone's own smoothing.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub(crate) struct Noise {
    /// Electrons at full white; 0 for no shot noise.
    pub(crate) full_well: f64,
    /// Read noise as a share of full white.
    pub(crate) read: f64,
    /// Width of the grain that smoothing leaves, standard deviation.
    pub(crate) grain_px: f64,
    /// Share of the noise that stays from one frame to the next.
    pub(crate) carry_over: f64,
}

impl Default for Noise {
    fn default() -> Self {
        Self {
            full_well: 15_000.0,
            read: 0.0015,
            grain_px: 0.6,
            carry_over: 0.5,
        }
    }
}

/// Floor and wall.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub(crate) struct Room {
    pub(crate) floor: Floor,
    pub(crate) wall_y_m: f64,
    pub(crate) end_wall_x_m: f64,
    pub(crate) wall_rgb: [f64; 3],
    pub(crate) porthole: bool,
}

impl Default for Room {
    fn default() -> Self {
        Self {
            floor: Floor::Lino,
            wall_y_m: 1.5,
            end_wall_x_m: 6.5,
            wall_rgb: [0.52, 0.53, 0.50],
            porthole: true,
        }
    }
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub(crate) enum Floor {
    Concrete,
    Cork,
    Lino,
    Planks,
}

/// A box standing on the floor (or higher), edges along the axes.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct Crate {
    pub(crate) at_m: [f64; 2],
    pub(crate) size_m: [f64; 3],
    #[serde(default)]
    pub(crate) base_m: f64,
    #[serde(default)]
    pub(crate) rgb: Option<[f64; 3]>,
    /// A sticker colour instead of `rgb`.
    #[serde(default)]
    pub(crate) colour: Option<String>,
}

/// An upright cylinder: a bin, a cup, a post.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct Drum {
    pub(crate) at_m: [f64; 2],
    pub(crate) diameter_m: f64,
    pub(crate) height_m: f64,
    #[serde(default)]
    pub(crate) rgb: Option<[f64; 3]>,
    #[serde(default)]
    pub(crate) colour: Option<String>,
}

/// A coloured rectangle with a few shapes on the long wall.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct Poster {
    pub(crate) centre_m: [f64; 2],
    pub(crate) size_m: [f64; 2],
    pub(crate) colour: String,
    /// A disc of this diameter in that colour on white, instead of a plain field.
    #[serde(default)]
    pub(crate) disc_m: Option<f64>,
}

/// Somebody who walks past.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct Walker {
    pub(crate) from_m: [f64; 2],
    pub(crate) velocity_m_per_s: [f64; 2],
    pub(crate) colour: String,
    /// Trousers in that colour too; a low camera sees little else.
    #[serde(default)]
    pub(crate) all_over: bool,
}

/// A second car with the same marks: at rest, or pushed along its heading for a while.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct ParkedCar {
    pub(crate) at_m: [f64; 2],
    #[serde(default)]
    pub(crate) heading_deg: f64,
    /// How far it is pushed, smoothly from the one time to the other; its wheels roll.
    #[serde(default)]
    pub(crate) pushed_m: f64,
    #[serde(default)]
    pub(crate) pushed_from_s: f64,
    #[serde(default)]
    pub(crate) pushed_until_s: f64,
}

impl ParkedCar {
    /// How far it has been pushed by a time.
    pub(crate) fn travel_m(&self, time_s: f64) -> f64 {
        let lasts = (self.pushed_until_s - self.pushed_from_s).max(1e-3);
        let part = ((time_s - self.pushed_from_s) / lasts).clamp(0.0, 1.0);
        self.pushed_m * part * part * (3.0 - 2.0 * part)
    }
}

/// How the clip is stored.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub(crate) struct Clip {
    /// Size of the upright picture.
    pub(crate) width: usize,
    pub(crate) height: usize,
    /// Frames captured per second of the run.
    pub(crate) fps: f64,
    /// Rate at which the file plays; 0 for the capture rate.
    pub(crate) container_fps: f64,
    /// Who tells the tool the capture rate, where it is not the file's own.
    pub(crate) capture_rate_in: CaptureRateIn,
    pub(crate) codec: Codec,
    pub(crate) bits: u32,
    pub(crate) crf: f64,
    pub(crate) full_range: bool,
    pub(crate) matrix: Matrix,
    pub(crate) siting: Siting,
    /// Clockwise turn that the player is told to make: 0, 90, 180 or 270.
    pub(crate) rotation_deg: u32,
    /// Frames leave the regular beat by up to this much.
    pub(crate) jitter_ms: f64,
    pub(crate) dropped_frames: Vec<usize>,
    pub(crate) sound: bool,
}

impl Default for Clip {
    fn default() -> Self {
        Self {
            width: 960,
            height: 540,
            fps: 60.0,
            container_fps: 0.0,
            capture_rate_in: CaptureRateIn::Nowhere,
            codec: Codec::H264,
            bits: 8,
            crf: 17.0,
            full_range: false,
            matrix: Matrix::Bt709,
            siting: Siting::Center,
            rotation_deg: 0,
            jitter_ms: 0.0,
            dropped_frames: Vec::new(),
            sound: false,
        }
    }
}

/// Where the capture rate of slow motion is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub(crate) enum CaptureRateIn {
    Nowhere,
    File,
    Sheet,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub(crate) enum Codec {
    H264,
    Hevc,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub(crate) enum Matrix {
    Bt709,
    Bt601,
}

/// Where a colour sample of a 4:2:0 picture sits among its four luma samples.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub(crate) enum Siting {
    Center,
    Left,
}
