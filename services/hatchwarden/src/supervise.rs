//! What the service says of itself to whoever watches over it: the init system, by its socket.

use sd_notify::NotifyState;
use std::time::Duration;
use tokio::sync::watch;
use tokio::time::{MissedTickBehavior, interval};

/// Says something, if there is anybody to hear it.
pub(crate) fn say(states: &[NotifyState<'_>]) {
    if let Err(error) = sd_notify::notify(states) {
        tracing::warn!(%error, "the init system could not be told how the service is");
    }
}

/// Within which span the init system wants a sign of life, if it does.
pub(crate) fn wanted() -> Option<Duration> {
    sd_notify::watchdog_enabled()
}

/// A sign of life three times in each span, as long as `answers` says that the loop that does the work goes round. Without
/// one the init system ends the service and starts it again.
pub(crate) async fn watchdog<A: Future<Output = bool>>(
    span: Duration,
    answers: impl Fn() -> A,
    tell: impl Fn(),
    mut stop: watch::Receiver<bool>,
) {
    let mut beats = interval(span / 3);
    beats.set_missed_tick_behavior(MissedTickBehavior::Delay);
    loop {
        tokio::select! {
            biased;
            _ = stop.wait_for(|s| *s) => return,
            _ = beats.tick() => {}
        }
        if answers().await {
            tell();
        } else {
            tracing::error!(
                "the engine does not answer; the init system is told nothing, and will end the service"
            );
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::cell::Cell;
    use tokio::time::{Instant, sleep};

    /// Signs of life within some time, on a clock that is moved by the test.
    async fn signs(within: Duration, answers: impl Fn() -> bool) -> u32 {
        let (stop, stopped) = watch::channel(false);
        let told = Cell::new(0);
        let work = watchdog(
            Duration::from_secs(30),
            || {
                let answer = answers();
                async move { answer }
            },
            || told.set(told.get() + 1),
            stopped,
        );
        tokio::select! {
            () = work => {}
            () = sleep(within) => { stop.send_replace(true); }
        }
        told.get()
    }

    #[tokio::test(start_paused = true)]
    async fn three_in_each_span_while_the_engine_answers_and_none_after() {
        assert_eq!(signs(Duration::from_secs(299), || true).await, 30);
        let start = Instant::now();
        assert_eq!(signs(Duration::from_secs(299), || start.elapsed() < Duration::from_secs(95)).await, 10);
        assert_eq!(signs(Duration::from_secs(299), || false).await, 0);
    }
}
