//! Floor marks matched alone: maps known in closed form, every order of the patches, mirrors, strays and courses.

use super::*;
use crate::colour::Colour;
use proptest::prelude::*;
use proptest::test_runner::{Config, RngSeed};

/// A floor seen from above its right side: u to the right along x, v down towards the camera (towards -y), with
/// perspective: what is farther to the left (larger y) is smaller.
fn seen_from_above() -> Matrix3<f64> {
    Matrix3::new(300.0, 60.0, 80.0, 10.0, -130.0, 260.0, 0.01, 0.22, 1.0)
}

/// Unequal sides and a mark off the rows: only one correspondence fits.
const PLACES: [[f64; 2]; 6] = [
    [0.0, -0.3],
    [0.9, -0.3],
    [1.8, -0.25],
    [0.1, 0.4],
    [1.1, 0.5],
    [1.7, 0.35],
];

fn marks(places: &[[f64; 2]]) -> Vec<MarkPrior> {
    places
        .iter()
        .map(|[x, y]| MarkPrior {
            floor_m: Vector2::new(*x, *y),
            colour: Colour::Blue,
            pointed_px: None,
        })
        .collect()
}

/// Discs of 3 cm seen through a map, whose area on the picture is that of the map's own determinant: for
/// (u, v) = H (x, y, 1) with third part w, the Jacobian is det H / w³ (projective geometry, worked by hand).
fn patch(map: &Matrix3<f64>, at: Vector2<f64>) -> StillMark {
    let seen = map * nalgebra::Vector3::new(at.x, at.y, 1.0);
    StillMark {
        colour: Colour::Blue,
        u_px: seen.x / seen.z,
        v_px: seen.y / seen.z,
        sd_px: 0.1,
        area_px2: std::f64::consts::PI * 0.015 * 0.015 * jacobian(map, at),
        frames: 100,
    }
}

fn jacobian(map: &Matrix3<f64>, at: Vector2<f64>) -> f64 {
    let w = (map * nalgebra::Vector3::new(at.x, at.y, 1.0)).z;
    (map.determinant() / w.powi(3)).abs()
}

fn patches(map: &Matrix3<f64>, known: &[MarkPrior]) -> Vec<StillMark> {
    known.iter().map(|mark| patch(map, mark.floor_m)).collect()
}

#[test]
fn magnification_is_the_determinant_of_the_map() {
    let map = seen_from_above();
    for [x, y] in PLACES {
        let at = Vector2::new(x, y);
        let ratio = magnification(&map, at) / jacobian(&map, at);
        // Steps of a millimetre.
        assert!((ratio - 1.0).abs() < 2e-3, "{ratio}");
    }
    // 200 px a metre along and 150 across.
    let plain = Matrix3::new(200.0, 0.0, 5.0, 0.0, -150.0, 300.0, 0.0, 0.0, 1.0);
    assert!((magnification(&plain, Vector2::zeros()) / 30_000.0 - 1.0).abs() < 1e-6);
}

#[test]
fn a_score_counts_marks_less_what_they_are_off() {
    let (map, known) = (seen_from_above(), marks(&PLACES));
    let mut seen = patches(&map, &known);
    let order: Vec<usize> = (0..seen.len()).collect();
    let exact = score(&known, &seen, &order, &map, None);
    assert!(
        (exact.fit - 6.0).abs() < 1e-2 && exact.score == exact.fit,
        "{}",
        exact.fit
    );
    let (us, vs): (Vec<f64>, Vec<f64>) = seen.iter().map(|p| (p.u_px, p.v_px)).unzip();
    let range = |values: &[f64]| {
        values.iter().copied().fold(f64::MIN, f64::max)
            - values.iter().copied().fold(f64::MAX, f64::min)
    };
    let near = NEAR_PX.max(NEAR_SHARE * range(&us).max(range(&vs)));
    // Half as far as is still near: three quarters of a mark; farther than that: none.
    seen[2].v_px += near / 2.0;
    let off = score(&known, &seen, &order, &map, None);
    assert!((off.fit - 5.75).abs() < 1e-2, "{}", off.fit);
    assert_eq!(
        off.correspondence,
        (0..6).map(Some).collect::<Correspondence>()
    );
    seen[2].v_px += near * 0.51;
    let away = score(&known, &seen, &order, &map, None);
    assert!((away.fit - 5.0).abs() < 1e-2, "{}", away.fit);
    assert_eq!(away.correspondence[2], None);
    // One of six e times as large: logarithms 1 and five times 0 have a standard deviation of sqrt(1 / 6).
    seen[2].v_px -= near * 1.01;
    seen[4].area_px2 *= std::f64::consts::E;
    let unlike = score(&known, &seen, &order, &map, None);
    assert!(
        (unlike.fit - (6.0 - (1.0_f64 / 6.0).sqrt())).abs() < 1e-2,
        "{}",
        unlike.fit
    );
}

