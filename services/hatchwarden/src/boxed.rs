//! The whole service in a box: no sockets, and a clock that is moved by hand. A test plays days in moments, and every
//! alarm comes at the very moment at which it is due.

use crate::clock::{Clock, Hand};
use crate::config::Config;
use crate::engine::Desk;
use crate::inner::{Inner, Links, Restored};
use crate::room::Setup;
use crate::service::{self, StartError};
use crate::ways;
use bytes::Bytes;
use intake::{Ack, Incoming, Outlet};
use notify::Troubles;
use std::sync::{Arc, Mutex, PoisonError};
use store::{Options, Store};
use tokio::sync::{mpsc, oneshot, watch};
use tokio::task::JoinHandle;
use units::{Span, Time};

/// One publication of the service.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Published {
    /// When, by the clock of the box.
    pub at: Time,
    /// Where.
    pub topic: String,
    /// What; empty when an alarm is gone.
    pub payload: Bytes,
    /// Whether a broker is to keep it.
    pub retain: bool,
}

/// The service has stopped before it did what it was asked to.
#[derive(Debug, thiserror::Error)]
#[error("the service in the box has stopped; its log says why")]
pub struct Stopped;

/// The service in its box. Dropped without [`Boxed::stop`], it commits what it holds and ends by itself.
pub struct Boxed {
    clock: Clock,
    /// None by the machine's clock.
    hand: Option<Hand>,
    inner: Inner,
    /// Who writes the review of each night.
    letters: Option<JoinHandle<()>>,
    incoming: mpsc::Sender<Incoming>,
    published: Arc<Shelf>,
    /// Why messages cannot come in, while they cannot.
    trouble: watch::Sender<Option<String>>,
    _calm: Calm,
}

/// Messages can always go out, and the other service lives: nobody tells of trouble.
struct Calm {
    _delivering: watch::Sender<Troubles>,
    _watching: watch::Sender<Option<String>>,
}

impl Boxed {
    /// Starts the service for this room at this time; of the configuration, the page's address, the way in and the webhook
    /// are left alone. The store is the file that the configuration names, and does not wait for the disk.
    ///
    /// # Errors
    /// [`StartError`] naming the thing and the cure.
    pub async fn start(config: &Config, at: Time) -> Result<Self, StartError> {
        let options = Options { synchronous_full: false, ..Options::default() };
        let (clock, hand) = Clock::hand(at);
        Self::with(config, (clock, Some(hand)), options, 1).await
    }

    /// As [`Boxed::start`], by the machine's own clock and with every commit on the disk before it counts, as the service
    /// runs: for benches. Nobody moves that clock by hand.
    ///
    /// # Errors
    /// [`StartError`] naming the thing and the cure.
    pub async fn start_real(config: &Config) -> Result<Self, StartError> {
        Self::with(config, (Clock::real(), None), Options::default(), ways::WAITING).await
    }

    /// `waiting`: how many messages may wait before the engine.
    async fn with(
        config: &Config,
        (clock, hand): (Clock, Option<Hand>),
        options: Options,
        waiting: usize,
    ) -> Result<Self, StartError> {
        let setup = Arc::new(Setup::new(config, service::species(config)?)?);
        let restored =
            Restored::read(Store::open(&config.store, options)?, setup.clone(), clock.clone()).await?;
        let (sender, incoming) = mpsc::channel(waiting);
        let published = Arc::new(Shelf { clock: clock.clone(), all: Mutex::default() });
        let (trouble, told) = watch::channel(None);
        let (delivering, undelivered) = watch::channel(Troubles::new());
        let (watching, other) = watch::channel(None);
        let outlet = published.clone();
        let inner = restored.start(Links { incoming, outlet, trouble: told, undelivered, other });
        let letters = inner.letters(&setup, &clock);
        let letters = letters.map(|letters| tokio::spawn(letters.run(inner.stop.subscribe())));
        let calm = Calm { _delivering: delivering, _watching: watching };
        Ok(Self { clock, hand, inner, letters, incoming: sender, published, trouble, _calm: calm })
    }

