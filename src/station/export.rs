//! The class's table, and everything in one file.

use super::book::{State, Team};
use super::told::{FILES, NUMBERS};
use axum::body::Body;
use axum::http::{HeaderValue, header};
use axum::response::{IntoResponse, Response};
use std::collections::BTreeMap;
use std::fs::File;
#[cfg(test)]
use std::io::Read;
use std::io::{self, Seek, Write};
use std::path::Path;
use tokio_util::io::ReaderStream;
use zip::write::SimpleFileOptions;
use zip::{CompressionMethod, ZipWriter};

/// Files that no archive makes smaller.
const PACKED: [&str; 2] = ["poster.png", "overlay.mp4"];

/// One line a run: who, what, how, verdict, and numbers with their intervals; numbers that nobody could see are empty.
pub(super) fn class_csv(teams: &BTreeMap<String, Team>) -> io::Result<Vec<u8>> {
    let mut out = csv::WriterBuilder::new()
        .terminator(csv::Terminator::CRLF)
        .from_writer(Vec::new());
    let mut head: Vec<String> = [
        "team",
        "run",
        "car",
        "treatment",
        "change",
        "state",
        "verdict",
    ]
    .map(str::to_owned)
    .into();
    for key in NUMBERS {
        head.extend(["", "_low", "_high"].map(|end| format!("{key}{end}")));
    }
    out.write_record(&head)?;
    for team in teams.values() {
        for (number, run) in &team.runs {
            let order = &run.order;
            let found = &run.verdict;
            let state = match (&run.state, found) {
                (State::Done, Some(_)) => "measured",
                (State::Failed(_) | State::Done, _) => "no result",
                (State::Receiving { .. }, _) => "on its way",
                (State::Waiting | State::Measuring, _) => "in the queue",
            };
            let mut row: Vec<String> = vec![
                plain(&team.about.name),
                number.to_string(),
                plain(&order.car),
                plain(&order.treatment),
                plain(&order.change),
                state.to_owned(),
                found
                    .as_ref()
                    .map_or_else(String::new, |found| found.cause.clone()),
            ];
            for place in 0..NUMBERS.len() {
                let ends = found.as_ref().and_then(|found| found.numbers[place]);
                row.extend(
                    (0..3).map(|end| ends.map_or_else(String::new, |ends| ends[end].to_string())),
                );
            }
            out.write_record(&row)?;
        }
    }
    out.into_inner()
        .map_err(|error| io::Error::other(error.to_string()))
}

/// A text that no spreadsheet takes for a formula (OWASP, CSV injection, from memory).
fn plain(text: &str) -> String {
    if text.starts_with(['=', '+', '-', '@', '\t', '\r']) {
        format!("'{text}")
    } else {
        text.to_owned()
    }
}

/// An archive that was made; it has no name on the disk and goes when it was sent.
pub(super) struct Export(File, u64);

impl Export {
    /// Table, reports and numbers of all results. The clips themselves, with whoever is in them, stay.
    pub(super) fn make(root: &Path, teams: &BTreeMap<String, Team>) -> io::Result<Self> {
        let mut zip = ZipWriter::new(tempfile::tempfile_in(root)?);
        let options = SimpleFileOptions::default().large_file(true);
        let text = options.compression_method(CompressionMethod::Deflated);
        let pictures = options.compression_method(CompressionMethod::Stored);
        zip.start_file("class.csv", text)?;
        zip.write_all(&class_csv(teams)?)?;
        for team in teams.values() {
            for run in team.runs.values().filter(|run| run.state == State::Done) {
                for name in FILES.iter().map(|(name, _)| *name).chain(["summary.json"]) {
                    let packed = PACKED.contains(&name);
                    let Ok(mut file) = File::open(run.result().join(name)) else {
                        continue;
                    };
                    zip.start_file(
                        format!("{}/{name}", run.name),
                        if packed { pictures } else { text },
                    )?;
                    io::copy(&mut file, &mut zip)?;
                }
            }
        }
        let mut file = zip.finish()?;
        let length = file.stream_position()?;
        file.rewind()?;
        Ok(Self(file, length))
    }

    /// The bytes, for a test.
    #[cfg(test)]
    pub(super) fn read(mut self) -> io::Result<Vec<u8>> {
        let mut bytes = Vec::new();
        self.0.read_to_end(&mut bytes)?;
        Ok(bytes)
    }
}

impl IntoResponse for Export {
    fn into_response(self) -> Response {
        let Self(file, length) = self;
        let stream = ReaderStream::new(tokio::fs::File::from_std(file));
        let mut answer = Body::from_stream(stream).into_response();
        let headers = answer.headers_mut();
        headers.insert(
            header::CONTENT_TYPE,
            HeaderValue::from_static("application/zip"),
        );
        headers.insert(header::CONTENT_LENGTH, HeaderValue::from(length));
        headers.insert(
            header::CONTENT_DISPOSITION,
            HeaderValue::from_static("attachment; filename=\"class.zip\""),
        );
        answer
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_text_of_a_pupil_is_a_formula() {
        assert_eq!(plain("=1+1"), "'=1+1");
        assert_eq!(plain("silicone bead"), "silicone bead");
    }
}
