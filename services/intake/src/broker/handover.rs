//! Passing messages on, and what happens when nobody keeps up with them.

use super::shared::Shared;
use crate::Incoming;
use bytes::Bytes;
use rumqttc::{Publish, QoS};
use std::sync::Arc;
use tokio::sync::mpsc::error::TrySendError;
use tokio::sync::{OwnedSemaphorePermit, Semaphore, mpsc, watch};

/// What is kept of a payload that is too large: enough to see what it was.
const KEPT: usize = 512;

pub(super) struct HandOver {
    out: mpsc::Sender<Incoming>,
    shared: Arc<Shared>,
    /// Bytes that messages not yet safe may still take.
    room: Arc<Semaphore>,
    room_bytes: u32,
    /// Largest payload handed over whole, in bytes.
    limit: usize,
    /// Dropped in the present run of drops.
    dropped: u64,
}

impl HandOver {
    pub(super) fn new(
        out: mpsc::Sender<Incoming>,
        shared: Arc<Shared>,
        room_bytes: u32,
        limit: usize,
    ) -> Self {
        let room = Arc::new(Semaphore::new(room_bytes as usize));
        Self { out, shared, room, room_bytes, limit, dropped: 0 }
    }

    /// Hands over, waiting for room if the message must not be lost; gives up when stopped,
    /// as an unacknowledged message comes again.
    pub(super) async fn pass(&mut self, publish: Publish, stop: &mut watch::Receiver<bool>) {
        let Some(waiting) = self.offer(publish) else {
            return;
        };
        // Not reading on is what holds the broker back.
        tokio::select! {
            () = self.send(waiting) => {}
            _ = stop.wait_for(|stopped| *stopped) => {}
        }
    }

    async fn send(&self, mut incoming: Incoming) {
        if !incoming.ack.holds() {
            let share = Arc::clone(&self.room).acquire_many_owned(self.share(&incoming));
            // The semaphore is never closed.
            let Ok(share) = share.await else { return };
            incoming.ack.hold(share);
        }
        // Fails only if nobody receives any more; then nothing is acknowledged either.
        let _ = self.out.send(incoming).await;
    }

    /// Hands over at once if there is room; gives back what must wait for it.
    pub(super) fn offer(&mut self, publish: Publish) -> Option<Incoming> {
        let may_be_lost = publish.qos == QoS::AtMostOnce;
        let mut incoming = self.incoming(publish);
        let sent = match self.try_share(&incoming) {
            Some(share) => {
                incoming.ack.hold(share);
                self.out.try_send(incoming)
            }
            None => Err(TrySendError::Full(incoming)),
        };
        match sent {
            Ok(()) => self.taken(),
            Err(TrySendError::Full(incoming)) if !may_be_lost => return Some(incoming),
            Err(TrySendError::Full(_)) => self.lost(),
            Err(TrySendError::Closed(_)) => {}
        }
        None
    }

    fn try_share(&self, incoming: &Incoming) -> Option<OwnedSemaphorePermit> {
        Arc::clone(&self.room).try_acquire_many_owned(self.share(incoming)).ok()
    }

    /// The bytes a message takes, and never more than there are.
    fn share(&self, incoming: &Incoming) -> u32 {
        let bytes = size_of::<Incoming>() + incoming.topic.len() + incoming.payload.len();
        u32::try_from(bytes).unwrap_or(u32::MAX).min(self.room_bytes)
    }

    fn incoming(&self, publish: Publish) -> Incoming {
        let length = publish.payload.len();
        let oversize = (length > self.limit).then_some(length);
        let kept = oversize.map_or(length, |_| length.min(KEPT));
        Incoming {
            ack: self.shared.ack(&publish),
            qos: publish.qos as u8,
            retained: publish.retain,
            dup: publish.dup,
            // A copy: a slice would keep alive the buffer it was read into, with all that came beside it.
            payload: Bytes::copy_from_slice(&publish.payload[..kept]),
            oversize,
            topic: publish.topic,
        }
    }

    fn taken(&mut self) {
        let dropped = std::mem::take(&mut self.dropped);
        if dropped > 0 {
            tracing::info!(dropped, "messages of quality of service 0 are taken again");
        }
    }

