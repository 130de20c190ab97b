//! The event loop together with what it does not do by itself between two connections.

use super::shared::Shared;
use rumqttc::{Event, EventLoop, Packet, Publish, QoS, Request, Unsubscribe};
use std::sync::Arc;
use std::time::Duration;

/// How long the broker may take to close a connection we have said goodbye on.
const HANG_UP: Duration = Duration::from_secs(1);

pub(super) struct Connection {
    pub(super) events: EventLoop,
    shared: Arc<Shared>,
    /// Publications to be sent once more if the next connection resumes the session.
    pending: usize,
}

impl Connection {
    pub(super) fn new(events: EventLoop, shared: Arc<Shared>) -> Self {
        Self { events, shared, pending: 0 }
    }

    /// Ends what is left of a connection; returns the messages it had read but not handed
    /// over and which the broker will not send again.
    pub(super) fn end(&mut self) -> Vec<Publish> {
        // In this order: after the first no late acknowledgement is queued, and the second
        // throws away those already queued.
        self.shared.next_generation();
        let Self { events, shared, pending } = self;
        shared.recount(|| {
            empty(events);
            *pending = events.pending.iter().filter(|r| matches!(r, Request::Publish(_))).count();
            *pending
        });
        // Left in place, these would be taken for events of the next connection.
        let unread = self.events.state.events.drain(..);
        unread
            .filter_map(|event| match event {
                Event::Incoming(Packet::Publish(p)) if p.qos == QoS::AtMostOnce => Some(p),
                _ => None,
            })
            .collect()
    }

    /// The next connection stands; on one that is not resumed, what had waited for it is gone.
    pub(super) fn begin(&mut self, resumed: bool) {
        let pending = std::mem::take(&mut self.pending);
        if !resumed {
            self.shared.gone(pending);
        }
    }

    /// Asks the broker to end these subscriptions, ahead of everything in the queue.
    pub(super) fn give_up(&mut self, filters: Vec<String>) {
        let request = Unsubscribe { pkid: 0, topics: filters };
        self.events.pending.push_back(Request::Unsubscribe(request));
    }

    /// Waits for the broker to close the connection after our goodbye. Closing it ourselves
    /// with something unread would reset it, and the goodbye could be lost with that.
    pub(super) async fn hang_up(&mut self) {
        let closed = async { while self.events.poll().await.is_ok() {} };
        // A broker that does not close has our goodbye all the same.
        let _ = tokio::time::timeout(HANG_UP, closed).await;
    }
}

/// Moves everything that is still to be sent to where the next connection looks for it first.
fn empty(events: &mut EventLoop) {
    events.clean();
    // Left in place, a publication waiting for a packet id stops all others for good.
    if let Some(mut publish) = events.state.collision.take() {
        publish.pkid = 0;
        events.pending.push_back(Request::Publish(publish));
    }
}
