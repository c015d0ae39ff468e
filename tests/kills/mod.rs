//! Commands that are stopped at any moment, and what must hold afterwards: after the next start the old result or the
//! new one is there, whole, and nothing lies beside it. Shared by the tests and `scripts/kill_study`.
#![allow(
    dead_code,
    unreachable_pub,
    reason = "a module of several programs, each of which uses its own part"
)]
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    reason = "helpers of tests fail the test"
)]

mod page;

use crate::results::{check_whole, leftovers};
use page::Page;
use rustix::process::{Pid, Signal, kill_process};
use std::ffi::OsString;
use std::fs;
use std::io::Read;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, ExitStatus, Output, Stdio};
use std::time::{Duration, Instant};
use tempfile::TempDir;

/// How a process is stopped: as a broken computer does, as the system does, as Ctrl-C does.
pub const SIGNALS: [Signal; 3] = [Signal::KILL, Signal::TERM, Signal::INT];

/// What is stopped.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Victim {
    /// `measure` of one clip, with report, annotated clip and poster.
    Measure,
    /// `measure` of three clips at once.
    Batch,
    Compare,
    Plan,
    /// A single file: the kit's pages.
    Kit,
    /// A single file: the run sheet, as the set-up page saves it.
    Save,
}

pub const VICTIMS: [Victim; 6] = [
    Victim::Measure,
    Victim::Batch,
    Victim::Compare,
    Victim::Plan,
    Victim::Kit,
    Victim::Save,
];

/// A folder with clips, sheets and an evening's summaries.
pub struct Home {
    folder: TempDir,
    gripline: PathBuf,
}

/// What came of one stop.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Left {
    /// Nothing had been there, and nothing is.
    Nothing,
    Old,
    New,
}

/// Texts that the set-up page saves in turn.
const TREATMENTS: [&str; 2] = ["bare", "silicone bead"];

impl Home {
    /// With this clip under four names, and the summaries of these runs.
    pub fn new(gripline: &Path, clip: &Path, summaries: &[PathBuf]) -> Self {
        let folder = tempfile::tempdir().unwrap();
        let at = |name: &str| folder.path().join(name);
        for name in ["one.mp4", "a.mp4", "b.mp4", "c.mp4"] {
            fs::copy(clip, at(name)).unwrap();
        }
        for (number, summary) in summaries.iter().enumerate() {
            let run = at("evening").join(format!("run{number:02}"));
            fs::create_dir_all(&run).unwrap();
            fs::copy(summary, run.join("summary.json")).unwrap();
        }
        fs::write(at("run.toml"), "[sticker]\ncolour = \"magenta\"\n").unwrap();
        Self {
            gripline: gripline.to_path_buf(),
            folder,
        }
    }

