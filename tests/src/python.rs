//! A foreign MQTT client: Python's paho-mqtt.

use tokio::process::Command;

/// Runs a program of tests/src/python with these arguments; it fails by an exception.
///
/// # Panics
/// When it fails; says what it said.
async fn run(program: &str, arguments: &[&str]) {
    let out = Command::new("python3").args(["-c", program]).args(arguments).output().await.unwrap();
    assert!(out.status.success(), "paho {arguments:?}: {}", String::from_utf8_lossy(&out.stderr));
}

/// Publishes one message at QoS 1 with paho and waits for its acknowledgement. `version` is 4 for MQTT 3.1.1, 5 for MQTT 5.
pub async fn paho_publish(port: u16, version: u8, topic: &str, payload: &str) {
    let arguments = [&port.to_string(), &version.to_string(), topic, payload];
    run(include_str!("python/publish.py"), &arguments).await;
}

/// Everything that paho and a server have to say to each other, asserted on paho's side: QoS 0 and 1, wildcards, retained, will,
/// a session that is kept.
pub async fn paho_talk(port: u16, version: u8) {
    run(include_str!("python/talk.py"), &[&port.to_string(), &version.to_string()]).await;
}

/// Publishes `count` readings with paho; in every PUBACK callback a second SQLite connection must see the row.
pub async fn paho_proof(port: u16, version: u8, store: &std::path::Path, count: u32) {
    let arguments = [&port.to_string(), &version.to_string(), store.to_str().unwrap(), &count.to_string()];
    run(include_str!("python/proof.py"), &arguments).await;
}
