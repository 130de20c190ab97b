//! Who is there, who wants what, and what is retained. One lock; every section under it is short and never waits.

use crate::checks::{Fault, code, filter_allowed};
use crate::connect::Connect;
use crate::counts::{Counters, Counts};
use crate::gate::Gate;
use crate::link::{Close, Link};
use crate::message::{Outgoing, Will};
use crate::packet::{Filter, Options, Version};
use crate::publish::Publish;
use crate::retained::Retained;
use crate::rights::Rights;
use crate::session::{Session, Terms};
use crate::settings::Limits;
use crate::trie::Trie;
use std::collections::{HashMap, HashSet};
use std::sync::atomic::{AtomicU64, Ordering::Relaxed};
use std::sync::{Arc, PoisonError, RwLock, RwLockReadGuard, RwLockWriteGuard};
use std::time::Duration;
use tokio::sync::{mpsc, watch};
use tokio::time::Instant;

/// The shared state of the front door.
#[derive(Debug)]
pub(crate) struct Broker {
    pub(crate) limits: Limits,
    pub(crate) counters: Counters,
    pub(crate) gate: Gate,
    pub(crate) consumer: mpsc::Sender<Publish>,
    tables: RwLock<Tables>,
    assigned: AtomicU64,
    pub(crate) closing: watch::Sender<bool>,
}

/// Clients, subscriptions and retained messages.
#[derive(Debug)]
pub(crate) struct Tables {
    clients: HashMap<Arc<str>, Entry>,
    pub(crate) subscriptions: Trie<Subscription>,
    pub(crate) retained: Retained,
    next_key: u64,
}

/// One client as the tables know it.
#[derive(Debug)]
struct Entry {
    session: Arc<Session>,
    filters: HashSet<String>,
    /// Seconds that the session is kept without a connection.
    expiry: u32,
    /// Since when there is no connection.
    away: Option<Instant>,
    /// A will that waits for its delay.
    will: Option<(Instant, Will)>,
}

/// What one filter of one client asks for.
#[derive(Debug)]
pub(crate) struct Subscription {
    pub(crate) session: Arc<Session>,
    pub(crate) options: Options,
}

/// A client that has been let in.
#[derive(Debug)]
pub(crate) struct Attached {
    pub(crate) session: Arc<Session>,
    /// An earlier session goes on.
    pub(crate) present: bool,
    /// Wills that the taking over fires; they go out before the newcomer is answered.
    pub(crate) wills: Vec<Will>,
}

impl Broker {
    pub(crate) fn new(limits: Limits, gate: Gate, consumer: mpsc::Sender<Publish>) -> Self {
        let retained = Retained::new(limits.retained, limits.retained_bytes);
        let tables =
            Tables { clients: HashMap::new(), subscriptions: Trie::default(), retained, next_key: 0 };
        Broker {
            limits,
            counters: Counters::default(),
            gate,
            consumer,
            tables: RwLock::new(tables),
            assigned: AtomicU64::new(0),
            closing: watch::Sender::new(false),
        }
    }

