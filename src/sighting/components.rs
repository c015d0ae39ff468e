//! Connected patches of one colour: run-length components at several levels of membership.
//!
//! A patch is outlined at about half its own peak: two levels below the highest that it reaches, or
//! higher where it would run into another. So a pale mark on grey, a strong one on wood and two marks
//! joined by a haze are all outlined where an eye would.

use super::levels::{CHUNK, LevelMap};
use crate::colour::Membership;

/// A horizontal run of cells, `start..end`, on `row`.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Run {
    /// Row of the map.
    pub row: u32,
    /// First cell.
    pub start: u32,
    /// One past the last cell.
    pub end: u32,
}

/// One connected patch (8-connected), in chroma samples.
#[derive(Debug, Clone, PartialEq)]
pub struct Component {
    /// Level at which the patch was outlined.
    pub level: u8,
    /// Its runs, row by row.
    pub runs: Vec<Run>,
    /// Number of cells.
    pub cells: u32,
    /// Columns covered, first and last.
    pub columns: (u32, u32),
    /// Rows covered, first and last.
    pub rows: (u32, u32),
}

impl Component {
    /// Mean column and row of the patch, in cells.
    pub fn centre(&self) -> (f64, f64) {
        let (mut column, mut row) = (0.0, 0.0);
        for run in &self.runs {
            let length = f64::from(run.end - run.start);
            column += length * (f64::from(run.start + run.end) - 1.0) / 2.0;
            row += length * f64::from(run.row);
        }
        (column / f64::from(self.cells), row / f64::from(self.cells))
    }

    /// Second moments about the centre (xx, xy, yy), in cells, those of the cells' own boxes among them.
    pub(super) fn second_moments(&self) -> [f64; 3] {
        let (mx, my) = self.centre();
        let (mut xx, mut xy, mut yy) = (0.0, 0.0, 0.0);
        for run in &self.runs {
            let (length, y) = (f64::from(run.end - run.start), f64::from(run.row) - my);
            let x = (f64::from(run.start + run.end) - 1.0) / 2.0 - mx;
            // A row of cells about its own middle: (n² - 1) / 12.
            xx += length * (x * x + (length * length - 1.0) / 12.0);
            xy += length * x * y;
            yy += length * y * y;
        }
        let n = f64::from(self.cells);
        [xx / n + 1.0 / 12.0, xy / n, yy / n + 1.0 / 12.0]
    }

    /// Share of the ellipse with its own second moments that it fills: a disc, seen askew or not, all of it,
    /// two discs side by side nine tenths.
    pub(super) fn fill(&self) -> f64 {
        let [xx, xy, yy] = self.second_moments();
        let area = 4.0 * std::f64::consts::PI * (xx * yy - xy * xy).max(1e-9).sqrt();
        f64::from(self.cells) / area
    }

    fn covers(&self, other: &Self) -> bool {
        self.rows.0 <= other.rows.0
            && self.rows.1 >= other.rows.1
            && self.columns.0 <= other.columns.0
            && self.columns.1 >= other.columns.1
            && other.runs.first().is_some_and(|probe| {
                self.runs.iter().any(|run| {
                    run.row == probe.row && run.start <= probe.start && run.end >= probe.end
                })
            })
    }
}

/// A patch of fewer cells than this is noise.
const MIN_CELLS: u32 = 4;
/// At this level and above, where noise does not reach, a peak may be smaller: a sticker seen nearly
/// edge-on is one or two samples wide.
const STRONG_LEVEL: u8 = 4;
const MIN_PEAK_CELLS: u32 = 2;
/// A patch of at least this many cells may be a mark of its own beside another.
const SOLID_CELLS: u32 = 6;
/// More patches than this at one level is noise too: no lower level is searched.
const MAX_COMPONENTS: usize = 400;
/// Levels from a patch's peak down to its outline: each is a factor of about 1.5, so two halve it.
const LEVELS_TO_OUTLINE: u8 = 2;

