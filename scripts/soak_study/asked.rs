//! What phones, and whatever pretends to be one, send to a station, with changes.

#![allow(
    dead_code,
    unreachable_pub,
    reason = "a module of several programs, each of which uses its own part"
)]
#![allow(clippy::unwrap_used, reason = "helpers of tests fail the test")]

use crate::change;
use crate::phone::{Station, tern};
use rand::{Rng, RngExt};
use serde_json::json;
use std::io::{ErrorKind, Read, Write};
use std::net::{SocketAddr, TcpStream};
use std::path::Path;
use std::time::Duration;
use tempfile::TempDir;

/// A whole request is answered within this, however busy the machine is.
const LONGEST: Duration = Duration::from_secs(20);
/// How long an answer is waited for that nobody owes: the request is not whole.
const UNOWED: Duration = Duration::from_millis(5);
/// What only the other team's car is called; no answer to this team holds it.
const OTHERS: &str = "guillemot-of-the-others";
/// Most bytes of an answer that are read.
const MOST_BYTES: u64 = 4 << 20;

/// A station with two teams, one of which asks.
pub struct Asked {
    station: Station,
    address: SocketAddr,
    cookie: String,
    car: String,
    _folder: TempDir,
}

/// A request before it is written out.
struct Wish {
    method: &'static str,
    path: String,
    headers: Vec<(&'static str, String)>,
    body: Vec<u8>,
}

impl Asked {
    pub fn new(gripline: &Path) -> Self {
        let folder = tempfile::tempdir().unwrap();
        let station = Station::start(gripline, &folder.path().join("class"), 0, &["--no-overlay"]);
        let mut others = station.phone();
        others.join(&station.code, "The Others", "").unwrap();
        let mut car = tern();
        car["car"]["texts"]["name"] = OTHERS.into();
        others.type_car(&car).unwrap();
        let mut own = station.phone();
        own.join(&station.code, "The Terns", "").unwrap();
        Self {
            address: station.pupils["http://".len()..].parse().unwrap(),
            cookie: own.cookie.clone().unwrap(),
            car: own.type_car(&tern()).unwrap(),
            station,
            _folder: folder,
        }
    }

    /// Sends a changed request: an answer that is no fault of the station's, or a connection that it closed because
    /// what came was no request.
    pub fn answered(&self, random: &mut dyn Rng) -> Result<bool, String> {
        let wish = self.wish(random);
        let plain = wish.is_plain();
        let mut bytes = wish.written();
        let wild = random.random_range(0..4) == 0;
        if wild {
            let len = bytes.len();
            change::bytes(random, &mut bytes, 0..len);
        }
        let answer = self.asked(&bytes)?;
        let shown = || {
            String::from_utf8_lossy(&bytes)
                .chars()
                .take(600)
                .collect::<String>()
        };
        let Some(status) = status_of(&answer) else {
            if plain && !wild {
                return Err(format!("no answer to {}", shown()));
            }
            return Ok(false);
        };
        if status >= 500 {
            return Err(format!("{status} for {}", shown()));
        }
        if contains(&answer, OTHERS.as_bytes()) {
            return Err(format!("another team's car is told for {}", shown()));
        }
        Ok(status < 300)
    }

    fn wish(&self, random: &mut dyn Rng) -> Wish {
        let number = random.random_range(0..6);
        let token = format!("{:032x}", random.random_range(0..40_u32));
        let order = json!({ "token": token, "clip": "run.mp4", "bytes": random.random_range(1..4_000_000), "car": self.car,
                            "treatment": "bare", "change": "" });
        let marks = json!({ "sticker": { "colour": "orange", "at": { "u_px": 100.0, "v_px": 50.0, "at_s": 0.5 } }, "wheel_mark": {} });
        let join = json!({ "code": self.station.code, "team": "The Terns", "key": "" });
        let (method, path, body) = match random.random_range(0..12) {
            0 => ("GET", "/mine".to_owned(), None),
            1 => ("POST", "/join".into(), Some(join)),
            2 | 3 => ("POST", "/cars".into(), Some(tern())),
            4 | 5 => ("POST", "/runs".into(), Some(order)),
            6 => ("GET", format!("/runs/{number}/clip"), None),
            7 => ("POST", format!("/runs/{number}/marks"), Some(marks)),
            8 => ("GET", format!("/runs/{number}/report.html"), None),
            9 => ("DELETE", format!("/runs/{number}"), None),
            10 => (
                "GET",
                format!("/page/{}", change::one_of(random, &change::WORDS)),
                None,
            ),
            _ => return self.piece(random, number),
        };
        let mut wish = self.with_head(method, path);
        if let Some(mut body) = body {
            if random.random_range(0..4) > 0 {
                change::json(random, &mut body);
            }
            wish.body = body.to_string().into_bytes();
        }
        spoilt(random, wish)
    }

