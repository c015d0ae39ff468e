//! The fences between the folders of `src/`, held by a test: who may know whom, who may name the
//! codec library, how long a file may be, and that `DEVELOPERS.md` keeps up.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::{Path, PathBuf};

/// Each folder of `src/`, in the order of the flow, with the folders that it may use. Whoever adds a
/// folder adds a row; a row may only name rows above it, so no circle can be written down.
const MAY_USE: &[(&str, &[&str])] = &[
    ("texts", &[]),
    ("clip", &[]),
    ("colour", &[]),
    ("noise", &[]),
    ("sheet", &["texts", "colour"]),
    ("kit", &["sheet", "colour"]),
    ("sighting", &["clip", "colour", "noise"]),
    ("track", &["sighting", "colour", "noise"]),
    ("smoothing", &[]),
    ("camera", &["track", "colour", "smoothing", "noise"]),
    ("motion", &["camera", "track", "smoothing", "noise"]),
    ("findings", &["motion", "camera", "noise"]),
    (
        "priors",
        &["texts", "camera", "motion", "sheet", "track", "colour"],
    ),
    (
        "analysis",
        &["track", "camera", "motion", "findings", "priors"],
    ),
    (
        "uncertainty",
        &[
            "track", "camera", "motion", "findings", "priors", "analysis",
        ],
    ),
    (
        "two_views",
        &["clip", "noise", "findings", "analysis", "uncertainty"],
    ),
    ("verdict", &["findings", "uncertainty"]),
    ("treatments", &["sheet", "findings", "uncertainty"]),
    ("plan", &["sheet", "findings", "uncertainty", "treatments"]),
    (
        "clip_quality",
        &[
            "texts",
            "clip",
            "noise",
            "colour",
            "sighting",
            "track",
            "camera",
            "motion",
            "findings",
            "priors",
            "analysis",
            "uncertainty",
        ],
    ),
    (
        "outputs",
        &[
            "texts",
            "noise",
            "clip",
            "sheet",
            "track",
            "camera",
            "motion",
            "findings",
            "priors",
            "analysis",
            "uncertainty",
            "two_views",
            "verdict",
        ],
    ),
    (
        "comparison",
        &[
            "texts",
            "sheet",
            "findings",
            "verdict",
            "treatments",
            "outputs",
        ],
    ),
    ("plan_page", &["texts", "plan", "outputs"]),
    (
        "pipeline",
        &[
            "texts",
            "noise",
            "clip",
            "colour",
            "sheet",
            "sighting",
            "track",
            "camera",
            "motion",
            "findings",
            "priors",
            "analysis",
            "uncertainty",
            "two_views",
            "verdict",
            "clip_quality",
            "outputs",
        ],
    ),
    (
        "setup_page",
        &[
            "texts",
            "noise",
            "clip",
            "colour",
            "sheet",
            "sighting",
            "track",
            "camera",
            "priors",
            "analysis",
            "uncertainty",
            "outputs",
            "pipeline",
        ],
    ),
    (
        "station",
        &["colour", "sheet", "verdict", "outputs", "setup_page"],
    ),
];

/// What may use everything: the arguments, and the two files that name all folders.
const KNOWS_ALL: &[&str] = &["cli", "lib.rs", "main.rs"];

/// The only files directly in `src/`; everything else belongs to a stage.
const LOOSE_FILES: &[&str] = &["lib.rs", "main.rs"];

/// Stages that measure a track, or make one of what stands still: whoever shows or judges what they gave asks the
/// pipeline for it.
const MEASURING: &[&str] = &[
    "follow_at_rest(",
    "locate(",
    "estimate(",
    "analyse(",
    "with_intervals(",
];
/// Folders that show or judge what was measured, and measure nothing.
const MEASURE_NOTHING: &[&str] = &[
    "clip_quality",
    "setup_page",
    "station",
    "outputs",
    "comparison",
    "plan",
    "plan_page",
    "cli",
];

/// A file longer than this is two files.
const MAX_LINES: usize = 600;

