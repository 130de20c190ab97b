//! A room that lives in real time.

use super::courier::Courier;
use super::{Broker, PublishError};
use crate::{Room, Sent, Wish};
use std::collections::HashMap;
use std::time::Duration;
use tokio::sync::{mpsc, watch};
use tokio::task::JoinSet;
use units::Time;

/// Messages of one device under way at most.
const WINDOW: u16 = 50;
/// Messages that a device keeps while the broker is away; when they are full, the room waits.
const KEPT: usize = 4096;
/// How long devices may take to say goodbye.
const GOODBYE: Duration = Duration::from_secs(2);
/// Shortest sleep, so that a clock that runs behind its timer cannot spin.
const SHORTEST: Duration = Duration::from_millis(1);

/// Lets the room live and publishes what its devices send, until `stop` says true or is dropped.
///
/// `now` is the clock of the room and `wait` how long to sleep until a moment on it; a clock that runs faster than
/// real time has a `wait` that is shorter. Wishes are fulfilled at the moment they arrive; one that names what is not
/// in the room is logged and passed over. `wishes` may close: no more will come then.
///
/// When the broker is away the devices keep what they measure, up to a bound; past it the room stands still and
/// catches up later, with the times at which things would have been measured.
///
/// # Errors
/// [`PublishError::Topic`] when a name in the plan cannot stand in a topic. A broker that is away is no error.
pub async fn run_live(
    mut room: Room,
    broker: impl Into<Broker>,
    now: impl Fn() -> Time,
    wait: impl Fn(Time) -> Duration,
    mut wishes: mpsc::Receiver<Wish>,
    mut stop: watch::Receiver<bool>,
) -> Result<(), PublishError> {
    let (ways, mut devices) = Devices::start(&room, &broker.into());
    let lived = tokio::select! {
        lived = live(&mut room, &ways, &now, &wait, &mut wishes) => lived,
        failed = devices.failed() => failed,
        // An error means that nobody is left to say stop.
        _ = stop.wait_for(|s| *s) => Ok(()),
    };
    // With no way left to it, each client sends the rest, says `offline` and leaves.
    drop(ways);
    devices.goodbye().await;
    lived
}

/// Never ends while the devices take messages.
async fn live(
    room: &mut Room,
    ways: &Ways,
    now: &impl Fn() -> Time,
    wait: &impl Fn(Time) -> Duration,
    wishes: &mut mpsc::Receiver<Wish>,
) -> Result<(), PublishError> {
    let mut wishing = true;
    loop {
        for sent in room.advance(now()) {
            if let Some(way) = ways.get(&sent.device)
                && way.send(sent).await.is_err()
            {
                // The client has ended with an error, which its task returns.
                std::future::pending::<()>().await;
            }
        }
        let pause = wait(room.next_due()).max(SHORTEST);
        tokio::select! {
            () = tokio::time::sleep(pause) => {}
            wish = wishes.recv(), if wishing => match wish {
                Some(wish) => fulfil(room, now(), wish),
                None => wishing = false,
            },
        }
    }
}

fn fulfil(room: &mut Room, at: Time, wish: Wish) {
    let said = format!("{wish:?}");
    match room.wish(at, wish) {
        Ok(()) => tracing::info!(wish = said, "the room changes"),
        Err(e) => tracing::warn!(wish = said, error = %e, "passed over"),
    }
}

/// For each device, the way to its client.
type Ways = HashMap<String, mpsc::Sender<Sent>>;

/// The clients of all devices.
struct Devices(JoinSet<Result<(), PublishError>>);

impl Devices {
    fn start(room: &Room, broker: &Broker) -> (Ways, Self) {
        let (mut ways, mut tasks) = (Ways::new(), JoinSet::new());
        for device in room.devices() {
            let (give, take) = mpsc::channel(KEPT);
            let courier = courier(room.name(), device, broker.clone());
            tasks.spawn(async move { courier.run(take, |_| ()).await });
            ways.insert(device.to_owned(), give);
        }
        (ways, Self(tasks))
    }

    /// The first client that cannot go on; does not return before.
    async fn failed(&mut self) -> Result<(), PublishError> {
        while let Some(ended) = self.0.join_next().await {
            if let Ok(Err(e)) = ended {
                return Err(e);
            }
        }
        std::future::pending().await
    }

    /// Waits until every client has left.
    async fn goodbye(mut self) {
        let all = async { while self.0.join_next().await.is_some() {} };
        if tokio::time::timeout(GOODBYE, all).await.is_err() {
            tracing::warn!("the broker did not take everything before the room stopped");
        }
    }
}

fn courier(room: &str, device: &str, broker: Broker) -> Courier {
    Courier {
        broker,
        client_id: format!("sim-{room}-{device}"),
        availability: Some(format!("hatchwarden/{room}/{device}/availability")),
        window: WINDOW,
        patience: None,
    }
}
