//! Worked cases: a message, how to read it, what came before it, and what becomes of it. A file of them is a list of
//! such objects; `hatchwarden decode --batch` reads one.

mod how;

pub use how::HowToRead;

use crate::trial::{self, Tried};
use crate::{Decoded, Judge, Message, Raw, Reason, TopicMap};
use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use serde::{Deserialize, Serialize};
use units::Time;

/// One message and how to read it. Further fields are passed over.
///
/// ```
/// let case: readings::case::Case = serde_json::from_str(r#"{
///     "id": "F1", "topic": "rack/t", "payload": "80.4", "received_at": "2031-03-14T02:17:40Z",
///     "how_to_read": {"channel": "temperature", "format": "plain", "unit_in": "F", "unit_out": "C"}
/// }"#).unwrap();
/// let outcome = case.run().unwrap();
/// let tried = outcome.tried;
/// assert_eq!((tried.outcome, tried.unit.as_deref()), ("reading", Some("C")));
/// assert!((tried.value.unwrap() - 26.889).abs() < 0.001);
/// ```
#[derive(Debug, Clone, Deserialize)]
pub struct Case {
    /// Its name.
    pub id: String,
    /// Topic it was published to.
    pub topic: String,
    /// Payload, where it is text.
    #[serde(default)]
    pub payload: Option<String>,
    /// Payload as base64, where it is not.
    #[serde(default)]
    pub payload_b64: Option<String>,
    /// How it came over MQTT.
    #[serde(default)]
    pub mqtt: Mqtt,
    /// When it arrived.
    pub received_at: Time,
    /// How it is read.
    pub how_to_read: HowToRead,
    /// What came before: `26.95 at 2031-03-14T02:17:25Z`, `seq 4411 from the same device already stored`. Anything
    /// else is for people.
    #[serde(default)]
    pub context: Vec<String>,
}

/// How a message came over MQTT.
#[derive(Debug, Clone, Copy, Default, Deserialize)]
#[serde(default)]
pub struct Mqtt {
    /// Whether the broker had kept it.
    pub retain: bool,
}

/// What became of a message.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Outcome {
    /// The case.
    pub id: String,
    /// What became of it; its value stands in the unit that the case asks for.
    #[serde(flatten)]
    pub tried: Tried,
}

/// A case that cannot be tried.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("case {id}: {field} will not do: {cure}")]
pub struct CaseError {
    /// Which case.
    pub id: String,
    /// Which of its fields.
    pub field: String,
    /// What to write instead.
    pub cure: String,
}

impl Case {
    /// What becomes of it.
    ///
    /// # Errors
    /// [`CaseError`] if the case itself is broken: its payload is no base64, or its way of reading makes no sense.
    pub fn run(&self) -> Result<Outcome, CaseError> {
        let payload = self.bytes()?;
        let message = Message {
            topic: &self.topic,
            payload: &payload,
            retained: self.mqtt.retain,
            received: self.received_at,
        };
        if !self.how_to_read.knows_unit_in() {
            let tried = Tried::refused(&self.topic, Reason::UnknownUnit);
            return Ok(Outcome { id: self.id.clone(), tried: Tried { place: None, ..tried } });
        }
        let map = self.map()?;
        // A payload may hold a series; the case asks for one value, the first that is wrong or the last that is not.
        let decoded = map.decode(&message);
        let wrong = decoded.iter().find(|d| matches!(d, Decoded::Refused(_)));
        let tried = match wrong.or(decoded.last()) {
            Some(item) => self.in_its_unit(trial::one(item.clone(), &message, &mut self.judge(item))),
            None => Tried::refused(&self.topic, Reason::LivenessOnly),
        };
        Ok(Outcome { id: self.id.clone(), tried: Tried { place: None, ..tried } })
    }

    /// A judge that knows what came before.
    fn judge(&self, item: &Decoded) -> Judge {
        let mut judge = Judge::new();
        if let Decoded::Value(raw) = item {
            for words in &self.context {
                self.came_before(words, raw, &mut judge);
            }
        }
        judge
    }

    fn in_its_unit(&self, tried: Tried) -> Tried {
        let Some(value) = tried.value else { return tried };
        let value = Some(self.how_to_read.unit_out().map_or(value, |u| u.from_base(value)));
        Tried { value, unit: self.how_to_read.unit_out.clone(), ..tried }
    }

    fn bytes(&self) -> Result<Vec<u8>, CaseError> {
        match (&self.payload, &self.payload_b64) {
            (Some(text), _) => Ok(text.clone().into_bytes()),
            (None, Some(b64)) => STANDARD
                .decode(b64)
                .map_err(|e| self.wrong("payload_b64", &format!("write base64 with padding: {e}"))),
            (None, None) => Ok(Vec::new()),
        }
    }

    fn map(&self) -> Result<TopicMap, CaseError> {
        let entry = self.how_to_read.entry(&self.topic).map_err(|(field, cure)| self.wrong(field, &cure))?;
        let room = "room".parse().map_err(|_| self.wrong("topic", "no room"))?;
        TopicMap::new(room, entry.into_iter().collect())
            .map_err(|e| self.wrong(&format!("how_to_read ({} {:?})", e.field, e.value), &e.cure))
    }

    fn wrong(&self, field: &str, cure: &str) -> CaseError {
        CaseError { id: self.id.clone(), field: field.to_owned(), cure: cure.to_owned() }
    }

    /// Takes in what came before: the same message under a running number, or a value at a time.
    fn came_before(&self, words: &str, raw: &Raw, judge: &mut Judge) {
        if let Some(number) = words.split_once("seq ").and_then(|(_, rest)| leading_number(rest)) {
            let mut before = Raw { sequence: Some(number), ..raw.clone() };
            if raw.sequence != Some(number) {
                before.own_time = None;
            }
            judge.judge(before, false, self.received_at);
        } else if words.contains("already stored") {
            judge.judge(raw.clone(), false, self.received_at);
        } else if let Some((value, time)) = value_at(words) {
            let before =
                Raw { own_time: None, sequence: None, value: self.to_ours(value, raw), ..raw.clone() };
            judge.judge(before, false, time);
        }
    }

    fn to_ours(&self, value: f64, raw: &Raw) -> f64 {
        self.how_to_read
            .unit_out()
            .filter(|u| u.base() == raw.probe.quantity.unit())
            .map_or(value, |u| u.to_base(value))
    }
}

fn leading_number(text: &str) -> Option<u64> {
    let end = text.find(|c: char| !c.is_ascii_digit()).unwrap_or(text.len());
    text[..end].parse().ok()
}

/// `26.95 at 2031-03-14T02:17:25Z`, with or without words behind it.
fn value_at(words: &str) -> Option<(f64, Time)> {
    let (value, rest) = words.split_once(" at ")?;
    let time = Time::parse_rfc3339(rest.split_whitespace().next()?).ok()?;
    Some((value.split_whitespace().last()?.parse().ok()?, time))
}
