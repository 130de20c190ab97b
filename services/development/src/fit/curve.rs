//! A rising curve of the rate through the observations: monotone cubic pieces.

use super::Observation;
use serde::Serialize;

/// The curve by its knots.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CurveFit {
    /// Temperatures in order, °C.
    pub celsius: Vec<f64>,
    /// Rate at each, 1/d; it never falls.
    pub per_day: Vec<f64>,
    #[serde(skip)]
    slopes: Vec<f64>,
}

/// Rates of one temperature are averaged; where a warmer one is slower, both take their mean until none is (pooled
/// adjacent violators). Pieces follow Fritsch & Carlson 1980 (from memory): no piece swings over its ends. `None` when
/// the rate does not rise at all.
pub(super) fn fit(observations: &[Observation]) -> Option<CurveFit> {
    let mut blocks: Vec<(f64, f64, f64)> = Vec::new(); // celsius, rate, how many
    for t in super::temperatures(observations) {
        let here: Vec<f64> = observations.iter().filter(|o| o.celsius == t).map(|o| 1.0 / o.days).collect();
        let n = here.len() as f64;
        blocks.push((t, here.iter().sum::<f64>() / n, n));
    }
    let per_day = rising(&blocks);
    let celsius: Vec<f64> = blocks.iter().map(|b| b.0).collect();
    if celsius.len() < 2 || per_day.last() <= per_day.first() {
        return None;
    }
    let slopes = slopes(&celsius, &per_day);
    Some(CurveFit { celsius, per_day, slopes })
}

fn rising(blocks: &[(f64, f64, f64)]) -> Vec<f64> {
    let mut pools: Vec<(f64, f64, usize)> = Vec::new(); // mean, weight, members
    for (_, rate, n) in blocks {
        pools.push((*rate, *n, 1));
        while let [.., before, last] = pools[..]
            && before.0 > last.0
        {
            let weight = before.1 + last.1;
            let mean = (before.0 * before.1 + last.0 * last.1) / weight;
            pools.truncate(pools.len() - 2);
            pools.push((mean, weight, before.2 + last.2));
        }
    }
    pools.into_iter().flat_map(|(mean, _, members)| std::iter::repeat_n(mean, members)).collect()
}

fn slopes(x: &[f64], y: &[f64]) -> Vec<f64> {
    let secants: Vec<f64> = (1..x.len()).map(|i| (y[i] - y[i - 1]) / (x[i] - x[i - 1])).collect();
    let last = secants.len() - 1;
    let mut m: Vec<f64> = (0..x.len())
        .map(|i| match i {
            0 => secants[0],
            i if i > last => secants[last],
            i => 0.5 * (secants[i - 1] + secants[i]),
        })
        .collect();
    for (i, d) in secants.iter().enumerate() {
        if *d <= 0.0 {
            (m[i], m[i + 1]) = (0.0, 0.0);
            continue;
        }
        let (a, b) = (m[i] / d, m[i + 1] / d);
        let long = (a * a + b * b).sqrt();
        if long > 3.0 {
            (m[i], m[i + 1]) = (3.0 * a / long * d, 3.0 * b / long * d);
        }
    }
    m
}

impl CurveFit {
    /// Rate at a temperature, 1/d; beyond the ends straight on, and never under 0.
    pub fn rate(&self, t: f64) -> f64 {
        let (x, y, m) = (&self.celsius, &self.per_day, &self.slopes);
        let last = x.len() - 1;
        if t <= x[0] {
            return (y[0] + m[0] * (t - x[0])).max(0.0);
        }
        if t >= x[last] {
            return y[last] + m[last] * (t - x[last]);
        }
        let i = x.partition_point(|k| *k <= t) - 1;
        let h = x[i + 1] - x[i];
        let s = (t - x[i]) / h;
        let (s2, s3) = (s * s, s * s * s);
        (2.0 * s3 - 3.0 * s2 + 1.0) * y[i]
            + (s3 - 2.0 * s2 + s) * h * m[i]
            + (3.0 * s2 - 2.0 * s3) * y[i + 1]
            + (s3 - s2) * h * m[i + 1]
    }

    /// Days at a temperature; `None` where nothing develops.
    pub fn days(&self, celsius: f64) -> Option<f64> {
        let rate = self.rate(celsius);
        (rate > 0.0).then(|| 1.0 / rate)
    }
}
