//! Random changes to bytes, to text and to JSON.

#![allow(
    dead_code,
    unreachable_pub,
    reason = "a module of several programs, each of which uses its own part"
)]

use rand::{Rng, RngExt};
use serde_json::{Value, json};

/// Numbers at which something may break.
pub const NUMBERS: [&str; 24] = [
    "0",
    "-0.0",
    "1",
    "-1",
    "0.5",
    "1e-300",
    "1e300",
    "-1e308",
    "1e309",
    "nan",
    "inf",
    "-inf",
    "2147483648",
    "9223372036854775807",
    "9223372036854775808",
    "1e-9",
    "0.001",
    "1000",
    "100000",
    "16384",
    "-500",
    "89.9999",
    "360",
    "1e17",
];
/// Words at which something may break.
pub const WORDS: [&str; 14] = [
    "",
    " ",
    "magenta",
    "blue",
    "right",
    "left",
    "No. 7",
    "\u{202e}7 .oN",
    "a\u{0}b",
    "\u{1b}[31m",
    "\n",
    "'\"\\",
    "\u{fffd}\u{feff}",
    "bare",
];

/// One of a list.
pub fn one_of<'a, T>(random: &mut dyn Rng, list: &'a [T]) -> &'a T {
    &list[random.random_range(0..list.len())]
}

fn span(random: &mut dyn Rng, len: usize, longest: usize) -> (usize, usize) {
    let from = random.random_range(0..=len);
    let to = from + random.random_range(0..=longest.min(len - from));
    (from, to)
}

/// Changes some bytes within a part of them.
pub fn bytes(random: &mut dyn Rng, all: &mut Vec<u8>, within: std::ops::Range<usize>) {
    for _ in 0..random.random_range(1..=6) {
        let (start, end) = (within.start.min(all.len()), within.end.min(all.len()));
        if start == end {
            return;
        }
        let at = random.random_range(start..end);
        match random.random_range(0..9) {
            0 => all[at] ^= 1 << random.random_range(0..8),
            1 => all[at] = random.random(),
            2 => all[at] = *one_of(random, &[0, 1, 0x7f, 0x80, 0xff]),
            3 | 4 => {
                // A number of four bytes at its limits.
                let number: u32 =
                    *one_of(random, &[0, 1, 7, 8, 0x7fff_ffff, 0x8000_0000, 0xffff_ffff]);
                let end = (at + 4).min(all.len());
                all[at..end].copy_from_slice(&number.to_be_bytes()[..end - at]);
            }
            5 => {
                let (from, to) = span(random, end - start, 64);
                let copied = all[start + from..start + to].to_vec();
                all.splice(at..at, copied);
            }
            6 => {
                let (from, to) = span(random, end - start, 64);
                all.drain(start + from..start + to);
            }
            7 if random.random_range(0..4) == 0 => all.truncate(at),
            _ => {
                let (from, to) = span(random, end - start, 16);
                all[start + from..start + to].fill(random.random());
            }
        }
    }
}

/// Changes a text line by line, number by number, word by word.
pub fn text(random: &mut dyn Rng, text: &str) -> String {
    let mut lines: Vec<String> = text.lines().map(str::to_owned).collect();
    for _ in 0..random.random_range(1..=4) {
        if lines.is_empty() {
            break;
        }
        let (at, other) = (
            random.random_range(0..lines.len()),
            random.random_range(0..lines.len()),
        );
        match random.random_range(0..10) {
            0 => drop(lines.remove(at)),
            1 => lines.insert(other, lines[at].clone()),
            2 => lines.swap(at, other),
            3 => {
                let mut raw = std::mem::take(&mut lines[at]).into_bytes();
                let len = raw.len();
                bytes(random, &mut raw, 0..len);
                lines[at] = String::from_utf8_lossy(&raw).into_owned();
            }
            4 | 5 => {
                let word = *one_of(random, &WORDS);
                if let Some((key, _)) = lines[at].split_once('=') {
                    lines[at] = format!("{key}= \"{}\"", word.escape_default());
                }
            }
            6 if random.random_range(0..4) == 0 => lines.truncate(at),
            _ => {
                let number = *one_of(random, &NUMBERS);
                if let Some((key, value)) = lines[at].split_once('=') {
                    let pair = value.contains('[');
                    lines[at] = if pair {
                        format!("{key}= [{number}, 1.5]")
                    } else {
                        format!("{key}= {number}")
                    };
                }
            }
        }
    }
    lines.join(if random.random_range(0..10) == 0 {
        "\r\n"
    } else {
        "\n"
    })
}

/// Changes some values of a JSON tree.
pub fn json(random: &mut dyn Rng, value: &mut Value) {
    for _ in 0..random.random_range(1..=4) {
        let depth = random.random_range(0..8);
        json_at(random, value, depth);
    }
}

fn json_at(random: &mut dyn Rng, value: &mut Value, depth: usize) {
    match value {
        Value::Object(map) if depth > 0 && !map.is_empty() => {
            let key = map
                .keys()
                .nth(random.random_range(0..map.len()))
                .cloned()
                .unwrap_or_default();
            if random.random_range(0..24) == 0 {
                map.remove(&key);
            } else if let Some(inner) = map.get_mut(&key) {
                json_at(random, inner, depth - 1);
            }
        }
        Value::Array(list) if depth > 0 && !list.is_empty() => {
            let at = random.random_range(0..list.len());
            match random.random_range(0..12) {
                0 => drop(list.remove(at)),
                1 => list.push(list[at].clone()),
                _ => json_at(random, &mut list[at], depth - 1),
            }
        }
        Value::Number(number) if random.random() => {
            let factor = *one_of(random, &[-1.0, 0.0, 0.5, 1.001, 10.0, 1e6, 1e-6, 1e300]);
            *value = json!(number.as_f64().unwrap_or(1.0) * factor);
        }
        _ => *value = json_value(random),
    }
}

fn json_value(random: &mut dyn Rng) -> Value {
    match random.random_range(0..9) {
        0 => Value::Null,
        1 => json!(random.random::<bool>()),
        2 => json!([]),
        3 => json!({}),
        4 => json!(*one_of(random, &WORDS)),
        5 => json!({ "value": 1.0, "low": 0.5, "high": 1e300 }),
        6 => json!({ "not_observable": "no reason at all" }),
        _ => {
            let number: f64 = one_of(random, &NUMBERS).parse().unwrap_or(0.0);
            json!(number)
        }
    }
}
