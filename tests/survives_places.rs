//! Places where nothing can be written, or that are called what nobody would call them: a result that is whole, or one
//! clear error with everything as it was.
#![cfg(unix)]
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::print_stdout,
    reason = "tests fail by panicking, and say what they leave out"
)]

mod common;
mod results;

use common::{RUN, Studio};
use results::{check_told, check_whole, leftovers, names_in};
use std::ffi::{OsStr, OsString};
use std::fs;
use std::os::unix::ffi::OsStrExt;
use std::os::unix::fs::{PermissionsExt, symlink};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Output, Stdio};

/// Only the tables, so that most runs take little time.
const TABLES: [&str; 2] = ["--no-report", "--no-overlay"];

struct Home {
    studio: Studio,
    clip: PathBuf,
    sheet: PathBuf,
}

impl Home {
    fn new() -> Self {
        let studio = Studio::new();
        let clip = studio.make(&format!("{RUN} -c:v libx264"), "clip.mp4");
        let sheet = studio.path("run.toml");
        fs::write(&sheet, "[sticker]\ncolour = \"magenta\"\n").unwrap();
        Self {
            studio,
            clip,
            sheet,
        }
    }

    fn at(&self, name: impl AsRef<Path>) -> PathBuf {
        self.studio.path("").join(name)
    }

    fn command(&self, clip: &Path, out: &Path, more: &[&str]) -> Command {
        let mut command = Command::new(env!("CARGO_BIN_EXE_gripline"));
        command
            .args(["measure", "--sheet"])
            .arg(&self.sheet)
            .args((!more.iter().any(|word| word.starts_with("--draws"))).then_some("--draws=10"))
            // A folder's name may begin with a dash.
            .arg(joined("--out=", out))
            .args(more)
            .args(["--".as_ref(), clip.as_os_str()])
            .stdin(Stdio::null())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped());
        command
    }

    fn measure(&self, clip: &Path, out: &Path, more: &[&str]) -> Output {
        self.command(clip, out, more).output().unwrap()
    }

    /// A whole result, or one clear error and no trace; whether there is a result.
    #[track_caller]
    fn whole_or_refused(&self, output: &Output, result: &Path) -> bool {
        let told = String::from_utf8_lossy(&output.stderr);
        let left = leftovers(&self.at(""));
        assert!(left.is_empty(), "{left:?}: {told}");
        match output.status.code() {
            Some(0) => check_whole(result).unwrap(),
            Some(1) => check_told(&output.stderr).unwrap(),
            _ => panic!("{:?}: {told}", output.status),
        }
        output.status.success()
    }
}

fn joined(option: &str, path: &Path) -> OsString {
    let mut word = OsString::from(option);
    word.push(path);
    word
}

/// A small disk of its own; gone when dropped.
struct Disk(PathBuf);

impl Disk {
    /// `None`, said aloud, where this user may make none.
    fn new(at: PathBuf, kib: u32) -> Option<Self> {
        fs::create_dir_all(&at).unwrap();
        let made = Command::new("mount")
            .args(["-t", "tmpfs", "-o", &format!("size={kib}k"), "none"])
            .arg(&at)
            .stderr(Stdio::null())
            .status();
        if made.is_ok_and(|made| made.success()) {
            return Some(Self(at));
        }
        println!("left out: making a small disk takes the rights of root");
        None
    }

    fn make_read_only(&self) {
        let made = Command::new("mount")
            .args(["-o", "remount,ro"])
            .arg(&self.0)
            .status();
        assert!(made.unwrap().success());
    }
}

impl Drop for Disk {
    fn drop(&mut self) {
        Command::new("umount").arg("-l").arg(&self.0).status().ok();
    }
}

