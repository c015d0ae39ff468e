//! The set-up page's server, spoken to by hand: who is let in, what is refused, and what becomes of a clip
//! that vanishes and of a sheet that changes on disk.

#![allow(clippy::unwrap_used, clippy::panic, reason = "tests fail by panicking")]

use gripline::setup_page::{SetUp, serve};
use serde_json::{Value, json};
use std::fs;
use std::io::{Read, Write};
use std::net::TcpStream;
use std::path::PathBuf;
use std::sync::mpsc::channel;
use std::thread::JoinHandle;

/// A server in a thread, for a copy of a kept clip in a folder of its own.
struct Server {
    home: tempfile::TempDir,
    port: u16,
    token: String,
    cookie: String,
    thread: Option<JoinHandle<()>>,
}

struct Answer {
    status: u16,
    head: String,
    body: String,
}

impl Answer {
    fn json(&self) -> Value {
        serde_json::from_str(&self.body).unwrap_or_else(|error| panic!("{error}: {}", self.body))
    }
}

/// Sends bytes as they are and reads to the end.
fn exchange(port: u16, request: &str) -> Answer {
    let mut stream = TcpStream::connect(("127.0.0.1", port)).unwrap();
    // A server that has refused may stop reading before all is sent.
    stream.write_all(request.as_bytes()).ok();
    let mut bytes = Vec::new();
    stream.read_to_end(&mut bytes).ok();
    let text = String::from_utf8_lossy(&bytes).into_owned();
    let (head, body) = text.split_once("\r\n\r\n").unwrap_or((&text, ""));
    let status = head
        .split(' ')
        .nth(1)
        .and_then(|code| code.parse().ok())
        .unwrap_or(0);
    Answer {
        status,
        head: head.to_lowercase(),
        body: body.to_owned(),
    }
}

impl Server {
    /// Starts without going in: no cookie yet.
    fn outside(sheet: Option<&str>) -> Self {
        let home = tempfile::tempdir().unwrap();
        let kept = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("fixtures/crowd/clip.mp4");
        fs::copy(kept, home.path().join("clip.mp4")).unwrap();
        if let Some(text) = sheet {
            fs::write(home.path().join("run.toml"), text).unwrap();
        }
        let what = SetUp {
            clip: home.path().join("clip.mp4"),
            end_clip: None,
            sheet: home.path().join("run.toml"),
            out: home.path().join("results"),
        };
        let (send, receive) = channel();
        let thread = std::thread::spawn(move || {
            serve(&what, &|address| send.send(address.to_owned()).unwrap()).unwrap();
        });
        let address = receive.recv().unwrap();
        let rest = address.strip_prefix("http://127.0.0.1:").unwrap();
        let (port, token) = rest.split_once("/?token=").unwrap();
        Self {
            home,
            port: port.parse().unwrap(),
            token: token.to_owned(),
            cookie: String::new(),
            thread: Some(thread),
        }
    }

    /// Starts and goes in by the address.
    fn inside(sheet: Option<&str>) -> Self {
        let mut server = Self::outside(sheet);
        let entered = server.get(&format!("/?token={}", server.token));
        assert_eq!(entered.status, 200);
        let line = entered
            .head
            .lines()
            .find(|line| line.starts_with("set-cookie:"))
            .unwrap();
        let cookie = line
            .trim_start_matches("set-cookie:")
            .split(';')
            .next()
            .unwrap();
        cookie.trim().clone_into(&mut server.cookie);
        server
    }

    fn send(
        &self,
        method: &str,
        path: &str,
        host: &str,
        origin: Option<&str>,
        body: &str,
    ) -> Answer {
        let origin = origin.map_or(String::new(), |origin| format!("Origin: {origin}\r\n"));
        let request = format!(
            "{method} {path} HTTP/1.1\r\nHost: {host}\r\n{origin}Cookie: {}\r\nContent-Length: {}\r\n\
             Connection: close\r\n\r\n{body}",
            self.cookie,
            body.len()
        );
        exchange(self.port, &request)
    }

    fn host(&self) -> String {
        format!("127.0.0.1:{}", self.port)
    }

