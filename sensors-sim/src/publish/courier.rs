//! Carries the messages of one client to the broker and does not rest until each is acknowledged.

use super::outbox::Outbox;
use super::poller::{News, Poller};
use super::{Broker, PublishError};
use crate::chance::Chance;
use crate::{Kind, Sent};
use rumqttc::{AsyncClient, LastWill, MqttOptions, QoS};
use std::ops::ControlFlow;
use std::time::Duration;
use tokio::sync::mpsc::Receiver;
use units::Time;

/// Seconds between signs of life on a quiet connection.
const KEEP_ALIVE: Duration = Duration::from_secs(20);
/// First and longest wait before another connection is tried.
const FIRST_WAIT: Duration = Duration::from_millis(250);
const LONGEST_WAIT: Duration = Duration::from_secs(30);

/// One client.
#[derive(Debug, Clone)]
pub(super) struct Courier {
    pub(super) broker: Broker,
    pub(super) client_id: String,
    /// Topic for `online` and `offline`; none for a client that is no device.
    pub(super) availability: Option<String>,
    /// Messages under way at most.
    pub(super) window: u16,
    /// Connections without one acknowledgement after which to give up; none for a device, which never does.
    pub(super) patience: Option<u32>,
}

/// What a client is told to do.
#[derive(Debug, Clone)]
pub(super) enum Order {
    Send(Sent),
    /// The device cannot reach the broker any more.
    Away,
    /// By now the broker has given it up.
    GivenUp,
    /// It can be reached again.
    Back,
}

/// A connection that works, or is about to.
struct Line {
    client: AsyncClient,
    poller: Poller,
    connected: bool,
    /// `offline` has been said.
    leaving: bool,
}

/// How a connection ended.
enum End {
    /// All was said.
    Done,
    Lost(String),
    /// The device is out of reach. Its connection stands and says nothing any more.
    Away(Line),
}

impl Courier {
    /// Carries what comes from `source` until that is closed and the last message is acknowledged. `tell` hears how
    /// many messages more the broker has.
    ///
    /// # Errors
    /// [`PublishError::Broker`] when patience ends, [`PublishError::Topic`] for a topic that cannot be published to.
    pub(super) async fn run(
        &self,
        source: Receiver<Order>,
        tell: impl FnMut(usize),
    ) -> Result<(), PublishError> {
        self.run_from(true, source, tell).await
    }

    /// As [`Courier::run`], for a device that may be out of reach at first.
    ///
    /// # Errors
    /// As [`Courier::run`].
    pub(super) async fn run_from(
        &self,
        reachable: bool,
        mut source: Receiver<Order>,
        mut tell: impl FnMut(usize),
    ) -> Result<(), PublishError> {
        let mut outbox = Outbox::default();
        if !reachable && !until_back(None, &mut source, &mut outbox).await {
            return Ok(());
        }
        let mut tries = 0;
        // The device is to go out of reach once the broker has what it sent before.
        let mut going = false;
        loop {
            let mut progress = false;
            let mut told = |n: usize| {
                progress |= n > 0;
                if n > 0 {
                    tell(n);
                }
            };
            let cause = match self.connection(&mut outbox, &mut source, &mut going, &mut told).await? {
                End::Done => return Ok(()),
                End::Lost(cause) => cause,
                End::Away(line) => {
                    going = false;
                    if !until_back(Some(line), &mut source, &mut outbox).await {
                        return Ok(());
                    }
                    tries = 0;
                    continue;
                }
            };
            tries = if progress { 1 } else { tries + 1 };
            if self.patience.is_some_and(|p| tries >= p) {
                let unsent = outbox.len() + source.len();
                return Err(PublishError::Broker { broker: self.broker.clone(), tries, cause, unsent });
            }
            if tries == 1 {
                tracing::warn!(client = self.client_id, broker = %self.broker, cause, "connection lost; trying again");
            }
            tokio::time::sleep(self.wait(tries)).await;
        }
    }

    /// Doubles from try to try, with a share of chance so that the devices of a room do not come back all at once.
    fn wait(&self, tries: u32) -> Duration {
        let doubled = FIRST_WAIT.saturating_mul(1 << (tries - 1).min(10)).min(LONGEST_WAIT);
        let id = self.client_id.bytes().fold(0, |h: u64, b| h.wrapping_mul(31) + u64::from(b));
        doubled.mul_f64(0.5 + 0.5 * Chance::new(id, u64::from(tries)).unit())
    }