#[test]
fn a_full_disk_keeps_the_old_result_and_is_told() {
    let home = Home::new();
    let (mut refused, mut written) = (0, 0);
    for kib in [24, 48, 96, 4000] {
        let Some(disk) = Disk::new(home.at("disk"), kib) else {
            return;
        };
        let result = disk.0.join("clip");
        let first = home.measure(&home.clip, &disk.0, &TABLES);
        let had = home.whole_or_refused(&first, &result);
        let old = fs::read(result.join("summary.json")).ok();
        let more = ["--no-overlay", "--no-poster", "--replace"];
        let output = home.measure(&home.clip, &disk.0, &more);
        if home.whole_or_refused(&output, &result) {
            written += 1;
        } else {
            refused += 1;
            let told = String::from_utf8_lossy(&output.stderr);
            assert!(told.contains("the disk is not full"), "{told}");
            assert_eq!(fs::read(result.join("summary.json")).ok(), old);
            assert_eq!(had, result.exists());
            // What was there is whole as well.
            assert!(!had || check_whole(&result).is_ok());
        }
        let kit = Command::new(env!("CARGO_BIN_EXE_gripline"))
            .args(["kit", "--out"])
            .arg(disk.0.join("kit.pdf"))
            .output()
            .unwrap();
        assert_eq!(kit.status.success(), disk.0.join("kit.pdf").exists());
        assert!(leftovers(&disk.0).is_empty());
    }
    assert!(
        refused > 0 && written > 0,
        "{refused} refused, {written} written"
    );
}

#[test]
fn a_folder_that_cannot_be_written_to_is_told() {
    let home = Home::new();
    let disk = Disk::new(home.at("disk"), 1000);
    let folder = home.at("disk/locked");
    fs::create_dir_all(&folder).unwrap();
    match &disk {
        Some(disk) => disk.make_read_only(),
        None => fs::set_permissions(&folder, fs::Permissions::from_mode(0o555)).unwrap(),
    }
    if fs::write(folder.join("probe"), "").is_ok() {
        println!(
            "left out: this user may write anywhere, and may make no disk that cannot be written to"
        );
        return;
    }
    for out in [folder.clone(), folder.join("new"), folder.join("new/below")] {
        let output = home.measure(&home.clip, &out, &TABLES);
        assert!(!home.whole_or_refused(&output, &out), "{out:?}");
        let told = String::from_utf8_lossy(&output.stderr);
        assert!(told.contains("could not be written"), "{told}");
    }
    assert!(names_in(&folder).is_empty());
}

#[test]
fn links_are_followed_to_folders_and_never_written_over() {
    let home = Home::new();
    fs::create_dir(home.at("real")).unwrap();
    symlink(home.at("real"), home.at("link")).unwrap();
    let output = home.measure(&home.clip, &home.at("link"), &TABLES);
    assert!(home.whole_or_refused(&output, &home.at("real/clip")));
    // A result that is a link is somebody's, however good it is.
    fs::create_dir(home.at("o")).unwrap();
    symlink(home.at("real/clip"), home.at("o/clip")).unwrap();
    let output = home.measure(
        &home.clip,
        &home.at("o"),
        &["--no-report", "--no-overlay", "--replace", "--draws=11"],
    );
    assert!(!home.whole_or_refused(&output, &home.at("o/clip")));
    assert!(String::from_utf8_lossy(&output.stderr).contains("is a link"));
    check_whole(&home.at("real/clip")).unwrap();
    // A link that leads to itself.
    symlink("round", home.at("round")).unwrap();
    let output = home.measure(&home.clip, &home.at("round"), &TABLES);
    assert!(!home.whole_or_refused(&output, &home.at("round/clip")));
    let output = home.measure(&home.at("round"), &home.at("o2"), &TABLES);
    assert!(!home.whole_or_refused(&output, &home.at("o2/round")));
    // A file where a folder is wanted, at any height.
    fs::write(home.at("file"), "mine").unwrap();
    for out in ["file", "file/below", "file/below/more"] {
        let output = home.measure(&home.clip, &home.at(out), &TABLES);
        assert!(!home.whole_or_refused(&output, &home.at(out)), "{out}");
    }
    assert_eq!(fs::read(home.at("file")).unwrap(), b"mine");
}