    pub(crate) fn read(&self) -> RwLockReadGuard<'_, Tables> {
        self.tables.read().unwrap_or_else(PoisonError::into_inner)
    }

    pub(crate) fn write(&self) -> RwLockWriteGuard<'_, Tables> {
        self.tables.write().unwrap_or_else(PoisonError::into_inner)
    }

    pub(crate) fn counts(&self) -> Counts {
        let tables = self.read();
        self.counters.read(tables.clients.len(), tables.retained.len())
    }

    /// An id for a client that gave none; not one that somebody uses.
    pub(crate) fn fresh_id(&self) -> String {
        loop {
            let id = format!("assigned-{}", self.assigned.fetch_add(1, Relaxed) + 1);
            if !self.read().clients.contains_key(id.as_str()) {
                return id;
            }
        }
    }

    /// Lets a client in that has these rights: finds or makes its session and closes the connection that had it.
    pub(crate) fn attach(
        &self,
        connect: &Connect,
        rights: &Arc<Rights>,
        link: &Arc<Link>,
    ) -> Result<Attached, Fault> {
        let mut tables = self.write();
        if tables.clients.get(&connect.client).is_some_and(|e| e.session.rights.user != rights.user) {
            tracing::warn!(client = %connect.client, user = rights.name(),
                "connection refused: the client id belongs to another user's session; give every device its own");
            return Err(Fault { code: code::CLIENT_ID, why: "client id of another user" });
        }
        let mut wills = Vec::new();
        let keeps =
            !connect.clean && tables.clients.get(&connect.client).is_some_and(|entry| entry.expiry > 0);
        let others = |(client, entry): &(&Arc<str>, &Entry)| entry.expiry > 0 && **client != connect.client;
        let persistent = tables.clients.iter().filter(others).count();
        if connect.expiry > 0 && persistent >= self.limits.sessions {
            tracing::warn!(client = %connect.client, sessions = persistent,
                "persistent session refused: the limit is reached; raise it or let clients connect with a clean session");
            return Err(Fault { code: code::QUOTA, why: "limit of persistent sessions" });
        }
        let terms = self.terms(connect);
        if let Some(entry) = tables.clients.get_mut(&connect.client) {
            wills.extend(take_over(entry, keeps));
        }
        if !keeps {
            tables.remove(&connect.client);
        }
        let session = tables.enter(connect, rights);
        session.attach(Arc::clone(link), terms);
        Ok(Attached { session, present: keeps, wills })
    }

    fn terms(&self, connect: &Connect) -> Terms {
        Terms {
            window: usize::from(connect.receive_maximum).min(self.limits.unacknowledged),
            packet_maximum: connect.packet_maximum as usize,
        }
    }

    /// A connection has ended. Returns the will to publish now, if any.
    pub(crate) fn detach(
        &self,
        session: &Session,
        link: &Arc<Link>,
        why: Close,
        now: Instant,
    ) -> Option<Will> {
        let will = link.take_will().filter(|_| why.fires_will());
        let mut tables = self.write();
        if !session.detach(link) {
            return will;
        }
        let Some(entry) = tables.entry(session) else { return will };
        let expiry = entry.expiry;
        entry.away = Some(now);
        if expiry == 0 {
            tables.remove(&session.client);
            return will;
        }
        let will = will?;
        if will.delay == 0 {
            return Some(will);
        }
        // The end of the session fires the will at the latest.
        let at = now + Duration::from_secs(u64::from(will.delay.min(expiry)));
        if let Some(entry) = tables.entry(session) {
            entry.will = Some((at, will));
        }
        None
    }

    /// MQTT 5: DISCONNECT may set another session expiry.
    pub(crate) fn set_expiry(&self, session: &Session, expiry: u32) -> Result<(), Fault> {
        if let Some(entry) = self.write().entry(session) {
            if entry.expiry == 0 && expiry > 0 {
                return Err(Fault::protocol("session expiry set at DISCONNECT but not at CONNECT"));
            }
            entry.expiry = expiry;
        }
        Ok(())
    }

    /// Ends sessions whose time is over and returns the wills that are due.
    pub(crate) fn sweep(&self, now: Instant) -> Vec<Will> {
        let mut tables = self.write();
        let mut due = Vec::new();
        let mut over = Vec::new();
        for (client, entry) in &mut tables.clients {
            if let Some((_, will)) = entry.will.take_if(|(at, _)| *at <= now) {
                due.push(will);
            }
            if entry.expired(now) {
                over.push(Arc::clone(client));
            }
        }
        over.iter().for_each(|client| tables.remove(client));
        due
    }

    /// From now on nobody waits for the consumer.
    pub(crate) fn closing(&self) {
        self.closing.send_replace(true);
    }

    /// Subscribes, queues the retained messages, and returns one reason code for each filter.
    pub(crate) fn subscribe(&self, session: &Arc<Session>, version: Version, filters: &[Filter]) -> Vec<u8> {
        let mut tables = self.write();
        let mut one = |wanted: &Filter| {
            self.subscribe_one(&mut tables, session, version, wanted).unwrap_or_else(|Fault { code, why }| {
                self.counters.refused_subscription();
                tracing::warn!(client = %session.client, filter = wanted.filter, code, why, "subscription refused");
                code
            })
        };
        filters.iter().map(&mut one).collect()
    }

    fn subscribe_one(
        &self,
        tables: &mut Tables,
        session: &Arc<Session>,
        version: Version,
        wanted: &Filter,
    ) -> Result<u8, Fault> {
        filter_allowed(&wanted.filter, version == Version::V5, &self.limits)
            .map_err(|code| Fault { code, why: "not a filter that can be served" })?;
        if !session.rights.may_subscribe(&wanted.filter) {
            return Err(Fault { code: code::NOT_AUTHORIZED, why: "no permitted filter covers it" });
        }
        // A session that has been taken over or ended subscribes to nothing.
        let over = Fault { code: 0x80, why: "the session is over" };
        let entry = tables.entry(session).ok_or(over)?;
        if !entry.filters.contains(&wanted.filter) && entry.filters.len() >= self.limits.filters {
            return Err(Fault { code: code::QUOTA, why: "limit of filters for one client" });
        }
        entry.filters.insert(wanted.filter.clone());
        let subscription = Subscription { session: Arc::clone(session), options: wanted.options };
        let again = tables.subscriptions.insert(&wanted.filter, session.key, subscription);
        let send = match wanted.options.retain_handling {
            0 => true,
            1 => !again,
            _ => false,
        };
        if send {
            self.send_retained(tables, session, wanted);
        }
        Ok(wanted.options.qos)
    }

    fn send_retained(&self, tables: &Tables, session: &Session, wanted: &Filter) {
        let now = Instant::now();
        for message in tables.retained.matching(&wanted.filter) {
            if !message.expired(now) {
                let qos = message.qos.min(wanted.options.qos);
                session.push(Outgoing { message, qos, retain: true }, &self.limits, &self.counters);
            }
        }
    }

    /// Ends subscriptions; one MQTT 5 reason code for each filter.
    pub(crate) fn unsubscribe(&self, session: &Session, filters: &[String]) -> Vec<u8> {
        let mut tables = self.write();
        filters
            .iter()
            .map(|filter| {
                if let Some(entry) = tables.entry(session) {
                    entry.filters.remove(filter);
                }
                // 0x11: no subscription existed.
                if tables.subscriptions.remove(filter, session.key) { 0 } else { 0x11 }
            })
            .collect()
    }
}

