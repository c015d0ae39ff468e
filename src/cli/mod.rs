//! Arguments, progress, exit codes and printing; nothing is computed here.

mod batch;
mod check;
mod compare;
mod demo;
mod help;
mod kit;
mod measure;
mod plan;
mod progress;
mod setup;
mod station;
mod texts;
mod timings;

use crate::outputs::{printable, printable_lines, recover};
use clap::error::ErrorKind;
use clap::{CommandFactory, Parser, Subcommand};
use std::path::Path;
use std::process::ExitCode;

/// Measures a spring-powered car from a phone clip: speed, wheel slip, drift, and what to blame.
#[derive(Debug, Parser)]
#[command(
    name = "gripline",
    version,
    about,
    arg_required_else_help = true,
    max_term_width = WIDEST_HELP,
    after_help = "`gripline measure --help` explains the run sheet and everything that comes out."
)]
struct Arguments {
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, Subcommand)]
enum Command {
    /// Measure the clip that ships with the tool and show what comes out
    Demo(demo::DemoArguments),
    /// Measure clips of runs
    Measure(measure::MeasureArguments),
    /// Compare many measured runs: treatments, cars, or anything else on the run sheet
    Compare(compare::CompareArguments),
    /// Plan the string, arm, axle or wheel with which a measured car does a task
    Plan(plan::PlanArguments),
    /// Make the run sheet on a page in your browser: point at the marks, type the sizes
    Setup(setup::SetupArguments),
    /// Take clips from the class's phones and send verdicts back
    Station(station::StationArguments),
    /// Judge whether a clip is good enough to measure, and what would make it so
    Check(check::CheckArguments),
    /// Write manual pages and shell completions
    #[command(hide = true)]
    Texts(texts::TextsArguments),
    /// Draw stickers, floor marks and the filming card as a PDF to print
    Kit(kit::KitArguments),
}

/// Help is no wider than this, however wide the terminal: longer lines are hard to read. Characters.
const WIDEST_HELP: usize = 100;
/// Results were not written because the input could not be measured.
const NOT_MEASURED: u8 = 1;
/// The command line was wrong.
const WRONG_USAGE: u8 = 2;

/// Runs the command line; the exit code is 0 for results written, 1 for input that could not be
/// measured, 2 for wrong usage.
pub fn main() -> ExitCode {
    let arguments = match Arguments::try_parse() {
        Ok(arguments) => arguments,
        Err(error) => return told_by_clap(&error),
    };
    let outcome = match arguments.command {
        Command::Demo(arguments) => demo::run(&arguments),
        Command::Measure(arguments) => measure::run(&arguments),
        Command::Compare(arguments) => compare::run(&arguments),
        Command::Plan(arguments) => plan::run(&arguments),
        Command::Setup(arguments) => setup::run(&arguments),
        Command::Station(arguments) => station::run(&arguments),
        Command::Check(arguments) => check::run(&arguments),
        Command::Texts(arguments) => texts::run(&arguments, &mut Arguments::command()),
        Command::Kit(arguments) => kit::run(&arguments),
    };
    if outcome {
        ExitCode::SUCCESS
    } else {
        ExitCode::from(NOT_MEASURED)
    }
}

/// Ends the program as clap does where arguments do not go together: exit code 2.
fn wrong_usage(what: &str) -> ! {
    Arguments::command()
        .error(ErrorKind::ArgumentConflict, printable(what))
        .exit()
}

/// Prints a failure: what went wrong, then what to do next.
#[expect(
    clippy::print_stderr,
    reason = "errors are for the terminal's error stream"
)]
fn complain(what: &dyn std::fmt::Display, hint: &str) {
    eprintln!("error: {}", printable(&what.to_string()));
    if !hint.is_empty() {
        eprintln!("hint: {}", printable(hint));
    }
}

/// Puts right what processes that died have left in a folder of results, and says so.
#[expect(
    clippy::print_stderr,
    reason = "notes are for the terminal's error stream"
)]
fn recovered(folder: Option<&Path>) {
    let here = Path::new(".");
    let folder = folder.filter(|folder| !folder.as_os_str().is_empty());
    for found in recover(folder.unwrap_or(here)) {
        eprintln!("note: {}", printable(&found.words()));
    }
}

/// Help and wrong usage as clap words them; what was typed is made printable before it is repeated.
#[expect(
    clippy::print_stderr,
    reason = "errors are for the terminal's error stream"
)]
fn told_by_clap(error: &clap::Error) -> ExitCode {
    if error.use_stderr() {
        eprint!("{}", printable_lines(&error.render().to_string()));
        return ExitCode::from(u8::try_from(error.exit_code()).unwrap_or(WRONG_USAGE));
    }
    error.exit()
}

/// Prints to standard output; a closed pipe is no error.
fn say(text: &str) {
    use std::io::Write;
    let mut out = std::io::stdout().lock();
    out.write_all(printable_lines(text).as_bytes())
        .and_then(|()| out.flush())
        .ok();
}
