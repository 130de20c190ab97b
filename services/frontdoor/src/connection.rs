//! One connection: bytes in, bytes out. Generic over its socket, so that tests can script it byte by byte.

use crate::broker::Broker;
use crate::checks::{Fault, code, topic_allowed};
use crate::connect::Connect;
use crate::encode;
use crate::greet::{farewell, greet, refuse};
use crate::link::{Close, Link};
use crate::packet::{self, Filter, Incoming, Packet, Version};
use crate::publish::{Ack, Publish};
use crate::reader::Reader;
use crate::routing::Parts;
use crate::session::Session;
use bytes::BytesMut;
use std::net::IpAddr;
use std::sync::{Arc, OnceLock};
use std::time::Duration;
use tokio::io::{AsyncRead, AsyncWrite, AsyncWriteExt, ReadHalf, WriteHalf};
use tokio::sync::mpsc::error::TrySendError;
use tokio::task::yield_now;
use tokio::time::{Instant, timeout, timeout_at};

/// A write that gets nothing away for this long means that the client is stuck.
const STALL: Duration = Duration::from_secs(60);
/// A write buffer that has grown beyond this is not kept.
const KEPT_BYTES: usize = 128 * 1024;

/// Filters of one SUBSCRIBE that are looked at before other connections get their turn.
const FILTERS_AT_ONCE: usize = 16;

/// What must be undone when a connection ends, whichever way: also when its task panics.
#[derive(Debug, Default)]
pub(crate) struct Guest {
    /// Where it comes from.
    pub(crate) peer: Option<IpAddr>,
    pub(crate) link: Arc<Link>,
    pub(crate) session: OnceLock<Arc<Session>>,
}

impl Guest {
    /// Detaches the session and publishes the will. Safe to call twice.
    pub(crate) async fn leave(&self, broker: &Broker, why: Close) {
        let Some(session) = self.session.get() else { return };
        if let Some(will) = broker.detach(session, &self.link, why, Instant::now()) {
            broker.fire(will).await;
        }
    }
}

/// Serves one connection to its end.
pub(crate) async fn serve<S: AsyncRead + AsyncWrite>(broker: Arc<Broker>, guest: Arc<Guest>, socket: S) {
    let until = Instant::now() + broker.limits.connect_within;
    serve_until(broker, guest, socket, until).await;
}

/// The same, with CONNECT to come before the given time.
pub(crate) async fn serve_until<S: AsyncRead + AsyncWrite>(
    broker: Arc<Broker>,
    guest: Arc<Guest>,
    socket: S,
    until: Instant,
) {
    let (input, mut output) = tokio::io::split(socket);
    let mut reader = Reader::new(input, broker.limits.packet_bytes);
    let greeted = tokio::select! {
        biased;
        _ = guest.link.closed() => Err(None),
        greeted = greet(&broker, &guest, &mut reader, until) => greeted,
    };
    let (connect, session) = match greeted {
        Ok(welcome) => welcome,
        Err(refusal) => {
            // It may have been let in before the order to end came.
            guest.leave(&broker, Close::ShuttingDown).await;
            return refuse(&broker, refusal, &mut output).await;
        }
    };
    let mut out = BytesMut::new();
    let why = {
        let talk = Talk { broker: &broker, link: &guest.link, session: &session, connect: &connect };
        tokio::select! {
            biased;
            why = guest.link.closed() => why,
            why = talk.write_all(&mut output, &mut out) => why,
            why = talk.read_all(&mut reader) => why,
        }
    };
    log_end(&broker, &connect, why);
    guest.leave(&broker, why).await;
    guest.link.collect(&mut out, connect.version);
    if let Some(reason) = why.reason() {
        encode::disconnect(&mut out, connect.version, reason);
    }
    farewell(&mut output, out).await;
}

