//! The transverse Mercator series of Krüger, to the sixth order in the third flattening.
//!
//! Source: C. F. F. Karney, "Transverse Mercator with an accuracy of a few nanometers", Journal of
//! Geodesy 85 (2011), 475-485. Equation numbers below are the paper's.

use std::sync::LazyLock;

/// The series for one ellipsoid, central scale 1.
pub(super) struct Series {
    /// Radius of the rectifying sphere, metres: eq. (14).
    radius: f64,
    /// First eccentricity and its square.
    e: f64,
    e2: f64,
    /// Coefficients of the way to the plane: eq. (35).
    alpha: [f64; 6],
    /// Coefficients of the way back: eq. (36).
    beta: [f64; 6],
}

/// WGS 84 (EPSG 7030): semi-major axis in metres, and one over the flattening.
pub(super) const SEMI_MAJOR_M: f64 = 6_378_137.0;
pub(super) const INVERSE_FLATTENING: f64 = 298.257_223_563;

/// The series on WGS 84 (semi-major axis and inverse flattening by the ellipsoid's definition).
pub(super) static WGS84: LazyLock<Series> =
    LazyLock::new(|| Series::new(SEMI_MAJOR_M, INVERSE_FLATTENING));

/// `c[0] n + c[1] n^2 + ...`
fn in_powers_of(n: f64, c: &[f64]) -> f64 {
    c.iter().rev().fold(0.0, |sum, c| (sum + c) * n)
}

impl Series {
    /// The series for an ellipsoid with this semi-major axis (metres) and inverse flattening.
    pub(super) fn new(semi_major_m: f64, inverse_flattening: f64) -> Self {
        let f = 1.0 / inverse_flattening;
        let n = f / (2.0 - f);
        let e2 = f * (2.0 - f);
        let radius = semi_major_m / (1.0 + n)
            * (1.0 + in_powers_of(n * n, &[1.0 / 4.0, 1.0 / 64.0, 1.0 / 256.0]));
        let n1 = n;
        let n2 = n * n1;
        let n3 = n * n2;
        let n4 = n * n3;
        let n5 = n * n4;
        let alpha = [
            in_powers_of(
                n,
                &[
                    1.0 / 2.0,
                    -2.0 / 3.0,
                    5.0 / 16.0,
                    41.0 / 180.0,
                    -127.0 / 288.0,
                    7891.0 / 37800.0,
                ],
            ),
            n1 * in_powers_of(
                n,
                &[
                    13.0 / 48.0,
                    -3.0 / 5.0,
                    557.0 / 1440.0,
                    281.0 / 630.0,
                    -1_983_433.0 / 1_935_360.0,
                ],
            ),
            n2 * in_powers_of(
                n,
                &[
                    61.0 / 240.0,
                    -103.0 / 140.0,
                    15061.0 / 26880.0,
                    167_603.0 / 181_440.0,
                ],
            ),
            n3 * in_powers_of(
                n,
                &[
                    49561.0 / 161_280.0,
                    -179.0 / 168.0,
                    6_601_661.0 / 7_257_600.0,
                ],
            ),
            n4 * in_powers_of(n, &[34729.0 / 80640.0, -3_418_889.0 / 1_995_840.0]),
            n5 * in_powers_of(n, &[212_378_941.0 / 319_334_400.0]),
        ];
        let beta = [
            in_powers_of(
                n,
                &[
                    1.0 / 2.0,
                    -2.0 / 3.0,
                    37.0 / 96.0,
                    -1.0 / 360.0,
                    -81.0 / 512.0,
                    96199.0 / 604_800.0,
                ],
            ),
            n1 * in_powers_of(
                n,
                &[
                    1.0 / 48.0,
                    1.0 / 15.0,
                    -437.0 / 1440.0,
                    46.0 / 105.0,
                    -1_118_711.0 / 3_870_720.0,
                ],
            ),
            n2 * in_powers_of(
                n,
                &[
                    17.0 / 480.0,
                    -37.0 / 840.0,
                    -209.0 / 4480.0,
                    5569.0 / 90720.0,
                ],
            ),
            n3 * in_powers_of(
                n,
                &[4397.0 / 161_280.0, -11.0 / 504.0, -830_251.0 / 7_257_600.0],
            ),
            n4 * in_powers_of(n, &[4583.0 / 161_280.0, -108_847.0 / 3_991_680.0]),
            n5 * in_powers_of(n, &[20_648_693.0 / 638_668_800.0]),
        ];
        Self {
            radius,
            e: e2.sqrt(),
            e2,
            alpha,
            beta,
        }
    }

