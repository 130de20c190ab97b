//! Nelson's eight tests.

use super::WesternElectric;

/// Nelson's tests for special causes, on readings as standard deviations from the target:
///
/// 1. one point beyond 3;
/// 2. nine in a row on one side of the target;
/// 3. six in a row that rise, or fall; a tie breaks the row;
/// 4. fourteen in a row that go up and down by turns;
/// 5. two of three beyond 2 on one side;
/// 6. four of five beyond 1 on one side;
/// 7. fifteen in a row within 1, on whichever side: limits too wide, or a probe that is stuck;
/// 8. eight in a row beyond 1, on whichever side.
///
/// Source: Nelson 1984, J. Quality Technology 16:237-239 (from memory).
///
/// ```
/// use alarms::statistics::Nelson;
/// let mut tests = Nelson::default();
/// let said: Vec<_> = [-0.5, -0.3, -0.1, 0.1, 0.4, 0.8].into_iter().map(|z| tests.push(z)).collect();
/// assert_eq!(said[5], [3]);
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Nelson {
    zones: WesternElectric,
    last: Option<f64>,
    /// Which way the last step went: −1, 0, 1.
    step: i8,
    /// Points in a row, up to the newest.
    one_side: Run,
    same_way: Run,
    by_turns: Run,
    within: Run,
    outside: Run,
}

/// A count of points in a row.
type Run = u8;

impl Default for Nelson {
    fn default() -> Self {
        let zones = WesternElectric::new([1, 2, 3]);
        Self { zones, last: None, step: 0, one_side: 0, same_way: 0, by_turns: 0, within: 0, outside: 0 }
    }
}

impl Nelson {
    /// Takes a point in and says which tests it fails, in order. One that is not finite is left out and fails none.
    pub fn push(&mut self, z: f64) -> Vec<u8> {
        if !z.is_finite() {
            return Vec::new();
        }
        self.count(z);
        let zones = self.zones.push(z);
        let zone = |test| zones.contains(&test);
        let failed = [
            zone(1),
            self.one_side >= 9,
            self.same_way >= 6,
            self.by_turns >= 14,
            zone(2),
            zone(3),
            self.within >= 15,
            self.outside >= 8,
        ];
        (1..=8).zip(failed).filter(|(_, failed)| *failed).map(|(test, _)| test).collect()
    }

    fn count(&mut self, z: f64) {
        let last = self.last.replace(z);
        let step = last.map_or(0, |last| i8::from(z > last) - i8::from(z < last));
        let same_side = last.is_none_or(|last| last * z > 0.0);
        self.one_side = longer(self.one_side, same_side, Run::from(z != 0.0));
        // A step joins two points: the first of a row of steps makes two.
        let fresh = if step == 0 { 1 } else { 2 };
        self.same_way = longer(self.same_way, step != 0 && step == self.step, fresh);
        self.by_turns = longer(self.by_turns, step != 0 && step == -self.step, fresh);
        self.within = longer(self.within, z.abs() <= 1.0, 0);
        self.outside = longer(self.outside, z.abs() > 1.0, 0);
        self.step = step;
    }
}

/// A row that goes on, or begins anew.
fn longer(run: Run, goes_on: bool, fresh: Run) -> Run {
    if goes_on { run.saturating_add(1) } else { fresh }
}
