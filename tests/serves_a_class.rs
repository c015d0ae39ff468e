//! `gripline station` from join to verdict, over loopback, and everything that it refuses.
#![cfg(unix)]
#![allow(clippy::unwrap_used, clippy::panic, reason = "tests fail by panicking")]

mod phone;

use phone::{Phone, Station, numbers, tern};
use serde_json::{Value, json};
use std::fs;
use std::io::{Read, Write};
use std::net::TcpStream;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::time::Duration;

const TOKEN: &str = "00112233445566778899aabbccddeeff";
/// Far more than a clip takes here.
const LONGEST: Duration = Duration::from_secs(240);

fn gripline() -> PathBuf {
    PathBuf::from(env!("CARGO_BIN_EXE_gripline"))
}

fn clip(name: &str) -> Vec<u8> {
    fs::read(
        Path::new(env!("CARGO_MANIFEST_DIR"))
            .join("fixtures")
            .join(name)
            .join("clip.mp4"),
    )
    .unwrap()
}

fn station(out: &Path) -> Station {
    Station::start(&gripline(), out, 0, &["--no-overlay"])
}

/// A phone that has joined, with its car.
fn joined(station: &Station, team: &str) -> (Phone, String) {
    let mut phone = station.phone();
    assert_eq!(phone.join(&station.code, team, "").unwrap().status, 200);
    let car = phone.type_car(&tern()).unwrap();
    (phone, car)
}

#[test]
fn a_phone_gets_the_verdict_that_measure_gives() {
    let folder = tempfile::tempdir().unwrap();
    let station = station(&folder.path().join("class"));
    let (phone, car) = joined(&station, "The Terns");
    let bytes = clip("kit-beside");
    let number = phone.send(TOKEN, &bytes, &car, "silicone bead", 40_000);
    // The same wish again is the same run, which takes nothing more.
    assert_eq!(
        phone
            .wish(TOKEN, bytes.len() as u64, &car, "silicone bead")
            .unwrap()
            .json()["number"],
        number
    );
    assert_eq!(phone.standing(number), Some(bytes.len() as u64));
    let run = phone.wait(number, LONGEST);
    assert_eq!(run["state"], "done", "{run}");
    let files = run["verdict"]["files"].as_array().unwrap().clone();
    assert!(
        files.contains(&json!("report.html")) && files.contains(&json!("poster.png")),
        "{files:?}"
    );
    assert!(!run["verdict"]["because"].as_array().unwrap().is_empty());

    // By hand, from the clip and the sheet that the station keeps.
    let kept = station.out.join("teams/the-terns/runs/0001");
    assert_eq!(fs::read(kept.join("the-terns-1.mp4")).unwrap(), bytes);
    let by_hand = folder.path().join("by-hand");
    let done = Command::new(gripline())
        .arg("measure")
        .arg(kept.join("the-terns-1.mp4"))
        .args(["--no-overlay", "--no-poster", "--no-report", "--sheet"])
        .arg(kept.join("run.toml"))
        .arg("--out")
        .arg(&by_hand)
        .output()
        .unwrap();
    assert!(done.status.success());
    assert_eq!(
        numbers(&by_hand.join("the-terns-1")),
        numbers(&kept.join("the-terns-1"))
    );
    let sheet = fs::read_to_string(kept.join("run.toml")).unwrap();
    assert!(sheet.contains("silicone bead"), "{sheet}");

    // The report comes in a world of its own, and a player may ask for a part of a file.
    let report = phone.get(&format!("/runs/{number}/report.html")).unwrap();
    assert!(report.status == 200 && report.policy.unwrap().starts_with("sandbox"));
    let part = phone
        .ask(
            "GET",
            &format!("/runs/{number}/poster.png"),
            &[("Range", "bytes=1-3")],
            Vec::new(),
        )
        .unwrap();
    assert_eq!(
        (part.status, part.bytes.as_slice()),
        (206, b"PNG".as_slice())
    );

    the_coach_has_it(&station, &run);
    assert!(!kept.exists() && phone.run(number).is_none());
}

