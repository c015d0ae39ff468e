//! What a process that decodes a stranger's clip cannot do: take all memory, write elsewhere, reach a network.
#![cfg(target_os = "linux")]
#![allow(clippy::unwrap_used, clippy::panic, reason = "tests fail by panicking")]

use gripline::station::bound_this_process;
use std::fs;
use std::net::{TcpListener, TcpStream};
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

/// Tells this program, when it calls itself, to do one thing within bounds.
const DEED: &str = "GRIPLINE_TEST_DEED";
const FOLDER: &str = "GRIPLINE_TEST_FOLDER";

/// Calls this program again, which bounds itself and does a deed.
fn within_bounds(deed: &str, folder: &Path) -> Output {
    Command::new(std::env::current_exe().unwrap())
        .args(["--exact", "the_deed", "--nocapture"])
        .env(DEED, deed)
        .env(FOLDER, folder)
        .output()
        .unwrap()
}

fn said(output: &Output) -> String {
    String::from_utf8_lossy(&output.stdout).into_owned()
}

/// Does nothing but what another test asks of it.
#[test]
fn the_deed() {
    let Some(deed) = std::env::var_os(DEED) else {
        return;
    };
    let folder = PathBuf::from(std::env::var_os(FOLDER).unwrap());
    let fenced = bound_this_process(&folder.join("own")).unwrap();
    println!("fenced: {fenced}");
    let fine = match deed.to_str().unwrap() {
        "own" => fs::write(folder.join("own/file"), "x").is_ok(),
        "other" => fs::write(folder.join("other/file"), "x").is_ok(),
        "move" => {
            fs::write(folder.join("own/file"), "x").unwrap();
            fs::rename(folder.join("own/file"), folder.join("other/file")).is_ok()
        }
        "read" => fs::read(folder.join("other/there")).is_ok(),
        "network" => {
            let port = fs::read_to_string(folder.join("port")).unwrap();
            TcpStream::connect(("127.0.0.1", port.parse().unwrap())).is_ok()
        }
        "memory" => {
            let mut all: Vec<u8> = Vec::new();
            all.try_reserve_exact(4 << 30).is_ok()
        }
        "some memory" => Vec::<u8>::new().try_reserve_exact(1 << 30).is_ok(),
        other => panic!("{other}"),
    };
    println!("done: {fine}");
}

#[test]
fn a_bounded_process_has_one_folder_little_memory_and_no_network() {
    let folder = tempfile::tempdir().unwrap();
    for name in ["own", "other"] {
        fs::create_dir(folder.path().join(name)).unwrap();
    }
    fs::write(folder.path().join("other/there"), "x").unwrap();
    let listener = TcpListener::bind("127.0.0.1:0").unwrap();
    let port = listener.local_addr().unwrap().port();
    fs::write(folder.path().join("port"), port.to_string()).unwrap();
    let does = |deed: &str| {
        let output = within_bounds(deed, folder.path());
        let said = said(&output);
        assert!(output.status.success(), "{deed}: {said}");
        (said.contains("done: true"), said.contains("fenced: true"))
    };
    for fine in ["own", "read", "some memory"] {
        assert!(does(fine).0, "{fine}");
    }
    assert!(!does("memory").0, "more memory than a clip may take");
    for elsewhere in ["other", "move"] {
        let (done, fenced) = does(elsewhere);
        // A kernel before 5.13 does not fence in.
        assert_eq!(done, !fenced, "{elsewhere}");
    }
    let (reached, fenced) = does("network");
    assert!(
        !reached || !fenced || !newer_than(6, 7),
        "a network was reached"
    );
}

/// Kernels from 6.7 on fence in the network too.
fn newer_than(major: u32, minor: u32) -> bool {
    let text = fs::read_to_string("/proc/sys/kernel/osrelease").unwrap();
    let mut numbers = text.split('.').filter_map(|part| part.parse::<u32>().ok());
    let found = (numbers.next().unwrap_or(0), numbers.next().unwrap_or(0));
    found >= (major, minor)
}
