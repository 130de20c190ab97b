//! What the session's handle, its acknowledgements and its pump have in common.

use super::PUBLICATIONS;
use crate::Ack;
use bytes::Bytes;
use rumqttc::{AsyncClient, Publish, QoS, SubscribeFilter};
use std::collections::BTreeMap;
use std::sync::atomic::{AtomicBool, AtomicU64, AtomicUsize, Ordering};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

/// Room for a packet's own header, topic length and packet id.
const HEADER: usize = 9;

pub(super) struct Shared {
    client: AsyncClient,
    packet_limit: usize,
    /// Counts connections. Held while an acknowledgement is queued, so that none slips in
    /// behind the end of its connection.
    generation: Mutex<u64>,
    /// The newest of everything we published retained.
    retained: Mutex<BTreeMap<String, Bytes>>,
    /// A publication found no room in the queue.
    missed: AtomicBool,
    /// Publications in the queue or waiting to be sent once more.
    waiting: AtomicUsize,
    /// Messages of quality of service 0 that found no room on the way in.
    dropped: AtomicU64,
    /// Connections dropped for what the broker sent.
    malformed: AtomicU64,
}

impl Shared {
    pub(super) fn new(client: AsyncClient, packet_limit: usize) -> Self {
        Self {
            client,
            packet_limit,
            generation: Mutex::new(0),
            retained: Mutex::new(BTreeMap::new()),
            missed: AtomicBool::new(false),
            waiting: AtomicUsize::new(0),
            dropped: AtomicU64::new(0),
            malformed: AtomicU64::new(0),
        }
    }

    pub(super) fn publish(&self, topic: &str, payload: Bytes, retain: bool) {
        if topic.len() + payload.len() + HEADER > self.packet_limit {
            tracing::error!(topic, bytes = payload.len(), "not published: larger than the packet limit");
            return;
        }
        // Held across the queueing: what is newest here is also last in the queue.
        let mut kept = lock(&self.retained);
        if retain {
            kept.insert(topic.to_owned(), payload.clone());
        }
        self.queue(topic, payload, retain);
    }

    /// Publishes everything retained once more, for a broker that may have lost it; after a
    /// resumed session only if something found no room in the queue.
    pub(super) fn publish_again(&self, resumed: bool) {
        let missed = self.missed.swap(false, Ordering::Relaxed);
        if resumed && !missed {
            return;
        }
        let kept = lock(&self.retained);
        for (topic, payload) in &*kept {
            self.queue(topic, payload.clone(), true);
        }
    }

    fn queue(&self, topic: &str, payload: Bytes, retain: bool) {
        // The rest of the queue belongs to acknowledgements: without them the broker sends no more.
        let room = self.waiting.load(Ordering::Relaxed) < PUBLICATIONS;
        let sent = room && self.client.try_publish(topic, QoS::AtLeastOnce, retain, payload).is_ok();
        if sent {
            self.waiting.fetch_add(1, Ordering::Relaxed);
        } else if !self.missed.swap(true, Ordering::Relaxed) {
            tracing::warn!(topic, "not published: the queue to the broker is full or the topic is not valid");
        }
    }

    /// Asks for all filters; false if they cannot even be asked for.
    pub(super) fn subscribe(&self, filters: &[String]) -> bool {
        let wanted = filters.iter().map(|filter| SubscribeFilter::new(filter.clone(), QoS::AtLeastOnce));
        self.client.try_subscribe_many(wanted).is_ok()
    }

    pub(super) fn count_dropped(&self) {
        self.dropped.fetch_add(1, Ordering::Relaxed);
    }

    pub(super) fn count_malformed(&self) {
        self.malformed.fetch_add(1, Ordering::Relaxed);
    }

    pub(super) fn malformed(&self) -> u64 {
        self.malformed.load(Ordering::Relaxed)
    }

    pub(super) fn dropped(&self) -> u64 {
        self.dropped.load(Ordering::Relaxed)
    }

    /// One publication went out, or `count` of those that wait were thrown away.
    pub(super) fn gone(&self, count: usize) {
        let less = |waiting: usize| Some(waiting.saturating_sub(count));
        // Never refused.
        let _ = self.waiting.fetch_update(Ordering::Relaxed, Ordering::Relaxed, less);
    }

    /// Empties the queue by `drain`, which tells how many publications wait from now on.
    pub(super) fn recount(&self, drain: impl FnOnce() -> usize) {
        // Held as in publishing, so that none is queued between the emptying and the count.
        let _kept = lock(&self.retained);
        self.waiting.store(drain(), Ordering::Relaxed);
    }

    pub(super) fn disconnect(&self) {
        // Refused only by a full queue or an ended pump; closing goes on either way.
        let _ = self.client.try_disconnect();
    }

    /// From here on, acknowledgements of the connection before do nothing.
    pub(super) fn next_generation(&self) {
        *lock(&self.generation) += 1;
    }

    /// The acknowledgement of one message of the present connection.
    pub(super) fn ack(self: &Arc<Self>, publish: &Publish) -> Ack {
        if publish.qos == QoS::AtMostOnce {
            return Ack::none();
        }
        let shared = Arc::clone(self);
        let mine = *lock(&self.generation);
        // Only the packet id is wanted: the payload need not live as long as the promise.
        let mut receipt = Publish::new("", publish.qos, Vec::new());
        receipt.pkid = publish.pkid;
        Ack::new(move || {
            let now = lock(&shared.generation);
            if *now == mine && shared.client.try_ack(&receipt).is_err() {
                tracing::warn!("an acknowledgement found no room; the message will come again");
            }
        })
    }
}

/// A lock whose holder panicked still guards whole values here.
fn lock<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::broker::REQUESTS;
    use rumqttc::MqttOptions;

    #[test]
    fn however_much_is_published_every_packet_id_can_be_acknowledged() {
        // Nothing is taken out of the queue: its other end is kept and never polled.
        let (client, mut events) = AsyncClient::new(MqttOptions::new("test", "127.0.0.1", 1883), REQUESTS);
        let shared = Arc::new(Shared::new(client, 1024));
        for _ in 0..=PUBLICATIONS {
            shared.publish("alarm/1", Bytes::from_static(b"x"), false);
        }
        assert!(shared.missed.load(Ordering::Relaxed), "one more than there is room for");
        for id in 1..=u16::MAX {
            let mut publish = Publish::new("tank/1/temp", QoS::AtLeastOnce, Vec::new());
            publish.pkid = id;
            shared.ack(&publish).done();
        }
        // There is still room, so there was for each of them.
        assert!(shared.subscribe(&["tank/+/temp".to_owned()]));
        shared.gone(1);
        shared.publish("alarm/1", Bytes::from_static(b"x"), false);
        assert_eq!(shared.waiting.load(Ordering::Relaxed), PUBLICATIONS);
        shared.recount(|| {
            events.clean();
            events.pending.len()
        });
        // All publications and the subscription; acknowledgements end with their connection.
        assert_eq!(shared.waiting.load(Ordering::Relaxed), PUBLICATIONS + 2);
    }
}
