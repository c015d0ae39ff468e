//! `comparison.csv`: one row a run, in order.

use crate::outputs::shown::END_UNITS;
use crate::treatments::{Comparison, Role, Run, SheetKey};

/// The file's bytes (RFC 4180).
///
/// # Errors
/// What the CSV writer says; writing to memory does not fail in practice.
pub fn comparison_csv(of: &Comparison) -> Result<Vec<u8>, csv::Error> {
    let mut writer = csv::WriterBuilder::new()
        .terminator(csv::Terminator::CRLF)
        .from_writer(Vec::new());
    writer.write_record(head(of))?;
    for (place, run) in of.runs.iter().enumerate() {
        writer.write_record(row(of, place, run))?;
    }
    writer
        .into_inner()
        .map_err(|error| csv::Error::from(error.into_error()))
}

fn head(of: &Comparison) -> Vec<String> {
    let fixed = [
        "order",
        "result",
        "clip",
        "clip_sha256",
        "group",
        "counted",
        "car",
        "treatment",
        "change",
        "filmed",
        "frames_per_s",
        "view",
        "verdict",
    ];
    let mut out: Vec<String> = fixed.map(str::to_owned).to_vec();
    for quantity in &of.quantities {
        let name = quantity.key.as_str();
        out.extend([name.to_owned(), end_of(name, "low"), end_of(name, "high")]);
    }
    out
}

/// `spun_away_low_m` of `spun_away_m`: the unit stays at the end.
fn end_of(name: &str, end: &str) -> String {
    let unit = END_UNITS
        .iter()
        .map(|(unit, _)| *unit)
        .find(|unit| name.ends_with(unit));
    let unit = unit.unwrap_or_default();
    let stem = name.strip_suffix(unit).unwrap_or(name);
    format!("{stem}_{end}{unit}")
}

fn row(of: &Comparison, place: usize, run: &Run) -> Vec<String> {
    let role = of.roles[place];
    let group = role
        .group()
        .map_or("", |group| of.groups[group].label.as_str());
    let counted = match role {
        Role::In(_) => "yes",
        Role::SameClipAs(_) => "no: the same clip again",
        Role::NoGroup => "no: not on its sheet",
    };
    let fact = |key| harmless(run.facts.text(key).unwrap_or_default());
    let mut out = vec![
        (place + 1).to_string(),
        harmless(&run.name),
        harmless(&run.clip),
        harmless(&run.clip_sha256),
        harmless(group),
        counted.to_owned(),
        fact(SheetKey::CAR),
        fact(SheetKey::TREATMENT),
        fact(SheetKey::CHANGE),
        harmless(run.filmed.as_deref().unwrap_or_default()),
        run.frames_per_s
            .map_or_else(String::new, |rate| rate.to_string()),
        harmless(run.view.as_deref().unwrap_or_default()),
        harmless(&run.cause),
    ];
    for quantity in &of.quantities {
        let seen = run
            .values
            .get(&quantity.key)
            .and_then(|seen| seen.as_ref().ok());
        let cell = |number: Option<f64>| number.map_or_else(String::new, |n| n.to_string());
        out.extend([
            cell(seen.map(|v| v.value)),
            cell(seen.map(|v| v.low)),
            cell(seen.map(|v| v.high)),
        ]);
    }
    out
}

/// A text that no spreadsheet takes for a formula: one that begins like a formula gets a quote in front (OWASP,
/// CSV injection). Numbers are left alone, minus signs and all.
fn harmless(text: &str) -> String {
    if text.starts_with(['=', '+', '-', '@', '\t', '\r', '\0']) {
        format!("'{text}")
    } else {
        text.to_owned()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_that_look_like_formulas_are_made_harmless() {
        // OWASP's list of first characters.
        assert_eq!(harmless("=1+1.mp4"), "'=1+1.mp4");
        assert_eq!(harmless("-x.mov"), "'-x.mov");
        assert_eq!(harmless("@a"), "'@a");
        assert_eq!(harmless("run 7"), "run 7");
        assert_eq!(harmless(""), "");
    }

    #[test]
    fn the_unit_stays_at_the_end_of_a_columns_name() {
        assert_eq!(end_of("spun_away_m", "low"), "spun_away_low_m");
        assert_eq!(
            end_of("peak_speed_m_per_s", "high"),
            "peak_speed_high_m_per_s"
        );
        assert_eq!(end_of("max_slip", "low"), "max_slip_low");
    }
}
