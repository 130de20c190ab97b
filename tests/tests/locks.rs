//! Passwords and certificates on both ways in, with real brokers and clients.
#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

use serde_json::Value;
use std::path::Path;
use testkit::{
    Certificates, Deployed, Hatchwarden, Mosquitto, RoomFile, free_port, mosquitto_pub, mosquitto_pub_fails,
};

const TOPIC: &str = "hatchwarden/undercroft/V1/temperature";

fn value_of(readings: &Value, probe: &str) -> Option<f64> {
    readings.as_array()?.iter().find(|r| r["probe"] == probe)?["value"].as_f64()
}

async fn stored(service: &Hatchwarden, probe: &str, value: f64) {
    let what = format!("{probe} {value}");
    let found = |all: &Value| value_of(all, probe).filter(|v| (v - value).abs() < 1e-9);
    service.api.until(&what, "api/v1/readings", found).await;
}

fn shown(path: &Path) -> &str {
    path.to_str().unwrap()
}

#[tokio::test]
async fn behind_the_shipped_broker_by_tls_with_a_password() {
    let broker = Deployed::start().await;
    let tls = format!("port = {}\n[mqtt.broker.tls]\nca = {:?}\n", broker.tls_port, broker.ca());
    let room = RoomFile::behind_broker_with(&tls, "hatchwarden", &Deployed::password("hatchwarden"));
    let mut service = Hatchwarden::run(&room).await;
    service.child.line_with("subscribed").await;
    broker.publish("V1", TOPIC, "26.9", &[]).await;
    stored(&service, "V1/temperature", 26.9).await;
}

#[tokio::test]
async fn a_broker_whose_authority_is_unknown_is_not_trusted_and_the_cure_is_told() {
    let broker = Deployed::start().await;
    let others = Certificates::new();
    let tls = format!("port = {}\n[mqtt.broker.tls]\nca = {:?}\n", broker.tls_port, others.path("ca.pem"));
    let room = RoomFile::behind_broker_with(&tls, "hatchwarden", &Deployed::password("hatchwarden"));
    let mut service = Hatchwarden::run(&room).await;
    let said = service.child.line_with("no authority that counts here").await;
    assert!(said.contains("ca in [mqtt.broker.tls]"), "{said}");
}

#[tokio::test]
async fn a_broker_that_asks_for_our_certificate_gets_it() {
    let made = Certificates::new();
    let port = free_port();
    let settings = format!(
        "cafile {}\ncertfile {}\nkeyfile {}\nrequire_certificate true\n",
        shown(&made.path("ca.pem")),
        shown(&made.path("server.pem")),
        shown(&made.path("server-key.pem"))
    );
    let _broker = Mosquitto::start_with(port, &settings).await;
    let (ca, ours, key) = (made.path("ca.pem"), made.path("client.pem"), made.path("client-key.pem"));
    let tls = format!("port = {port}\n[mqtt.broker.tls]\nca = {ca:?}\n");
    let mut without = Hatchwarden::run(&RoomFile::behind_broker_with(&tls, "x", "x")).await;
    without.child.line_with("client certificate").await;
    let tls = format!("{tls}certificate = {ours:?}\nkey = {key:?}\n");
    let mut service = Hatchwarden::run(&RoomFile::behind_broker_with(&tls, "x", "x")).await;
    service.child.line_with("subscribed").await;
    let login = ["--cafile", shown(&ca), "--cert", shown(&ours), "--key", shown(&key)];
    mosquitto_pub(port, &[&login[..], &["-q", "1", "-t", TOPIC, "-m", "26.9"]].concat()).await;
    stored(&service, "V1/temperature", 26.9).await;
}

#[tokio::test]
async fn at_the_front_door_a_device_needs_its_password_and_keeps_to_its_topics() {
    let made = Certificates::new();
    let port = free_port();
    let (certificate, key) = (made.path("server.pem"), made.path("server-key.pem"));
    let door = format!(
        "[mqtt]\nfront_door = \"127.0.0.1:{port}\"\n[mqtt.front_door_tls]\ncertificate = {certificate:?}\nkey = {key:?}\n\
         [[mqtt.device]]\nname = \"rack\"\npassword_file = \"rack.txt\"\n\
         publish = [\"hatchwarden/undercroft/V1/+\"]\n"
    );
    let room = RoomFile::new(&door, "");
    std::fs::write(room.folder.path().join("rack.txt"), "the rack swims\n").unwrap();
    let service = Hatchwarden::run(&room).await;
    let ca = made.path("ca.pem");
    let as_rack = |password: &'static str| ["--cafile", shown(&ca), "-u", "rack", "-P", password, "-q", "1"];
    let send = |topic: &'static str| ["-t", topic, "-m", "26.9"];
    mosquitto_pub_fails(port, &[&as_rack("wrong")[..], &send(TOPIC)].concat()).await;
    mosquitto_pub_fails(port, &["-u", "rack", "-P", "the rack swims", "-t", TOPIC, "-m", "1"]).await;
    let good = as_rack("the rack swims");
    mosquitto_pub(port, &[&good[..], &send("hatchwarden/undercroft/V2/temperature")].concat()).await;
    mosquitto_pub(port, &[&good[..], &send(TOPIC)].concat()).await;
    stored(&service, "V1/temperature", 26.9).await;
    let readings = service.api.get("api/v1/readings").await;
    assert_eq!(value_of(&readings, "V2/temperature"), None, "not its topic");
}
