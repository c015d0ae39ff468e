//! What each stage cost, in words on the error stream: results and their words stay as they are.

use crate::pipeline::Spent;

/// Prints what measuring the clip of that (printable) name cost.
#[expect(
    clippy::print_stderr,
    reason = "times are notes, for the terminal's error stream"
)]
pub(super) fn tell(name: &str, spent: &Spent) {
    let side_by_side = format!(
        "looking at every frame, while it decodes (together {:.3})",
        spent.observe.as_secs_f64()
    );
    let lines = [
        (spent.decode, "decoding"),
        (spent.look, side_by_side.as_str()),
        (spent.track, "following the marks"),
        (spent.trial, "trial analyses"),
        (spent.analysis, "final analysis"),
        (spent.draws, "draws for the intervals"),
        (spent.tables, "tables and summary"),
        (spent.pictures, "report's pictures and annotated clip"),
        (spent.report, "report page"),
        (spent.poster, "poster"),
        (spent.total, "everything"),
    ];
    eprintln!("seconds spent on {name}:");
    for (took, what) in lines {
        eprintln!("{:9.3}  {what}", took.as_secs_f64());
    }
}
