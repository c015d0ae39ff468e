//! A station of the built command, and phones that talk to it over loopback.
#![allow(dead_code, unreachable_pub, reason = "shared by a test and a study")]
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    reason = "helpers of tests fail the test"
)]

use serde_json::{Value, json};
use std::io::{BufRead, BufReader, Read};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};
use ureq::http::{Method, Request};
use ureq::{Agent, Body};

/// What an answer was.
#[derive(Debug)]
pub struct Answer {
    pub status: u16,
    pub offset: Option<u64>,
    pub cookie: Option<String>,
    pub bytes: Vec<u8>,
    pub policy: Option<String>,
}

impl Answer {
    pub fn json(&self) -> Value {
        serde_json::from_slice(&self.bytes).unwrap_or(Value::Null)
    }
}

/// A station that runs.
pub struct Station {
    child: Child,
    /// What phones open, without the last slash.
    pub pupils: String,
    /// The coach's address, with its token.
    pub coach: String,
    pub code: String,
    pub port: u16,
    pub out: PathBuf,
}

impl Station {
    /// Starts one on a folder; port 0 takes any.
    pub fn start(gripline: &Path, out: &Path, port: u16, more: &[&str]) -> Self {
        let mut child = Command::new(gripline)
            .args([
                "station",
                "--address",
                "127.0.0.1",
                "--no-browser",
                "--port",
            ])
            .arg(port.to_string())
            .arg("--out")
            .arg(out)
            .args(more)
            .stdin(Stdio::null())
            .stdout(Stdio::piped())
            .spawn()
            .unwrap();
        let mut lines = BufReader::new(child.stdout.take().unwrap()).lines();
        let mut after = |mark: &str| loop {
            let line = lines
                .next()
                .unwrap_or_else(|| panic!("no `{mark}`"))
                .unwrap();
            if let Some((_, rest)) = line.split_once(mark) {
                return rest.trim().to_owned();
            }
        };
        let pupils = after("or open ").trim_end_matches('/').to_owned();
        let code = after("Code to join: ");
        after("Coach's page");
        let coach = after("http://127.0.0.1:");
        std::thread::spawn(move || lines.for_each(drop));
        let port = pupils.rsplit_once(':').unwrap().1.parse().unwrap();
        Self {
            child,
            pupils,
            coach: format!("http://127.0.0.1:{coach}"),
            code,
            port,
            out: out.to_owned(),
        }
    }

    /// Kills it as a power cut would.
    pub fn kill(&mut self) {
        self.child.kill().unwrap();
        self.child.wait().unwrap();
    }

    /// A phone that has not joined.
    pub fn phone(&self) -> Phone {
        Phone {
            base: self.pupils.clone(),
            cookie: None,
            agent: agent(),
        }
    }

    /// The coach's browser, let in by the address's token.
    pub fn open_coach(&self) -> Phone {
        let (base, token) = self
            .coach
            .split_once('/')
            .map(|_| self.coach.rsplit_once('/').unwrap())
            .unwrap();
        let mut coach = Phone {
            base: base.to_owned(),
            cookie: None,
            agent: agent(),
        };
        let answer = coach.get(&format!("/{token}")).unwrap();
        assert_eq!(answer.status, 200);
        coach.cookie = answer.cookie;
        coach
    }
}

impl Drop for Station {
    fn drop(&mut self) {
        self.child.kill().ok();
        self.child.wait().ok();
    }
}

fn agent() -> Agent {
    Agent::config_builder()
        .http_status_as_error(false)
        .proxy(None)
        .timeout_global(Some(Duration::from_secs(60)))
        .build()
        .into()
}

/// A phone, or whatever pretends to be one.
#[derive(Clone)]
pub struct Phone {
    pub base: String,
    pub cookie: Option<String>,
    agent: Agent,
}

impl Phone {
    /// Any request; `None` where the station does not answer.
    pub fn ask(
        &self,
        method: &str,
        path: &str,
        headers: &[(&str, &str)],
        body: Vec<u8>,
    ) -> Option<Answer> {
        let mut request = Request::builder()
            .method(Method::from_bytes(method.as_bytes()).unwrap())
            .uri(format!("{}{path}", self.base));
        if let Some(cookie) = &self.cookie {
            request = request.header("Cookie", cookie);
        }
        for (name, value) in headers {
            request = request.header(*name, *value);
        }
        let answer = self.agent.run(request.body(body).unwrap()).ok()?;
        let text = |name: &str| {
            answer
                .headers()
                .get(name)
                .and_then(|value| value.to_str().ok())
                .map(str::to_owned)
        };
        let (status, offset) = (answer.status().as_u16(), text("upload-offset"));
        let (cookie, policy) = (text("set-cookie"), text("content-security-policy"));
        Some(Answer {
            status,
            offset: offset.and_then(|offset| offset.parse().ok()),
            cookie: cookie.and_then(|cookie| Some(cookie.split_once(';')?.0.to_owned())),
            policy,
            bytes: read(answer.into_body())?,
        })
    }

