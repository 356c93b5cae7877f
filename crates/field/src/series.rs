//! Gauss coefficients through time.

use std::ops::RangeInclusive;

/// The largest degree that a file may have. Far beyond any global model in use, and low enough that
/// the derived Legendre functions, which grow as 2.4 to the power of the degree, stay within `f64`.
pub const MAX_DEGREE: usize = 400;

/// Years that a model without any time of its own answers for.
pub(crate) const ANY_YEAR: RangeInclusive<f64> = -9998.0..=9998.0;

/// Where degree `n`, order `m` stands in a list of coefficients.
pub(crate) const fn index(degree: usize, order: usize) -> usize {
    degree * (degree + 1) / 2 + order
}

/// Schmidt semi-normalised Gauss coefficients at increasing epochs, nT.
///
/// Between epochs the coefficients are polynomials in decimal years (year plus the elapsed fraction
/// of that calendar year): straight lines for IGRF and WMM, higher pieces for the spline models that
/// `.shc` files also hold.
#[derive(Debug, Clone, PartialEq)]
pub struct Series {
    pub(crate) name: String,
    pub(crate) degree: usize,
    pub(crate) epochs: Vec<f64>,
    /// One list of `[g, h]` for each epoch, in the order of [`index`].
    pub(crate) knots: Vec<Vec<[f64; 2]>>,
    /// Epochs from one end of a polynomial piece to the other: 1 for straight lines.
    pub(crate) step: usize,
    pub(crate) years: RangeInclusive<f64>,
}

impl Series {
    /// What the file calls itself, where it does.
    #[must_use]
    pub fn name(&self) -> &str {
        &self.name
    }

    /// The largest degree.
    #[must_use]
    pub const fn degree(&self) -> usize {
        self.degree
    }

    /// The epochs at which coefficients are given, decimal years.
    #[must_use]
    pub fn epochs(&self) -> &[f64] {
        &self.epochs
    }

    /// The decimal years that the coefficients are meant for.
    #[must_use]
    pub fn years(&self) -> RangeInclusive<f64> {
        self.years.clone()
    }

    /// The first epoch of a series whose coefficients do not change with time.
    #[must_use]
    pub fn still_at(&self) -> Option<f64> {
        let still = self.knots.windows(2).all(|pair| pair[0] == pair[1]);
        self.epochs.first().copied().filter(|_| still)
    }

    /// The coefficients `[g, h]` of a degree and an order at a decimal year, nT; outside the epochs
    /// the line through the two nearest epochs is carried on.
    ///
    /// `None` where the series has no such degree and order.
    #[must_use]
    pub fn coefficients(&self, decimal_year: f64, degree: usize, order: usize) -> Option<[f64; 2]> {
        if order > degree || degree > self.degree {
            return None;
        }
        let mut sum = [0.0; 2];
        for (knot, weight) in self.weights(decimal_year) {
            let [g, h] = self.knots.get(knot)?.get(index(degree, order)).copied()?;
            sum[0] += weight * g;
            sum[1] += weight * h;
        }
        Some(sum)
    }

    /// Adds this series at `decimal_year` to a list of coefficients that is at least as long.
    pub(crate) fn add_to(&self, decimal_year: f64, sum: &mut [[f64; 2]]) {
        for (knot, weight) in self.weights(decimal_year) {
            for (into, [g, h]) in sum.iter_mut().zip(self.knots.get(knot).into_iter().flatten()) {
                into[0] += weight * g;
                into[1] += weight * h;
            }
        }
    }

    /// Which knots make the coefficients at `decimal_year`, and with what weights.
    fn weights(&self, decimal_year: f64) -> Vec<(usize, f64)> {
        let last = self.epochs.len().saturating_sub(1);
        if last == 0 {
            return vec![(0, 1.0)];
        }
        let after = self.epochs.partition_point(|&epoch| epoch <= decimal_year);
        let piece = if after == 0 {
            0..=1
        } else if after > last && decimal_year > self.epochs[last] {
            last - 1..=last
        } else {
            let first = (after - 1).min(last - 1) / self.step * self.step;
            first..=(first + self.step).min(last)
        };
        // Lagrange's form is exact at the epochs, which a slope times a time is not.
        piece
            .clone()
            .map(|knot| {
                let here = self.epochs[knot];
                let weight = piece
                    .clone()
                    .filter(|&other| other != knot)
                    .map(|other| (decimal_year - self.epochs[other]) / (here - self.epochs[other]))
                    .product();
                (knot, weight)
            })
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn cubic(step: usize) -> Series {
        let epochs: Vec<f64> = (0..7).map(|year| 2000.0 + f64::from(year)).collect();
        let value = |year: f64| (year - 2000.0).powi(3);
        Series {
            name: String::new(),
            degree: 1,
            knots: epochs
                .iter()
                .map(|&year| vec![[0.0; 2], [value(year), 1.0], [0.0; 2]])
                .collect(),
            years: 2000.0..=2006.0,
            epochs,
            step,
        }
    }

    #[test]
    fn straight_lines_pass_through_the_knots_and_halve_between() {
        let series = cubic(1);
        assert_eq!(series.coefficients(2003.0, 1, 0), Some([27.0, 1.0]));
        assert_eq!(series.coefficients(2003.5, 1, 0), Some([45.5, 1.0]));
        assert_eq!(series.coefficients(2006.0, 1, 0), Some([216.0, 1.0]));
        assert_eq!(series.coefficients(2003.0, 2, 0), None);
    }

    #[test]
    fn a_piece_of_three_steps_is_a_cubic() {
        let series = cubic(3);
        for year in [2000.0, 2000.7, 2002.999, 2003.0, 2004.4, 2006.0] {
            let [g, h] = series.coefficients(year, 1, 0).unwrap();
            assert!((g - (year - 2000.0).powi(3)).abs() < 1e-9, "{year}");
            assert!((h - 1.0).abs() < 1e-12);
        }
    }

    #[test]
    fn beyond_the_epochs_the_last_line_goes_on() {
        let series = cubic(1);
        assert_eq!(series.coefficients(2007.0, 1, 0), Some([216.0 + 91.0, 1.0]));
        assert_eq!(series.coefficients(1999.0, 1, 0), Some([-1.0, 1.0]));
    }
}