/// A function longer than this does not fit a screen.
const MAX_FUNCTION_LINES: usize = 60;

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

/// A source file: its room (folder of `src/`, or file directly in it), depth as a module, and text.
struct Source {
    path: PathBuf,
    room: String,
    depth: usize,
    text: String,
}

/// Every `.rs` file of `src/`, by path.
#[expect(
    clippy::unwrap_used,
    reason = "a test's helper: an unreadable tree is the failure"
)]
fn sources() -> Vec<Source> {
    let mut found = BTreeMap::new();
    let src = root().join("src");
    let mut folders = vec![src.clone()];
    while let Some(folder) = folders.pop() {
        for entry in fs::read_dir(&folder).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                folders.push(path);
            } else if path.extension().is_some_and(|ending| ending == "rs") {
                let text = fs::read_to_string(&path).unwrap();
                found.insert(path.strip_prefix(&src).unwrap().to_path_buf(), text);
            }
        }
    }
    let sources: Vec<Source> = found
        .into_iter()
        .map(|(path, text)| source(path, text))
        .collect();
    assert!(
        sources.len() > 2,
        "the walk over src/ found next to nothing"
    );
    sources
}

fn source(path: PathBuf, text: String) -> Source {
    let parts: Vec<_> = path
        .iter()
        .map(|part| part.to_string_lossy().into_owned())
        .collect();
    let is_mod = parts.last().is_some_and(|name| name == "mod.rs");
    let depth = parts.len() - usize::from(is_mod);
    Source {
        room: parts[0].clone(),
        depth,
        path,
        text,
    }
}

/// First names after `crate::` (also in groups), and after enough `super::` to leave the room.
fn imports(text: &str, depth: usize) -> BTreeSet<String> {
    let code: String = text
        .lines()
        .map(|line| line.split("//").next().unwrap_or(""))
        .collect::<Vec<_>>()
        .join("\n");
    let mut names = BTreeSet::new();
    for (at, prefix) in code.match_indices("crate::") {
        let before = code[..at].chars().next_back();
        if before.is_none_or(|c| !c.is_alphanumeric() && c != '_') {
            names.extend(first_names(&code[at + prefix.len()..]));
        }
    }
    let up = "super::".repeat(depth);
    for (at, _) in code.match_indices(&up) {
        // In a module inside the file one more step stays in the room; only names of rooms count.
        let names_after = first_names(&code[at + up.len()..]);
        names.extend(names_after.into_iter().filter(|name| is_room(name)));
    }
    names
}

fn is_room(name: &str) -> bool {
    MAY_USE.iter().any(|(room, _)| *room == name) || name == "cli"
}

/// `a` of `a::b`; `a` and `c` of `{a::b, c::{d, e}}`.
fn first_names(path: &str) -> Vec<String> {
    let name = |text: &str| -> String {
        text.trim_start()
            .chars()
            .take_while(|c| c.is_alphanumeric() || *c == '_')
            .collect()
    };
    let Some(group) = path.strip_prefix('{') else {
        return vec![name(path)];
    };
    let (mut level, mut names, mut item) = (0, Vec::new(), String::new());
    for c in group.chars() {
        match c {
            '{' => level += 1,
            '}' if level == 0 => break,
            '}' => level -= 1,
            ',' if level == 0 => names.push(name(&std::mem::take(&mut item))),
            _ => item.push(c),
        }
    }
    names.push(name(&item));
    names.retain(|name| !name.is_empty());
    names
}

/// The names that a file in `room` may not use.
fn trespasses(room: &str, depth: usize, text: &str) -> Vec<String> {
    if KNOWS_ALL.contains(&room) {
        return Vec::new();
    }
    let Some((_, may_use)) = MAY_USE.iter().find(|(name, _)| *name == room) else {
        return vec![format!("(src/{room} is not in the table of this test)")];
    };
    imports(text, depth)
        .into_iter()
        .filter(|name| name != room && !may_use.contains(&name.as_str()))
        .collect()
}

