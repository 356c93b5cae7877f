//! Symmetric positive definite systems of some hundred unknowns.

/// The factor L of a matrix L L^T, lower triangle by rows.
#[derive(Debug, Clone)]
pub(crate) struct Cholesky {
    size: usize,
    lower: Vec<f64>,
}

impl Cholesky {
    /// Factors a matrix given by rows, of which the lower triangle is read; `None` where it is not
    /// positive definite.
    pub(crate) fn of(size: usize, mut matrix: Vec<f64>) -> Option<Self> {
        for row in 0..size {
            for column in 0..=row {
                let (head, tail) = matrix.split_at_mut(row * size);
                let this = tail.get_mut(..size)?;
                let sum = if column == row {
                    this[..column].iter().map(|part| part * part).sum::<f64>()
                } else {
                    let other = head.get(column * size..column * size + column)?;
                    this[..column].iter().zip(other).map(|(a, b)| a * b).sum::<f64>()
                };
                let left = this[column] - sum;
                this[column] = if column < row {
                    left / head[column * size + column]
                } else if left > 0.0 {
                    left.sqrt()
                } else {
                    return None;
                };
            }
        }
        Some(Self { size, lower: matrix })
    }

    fn row(&self, row: usize) -> &[f64] {
        &self.lower[row * self.size..row * self.size + row + 1]
    }

    /// Solves the system for one right side of the matrix's size.
    pub(crate) fn solve(&self, right: &[f64]) -> Vec<f64> {
        let mut x = right.to_vec();
        for at in 0..self.size {
            let row = self.row(at);
            let sum: f64 = row[..at].iter().zip(&x).map(|(a, b)| a * b).sum();
            x[at] = (x[at] - sum) / row[at];
        }
        self.solve_transposed(x)
    }

    /// Solves the system of the factor's transpose alone: normal numbers of variance 1 become
    /// numbers that have the matrix's inverse for their covariance.
    pub(crate) fn solve_transposed(&self, mut x: Vec<f64>) -> Vec<f64> {
        for at in (0..self.size).rev() {
            let row = self.row(at);
            x[at] /= row[at];
            let known = x[at];
            for (x, a) in x.iter_mut().zip(&row[..at]) {
                *x -= a * known;
            }
        }
        x
    }

    /// The inverse, by rows.
    pub(crate) fn inverse(&self) -> Vec<f64> {
        let mut unit = vec![0.0; self.size];
        let mut all = Vec::with_capacity(self.size * self.size);
        for at in 0..self.size {
            unit.fill(0.0);
            unit[at] = 1.0;
            all.extend(self.solve(&unit));
        }
        all
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn solutions_solve_and_an_indefinite_matrix_is_refused() {
        let matrix = vec![4.0, 2.0, 0.6, 2.0, 5.0, 1.0, 0.6, 1.0, 3.0];
        let factor = Cholesky::of(3, matrix.clone()).unwrap();
        let x = factor.solve(&[1.0, -2.0, 3.0]);
        for (row, right) in matrix.chunks(3).zip([1.0, -2.0, 3.0]) {
            let left: f64 = row.iter().zip(&x).map(|(a, b)| a * b).sum();
            assert!((left - right).abs() < 1e-12);
        }
        let inverse = factor.inverse();
        let one: f64 = (0..3).map(|k| matrix[k] * inverse[3 * k]).sum();
        assert!((one - 1.0).abs() < 1e-12);
        assert!(Cholesky::of(2, vec![1.0, 2.0, 2.0, 1.0]).is_none());
        assert!(Cholesky::of(1, vec![f64::NAN]).is_none());
    }
}
