//! Accepts connections and looks after their tasks.

use crate::broker::Broker;
use crate::connection::{Guest, serve};
use crate::link::Close;
use crate::tls::{self, Tls};
use std::collections::HashMap;
use std::net::IpAddr;
use std::sync::Arc;
use std::time::Duration;
use tokio::io::{AsyncRead, AsyncWrite};
use tokio::net::TcpListener;
use tokio::sync::oneshot;
use tokio::task::{Id, JoinError, JoinSet};
use tokio::time::{Instant, MissedTickBehavior, interval, sleep};

/// How often sessions whose time is over and delayed wills are looked for; MQTT counts both in seconds.
const SWEEP: Duration = Duration::from_secs(1);
/// After a failed accept (no file descriptor left), before the next try.
const ACCEPT_AGAIN: Duration = Duration::from_millis(100);

/// The connection tasks, each with what must be undone if it panics.
pub(crate) struct Tasks {
    broker: Arc<Broker>,
    set: JoinSet<()>,
    guests: HashMap<Id, Arc<Guest>>,
    full: bool,
}

impl Tasks {
    pub(crate) fn new(broker: Arc<Broker>) -> Self {
        Tasks { broker, set: JoinSet::new(), guests: HashMap::new(), full: false }
    }

    /// Starts serving a socket, behind TLS if asked for; one above the limit is closed at once.
    pub(crate) fn start<S>(&mut self, socket: S, peer: Option<IpAddr>, tls: Option<&Tls>)
    where
        S: AsyncRead + AsyncWrite + Unpin + Send + 'static,
    {
        let limit = self.broker.limits.connections;
        if self.guests.len() >= limit {
            self.broker.counters.refused();
            if !std::mem::replace(&mut self.full, true) {
                tracing::warn!(limit, "connection refused: the limit is reached");
            }
            return;
        }
        let guest = Arc::new(Guest { peer, ..Guest::default() });
        let (broker, served) = (Arc::clone(&self.broker), Arc::clone(&guest));
        let task = match tls {
            Some(tls) => self.set.spawn(tls::serve(broker, served, socket, tls.clone())),
            None => self.set.spawn(serve(broker, served, socket)),
        };
        self.guests.insert(task.id(), guest);
        self.count();
    }

    /// Waits for the end of a task; never returns while there is none.
    pub(crate) async fn ended(&mut self) {
        match self.set.join_next_with_id().await {
            Some(Ok((id, ()))) => drop(self.guests.remove(&id)),
            Some(Err(error)) => self.failed(&error),
            None => std::future::pending().await,
        }
        self.full = false;
        self.count();
    }

    /// A task that panicked has not detached its session: done here, in a task of its own because a will may have to wait.
    fn failed(&mut self, error: &JoinError) {
        if error.is_panic() {
            tracing::error!(%error, "a connection's task panicked; its session is detached, the others are not touched");
        }
        if let Some(guest) = self.guests.remove(&error.id()) {
            let broker = Arc::clone(&self.broker);
            self.set.spawn(async move { guest.leave(&broker, Close::Gone).await });
        }
    }

    fn count(&self) {
        self.broker.counters.connections(self.guests.len());
    }

    /// Tells all connections to end and waits for their tasks.
    pub(crate) async fn finish(mut self) {
        self.broker.closing();
        for guest in self.guests.values() {
            guest.link.close(Close::ShuttingDown);
        }
        while !self.set.is_empty() {
            self.ended().await;
        }
    }
}

/// Accepts until told to stop, then ends all connections.
pub(crate) async fn run(
    listener: TcpListener,
    broker: Arc<Broker>,
    tls: Option<Tls>,
    mut stop: oneshot::Receiver<()>,
) {
    let mut tasks = Tasks::new(Arc::clone(&broker));
    let mut sweep = interval(SWEEP);
    sweep.set_missed_tick_behavior(MissedTickBehavior::Delay);
    loop {
        tokio::select! {
            _ = &mut stop => break,
            () = tasks.ended() => {}
            accepted = listener.accept() => match accepted {
                Ok((socket, peer)) => {
                    // Acknowledgements are small and wanted at once.
                    drop(socket.set_nodelay(true));
                    tasks.start(socket, Some(peer.ip()), tls.as_ref());
                }
                Err(error) => {
                    tracing::error!(%error, "cannot accept a connection");
                    sleep(ACCEPT_AGAIN).await;
                }
            },
            _ = sweep.tick() => sweep_now(&broker, &mut tasks),
        }
    }
    drop(listener);
    tasks.finish().await;
}

fn sweep_now(broker: &Arc<Broker>, tasks: &mut Tasks) {
    for will in broker.sweep(Instant::now()) {
        let broker = Arc::clone(broker);
        tasks.set.spawn(async move { broker.fire(will).await });
    }
}

#[cfg(test)]
#[path = "listener_tests.rs"]
mod tests;