/// Several patches that are one disc so few levels lower are noise in one mark whose colour is between two
/// levels ...
const LEVELS_OF_NOISE: u8 = 1;
/// ... where they fill its ellipse by more than this.
const FILL_OF_ONE: f64 = 0.95;
/// They are specks of a stronger colour in one mark where they cover no more than this share of it ...
const SHARE_OF_SPECKS: f64 = 0.3;
/// ... and it is at least as large as a coded block of 8 by 8 samples ...
const CODED_BLOCK_CELLS: u32 = 64;
/// ... and it fills its ellipse by more than this: coding leaves ragged edges of what is pale.
const FILL_ROUND_SPECKS: f64 = 0.85;

/// A patch that is still growing downwards, or that surrounds finished ones.
struct Node {
    patch: Component,
    peak: u8,
    open: bool,
}

/// Patches of `slot`, each outlined at about half its peak, never below level `base`. Where the marks of that
/// colour move, exposure and coding may have left stronger specks in a smeared one.
pub(super) fn patches(map: &LevelMap, slot: usize, base: u8, moves: bool) -> Vec<Component> {
    let mut finished: Vec<Component> = Vec::new();
    let mut nodes: Vec<Node> = Vec::new();
    let widest = base_runs(map, slot, base);
    for level in (base..=7).rev() {
        if map.count_at_least(slot, level) < min_cells(level) {
            continue;
        }
        let here = connected(&runs_within(map, slot, level, &widest), level);
        if here.len() > MAX_COMPONENTS {
            break;
        }
        let mut next = Vec::with_capacity(here.len());
        for patch in here {
            let (inside, rest): (Vec<_>, Vec<_>) = nodes
                .into_iter()
                .partition(|node| patch.covers(&node.patch));
            nodes = rest;
            next.push(grow(patch, inside, moves, &mut finished));
        }
        nodes = next;
    }
    finished.extend(
        nodes
            .into_iter()
            .filter(|node| node.open)
            .map(|node| node.patch),
    );
    finished.retain(|patch| patch.cells >= MIN_CELLS);
    finished
}

fn min_cells(level: u8) -> u32 {
    if level >= STRONG_LEVEL {
        MIN_PEAK_CELLS
    } else {
        MIN_CELLS
    }
}

/// What becomes of the patches seen a level higher inside this one: they grow into it, or they are
/// finished and it is only their surroundings.
fn grow(patch: Component, inside: Vec<Node>, moves: bool, finished: &mut Vec<Component>) -> Node {
    let peak = inside
        .iter()
        .map(|node| node.peak)
        .max()
        .unwrap_or(patch.level);
    let surrounds = inside.iter().any(|node| !node.open);
    let marks = inside
        .iter()
        .filter(|node| node.patch.cells >= SOLID_CELLS)
        .count();
    let cells: u32 = inside.iter().map(|node| node.patch.cells).sum();
    let specks = moves
        && patch.cells >= CODED_BLOCK_CELLS
        && f64::from(cells) < SHARE_OF_SPECKS * f64::from(patch.cells);
    let fill = match peak - patch.level {
        0..=LEVELS_OF_NOISE if specks => FILL_ROUND_SPECKS,
        0..=LEVELS_OF_NOISE => FILL_OF_ONE,
        _ => f64::INFINITY,
    };
    let one = marks < 2 || patch.fill() > fill;
    let grown = !surrounds && one && peak - patch.level <= LEVELS_TO_OUTLINE;
    if !grown {
        finished.extend(
            inside
                .into_iter()
                .filter(|node| node.open)
                .map(|node| node.patch),
        );
    }
    Node {
        patch,
        peak,
        open: grown,
    }
}

/// 8-connected patches of runs in row order, specks left out.
pub(super) fn connected(runs: &[Run], level: u8) -> Vec<Component> {
    let mut parent: Vec<u32> = (0..runs.len() as u32).collect();
    let mut previous = 0..0_usize;
    let mut first = 0;
    while first < runs.len() {
        let row = runs[first].row;
        let last = first
            + runs[first..]
                .iter()
                .take_while(|run| run.row == row)
                .count();
        if previous.end > previous.start && runs[previous.start].row + 1 != row {
            previous = 0..0;
        }
        let mut above = previous.start;
        for index in first..last {
            while above < previous.end && runs[above].end < runs[index].start {
                above += 1;
            }
            let mut touching = above;
            while touching < previous.end && runs[touching].start <= runs[index].end {
                join(&mut parent, touching as u32, index as u32);
                touching += 1;
            }
        }
        previous = first..last;
        first = last;
    }
    gather(runs, &mut parent, level)
}

