//! A class on a bad network: thirty phones send drawn clips to a station that is killed again and again.
//!
//! ```text
//! cargo run --release --example class_study              # 30 phones, a clip each, 20 kills
//! cargo run --release --example class_study -- 6 3 100   # 6 phones, 3 kills, breaks in 100 of 1000 pieces
//! ```
//!
//! Each phone joins with a team of its own, types its car, and sends one of the drawn clips in `fixtures/` that show the
//! printed kit, in pieces of random length. Before some pieces the line breaks: the piece is cut short, or its answer is
//! lost, and the phone asks how much is there. Meanwhile the station is killed at random moments and started again on its
//! folder. In the end every clip is there once, byte for byte, and its numbers are those of `gripline measure`.
//!
//! It runs the command beside the example in the target folder: build it first (`cargo build --release`).
#![allow(
    clippy::print_stdout,
    clippy::unwrap_used,
    clippy::panic,
    reason = "a study prints its counts and stops where something is lost"
)]

#[path = "../../tests/phone/mod.rs"]
mod phone;

use phone::{Phone, Station, numbers, tern};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use std::io::Write;
use std::net::TcpStream;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::sync::{Arc, Mutex};
use std::thread;
use std::time::{Duration, Instant};

/// Drawn clips that show the printed kit's marks, and others that every station gets.
const CLIPS: [&str; 6] = ["kit-beside", "clean", "spin-out", "veer", "wobble", "drag"];
const SEED: u64 = 0x636c_6173;

struct Tried {
    kills: u64,
    breaks: AtomicU64,
    refused: AtomicU64,
}

fn main() {
    let mut words = std::env::args()
        .skip(1)
        .map(|word| word.parse::<u64>().unwrap());
    let phones = words.next().unwrap_or(30);
    let kills = words.next().unwrap_or(20);
    let breaks_per_mille = words.next().unwrap_or(60);
    let gripline = std::env::current_exe()
        .unwrap()
        .parent()
        .unwrap()
        .parent()
        .unwrap()
        .join("gripline");
    assert!(gripline.is_file(), "build gripline first");
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().join("class");
    let station = Arc::new(Mutex::new(Station::start(
        &gripline,
        &out,
        0,
        &["--no-overlay"],
    )));
    let port = station.lock().unwrap().port;
    let code = station.lock().unwrap().code.clone();
    let tried = Arc::new(Tried {
        kills,
        breaks: AtomicU64::new(0),
        refused: AtomicU64::new(0),
    });
    let all_sent = Arc::new(AtomicBool::new(false));
    let killer = kill_again_and_again(&station, (&gripline, &out, port), kills, &all_sent);

    let began = Instant::now();
    let senders: Vec<_> = (0..phones)
        .map(|number| {
            let base = station.lock().unwrap().phone();
            let (code, tried, out) = (code.clone(), Arc::clone(&tried), out.clone());
            thread::spawn(move || one_phone(base, (number, &out), &code, breaks_per_mille, &tried))
        })
        .collect();
    let waits: Vec<(Duration, Duration)> = senders
        .into_iter()
        .map(|sender| sender.join().unwrap())
        .collect();
    all_sent.store(true, Ordering::Relaxed);
    killer.join().unwrap();
    report(&waits, began.elapsed(), &tried);
    let [same, runs] = compare(&gripline, &out, folder.path());
    println!(
        "{runs} runs are there for {phones} phones; {same} have the clip byte for byte and the numbers of `gripline measure`"
    );
    assert!(
        same == phones && runs == phones,
        "something was lost, or came twice"
    );
}

fn kill_again_and_again(
    station: &Arc<Mutex<Station>>,
    (gripline, out, port): (&Path, &Path, u16),
    kills: u64,
    all_sent: &Arc<AtomicBool>,
) -> thread::JoinHandle<()> {
    let (station, all_sent) = (Arc::clone(station), Arc::clone(all_sent));
    let (gripline, out) = (gripline.to_owned(), out.to_owned());
    thread::spawn(move || {
        let mut random = ChaCha8Rng::seed_from_u64(SEED);
        for kill in 0..kills {
            thread::sleep(Duration::from_millis(random.random_range(100..3000)));
            let mut station = station.lock().unwrap();
            station.kill();
            *station = Station::start(&gripline, &out, port, &["--no-overlay"]);
            if all_sent.load(Ordering::Relaxed) {
                println!("all results were there after {} kills", kill + 1);
                return;
            }
        }
    })
}

