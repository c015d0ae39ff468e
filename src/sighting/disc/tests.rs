//! The disc fit alone, on discs that the tests draw by integration or by another crate.

use super::super::drawn::{EVERY_PIXEL, LEFT_420, Patch, Scene};
use super::*;
use crate::clip::{ChromaLayout, QuarterTurn};
use imageproc::drawing::draw_filled_ellipse_mut;
use imageproc::filter::gaussian_blur_f32;
use imageproc::image::{GrayImage, Luma};
use proptest::prelude::*;
use proptest::test_runner::{Config, RngSeed};
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, Normal};
use std::f64::consts::PI;

/// Blue on grey, darker than the floor.
const BLUE: [f64; 3] = [-30.0, 60.0, -24.0];

/// A fit that starts where a mask would put it: a third of a pixel off, and a tenth too large.
fn fitted(picture: &Picture, patch: &Patch) -> Option<DiscFit> {
    let [uu, vv, uv] = ellipse(patch);
    let spread = Matrix2::new(uu, uv, uv, vv) * (1.1 / 4.0);
    let (u, v) = patch.at_px;
    fit_disc(picture, (u + 0.3, v - 0.2), spread)
}

/// Squares and product of the half-axes of a turned ellipse: plane geometry.
fn ellipse(patch: &Patch) -> [f64; 3] {
    let (sin, cos) = patch.angle_rad.sin_cos();
    let (a2, b2) = (patch.axes_px.0.powi(2), patch.axes_px.1.powi(2));
    [
        a2 * cos * cos + b2 * sin * sin,
        a2 * sin * sin + b2 * cos * cos,
        (a2 - b2) * sin * cos,
    ]
}

const TILTED: Patch = Patch {
    at_px: (30.37, 26.81),
    axes_px: (9.0, 5.5),
    angle_rad: 0.6,
    contrast: BLUE,
};

#[test]
fn a_tilted_ellipse_is_measured_in_every_part() {
    let scene = Scene::of(vec![TILTED]);
    let fit = fitted(&scene.drawn(), &TILTED).unwrap();
    assert!((fit.u_px - 30.37).abs() < 0.01, "{fit:?}");
    assert!((fit.v_px - 26.81).abs() < 0.01, "{fit:?}");
    // Distances to the rim are of first order at the ends of an ellipse, and a Gaussian's tails end sooner than the
    // model's.
    assert!((fit.long_px - 9.0).abs() < 0.15, "{fit:?}");
    assert!((fit.short_px - 5.5).abs() < 0.1, "{fit:?}");
    for (found, expected) in fit.outline_px2.iter().zip(ellipse(&TILTED)) {
        assert!((found - expected).abs() < 1.5, "{fit:?}");
    }
    for (plane, contrast) in BLUE.into_iter().enumerate() {
        assert!((fit.contrast[plane] - contrast).abs() < 1.6, "{fit:?}");
        assert!(
            (fit.background[plane] - scene.floor[plane]).abs() < 1.2,
            "{fit:?}"
        );
    }
    // The blur, and the box of the pixel itself: 1/12 px².
    let edge = 0.8_f64.hypot((1.0_f64 / 12.0).sqrt());
    assert!(
        (fit.edge_px - edge).abs() < 0.06,
        "{} for {edge}",
        fit.edge_px
    );
}

#[test]
fn colour_alone_places_a_disc_wherever_its_samples_sit() {
    // As bright as the floor: only the coarse planes show it, and a siting taken wrongly is half a pixel.
    let grey = [0.0, 60.0, -24.0];
    for offset_u_px in [0.0, 0.5] {
        for offset_v_px in [0.0, 0.5] {
            let patch = Patch {
                contrast: grey,
                ..TILTED
            };
            let scene = Scene {
                layout: ChromaLayout {
                    offset_u_px,
                    offset_v_px,
                    ..LEFT_420
                },
                ..Scene::of(vec![patch])
            };
            let fit = fitted(&scene.drawn(), &patch).unwrap();
            let off = (fit.u_px - 30.37).hypot(fit.v_px - 26.81);
            assert!(off < 0.02, "{offset_u_px} {offset_v_px}: off by {off}");
            assert!((fit.edge_px - 0.85).abs() < 0.15, "{}", fit.edge_px);
        }
    }
}

/// Fine pixels to a side of a coarse one.
const TIMES: i32 = 16;

