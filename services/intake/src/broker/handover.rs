//! Passing messages on, and what happens when nobody keeps up with them.

use super::shared::Shared;
use crate::Incoming;
use rumqttc::{Publish, QoS};
use std::sync::Arc;
use tokio::sync::mpsc::error::TrySendError;
use tokio::sync::{mpsc, watch};

pub(super) struct HandOver {
    out: mpsc::Sender<Incoming>,
    shared: Arc<Shared>,
    dropped: u64,
}

impl HandOver {
    pub(super) fn new(out: mpsc::Sender<Incoming>, shared: Arc<Shared>) -> Self {
        Self { out, shared, dropped: 0 }
    }

    /// Hands over, waiting for room if the message must not be lost; gives up when stopped,
    /// as an unacknowledged message comes again.
    pub(super) async fn pass(&mut self, publish: Publish, stop: &mut watch::Receiver<bool>) {
        let Some(waiting) = self.offer(publish) else {
            return;
        };
        // Not reading on is what holds the broker back.
        tokio::select! {
            // Fails only if nobody receives any more; then nothing is acknowledged either.
            _ = self.out.send(waiting) => {}
            _ = stop.wait_for(|stopped| *stopped) => {}
        }
    }

    /// Hands over at once if there is room; gives back what must wait for it.
    pub(super) fn offer(&mut self, publish: Publish) -> Option<Incoming> {
        let ack = self.shared.ack(&publish);
        let incoming = Incoming {
            qos: publish.qos as u8,
            retained: publish.retain,
            dup: publish.dup,
            topic: publish.topic,
            payload: publish.payload,
            ack,
        };
        match self.out.try_send(incoming) {
            Ok(()) => {
                let dropped = std::mem::take(&mut self.dropped);
                if dropped > 0 {
                    tracing::info!(dropped, "messages of quality of service 0 are taken again");
                }
                None
            }
            Err(TrySendError::Full(incoming)) if publish.qos != QoS::AtMostOnce => Some(incoming),
            Err(TrySendError::Full(_)) => {
                self.dropped += 1;
                if self.dropped == 1 {
                    tracing::warn!("too much comes in; dropping messages of quality of service 0");
                }
                None
            }
            Err(TrySendError::Closed(_)) => None,
        }
    }
}
