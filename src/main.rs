//! The `gripline` command.

use std::process::ExitCode;

fn main() -> ExitCode {
    gripline::cli::main()
}
