//! Where the panel of numbers goes: once a clip, to a place where it covers no mark.

/// Something that should stay in sight, on the sheet.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Spot {
    /// Centre, px of the sheet.
    pub u_px: f64,
    /// Centre, px of the sheet.
    pub v_px: f64,
    /// How far it reaches, px.
    pub radius_px: f64,
    /// In how many frames it is there.
    pub frames: usize,
}

/// Where the panel lies.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Site {
    /// Left edge, px of the sheet.
    pub left: f64,
    /// Top edge, px of the sheet.
    pub top: f64,
    /// Size of its letters, px.
    pub letter: f64,
}

/// Size of the panel's letters as a share of the picture's shorter side: read from a metre away on a
/// projector two metres wide.
const LETTER_SHARE: f64 = 0.043;
/// ... and never smaller than this, px.
const LEAST_LETTER_PX: f64 = 11.0;
/// Where the panel would cover a mark everywhere it is tried smaller, down to this share.
const SIZES: [f64; 4] = [1.0, 0.85, 0.7, 0.6];
/// Width and height of the panel in letters.
pub(super) const WIDTH_LETTERS: f64 = 17.0;
pub(super) const HEIGHT_LETTERS: f64 = 8.5;
/// Distance from the picture's edge in letters.
const MARGIN_LETTERS: f64 = 0.6;

/// Corners first, as shares of the free room across and down; then the middles of the edges.
const PLACES: [(f64, f64); 8] = [
    (0.0, 0.0),
    (1.0, 0.0),
    (0.0, 1.0),
    (1.0, 1.0),
    (0.5, 0.0),
    (0.5, 1.0),
    (0.0, 0.5),
    (1.0, 0.5),
];

/// Size of words on a picture, px.
pub(in crate::outputs) fn letter_px(width: f64, height: f64) -> f64 {
    (LETTER_SHARE * width.min(height)).max(LEAST_LETTER_PX)
}

impl Site {
    fn at(place: (f64, f64), size: f64, width: f64, height: f64) -> Self {
        // A very small picture must still hold the panel.
        let most = width / (WIDTH_LETTERS + 2.0 * MARGIN_LETTERS);
        let letter = size * letter_px(width, height).min(most);
        let margin = MARGIN_LETTERS * letter;
        let across = width - WIDTH_LETTERS * letter - 2.0 * margin;
        let down = (height - HEIGHT_LETTERS * letter - 2.0 * margin).max(0.0);
        Self {
            left: margin + place.0 * across,
            top: margin + place.1 * down,
            letter,
        }
    }

    /// Whether the panel touches a spot.
    pub fn covers(&self, spot: &Spot) -> bool {
        let off = |at: f64, from: f64, size: f64| (from - at).max(at - from - size).max(0.0);
        let across = off(spot.u_px, self.left, WIDTH_LETTERS * self.letter);
        let down = off(spot.v_px, self.top, HEIGHT_LETTERS * self.letter);
        across.hypot(down) < spot.radius_px
    }
}

/// The first place in which the panel covers no spot, large before small; where there is none, the one in which it
/// covers the fewest for the fewest frames.
pub fn site(width: f64, height: f64, spots: &[Spot]) -> Site {
    let mut best = (usize::MAX, Site::at(PLACES[0], SIZES[0], width, height));
    for size in SIZES {
        for place in PLACES {
            let site = Site::at(place, size, width, height);
            let covered = spots.iter().filter(|spot| site.covers(spot));
            let covered = covered.map(|spot| spot.frames).sum();
            if covered < best.0 {
                best = (covered, site);
            }
            if covered == 0 {
                return site;
            }
        }
    }
    best.1
}

#[cfg(test)]
mod tests {
    use super::*;

    const WIDTH: f64 = 640.0;
    const HEIGHT: f64 = 360.0;

    fn spot(u_px: f64, v_px: f64) -> Spot {
        Spot {
            u_px,
            v_px,
            radius_px: 8.0,
            frames: 10,
        }
    }

    fn corners() -> [Spot; 4] {
        [(40.0, 40.0), (600.0, 40.0), (40.0, 320.0), (600.0, 320.0)].map(|(u, v)| spot(u, v))
    }

    fn middle(site: &Site) -> (f64, f64) {
        (
            site.left + WIDTH_LETTERS * site.letter / 2.0,
            site.top + HEIGHT_LETTERS * site.letter / 2.0,
        )
    }

    #[test]
    fn a_free_picture_has_its_panel_at_the_top_left() {
        let (u, v) = middle(&site(WIDTH, HEIGHT, &[]));
        assert!(u < WIDTH / 2.0 && v < HEIGHT / 2.0);
    }

    #[test]
    fn marks_in_three_corners_leave_the_fourth() {
        for free in 0..4 {
            let spots: Vec<Spot> = (0..4)
                .filter(|n| *n != free)
                .map(|n| corners()[n])
                .collect();
            let found = site(WIDTH, HEIGHT, &spots);
            assert!(!spots.iter().any(|spot| found.covers(spot)), "{free}");
            assert!(found.covers(&corners()[free]), "the free corner is taken");
            assert_eq!(found.letter, site(WIDTH, HEIGHT, &[]).letter);
        }
    }

    #[test]
    fn marks_in_each_corner_leave_an_edge() {
        let found = site(WIDTH, HEIGHT, &corners());
        assert!(!corners().iter().any(|spot| found.covers(spot)));
        let (u, _) = middle(&found);
        assert!((u - WIDTH / 2.0).abs() < 1.0, "{found:?}");
    }

    #[test]
    fn a_panel_that_finds_no_room_is_smaller() {
        // At full size it reaches 156 px down and up, at seven tenths 109 px.
        let across = (0..33).flat_map(|n| {
            let u = 20.0 * f64::from(n);
            [spot(u, 180.0), spot(u, 135.0), spot(u, 225.0)]
        });
        let spots: Vec<Spot> = across.collect();
        let found = site(WIDTH, HEIGHT, &spots);
        assert!(!spots.iter().any(|spot| found.covers(spot)), "{found:?}");
        assert!(found.letter < site(WIDTH, HEIGHT, &[]).letter);
    }

    #[test]
    fn what_must_be_covered_is_covered_for_the_shortest_time() {
        let spots: Vec<Spot> = (0..33)
            .flat_map(|n| (0..19).map(move |m| (20.0 * f64::from(n), 20.0 * f64::from(m))))
            .map(|(u, v)| Spot {
                frames: if v > 180.0 && u > 320.0 { 1 } else { 50 },
                ..spot(u, v)
            })
            .collect();
        let (u, v) = middle(&site(WIDTH, HEIGHT, &spots));
        assert!(u > 320.0 && v > 180.0, "{u} {v}");
    }
}
