//! Nobody loses a clip, a diary or an evening's results: what gripline did not write it does not take away, two
//! of them do not write over each other, and no name plays tricks with a terminal.
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::expect_used,
    reason = "tests fail by panicking"
)]

mod command;

use command::{fixture, gripline, text};
use std::collections::BTreeMap;
use std::ffi::OsString;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Output, Stdio};
use std::time::Duration;
use tempfile::TempDir;

struct Home(TempDir);

impl Home {
    fn new() -> Self {
        Self(tempfile::tempdir().unwrap())
    }

    fn at(&self, name: &str) -> PathBuf {
        self.0.path().join(name)
    }

    /// The clean run's clip and sheet under another name.
    fn clip(&self, name: &str) -> PathBuf {
        let clip = self.at(name);
        fs::create_dir_all(clip.parent().unwrap()).unwrap();
        fs::copy(fixture("clean", "clip.mp4"), &clip).unwrap();
        clip
    }

    fn measure(&self, clip: &Path, more: &[&str]) -> Output {
        gripline(words(clip, &self.at("o"), more))
    }

    /// Everything below the folder with its bytes; the names of folders too.
    fn all(&self) -> BTreeMap<PathBuf, Vec<u8>> {
        let mut found = BTreeMap::new();
        let mut folders = vec![self.0.path().to_path_buf()];
        while let Some(folder) = folders.pop() {
            for entry in fs::read_dir(&folder).unwrap() {
                let path = entry.unwrap().path();
                let bytes = fs::read(&path).unwrap_or_default();
                if path.is_dir() {
                    folders.push(path.clone());
                }
                found.insert(path, bytes);
            }
        }
        found
    }

    /// Runs a command that must refuse, say this, and change nothing.
    fn refused(&self, run: impl Fn() -> Output, says: &[&str]) {
        let before = self.all();
        let output = run();
        let told = text(&output.stderr);
        assert_eq!(output.status.code(), Some(1), "{told}");
        for word in says {
            assert!(told.contains(word), "{word}: {told}");
        }
        assert!(before == self.all(), "something was changed: {told}");
    }
}

fn words(clip: &Path, out: &Path, more: &[&str]) -> Vec<OsString> {
    let mut words: Vec<OsString> = vec!["measure".into(), "--sheet".into()];
    words.push(fixture("clean", "run.toml").into());
    words.extend(["--out".into(), out.into()]);
    words.extend(["--draws", "10", "--no-report", "--no-overlay"].map(OsString::from));
    words.extend(more.iter().map(OsString::from));
    // A name may begin with a dash.
    words.extend(["--".into(), clip.into()]);
    words
}

#[test]
fn a_clip_kept_in_a_folder_of_its_own_name_stays() {
    let home = Home::new();
    let clip = home.clip("o/half/half.mp4");
    fs::write(home.at("o/half/diary.txt"), "glued the left wheel again").unwrap();
    let says = ["half.mp4", "lies in it", "nothing was changed"];
    home.refused(|| home.measure(&clip, &["--replace"]), &says);
    // The same through a link from elsewhere, and as the second phone's clip.
    #[cfg(unix)]
    {
        fs::create_dir(home.at("links")).unwrap();
        std::os::unix::fs::symlink(&clip, home.at("links/half.mp4")).unwrap();
        let linked = home.at("links/half.mp4");
        home.refused(|| home.measure(&linked, &["--replace"]), &says);
    }
    let side = home.clip("side/half.mp4");
    let end = clip.to_str().unwrap();
    home.refused(
        || home.measure(&side, &["--replace", "--end-view", end]),
        &says,
    );
}

#[test]
fn what_gripline_did_not_write_is_named_and_stays() {
    let home = Home::new();
    let clip = home.clip("half.mp4");
    fs::create_dir_all(home.at("o")).unwrap();
    fs::write(home.at("o/half"), "a plain file").unwrap();
    home.refused(|| home.measure(&clip, &["--replace"]), &["is a file"]);
    fs::remove_file(home.at("o/half")).unwrap();
    assert!(home.measure(&clip, &[]).status.success());
    // An untouched result is replaced.
    assert!(home.measure(&clip, &["--replace"]).status.success());
    fs::write(home.at("o/half/notes.txt"), "mine").unwrap();
    home.refused(|| home.measure(&clip, &["--replace"]), &["`notes.txt`"]);
    fs::remove_file(home.at("o/half/notes.txt")).unwrap();
    fs::write(home.at("o/half/frames.csv"), "with a column of mine").unwrap();
    home.refused(
        || home.measure(&clip, &["--replace"]),
        &["`frames.csv`", "was changed"],
    );
}