    fn piece(&self, random: &mut dyn Rng, number: u32) -> Wish {
        let mut wish = self.with_head("PATCH", format!("/runs/{number}/clip"));
        let offset = match random.random_range(0..3) {
            0 => change::one_of(random, &change::NUMBERS).to_string(),
            _ => random.random_range(0..3000_u32).to_string(),
        };
        wish.headers.push(("Upload-Offset", offset));
        wish.body = vec![random.random(); random.random_range(0..3000)];
        spoilt(random, wish)
    }

    fn with_head(&self, method: &'static str, path: String) -> Wish {
        let origin = self.station.pupils.clone();
        Wish {
            method,
            path,
            headers: vec![
                ("Host", self.address.to_string()),
                ("Origin", origin),
                ("Cookie", self.cookie.clone()),
                ("Content-Type", "application/json".into()),
            ],
            body: Vec::new(),
        }
    }

    fn asked(&self, bytes: &[u8]) -> Result<Vec<u8>, String> {
        let gone = |error: std::io::Error| format!("the station is gone: {error}");
        let mut stream = TcpStream::connect_timeout(&self.address, LONGEST).map_err(gone)?;
        let wait = if is_whole(bytes) { LONGEST } else { UNOWED };
        stream.set_read_timeout(Some(wait)).map_err(gone)?;
        // A station that has refused already need not read on.
        stream.write_all(bytes).ok();
        let mut answer = Vec::new();
        match (&mut stream).take(MOST_BYTES).read_to_end(&mut answer) {
            Err(error) if error.kind() == ErrorKind::WouldBlock && wait == LONGEST => {
                Err(format!("no end of the answer within {LONGEST:?}"))
            }
            _ => Ok(answer),
        }
    }
}

/// One in three with a path or a header that no page sends.
fn spoilt(random: &mut dyn Rng, mut wish: Wish) -> Wish {
    match random.random_range(0..6) {
        0 => wish.path = change::text(random, &wish.path),
        1 => {
            let at = random.random_range(0..wish.headers.len());
            let value = change::text(random, &wish.headers[at].1);
            wish.headers[at].1 = value;
        }
        _ => {}
    }
    wish
}

impl Wish {
    /// Nothing in it but what a header and a path may hold.
    fn is_plain(&self) -> bool {
        let plain = |text: &str| text.bytes().all(|byte| (0x21..0x7f).contains(&byte));
        let headers = self
            .headers
            .iter()
            .all(|(_, value)| plain(&value.replace(' ', "")));
        plain(&self.path) && self.path.starts_with('/') && headers
    }

    fn written(&self) -> Vec<u8> {
        let first = format!("{} {} HTTP/1.1\r\n", self.method, self.path);
        let headers = self
            .headers
            .iter()
            .map(|(name, value)| format!("{name}: {value}\r\n"));
        let last = format!(
            "Content-Length: {}\r\nConnection: close\r\n\r\n",
            self.body.len()
        );
        let mut bytes: Vec<u8> = std::iter::once(first)
            .chain(headers)
            .chain([last])
            .flat_map(String::into_bytes)
            .collect();
        bytes.extend(&self.body);
        bytes
    }
}

/// Whether a request with its body is there to its end, so that an answer is owed.
fn is_whole(bytes: &[u8]) -> bool {
    let Some(at) = bytes.windows(4).position(|four| four == b"\r\n\r\n") else {
        return false;
    };
    let head = String::from_utf8_lossy(&bytes[..at]).to_ascii_lowercase();
    let lengths: Vec<&str> = head
        .lines()
        .filter_map(|line| line.strip_prefix("content-length:"))
        .collect();
    let [length] = lengths[..] else { return false };
    let there = bytes.len() - at - 4;
    let closes = head.lines().any(|line| line == "connection: close");
    closes && head.contains(" http/1.1") && length.trim().parse() == Ok(there)
}

fn status_of(answer: &[u8]) -> Option<u16> {
    let line = answer
        .strip_prefix(b"HTTP/1.1 ")
        .or_else(|| answer.strip_prefix(b"HTTP/1.0 "))?;
    std::str::from_utf8(line.get(..3)?).ok()?.parse().ok()
}

fn contains(all: &[u8], part: &[u8]) -> bool {
    all.windows(part.len()).any(|window| window == part)
}
