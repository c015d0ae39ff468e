//! The one table of run-sheet keys: the reader reads each of them, the set-up page has the fields that it says, and a
//! comparison tells runs apart by those that it marks. (That the help of `measure` explains each stands in
//! `explains_itself.rs`.)
#![allow(clippy::unwrap_used, clippy::panic, reason = "tests fail by panicking")]

mod club;
mod command;

use club::Club;
use gripline::setup_page::{At, Draft, Part, sheet_text};
use gripline::sheet::{Compared, Key, RunSheet, TABLES, Table};
use gripline::treatments::SheetKey;
use serde_json::{Value, json};
use std::collections::BTreeSet;
use std::path::Path;

fn keys() -> impl Iterator<Item = (&'static Table, &'static Key)> {
    let keys = |table: &'static Table| table.keys.iter().map(move |key| (table, key));
    TABLES.iter().flat_map(keys)
}

fn refusal(text: &str) -> String {
    let read = RunSheet::parse(text, Path::new("run.toml"));
    read.err().map_or_else(String::new, |why| why.to_string())
}

#[test]
fn every_key_is_read_and_nothing_else_is() {
    assert!(keys().count() > 40);
    for (table, key) in keys() {
        // A key that nobody looks at would pass with any value.
        let said = refusal(&format!("[{}]\n{} = true\n", table.name, key.name));
        assert!(
            said.contains(&format!("`{}` is true or false", key.name)),
            "{said}"
        );
        let other = format!("[{}]\n{}x = 1\n", table.name, key.name);
        assert!(refusal(&other).contains("unknown key"), "{other}");
    }
    assert!(refusal("[wheels]\n").contains("unknown table `wheels`"));
}

/// A draft that says something in one part of the sheet.
fn draft_with(table: &str, part: Part) -> Draft {
    let mut draft = Draft::default();
    match table {
        "car" => draft.car = part,
        "sticker" => draft.sticker = part,
        "wheel_mark" => draft.wheel_mark = Some(part),
        "axle_mark" => draft.axle_mark = Some(part),
        "floor_mark" => draft.floor_marks.push(part),
        "aim" => draft.aim = part,
        "camera" => draft.camera = part,
        "end_view" => draft.end_view = part,
        other => panic!("the page has no part for [{other}]"),
    }
    draft
}

#[test]
fn the_page_writes_the_keys_that_it_has_fields_for_and_no_others() {
    for table in TABLES.iter().filter(|table| table.typed().count() > 0) {
        let mut part = Part::default();
        for key in table.keys {
            part = part.with(key.name, "7");
        }
        for name in ["from_x_mm", "from_y_mm", "to_x_mm", "to_y_mm"] {
            part = part.with(name, "7");
        }
        let pointed = table.keys.iter().any(|key| key.name == "at_px");
        part.at = pointed.then_some(At {
            u_px: 1.0,
            v_px: 2.0,
            at_s: 0.5,
        });
        let text = sheet_text(None, &draft_with(table.name, part))
            .unwrap()
            .text;
        let sheet: toml::Table = text.parse().unwrap();
        let own = &sheet[table.name];
        let own = own.as_array().map_or(own, |list| &list[0]);
        let written: BTreeSet<&str> = own.as_table().unwrap().keys().map(String::as_str).collect();
        let wanted: BTreeSet<&str> = (table.keys.iter())
            .filter(|key| key.on_page)
            .map(|key| key.name)
            .collect();
        assert_eq!(written, wanted, "{text}");
        for key in table.keys.iter().filter(|key| key.on_page) {
            let beside = format!("# {}", key.meaning);
            let floor = table.name == "floor_mark";
            assert!(floor != text.contains(&beside), "{}: {text}", key.name);
        }
    }
}

#[test]
fn the_page_shows_the_fields_of_the_table_and_no_others() {
    let html = include_str!("../src/setup_page/page/page.html");
    let shown: BTreeSet<String> = (html.split("data-field=\"").skip(1))
        .filter_map(|rest| Some(rest.split_once('"')?.0.to_owned()))
        .collect();
    // Colours are pointed at, places of floor marks are a list, and the aim line's places are taken apart.
    let typed = (TABLES.iter())
        .filter(|table| !["floor_mark", "aim"].contains(&table.name))
        .flat_map(|table| table.typed().map(move |key| (table, key)))
        .filter(|(_, key)| key.name != "colour")
        .map(|(table, key)| format!("{}.{}", table.name, key.name));
    let aim = ["from_x_mm", "from_y_mm", "to_x_mm", "to_y_mm"].map(|name| format!("aim.{name}"));
    assert_eq!(shown, typed.chain(aim).collect::<BTreeSet<_>>());
}

/// The conditions that a comparison tells where a key of the second treatment's sheets differs.
fn told_apart_by(table: &str, key: &str) -> String {
    let club = Club::new();
    for run in 1..=12 {
        club.change(run, |summary| {
            let second = summary["run"]["sheet"]["car"]["treatment"] != json!("bare");
            let sheet = &mut summary["run"]["sheet"];
            let mut place = &mut sheet[table];
            if let Value::Array(list) = place {
                place = &mut list[0];
            }
            place[key] = json!(if second { 12.25 } else { 13.5 });
        });
    }
    let (words, _) = club.compared(&["--of", "spun_away_m"]);
    let along = words
        .lines()
        .filter(|line| line.contains("changed along with"));
    along.collect()
}

#[test]
fn runs_are_told_apart_by_the_keys_that_say_so() {
    for (table, key) in keys() {
        let full = format!("{}.{}", table.name, key.name);
        assert_eq!(SheetKey::parse(&full).unwrap().to_string(), full);
        if full == "car.treatment" {
            // What the club's runs are grouped by.
            continue;
        }
        let said = told_apart_by(table.name, key.name);
        let own = said.contains("12.25") && said.contains("13.5");
        assert_eq!(own, key.compared == Compared::ByItself, "{full}: {said}");
        let set_up = said.contains("set-up");
        assert_eq!(set_up, key.compared == Compared::AsSetUp, "{full}: {said}");
    }
}
