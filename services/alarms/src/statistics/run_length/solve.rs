//! Linear equations.

/// x of A · x = b by elimination with the largest pivot. Rows are those of A with the element of b behind. `None` if there
/// is no single solution.
pub(super) fn solve(mut rows: Vec<Vec<f64>>) -> Option<Vec<f64>> {
    let n = rows.len();
    if rows.iter().any(|row| row.len() != n + 1) {
        return None;
    }
    for column in 0..n {
        let largest = (column..n).max_by(|a, b| rows[*a][column].abs().total_cmp(&rows[*b][column].abs()))?;
        rows.swap(column, largest);
        let (done, rest) = rows.split_at_mut(column + 1);
        let top = done.last()?;
        if top[column] == 0.0 || !top[column].is_finite() {
            return None;
        }
        for row in rest {
            let share = row[column] / top[column];
            row.iter_mut().zip(top).skip(column).for_each(|(x, t)| *x -= share * t);
        }
    }
    let mut x = vec![0.0; n];
    for (i, row) in rows.iter().enumerate().rev() {
        let known: f64 = row.iter().zip(&x).skip(i + 1).map(|(a, x)| a * x).sum();
        x[i] = (row[n] - known) / row[i];
    }
    Some(x)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn by_hand() {
        // y = 2, x + y = 5; a zero on the diagonal.
        assert_eq!(solve(vec![vec![0.0, 1.0, 2.0], vec![1.0, 1.0, 5.0]]), Some(vec![3.0, 2.0]));
        assert_eq!(solve(vec![vec![1.0, 1.0, 2.0], vec![2.0, 2.0, 5.0]]), None);
        assert_eq!(solve(vec![vec![1.0, 1.0]; 2]), None);
    }
}
