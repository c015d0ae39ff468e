//! Many clips in one call: progress while they are worked, and a table of what became of each.

use super::{complain, progress, say, timings};
use crate::outputs::{printable, printable_path, verdict_words};
use crate::pipeline::{MOST_AT_ONCE, Outcome, measure_all};
use crate::pipeline::{Stage, Ways};
use crate::sheet::RunSheet;
use crate::texts::Texts;
use indicatif::{MultiProgress, ProgressBar, ProgressDrawTarget};
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::Mutex;

/// Measures clips and prints a table; false where one or more have no result.
pub(super) fn run(
    clips: &[PathBuf],
    common: Option<&RunSheet>,
    out: &Path,
    ways: &Ways<'_>,
    at_once: Option<usize>,
    timings: bool,
) -> bool {
    let cores = std::thread::available_parallelism().map_or(1, usize::from);
    let at_once = at_once.unwrap_or(cores.min(MOST_AT_ONCE));
    let names: Vec<String> = (clips.iter())
        .map(|clip| {
            let name = clip.file_name().unwrap_or_default().to_string_lossy();
            printable(&name).into_owned()
        })
        .collect();
    let bars = Bars::new(clips.len());
    let outcomes = measure_all(
        clips,
        common,
        out,
        ways,
        at_once,
        &|place, stage, done, of| {
            bars.tell(&names[place], place, stage, done, of);
        },
    );
    bars.finish();
    say(&table(&names, &outcomes));
    say(&format!("Results: {}\n", printable_path(out)));
    let mut all_good = true;
    for (name, outcome) in names.iter().zip(&outcomes) {
        match outcome {
            Outcome::Measured(written) if timings => timings::tell(name, &written.spent),
            Outcome::Measured(_) | Outcome::UpToDate { .. } => {}
            Outcome::Failed(error) => {
                complain(error, &error.hint());
                all_good = false;
            }
        }
    }
    all_good
}

/// One line a clip: its name, what became of it, and what shows it.
fn table(names: &[String], outcomes: &[Outcome]) -> String {
    let rows: Vec<[String; 3]> = (names.iter().zip(outcomes))
        .map(|(name, outcome)| {
            let [what, why] = told(outcome);
            [name.clone(), what, why]
        })
        .collect();
    let head = ["clip", "verdict", "what shows it"].map(str::to_owned);
    let wide = |column: usize| {
        let cells = rows
            .iter()
            .chain([&head])
            .map(|row| row[column].chars().count());
        cells.max().unwrap_or_default()
    };
    let (first, second) = (wide(0), wide(1));
    let line = |row: &[String; 3]| {
        let text = format!("{:first$}  {:second$}  {}", row[0], row[1], row[2]);
        format!("{}\n", text.trim_end())
    };
    let count = |is: fn(&Outcome) -> bool| outcomes.iter().filter(|outcome| is(outcome)).count();
    let failed = count(|outcome| matches!(outcome, Outcome::Failed(_)));
    let kept = count(|outcome| matches!(outcome, Outcome::UpToDate { .. }));
    let measured = outcomes.len() - failed - kept;
    std::iter::once(line(&head))
        .chain(rows.iter().map(line))
        .chain([format!(
            "{measured} measured, {kept} up to date, {failed} without a result\n"
        )])
        .collect()
}

fn told(outcome: &Outcome) -> [String; 2] {
    match outcome {
        Outcome::Measured(written) => {
            let measured = &written.measured;
            let judged = measured.verdict.as_ref().zip(measured.result.as_ref());
            let cause = judged.map_or("undetermined", |(verdict, _)| verdict.cause.as_str());
            let words = judged
                .map(|(verdict, result)| verdict_words(Texts::english(), verdict, result).because);
            let because = words.and_then(|because| because.into_iter().next());
            [cause.to_owned(), because.unwrap_or_default()]
        }
        Outcome::UpToDate { cause, because, .. } => [
            cause.clone(),
            format!("{} (up to date)", because.as_deref().unwrap_or_default())
                .trim()
                .to_owned(),
        ],
        Outcome::Failed(error) => [
            "no result".to_owned(),
            printable(&error.to_string()).into_owned(),
        ],
    }
}

/// A bar for all clips and one for each clip that is being worked; nothing outside a terminal.
struct Bars {
    all: MultiProgress,
    clips: ProgressBar,
    open: Mutex<BTreeMap<(usize, bool), ProgressBar>>,
}

impl Bars {
    fn new(clips: usize) -> Self {
        let all = MultiProgress::with_draw_target(ProgressDrawTarget::stderr());
        let bar = all.add(progress::clips_bar());
        bar.set_length(clips as u64);
        Self {
            all,
            clips: bar,
            open: Mutex::new(BTreeMap::new()),
        }
    }

    fn tell(&self, name: &str, place: usize, stage: Option<Stage>, done: u64, of: Option<u64>) {
        let Ok(mut open) = self.open.lock() else {
            return;
        };
        let drawing = stage == Some(Stage::Drawing);
        let mut close = |drawing: bool| {
            if let Some(bar) = open.remove(&(place, drawing)) {
                bar.finish_and_clear();
                self.all.remove(&bar);
            }
        };
        if stage != Some(Stage::Looking) {
            close(false);
        }
        if stage.is_none() {
            close(true);
            self.clips.inc(1);
            return;
        }
        let bar = open.entry((place, drawing)).or_insert_with(|| {
            let what = if drawing { "drawing" } else { "looking" };
            self.all.add(progress::bar(what, name))
        });
        progress::step(bar, done, of);
    }

    fn finish(&self) {
        self.clips.finish_and_clear();
    }
}
