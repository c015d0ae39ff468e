//! Clips as phones make them come out right: times, turns, depths, edit lists.

mod common;

use common::{Studio, counting, ffmpeg, number_of, read, set_matrix, times};
use gripline::clip::{Damage, Frame, Matrix, QuarterTurn, sha256_of_file};
use std::path::Path;

/// 30 frames with B-frames out of x264: presentation times are 0, 1/30, 2/30 ... after the edit
/// list that undoes the reordering delay; a file parsed box by box and read with ffprobe says so.
#[test]
fn times_with_b_frames_are_thirtieths_in_order() {
    let studio = Studio::new();
    let words = counting(30) + " -c:v libx264 -bf 2 -b_strategy 0 -qp 10";
    let (frames, clip) = read(&studio.make(&words, "b.mp4"));
    let wanted: Vec<f64> = (0..30).map(|n| f64::from(n) / 30.0).collect();
    assert_eq!(times(&frames), wanted);
    let numbers: Vec<i32> = frames.iter().map(number_of).collect();
    assert_eq!(numbers, (0..30).collect::<Vec<_>>());
    assert_eq!(clip.damage(), []);

    let info = clip.info();
    assert_eq!((info.width_px, info.height_px), (64, 48));
    assert_eq!(
        (info.codec.as_str(), info.pixel_format.as_str()),
        ("h264", "yuv420p")
    );
    assert_eq!((info.frame_count_hint, info.bit_depth), (Some(30), 8));
    assert_eq!(info.nominal_fps, Some(30.0));
    assert!(!info.has_audio && info.capture_fps.is_none());
    assert!(info.coding.matrix_assumed && info.coding.matrix == Matrix::Bt601);
    assert!(info.coding.range_assumed && !info.coding.full_range);
    assert_eq!(frames[7].index, 7);
}

/// "29.97" is 30000/1001: frame 100 at 3.336667 s, as read from a
/// packaged clip with ffprobe.
#[test]
fn times_of_thirty_over_1001_are_exact() {
    let studio = Studio::new();
    let words = "-f lavfi -i color=gray:s=64x48:r=30000/1001 -frames:v 120 -c:v libx264";
    let (frames, _) = read(&studio.make(words, "ntsc.mp4"));
    assert_eq!(frames.len(), 120);
    assert_eq!(frames[100].time_s, 100_100.0 / 30_000.0);
    assert!((frames[100].time_s - 3.336_667).abs() < 1e-6);
}

#[test]
fn uneven_frame_times_are_kept_as_they_are() {
    let studio = Studio::new();
    let words = "-f lavfi -i color=gray:s=64x48:r=30,settb=1/30000,\
                 setpts=N*1000+17*eq(N\\,2)+1000*gte(N\\,3) -frames:v 5 -fps_mode passthrough \
                 -enc_time_base 1/30000 -video_track_timescale 30000 -c:v libx264 -bf 0";
    let (frames, _) = read(&studio.make(words, "uneven.mov"));
    let ticks: Vec<i64> = frames.iter().map(|frame| frame.pts_ticks).collect();
    assert_eq!(ticks, [0, 1000, 2017, 4000, 5000]);
    let wanted = [0.0, 1000.0, 2017.0, 4000.0, 5000.0].map(|tick| tick / 30_000.0);
    assert_eq!(times(&frames), wanted);
}

/// The upright luma plane, through the picture's own coordinate mapping.
fn upright_luma(frame: &Frame, width: u32, height: u32) -> Vec<u8> {
    let picture = &frame.picture;
    let mut luma = Vec::new();
    for v in 0..height {
        for u in 0..width {
            let (stored_u, stored_v) = picture.stored(f64::from(u), f64::from(v));
            assert_eq!(
                picture.upright(stored_u, stored_v),
                (f64::from(u), f64::from(v))
            );
            luma.push(picture.y().row(stored_v as usize)[stored_u as usize]);
        }
    }
    luma
}

