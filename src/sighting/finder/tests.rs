//! The finder alone: discs of known places among others, how it counts and orders them, another crate's connected
//! components, and what turns, mirrors and clocks do.

use super::super::components::{Run, connected};
use super::super::drawn::{CODING, EVERY_PIXEL, Patch, Scene};
use super::*;
use image::{GrayImage, Luma};
use imageproc::region_labelling::{Connectivity, connected_components};
use proptest::collection::vec;
use proptest::prelude::*;
use proptest::test_runner::{Config, RngSeed};
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, Normal};
use std::collections::BTreeMap;
use std::f64::consts::PI;

/// A paint of that name, at this share of its chroma, over a grey floor of code 120.
fn paint(colour: Colour, share: f64) -> [f64; 3] {
    let [_, cb, cr] = CODING.ycbcr(colour.typical_rgb());
    [-10.0, share * (cb - 128.0), share * (cr - 128.0)]
}

fn frame(index: u32, picture: Picture) -> Frame {
    Frame {
        index,
        pts_ticks: i64::from(index),
        time_s: f64::from(index) / 30.0,
        picture,
    }
}

fn wanted(colour: Colour, fit_every: u32) -> Wanted {
    Wanted { colour, fit_every }
}

fn observed(colours: &[Colour], picture: Picture) -> FrameSightings {
    let wanted = colours.iter().map(|colour| wanted(*colour, 1)).collect();
    Finder::new(wanted).find(&frame(0, picture))
}

fn both() -> Scene {
    let mut scene = Scene::of(vec![
        Patch::disc(24.3, 20.6, 6.0, paint(Colour::Blue, 0.5)),
        Patch::disc(63.7, 44.2, 8.0, paint(Colour::Blue, 0.8)),
        Patch {
            axes_px: (9.0, 5.0),
            angle_rad: 0.5,
            ..Patch::disc(66.2, 17.4, 0.0, paint(Colour::Red, 0.6))
        },
    ]);
    // Marks cover little of a picture.
    scene.size = (128, 96);
    scene
}

#[test]
fn every_disc_is_listed_once_under_its_colour_the_strongest_first() {
    let seen = observed(&[Colour::Blue, Colour::Red], both().drawn());
    let [blue, red] = &seen.blobs[..] else {
        panic!("{seen:?}");
    };
    assert_eq!((blue.len(), red.len()), (2, 1), "{seen:?}");
    for (blob, at, radius, share) in [
        (&blue[0], (63.7, 44.2), 8.0, 0.8),
        (&blue[1], (24.3, 20.6), 6.0, 0.5),
    ] {
        assert!(blob.fitted && !blob.at_border);
        assert!(
            (blob.u_px - at.0).hypot(blob.v_px - at.1) < 0.03,
            "{blob:?}"
        );
        assert!(
            (blob.area_px2 / (PI * radius * radius) - 1.0).abs() < 0.06,
            "{blob:?}"
        );
        assert!(blob.elongation < 1.03, "{blob:?}");
        let [_, cb, cr] = paint(Colour::Blue, share);
        assert!(
            (blob.contrast / cb.hypot(cr) - 1.0).abs() < 0.05,
            "{blob:?}"
        );
        // The first row's middle is half a row down.
        assert!(
            (blob.row_frac - (at.1 + 0.5) / 96.0).abs() < 1e-3,
            "{blob:?}"
        );
        let [uu, vv, uv] = blob.outline_px2;
        assert!((uu / (radius * radius) - 1.0).abs() < 0.08 && (vv / uu - 1.0).abs() < 0.05);
        assert!(uv.abs() < 0.05 * uu, "{blob:?}");
    }
    let (u, v) = (red[0].u_px, red[0].v_px);
    assert!((u - 66.2).hypot(v - 17.4) < 0.03, "{red:?}");
    assert!((red[0].elongation - 9.0 / 5.0).abs() < 0.1, "{red:?}");
    // (81 - 25) sin cos 0.5: down to the right.
    assert!((red[0].outline_px2[2] - 23.56).abs() < 3.0, "{red:?}");
}

