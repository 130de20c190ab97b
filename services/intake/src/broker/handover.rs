//! Passing messages on, and what happens when nobody keeps up with them.

use super::Settings;
use super::shared::Shared;
use crate::Incoming;
use bytes::Bytes;
use rumqttc::{Publish, QoS};
use std::sync::Arc;
use tokio::sync::mpsc::error::TrySendError;
use tokio::sync::{OwnedSemaphorePermit, Semaphore, mpsc, watch};

/// How much of a payload that is too long is handed over: enough to recognise it by.
const BEGINNING: usize = 512;
/// What a message takes beside its topic and payload, bytes.
const ENVELOPE: usize = 256;

pub(super) struct HandOver {
    out: mpsc::Sender<Incoming>,
    shared: Arc<Shared>,
    message_limit: usize,
    /// Bytes that may still wait; each message holds its share until it is acknowledged or dropped.
    room: Arc<Semaphore>,
    most: u32,
    /// Dropped in the present run of drops.
    dropped: u64,
}

impl HandOver {
    pub(super) fn new(out: mpsc::Sender<Incoming>, shared: Arc<Shared>, settings: &Settings) -> Self {
        let most = u32::try_from(settings.waiting_bytes).unwrap_or(u32::MAX).max(1);
        let room = Arc::new(Semaphore::new(most as usize));
        Self { out, shared, message_limit: settings.message_limit, room, most, dropped: 0 }
    }

    /// Hands over, waiting for room if the message must not be lost; gives up when stopped,
    /// as an unacknowledged message comes again.
    pub(super) async fn pass(&mut self, publish: Publish, stop: &mut watch::Receiver<bool>) {
        if publish.qos == QoS::AtMostOnce {
            return self.offer(publish);
        }
        let (publish, oversize) = self.cut(publish);
        // Not reading on is what holds the broker back.
        tokio::select! {
            biased;
            _ = stop.wait_for(|stopped| *stopped) => {}
            // Fails only if nobody receives any more; then nothing is acknowledged either.
            () = self.send(publish, oversize) => {}
        }
    }

    async fn send(&self, publish: Publish, oversize: Option<usize>) {
        let Ok(share) = Arc::clone(&self.room).acquire_many_owned(self.share(&publish)).await else { return };
        let Ok(place) = self.out.reserve().await else { return };
        place.send(self.incoming(publish, oversize, share));
    }

    /// Hands a message of quality of service 0 over if there is room at once, and drops it if there is none.
    pub(super) fn offer(&mut self, publish: Publish) {
        let (publish, oversize) = self.cut(publish);
        let share = Arc::clone(&self.room).try_acquire_many_owned(self.share(&publish));
        let Ok(share) = share else { return self.drop_one() };
        match self.out.try_send(self.incoming(publish, oversize, share)) {
            Ok(()) => self.taken_again(),
            Err(TrySendError::Full(_)) => self.drop_one(),
            Err(TrySendError::Closed(_)) => {}
        }
    }

    fn taken_again(&mut self) {
        let dropped = std::mem::take(&mut self.dropped);
        if dropped > 0 {
            tracing::info!(dropped, "messages of quality of service 0 are taken again");
        }
    }

    fn drop_one(&mut self) {
        self.shared.count_dropped();
        self.dropped += 1;
        if self.dropped == 1 {
            tracing::warn!("more comes in than is stored; dropping messages of quality of service 0");
        }
    }

    /// A payload that is too long is cut, and the rest freed.
    fn cut(&self, mut publish: Publish) -> (Publish, Option<usize>) {
        let length = publish.payload.len();
        if length <= self.message_limit {
            return (publish, None);
        }
        tracing::warn!(
            topic = publish.topic,
            bytes = length,
            limit = self.message_limit,
            "a message is too long"
        );
        publish.payload = Bytes::copy_from_slice(publish.payload.get(..BEGINNING).unwrap_or_default());
        (publish, Some(length))
    }

    fn share(&self, publish: &Publish) -> u32 {
        let bytes = publish.topic.len() + publish.payload.len() + ENVELOPE;
        // One message alone always has room.
        u32::try_from(bytes).unwrap_or(u32::MAX).min(self.most)
    }

    fn incoming(&self, publish: Publish, oversize: Option<usize>, share: OwnedSemaphorePermit) -> Incoming {
        let ack = self.shared.ack(&publish);
        Incoming {
            qos: publish.qos as u8,
            retained: publish.retain,
            dup: publish.dup,
            topic: publish.topic,
            payload: publish.payload,
            oversize,
            ack: ack.holding(share),
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

    fn ends() -> Ends {
        ends_with(1, &Settings::new("127.0.0.1", 1883, "test", Vec::new(), "s"))
    }

    fn ends_with(places: usize, settings: &Settings) -> Ends {
        let (client, events) = AsyncClient::new(MqttOptions::new("test", "127.0.0.1", 1883), 4);
        let shared = Arc::new(Shared::new(client, 1024));
        let (out, incoming) = mpsc::channel(places);
        let (stop, stopped) = watch::channel(false);
        let hand_over = HandOver::new(out, Arc::clone(&shared), settings);
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
        let mut before = stopped.clone();
        assert_ready!(task::spawn(hand_over.pass(message("26.1", QoS::AtLeastOnce), &mut before)).poll());
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
    fn bytes_that_wait_are_bounded_until_they_are_acknowledged() {
        let mut settings = Settings::new("127.0.0.1", 1883, "test", Vec::new(), "s");
        settings.waiting_bytes = 1_000;
        let Ends { mut hand_over, shared, mut incoming, mut stopped, stop: _stop, .. } =
            ends_with(9, &settings);
        let long = "x".repeat(600);
        assert_ready!(task::spawn(hand_over.pass(message(&long, QoS::AtLeastOnce), &mut stopped)).poll());
        hand_over.offer(message(&long, QoS::AtMostOnce));
        assert_eq!(shared.dropped(), 1, "no bytes left for it");
        let mut second = task::spawn(hand_over.pass(message(&long, QoS::AtLeastOnce), &mut stopped));
        assert_pending!(second.poll());
        let first = incoming.try_recv().unwrap();
        assert!(!second.is_woken(), "it is handed over and not yet safe");
        first.ack.done();
        assert!(second.is_woken());
        assert_ready!(second.poll());
    }

    #[test]
    fn a_payload_too_long_is_cut_and_told_by_its_length() {
        let Ends { mut hand_over, mut incoming, mut stopped, stop: _stop, .. } = ends();
        let long = "x".repeat(64 * 1024 + 1);
        assert_ready!(task::spawn(hand_over.pass(message(&long, QoS::AtLeastOnce), &mut stopped)).poll());
        let handed = incoming.try_recv().unwrap();
        assert_eq!((handed.payload.len(), handed.oversize), (BEGINNING, Some(64 * 1024 + 1)));
    }
}
