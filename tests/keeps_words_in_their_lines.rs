//! Names come from people and files; a line end in one must not tear the words of a comparison, where what follows
//! would read as a line of the tool's own.
#![allow(clippy::unwrap_used, reason = "tests fail by panicking")]

mod club;
mod command;

use club::{Club, has};
use serde_json::json;

/// Words about an evening whose bare wheels are called so, in every summary, and so are the cars.
fn words_with(treatment: &str, car: &str) -> String {
    let club = Club::new();
    for run in [1, 6, 7, 12] {
        club.change(run, |s| {
            let sheet = &mut s["run"]["sheet"]["car"];
            sheet["treatment"] = json!(treatment);
            sheet["name"] = json!(car);
        });
    }
    let (words, _) = club.compared(&["--of", "spun_away_m,max_slip"]);
    words.replace(club.out().to_str().unwrap(), "OUT")
}

#[test]
fn a_line_end_in_a_name_tears_no_line_of_the_words() {
    let plain = words_with("bare wheel", "Tern (spare)");
    has(&plain, "\n  bare wheel: n 4");
    has(&plain, "Tern (spare)");
    let torn = words_with("bare\nwheel", "Tern\r\n(spare)");
    assert_eq!(torn.lines().count(), plain.lines().count(), "{torn}");
    let shown = torn.replace("bare\\nwheel", "bare wheel");
    assert_eq!(shown.replace("Tern\\r\\n(spare)", "Tern (spare)"), plain);
}

/// U+2028 ends a line as well (UAX #14, class BK), and U+202E turns what follows around (UAX #9).
#[test]
fn other_line_ends_and_turns_of_writing_are_shown_as_escapes() {
    let words = words_with("bare\u{2028}wheel\u{202e}", "Tern");
    has(&words, "\n  bare\\u2028wheel\\u202e: n 4");
}
