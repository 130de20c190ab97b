//! An eye on another service, which cannot say itself that it is dead.

use crate::endpoint::{Endpoint, EndpointError};
use std::fmt;
use std::time::Duration;
use tokio::sync::watch;
use tokio::time::{MissedTickBehavior, interval};

/// Failures in a row after which a service counts as silent: a restart or a lost packet is no reason to wake somebody.
/// A planning value.
const MISSES: u32 = 3;

/// Which address is asked for life, and how often.
pub struct Watcher {
    endpoint: Endpoint,
    every: Duration,
    misses: u32,
}

impl Watcher {
    /// Asks this address this often; after three failures in a row the service counts as silent.
    ///
    /// # Errors
    /// [`EndpointError`] naming the address and the cure.
    pub fn new(url: &str, every: Duration) -> Result<Self, EndpointError> {
        Ok(Self { endpoint: Endpoint::new(url)?, every, misses: MISSES })
    }

    /// After that many failures in a row instead, at least one.
    #[must_use]
    pub fn silent_after(self, misses: u32) -> Self {
        Self { misses: misses.max(1), ..self }
    }

    /// Asks until `stop` is set or gone. Any answer of the 200s within ten seconds is life. Tells the reason when the service falls
    /// silent, and `None` at its first sign of life: after a silence, and once after the start, since a silence from
    /// before may still be believed in.
    pub async fn run(self, tell: impl Fn(Option<String>), mut stop: watch::Receiver<bool>) {
        let mut ticks = interval(self.every);
        ticks.set_missed_tick_behavior(MissedTickBehavior::Delay);
        let mut seen = Seen::default();
        loop {
            tokio::select! {
                biased;
                _ = stop.wait_for(|s| *s) => return,
                _ = ticks.tick() => {}
            }
            let asked = tokio::select! {
                biased;
                _ = stop.wait_for(|s| *s) => return,
                asked = self.ask() => asked,
            };
            if let Some(news) = seen.note(asked, self.misses) {
                self.log(news.as_deref());
                tell(news);
            }
        }
    }

    async fn ask(&self) -> Result<(), String> {
        let Endpoint { client, url, .. } = &self.endpoint;
        self.endpoint.agrees(client.get(url.clone())).await
    }

    fn log(&self, silent: Option<&str>) {
        let at = &self.endpoint.at;
        match silent {
            Some(reason) => tracing::warn!(%at, reason, "a watched service is silent"),
            None => tracing::info!(%at, "a watched service shows life"),
        }
    }
}

impl fmt::Debug for Watcher {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Watcher")
            .field("at", &self.endpoint.at)
            .field("every", &self.every)
            .field("misses", &self.misses)
            .finish()
    }
}

/// What was seen of a service.
#[derive(Default)]
struct Seen {
    missed: u32,
    /// What was told last.
    alive: Option<bool>,
}

impl Seen {
    /// Takes an answer down; what there is to tell, if anything.
    fn note(&mut self, asked: Result<(), String>, misses: u32) -> Option<Option<String>> {
        let news = match asked {
            Ok(()) => {
                self.missed = 0;
                None
            }
            Err(reason) => {
                self.missed = self.missed.saturating_add(1);
                if self.missed < misses {
                    return None;
                }
                Some(reason)
            }
        };
        let told = self.alive.replace(news.is_none());
        (told != Some(news.is_none())).then_some(news)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn told(answers: &[bool], misses: u32) -> Vec<(usize, bool)> {
        let mut seen = Seen::default();
        let mut told = Vec::new();
        for (place, alive) in answers.iter().enumerate() {
            let asked = if *alive { Ok(()) } else { Err(format!("no answer {place}")) };
            if let Some(news) = seen.note(asked, misses) {
                if let Some(reason) = &news {
                    assert_eq!(*reason, format!("no answer {place}"), "the newest reason");
                }
                told.push((place, news.is_none()));
            }
        }
        told
    }

    #[test]
    fn silence_is_told_at_the_last_of_the_misses_and_life_at_the_first_sign() {
        let answers = [true, false, false, false, false, true, true, false, false, true];
        assert_eq!(told(&answers, 3), [(0, true), (3, false), (5, true)]);
    }

    #[test]
    fn a_service_that_never_answers_is_told_once() {
        assert_eq!(told(&[false; 9], 3), [(2, false)]);
        assert_eq!(told(&[false; 9], 1), [(0, false)]);
    }
}
