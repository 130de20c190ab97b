//! What comes in from the sensors, and how the service speaks back.
//!
//! Every source of messages hands over [`Incoming`]s on a bounded channel and takes
//! publications through an [`Outlet`]. The rest of the service knows no more than that.

mod ack;
pub mod broker;

pub use ack::Ack;

use bytes::Bytes;

/// One message from a sensor, with the means of acknowledging it.
#[derive(Debug)]
pub struct Incoming {
    /// The topic it was published to.
    pub topic: String,
    /// What was published, untouched; of an oversize message only the beginning.
    pub payload: Bytes,
    /// The true length in bytes of a payload that was too large to be handed over whole. Such a
    /// message is to be refused, and acknowledged when the refusal is kept.
    pub oversize: Option<usize>,
    /// Quality of service it arrived with: 0 or 1.
    pub qos: u8,
    /// Whether the broker kept it for us rather than passing it on as it was published.
    pub retained: bool,
    /// Whether the broker says it may have sent this before.
    pub dup: bool,
    /// To be called when the message is safe; dropped uncalled, the message comes again.
    pub ack: Ack,
}

/// Where the service publishes.
pub trait Outlet: Send + Sync {
    /// Queues one publication and returns at once.
    fn publish(&self, topic: &str, payload: Bytes, retain: bool);
}
