//! The class's station: phones send clips to the coach's laptop, and verdicts come back.
//!
//! | part | what it does |
//! |---|---|
//! | `names`, `files`, `book` | codes and secrets, files that are whole or not there, teams and runs as such files |
//! | `sheets`, `intake` | a car's run sheet, typed once; clips that arrive in pieces |
//! | `queue`, `work`, `bounds` | whose clip is next; measuring it in a process of its own, within bounds |
//! | `told`, `export` | what is told of a result; the class's table and everything in one file |
//! | `door`, `answers`, `serve`, `pupils`, `coach`, `page` | who may ask, what is answered, connections, the addresses of both pages, their files |
//!
//! The station measures nothing itself: each clip goes through `gripline measure`, so that its result is the one that
//! anybody gets from the same clip and sheet.
//!
//! # How it keeps its promises
//!
//! - Two servers. Phones talk to one address of the local network that is named at the start; the coach's page listens
//!   on 127.0.0.1 alone, by the gate of the set-up page. No address of the coach's page is on the pupils' server.
//! - A phone types the code on the board once and gets a cookie for its team. Everything that it asks for is looked up
//!   among its own team's runs, by number; no path is ever made from a request. Ten wrong codes make an address wait.
//! - Nothing is answered for before it is on the disk (`intake.rs`), and where a run stands follows from its files
//!   (`book.rs`): a station that is killed goes on where it stood. A clip that was being measured is measured again.
//! - Plain HTTP: whoever is in the same network can read along. There is no certificate that a phone would take without
//!   a warning, and a page that sends files needs none. This is said where the station is started.
//! - A clip is a stranger's bytes. It is decoded in a process that dies with the station and has bounds of memory, time
//!   and files; on Linux it can write to its own folder alone, and to no network (`bounds.rs`).
//! - Faces are in clips. They stay in the class's folder until somebody deletes them: one click for a run or a team.
//!   The archive for the class leaves the clips out; annotated clips are in it.
//!
//! # A school
//!
//! One laptop measures what one class sends. For more, the design is an object store for clips and a queue that others
//! run, with `gripline measure` as the worker on any number of machines: a worker takes an order, fetches clip and sheet,
//! measures as `work.rs` does and puts the result's folder back. Nothing of that is built here.

mod answers;
mod book;
mod bounds;
mod coach;
mod door;
mod export;
mod files;
mod intake;
mod names;
mod page;
mod pupils;
mod queue;
mod serve;
mod sheets;
#[cfg(test)]
mod tests;
mod told;
mod work;

pub use bounds::bound_this_process;

use crate::setup_page::Gate;
use book::{Book, Team};
use door::Wrong;
use qrcode::QrCode;
use qrcode::render::{svg, unicode};
use queue::{Place, Served, waiting};
use std::collections::{BTreeMap, BTreeSet};
use std::io;
use std::net::{IpAddr, Ipv4Addr, SocketAddr};
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Condvar, Mutex, MutexGuard, PoisonError};
use std::thread;
use std::time::Duration;
use tokio::net::TcpListener;

/// How a station is run.
#[derive(Debug, Clone)]
pub struct Settings {
    /// The class's folder.
    pub root: PathBuf,
    /// Address that phones reach this computer by; none takes the local network's.
    pub address: Option<IpAddr>,
    /// Port; 0 takes any that is free.
    pub port: u16,
    /// Clips measured at the same time.
    pub at_once: usize,
    /// Threads of each of them.
    pub threads: usize,
    /// Largest clip that is taken, bytes.
    pub most_clip_bytes: u64,
    /// Make no annotated clips.
    pub no_overlay: bool,
}

/// Why there is no station.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum StationError {
    /// The class's folder cannot be used.
    #[error("the class's folder `{path}` cannot be used: {source}")]
    Folder {
        /// The folder.
        path: PathBuf,
        /// What the system said.
        source: io::Error,
    },
    /// Another station has the folder.
    #[error("another station is running on `{path}`")]
    Taken {
        /// The folder.
        path: PathBuf,
    },
    /// The computer is in no network.
    #[error("this computer is in no local network, so no phone can reach it")]
    NoNetwork,
    /// Nothing can listen there.
    #[error("nothing can listen on {address}: {source}")]
    Listen {
        /// The address.
        address: SocketAddr,
        /// What the system said.
        source: io::Error,
    },
    /// The system has no threads or random numbers.
    #[error("the station cannot be started: {0}")]
    System(#[from] io::Error),
}

impl StationError {
    /// What to do next.
    pub const fn hint(&self) -> &'static str {
        match self {
            Self::Folder { .. } => {
                "name a folder that you may write to with `--out`; files of a station that were changed by hand can be put right or moved away"
            }
            Self::Taken { .. } => {
                "use that one, stop it with Ctrl-C, or name another folder with `--out`"
            }
            Self::NoNetwork => {
                "join the wifi that the phones are in, or share one from a phone; `--address 127.0.0.1` tries the station on this computer alone"
            }
            Self::Listen { .. } => {
                "another program has that port, or the address is not this computer's: choose with `--port` and `--address`"
            }
            Self::System(_) => "close other programs and start it again",
        }
    }
}

/// A station that runs.
pub(crate) struct Station {
    settings: Settings,
    root: PathBuf,
    book: Mutex<Book>,
    served: Mutex<Served>,
    wrong: Mutex<Wrong>,
    frozen: AtomicBool,
    stopping: AtomicBool,
    bell: (Mutex<()>, Condvar),
    host: IpAddr,
    port: u16,
}

fn locked<T>(of: &Mutex<T>) -> MutexGuard<'_, T> {
    of.lock().unwrap_or_else(PoisonError::into_inner)
}

