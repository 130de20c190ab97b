//! What one decoded message would become, in words that can be shown: for trying a map before it is used.

use crate::{Decoded, Judge, Message, Raw, Reading, Reason, TimeSource, TopicMap, Verdict};
use serde::Serialize;
use units::{Time, Unit};

/// What became of one number, word or message.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Tried {
    /// The probe or device it speaks of, or the topic where none is known.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub place: Option<String>,
    /// `reading` or `refusal`.
    pub outcome: &'static str,
    /// The number, in `unit`.
    pub value: Option<f64>,
    /// Its unit.
    pub unit: Option<String>,
    /// `arrival`, `payload`, `payload_relative`, or `unknown` for a retained message without a time of its own.
    pub time_source: Option<&'static str>,
    /// When it was measured, as far as known.
    pub time: Option<Time>,
    /// What is odd about its time.
    pub flag: Option<&'static str>,
    /// Why it is no reading.
    pub reason: Option<&'static str>,
}

impl Tried {
    fn blank(place: &str) -> Self {
        let place = Some(place.to_owned());
        Self {
            place,
            outcome: "",
            value: None,
            unit: None,
            time_source: None,
            time: None,
            flag: None,
            reason: None,
        }
    }

    /// No reading.
    pub(crate) fn refused(place: &str, reason: Reason) -> Self {
        Self { outcome: "refusal", reason: Some(reason.word()), ..Self::blank(place) }
    }

    fn good(place: &str, value: f64, unit: Unit) -> Self {
        let unit = Some(unit.symbol().to_owned());
        Self { outcome: "reading", value: Some(value), unit, ..Self::blank(place) }
    }

    fn reading(r: &Reading) -> Self {
        let time_source = match r.time_source {
            TimeSource::Arrival => "arrival",
            TimeSource::Payload => "payload",
            TimeSource::PayloadRelative => "payload_relative",
        };
        Self {
            time_source: Some(time_source),
            time: Some(r.time),
            flag: r.flags.words().first().copied(),
            ..Self::good(&r.probe.to_string(), r.value, r.probe.quantity.unit())
        }
    }

    /// A retained message without a time: a last known value, and nobody knows how old.
    fn undated(raw: &Raw) -> Self {
        let flag = Some(Reason::RetainedNotFresh.word());
        let good = Self::good(&raw.probe.to_string(), raw.value, raw.probe.quantity.unit());
        Self { time_source: Some("unknown"), flag, ..good }
    }
}

/// Tries a message on a map, by a judge that knows nothing yet.
///
/// ```
/// use readings::{Message, TopicMap, trial};
/// let map = TopicMap::new("undercroft".parse().unwrap(), Vec::new()).unwrap();
/// let received = units::Time::from_millis(1_931_221_060_000);
/// let topic = "hatchwarden/undercroft/V1/temperature";
/// let tried = trial::of(&map, &Message { topic, payload: b"85.0", retained: false, received });
/// assert_eq!(tried[0].reason, Some("sensor_power_on_reset"));
/// ```
pub fn of(map: &TopicMap, message: &Message<'_>) -> Vec<Tried> {
    let mut judge = Judge::new();
    map.decode(message).into_iter().map(|d| one(d, message, &mut judge)).collect()
}

/// What one item becomes, by a judge that may know what came before.
pub(crate) fn one(decoded: Decoded, message: &Message<'_>, judge: &mut Judge) -> Tried {
    match decoded {
        Decoded::Value(raw) => value(raw, message, judge),
        Decoded::Refused(r) => Tried::refused(&r.place, r.reason),
        Decoded::Availability { device, online } => Tried {
            // A birth or last will is true from when it is heard, retained or not.
            time_source: Some("arrival"),
            time: Some(message.received),
            ..Tried::good(&device, f64::from(u8::from(online)), Unit::State)
        },
        Decoded::Alive { device } => Tried::refused(&device, Reason::LivenessOnly),
        Decoded::Nothing => Tried::refused(message.topic, Reason::LivenessOnly),
    }
}

fn value(raw: Raw, message: &Message<'_>, judge: &mut Judge) -> Tried {
    let kept = raw.clone();
    match judge.judge(raw, message.retained, message.received) {
        Verdict::Accept(readings) => readings.last().map_or_else(|| Tried::undated(&kept), Tried::reading),
        Verdict::Hold => Tried::refused(&kept.probe.to_string(), Reason::TooFastChange),
        Verdict::Refuse(r) if r.reason == Reason::RetainedNotFresh => Tried::undated(&kept),
        Verdict::Refuse(r) => Tried::refused(&r.place, r.reason),
    }
}
