//! The subscriber of the bare floor: it counts and acknowledges, nothing else.

use rumqttc::{AsyncClient, Event, MqttOptions, Packet, QoS};
use std::thread::JoinHandle;
use std::time::Instant;
use tokio::sync::oneshot;

/// Acknowledgements that may wait for the event loop. It hands over all that it has read before it looks for them, which
/// was more than 1,000 on a loaded machine (measured).
const ACKS: usize = 20_000;

/// A counting subscriber on a thread of its own.
pub(crate) struct Counter {
    done: oneshot::Receiver<(usize, Instant)>,
    thread: JoinHandle<()>,
}

impl Counter {
    /// Subscribes to everything of the room and waits for the SUBACK.
    pub(crate) async fn start(port: u16, filter: &str, count: usize) -> Self {
        let (ready, subscribed) = oneshot::channel();
        let (tell, done) = oneshot::channel();
        let filter = filter.to_owned();
        let thread = std::thread::spawn(move || {
            let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build().unwrap();
            let _ = tell.send(runtime.block_on(go(port, &filter, count, ready)));
        });
        subscribed.await.unwrap();
        Self { done, thread }
    }

    /// How many messages came, and when the last one did.
    pub(crate) async fn end(self) -> (usize, Instant) {
        let end = self.done.await.unwrap();
        self.thread.join().unwrap();
        end
    }
}

async fn go(port: u16, filter: &str, wanted: usize, ready: oneshot::Sender<()>) -> (usize, Instant) {
    let mut options = MqttOptions::new("floor", "127.0.0.1", port);
    options.set_manual_acks(true).set_clean_session(true);
    let (client, mut events) = AsyncClient::new(options, ACKS);
    client.try_subscribe(filter, QoS::AtLeastOnce).unwrap();
    let (mut ready, mut count) = (Some(ready), 0);
    while count < wanted {
        match events.poll().await.unwrap() {
            Event::Incoming(Packet::SubAck(_)) => drop(ready.take().map(|r| r.send(()))),
            Event::Incoming(Packet::Publish(publish)) => {
                client.try_ack(&publish).unwrap();
                count += 1;
            }
            _ => {}
        }
    }
    (count, Instant::now())
}