/// Whether `text` names the codec library.
fn names_the_codec_library(text: &str) -> bool {
    text.to_lowercase().contains("ffmpeg")
}

#[test]
fn the_table_only_points_upstream() {
    for (row, (room, may_use)) in MAY_USE.iter().enumerate() {
        for name in *may_use {
            let above = MAY_USE[..row].iter().any(|(upstream, _)| upstream == name);
            assert!(
                above,
                "{room} may use {name}, which does not come before it"
            );
        }
    }
}

#[test]
fn imports_only_point_upstream() {
    for source in sources() {
        let wrong = trespasses(&source.room, source.depth, &source.text);
        assert!(
            wrong.is_empty(),
            "src/{} must not know {wrong:?}",
            source.path.display()
        );
    }
}

#[test]
fn src_itself_holds_no_stage() {
    let sources = sources();
    let loose: Vec<&str> = sources
        .iter()
        .map(|source| source.room.as_str())
        .filter(|room| Path::new(room).extension().is_some())
        .collect();
    assert_eq!(loose, LOOSE_FILES);
}

/// The stages that run on a track which `text` calls.
fn stages_called(text: &str) -> Vec<&'static str> {
    let calls = |stage: &str| {
        text.match_indices(stage).any(|(at, _)| {
            let before = text[..at].chars().next_back();
            before.is_none_or(|c| !c.is_alphanumeric() && c != '_' && c != '.')
                && !text[..at].ends_with("fn ")
        })
    };
    let called = MEASURING.iter().copied();
    called.filter(|stage| calls(stage)).collect()
}

#[test]
fn who_shows_or_judges_measures_nothing() {
    let sources = sources();
    let shows = |source: &&Source| MEASURE_NOTHING.contains(&source.room.as_str());
    for source in sources.iter().filter(shows) {
        let called = stages_called(&source.text);
        let path = source.path.display();
        assert!(called.is_empty(), "src/{path} calls {called:?}");
    }
    assert_eq!(
        stages_called("let best = analyse(&track, view);"),
        ["analyse("]
    );
    assert!(stages_called("session.follow(sheet); fn follow(x)").is_empty());
}

#[test]
fn only_clip_names_the_codec_library() {
    for source in sources().iter().filter(|source| source.room != "clip") {
        let path = source.path.display();
        assert!(
            !names_the_codec_library(&source.text),
            "src/{path} names it"
        );
    }
}

#[test]
fn no_source_file_is_too_long() {
    for source in sources() {
        let lines = source.text.lines().count();
        let path = source.path.display();
        assert!(
            lines <= MAX_LINES,
            "src/{path} has {lines} lines, more than {MAX_LINES}"
        );
    }
}

/// Name and lines of each function of a formatted file, from the line with `fn` to the brace that closes it at the same
/// indentation.
fn functions(text: &str) -> Vec<(String, usize)> {
    let lines: Vec<&str> = text.lines().collect();
    let length = |(at, line): (usize, &&str)| {
        let code = line.trim_start();
        let indent = &line[..line.len() - code.len()];
        let name = function_name(code)?;
        let ends = |line: &&str| {
            line.strip_prefix(indent).is_some_and(|line| {
                // The brace after a body, or the end of a trait's function without one.
                line == "}" || line.starts_with(')') && line.ends_with(';')
            })
        };
        let more = if code.ends_with([';', '}']) {
            0
        } else {
            lines[at..].iter().position(ends)?
        };
        Some((name, more + 1))
    };
    lines.iter().enumerate().filter_map(length).collect()
}

/// The name of the function that a line begins.
fn function_name(code: &str) -> Option<String> {
    let (before, after) = code.split_once("fn ")?;
    let words = before.split_whitespace();
    let qualifiers = ["const", "async", "unsafe", "extern", "\"C\""];
    let qualifies = |word: &str| word.starts_with("pub") || qualifiers.contains(&word);
    let name: String = after
        .chars()
        .take_while(|c| c.is_alphanumeric() || *c == '_')
        .collect();
    (words.into_iter().all(qualifies) && !name.is_empty()).then_some(name)
}

