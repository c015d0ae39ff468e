//! Which still patch is which floor mark of the run sheet.
//!
//! Every way of naming four patches after four marks gives a homography; the one that puts a patch
//! where each other mark must be is right. A layout may look the same from two sides; the car's own
//! start and direction settle it.

use super::homography::{apply, homography};
use crate::track::StillMark;
use nalgebra::{Matrix3, Vector2};

/// A floor mark of the run sheet, as the camera stage needs it.
#[derive(Debug, Clone, PartialEq)]
pub struct MarkPrior {
    /// Place on the floor, m.
    pub floor_m: Vector2<f64>,
    /// Its colour.
    pub colour: crate::colour::Colour,
    /// Where someone pointed at it, px.
    pub pointed_px: Option<Vector2<f64>>,
}

/// Which way the car went in the picture, to tell a layout from its mirror image.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Course {
    /// Where the car was first seen, px.
    pub from_px: Vector2<f64>,
    /// Where it was last seen, px.
    pub to_px: Vector2<f64>,
    /// Start of the aim line, m.
    pub aim_from_m: Vector2<f64>,
    /// End of the aim line, m.
    pub aim_to_m: Vector2<f64>,
}

/// For each known mark, the index of its patch.
pub type Correspondence = Vec<Option<usize>>;

/// No more patches than this are tried; the longest seen first.
const MAX_PATCHES: usize = 14;
/// No more base quadruples of marks than this.
const MAX_BASES: usize = 20;
/// A patch is a mark's when it is this near to where the mark must be, px (at least) ...
const NEAR_PX: f64 = 4.0;
/// ... or this share of the marks' extent in the picture.
const NEAR_SHARE: f64 = 0.012;
/// A correspondence of all marks is close where their places and sizes lose it no more than this.
const CLOSE_LOSS: f64 = 0.5;
/// Someone pointed at a mark to within this, px.
const POINTED_PX: f64 = 30.0;

struct Scored {
    correspondence: Correspondence,
    /// How many marks lie where they must, and look as large: at most the number of marks.
    fit: f64,
    /// The same with how well the car's course fits.
    score: f64,
}

/// Consistent correspondences, the likeliest first; none where fewer than four marks can be named.
pub fn name_marks(
    known: &[MarkPrior],
    patches: &[StillMark],
    course: Option<&Course>,
) -> Vec<Correspondence> {
    let mut order: Vec<usize> = (0..patches.len()).collect();
    order.sort_by(|&a, &b| patches[b].frames.cmp(&patches[a].frames));
    order.truncate(MAX_PATCHES);
    let mut best: Vec<Scored> = Vec::new();
    for base in bases(known) {
        for quad in quads(known, patches, &order, &base) {
            consider(&mut best, known, patches, &order, (&base, &quad), course);
        }
        // A base tries every way of naming its four: the others could only say the same again. But among many
        // patches that are no marks a few lie by chance where marks would be: only a close fit ends the search.
        let close = |scored: &Scored| scored.fit > known.len() as f64 - CLOSE_LOSS;
        if best.first().is_some_and(close) {
            break;
        }
    }
    best.into_iter()
        .map(|scored| scored.correspondence)
        .collect()
}

/// The same where the picture shows a part of the marks and little else of their colour: the widest
/// quadruples of patches are tried against every quadruple of marks.
pub(super) fn name_part(known: &[MarkPrior], patches: &[StillMark]) -> Vec<Correspondence> {
    let all: Vec<usize> = (0..patches.len()).collect();
    let seen: Vec<Vector2<f64>> = patches
        .iter()
        .map(|p| Vector2::new(p.u_px, p.v_px))
        .collect();
    let mut best: Vec<Scored> = Vec::new();
    let mut wide = wide_quadruples(&seen);
    wide.truncate(MAX_PART_QUADS);
    for (_, quad) in wide {
        for base in orders(known, patches, &quad) {
            consider(&mut best, known, patches, &all, (&base, &quad), None);
        }
    }
    best.into_iter()
        .map(|scored| scored.correspondence)
        .collect()
}

/// Quadruples of patches that [`name_part`] tries: a stray patch spoils some of them, not all.
const MAX_PART_QUADS: usize = 6;

