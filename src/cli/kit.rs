//! `gripline kit`: the printed kit as a PDF.

use super::{complain, recovered, say};
use crate::kit::{KIT_CREATOR, Paper, kit_pdf};
use crate::outputs::{Over, printable_path, write_whole};
use clap::Args;
use std::path::PathBuf;

#[derive(Debug, Args)]
#[command(after_long_help = include_str!("help/kit.txt"))]
pub(super) struct KitArguments {
    /// Size of the paper
    #[arg(long, value_enum, default_value_t = PaperName::A4)]
    paper: PaperName,
    /// The PDF to write
    #[arg(long, value_name = "FILE", default_value = "kit.pdf")]
    out: PathBuf,
    /// Write over a kit that is there already
    #[arg(long)]
    replace: bool,
}

/// Sizes of paper.
#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
enum PaperName {
    /// 210 mm by 297 mm
    A4,
    /// 8.5 inches by 11 inches
    Letter,
}

impl From<PaperName> for Paper {
    fn from(name: PaperName) -> Self {
        match name {
            PaperName::A4 => Self::A4,
            PaperName::Letter => Self::Letter,
        }
    }
}

/// Writes the kit; false after complaining.
pub(super) fn run(arguments: &KitArguments) -> bool {
    let pdf = match kit_pdf(arguments.paper.into()) {
        Ok(pdf) => pdf,
        Err(error) => {
            complain(&error, "this is a fault of the tool: please report it");
            return false;
        }
    };
    recovered(arguments.out.parent());
    let over = if arguments.replace {
        Over::Marked {
            start: b"%PDF-",
            within: KIT_CREATOR.as_bytes(),
        }
    } else {
        Over::Nothing
    };
    if let Err(error) = write_whole(&arguments.out, &pdf, over) {
        complain(&error, error.hint());
        return false;
    }
    say(&format!(
        "Kit: {}\nPrint it in colour at 100 % (\"actual size\"), not fitted to the page; the bar on page 1 must be \
         100 mm long.\n",
        printable_path(&arguments.out)
    ));
    true
}
