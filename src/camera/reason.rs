//! Why a camera, a length on the floor, or what moves sideways is not to be had.

/// What a view does not show, with the numbers that say so.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum CameraReason {
    /// The run sheet names too few floor marks for a camera.
    FewMarks {
        /// How many it names.
        named: usize,
    },
    /// The floor marks of the run sheet lie in a line.
    MarksInLine,
    /// No four of the still patches fit the places in the run sheet.
    NoFit {
        /// Patches of the floor marks' colours that lie still.
        patches: usize,
    },
    /// The camera moves, and its marks are nowhere told from each other.
    MovesUnplaced {
        /// How many floor marks the run sheet names.
        named: usize,
    },
    /// The camera moves, and no path of it explains the marks.
    MovesOtherwise,
    /// The camera moves, and is not followed.
    Moves,
    /// Nothing in view has a known size.
    NoKnownSize,
    /// A plain scale shows no sideways motion.
    PlainScale,
}
