//! The last retained message of each topic, bounded by topics and bytes. Pure.

use crate::matching::matches;
use crate::message::Message;
use std::collections::BTreeMap;
use std::sync::Arc;
use tokio::time::Instant;

/// What became of a message that asked to be retained.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Kept {
    /// Stored, replaced or cleared.
    Yes,
    /// No room; `first` of its spell, so worth a line in the log.
    Full { first: bool },
}

/// Retained messages by topic.
#[derive(Debug)]
pub(crate) struct Retained {
    by_topic: BTreeMap<Box<str>, Arc<Message>>,
    bytes: usize,
    most_topics: usize,
    most_bytes: usize,
    refusing: bool,
}

impl Retained {
    pub(crate) fn new(most_topics: usize, most_bytes: usize) -> Self {
        Retained { by_topic: BTreeMap::new(), bytes: 0, most_topics, most_bytes, refusing: false }
    }

    /// An empty payload clears its topic, anything else replaces it. A message that finds no room leaves the older one out too:
    /// a value that is known to be out of date is worse than none.
    pub(crate) fn set(&mut self, message: &Arc<Message>, now: Instant) -> Kept {
        if let Some(old) = self.by_topic.remove(&message.topic) {
            self.bytes -= old.weight();
        }
        if message.payload.is_empty() {
            self.refusing = false;
            return Kept::Yes;
        }
        if self.full(message) {
            self.forget_expired(now);
        }
        if self.full(message) {
            let first = !std::mem::replace(&mut self.refusing, true);
            return Kept::Full { first };
        }
        self.bytes += message.weight();
        self.by_topic.insert(message.topic.clone(), Arc::clone(message));
        Kept::Yes
    }

    fn full(&self, message: &Message) -> bool {
        self.by_topic.len() >= self.most_topics || self.bytes + message.weight() > self.most_bytes
    }

    fn forget_expired(&mut self, now: Instant) {
        self.by_topic.retain(|_, message| !message.expired(now));
        self.bytes = self.by_topic.values().map(|message| message.weight()).sum();
    }

    pub(crate) fn len(&self) -> usize {
        self.by_topic.len()
    }

    /// All that a filter matches, in topic order.
    pub(crate) fn matching(&self, filter: &str) -> Vec<Arc<Message>> {
        if !filter.contains(['+', '#']) {
            return self.by_topic.get(filter).into_iter().cloned().collect();
        }
        self.by_topic
            .iter()
            .filter(|(topic, _)| matches(filter, topic))
            .map(|(_, message)| Arc::clone(message))
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use bytes::Bytes;
    use std::time::Duration;

    fn message(topic: &str, payload: &'static str) -> Arc<Message> {
        let payload = Bytes::from_static(payload.as_bytes());
        Arc::new(Message { topic: topic.into(), payload, qos: 1, properties: Bytes::new(), expires: None })
    }

    fn set(kept: &mut Retained, message: &Arc<Message>) -> Kept {
        kept.set(message, Instant::now())
    }

    fn payloads(kept: &Retained, filter: &str) -> Vec<Bytes> {
        kept.matching(filter).iter().map(|m| m.payload.clone()).collect()
    }

    #[test]
    fn replaced_and_cleared() {
        let mut kept = Retained::new(10, 1_000);
        set(&mut kept, &message("undercroft/V1", "25.1"));
        set(&mut kept, &message("undercroft/V1", "25.2"));
        set(&mut kept, &message("undercroft/V2", "24.0"));
        assert_eq!(payloads(&kept, "undercroft/+"), ["25.2", "24.0"]);
        assert_eq!(payloads(&kept, "undercroft/V2"), ["24.0"]);
        set(&mut kept, &message("undercroft/V1", ""));
        assert_eq!(payloads(&kept, "#"), ["24.0"]);
        assert_eq!(kept.len(), 1);
    }

    #[test]
    fn the_cap_refuses_and_says_so_once() {
        let mut kept = Retained::new(1, 1_000);
        assert_eq!(set(&mut kept, &message("a", "1")), Kept::Yes);
        assert_eq!(set(&mut kept, &message("b", "1")), Kept::Full { first: true });
        assert_eq!(set(&mut kept, &message("c", "1")), Kept::Full { first: false });
        assert_eq!(set(&mut kept, &message("a", "2")), Kept::Yes, "a topic that has its place keeps it");
        set(&mut kept, &message("a", ""));
        assert_eq!(set(&mut kept, &message("b", "1")), Kept::Yes);
    }

    #[test]
    fn bytes_are_counted_down_again() {
        let mut kept = Retained::new(10, 12);
        assert_eq!(set(&mut kept, &message("a", "0123456789")), Kept::Yes);
        assert_eq!(set(&mut kept, &message("b", "01")), Kept::Full { first: true });
        assert_eq!(set(&mut kept, &message("a", "0")), Kept::Yes);
        assert_eq!(set(&mut kept, &message("b", "01")), Kept::Yes);
        assert_eq!(kept.bytes, 5);
    }

    #[test]
    fn expired_ones_make_room() {
        let mut kept = Retained::new(1, 1_000);
        let now = Instant::now();
        let Message { topic, payload, qos, properties, .. } = Arc::into_inner(message("a", "1")).unwrap();
        let brief = Message { topic, payload, qos, properties, expires: Some(now + Duration::from_secs(5)) };
        kept.set(&Arc::new(brief), now);
        assert_eq!(kept.set(&message("b", "1"), now), Kept::Full { first: true });
        assert_eq!(kept.set(&message("b", "1"), now + Duration::from_secs(5)), Kept::Yes);
        assert_eq!((kept.len(), kept.bytes), (1, 2));
    }
}
