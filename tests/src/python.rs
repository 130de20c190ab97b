//! A foreign MQTT client: Python's paho-mqtt.

use tokio::process::Command;

const PUBLISH: &str = r#"
import sys
import paho.mqtt.client as mqtt
port, version, topic, payload = int(sys.argv[1]), int(sys.argv[2]), sys.argv[3], sys.argv[4]
client = mqtt.Client(mqtt.CallbackAPIVersion.VERSION2, protocol=version)
client.connect("127.0.0.1", port)
client.loop_start()
info = client.publish(topic, payload, qos=1)
info.wait_for_publish(30)
assert info.is_published(), "not acknowledged"
client.disconnect()
client.loop_stop()
"#;

/// Publishes one message at QoS 1 with paho and waits for its acknowledgement. `version` is 4 for MQTT 3.1.1, 5 for MQTT 5.
pub async fn paho_publish(port: u16, version: u8, topic: &str, payload: &str) {
    let (port, version) = (port.to_string(), version.to_string());
    let out = Command::new("python3")
        .args(["-c", PUBLISH, &port, &version, topic, payload])
        .output()
        .await
        .unwrap();
    assert!(out.status.success(), "paho: {}", String::from_utf8_lossy(&out.stderr));
}