#[test]
fn spread_is_the_samples_standard_deviation() {
    // 2, 4, 4, 4, 5, 5, 7, 9: squares about the mean of 5 sum to 32.
    let values = [2.0, 4.0, 4.0, 4.0, 5.0, 5.0, 7.0, 9.0];
    assert!((spread(&values) - (32.0_f64 / 7.0).sqrt()).abs() < 1e-12);
    assert_eq!(spread(&[3.0]), 0.0);
}

#[test]
fn a_way_along_the_aim_line_from_its_start_scores_two() {
    let v = Vector2::new;
    let aim = (v(1.0, 1.0), v(1.0, 3.0));
    let of = |from, to| along_course(from, to, aim.0, aim.1);
    assert!((of(v(1.0, 1.0), v(1.0, 1.7)) - 2.0).abs() < 1e-12);
    assert!((of(v(1.0, 1.0), v(1.0, 0.2)) + 2.0).abs() < 1e-12);
    // 60 degrees off: a half; and 0.3 m from the start: 0.6 less.
    let slant = v(0.75_f64.sqrt(), 0.5);
    assert!((of(v(1.3, 1.0), v(1.3, 1.0) + slant) - (1.0 - 0.6)).abs() < 1e-12);
    // Never less than two for the start, nothing for a way of 4 cm.
    assert!((of(v(9.0, 1.0), v(9.0, 2.0)) - 0.0).abs() < 1e-12);
    assert!((of(v(1.0, 1.0), v(1.0, 1.04)) - 0.0).abs() < 1e-12);
    // The same through a map.
    let map = seen_from_above();
    let course = Course {
        from_px: apply(&map, v(1.3, 1.0)).unwrap(),
        to_px: apply(&map, v(1.3, 1.0) + slant).unwrap(),
        aim_from_m: aim.0,
        aim_to_m: aim.1,
    };
    assert!((course_score(&map, &course) - 0.4).abs() < 1e-9);
}

#[test]
fn a_layout_that_looks_the_same_from_two_sides_is_settled_by_the_course() {
    // A rectangle with its middles is itself turned by half a turn.
    let known = marks(&[
        [0.0, -0.3],
        [0.9, -0.3],
        [1.8, -0.3],
        [0.0, 0.3],
        [0.9, 0.3],
        [1.8, 0.3],
    ]);
    let map = seen_from_above();
    let seen = patches(&map, &known);
    let same: Correspondence = (0..6).map(Some).collect();
    let turned: Correspondence = (0..6).rev().map(Some).collect();
    let pixel = |x, y| apply(&map, Vector2::new(x, y)).unwrap();
    for (from, to, right) in [
        ((0.1, 0.0), (1.7, 0.05), &same),
        ((1.7, 0.0), (0.1, -0.05), &turned),
    ] {
        let course = Course {
            from_px: pixel(from.0, from.1),
            to_px: pixel(to.0, to.1),
            aim_from_m: Vector2::new(0.0, 0.0),
            aim_to_m: Vector2::new(1.8, 0.0),
        };
        let found = name_marks(&known, &seen, Some(&course));
        assert!(found.contains(&same) && found.contains(&turned));
        assert_eq!(&found[0], right);
    }
}

#[test]
fn a_floor_is_never_seen_from_below() {
    let known = marks(&PLACES);
    let map = seen_from_above();
    let mut seen = patches(&map, &known);
    for patch in &mut seen {
        patch.u_px = 640.0 - patch.u_px;
    }
    let all = |found: Vec<Correspondence>| found.into_iter().filter(|n| named(n) == 6).count();
    assert_eq!(all(name_marks(&known, &seen, None)), 0);
    assert_eq!(all(name_part(&known, &seen)), 0);
    // A layout that is mirrored itself is seen so from above.
    let mirrored = marks(&PLACES.map(|[x, y]| [-x, y]));
    assert_eq!(all(name_marks(&mirrored, &seen, None)), 1);
}

#[test]
fn a_pointed_place_and_a_colour_bind_a_mark() {
    let map = seen_from_above();
    let mut known = marks(&PLACES);
    let mut seen = patches(&map, &known);
    known[3].colour = Colour::Red;
    seen[3].colour = Colour::Red;
    let same: Correspondence = (0..6).map(Some).collect();
    assert_eq!(name_marks(&known, &seen, None)[0], same);
    known[0].pointed_px = Some(Vector2::new(seen[0].u_px + 20.0, seen[0].v_px - 20.0));
    assert_eq!(name_marks(&known, &seen, None)[0], same);
    // Pointed 30 px away it is another patch, or none.
    known[0].pointed_px = Some(Vector2::new(seen[0].u_px + 25.0, seen[0].v_px - 25.0));
    let elsewhere = name_marks(&known, &seen, None);
    assert!(
        elsewhere
            .iter()
            .all(|correspondence| correspondence[0] != Some(0))
    );
    assert!(
        elsewhere
            .iter()
            .any(|correspondence| named(correspondence) == 5)
    );
    assert!(in_line(&marks(&[
        [0.0, 0.0],
        [1.0, 0.0],
        [2.0, 0.0],
        [0.5, 1.0]
    ])));
    assert!(!in_line(&marks(&[
        [0.0, 0.0],
        [1.0, 0.0],
        [2.0, 0.1],
        [0.5, 1.0]
    ])));
}