impl Station {
    /// What phones open.
    fn address(&self) -> String {
        format!("http://{}/", SocketAddr::new(self.host, self.port))
    }

    fn queue(&self) -> Vec<Place> {
        waiting(&locked(&self.book), &locked(&self.served))
    }

    /// All treatments that the class has named, so that one treatment is spelled in one way.
    fn treatments(&self) -> BTreeSet<String> {
        let book = locked(&self.book);
        let runs = book.teams.values().flat_map(|team| team.runs.values());
        let named = runs.map(|run| run.order.treatment.clone());
        named.filter(|treatment| !treatment.is_empty()).collect()
    }

    fn code(&self) -> Option<QrCode> {
        QrCode::new(self.address()).ok()
    }

    /// The address as a picture.
    fn code_svg(&self) -> Option<String> {
        let code = self.code()?;
        Some(
            code.render::<svg::Color<'_>>()
                .min_dimensions(240, 240)
                .build(),
        )
    }

    /// What whoever starts the station is told.
    fn ready(&self, gate: &Gate) -> Ready {
        let square = self.code();
        let square = square.map(|code| code.render::<unicode::Dense1x2>().build());
        Ready {
            coach: gate.address(),
            pupils: self.address(),
            code: locked(&self.book).code.to_string(),
            square: square.unwrap_or_default(),
        }
    }

    /// Wakes whoever measures.
    fn wake(&self) {
        self.bell.1.notify_all();
    }

    /// Waits for work, at most this long.
    fn idle(&self, most: Duration) {
        let guard = locked(&self.bell.0);
        drop(self.bell.1.wait_timeout(guard, most));
    }
}

impl Book {
    /// The teams as they are now.
    fn clone_teams(&self) -> BTreeMap<String, Team> {
        self.teams.clone()
    }
}

/// What whoever starts the station is told.
#[derive(Debug, Clone)]
pub struct Ready {
    /// The coach's page; it opens once.
    pub coach: String,
    /// What phones open.
    pub pupils: String,
    /// The code that they type.
    pub code: String,
    /// The pupils' address in letters that a terminal shows as a square to scan.
    pub square: String,
}

/// The address of this computer in its local network.
fn local_address() -> Option<IpAddr> {
    let all = if_addrs::get_if_addrs().ok()?;
    let mut all: Vec<Ipv4Addr> = (all.into_iter())
        .filter(|one| !one.is_loopback())
        .filter_map(|one| match one.ip() {
            IpAddr::V4(ip) if !ip.is_link_local() => Some(ip),
            _ => None,
        })
        .collect();
    // A private address is the local network's.
    all.sort_by_key(|ip| !ip.is_private());
    all.first().copied().map(IpAddr::V4)
}

/// A folder is one station's: a lock that goes with the process.
fn take_folder(root: &Path) -> Result<std::fs::File, StationError> {
    let folder = |source| StationError::Folder {
        path: root.to_path_buf(),
        source,
    };
    std::fs::create_dir_all(root).map_err(folder)?;
    let lock = std::fs::OpenOptions::new()
        .create(true)
        .truncate(false)
        .write(true)
        .open(root.join(".gripline-station"))
        .map_err(folder)?;
    match lock.try_lock() {
        Ok(()) => Ok(lock),
        Err(std::fs::TryLockError::WouldBlock) => Err(StationError::Taken {
            path: root.to_path_buf(),
        }),
        Err(std::fs::TryLockError::Error(source)) => Err(folder(source)),
    }
}

/// Opens a station on its folder, with the place that phones reach it at.
fn open(settings: &Settings, host: IpAddr, port: u16) -> Result<Arc<Station>, StationError> {
    let root = settings.root.clone();
    let book = Book::open(&root).map_err(|source| StationError::Folder {
        path: root.clone(),
        source,
    })?;
    Ok(Arc::new(Station {
        settings: settings.clone(),
        root,
        book: Mutex::new(book),
        served: Mutex::default(),
        wrong: Mutex::default(),
        frozen: AtomicBool::new(false),
        stopping: AtomicBool::new(false),
        bell: (Mutex::default(), Condvar::new()),
        host,
        port,
    }))
}

/// Runs a station until Ctrl-C. `ready` is told where to go.
///
/// # Errors
/// Why there is none; before anything was served.
pub fn run(settings: &Settings, ready: &dyn Fn(&Ready)) -> Result<(), StationError> {
    let lock = take_folder(&settings.root)?;
    let runtime = tokio::runtime::Builder::new_current_thread()
        .enable_all()
        .build()?;
    let host = settings.address.or_else(local_address);
    let host = host.ok_or(StationError::NoNetwork)?;
    let address = SocketAddr::new(host, settings.port);
    let listen = |source| StationError::Listen { address, source };
    let pupils = runtime
        .block_on(TcpListener::bind(address))
        .map_err(listen)?;
    let coach = runtime.block_on(TcpListener::bind(("127.0.0.1", 0)))?;
    let gate = Arc::new(Gate::new(coach.local_addr()?.port())?);
    let station = open(settings, host, pupils.local_addr()?.port())?;
    let workers: Vec<_> = (0..settings.at_once.max(1))
        .map(|_| {
            let station = Arc::clone(&station);
            thread::spawn(move || work::work(&station))
        })
        .collect();
    ready(&station.ready(&gate));
    runtime.block_on(async {
        tokio::select! {
            () = serve::serve(pupils, pupils::routes(Arc::clone(&station))) => {}
            () = serve::serve(coach, coach::routes(Arc::clone(&station), gate)) => {}
            _ = tokio::signal::ctrl_c() => {}
        }
    });
    station.stopping.store(true, Ordering::Relaxed);
    station.wake();
    for worker in workers {
        worker.join().ok();
    }
    runtime.shutdown_background();
    drop(lock);
    Ok(())
}