/// Runs of `slot` at `level` or above over the whole map.
fn base_runs(map: &LevelMap, slot: usize, level: u8) -> Vec<Run> {
    let mut runs = Vec::new();
    // Levels end at 7, so a packed cell is never negative as a signed number, which the processor
    // compares many at a time.
    let mask = 0xF_i16 << (4 * slot);
    let least = i16::from(level) << (4 * slot);
    for row in 0..map.size().1 {
        let cells = map.row(row);
        let mut start = None;
        let chunks = cells.chunks(CHUNK).zip(map.row_chunks(row));
        for (index, (chunk, together)) in chunks.enumerate() {
            if together & mask.cast_unsigned() == 0 && start.is_none() {
                continue;
            }
            let hits: u16 = chunk
                .iter()
                .map(|&c| u16::from((c.cast_signed() & mask) >= least))
                .sum();
            if hits == 0 && start.is_none() {
                continue;
            }
            let at = index * CHUNK;
            extend_runs(
                chunk,
                (row as u32, at as u32),
                slot,
                level,
                &mut start,
                &mut runs,
            );
        }
        if let Some(begin) = start {
            runs.push(Run {
                row: row as u32,
                start: begin,
                end: cells.len() as u32,
            });
        }
    }
    runs
}

/// Runs of `slot` at `level` or above inside runs of a lower level.
fn runs_within(map: &LevelMap, slot: usize, level: u8, wider: &[Run]) -> Vec<Run> {
    let mut runs = Vec::new();
    for run in wider {
        let cells = &map.row(run.row as usize)[run.start as usize..run.end as usize];
        let mut start = None;
        extend_runs(
            cells,
            (run.row, run.start),
            slot,
            level,
            &mut start,
            &mut runs,
        );
        if let Some(begin) = start {
            runs.push(Run {
                row: run.row,
                start: begin,
                end: run.end,
            });
        }
    }
    runs
}

/// Adds the runs of some cells of a row; `start` carries a run that is still open.
fn extend_runs(
    cells: &[u16],
    (row, first): (u32, u32),
    slot: usize,
    level: u8,
    start: &mut Option<u32>,
    runs: &mut Vec<Run>,
) {
    for (column, &cell) in cells.iter().enumerate() {
        let column = first + column as u32;
        match (Membership::level(cell, slot) >= level, *start) {
            (true, None) => *start = Some(column),
            (false, Some(begin)) => {
                runs.push(Run {
                    row,
                    start: begin,
                    end: column,
                });
                *start = None;
            }
            _ => {}
        }
    }
}

fn root(parent: &mut [u32], mut node: u32) -> u32 {
    while parent[node as usize] != node {
        parent[node as usize] = parent[parent[node as usize] as usize];
        node = parent[node as usize];
    }
    node
}

fn join(parent: &mut [u32], a: u32, b: u32) {
    let (a, b) = (root(parent, a), root(parent, b));
    let (low, high) = if a < b { (a, b) } else { (b, a) };
    parent[high as usize] = low;
}

