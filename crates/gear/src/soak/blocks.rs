//! Block-tridiagonal equations with blocks of 3 × 3: one block row for each float of a line.

use crate::vector::{Matrix, Vector, inverse, plus, product, times};

/// One block row: left · x₋₁ + own · x + right · x₊₁ = known.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Row {
    pub left: Matrix,
    pub own: Matrix,
    pub right: Matrix,
    pub known: Vector,
}

/// Solves in place by elimination from the first row on; the answers come back in `known`. None for a singular block.
pub(super) fn solve(rows: &mut [Row]) -> Option<()> {
    for index in 0..rows.len() {
        if index > 0 {
            let above = rows[index - 1];
            let row = &mut rows[index];
            // The row above holds 1 · x₋₁ + right · x = known.
            let taken = product(&row.left, &above.right);
            for (own, taken) in row.own.iter_mut().zip(&taken) {
                *own = plus(*own, -1.0, *taken);
            }
            row.known = plus(row.known, -1.0, times(&row.left, above.known));
        }
        let row = &mut rows[index];
        let back = inverse(&row.own)?;
        row.right = product(&back, &row.right);
        row.known = times(&back, row.known);
    }
    for index in (0..rows.len().saturating_sub(1)).rev() {
        let next = rows[index + 1].known;
        let row = &mut rows[index];
        row.known = plus(row.known, -1.0, times(&row.right, next));
    }
    Some(())
}

#[cfg(test)]
mod tests {
    use quantity::testing::assert_within;

    use super::*;

    #[test]
    fn verif_the_answers_satisfy_every_row() {
        let block = |seed: f64, on: f64| {
            let mut block = [[0.0; 3]; 3];
            for (i, row) in block.iter_mut().enumerate() {
                for (j, cell) in row.iter_mut().enumerate() {
                    *cell = (seed + 1.7 * i as f64 - 0.9 * j as f64).sin() + if i == j { on } else { 0.0 };
                }
            }
            block
        };
        let rows: Vec<Row> = (0..6)
            .map(|n| {
                let n = f64::from(n);
                Row { left: block(n, 0.0), own: block(2.0 * n, 6.0), right: block(3.0 * n, 0.0), known: [n, 1.0, -n] }
            })
            .collect();
        let mut solved = rows.clone();
        solve(&mut solved).expect("regular");
        for (index, row) in rows.iter().enumerate() {
            let mut left = times(&row.own, solved[index].known);
            if index > 0 {
                left = plus(left, 1.0, times(&row.left, solved[index - 1].known));
            }
            if index + 1 < rows.len() {
                left = plus(left, 1.0, times(&row.right, solved[index + 1].known));
            }
            for axis in 0..3 {
                // Rounding of some twenty products of numbers below 10.
                assert_within("row", left[axis], row.known[axis], 1e-12);
            }
        }
    }
}