/// The coach sees it, the class's table and archive hold it, and deleting it leaves nothing.
fn the_coach_has_it(station: &Station, run: &Value) {
    let coach = station.open_coach();
    let class = coach.get("/class").unwrap().json();
    let seen = &class["teams"][0]["runs"][0];
    assert_eq!(seen["verdict"]["cause"], run["verdict"]["cause"]);
    let csv = String::from_utf8(coach.get("/class.csv").unwrap().bytes).unwrap();
    assert!(
        csv.contains("The Terns,1,tern,silicone bead,,measured,"),
        "{csv}"
    );
    let zip = coach.get("/class.zip").unwrap();
    let mut zip = zip::ZipArchive::new(std::io::Cursor::new(zip.bytes)).unwrap();
    assert!(zip.by_name("the-terns-1/report.html").is_ok());
    assert!(
        zip.by_name("the-terns-1/the-terns-1.mp4").is_err(),
        "clips stay on the laptop"
    );
    let svg = String::from_utf8(coach.get("/join.svg").unwrap().bytes).unwrap();
    assert!(svg.contains("<svg"));
    let which = json!({ "team": "the-terns", "number": 1 });
    let gone = coach.tell("POST", "/delete", &which).unwrap();
    assert_eq!(gone.status, 204, "{}", gone.json());
}

#[test]
fn a_team_sees_and_changes_nothing_of_another() {
    let folder = tempfile::tempdir().unwrap();
    let station = station(&folder.path().join("class"));
    let (terns, car) = joined(&station, "Terns");
    let number = terns.wish(TOKEN, 5000, &car, "bare").unwrap().json()["number"]
        .as_u64()
        .unwrap();
    assert_eq!(terns.piece(number, 0, &[1; 2000]).unwrap().status, 204);
    let (gulls, _) = joined(&station, "Gulls");
    let status = |method: &str, path: &str| gulls.tell(method, path, &json!({})).unwrap().status;
    assert_eq!(gulls.get("/runs/1/clip").unwrap().status, 404);
    assert_eq!(gulls.piece(number, 2000, &[2; 100]).unwrap().status, 404);
    assert_eq!(status("DELETE", "/runs/1"), 404);
    assert_eq!(status("POST", "/runs/1/again"), 404);
    assert_eq!(status("POST", "/runs/1/marks"), 404);
    assert_eq!(gulls.get("/runs/1/film").unwrap().status, 404);
    // Another team's car is not ours either.
    assert_eq!(
        gulls
            .wish(&TOKEN.replace('0', "f"), 5000, "gull", "bare")
            .unwrap()
            .status,
        422
    );
    assert_eq!(terns.standing(number), Some(2000));
    // A cookie with another team's name and an own secret is no key.
    let mut forged = gulls.clone();
    forged.cookie = gulls
        .cookie
        .as_ref()
        .map(|cookie| cookie.replace("gulls", "terns"));
    assert_eq!(forged.get("/mine").unwrap().status, 401);
    assert_eq!(station.phone().get("/mine").unwrap().status, 401);
    assert_eq!(
        station
            .phone()
            .piece(number, 2000, &[2; 100])
            .unwrap()
            .status,
        401
    );
    // A second phone of the team needs its key.
    let key = terns.mine().unwrap()["key"].as_str().unwrap().to_owned();
    let mut second = station.phone();
    assert_eq!(
        second
            .join(&station.code, "Terns", "WRONGK")
            .unwrap()
            .status,
        403
    );
    assert_eq!(
        second.join(&station.code, "Terns", &key).unwrap().status,
        200
    );
    assert_eq!(second.standing(number), Some(2000));
}

fn small_clips_only(folder: &Path) -> Station {
    Station::start(&gripline(), &folder.join("class"), 0, &["--most-mb", "1"])
}

fn wish(car: &str) -> Value {
    json!({ "token": TOKEN, "clip": "a", "bytes": 5000, "car": car, "treatment": "", "change": "" })
}