fn log_end(broker: &Broker, connect: &Connect, why: Close) {
    let client = &*connect.client;
    match why {
        Close::Fault(Fault { code, why }) => {
            broker.counters.refused();
            tracing::warn!(client, code, why, "connection closed: the client broke a rule");
        }
        Close::Silent => tracing::warn!(client, "connection closed: silent for longer than its keep-alive"),
        Close::Stalled => {
            tracing::warn!(client, "connection closed: the client takes nothing off its socket");
        }
        Close::AllLost => {
            tracing::warn!(client, "connection closed: too many of its messages were not stored");
        }
        Close::TakenOver => tracing::warn!(client, "connection closed: another one uses the same client id"),
        Close::Goodbye { .. } | Close::Gone | Close::ShuttingDown => {
            tracing::info!(client, ?why, "client left");
        }
    }
}

/// Writes the buffer out, through to the socket: TLS would keep some of it back.
async fn write_now<W: AsyncWrite>(output: &mut WriteHalf<W>, out: &mut BytesMut) -> Result<(), Close> {
    while !out.is_empty() {
        match timeout(STALL, output.write_buf(out)).await {
            Ok(Ok(1..)) => {}
            Ok(_) => return Err(Close::Gone),
            Err(_) => return Err(Close::Stalled),
        }
    }
    match timeout(STALL, output.flush()).await {
        Ok(Ok(())) => Ok(()),
        Ok(Err(_)) => Err(Close::Gone),
        Err(_) => Err(Close::Stalled),
    }
}

/// The two directions of a connection that has been let in.
struct Talk<'a> {
    broker: &'a Broker,
    link: &'a Arc<Link>,
    session: &'a Arc<Session>,
    connect: &'a Connect,
}

