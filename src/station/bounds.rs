//! Bounds of a process that reads a stranger's clip: memory, time, files, and where it may write.
//!
//! A clip is whatever a phone, or somebody with a phone, sends. It is decoded by a library of a million lines, in a process
//! that dies with the station, gets this much and no more, and on Linux can write to one folder and to no network.

use std::io;
use std::path::Path;

/// Memory that it may take, bytes. A clip of 4K takes a quarter of it.
const MOST_MEMORY_BYTES: u64 = 3 << 30;
/// Time on the processor, s.
const MOST_CPU_S: u64 = 1200;
/// Largest file that it may write, bytes.
const MOST_FILE_BYTES: u64 = 2 << 30;
/// Most files that it may have open.
const MOST_OPEN: u64 = 256;

/// Bounds this process from here on; `out` is the folder that it may write to. True where the system keeps it from writing
/// elsewhere too, which an older kernel cannot.
///
/// # Errors
/// What the system says where a bound that it knows cannot be set.
#[cfg(target_os = "linux")]
pub fn bound_this_process(out: &Path) -> io::Result<bool> {
    use landlock::{
        ABI, Access, AccessFs, AccessNet, CompatLevel, Compatible, PathBeneath, PathFd, Ruleset,
        RulesetAttr, RulesetCreatedAttr, RulesetStatus,
    };
    use rustix::process::{
        Resource, Rlimit, Signal, set_parent_process_death_signal, setpriority_process, setrlimit,
    };
    set_parent_process_death_signal(Some(Signal::KILL))?;
    let bounds = [
        (Resource::Data, MOST_MEMORY_BYTES),
        (Resource::Cpu, MOST_CPU_S),
        (Resource::Fsize, MOST_FILE_BYTES),
        (Resource::Nofile, MOST_OPEN),
        (Resource::Core, 0),
    ];
    for (resource, most) in bounds {
        setrlimit(
            resource,
            Rlimit {
                current: Some(most),
                maximum: Some(most),
            },
        )?;
    }
    // Clips that come in go before clips that are measured.
    setpriority_process(None, 10)?;
    // An older kernel knows less of this: it then keeps what it knows.
    let abi = ABI::V4;
    let writes = AccessFs::from_write(abi);
    let fenced = Ruleset::default()
        .set_compatibility(CompatLevel::BestEffort)
        .handle_access(writes)
        .and_then(|rules| rules.handle_access(AccessNet::from_all(abi)))
        .and_then(Ruleset::create)
        .map_err(io::Error::other)?;
    let folder = PathFd::new(out).map_err(io::Error::other)?;
    let fenced = fenced
        .add_rule(PathBeneath::new(folder, writes))
        .and_then(landlock::RulesetCreated::restrict_self)
        .map_err(io::Error::other)?;
    Ok(fenced.ruleset != RulesetStatus::NotEnforced)
}

/// Bounds this process from here on: on this system there is nothing to do it with that was tried.
///
/// # Errors
/// None.
#[cfg(not(target_os = "linux"))]
pub fn bound_this_process(_out: &Path) -> io::Result<bool> {
    Ok(false)
}
