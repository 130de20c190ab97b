//! What a connection's task shares with the rest: acknowledgements, replies, its will, and the order to end.

use crate::acks::{Acks, Settled};
use crate::checks::{Fault, code};
use crate::encode;
use crate::message::Will;
use crate::packet::Version;
use bytes::BytesMut;
use std::sync::{Mutex, MutexGuard, PoisonError};
use tokio::sync::Notify;

/// Replies that may wait to be written before nothing more is read.
const REPLY_BYTES: usize = 64 * 1024;

/// Why a connection ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Close {
    /// The client said goodbye.
    Goodbye { with_will: bool },
    /// The socket ended.
    Gone,
    /// The client broke a rule.
    Fault(Fault),
    /// The client was silent for longer than it promised.
    Silent,
    /// The client takes nothing off its socket.
    Stalled,
    /// Another connection has the client id now.
    TakenOver,
    /// The front door closes, or nobody receives its messages any more.
    ShuttingDown,
    /// All that may be unacknowledged is lost; only a new connection can send it again.
    AllLost,
}

impl Close {
    /// The MQTT 5 reason to tell the client, if there is somebody to tell.
    pub(crate) fn reason(&self) -> Option<u8> {
        match self {
            Close::Goodbye { .. } | Close::Gone | Close::Stalled => None,
            Close::Fault(fault) => Some(fault.code),
            Close::Silent => Some(code::KEEP_ALIVE),
            Close::TakenOver => Some(code::TAKEN_OVER),
            Close::ShuttingDown => Some(code::SHUTTING_DOWN),
            Close::AllLost => Some(0x80),
        }
    }

    /// Everything but a goodbye and our own closing publishes the will.
    pub(crate) fn fires_will(&self) -> bool {
        !matches!(self, Close::Goodbye { with_will: false } | Close::ShuttingDown)
    }
}

/// The shared side of one connection.
#[derive(Debug, Default)]
pub(crate) struct Link {
    acks: Mutex<Acks>,
    replies: Mutex<BytesMut>,
    will: Mutex<Option<Will>>,
    end: Mutex<Option<Close>>,
    /// Something to write.
    pub(crate) wake: Notify,
    /// The writer took something: the reader may go on.
    pub(crate) room: Notify,
    ended: Notify,
}

/// A panic elsewhere must not make the rest of the front door panic: the data behind these locks is whole between statements.
pub(crate) fn lock<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}

impl Link {
    /// A message has come; its number.
    pub(crate) fn arrived(&self, id: u16) -> u64 {
        lock(&self.acks).push(id, Settled::Waiting)
    }

    /// A message is refused: acknowledged with the reason, in its turn.
    pub(crate) fn refuse(&self, id: u16, reason: u8) {
        let mut acks = lock(&self.acks);
        let number = acks.push(id, Settled::Waiting);
        if acks.settle(number, Settled::Reason(reason)) {
            self.wake.notify_one();
        }
    }

    /// The consumer is done with a message, or has lost it.
    pub(crate) fn settle(&self, number: u64, done: bool) {
        let state = if done { Settled::Reason(0) } else { Settled::Lost };
        let wake = lock(&self.acks).settle(number, state);
        if wake {
            self.wake.notify_one();
        }
    }

    /// Unacknowledged messages, with the lost ones.
    pub(crate) fn outstanding(&self) -> usize {
        lock(&self.acks).outstanding()
    }

    /// Messages that will never be acknowledged on this connection.
    pub(crate) fn lost(&self) -> usize {
        lock(&self.acks).lost()
    }

    /// Queues a reply.
    pub(crate) fn reply(&self, write: impl FnOnce(&mut BytesMut)) {
        write(&mut lock(&self.replies));
        self.wake.notify_one();
    }

    /// Waits until the client has taken its replies; without this a client that never reads would fill the memory.
    pub(crate) async fn replies_taken(&self) {
        while lock(&self.replies).len() > REPLY_BYTES {
            self.room.notified().await;
        }
    }

    /// Moves replies and acknowledgements that are due to the write buffer.
    pub(crate) fn collect(&self, out: &mut BytesMut, version: Version) {
        let mut freed = {
            let mut replies = lock(&self.replies);
            let any = !replies.is_empty();
            out.extend_from_slice(&replies);
            replies.clear();
            any
        };
        freed |= lock(&self.acks).take(|id, reason| encode::puback(out, version, id, reason));
        if freed {
            self.room.notify_one();
        }
    }

    pub(crate) fn set_will(&self, will: Option<Will>) {
        *lock(&self.will) = will;
    }

    pub(crate) fn take_will(&self) -> Option<Will> {
        lock(&self.will).take()
    }

    /// Orders the connection to end; the first reason stands.
    pub(crate) fn close(&self, why: Close) {
        lock(&self.end).get_or_insert(why);
        self.ended.notify_one();
    }

    /// Returns when the connection is to end.
    pub(crate) async fn closed(&self) -> Close {
        loop {
            if let Some(why) = *lock(&self.end) {
                return why;
            }
            self.ended.notified().await;
        }
    }
}
