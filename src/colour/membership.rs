//! The 256 x 256 table from (Cb, Cr) to how strongly a pixel belongs to each wanted colour.

use super::Colour;

/// At most this many different colours are looked for in one pass: four bits each in a `u16`.
pub const MAX_WANTED: usize = 4;

/// Chroma amplitude (0 grey, 1 the end of the code range) at which each level begins.
///
/// Level 1 is just above the noise of a dim phone picture; steps of about 1.5 let a pale sticker on
/// grey and a strong one on a coloured floor both stand out at some level.
pub const LEVEL_SATURATIONS: [f64; 7] = [0.047, 0.08, 0.125, 0.19, 0.29, 0.42, 0.60];

/// Full membership within this angle of a colour's typical hue, none beyond `HUE_EDGE_DEG`.
pub(super) const HUE_CORE_DEG: f64 = 20.0;
/// Half the width of a colour in the (Cb, Cr) plane: neighbouring names overlap on purpose.
const HUE_EDGE_DEG: f64 = 38.0;

/// Samples of a row that are looked at together.
const ROW_PART: usize = 64;

/// Levels (0..=7) of up to [`MAX_WANTED`] colours for each (Cb, Cr) pair.
#[derive(Debug, Clone)]
pub struct Membership {
    packed: Vec<u16>,
    quiet: Quiet,
    wanted: Vec<Colour>,
}

/// A rectangle of the (Cb, Cr) plane about neutral in which nothing belongs to any wanted colour: most of
/// most pictures, told apart many samples at a time.
#[derive(Debug, Clone, Copy)]
struct Quiet {
    cb: (u8, u8),
    cr: (u8, u8),
}

impl Quiet {
    /// The rectangle that grows from `neutral`, side by side, until each side would meet a colour.
    fn of(packed: &[u16], neutral: (u8, u8)) -> Self {
        let mut quiet = Self {
            cb: (neutral.0, neutral.0),
            cr: (neutral.1, neutral.1),
        };
        loop {
            let wider = [
                Self {
                    cb: (quiet.cb.0.saturating_sub(1), quiet.cb.1),
                    ..quiet
                },
                Self {
                    cb: (quiet.cb.0, quiet.cb.1.saturating_add(1)),
                    ..quiet
                },
                Self {
                    cr: (quiet.cr.0.saturating_sub(1), quiet.cr.1),
                    ..quiet
                },
                Self {
                    cr: (quiet.cr.0, quiet.cr.1.saturating_add(1)),
                    ..quiet
                },
            ];
            let mut grown = false;
            for side in wider {
                let both = Self {
                    cb: (quiet.cb.0.min(side.cb.0), quiet.cb.1.max(side.cb.1)),
                    cr: (quiet.cr.0.min(side.cr.0), quiet.cr.1.max(side.cr.1)),
                };
                if both.area() > quiet.area() && both.is_empty(packed) {
                    quiet = both;
                    grown = true;
                }
            }
            if !grown {
                return quiet;
            }
        }
    }

    fn area(self) -> u32 {
        let side = |(low, high): (u8, u8)| u32::from(high - low) + 1;
        side(self.cb) * side(self.cr)
    }

    fn is_empty(self, packed: &[u16]) -> bool {
        (self.cb.0..=self.cb.1).all(|cb| {
            let row = usize::from(cb) << 8;
            packed[row + usize::from(self.cr.0)..=row + usize::from(self.cr.1)]
                .iter()
                .all(|&cell| cell == 0)
        })
    }

    /// Whether all of these samples lie inside.
    fn holds(self, cb: &[u8], cr: &[u8]) -> bool {
        let within = |codes: &[u8], (low, high): (u8, u8)| {
            let span = high - low;
            let out = |all: u8, &code: &u8| all | u8::from(code.wrapping_sub(low) > span);
            codes.iter().fold(0, out) == 0
        };
        within(cb, self.cb) && within(cr, self.cr)
    }
}

