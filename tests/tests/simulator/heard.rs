//! Messages as a foreign client hears them, and as `record` writes them.

use serde_json::Value;
use std::collections::HashMap;
use std::path::Path;

/// How mosquitto_sub prints a message: a mark, quality of service, retained, topic, payload in hex.
pub(crate) const FORM: &str = "M %q %r %t %x";

/// One message.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Heard {
    pub(crate) topic: String,
    pub(crate) payload: Vec<u8>,
    pub(crate) qos: u8,
    pub(crate) retain: bool,
}

/// The messages among what mosquitto_sub printed.
pub(crate) fn hear(printed: &str) -> Vec<Heard> {
    printed.lines().filter_map(|l| l.strip_prefix("M ")).map(heard).collect()
}

fn heard(line: &str) -> Heard {
    let words: Vec<&str> = line.split(' ').collect();
    let [qos, retain, topic, hex] = words[..] else { panic!("{line:?}") };
    let byte = |i: usize| u8::from_str_radix(&hex[i..i + 2], 16).unwrap();
    Heard {
        topic: topic.to_owned(),
        payload: (0..hex.len()).step_by(2).map(byte).collect(),
        qos: qos.parse().unwrap(),
        retain: retain == "1",
    }
}

pub(crate) fn hex(text: &str) -> String {
    text.bytes().map(|b| format!("{b:02x}")).collect()
}

/// What a record holds, with the device of each message.
pub(crate) struct Record(Vec<(String, Heard)>);

/// Records a scenario with seed 5.
pub(crate) async fn recorded(folder: &Path, file: &str, length: &str) -> Record {
    let out = folder.join("record");
    let arguments = ["record", file, "--out", out.to_str().unwrap(), "--for", length, "--seed", "5"];
    let (code, said) = crate::sim(&arguments).await;
    assert_eq!(code, Some(0), "{said}");
    let text = std::fs::read_to_string(out.join("messages.jsonl")).unwrap();
    Record(text.lines().map(|line| written(&serde_json::from_str(line).unwrap())).collect())
}

fn written(line: &Value) -> (String, Heard) {
    let text = |key: &str| line[key].as_str().map(str::to_owned);
    let payload = text("payload").map(String::into_bytes).or_else(|| Some(base64(&text("payload_b64")?)));
    let heard = Heard {
        topic: text("topic").unwrap(),
        payload: payload.unwrap(),
        qos: line["qos"].as_u64().unwrap_or(1) as u8,
        retain: line["retain"].as_bool().unwrap_or(false),
    };
    (text("device").unwrap(), heard)
}

/// RFC 4648, 4.
fn base64(text: &str) -> Vec<u8> {
    let letter = |c: u8| match c {
        b'A'..=b'Z' => c - b'A',
        b'a'..=b'z' => c - b'a' + 26,
        b'0'..=b'9' => c - b'0' + 52,
        b'+' => 62,
        _ => 63,
    };
    let (mut out, mut bits, mut have) = (Vec::new(), 0_u32, 0);
    for c in text.bytes().filter(|c| *c != b'=') {
        bits = bits << 6 | u32::from(letter(c));
        have += 6;
        if have >= 8 {
            have -= 8;
            out.push((bits >> have) as u8);
        }
    }
    out
}

impl Record {
    /// The messages of a device in their order.
    pub(crate) fn of(&self, device: &str) -> Vec<Heard> {
        self.0.iter().filter(|(d, _)| d == device).map(|(_, h)| h.clone()).collect()
    }

    /// Those among what was heard.
    pub(crate) fn heard_of(&self, device: &str, got: &[Heard]) -> Vec<Heard> {
        let by_topic: HashMap<&str, &str> =
            self.0.iter().map(|(d, h)| (h.topic.as_str(), d.as_str())).collect();
        got.iter().filter(|h| by_topic[h.topic.as_str()] == device).cloned().collect()
    }
}

/// That two sequences are the same but for when the room began: values, numbers, qualities, and the differences of times.
pub(crate) fn same(device: &str, got: &[Heard], want: &[Heard]) {
    let mut offset = None;
    for (i, (g, w)) in got.iter().zip(want).enumerate() {
        assert_eq!((&g.topic, g.qos), (&w.topic, w.qos), "{device}, message {i}");
        assert!(!g.retain, "the broker marks what it kept for late subscribers only");
        let (mut g, mut w) = (read(&g.payload), read(&w.payload));
        if let (Some(own), Some(recorded)) = (take_time(&mut g), take_time(&mut w)) {
            assert_eq!(*offset.get_or_insert(own - recorded), own - recorded, "{device}, message {i}: {g}");
        }
        assert_eq!(g, w, "{device}, message {i}");
    }
    assert_eq!(got.len(), want.len(), "{device}");
    assert!(got.len() > 5, "{device} was hardly heard");
}

/// JSON, or the bytes themselves.
fn read(payload: &[u8]) -> Value {
    serde_json::from_slice(payload).unwrap_or_else(|_| payload.to_vec().into())
}

/// Takes a device's time out of its message, ms.
fn take_time(message: &mut Value) -> Option<i64> {
    let map = message.as_object_mut()?;
    let seconds = map.remove("t").or_else(|| map.remove("ts"))?.as_f64()?;
    Some((seconds * 1000.0).round() as i64)
}