impl Talk<'_> {
    /// Writes whatever is due, many packets at a time.
    async fn write_all<W: AsyncWrite>(&self, output: &mut WriteHalf<W>, out: &mut BytesMut) -> Close {
        loop {
            self.link.collect(out, self.connect.version);
            if self.link.lost() >= self.broker.limits.unacknowledged {
                return Close::AllLost;
            }
            self.session.collect(
                self.link,
                out,
                self.connect.version,
                &self.broker.limits,
                &self.broker.counters,
            );
            if out.is_empty() {
                if out.capacity() > KEPT_BYTES {
                    *out = BytesMut::new();
                }
                self.link.wake.notified().await;
                continue;
            }
            if let Err(why) = write_now(output, out).await {
                return why;
            }
        }
    }

    /// Reads and handles packets; waits wherever the limits say so.
    async fn read_all<R: AsyncRead>(&self, reader: &mut Reader<ReadHalf<R>>) -> Close {
        let mut heard = Instant::now();
        loop {
            let mut any = false;
            loop {
                match reader.ready() {
                    Ok(Some(raw)) => {
                        any = true;
                        if let Err(why) = self.handle(&raw).await {
                            return why;
                        }
                    }
                    Ok(None) => break,
                    Err(fault) => return Close::Fault(fault),
                }
            }
            self.link.replies_taken().await;
            // Only whole packets count as a sign of life; time spent waiting for us does not count against the client.
            if any {
                heard = Instant::now();
            }
            let more = match self.connect.patience {
                Some(patience) => {
                    timeout_at(heard + patience, reader.fill()).await.unwrap_or(Err(Close::Silent))
                }
                None => reader.fill().await,
            };
            if let Err(why) = more {
                return why;
            }
        }
    }

    async fn handle(&self, raw: &mqtt_protocol_core::mqtt::connection::RawPacket) -> Result<(), Close> {
        let version = self.connect.version;
        match packet::decode(version, raw).map_err(Close::Fault)? {
            Packet::Publish(came) => return self.publish(came).await,
            Packet::Puback(id) => self.session.acknowledged(id, &self.broker.limits),
            Packet::Pingreq => self.link.reply(encode::pingresp),
            Packet::Subscribe(id, filters) => {
                let reasons = self.subscribe(&filters).await;
                self.link.reply(|out| encode::suback(out, version, id, &reasons));
                yield_now().await;
            }
            Packet::Unsubscribe(id, filters) => {
                let reasons = self.broker.unsubscribe(self.session, &filters);
                self.link.reply(|out| encode::unsuback(out, version, id, &reasons));
            }
            Packet::Disconnect { with_will, expiry } => {
                if let Some(expiry) = expiry {
                    self.broker.set_expiry(self.session, expiry).map_err(Close::Fault)?;
                }
                return Err(Close::Goodbye { with_will });
            }
        }
        Ok(())
    }

    /// One filter at a time: each may look through all retained messages, and others must get their turn in between. Not after
    /// every filter, though: the SUBACK of an ordinary SUBSCRIBE goes out before the retained messages.
    async fn subscribe(&self, filters: &[Filter]) -> Vec<u8> {
        let mut reasons = Vec::with_capacity(filters.len());
        for some in filters.chunks(FILTERS_AT_ONCE) {
            if !reasons.is_empty() {
                yield_now().await;
            }
            for one in some.chunks(1) {
                reasons.extend(self.broker.subscribe(self.session, self.connect.version, one));
            }
        }
        reasons
    }

    async fn publish(&self, came: Incoming) -> Result<(), Close> {
        if let Err(fault) = topic_allowed(&came.topic, &self.broker.limits) {
            return self.not_allowed(&came, fault).await;
        }
        if !self.session.rights.may_publish(&came.topic) {
            return self.not_permitted(&came).await;
        }
        let ack = match came.qos {
            0 => Ack::none(),
            _ => {
                self.room().await?;
                Ack::of(Arc::clone(self.link), self.link.arrived(came.id))
            }
        };
        self.broker.route(&Parts {
            from: Some(self.session.key),
            topic: &came.topic,
            payload: &came.payload,
            qos: came.qos,
            retain: came.retain,
            properties: &came.properties,
            expiry: came.expiry,
        });
        let Incoming { topic, payload, qos, retain, dup, .. } = came;
        let client = Arc::clone(&self.connect.client);
        self.hand_over(Publish { topic, payload, qos, retain, dup, client, ack }).await
    }

    /// A 3.1.1 client cannot be told, so its connection ends; an MQTT 5 client gets the reason in its PUBACK.
    async fn not_allowed(&self, came: &Incoming, fault: Fault) -> Result<(), Close> {
        if self.connect.version == Version::V311 {
            return Err(Close::Fault(fault));
        }
        self.broker.counters.refused();
        tracing::warn!(client = %self.connect.client, topic = came.topic, why = fault.why, "message refused");
        self.refuse(came, fault.code).await
    }

    /// The connection stays. A 3.1.1 client cannot be told: its message is acknowledged and dropped [MQTT-3.3.5-2].
    async fn not_permitted(&self, came: &Incoming) -> Result<(), Close> {
        self.broker.counters.refused_publish();
        let user = self.session.rights.name();
        if self.broker.gate.first_refusal(user, &came.topic) {
            tracing::warn!(client = %self.connect.client, user, topic = came.topic,
                "messages refused: the user may not publish to this topic; give it the topic, or mend the device");
        }
        self.refuse(came, code::NOT_AUTHORIZED).await
    }

    /// Answers in its turn. Refusals take a place among the unacknowledged too: they wait behind them.
    async fn refuse(&self, came: &Incoming, code: u8) -> Result<(), Close> {
        if came.qos > 0 {
            self.room().await?;
            self.link.refuse(came.id, code);
        }
        Ok(())
    }

    /// Waits for a place among the unacknowledged messages. MQTT 5 clients know the limit and must not pass it.
    async fn room(&self) -> Result<(), Close> {
        loop {
            if self.link.outstanding() < self.broker.limits.unacknowledged {
                return Ok(());
            }
            if self.connect.version == Version::V5 {
                let fault =
                    Fault { code: code::RECEIVE_MAXIMUM, why: "more unacknowledged messages than allowed" };
                return Err(Close::Fault(fault));
            }
            self.link.room.notified().await;
        }
    }

    /// Gives the message to the consumer; a full channel holds this socket up, nothing is dropped.
    async fn hand_over(&self, publish: Publish) -> Result<(), Close> {
        let result = match self.broker.consumer.try_send(publish) {
            Ok(()) => Ok(()),
            Err(TrySendError::Full(publish)) => self.broker.consumer.send(publish).await.map_err(drop),
            Err(TrySendError::Closed(_)) => Err(()),
        };
        result.map_err(|()| Close::ShuttingDown)
    }
}

#[cfg(test)]
#[path = "connection_tests.rs"]
mod tests;