    /// The clock of the box.
    pub fn clock(&self) -> &Clock {
        &self.clock
    }

    /// Where the page would ask.
    pub fn desk(&self) -> &Desk {
        &self.inner.desk
    }

    /// Hands a message in as if it had just come over MQTT; returns when it is acknowledged. While the store is failing
    /// that is not before it works again.
    ///
    /// # Errors
    /// [`Stopped`].
    pub async fn deliver(
        &self,
        topic: &str,
        payload: impl Into<Bytes>,
        retained: bool,
    ) -> Result<(), Stopped> {
        let (tell, acknowledged) = oneshot::channel();
        let ack = Ack::new(move || {
            // Whoever delivers may have given up waiting; the message is safe all the same.
            let _ = tell.send(());
        });
        let (topic, payload) = (topic.to_owned(), payload.into());
        let incoming = Incoming { topic, payload, oversize: None, qos: 1, retained, dup: false, ack };
        self.incoming.send(incoming).await.map_err(|_| Stopped)?;
        acknowledged.await.map_err(|_| Stopped)
    }

    /// Lets time pass up to `to`, by the machine's clock by waiting: everything that falls due on the way is done at its own
    /// moment and in order. Returns when all of it is on disk and announced.
    ///
    /// # Errors
    /// [`Stopped`].
    pub async fn move_to(&self, to: Time) -> Result<(), Stopped> {
        loop {
            let due = self.inner.desk.quiet().await.map_err(|_| Stopped)?;
            let now = self.clock.now();
            if now >= to {
                return Ok(());
            }
            // What is due has been done, so the next moment lies ahead.
            let next = due.filter(|due| *due > now).map_or(to, |due| due.min(to));
            match &self.hand {
                Some(hand) => hand.move_to(next),
                None => self.clock.reach(next).await,
            }
        }
    }

    /// Sets the clock of the box on by `by`, or back, while no time passes. Returns when what follows from that is on disk
    /// and announced.
    ///
    /// # Errors
    /// [`Stopped`].
    pub async fn jump(&self, by: Span) -> Result<(), Stopped> {
        if let Some(hand) = &self.hand {
            hand.jump(by);
        }
        self.inner.desk.quiet().await.map(|_| ()).map_err(|_| Stopped)
    }

    /// Says why messages cannot come in, as a broker that is away does; `None`: they can again.
    pub fn way_in(&self, trouble: Option<&str>) {
        self.trouble.send_replace(trouble.map(str::to_owned));
    }

    /// Waits until something is put into the outbox; what was put there before counts once.
    pub async fn posted(&self) {
        self.inner.outbox.notified().await;
    }

    /// The store, for whoever writes beside the engine.
    pub fn store(&self) -> &Store {
        &self.inner.store
    }

    /// Everything published so far, in order.
    pub fn announcements(&self) -> Vec<Published> {
        self.published.lock().clone()
    }

    /// Stops the service; what it holds is committed.
    pub async fn stop(self) {
        let Inner { desk, store, stop, engine, .. } = self.inner;
        stop.send_replace(true);
        // They end either way; a panic in one has been printed.
        let _ = engine.await;
        if let Some(letters) = self.letters {
            let _ = letters.await;
        }
        drop(desk);
        let _ = tokio::task::spawn_blocking(move || store.close()).await;
    }
}

/// Keeps what is published, with the time.
struct Shelf {
    clock: Clock,
    all: Mutex<Vec<Published>>,
}

impl Shelf {
    fn lock(&self) -> std::sync::MutexGuard<'_, Vec<Published>> {
        self.all.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl Outlet for Shelf {
    fn publish(&self, topic: &str, payload: Bytes, retain: bool) {
        let at = self.clock.now();
        self.lock().push(Published { at, topic: topic.to_owned(), payload, retain });
    }
}