/// Names that file systems allow (POSIX: any bytes but `/` and zero, 255 of them).
fn odd_names() -> Vec<OsString> {
    let long = "o".repeat(255);
    let texts = [
        "with spaces",
        "line\nend",
        "-out",
        "--out=x",
        "...",
        "~",
        "%d",
        "'\"\\",
        "\u{202e}tuo",
        &long,
    ];
    let bytes: [&[u8]; 3] = [b"not\xffutf8", b"\xed\xa0\x80", b"tab\t\x1b[31m"];
    let texts = texts.into_iter().map(OsString::from);
    texts
        .chain(bytes.map(|bytes| OsStr::from_bytes(bytes).to_owned()))
        .collect()
}

#[test]
fn folders_of_any_name_hold_results() {
    let home = Home::new();
    for name in odd_names() {
        let out = home.at(&name);
        let output = home.measure(&home.clip, &out, &TABLES);
        let result = out.join("clip");
        assert!(
            home.whole_or_refused(&output, &result),
            "{name:?}: {output:?}"
        );
        let told = String::from_utf8(output.stdout).unwrap();
        assert!(
            !told.contains(|c: char| c.is_control() && c != '\n'),
            "{told:?}"
        );
    }
}

#[test]
fn clips_and_sheets_of_any_name_are_read() {
    let mut home = Home::new();
    for (number, name) in odd_names().into_iter().enumerate() {
        let mut file = name.clone().as_bytes().to_vec();
        file.truncate(251);
        file.extend(b".mp4");
        let clip = home.at("clips").join(OsStr::from_bytes(&file));
        fs::create_dir_all(home.at("clips")).unwrap();
        fs::copy(&home.clip, &clip).unwrap();
        let short = OsStr::from_bytes(&name.as_bytes()[..name.len().min(240)]);
        let sheet = home.at(joined("sheet", Path::new(short)));
        fs::copy(&home.sheet, &sheet).unwrap();
        home.sheet = sheet;
        let out = home.at(format!("out{number}"));
        let output = home.measure(&clip, &out, &TABLES);
        let hidden = file.starts_with(b".");
        let result = out.join(clip.file_stem().unwrap());
        assert_eq!(
            home.whole_or_refused(&output, &result),
            !hidden,
            "{name:?}: {output:?}"
        );
    }
}

#[test]
fn everything_is_written_in_a_folder_whose_name_is_no_text() {
    let home = Home::new();
    let out = home.at(OsStr::from_bytes(b"not\xffutf8"));
    let output = home.measure(&home.clip, &out, &[]);
    assert!(
        home.whole_or_refused(&output, &out.join("clip")),
        "{output:?}"
    );
    assert!(out.join("clip/overlay.mp4").is_file());
}

#[test]
fn of_two_clips_of_one_name_one_gets_the_folder() {
    let home = Home::new();
    let clips = ["a", "b"].map(|folder| {
        fs::create_dir(home.at(folder)).unwrap();
        let clip = home.at(folder).join("clip.mp4");
        fs::copy(&home.clip, &clip).unwrap();
        clip
    });
    let out = home.at("o");
    for replace in [false, true] {
        let more: &[&str] = if replace {
            &["--no-report", "--no-overlay", "--replace", "--draws=12"]
        } else {
            &TABLES
        };
        let running = clips
            .each_ref()
            .map(|clip| home.command(clip, &out, more).spawn().unwrap());
        let ended = running.map(|child: Child| child.wait_with_output().unwrap());
        let won = ended
            .iter()
            .filter(|output| output.status.success())
            .count();
        // One that comes late finds a result of the same clip and sheet, or one that it may replace.
        assert!(won >= 1, "{ended:?}");
        for output in ended.iter().filter(|output| !output.status.success()) {
            check_told(&output.stderr).unwrap();
        }
        check_whole(&out.join("clip")).unwrap();
        assert!(leftovers(&home.at("")).is_empty());
    }
}
