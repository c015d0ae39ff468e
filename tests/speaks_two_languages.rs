//! Two languages, one measurement: both files of texts say the same things, pages of one language hold no word of the
//! other, and machine files do not change with the language.
#![allow(clippy::unwrap_used, clippy::panic, reason = "tests fail by panicking")]

mod command;

use command::{fixture, measure, text};
use gripline::colour::Colour;
use gripline::findings::Key;
use gripline::priors::Input;
use gripline::texts::{Args, Language, Texts};
use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};
use tempfile::TempDir;

/// Each message with the variables that it names.
type Messages = BTreeMap<String, BTreeSet<String>>;

fn messages(language: Language) -> Messages {
    let path = format!("src/texts/{}.ftl", language.tag());
    let file = std::fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join(path)).unwrap();
    let mut out = Messages::new();
    let mut open = None;
    for line in file.lines() {
        let starts = line.starts_with(|c: char| c.is_ascii_lowercase());
        if let Some((id, _)) = line.split_once(" = ").filter(|_| starts) {
            assert!(
                out.insert(id.to_owned(), BTreeSet::new()).is_none(),
                "{id} twice"
            );
            open = Some(id.to_owned());
        } else if line.is_empty() || line.starts_with('#') {
            open = None;
        }
        for piece in line.split('$').skip(1) {
            let name: String = piece
                .chars()
                .take_while(char::is_ascii_alphanumeric)
                .collect();
            let id = open.as_ref().unwrap();
            out.get_mut(id).unwrap().insert(name);
        }
    }
    assert!(out.len() > 300, "next to no texts were read");
    out
}

/// The text of every file of `src/` that can name a text.
fn sources() -> String {
    let mut out = String::new();
    let mut folders = vec![Path::new(env!("CARGO_MANIFEST_DIR")).join("src")];
    while let Some(folder) = folders.pop() {
        for entry in std::fs::read_dir(folder).unwrap() {
            let path: PathBuf = entry.unwrap().path();
            let ending = path.extension().and_then(|ending| ending.to_str());
            if path.is_dir() {
                folders.push(path);
            } else if matches!(ending, Some("rs" | "html" | "js")) {
                out += &std::fs::read_to_string(path).unwrap();
            }
        }
    }
    out
}

#[test]
fn both_files_say_the_same_things() {
    assert_eq!(messages(Language::English), messages(Language::German));
}

#[test]
fn every_text_can_be_said_in_its_own_language() {
    for language in Language::ALL {
        let texts = Texts::of(language);
        for (id, variables) in messages(language) {
            let args = (variables.iter()).fold(Args::new(), |args, name| {
                let name: &'static str = Box::leak(name.clone().into_boxed_str());
                args.with(name, 2)
            });
            let said = texts.say(&id, &args);
            assert_ne!(said, id, "{language:?} cannot say it");
            assert!(!said.contains("{$") && !said.contains('\n'), "{id}: {said}");
        }
    }
}

/// Names of texts that are put together from the names of something else.
fn put_together() -> BTreeSet<String> {
    let keys = Key::ALL.map(|key| format!("key-{}", key.as_str()));
    let inputs = Input::ALL.map(|input| format!("input-{}", input.as_str()));
    let advice = Input::ALL
        .into_iter()
        .filter(|input| *input != Input::Method);
    let advice = advice.map(|input| format!("input-{}-do", input.as_str()));
    let colours = Colour::ALL.map(Colour::text_id);
    let causes = [
        "grip",
        "alignment",
        "aim",
        "wobble",
        "drive",
        "drag",
        "none",
        "undetermined",
    ];
    let causes = causes.map(|cause| [format!("cause-{cause}"), format!("verdict-{cause}")]);
    let words = messages(Language::English);
    let means = words.into_keys().filter(|id| {
        id.strip_suffix("-means")
            .is_some_and(|word| word.starts_with("word-"))
    });
    (keys.into_iter().chain(inputs).chain(advice).chain(colours))
        .chain(causes.into_iter().flatten())
        .chain(means)
        .collect()
}