    /// Easting and northing in metres (northing from the equator) of a longitude from the central
    /// meridian and a latitude, both in radians.
    pub(super) fn forward(&self, lon: f64, lat: f64) -> [f64; 2] {
        let tau = self.conformal(lat.tan());
        let (sin_lon, cos_lon) = lon.sin_cos();
        // Eq. (10).
        let xi = tau.atan2(cos_lon);
        let eta = (sin_lon / tau.hypot(cos_lon)).asinh();
        // Eq. (11).
        let [d_xi, d_eta] = sine_sum(&self.alpha, xi, eta);
        [self.radius * (eta + d_eta), self.radius * (xi + d_xi)]
    }

    /// The way back: longitude from the central meridian and latitude, in radians.
    pub(super) fn inverse(&self, easting_m: f64, northing_m: f64) -> [f64; 2] {
        let (xi, eta) = (northing_m / self.radius, easting_m / self.radius);
        // Eq. (15).
        let [d_xi, d_eta] = sine_sum(&self.beta, xi, eta);
        let (xi, eta) = (xi - d_xi, eta - d_eta);
        // Eq. (18).
        let (sin_xi, cos_xi) = xi.sin_cos();
        let sinh_eta = eta.sinh();
        let tau = self.geographic(sin_xi / sinh_eta.hypot(cos_xi));
        [sinh_eta.atan2(cos_xi), tau.atan()]
    }

    /// Tangent of the conformal latitude from that of the geographic one: eq. (7) to (9).
    fn conformal(&self, tau: f64) -> f64 {
        let sec = 1f64.hypot(tau);
        let sigma = (self.e * (self.e * tau / sec).atanh()).sinh();
        tau * 1f64.hypot(sigma) - sigma * sec
    }

    /// Tangent of the geographic latitude from that of the conformal one: Newton's method, eq. (19)
    /// to (21). It converges quadratically; five steps are more than a double can hold.
    fn geographic(&self, conformal: f64) -> f64 {
        let mut tau = conformal / (1.0 - self.e2);
        for _ in 0..5 {
            let reached = self.conformal(tau);
            let step = (conformal - reached) / 1f64.hypot(reached)
                * (1.0 + (1.0 - self.e2) * tau * tau)
                / ((1.0 - self.e2) * 1f64.hypot(tau));
            tau += step;
            if step.abs() <= 1e-17 * tau.abs().max(1.0) {
                break;
            }
        }
        tau
    }
}

/// Real and imaginary part of `sum c[j] sin(2 (j + 1) (xi + i eta))`, by Clenshaw's recurrence.
fn sine_sum(c: &[f64; 6], xi: f64, eta: f64) -> [f64; 2] {
    let (sin, cos) = (2.0 * xi).sin_cos();
    let (sinh, cosh) = ((2.0 * eta).sinh(), (2.0 * eta).cosh());
    let (a_re, a_im) = (2.0 * cos * cosh, -2.0 * sin * sinh);
    let (mut re, mut im) = (0.0, 0.0);
    let (mut last_re, mut last_im) = (0.0, 0.0);
    for c in c.iter().rev() {
        let next_re = a_re * re - a_im * im - last_re + c;
        let next_im = a_re * im + a_im * re - last_im;
        (last_re, last_im) = (re, im);
        (re, im) = (next_re, next_im);
    }
    let (s_re, s_im) = (sin * cosh, cos * sinh);
    [re * s_re - im * s_im, re * s_im + im * s_re]
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The worked example of the transverse Mercator method in IOGP Guidance Note 373-7-2
    /// (OSGB 36 / British National Grid on Airy 1830): 50 30 00 N, 0 30 00 E gives
    /// 577274.99 m E, 69740.50 m N, by a shorter series than this one: the easting differs by 6 mm.
    #[test]
    fn worked_example_of_the_guidance_note() {
        let airy = Series::new(6_377_563.396, 299.324_964_6);
        let k = 0.999_601_271_7;
        let [e, n] = airy.forward(2.5f64.to_radians(), 50.5f64.to_radians());
        let [_, n0] = airy.forward(0.0, 49f64.to_radians());
        assert!((400_000.0 + k * e - 577_274.99).abs() < 0.01);
        assert!((-100_000.0 + k * (n - n0) - 69_740.50).abs() < 0.01);
        let [lon, lat] = airy.inverse(e, n);
        assert!((lon.to_degrees() - 2.5).abs() < 1e-13);
        assert!((lat.to_degrees() - 50.5).abs() < 1e-13);
    }
}
