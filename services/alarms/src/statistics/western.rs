//! The four zone tests of Western Electric.

/// What one side of the centre line remembers: bits of the last points, the newest lowest. Nothing more than the tests need,
/// so that the chart can be its own Markov chain ([`super::run_length::western_electric`]).
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Default)]
struct Half {
    beyond_two: u8,
    beyond_one: u8,
    run: u8,
}

/// The tests of the Western Electric Statistical Quality Control Handbook (1956) on readings as standard deviations from the
/// target, each on one side:
///
/// 1. one point beyond 3;
/// 2. two of three beyond 2;
/// 3. four of five beyond 1;
/// 4. eight in a row on one side of the target; a point on it breaks the row.
///
/// A test is reported at a point only if that point is itself beyond. Definitions as in Champ & Woodall 1987, Technometrics
/// 29:393-399.
///
/// ```
/// use alarms::statistics::WesternElectric;
/// let mut tests = WesternElectric::new([1, 2, 3, 4]);
/// assert!(tests.push(2.1).is_empty() && tests.push(0.3).is_empty());
/// assert_eq!(tests.push(2.3), [2]);
/// assert_eq!(tests.push(3.4), [1, 2]);
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct WesternElectric {
    on: [bool; 4],
    up: Half,
    down: Half,
}

impl WesternElectric {
    /// With some of the tests; numbers other than 1 to 4 are none of them.
    pub fn new(tests: impl IntoIterator<Item = u8>) -> Self {
        let mut on = [false; 4];
        for test in tests {
            if let Some(on) = usize::from(test).checked_sub(1).and_then(|i| on.get_mut(i)) {
                *on = true;
            }
        }
        Self { on, up: Half::default(), down: Half::default() }
    }

    /// Takes a point in and says which tests it fails, in order. One that is not finite is left out and fails none.
    pub fn push(&mut self, z: f64) -> Vec<u8> {
        if !z.is_finite() {
            return Vec::new();
        }
        let (up, down) = (self.up.step(z, self.on), self.down.step(-z, self.on));
        let failed = up.into_iter().zip(down).map(|(up, down)| up || down);
        (1..=4).zip(failed).filter(|(_, failed)| *failed).map(|(test, _)| test).collect()
    }
}

impl Half {
    /// `z` counts upwards on this side. Tests that are off leave no memory.
    fn step(&mut self, z: f64, on: [bool; 4]) -> [bool; 4] {
        let [_, two, three, four] = on;
        let (beyond_two, beyond_one) = (two && z > 2.0, three && z > 1.0);
        let failed = [
            on[0] && z > 3.0,
            beyond_two && self.beyond_two != 0,
            beyond_one && self.beyond_one.count_ones() >= 3,
            four && z > 0.0 && self.run >= 7,
        ];
        self.beyond_two = (self.beyond_two << 1 | u8::from(beyond_two)) & 0b11;
        self.beyond_one = (self.beyond_one << 1 | u8::from(beyond_one)) & 0b1111;
        self.run = if four && z > 0.0 { (self.run + 1).min(7) } else { 0 };
        failed
    }
}
