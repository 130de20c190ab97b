//! A sign of life to an outside address, which raises an alarm of its own when the signs stop: no service can tell by itself that
//! it is dead, or that its house has no power.

use crate::endpoint::{Endpoint, EndpointError};
use std::fmt;
use std::time::Duration;
use tokio::sync::watch;
use tokio::time::{MissedTickBehavior, interval};

/// Where a sign of life goes, and how often.
pub struct Heartbeat {
    endpoint: Endpoint,
    every: Duration,
}

impl Heartbeat {
    /// To this address, this often.
    ///
    /// # Errors
    /// [`EndpointError`] naming the address and the cure.
    pub fn new(url: &str, every: Duration) -> Result<Self, EndpointError> {
        Ok(Self { endpoint: Endpoint::new(url)?, every })
    }

    /// Posts an empty message each time that `alive` says yes, until `stop` is set or gone. What fails is logged once, and
    /// that it works again; nothing is made up for, since only the newest sign counts.
    pub async fn run<A: Future<Output = bool>>(self, alive: impl Fn() -> A, mut stop: watch::Receiver<bool>) {
        let mut beats = interval(self.every);
        beats.set_missed_tick_behavior(MissedTickBehavior::Delay);
        let mut failing = false;
        loop {
            tokio::select! {
                biased;
                _ = stop.wait_for(|s| *s) => return,
                _ = beats.tick() => {}
            }
            if !alive().await {
                continue;
            }
            match self.post().await {
                Ok(()) if failing => tracing::info!(to = %self.endpoint.at, "signs of life arrive again"),
                Err(reason) if !failing => {
                    tracing::warn!(%reason, "a sign of life did not arrive; see [heartbeat] url");
                }
                _ => continue,
            }
            failing = !failing;
        }
    }

    async fn post(&self) -> Result<(), String> {
        let Endpoint { client, url, .. } = &self.endpoint;
        // A POST without a body says so (RFC 9110, 8.6); the client leaves that out.
        let post = client.post(url.clone()).header("content-length", "0");
        self.endpoint.agrees(post).await
    }
}

impl fmt::Debug for Heartbeat {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Heartbeat").field("at", &self.endpoint.at).field("every", &self.every).finish()
    }
}
