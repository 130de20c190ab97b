//! ADWIN: a window that grows while its halves agree and is cut when they do not.

use super::Way;
use std::collections::VecDeque;

/// Parts of one size that are kept before the two oldest become one of twice the size.
const PARTS: usize = 5;
/// The window is looked at after every so many readings.
const CLOCK: u64 = 32;
/// Neither half of a cut is shorter.
const LEAST: f64 = 5.0;
/// A window as short as this is not looked at.
const GRACE: f64 = 10.0;

/// An adaptive window: when the means of its older and its newer readings differ by more than chance allows, the older
/// ones are dropped. Source: Bifet & Gavaldà 2007, Learning from time-changing data with adaptive windowing, SIAM SDM, with
/// the bound and the constants of the Python library river 0.26.1 (clock 32, 5 parts, halves of 5, grace 10; read). Two
/// things differ: river leaves the newest part of each size out of its cuts, and begins anew after a change, for which
/// there is [`Adwin::restart`] here.
///
/// It needs no target and no sigma. Memory grows with the logarithm of the window.
///
/// ```
/// use alarms::statistics::{Adwin, Way};
/// let mut window = Adwin::new(0.002).unwrap();
/// let air = (0..400).map(|i| if i < 200 { 3.0 } else { 1.0 } + 0.01 * f64::from(i % 3));
/// let found = air.map(|x| window.push(x)).position(|way| way == Some(Way::Down));
/// assert_eq!(found, Some(223));
/// assert_eq!(window.len(), 40); // those from before are gone but for 16
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct Adwin {
    delta: f64,
    seen: u64,
    /// From old to new, so from large to small.
    parts: VecDeque<Part>,
}

/// Some readings in a row.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
struct Part {
    n: f64,
    mean: f64,
    squares: f64,
}

impl Part {
    /// Both together (Chan, Golub & LeVeque 1979).
    fn and(self, other: Self) -> Self {
        let n = self.n + other.n;
        if n == 0.0 {
            return self;
        }
        let off = other.mean - self.mean;
        let squares = self.squares + other.squares + off * off * self.n * other.n / n;
        Self { n, mean: self.mean + off * other.n / n, squares }
    }
}

impl Adwin {
    /// `delta` is the risk of a false cut, above 0 and below 1; `None` for another.
    pub fn new(delta: f64) -> Option<Self> {
        (delta > 0.0 && delta < 1.0).then(|| Self { delta, seen: 0, parts: VecDeque::new() })
    }

    /// Takes a reading in; says which way the newer readings are off if the window has just been cut. One that is not finite
    /// is left out.
    pub fn push(&mut self, x: f64) -> Option<Way> {
        if !x.is_finite() {
            return None;
        }
        self.seen += 1;
        self.parts.push_back(Part { n: 1.0, mean: x, squares: 0.0 });
        self.merge();
        if !self.seen.is_multiple_of(CLOCK) {
            return None;
        }
        let mut found = None;
        while let Some(way) = self.split() {
            found = Some(way);
            self.parts.pop_front();
        }
        found
    }

    /// Begins anew, with an empty window.
    pub fn restart(&mut self) {
        (self.seen, self.parts) = (0, VecDeque::new());
    }

    /// Readings in the window.
    pub fn len(&self) -> u64 {
        self.whole().n as u64
    }

    /// Whether there are none.
    pub fn is_empty(&self) -> bool {
        self.parts.is_empty()
    }

    /// Mean of the window; `None` while it is empty.
    pub fn mean(&self) -> Option<f64> {
        (!self.is_empty()).then(|| self.whole().mean)
    }

    fn whole(&self) -> Part {
        self.parts.iter().fold(Part::default(), |all, part| all.and(*part))
    }

    /// The two oldest of a size become one where there are too many, which may be too many of the next size then.
    fn merge(&mut self) {
        let mut size = 1.0;
        loop {
            let first = self.parts.iter().position(|p| p.n == size);
            let many = self.parts.iter().filter(|p| p.n == size).count() > PARTS;
            let Some(first) = first.filter(|_| many) else { return };
            if let (Some(newer), Some(older)) = (self.parts.remove(first + 1), self.parts.get_mut(first)) {
                *older = older.and(newer);
            }
            size *= 2.0;
        }
    }

    /// Which way the newer half is off at the first place where the halves differ.
    fn split(&self) -> Option<Way> {
        let all = self.whole();
        if all.n <= GRACE {
            return None;
        }
        let chance = (2.0 * all.n.ln() / self.delta).ln();
        let mut older = Part::default();
        for part in &self.parts {
            older = older.and(*part);
            let n = all.n - older.n;
            if n < LEAST {
                return None;
            }
            let off = (all.mean * all.n - older.mean * older.n) / n - older.mean;
            let per = 1.0 / (older.n - LEAST + 1.0) + 1.0 / (n - LEAST + 1.0);
            let most = (2.0 * per * all.squares / all.n * chance).sqrt() + 2.0 / 3.0 * chance * per;
            if older.n >= LEAST && off.abs() > most {
                return Some(if off > 0.0 { Way::Up } else { Way::Down });
            }
        }
        None
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Without a change it remembers all, in few parts: five of each size, and a sixth for a moment.
    #[test]
    fn ten_thousand_readings_in_few_parts() {
        let mut window = Adwin::new(0.002).unwrap();
        for i in 0..10_000 {
            assert_eq!(window.push(f64::from(i % 7)), None);
        }
        assert_eq!(window.len(), 10_000);
        assert!((window.mean().unwrap() - 3.0).abs() < 0.001);
        let largest = window.parts.front().unwrap().n;
        assert!(
            (512.0..=4096.0).contains(&largest) && window.parts.len() <= 5 * 13,
            "{}",
            window.parts.len()
        );
        let spread = window.whole().squares / 10_000.0;
        assert!((spread - 4.0).abs() < 0.002, "{spread}"); // of 0 to 6, each as often: 4
    }
}
