//! The `gripline` command.

fn main() {}
