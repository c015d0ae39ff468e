//! `gripline measure` in a process of its own, with little memory, and everything that must hold however it ends: an
//! exit code of 0 or 1, a whole result or one clear error, and nothing left behind.
#![allow(
    dead_code,
    unreachable_pub,
    reason = "a module of several programs, each of which uses its own part"
)]
#![allow(clippy::unwrap_used, reason = "helpers of tests fail the test")]

use crate::results::{check_told, check_whole, leftovers, names_in};
use std::fs;
use std::io::Read;
use std::os::unix::process::ExitStatusExt;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, ExitStatus, Stdio};
use std::thread::{JoinHandle, sleep, spawn};
use std::time::Duration;
use tempfile::TempDir;

/// Seconds on the processor after which a process hangs: any of these takes under one.
const HANGS_S: u32 = 60;
/// Memory for data that a process may take, KiB.
const MOST_DATA_KIB: u32 = 1 << 20;
/// Signals by which the system ends a process that takes too long, and one that aborts (POSIX).
const TOO_LONG: [i32; 2] = [24, 9];
const ABORTED: i32 = 6;

/// What came of measuring.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Came {
    pub outcome: &'static str,
    /// All that it printed.
    pub said: String,
    /// Most memory that it held at once, KiB, as far as looking every few milliseconds tells.
    pub peak_kib: u64,
}

/// What must never come of it.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum Never {
    #[error("it panicked: {0}")]
    Panic(String),
    #[error("it took too long or was ended: {0}")]
    TooLong(String),
    #[error("it took too much memory, or died of it: {0}")]
    Memory(String),
    #[error("it ended with {0}")]
    Exit(String),
    #[error("it left {0} behind")]
    Leftovers(String),
    #[error("its result is not whole or not all numbers: {0}")]
    Torn(String),
    #[error("its error is not one clear error: {0}")]
    Unclear(String),
}

/// A folder for a clip, a sheet, and what comes out.
pub struct Bench {
    folder: TempDir,
    gripline: PathBuf,
}

impl Bench {
    pub fn new(gripline: impl Into<PathBuf>) -> Self {
        Self {
            folder: tempfile::tempdir().unwrap(),
            gripline: gripline.into(),
        }
    }

    pub fn at(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    pub fn write(&self, name: &str, bytes: impl AsRef<[u8]>) -> PathBuf {
        let path = self.at(name);
        fs::write(&path, bytes).unwrap();
        path
    }

    /// What came of measuring a clip by a sheet; its result is looked at and taken away.
    ///
    /// # Errors
    /// What must never come of it.
    pub fn measured(&self, clip: &Path, sheet: &Path) -> Result<Came, Never> {
        let out = self.at("out");
        let before = names_in(self.folder.path());
        let ended = self.ended(clip, sheet, &out);
        let left = leftovers(self.folder.path());
        let mut after = names_in(self.folder.path());
        let is_out = after.remove("out");
        let judged = ended.judge(&out, is_out);
        fs::remove_dir_all(&out).ok();
        if !left.is_empty() || after != before {
            return Err(Never::Leftovers(format!("{left:?} {after:?}")));
        }
        judged
    }

    fn ended(&self, clip: &Path, sheet: &Path, out: &Path) -> Ended {
        let mut child = Command::new("sh")
            .arg("-c")
            .arg(format!(
                "ulimit -t {HANGS_S}; ulimit -d {MOST_DATA_KIB}; exec \"$@\""
            ))
            .arg("sh")
            .arg(&self.gripline)
            .args([
                "measure",
                "--draws",
                "10",
                "--no-report",
                "--no-overlay",
                "--sheet",
            ])
            .args([sheet.as_os_str(), "--out".as_ref(), out.as_os_str()])
            .args(["--".as_ref(), clip.as_os_str()])
            .stdin(Stdio::null())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        let (stdout, stderr) = (drain(child.stdout.take()), drain(child.stderr.take()));
        let (status, peak_kib) = watched(&mut child);
        Ended {
            status,
            stdout: stdout.join().unwrap_or_default(),
            stderr: stderr.join().unwrap_or_default(),
            peak_kib,
        }
    }
}

struct Ended {
    status: ExitStatus,
    stdout: Vec<u8>,
    stderr: Vec<u8>,
    peak_kib: u64,
}

impl Ended {
    fn judge(&self, out: &Path, is_out: bool) -> Result<Came, Never> {
        let text = |bytes| String::from_utf8_lossy(bytes).into_owned();
        let said = text(&self.stdout) + &text(&self.stderr);
        let came = |outcome| Came {
            outcome,
            said: said.clone(),
            peak_kib: self.peak_kib,
        };
        if said.contains("panicked") {
            return Err(Never::Panic(said));
        }
        match (self.status.code(), self.status.signal()) {
            (Some(0), _) => {
                let folders = names_in(out);
                let one = folders.iter().next().filter(|_| folders.len() == 1);
                let folder = one.ok_or_else(|| Never::Torn(format!("{folders:?}")))?;
                check_whole(&out.join(folder)).map_err(Never::Torn)?;
                Ok(came("measured"))
            }
            (Some(1), _) => {
                check_told(&self.stderr).map_err(Never::Unclear)?;
                if is_out || !self.stdout.is_empty() {
                    return Err(Never::Leftovers(
                        "a refusal wrote or printed something".into(),
                    ));
                }
                Ok(came("refused"))
            }
            (None, Some(signal)) if TOO_LONG.contains(&signal) => Err(Never::TooLong(said)),
            (None, Some(ABORTED)) => Err(Never::Memory(said)),
            _ => Err(Never::Exit(format!("{}: {said}", self.status))),
        }
    }
}

fn drain(from: Option<impl Read + Send + 'static>) -> JoinHandle<Vec<u8>> {
    spawn(move || {
        let mut bytes = Vec::new();
        if let Some(mut from) = from {
            from.read_to_end(&mut bytes).ok();
        }
        bytes
    })
}

/// Waits for the end of a process and looks at its memory meanwhile.
fn watched(child: &mut Child) -> (ExitStatus, u64) {
    let status = format!("/proc/{}/status", child.id());
    let mut peak = 0;
    loop {
        if let Some(ended) = child.try_wait().unwrap() {
            return (ended, peak);
        }
        let now = fs::read_to_string(&status).unwrap_or_default();
        let held = now.lines().find_map(|line| line.strip_prefix("VmHWM:"));
        let held = held.and_then(|held| held.trim().trim_end_matches(" kB").parse().ok());
        peak = peak.max(held.unwrap_or(0));
        sleep(Duration::from_millis(3));
    }
}