    fn get(&self, path: &str) -> Answer {
        self.send("GET", path, &self.host(), None, "")
    }

    fn post(&self, path: &str, body: &str) -> Answer {
        let own = format!("http://{}", self.host());
        self.send("POST", path, &self.host(), Some(&own), body)
    }

    fn post_json(&self, path: &str, body: &Value) -> Answer {
        self.post(path, &body.to_string())
    }

    /// Waits until the first look at the clip is over.
    fn observed(&self) {
        while self.get("/standing").json()["looking"]["state"] == "running" {
            std::thread::yield_now();
        }
        assert_eq!(self.get("/standing").json()["looking"]["state"], "done");
    }

    fn sheet(&self) -> String {
        fs::read_to_string(self.home.path().join("run.toml")).unwrap()
    }
}

impl Drop for Server {
    fn drop(&mut self) {
        if self.cookie.is_empty() {
            let entered = self.get(&format!("/?token={}", self.token));
            let line = entered
                .head
                .lines()
                .find(|line| line.starts_with("set-cookie:"));
            let cookie =
                line.and_then(|line| line.trim_start_matches("set-cookie:").split(';').next());
            cookie
                .unwrap_or_default()
                .trim()
                .clone_into(&mut self.cookie);
        }
        self.post("/done", "{}");
        if let Some(thread) = self.thread.take() {
            thread.join().ok();
        }
    }
}

#[test]
fn the_address_lets_one_browser_in() {
    let mut server = Server::outside(None);
    // RFC 6265bis names the cookie's attributes; 32 bytes are 64 hexadecimal digits.
    assert_eq!(server.token.len(), 64);
    for path in [
        "/",
        "/?token=",
        "/?token=0000",
        "/standing",
        "/page/main.js",
        "/frames/0",
        "/end/frames/0",
        "/end/patches",
    ] {
        assert_eq!(server.get(path).status, 403, "{path}");
    }
    let wrong = format!("{:0>64}", "1");
    assert_eq!(server.get(&format!("/?token={wrong}")).status, 403);
    let entered = server.get(&format!("/?token={}", server.token));
    assert_eq!(entered.status, 200);
    assert!(entered.body.contains("<html"));
    for part in ["httponly", "samesite=strict", "path=/"] {
        assert!(entered.head.contains(part), "{part}: {}", entered.head);
    }
    for part in [
        "cache-control: no-store",
        "x-content-type-options: nosniff",
        "script-src 'self'",
    ] {
        assert!(entered.head.contains(part), "{part}: {}", entered.head);
    }
    assert!(
        !entered.head.contains("access-control-allow"),
        "no other origin may read"
    );
    // Once used, the address opens nothing for whoever has no cookie.
    assert_eq!(server.get(&format!("/?token={}", server.token)).status, 403);
    let line = entered
        .head
        .lines()
        .find(|line| line.starts_with("set-cookie:"))
        .unwrap();
    let cookie = line
        .trim_start_matches("set-cookie:")
        .split(';')
        .next()
        .unwrap();
    cookie.trim().clone_into(&mut server.cookie);
    assert_eq!(server.get("/").status, 200);
    assert_eq!(server.get("/page/main.js").status, 200);
    server.cookie = server.cookie.replace('=', "=0");
    assert_eq!(server.get("/").status, 403);
    cookie.trim().clone_into(&mut server.cookie);
}

#[test]
fn other_hosts_and_other_origins_are_refused() {
    let server = Server::inside(None);
    let port = server.port;
    let host = |host: &str| server.send("GET", "/standing", host, None, "").status;
    assert_eq!(host(&format!("localhost:{port}")), 200);
    for other in [
        "127.0.0.1",
        "example.org",
        &format!("example.org:{port}"),
        "127.0.0.1:1",
        "",
    ] {
        assert_eq!(host(other), 403, "{other}");
    }
    let own = server.host();
    let origin = |origin: Option<&str>| {
        server
            .send("POST", "/measure", &own, origin, "no json")
            .status
    };
    for other in [
        "http://example.org",
        "null",
        "http://127.0.0.1:1",
        &format!("https://{own}"),
    ] {
        assert_eq!(origin(Some(other)), 403, "{other}");
    }
    assert_eq!(origin(None), 403);
    // Its own origin is heard, and what it says is then looked at.
    assert_eq!(origin(Some(&format!("http://{own}"))), 400);
    let elsewhere = server.send("GET", "/standing", &own, Some("http://example.org"), "");
    assert_eq!(elsewhere.status, 403);
}