    /// The same phone on a line of its own: one that the station closed may not be tried again.
    pub fn on_a_new_line(&self) -> Self {
        Self {
            agent: agent(),
            ..self.clone()
        }
    }

    pub fn get(&self, path: &str) -> Option<Answer> {
        self.ask("GET", path, &[], Vec::new())
    }

    /// What a page of the station sends.
    pub fn tell(&self, method: &str, path: &str, what: &Value) -> Option<Answer> {
        let origin = self.base.clone();
        let headers = [
            ("Origin", origin.as_str()),
            ("Content-Type", "application/json"),
        ];
        self.ask(method, path, &headers, what.to_string().into_bytes())
    }

    pub fn join(&mut self, code: &str, team: &str, key: &str) -> Option<Answer> {
        let answer = self.tell(
            "POST",
            "/join",
            &json!({ "code": code, "team": team, "key": key }),
        )?;
        if answer.cookie.is_some() {
            self.cookie.clone_from(&answer.cookie);
        }
        Some(answer)
    }

    /// Types the sizes of a car; its id.
    pub fn type_car(&self, draft: &Value) -> Option<String> {
        let answer = self.tell("POST", "/cars", draft)?;
        assert_eq!(answer.status, 200, "{}", answer.json());
        Some(answer.json()["car"].as_str().unwrap().to_owned())
    }

    pub fn wish(&self, token: &str, bytes: u64, car: &str, treatment: &str) -> Option<Answer> {
        let wish = json!({ "token": token, "clip": "run.mp4", "bytes": bytes, "car": car, "treatment": treatment, "change": "" });
        self.tell("POST", "/runs", &wish)
    }

    pub fn piece(&self, number: u64, offset: u64, piece: &[u8]) -> Option<Answer> {
        let (origin, offset) = (self.base.clone(), offset.to_string());
        let headers = [
            ("Origin", origin.as_str()),
            ("Upload-Offset", offset.as_str()),
        ];
        self.ask(
            "PATCH",
            &format!("/runs/{number}/clip"),
            &headers,
            piece.to_vec(),
        )
    }

    pub fn standing(&self, number: u64) -> Option<u64> {
        let answer = self.get(&format!("/runs/{number}/clip"))?;
        assert_eq!(answer.status, 204);
        answer.offset
    }

    /// Sends a clip; the run's number.
    pub fn send(&self, token: &str, clip: &[u8], car: &str, treatment: &str, piece: usize) -> u64 {
        let answer = self.wish(token, clip.len() as u64, car, treatment).unwrap();
        assert_eq!(answer.status, 200, "{}", answer.json());
        let number = answer.json()["number"].as_u64().unwrap();
        let mut offset = 0;
        for piece in clip.chunks(piece) {
            let answer = self.piece(number, offset, piece).unwrap();
            assert_eq!(answer.status, 204, "{}", answer.json());
            offset = answer.offset.unwrap();
        }
        assert_eq!(offset, clip.len() as u64);
        number
    }

    /// What the phone's page is told.
    pub fn mine(&self) -> Option<Value> {
        let answer = self.get("/mine")?;
        (answer.status == 200).then(|| answer.json())
    }

    /// A run as the page is told of it.
    pub fn run(&self, number: u64) -> Option<Value> {
        let mine = self.mine()?;
        mine["runs"]
            .as_array()?
            .iter()
            .find(|run| run["number"] == number)
            .cloned()
    }

    /// Waits until a run is measured or has failed.
    pub fn wait(&self, number: u64, longest: Duration) -> Value {
        let began = Instant::now();
        loop {
            let run = self.run(number).unwrap_or(Value::Null);
            if run["state"] == "done" || run["state"] == "failed" {
                return run;
            }
            assert!(began.elapsed() < longest, "{run}");
            std::thread::sleep(Duration::from_millis(100));
        }
    }
}

fn read(body: Body) -> Option<Vec<u8>> {
    let mut bytes = Vec::new();
    body.into_reader().read_to_end(&mut bytes).ok()?;
    Some(bytes)
}

/// The car of the clips that are drawn with the printed kit.
pub fn tern() -> Value {
    json!({
        "car": { "texts": { "name": "Tern", "wheel_diameter_mm": "96", "axle_diameter_mm": "13", "string_mm": "235",
                            "mass_g": "185", "facing_side": "right" } },
        "sticker": { "texts": { "height_mm": "96", "ahead_mm": "106", "off_centre_mm": "46" } },
        "wheel_mark": { "texts": { "radius_mm": "30" } },
    })
}

/// A result's numbers without what names the clip.
pub fn numbers(folder: &Path) -> Value {
    let text = std::fs::read(folder.join("summary.json")).unwrap();
    let mut summary: Value = serde_json::from_slice(&text).unwrap();
    summary["run"].as_object_mut().unwrap().remove("clip");
    summary
}
