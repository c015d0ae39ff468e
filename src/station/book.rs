//! What the class has sent: teams, their cars and their runs, as plain files.
//!
//! ```text
//! class/
//!   station.json                  join code
//!   teams/<team>/team.json        name, key, secret
//!   teams/<team>/cars/<car>.toml  the run sheet of a car
//!   teams/<team>/runs/0001/       order.json, clip, run.toml, the result's folder, or failed.json
//! ```
//!
//! Nothing is kept that is not in these files, and nothing is told before it is in them: a station that is killed and
//! started again stands where it stood. Where a run is follows from which files it has.

use super::files::{
    Written, put, read_json, remove_if_there, remove_result, remove_run, remove_team,
};
use super::names::{Code, folder_name};
use super::told::{Verdict, verdict};
use crate::outputs::CONTENTS_NAME;
use crate::setup_page::secret;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::fs;
use std::io;
use std::path::{Path, PathBuf};

/// Most teams in a class.
const MOST_TEAMS: usize = 100;
/// Most runs of a team.
const MOST_RUNS: usize = 500;
/// Most clips of a team that are on their way at a time.
const MOST_ON_THE_WAY: usize = 4;
/// Most cars of a team.
const MOST_CARS: usize = 12;

/// `station.json`.
#[derive(Debug, Clone, Serialize, Deserialize)]
struct About {
    code: Code,
}

/// `team.json`.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub(super) struct TeamAbout {
    /// As the team wrote it.
    pub(super) name: String,
    /// What a second phone of the team types.
    pub(super) key: Code,
    /// What its phones are known by.
    pub(super) secret: String,
}

/// `order.json`: what a team said of a clip before it sent it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Order {
    /// Chosen by the phone, so that the same clip asked for twice is one run.
    pub(super) token: String,
    /// Name of the clip on the phone.
    pub(super) clip: String,
    /// Its size.
    pub(super) bytes: u64,
    /// Car, by the name of its folder.
    pub(super) car: String,
    /// How the wheels were treated.
    pub(super) treatment: String,
    /// What was changed since the run before.
    pub(super) change: String,
}

/// `failed.json`: why a clip has no result.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub(super) struct Why {
    /// What went wrong.
    pub(super) says: String,
    /// What to do next.
    pub(super) hint: String,
}

/// Where a run is.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum State {
    /// On its way; so many bytes are on the disk. `busy` while the next piece is being written.
    Receiving { bytes: u64, busy: bool },
    /// In the queue.
    Waiting,
    /// Being measured.
    Measuring,
    /// Its result is there.
    Done,
    /// It has none.
    Failed(Why),
}

/// A run.
#[derive(Debug, Clone)]
pub(super) struct Run {
    pub(super) order: Order,
    pub(super) state: State,
    pub(super) folder: PathBuf,
    /// Name of clip and result: `<team>-<number>`.
    pub(super) name: String,
    /// What its result says, read once.
    pub(super) verdict: Option<Verdict>,
}

/// A team.
#[derive(Debug, Clone)]
pub(super) struct Team {
    pub(super) about: TeamAbout,
    /// Run sheets of its cars, by folder name.
    pub(super) cars: BTreeMap<String, String>,
    pub(super) runs: BTreeMap<u32, Run>,
    pub(super) folder: PathBuf,
}

/// Everything that was sent.
#[derive(Debug)]
pub(super) struct Book {
    pub(super) code: Code,
    pub(super) teams: BTreeMap<String, Team>,
    root: PathBuf,
}

