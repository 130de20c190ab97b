//! A chart as a Markov chain: where it may stand while it gives no signal, and how it gets from one place to another.

use super::legendre::places;
use super::normal::{below, density};
use super::solve::solve;

/// Readings after which a drift is no longer followed.
const LONGEST: u32 = 100_000;
/// A chain that has gone on with less than this chance has ended.
const OVER: f64 = 1e-12;

/// One side of a CUSUM, or both of an EWMA (which share one smoothed value).
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Moves {
    /// With slack.
    Cusum { k: f64 },
    /// With weight.
    Ewma { lambda: f64 },
}

/// A place of the rule; without a weight it is the heap at 0 to which a CUSUM falls.
#[derive(Debug, Clone, Copy)]
struct Place {
    at: f64,
    weight: Option<f64>,
}

#[derive(Debug, Clone)]
pub(super) struct Chain {
    moves: Moves,
    places: Vec<Place>,
}

impl Chain {
    /// With a limit in standard deviations of a reading, positive and finite.
    pub(super) fn new(moves: Moves, limit: f64) -> Self {
        // Places to a standard deviation of a step: more change nothing in the first eight figures.
        let (low, steps) = match moves {
            Moves::Cusum { .. } => (0.0, limit),
            Moves::Ewma { lambda } => (-limit, 2.0 * limit / lambda),
        };
        let n = (2.5 * steps).clamp(40.0, 500.0) as u32;
        let weighted = |(at, weight)| Place { at, weight: Some(weight) };
        let heap = matches!(moves, Moves::Cusum { .. }).then_some(Place { at: 0.0, weight: None });
        Self { moves, places: places(n, low, limit).into_iter().map(weighted).chain(heap).collect() }
    }

    /// Chance to get from somewhere to a place with a reading of this mean.
    fn chance(&self, from: f64, to: Place, mean: f64) -> f64 {
        match (self.moves, to.weight) {
            (Moves::Cusum { k }, None) => below(k - from - mean),
            (Moves::Cusum { k }, Some(weight)) => weight * density(to.at + k - from - mean),
            (Moves::Ewma { lambda }, weight) => {
                let reading = (to.at - (1.0 - lambda) * from) / lambda;
                weight.unwrap_or_default() / lambda * density(reading - mean)
            }
        }
    }

    /// Readings to a signal from each of these starts, if all have the same mean.
    pub(super) fn steady(&self, starts: [f64; 2], mean: f64) -> Option<[f64; 2]> {
        let row = |(i, from): (usize, &Place)| {
            let stays = self.places.iter().enumerate().map(|(j, to)| {
                let own = if i == j { 1.0 } else { 0.0 };
                own - self.chance(from.at, *to, mean)
            });
            stays.chain([1.0]).collect()
        };
        let ahead = solve(self.places.iter().enumerate().map(row).collect())?;
        let after = |start| -> f64 {
            self.places.iter().zip(&ahead).map(|(to, n)| self.chance(start, *to, mean) * n).sum()
        };
        Some(starts.map(|start| 1.0 + after(start)))
    }

    /// Readings to a signal from here, if the n-th has mean `mean(n)`, n from 0. `None` if it takes too long.
    pub(super) fn moving(&self, start: f64, mean: impl Fn(u32) -> f64) -> Option<f64> {
        let mut standing: Vec<f64> = self.places.iter().map(|to| self.chance(start, *to, mean(0))).collect();
        let mut length = 1.0;
        for n in 1..LONGEST {
            let quiet: f64 = standing.iter().sum();
            if quiet < OVER {
                return Some(length);
            }
            length += quiet;
            let mean = mean(n);
            let from = || self.places.iter().zip(&standing);
            let comes = |to: &Place| from().map(|(from, p)| p * self.chance(from.at, *to, mean)).sum();
            standing = self.places.iter().map(comes).collect();
        }
        None
    }
}
