//! Whatever a broker sends, rumqttc may refuse it but must not panic: a panic would end the session's
//! task for good, where a refusal only costs the connection.

use bytes::BytesMut;
use proptest::collection::vec;
use proptest::prelude::*;
use rumqttc::{MqttState, Packet};

/// Bytes of a packet whose type is real and whose length is right, so that its body is looked at.
fn framed() -> impl Strategy<Value = Vec<u8>> {
    (any::<u8>(), vec(any::<u8>(), 0..100)).prop_map(|(first, body)| {
        let length = u8::try_from(body.len()).unwrap_or(0);
        [vec![first, length], body].concat()
    })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(20_000))]

    #[test]
    fn no_bytes_make_the_client_panic(packets in vec(prop_oneof![4 => framed(), 1 => vec(any::<u8>(), 0..20)], 1..6)) {
        let mut bytes = BytesMut::from(packets.concat().as_slice());
        let mut state = MqttState::new(100, true);
        while let Ok(packet) = Packet::read(&mut bytes, 268_435_455) {
            if state.handle_incoming_packet(packet).is_err() {
                break;
            }
        }
    }
}