#[test]
fn the_order_of_the_colours_is_that_of_the_lists_alone() {
    let one = observed(&[Colour::Blue, Colour::Red], both().drawn());
    let other = observed(&[Colour::Red, Colour::Green, Colour::Blue], both().drawn());
    assert_eq!(one.blobs[0], other.blobs[2]);
    assert_eq!(one.blobs[1], other.blobs[0]);
    assert!(other.blobs[1].is_empty());
}

/// The scene's picture with its samples taken from other places, and the turn that puts it right again.
fn stored(scene: &Scene, turn: QuarterTurn) -> Picture {
    let (width, height) = (scene.size.0 as usize, scene.size.1 as usize);
    let mut random = ChaCha8Rng::seed_from_u64(6);
    let normal = Normal::new(0.0, 2.5).unwrap();
    // Noise of colour, without which the variances of all discs are alike: those of coding.
    let planes = [0, 1, 2].map(|plane| {
        let mut samples = scene.plane(plane).1;
        for code in samples.iter_mut().filter(|_| plane > 0) {
            *code += normal.sample(&mut random);
        }
        samples
    });
    let sideways = matches!(turn, QuarterTurn::Clockwise90 | QuarterTurn::Clockwise270);
    let (stored_width, stored_height) = if sideways {
        (height, width)
    } else {
        (width, height)
    };
    let upright_of = |u: usize, v: usize| match turn {
        QuarterTurn::None => (u, v),
        QuarterTurn::Half => (width - 1 - u, height - 1 - v),
        // A quarter turn clockwise takes the stored bottom left to the upright top left.
        QuarterTurn::Clockwise90 => (stored_height - 1 - v, u),
        QuarterTurn::Clockwise270 => (v, stored_width - 1 - u),
    };
    let [y, cb, cr] = planes.map(|samples| {
        let places = (0..stored_height).flat_map(|v| (0..stored_width).map(move |u| (u, v)));
        let codes = places.map(|(u, v)| {
            let (u, v) = upright_of(u, v);
            samples[v * width + u].round() as u8
        });
        codes.collect::<Vec<u8>>()
    });
    let size = (stored_width as u32, stored_height as u32);
    Picture::from_planes(size.0, size.1, y, cb, cr, scene.layout, CODING, turn).unwrap()
}

#[test]
fn a_picture_stored_on_its_side_gives_the_same_upright_blobs() {
    let mut scene = Scene {
        layout: EVERY_PIXEL,
        ..both()
    };
    scene.patches[2].axes_px = (10.0, 4.0);
    scene.patches[2].angle_rad = 0.3;
    let colours = [Colour::Blue, Colour::Red];
    let upright = observed(&colours, stored(&scene, QuarterTurn::None));
    for turn in [
        QuarterTurn::Clockwise90,
        QuarterTurn::Half,
        QuarterTurn::Clockwise270,
    ] {
        let turned = observed(&colours, stored(&scene, turn));
        for (here, there) in upright.blobs.iter().zip(&turned.blobs) {
            assert_eq!(here.len(), there.len(), "{turn:?}");
            for (a, b) in here.iter().zip(there) {
                let same = |a: f64, b: f64, within: f64| {
                    assert!((a - b).abs() < within, "{turn:?}: {a} and {b}");
                };
                same(a.u_px, b.u_px, 0.01);
                same(a.v_px, b.v_px, 0.01);
                same(a.var_u_px2 / b.var_u_px2, 1.0, 0.03);
                same(a.var_v_px2 / b.var_v_px2, 1.0, 0.03);
                for part in 0..3 {
                    same(a.outline_px2[part], b.outline_px2[part], 0.3);
                }
            }
        }
    }
    // A disc that is wider than high is placed better in height: otherwise the test above says nothing.
    let red = &upright.blobs[1][0];
    assert!(red.var_v_px2 < 0.88 * red.var_u_px2, "{red:?}");
}

