//! A room that lives: in real time, faster, or as fast as the broker takes it.

use super::courier::{Courier, Order};
use super::{Broker, PublishError};
use crate::{DevicePlan, Happening, Kind, Room, Wish};
use std::collections::HashMap;
use std::sync::Arc;
use std::time::Duration;
use tokio::sync::{mpsc, watch};
use tokio::task::JoinSet;
use units::{Span, Time};

/// Messages of one device under way at most.
const WINDOW: u16 = 50;
/// Messages that a device keeps while the broker is away; when they are full, the room waits.
const KEPT: usize = 4096;
/// Connections without one acknowledgement after which a room that waits for nobody gives up, within about half a minute.
const PATIENCE: u32 = 8;
/// How long devices may take to say goodbye.
const GOODBYE: Duration = Duration::from_secs(2);
/// Shortest and longest sleep: a clock that runs behind its timer cannot spin, and one that is made faster is noticed.
const SHORTEST: Duration = Duration::from_millis(1);
const LONGEST: Duration = Duration::from_millis(500);
/// Steps in which a room is played that waits for nobody but the broker.
const STEP: Span = Span::minutes(1);

/// Lets the room live and publishes what its devices send, until `stop` says true or is dropped.
///
/// `now` is the clock of the room and `wait` how long to sleep until a moment on it; a clock that runs faster than
/// real time has a `wait` that is shorter. Wishes are fulfilled at the moment they arrive; one that names what is not
/// in the room is logged and passed over. `wishes` may close: no more will come then.
///
/// A device that loses its connection in the room stops to answer the broker, so that the broker gives it up by itself
/// and publishes its will; when it is back it connects anew and sends what it kept. When the broker itself is away,
/// the devices keep what they measure, up to a bound; past it the room stands still and catches up later, with the
/// times at which things would have been measured.
///
/// # Errors
/// [`PublishError::Topic`] when a name in the scenario cannot stand in a topic. A broker that is away is no error.
pub async fn run_live(
    room: Room,
    broker: impl Into<Broker>,
    now: impl Fn() -> Time,
    wait: impl Fn(Time) -> Duration,
    wishes: mpsc::Receiver<Wish>,
    mut stop: watch::Receiver<bool>,
) -> Result<(), PublishError> {
    let (ways, mut devices) = Devices::start(&room, &broker.into(), None);
    let lived = tokio::select! {
        () = live(room, ways, now, wait, wishes) => Ok(()),
        failed = devices.failed() => failed,
        // An error means that nobody is left to say stop.
        _ = stop.wait_for(|s| *s) => Ok(()),
    };
    // With no way left to it, each client sends the rest, says `offline` and leaves.
    devices.goodbye().await;
    lived
}

/// Plays the room up to a moment as fast as the broker takes its messages. Each device has a connection of its own and
/// they do not wait for each other, so order holds within a device.
///
/// # Errors
/// As [`run_live`]; and [`PublishError::Broker`] when the broker takes nothing several times running.
pub async fn run_flat_out(
    mut room: Room,
    broker: impl Into<Broker>,
    to: Time,
    mut stop: watch::Receiver<bool>,
) -> Result<(), PublishError> {
    let (ways, mut devices) = Devices::start(&room, &broker.into(), Some(PATIENCE));
    let play = async move {
        while room.now() < to {
            let step = (room.now() + STEP).min(to);
            play(&mut room, step, &ways).await;
        }
    };
    tokio::select! {
        () = play => {}
        failed = devices.failed() => return failed,
        _ = stop.wait_for(|s| *s) => return Ok(()),
    }
    tokio::select! {
        done = devices.all() => done,
        _ = stop.wait_for(|s| *s) => Ok(()),
    }
}

/// Never ends while the devices take messages.
async fn live(
    mut room: Room,
    ways: Ways,
    now: impl Fn() -> Time,
    wait: impl Fn(Time) -> Duration,
    mut wishes: mpsc::Receiver<Wish>,
) {
    let mut wishing = true;
    loop {
        play(&mut room, now(), &ways).await;
        let pause = wait(room.next_due()).clamp(SHORTEST, LONGEST);
        tokio::select! {
            () = tokio::time::sleep(pause) => {}
            wish = wishes.recv(), if wishing => match wish {
                Some(wish) => fulfil(&mut room, now(), wish),
                None => wishing = false,
            },
        }
    }
}

/// Plays the room up to a moment and hands its messages to the devices' clients.
async fn play(room: &mut Room, to: Time, ways: &Ways) {
    let mut happened = Vec::new();
    room.play(to, &mut happened);
    for h in happened {
        let (device, order) = match h {
            Happening::Truth(truth) => {
                if !truth.what.is_state() {
                    tracing::info!(at = %truth.at, "{}", truth.what);
                }
                continue;
            }
            Happening::Link { device, up, .. } => (device, if up { Order::Back } else { Order::Away }),
            Happening::Sent(sent) => match sent.kind {
                // The client says it itself whenever it connects.
                Kind::Status => continue,
                Kind::Will => (sent.device, Order::GivenUp),
                Kind::Reading => (sent.device.clone(), Order::Send(sent)),
            },
        };
        if let Some(way) = ways.get(&device)
            && way.send(order).await.is_err()
        {
            // The client has ended with an error, which its task returns.
            std::future::pending::<()>().await;
        }
    }
}

fn fulfil(room: &mut Room, at: Time, wish: Wish) {
    let said = format!("{wish:?}");
    match room.wish(at, wish) {
        Ok(()) => tracing::debug!(wish = said, "the room changes"),
        Err(e) => tracing::warn!(wish = said, error = %e, "passed over"),
    }
}

/// For each device, the way to its client.
type Ways = HashMap<Arc<str>, mpsc::Sender<Order>>;

/// The clients of all devices.
struct Devices(JoinSet<Result<(), PublishError>>);

impl Devices {
    fn start(room: &Room, broker: &Broker, patience: Option<u32>) -> (Ways, Self) {
        let (mut ways, mut tasks) = (Ways::new(), JoinSet::new());
        for device in room.devices() {
            let (give, take) = mpsc::channel(KEPT);
            let courier = Courier { patience, ..courier(room.name(), device, broker.clone()) };
            let reachable = room.is_reachable(&device.name);
            tasks.spawn(async move { courier.run_from(reachable, take, |_| ()).await });
            ways.insert(Arc::from(device.name.as_str()), give);
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

    /// Waits until every client has left, or one cannot go on.
    async fn all(&mut self) -> Result<(), PublishError> {
        while let Some(ended) = self.0.join_next().await {
            if let Ok(Err(e)) = ended {
                return Err(e);
            }
        }
        Ok(())
    }

    /// Waits for a while until every client has left.
    async fn goodbye(mut self) {
        if tokio::time::timeout(GOODBYE, self.all()).await.is_err() {
            tracing::warn!("the broker did not take everything before the room stopped");
        }
    }
}

fn courier(room: &str, device: &DevicePlan, broker: Broker) -> Courier {
    let name = &device.name;
    Courier {
        broker,
        client_id: format!("sim-{room}-{name}"),
        availability: device.will.then(|| format!("hatchwarden/{room}/{name}/availability")),
        window: WINDOW,
        patience: None,
    }
}
