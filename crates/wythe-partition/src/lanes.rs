//! Eight complex numbers side by side, so that eight angles cost little more than two.
//!
//! Plain arrays and loops of fixed length: the compiler turns them into vector instructions on
//! every target, without `unsafe` and without choosing an instruction set.

/// Number of lanes.
pub(crate) const LANES: usize = 8;

/// Real numbers, one per angle.
pub(crate) type Reals = [f64; LANES];

/// Complex numbers, one per angle.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Lanes {
    pub re: Reals,
    pub im: Reals,
}

impl Lanes {
    #[inline(always)]
    pub fn splat(re: f64, im: f64) -> Lanes {
        Lanes { re: [re; LANES], im: [im; LANES] }
    }

    #[inline(always)]
    pub fn mul(&self, other: &Lanes) -> Lanes {
        let mut out = Lanes::splat(0.0, 0.0);
        for i in 0..LANES {
            out.re[i] = self.re[i] * other.re[i] - self.im[i] * other.im[i];
            out.im[i] = self.re[i] * other.im[i] + self.im[i] * other.re[i];
        }
        out
    }

    /// `self` + `a` · `b`.
    #[inline(always)]
    pub fn add_mul(&self, a: &Lanes, b: &Lanes) -> Lanes {
        let mut out = *self;
        for i in 0..LANES {
            out.re[i] += a.re[i] * b.re[i] - a.im[i] * b.im[i];
            out.im[i] += a.re[i] * b.im[i] + a.im[i] * b.re[i];
        }
        out
    }

    /// The same complex factor on every lane.
    #[inline(always)]
    pub fn scale(&self, re: f64, im: f64) -> Lanes {
        let mut out = Lanes::splat(0.0, 0.0);
        for i in 0..LANES {
            out.re[i] = self.re[i] * re - self.im[i] * im;
            out.im[i] = self.re[i] * im + self.im[i] * re;
        }
        out
    }
}

/// cos √x and sin √x / √x of complex x with |x| at most 4^`halvings`.
///
/// Both are entire functions of x, so no root is taken: x is divided by 4 until it is at most 1,
/// five terms of the series leave 2·10⁻⁹, and the double angle brings the argument back:
/// C(4x) = 2C² − 1, S(4x) = S·C. Rounding grows by 4 per doubling, to 10⁻¹¹ at the most.
#[inline(always)]
pub(crate) fn cos_and_sinc_of_root(x: &Lanes, halvings: u32) -> (Lanes, Lanes) {
    let scale = 0.25f64.powi(halvings as i32);
    let mut y = *x;
    for i in 0..LANES {
        y.re[i] *= scale;
        y.im[i] *= scale;
    }
    // Coefficients (−1)^k/(2k)! and (−1)^k/(2k + 1)!, highest first.
    const COS: [f64; 6] = [-1.0 / 3_628_800.0, 1.0 / 40_320.0, -1.0 / 720.0, 1.0 / 24.0, -0.5, 1.0];
    const SINC: [f64; 6] =
        [-1.0 / 39_916_800.0, 1.0 / 362_880.0, -1.0 / 5040.0, 1.0 / 120.0, -1.0 / 6.0, 1.0];
    let mut c = series(&y, &COS);
    let mut s = series(&y, &SINC);
    for _ in 0..halvings {
        s = s.mul(&c);
        for i in 0..LANES {
            let (re, im) = (c.re[i], c.im[i]);
            c.re[i] = 2.0 * (re * re - im * im) - 1.0;
            c.im[i] = 4.0 * re * im;
        }
    }
    (c, s)
}

#[inline(always)]
fn series(y: &Lanes, coefficients: &[f64; 6]) -> Lanes {
    let mut out = Lanes::splat(coefficients[0], 0.0);
    for c in &coefficients[1..] {
        out = out.mul(y);
        for i in 0..LANES {
            out.re[i] += c;
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use nalgebra::Complex;

    #[test]
    fn agrees_with_the_functions_themselves() {
        for (re, im) in [(0.0f64, 0.0f64), (0.3, -0.2), (7.0, -3.0), (-2.0, 1.0), (250.0, -90.0)] {
            let x: Complex<f64> = Complex::new(re, im);
            let halvings = (x.norm().max(1.0).log2() / 2.0).ceil() as u32;
            let (c, s) = cos_and_sinc_of_root(&Lanes::splat(re, im), halvings);
            let root = x.sqrt();
            let (cos, sinc) = if x.norm() == 0.0 {
                (Complex::new(1.0, 0.0), Complex::new(1.0, 0.0))
            } else {
                (root.cos(), root.sin() / root)
            };
            let tolerance = 1e-6 * (1.0 + cos.norm());
            assert!((Complex::new(c.re[3], c.im[3]) - cos).norm() < tolerance, "{x}");
            assert!((Complex::new(s.re[3], s.im[3]) - sinc).norm() < tolerance, "{x}");
        }
    }
}
