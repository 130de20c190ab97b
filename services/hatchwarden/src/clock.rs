//! The one place where the clock is read.

use tokio::time::{Duration, Instant};
use units::{Span, Time};

/// Wall clock of the service; the demo may let it run faster.
#[derive(Debug, Clone, Copy)]
pub struct Clock {
    started: Instant,
    at: Time,
    speed: f64,
}

impl Clock {
    /// The machine's own clock.
    pub fn real() -> Self {
        Self { started: Instant::now(), at: system_now(), speed: 1.0 }
    }

    /// Starts at the machine's time and runs `speed` times as fast. Not finite or not positive counts as 1.
    pub fn faster(speed: f64) -> Self {
        let speed = if speed.is_finite() && speed > 0.0 { speed } else { 1.0 };
        Self { speed, ..Self::real() }
    }

    /// Now.
    pub fn now(&self) -> Time {
        if self.speed == 1.0 {
            return system_now(); // follows the machine when its clock is set
        }
        self.at + Span::from_millis((self.started.elapsed().as_secs_f64() * 1000.0 * self.speed) as i64)
    }

    /// How long to wait on the machine until `due`.
    pub fn until(&self, due: Time) -> Duration {
        let ms = (due - self.now()).millis().max(0) as f64 / self.speed;
        Duration::from_millis(ms.ceil() as u64)
    }

    /// Seconds since 1970, for signatures: receivers compare them with their own clock.
    pub fn unix_seconds() -> i64 {
        system_now().millis().div_euclid(1000)
    }
}

#[expect(clippy::disallowed_methods, reason = "the one place where the clock is read")]
fn system_now() -> Time {
    let since = std::time::SystemTime::now().duration_since(std::time::UNIX_EPOCH);
    // A machine that believes to be before 1970 is taken to be at its beginning.
    Time::from_millis(since.map_or(0, |d| i64::try_from(d.as_millis()).unwrap_or(i64::MAX)))
}
