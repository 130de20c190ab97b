//! What the session's handle, its acknowledgements and its pump have in common.

use crate::Ack;
use bytes::Bytes;
use rumqttc::{AsyncClient, Publish, QoS, SubscribeFilter};
use std::collections::BTreeMap;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
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
    /// Messages of quality of service 0 that found no room on the way in.
    dropped: AtomicU64,
}

impl Shared {
    pub(super) fn new(client: AsyncClient, packet_limit: usize) -> Self {
        Self {
            client,
            packet_limit,
            generation: Mutex::new(0),
            retained: Mutex::new(BTreeMap::new()),
            missed: AtomicBool::new(false),
            dropped: AtomicU64::new(0),
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
        let sent = self.client.try_publish(topic, QoS::AtLeastOnce, retain, payload);
        if sent.is_err() && !self.missed.swap(true, Ordering::Relaxed) {
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

    pub(super) fn dropped(&self) -> u64 {
        self.dropped.load(Ordering::Relaxed)
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
