//! Names, codes and secrets.

use crate::setup_page::same;
use rand::TryRng;
use rand::rngs::SysRng;
use serde::{Deserialize, Serialize};
use std::fmt;
use std::io;

/// Letters and digits that nobody takes for another: no 0 and O, no 1, I and L.
const LETTERS: &[u8; 31] = b"23456789ABCDEFGHJKMNPQRSTUVWXYZ";
/// Letters of a code: 31⁶ are 9 · 10⁸ codes, of which a class tries a few a minute.
const CODE_LETTERS: usize = 6;
/// Longest name, in characters.
const LONGEST_NAME: usize = 40;
/// Longest name of a folder.
const LONGEST_FOLDER: usize = 24;

fn random(bytes: &mut [u8]) -> io::Result<()> {
    SysRng.try_fill_bytes(bytes).map_err(io::Error::other)
}

/// A code that people read off and type.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(transparent)]
pub(super) struct Code(String);

impl Code {
    /// A new one.
    pub(super) fn new() -> io::Result<Self> {
        let mut out = String::new();
        let mut byte = [0_u8];
        while out.len() < CODE_LETTERS {
            random(&mut byte)?;
            // Bytes past the last whole round would make some letters likelier.
            if byte[0] < 248 {
                out.push(char::from(LETTERS[usize::from(byte[0] % 31)]));
            }
        }
        Ok(Self(out))
    }

    /// Whether someone typed it: spaces, hyphens and small letters do not matter.
    pub(super) fn is(&self, typed: &str) -> bool {
        let plain: String = (typed.chars())
            .filter(char::is_ascii_alphanumeric)
            .map(|letter| letter.to_ascii_uppercase())
            .take(2 * CODE_LETTERS)
            .collect();
        same(&self.0, &plain)
    }
}

impl fmt::Display for Code {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (a, b) = self.0.split_at(self.0.len() / 2);
        write!(f, "{a}-{b}")
    }
}

/// A name as someone typed it, without what no name has; `None` where nothing is left or it is too long.
pub(super) fn name(typed: &str) -> Option<String> {
    let words: Vec<&str> = typed.split_whitespace().collect();
    let name = words.join(" ");
    let good = !name.is_empty()
        && name.chars().count() <= LONGEST_NAME
        && !name.chars().any(char::is_control);
    good.then_some(name)
}

/// A note as someone typed it, in one line of at most this many characters.
pub(super) fn note(typed: &str, longest: usize) -> String {
    let words: Vec<&str> = typed.split_whitespace().collect();
    let line = words.join(" ");
    line.chars()
        .filter(|letter| !letter.is_control())
        .take(longest)
        .collect()
}

/// A name for a folder: small letters, digits and hyphens, and a number where the name is taken.
pub(super) fn folder_name(name: &str, taken: impl Fn(&str) -> bool) -> String {
    let mut plain = String::new();
    for letter in name.chars() {
        if letter.is_ascii_alphanumeric() {
            plain.push(letter.to_ascii_lowercase());
        } else if !plain.ends_with('-') && !plain.is_empty() {
            plain.push('-');
        }
        if plain.len() >= LONGEST_FOLDER {
            break;
        }
    }
    let plain = plain.trim_end_matches('-');
    let plain = if plain.is_empty() { "team" } else { plain };
    let numbered = |number: u32| match number {
        1 => plain.to_owned(),
        _ => format!("{plain}-{number}"),
    };
    let mut number = 1;
    while taken(&numbered(number)) {
        number += 1;
    }
    numbered(number)
}

#[cfg(test)]
#[allow(clippy::unwrap_used, reason = "tests fail by panicking")]
mod tests {
    use super::*;

    #[test]
    fn codes_are_read_off_and_typed_in_many_ways() {
        let code = Code("AB23CD".to_owned());
        assert_eq!(code.to_string(), "AB2-3CD");
        for typed in ["AB2-3CD", "ab23cd", " ab2 3cd "] {
            assert!(code.is(typed), "{typed}");
        }
        for typed in ["", "AB23C", "AB23CDE", "AB23CE"] {
            assert!(!code.is(typed), "{typed}");
        }
        let many: std::collections::BTreeSet<String> =
            (0..200).map(|_| Code::new().unwrap().0).collect();
        assert_eq!(many.len(), 200);
    }

    #[test]
    fn a_folder_never_takes_its_name_as_it_was_typed() {
        let free = |_: &str| false;
        assert_eq!(folder_name("Tern", free), "tern");
        assert_eq!(folder_name("../../etc/passwd", free), "etc-passwd");
        assert_eq!(folder_name("Ölpumpe & Söhne", free), "lpumpe-s-hne");
        assert_eq!(folder_name("…", free), "team");
        assert_eq!(folder_name("Tern", |id| id == "tern"), "tern-2");
        assert_eq!(name("  The \t Terns "), Some("The Terns".to_owned()));
        assert_eq!(name(" \n"), None);
        assert_eq!(name(&"x".repeat(41)), None);
    }
}
