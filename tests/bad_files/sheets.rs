//! Run sheets that are too large, too deep or in another coding to stand in `sheets.txt`, with what is to become of each.

/// Name, bytes, outcome, and what the message says.
pub type Sheet = (&'static str, Vec<u8>, &'static str, &'static str);

const GOOD: &str = "[sticker]\ncolour = \"magenta\"\n";
/// What a text in UTF-8 may begin with (Unicode, 23.8).
const MARK: &[u8] = b"\xef\xbb\xbf";

/// What stands on a row of `sheets.txt`.
pub fn text_of(base: &str, what: &str) -> String {
    let what = what.replace("\\n", "\n").replace("\\r", "\r");
    match base {
        "alone" => what,
        "good" => format!("{GOOD}{what}\n"),
        "car" => format!("{GOOD}[car]\n{what}\n"),
        _ => panic!("no such base: {base}"),
    }
}

/// Text in 16-bit units, the low byte first, after its mark.
fn utf_16(text: &str) -> Vec<u8> {
    let units = std::iter::once(0xfeff).chain(text.encode_utf16());
    units.flat_map(u16::to_le_bytes).collect()
}

/// Other codings than a plain text's.
pub fn codings() -> Vec<Sheet> {
    let good = GOOD.as_bytes();
    let syntax = "line 1: not valid TOML";
    let no_text = "line 2: not UTF-8 text";
    let name = |bytes: &[u8]| [b"[car]\nname = \"", bytes, b"\"\n"].concat();
    vec![
        ("marked", [MARK, good].concat(), "measured", "Verdict"),
        ("twice", [MARK, MARK, good].concat(), "refused", syntax),
        ("16 bits", utf_16(GOOD), "refused", "not UTF-8 text"),
        ("latin 1", name(b"B\xfchler"), "refused", no_text),
        ("surrogate", name(b"\xed\xa0\x80"), "refused", no_text),
        ("a zero", name(b"a\0b"), "refused", "line 2: not valid"),
        (
            "control",
            name(b"a\x1b[31mb"),
            "refused",
            "line 2: not valid",
        ),
        ("zeros", vec![0; 4096], "refused", syntax),
        ("a clip", b"\0\0\0\x18ftypmp42".to_vec(), "refused", syntax),
    ]
}

/// Far too long, and far too deep.
pub fn large() -> Vec<Sheet> {
    let long = "magenta".repeat(100_000);
    let dotted = "a.".repeat(100_000);
    let deep = |open: &str, close: &str| {
        format!("x = {}1{}\n", open.repeat(10_000), close.repeat(10_000)).into_bytes()
    };
    let mark = "[[floor_mark]]\ncolour = \"blue\"\nx_mm = 1.0\ny_mm = 2.0\n";
    let value = format!("[car]\nname = \"{long}\"\n").into_bytes();
    let (key, keys, head) = (
        format!("{long} = 1\n").into_bytes(),
        format!("{dotted}a = 1\n").into_bytes(),
        format!("[{dotted}a]\n").into_bytes(),
    );
    let comment = b"# long\n".repeat(1_500_000);
    let (big, syntax) = ("larger than 1024 KiB", "line 1: not valid TOML");
    vec![
        ("comment of 10 MB", comment, "refused", big),
        ("zeros of 10 MB", vec![0; 10_000_000], "refused", big),
        ("value", value, "refused", "has 700000 characters"),
        ("key", key, "refused", "line 1: unknown key"),
        ("brackets", b"[".repeat(1_000_000), "refused", syntax),
        ("deep lists", deep("[", "]"), "refused", syntax),
        ("deep tables", deep("{a=", "}"), "refused", syntax),
        ("deep keys", keys, "refused", "recursion limit"),
        ("deep head", head, "refused", "recursion limit"),
        (
            "marks",
            mark.repeat(15_000).into(),
            "refused",
            "a second floor mark",
        ),
    ]
}
