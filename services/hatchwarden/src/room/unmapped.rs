//! Topics that nobody has mapped, each with its last payload; and a bound on what refusals can fill.

use readings::{Message, Reason, Refusal};
use std::collections::HashMap;
use units::Time;
use web::probes::UnmappedView;
use web::view::RefusalView;

/// Most topics that are listed; the one heard longest ago makes room.
const MOST: usize = 500;
/// Most bytes of a payload that are kept, enough to try a map on it.
const PAYLOAD: usize = 4_096;
/// Most characters of a payload that are shown.
const SHOWN: usize = 400;
/// Most pairs of place and reason for which refusals are counted apart.
const PLACES: usize = 2_000;
/// Where the others are counted.
const OTHERS: &str = "(other places)";

/// The list.
#[derive(Debug, Default)]
pub(crate) struct Unmapped(HashMap<String, Heard>);

#[derive(Debug)]
struct Heard {
    count: u64,
    last: Time,
    retained: bool,
    payload: Vec<u8>,
    /// All of the payload is here, so that an entry can be tried on it.
    whole: bool,
}

impl Unmapped {
    /// One more message on a topic without an entry.
    pub(super) fn note(&mut self, m: &Message<'_>) {
        if !self.0.contains_key(m.topic) && self.0.len() >= MOST {
            let oldest = self.0.iter().min_by_key(|(_, h)| h.last).map(|(topic, _)| topic.clone());
            oldest.map(|topic| self.0.remove(&topic));
        }
        let payload = m.payload.get(..PAYLOAD).unwrap_or(m.payload);
        let heard = self.0.entry(m.topic.to_owned()).or_insert_with(|| Heard {
            count: 0,
            last: m.received,
            retained: m.retained,
            payload: Vec::new(),
            whole: true,
        });
        heard.count += 1;
        heard.last = m.received;
        heard.retained = m.retained;
        heard.payload.clear();
        heard.payload.extend_from_slice(payload);
        heard.whole = payload.len() == m.payload.len();
    }

    /// Takes in what was counted before a restart; of the payload only the excerpt is left. A topic that may have been cut
    /// is left out until it is heard again.
    pub(super) fn restore<'a>(&mut self, refusals: impl Iterator<Item = &'a RefusalView>) {
        let whole_topic = |r: &&RefusalView| r.place.chars().count() < Refusal::LONGEST;
        let unmapped = refusals.filter(|r| r.reason == Reason::UnmappedTopic.word());
        for r in unmapped.filter(whole_topic).take(MOST) {
            let payload = r.excerpt.clone().into_bytes();
            let heard = Heard { count: r.count, last: r.last, retained: false, payload, whole: false };
            self.0.insert(r.place.clone(), heard);
        }
    }

    /// Takes out what is mapped by now.
    pub(super) fn retain(&mut self, unmapped: impl Fn(&str) -> bool) {
        self.0.retain(|topic, _| unmapped(topic));
    }

    /// The last payload on a topic, if all of it is here, and whether it was retained.
    pub(super) fn payload(&self, topic: &str) -> Option<(&[u8], bool)> {
        self.0.get(topic).filter(|h| h.whole).map(|h| (h.payload.as_slice(), h.retained))
    }

    pub(super) fn views(&self) -> Vec<UnmappedView> {
        let mut all: Vec<UnmappedView> = self
            .0
            .iter()
            .map(|(topic, h)| UnmappedView {
                topic: topic.clone(),
                count: h.count,
                last: h.last,
                retained: h.retained,
                payload: shown(&h.payload),
            })
            .collect();
        all.sort_by(|a, b| b.last.cmp(&a.last).then_with(|| a.topic.cmp(&b.topic)));
        all
    }
}

fn shown(payload: &[u8]) -> String {
    let text = String::from_utf8_lossy(payload);
    text.chars().take(SHOWN).map(|c| if c.is_control() { ' ' } else { c }).collect()
}

/// Counts a refusal among the others once there are too many places.
pub(super) fn bounded(
    r: Refusal,
    known: &std::collections::BTreeMap<(String, String), RefusalView>,
) -> Refusal {
    let here = |place: &str| known.contains_key(&(place.to_owned(), r.reason.word().to_owned()));
    if known.len() < PLACES || here(&r.place) { r } else { Refusal { place: OTHERS.to_owned(), ..r } }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn message<'a>(topic: &'a str, payload: &'a [u8], ms: i64) -> Message<'a> {
        Message { topic, payload, retained: false, received: Time::from_millis(ms) }
    }

    #[test]
    fn the_topic_heard_longest_ago_makes_room() {
        let mut list = Unmapped::default();
        for i in 0..600 {
            list.note(&message(&format!("t/{i}"), b"1", i));
        }
        let views = list.views();
        assert_eq!((views.len(), views[0].topic.as_str()), (MOST, "t/599"));
        assert!(list.payload("t/99").is_none() && list.payload("t/100").is_some());
    }

    #[test]
    fn a_payload_is_kept_whole_up_to_a_bound_and_shown_harmless() {
        let mut list = Unmapped::default();
        list.note(&message("t", &[b'x'; 10_000], 0));
        list.note(&message("t", b"a\x1b[31m\n", 1));
        assert_eq!(list.payload("t"), Some((&b"a\x1b[31m\n"[..], false)));
        assert_eq!((list.views()[0].payload.as_str(), list.views()[0].count), ("a [31m ", 2));
        list.note(&message("t", &[b'x'; 10_000], 2));
        assert_eq!(list.payload("t"), None, "no entry is tried on a piece of a payload");
        assert_eq!(list.views()[0].payload.len(), SHOWN);
    }
}
