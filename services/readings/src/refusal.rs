//! Messages and values that were not accepted, and why.

use crate::Message;
use serde::{Deserialize, Serialize};
use std::fmt;
use units::{Time, VesselId};

macro_rules! reasons {
    ($($(#[$doc:meta])* $name:ident = $word:literal,)*) => {
        /// Why a message or value was not accepted.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
        #[serde(rename_all = "snake_case")]
        pub enum Reason { $($(#[$doc])* $name,)* }

        impl Reason {
            /// Every reason, in the order of their words.
            pub const ALL: &[Reason] = &[$(Reason::$name,)*];

            /// The word under which it is counted and shown.
            ///
            /// ```
            /// assert_eq!(readings::Reason::SensorPowerOnReset.word(), "sensor_power_on_reset");
            /// ```
            pub fn word(self) -> &'static str {
                match self { $(Reason::$name => $word,)* }
            }
        }
    };
}

reasons! {
    /// A comma that may part thousands or decimals; nobody said which.
    AmbiguousNumber = "ambiguous_number",
    /// Bytes that are not CBOR, or cut short.
    BadCbor = "bad_cbor",
    /// Not JSON. The whole message is refused; no number is fished out of broken text.
    BadJson = "bad_json",
    /// JSON or CBOR, but no SenML: a field of the wrong kind, two values, a bad name, a version that we do not know.
    BadSenml = "bad_senml",
    /// This reading already stands.
    Duplicate = "duplicate",
    /// Nothing in it.
    Empty = "empty",
    /// A sign of life of the device, not a reading.
    LivenessOnly = "liveness_only",
    /// The field that the map names is not there.
    MissingField = "missing_field",
    /// Text that is no number, not-a-number, or infinite.
    NotANumber = "not_a_number",
    /// Bytes that are not UTF-8.
    NotText = "not_text",
    /// The device says null.
    NullValue = "null_value",
    /// Outside what a working probe can send.
    OutOfRange = "out_of_range",
    /// Far from the values around it, at a probe whose map entry asks for that.
    Outlier = "outlier",
    /// Kept by the broker and without a time of its own that can be believed: its age is unknown.
    RetainedNotFresh = "retained_not_fresh",
    /// −127 °C: the code of a common library for "probe not there".
    SensorDisconnected = "sensor_disconnected",
    /// 85 °C: the register of a one-wire probe before its first conversion.
    SensorPowerOnReset = "sensor_power_on_reset",
    /// A jump that water cannot make and that the next reading did not confirm.
    TooFastChange = "too_fast_change",
    /// So many readings of one probe that their times of arrival have run out.
    TooFrequent = "too_frequent",
    /// Longer than 64 KiB.
    TooLong = "too_long",
    /// More probes than one room can have.
    TooManyProbes = "too_many_probes",
    /// A word for "no reading now": unavailable, unknown, offline and the like.
    UnavailableWord = "unavailable_word",
    /// A unit that we do not know, that does not measure this quantity, or that contradicts the map.
    UnknownUnit = "unknown_unit",
    /// A word that the map does not know.
    UnknownWord = "unknown_word",
    /// No probe belongs to this topic.
    UnmappedTopic = "unmapped_topic",
    /// A truth value, list or object where a number should be.
    WrongType = "wrong_type",
}

impl fmt::Display for Reason {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.word())
    }
}

/// One message or value that was not accepted.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Refusal {
    /// The probe, or the topic where no probe is known; at most 80 characters.
    pub place: String,
    /// Why.
    pub reason: Reason,
    /// The first 80 characters of the payload or the value, control characters replaced by spaces.
    pub excerpt: String,
    /// When the message arrived.
    pub at: Time,
}

impl Refusal {
    /// Longest excerpt and place, in characters; one that is as long may have been cut.
    pub const LONGEST: usize = 80;

    /// The topic has the default shape, but the room has no vessel of that name.
    pub fn unmapped(message: &Message<'_>, vessel: &VesselId) -> Self {
        let payload = excerpt(message.payload);
        let words = format!("no vessel {vessel} in this room: {payload}");
        Self { excerpt: cut(&words), ..Self::of(message.topic, Reason::UnmappedTopic, message) }
    }

    /// The message is longer than anything that is read; what is there of its payload is only its beginning.
    pub fn too_long(message: &Message<'_>) -> Self {
        Self::of(message.topic, Reason::TooLong, message)
    }

    /// Refuses a message for a place.
    pub(crate) fn of(place: &str, reason: Reason, message: &Message<'_>) -> Self {
        Self { place: cut(place), reason, excerpt: excerpt(message.payload), at: message.received }
    }
}

/// The beginning of a payload as text that can be shown and logged.
fn excerpt(payload: &[u8]) -> String {
    // A character has at most four bytes, so the rest is never looked at.
    let head = payload.get(..Refusal::LONGEST * 4).unwrap_or(payload);
    cut(&String::from_utf8_lossy(head))
}

fn cut(text: &str) -> String {
    text.chars().take(Refusal::LONGEST).map(|c| if c.is_control() { ' ' } else { c }).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_excerpt_is_short_and_harmless() {
        assert_eq!(excerpt(b"a\x1b[31m\r\nb"), "a [31m  b");
        assert_eq!(excerpt("é".repeat(500).as_bytes()), "é".repeat(80));
        assert_eq!(excerpt(&[0xff; 3]), "\u{fffd}".repeat(3));
    }

    #[test]
    fn words_are_in_order_and_the_same_in_json() {
        assert!(Reason::ALL.windows(2).all(|w| w[0].word() < w[1].word()));
        for r in Reason::ALL {
            assert_eq!(serde_json::to_string(r).unwrap(), format!("\"{r}\""));
        }
    }
}
