//! What is not ours stays; what is ours is there whole, before and after, however a process ends.

use super::*;
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant, SystemTime};

/// A result with these words in its files.
fn begin(folder: &Path, words: &str, replace: bool) -> Result<NewResult, WriteError> {
    let result = NewResult::begin(folder, Kind::Run, replace, &[])?;
    result.write("summary.json", words.as_bytes())?;
    result.write("frames.csv", words.repeat(100).as_bytes())?;
    Ok(result)
}

fn write(folder: &Path, words: &str, replace: bool) -> Result<(), WriteError> {
    begin(folder, words, replace)?.finish()
}

/// What a whole result says; fails where it is torn.
fn said(folder: &Path) -> String {
    examine(folder, Kind::Run).unwrap();
    let words = fs::read_to_string(folder.join("summary.json")).unwrap();
    assert_eq!(
        fs::read_to_string(folder.join("frames.csv")).unwrap(),
        words.repeat(100)
    );
    words
}

fn names(folder: &Path) -> Vec<String> {
    let mut names: Vec<String> = fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().file_name().to_string_lossy().into_owned())
        .collect();
    names.sort();
    names
}

#[test]
fn an_old_result_is_kept_unless_asked() {
    let home = tempfile::tempdir().unwrap();
    let folder = home.path().join("deep/run");
    write(&folder, "one", false).unwrap();
    let again = write(&folder, "two", false);
    assert!(matches!(again, Err(WriteError::Exists { .. })));
    assert_eq!(said(&folder), "one");
    let result = NewResult::begin(&folder, Kind::Run, true, &[]).unwrap();
    result.write("report.html", b"new").unwrap();
    result.finish().unwrap();
    assert_eq!(names(&folder), ["gripline-contents.json", "report.html"]);
    assert_eq!(names(folder.parent().unwrap()), ["run"]);
}

#[test]
fn what_cannot_be_written_leaves_nothing() {
    let home = tempfile::tempdir().unwrap();
    let result = NewResult::begin(&home.path().join("a/b/run"), Kind::Run, false, &[]).unwrap();
    assert!(matches!(
        result.write("no/such/folder.txt", b"1"),
        Err(WriteError::Io { .. })
    ));
    drop(result);
    assert!(names(home.path()).is_empty());
}

/// Each is somebody's: refused by name, and not a byte changed.
#[test]
fn what_is_not_ours_is_never_replaced() {
    let home = tempfile::tempdir().unwrap();
    let at = |name: &str| home.path().join(name);
    let foreign = |folder: &Path, what: &str| {
        let refused = write(folder, "new", true).unwrap_err();
        assert!(matches!(refused, WriteError::NotOurs { .. }), "{refused}");
        assert!(refused.to_string().contains(what), "{refused}");
    };
    fs::write(at("file"), "mine").unwrap();
    foreign(&at("file"), "is a file");
    fs::create_dir(at("folder")).unwrap();
    fs::write(at("folder/diary.txt"), "mine").unwrap();
    foreign(&at("folder"), "`diary.txt`");
    fs::create_dir(at("clip")).unwrap();
    fs::write(at("clip/overlay.mp4"), "mine").unwrap();
    foreign(&at("clip"), "has no `gripline-contents.json`");
    write(&at("notes"), "old", false).unwrap();
    fs::write(at("notes/notes.txt"), "mine").unwrap();
    foreign(&at("notes"), "`notes.txt`");
    write(&at("changed"), "old", false).unwrap();
    fs::write(at("changed/frames.csv"), "with a column of mine").unwrap();
    foreign(&at("changed"), "`frames.csv`, which was changed");
    write(&at("nested"), "old", false).unwrap();
    fs::remove_file(at("nested/frames.csv")).unwrap();
    fs::create_dir(at("nested/frames.csv")).unwrap();
    foreign(&at("nested"), "`frames.csv`");
    let comparison = NewResult::begin(&at("evening"), Kind::Comparison, false, &[]).unwrap();
    comparison.write("comparison.csv", b"").unwrap();
    comparison.finish().unwrap();
    foreign(&at("evening"), "is a comparison, and not a measured run");

    assert_eq!(fs::read(at("file")).unwrap(), b"mine");
    assert_eq!(fs::read(at("folder/diary.txt")).unwrap(), b"mine");
    assert_eq!(fs::read(at("clip/overlay.mp4")).unwrap(), b"mine");
    assert_eq!(fs::read(at("notes/notes.txt")).unwrap(), b"mine");
    assert_eq!(
        fs::read(at("changed/frames.csv")).unwrap(),
        b"with a column of mine"
    );
    assert_eq!(names(home.path()).len(), 7, "no leftovers");
}

