//! A Hampel identifier (Hampel 1974, JASA 69:383) over the newest values of a probe, this one included. It looks at what
//! came in, outliers too, so that a lasting change is believed once half the values show it.

use crate::Outliers;
use std::collections::VecDeque;

/// Turns a median absolute deviation into a standard deviation: 1 / Φ⁻¹(3/4).
const CONSISTENT: f64 = 1.482_602_218_505_602;
/// Floor of the spread, as a part of the median: a probe that repeats one number has a spread of its resolution, not of
/// nought. A planning value.
const LEAST_SPREAD: f64 = 1e-3;

/// The newest values of one probe.
#[derive(Debug, Default)]
pub(super) struct Recent(VecDeque<f64>);

impl Recent {
    /// Takes a value in and says whether it lies outside; `None` while there are too few to tell.
    pub(super) fn is_outlier(&mut self, value: f64, rule: Outliers) -> Option<bool> {
        self.0.push_back(value);
        while self.0.len() > rule.of {
            self.0.pop_front();
        }
        (self.0.len() == rule.of).then(|| {
            let (median, spread) = centre(self.0.iter().copied());
            let least = (median.abs() * LEAST_SPREAD).max(f64::MIN_POSITIVE);
            (value - median).abs() > rule.beyond * spread.max(least)
        })
    }
}

/// Median, and median absolute deviation as a standard deviation.
fn centre(values: impl Iterator<Item = f64> + Clone) -> (f64, f64) {
    let middle = median(values.clone());
    (middle, CONSISTENT * median(values.map(|x| (x - middle).abs())))
}

fn median(values: impl Iterator<Item = f64>) -> f64 {
    let mut sorted: Vec<f64> = values.collect();
    sorted.sort_by(f64::total_cmp);
    let half = sorted.len() / 2;
    match (sorted.len() % 2, sorted.get(half.wrapping_sub(1)), sorted.get(half)) {
        (1, _, Some(x)) => *x,
        (_, Some(a), Some(b)) => f64::midpoint(*a, *b),
        _ => 0.0,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::Value;

    fn cases() -> Vec<Value> {
        let all: Vec<Value> = serde_json::from_str(include_str!("../../tests/standards.json")).unwrap();
        all.into_iter().filter(|c| c["area"] == "robust").collect()
    }

    fn numbers(v: &Value) -> Vec<f64> {
        v.as_array().unwrap().iter().map(|x| x.as_f64().unwrap()).collect()
    }

    #[test]
    fn median_and_spread_agree_with_scipy() {
        let cases = cases();
        let constant = cases.iter().find(|c| c["name"] == "MAD consistency constant").unwrap();
        assert!((constant["expected"].as_f64().unwrap() - CONSISTENT).abs() < 1e-12);
        let mut tried = 0;
        for c in cases.iter().filter(|c| c["name"].as_str().unwrap().starts_with("median and MAD")) {
            let (middle, spread) = centre(numbers(&c["input"]["x"]).into_iter());
            assert!((middle - c["expected"]["median"].as_f64().unwrap()).abs() < 1e-9, "{}", c["name"]);
            assert!((spread - c["expected"]["scaled"].as_f64().unwrap()).abs() < 1e-9, "{}", c["name"]);
            tried += 1;
        }
        assert_eq!(tried, 3);
    }

    /// The published rows use a centred window; the same window with its middle value put last asks the same question.
    #[test]
    fn outliers_are_those_of_the_worked_example() {
        let cases = cases();
        let c = cases.iter().find(|c| c["name"].as_str().unwrap().starts_with("Hampel filter")).unwrap();
        let (x, rows) = (numbers(&c["input"]["x"]), c["expected"]["rows"].as_array().unwrap());
        for i in 3..x.len() - 3 {
            let mut recent = Recent::default();
            let others = (i - 3..=i + 3).filter(|j| *j != i);
            let rule = Outliers { of: 7, beyond: 3.0 };
            for j in others {
                assert_eq!(recent.is_outlier(x[j], rule), None);
            }
            assert_eq!(recent.is_outlier(x[i], rule), rows[i][4].as_bool(), "row {i}");
        }
    }

    #[test]
    fn a_lasting_change_is_believed_after_half_the_values() {
        let (mut recent, rule) = (Recent::default(), Outliers { of: 5, beyond: 3.0 });
        let said: Vec<Option<bool>> = [1.0, 1.01, 0.99, 1.0, 2.0, 2.01, 2.0, 2.02]
            .into_iter()
            .map(|x| recent.is_outlier(x, rule))
            .collect();
        assert_eq!(said[4..], [Some(true), Some(true), Some(false), Some(false)]);
    }
}
