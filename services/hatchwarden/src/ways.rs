//! Both ways in behind one stream: the front door of our own, or a session with a standard broker.

use crate::config::{Config, FrontDoor as DoorConfig, WayIn};
use crate::keys;
use crate::room::Setup;
use crate::service::StartError;
use bytes::Bytes;
use frontdoor::{FrontDoor, Publish};
use intake::broker::{self, Link, Session};
use intake::{Ack, Incoming, Outlet};
use std::net::SocketAddr;
use std::sync::Arc;
use std::time::Duration;
use tokio::sync::{mpsc, watch};
use tokio::task::JoinHandle;
use tokio::time::timeout;

/// Messages that may wait between the way in and the engine.
pub(crate) const WAITING: usize = 20_000;

/// The way in that the configuration asks for.
pub(crate) enum Way {
    /// Our own listener.
    Door {
        door: Arc<FrontDoor>,
        service_topic: String,
        adapter: JoinHandle<()>,
        calm: watch::Sender<Option<String>>,
    },
    /// A broker's session.
    Broker { session: Arc<Session>, watcher: JoinHandle<()>, trouble: watch::Receiver<Option<String>> },
}

/// A way in that is known to be possible, but not yet open.
pub(crate) enum Entrance {
    /// The front door: its socket is bound.
    Door(FrontDoor, mpsc::Receiver<Publish>),
    /// A broker, which may be away.
    Broker(Box<broker::Settings>),
}

/// Takes hold of what the configuration asks for, so that a port in use is known before anything is touched.
pub(crate) async fn find(config: &Config) -> Result<Entrance, StartError> {
    match &config.way_in {
        WayIn::FrontDoor(door) => {
            let (door, publishes) = FrontDoor::open(door_settings(door)?).await?;
            Ok(Entrance::Door(door, publishes))
        }
        WayIn::Broker(b) => {
            let file = b.password_file.as_ref();
            let password = file.map(|f| keys::secret("[mqtt.broker] password_file", f)).transpose()?;
            let service_topic = format!("hatchwarden/{}/service", config.room);
            Ok(Entrance::Broker(Box::new(broker::Settings {
                username: b.username.clone(),
                password: password.map(Into::into),
                tls: b.tls.as_ref().map(keys::broker_tls).transpose()?,
                ..broker::Settings::new(&b.host, b.port, &b.client_id, Vec::new(), &service_topic)
            })))
        }
    }
}

fn door_settings(door: &DoorConfig) -> Result<frontdoor::Settings, StartError> {
    let access = keys::access(door)?;
    let tls = door.tls.as_ref().map(keys::door_tls).transpose()?;
    if tls.is_none() && !door.listen.ip().is_loopback() {
        tracing::warn!(listen = %door.listen, "passwords and readings cross the network in the clear; \
            add [mqtt.front_door_tls] unless the devices cannot speak TLS and the network is yours alone");
    }
    Ok(frontdoor::Settings { listen: door.listen, access, tls, limits: frontdoor::Limits::default() })
}

/// Lets messages in.
pub(crate) fn open(
    entrance: Entrance,
    setup: &Setup,
    filters: Vec<String>,
) -> (Way, mpsc::Receiver<Incoming>) {
    match entrance {
        Entrance::Door(door, publishes) => {
            let service_topic = format!("hatchwarden/{}/service", setup.room);
            let (sender, incoming) = mpsc::channel(WAITING);
            let (calm, _) = watch::channel(None);
            let adapter = tokio::spawn(adapt(publishes, sender));
            door.publish(&service_topic, Bytes::from_static(b"here"), true);
            (Way::Door { door: Arc::new(door), service_topic, adapter, calm }, incoming)
        }
        Entrance::Broker(settings) => {
            let (session, incoming) = broker::open(broker::Settings { filters, ..*settings }, WAITING);
            let (tell, trouble) = watch::channel(None);
            let watcher = tokio::spawn(watch_link(session.link(), tell));
            (Way::Broker { session: Arc::new(session), watcher, trouble }, incoming)
        }
    }
}

