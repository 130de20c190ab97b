//! The session with a standard MQTT broker.

mod backoff;
mod connection;
mod handover;
mod pump;
mod settings;
mod shared;
mod stray;
mod tls;
mod tls_words;
mod words;

pub use settings::{Secret, Settings};
pub use tls::{Identity, Roots, Tls, TlsError};

use crate::{Incoming, Outlet};
use bytes::Bytes;
use rumqttc::AsyncClient;
use shared::Shared;
use std::sync::Arc;
use std::time::Duration;
use tokio::sync::{mpsc, watch};
use tokio::task::JoinHandle;

/// Publications that may wait for the broker at once.
const PUBLICATIONS: usize = 34_000;

/// Everything that may wait for the broker at once. Besides the publications there is room for the
/// acknowledgement of every packet id there is (65,535) and for subscribing and saying goodbye.
const REQUESTS: usize = PUBLICATIONS + 66_000;

/// Bytes of messages handed over and not yet safe.
const HELD_BYTES: u32 = 64 * 1024 * 1024;

/// How long a closing session may take to say goodbye.
const GOODBYE: Duration = Duration::from_secs(5);

/// How things stand with the broker.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Link {
    /// Nothing has been heard yet.
    Connecting,
    /// Connected and subscribed.
    Up {
        /// Whether the broker had kept our session, and with it what we missed, ever since the link
        /// was last up (or the service last ran). If not, messages may have been lost meanwhile.
        resumed: bool,
    },
    /// Not connected; another attempt follows.
    Away {
        /// Why, where, and what to do about it.
        reason: String,
        /// Attempts that have failed since the link was last up.
        tries: u32,
    },
}

/// A running session; dropping it ends the connection without a goodbye.
pub struct Session {
    shared: Arc<Shared>,
    service_topic: String,
    link: watch::Receiver<Link>,
    stop: watch::Sender<bool>,
    task: JoinHandle<()>,
}

/// Starts a session, which keeps itself connected until it is closed.
///
/// Must be called within a runtime. At most `capacity` messages, and at least one, wait in the
/// receiver, and all messages whose [`Ack`](crate::Ack) still lives may take 64 MiB. When either is full, messages of quality of service 0 are dropped and counted
/// ([`Session::dropped`]); those of quality of service 1 wait, and nothing more is read from the
/// broker until there is room. If that takes longer than one and a half times the keep-alive, the
/// broker may close the connection; what was not acknowledged then comes again on the next one.
///
/// A broker that keeps our session also keeps what former settings subscribed to. The first message
/// on a topic that no present filter matches is handed over like any other, logged, and answered
/// by giving up every filter that can have brought it.
#[must_use]
pub fn open(settings: Settings, capacity: usize) -> (Session, mpsc::Receiver<Incoming>) {
    let (client, events) = AsyncClient::new(settings.options(), REQUESTS);
    let (out, incoming) = mpsc::channel(capacity.max(1));
    let (link_tx, link) = watch::channel(Link::Connecting);
    let (stop, stopped) = watch::channel(false);
    let service_topic = settings.service_topic.clone();
    let shared = Arc::new(Shared::new(client, settings.packet_limit));
    let pump = pump::Pump::new(settings, events, Arc::clone(&shared), out, link_tx, stopped);
    let task = tokio::spawn(pump.run());
    let session = Session { shared, service_topic, link, stop, task };
    (session, incoming)
}

impl Outlet for Session {
    fn publish(&self, topic: &str, payload: Bytes, retain: bool) {
        self.shared.publish(topic, payload, retain);
    }
}

impl Session {
    /// How things stand, now and from now on.
    #[must_use]
    pub fn link(&self) -> watch::Receiver<Link> {
        self.link.clone()
    }

    /// Messages of quality of service 0 dropped so far because the receiver was full.
    #[must_use]
    pub fn dropped(&self) -> u64 {
        self.shared.dropped()
    }

    /// Connections dropped so far because what the broker sent was not MQTT.
    #[must_use]
    pub fn malformed(&self) -> u64 {
        self.shared.malformed()
    }

    /// Publishes "away", disconnects and waits for the session to end.
    pub async fn close(mut self) {
        self.shared.publish(&self.service_topic, Bytes::from_static(b"away"), true);
        self.shared.disconnect();
        self.stop.send_replace(true);
        if tokio::time::timeout(GOODBYE, &mut self.task).await.is_err() {
            tracing::warn!("the broker did not take our goodbye in time; leaving without it");
            self.task.abort();
        }
    }
}
