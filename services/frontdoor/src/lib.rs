//! The embedded MQTT front door: a small listener for MQTT 3.1.1 and 5 on one port.
//!
//! Devices publish, the consumer stores, and only then does the device get its PUBACK: every [`Publish`] carries an [`Ack`] that
//! is called after the commit. Subscribers (a page, a lamp, another program) get what they subscribed to, with retained messages,
//! wills and persistent sessions; a subscriber that is stuck loses its own messages and never delays a publisher.
//!
//! [`Access`] says who may come in and which topics are whose; without it everybody on this machine may do everything. A client that may
//! not publish to a topic gets its message refused (MQTT 5) or acknowledged and dropped (3.1.1), a subscription must lie within a
//! permitted filter, and a session belongs to the user that opened it. Wrong passwords are answered ever more slowly. [`Tls`] puts a
//! certificate in front.
//!
//! Not served, and said so in the protocol: QoS 2 (MQTT 5 clients are told the maximum, a 3.1.1 client that publishes with it is
//! disconnected), shared subscriptions, subscription identifiers, topic aliases. Sessions and retained messages live in memory.
//!
//! ```
//! # #[tokio::main(flavor = "current_thread")]
//! # async fn main() -> Result<(), frontdoor::OpenError> {
//! use frontdoor::{FrontDoor, Settings};
//!
//! let listen = std::net::SocketAddr::from(([127, 0, 0, 1], 0));
//! let (door, messages) = FrontDoor::open(Settings::anonymous(listen)).await?;
//! door.publish("hatchwarden/undercroft/service", "here".into(), true);
//! assert_eq!(door.counts().retained, 1);
//! // A consumer would now loop: receive, store, commit, and call `ack.done()` on each message.
//! drop(messages);
//! door.close().await;
//! # Ok(())
//! # }
//! ```

mod access;
mod acks;
mod broker;
mod checks;
mod connect;
mod connection;
mod counts;
mod encode;
#[cfg(any(test, feature = "fuzzing"))]
mod fuzz;
mod gate;
mod greet;
mod link;
mod listener;
mod matching;
mod message;
mod packet;
mod peers;
mod publish;
mod reader;
mod retained;
mod rights;
mod routing;
mod session;
mod settings;
mod tls;
mod trie;

pub use access::{Access, Device, DeviceFault, Secret};
pub use counts::Counts;
#[cfg(feature = "fuzzing")]
pub use fuzz::fuzz;
pub use publish::{Ack, Publish};
pub use settings::{Limits, OpenError, Settings};
pub use tls::{Tls, TlsError};

use broker::Broker;
use bytes::Bytes;
use gate::Gate;
use routing::Parts;
use std::io::ErrorKind;
use std::net::SocketAddr;
use std::sync::Arc;
use tokio::net::TcpListener;
use tokio::sync::{mpsc, oneshot};
use tokio::task::JoinHandle;

/// Messages between the connections and the consumer; when it is full, sockets are not read.
const CHANNEL: usize = 20_000;

/// Passwords or loopback; and with passwords somebody must have one.
fn check(listen: SocketAddr, access: &Access) -> Result<(), OpenError> {
    match access {
        Access::Anonymous if !listen.ip().to_canonical().is_loopback() => {
            Err(OpenError::NotLoopback { listen })
        }
        Access::Devices(devices) if devices.is_empty() => Err(OpenError::NoDevices { listen }),
        _ => Ok(()),
    }
}

/// The open front door. Dropping it closes it too, without waiting for the connections to end.
#[derive(Debug)]
pub struct FrontDoor {
    broker: Arc<Broker>,
    local: SocketAddr,
    stop: oneshot::Sender<()>,
    listener: JoinHandle<()>,
}

impl FrontDoor {
    /// Starts to listen. The receiver yields every message that a client publishes, in arrival order for each client, and the wills
    /// of lost clients. It ends after [`FrontDoor::close`]; dropping it makes publishing clients lose their connection.
    ///
    /// # Errors
    /// [`OpenError`] if the address is not loopback and no passwords are asked for, a device is not usable, or the address is taken
    /// or cannot be used.
    pub async fn open(settings: Settings) -> Result<(FrontDoor, mpsc::Receiver<Publish>), OpenError> {
        let Settings { listen, access, tls, limits } = settings;
        check(listen, &access)?;
        if tls.is_none() && !listen.ip().to_canonical().is_loopback() {
            tracing::warn!(address = %listen, "passwords and readings cross the network unencrypted; give a certificate and its key");
        }
        let limits = limits.sound();
        let gate = Gate::new(access, limits.connections)?;
        let failed = |source: std::io::Error| match source.kind() {
            ErrorKind::AddrInUse => OpenError::Busy { listen },
            _ => OpenError::Io { listen, source },
        };
        let socket = TcpListener::bind(listen).await.map_err(failed)?;
        let local = socket.local_addr().map_err(failed)?;
        let (consumer, messages) = mpsc::channel(CHANNEL);
        let broker = Arc::new(Broker::new(limits, gate, consumer));
        let (stop, stopped) = oneshot::channel();
        tracing::info!(address = %local, tls = tls.is_some(), "MQTT front door open");
        let listener = tokio::spawn(listener::run(socket, Arc::clone(&broker), tls, stopped));
        Ok((FrontDoor { broker, local, stop, listener }, messages))
    }

    /// The address it listens on, with the port it got.
    pub fn local_addr(&self) -> SocketAddr {
        self.local
    }

    /// Sends a message of the service to all who subscribed, with QoS 1 or the lower QoS they asked for. It does not come back
    /// through the receiver. With `retain` it is kept for later subscribers; an empty payload then clears the topic. Never waits.
    #[expect(clippy::needless_pass_by_value, reason = "Bytes are handed over, as with every channel")]
    pub fn publish(&self, topic: &str, payload: Bytes, retain: bool) {
        if !matching::valid_topic(topic) || topic.len() > usize::from(u16::MAX) {
            tracing::error!(topic, "not published: empty or too long topic name, or a wildcard or NUL in it");
            return;
        }
        let properties = &Bytes::new();
        self.broker.route(&Parts {
            from: None,
            topic,
            payload: &payload,
            qos: 1,
            retain,
            properties,
            expiry: None,
        });
    }

    /// Its own numbers.
    pub fn counts(&self) -> Counts {
        self.broker.counts()
    }

    /// Stops accepting, ends all connections (MQTT 5 clients are told why) and waits for their tasks. No will is published.
    pub async fn close(self) {
        let FrontDoor { broker, local, stop, listener } = self;
        drop(stop);
        if let Err(error) = listener.await {
            tracing::error!(%error, "the front door's listener panicked");
        }
        drop(broker);
        tracing::info!(address = %local, "MQTT front door closed");
    }
}
