//! What each stage of a measurement cost in wall-clock time. It is gathered beside the results by whoever calls the
//! stages; nothing that is measured or written depends on it.

use std::ops::AddAssign;
use std::time::{Duration, Instant};

/// The time that each stage took.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Spent {
    /// Decoding, in a thread of its own.
    pub decode: Duration,
    /// Looking at every frame, beside it.
    pub look: Duration,
    /// Both, side by side.
    pub observe: Duration,
    /// Following the marks.
    pub track: Duration,
    /// First analyses, one for each hypothesis of what is seen.
    pub trial: Duration,
    /// The analysis of what was decided.
    pub analysis: Duration,
    /// The draws of the intervals, and the verdict.
    pub draws: Duration,
    /// Tables and summary.
    pub tables: Duration,
    /// The second pass over the clip: the report's pictures and the annotated clip.
    pub pictures: Duration,
    /// The report page.
    pub report: Duration,
    /// The poster: page and print.
    pub poster: Duration,
    /// Everything, from the first look at the file to the finished folder.
    pub total: Duration,
}

impl AddAssign for Spent {
    fn add_assign(&mut self, other: Self) {
        self.decode += other.decode;
        self.look += other.look;
        self.observe += other.observe;
        self.track += other.track;
        self.trial += other.trial;
        self.analysis += other.analysis;
        self.draws += other.draws;
        self.tables += other.tables;
        self.pictures += other.pictures;
        self.report += other.report;
        self.poster += other.poster;
        self.total += other.total;
    }
}

/// What `work` gives; the time that it takes is added to `spent`.
pub(super) fn timed<T>(spent: &mut Duration, work: impl FnOnce() -> T) -> T {
    let start = Instant::now();
    let out = work();
    *spent += start.elapsed();
    out
}
