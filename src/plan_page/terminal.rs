//! A plan in words for the terminal.

use super::rows::{Rows, rows};
use super::say::{CAUTIONS, because, careful, headline};
use crate::plan::Plan;

/// The words.
pub fn plan_words(of: &Plan) -> String {
    let Rows {
        levers,
        changes,
        open,
        next,
        chassis,
    } = rows(of);
    let mut lines = vec![format!("{}.", headline(of))];
    lines.extend(because(of).iter().map(|line| format!("  - {line}")));
    lines.push(
        "  (in brackets: the interval that holds the true value in 95 of 100 cases, for the next single run)".to_owned(),
    );
    let levers = levers
        .iter()
        .map(|row| format!("{}: {}", row.lever, row.words()));
    list(&mut lines, "One change alone:", levers);
    lines.push("A tenth more or less of one thing, best for the work first:".to_owned());
    let changes = changes.iter().enumerate();
    lines.extend(changes.map(|(place, row)| format!("  {}. {}", place + 1, row.words())));
    lines.extend(chassis.map(|chassis| format!("Chassis: {chassis}.")));
    list(
        &mut lines,
        "To know it better, best first:",
        next.into_iter(),
    );
    list(&mut lines, "Cannot be told:", open.into_iter());
    list(&mut lines, "Be careful:", careful(of).into_iter());
    lines.push(CAUTIONS.to_owned());
    lines.join("\n") + "\n"
}

/// A head with its lines; nothing of no lines.
fn list(to: &mut Vec<String>, head: &str, lines: impl Iterator<Item = String>) {
    let mut lines = lines.map(|line| format!("  - {line}")).peekable();
    if lines.peek().is_some() {
        to.push(head.to_owned());
        to.extend(lines);
    }
}
