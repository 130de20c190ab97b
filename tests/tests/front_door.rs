//! The front door of a running service against foreign clients: mosquitto's and paho's, MQTT 3.1.1 and 5.
#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

use testkit::{Hatchwarden, RoomFile, mosquitto_pub, mosquitto_sub, paho_proof, paho_talk};

/// Each version with what mosquitto_sub needs to keep a session under it.
const VERSIONS: [(&str, &[&str]); 2] = [("mqttv311", &["-c"]), ("mqttv5", &["-c", "-x", "3600"])];

async fn service() -> (Hatchwarden, RoomFile, u16) {
    let (room, port) = RoomFile::with_front_door("");
    (Hatchwarden::run(&room).await, room, port)
}

#[tokio::test(flavor = "multi_thread")]
async fn every_puback_that_paho_sees_is_on_disk() {
    let (_service, room, port) = service().await;
    for version in [4, 5] {
        paho_proof(port, version, &room.store(), 500).await;
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn paho_is_understood_in_both_versions() {
    let (_service, _room, port) = service().await;
    for version in [4, 5] {
        paho_talk(port, version).await;
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn mosquitto_clients_pass_messages_by_wildcards_at_both_qualities() {
    let (_service, _room, port) = service().await;
    for (version, _) in VERSIONS {
        let root = format!("pass/{version}");
        let (one, all) = (format!("{root}/+/warm"), format!("{root}/#"));
        let form = "%t %p qos=%q";
        let mut one = mosquitto_sub(port, &["-V", version, "-F", form, "-q", "1", "-t", &one]).await;
        let mut all = mosquitto_sub(port, &["-V", version, "-F", form, "-q", "0", "-t", &all]).await;
        for qos in ["0", "1"] {
            let topic = format!("{root}/v1/warm");
            mosquitto_pub(port, &["-V", version, "-q", qos, "-t", &topic, "-m", qos]).await;
            one.line_with(&format!("{topic} {qos} qos={qos}")).await;
            all.line_with(&format!("{topic} {qos} qos=0")).await; // the lower of both [MQTT-3.8.4-6]
        }
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn mosquitto_clients_find_what_is_retained_until_it_is_emptied() {
    let (_service, _room, port) = service().await;
    for (version, _) in VERSIONS {
        let topic = format!("state/{version}");
        let listen = ["-V", version, "-F", "%t %p retained=%r", "-q", "1", "-t", &topic];
        mosquitto_pub(port, &["-V", version, "-q", "1", "-r", "-t", &topic, "-m", "on"]).await;
        let mut there = mosquitto_sub(port, &listen).await;
        there.line_with(&format!("{topic} on retained=1")).await; // [MQTT-3.3.1-8]
        mosquitto_pub(port, &["-V", version, "-q", "1", "-r", "-n", "-t", &topic]).await;
        let mut late = mosquitto_sub(port, &listen).await;
        mosquitto_pub(port, &["-V", version, "-q", "1", "-t", &topic, "-m", "next"]).await;
        late.line_with(&format!("{topic} next retained=0")).await;
        assert!(!late.printed().contains("retained=1"), "it was emptied"); // [MQTT-3.3.1-10]
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn a_will_is_sent_for_the_killed_and_not_for_who_says_goodbye() {
    let (_service, _room, port) = service().await;
    for (version, _) in VERSIONS {
        let topic = format!("will/{version}");
        let mut listener = mosquitto_sub(port, &["-V", version, "-v", "-q", "1", "-t", &topic]).await;
        let with = |payload| {
            ["-V", version, "-t", "x", "--will-topic", &topic, "--will-qos", "1", "--will-payload", payload]
        };
        mosquitto_pub(port, &[with("polite").as_slice(), &["-m", "y"]].concat()).await;
        mosquitto_sub(port, &with("killed")).await.kill().await;
        listener.line_with(&format!("{topic} killed")).await; // [MQTT-3.1.2-8]
        assert!(!listener.printed().contains("polite")); // [MQTT-3.14.4-3]
        if version == "mqttv5" {
            // Ended by SIGTERM it says goodbye with reason 0x04, "disconnect with will message" (measured): MQTT 5, 3.14.2.1.
            mosquitto_sub(port, &with("wanted")).await.stop().await;
            listener.line_with(&format!("{topic} wanted")).await;
        }
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn a_kept_session_collects_what_came_while_its_client_was_away() {
    let (_service, _room, port) = service().await;
    for (version, keep) in VERSIONS {
        let topic = format!("kept/{version}");
        let session = [&["-V", version, "-v", "-q", "1", "-i", version, "-t", &topic], keep].concat();
        mosquitto_sub(port, &session).await.stop().await;
        for n in ["1", "2", "3"] {
            mosquitto_pub(port, &["-V", version, "-q", "1", "-t", &topic, "-m", n]).await;
        }
        let mut back = mosquitto_sub(port, &session).await;
        for n in ["1", "2", "3"] {
            back.line_with(&format!("{topic} {n}")).await; // [MQTT-3.1.2-5]
        }
    }
}
