//! What comes out of a room.

use crate::truth::Truth;
use std::sync::Arc;
use units::Time;

/// What a message is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// What a device has measured.
    Reading,
    /// A device says `online` when it has connected.
    Status,
    /// The broker says `offline` for a device whose connection is gone.
    Will,
}

/// One message as it comes to the broker's subscribers.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Sent {
    /// When it was published; a message that was kept meanwhile tells of an earlier moment.
    pub at: Time,
    /// The device that publishes it.
    pub device: Arc<str>,
    /// MQTT topic.
    pub topic: Arc<str>,
    /// What it says.
    pub payload: Vec<u8>,
    /// Whether the broker is asked to keep it for later subscribers.
    pub retain: bool,
    /// Quality of service, 0 or 1.
    pub qos: u8,
    /// What it is.
    pub kind: Kind,
}

/// Something that a room brings about.
#[derive(Debug, Clone, PartialEq)]
pub enum Happening {
    /// A message.
    Sent(Sent),
    /// A device loses or finds its connection.
    Link {
        /// When.
        at: Time,
        /// Which.
        device: Arc<str>,
        /// Whether it has one now.
        up: bool,
    },
    /// What really happened.
    Truth(Truth),
}