#[test]
fn marks_that_were_not_found_can_be_shown() {
    let folder = tempfile::tempdir().unwrap();
    let station = station(&folder.path().join("class"));
    let (phone, car) = joined(&station, "Terns");
    // Its sticker is orange, its wheel mark cyan.
    let bytes = clip("veer");
    let number = phone.send(TOKEN, &bytes, &car, "bare", 60_000);
    let run = phone.wait(number, LONGEST);
    let says = run["why"]["says"].as_str().unwrap();
    assert!(
        says.contains("no magenta sticker could be followed in `terns-1.mp4`"),
        "{run}"
    );
    assert_eq!(phone.get("/runs/1/film").unwrap().bytes, bytes);
    let show = |sticker: &str| {
        let marks = json!({ "sticker": { "colour": sticker, "at": { "u_px": 247.8, "v_px": 374.8, "at_s": 0.0 } },
                            "wheel_mark": { "colour": "cyan", "at": null } });
        phone.tell("POST", "/runs/1/marks", &marks).unwrap()
    };
    assert_eq!(show("mauve").status, 422);
    assert_eq!(show("orange").status, 204);
    let run = phone.wait(number, LONGEST);
    assert_eq!(run["state"], "done", "{run}");
    let sheet = fs::read_to_string(station.out.join("teams/terns/runs/0001/run.toml")).unwrap();
    assert!(sheet.contains("at_px = [247.8, 374.8]"), "{sheet}");
}

#[test]
fn what_no_page_of_the_station_says_is_refused() {
    let folder = tempfile::tempdir().unwrap();
    let station = small_clips_only(folder.path());
    let (phone, car) = joined(&station, "Terns");
    let own = phone.base.clone();
    // Foreign hosts and pages.
    for headers in [
        vec![],
        vec![("Origin", "http://example.org")],
        vec![("Origin", "null")],
        vec![("Origin", own.as_str()), ("Host", "example.org")],
    ] {
        let body = wish(&car).to_string().into_bytes();
        let answer = phone.ask("POST", "/runs", &headers, body).unwrap();
        assert_eq!(answer.status, 403, "{headers:?}");
    }
    // Bodies that are too large, odd or strange.
    let tell = |what: &Value| phone.tell("POST", "/runs", what).unwrap().status;
    assert_eq!(tell(&json!({ "token": TOKEN })), 400);
    assert_eq!(tell(&json!({ "token": "x".repeat(40_000) })), 413);
    let changed = |key: &str, value: Value| {
        let mut changed = wish(&car);
        changed[key] = value;
        tell(&changed)
    };
    assert_eq!(changed("path", json!("../../etc")), 400);
    for (key, value) in [
        ("bytes", json!(2_000_000)),
        ("bytes", json!(3)),
        ("token", json!("short")),
        ("car", json!("../terns")),
    ] {
        assert_eq!(changed(key, value), 422, "{key}");
    }
    let wrong = json!({ "car": { "texts": { "name": "T", "mass_g": "-3" } } });
    let fault = phone.tell("POST", "/cars", &wrong).unwrap();
    assert_eq!(fault.status, 422);
    assert_eq!(fault.json()["faults"][0]["field"], "car.mass_g");
    assert!(phone.mine().unwrap()["runs"].as_array().unwrap().is_empty());
}

#[test]
fn pieces_that_do_not_fit_and_paths_that_are_none_are_refused() {
    let folder = tempfile::tempdir().unwrap();
    let station = small_clips_only(folder.path());
    let (phone, car) = joined(&station, "Terns");
    let begun = phone.tell("POST", "/runs", &wish(&car)).unwrap();
    let number = begun.json()["number"].as_u64().unwrap();
    assert_eq!(phone.piece(number, 7, &[0; 10]).unwrap().status, 409);
    assert_eq!(phone.piece(number, 0, &[0; 6000]).unwrap().status, 413);
    // The line may be closed before the answer to so much is read.
    let much = phone.piece(number, 0, &vec![0; 5 << 20]);
    assert_eq!(much.map_or(413, |answer| answer.status), 413);
    let phone = phone.on_a_new_line();
    let own = phone.base.clone();
    let address = format!("/runs/{number}/clip");
    let unplaced = phone.ask("PATCH", &address, &[("Origin", &own)], vec![0; 10]);
    assert_eq!(unplaced.unwrap().status, 400);
    let phone = phone.on_a_new_line();
    assert_eq!(phone.standing(number), Some(0));
    for path in [
        "/runs/1/../../station.json",
        "/runs/1/summary.json",
        "/runs/1/%2e%2e%2forder.json",
        "/page/..%2fbook.rs",
        // The coach's.
        "/class",
        "/class.zip",
        "/freeze",
        "/board",
    ] {
        assert_eq!(phone.get(path).unwrap().status, 404, "{path}");
    }
    // What is no request is no request.
    let mut line = TcpStream::connect(("127.0.0.1", station.port)).unwrap();
    line.write_all(b"\x16\x03\x01\x02\x00 no request at all\r\n\r\n")
        .unwrap();
    let mut said = String::new();
    line.read_to_string(&mut said).unwrap();
    assert!(said.starts_with("HTTP/1.1 400"), "{said}");
}

