//! Other people's code: where it comes from, by which licence, for which Rust; and where ours is unsafe. The rules are those
//! of `deny.toml`; licences are read as SPDX expressions (ISO/IEC 5962:2021, annex D) by the `spdx` crate.
#![allow(clippy::unwrap_used, clippy::panic, reason = "tests fail by panicking")]

use serde_json::Value;
use spdx::{Expression, Licensee, ParseMode};
use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::Path;
use std::process::Command;

/// The registry that every crate comes from.
const REGISTRY: &str = "registry+https://github.com/rust-lang/crates.io-index";
/// Modules that may hold unsafe code, with the number of its blocks: what `ffmpeg-next` gives no safe function for.
const UNSAFE: [(&str, usize); 1] = [("src/clip/raw.rs", 8)];

/// What `cargo metadata` says of a crate.
#[derive(Debug)]
struct Crate {
    name: String,
    version: String,
    license: String,
    source: String,
    rust: Vec<u64>,
}

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

/// This machine's kind: crates of other kinds need not be here.
fn host() -> String {
    let done = Command::new("rustc").arg("-vV").output().unwrap();
    let words = String::from_utf8(done.stdout).unwrap();
    let host = words.lines().find_map(|line| line.strip_prefix("host: "));
    host.unwrap().to_owned()
}

fn metadata() -> Value {
    let done = Command::new(env!("CARGO"))
        .args(["metadata", "--locked", "--offline", "--format-version", "1"])
        .args(["--filter-platform", &host()])
        .current_dir(root())
        .output()
        .unwrap();
    assert!(
        done.status.success(),
        "{}",
        String::from_utf8_lossy(&done.stderr)
    );
    serde_json::from_slice(&done.stdout).unwrap()
}

/// Crates that are built into the tool, or build it.
fn crates() -> Vec<Crate> {
    let metadata = metadata();
    let list = |value: &Value| value.as_array().unwrap().clone();
    let nodes: BTreeMap<String, Value> = list(&metadata["resolve"]["nodes"])
        .into_iter()
        .map(|node| (node["id"].as_str().unwrap().to_owned(), node))
        .collect();
    let own = metadata["resolve"]["root"].as_str().unwrap().to_owned();
    let (mut used, mut next) = (BTreeSet::new(), vec![own.clone()]);
    while let Some(id) = next.pop() {
        if used.insert(id.clone()) {
            let dependencies = list(&nodes[&id]["deps"]).into_iter();
            let built = dependencies
                .filter(|one| list(&one["dep_kinds"]).iter().any(|k| k["kind"] != "dev"));
            next.extend(built.map(|one| one["pkg"].as_str().unwrap().to_owned()));
        }
    }
    used.remove(&own);
    let packages = list(&metadata["packages"]).into_iter();
    packages
        .filter(|package| used.contains(package["id"].as_str().unwrap()))
        .map(|package| Crate {
            name: package["name"].as_str().unwrap().to_owned(),
            version: package["version"].as_str().unwrap().to_owned(),
            license: package["license"].as_str().unwrap_or_default().to_owned(),
            source: package["source"].as_str().unwrap_or_default().to_owned(),
            rust: numbers(package["rust_version"].as_str().unwrap_or("1")),
        })
        .collect()
}

fn numbers(version: &str) -> Vec<u64> {
    version
        .split('.')
        .map(|part| part.parse().unwrap())
        .collect()
}

fn rules() -> toml::Table {
    let text = fs::read_to_string(root().join("deny.toml")).unwrap();
    text.parse().unwrap()
}

#[test]
fn every_crate_s_licence_is_allowed() {
    let rules = rules();
    let allowed: Vec<Licensee> = rules["licenses"]["allow"]
        .as_array()
        .unwrap()
        .iter()
        .map(|name| Licensee::parse(name.as_str().unwrap()).unwrap())
        .collect();
    let crates = crates();
    assert!(
        crates.len() > 100,
        "only {} crates were found",
        crates.len()
    );
    for one in &crates {
        let said = Expression::parse_mode(&one.license, ParseMode::LAX)
            .unwrap_or_else(|error| panic!("{}: {error}", one.name));
        let may = said.evaluate(|wanted| allowed.iter().any(|licence| licence.satisfies(wanted)));
        assert!(may, "{} {}: {}", one.name, one.version, one.license);
    }
    let strict = Expression::parse("GPL-3.0-only").unwrap();
    let may = strict.evaluate(|wanted| allowed.iter().any(|licence| licence.satisfies(wanted)));
    assert!(!may, "everything is allowed");
}

#[test]
fn every_crate_comes_from_the_registry_and_builds_with_our_oldest_rust() {
    let ours = numbers(env!("CARGO_PKG_RUST_VERSION"));
    for one in crates() {
        assert_eq!(one.source, REGISTRY, "{}", one.name);
        assert!(
            one.rust[..2.min(one.rust.len())] <= ours[..],
            "{} {} needs Rust {:?}, this crate says {ours:?}",
            one.name,
            one.version,
            one.rust
        );
    }
}

#[test]
fn unsafe_code_stays_where_it_is() {
    let mut found = BTreeMap::new();
    let mut folders = vec![root().join("src")];
    while let Some(folder) = folders.pop() {
        for entry in fs::read_dir(folder).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                folders.push(path);
            } else if path.extension().is_some_and(|ending| ending == "rs") {
                let text = fs::read_to_string(&path).unwrap();
                let name = path.strip_prefix(root()).unwrap().display().to_string();
                let blocks = text.matches("unsafe {").count();
                let elsewhere = text.contains("unsafe fn") || text.contains("unsafe impl");
                assert!(!elsewhere, "{name} has unsafe functions");
                if blocks > 0 {
                    found.insert(name, blocks);
                }
            }
        }
    }
    let listed = UNSAFE.map(|(name, blocks)| (name.to_owned(), blocks));
    assert_eq!(found, BTreeMap::from(listed));
}
