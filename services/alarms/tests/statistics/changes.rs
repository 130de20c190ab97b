//! Change points against trying everything.

use alarms::statistics::change_points;
use proptest::prelude::*;

proptest! {
    /// Every parting of a short series, one by one.
    #[test]
    fn change_points_are_the_best_of_all(series in proptest::collection::vec(-3i32..3, 2..11), penalty in 0.1..5.0) {
        let series: Vec<f64> = series.into_iter().map(f64::from).collect();
        let (n, least) = (series.len(), 2);
        let cost = |changes: &[usize]| -> Option<f64> {
            let borders = [&[0], changes, &[n]].concat();
            let part = |pair: &[usize]| {
                let part = &series[pair[0]..pair[1]];
                let mean = part.iter().sum::<f64>() / part.len() as f64;
                (part.len() >= least).then(|| part.iter().map(|x| (x - mean).powi(2)).sum::<f64>() + penalty)
            };
            borders.windows(2).map(part).sum()
        };
        let partings = (0..1u32 << (n - 1)).map(|bits| (1..n).filter(|i| bits >> (i - 1) & 1 == 1).collect());
        let best = partings.filter_map(|parting: Vec<usize>| cost(&parting)).min_by(f64::total_cmp).unwrap();
        let found = cost(&change_points(&series, penalty, least).unwrap()).unwrap();
        prop_assert!((found - best).abs() < 1e-9, "{found} is not {best}");
    }
}