/// Matrices from the `QuickTime` File Format written into the track header; the upright picture is
/// the one that the ffmpeg command makes of the same file, and the marked corner is where it must be.
#[test]
fn the_four_turns_stand_upright() {
    let studio = Studio::new();
    let words = "-f lavfi -i color=black:s=64x48:r=30,drawbox=0:0:16:8:white:fill -frames:v 2 \
                 -c:v libx264 -qp 0 -pix_fmt yuv420p";
    let rows = [
        ((1, 0, 0, 1), QuarterTurn::None, (64, 48), (4, 4)),
        ((0, 1, -1, 0), QuarterTurn::Clockwise90, (48, 64), (43, 4)),
        ((-1, 0, 0, -1), QuarterTurn::Half, (64, 48), (59, 43)),
        ((0, -1, 1, 0), QuarterTurn::Clockwise270, (48, 64), (4, 59)),
    ];
    for ((a, b, c, d), turn, (width, height), (marked_u, marked_v)) in rows {
        let path = studio.make(words, "turned.mp4");
        set_matrix(&path, a, b, c, d);
        let (frames, clip) = read(&path);
        assert_eq!(clip.info().turn, turn);
        assert_eq!(
            (clip.info().width_px, clip.info().height_px),
            (width, height)
        );
        assert_eq!(
            (
                frames[0].picture.stored_width(),
                frames[0].picture.stored_height()
            ),
            (64, 48)
        );
        let luma = upright_luma(&frames[0], width, height);
        let at = |u: u32, v: u32| luma[(v * width + u) as usize];
        assert_eq!(at(marked_u, marked_v), 235);
        assert_eq!(at(width - 1 - marked_u, height - 1 - marked_v), 16);
        assert_eq!(luma, &planes_by_command(&path, "yuv420p")[..luma.len()]);
    }
}

/// First frame as the ffmpeg command decodes it, planes one after another.
fn planes_by_command(path: &Path, pixel_format: &str) -> Vec<u8> {
    let input = path.display().to_string().replace(' ', "%");
    let words = format!("-i {input} -frames:v 1 -f rawvideo -pix_fmt {pixel_format}");
    ffmpeg(&words, Path::new("-"))
}

#[test]
fn ten_bit_hevc_comes_out_with_eight_bits() {
    let studio = Studio::new();
    let words = "-f lavfi -i testsrc2=s=128x96:r=30 -frames:v 3 -c:v libx265 -tag:v hvc1 \
                 -pix_fmt yuv420p10le -x265-params log-level=none:chromaloc=2 \
                 -colorspace bt2020nc -color_range tv";
    let path = studio.make(words, "deep.mov");
    let (frames, clip) = read(&path);
    let info = clip.info();
    assert_eq!((info.codec.as_str(), info.bit_depth), ("hevc", 10));
    assert_eq!(info.pixel_format, "yuv420p10le");
    assert_eq!(info.coding.matrix, Matrix::Bt2020);
    assert!(!info.coding.matrix_assumed && !info.coding.range_assumed);
    // Location 2 of ITU-T H.265 annex E is the top-left luma sample.
    let chroma = frames[0].picture.chroma();
    assert_eq!((chroma.offset_u_px, chroma.offset_v_px), (0.0, 0.0));
    assert!(!chroma.assumed);

    let deep = planes_by_command(&path, "yuv420p10le");
    let nearest = deep.chunks_exact(2).map(|pair| {
        let code = u16::from_le_bytes([pair[0], pair[1]]);
        ((f64::from(code) / 4.0).round() as u32).min(255) as u8
    });
    let picture = &frames[0].picture;
    let got: Vec<u8> = [picture.y(), picture.cb(), picture.cr()]
        .iter()
        .flat_map(|plane| plane.iter().copied().collect::<Vec<_>>())
        .collect();
    assert_eq!(got, nearest.collect::<Vec<_>>());
    assert!(got.iter().any(|code| *code != got[0]));
}

/// Motion JPEG allows odd sizes; its colour samples sit in the middle of the luma samples.
#[test]
fn odd_sizes_keep_their_last_row_and_column() {
    let studio = Studio::new();
    let words = "-f lavfi -i testsrc2=s=64x48:r=30,crop=33:21:0:0:exact=1 -frames:v 2 \
                 -c:v mjpeg -pix_fmt yuvj420p";
    let path = studio.make(words, "odd.mov");
    let (frames, clip) = read(&path);
    assert_eq!((clip.info().width_px, clip.info().height_px), (33, 21));
    assert!(clip.info().coding.full_range);
    let picture = &frames[0].picture;
    assert_eq!(picture.cb().dim(), (11, 17));
    assert_eq!(picture.chroma().offset_u_px, 0.5);
    let got: Vec<u8> = [picture.y(), picture.cb(), picture.cr()]
        .iter()
        .flat_map(|plane| plane.iter().copied().collect::<Vec<_>>())
        .collect();
    assert_eq!(got, planes_by_command(&path, "yuvj420p"));
}

