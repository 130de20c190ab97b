//! A message on its way to subscribers.

use bytes::Bytes;
use std::sync::Arc;
use tokio::time::Instant;

/// One message, shared by all who receive it.
#[derive(Debug)]
pub(crate) struct Message {
    pub(crate) topic: Box<str>,
    pub(crate) payload: Bytes,
    pub(crate) qos: u8,
    /// MQTT 5 properties that travel with the message, encoded, without the expiry.
    pub(crate) properties: Bytes,
    /// MQTT 5 message expiry.
    pub(crate) expires: Option<Instant>,
}

impl Message {
    /// Bytes counted against the limits.
    pub(crate) fn weight(&self) -> usize {
        self.topic.len() + self.payload.len() + self.properties.len()
    }

    pub(crate) fn expired(&self, now: Instant) -> bool {
        self.expires.is_some_and(|at| at <= now)
    }
}

/// A message for one subscriber: its QoS is the lower of published and granted.
#[derive(Debug, Clone)]
pub(crate) struct Outgoing {
    pub(crate) message: Arc<Message>,
    pub(crate) qos: u8,
    pub(crate) retain: bool,
}

/// What a client left to be published when it is lost.
#[derive(Debug)]
pub(crate) struct Will {
    pub(crate) client: Arc<str>,
    pub(crate) message: Message,
    pub(crate) retain: bool,
    /// MQTT 5 will delay in seconds.
    pub(crate) delay: u32,
    /// MQTT 5 message expiry in seconds; it runs from the publication of the will.
    pub(crate) expiry: Option<u32>,
}
