//! `gripline demo`: the makers' club's spin-out, measured from the clip that is built into the tool.

use super::measure::OutputChoice;
use super::{complain, measure, recovered, say};
use crate::pipeline::Ways;
use crate::sheet::RunSheet;
use crate::texts::Texts;
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
    let sheet = RunSheet::parse(SHEET, Path::new("demo.toml"))
        .map_err(|error| complain(&error, &error.hint()));
    let written = tempfile::tempdir().and_then(|home| {
        std::fs::write(home.path().join("demo.mp4"), CLIP)?;
        Ok(home)
    });
    let home = written.map_err(|error| {
        complain(
            &error,
            "see that the folder for temporary files can be written to",
        );
    });
    let (Ok(sheet), Ok(home)) = (sheet, home) else {
        return false;
    };
    let clip = home.path().join("demo.mp4");
    recovered(Some(&arguments.out));
    let language = arguments.outputs.language();
    say(&(Texts::of(language).text("demo-says") + "\n"));
    let ways = Ways {
        language,
        end_view: None,
        sheets: &[],
        replace: true,
        draws: DEFAULT_DRAWS,
        report: arguments.outputs.report(),
        overlay: arguments.outputs.overlay(),
        poster: arguments.outputs.poster(true),
    };
    measure::one(&clip, &sheet, &arguments.out, &ways, false)
}
