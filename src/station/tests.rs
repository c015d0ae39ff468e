//! The station's own rules, on plain files: what `tests/serves_a_class.rs` sees through its servers.

#![allow(clippy::unwrap_used, reason = "tests fail by panicking")]

use super::book::{Book, BookError, Order, State, Why};
use super::export::{Export, class_csv};
use super::intake::{IntakeError, take};
use super::queue::{Served, waiting};
use std::fs;
use std::sync::Mutex;

fn order(token: &str, bytes: u64) -> Order {
    Order {
        token: token.to_owned(),
        clip: "IMG_1.MOV".to_owned(),
        bytes,
        car: "tern".to_owned(),
        treatment: "bare".to_owned(),
        change: String::new(),
    }
}

/// A class in which team A has sent three clips and team B two.
fn class(root: &std::path::Path) -> Mutex<Book> {
    let mut book = Book::open(root).unwrap();
    for (name, runs) in [("A", 3), ("B", 2)] {
        let (id, _) = book.begin_team(name).unwrap();
        for run in 0..runs {
            let number = book
                .take_order(&id, order(&format!("{name}{run}"), 5), "")
                .unwrap();
            assert_eq!(number, run + 1);
        }
    }
    let book = Mutex::new(book);
    for (id, runs) in [("a", 3), ("b", 2)] {
        for number in 1..=runs {
            assert_eq!(take(&book, (id, number), 0, b"clips").unwrap(), 5);
        }
    }
    book
}

#[test]
fn a_clip_comes_in_pieces_and_only_in_order() {
    let folder = tempfile::tempdir().unwrap();
    let mut book = Book::open(folder.path()).unwrap();
    let (id, _) = book.begin_team("Terns").unwrap();
    let number = book.take_order(&id, order("t", 10), "[car]\n").unwrap();
    // The same wish again is the same run.
    assert_eq!(
        book.take_order(&id, order("t", 10), "[car]\n").unwrap(),
        number
    );
    let book = Mutex::new(book);
    let place = (id.as_str(), number);
    assert_eq!(take(&book, place, 0, b"abcd").unwrap(), 4);
    for wrong in [0, 3, 5] {
        let there = match take(&book, place, wrong, b"x") {
            Err(IntakeError::Elsewhere { there }) => there,
            other => panic!("{other:?}"),
        };
        assert_eq!(there, 4);
    }
    assert!(matches!(
        take(&book, place, 4, b"efghijk"),
        Err(IntakeError::TooMuch)
    ));
    assert_eq!(take(&book, place, 4, b"efghij").unwrap(), 10);
    let run = book.lock().unwrap().run(&id, number).unwrap().clone();
    assert_eq!(run.state, State::Waiting);
    assert_eq!(fs::read(run.clip()).unwrap(), b"abcdefghij");
    assert!(run.clip().ends_with("terns-1.mov"));
    // What is whole takes no more.
    assert!(matches!(
        take(&book, place, 10, b"k"),
        Err(IntakeError::Elsewhere { there: 10 })
    ));
}

#[test]
fn a_station_that_was_killed_goes_on_where_it_stood() {
    let folder = tempfile::tempdir().unwrap();
    let book = class(folder.path());
    let code = book.lock().unwrap().code.clone();
    book.lock().unwrap().set("a", 1, State::Measuring).unwrap();
    let why = Why {
        says: "no".into(),
        hint: "try".into(),
    };
    book.lock()
        .unwrap()
        .measured("a", 2, Some(why.clone()))
        .unwrap();
    let half = book
        .lock()
        .unwrap()
        .take_order("b", order("half", 9 << 20), "")
        .unwrap();
    for offset in [0, 3 << 20] {
        take(&book, ("b", half), offset, &vec![7; 3 << 20]).unwrap();
    }
    drop(book);
    let mut book = Book::open(folder.path()).unwrap();
    assert_eq!(book.code, code);
    let state = |book: &Book, team, number| book.run(team, number).unwrap().state.clone();
    assert_eq!(state(&book, "a", 1), State::Waiting);
    assert_eq!(state(&book, "a", 2), State::Failed(why));
    assert_eq!(state(&book, "a", 3), State::Waiting);
    // The end of what arrived may not have reached the disk: it is asked for again.
    assert_eq!(
        state(&book, "b", half),
        State::Receiving {
            bytes: 2 << 20,
            busy: false
        }
    );
    book.again("a", 2).unwrap();
    assert_eq!(state(&book, "a", 2), State::Waiting);
}

