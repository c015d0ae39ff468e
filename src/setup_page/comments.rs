//! The comments of a TOML text, so that none is lost when a key or table goes.

/// Comments of `before` that are not in `after`, in order, as often as they are missing.
pub(super) fn comments_lost(before: &str, after: &str) -> Vec<String> {
    let mut left = comments(after);
    let mut lost = Vec::new();
    for comment in comments(before) {
        match left.iter().position(|other| *other == comment) {
            Some(at) => {
                left.swap_remove(at);
            }
            None => lost.push(comment),
        }
    }
    lost
}

/// Every comment of a TOML text, from its `#` to the end of the line.
///
/// # Source
/// TOML 1.0.0, sections "Comment" and "String": a hash inside a string is none, basic strings may hold
/// escapes, literal ones may not, and three quotes make a string of several lines.
fn comments(text: &str) -> Vec<String> {
    let mut found = Vec::new();
    let mut rest = text;
    while let Some(at) = rest.find(['#', '"', '\'']) {
        rest = &rest[at..];
        rest = if rest.starts_with('#') {
            let end = rest.find('\n').unwrap_or(rest.len());
            found.push(rest[..end].trim_end().to_owned());
            &rest[end..]
        } else {
            after_string(rest)
        };
    }
    found
}

/// What follows the string at the beginning of `text`; nothing where it does not end.
fn after_string(text: &str) -> &str {
    let quote = if text.starts_with('"') { '"' } else { '\'' };
    let triple = text.chars().take_while(|c| *c == quote).count() >= 3;
    let length = if triple { 3 } else { 1 };
    let mut run = 0;
    let mut escaped = false;
    for (at, c) in text.char_indices().skip(length) {
        if escaped {
            escaped = false;
        } else if c == '\\' && quote == '"' {
            escaped = true;
            run = 0;
        } else if c == quote {
            run += 1;
            let more = text[at + 1..].starts_with(quote);
            if run >= length && !(triple && more) {
                return &text[at + 1..];
            }
        } else {
            run = 0;
        }
    }
    ""
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_hash_in_a_string_is_no_comment() {
        let text = "# one\na = \"x # y \\\" # z\" # two\nb = '# no' #three\nc = \"\"\"\n# no \\\" \"\n\"\"\" # four\n";
        assert_eq!(comments(text), ["# one", "# two", "#three", "# four"]);
        assert_eq!(comments("a = ''''# no'''' # yes"), ["# yes"]);
        assert_eq!(comments("a = \"\" # yes"), ["# yes"]);
    }

    #[test]
    fn a_comment_that_stood_twice_is_lost_once() {
        assert_eq!(comments_lost("# a\n# a\n# b\n", "# a\n# b\n"), ["# a"]);
    }
}
