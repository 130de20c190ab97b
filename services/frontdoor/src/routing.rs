//! The way of a message: retained, to every subscriber once, and a will to the consumer as well.

use crate::broker::{Broker, Subscription, Tables};
use crate::message::{Message, Outgoing, Will};
use crate::publish::{Ack, Publish};
use crate::retained::Kept;
use bytes::Bytes;
use std::sync::Arc;
use std::time::Duration;
use tokio::time::Instant;

/// A message to be routed, before anybody is known to want it.
pub(crate) struct Parts<'a> {
    /// Key of the publishing client's session, for `no local`.
    pub(crate) from: Option<u64>,
    pub(crate) topic: &'a str,
    pub(crate) payload: &'a Bytes,
    pub(crate) qos: u8,
    pub(crate) retain: bool,
    pub(crate) properties: &'a Bytes,
    /// Message expiry in seconds.
    pub(crate) expiry: Option<u32>,
}

impl Broker {
    /// Retains the message if it asks for that and queues it once for every client that wants it.
    pub(crate) fn route(&self, parts: &Parts<'_>) {
        if !parts.retain {
            return self.deliver(&self.read(), parts, None);
        }
        let message = parts.message();
        // Retaining and delivering under one lock: a new subscriber never gets the older value after the newer one.
        let mut tables = self.write();
        if let Kept::Full { first } = tables.retained.set(&message, Instant::now()) {
            self.counters.refused();
            if first {
                tracing::warn!(
                    topic = parts.topic,
                    topics = tables.retained.len(),
                    "message not retained: the limit is reached; clear topics with an empty retained message"
                );
            }
        }
        self.deliver(&tables, parts, Some(message));
    }

    fn deliver(&self, tables: &Tables, parts: &Parts<'_>, message: Option<Arc<Message>>) {
        let mut hits: Vec<(u64, &Subscription)> = Vec::new();
        tables.subscriptions.matching(parts.topic, &mut |owner, subscription: &Subscription| {
            if !(subscription.options.no_local && parts.from == Some(owner)) {
                hits.push((owner, subscription));
            }
        });
        if hits.is_empty() {
            return;
        }
        let message = message.unwrap_or_else(|| parts.message());
        hits.sort_unstable_by_key(|(owner, _)| *owner);
        for same in hits.chunk_by(|a, b| a.0 == b.0) {
            // Overlapping subscriptions of one client: one delivery, with the highest QoS.
            let qos = same.iter().map(|(_, s)| s.options.qos).max().unwrap_or(0).min(parts.qos);
            let retain = parts.retain && same.iter().any(|(_, s)| s.options.retain_as_published);
            let outgoing = Outgoing { message: Arc::clone(&message), qos, retain };
            same[0].1.session.push(outgoing, &self.limits, &self.counters);
        }
    }

    /// Publishes a will: to the subscribers and to the consumer.
    pub(crate) async fn fire(&self, will: Will) {
        let message = &will.message;
        tracing::info!(client = %will.client, topic = %message.topic, "client lost: its will is published");
        self.route(&Parts {
            from: None,
            topic: &message.topic,
            payload: &message.payload,
            qos: message.qos,
            retain: will.retain,
            properties: &message.properties,
            expiry: will.expiry,
        });
        let publish = Publish {
            topic: message.topic.to_string(),
            payload: message.payload.clone(),
            qos: message.qos,
            retain: will.retain,
            dup: false,
            client: will.client,
            ack: Ack::none(),
        };
        let mut closing = self.closing.subscribe();
        tokio::select! {
            // An error means that nobody receives any more: the service is closing.
            _ = self.consumer.send(publish) => {}
            _ = closing.wait_for(|closing| *closing) => {}
        }
    }
}

impl Parts<'_> {
    fn message(&self) -> Arc<Message> {
        Arc::new(Message {
            topic: self.topic.into(),
            payload: self.payload.clone(),
            qos: self.qos,
            properties: self.properties.clone(),
            expires: self.expiry.map(|seconds| Instant::now() + Duration::from_secs(u64::from(seconds))),
        })
    }
}
