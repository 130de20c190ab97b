//! Slows down whoever guesses passwords: for each address, how long the next refusal waits. Bounded. Pure: time is an argument.

use std::collections::HashMap;
use std::net::{IpAddr, Ipv6Addr};
use std::time::Duration;
use tokio::time::Instant;

/// The first refusal of an address waits this long, each further one twice as long as the one before.
const FIRST: Duration = Duration::from_millis(250);
/// Most that a refusal waits.
const LONGEST: Duration = Duration::from_secs(8);
/// An address without a refusal for this long begins anew. A planning value.
const FORGET: Duration = Duration::from_secs(600);
/// Lines in the log about one address.
const LINE: Duration = Duration::from_secs(60);
/// Addresses remembered; the one that has been quiet the longest makes room.
const ADDRESSES: usize = 1_024;
/// User names held for one address; the oldest makes room.
const HELD: usize = 16;

/// Addresses that were refused lately.
#[derive(Debug, Default)]
pub(crate) struct Peers(HashMap<IpAddr, Peer>);

#[derive(Debug)]
struct Peer {
    /// What the next refusal waits.
    delay: Duration,
    seen: Instant,
    logged: Option<Instant>,
    /// User names (hashed) whose refusal has not been answered yet, and until when.
    held: Vec<(u64, Instant)>,
}

/// How to refuse.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Refusal {
    /// When to answer.
    pub(crate) answer: Instant,
    /// Worth a line in the log.
    pub(crate) log: bool,
}

impl Peers {
    /// A user name that was refused to this address is not judged again before that refusal is answered. Without this, guesses on
    /// many connections at once would not be slowed at all; other names from the address (a gateway's) are not held up.
    pub(crate) fn held(&self, address: IpAddr, user: u64, now: Instant) -> Option<Instant> {
        let peer = self.0.get(&key(address))?;
        peer.held.iter().find(|(name, until)| *name == user && *until > now).map(|(_, until)| *until)
    }

    /// A sign-in is refused.
    pub(crate) fn refused(&mut self, address: IpAddr, user: u64, now: Instant) -> Refusal {
        let peer = self.peer(address, now);
        if now - peer.seen >= FORGET {
            peer.delay = FIRST;
        }
        let answer = now + peer.delay;
        peer.delay = (peer.delay * 2).min(LONGEST);
        peer.seen = now;
        peer.held.retain(|(name, until)| *name != user && *until > now);
        if peer.held.len() >= HELD {
            peer.held.remove(0);
        }
        peer.held.push((user, answer));
        Refusal { answer, log: peer.line(now) }
    }

    /// Another line about this address may go to the log.
    pub(crate) fn line(&mut self, address: IpAddr, now: Instant) -> bool {
        self.peer(address, now).line(now)
    }

    fn peer(&mut self, address: IpAddr, now: Instant) -> &mut Peer {
        let address = key(address);
        if self.0.len() >= ADDRESSES && !self.0.contains_key(&address) {
            self.make_room();
        }
        let fresh = || Peer { delay: FIRST, seen: now, logged: None, held: Vec::new() };
        self.0.entry(address).or_insert_with(fresh)
    }

    fn make_room(&mut self) {
        let oldest = self.0.iter().min_by_key(|(_, peer)| peer.seen).map(|(address, _)| *address);
        if let Some(oldest) = oldest {
            self.0.remove(&oldest);
        }
    }
}

impl Peer {
    fn line(&mut self, now: Instant) -> bool {
        let due = self.logged.is_none_or(|last| now - last >= LINE);
        if due {
            self.logged = Some(now);
        }
        due
    }
}

/// An IPv6 network is one address: whoever has one of its addresses usually has all of them.
fn key(address: IpAddr) -> IpAddr {
    match address.to_canonical() {
        IpAddr::V6(six) => Ipv6Addr::from_bits(six.to_bits() & (u128::MAX << 64)).into(),
        four @ IpAddr::V4(_) => four,
    }
}

#[cfg(test)]
#[path = "peers_tests.rs"]
mod tests;
