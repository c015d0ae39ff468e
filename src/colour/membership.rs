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

/// Levels (0..=7) of up to [`MAX_WANTED`] colours for each (Cb, Cr) pair.
#[derive(Debug, Clone)]
pub struct Membership {
    packed: Vec<u16>,
    wanted: Vec<Colour>,
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
        Self { packed, wanted }
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
        Self {
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
