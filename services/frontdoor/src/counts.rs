//! What the front door counts about itself.

use std::sync::atomic::{AtomicU64, Ordering::Relaxed};

/// A look at the front door's own numbers.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Counts {
    /// Connections open now.
    pub connections: u64,
    /// Sessions now, connected or kept.
    pub sessions: u64,
    /// Topics with a retained message now.
    pub retained: u64,
    /// Packets refused since the start: faults that closed a connection, topics that nobody may use, retained messages without
    /// room. What is counted by the next three is not counted here.
    pub refused_packets: u64,
    /// Sign-ins refused since the start: no or an unknown user name, or a wrong password.
    pub refused_sign_ins: u64,
    /// Messages and wills refused since the start because their user may not publish to the topic.
    pub refused_publishes: u64,
    /// Topic filters refused since the start: outside the user's permission, not valid, or too many.
    pub refused_subscriptions: u64,
    /// Messages not delivered since the start because a subscriber's queue was full or its packet limit too small.
    pub dropped_messages: u64,
}

#[derive(Debug, Default)]
pub(crate) struct Counters {
    connections: AtomicU64,
    refused: AtomicU64,
    sign_ins: AtomicU64,
    publishes: AtomicU64,
    subscriptions: AtomicU64,
    dropped: AtomicU64,
}

impl Counters {
    pub(crate) fn refused(&self) {
        self.refused.fetch_add(1, Relaxed);
    }

    pub(crate) fn refused_sign_in(&self) {
        self.sign_ins.fetch_add(1, Relaxed);
    }

    pub(crate) fn refused_publish(&self) {
        self.publishes.fetch_add(1, Relaxed);
    }

    pub(crate) fn refused_subscription(&self) {
        self.subscriptions.fetch_add(1, Relaxed);
    }

    pub(crate) fn dropped(&self) {
        self.dropped.fetch_add(1, Relaxed);
    }

    pub(crate) fn connections(&self, now: usize) {
        self.connections.store(now as u64, Relaxed);
    }

    pub(crate) fn read(&self, sessions: usize, retained: usize) -> Counts {
        Counts {
            connections: self.connections.load(Relaxed),
            sessions: sessions as u64,
            retained: retained as u64,
            refused_packets: self.refused.load(Relaxed),
            refused_sign_ins: self.sign_ins.load(Relaxed),
            refused_publishes: self.publishes.load(Relaxed),
            refused_subscriptions: self.subscriptions.load(Relaxed),
            dropped_messages: self.dropped.load(Relaxed),
        }
    }
}
