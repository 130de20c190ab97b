//! Which topics mean what.

use crate::body::Body;
use crate::entry::Entry;
use crate::map_error::{Fault, MapError, fault};
use crate::topic::{covers, is_exact, matches};
use crate::{Decoded, MapEntry, Message, Raw, Reason, Refusal, shape};
use std::collections::HashMap;
use units::{ProbeKey, RoomId};

/// Which topics mean what: our own default shape `hatchwarden/<room>/<vessel>/<quantity>[/<mark>]`, which needs no
/// entry, and the entries for devices with topics of their own. An entry goes before the default shape.
///
/// Our own outgoing topics (`…/alarm/…`, `…/service`) are never readings, and neither is a topic that ends in
/// `/availability` unless an entry says so. No vessel can therefore be called `alarm`.
#[derive(Debug)]
pub struct TopicMap {
    prefix: String,
    entries: Vec<Entry>,
    exact: HashMap<String, Vec<usize>>,
    open: Vec<usize>,
}

impl TopicMap {
    /// Checks the entries.
    ///
    /// # Errors
    /// [`MapError`] for the first entry that will not do, with its number, field, value and cure.
    pub fn new(room: RoomId, entries: Vec<MapEntry>) -> Result<Self, MapError> {
        let prefix = format!("hatchwarden/{}/", String::from(room));
        let mut map = Self { prefix, entries: Vec::new(), exact: HashMap::new(), open: Vec::new() };
        for (i, entry) in entries.into_iter().enumerate() {
            Entry::new(entry).and_then(|e| map.add(e)).map_err(|f| f.in_entry(i + 1))?;
        }
        Ok(map)
    }

    fn add(&mut self, entry: Entry) -> Result<(), Fault> {
        if self.entries.iter().any(|e| e.filter == entry.filter && e.probe == entry.probe) {
            let cure = format!("it already feeds {}; leave one of the two out", entry.place);
            return Err(fault("topic", &entry.filter, cure));
        }
        let at = self.entries.len();
        if is_exact(&entry.filter) {
            self.exact.entry(entry.filter.clone()).or_default().push(at);
        } else {
            self.open.push(at);
        }
        self.entries.push(entry);
        Ok(())
    }

    /// What to subscribe to: the default shape with and without a mark, and each entry's filter. A filter whose
    /// topics all fall under another one is left out, since a broker may deliver a message once for each.
    ///
    /// ```
    /// # use readings::TopicMap;
    /// let map = TopicMap::new("undercroft".parse().unwrap(), Vec::new()).unwrap();
    /// assert_eq!(map.filters(), ["hatchwarden/undercroft/+/+", "hatchwarden/undercroft/+/+/+"]);
    /// ```
    pub fn filters(&self) -> Vec<String> {
        let ours = ["+/+", "+/+/+"].map(|tail| format!("{}{tail}", self.prefix));
        let all: Vec<&str> =
            ours.iter().map(String::as_str).chain(self.entries.iter().map(|e| e.filter.as_str())).collect();
        let spare = |i: usize, f: &str| {
            // Of two that cover each other, the same filter twice, the first stays.
            all.iter().enumerate().any(|(j, g)| j != i && covers(g, f) && (j < i || !covers(f, g)))
        };
        all.iter().enumerate().filter(|(i, f)| !spare(*i, f)).map(|(_, f)| (*f).to_owned()).collect()
    }

    /// What a message says, one item for each probe that it speaks of; never empty.
    pub fn decode(&self, m: &Message<'_>) -> Vec<Decoded> {
        if self.is_ours(m.topic) {
            return vec![Decoded::Nothing];
        }
        let body = Body::new(m.payload);
        let mapped = self.entries_for(m.topic);
        let mut all: Vec<Decoded> = mapped.map(|e| decoded(m, &e.place, &body, |b| e.read(b))).collect();
        if all.is_empty() {
            all.push(self.default_shape(m, &body));
        }
        all
    }

    fn is_ours(&self, topic: &str) -> bool {
        let rest = topic.strip_prefix(self.prefix.as_str());
        rest.is_some_and(|r| r == "service" || r == "alarm" || r.starts_with("alarm/"))
    }

    fn entries_for<'s>(&'s self, topic: &'s str) -> impl Iterator<Item = &'s Entry> {
        let exact = self.exact.get(topic).into_iter().flatten();
        let open = self
            .open
            .iter()
            .filter(move |i| self.entries.get(**i).is_some_and(|e| matches(&e.filter, topic)));
        exact.chain(open).filter_map(|i| self.entries.get(*i))
    }

    fn default_shape(&self, m: &Message<'_>, body: &Result<Body<'_>, Reason>) -> Decoded {
        if m.topic.ends_with("/availability") {
            return Decoded::Nothing;
        }
        let rest = m.topic.strip_prefix(self.prefix.as_str());
        match rest.and_then(|r| Some((r, r.parse::<ProbeKey>().ok()?))) {
            Some((place, probe)) => decoded(m, place, body, |b| shape::read(probe, b)),
            None => Decoded::Refused(Refusal::of(m.topic, Reason::UnmappedTopic, m)),
        }
    }
}

fn decoded<'a>(
    m: &Message<'_>,
    place: &str,
    body: &Result<Body<'a>, Reason>,
    read: impl FnOnce(&Body<'a>) -> Result<Raw, Reason>,
) -> Decoded {
    match body.as_ref().map_err(|r| *r).and_then(read) {
        Ok(raw) => Decoded::Value(raw),
        Err(reason) => Decoded::Refused(Refusal::of(place, reason, m)),
    }
}