#[test]
fn frames_before_the_edit_list_are_not_delivered() {
    let studio = Studio::new();
    let words = counting(60) + " -c:v libx264 -g 60 -bf 2 -qp 10";
    let whole = studio.make(&words, "whole.mp4");
    let input = whole.display();
    let cut = studio.make(&format!("-ss 0.5 -i {input} -c copy"), "cut.mp4");
    let (frames, clip) = read(&cut);
    let numbers: Vec<i32> = frames.iter().map(number_of).collect();
    assert_eq!(numbers, (15..60).collect::<Vec<_>>());
    assert_eq!(frames[0].time_s, 0.0);
    assert!((frames[44].time_s - 44.0 / 30.0).abs() < 1e-9);
    assert_eq!(clip.info().frame_count_hint, Some(45));
    assert_eq!(clip.damage(), []);
}

#[test]
fn a_delayed_start_leaves_times_from_the_first_frame() {
    let studio = Studio::new();
    let path = studio.make(
        &counting(6).replace("-f lavfi", "-itsoffset 0.7 -f lavfi"),
        "late.mp4",
    );
    let (frames, clip) = read(&path);
    let wanted: Vec<f64> = (0..6).map(|n| f64::from(n) / 30.0).collect();
    for (time_s, wanted_s) in times(&frames).iter().zip(&wanted) {
        assert!((time_s - wanted_s).abs() < 1e-12);
    }
    assert_eq!(frames.len(), 6);
    assert_eq!(clip.damage(), []);
}

/// The `QuickTime` File Format's own example of an edit list: a first part, then all of it.
#[test]
fn an_edit_list_that_repeats_is_reported() {
    let studio = Studio::new();
    let words = counting(30) + " -c:v libx264 -bf 0 -g 5";
    let path = studio.make(&words, "again.mp4");
    let mut bytes = std::fs::read(&path).unwrap();
    let list = common::box_place(&bytes, *b"elst");
    assert_eq!(bytes[list..list + 8], [0, 0, 0, 0, 0, 0, 0, 1]);
    bytes[list + 7] = 2;
    // 400 ms from media time 0 at speed 1, in front of the entry that shows everything. The header
    // is at the file's end, so nothing else moves.
    let first = [400_u32, 0, 0x1_0000].map(u32::to_be_bytes).concat();
    bytes.splice(list + 8..list + 8, first);
    for kind in [*b"elst", *b"edts", *b"trak", *b"moov"] {
        let at = common::box_place(&bytes, kind) - 8;
        let size = u32::from_be_bytes(bytes[at..at + 4].try_into().unwrap()) + 12;
        bytes[at..at + 4].copy_from_slice(&size.to_be_bytes());
    }
    std::fs::write(&path, bytes).unwrap();
    let (frames, clip) = read(&path);
    assert!(frames.len() > 30);
    assert_eq!(clip.damage(), [Damage::RepeatedSegments]);
}

/// What phones write, in rows of codec, pixel format, range, rate, container.
#[test]
fn codecs_depths_ranges_rates_and_containers_come_out_alike() {
    let studio = Studio::new();
    let x265 = "libx265 -tag:v hvc1 -x265-params log-level=none:lossless=1";
    let x264 = "libx264 -qp 0";
    let rows = [
        (x264, "yuv420p", "tv", 24, "mp4"),
        (x264, "yuv420p", "pc", 240, "mov"),
        (x264, "yuv420p10le", "tv", 60, "mp4"),
        (x265, "yuv420p", "tv", 120, "mp4"),
        (x265, "yuv420p", "pc", 25, "mov"),
        (x265, "yuv420p10le", "tv", 240, "mov"),
        (x265, "yuv420p10le", "pc", 30, "mp4"),
    ];
    for (codec, pixels, range, rate, ending) in rows {
        let row = format!("{codec} {pixels} {range} {rate} {ending}");
        // The same code at twice the depth is four times as large: lossless either way.
        let scale = if pixels.ends_with("10le") { 4 } else { 1 };
        let words = format!(
            "-f lavfi -i color=black:s=64x48:r={rate},format={pixels},\
             geq=lum={scale}*(16+3*N):cb={scale}*128:cr={scale}*128 -frames:v 12 -c:v {codec} \
             -pix_fmt {pixels} -color_range {range} -colorspace bt709"
        );
        let (frames, clip) = read(&studio.make(&words, &format!("row.{ending}")));
        let numbers: Vec<i32> = frames.iter().map(number_of).collect();
        assert_eq!(numbers, (0..12).collect::<Vec<_>>(), "{row}");
        for (n, time_s) in times(&frames).into_iter().enumerate() {
            let wanted = n as f64 / f64::from(rate);
            assert!((time_s - wanted).abs() < 1e-9, "{row}: {time_s}");
        }
        let info = clip.info();
        assert_eq!(info.coding.full_range, range == "pc", "{row}");
        assert!(!info.coding.range_assumed, "{row}");
        assert_eq!(info.bit_depth, if scale == 4 { 10 } else { 8 }, "{row}");
        assert_eq!(clip.damage(), [], "{row}");
    }
}