#[test]
fn a_disc_cut_by_the_border_gets_the_place_and_doubt_of_its_visible_part() {
    // Half a disc: its centroid is 4 r / 3 pi from its straight side (handbook geometry), its area half a disc's.
    let radius = 10.0;
    let patch = Patch::disc(-0.5, 32.0, radius, paint(Colour::Blue, 0.8));
    let mut scene = Scene::of(vec![patch]);
    scene.size = (128, 96);
    scene.layout = EVERY_PIXEL;
    let seen = observed(&[Colour::Blue], scene.drawn());
    assert_eq!(seen.blobs[0].len(), 1);
    let blob = &seen.blobs[0][0];
    assert!(blob.at_border && !blob.fitted);
    let off = blob.u_px - (-0.5 + 4.0 * radius / (3.0 * PI));
    assert!(off.abs() < 0.4, "{blob:?}");
    assert!((blob.v_px - 32.0).abs() < 0.1, "{blob:?}");
    assert!(
        (blob.area_px2 / (PI * radius * radius / 2.0) - 1.0).abs() < 0.15,
        "{blob:?}"
    );
    let variance = ROUGH_SD_PX.powi(2) + ROUGH_SHARE.powi(2) * blob.area_px2;
    assert!((blob.var_u_px2 - variance).abs() < 1e-12);
    assert!((blob.var_v_px2 - variance).abs() < 1e-12);
    // Second moments of half a disc: r² / 4 along the side, r² (1 / 4 - 16 / 9 pi²) across, of which the half-axes of
    // an ellipse are twice the roots.
    let [uu, vv, _] = blob.outline_px2;
    let across = 4.0 * radius * radius * (0.25 - 16.0 / (9.0 * PI * PI));
    assert!((uu / across - 1.0).abs() < 0.25, "{uu} for {across}");
    assert!((vv / (radius * radius) - 1.0).abs() < 0.15, "{vv}");
}

#[test]
fn what_lies_still_is_fitted_on_its_turn_and_kept_until_the_picture_moves() {
    let picture = |shift: f64| {
        let mut scene = both();
        for patch in &mut scene.patches {
            patch.at_px.0 += shift;
        }
        scene.drawn()
    };
    let mut finder = Finder::new(vec![wanted(Colour::Blue, 4)]);
    let mut fitted = |index: u32, shift: f64| {
        let seen = finder.find(&frame(index, picture(shift)));
        assert_eq!(seen.blobs[0].len(), 2, "{seen:?}");
        assert_eq!((seen.frame, seen.time_s), (index, f64::from(index) / 30.0));
        seen.blobs[0].iter().all(|blob| blob.fitted)
    };
    // Not its turn; then its turn; then nothing has moved and the fit is kept.
    assert!(!fitted(3, 0.0));
    assert!(fitted(4, 0.0));
    assert!(fitted(5, 0.0));
    // A camera that moves brings a fit in every frame.
    assert!(fitted(6, 1.0));
    assert!(fitted(7, 2.0));
}

/// Runs of a mask, row by row.
fn runs_of(mask: &[bool], width: usize) -> Vec<Run> {
    let mut runs = Vec::new();
    for (row, cells) in mask.chunks(width).enumerate() {
        let mut column = 0;
        while column < width {
            let length = cells[column..].iter().take_while(|cell| **cell).count();
            if length > 0 {
                runs.push(Run {
                    row: row as u32,
                    start: column as u32,
                    end: (column + length) as u32,
                });
            }
            column += length.max(1);
        }
    }
    runs
}

