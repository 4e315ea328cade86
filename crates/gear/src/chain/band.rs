//! A banded system of linear equations, solved by elimination with row exchange within the band (Golub & Van Loan,
//! *Matrix Computations*, 4th ed. 2013, section 4.3; SOURCE NOT CHECKED in wording).

/// A square matrix that is zero beyond `HALF` places either side of its diagonal; row exchange fills `HALF` more to the right.
pub(super) struct Band {
    size: usize,
    cells: Vec<f64>,
}

/// Places beside the diagonal that the chain's equations reach: from the first coordinate of a node to the last of the next.
const HALF: usize = 6;
const WIDTH: usize = 3 * HALF + 1;

impl Band {
    pub(super) fn new(size: usize) -> Self {
        Self { size, cells: vec![0.0; size * WIDTH] }
    }

    pub(super) fn clear(&mut self) {
        self.cells.fill(0.0);
    }

    #[inline]
    pub(super) fn add(&mut self, row: usize, column: usize, value: f64) {
        self.cells[row * WIDTH + column + HALF - row] += value;
    }

    /// Adds a block of three by three, cell by cell.
    #[inline]
    pub(super) fn add_block(&mut self, row: usize, column: usize, cell: impl Fn(usize, usize) -> f64) {
        for i in 0..3 {
            for j in 0..3 {
                self.add(row + i, column + j, cell(i, j));
            }
        }
    }

    /// Solves in place: `right` becomes the answer, the matrix is used up. None for a matrix without a solution.
    pub(super) fn solve(&mut self, right: &mut [f64]) -> Option<()> {
        let size = self.size;
        for pivot in 0..size {
            let last_row = (pivot + HALF).min(size - 1);
            let best = (pivot..=last_row)
                .max_by(|a, b| self.cell(*a, pivot).abs().total_cmp(&self.cell(*b, pivot).abs()))
                .unwrap_or(pivot);
            let reach = (pivot + 2 * HALF).min(size - 1);
            if best != pivot {
                for column in pivot..=reach {
                    self.cells.swap(pivot * WIDTH + column + HALF - pivot, best * WIDTH + column + HALF - best);
                }
                right.swap(pivot, best);
            }
            let head = self.cell(pivot, pivot);
            if !(head.abs() > 1e-300 && head.is_finite()) {
                return None;
            }
            let count = reach - pivot;
            for row in pivot + 1..=last_row {
                let at = row * WIDTH + pivot + HALF - row;
                let factor = self.cells[at] / head;
                if factor == 0.0 {
                    continue;
                }
                let (above, below) = self.cells.split_at_mut(row * WIDTH);
                let source = &above[pivot * WIDTH + HALF + 1..][..count];
                let target = &mut below[pivot + HALF - row + 1..][..count];
                for (cell, value) in target.iter_mut().zip(source) {
                    *cell -= factor * value;
                }
                right[row] -= factor * right[pivot];
            }
        }
        for row in (0..size).rev() {
            let reach = (row + 2 * HALF).min(size - 1);
            let sum: f64 = (row + 1..=reach).map(|column| self.cell(row, column) * right[column]).sum();
            right[row] = (right[row] - sum) / self.cell(row, row);
        }
        right.iter().all(|value| value.is_finite()).then_some(())
    }

    #[inline]
    fn cell(&self, row: usize, column: usize) -> f64 {
        self.cells[row * WIDTH + column + HALF - row]
    }
}

#[cfg(test)]
mod tests {
    use quantity::testing::assert_within;

    use super::*;

    #[test]
    fn verif_a_banded_system_with_empty_diagonal_cells_gives_back_its_answer() {
        // A saddle-point pattern: every fourth diagonal cell is zero, so rows must be exchanged.
        let size = 41;
        let value = |row: usize, column: usize| {
            if row == column && row.is_multiple_of(4) { 0.0 } else { ((row * 7 + column * 13) % 17) as f64 - 6.5 }
        };
        let wanted: Vec<f64> = (0..size).map(|at| (at as f64 * 0.7).sin() * 10.0).collect();
        let mut band = Band::new(size);
        let mut right = vec![0.0; size];
        for (row, sum) in right.iter_mut().enumerate() {
            for (column, unknown) in wanted.iter().enumerate().filter(|(column, _)| row.abs_diff(*column) <= HALF) {
                band.add(row, column, value(row, column));
                *sum += value(row, column) * unknown;
            }
        }
        band.solve(&mut right).expect("regular");
        for (ours, theirs) in right.iter().zip(&wanted) {
            // Rounding, times the condition number of this matrix (some 1e3).
            assert_within("unknown", *ours, *theirs, 1e-10);
        }
        assert!(Band::new(5).solve(&mut [1.0; 5]).is_none());
    }
}
