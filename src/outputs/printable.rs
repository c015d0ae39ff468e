//! Text from outside (names of files, of cars, of treatments, what a system or a codec says) made fit for a
//! terminal.

use std::borrow::Cow;
use std::fmt::Write;
use std::path::Path;

/// The text on one line: control characters, line ends among them, as escapes that can be read.
///
/// A name with an escape sequence in it would move the cursor or colour what follows; one with a line end would
/// tear a table; one with marks of writing direction would show its letters in another order.
pub fn printable(text: &str) -> Cow<'_, str> {
    escaped(text, is_unsafe)
}

/// The same for text of several lines that the tool put together itself.
pub fn printable_lines(text: &str) -> Cow<'_, str> {
    escaped(text, |c| c != '\n' && is_unsafe(c))
}

/// A path on one line.
pub fn printable_path(path: &Path) -> String {
    printable(&path.to_string_lossy()).into_owned()
}

fn is_unsafe(c: char) -> bool {
    // Unicode's categories Cc, Zl and Zp, and the explicit controls of its bidirectional algorithm (UAX #9, 2).
    let direction = matches!(c, '\u{061c}' | '\u{200e}' | '\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}');
    c.is_control() || matches!(c, '\u{2028}' | '\u{2029}') || direction
}

fn escaped(text: &str, escape: impl Fn(char) -> bool) -> Cow<'_, str> {
    if !text.contains(&escape) {
        return Cow::Borrowed(text);
    }
    let mut line = String::with_capacity(text.len() + 8);
    for c in text.chars() {
        match c {
            c if !escape(c) => line.push(c),
            '\n' => line.push_str("\\n"),
            '\r' => line.push_str("\\r"),
            '\t' => line.push_str("\\t"),
            // Four digits, as JSON writes them: what is printed as JSON stays JSON.
            c => {
                // Writing to a string does not fail.
                write!(line, "\\u{:04x}", u32::from(c)).ok();
            }
        }
    }
    Cow::Owned(line)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_control_reaches_the_terminal() {
        // ECMA-48, 8.3.117: SGR, here "red"; C1's CSI is one character; U+202E turns the rest around (UAX #9).
        let name = "run\u{1b}[31m\n7\u{9b}2J\u{202e}4pm.mp4\r\t\u{7f}";
        let shown = "run\\u001b[31m\\n7\\u009b2J\\u202e4pm.mp4\\r\\t\\u007f";
        assert_eq!(printable(name), shown);
        assert_eq!(printable("Möwe 7 – grün.mp4"), "Möwe 7 – grün.mp4");
        assert_eq!(printable_lines("a\u{1b}\nb\n"), "a\\u001b\nb\n");
    }

    #[test]
    fn json_stays_json() {
        let told = format!(
            "{:#}\n",
            serde_json::json!({ "clip": "a\u{9b}\u{7f}\u{202e}\nb" })
        );
        let printed = printable_lines(&told);
        let read: serde_json::Value = serde_json::from_str(&printed).unwrap();
        assert_eq!(read["clip"], "a\u{9b}\u{7f}\u{202e}\nb");
    }
}
