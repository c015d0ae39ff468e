//! Broken, cut and unsuitable files: one clear error, or what can be read with its damage told.

mod common;

use common::{Studio, box_place, counting, number_of, read, refusal, set_matrix};
use gripline::clip::{Clip, ClipError, Damage};

#[test]
fn each_unsuitable_file_has_its_own_error_with_path_and_hint() {
    let studio = Studio::new();
    let write = |name: &str, bytes: &[u8]| {
        let path = studio.path(name);
        std::fs::write(&path, bytes).unwrap();
        path
    };
    let folder = studio.path("folder.mp4");
    std::fs::create_dir(&folder).unwrap();
    let sound = studio.make("-f lavfi -i sine=d=0.2", "sound.mp4");
    let whole = std::fs::read(studio.make(&counting(30), "whole.mp4")).unwrap();
    let header = box_place(&whole, *b"moov");
    let deep = studio.make(&(counting(2) + " -c:v png -pix_fmt rgb24"), "rgb.mov");
    let rows = [
        (studio.path("none.mp4"), "no such file"),
        (folder, "is a directory"),
        (write("empty.mp4", b""), "is empty"),
        (
            write("text.mp4", b"run 3, bare wheels, 14:05\n"),
            "not an MP4 or MOV video",
        ),
        (
            write("noise.mp4", &whole[200..header - 4]),
            "not an MP4 or MOV video",
        ),
        (sound, "only sound"),
        (write("cut.mp4", &whole[..header - 8]), "no movie header"),
        (write("cut2.mp4", &whole[..header + 90]), "no movie header"),
        (deep, "stores its pictures as rgb"),
    ];
    for (path, wanted) in rows {
        let error = Clip::open(&path).err().expect(wanted);
        let message = error.to_string();
        assert!(message.contains(wanted), "{message}");
        assert!(message.contains(&path.display().to_string()), "{message}");
        assert!(error.hint().len() > 20);
    }
}

#[test]
fn mirrored_and_skewed_pictures_are_refused() {
    let studio = Studio::new();
    let path = studio.make(&counting(2), "mirror.mp4");
    set_matrix(&path, -1, 0, 0, 1);
    let error = refusal(&path);
    assert!(matches!(error, ClipError::NotUprightAble { .. }));
    assert!(error.to_string().contains("mirrored"), "{error}");
    set_matrix(&path, 1, 1, -1, 1);
    let error = refusal(&path);
    assert!(error.to_string().contains("tilted by 45.0"), "{error}");
}

#[test]
fn interlaced_pictures_are_refused() {
    let studio = Studio::new();
    let words = counting(6) + " -vf setfield=tff -c:v libx264 -flags +ilme+ildct";
    let error = refusal(&studio.make(&words, "fields.mp4"));
    assert!(matches!(error, ClipError::Interlaced { .. }), "{error}");
}

#[test]
fn a_clip_cut_in_its_data_gives_what_decodes() {
    let studio = Studio::new();
    let words = "-f lavfi -i testsrc2=s=160x120:r=30 -frames:v 60 -c:v libx264 -bf 2 \
                 -movflags +faststart";
    let path = studio.make(words, "whole.mp4");
    let (whole, clip) = read(&path);
    assert_eq!((whole.len(), clip.damage()), (60, &[][..]));

    let bytes = std::fs::read(&path).unwrap();
    let cut = studio.path("cut.mp4");
    let kept = bytes.len() * 6 / 10;
    std::fs::write(&cut, &bytes[..kept]).unwrap();
    let (frames, clip) = read(&cut);
    assert!(frames.len() > 5 && frames.len() < 58, "{}", frames.len());
    for (frame, original) in frames.iter().zip(&whole) {
        assert_eq!(frame.time_s, original.time_s);
        assert_eq!(
            frame.picture.y().row(60),
            original.picture.y().row(60),
            "frame {} is not the original's",
            frame.index
        );
    }
    let missing_bytes = (bytes.len() - kept) as u64;
    assert!(clip.damage().contains(&Damage::Truncated { missing_bytes }));
    let fewer = clip.damage().iter().any(|damage| {
        matches!(damage, Damage::FewerFrames { promised: 60, decoded }
            if *decoded >= frames.len() as u64 && *decoded < 58)
    });
    assert!(fewer, "{:?}", clip.damage());
}