/// Closes the connection that had the client id and takes the wills that this fires.
fn take_over(entry: &mut Entry, keeps: bool) -> Vec<Will> {
    let mut wills = Vec::new();
    if let Some(old) = entry.session.link() {
        // A session that goes on at once cancels a delayed will.
        wills.extend(old.take_will().filter(|will| !keeps || will.delay == 0));
        old.close(Close::TakenOver);
    }
    wills.extend(entry.will.take().filter(|_| !keeps).map(|(_, will)| will));
    wills
}

impl Entry {
    fn expired(&self, now: Instant) -> bool {
        let Some(away) = self.away else { return false };
        self.expiry != u32::MAX && away + Duration::from_secs(u64::from(self.expiry)) <= now
    }
}

impl Tables {
    /// The entry of this very session; a later one of the same client is not its own.
    fn entry(&mut self, session: &Session) -> Option<&mut Entry> {
        self.clients.get_mut(&session.client).filter(|entry| std::ptr::eq(&*entry.session, session))
    }

    fn remove(&mut self, client: &str) {
        if let Some(entry) = self.clients.remove(client) {
            for filter in &entry.filters {
                self.subscriptions.remove(filter, entry.session.key);
            }
        }
    }

    fn enter(&mut self, connect: &Connect, rights: &Arc<Rights>) -> Arc<Session> {
        let key = self.next_key;
        self.next_key += 1;
        let client = Arc::clone(&connect.client);
        let entry = self.clients.entry(client).or_insert_with_key(|client| Entry {
            session: Arc::new(Session::new(Arc::clone(client), key, Arc::clone(rights))),
            filters: HashSet::new(),
            expiry: 0,
            away: None,
            will: None,
        });
        entry.expiry = connect.expiry;
        entry.away = None;
        Arc::clone(&entry.session)
    }
}

#[cfg(test)]
#[path = "broker_tests.rs"]
mod tests;
