//! The one task that owns the event loop: it polls and hands over, nothing else.

use super::backoff::{BackOff, Jitter};
use super::connection::Connection;
use super::handover::HandOver;
use super::shared::Shared;
use super::stray::Strays;
use super::{HELD_BYTES, Link, Settings, words};
use crate::Incoming;
use bytes::Bytes;
use rumqttc::{
    ConnectionError, Event, EventLoop, Outgoing, Packet, Publish, SubAck, SubscribeReasonCode, valid_filter,
};
use std::sync::Arc;
use tokio::sync::{mpsc, watch};
use tokio::time::{Instant, sleep, sleep_until};

/// What happened next.
enum Step {
    Event(Event),
    Failed(ConnectionError),
    NoSuback,
    Stop,
}

pub(super) struct Pump {
    settings: Settings,
    at: String,
    connection: Connection,
    shared: Arc<Shared>,
    hand_over: HandOver,
    strays: Strays,
    link: watch::Sender<Link>,
    stop: watch::Receiver<bool>,
    back_off: BackOff,
    jitter: Jitter,
    connected: bool,
    /// A subscription the broker has not confirmed yet: made even on a resumed session. Owed at the start, since the
    /// filters may have changed while the service was down.
    owed: bool,
    /// The broker had no session for us on some connection since the link was last up.
    forgotten: bool,
    suback_by: Option<Instant>,
    tries: u32,
}

impl Pump {
    pub(super) fn new(
        settings: Settings,
        events: EventLoop,
        shared: Arc<Shared>,
        out: mpsc::Sender<Incoming>,
        link: watch::Sender<Link>,
        stop: watch::Receiver<bool>,
    ) -> Self {
        Self {
            at: settings.at(),
            back_off: BackOff::new(settings.back_off),
            connection: Connection::new(events, Arc::clone(&shared)),
            hand_over: HandOver::new(out, Arc::clone(&shared), HELD_BYTES, settings.message_limit),
            strays: Strays::new(settings.filters.clone(), settings.packet_limit),
            settings,
            shared,
            link,
            stop,
            jitter: Jitter::default(),
            connected: false,
            owed: true,
            forgotten: false,
            suback_by: None,
            tries: 0,
        }
    }

    /// Runs until the session is closed or dropped.
    pub(super) async fn run(mut self) {
        loop {
            let lost = match self.step().await {
                Step::Event(Event::Outgoing(Outgoing::Disconnect)) => return self.connection.hang_up().await,
                Step::Event(Event::Incoming(packet)) => self.packet(packet).await,
                Step::Event(Event::Outgoing(outgoing)) => self.sent(&outgoing),
                Step::NoSuback => Some(words::no_suback(&self.at)),
                Step::Failed(error) => Some(self.failed(&error)),
                // Connected, a goodbye is in the queue and ends the loop above.
                Step::Stop if self.connected && self.stop.has_changed().is_ok() => None,
                Step::Stop => return,
            };
            let Some(reason) = lost else { continue };
            self.away(reason);
            if *self.stop.borrow() {
                return;
            }
            let wait = self.back_off.wait(self.jitter.draw());
            tokio::select! {
                () = sleep(wait) => {}
                _ = self.stop.changed() => return,
            }
        }
    }

    async fn step(&mut self) -> Step {
        let suback_by = self.suback_by;
        let stopping = *self.stop.borrow();
        tokio::select! {
            biased;
            _ = self.stop.changed(), if !stopping => Step::Stop,
            () = sleep_until(suback_by.unwrap_or_else(Instant::now)), if suback_by.is_some() => Step::NoSuback,
            event = self.connection.events.poll() => event.map_or_else(Step::Failed, Step::Event),
        }
    }

    fn sent(&mut self, outgoing: &Outgoing) -> Option<String> {
        if matches!(outgoing, Outgoing::Publish(_)) {
            self.shared.gone(1);
        }
        None
    }

    /// Takes one packet; a reason if the connection is to be dropped for it.
    async fn packet(&mut self, packet: Packet) -> Option<String> {
        match packet {
            Packet::ConnAck(connack) => self.connected(connack.session_present),
            Packet::SubAck(suback) => self.subscribed(&suback),
            Packet::Publish(publish) => {
                self.pass(publish).await;
                None
            }
            _ => None,
        }
    }

    async fn pass(&mut self, publish: Publish) {
        if let Some(filters) = self.strays.former(&publish.topic) {
            self.give_up(filters, &publish.topic);
        }
        let since = Instant::now();
        self.hand_over.pass(publish, &mut self.stop).await;
        // The broker's answer may lie unread behind this message: only time spent listening counts.
        if let Some(by) = &mut self.suback_by {
            *by += since.elapsed();
        }
    }

    fn give_up(&mut self, filters: Vec<String>, topic: &str) {
        tracing::warn!(
            topic,
            broker = %self.at,
            "not asked for: the broker kept a former subscription, which is given up now; if this comes again after a restart, see whether the broker subscribes for its clients"
        );
        self.connection.give_up(filters);
    }

    fn connected(&mut self, resumed: bool) -> Option<String> {
        self.connected = true;
        self.connection.begin(resumed);
        self.forgotten |= !resumed;
        self.owed |= !resumed;
        if self.owed && !self.settings.filters.is_empty() {
            if let Some(wrong) = self.settings.filters.iter().find(|f| !valid_filter(f)) {
                return Some(words::bad_filter(wrong));
            }
            if !self.shared.subscribe(&self.settings.filters) {
                return Some(words::queue_full(&self.at));
            }
            self.suback_by = Some(Instant::now() + self.settings.suback_within);
        } else {
            self.up();
        }
        let here = Bytes::from_static(b"here");
        self.shared.publish_again(resumed);
        self.shared.publish(&self.settings.service_topic, here, true);
        None
    }

    fn subscribed(&mut self, suback: &SubAck) -> Option<String> {
        let refused = |code: &SubscribeReasonCode| *code == SubscribeReasonCode::Failure;
        if suback.return_codes.iter().all(refused) {
            return Some(words::nothing_granted(&self.at, &self.settings.filters));
        }
        let pairs = self.settings.filters.iter().zip(&suback.return_codes);
        for (filter, _) in pairs.filter(|(_, code)| refused(code)) {
            tracing::error!(filter, "the broker at {} does not let us read this", self.at);
        }
        if self.suback_by.take().is_some() {
            self.up();
        }
        None
    }

    fn up(&mut self) {
        let resumed = !std::mem::take(&mut self.forgotten);
        self.back_off.reset();
        self.owed = false;
        self.tries = 0;
        self.link.send_replace(Link::Up { resumed });
        tracing::info!(broker = %self.at, resumed, "subscribed");
    }

    fn failed(&mut self, error: &ConnectionError) -> String {
        if words::malformed(error) {
            self.shared.count_malformed();
        }
        words::away(&self.at, error)
    }

    fn away(&mut self, reason: String) {
        self.suback_by = None;
        if std::mem::take(&mut self.connected) {
            for publish in self.connection.end() {
                self.hand_over.offer(publish);
            }
        }
        self.tries = self.tries.saturating_add(1);
        let known = matches!(&*self.link.borrow(), Link::Away { reason: r, .. } if *r == reason);
        if !known {
            tracing::warn!("{reason}");
        }
        let tries = self.tries;
        self.link.send_replace(Link::Away { reason, tries });
    }
}
