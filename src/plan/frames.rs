//! What `frames.csv` of a result tells beyond its summary: the speed along the pull, and whether the car stood still in
//! view.

use super::evidence::Measured;
use crate::uncertainty::COVERAGE_FACTOR;
use std::fs::File;
use std::io;
use std::path::Path;

/// Largest file that is read, bytes: an hour of frames.
const MOST_BYTES: u64 = 64 << 20;
/// Shares of the pull's way at which its speed is taken. Few and far apart, since errors of neighbouring frames are alike.
const SHARES: [f64; 4] = [0.2, 0.4, 0.6, 0.8];
/// A pull seen over less than this tells nothing of its shape, m.
const SHORTEST_PULL_M: f64 = 0.05;

/// What the frames tell.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Frames {
    /// Way (m) and speed (m/s) at a few places of the pull.
    pub speeds: Vec<(f64, Measured)>,
    /// Whether the car stood still before the clip ended.
    pub stood_still: bool,
}

/// One row of the pull.
struct Row {
    at_m: [f64; 2],
    speed: Measured,
}

/// Reads the frames beside a summary; nothing where there are none.
///
/// # Errors
/// Why the file is no table of frames, in words.
pub(super) fn read_frames(path: &Path) -> Result<Frames, String> {
    let file = match File::open(path) {
        Ok(file) => file,
        Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(Frames::default()),
        Err(error) => return Err(error.to_string()),
    };
    let bytes = file.metadata().map_err(|error| error.to_string())?.len();
    if bytes > MOST_BYTES {
        return Err(format!("it has {bytes} bytes"));
    }
    frames(file)
}

/// The same from any reader.
///
/// # Errors
/// In plain words: a column that is missing, or a row that cannot be read.
pub fn frames(from: impl io::Read) -> Result<Frames, String> {
    let mut reader = csv::Reader::from_reader(from);
    let head = reader.headers().map_err(|error| error.to_string())?.clone();
    let column = |name: &str| {
        let place = head.iter().position(|head| head == name);
        place.ok_or_else(|| format!("it has no column `{name}`"))
    };
    let wanted = [
        "x_m",
        "y_m",
        "speed_m_per_s",
        "speed_low_m_per_s",
        "speed_high_m_per_s",
    ];
    let mut places = [0; 5];
    for (place, name) in places.iter_mut().zip(wanted) {
        *place = column(name)?;
    }
    let phase = column("phase")?;
    let mut pulled = Vec::new();
    let mut out = Frames::default();
    for record in reader.records() {
        let record = record.map_err(|error| error.to_string())?;
        let doing = record.get(phase).unwrap_or_default();
        out.stood_still |= doing == "stopped";
        let cells = places.map(|place| record.get(place).and_then(|cell| cell.parse::<f64>().ok()));
        if let (true, [Some(x), Some(y), Some(value), Some(low), Some(high)]) =
            (doing == "powered", cells)
        {
            let sd = (high - low) / (2.0 * COVERAGE_FACTOR);
            pulled.push(Row {
                at_m: [x, y],
                speed: Measured { value, sd },
            });
        }
    }
    out.speeds = speeds(&pulled);
    Ok(out)
}

fn speeds(pulled: &[Row]) -> Vec<(f64, Measured)> {
    let Some(first) = pulled.first() else {
        return Vec::new();
    };
    // The first frame of the pull may be a little on its way; at its speed that is less than half a frame's travel.
    let way = |row: &Row| (row.at_m[0] - first.at_m[0]).hypot(row.at_m[1] - first.at_m[1]);
    let whole = pulled.last().map_or(0.0, &way);
    if whole < SHORTEST_PULL_M {
        return Vec::new();
    }
    let at = |share: &f64| {
        let row = pulled.iter().find(|row| way(row) >= share * whole)?;
        let fits = row.speed.value > 0.0 && row.speed.sd.is_finite();
        fits.then(|| (way(row), row.speed))
    };
    SHARES.iter().filter_map(at).collect()
}