#[cfg(unix)]
#[test]
fn links_are_not_followed_into_what_they_point_to() {
    let home = tempfile::tempdir().unwrap();
    let at = |name: &str| home.path().join(name);
    write(&at("real"), "old", false).unwrap();
    std::os::unix::fs::symlink(at("real"), at("link")).unwrap();
    std::os::unix::fs::symlink(at("nowhere"), at("dangling")).unwrap();
    let refused = write(&at("link"), "new", true).unwrap_err();
    assert!(refused.to_string().contains("is a link"), "{refused}");
    assert!(matches!(
        write(&at("dangling"), "new", false),
        Err(WriteError::Exists { .. })
    ));
    let refused = write(&at("dangling/run"), "new", false).unwrap_err();
    let told = "is a link to a place that is not there, and no folder for results";
    assert!(refused.to_string().contains(told), "{refused}");
    assert_eq!(said(&at("real")), "old");
}

#[test]
fn what_holds_an_input_is_never_replaced() {
    let home = tempfile::tempdir().unwrap();
    let folder = home.path().join("run");
    write(&folder, "old", false).unwrap();
    // An annotated clip that is measured once more: the folder holds nothing but this tool's files.
    let input = folder.join("frames.csv");
    let refused = NewResult::begin(&folder, Kind::Run, true, &[input]).unwrap_err();
    assert!(
        matches!(refused, WriteError::HoldsInput { .. }),
        "{refused}"
    );
    assert_eq!(said(&folder), "old");
}

#[test]
fn a_name_of_dots_or_of_an_ending_alone_is_no_name() {
    let out = Path::new("out");
    for clip in ["..mp4", "...mp4", ".mp4", "a/.hidden.mp4", "..", "/", ""] {
        let refused = result_folder(out, Path::new(clip));
        assert!(matches!(refused, Err(WriteError::NoName { .. })), "{clip}");
    }
    let plain = result_folder(out, Path::new("a/-b c.1.mp4")).unwrap();
    assert_eq!(plain, Path::new("out/-b c.1"));
}

/// A file that appears in the old result at the last moment is somebody's too.
#[test]
fn a_file_that_comes_at_the_last_moment_is_kept() {
    for atomic in [true, false] {
        let home = tempfile::tempdir().unwrap();
        let folder = home.path().join("run");
        write(&folder, "old", false).unwrap();
        let late = |step: Step| {
            if step == Step::Sealed {
                fs::write(folder.join("notes.txt"), "mine").unwrap();
            }
        };
        let new = begin(&folder, "new", true).unwrap();
        let refused = new.finish_by(atomic, &late).unwrap_err();
        assert!(matches!(refused, WriteError::NotOurs { .. }), "{refused}");
        assert_eq!(fs::read(folder.join("notes.txt")).unwrap(), b"mine");
        assert_eq!(names(home.path()), ["run"]);
    }
}

#[test]
fn of_many_at_once_one_wins_and_the_others_say_so() {
    for replace in [false, true] {
        let home = tempfile::tempdir().unwrap();
        let folder = home.path().join("run");
        if replace {
            write(&folder, "old", false).unwrap();
        }
        let results: Vec<NewResult> = (0..10)
            .map(|number| begin(&folder, &format!("number {number}"), replace).unwrap())
            .collect();
        let ends: Vec<Result<(), WriteError>> = std::thread::scope(|scope| {
            let threads: Vec<_> = (results.into_iter())
                .map(|result| scope.spawn(|| result.finish()))
                .collect();
            threads.into_iter().map(|t| t.join().unwrap()).collect()
        });
        let won: Vec<usize> = (0..10).filter(|&n| ends[n].is_ok()).collect();
        assert_eq!(won.len(), 1, "{ends:?}");
        let told = ends
            .iter()
            .filter(|end| matches!(end, Err(WriteError::Meanwhile { .. })));
        assert_eq!(told.count(), 9, "{ends:?}");
        assert_eq!(said(&folder), format!("number {}", won[0]));
        assert_eq!(names(home.path()), ["run"]);
    }
}

const VICTIM: &str = "outputs::folder::tests::the_victim";
const PLACE: &str = "GRIPLINE_TEST_PLACE";
const STOP: &str = "GRIPLINE_TEST_STOP";

/// Not a test: what the tests below start and kill. It replaces a result, and stops dead at a step; or it
/// replaces it for ever.
#[test]
fn the_victim() {
    let (Ok(place), Ok(stop)) = (std::env::var(PLACE), std::env::var(STOP)) else {
        return;
    };
    let (folder, atomic) = (PathBuf::from(place), !stop.contains("stepwise"));
    for turn in 0.. {
        let stop = stop.clone();
        let words = format!("new {turn}");
        let result = begin(&folder, &words, true).unwrap();
        let reached = move |step: Step| {
            if stop.contains(&format!("{step:?}")) {
                std::process::abort();
            }
        };
        result.finish_by(atomic, &reached).unwrap();
    }
}

fn victim(folder: &Path, stop: &str) -> Child {
    Command::new(std::env::current_exe().unwrap())
        .args([VICTIM, "--exact"])
        .env(PLACE, folder)
        .env(STOP, stop)
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn()
        .unwrap()
}