    fn at(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    /// The results of a victim: folders, or one file.
    fn results(&self, victim: Victim) -> Vec<PathBuf> {
        match victim {
            Victim::Measure => vec![self.at("o/one")],
            Victim::Batch => ["a", "b", "c"].map(|name| self.at("o").join(name)).into(),
            Victim::Compare => vec![self.at("o/comparison")],
            Victim::Plan => vec![self.at("o/plan")],
            Victim::Kit => vec![self.at("o/kit.pdf")],
            Victim::Save => vec![self.at("o/run.toml")],
        }
    }

    /// The words that make a victim's results; `new` ones differ from the old.
    fn words(&self, victim: Victim, new: bool) -> Vec<OsString> {
        let draws = if new { "11" } else { "10" };
        let path = |name: &str| self.at(name).into_os_string();
        let mut words: Vec<OsString> = match victim {
            Victim::Measure => ["measure", "--draws", draws].map(Into::into).into(),
            Victim::Batch => ["measure", "--no-overlay", "--draws", draws]
                .map(Into::into)
                .into(),
            Victim::Compare => ["compare", "--of", "all"].map(Into::into).into(),
            Victim::Plan => ["plan", "--distance-m"].map(Into::into).into(),
            Victim::Kit => ["kit", "--paper"].map(Into::into).into(),
            Victim::Save => ["setup", "--no-browser"].map(Into::into).into(),
        };
        match victim {
            Victim::Measure | Victim::Save => words.push(path("one.mp4")),
            Victim::Batch => words.extend(["a.mp4", "b.mp4", "c.mp4"].map(path)),
            Victim::Compare => {
                let by = if new { "car" } else { "treatment" };
                words.extend(["--by".into(), by.into(), path("evening")]);
            }
            Victim::Plan => words.extend([if new { "4" } else { "5" }.into(), path("evening")]),
            Victim::Kit => words.push(if new { "a4" } else { "letter" }.into()),
        }
        match victim {
            Victim::Measure | Victim::Batch => {
                words.extend([
                    "--sheet".into(),
                    path("run.toml"),
                    "--out".into(),
                    path("o"),
                ]);
                words.push("--replace".into());
            }
            Victim::Save => words.extend(["--sheet".into(), path("o/run.toml")]),
            _ => {
                words.extend(["--replace".into(), "--out".into()]);
                words.push(self.results(victim)[0].clone().into());
            }
        }
        words
    }

    fn start(&self, words: &[OsString]) -> Child {
        Command::new(&self.gripline)
            .args(words)
            .stdin(Stdio::null())
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .unwrap()
    }

    /// Makes the old results and says how long that took.
    pub fn prepare(&self, victim: Victim) -> Duration {
        fs::create_dir_all(self.at("o")).unwrap();
        let start = Instant::now();
        if victim == Victim::Save {
            fs::write(self.at("o/run.toml"), sheet(TREATMENTS[0])).unwrap();
            let mut page = Page::open(self.start(&self.words(victim, false)));
            page.save(TREATMENTS[1]);
            page.stop(Signal::KILL);
            fs::write(self.at("o/run.toml"), sheet(TREATMENTS[0])).unwrap();
        } else {
            let output = self.run(&self.words(victim, false));
            assert!(output.status.success(), "{output:?}");
        }
        start.elapsed()
    }

    fn run(&self, words: &[OsString]) -> Output {
        Command::new(&self.gripline)
            .args(words)
            .stdin(Stdio::null())
            .output()
            .unwrap()
    }

    /// Starts a victim anew over what is there, or over nothing, stops it after a while, starts something else there,
    /// and looks at what is left.
    ///
    /// # Errors
    /// What must never be left.
    pub fn stop(
        &self,
        victim: Victim,
        signal: Signal,
        after: Duration,
        over_nothing: bool,
    ) -> Result<Left, String> {
        let before = self.standing(victim)?;
        if !over_nothing && before.contains(&None) {
            self.prepare(victim);
            return self.stop(victim, signal, after, over_nothing);
        }
        if over_nothing {
            for result in self.results(victim) {
                fs::remove_dir_all(&result)
                    .or_else(|_| fs::remove_file(&result))
                    .ok();
            }
        }
        let old = self.standing(victim)?;
        // What is to be written differs from what was there.
        let new = before
            .first()
            .is_some_and(|standing| *standing == marker(victim, false));
        if victim == Victim::Save {
            let mut page = Page::open(self.start(&self.words(victim, new)));
            page.begin_to_save(TREATMENTS[usize::from(new)]);
            std::thread::sleep(after);
            page.stop(signal);
        } else {
            let mut child = self.start(&self.words(victim, new));
            std::thread::sleep(after);
            stop(&mut child, signal);
        }
        self.next_start();
        let left = leftovers(self.folder.path());
        if !left.is_empty() {
            return Err(format!("left behind: {left:?}"));
        }
        let now = self.standing(victim)?;
        let new = marker(victim, new);
        for (place, now) in now.iter().enumerate() {
            if *now != old[place] && *now != new {
                return Err(format!("{now:?} is neither {:?} nor {new:?}", old[place]));
            }
        }
        Ok(match &now[0] {
            None => Left::Nothing,
            standing if *standing == new => Left::New,
            Some(_) => Left::Old,
        })
    }

    /// A command that writes into the folder of the results, so that it puts right what others left there.
    fn next_start(&self) {
        let output = self.run(&[
            "kit".into(),
            "--replace".into(),
            "--out".into(),
            self.at("o/next.pdf").into(),
        ]);
        assert!(output.status.success(), "{output:?}");
    }

    /// Which of its results stands at each place of a victim; `None` where none does.
    fn standing(&self, victim: Victim) -> Result<Vec<Option<String>>, String> {
        self.results(victim)
            .iter()
            .map(|place| match place.symlink_metadata() {
                Err(_) => Ok(None),
                Ok(_) => which(victim, place).map(Some),
            })
            .collect()
    }
}

/// What tells one result of a victim from the other.
fn marker(victim: Victim, new: bool) -> Option<String> {
    let of = |old: &str, other: &str| Some(if new { other } else { old }.to_owned());
    match victim {
        Victim::Measure | Victim::Batch => of("10", "11"),
        Victim::Compare => of("car.treatment", "car.name"),
        Victim::Plan => of("5", "4"),
        Victim::Kit => of("612", "595"),
        Victim::Save => of(TREATMENTS[0], TREATMENTS[1]),
    }
}

/// What tells which result stands at a place, after looking at all of it.
fn which(victim: Victim, place: &Path) -> Result<String, String> {
    let json = |name: &str| -> Result<serde_json::Value, String> {
        check_whole(place)?;
        let bytes = fs::read(place.join(name)).map_err(|error| error.to_string())?;
        serde_json::from_slice(&bytes).map_err(|error| error.to_string())
    };
    let odd = || format!("{} does not say what it is", place.display());
    match victim {
        Victim::Measure | Victim::Batch => {
            let draws = &json("summary.json")?["measured_by"]["draws_asked"];
            draws
                .as_u64()
                .map(|draws| draws.to_string())
                .ok_or_else(odd)
        }
        Victim::Compare => {
            let by = &json("comparison.json")?["by"];
            by.as_str().map(str::to_owned).ok_or_else(odd)
        }
        Victim::Plan => {
            let way = &json("plan.json")?["task"]["metres"];
            way.as_f64().map(|way| way.to_string()).ok_or_else(odd)
        }
        Victim::Kit => {
            let bytes = fs::read(place).map_err(|error| error.to_string())?;
            let text = String::from_utf8_lossy(&bytes);
            let whole = text.starts_with("%PDF-") && text.trim_end().ends_with("%%EOF");
            let paper = ["612", "595"]
                .into_iter()
                .find(|wide| text.contains(&format!("[0 0 {wide}")));
            paper.filter(|_| whole).map(str::to_owned).ok_or_else(odd)
        }
        Victim::Save => {
            let text = fs::read_to_string(place).map_err(|error| error.to_string())?;
            let sheet: toml::Table = text
                .parse()
                .map_err(|error: toml::de::Error| error.to_string())?;
            let said = sheet
                .get("car")
                .and_then(|car| car.get("treatment")?.as_str());
            said.map(str::to_owned).ok_or_else(odd)
        }
    }
}

fn sheet(treatment: &str) -> String {
    format!("[car]\ntreatment = \"{treatment}\"\n\n[sticker]\ncolour = \"magenta\"\n")
}

/// Stops a process and waits for its end.
fn stop(child: &mut Child, signal: Signal) -> ExitStatus {
    if let Some(pid) = Pid::from_raw(child.id().cast_signed()) {
        // It may have ended by itself; nobody has waited for it, so the number is still its own.
        kill_process(pid, signal).ok();
    }
    if let Some(mut out) = child.stdout.take() {
        out.read_to_end(&mut Vec::new()).ok();
    }
    child.wait().unwrap()
}
