//! Three-vectors and 3 × 3 matrices of the mechanics, small and plain: x along the line bearing, y to starboard, z down.

/// A vector: along, to starboard, down.
pub type Vector = [f64; 3];

/// A matrix by rows.
pub type Matrix = [[f64; 3]; 3];

/// a + s·b.
#[inline]
#[must_use]
pub fn plus(a: Vector, scale: f64, b: Vector) -> Vector {
    [a[0] + scale * b[0], a[1] + scale * b[1], a[2] + scale * b[2]]
}

/// a · b.
#[inline]
#[must_use]
pub fn dot(a: Vector, b: Vector) -> f64 {
    a[0] * b[0] + a[1] * b[1] + a[2] * b[2]
}

/// |a|.
#[inline]
#[must_use]
pub fn norm(a: Vector) -> f64 {
    dot(a, a).sqrt()
}

/// m · a.
#[inline]
#[must_use]
pub fn times(m: &Matrix, a: Vector) -> Vector {
    [dot(m[0], a), dot(m[1], a), dot(m[2], a)]
}

/// a · b of two matrices.
#[inline]
#[must_use]
pub fn product(a: &Matrix, b: &Matrix) -> Matrix {
    let mut out = [[0.0; 3]; 3];
    for (row, left) in out.iter_mut().zip(a) {
        for (column, cell) in row.iter_mut().enumerate() {
            *cell = left[0] * b[0][column] + left[1] * b[1][column] + left[2] * b[2][column];
        }
    }
    out
}

/// The inverse by cofactors; none for a matrix without one.
#[inline]
#[must_use]
pub fn inverse(m: &Matrix) -> Option<Matrix> {
    let minor = |a: usize, b: usize, c: usize, d: usize| m[a][b] * m[c][d] - m[a][d] * m[c][b];
    let cofactors = [minor(1, 1, 2, 2), -minor(1, 0, 2, 2), minor(1, 0, 2, 1)];
    let determinant = dot(m[0], cofactors);
    if !(determinant.abs() > f64::MIN_POSITIVE && determinant.is_finite()) {
        return None;
    }
    let s = 1.0 / determinant;
    Some([
        [cofactors[0] * s, -minor(0, 1, 2, 2) * s, minor(0, 1, 1, 2) * s],
        [cofactors[1] * s, minor(0, 0, 2, 2) * s, -minor(0, 0, 1, 2) * s],
        [cofactors[2] * s, -minor(0, 0, 2, 1) * s, minor(0, 0, 1, 1) * s],
    ])
}

#[cfg(test)]
mod tests {
    use quantity::testing::assert_within;

    use super::*;

    #[test]
    fn verif_inverse_times_matrix_is_the_identity() {
        let m = [[2.0, -1.0, 0.5], [0.3, 4.0, -2.0], [1.5, 0.7, 3.0]];
        let back = product(&m, &inverse(&m).expect("regular"));
        for (row, cells) in back.iter().enumerate() {
            for (column, cell) in cells.iter().enumerate() {
                // Rounding of nine products of numbers near 1.
                assert_within("cell", *cell, f64::from(u8::from(row == column)), 1e-14);
            }
        }
        assert!(inverse(&[[1.0, 2.0, 3.0], [2.0, 4.0, 6.0], [0.0, 1.0, 1.0]]).is_none());
    }
}