/// Why something was not taken.
#[derive(Debug, thiserror::Error)]
pub(super) enum BookError {
    #[error("{says}")]
    Full { says: &'static str },
    #[error("{says}")]
    Wrong { says: String },
    #[error("there is no such run")]
    NoRun,
    #[error("the class's folder could not be written: {0}")]
    Io(#[from] io::Error),
}

impl Run {
    /// The clip, once it is whole.
    pub(super) fn clip(&self) -> PathBuf {
        let ending = Path::new(&self.order.clip).extension();
        let quick_time = ending.is_some_and(|ending| ending.eq_ignore_ascii_case("mov"));
        let ending = if quick_time { "mov" } else { "mp4" };
        self.folder.join(format!("{}.{ending}", self.name))
    }

    /// What has arrived of it.
    pub(super) fn part(&self) -> PathBuf {
        self.folder.join("clip.part")
    }

    /// Its run sheet.
    pub(super) fn sheet(&self) -> PathBuf {
        self.folder.join("run.toml")
    }

    /// Its result's folder.
    pub(super) fn result(&self) -> PathBuf {
        self.folder.join(&self.name)
    }

    fn failed(&self) -> PathBuf {
        self.folder.join("failed.json")
    }

    fn has_result(&self) -> bool {
        self.result().join(CONTENTS_NAME).is_file()
    }

    /// Where it is, by its files.
    fn look(&mut self) -> io::Result<()> {
        self.state = if self.has_result() {
            State::Done
        } else if let Some(why) = read_json(&self.failed())? {
            State::Failed(why)
        } else if self.clip().is_file() {
            State::Waiting
        } else {
            let bytes = fs::metadata(self.part()).map_or(0, |about| about.len());
            State::Receiving { bytes, busy: false }
        };
        let done = self.state == State::Done;
        self.verdict = done.then(|| verdict(&self.result())).flatten();
        Ok(())
    }
}

impl Team {
    fn read(folder: PathBuf, id: &str) -> io::Result<Option<Self>> {
        let Some(about) = read_json(&folder.join("team.json"))? else {
            return Ok(None);
        };
        let mut team = Self {
            about,
            cars: BTreeMap::new(),
            runs: BTreeMap::new(),
            folder,
        };
        for (name, path) in names_in(&team.folder.join("cars"))? {
            if let Some(car) = name.strip_suffix(".toml") {
                team.cars.insert(car.to_owned(), fs::read_to_string(path)?);
            }
        }
        for (name, folder) in names_in(&team.folder.join("runs"))? {
            let order = read_json(&folder.join("order.json"))?;
            if let Some((number, order)) = name.parse().ok().zip(order) {
                let mut run = Run {
                    order,
                    state: State::Waiting,
                    folder,
                    name: format!("{id}-{number}"),
                    verdict: None,
                };
                super::intake::after_a_stop(&run.part())?;
                run.look()?;
                team.runs.insert(number, run);
            }
        }
        Ok(Some(team))
    }
}

fn names_in(folder: &Path) -> io::Result<Vec<(String, PathBuf)>> {
    let found = match fs::read_dir(folder) {
        Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(Vec::new()),
        found => found?,
    };
    let mut out = Vec::new();
    for entry in found {
        let entry = entry?;
        if let Ok(name) = entry.file_name().into_string() {
            out.push((name, entry.path()));
        }
    }
    out.sort();
    Ok(out)
}

impl Book {
    /// Reads a class's folder, or begins one.
    pub(super) fn open(root: &Path) -> io::Result<Self> {
        fs::create_dir_all(root.join("teams"))?;
        let about: Option<About> = read_json(&root.join("station.json"))?;
        let about = about.map_or_else(|| Ok::<_, io::Error>(About { code: Code::new()? }), Ok)?;
        put(&root.join("station.json"), &about)?;
        let mut teams = BTreeMap::new();
        for (id, folder) in names_in(&root.join("teams"))? {
            if let Some(team) = Team::read(folder, &id)? {
                teams.insert(id, team);
            }
        }
        Ok(Self {
            code: about.code,
            teams,
            root: root.to_path_buf(),
        })
    }

    /// A new team; its id and secret.
    pub(super) fn begin_team(&mut self, name: &str) -> Result<(String, String), BookError> {
        if self.teams.len() >= MOST_TEAMS {
            return Err(BookError::Full {
                says: "this class has as many teams as it can have",
            });
        }
        if self.teams.values().any(|team| team.about.name == name) {
            let says = "there is a team of that name: type its key too, or take another name";
            return Err(BookError::Wrong { says: says.into() });
        }
        let id = folder_name(name, |id| self.teams.contains_key(id));
        let about = TeamAbout {
            name: name.to_owned(),
            key: Code::new()?,
            secret: secret()?,
        };
        let folder = self.root.join("teams").join(&id);
        for part in ["cars", "runs"] {
            fs::create_dir_all(folder.join(part))?;
        }
        put(&folder.join("team.json"), &about)?;
        let secret = about.secret.clone();
        let team = Team {
            about,
            cars: BTreeMap::new(),
            runs: BTreeMap::new(),
            folder,
        };
        self.teams.insert(id.clone(), team);
        Ok((id, secret))
    }

    /// Keeps the run sheet of a team's car.
    pub(super) fn keep_car(
        &mut self,
        team: &str,
        name: &str,
        sheet: String,
    ) -> Result<String, BookError> {
        let team = self.teams.get_mut(team).ok_or(BookError::NoRun)?;
        let id = folder_name(name, |_| false);
        if !team.cars.contains_key(&id) && team.cars.len() >= MOST_CARS {
            return Err(BookError::Full {
                says: "this team has as many cars as it can have",
            });
        }
        Written::text(&team.folder.join("cars").join(format!("{id}.toml")), &sheet)?;
        team.cars.insert(id.clone(), sheet);
        Ok(id)
    }

    /// Takes an order for a clip; the run's number. The same token gives the same run.
    pub(super) fn take_order(
        &mut self,
        team_id: &str,
        order: Order,
        sheet: &str,
    ) -> Result<u32, BookError> {
        let team = self.teams.get_mut(team_id).ok_or(BookError::NoRun)?;
        if let Some((number, _)) = team
            .runs
            .iter()
            .find(|(_, run)| run.order.token == order.token)
        {
            return Ok(*number);
        }
        let on_the_way = |run: &&Run| matches!(run.state, State::Receiving { .. });
        if team.runs.values().filter(on_the_way).count() >= MOST_ON_THE_WAY {
            return Err(BookError::Full {
                says: "this team has four clips on their way: let them arrive first",
            });
        }
        if team.runs.len() >= MOST_RUNS {
            return Err(BookError::Full {
                says: "this team has as many runs as it can have",
            });
        }
        let number = team.runs.keys().next_back().map_or(1, |last| last + 1);
        let folder = team.folder.join("runs").join(format!("{number:04}"));
        fs::create_dir_all(&folder)?;
        let run = Run {
            order,
            state: State::Receiving {
                bytes: 0,
                busy: false,
            },
            folder,
            name: format!("{team_id}-{number}"),
            verdict: None,
        };
        Written::text(&run.sheet(), sheet)?;
        // The order comes last: without it there is no run.
        put(&run.folder.join("order.json"), &run.order)?;
        team.runs.insert(number, run);
        Ok(number)
    }

    /// A team's run.
    pub(super) fn run(&self, team: &str, number: u32) -> Result<&Run, BookError> {
        let run = self.teams.get(team).and_then(|team| team.runs.get(&number));
        run.ok_or(BookError::NoRun)
    }

    fn run_mut(&mut self, team: &str, number: u32) -> Result<&mut Run, BookError> {
        let run = self
            .teams
            .get_mut(team)
            .and_then(|team| team.runs.get_mut(&number));
        run.ok_or(BookError::NoRun)
    }

    /// Says where a run is now, where that is in no file.
    pub(super) fn set(&mut self, team: &str, number: u32, state: State) -> Result<(), BookError> {
        self.run_mut(team, number)?.state = state;
        Ok(())
    }

    /// A measurement ended: its result is there, or why there is none.
    pub(super) fn measured(
        &mut self,
        team: &str,
        number: u32,
        why: Option<Why>,
    ) -> Result<(), BookError> {
        let run = self.run_mut(team, number)?;
        // A process that outlived the station before this one may have made the result meanwhile.
        if let Some(why) = why.filter(|_| !run.has_result()) {
            put(&run.failed(), &why)?;
        }
        Ok(run.look()?)
    }

    /// Puts a run that has no result back into the queue.
    pub(super) fn again(&mut self, team: &str, number: u32) -> Result<(), BookError> {
        let run = self.run_mut(team, number)?;
        if matches!(run.state, State::Failed(_)) {
            fs::remove_file(run.failed())?;
            run.look()?;
        }
        Ok(())
    }

    /// Gives a run another sheet and puts it back into the queue; an earlier result goes.
    pub(super) fn correct(
        &mut self,
        team: &str,
        number: u32,
        sheet: &str,
    ) -> Result<(), BookError> {
        let run = self.run_mut(team, number)?;
        if !matches!(run.state, State::Done | State::Failed(_)) {
            let says = "wait until it is measured".to_owned();
            return Err(BookError::Wrong { says });
        }
        Written::text(&run.sheet(), sheet)?;
        remove_if_there(&run.failed())?;
        remove_result(&run.result())?;
        Ok(run.look()?)
    }

    /// Deletes a run with its clip and everything that was made of it.
    pub(super) fn delete_run(&mut self, team: &str, number: u32) -> Result<(), BookError> {
        let run = self.run(team, number)?;
        if run.state == State::Measuring {
            let says = "it is being measured: wait until that is done".to_owned();
            return Err(BookError::Wrong { says });
        }
        remove_run(&run.folder)?;
        if let Some(team) = self.teams.get_mut(team) {
            team.runs.remove(&number);
        }
        Ok(())
    }

    /// Deletes a team with everything that it sent.
    pub(super) fn delete_team(&mut self, id: &str) -> Result<(), BookError> {
        let team = self.teams.get(id).ok_or(BookError::NoRun)?;
        if team.runs.values().any(|run| run.state == State::Measuring) {
            let says = "one of its clips is being measured: wait until that is done".to_owned();
            return Err(BookError::Wrong { says });
        }
        remove_team(&team.folder)?;
        self.teams.remove(id);
        Ok(())
    }
}
