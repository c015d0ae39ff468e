//! `gripline demo`: the makers' club's spin-out, measured from the clip that is built into the tool.

use super::measure::OutputChoice;
use super::{complain, measure, recovered, say};
use crate::making::Ways;
use crate::sheet::RunSheet;
use crate::uncertainty::DEFAULT_DRAWS;
use clap::Args;
use std::path::{Path, PathBuf};

const CLIP: &[u8] = include_bytes!("../../fixtures/demo/clip.mp4");
const SHEET: &str = include_str!("../../fixtures/demo/run.toml");

#[derive(Debug, Args)]
pub(super) struct DemoArguments {
    /// Folder for the results
    #[arg(long, value_name = "FOLDER", default_value = "results")]
    out: PathBuf,
    #[command(flatten)]
    outputs: OutputChoice,
}

/// Measures the built-in clip; an earlier demo's result is replaced.
pub(super) fn run(arguments: &DemoArguments) -> bool {
    let sheet = match RunSheet::parse(SHEET, Path::new("demo.toml")) {
        Ok(sheet) => sheet,
        Err(error) => {
            complain(&error, &error.hint());
            return false;
        }
    };
    let home = match tempfile::tempdir() {
        Ok(home) => home,
        Err(error) => {
            complain(
                &error,
                "see that the folder for temporary files can be written to",
            );
            return false;
        }
    };
    let clip = home.path().join("demo.mp4");
    if let Err(error) = std::fs::write(&clip, CLIP) {
        complain(
            &error,
            "see that the folder for temporary files can be written to",
        );
        return false;
    }
    recovered(Some(&arguments.out));
    say("A run of the makers' club on Harbour Street, drawn from known motion:\n");
    let ways = Ways {
        end_view: None,
        sheets: &[],
        replace: true,
        draws: DEFAULT_DRAWS,
        report: arguments.outputs.report(),
        overlay: arguments.outputs.overlay(),
    };
    measure::one(&clip, &sheet, &arguments.out, &ways)
}
