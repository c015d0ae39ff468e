//! Colours as reflectances: linear light, red, green and blue.

pub(crate) type Rgb = [f64; 3];

/// The sRGB transfer curve, IEC 61966-2-1, from code value to linear light.
pub(crate) fn linear(code: f64) -> f64 {
    let c = code / 255.0;
    if c <= 0.040_45 {
        c / 12.92
    } else {
        ((c + 0.055) / 1.055).powf(2.4)
    }
}

/// Linear light to a code value from 0 to 1.
pub(crate) fn encoded(light: f64) -> f64 {
    if light <= 0.003_130_8 {
        12.92 * light
    } else {
        1.055 * light.powf(1.0 / 2.4) - 0.055
    }
}

pub(crate) fn mix(a: Rgb, b: Rgb, share: f64) -> Rgb {
    std::array::from_fn(|i| a[i] + (b[i] - a[i]) * share)
}

pub(crate) fn scaled(a: Rgb, k: f64) -> Rgb {
    a.map(|c| c * k)
}

/// Reflectance of a self-adhesive paper or paint of this name.
pub(crate) fn named(name: &str) -> anyhow::Result<Rgb> {
    let code = match name {
        "magenta" => [208.0, 34.0, 128.0],
        "red" => [196.0, 32.0, 38.0],
        "orange" => [238.0, 118.0, 24.0],
        "yellow" => [240.0, 208.0, 30.0],
        "green" => [26.0, 150.0, 66.0],
        "cyan" => [16.0, 160.0, 196.0],
        "blue" => [30.0, 78.0, 184.0],
        "purple" => [104.0, 52.0, 152.0],
        _ => anyhow::bail!("no such sticker colour: {name:?}"),
    };
    Ok(code.map(linear))
}

pub(crate) const WHITE_CARD: Rgb = [0.78, 0.78, 0.76];

/// Where a ray met something.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Hit {
    pub(crate) distance: f64,
    pub(crate) normal: [f64; 3],
    pub(crate) albedo: Rgb,
    /// Share of the light that the surface stops; acrylic lets some through.
    pub(crate) opacity: f64,
    /// Gives off `albedo` itself, whatever the light.
    pub(crate) glows: bool,
}

impl Hit {
    pub(crate) fn matt(distance: f64, normal: [f64; 3], albedo: Rgb) -> Self {
        Self {
            distance,
            normal,
            albedo,
            opacity: 1.0,
            glows: false,
        }
    }
}

/// The nearer of two hits.
pub(crate) fn nearer(a: Option<Hit>, b: Option<Hit>) -> Option<Hit> {
    match (a, b) {
        (Some(a), Some(b)) => Some(if b.distance < a.distance { b } else { a }),
        (a, b) => a.or(b),
    }
}
