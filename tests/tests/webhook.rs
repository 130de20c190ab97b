//! An alarm on its way out by HTTP: written to disk before it is tried, signed, and sent again under the same id.
#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

use testkit::{Delivery, Hatchwarden, Mosquitto, PATIENCE, RoomFile, free_port, receive};
use tokio::process::Command;
use tokio::sync::mpsc::UnboundedReceiver;
use units::{Span, Time};

/// Base64 of 32 bytes, invented for this test.
const SECRET: &str = "whsec_MDEyMzQ1Njc4OWFiY2RlZjAxMjM0NTY3ODlhYmNkZWY=";

/// Standard Webhooks (standardwebhooks.com, specification of 2023): the signature is the base64 of the HMAC-SHA-256,
/// under the decoded secret, of id, timestamp and body joined by dots. Checked by Python's own hmac.
const VERIFY: &str = r"
import base64, hashlib, hmac, sys
secret, id, stamp, signature, body = sys.argv[1:6]
key = base64.b64decode(secret.removeprefix('whsec_'))
right = base64.b64encode(hmac.new(key, f'{id}.{stamp}.{body}'.encode(), hashlib.sha256).digest()).decode()
sys.exit(0 if 'v1,' + right in signature.split() else 1)
";

async fn is_signed(d: &Delivery) -> bool {
    let (id, stamp, signature) =
        (d.header("webhook-id"), d.header("webhook-timestamp"), d.header("webhook-signature"));
    let status =
        Command::new("python3").args(["-c", VERIFY, SECRET, id, stamp, signature, &d.body]).status().await;
    status.unwrap().success()
}

async fn next(deliveries: &mut UnboundedReceiver<Delivery>) -> Delivery {
    tokio::time::timeout(PATIENCE, deliveries.recv()).await.unwrap().unwrap()
}

fn room(broker: &Mosquitto, port: u16) -> RoomFile {
    let hook = format!(
        "[webhook]\nurl = \"http://127.0.0.1:{port}/alarms?key=private\"\nsecret_file = \"secret.txt\"\n"
    );
    let room = RoomFile::behind_broker(broker.port, &hook);
    std::fs::write(room.folder.path().join("secret.txt"), format!("{SECRET}\n")).unwrap();
    room
}

#[tokio::test(flavor = "multi_thread")]
async fn an_alarm_that_could_not_be_delivered_outlives_a_kill_and_keeps_its_id() {
    let broker = Mosquitto::start().await;
    let port = free_port();
    let room = room(&broker, port);
    let mut service = Hatchwarden::run(&room).await;
    service.child.line_with("subscribed").await;

    // Two cold readings that are further apart than the on-delay, by the device's own clock.
    let now: Time = serde_json::from_value(service.api.get("api/v1/room").await["now"].clone()).unwrap();
    for t in [now - Span::seconds(70), now] {
        let reading = format!(r#"{{"v":26.5,"t":{}}}"#, t.millis() as f64 / 1000.0);
        broker.publish("hatchwarden/undercroft/V2/temperature", &reading).await;
    }
    service
        .api
        .until("too cold", "api/v1/alarms", |a| {
            a.as_array()?.iter().any(|a| a["id"] == "V2.too-cold").then_some(())
        })
        .await;
    // Nobody listens at the webhook's port: the first try has failed or will. The service dies.
    let printed = service.child.printed();
    assert!(
        !printed.contains("whsec_") && !printed.contains("private"),
        "a secret is in the log:\n{printed}"
    );
    service.child.kill().await;

    let mut refusing = receive(port, "503 Service Unavailable").await;
    let _service = Hatchwarden::run(&room).await;
    let first = next(&mut refusing).await;
    assert!(is_signed(&first).await, "{first:?}");
    let body: serde_json::Value = serde_json::from_str(&first.body).unwrap();
    assert_eq!(body["type"], "alarm.raised", "{body}");
    assert_eq!(body["data"]["vessel"], "V2");
    assert_eq!(body["data"]["condition"], "too cold");
    assert!(body["data"]["text"].as_str().unwrap().contains("V2"), "{body}");

    let again = next(&mut refusing).await;
    assert_eq!(again.header("webhook-id"), first.header("webhook-id"), "a repeat must be told by its id");
    assert_eq!(again.body, first.body);
    assert!(is_signed(&again).await);
}
