//! Associated Legendre functions of the few orders that the currents have.

use crate::amps::coefficients::MOST_ORDER;

/// Schmidt semi-normalised functions at one colatitude, of degree 0 up.
///
/// Kept as `P / sin` for the orders from 1, which has no singularity at the magnetic poles; it is
/// what the east component wants, and the derivatives by colatitude follow from it.
#[derive(Debug)]
pub(crate) struct Legendre {
    cosine: f64,
    sine: f64,
    zonal: Vec<f64>,
    /// P_nm / sin by order from 1 and by degree from 0.
    by_sine: [Vec<f64>; MOST_ORDER],
}

impl Legendre {
    /// At a colatitude, up to a degree.
    pub(crate) fn at(colatitude_rad: f64, degree: usize) -> Self {
        let (sine, cosine) = colatitude_rad.sin_cos();
        let mut by_sine = [const { Vec::new() }; MOST_ORDER];
        let mut sectorial = 1.0;
        for (order, column) in (1..).zip(&mut by_sine) {
            if order > 1 {
                sectorial *= sine * ((2 * order - 1) as f64 / (2 * order) as f64).sqrt();
            }
            *column = climbed(cosine, order, sectorial, degree);
        }
        Self { cosine, sine, zonal: climbed(cosine, 0, 1.0, degree), by_sine }
    }

    /// P_nm.
    pub(crate) fn value(&self, n: usize, m: usize) -> f64 {
        if m == 0 { at(&self.zonal, n) } else { self.sine * self.by_sine(n, m) }
    }

    /// P_nm / sin, for the orders from 1.
    pub(crate) fn by_sine(&self, n: usize, m: usize) -> f64 {
        m.checked_sub(1).and_then(|m| self.by_sine.get(m)).map_or(0.0, |column| at(column, n))
    }

    /// The derivative of P_nm by colatitude.
    pub(crate) fn slope(&self, n: usize, m: usize) -> f64 {
        let (nf, mf) = (n as f64, m as f64);
        if m == 0 {
            return -(nf * (nf + 1.0) / 2.0).sqrt() * self.sine * self.by_sine(n, 1);
        }
        let before = n.checked_sub(1).map_or(0.0, |n| self.by_sine(n, m));
        nf * self.cosine * self.by_sine(n, m) - (nf * nf - mf * mf).max(0.0).sqrt() * before
    }
}

/// One order's functions, by the recursion in the degree, from the sectorial one.
fn climbed(cosine: f64, order: usize, sectorial: f64, degree: usize) -> Vec<f64> {
    let mut column = vec![0.0; degree + 1];
    let (mut before, mut here) = (0.0, sectorial);
    let m2 = (order * order) as f64;
    for (n, value) in column.iter_mut().enumerate().skip(order) {
        *value = here;
        // From degree n to n + 1.
        let nf = n as f64;
        let ahead = (2.0 * nf + 1.0) * cosine * here - (nf * nf - m2).max(0.0).sqrt() * before;
        before = here;
        here = ahead / ((nf + 1.0) * (nf + 1.0) - m2).sqrt();
    }
    column
}

fn at(column: &[f64], n: usize) -> f64 {
    column.get(n).copied().unwrap_or(0.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn low_degrees_have_their_closed_forms() {
        for colatitude in [0.0, 1e-3, 0.3, 1.2, 2.9, std::f64::consts::PI] {
            let all = Legendre::at(colatitude, 4);
            let (s, c) = colatitude.sin_cos();
            for (n, m, value) in [
                (0, 0, 1.0),
                (1, 0, c),
                (1, 1, s),
                (2, 1, 3_f64.sqrt() * s * c),
                (3, 2, 15_f64.sqrt() / 2.0 * s * s * c),
                (3, 3, 10_f64.sqrt() / 4.0 * s * s * s),
                (4, 0, (35.0 * c.powi(4) - 30.0 * c * c + 3.0) / 8.0),
            ] {
                assert!((all.value(n, m) - value).abs() < 1e-14, "{n} {m}");
            }
            assert!((all.by_sine(1, 1) - 1.0).abs() < 1e-14);
        }
    }

    #[test]
    fn slopes_are_those_of_the_values() {
        let step = 1e-5;
        for colatitude in [1e-3, 0.16, 0.7, 2.0, 3.0] {
            let [behind, here, ahead] =
                [-step, 0.0, step].map(|away| Legendre::at(colatitude + away, 45));
            for n in 1..=45 {
                for m in 0..=MOST_ORDER.min(n) {
                    let slope = (ahead.value(n, m) - behind.value(n, m)) / (2.0 * step);
                    let off = here.slope(n, m) - slope;
                    assert!(off.abs() < 1e-5 * (n as f64).powi(2), "{n} {m} {colatitude}: {off}");
                }
            }
        }
    }
}