/// imageproc's ellipse at sixteen times the size, blurred by its Gaussian and averaged down: samples 16 apart whose
/// boxes are 16 (luma) or 32 (colour) wide. Size in coarse pixels, centre and half-axes in fine ones.
fn drawn_by_imageproc(
    (width, height): (i32, i32),
    centre: (i32, i32),
    axes: (i32, i32),
) -> Picture {
    let mut drawn = GrayImage::new((width * TIMES) as u32, (height * TIMES) as u32);
    draw_filled_ellipse_mut(&mut drawn, centre, axes.0, axes.1, Luma([250]));
    let soft = gaussian_blur_f32(&drawn, 0.8 * TIMES as f32);
    let mean = |left: i32, top: i32, side: i32| {
        let sum: f64 = (top..top + side)
            .flat_map(|y| (left..left + side).map(move |x| (x, y)))
            .map(|(x, y)| {
                let (x, y) = (
                    x.clamp(0, width * TIMES - 1),
                    y.clamp(0, height * TIMES - 1),
                );
                f64::from(soft.get_pixel(x as u32, y as u32)[0])
            })
            .sum();
        sum / f64::from(side * side) / 250.0
    };
    let luma: Vec<u8> = (0..height)
        .flat_map(|v| (0..width).map(move |u| (u, v)))
        .map(|(u, v)| (120.0 + BLUE[0] * mean(u * TIMES, v * TIMES, TIMES)).round() as u8)
        .collect();
    let chroma = |contrast: f64| -> Vec<u8> {
        (0..height / 2)
            .flat_map(|v| (0..width / 2).map(move |u| (u, v)))
            .map(|(u, v)| {
                // Sited on the even column and between two rows.
                let left = 2 * u * TIMES - TIMES / 2;
                (128.0 + contrast * mean(left, 2 * v * TIMES, 2 * TIMES)).round() as u8
            })
            .collect()
    };
    Picture::from_planes(
        width as u32,
        height as u32,
        luma,
        chroma(BLUE[1]),
        chroma(BLUE[2]),
        LEFT_420,
        super::super::drawn::CODING,
        QuarterTurn::None,
    )
    .unwrap()
}

#[test]
fn an_ellipse_that_another_crate_draws_is_found() {
    let (centre, axes) = ((23 * TIMES + 5, 18 * TIMES + 11), (8 * TIMES, 6 * TIMES));
    let picture = drawn_by_imageproc((48, 40), centre, axes);
    // The middle of a fine pixel, counted from the middle of the first coarse one.
    let place = |fine: i32| (f64::from(fine) + 0.5) / f64::from(TIMES) - 0.5;
    let patch = Patch {
        at_px: (place(centre.0), place(centre.1)),
        // The rim's own fine pixels are filled.
        axes_px: (8.0 + 0.5 / 16.0, 6.0 + 0.5 / 16.0),
        angle_rad: 0.0,
        contrast: BLUE,
    };
    let fit = fitted(&picture, &patch).unwrap();
    assert!((fit.u_px - patch.at_px.0).abs() < 0.01, "{fit:?}");
    assert!((fit.v_px - patch.at_px.1).abs() < 0.01, "{fit:?}");
    assert!((fit.long_px - patch.axes_px.0).abs() < 0.1, "{fit:?}");
    assert!((fit.short_px - patch.axes_px.1).abs() < 0.1, "{fit:?}");
}

/// Cramér-Rao bound of a disc's centre, px²: the rim's slope along u, squared, over the noise. A Gaussian edge of
/// standard deviation e has ∫ slope² = 1 / (2 √π e) across the rim, and ∫ cos² = π R along it (S. M. Kay, Fundamentals
/// of Statistical Signal Processing I, section 3.9, from memory, worked for a disc).
fn bound(radius: f64, blur: f64, planes: &[(f64, f64, f64)]) -> f64 {
    let information = |(contrast, noise, sample): &(f64, f64, f64)| {
        let edge = blur.hypot((sample * sample / 12.0).sqrt());
        (contrast / noise).powi(2) * PI * radius / (2.0 * PI.sqrt() * edge) / (sample * sample)
    };
    1.0 / planes.iter().map(information).sum::<f64>()
}

#[test]
fn the_variance_is_the_cramer_rao_bound() {
    for (radius, contrast) in [
        (6.0, [-20.0, 40.0, -16.0]),
        (8.0, [0.0, 40.0, -16.0]),
        (8.0, [40.0, 8.0, 0.0]),
    ] {
        let patch = Patch::disc(31.4, 27.7, radius, contrast);
        let fit = fitted(&Scene::of(vec![patch]).drawn(), &patch).unwrap();
        // Without noise what is left is taken to be the least that coding leaves, in every plane.
        let planes = [
            (contrast[0], MIN_RESIDUAL, 1.0),
            (contrast[1], MIN_RESIDUAL, 2.0),
            (contrast[2], MIN_RESIDUAL, 2.0),
        ];
        let blur = (fit.edge_px.powi(2) - 1.0 / 12.0).sqrt();
        let expected = bound(radius, blur, &planes);
        for found in [fit.var_u_px2, fit.var_v_px2] {
            let ratio = found / expected;
            assert!((ratio - 1.0).abs() < 0.15, "{radius} {contrast:?}: {ratio}");
        }
    }
}

