//! Whose clip is measured next: one of each team in turn, so that a team with ten clips does not hold up nine others.

use super::book::{Book, State};
use std::collections::{BTreeMap, VecDeque};

/// A run: its team and number.
pub(super) type Place = (String, u32);

/// When a team's last clip was taken up, as a count.
pub(super) type Served = BTreeMap<String, u64>;

/// All runs that wait, in the order in which they will be taken up.
pub(super) fn waiting(book: &Book, served: &Served) -> Vec<Place> {
    let mut teams: Vec<(u64, &String, VecDeque<u32>)> = (book.teams.iter())
        .map(|(id, team)| {
            let waits = team
                .runs
                .iter()
                .filter(|(_, run)| run.state == State::Waiting);
            let numbers = waits.map(|(number, _)| *number).collect();
            (served.get(id).copied().unwrap_or(0), id, numbers)
        })
        .collect();
    teams.sort_by_key(|(last, id, _)| (*last, *id));
    let mut out = Vec::new();
    loop {
        let before = out.len();
        for (_, id, numbers) in &mut teams {
            out.extend(numbers.pop_front().map(|number| ((*id).clone(), number)));
        }
        if out.len() == before {
            return out;
        }
    }
}
