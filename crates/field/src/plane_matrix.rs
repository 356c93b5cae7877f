//! Matrices of two rows and two columns.

pub(crate) type Matrix = [[f64; 2]; 2];

pub(crate) fn determinant([[a, b], [c, d]]: Matrix) -> f64 {
    a * d - b * c
}

/// Solves `matrix x = right`; `None` where the matrix has no inverse or the answer is not finite.
pub(crate) fn solve(matrix: Matrix, right: [f64; 2]) -> Option<[f64; 2]> {
    let [[a, b], [c, d]] = matrix;
    let by = determinant(matrix);
    let x = [(d * right[0] - b * right[1]) / by, (a * right[1] - c * right[0]) / by];
    x.iter().all(|part| part.is_finite()).then_some(x)
}

/// The larger and the smaller singular value.
pub(crate) fn singular_values(matrix: Matrix) -> [f64; 2] {
    let [[a, b], [c, d]] = matrix;
    let (sum, difference) = ((a + d).hypot(b - c), (a - d).hypot(b + c));
    [0.5 * (sum + difference), 0.5 * (sum - difference).abs()]
}
