//! The set-up page's server in a process of its own, spoken to by hand.

use super::stop;
use rustix::process::Signal;
use std::io::{BufRead, BufReader, Read, Write};
use std::net::TcpStream;
use std::process::Child;

/// A set-up page that was opened.
pub(super) struct Page {
    child: Child,
    port: u16,
    cookie: String,
    answer: Option<TcpStream>,
}

impl Page {
    pub(super) fn open(mut child: Child) -> Self {
        let mut lines = BufReader::new(child.stdout.take().unwrap()).lines();
        let address = lines
            .find_map(|line| {
                line.ok()?
                    .strip_prefix("http://127.0.0.1:")
                    .map(str::to_owned)
            })
            .expect("the page tells its address");
        let (port, token) = address.trim().split_once("/?token=").unwrap();
        let mut page = Self {
            child,
            port: port.parse().unwrap(),
            cookie: String::new(),
            answer: None,
        };
        let head = page.ask("GET", &format!("/?token={token}"), "");
        let cookie = head.lines().find_map(|line| {
            line.to_lowercase()
                .starts_with("set-cookie:")
                .then(|| &line[11..])
        });
        let cookie = cookie
            .expect("a cookie")
            .split(';')
            .next()
            .unwrap_or_default();
        cookie.trim().clone_into(&mut page.cookie);
        page
    }

    fn send(&self, method: &str, path: &str, body: &str) -> TcpStream {
        let host = format!("127.0.0.1:{}", self.port);
        let mut stream = TcpStream::connect(&host).unwrap();
        let request = format!(
            "{method} {path} HTTP/1.1\r\nHost: {host}\r\nOrigin: http://{host}\r\nCookie: {}\r\n\
             Content-Length: {}\r\nConnection: close\r\n\r\n{body}",
            self.cookie,
            body.len()
        );
        stream.write_all(request.as_bytes()).unwrap();
        stream
    }

    fn ask(&self, method: &str, path: &str, body: &str) -> String {
        let mut bytes = Vec::new();
        self.send(method, path, body).read_to_end(&mut bytes).ok();
        String::from_utf8_lossy(&bytes).into_owned()
    }

    fn wish(treatment: &str) -> String {
        let car = serde_json::json!({ "texts": { "treatment": treatment } });
        let sticker = serde_json::json!({ "texts": { "colour": "magenta" } });
        serde_json::json!({ "draft": { "car": car, "sticker": sticker }, "over": null }).to_string()
    }

    pub(super) fn save(&mut self, treatment: &str) {
        let answer = self.ask("POST", "/sheet/save", &Self::wish(treatment));
        assert!(answer.contains("\"written\""), "{answer}");
    }

    pub(super) fn begin_to_save(&mut self, treatment: &str) {
        self.answer = Some(self.send("POST", "/sheet/save", &Self::wish(treatment)));
    }

    pub(super) fn stop(mut self, signal: Signal) {
        stop(&mut self.child, signal);
    }
}
