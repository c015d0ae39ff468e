//! The commands' help, README.md and the other pages say what the tool does, whole and as it is: every key, column and
//! quantity is explained, printed examples are what the commands print, links and options exist.
#![allow(clippy::unwrap_used, clippy::panic, reason = "tests fail by panicking")]

mod command;

use assert_cmd::Command;
use command::{gripline, text};
use gripline::findings::Key;
use gripline::outputs::COLUMNS;
use gripline::sheet::kit::FIVE_SIZES;
use gripline::sheet::{Compared, TABLES, by_full_name};
use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::Path;

/// A terminal line that is easy to read; wider help breaks in a window of usual size (common practice, no source).
const WIDEST_HELP: usize = 100;
/// Words that a reader of README.md has to read at most, code and pictures' texts among them; what is more belongs in
/// a command's help or in the folder that it describes.
const README_WORDS: usize = 2900;
/// The commands that have a long help of their own.
const EXPLAINED: [&str; 6] = ["measure", "compare", "plan", "check", "setup", "kit"];

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

fn page(name: &str) -> String {
    fs::read_to_string(root().join(name)).unwrap()
}

/// The long help of a command, as a pipe gets it, at a width of the terminal.
fn help(name: &str, columns: usize) -> String {
    let output = Command::new(env!("CARGO_BIN_EXE_gripline"))
        .args([name, "--help"])
        .env("COLUMNS", columns.to_string())
        .output()
        .unwrap();
    assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
    text(&output.stdout)
}

/// The names in a text: letters, digits and underscores in a row.
fn names(text: &str) -> BTreeSet<&str> {
    let apart = |c: char| !(c.is_ascii_alphanumeric() || c == '_');
    text.split(apart).filter(|name| !name.is_empty()).collect()
}

/// What stands in a text between two marks.
fn between<'a>(text: &'a str, from: &str, to: &str) -> &'a str {
    let (_, rest) = text.split_once(from).unwrap_or_else(|| panic!("no {from}"));
    let (inside, _) = rest.split_once(to).unwrap_or_else(|| panic!("no {to}"));
    inside
}

/// The lines of the first printed block after `start`.
fn printed<'a>(page: &'a str, start: &str) -> Vec<&'a str> {
    let (_, rest) = page.split_once(start).unwrap();
    between(rest, "```\n", "```").lines().collect()
}

/// Options such as `--out` in a text.
fn options(text: &str) -> BTreeSet<&str> {
    let ends = |c: char| c.is_whitespace() || "`,.;:()=]".contains(c);
    let words = text.split(ends);
    words
        .filter(|word| word.len() > 2 && word.starts_with("--"))
        .collect()
}

#[test]
fn the_help_of_measure_explains_every_key_of_a_run_sheet() {
    let help = help("measure", WIDEST_HELP);
    let sheet = between(&help, "The run sheet:", "Many clips in one call:");
    let mut tables: BTreeMap<String, String> = BTreeMap::new();
    let mut table = String::new();
    for line in sheet.lines() {
        if let Some(head) = line.strip_prefix("  [") {
            table = head
                .trim_start_matches('[')
                .split(']')
                .next()
                .unwrap()
                .into();
        }
        let lines = tables.entry(table.clone()).or_default();
        lines.push_str(line);
        lines.push('\n');
    }
    let plain = |text: &str| text.split_whitespace().collect::<Vec<_>>().join(" ");
    let mut keys = 0;
    for table in TABLES {
        let told = &tables[table.name];
        assert!(plain(told).contains(table.meaning), "[{}]", table.name);
        for key in table.keys {
            keys += 1;
            // Where someone pointed is told once for all marks.
            let told = if key.compared == Compared::Pointing {
                sheet
            } else {
                told
            };
            let row = plain(&format!("{} {}", key.name, key.meaning));
            let told = plain(told);
            assert!(told.contains(&row) && told.contains(key.more), "{row}");
        }
    }
    let tables: BTreeSet<&str> = tables.keys().map(String::as_str).collect();
    let known = TABLES.iter().map(|table| table.name).chain([""]);
    assert_eq!(tables, known.collect());
    assert!(keys > 20, "{keys} keys");
}

