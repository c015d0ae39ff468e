//! Measuring what was sent: each clip in a process of its own, which is bounded and may fail alone.

use super::Station;
use super::book::{Run, State, Why};
use super::queue::{Place, waiting};
use std::io::{self, Read};
use std::process::{Child, Command, Stdio};
use std::sync::atomic::Ordering;
use std::thread;
use std::time::{Duration, Instant};

/// A clip that takes longer than this is given up, so that it does not hold up the class. Three quarters of a minute of 4K take
/// about as long on two slow cores.
const LONGEST: Duration = Duration::from_secs(240);
/// How often a process is looked at.
const LOOK: Duration = Duration::from_millis(50);
/// How long a worker waits before it looks for work again, if nobody wakes it.
const IDLE: Duration = Duration::from_millis(500);
/// What is read of a process's complaints, bytes.
const MOST_WORDS: u64 = 16 << 10;

/// Measures whatever waits, until the station stops.
pub(super) fn work(station: &Station) {
    while !station.stopping.load(Ordering::Relaxed) {
        let Some(((team, number), run)) = take_up(station) else {
            station.idle(IDLE);
            continue;
        };
        let why = measure(station, &run);
        let mut book = super::locked(&station.book);
        if station.stopping.load(Ordering::Relaxed) && why.is_some() {
            // It was cut short by the end of the station: the next start measures it.
            return;
        }
        if book.measured(&team, number, why).is_err() {
            // The disk is full or gone: it stays in the queue, and the coach sees that nothing goes on.
            book.set(&team, number, State::Waiting).ok();
            drop(book);
            station.idle(IDLE);
        }
    }
}

fn take_up(station: &Station) -> Option<(Place, Run)> {
    let mut book = super::locked(&station.book);
    let mut served = super::locked(&station.served);
    let place = waiting(&book, &served).into_iter().next()?;
    let run = book.run(&place.0, place.1).ok()?.clone();
    book.set(&place.0, place.1, State::Measuring).ok()?;
    let last = served.values().max().copied().unwrap_or(0);
    served.insert(place.0.clone(), last + 1);
    Some((place, run))
}

/// Measures a clip; why there is no result.
fn measure(station: &Station, run: &Run) -> Option<Why> {
    match begin(station, run).and_then(|child| wait(station, run, child)) {
        Ok(why) => why,
        Err(error) => Some(Why {
            says: format!("measuring could not be started: {error}"),
            hint: "tell whoever runs the station".to_owned(),
        }),
    }
}

fn begin(station: &Station, run: &Run) -> io::Result<Child> {
    let mut command = Command::new(std::env::current_exe()?);
    command
        .arg("measure")
        .arg("--bounded")
        .arg("--replace")
        .arg("--sheet")
        .arg(run.sheet())
        .arg("--out")
        .arg(&run.folder);
    if station.settings.no_overlay {
        command.arg("--no-overlay");
    }
    command
        .arg("--")
        .arg(run.clip())
        .env("RAYON_NUM_THREADS", station.settings.threads.to_string())
        .stdin(Stdio::null())
        .stdout(Stdio::null())
        .stderr(Stdio::piped())
        .spawn()
}

fn wait(station: &Station, run: &Run, mut child: Child) -> io::Result<Option<Why>> {
    // Its complaints are read beside it, so that a full pipe does not hold it up.
    let stderr = child.stderr.take();
    let words = thread::spawn(move || {
        let mut text = Vec::new();
        if let Some(mut stderr) = stderr {
            stderr.by_ref().take(MOST_WORDS).read_to_end(&mut text).ok();
            io::copy(&mut stderr, &mut io::sink()).ok();
        }
        String::from_utf8_lossy(&text).into_owned()
    });
    let began = Instant::now();
    let (status, late) = loop {
        if let Some(status) = child.try_wait()? {
            break (status, false);
        }
        let late = began.elapsed() > LONGEST;
        if late || station.stopping.load(Ordering::Relaxed) {
            child.kill()?;
            break (child.wait()?, late);
        }
        thread::sleep(LOOK);
    };
    let words = words.join().unwrap_or_default();
    Ok(if status.success() {
        None
    } else if status.code() == Some(1) {
        Some(complaint(&words, run))
    } else {
        let what = if late {
            "took longer than four minutes"
        } else {
            "took more memory or time than a clip may, or broke off"
        };
        Some(Why {
            says: format!("measuring this clip {what}"),
            hint: "film the run again with the phone's own camera, ten seconds at most".to_owned(),
        })
    })
}

/// The last error and its hint, without the laptop's folders.
fn complaint(words: &str, run: &Run) -> Why {
    let words = words.replace(&format!("{}/", run.folder.display()), "");
    let last = |mark: &str| {
        let found = words.lines().rev().find_map(|line| line.strip_prefix(mark));
        found.map(str::to_owned)
    };
    Why {
        says: last("error: ").unwrap_or_else(|| "the clip could not be measured".to_owned()),
        hint: last("hint: ").unwrap_or_else(|| "show it to your coach".to_owned()),
    }
}

#[cfg(test)]
mod tests {
    use super::super::book::Order;
    use super::*;

    #[test]
    fn the_last_complaint_is_told_with_its_hint_and_without_folders() {
        let order = Order {
            token: String::new(),
            clip: "a.mp4".to_owned(),
            bytes: 0,
            car: String::new(),
            treatment: String::new(),
            change: String::new(),
        };
        let run = Run {
            order,
            state: State::Waiting,
            folder: "/home/coach/class/teams/t/runs/0001".into(),
            name: "t-1".to_owned(),
            verdict: None,
        };
        let words = "note: put right\nerror: one\nhint: two\n\
                     error: `/home/coach/class/teams/t/runs/0001/t-1.mp4` is odd\nhint: four\n";
        let why = complaint(words, &run);
        assert_eq!(
            (why.says.as_str(), why.hint.as_str()),
            ("`t-1.mp4` is odd", "four")
        );
        assert!(!complaint("", &run).says.is_empty());
    }
}