#[test]
fn large_bodies_odd_drafts_and_odd_paths_are_refused() {
    let server = Server::inside(None);
    let large = format!(
        "{{\"draft\":{{}},\"frame\":0,\"x\":\"{}\"}}",
        "x".repeat(300_000)
    );
    assert_eq!(server.post("/follows", &large).status, 413);
    for body in [
        "",
        "[]",
        "{\"draft\":{\"car\":{\"texts\":{\"colour\":\"x\"}}},\"frame\":0}",
        "{\"draft\":{\"boat\":{}},\"frame\":0}",
    ] {
        assert_eq!(server.post("/follows", body).status, 400, "{body}");
    }
    let strange = "{\"draft\":{\"more_wheel_marks\":[{\"texts\":{\"mass_g\":\"x\"}}]}}";
    assert_eq!(server.post("/end/follows", strange).status, 400);
    // Without a second clip its addresses say how to get one.
    for path in ["/end/frames/0", "/end/patches"] {
        let answer = server.get(path);
        assert_eq!(answer.status, 404, "{path}");
        assert!(
            answer.body.contains("--end-view"),
            "{path}: {}",
            answer.body
        );
    }
    let tricks = [
        "/page/../mod.rs",
        "/page/..%2fmod.rs",
        "/page/%2e%2e%2f%2e%2e%2f%2e%2e%2fCargo.toml",
        "/page//etc/passwd",
        "/page/%2fetc%2fpasswd",
        "/page/mod.rs",
        "/frames/../run.toml",
        "/frames/-1",
        "/frames/0x1",
        "/frames/1.5",
        "/frames/99999999999999999999",
        "/report/../clip.mp4",
        "/report?file=../clip.mp4",
        "/run.toml",
        "//",
    ];
    for path in tricks {
        let answer = server.get(path);
        assert!(
            [400, 404].contains(&answer.status),
            "{path}: {}",
            answer.status
        );
        assert!(
            !answer.body.contains("root:") && !answer.body.contains("[package]"),
            "{path}"
        );
    }
    assert_eq!(
        server
            .send(
                "DELETE",
                "/sheet",
                &server.host(),
                Some(&format!("http://{}", server.host())),
                ""
            )
            .status,
        405
    );
    assert_eq!(server.get("/standing").status, 200, "and it still answers");
}

#[test]
fn frames_come_by_number_and_a_clip_that_vanishes_is_told() {
    let server = Server::inside(None);
    server.observed();
    let frames = server.get("/patches").json()["times_s"]
        .as_array()
        .unwrap()
        .len();
    assert_eq!(server.get("/frames/0").status, 200);
    let last = server.get(&format!("/frames/{}", frames - 1));
    assert_eq!(last.status, 200);
    assert!(last.head.contains("image/jpeg"));
    assert_eq!(server.get(&format!("/frames/{frames}")).status, 404);
    fs::remove_file(server.home.path().join("clip.mp4")).unwrap();
    // The decoder stands at the end; a frame that was not kept needs the clip anew.
    let told = server.get("/frames/3");
    assert_eq!(told.status, 503, "{}", told.body);
    assert!(
        told.json()["says"].as_str().unwrap().contains("clip.mp4"),
        "{}",
        told.body
    );
    let draft = json!({ "sticker": { "texts": { "colour": "magenta" } } });
    let follows = loop {
        let follows = server
            .post_json("/follows", &json!({ "draft": draft, "frame": 0 }))
            .json();
        if follows["state"] != "waiting" {
            break follows;
        }
    };
    assert_eq!(follows["state"], "failed");
    assert!(
        follows["told"]["says"]
            .as_str()
            .unwrap()
            .contains("clip.mp4"),
        "{follows}"
    );
}