#[test]
fn a_comparison_never_replaces_the_runs_that_it_compares() {
    let home = Home::new();
    for name in ["a.mp4", "b.mp4", "c.mp4", "d.mp4"] {
        let clip = home.clip(name);
        assert!(home.measure(&clip, &[]).status.success());
    }
    let compare = |of: &str, out: &str| {
        let (of, out) = (home.at(of), home.at(out));
        gripline([
            "compare".as_ref(),
            of.as_os_str(),
            "--by".as_ref(),
            "treatment".as_ref(),
            "--out".as_ref(),
            out.as_os_str(),
            "--replace".as_ref(),
        ])
    };
    home.refused(|| compare("o", "o"), &["lies in it"]);
    home.refused(|| compare("o", "o/a"), &["lies in it"]);
    // A run that is not compared is no comparison either.
    home.refused(
        || compare("o/b", "o/a"),
        &["a measured run", "not a comparison"],
    );
    fs::create_dir(home.at("mine")).unwrap();
    fs::write(home.at("mine/poem.txt"), "mine").unwrap();
    home.refused(|| compare("o", "mine"), &["`poem.txt`"]);
    for _ in 0..2 {
        let output = compare("o", "o/comparison");
        assert!(output.status.success(), "{}", text(&output.stderr));
    }
}

#[test]
fn a_kit_is_written_over_a_kit_and_over_nothing_else() {
    let home = Home::new();
    let clip = home.clip("half.mp4");
    let kit = |out: &Path| {
        let out = out.as_os_str();
        gripline(["kit".as_ref(), "--replace".as_ref(), "--out".as_ref(), out])
    };
    home.refused(|| kit(&clip), &["not a file that gripline wrote"]);
    fs::write(home.at("other.pdf"), b"%PDF-1.7 somebody's homework").unwrap();
    home.refused(
        || kit(&home.at("other.pdf")),
        &["not a file that gripline wrote"],
    );
    for _ in 0..2 {
        let output = kit(&home.at("kit.pdf"));
        assert!(output.status.success(), "{}", text(&output.stderr));
    }
}

fn start(clip: &Path, out: &Path, more: &[&str]) -> Child {
    Command::new(env!("CARGO_BIN_EXE_gripline"))
        .args(words(clip, out, more))
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap()
}

#[test]
fn of_ten_processes_one_wins_and_the_others_say_so() {
    let home = Home::new();
    let clip = home.clip("half.mp4");
    let children: Vec<Child> = (0..10).map(|_| start(&clip, &home.at("o"), &[])).collect();
    let mut won = 0;
    for child in children {
        let output = child.wait_with_output().unwrap();
        let told = text(&output.stderr);
        match output.status.code() {
            // On a busy machine a late one finds the winner's result, and says that it is up to date.
            Some(0) if text(&output.stdout).contains("Up to date") => {}
            Some(0) => won += 1,
            code => assert!(
                code == Some(1) && told.contains("another gripline wrote"),
                "{code:?} {told}"
            ),
        }
    }
    assert_eq!(won, 1);
    let names: Vec<_> = fs::read_dir(home.at("o")).unwrap().collect();
    assert_eq!(names.len(), 1, "leftovers");
    assert!(home.at("o/half/summary.json").is_file());
}

#[test]
fn a_killed_measurement_leaves_the_old_result_and_nothing_after_the_next_start() {
    let home = Home::new();
    let clip = home.clip("half.mp4");
    assert!(home.measure(&clip, &[]).status.success());
    for round in 0..10_u64 {
        let mut child = start(&clip, &home.at("o"), &["--replace"]);
        std::thread::sleep(Duration::from_millis(round * 97));
        child.kill().unwrap();
        child.wait().unwrap();
    }
    let output = home.measure(&clip, &[]);
    let told = text(&output.stdout);
    assert!(output.status.success(), "{}", text(&output.stderr));
    assert!(told.contains("Up to date"), "the result is whole: {told}");
    assert_eq!(fs::read_dir(home.at("o")).unwrap().count(), 1, "leftovers");
}