#[test]
fn every_text_is_used_and_every_used_text_is_there() {
    let (sources, there) = (sources(), messages(Language::English));
    let put_together = put_together();
    let unused: Vec<&String> = (there.keys())
        .filter(|id| !put_together.contains(*id) && !sources.contains(&format!("\"{id}\"")))
        .collect();
    assert!(unused.is_empty(), "nobody uses {unused:?}");
    for id in &put_together {
        assert!(there.contains_key(id), "{id} is not there");
    }
    let mut asked = 0;
    for asks in [
        "say!(",
        "t.text(",
        "texts.text(",
        ".texts().text(",
        "t.with(",
        "texts.with(",
        "Note::new(",
    ] {
        for (at, _) in sources.match_indices(asks) {
            let rest = &sources[at + asks.len()..];
            // `say!` has the texts before the name.
            let head: String = rest.chars().take(60).collect();
            let first = head.split(['"', ';', ')']).next().unwrap_or_default();
            let literal = &head[first.len()..];
            let name = literal
                .strip_prefix('"')
                .and_then(|name| name.split_once('"'));
            let plain = |name: &str| {
                name.contains('-')
                    && name.starts_with(|c: char| c.is_ascii_lowercase())
                    && name
                        .chars()
                        .all(|c| c.is_ascii_alphanumeric() || "-_".contains(c))
            };
            // A note's own `text` has a variable's name first; what has no hyphen may be anybody's.
            let names_a_text = |(name, after): &(&str, &str)| {
                plain(name) && (!asks.ends_with("text(") || after.trim_start().starts_with(')'))
            };
            if let Some((name, _)) = name.filter(names_a_text)
                && (asks == "say!(" || first.trim().is_empty())
                && name != "nobody-wrote-this"
            {
                assert!(there.contains_key(name), "{asks}{name} is not there");
                asked += 1;
            }
        }
    }
    assert!(asked > 200, "found only {asked}");
}

#[test]
fn one_thing_is_told_from_two() {
    // Rules for plurals: Unicode CLDR, "one" and "other" for English and German (from memory).
    let said = |language, id, name, count: u64| {
        Texts::of(language).say(id, &Args::new().with(name, count))
    };
    let (en, de) = (Language::English, Language::German);
    for (language, count, wanted) in [
        (en, 1, "1 frame without a time, left out"),
        (en, 2, "2 frames without a time, left out"),
        (de, 1, "1 Bild ohne Zeit, weggelassen"),
        (de, 2, "2 Bilder ohne Zeit, weggelassen"),
    ] {
        assert_eq!(said(language, "damage-untimed", "count", count), wanted);
    }
    assert!(said(de, "track-several-moving", "others", 1).starts_with("noch 1 Ding in"));
    assert!(said(de, "track-several-moving", "others", 2).starts_with("noch 2 Dinge in"));
    assert!(said(en, "track-several-moving", "others", 2).starts_with("2 more things in"));
}

/// A kept clip measured in a language: what is printed, and the folder of the result.
struct Spoken {
    home: TempDir,
    printed: String,
}

impl Spoken {
    fn of(run: &str, language: &str) -> Self {
        let home = tempfile::tempdir().unwrap();
        let (clip, sheet) = (fixture(run, "clip.mp4"), fixture(run, "run.toml"));
        let ways = ["--draws", "12", "--no-overlay", "--language", language];
        let output = measure(&clip, &sheet, home.path(), &ways);
        assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
        let printed = text(&output.stdout);
        Self { home, printed }
    }

    fn read(&self, name: &str) -> String {
        std::fs::read_to_string(self.home.path().join("clip").join(name)).unwrap()
    }
}

/// Everything between two marks goes.
fn without(page: &str, from: &str, to: &str) -> String {
    let mut pieces = page.split(from);
    let mut out = pieces.next().unwrap_or_default().to_owned();
    for piece in pieces {
        out.push(' ');
        out += piece.split_once(to).map_or("", |(_, after)| after);
    }
    out
}