/// Ordered quadruples of marks that a quadruple of patches may show.
fn orders(known: &[MarkPrior], patches: &[StillMark], quad: &[usize; 4]) -> Vec<[usize; 4]> {
    let pixels = quad.map(|i| Vector2::new(patches[i].u_px, patches[i].v_px));
    let mut out = Vec::new();
    let n = known.len().min(MAX_PART_MARKS);
    for index in 0..n.pow(4) {
        let base = [
            index % n,
            index / n % n,
            index / n / n % n,
            index / n / n / n,
        ];
        let same = TRIPLES.iter().any(|t| {
            base[t[0]] == base[t[1]] || base[t[0]] == base[t[2]] || base[t[1]] == base[t[2]]
        });
        let coloured = base
            .iter()
            .zip(quad)
            .all(|(&m, &p)| fits(&known[m], &patches[p]));
        if same || !coloured {
            continue;
        }
        let floor = base.map(|i| known[i].floor_m);
        if TRIPLES
            .iter()
            .all(|t| cross(&floor, *t) * cross(&pixels, *t) < 0.0)
        {
            out.push(base);
        }
    }
    out
}

/// More marks than this are not tried one by one.
const MAX_PART_MARKS: usize = 16;

fn consider(
    best: &mut Vec<Scored>,
    known: &[MarkPrior],
    patches: &[StillMark],
    order: &[usize],
    (base, quad): (&[usize; 4], &[usize; 4]),
    course: Option<&Course>,
) {
    let floor = base.map(|i| known[i].floor_m);
    let pixels = quad.map(|i| Vector2::new(patches[i].u_px, patches[i].v_px));
    if let Some(map) = homography(&floor, &pixels) {
        keep(best, score(known, patches, order, &map, course));
    }
}

/// How many correspondences are handed on: a homography through four points may be no camera's.
const MAX_NAMINGS: usize = 120;

fn keep(best: &mut Vec<Scored>, scored: Scored) {
    if named(&scored.correspondence) < 4 {
        return;
    }
    match best
        .iter_mut()
        .find(|old| old.correspondence == scored.correspondence)
    {
        Some(old) if old.score >= scored.score => return,
        Some(old) => *old = scored,
        None => best.push(scored),
    }
    best.sort_by(|a, b| b.score.total_cmp(&a.score));
    best.truncate(MAX_NAMINGS);
}

/// Whether every four of the marks have three in a line, so that no camera can be placed by them.
pub(super) fn in_line(known: &[MarkPrior]) -> bool {
    bases(known).is_empty()
}

pub(super) fn named(correspondence: &[Option<usize>]) -> usize {
    correspondence.iter().flatten().count()
}

/// Quadruples of marks that span an area, the widest first.
fn bases(known: &[MarkPrior]) -> Vec<[usize; 4]> {
    let floor: Vec<Vector2<f64>> = known.iter().map(|mark| mark.floor_m).collect();
    let mut out = wide_quadruples(&floor);
    out.retain(|(width, _)| *width > 1e-4);
    out.truncate(MAX_BASES);
    out.into_iter().map(|(_, quad)| quad).collect()
}

/// Quadruples of the first dozen points with their thinnest triangles, the widest first.
fn wide_quadruples(points: &[Vector2<f64>]) -> Vec<(f64, [usize; 4])> {
    let mut out: Vec<(f64, [usize; 4])> = Vec::new();
    let n = points.len().min(12);
    for a in 0..n {
        for b in a + 1..n {
            for c in b + 1..n {
                for d in c + 1..n {
                    let quad = [a, b, c, d];
                    out.push((thinnest(&quad.map(|i| points[i])), quad));
                }
            }
        }
    }
    out.sort_by(|a, b| b.0.total_cmp(&a.0));
    out
}

/// Smallest triangle of four points: 0 where three are in a line.
fn thinnest(p: &[Vector2<f64>; 4]) -> f64 {
    TRIPLES
        .iter()
        .map(|t| cross(p, *t).abs())
        .fold(f64::INFINITY, f64::min)
}

const TRIPLES: [[usize; 3]; 4] = [[0, 1, 2], [0, 1, 3], [0, 2, 3], [1, 2, 3]];

fn cross(p: &[Vector2<f64>; 4], [a, b, c]: [usize; 3]) -> f64 {
    (p[b] - p[a]).perp(&(p[c] - p[a]))
}

/// Ordered quadruples of patches that may be the base: right colours, and every triangle turned over
/// (the picture's v runs down), as a floor seen from above must be.
fn quads(
    known: &[MarkPrior],
    patches: &[StillMark],
    order: &[usize],
    base: &[usize; 4],
) -> Vec<[usize; 4]> {
    let allowed: Vec<Vec<usize>> = base
        .iter()
        .map(|&mark| {
            order
                .iter()
                .copied()
                .filter(|&i| fits(&known[mark], &patches[i]))
                .collect()
        })
        .collect();
    let floor = base.map(|i| known[i].floor_m);
    let mut out = Vec::new();
    for &a in &allowed[0] {
        for &b in &allowed[1] {
            for &c in &allowed[2] {
                for &d in &allowed[3] {
                    let quad = [a, b, c, d];
                    let distinct = TRIPLES.iter().all(|t| {
                        quad[t[0]] != quad[t[1]]
                            && quad[t[0]] != quad[t[2]]
                            && quad[t[1]] != quad[t[2]]
                    });
                    if !distinct {
                        continue;
                    }
                    let pixels = quad.map(|i| Vector2::new(patches[i].u_px, patches[i].v_px));
                    if TRIPLES
                        .iter()
                        .all(|t| cross(&floor, *t) * cross(&pixels, *t) < 0.0)
                    {
                        out.push(quad);
                    }
                }
            }
        }
    }
    out
}