proptest! {
    #![proptest_config(Config {
        cases: 200,
        rng_seed: RngSeed::Fixed(44),
        failure_persistence: None,
        ..Config::default()
    })]

    #[test]
    fn patches_are_the_components_that_another_crate_labels(
        width in 1_usize..24,
        density in 0.2..0.7_f64,
        cells in vec(0.0..1.0_f64, 24 * 16),
    ) {
        let height = cells.len() / width / 2;
        let mask: Vec<bool> = cells[..width * height].iter().map(|c| *c < density).collect();
        let mut image = GrayImage::new(width as u32, height as u32);
        for (index, pixel) in image.pixels_mut().enumerate() {
            *pixel = Luma([u8::from(mask[index])]);
        }
        // imageproc's own union-find, over pixels.
        let labels = connected_components(&image, Connectivity::Eight, Luma([0]));
        let mut theirs: BTreeMap<u32, Vec<(f64, f64)>> = BTreeMap::new();
        for (u, v, label) in labels.enumerate_pixels() {
            if label[0] > 0 {
                theirs.entry(label[0]).or_default().push((f64::from(u), f64::from(v)));
            }
        }
        let ours = connected(&runs_of(&mask, width), 1);
        // Specks of fewer than four cells are left out at this level.
        theirs.retain(|_, places| places.len() >= 4);
        prop_assert_eq!(ours.len(), theirs.len());
        for patch in ours {
            let run = patch.runs[0];
            let label = labels.get_pixel(run.start, run.row)[0];
            let places = &theirs[&label];
            let n = places.len() as f64;
            prop_assert_eq!(patch.cells as usize, places.len());
            let mean = |of: &dyn Fn(&(f64, f64)) -> f64| places.iter().map(of).sum::<f64>() / n;
            let (u, v) = (mean(&|p| p.0), mean(&|p| p.1));
            let centre = patch.centre();
            prop_assert!((centre.0 - u).abs() < 1e-9 && (centre.1 - v).abs() < 1e-9);
            // A cell is a square: its own second moment is 1/12.
            let moments = [
                mean(&|p| (p.0 - u).powi(2)) + 1.0 / 12.0,
                mean(&|p| (p.0 - u) * (p.1 - v)),
                mean(&|p| (p.1 - v).powi(2)) + 1.0 / 12.0,
            ];
            for (found, expected) in patch.second_moments().iter().zip(moments) {
                prop_assert!((found - expected).abs() < 1e-9);
            }
            let most = |of: &dyn Fn(&(f64, f64)) -> f64| places.iter().map(of).fold(0.0, f64::max);
            prop_assert_eq!(f64::from(patch.columns.1), most(&|p| p.0));
            prop_assert_eq!(f64::from(patch.rows.1), most(&|p| p.1));
        }
    }
}

proptest! {
    #![proptest_config(Config {
        cases: 10,
        rng_seed: RngSeed::Fixed(45),
        failure_persistence: None,
        ..Config::default()
    })]

    #[test]
    fn a_mirrored_picture_gives_mirrored_blobs(u in 20.0..40.0_f64, v in 20.0..40.0_f64, turn in 0.2..1.3_f64) {
        let mut scene = both();
        scene.layout = EVERY_PIXEL;
        scene.patches.truncate(1);
        scene.patches[0] = Patch {
            at_px: (u, v),
            axes_px: (9.0, 6.0),
            angle_rad: turn,
            ..scene.patches[0]
        };
        let here = observed(&[Colour::Blue], scene.drawn());
        scene.patches[0].at_px.0 = 127.0 - u;
        scene.patches[0].angle_rad = PI - turn;
        let there = observed(&[Colour::Blue], scene.drawn());
        prop_assert_eq!((here.blobs[0].len(), there.blobs[0].len()), (1, 1));
        let (a, b) = (&here.blobs[0][0], &there.blobs[0][0]);
        prop_assert!((a.u_px + b.u_px - 127.0).abs() < 0.01 && (a.v_px - b.v_px).abs() < 0.01);
        prop_assert!((a.outline_px2[2] + b.outline_px2[2]).abs() < 0.3);
        prop_assert!(a.outline_px2[2] > 3.0, "{a:?}");
        prop_assert!((a.area_px2 / b.area_px2 - 1.0).abs() < 0.01);
    }
}