async fn adapt(mut publishes: mpsc::Receiver<Publish>, sender: mpsc::Sender<Incoming>) {
    while let Some(p) = publishes.recv().await {
        let Publish { topic, payload, qos, dup, ack, .. } = p;
        // At the front door "retain" is the device's wish for others; the message itself has just been sent.
        let ack = Ack::new(move || ack.done());
        let incoming = Incoming { topic, payload, oversize: None, qos, retained: false, dup, ack };
        if sender.send(incoming).await.is_err() {
            return;
        }
    }
}

/// A broker that comes back within this time was only reconnecting: nobody is woken for it. A planning value.
const MOMENT: Duration = Duration::from_secs(10);

/// Tells the trouble of a broker that has been away for longer than a moment, until it is back.
async fn watch_link(mut link: watch::Receiver<Link>, tell: watch::Sender<Option<String>>) {
    let up = |link: &Link| matches!(link, Link::Up { .. });
    while link.wait_for(|l| matches!(l, Link::Away { .. })).await.is_ok() {
        if timeout(MOMENT, link.wait_for(up)).await.is_ok() {
            continue;
        }
        loop {
            let state = link.borrow_and_update().clone();
            match state {
                Link::Up { .. } => break,
                Link::Away { reason, .. } => tell_if_new(&tell, Some(reason)),
                Link::Connecting => {}
            }
            if link.changed().await.is_err() {
                return;
            }
        }
        tell_if_new(&tell, None);
    }
}

fn tell_if_new(tell: &watch::Sender<Option<String>>, trouble: Option<String>) {
    tell.send_if_modified(|old| {
        let news = *old != trouble;
        *old = trouble;
        news
    });
}

struct DoorOutlet(Arc<FrontDoor>);

impl Outlet for DoorOutlet {
    fn publish(&self, topic: &str, payload: Bytes, retain: bool) {
        self.0.publish(topic, payload, retain);
    }
}

impl Way {
    pub(crate) fn outlet(&self) -> Arc<dyn Outlet> {
        match self {
            Way::Door { door, .. } => Arc::new(DoorOutlet(door.clone())),
            Way::Broker { session, .. } => session.clone(),
        }
    }

    pub(crate) fn trouble(&self) -> watch::Receiver<Option<String>> {
        match self {
            Way::Door { calm, .. } => calm.subscribe(),
            Way::Broker { trouble, .. } => trouble.clone(),
        }
    }

    pub(crate) fn front_door(&self) -> Option<SocketAddr> {
        match self {
            Way::Door { door, .. } => Some(door.local_addr()),
            Way::Broker { .. } => None,
        }
    }

    pub(crate) async fn close(self) {
        match self {
            Way::Door { door, service_topic, adapter, .. } => {
                door.publish(&service_topic, Bytes::from_static(b"away"), true);
                adapter.abort();
                if let Some(door) = Arc::into_inner(door) {
                    door.close().await;
                }
            }
            Way::Broker { session, watcher, .. } => {
                watcher.abort();
                if let Some(session) = Arc::into_inner(session) {
                    session.close().await;
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn away() -> Link {
        Link::Away { reason: "no broker answers".to_owned(), tries: 1 }
    }

    #[tokio::test(start_paused = true)]
    async fn a_short_reconnect_is_no_trouble_and_a_long_absence_is() {
        let (link, heard) = watch::channel(Link::Up { resumed: false });
        let (tell, mut told) = watch::channel(None);
        let watcher = tokio::spawn(watch_link(heard, tell));

        link.send_replace(away());
        tokio::time::sleep(MOMENT / 2).await;
        link.send_replace(Link::Up { resumed: true });
        tokio::time::sleep(MOMENT * 2).await;
        assert!(!told.has_changed().unwrap(), "a reconnect of five seconds was told");

        link.send_replace(away());
        told.changed().await.unwrap();
        assert_eq!(told.borrow_and_update().as_deref(), Some("no broker answers"));
        link.send_replace(Link::Up { resumed: true });
        told.changed().await.unwrap();
        assert!(told.borrow().is_none());
        watcher.abort();
    }
}
