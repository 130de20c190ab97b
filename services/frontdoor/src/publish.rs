//! What the consumer receives: messages, each with the handle that acknowledges it.

use crate::link::Link;
use bytes::Bytes;
use std::fmt;
use std::sync::Arc;

/// One message that a client published (or its will).
#[derive(Debug)]
pub struct Publish {
    /// Topic name, checked: no wildcard, no NUL, within the limits, not starting with `$`.
    pub topic: String,
    /// The payload as sent; may be empty.
    pub payload: Bytes,
    /// 0 or 1. Neither this nor `dup` says that a message is new: a repeat can come with any packet id.
    pub qos: u8,
    /// The publisher asked to retain it.
    pub retain: bool,
    /// The publisher says that it sent this before.
    pub dup: bool,
    /// Client id of the publisher (assigned if it gave none).
    pub client: Arc<str>,
    /// To be called after the commit.
    pub ack: Ack,
}

/// The right to acknowledge one message. Call [`Ack::done`] **after** the message is on disk.
///
/// Dropping it without `done` means that the message is never acknowledged: the client sends it again when it
/// comes back. PUBACKs of one connection leave in the order in which its messages arrived, whatever the order of the calls.
#[must_use = "a dropped Ack is never acknowledged"]
pub struct Ack(Option<(Arc<Link>, u64)>);

impl Ack {
    /// For messages that nobody waits for: QoS 0 and wills.
    pub(crate) fn none() -> Self {
        Ack(None)
    }

    pub(crate) fn of(link: Arc<Link>, number: u64) -> Self {
        Ack(Some((link, number)))
    }

    /// The message is on disk: let its PUBACK go out. Cheap, never blocks, wakes the connection at most once per batch.
    pub fn done(mut self) {
        if let Some((link, number)) = self.0.take() {
            link.settle(number, true);
        }
    }
}

impl Drop for Ack {
    fn drop(&mut self) {
        if let Some((link, number)) = self.0.take() {
            link.settle(number, false);
        }
    }
}

impl fmt::Debug for Ack {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_tuple("Ack").field(&self.0.as_ref().map(|(_, number)| number)).finish()
    }
}