/// A phone's whole way; how long sending took, and how long the verdict after it.
fn one_phone(
    mut phone: Phone,
    (number, out): (u64, &Path),
    code: &str,
    breaks_per_mille: u64,
    tried: &Tried,
) -> (Duration, Duration) {
    let mut random = ChaCha8Rng::seed_from_u64(SEED ^ (number + 1));
    let team = format!("Team {number}");
    let mut key = String::new();
    // An answer that is lost leaves a team without a phone: the coach reads its key off the page.
    patient(|| {
        let answer = phone.join(code, &team, &key)?;
        if answer.status == 403 {
            key = key_on_disk(out, &team)?;
            return None;
        }
        (answer.status == 200).then_some(())
    });
    let car = patient(|| phone.type_car(&tern()));
    let clip = std::fs::read(clip_of(number)).unwrap();
    let token = format!("{number:032x}");
    let began = Instant::now();
    let wish = patient(|| phone.wish(&token, clip.len() as u64, &car, "bare"));
    assert_eq!(wish.status, 200, "{}", wish.json());
    let run = wish.json()["number"].as_u64().unwrap();
    let mut offset = 0_usize;
    while offset < clip.len() {
        let end = clip.len().min(offset + random.random_range(1_000..8_000));
        if random.random_range(0..1000) < breaks_per_mille {
            tried.breaks.fetch_add(1, Ordering::Relaxed);
            break_off(&phone, run, offset, &clip[offset..end]);
            offset = patient(|| phone.standing(run)) as usize;
            continue;
        }
        match phone.piece(run, offset as u64, &clip[offset..end]) {
            Some(answer) if answer.status == 204 => offset = answer.offset.unwrap() as usize,
            Some(answer) => {
                assert_eq!(answer.status, 409, "{}", answer.json());
                tried.refused.fetch_add(1, Ordering::Relaxed);
                offset = patient(|| phone.standing(run)) as usize;
            }
            None => offset = patient(|| phone.standing(run)) as usize,
        }
        thread::sleep(Duration::from_millis(random.random_range(0..300)));
    }
    let sent = began.elapsed();
    let told = phone.wait(run, Duration::from_secs(1200));
    assert!(
        told["verdict"].is_object() || told["why"].is_object(),
        "{told}"
    );
    (sent, began.elapsed().saturating_sub(sent))
}

fn clip_of(number: u64) -> PathBuf {
    let name = CLIPS[number as usize % CLIPS.len()];
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("fixtures")
        .join(name)
        .join("clip.mp4")
}

/// A piece of which half gets through before the line breaks.
fn break_off(phone: &Phone, run: u64, offset: usize, piece: &[u8]) {
    let host = phone.base.trim_start_matches("http://");
    let Ok(mut line) = TcpStream::connect(host) else {
        return;
    };
    let head = format!(
        "PATCH /runs/{run}/clip HTTP/1.1\r\nHost: {host}\r\nOrigin: {}\r\nCookie: {}\r\nUpload-Offset: {offset}\r\nContent-Length: {}\r\n\r\n",
        phone.base,
        phone.cookie.as_deref().unwrap_or_default(),
        piece.len()
    );
    line.write_all(head.as_bytes()).ok();
    line.write_all(&piece[..piece.len() / 2]).ok();
}

/// Asks until there is an answer.
fn patient<T>(mut step: impl FnMut() -> Option<T>) -> T {
    let began = Instant::now();
    loop {
        if let Some(found) = step() {
            return found;
        }
        assert!(
            began.elapsed() < Duration::from_secs(120),
            "the station does not come back"
        );
        thread::sleep(Duration::from_millis(100));
    }
}

/// A team's key, as the coach would read it off the page.
fn key_on_disk(out: &Path, team: &str) -> Option<String> {
    let id = team.to_lowercase().replace(' ', "-");
    let text = std::fs::read(out.join("teams").join(id).join("team.json")).ok()?;
    let about: serde_json::Value = serde_json::from_slice(&text).ok()?;
    Some(about["key"].as_str()?.to_owned())
}

fn report(waits: &[(Duration, Duration)], whole: Duration, tried: &Tried) {
    let median = |of: fn(&(Duration, Duration)) -> Duration| {
        let mut all: Vec<f64> = waits.iter().map(|wait| of(wait).as_secs_f64()).collect();
        all.sort_by(f64::total_cmp);
        [all[all.len() / 2], all[all.len() - 1]]
    };
    let ([sent, longest_sent], [waited, longest_waited]) =
        (median(|wait| wait.0), median(|wait| wait.1));
    println!(
        "{} phones, {} kills asked for, {} lines broken, {} pieces out of turn; {:.0} s in all",
        waits.len(),
        tried.kills,
        tried.breaks.load(Ordering::Relaxed),
        tried.refused.load(Ordering::Relaxed),
        whole.as_secs_f64()
    );
    println!(
        "sending {sent:.1} s in the median, {longest_sent:.1} s at most; verdict {waited:.1} s after it, {longest_waited:.1} s at most"
    );
}

/// How many runs are as they should be, and how many there are.
fn compare(gripline: &Path, out: &Path, folder: &Path) -> [u64; 2] {
    let (mut same, mut runs) = (0, 0);
    for team in std::fs::read_dir(out.join("teams")).unwrap() {
        let team = team.unwrap();
        let id = team.file_name().into_string().unwrap();
        for run in std::fs::read_dir(team.path().join("runs")).unwrap() {
            let run = run.unwrap().path();
            runs += 1;
            let name = format!("{id}-1");
            let clip = run.join(format!("{name}.mp4"));
            let number: u64 = id.trim_start_matches("team-").parse().unwrap();
            let whole = std::fs::read(&clip).unwrap() == std::fs::read(clip_of(number)).unwrap();
            let by_hand = folder.join("by-hand");
            let done = Command::new(gripline)
                .arg("measure")
                .arg(&clip)
                .args(["--no-overlay", "--no-poster", "--no-report", "--sheet"])
                .arg(run.join("run.toml"))
                .arg("--out")
                .arg(&by_hand)
                .output()
                .unwrap();
            // A clip whose colours are not the kit's has no result, by hand neither.
            let alike = if run.join("failed.json").is_file() {
                !done.status.success()
            } else {
                done.status.success() && numbers(&by_hand.join(&name)) == numbers(&run.join(&name))
            };
            if !(whole && alike) {
                println!("{}: whole {whole}, alike {alike}", run.display());
                let failed = std::fs::read_to_string(run.join("failed.json"));
                let by_hand = String::from_utf8_lossy(&done.stderr);
                println!("{} {by_hand}", failed.unwrap_or_default());
            }
            same += u64::from(whole && alike);
        }
    }
    [same, runs]
}
