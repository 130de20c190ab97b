//! A publisher of our own that knows which numbers were acknowledged, and sends the others again after a reconnect.
//!
//! rumqttc as a client forgets what is under way when the server has lost the session, as a killed front door has; its packet
//! codec is used here, its session is not.

use crate::line::Line;
use crate::{PATIENCE, Stream};
use std::collections::HashSet;
use std::sync::{Arc, Mutex};
use tokio::sync::watch;
use tokio::task::JoinSet;

/// What all connections of a publisher share.
#[derive(Default)]
pub(crate) struct Record {
    /// In the order of their PUBACKs.
    acknowledged: Mutex<Vec<u64>>,
    count: watch::Sender<u64>,
    last_before_breaks: Mutex<HashSet<u64>>,
}

impl Record {
    /// Notes a PUBACK.
    pub(crate) fn note(&self, n: u64) {
        self.acknowledged.lock().unwrap().push(n);
        self.count.send_modify(|count| *count += 1);
    }

    /// Notes the last PUBACK of a connection that has ended.
    pub(crate) fn note_break(&self, last: u64) {
        self.last_before_breaks.lock().unwrap().insert(last);
    }
}

/// A numbered QoS 1 stream under way, one connection for each device.
pub struct Publisher {
    stream: Stream,
    record: Arc<Record>,
    released: watch::Sender<u64>,
    lines: JoinSet<u64>,
}

impl Publisher {
    /// Connects to a loopback port. Nothing is sent before it is released.
    pub fn start(port: u16, stream: Stream) -> Self {
        let record = Arc::new(Record::default());
        let released = watch::Sender::new(0);
        let mut lines = JoinSet::new();
        for device in 0..stream.devices.len() {
            lines.spawn(Line::new(port, stream, device, record.clone(), released.subscribe()).run());
        }
        Self { stream, record, released, lines }
    }

    /// Lets the numbers below `end` be sent, so that traffic flows on while something is broken without running out.
    pub fn release(&self, end: u64) {
        self.released.send_replace(end.min(self.stream.len));
    }

    /// Waits until so many are acknowledged.
    ///
    /// # Panics
    /// When it takes too long; says how far it got.
    pub async fn acknowledged(&self, count: u64) {
        let mut acknowledged = self.record.count.subscribe();
        let waited = tokio::time::timeout(PATIENCE, acknowledged.wait_for(|c| *c >= count)).await;
        assert!(waited.is_ok(), "{} of {count} acknowledged", *self.record.count.borrow());
    }

    /// How many are acknowledged, to be watched.
    pub fn count(&self) -> watch::Receiver<u64> {
        self.record.count.subscribe()
    }

    /// The numbers that are acknowledged by now, in the order of their PUBACKs.
    pub fn known(&self) -> Vec<u64> {
        self.record.acknowledged.lock().unwrap().clone()
    }

    /// The numbers that were the last acknowledged ones of a connection that ended.
    pub fn last_before_breaks(&self) -> HashSet<u64> {
        self.record.last_before_breaks.lock().unwrap().clone()
    }

    /// Releases all that is left and waits until everything is acknowledged; how many had to be sent again.
    pub async fn finish(&mut self) -> u64 {
        self.release(self.stream.len);
        self.acknowledged(self.stream.len).await;
        let mut resent = 0;
        while let Some(line) = self.lines.join_next().await {
            resent += line.unwrap();
        }
        resent
    }
}