proptest! {
    #![proptest_config(Config {
        cases: 12,
        rng_seed: RngSeed::Fixed(50),
        failure_persistence: None,
        ..Config::default()
    })]

    #[test]
    fn every_order_scale_and_stray_gives_the_same_names(
        order in Just((0..9_usize).collect::<Vec<_>>()).prop_shuffle(),
        strays in proptest::collection::vec((20.0..620.0_f64, 100.0..350.0_f64), 3),
        errors in proptest::collection::vec(-0.4..0.4_f64, 12),
        scale in 0.5..2.0_f64,
    ) {
        let map = Matrix3::from_diagonal(&nalgebra::Vector3::new(scale, scale, 1.0)) * seen_from_above();
        let known = marks(&PLACES);
        let mut all = patches(&map, &known);
        for (patch, error) in all.iter_mut().zip(errors.chunks(2)) {
            patch.u_px += scale * error[0];
            patch.v_px += scale * error[1];
        }
        // Strays lie anywhere else.
        for (u, v) in strays {
            let (u, v) = (scale * u, scale * v);
            let clear = all.iter().all(|p| (p.u_px - u).hypot(p.v_px - v) > 40.0 * scale);
            prop_assume!(clear);
            all.push(StillMark { u_px: u, v_px: v, frames: 150, ..all[0].clone() });
        }
        let seen: Vec<StillMark> = order.iter().map(|index| all[*index].clone()).collect();
        let right: Correspondence = (0..6).map(|mark| order.iter().position(|index| *index == mark)).collect();
        let found = name_marks(&known, &seen, None);
        prop_assert_eq!(found.first(), Some(&right));
        // Marks of the sheet in another order.
        let turned: Vec<MarkPrior> = known.iter().rev().cloned().collect();
        let names: Correspondence = right.into_iter().rev().collect();
        let found = name_marks(&turned, &seen, None);
        prop_assert_eq!(found.first(), Some(&names));
    }

    #[test]
    fn five_of_six_marks_are_named_whichever_is_hidden(hidden in 0..6_usize) {
        let known = marks(&PLACES);
        let mut seen = patches(&seen_from_above(), &known);
        seen.remove(hidden);
        let right: Correspondence = (0..6)
            .map(|mark: usize| (mark != hidden).then(|| mark - usize::from(mark > hidden)))
            .collect();
        let part = name_part(&known, &seen);
        prop_assert_eq!(part.first(), Some(&right));
        let found = name_marks(&known, &seen, None);
        prop_assert_eq!(found.first(), Some(&right));
    }
}

/// Still patches of a clip drawn by `scripts/draw_run`: five of six floor marks (the sixth is cut by the
/// picture's edge), then what else lay still in their colour. Columns: u, v, area, frames.
const SEEN: [[f64; 4]; 14] = [
    [21.0, 230.1, 124.0, 204.0],
    [333.2, 226.3, 121.0, 204.0],
    [323.2, 168.0, 36.0, 202.0],
    [533.2, 166.3, 35.0, 204.0],
    [107.9, 169.8, 39.0, 199.0],
    [199.0, 114.0, 12.0, 120.0],
    [551.0, 114.0, 12.0, 120.0],
    [551.0, 122.0, 12.0, 120.0],
    [75.0, 189.0, 12.0, 120.0],
    [592.0, 115.0, 12.0, 112.0],
    [367.0, 114.0, 12.0, 107.0],
    [583.0, 122.0, 12.0, 93.0],
    [391.0, 117.0, 12.0, 84.0],
    [17.0, 115.0, 12.0, 84.0],
];

#[test]
fn a_chance_naming_of_all_marks_does_not_hide_the_right_one_of_some() {
    let known: Vec<MarkPrior> = [-0.3, 0.4]
        .iter()
        .flat_map(|y| [0.0, 0.9, 1.8].map(|x| Vector2::new(x, *y)))
        .map(|floor_m| MarkPrior {
            floor_m,
            colour: Colour::Blue,
            pointed_px: None,
        })
        .collect();
    let patches: Vec<StillMark> = SEEN
        .iter()
        .map(|[u_px, v_px, area_px2, frames]| StillMark {
            colour: Colour::Blue,
            u_px: *u_px,
            v_px: *v_px,
            sd_px: 0.1,
            area_px2: *area_px2,
            frames: *frames as usize,
        })
        .collect();
    let right = vec![Some(0), Some(1), None, Some(4), Some(2), Some(3)];
    let course = Course {
        from_px: Vector2::new(70.0, 195.0),
        to_px: Vector2::new(560.0, 190.0),
        aim_from_m: Vector2::new(0.0, 0.0),
        aim_to_m: Vector2::new(2.4, 0.0),
    };
    let found = name_marks(&known, &patches, Some(&course));
    assert!(found.contains(&right), "{:?}", found.first());
}
