//! What comes in, and what decoding makes of it.

use crate::{Refusal, Rules};
use std::sync::Arc;
use units::{ProbeKey, Span, Time};

/// One message as it arrived.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Message<'a> {
    /// Topic it was published to.
    pub topic: &'a str,
    /// Bytes as on the wire.
    pub payload: &'a [u8],
    /// Kept by the broker and handed over on subscribing: an old reading, however young it looks.
    pub retained: bool,
    /// When it arrived here.
    pub received: Time,
}

/// What one message says about one probe.
#[derive(Debug, Clone, PartialEq)]
pub enum Decoded {
    /// A finite number inside the hard band of its quantity.
    Value(Raw),
    /// No number that can be used; to be counted.
    Refused(Refusal),
    /// A device says whether it is connected. It says nothing about air or water.
    Availability {
        /// Which device.
        device: String,
        /// Whether it is.
        online: bool,
    },
    /// A sign of life of a device and no reading.
    Alive {
        /// Which device.
        device: String,
    },
    /// Not a reading and no fault: our own alarms, the service's state.
    Nothing,
}

/// A decoded number, not yet judged against what came before.
#[derive(Debug, Clone, PartialEq)]
pub struct Raw {
    /// Whose reading it is.
    pub probe: ProbeKey,
    /// The number in the unit of the probe's quantity.
    pub value: f64,
    /// What the payload says about its time, if anything.
    pub own_time: Option<OwnTime>,
    /// The device's running number.
    pub sequence: Option<u64>,
    /// The device that sent it.
    pub sender: Sender,
    /// The device says that its next reading comes within this time (SenML's update time).
    pub within: Option<Span>,
    /// What holds for this probe, where the map says so.
    pub rules: Option<Arc<Rules>>,
}

impl Raw {
    /// A number of a probe without anything beside it.
    pub fn bare(probe: ProbeKey, value: f64) -> Self {
        Self {
            probe,
            value,
            own_time: None,
            sequence: None,
            sender: Sender::Unknown,
            within: None,
            rules: None,
        }
    }
}

/// Which device a reading came from, as far as its topic tells.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub enum Sender {
    /// A topic of its own, and the map names no device.
    #[default]
    Unknown,
    /// Our default shape: the device that publishes for the vessel, which goes by the vessel's name.
    Vessel,
    /// The device that the map names.
    Device(String),
}

/// What a payload says about the time of its reading. Whether it can be believed is for the
/// [`Judge`](crate::Judge) to say.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum OwnTime {
    /// An epoch or a time with a zone.
    At(Time),
    /// So long before it arrived.
    Ago(Span),
    /// A date and time without a zone: a guess would be hours wrong.
    NoZone,
    /// There is a time field, but it holds no time that we can read.
    Unreadable,
}