#[test]
fn dropped_frames_leave_a_gap_in_the_times() {
    let studio = Studio::new();
    let words = "-f lavfi -i color=black:s=64x48:r=60,format=yuv420p,geq=lum=16+3*N:cb=128:cr=128,\
                 select=not(between(n\\,7\\,11)) -frames:v 20 -fps_mode passthrough -c:v libx264 -qp 0";
    let (frames, clip) = read(&studio.make(words, "gap.mp4"));
    let kept: Vec<i32> = (0..25).filter(|n| !(7..=11).contains(n)).collect();
    assert_eq!(frames.iter().map(number_of).collect::<Vec<_>>(), kept);
    for (time_s, n) in times(&frames).iter().zip(&kept) {
        assert!(
            (time_s - f64::from(*n) / 60.0).abs() < 1e-4,
            "{n}: {time_s}"
        );
    }
    assert_eq!(clip.damage(), []);
}

#[test]
fn the_largest_pictures_are_read_upright() {
    let studio = Studio::new();
    let words =
        "-f lavfi -i color=gray:s=3840x2160:r=60 -frames:v 2 -c:v libx264 -preset ultrafast";
    let path = studio.make(words, "large.mp4");
    set_matrix(&path, 0, 1, -1, 0);
    let (frames, clip) = read(&path);
    assert_eq!(frames.len(), 2);
    let info = clip.info();
    assert_eq!((info.width_px, info.height_px), (2160, 3840));
    assert_eq!(info.turn, QuarterTurn::Clockwise90);
}

#[test]
fn the_capture_rate_and_sound_are_noticed() {
    let studio = Studio::new();
    let words = "-f lavfi -i color=gray:s=64x48:r=30 -f lavfi -i sine=d=1 -t 0.5 -c:v libx264 \
                 -movflags use_metadata_tags -metadata com.android.capture.fps=240.000000";
    let (_, clip) = read(&studio.make(words, "slow.mp4"));
    assert_eq!(clip.info().capture_fps, Some(240.0));
    assert!(clip.info().has_audio);
}

#[test]
fn one_frame_is_a_clip() {
    let studio = Studio::new();
    let (frames, clip) = read(&studio.make(&counting(1), "one.mp4"));
    assert_eq!(times(&frames), [0.0]);
    assert_eq!(clip.damage(), []);
}

#[test]
fn odd_file_names_are_only_names() {
    let studio = Studio::new();
    let made = studio.make(&counting(3), "plain.mp4");
    let print = sha256_of_file(&made).unwrap();
    for name in ["http:run 1 %d.mp4", "-x é.MOV"] {
        let path = studio.path(name);
        std::fs::copy(&made, &path).unwrap();
        assert_eq!(read(&path).0.len(), 3);
        assert_eq!(sha256_of_file(&path).unwrap(), print);
    }
}

/// `creation_time` of MP4 (ISO/IEC 14496-12, seconds since 1904) comes out as ISO 8601 in UTC; a clock that was
/// never set tells nothing.
#[test]
fn a_clip_tells_when_it_was_made() {
    let studio = Studio::new();
    let made = |time: &str, name: &str| {
        let words = format!(
            "{} -metadata creation_time={time} -c:v libx264",
            counting(3)
        );
        read(&studio.make(&words, name)).1.info().filmed.clone()
    };
    let filmed = made("2026-05-09T17:30:00Z", "may.mp4");
    assert_eq!(filmed.as_deref(), Some("2026-05-09T17:30:00.000000Z"));
    assert_eq!(made("1970-01-01T00:00:01Z", "never.mp4"), None);
    let plain = studio.make(&(counting(3) + " -c:v libx264"), "plain.mp4");
    assert_eq!(read(&plain).1.info().filmed, None);
}