/// After a process has died: the next start finds the old result or a new one, whole, and nothing else.
fn after(home: &Path, folder: &Path, about: &str) -> Vec<Recovered> {
    // One that died before it could lock its work is taken for one that is just beginning, until it is old.
    let old = SystemTime::now() - Duration::from_secs(3600);
    for name in names(home).iter().filter(|name| *name != "run") {
        fs::File::open(home.join(name))
            .and_then(|work| work.set_modified(old))
            .unwrap();
    }
    let found = recover(home);
    let words = said(folder);
    assert!(
        words == "old" || words.starts_with("new "),
        "{about}: {words}"
    );
    assert_eq!(names(home), ["run"], "{about}: leftovers");
    assert!(recover(home).is_empty(), "{about}");
    found
}

#[test]
fn a_process_killed_at_any_step_leaves_a_whole_result() {
    let steps = ["Sealed", "InPlace", "OldGone"].map(String::from);
    let stepwise =
        ["Sealed", "OldAside", "InPlace", "OldGone"].map(|step| format!("stepwise {step}"));
    let mut put_back = 0;
    for round in 0..8 {
        for stop in steps.iter().chain(&stepwise) {
            let home = tempfile::tempdir().unwrap();
            let folder = home.path().join("run");
            write(&folder, "old", false).unwrap();
            assert!(!victim(&folder, stop).wait().unwrap().success());
            let missing = !folder.exists();
            let found = after(home.path(), &folder, &format!("round {round}, {stop}"));
            let back = found
                == [Recovered::PutBack {
                    folder: folder.clone(),
                }];
            assert_eq!(missing, back, "{stop}: {found:?}");
            put_back += usize::from(back);
            // A process that lives keeps its own.
            let standing = begin(&folder, "new", true).unwrap();
            assert!(recover(home.path()).is_empty());
            standing.finish().unwrap();
        }
    }
    assert_eq!(
        put_back, 8,
        "only the step-by-step way leaves a moment without a result"
    );
}

#[cfg(unix)]
#[test]
fn a_process_killed_at_any_moment_leaves_a_whole_result() {
    for round in 0..50_u64 {
        let home = tempfile::tempdir().unwrap();
        let folder = home.path().join("run");
        write(&folder, "old", false).unwrap();
        let stop = if round % 2 == 0 {
            "never"
        } else {
            "never, stepwise"
        };
        let mut child = victim(&folder, stop);
        // Until it is at work; then a moment more that differs from round to round.
        let began = Instant::now();
        while said_or_moving(&folder) == "old" && began.elapsed() < Duration::from_secs(20) {
            std::thread::sleep(Duration::from_millis(1));
        }
        std::thread::sleep(Duration::from_micros(round * 331 % 7919));
        child.kill().unwrap();
        child.wait().unwrap();
        after(home.path(), &folder, &format!("round {round}"));
    }
}

/// What stands there just now, while another process may be at it.
fn said_or_moving(folder: &Path) -> String {
    fs::read_to_string(folder.join("summary.json")).unwrap_or_default()
}

#[test]
fn what_is_foreign_among_leftovers_comes_to_light() {
    let home = tempfile::tempdir().unwrap();
    let folder = home.path().join("run");
    write(&folder, "old", false).unwrap();
    assert!(!victim(&folder, "InPlace").wait().unwrap().success());
    let work = names(home.path())
        .into_iter()
        .find(|name| name.starts_with('.'))
        .unwrap();
    fs::write(home.path().join(&work).join("result/diary.txt"), "mine").unwrap();
    let found = recover(home.path());
    let [Recovered::Kept { folder: kept }] = &found[..] else {
        panic!("{found:?}");
    };
    assert!(found[0].words().contains("kept-by-gripline-"), "{found:?}");
    assert_eq!(fs::read(kept.join("result/diary.txt")).unwrap(), b"mine");
    assert!(recover(home.path()).is_empty());
}

#[test]
fn a_file_is_kept_unless_it_may_be_replaced() {
    let home = tempfile::tempdir().unwrap();
    let path = home.path().join("kit.pdf");
    let kit = Over::Marked {
        start: b"%PDF-",
        within: b"gripline kit",
    };
    write_whole(&path, b"%PDF-1 gripline kit one", Over::Nothing).unwrap();
    let again = write_whole(&path, b"two", Over::Nothing);
    assert!(matches!(again, Err(FileError::Exists { .. })));
    write_whole(&path, b"somebody's clip", kit).unwrap();
    let foreign = write_whole(&path, b"three", kit);
    assert!(matches!(foreign, Err(FileError::NotOurs { .. })));
    assert_eq!(fs::read(&path).unwrap(), b"somebody's clip");
    assert_eq!(names(home.path()), ["kit.pdf"]);
}

#[test]
fn what_is_no_file_is_refused_and_nothing_is_left() {
    let home = tempfile::tempdir().unwrap();
    let folder = write_whole(home.path(), b"one", Over::Nothing);
    assert!(matches!(folder, Err(FileError::NotAFile { .. })));
    let nowhere = home.path().join("none").join("kit.pdf");
    assert!(matches!(
        write_whole(&nowhere, b"one", Over::Nothing),
        Err(FileError::Io { .. })
    ));
    assert!(names(home.path()).is_empty());
}
