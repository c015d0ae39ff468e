//! What must never come of an input.

/// Fails where something came that must never come.
pub fn never(came: Result<bool, String>) {
    if let Err(why) = came {
        panic!("{why}");
    }
}
