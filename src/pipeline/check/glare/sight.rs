//! What the eye sees of stripes: cycles per degree at a distance, contrast in light, the size of a field, luminance.
//!
//! Takes lengths in millimeters and light from 0 to 65535. Knows no pixels.

/// Spatial frequency in cycles per degree of visual angle: a period of `period` seen from `distance`, both in one unit, spans
/// twice the angle whose tangent is half the period over the distance.
#[must_use]
pub fn cycles_per_degree(period: f64, distance: f64) -> f64 {
    1.0 / (2.0 * (period / (2.0 * distance)).atan().to_degrees())
}

/// Michelson contrast of two lights: their difference over their sum, 0 to 1 (Michelson, Studies in Optics, 1927).
#[must_use]
pub fn michelson(light: u16, dark: u16) -> f64 {
    let (light, dark) = (f64::from(light), f64::from(dark));
    if light + dark > 0.0 { (light - dark).abs() / (light + dark) } else { 0.0 }
}

/// The solid angle in steradians of a flat field of an area seen from a distance, small beside it.
#[must_use]
pub fn solid_angle(area: f64, distance: f64) -> f64 {
    area / (distance * distance)
}

/// Candela per square meter of a printed light under an illuminance in lux: a matte surface of reflectance r gives r E / pi
/// (Lambert). White paper reflects about 0.8 (common practice).
#[must_use]
pub fn luminance(light: u16, lux: f64) -> f64 {
    const PAPER: f64 = 0.8;
    f64::from(light) / f64::from(u16::MAX) * PAPER * lux / std::f64::consts::PI
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::pixel::light;

    // Worked by hand from the definition; 1 degree at 1 m spans 17.454 mm.
    #[test]
    fn frequencies_follow_from_period_and_distance() {
        for (period, distance, expected) in
            [(10.0, 2000.0, 3.4907), (10.0, 1000.0, 1.7453), (6.0, 1000.0, 2.9089), (17.4542, 1000.0, 1.0)]
        {
            let found = cycles_per_degree(period, distance);
            assert!((found - expected).abs() < 1e-4, "{period} mm at {distance} mm: {found}");
        }
    }

    // Light by IEC 61966-2-1, contrast by Michelson's definition, worked with numpy.
    #[test]
    fn contrast_is_taken_in_light() {
        let of = light::of_codes();
        for (a, b, expected) in [
            (255, 200, 0.2678),
            (255, 188, 0.3308),
            (200, 100, 0.6385),
            (128, 64, 0.6161),
            (128, 100, 0.2576),
            (140, 128, 0.0970),
            (255, 0, 1.0),
        ] {
            let found = michelson(of[a], of[b]);
            assert!((found - expected).abs() < 2e-4, "{a} on {b}: {found}");
        }
        assert_eq!(michelson(0, 0), 0.0);
    }

    // 50 cd/m2 from paper of reflectance 0.8 takes 196 lx; a disc 5.01 degrees wide at 1 m is 0.006 sr.
    #[test]
    fn fields_and_luminances_are_as_published() {
        assert!((luminance(u16::MAX, 196.35) - 50.0).abs() < 0.01);
        let disc = std::f64::consts::PI * (87.4_f64 / 2.0).powi(2);
        assert!((solid_angle(disc, 1000.0) - 0.006).abs() < 1e-5);
    }
}