#[test]
fn every_function_fits_a_screen() {
    let mut too_long = Vec::new();
    let mut count = 0;
    for source in sources() {
        for (name, lines) in functions(&source.text) {
            count += 1;
            if lines > MAX_FUNCTION_LINES {
                let path = source.path.display();
                too_long.push(format!("{name} in src/{path} has {lines} lines"));
            }
        }
    }
    assert!(count > 1000, "only {count} functions were found in src/");
    assert!(
        too_long.is_empty(),
        "more than {MAX_FUNCTION_LINES} lines:\n{}",
        too_long.join("\n")
    );
}

#[test]
fn a_function_is_measured_to_its_own_brace() {
    let text = [
        "pub(super) const fn a(x: u8) -> u8 {",
        "    x",
        "}",
        "impl B {",
        "    fn c(",
        "        self,",
        "    ) {",
        "        if d {",
        "            e();",
        "        }",
        "    }",
        "    fn f();",
        "    fn g(",
        "        self,",
        "    ) -> u8;",
        "}",
        "// fn h() {",
        "let i = \"a fn j\";",
    ];
    let expected = [("a", 3), ("c", 7), ("f", 1), ("g", 3)];
    let expected = expected.map(|(name, lines)| (name.to_owned(), lines));
    assert_eq!(functions(&text.join("\n")), expected);
}

#[test]
fn the_developers_page_has_every_folder() {
    let page = fs::read_to_string(root().join("DEVELOPERS.md")).unwrap();
    let sources = sources();
    let folders: BTreeSet<&str> = sources
        .iter()
        .map(|source| source.room.as_str())
        .filter(|room| Path::new(room).extension().is_none())
        .collect();
    assert!(!folders.is_empty());
    for folder in folders {
        let row = format!("| `src/{folder}/` |");
        assert!(
            page.lines().any(|line| line.starts_with(&row)),
            "no row {row} in DEVELOPERS.md"
        );
    }
}

#[test]
fn the_developers_page_has_every_dependency() {
    let page = fs::read_to_string(root().join("DEVELOPERS.md")).unwrap();
    let manifest: toml::Table = fs::read_to_string(root().join("Cargo.toml"))
        .unwrap()
        .parse()
        .unwrap();
    for table in ["dependencies", "dev-dependencies"] {
        let names = manifest[table].as_table().unwrap();
        assert!(!names.is_empty());
        for name in names.keys() {
            let row = format!("| `{name}` |");
            assert!(
                page.lines().any(|line| line.starts_with(&row)),
                "no row {row}"
            );
        }
    }
}

#[test]
fn a_trespass_is_seen_however_it_is_written() {
    let seen = |room: &str, depth: usize, text: &str| trespasses(room, depth, text).join(" ");
    assert_eq!(seen("motion", 2, "use crate::verdict::Cause;"), "verdict");
    assert_eq!(
        seen("motion", 2, "let x = crate::outputs::csv(y);"),
        "outputs"
    );
    let group = "use crate::{camera::{Pose, Lens}, findings::Slip,\n    track, run};";
    assert_eq!(seen("motion", 2, group), "findings run");
    assert_eq!(
        seen("motion", 2, "use super::super::findings::Slip;"),
        "findings"
    );
    assert_eq!(seen("motion", 1, "use super::findings::Slip;"), "findings");
    assert_eq!(
        seen(
            "motion",
            2,
            "use crate::motion::Path; use crate::track::Track;"
        ),
        ""
    );
    assert_eq!(seen("motion", 2, "// see crate::verdict"), "");
    assert_eq!(seen("motion", 2, "use super::smoother::Smoother;"), "");
    assert_eq!(seen("clip", 2, "use crate::sheet::RunSheet;"), "sheet");
    assert_eq!(seen("cli", 2, "use crate::verdict::Cause;"), "");
    assert!(seen("attic", 2, "").contains("not in the table"));
    assert!(names_the_codec_library("use ffmpeg_next as codec;"));
    assert!(names_the_codec_library("let tool = \"FFmpeg\";"));
}