/// What ECMA-48 calls control functions, and line ends, come from a name only as escapes that can be read.
#[cfg(unix)]
#[test]
fn names_play_no_tricks_with_the_terminal() {
    let home = Home::new();
    let odd = "ha\u{1b}[31m\nlf\u{9b}2J.mp4";
    let clip = home.clip(odd);
    let plain = home.clip("plain.mp4");
    let sheet = fixture("clean", "run.toml");
    let check: Vec<OsString> = vec![
        "check".into(),
        clip.clone().into(),
        "--sheet".into(),
        sheet.into(),
    ];
    let mut batch = words(&clip, &home.at("batch"), &[]);
    batch.push(plain.into());
    batch.push(home.at("no\u{1b}ne\n.mp4").into());
    let outputs = [
        home.measure(&clip, &[]),
        home.measure(&clip, &[]),
        home.measure(&home.at("no\u{1b}[2Jne\n.mp4"), &[]),
        gripline(check.clone()),
        gripline(check.into_iter().chain(["--json".into()])),
        gripline(batch),
        gripline(["measure", "--no\u{1b}[2Jsuch", "x"]),
        gripline(["compare", "x", "--by", "no\u{1b}[2Jsuch"]),
        gripline(["compare".into(), home.at("no\u{1b}ne\n")]),
    ];
    for output in &outputs {
        let told = text(&output.stdout) + &text(&output.stderr);
        let control = told.chars().find(|c| c.is_control() && *c != '\n');
        assert_eq!(control, None, "{told:?}");
        assert!(!told.lines().any(|line| line.starts_with("lf")), "{told}");
    }
    let table = text(&outputs[5].stdout);
    let rows: Vec<&str> = table.lines().collect();
    assert!(rows[0].starts_with("clip "), "{table}");
    assert!(
        rows[1].starts_with("ha\\u001b[31m\\nlf\\u009b2J.mp4"),
        "{table}"
    );
    assert!(rows[2].starts_with("plain.mp4"), "{table}");
    assert!(rows[3].starts_with("no\\u001bne\\n.mp4"), "{table}");
    let json: serde_json::Value = serde_json::from_slice(&outputs[4].stdout).unwrap();
    assert_eq!(json["clip"].as_str(), clip.to_str());
}

#[test]
fn odd_names_get_a_result_in_their_own_place_or_one_clear_error() {
    let home = Home::new();
    for name in ["..mp4", "...mp4", ".mp4", ".hidden.mp4"] {
        let clip = home.clip(name);
        let says = ["cannot name a result folder", "plain file name"];
        home.refused(|| home.measure(&clip, &[]), &says);
        fs::remove_file(clip).unwrap();
    }
    let long = format!("{}.mp4", "x".repeat(251));
    for name in ["with spaces.mp4", "-x.mp4", "a..b.mp4", "=1+1.mp4", &long] {
        let clip = home.clip(name);
        let output = home.measure(&clip, &[]);
        assert!(output.status.success(), "{name}: {}", text(&output.stderr));
        let folder = home.at("o").join(clip.file_stem().unwrap());
        assert!(folder.join("summary.json").is_file(), "{name}");
    }
}

#[cfg(unix)]
#[test]
fn a_link_to_nowhere_is_called_one() {
    let home = Home::new();
    let clip = home.clip("half.mp4");
    std::os::unix::fs::symlink("nowhere", home.at("o")).unwrap();
    home.refused(
        || home.measure(&clip, &[]),
        &["is a link to a place that is not there"],
    );
    std::os::unix::fs::symlink("nowhere", home.at("lost.mp4")).unwrap();
    home.refused(
        || home.measure(&home.at("lost.mp4"), &[]),
        &["no such file", "lost.mp4"],
    );
}

/// Other containers, made by the codec library's own command, get our words and no other.
#[test]
fn other_kinds_of_file_are_called_what_they_are() {
    let home = Home::new();
    let clip = home.clip("half.mp4");
    let kinds = [
        ("half.h264", "a bare video stream"),
        ("half.avi", "an AVI file"),
        ("half.mkv", "a Matroska or WebM file"),
        ("half.ts", "an MPEG transport stream"),
        ("half.gif", "a GIF picture"),
    ];
    for (name, what) in kinds {
        let other = home.at(name);
        let made = Command::new("ffmpeg")
            .args(["-v", "error", "-t", "0.2", "-an", "-i"])
            .args([&clip, &other])
            .status()
            .unwrap();
        assert!(made.success());
        let says = [&format!("is not an MP4 or MOV video (it is {what}")[..]];
        home.refused(|| home.measure(&other, &[]), &says);
    }
    fs::write(home.at("text.mp4"), "hello").unwrap();
    home.refused(
        || home.measure(&home.at("text.mp4"), &[]),
        &["of a kind that is not known here, or damaged"],
    );
}
