//! Signing in: name and password become rights, or a refusal that comes late.

use crate::access::{Access, Device, DeviceFault, Secret};
use crate::checks::{Fault, code};
use crate::counts::Counters;
use crate::link::lock;
use crate::peers::Peers;
use crate::rights::Rights;
use crate::settings::OpenError;
use std::collections::{HashMap, HashSet};
use std::hash::{BuildHasher, RandomState};
use std::net::{IpAddr, Ipv4Addr};
use std::sync::atomic::{AtomicUsize, Ordering::Relaxed};
use std::sync::{Arc, Mutex};
use std::time::Duration;
use tokio::time::{Instant, sleep_until};

/// Longest that a sign-in is held back before it is judged: just above the longest delay of a refusal.
const PATIENCE: Duration = Duration::from_secs(10);
/// Pairs of user and topic that a refused PUBLISH is logged for, in all.
const NOTED: usize = 1_000;

/// What a client shows when it comes.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Badge<'a> {
    pub(crate) peer: Option<IpAddr>,
    pub(crate) user: Option<&'a str>,
    pub(crate) password: Option<&'a Secret>,
}

/// Devices by name.
type Table = HashMap<Box<str>, (Secret, Arc<Rights>)>;

/// Knows the devices and whom to keep waiting.
#[derive(Debug)]
pub(crate) struct Gate {
    everybody: Arc<Rights>,
    /// `None` = no passwords are asked for.
    devices: Option<Table>,
    hasher: RandomState,
    peers: Mutex<Peers>,
    /// Connections that wait for a refusal. They must not take the places of devices, so they have a bound of their own.
    waiting: AtomicUsize,
    seats: usize,
    noted: Mutex<HashSet<u64>>,
}

enum Verdict {
    In(Arc<Rights>),
    /// Refused; to be told at that time.
    Refused(Instant, Fault),
    /// An earlier refusal of the same name is not answered yet.
    Held(Instant),
}

impl Gate {
    /// `connections` is the limit of all connections; a quarter of them may wait for a refusal.
    pub(crate) fn new(access: Access, connections: usize) -> Result<Self, OpenError> {
        let devices = match access {
            Access::Anonymous => None,
            Access::Devices(devices) => Some(table(&devices)?),
        };
        Ok(Gate { devices, seats: (connections / 4).max(1), ..Gate::anonymous() })
    }

    /// Everybody may come in.
    pub(crate) fn anonymous() -> Self {
        Gate {
            everybody: Arc::new(Rights::everybody()),
            devices: None,
            hasher: RandomState::new(),
            peers: Mutex::default(),
            waiting: AtomicUsize::new(0),
            seats: 1,
            noted: Mutex::default(),
        }
    }

    /// Lets a client in or refuses it late. `Err(None)` = too many wait already: no answer, and it was not judged or not let in.
    pub(crate) async fn sign_in(
        &self,
        badge: Badge<'_>,
        counters: &Counters,
    ) -> Result<Arc<Rights>, Option<Fault>> {
        let until = Instant::now() + PATIENCE;
        loop {
            match self.judge(badge, Instant::now()) {
                Verdict::In(rights) => return Ok(rights),
                Verdict::Refused(answer, fault) => {
                    counters.refused_sign_in();
                    self.wait(answer).await?;
                    return Err(Some(fault));
                }
                Verdict::Held(answer) if answer <= until => self.wait(answer).await?,
                Verdict::Held(_) => {
                    counters.refused_sign_in();
                    return Err(None);
                }
            }
        }
    }

    /// Judges and remembers in one step, so that of many guesses at one time only one is judged.
    fn judge(&self, badge: Badge<'_>, now: Instant) -> Verdict {
        let Some(devices) = &self.devices else { return Verdict::In(Arc::clone(&self.everybody)) };
        let (user, address) =
            (badge.user.unwrap_or_default(), badge.peer.unwrap_or(Ipv4Addr::UNSPECIFIED.into()));
        let name = self.hasher.hash_one(user);
        let mut peers = lock(&self.peers);
        if let Some(until) = peers.held(address, name, now) {
            return Verdict::Held(until);
        }
        // An unknown user is compared too, with a secret that nobody has: the time tells nothing.
        let (nobody, known) = (Secret::nobody(), devices.get(user));
        let secret = known.map_or(&nobody, |(secret, _)| secret);
        let right = secret.is(badge.password.unwrap_or(&nobody));
        if let (true, Some((_, rights))) = (bool::from(right), known) {
            return Verdict::In(Arc::clone(rights));
        }
        let refusal = peers.refused(address, name, now);
        drop(peers);
        if refusal.log {
            // A name that no device has may be a password in the wrong field, so it is not logged.
            let user = if known.is_some() { user } else { "(unknown)" };
            tracing::warn!(peer = %address, user, "sign-in refused: wrong user name or password; \
                further ones from this address are told once a minute");
        }
        Verdict::Refused(refusal.answer, fault(badge))
    }

    async fn wait(&self, until: Instant) -> Result<(), Option<Fault>> {
        let seat = Seat(&self.waiting);
        if self.waiting.fetch_add(1, Relaxed) >= self.seats {
            return Err(None);
        }
        sleep_until(until).await;
        drop(seat);
        Ok(())
    }

    /// A client of this address was turned away before it said who it is: whether to log it.
    pub(crate) fn line(&self, peer: Option<IpAddr>) -> bool {
        let address = peer.unwrap_or(Ipv4Addr::UNSPECIFIED.into());
        lock(&self.peers).line(address, Instant::now())
    }

    /// A message was refused: true the first time for this user and topic, as long as there is room to remember.
    pub(crate) fn first_refusal(&self, user: &str, topic: &str) -> bool {
        let mut noted = lock(&self.noted);
        let first = noted.len() < NOTED && noted.insert(self.hasher.hash_one((user, topic)));
        if first && noted.len() == NOTED {
            tracing::warn!("messages were refused for very many topics; further ones are counted, not named");
        }
        first
    }
}

/// One waiting connection; its place is free again however the waiting ends.
struct Seat<'a>(&'a AtomicUsize);

impl Drop for Seat<'_> {
    fn drop(&mut self) {
        self.0.fetch_sub(1, Relaxed);
    }
}

fn table(devices: &[Device]) -> Result<Table, OpenError> {
    let mut table = HashMap::new();
    for device in devices {
        let bad = |fault| OpenError::Device { device: device.name.clone(), fault };
        device.check().map_err(bad)?;
        let entry = (device.secret.clone(), Arc::new(Rights::of(device)));
        if table.insert(device.name.as_str().into(), entry).is_some() {
            return Err(bad(DeviceFault::Twice));
        }
    }
    Ok(table)
}

fn fault(badge: Badge<'_>) -> Fault {
    match badge.user {
        None => Fault { code: code::NOT_AUTHORIZED, why: "no user name; this front door asks for one" },
        Some(_) => Fault { code: code::BAD_USER, why: "wrong user name or password" },
    }
}

#[cfg(test)]
#[path = "gate_tests.rs"]
mod tests;