#[test]
fn the_help_of_measure_explains_every_column_and_quantity() {
    let help = help("measure", WIDEST_HELP);
    let columns = names(between(
        &help,
        "Columns of frames.csv",
        "Keys of summary.json",
    ));
    for column in COLUMNS {
        assert!(columns.contains(column), "{column}");
    }
    let keys = names(between(&help, "Keys of summary.json", "Exit code:"));
    for key in Key::ALL {
        assert!(keys.contains(key.as_str()), "{}", key.as_str());
    }
}

#[test]
fn help_is_whole_and_fits_its_terminal() {
    for name in EXPLAINED {
        for columns in [WIDEST_HELP, 300] {
            let help = help(name, columns);
            for line in help.lines() {
                let wide = line.chars().count();
                assert!(wide <= WIDEST_HELP, "{name}, {wide} characters: {line}");
            }
            let written = page(&format!("src/cli/help/{name}.txt"));
            assert!(written.lines().count() > 15);
            // The keys of the run sheet stand where the text names them in braces.
            for part in written.trim_end().split("{keys of the run sheet}") {
                assert!(
                    help.contains(part),
                    "the help of {name} is cut or broken anew at {columns} columns"
                );
            }
        }
    }
}

#[test]
fn options_that_pages_and_help_name_exist() {
    for name in EXPLAINED {
        let there = help(name, WIDEST_HELP);
        let (own, _) = there.split_once("Print help").unwrap();
        let own = options(own);
        for option in options(&page(&format!("src/cli/help/{name}.txt"))) {
            // Help may name another command's help.
            assert!(
                option == "--help" || own.contains(option),
                "{name} {option}"
            );
        }
    }
    let mut commands = 0;
    for page_name in ["README.md", "fixtures/README.md", "DEVELOPERS.md"] {
        let page = page(page_name);
        for line in page.lines() {
            let Some(typed) = line.trim().strip_prefix("gripline ") else {
                continue;
            };
            let name = typed.split_whitespace().next().unwrap();
            let there = help(name, WIDEST_HELP);
            let typed = typed.split('#').next().unwrap();
            for option in options(typed) {
                assert!(options(&there).contains(option), "{page_name}: {line}");
            }
            commands += 1;
        }
    }
    assert!(commands >= 6, "{commands} commands");
}

#[test]
fn the_readme_is_short_and_opens_with_the_job() {
    let readme = page("README.md");
    let words = readme.split_whitespace().count();
    assert!(words <= README_WORDS, "{words} words");
    let first = readme.split("\n\n").nth(1).unwrap();
    for word in ["film", "slipped", "interval", "blame"] {
        assert!(first.contains(word), "the first paragraph lacks `{word}`");
    }
}

#[test]
fn links_of_every_page_lead_somewhere() {
    let mut links = 0;
    for name in [
        "README.md",
        "DEVELOPERS.md",
        "fixtures/README.md",
        "benches/README.md",
    ] {
        let page = page(name);
        let here = root().join(name).parent().unwrap().to_path_buf();
        for rest in page.split("](").skip(1) {
            let target = rest.split(')').next().unwrap();
            if target.starts_with("http") {
                continue;
            }
            let (path, anchor) = target.split_once('#').unwrap_or((target, ""));
            let path = if path.is_empty() {
                root().join(name)
            } else {
                here.join(path)
            };
            assert!(path.exists(), "{name}: {target}");
            if !anchor.is_empty() {
                let heads = fs::read_to_string(path).unwrap();
                let found = heads
                    .lines()
                    .filter(|line| line.starts_with('#'))
                    .any(|line| {
                        line.trim_start_matches('#')
                            .trim()
                            .to_lowercase()
                            .replace(' ', "-")
                            == anchor
                    });
                assert!(found, "{name}: {target}");
            }
            links += 1;
        }
    }
    assert!(links > 10, "{links} links");
}