#[test]
fn broken_packets_are_counted_and_decoding_goes_on() {
    let studio = Studio::new();
    let words = counting(60) + " -c:v libx264 -g 10 -bf 0 -qp 10";
    let path = studio.make(&words, "holes.mp4");
    let mut bytes = std::fs::read(&path).unwrap();
    let data = box_place(&bytes, *b"mdat");
    let size = u32::from_be_bytes(bytes[data - 8..data - 4].try_into().unwrap()) as usize;
    let (from, to) = (data + size * 45 / 100, data + size * 55 / 100);
    bytes[from..to].fill(0xff);
    std::fs::write(&path, bytes).unwrap();
    let (frames, clip) = read(&path);
    assert!(frames.len() >= 40 && frames.len() < 60, "{}", frames.len());
    let last = frames.last().unwrap();
    assert_eq!(number_of(last), 59);
    assert!((last.time_s - 59.0 / 30.0).abs() < 1e-9);
    assert!(!clip.damage().is_empty());
    let spoilt = clip
        .damage()
        .iter()
        .any(|damage| matches!(damage, Damage::SpoiltFrames { .. }));
    assert!(spoilt, "{:?}", clip.damage());
    // What is delivered is true: a frame made from a lost one would show another number.
    for frame in &frames {
        assert_eq!(number_of(frame), (frame.time_s * 30.0).round() as i32);
    }
    for damage in clip.damage() {
        assert!(damage.to_string().len() > 20);
    }
}

#[test]
fn a_clip_of_which_nothing_decodes_says_so() {
    let studio = Studio::new();
    let path = studio.make(&(counting(10) + " -c:v libx264"), "void.mp4");
    let mut bytes = std::fs::read(&path).unwrap();
    let (data, header) = (box_place(&bytes, *b"mdat"), box_place(&bytes, *b"moov"));
    bytes[data..header - 8].fill(0);
    std::fs::write(&path, bytes).unwrap();
    let error = refusal(&path);
    assert!(matches!(error, ClipError::NothingDecodes { .. }), "{error}");
}

/// Six frames whose times are in two runs of three, the second with frames `second` ticks long.
#[expect(clippy::unwrap_used, reason = "a helper of tests fails the test")]
fn two_runs(studio: &Studio, second: [u8; 2]) -> std::path::PathBuf {
    let words = "-f lavfi -i color=gray:s=64x48:r=30,settb=1/30000,\
                 setpts=N*1000-500*gte(N\\,3)*(N-3) -frames:v 6 -fps_mode passthrough \
                 -enc_time_base 1/30000 -video_track_timescale 30000 -c:v libx264 -bf 0";
    let path = studio.make(words, "still.mp4");
    let mut bytes = std::fs::read(&path).unwrap();
    let times = box_place(&bytes, *b"stts") + 4;
    assert_eq!(
        bytes[times..times + 20],
        [
            0, 0, 0, 2, 0, 0, 0, 3, 0, 0, 3, 0xe8, 0, 0, 0, 3, 0, 0, 1, 0xf4
        ]
    );
    bytes[times + 18..times + 20].copy_from_slice(&second);
    std::fs::write(&path, bytes).unwrap();
    path
}

#[test]
fn frames_whose_time_does_not_increase_are_left_out() {
    let studio = Studio::new();
    let (frames, clip) = read(&two_runs(&studio, [0, 0]));
    assert!((4..6).contains(&frames.len()), "{}", frames.len());
    let left_out = clip.damage().iter().find_map(|damage| match damage {
        Damage::TimesNotIncreasing { count } => Some(*count),
        _ => None,
    });
    assert_eq!(
        left_out,
        Some(6 - frames.len() as u64),
        "{:?}",
        clip.damage()
    );
}

#[test]
fn a_clip_without_times_is_refused() {
    let studio = Studio::new();
    let words = counting(6) + " -c:v libx264 -bf 0 -video_track_timescale 30000";
    let path = studio.make(&words, "still.mp4");
    let whole = std::fs::read(&path).unwrap();
    let times = box_place(&whole, *b"stts");
    assert_eq!(whole[times + 8..times + 16], [0, 0, 0, 6, 0, 0, 3, 0xe8]);
    // One run of six frames 1000 ticks long becomes one of six with no length, or with a length of
    // 10 ticks: 3000 frames a second.
    for ticks in [[0, 0], [0, 10]] {
        let mut bytes = whole.clone();
        bytes[times + 14..times + 16].copy_from_slice(&ticks);
        std::fs::write(&path, bytes).unwrap();
        let error = refusal(&path);
        let message = error.to_string();
        assert!(matches!(error, ClipError::NoDuration { .. }), "{message}");
        assert!(message.contains("6 frames in 0.0"), "{message}");
    }
    // 1500 frames a second is fast, but there are such cameras.
    let mut bytes = whole;
    bytes[times + 14..times + 16].copy_from_slice(&[0, 20]);
    std::fs::write(&path, bytes).unwrap();
    assert_eq!(read(&path).0.len(), 6);
}
