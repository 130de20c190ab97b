//! What is kept for one subscriber: its waiting messages and those it has not acknowledged, bounded.

use crate::counts::Counters;
use crate::encode::Delivery;
use crate::link::{Link, lock};
use crate::message::Outgoing;
use crate::packet::Version;
use crate::rights::Rights;
use crate::settings::Limits;
use bytes::BytesMut;
use std::collections::{HashSet, VecDeque};
use std::sync::{Arc, Mutex};
use tokio::time::Instant;

/// Bytes that one turn of the writer collects, so that replies get their turn between deliveries.
const TURN_BYTES: usize = 64 * 1024;

/// One subscriber's queue; outlives its connection if the client asked for that.
#[derive(Debug)]
pub(crate) struct Session {
    pub(crate) client: Arc<str>,
    /// Owner key of its subscriptions.
    pub(crate) key: u64,
    /// Of the user that opened it; nobody else gets the session.
    pub(crate) rights: Arc<Rights>,
    state: Mutex<State>,
}

#[derive(Debug, Default)]
struct State {
    link: Option<Arc<Link>>,
    waiting: VecDeque<Outgoing>,
    /// Sent with QoS 1 and not acknowledged, in the order sent.
    unacknowledged: VecDeque<(u16, Outgoing)>,
    used: HashSet<u16>,
    last_id: u16,
    /// How many of `unacknowledged` have been sent on this connection; the rest is to be sent again.
    sent: usize,
    /// Topic and payload bytes of both queues.
    bytes: usize,
    /// Dropping since the queue was full, and already said so.
    dropping: bool,
    window: usize,
    packet_maximum: usize,
}

/// How a connection wants its deliveries.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Terms {
    /// Most messages unacknowledged at a time.
    pub(crate) window: usize,
    /// Largest packet the client takes.
    pub(crate) packet_maximum: usize,
}

impl Session {
    pub(crate) fn new(client: Arc<str>, key: u64, rights: Arc<Rights>) -> Self {
        Session { client, key, rights, state: Mutex::default() }
    }

    /// A connection takes the session over; what was unacknowledged is to be sent again. Returns the link it replaces.
    pub(crate) fn attach(&self, link: Arc<Link>, terms: Terms) -> Option<Arc<Link>> {
        let mut state = lock(&self.state);
        state.sent = 0;
        state.window = terms.window;
        state.packet_maximum = terms.packet_maximum;
        state.link.replace(link)
    }

    /// The connection is gone. False if another one has the session by now.
    pub(crate) fn detach(&self, link: &Arc<Link>) -> bool {
        let mut state = lock(&self.state);
        let ours = state.link.as_ref().is_some_and(|current| Arc::ptr_eq(current, link));
        if ours {
            state.link = None;
            // QoS 0 is not kept for those who are away.
            let kept: VecDeque<_> =
                std::mem::take(&mut state.waiting).into_iter().filter(|o| o.qos > 0).collect();
            state.waiting = kept;
            state.recount();
        }
        ours
    }

    /// The present connection.
    pub(crate) fn link(&self) -> Option<Arc<Link>> {
        lock(&self.state).link.clone()
    }

    /// Queues a message. A full queue drops it, so that a subscriber who is stuck never holds up a publisher.
    pub(crate) fn push(&self, outgoing: Outgoing, limits: &Limits, counters: &Counters) {
        let mut state = lock(&self.state);
        if state.link.is_none() && outgoing.qos == 0 {
            return;
        }
        let weight = outgoing.message.weight();
        let count = state.waiting.len() + state.unacknowledged.len();
        if count >= limits.queue_messages || state.bytes + weight > limits.queue_bytes {
            counters.dropped();
            if !std::mem::replace(&mut state.dropping, true) {
                tracing::warn!(client = %self.client, queued = count, bytes = state.bytes,
                    "queue full: messages for this subscriber are dropped until it catches up");
            }
            return;
        }
        state.bytes += weight;
        state.waiting.push_back(outgoing);
        if let Some(link) = &state.link {
            link.wake.notify_one();
        }
    }

