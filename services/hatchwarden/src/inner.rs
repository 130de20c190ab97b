//! The inside of the service: store, room, engine and desk, without a socket.

use crate::clock::Clock;
use crate::engine::{self, Desk, Engine, Parts};
use crate::night::letters::Letters;
use crate::room::{Room, Setup};
use crate::service::StartError;
use intake::{Incoming, Outlet};
use notify::Troubles;
use std::sync::Arc;
use store::Store;
use tokio::sync::{Notify, mpsc, watch};
use tokio::task::JoinHandle;

/// What joins the inside to the world.
pub(crate) struct Links {
    /// Messages with their acknowledgements.
    pub(crate) incoming: mpsc::Receiver<Incoming>,
    /// Where alarms are published.
    pub(crate) outlet: Arc<dyn Outlet>,
    /// Why messages cannot come in, while they cannot.
    pub(crate) trouble: watch::Receiver<Option<String>>,
    /// Ways out by which nothing arrives, and why.
    pub(crate) undelivered: watch::Receiver<Troubles>,
    /// Why the other Hatchwarden is taken to be dead, while it is.
    pub(crate) other: watch::Receiver<Option<String>>,
}

/// The room as its store remembers it, before anything runs.
pub(crate) struct Restored {
    room: Room,
    store: Store,
    clock: Clock,
}

/// A running inside.
pub(crate) struct Inner {
    pub(crate) desk: Desk,
    pub(crate) store: Store,
    /// Told when something was put into the outbox.
    pub(crate) outbox: Arc<Notify>,
    pub(crate) stop: watch::Sender<bool>,
    pub(crate) engine: JoinHandle<()>,
}

impl Inner {
    /// Who writes the review of each night, where somebody wants it by mail.
    pub(crate) fn letters(&self, setup: &Arc<Setup>, clock: &Clock) -> Option<Letters> {
        Some(Letters {
            mail: setup.night.clone()?,
            setup: setup.clone(),
            desk: self.desk.clone(),
            store: self.store.clone(),
            clock: clock.clone(),
            outbox: self.outbox.clone(),
        })
    }
}

impl Restored {
    /// Reads a room's past from its store.
    ///
    /// # Errors
    /// [`StartError::Restore`] naming what could not be read.
    pub(crate) async fn read(store: Store, setup: Arc<Setup>, clock: Clock) -> Result<Self, StartError> {
        let room = engine::restore(store.clone(), setup, clock.now()).await?;
        Ok(Self { room, store, clock })
    }

    /// What the room wants to hear.
    pub(crate) fn filters(&self) -> Vec<String> {
        self.room.filters()
    }

    /// Sets the engine going.
    pub(crate) fn start(self, links: Links) -> Inner {
        let Self { room, store, clock } = self;
        let Links { incoming, outlet, trouble, undelivered, other } = links;
        let (stop, stopped) = watch::channel(false);
        let outbox = Arc::new(Notify::new());
        let parts = Parts {
            room,
            store: store.clone(),
            clock,
            incoming,
            outlet,
            trouble,
            outbox: outbox.clone(),
            undelivered,
            other,
        };
        let (engine, desk) = Engine::new(parts);
        Inner { desk, store, outbox, stop, engine: tokio::spawn(engine.run(stopped)) }
    }
}