    /// One connection, from its start to its end.
    async fn connection(
        &self,
        outbox: &mut Outbox,
        source: &mut Receiver<Order>,
        going: &mut bool,
        tell: &mut impl FnMut(usize),
    ) -> Result<End, PublishError> {
        // Room for every message of the outbox and a goodbye: the channel never fills, so nothing waits for it.
        let (client, events) = AsyncClient::new(self.options(), usize::from(self.window) + 8);
        let mut line = Line { client, poller: Poller::start(events), connected: false, leaving: false };
        let mut open = true;
        loop {
            if *going && line.connected && outbox.is_empty() {
                return Ok(End::Away(line));
            }
            if !open && line.connected && self.finish(&mut line, outbox)? {
                return Ok(leave(line).await);
            }
            if !open && outbox.is_empty() && !line.connected && self.availability.is_none() {
                return Ok(End::Done);
            }
            let space = outbox.len() < usize::from(self.window);
            tokio::select! {
                biased;
                news = line.poller.next() => {
                    if let ControlFlow::Break(end) = self.hear(news, &mut line, outbox, tell)? {
                        return Ok(end);
                    }
                }
                more = source.recv(), if open && !*going && line.connected && space => match more {
                    Some(Order::Send(sent)) => {
                        publish(&line.client, &sent)?;
                        outbox.push(sent);
                    }
                    Some(Order::Away) => *going = true,
                    Some(Order::GivenUp | Order::Back) => {}
                    None => open = false,
                },
            }
        }
    }

    fn hear(
        &self,
        news: News,
        line: &mut Line,
        outbox: &mut Outbox,
        tell: &mut impl FnMut(usize),
    ) -> Result<ControlFlow<End>, PublishError> {
        match news {
            News::Connected => {
                line.connected = true;
                for sent in outbox.begin_again(self.status("online")) {
                    publish(&line.client, &sent)?;
                }
            }
            News::Wrote(packet) => tell(outbox.wrote(packet)),
            News::Acknowledged(packet) => tell(outbox.acknowledged(packet)),
            News::Left => return Ok(ControlFlow::Break(End::Done)),
            News::Lost(cause) => return Ok(ControlFlow::Break(End::Lost(cause))),
        }
        Ok(ControlFlow::Continue(()))
    }

    /// There will be no more messages. A device says `offline` first; true when all is acknowledged.
    fn finish(&self, line: &mut Line, outbox: &mut Outbox) -> Result<bool, PublishError> {
        if !line.leaving {
            line.leaving = true;
            if let Some(sent) = self.status("offline") {
                publish(&line.client, &sent)?;
                outbox.push_status(sent);
            }
        }
        Ok(outbox.is_empty())
    }

    fn status(&self, word: &str) -> Option<Sent> {
        self.availability.as_ref().map(|topic| Sent {
            at: Time::from_millis(0), // carried for order alone; it is not part of the message
            device: self.client_id.as_str().into(),
            topic: topic.as_str().into(),
            payload: word.as_bytes().to_vec(),
            retain: true,
            qos: 1,
            kind: Kind::Status,
        })
    }

    fn options(&self) -> MqttOptions {
        let mut options = MqttOptions::new(&self.client_id, &self.broker.host, self.broker.port);
        options.set_clean_session(false).set_keep_alive(KEEP_ALIVE).set_inflight(self.window.max(1));
        if let Some(topic) = &self.availability {
            options.set_last_will(LastWill::new(topic, "offline", QoS::AtLeastOnce, true));
        }
        options
    }
}

/// Waits until the device can be reached again; meanwhile the socket stays open without a sign of life, so that the
/// broker finds out by itself. False when nobody gives orders any more.
async fn until_back(mut line: Option<Line>, source: &mut Receiver<Order>, outbox: &mut Outbox) -> bool {
    if let Some(line) = &line {
        line.poller.freeze();
    }
    while let Some(order) = source.recv().await {
        match order {
            Order::Send(sent) => outbox.push(sent),
            // A room that runs faster than the broker's clock closes the socket itself.
            Order::GivenUp => line = None,
            Order::Back => {
                drop(line.take());
                return true;
            }
            Order::Away => {}
        }
    }
    false
}

/// Hands a message to the client library. It is not sent by that, much less acknowledged.
fn publish(client: &AsyncClient, sent: &Sent) -> Result<(), PublishError> {
    let qos = if sent.qos == 0 { QoS::AtMostOnce } else { QoS::AtLeastOnce };
    let valid = !sent.topic.is_empty() && rumqttc::valid_topic(&sent.topic);
    let taken = valid.then(|| client.try_publish(&*sent.topic, qos, sent.retain, sent.payload.clone()));
    match taken {
        None => Err(PublishError::Topic(sent.topic.to_string())),
        Some(Ok(())) => Ok(()),
        Some(Err(e)) => {
            // The connection task has ended: its last news says so, and the outbox sends again.
            tracing::debug!(topic = %sent.topic, error = %e, "message waits for the next connection");
            Ok(())
        }
    }
}

/// Says goodbye, so that the broker does not publish the will. If that is lost, nothing else is.
async fn leave(mut line: Line) -> End {
    if line.client.try_disconnect().is_err() {
        return End::Done;
    }
    loop {
        if let News::Left | News::Lost(_) = line.poller.next().await {
            return End::Done;
        }
    }
}
