//! The root of a covariance (Cholesky), rows of a lower triangle. Too little to take in a library of matrices for.

#[derive(Debug, Clone, PartialEq)]
pub(super) struct Triangle(Vec<Vec<f64>>);

impl Triangle {
    /// Root of a symmetric matrix that is positive definite, given by its elements.
    pub(super) fn root(n: usize, of: impl Fn(usize, usize) -> f64) -> Self {
        let mut rows: Vec<Vec<f64>> = Vec::with_capacity(n);
        for i in 0..n {
            let mut row: Vec<f64> = Vec::with_capacity(i + 1);
            for (j, above) in rows.iter().enumerate() {
                row.push((of(i, j) - dot(&row, above)) / above[j]);
            }
            // Rounding could leave a hair under zero.
            row.push((of(i, i) - dot(&row, &row)).max(f64::MIN_POSITIVE).sqrt());
            rows.push(row);
        }
        Self(rows)
    }

    /// x of root · x = y.
    pub(super) fn forward(&self, y: &[f64]) -> Vec<f64> {
        let mut x: Vec<f64> = Vec::with_capacity(y.len());
        for (row, y) in self.0.iter().zip(y) {
            x.push((y - dot(row, &x)) / row[x.len()]);
        }
        x
    }

    /// x of matrix · x = y.
    pub(super) fn solve(&self, y: &[f64]) -> Vec<f64> {
        let mut x = self.forward(y);
        for (i, row) in self.0.iter().enumerate().rev() {
            x[i] /= row[i];
            let known = x[i];
            x.iter_mut().zip(&row[..i]).for_each(|(x, r)| *x -= r * known);
        }
        x
    }
}

/// Over as many elements as both have.
fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}