fn gather(runs: &[Run], parent: &mut [u32], level: u8) -> Vec<Component> {
    let mut slot_of_root = vec![u32::MAX; runs.len()];
    let mut out: Vec<Component> = Vec::new();
    for (index, run) in runs.iter().enumerate() {
        let top = root(parent, index as u32) as usize;
        if slot_of_root[top] == u32::MAX {
            slot_of_root[top] = out.len() as u32;
            out.push(Component {
                level,
                runs: Vec::new(),
                cells: 0,
                columns: (run.start, run.end - 1),
                rows: (run.row, run.row),
            });
        }
        let component = &mut out[slot_of_root[top] as usize];
        component.cells += run.end - run.start;
        component.columns.0 = component.columns.0.min(run.start);
        component.columns.1 = component.columns.1.max(run.end - 1);
        component.rows.1 = run.row;
        component.runs.push(*run);
    }
    out.retain(|component| component.cells >= min_cells(level));
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use ndarray::Array2;

    fn map_of(rows: &[&str]) -> LevelMap {
        let width = rows[0].len();
        let cells =
            Array2::from_shape_fn((rows.len(), width), |(v, u)| match rows[v].as_bytes()[u] {
                b'.' => 0,
                digit => u16::from(digit - b'0'),
            });
        let mut map = LevelMap::default();
        map.fill_from_cells(cells, 1);
        map
    }

    #[test]
    fn diagonal_neighbours_are_one_patch() {
        let map = map_of(&["33....", "33....", "..33..", "..33.."]);
        let found = connected(&base_runs(&map, 0, 1), 1);
        assert_eq!(found.len(), 1);
        assert_eq!(found[0].cells, 8);
        assert_eq!(found[0].centre(), (1.5, 1.5));
    }

    #[test]
    fn a_u_shape_joins_late_but_is_one_patch() {
        let map = map_of(&["3...3", "3...3", "33333"]);
        let found = connected(&base_runs(&map, 0, 3), 3);
        assert_eq!(found.len(), 1);
        assert_eq!(
            (found[0].cells, found[0].columns, found[0].rows),
            (9, (0, 4), (0, 2))
        );
    }

    #[test]
    fn an_empty_row_parts_two_patches() {
        let map = map_of(&["222.", "222.", "....", "222.", "222."]);
        assert_eq!(connected(&base_runs(&map, 0, 2), 2).len(), 2);
    }

    #[test]
    fn a_mark_on_a_floor_of_related_colour_is_outlined_at_its_own_level() {
        let map = map_of(&[
            "1111111111",
            "1111111111",
            "1115551111",
            "1115551111",
            "1111111111",
            "1111111111",
        ]);
        let found = patches(&map, 0, 1, true);
        assert_eq!(found.len(), 1);
        assert_eq!((found[0].level, found[0].cells), (3, 6));
    }

    #[test]
    fn a_disc_whose_colour_lies_between_two_levels_is_one_patch() {
        let map = map_of(&[
            "...4444...",
            "..445544..",
            ".45555544.",
            "4555555444",
            "4444444444",
            "4444444444",
            "4444555554",
            ".44555554.",
            "..445544..",
            "...4444...",
        ]);
        let found = patches(&map, 0, 1, true);
        assert_eq!(found.len(), 1);
        assert_eq!((found[0].level, found[0].cells), (3, 76));
        // Two discs side by side fill nine tenths of their ellipse: area 2 pi r^2, half-axes sqrt(5) r and r.
        let pair = map_of(&[
            "..3333....3333..",
            ".333333..333333.",
            "3333333333333333",
            "3333333333333333",
            "3333333333333333",
            "3333333333333333",
            ".333333..333333.",
            "..3333....3333..",
        ]);
        let both = &connected(&base_runs(&pair, 0, 3), 3)[0];
        assert!(
            (both.fill() - 2.0 / 5.0_f64.sqrt()).abs() < 0.03,
            "{}",
            both.fill()
        );
    }

    #[test]
    fn stronger_specks_of_one_mark_do_not_part_it() {
        let map = map_of(&[
            "...111111.....",
            ".1111111111...",
            "11111111111111",
            "11222111122211",
            "11222111122211",
            "11111111111111",
            ".111...111111.",
            "..1.....111...",
        ]);
        let found = patches(&map, 0, 1, true);
        assert_eq!(found.len(), 1);
        assert_eq!((found[0].level, found[0].cells), (1, 85));
        // What lies still is not smeared: two strong patches are two things there.
        assert_eq!(patches(&map, 0, 1, false).len(), 2);
    }

    #[test]
    fn two_marks_joined_by_a_haze_are_two_patches() {
        let map = map_of(&["444..444", "44422444", "444..444"]);
        let found = patches(&map, 0, 1, true);
        assert_eq!(found.len(), 2);
        assert!(found.iter().all(|patch| patch.cells == 9));
    }

    #[test]
    fn a_mark_with_a_soft_edge_keeps_its_edge() {
        let map = map_of(&[".2222.", "244442", "244442", "244442", ".2222."]);
        let found = patches(&map, 0, 1, true);
        assert_eq!(found.len(), 1);
        assert_eq!(found[0].cells, 26);
    }
}
