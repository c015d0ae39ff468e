//! Which spot of the floor a place in the picture is: so the line to follow can be pointed at.

use super::preview::projection_at;
use crate::pipeline::Outline;
use crate::sheet::RunSheet;
use crate::sheet::kit::FLOOR_MARK_DIAMETER_MM;
use nalgebra::Vector2;
use serde::Serialize;

/// A spot of the floor, in the floor marks' frame.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub(super) struct Spot {
    /// Along x, mm.
    pub x_mm: f64,
    /// Along y, mm.
    pub y_mm: f64,
    /// The floor mark of the sheet that lies there, counted from 0.
    #[serde(skip)]
    pub mark: Option<usize>,
}

/// Nobody's track is longer; what is further away is as good as the horizon, m.
const FARTHEST_M: f64 = 100.0;

/// The spot of the floor at a place of the upright picture, px; a floor mark's own place where one lies there. `None`
/// where the camera's place is not known, or the floor is not seen there.
pub(super) fn spot(
    outline: &Outline,
    sheet: &RunSheet,
    frame: usize,
    place_px: [f64; 2],
) -> Option<Spot> {
    outline.view.lateral.as_ref().ok()?;
    let camera = projection_at(outline, &outline.view, frame)?;
    let floor = camera.at_height(Vector2::from(place_px), 0.0)?;
    let at = Vector2::new(floor.x, floor.y);
    (at.norm() < FARTHEST_M).then(|| on_mark(sheet, at))
}

/// The place itself, to a millimetre, or that of the floor mark under it.
fn on_mark(sheet: &RunSheet, at_m: Vector2<f64>) -> Spot {
    let reach_m = FLOOR_MARK_DIAMETER_MM / 2000.0;
    let marks = sheet.floor_marks.iter().enumerate();
    let apart = marks.map(|(index, mark)| {
        let place_m = Vector2::new(mark.x_m, mark.y_m);
        (index, place_m, (place_m - at_m).norm())
    });
    let under = apart
        .filter(|(_, _, apart_m)| *apart_m < reach_m)
        .min_by(|a, b| a.2.total_cmp(&b.2));
    let place_m = under.map_or(at_m, |(_, place_m, _)| place_m);
    let [x_mm, y_mm] = [place_m.x, place_m.y].map(|m| (1000.0 * m).round());
    Spot {
        x_mm,
        y_mm,
        mark: under.map(|(index, ..)| index),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sheet::kit;

    #[test]
    fn a_spot_on_a_floor_mark_is_the_marks_own_place() {
        let sheet = kit::run_sheet();
        // Mark 2 of the kit lies at 2000, -300; 30 mm beside its middle is still on its disc of 80 mm.
        let on = on_mark(&sheet, Vector2::new(2.03, -0.3));
        assert_eq!((on.x_mm, on.y_mm, on.mark), (2000.0, -300.0, Some(1)));
        let beside = on_mark(&sheet, Vector2::new(2.0504, -0.3));
        assert_eq!(
            (beside.x_mm, beside.y_mm, beside.mark),
            (2050.0, -300.0, None)
        );
    }
}