impl Membership {
    /// Builds the table for `wanted` colours (the first [`MAX_WANTED`] of them).
    ///
    /// `chroma_of` gives the (Cb, Cr) offsets from neutral, as codes, of a typical R'G'B' paint in the
    /// clip's matrix and range; `full_scale` is the largest offset that the range can hold (112 or 127);
    /// `neutral` is the (Cb, Cr) that grey things have in this light.
    pub fn new(
        wanted: &[Colour],
        full_scale: f64,
        neutral: (f64, f64),
        chroma_of: impl Fn([f64; 3]) -> (f64, f64),
    ) -> Self {
        let wanted: Vec<Colour> = wanted.iter().copied().take(MAX_WANTED).collect();
        let hues: Vec<f64> = wanted
            .iter()
            .map(|colour| {
                let (b, r) = chroma_of(colour.typical_rgb());
                r.atan2(b)
            })
            .collect();
        let mut packed = vec![0_u16; 1 << 16];
        for cb in 0..256_usize {
            for cr in 0..256_usize {
                let b = (cb as f64 - neutral.0) / full_scale;
                let r = (cr as f64 - neutral.1) / full_scale;
                let saturation = b.hypot(r);
                let hue = r.atan2(b);
                let mut cell = 0_u16;
                let nearest = hues
                    .iter()
                    .map(|typical| apart_deg(hue - typical))
                    .fold(f64::INFINITY, f64::min);
                for (slot, typical) in hues.iter().enumerate() {
                    let apart = apart_deg(hue - typical);
                    // Where two wanted colours meet, a pixel belongs to the nearer one.
                    let share = if apart > nearest {
                        0.0
                    } else {
                        hue_share(apart)
                    };
                    let level = level_of(saturation * share);
                    cell |= level << (4 * slot);
                }
                packed[(cb << 8) | cr] = cell;
            }
        }
        let middle = (neutral.0.round() as u8, neutral.1.round() as u8);
        Self {
            quiet: Quiet::of(&packed, middle),
            packed,
            wanted,
        }
    }

    /// The same table for a light in which grey things have chroma `(cb, cr)` codes more.
    #[must_use]
    pub fn shifted(&self, cb: i32, cr: i32) -> Self {
        let from = |code: i32, by: i32| (code - by).clamp(0, 255) as usize;
        let mut packed = Vec::with_capacity(self.packed.len());
        for b in 0..256 {
            let row = from(b, cb) << 8;
            packed.extend((0..256).map(|r| self.packed[row | from(r, cr)]));
        }
        let moved = |(low, high): (u8, u8), by: i32| {
            let middle = i32::midpoint(i32::from(low), i32::from(high)) + by;
            middle.clamp(0, 255) as u8
        };
        let middle = (moved(self.quiet.cb, cb), moved(self.quiet.cr, cr));
        Self {
            quiet: Quiet::of(&packed, middle),
            packed,
            wanted: self.wanted.clone(),
        }
    }

    /// The colours, in slot order.
    pub fn wanted(&self) -> &[Colour] {
        &self.wanted
    }

    /// Packed levels of one pixel: four bits a slot, slot 0 lowest.
    #[inline]
    pub fn packed(&self, cb: u8, cr: u8) -> u16 {
        self.packed[(usize::from(cb) << 8) | usize::from(cr)]
    }

    /// Appends the packed levels of a row of pixels.
    pub fn extend_packed(&self, cb: &[u8], cr: &[u8], cells: &mut Vec<u16>) {
        for (cb, cr) in cb.chunks(ROW_PART).zip(cr.chunks(ROW_PART)) {
            if self.quiet.holds(cb, cr) {
                cells.resize(cells.len() + cb.len(), 0);
            } else {
                cells.extend(cb.iter().zip(cr).map(|(&b, &r)| self.packed(b, r)));
            }
        }
    }

    /// Level of `slot` in a packed cell.
    #[inline]
    pub fn level(cell: u16, slot: usize) -> u8 {
        ((cell >> (4 * slot)) & 0xF) as u8
    }
}