#[test]
fn the_coach_s_page_is_for_whoever_has_its_address() {
    let folder = tempfile::tempdir().unwrap();
    let station = small_clips_only(folder.path());
    let (phone, car) = joined(&station, "Terns");
    let begun = phone.tell("POST", "/runs", &wish(&car)).unwrap();
    let number = begun.json()["number"].as_u64().unwrap();
    let coach = station.open_coach();
    let mut stranger = coach.clone();
    stranger.cookie = None;
    assert_eq!(stranger.get("/class").unwrap().status, 403);
    assert_eq!(stranger.get("/class.zip").unwrap().status, 403);
    // The address opens the page once.
    let (_, token) = station.coach.rsplit_once('/').unwrap();
    assert_eq!(stranger.get(&format!("/{token}")).unwrap().status, 403);
    let frozen = coach
        .tell("POST", "/freeze", &json!({ "on": true }))
        .unwrap();
    assert_eq!(frozen.status, 204);
    let more = phone.wish(&TOKEN.replace('0', "f"), 5000, &car, "bare");
    assert_eq!(more.unwrap().status, 423);
    // What was begun may still arrive. It is no clip, which is told, and nothing else is harmed.
    assert_eq!(phone.piece(number, 0, &[0; 5000]).unwrap().status, 204);
    let run = phone.wait(number, LONGEST);
    assert_eq!(run["state"], "failed");
    let says = run["why"]["says"].as_str().unwrap();
    assert!(says.contains("not an MP4 or MOV video"), "{run}");
    // Ten wrong codes make a phone wait, the right one too.
    let mut guessing = station.phone();
    for _ in 0..10 {
        assert_eq!(guessing.join("AAAAAA", "X", "").unwrap().status, 403);
    }
    assert_eq!(guessing.join(&station.code, "X", "").unwrap().status, 429);
}

#[test]
fn a_station_that_is_killed_loses_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().join("class");
    let mut station = station(&out);
    let (phone, car) = joined(&station, "Terns");
    let bytes = clip("kit-beside");
    let first = phone.send(TOKEN, &bytes, &car, "bare", 60_000);
    let second = phone
        .wish(&TOKEN.replace('0', "f"), bytes.len() as u64, &car, "bare")
        .unwrap()
        .json()["number"]
        .as_u64()
        .unwrap();
    assert_eq!(
        phone.piece(second, 0, &bytes[..50_000]).unwrap().status,
        204
    );
    // In the middle of measuring.
    while phone.run(first).unwrap()["state"] != "measuring" {
        std::thread::sleep(Duration::from_millis(20));
    }
    station.kill();
    assert!(phone.mine().is_none());
    let port = station.port;
    let again = Station::start(&gripline(), &out, port, &["--no-overlay"]);
    assert_eq!(again.code, station.code);
    // The phone is known, and its clip goes on where the disk has it.
    let there = phone.standing(second).unwrap();
    assert!(there <= 50_000, "{there}");
    assert_eq!(
        phone
            .piece(second, there, &bytes[there as usize..])
            .unwrap()
            .status,
        204
    );
    for number in [first, second] {
        assert_eq!(phone.wait(number, LONGEST)["state"], "done");
    }
    assert_eq!(
        phone.mine().unwrap()["runs"].as_array().unwrap().len(),
        2,
        "none twice"
    );
    let results = out.join("teams/terns/runs");
    let [one, two] = ["0001/terns-1", "0002/terns-2"].map(|name| numbers(&results.join(name)));
    assert_eq!(one, two, "the same clip and sheet give the same numbers");
    let left: Vec<_> = fs::read_dir(results.join("0001"))
        .unwrap()
        .map(|entry| entry.unwrap().file_name())
        .collect();
    assert_eq!(left.len(), 4, "clip, sheet, order and result: {left:?}");
    // Nobody else gets the folder meanwhile.
    let other = Command::new(gripline())
        .args([
            "station",
            "--address",
            "127.0.0.1",
            "--port",
            "0",
            "--no-browser",
            "--out",
        ])
        .arg(&out)
        .output()
        .unwrap();
    assert_eq!(other.status.code(), Some(1));
    assert!(String::from_utf8_lossy(&other.stderr).contains("another station is running"));
}