#[test]
fn a_sheet_that_changed_on_disk_is_not_written_over_unseen() {
    let server = Server::inside(Some(
        "# ours\n[sticker]\ncolour = \"magenta\" # pink\nheight_mm = 70\n",
    ));
    server.observed();
    let first = server.get("/sheet").json();
    let mut draft = first["draft"].clone();
    assert_eq!(draft["sticker"]["texts"]["height_mm"], "70");
    draft["sticker"]["texts"]["height_mm"] = json!("71");
    let saved = server.post_json("/sheet/save", &json!({ "draft": draft }));
    assert_eq!(saved.status, 200, "{}", saved.body);
    assert_eq!(
        server.sheet(),
        "# ours\n[sticker]\ncolour = \"magenta\" # pink\nheight_mm = 71.0\n"
    );

    let theirs = "# theirs\n[sticker]\ncolour = \"magenta\"\nheight_mm = 60\nahead_mm = 5\n[change]\nnote = \"x\"\n";
    fs::write(server.home.path().join("run.toml"), theirs).unwrap();
    draft["sticker"]["texts"]["height_mm"] = json!("72");
    let changed = server.post_json("/sheet/save", &json!({ "draft": draft }));
    assert_eq!(changed.status, 409);
    let told = changed.json();
    assert_eq!(
        (&told["state"], &told["disk"]),
        (&json!("changed"), &json!(theirs))
    );
    assert_eq!(server.sheet(), theirs, "nothing was written");
    let wrong = server.post_json("/sheet/save", &json!({ "draft": draft, "over": "0000" }));
    assert_eq!((wrong.status, server.sheet().as_str()), (409, theirs));
    let over = server.post_json(
        "/sheet/save",
        &json!({ "draft": draft, "over": told["key"] }),
    );
    assert_eq!(over.status, 200, "{}", over.body);
    assert_eq!(server.sheet(), told["would_be"].as_str().unwrap());
    assert!(server.sheet().contains("# theirs") && server.sheet().contains("height_mm = 72.0"));
    assert!(server.sheet().contains("note = \"x\""));

    fs::write(server.home.path().join("run.toml"), "not = = toml").unwrap();
    let broken = server.post_json("/sheet/again", &json!({}));
    assert_eq!(broken.status, 409);
    assert_eq!(
        server
            .post_json("/sheet/save", &json!({ "draft": draft }))
            .status,
        409
    );
    assert_eq!(server.sheet(), "not = = toml");
}

#[test]
fn what_is_not_complete_is_not_written() {
    let server = Server::inside(None);
    server.observed();
    let half = json!({ "sticker": { "texts": { "colour": "magenta" } },
        "floor_marks": [{ "texts": { "colour": "blue", "x_mm": "0", "y_mm": "" } }] });
    let refused = server.post_json("/sheet/save", &json!({ "draft": half }));
    assert_eq!(refused.status, 422, "{}", refused.body);
    let wrong = json!({ "sticker": { "texts": { "colour": "magenta", "height_mm": "seventy" } } });
    let refused = server.post_json("/sheet/save", &json!({ "draft": wrong }));
    assert_eq!(refused.json()["faults"][0]["field"], "sticker.height_mm");
    assert!(!server.home.path().join("run.toml").exists());
}

#[test]
fn a_place_in_the_picture_is_a_spot_of_the_floor_only_once_the_floor_is_known() {
    let server = Server::inside(None);
    server.observed();
    let bare = json!({ "sticker": { "texts": { "colour": "magenta" } } });
    let asked = json!({ "draft": bare, "frame": 0, "place_px": [100.0, 100.0] });
    let refused = server.post_json("/floor", &asked);
    assert_eq!(refused.status, 422, "{}", refused.body);
    let hint = refused.json()["hint"].to_string();
    assert!(hint.contains("four floor marks"), "{hint}");
    let odd = json!({ "draft": bare, "frame": 0, "place_px": [100.0] });
    assert_eq!(server.post_json("/floor", &odd).status, 400);
}