#[test]
fn errors_are_as_large_as_claimed() {
    let patch = Patch::disc(31.4, 27.7, 7.0, BLUE);
    let scene = Scene::of(vec![patch]);
    let mut random = ChaCha8Rng::seed_from_u64(5);
    let normal = Normal::new(0.0, 4.0).unwrap();
    let planes = [0, 1, 2].map(|plane| scene.plane(plane).1);
    let (mut scaled, mut count) = (0.0, 0.0);
    for _ in 0..80 {
        // The drawing is done once.
        let noisy = planes.clone().map(|samples| -> Vec<u8> {
            let disturbed = samples.iter().map(|code| code + normal.sample(&mut random));
            disturbed.map(|code| code.round() as u8).collect()
        });
        let [y, cb, cr] = noisy;
        let coding = super::super::drawn::CODING;
        let turn = QuarterTurn::None;
        let picture = Picture::from_planes(64, 56, y, cb, cr, LEFT_420, coding, turn).unwrap();
        let fit = fitted(&picture, &patch).unwrap();
        scaled += (fit.u_px - 31.4).powi(2) / fit.var_u_px2;
        scaled += (fit.v_px - 27.7).powi(2) / fit.var_v_px2;
        count += 2.0;
    }
    // A mean of 160 squares of standard normal values scatters by sqrt(2 / 160) = 0.11.
    let mean = scaled / count;
    assert!((mean - 1.0).abs() < 0.35, "{mean}");
}

/// Ellipses anywhere about the middle, with sides of a colour.
fn patches() -> impl Strategy<Value = Patch> {
    let shape = (4.0..8.0, 0.65..1.0, 0.0..PI);
    ((30.0..33.0, 26.0..29.0), shape, 30.0..70.0).prop_map(|(at_px, (long, ratio, turn), cb)| {
        Patch {
            at_px,
            axes_px: (long, long * ratio),
            angle_rad: turn,
            contrast: [-20.0, cb, -0.4 * cb],
        }
    })
}

/// As near as two fits of the same disc on other grids come: the first rounds take every second sample.
fn close(a: f64, b: f64) -> bool {
    (a - b).abs() < 0.005
}

proptest! {
    #![proptest_config(Config {
        cases: 12,
        rng_seed: RngSeed::Fixed(43),
        failure_persistence: None,
        ..Config::default()
    })]

    #[test]
    fn any_ellipse_is_found(patch in patches()) {
        let fit = fitted(&Scene::of(vec![patch]).drawn(), &patch).unwrap();
        let off = (fit.u_px - patch.at_px.0).hypot(fit.v_px - patch.at_px.1);
        prop_assert!(off < 0.03, "off by {off}");
        let area = fit.long_px * fit.short_px / (patch.axes_px.0 * patch.axes_px.1);
        prop_assert!((area - 1.0).abs() < 0.06, "area {area}");
    }

    #[test]
    fn mirrors_and_shifts_of_the_picture_are_those_of_the_fit(patch in patches()) {
        let scene = Scene { layout: EVERY_PIXEL, ..Scene::of(vec![patch]) };
        let picture = |rows: &dyn Fn(usize, usize) -> (usize, usize)| {
            scene.drawn_with(|_, samples| {
                let before = samples.clone();
                for v in 0..56 {
                    for u in 0..64 {
                        let (from_u, from_v) = rows(u, v);
                        samples[64 * v + u] = before[64 * from_v + from_u];
                    }
                }
            })
        };
        let from = |u: f64, v: f64, [uu, vv, uv]: [f64; 3], picture: &Picture| {
            fit_disc(picture, (u, v), Matrix2::new(uu, uv, uv, vv) / 4.0).unwrap()
        };
        let [uu, vv, uv] = ellipse(&patch);
        let (u, v) = patch.at_px;
        let here = from(u, v, [uu, vv, uv], &picture(&|u, v| (u, v)));
        let left = from(63.0 - u, v, [uu, vv, -uv], &picture(&|u, v| (63 - u, v)));
        prop_assert!(close(left.u_px, 63.0 - here.u_px) && close(left.v_px, here.v_px));
        prop_assert!((left.outline_px2[2] + here.outline_px2[2]).abs() < 0.1);
        prop_assert!((left.outline_px2[0] - here.outline_px2[0]).abs() < 0.1);
        let below = from(u, 55.0 - v, [uu, vv, -uv], &picture(&|u, v| (u, 55 - v)));
        prop_assert!(close(below.u_px, here.u_px) && close(below.v_px, 55.0 - here.v_px));
        let moved = from(u + 3.0, v - 2.0, [uu, vv, uv], &picture(&|u, v| ((u + 61) % 64, (v + 2) % 56)));
        prop_assert!(close(moved.u_px, here.u_px + 3.0) && close(moved.v_px, here.v_px - 2.0));
        prop_assert!(close(moved.edge_px, here.edge_px));
        for (a, b) in [(&left, &here), (&below, &here), (&moved, &here)] {
            prop_assert!((a.var_u_px2 / b.var_u_px2 - 1.0).abs() < 0.12);
            prop_assert!((a.var_v_px2 / b.var_v_px2 - 1.0).abs() < 0.12);
        }
    }
}

#[test]
fn what_is_no_disc_of_a_colour_is_none() {
    let pale = Patch {
        contrast: [40.0, 2.0, 1.0],
        ..TILTED
    };
    assert!(fitted(&Scene::of(vec![pale]).drawn(), &pale).is_none());
    let nothing = Scene::of(Vec::new()).drawn();
    assert!(fitted(&nothing, &TILTED).is_none());
    let cut = Patch::disc(4.0, 20.0, 8.0, BLUE);
    assert!(fitted(&Scene::of(vec![cut]).drawn(), &cut).is_none());
}