fn fits(mark: &MarkPrior, patch: &StillMark) -> bool {
    let at = Vector2::new(patch.u_px, patch.v_px);
    mark.colour == patch.colour && mark.pointed_px.is_none_or(|p| (p - at).norm() < POINTED_PX)
}

fn score(
    known: &[MarkPrior],
    patches: &[StillMark],
    order: &[usize],
    map: &Matrix3<f64>,
    course: Option<&Course>,
) -> Scored {
    let extent = extent(patches, order);
    let near = NEAR_PX.max(NEAR_SHARE * extent);
    let mut correspondence: Correspondence = vec![None; known.len()];
    let mut taken = vec![false; patches.len()];
    let mut total = 0.0;
    let mut sizes = Vec::new();
    for (index, mark) in known.iter().enumerate() {
        let Some(expected) = apply(map, mark.floor_m) else {
            continue;
        };
        let candidate = order
            .iter()
            .copied()
            .filter(|&i| !taken[i] && fits(mark, &patches[i]))
            .map(|i| {
                (
                    (Vector2::new(patches[i].u_px, patches[i].v_px) - expected).norm(),
                    i,
                )
            })
            .min_by(|a, b| a.0.total_cmp(&b.0));
        if let Some((off, patch)) = candidate
            && off < near
        {
            taken[patch] = true;
            correspondence[index] = Some(patch);
            total += 1.0 - (off / near).powi(2);
            sizes.push((patches[patch].area_px2 / magnification(map, mark.floor_m)).ln());
        }
    }
    // Marks are cut alike: seen sizes must follow the map's magnification.
    total -= spread(&sizes).min(2.0);
    Scored {
        correspondence,
        fit: total,
        score: total + course.map_or(0.0, |course| course_score(map, course)),
    }
}

fn extent(patches: &[StillMark], order: &[usize]) -> f64 {
    let us = order.iter().map(|&i| patches[i].u_px);
    let vs = order.iter().map(|&i| patches[i].v_px);
    let range = |values: &mut dyn Iterator<Item = f64>| {
        let (mut low, mut high) = (f64::INFINITY, f64::NEG_INFINITY);
        for value in values {
            (low, high) = (low.min(value), high.max(value));
        }
        (high - low).max(0.0)
    };
    range(&mut us.into_iter()).max(range(&mut vs.into_iter()))
}

/// Area of the picture that a small area of the floor takes, px² a square metre.
fn magnification(map: &Matrix3<f64>, at: Vector2<f64>) -> f64 {
    let image = |x, y| apply(map, at + Vector2::new(x, y)).unwrap_or_else(Vector2::zeros);
    let (here, right, up) = (
        image(0.0, 0.0),
        image(super::STEP_M, 0.0),
        image(0.0, super::STEP_M),
    );
    ((right - here).perp(&(up - here)).abs() / (super::STEP_M * super::STEP_M)).max(1e-9)
}

fn spread(values: &[f64]) -> f64 {
    let n = values.len() as f64;
    if values.len() < 2 {
        return 0.0;
    }
    let mean = values.iter().sum::<f64>() / n;
    (values.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / (n - 1.0)).sqrt()
}

/// A right map has the car start near the start and go along the aim line; worth as much as two marks.
fn course_score(map: &Matrix3<f64>, course: &Course) -> f64 {
    let Some(back) = map.try_inverse() else {
        return -2.0;
    };
    let (Some(from), Some(to)) = (apply(&back, course.from_px), apply(&back, course.to_px)) else {
        return -2.0;
    };
    along_course(from, to, course.aim_from_m, course.aim_to_m)
}

/// How well a way on the floor fits the aim line: at most 2, for one that starts at its start and goes
/// along it.
pub(super) fn along_course(
    from: Vector2<f64>,
    to: Vector2<f64>,
    aim_from: Vector2<f64>,
    aim_to: Vector2<f64>,
) -> f64 {
    let went = to - from;
    let along = if went.norm() > 0.05 {
        went.normalize().dot(&(aim_to - aim_from).normalize())
    } else {
        0.0
    };
    2.0 * along - ((from - aim_from).norm() / 0.5).min(2.0)
}

#[cfg(test)]
mod tests;
