//! A backlog, as fast as the broker takes it.

use super::courier::{Courier, Order};
use super::{Broker, PublishError};
use crate::{Kind, Sent};
use tokio::sync::mpsc;

/// Messages under way at most.
const WINDOW: u16 = 1000;
/// Connections without one acknowledgement after which to give up, within about half a minute.
const PATIENCE: u32 = 8;

/// Publishes all readings in their order, as fast as the broker takes them, and returns when every one has been
/// acknowledged. `progress` hears how many of how many are acknowledged, after each acknowledgement.
///
/// One client carries them all, like a bridge that hands over what it has kept: so they stay in the order of time
/// across devices. Its id is `sim-<room>-backlog`; it has no will, and of what devices and broker say about devices it
/// passes nothing on.
///
/// # Errors
/// [`PublishError::Broker`] when the broker takes nothing several times running, [`PublishError::Topic`] for a message
/// whose topic cannot be published to. What was acknowledged before stays with the broker.
pub async fn publish_all(
    broker: impl Into<Broker>,
    messages: impl IntoIterator<Item = Sent>,
    mut progress: impl FnMut(usize, usize),
) -> Result<(), PublishError> {
    let messages: Vec<Sent> = messages.into_iter().filter(|m| m.kind == Kind::Reading).collect();
    let total = messages.len();
    let mut messages = messages.into_iter().peekable();
    let Some(first) = messages.peek() else { return Ok(()) };
    let courier = Courier {
        broker: broker.into(),
        client_id: client_id(&first.topic),
        availability: None,
        window: WINDOW,
        patience: Some(PATIENCE),
    };
    let (give, take) = mpsc::channel(usize::from(WINDOW));
    let feed = async move {
        for sent in messages {
            if give.send(Order::Send(sent)).await.is_err() {
                return;
            }
        }
    };
    let mut done = 0;
    let carry = courier.run(take, |n| {
        done += n;
        progress(done, total);
    });
    let ((), carried) = tokio::join!(feed, carry);
    carried
}

/// From the room in the second level of the topic; MQTT brokers differ in what else an id may hold.
fn client_id(topic: &str) -> String {
    let room = topic.split('/').nth(1).unwrap_or_default();
    let plain: String = room.chars().filter(char::is_ascii_alphanumeric).take(24).collect();
    format!("sim-{plain}-backlog")
}