/// What a person reads or hears of a page: words between tags, and those that stand for pictures.
fn read_aloud(page: &str) -> String {
    let page = without(page, "<style>", "</style>");
    let page = without(&page, "<script", "</script>");
    let page = without(&page, "<code", "</code>");
    let mut heard = String::new();
    for attribute in [" alt=\"", " aria-label=\""] {
        for piece in page.split(attribute).skip(1) {
            heard += piece.split('"').next().unwrap_or_default();
            heard.push('\n');
        }
    }
    heard + &without(&page, "<", ">")
}

/// Names of files, versions and standards, which are the same in all languages.
const SAME_IN_ALL: [&str; 7] = [
    "frames.csv",
    "summary.json",
    "overlay.mp4",
    "clip.mp4",
    "poster.png",
    concat!("gripline ", env!("CARGO_PKG_VERSION")),
    "demo",
];

/// English words that German does not have.
const ENGLISH: [&str; 38] = [
    "the", "of", "and", "with", "were", "not", "from", "which", "that", "this", "is", "are", "by",
    "to", "it", "its", "car", "wheel", "wheels", "speed", "line", "left", "right", "run", "mark",
    "marks", "floor", "frame", "frames", "seen", "value", "interval", "clip", "travel", "turns",
    "pull", "coast", "between",
];

/// English words and decimal points in what is said, each with its line.
fn not_german(said: &str) -> Vec<String> {
    let said = SAME_IN_ALL
        .iter()
        .fold(said.to_owned(), |said, name| said.replace(name, " "));
    let mut out = Vec::new();
    for line in said.lines() {
        let words = line.split(|c: char| !c.is_alphanumeric());
        let english = words.filter(|word| ENGLISH.contains(&word.to_lowercase().as_str()));
        out.extend(english.map(|word| format!("{word} in: {line}")));
        let letters: Vec<char> = line.chars().collect();
        let point = |three: &[char]| {
            three[0].is_ascii_digit() && three[1] == '.' && three[2].is_ascii_digit()
        };
        if letters.windows(3).any(point) {
            out.push(format!("a decimal point in: {line}"));
        }
    }
    out
}

fn assert_german(what: &str, said: &str) {
    let wrong = not_german(said);
    assert!(wrong.is_empty(), "{what} has {wrong:#?}");
}

/// Decimal comma: ISO 80000-1, 7.3.2, and DIN 1333 (from memory).
#[test]
fn a_german_result_holds_no_english() {
    for run in ["demo", "veer", "two-marks", "no-wheel-mark", "drag"] {
        let spoken = Spoken::of(run, "de");
        for name in ["report.html", "worksheet.html", "poster.html"] {
            let page = spoken.read(name);
            assert!(page.contains("<html lang=\"de\">"), "{name} of {run}");
            let said = read_aloud(&page);
            assert!(said.contains(','), "{name} of {run} says nothing");
            assert_german(&format!("{name} of {run}"), &said);
        }
        let until = spoken.printed.split("Ergebnisse: ").next().unwrap();
        assert_german(
            &format!("what is printed of {run}"),
            &without(until, "`", "`"),
        );
    }
}

#[test]
fn machine_files_are_the_same_in_all_languages() {
    let (english, german) = (Spoken::of("demo", "en"), Spoken::of("demo", "de"));
    for name in ["frames.csv", "summary.json", "frames.csv-metadata.json"] {
        assert_eq!(english.read(name), german.read(name), "{name}");
    }
    // What finds no English on German pages finds it on English ones.
    for name in ["report.html", "worksheet.html", "poster.html"] {
        let found = not_german(&read_aloud(&english.read(name))).len();
        assert!(found > 10, "{found} in {name}");
    }
    assert!(
        german
            .printed
            .contains("Befund für Dunlin: Haftung - die Antriebsräder")
    );
    assert!(
        english
            .printed
            .contains("Verdict for Dunlin: grip - the driven wheels")
    );
}
