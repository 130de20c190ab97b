//! Which topics mean what.

use crate::body::Body;
use crate::checked::{About, Entry};
use crate::map_error::{Fault, MapError, fault};
use crate::reader::Found;
use crate::text_formats::Words;
use crate::topic::{covers, is_exact, matches};
use crate::{Decoded, MapEntry, Message, Raw, Reason, Refusal, Sender, shape};
use std::collections::HashMap;
use units::{ProbeKey, RoomId};

/// Which topics mean what: our own default shape `hatchwarden/<room>/<vessel>/<quantity>[/<mark>]`, which needs no
/// entry, and the entries for devices with topics of their own. An entry goes before the default shape.
///
/// Our own outgoing topics (`…/alarm/…`, `…/service`) are never readings. `hatchwarden/<room>/<vessel>/availability` with
/// `online` or `offline` tells of the device that publishes for that vessel, and goes by the vessel's name. No vessel
/// can therefore be called `alarm`.
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
        if self.entries.iter().any(|e| feeds_the_same(&e.written, &entry.written)) {
            let cure = "another entry says the same of this topic; leave one of the two out";
            return Err(fault("topic", &entry.written.topic, cure.to_owned()));
        }
        let at = self.entries.len();
        if is_exact(&entry.written.topic) {
            self.exact.entry(entry.written.topic.clone()).or_default().push(at);
        } else {
            self.open.push(at);
        }
        self.entries.push(entry);
        Ok(())
    }

    /// The entries as they were written.
    pub fn entries(&self) -> impl Iterator<Item = &MapEntry> {
        self.entries.iter().map(|e| &e.written)
    }

    /// What to subscribe to: the default shape with and without a mark, and each entry's filter. A filter whose
    /// topics all fall under another one is left out, since a broker may deliver a message once for each.
    ///
    /// ```
    /// # use readings::TopicMap;
    /// let map = TopicMap::new("undercroft".parse().unwrap(), Vec::new()).unwrap();
    /// assert_eq!(map.filters(&[]), ["hatchwarden/undercroft/+/+", "hatchwarden/undercroft/+/+/+"]);
    /// assert_eq!(map.filters(&["#".to_owned()]), ["#"]);
    /// ```
    ///
    /// `beside` is heard as well, so that what nobody has mapped yet can be listed.
    pub fn filters(&self, beside: &[String]) -> Vec<String> {
        let ours = ["+/+", "+/+/+"].map(|tail| format!("{}{tail}", self.prefix));
        let mapped = self.entries.iter().map(|e| e.written.topic.as_str());
        let all: Vec<&str> =
            ours.iter().map(String::as_str).chain(mapped).chain(beside.iter().map(String::as_str)).collect();
        let spare = |i: usize, f: &str| {
            // Of two that cover each other, the same filter twice, the first stays.
            all.iter().enumerate().any(|(j, g)| j != i && covers(g, f) && (j < i || !covers(f, g)))
        };
        all.iter().enumerate().filter(|(i, f)| !spare(*i, f)).map(|(_, f)| (*f).to_owned()).collect()
    }

    /// What a message says, one item for each number in it that a probe wants; never empty.
    pub fn decode(&self, m: &Message<'_>) -> Vec<Decoded> {
        if self.is_ours(m.topic) {
            return vec![Decoded::Nothing];
        }
        let body = Body::new(m.payload);
        let mut all = Vec::new();
        for entry in self.entries_for(m.topic) {
            entry.decode(m, &body, &mut all);
        }
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
            .filter(move |i| self.entries.get(**i).is_some_and(|e| matches(&e.written.topic, topic)));
        exact.chain(open).filter_map(|i| self.entries.get(*i))
    }

    fn default_shape(&self, m: &Message<'_>, body: &Result<Body<'_>, Reason>) -> Decoded {
        let rest = m.topic.strip_prefix(self.prefix.as_str());
        if let Some(device) = rest.and_then(|r| r.strip_suffix("/availability")) {
            return availability(m, device, body, |b| Words::availability().payload(b.text()?));
        }
        match rest.and_then(|r| Some((r, r.parse::<ProbeKey>().ok()?))) {
            Some((place, probe)) => {
                let read = body.as_ref().map_err(|r| *r).and_then(|b| shape::read(probe, b));
                read.map_or_else(|r| Decoded::Refused(Refusal::of(place, r, m)), Decoded::Value)
            }
            None => Decoded::Refused(Refusal::of(m.topic, Reason::UnmappedTopic, m)),
        }
    }
}

/// Whether two entries would make the same reading twice of one message.
fn feeds_the_same(a: &MapEntry, b: &MapEntry) -> bool {
    a.topic == b.topic
        && a.says == b.says
        && (&a.vessel, a.quantity, &a.mark) == (&b.vessel, b.quantity, &b.mark)
}

impl Entry {
    fn decode(&self, m: &Message<'_>, body: &Result<Body<'_>, Reason>, out: &mut Vec<Decoded>) {
        let device = self.device.as_ref().map(|d| d.of(m.topic).to_owned());
        match &self.about {
            About::Probe(probe) => {
                let Some(key) = probe.key(m.topic) else {
                    return out.push(Decoded::Refused(Refusal::of(m.topic, Reason::UnmappedTopic, m)));
                };
                let comma = self.written.decimal_comma;
                match body.as_ref().map_err(|r| *r).and_then(|b| self.reader.read(b, &probe.convert, comma)) {
                    Ok(found) => out.extend(found.into_iter().map(|f| {
                        let Found { value, own_time, sequence, within } = f;
                        let (probe, rules) = (key.clone(), probe.rules.clone());
                        let sender = device.clone().map_or(Sender::Unknown, Sender::Device);
                        Decoded::Value(Raw { probe, value, own_time, sequence, sender, within, rules })
                    })),
                    Err(reason) => out.push(Decoded::Refused(Refusal::of(&key.to_string(), reason, m))),
                }
            }
            About::Availability => {
                out.push(availability(m, &device.unwrap_or_default(), body, |b| self.reader.word(b)));
            }
            About::SignOfLife => out.push(Decoded::Alive { device: device.unwrap_or_default() }),
        }
    }
}

/// A word that says whether a device is connected: 0 is not.
fn availability<'a>(
    m: &Message<'_>,
    device: &str,
    body: &Result<Body<'a>, Reason>,
    word: impl FnOnce(&Body<'a>) -> Result<f64, Reason>,
) -> Decoded {
    match body.as_ref().map_err(|r| *r).and_then(word) {
        Ok(said) => Decoded::Availability { device: device.to_owned(), online: said != 0.0 },
        // Nothing in it: a retained word that was taken back.
        Err(Reason::Empty) => Decoded::Nothing,
        Err(reason) => Decoded::Refused(Refusal::of(m.topic, reason, m)),
    }
}