    /// The client has acknowledged a delivery.
    pub(crate) fn acknowledged(&self, id: u16, limits: &Limits) {
        let mut state = lock(&self.state);
        let Some(place) = state.unacknowledged.iter().position(|(used, _)| *used == id) else { return };
        // An answer to what this connection has not sent again yet still ends the delivery.
        if place < state.sent {
            state.sent -= 1;
        }
        if let Some((id, outgoing)) = state.unacknowledged.remove(place) {
            state.used.remove(&id);
            state.lighten(&outgoing, limits);
        }
        if let Some(link) = &state.link {
            link.wake.notify_one();
        }
    }

    /// Moves what may be sent now to the write buffer of the connection that holds the session.
    pub(crate) fn collect(
        &self,
        link: &Arc<Link>,
        out: &mut BytesMut,
        version: Version,
        limits: &Limits,
        counters: &Counters,
    ) {
        let mut state = lock(&self.state);
        if !state.link.as_ref().is_some_and(|current| Arc::ptr_eq(current, link)) {
            return;
        }
        let now = Instant::now();
        state.send_again(out, version, now, limits, counters);
        while out.len() < TURN_BYTES && state.send_next(out, version, now, limits, counters) {}
    }

    #[cfg(test)]
    pub(crate) fn waiting(&self) -> (usize, usize, usize) {
        let state = lock(&self.state);
        (state.waiting.len(), state.unacknowledged.len(), state.bytes)
    }
}

impl State {
    fn lighten(&mut self, outgoing: &Outgoing, limits: &Limits) {
        self.bytes = self.bytes.saturating_sub(outgoing.message.weight());
        let count = self.waiting.len() + self.unacknowledged.len();
        // A spell of dropping ends when half the room is free again, so that the log is not filled.
        if count <= limits.queue_messages / 2 && self.bytes <= limits.queue_bytes / 2 {
            self.dropping = false;
        }
    }

    fn recount(&mut self) {
        let waiting = self.waiting.iter().map(|o| o.message.weight());
        let sent = self.unacknowledged.iter().map(|(_, o)| o.message.weight());
        self.bytes = waiting.chain(sent).sum();
    }

    /// After a reconnect: what was unacknowledged goes again, marked as such, under its old packet id.
    fn send_again(
        &mut self,
        out: &mut BytesMut,
        version: Version,
        now: Instant,
        limits: &Limits,
        counters: &Counters,
    ) {
        while self.sent < self.window && out.len() < TURN_BYTES {
            let Some((id, outgoing)) = self.unacknowledged.get(self.sent) else { return };
            let delivery = Delivery { version, outgoing, id: *id, dup: true, now };
            if delivery.size() <= self.packet_maximum {
                delivery.write(out);
                self.sent += 1;
            } else if let Some((id, outgoing)) = self.unacknowledged.remove(self.sent) {
                // The client came back with a smaller packet limit.
                self.used.remove(&id);
                self.lighten(&outgoing, limits);
                counters.dropped();
            }
        }
    }

    /// Sends the next waiting message; false if there is none that may go now.
    fn send_next(
        &mut self,
        out: &mut BytesMut,
        version: Version,
        now: Instant,
        limits: &Limits,
        counters: &Counters,
    ) -> bool {
        let Some(first) = self.waiting.front() else { return false };
        // New ones wait until the old ones have gone again: order is kept.
        let full = self.sent < self.unacknowledged.len() || self.unacknowledged.len() >= self.window;
        if first.qos > 0 && full {
            return false;
        }
        let Some(outgoing) = self.waiting.pop_front() else { return false };
        let id = if outgoing.qos > 0 { self.fresh_id() } else { 0 };
        let delivery = Delivery { version, outgoing: &outgoing, id, dup: false, now };
        let too_large = delivery.size() > self.packet_maximum;
        if too_large || outgoing.message.expired(now) {
            // The standard wants both handled as if they had been delivered.
            self.lighten(&outgoing, limits);
            if too_large {
                counters.dropped();
            }
            return true;
        }
        delivery.write(out);
        if outgoing.qos == 0 {
            self.lighten(&outgoing, limits);
        } else {
            self.used.insert(id);
            self.unacknowledged.push_back((id, outgoing));
            self.sent += 1;
        }
        true
    }

    /// The window is smaller than the number of ids, so a free one exists.
    fn fresh_id(&mut self) -> u16 {
        loop {
            self.last_id = self.last_id.checked_add(1).unwrap_or(1);
            if !self.used.contains(&self.last_id) {
                return self.last_id;
            }
        }
    }
}

#[cfg(test)]
#[path = "session_tests.rs"]
mod tests;