/// Every file and folder that DEVELOPERS.md names with its whole path is there.
#[test]
fn paths_on_the_developers_page_exist() {
    let page = page("DEVELOPERS.md");
    let mut paths = 0;
    for quoted in page.split('`').skip(1).step_by(2) {
        let ours = ["src/", "tests/", "scripts/", "fixtures/", "benches/"];
        let plain = !quoted.contains(|c: char| c.is_whitespace() || "*{<[".contains(c));
        if plain && ours.iter().any(|folder| quoted.starts_with(folder)) {
            assert!(root().join(quoted).exists(), "{quoted}");
            paths += 1;
        }
    }
    assert!(paths > 30, "{paths} paths");
}

#[test]
fn the_worked_example_is_what_the_demo_prints() {
    let home = tempfile::tempdir().unwrap();
    let output = Command::new(env!("CARGO_BIN_EXE_gripline"))
        .args(["demo", "--no-overlay", "--no-report"])
        .current_dir(home.path())
        .output()
        .unwrap();
    assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
    let readme = page("README.md");
    let mut shown = printed(&readme, "<!-- demo output");
    // The three files that this test does not ask for.
    assert_eq!(
        shown.split_off(shown.len() - 3),
        [
            "Annotated clip: results/demo/overlay.mp4",
            "Report: results/demo/report.html",
            "Poster: results/demo/poster.html"
        ]
    );
    assert_eq!(text(&output.stdout).lines().collect::<Vec<_>>(), shown);
}

#[test]
fn the_shown_comparison_is_what_the_evening_gives() {
    let home = tempfile::tempdir().unwrap();
    let out = home.path().join("comparison");
    let results = root().join("fixtures/club-evening/results");
    let output = gripline([
        "compare".as_ref(),
        results.as_os_str(),
        "--by".as_ref(),
        "treatment".as_ref(),
        "--detect".as_ref(),
        "spun_away_m=0.1".as_ref(),
        "--out".as_ref(),
        out.as_os_str(),
    ]);
    assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
    let fixtures = page("fixtures/README.md");
    let shown = printed(&fixtures, "<!-- comparison output");
    let said = text(&output.stdout);
    let said: Vec<&str> = said.lines().collect();
    assert!(said.len() > 20);
    // The last two lines are the places of the files.
    assert_eq!(said[..said.len() - 2], shown);
}

/// Where names stand in a text, each after the one before it.
fn stand_in_order(text: &str, names: &[String], what: &str) {
    let mut rest = text;
    for name in names {
        let Some((_, after)) = rest.split_once(name.as_str()) else {
            panic!("{what}: no \u{201c}{name}\u{201d}, or not in its place: {names:?}");
        };
        rest = after;
    }
}

#[test]
fn the_five_sizes_have_one_name_and_one_order_everywhere() {
    let names = FIVE_SIZES.map(|size| size.name.to_owned());
    let keys = FIVE_SIZES.map(|size| format!("{} =", size.key));
    let readme = page("README.md");
    let example = between(&readme, "five sizes are enough", "What you leave");
    let told = help("kit", 100);
    let kit = between(&told, "needs five sizes", "What the sheet leaves");
    let sheet = page("fixtures/example-run.toml");
    for (what, text) in [
        ("README.md", example),
        ("gripline kit --help", kit),
        ("example-run.toml", &sheet),
    ] {
        stand_in_order(text, &names, what);
        stand_in_order(text, &keys, what);
    }
    let html = page("src/setup_page/page/page.html").replace("&rsquo;", "'");
    let fields = between(&html, "id=\"five\"", "</div>").to_lowercase();
    stand_in_order(&fields, &names, "the set-up page");
    let fields = between(&html, "id=\"five\"", "</div>");
    let on_page = FIVE_SIZES.map(|size| format!("\"{}.{}\"", size.table, size.key));
    stand_in_order(fields, &on_page, "the set-up page");
    assert_eq!(fields.matches("<input").count(), FIVE_SIZES.len());
    for size in FIVE_SIZES {
        let key = by_full_name(&format!("{}.{}", size.table, size.key)).unwrap();
        let says = key.meaning;
        assert!(says.starts_with(size.name), "{}: {says}", size.key);
    }
}