    fn lost(&mut self) {
        self.shared.count_dropped();
        self.dropped += 1;
        if self.dropped == 1 {
            tracing::warn!("more comes in than is stored; dropping messages of quality of service 0");
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use rumqttc::{AsyncClient, EventLoop, MqttOptions};
    use tokio_test::{assert_pending, assert_ready, task};

    struct Ends {
        hand_over: HandOver,
        shared: Arc<Shared>,
        incoming: mpsc::Receiver<Incoming>,
        stop: watch::Sender<bool>,
        stopped: watch::Receiver<bool>,
        // Kept, or the queue would count as closed.
        _events: EventLoop,
    }

    /// With room for one message.
    fn ends() -> Ends {
        ends_for(1, 1 << 20)
    }

    fn ends_for(messages: usize, bytes: u32) -> Ends {
        let (client, events) = AsyncClient::new(MqttOptions::new("test", "127.0.0.1", 1883), 4);
        let shared = Arc::new(Shared::new(client, 1024));
        let (out, incoming) = mpsc::channel(messages);
        let (stop, stopped) = watch::channel(false);
        let hand_over = HandOver::new(out, Arc::clone(&shared), bytes, 1024);
        Ends { hand_over, shared, incoming, stop, stopped, _events: events }
    }

    fn message(payload: &str, qos: QoS) -> Publish {
        Publish::new("undercroft/TU3/temperature", qos, payload)
    }

    #[test]
    fn without_room_a_message_of_quality_1_waits_until_there_is() {
        let Ends { mut hand_over, mut incoming, mut stopped, stop: _stop, .. } = ends();
        assert_ready!(task::spawn(hand_over.pass(message("26.1", QoS::AtLeastOnce), &mut stopped)).poll());
        let mut second = task::spawn(hand_over.pass(message("26.2", QoS::AtLeastOnce), &mut stopped));
        assert_pending!(second.poll());
        assert_eq!(&incoming.try_recv().unwrap().payload[..], b"26.1");
        assert!(second.is_woken());
        assert_ready!(second.poll());
        assert_eq!(&incoming.try_recv().unwrap().payload[..], b"26.2");
    }

    #[test]
    fn without_room_a_message_of_quality_0_is_dropped_and_counted() {
        let Ends { mut hand_over, shared, mut incoming, mut stopped, stop: _stop, .. } = ends();
        for payload in ["26.1", "26.2", "26.3"] {
            assert_ready!(
                task::spawn(hand_over.pass(message(payload, QoS::AtMostOnce), &mut stopped)).poll()
            );
        }
        assert_eq!(shared.dropped(), 2);
        assert_eq!(&incoming.try_recv().unwrap().payload[..], b"26.1");
        assert!(incoming.try_recv().is_err());
    }

    #[test]
    fn a_stop_ends_the_wait_for_room() {
        let Ends { mut hand_over, incoming: _incoming, mut stopped, stop, .. } = ends();
        assert!(hand_over.offer(message("26.1", QoS::AtLeastOnce)).is_none());
        let mut second = task::spawn(hand_over.pass(message("26.2", QoS::AtLeastOnce), &mut stopped));
        assert_pending!(second.poll());
        stop.send_replace(true);
        assert!(second.is_woken());
        assert_ready!(second.poll());
    }

    #[test]
    fn a_receiver_that_has_gone_does_not_hold_anything_up() {
        let Ends { mut hand_over, incoming, mut stopped, stop: _stop, .. } = ends();
        drop(incoming);
        assert_ready!(task::spawn(hand_over.pass(message("26.1", QoS::AtLeastOnce), &mut stopped)).poll());
    }

    #[test]
    fn without_bytes_a_message_waits_until_one_before_it_is_safe_or_dropped() {
        let one = u32::try_from(size_of::<Incoming>() + "undercroft/TU3/temperature".len() + 600).unwrap();
        let Ends { mut hand_over, shared, mut incoming, mut stopped, stop: _stop, .. } = ends_for(16, one);
        let big = "7".repeat(600);
        assert!(hand_over.offer(message(&big, QoS::AtLeastOnce)).is_none());
        let first = incoming.try_recv().unwrap();
        assert!(hand_over.offer(message(&big, QoS::AtMostOnce)).is_none());
        assert_eq!(shared.dropped(), 1);
        let mut second = task::spawn(hand_over.pass(message(&big, QoS::AtLeastOnce), &mut stopped));
        assert_pending!(second.poll());
        first.ack.done();
        assert!(second.is_woken());
        assert_ready!(second.poll());
        drop(second);
        drop(incoming.try_recv().unwrap());
        assert!(hand_over.offer(message(&big, QoS::AtLeastOnce)).is_none());
    }

    #[test]
    fn a_message_larger_than_all_the_room_is_not_waited_for_for_ever() {
        let Ends { mut hand_over, mut incoming, .. } = ends_for(16, 100);
        assert!(hand_over.offer(message(&"7".repeat(600), QoS::AtLeastOnce)).is_none());
        assert_eq!(incoming.try_recv().unwrap().payload.len(), 600);
    }

    #[test]
    fn a_payload_over_the_limit_is_cut_and_its_length_told() {
        let Ends { mut hand_over, mut incoming, .. } = ends_for(16, 1 << 20);
        for length in [1024, 1025] {
            hand_over.offer(message(&"7".repeat(length), QoS::AtLeastOnce));
        }
        let whole = incoming.try_recv().unwrap();
        assert_eq!((whole.payload.len(), whole.oversize), (1024, None));
        let cut = incoming.try_recv().unwrap();
        assert_eq!((cut.payload.len(), cut.oversize), (512, Some(1025)));
    }
}
