//! Damage to an MP4 file, box by box (ISO/IEC 14496-12: a 32-bit size, four letters, the payload).

use std::ops::Range;

/// A box: where its size stands, and its payload.
#[derive(Debug, Clone)]
pub struct BoxAt {
    pub start: usize,
    pub payload: Range<usize>,
}

/// Boxes that hold boxes, and how much stands in them before the first: an entry of a sample description comes after a
/// version and a count, and has a picture's fields before its own boxes (ISO/IEC 14496-12, 8.5.2 and 12.1.3).
const HOLDERS: [(&str, usize); 13] = [
    ("moov", 0),
    ("trak", 0),
    ("edts", 0),
    ("mdia", 0),
    ("minf", 0),
    ("dinf", 0),
    ("stbl", 0),
    ("stsd", 8),
    ("avc1", 78),
    ("hvc1", 78),
    ("mvex", 0),
    ("moof", 0),
    ("traf", 0),
];

/// The first box of a kind, wherever it lies.
pub fn find(bytes: &[u8], kind: &str) -> BoxAt {
    below(bytes, 0..bytes.len(), kind).unwrap_or_else(|| panic!("no box `{kind}`"))
}

fn below(bytes: &[u8], inside: Range<usize>, wanted: &str) -> Option<BoxAt> {
    let mut at = inside.start;
    while at + 8 <= inside.end {
        let size = u32::from_be_bytes(bytes[at..at + 4].try_into().unwrap()) as usize;
        let end = at + size;
        if size < 8 || end > inside.end {
            return None;
        }
        let kind = &bytes[at + 4..at + 8];
        let payload = at + 8..end;
        if kind == wanted.as_bytes() {
            return Some(BoxAt { start: at, payload });
        }
        let holder = HOLDERS.iter().find(|(name, _)| name.as_bytes() == kind);
        let deeper = holder
            .and_then(|(_, before)| below(bytes, payload.start + before..payload.end, wanted));
        if deeper.is_some() {
            return deeper;
        }
        at = end;
    }
    None
}

/// Does to a file what a row of the table says.
pub fn damage(bytes: &mut Vec<u8>, deeds: &str) {
    for deed in deeds.split(';') {
        let words: Vec<&str> = deed.split_whitespace().collect();
        one(bytes, &words);
    }
}

fn one(bytes: &mut Vec<u8>, words: &[&str]) {
    match *words {
        ["as", "it", "is"] => {}
        ["cut", "before", path] => bytes.truncate(find(bytes, path).start),
        ["cut", "in", path] => {
            let payload = find(bytes, path).payload;
            bytes.truncate(payload.start + payload.len() / 2);
        }
        ["size", path, size] => {
            let at = find(bytes, path).start;
            bytes[at..at + 4].copy_from_slice(&number(size).to_be_bytes());
        }
        ["name", path, kind] => {
            let at = find(bytes, path).start + 4;
            bytes[at..at + 4].copy_from_slice(kind.as_bytes());
        }
        ["fill", path, byte] => {
            let payload = find(bytes, path).payload;
            bytes[payload].fill(number(byte) as u8);
        }
        ["put", path, place, value] => {
            let at = find(bytes, path).payload.start + number(place) as usize;
            bytes[at..at + 4].copy_from_slice(&number(value).to_be_bytes());
        }
        ["swap", one, other] => {
            let (one, other) = (find(bytes, one).start, find(bytes, other).start);
            for place in 0..4 {
                bytes.swap(one + place, other + place);
            }
        }
        ["append", count, byte] => {
            let more = bytes.len() + number(count) as usize;
            bytes.resize(more, number(byte) as u8);
        }
        ["again", path] => {
            let found = find(bytes, path);
            bytes.extend_from_within(found.start..found.payload.end);
        }
        ["before", count, byte] => {
            let more = vec![number(byte) as u8; number(count) as usize];
            bytes.splice(0..0, more);
        }
        _ => panic!("no such deed: {words:?}"),
    }
}

/// A number, decimal or after `0x`; negative ones in two's complement.
fn number(word: &str) -> u32 {
    let read = match word.strip_prefix("0x") {
        Some(digits) => i64::from_str_radix(digits, 16),
        None => word.parse(),
    };
    read.expect("a number") as u32
}