#[test]
fn a_result_that_is_there_counts_more_than_a_failure_to_make_it_again() {
    let folder = tempfile::tempdir().unwrap();
    let book = class(folder.path());
    let mut book = book.into_inner().unwrap();
    let state = |book: &Book, team, number| book.run(team, number).unwrap().state.clone();
    let result = book.run("a", 3).unwrap().result();
    fs::create_dir(&result).unwrap();
    fs::write(result.join(crate::outputs::CONTENTS_NAME), "{}").unwrap();
    let late = Why {
        says: "late".into(),
        hint: String::new(),
    };
    book.measured("a", 3, Some(late)).unwrap();
    assert_eq!(state(&book, "a", 3), State::Done);
    assert!(
        !book
            .run("a", 3)
            .unwrap()
            .folder
            .join("failed.json")
            .exists()
    );
    // Another sheet puts it back into the queue, and its result goes.
    book.correct("a", 3, "[car]\n").unwrap();
    assert_eq!(state(&book, "a", 3), State::Waiting);
    assert!(matches!(
        book.correct("a", 3, ""),
        Err(BookError::Wrong { .. })
    ));
}

#[test]
fn what_is_deleted_stays_deleted() {
    let folder = tempfile::tempdir().unwrap();
    let book = class(folder.path());
    let mut book = book.into_inner().unwrap();
    book.delete_run("a", 1).unwrap();
    book.set("b", 1, State::Measuring).unwrap();
    assert!(matches!(
        book.delete_team("b"),
        Err(BookError::Wrong { .. })
    ));
    book.set("b", 1, State::Waiting).unwrap();
    book.delete_team("b").unwrap();
    let book = Book::open(folder.path()).unwrap();
    assert!(!book.teams.contains_key("b") && book.run("a", 1).is_err());
    assert!(!folder.path().join("teams/b").exists());
    // A number is not given twice while a later one is there.
    assert_eq!(
        book.teams["a"].runs.keys().copied().collect::<Vec<_>>(),
        [2, 3]
    );
}

#[test]
fn each_team_has_its_turn() {
    let folder = tempfile::tempdir().unwrap();
    let book = class(folder.path());
    let book = book.lock().unwrap();
    let turns = |served: &Served| -> Vec<String> {
        let queue = waiting(&book, served);
        queue
            .iter()
            .map(|(team, number)| format!("{team}{number}"))
            .collect()
    };
    assert_eq!(turns(&Served::new()), ["a1", "b1", "a2", "b2", "a3"]);
    // Team A was served last: it is B's turn.
    let served = Served::from([("a".to_owned(), 2), ("b".to_owned(), 1)]);
    assert_eq!(turns(&served), ["b1", "a1", "b2", "a2", "a3"]);
}

#[test]
fn table_and_archive_hold_every_run() {
    let folder = tempfile::tempdir().unwrap();
    let book = class(folder.path());
    let teams = book.lock().unwrap().teams.clone();
    let csv = String::from_utf8(class_csv(&teams).unwrap()).unwrap();
    assert_eq!(csv.lines().count(), 6, "{csv}");
    assert!(csv.starts_with(
        "team,run,car,treatment,change,state,verdict,peak_speed_m_per_s,peak_speed_m_per_s_low,"
    ));
    assert!(csv.contains("A,1,tern,bare,,in the queue,,"), "{csv}");
    let bytes = Export::make(folder.path(), &teams).unwrap().read().unwrap();
    let mut zip = zip::ZipArchive::new(std::io::Cursor::new(bytes)).unwrap();
    let mut within = String::new();
    std::io::Read::read_to_string(&mut zip.by_name("class.csv").unwrap(), &mut within).unwrap();
    assert_eq!(within, csv);
    assert_eq!(
        fs::read_dir(folder.path()).unwrap().count(),
        2,
        "the archive leaves nothing behind"
    );
}
