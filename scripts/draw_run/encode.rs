//! Storing the clip: raw frames go through a pipe to the `ffmpeg` command.

use std::io::Write as _;
use std::path::Path;
use std::process::{Child, ChildStdin, Command, Stdio};

use anyhow::{Context, ensure};

use crate::scene::{CaptureRateIn, Codec, Matrix, Scene, Siting};
use crate::timetable::{Slot, TIMESCALE, container_fps, is_regular};

/// A running encoder.
pub(crate) struct Encoder {
    child: Child,
    pipe: ChildStdin,
}

impl Encoder {
    /// Starts an encoder for frames of the stored size.
    pub(crate) fn start(
        scene: &Scene,
        slots: &[Slot],
        (width, height): (usize, usize),
        sound: Option<&Path>,
        out: &Path,
    ) -> anyhow::Result<Self> {
        let fps = format!("{}", container_fps(scene));
        let pixels = if scene.clip.bits == 8 {
            "yuv420p"
        } else {
            "yuv420p10le"
        };
        let size = format!("{width}x{height}");
        let mut ffmpeg = Command::new("ffmpeg");
        ffmpeg.args([
            "-v", "error", "-y", "-f", "rawvideo", "-pix_fmt", pixels, "-s", &size,
        ]);
        ffmpeg
            .args(colour_tags(scene))
            .args(["-r", &fps, "-i", "-"]);
        if let Some(sound) = sound {
            ffmpeg
                .arg("-i")
                .arg(sound)
                .args(["-c:a", "aac", "-b:a", "48k"]);
        }
        ffmpeg.args(codec(scene)).args(colour_tags(scene));
        if !is_regular(scene) {
            let timescale = format!("{TIMESCALE}");
            ffmpeg.args(["-vf", &frame_times(slots), "-vsync", "vfr"]);
            ffmpeg.args(["-enc_time_base", &format!("1:{TIMESCALE}")]);
            ffmpeg.args(["-video_track_timescale", &timescale]);
        }
        if scene.clip.capture_rate_in == CaptureRateIn::File {
            ffmpeg.args(["-movflags", "use_metadata_tags", "-metadata"]);
            ffmpeg.arg(format!("com.android.capture.fps={:.1}", scene.clip.fps));
        }
        // Bit-exact: no program names or dates, so that the same scene gives the same file.
        ffmpeg.args([
            "-fflags",
            "+bitexact",
            "-flags:v",
            "+bitexact",
            "-flags:a",
            "+bitexact",
        ]);
        let mut child = ffmpeg
            .arg(out)
            .stdin(Stdio::piped())
            .spawn()
            .context("cannot start ffmpeg; is it installed?")?;
        let pipe = child.stdin.take().context("ffmpeg takes no frames")?;
        Ok(Self { child, pipe })
    }

    pub(crate) fn push(&mut self, planes: &[u8]) -> anyhow::Result<()> {
        self.pipe
            .write_all(planes)
            .context("ffmpeg stopped taking frames")
    }

    pub(crate) fn finish(self) -> anyhow::Result<()> {
        let Self { mut child, pipe } = self;
        drop(pipe);
        let status = child.wait()?;
        ensure!(status.success(), "ffmpeg failed: {status}");
        Ok(())
    }
}

fn codec(scene: &Scene) -> Vec<String> {
    let c = &scene.clip;
    let place = match c.siting {
        Siting::Left => 0,
        Siting::Center => 1,
    };
    // A fixed number of threads: the encoder's output depends on it.
    let (name, extra) = match c.codec {
        Codec::H264 => (
            "libx264",
            format!("-x264-params chromaloc={place}:threads=2"),
        ),
        Codec::Hevc => (
            "libx265",
            format!("-x265-params chromaloc={place}:log-level=error:pools=2 -tag:v hvc1"),
        ),
    };
    format!("-c:v {name} -preset slow -crf {} -g 120 {extra}", c.crf)
        .split(' ')
        .map(String::from)
        .collect()
}

fn colour_tags(scene: &Scene) -> [&'static str; 10] {
    let range = if scene.clip.full_range { "pc" } else { "tv" };
    let place = match scene.clip.siting {
        Siting::Left => "left",
        Siting::Center => "center",
    };
    let (space, primaries, transfer) = match scene.clip.matrix {
        Matrix::Bt709 => ("bt709", "bt709", "bt709"),
        Matrix::Bt601 => ("smpte170m", "smpte170m", "smpte170m"),
    };
    [
        "-colorspace",
        space,
        "-color_primaries",
        primaries,
        "-color_trc",
        transfer,
        "-color_range",
        range,
        "-chroma_sample_location",
        place,
    ]
}

/// A filter that gives each frame its own time. The terms stand in brackets by the dozen: ffmpeg nests
/// a long sum more deeply than it allows.
fn frame_times(slots: &[Slot]) -> String {
    let term = |(n, slot): (usize, &Slot)| format!("eq(N\\,{n})*{}", slot.pts_ticks);
    let terms: Vec<String> = slots.iter().enumerate().map(term).collect();
    let groups: Vec<String> = terms
        .chunks(12)
        .map(|g| format!("({})", g.join("+")))
        .collect();
    format!("settb=1/{TIMESCALE},setpts='{}'", groups.join("+"))
}

/// Tells the player how to turn the stored picture, clockwise.
pub(crate) fn mark_rotation(clip: &Path, rotation_deg: u32) -> anyhow::Result<()> {
    if rotation_deg == 0 {
        return Ok(());
    }
    let turned = clip.with_extension("turned.mp4");
    // ffmpeg counts this tag anticlockwise.
    let tag = format!("rotate={}", 360 - rotation_deg);
    let status = Command::new("ffmpeg")
        .args(["-v", "error", "-y", "-i"])
        .arg(clip)
        .args(["-map", "0", "-c", "copy", "-metadata:s:v:0", &tag])
        .args(["-movflags", "use_metadata_tags", "-fflags", "+bitexact"])
        .arg(&turned)
        .status()?;
    ensure!(
        status.success(),
        "ffmpeg could not write the rotation: {status}"
    );
    let written = anticlockwise_deg(&turned)?;
    ensure!(
        (written + rotation_deg.cast_signed()).rem_euclid(360) == 0,
        "this ffmpeg wrote a turn of {written} degrees anticlockwise for {rotation_deg} clockwise"
    );
    std::fs::rename(&turned, clip)?;
    Ok(())
}

/// The turn that a file asks for.
fn anticlockwise_deg(clip: &Path) -> anyhow::Result<i32> {
    let output = Command::new("ffprobe")
        .args([
            "-v",
            "error",
            "-select_streams",
            "v:0",
            "-of",
            "default=nw=1:nk=1",
        ])
        .args(["-show_entries", "stream_side_data=rotation"])
        .arg(clip)
        .output()
        .context("cannot start ffprobe")?;
    let text = String::from_utf8(output.stdout)?;
    text.trim()
        .parse()
        .with_context(|| format!("ffprobe tells no rotation: {text:?}"))
}