fn level_of(strength: f64) -> u16 {
    LEVEL_SATURATIONS
        .iter()
        .filter(|&&edge| strength >= edge)
        .count() as u16
}

fn hue_share(apart_deg: f64) -> f64 {
    ((HUE_EDGE_DEG - apart_deg) / (HUE_EDGE_DEG - HUE_CORE_DEG)).clamp(0.0, 1.0)
}

/// Size of an angle between two hues, degrees from 0 to 180.
pub(super) fn apart_deg(difference_rad: f64) -> f64 {
    let wrapped = difference_rad.sin().atan2(difference_rad.cos());
    wrapped.abs().to_degrees()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Limited-range BT.709 chroma of 100 % bars, from the EBU/SMPTE bar codes.
    const BARS_709: [(Colour, u8, u8); 5] = [
        (Colour::Red, 102, 240),
        (Colour::Green, 42, 26),
        (Colour::Blue, 240, 118),
        (Colour::Magenta, 214, 230),
        (Colour::Cyan, 154, 16),
    ];

    fn bt709(rgb: [f64; 3]) -> (f64, f64) {
        let y = 0.2126 * rgb[0] + 0.7152 * rgb[1] + 0.0722 * rgb[2];
        (
            224.0 / 255.0 * (rgb[2] - y) / 1.8556,
            224.0 / 255.0 * (rgb[0] - y) / 1.5748,
        )
    }

    #[test]
    fn each_primary_of_the_bars_belongs_to_its_own_name_most() {
        for (colour, cb, cr) in BARS_709 {
            let table = Membership::new(&[colour], 112.0, (128.0, 128.0), bt709);
            let own = Membership::level(table.packed(cb, cr), 0);
            assert!(own >= 5, "{colour} reaches level {own}");
        }
    }

    #[test]
    fn grey_belongs_to_nothing() {
        for colour in Colour::ALL {
            let table = Membership::new(&[colour], 112.0, (128.0, 128.0), bt709);
            assert_eq!(table.packed(128, 128), 0);
            assert_eq!(table.packed(131, 126), 0);
        }
    }

    #[test]
    fn slots_do_not_leak_into_each_other() {
        let table = Membership::new(&[Colour::Blue, Colour::Red], 112.0, (128.0, 128.0), bt709);
        let red = table.packed(102, 240);
        assert_eq!(Membership::level(red, 0), 0);
        assert!(Membership::level(red, 1) >= 5);
    }

    #[test]
    fn a_row_is_what_its_pixels_are() {
        let table = Membership::new(&[Colour::Blue, Colour::Red], 112.0, (125.0, 131.0), bt709);
        let codes = |by: usize| (0..20_000).map(move |i| (i * by % 251) as u8);
        let calm = std::iter::repeat_n(127, 500);
        let cb: Vec<u8> = codes(7).chain(calm.clone()).collect();
        let cr: Vec<u8> = codes(13).chain(calm).collect();
        for table in [table.shifted(9, -11), table] {
            let mut cells = Vec::new();
            table.extend_packed(&cb, &cr, &mut cells);
            let one_by_one = cb.iter().zip(&cr).map(|(&b, &r)| table.packed(b, r));
            assert!(one_by_one.eq(cells));
            assert!(table.quiet.area() > 50, "{:?}", table.quiet);
        }
    }

    #[test]
    fn a_shifted_table_is_that_of_the_shifted_light() {
        let plain = Membership::new(&[Colour::Blue], 112.0, (128.0, 128.0), bt709);
        let warm = Membership::new(&[Colour::Blue], 112.0, (122.0, 133.0), bt709);
        let shifted = plain.shifted(-6, 5);
        for cb in 10..240 {
            for cr in 10..240 {
                assert_eq!(shifted.packed(cb, cr), warm.packed(cb, cr), "{cb} {cr}");
            }
        }
    }
}
