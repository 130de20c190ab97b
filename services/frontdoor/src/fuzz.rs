//! The entry for fuzzing: one connection in memory that is fed any bytes.

use crate::broker::Broker;
use crate::connection::{Guest, serve};
use crate::gate::Gate;
use crate::settings::Limits;
use std::sync::Arc;
use tokio::io::{AsyncRead, join, sink};
use tokio::runtime::{Builder, Runtime};
use tokio::sync::mpsc;

/// CONNECT with an empty client id and a clean session: MQTT 3.1.1 and 5.
const GREETINGS: [&[u8]; 3] = [
    &[],
    &[0x10, 12, 0, 4, b'M', b'Q', b'T', b'T', 4, 2, 0, 0, 0, 0],
    &[0x10, 13, 0, 4, b'M', b'Q', b'T', b'T', 5, 2, 0, 0, 0, 0, 0],
];

thread_local! {
    static RUNTIME: Option<Runtime> = Builder::new_current_thread().enable_time().build().ok();
}

/// Feeds the bytes to a connection three times: as they are, after a good CONNECT of MQTT 3.1.1, and after one of MQTT 5. Every
/// message is acknowledged at once; everything that is sent is thrown away. Any panic is a fault.
///
/// No socket and no file is used. A thread without a runtime (the system gave it no resources) does nothing.
#[cfg_attr(not(feature = "fuzzing"), allow(unreachable_pub, reason = "public only for fuzz targets"))]
pub fn fuzz(bytes: &[u8]) {
    RUNTIME.with(|runtime| {
        let Some(runtime) = runtime else { return };
        for greeting in GREETINGS {
            runtime.block_on(connection([greeting, bytes].concat()));
        }
    });
}

async fn connection(bytes: Vec<u8>) {
    let (sender, mut messages) = mpsc::channel(16);
    let broker = Arc::new(Broker::new(Limits::default(), Gate::anonymous(), sender));
    let consumer = async {
        while let Some(publish) = messages.recv().await {
            publish.ack.done();
        }
    };
    tokio::select! {
        () = feed(broker, &bytes[..]) => {}
        () = consumer => {}
    }
}

async fn feed(broker: Arc<Broker>, bytes: impl AsyncRead) {
    serve(broker, Arc::new(Guest::default()), join(bytes, sink())).await;
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn ordinary_streams_end() {
        fuzz(&[]);
        fuzz(&[0xC0, 0, 0x30, 3, 0, 1, b'a', 0xE0, 0]);
        // More QoS 1 messages than the channel holds.
        fuzz(&[0x32, 6, 0, 1, b't', 0, 7, b'x'].repeat(2_000));
    }

    proptest! {
        #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

        #[test]
        fn any_bytes_end(first in 0_u8.., rest in prop::collection::vec(any::<u8>(), 0..64)) {
            fuzz(&[&[first, rest.len() as u8][..], &rest].concat());
        }
    }
}
