//! How long to wait between tries.

use std::time::Duration;

/// Waits in seconds after the first, second … failed try: short at first, since somebody may be asleep. After the last
/// one, about a day after the first try, the item is given up.
const WAITS: [u64; 12] = [2, 5, 15, 60, 120, 300, 900, 1_800, 3_600, 7_200, 28_800, 43_200];

/// When to try again after `tries` failed tries; `None` to give up.
///
/// ```
/// use std::time::Duration;
/// assert_eq!(notify::next_try(1), Some(Duration::from_secs(2)));
/// assert_eq!(notify::next_try(13), None);
/// ```
pub fn next_try(tries: u32) -> Option<Duration> {
    let place = usize::try_from(tries.max(1) - 1).ok()?;
    WAITS.get(place).map(|s| Duration::from_secs(*s))
}
