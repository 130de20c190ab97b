//! The main job through real parts: mosquitto as broker, mosquitto_pub and paho as foreign clients.
#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

use serde_json::{Value, json};
use testkit::{Api, Hatchwarden, Mosquitto, RoomFile, paho_publish};
use units::{Span, Time};

/// Short delays of alarms would be another program; the shipped ones are waited for.
async fn clutch_in_tu3(api: &Api) {
    let now: Time = serde_json::from_value(api.get("api/v1/room").await["now"].clone()).unwrap();
    let new = json!({
        "id": "C06", "fish": "Pseudocrenilabrus philander", "species": "generic-mouthbrooder", "mother": "phi-02",
        "day0_earliest": now - Span::days(3), "day0_latest": now - Span::days(3), "day0_grade": "seen", "vessel": "V1"
    });
    let (status, body) = api.post("api/v1/clutches", &new).await;
    assert!((200..300).contains(&status), "{status}: {body}");
    let strip = json!({"what": "strip", "at": now - Span::days(1), "vessel": "TU3", "alive": 33, "dead": 0});
    let (status, body) = api.post("api/v1/clutches/C06/records", &strip).await;
    assert!((200..300).contains(&status), "{status}: {body}");
}

fn reading_of(readings: &Value, probe: &str) -> Option<f64> {
    readings.as_array()?.iter().find(|r| r["probe"] == probe)?["value"].as_f64()
}

fn alarm<'a>(alarms: &'a Value, id: &str) -> Option<&'a Value> {
    alarms.as_array()?.iter().find(|a| a["id"] == id)
}

#[tokio::test(flavor = "multi_thread")]
async fn readings_of_foreign_clients_reach_the_page_and_the_api() {
    let broker = Mosquitto::start().await;
    let room = RoomFile::behind_broker(broker.port, "");
    let mut service = Hatchwarden::run(&room).await;
    service.child.line_with("subscribed").await;

    broker.publish("hatchwarden/undercroft/V1/temperature", "26.94").await;
    service
        .api
        .until("mosquitto_pub's reading", "api/v1/readings", |r| {
            (reading_of(r, "V1/temperature") == Some(26.94)).then_some(())
        })
        .await;
    paho_publish(broker.port, 4, "hatchwarden/undercroft/V2/temperature", r#"{"v":28.47,"n":1}"#).await;
    paho_publish(broker.port, 5, "hatchwarden/undercroft/TU3/air-flow", "0.82").await;
    service
        .api
        .until("paho's readings", "api/v1/readings", |r| {
            (reading_of(r, "V2/temperature") == Some(28.47) && reading_of(r, "TU3/air-flow") == Some(0.82))
                .then_some(())
        })
        .await;
    service
        .api
        .until("the page's room", "api/v1/room", |r| {
            (r["tanks"][0]["water"]["celsius"] == 26.94 && r["tanks"][1]["water"]["celsius"] == 28.47)
                .then_some(())
        })
        .await;
    let page = service.api.page("").await;
    assert!(page.contains("26.9") && page.contains("28.5"), "the opening page lacks a temperature:\n{page}");

    let (code, said) = service.child.stop().await;
    assert_eq!(code, Some(0), "{said}");
}

/// Publishes one flow value every second until told to stop, as a device does.
fn flow(broker: &Mosquitto, value: &'static str) -> tokio::task::JoinHandle<()> {
    let port = broker.port;
    tokio::spawn(async move {
        let mut options = rumqttc::MqttOptions::new(format!("flow-{value}"), "127.0.0.1", port);
        options.set_clean_session(false);
        let (client, mut events) = rumqttc::AsyncClient::new(options, 100);
        let mut beat = tokio::time::interval(std::time::Duration::from_secs(1));
        loop {
            tokio::select! {
                e = events.poll() => { e.unwrap(); }
                _ = beat.tick() => {
                    let topic = "hatchwarden/undercroft/TU3/air-flow";
                    client.try_publish(topic, rumqttc::QoS::AtLeastOnce, false, value).unwrap();
                }
            }
        }
    })
}

#[tokio::test(flavor = "multi_thread")]
async fn stopped_air_raises_an_alarm_that_names_what_hangs_on_it_and_clears_when_air_is_back() {
    let broker = Mosquitto::start().await;
    let room = RoomFile::behind_broker(broker.port, "");
    let mut service = Hatchwarden::run(&room).await;
    service.child.line_with("subscribed").await;
    clutch_in_tu3(&service.api).await;
    let mut mqtt = broker.subscribe("hatchwarden/undercroft/alarm/#");

    broker.publish("hatchwarden/undercroft/V1/temperature", "26.94").await;
    broker.publish("hatchwarden/undercroft/TU3/air-flow", "0.82").await;
    let stopped = flow(&broker, "0");
    let raised =
        service.api.until("air stopped", "api/v1/alarms", |a| alarm(a, "TU3.air-stopped").cloned()).await;
    assert_eq!(raised["condition"], "air stopped");
    assert_eq!(raised["vessel"], "TU3");
    assert_eq!(raised["standing"], true);
    assert_eq!(raised["clutch"]["id"], "C06");
    assert_eq!(raised["clutch"]["count"], 33);
    assert!(raised["clutch"]["stage"].is_string() && raised["since"].is_string(), "{raised}");
    let line = mqtt.line_with("alarm/TU3 {").await;
    assert!(line.contains("air stopped") && line.contains("C06"), "{line}");
    service.child.line_with("TU3").await;

    let (status, body) =
        service.api.post("api/v1/alarms/TU3.air-stopped/acknowledge", &json!({"by": "keeper"})).await;
    assert!((200..300).contains(&status), "{status}: {body}");
    service
        .api
        .until("acknowledged", "api/v1/alarms", |a| {
            (alarm(a, "TU3.air-stopped")?["state"] == "acknowledged").then_some(())
        })
        .await;

    stopped.abort();
    let back = flow(&broker, "0.85");
    service
        .api
        .until("cleared after the off-delay", "api/v1/alarms", |a| {
            alarm(a, "TU3.air-stopped").is_none().then_some(())
        })
        .await;
    // The retained message is emptied: a subscriber that comes now hears nothing of it.
    mqtt.line_with("alarm/TU3 (null)").await;
    back.abort();
}

#[tokio::test(flavor = "multi_thread")]
async fn what_no_probe_in_water_can_mean_is_refused_and_counted() {
    let broker = Mosquitto::start().await;
    let room = RoomFile::behind_broker(broker.port, "");
    let mut service = Hatchwarden::run(&room).await;
    service.child.line_with("subscribed").await;
    let topic = "hatchwarden/undercroft/V1/temperature";
    for payload in ["85.0", "85.0", "-127", "nan", "4.0", "warm", "26.9"] {
        broker.publish(topic, payload).await;
    }
    let counts = service
        .api
        .until("the good reading", "api/v1/room", |r| {
            (r["tanks"][0]["water"]["celsius"] == 26.9).then(|| r["refusals"].clone())
        })
        .await;
    let count = |reason: &str| {
        counts
            .as_array()
            .unwrap()
            .iter()
            .find(|r| r["reason"] == reason)
            .map_or(0, |r| r["count"].as_u64().unwrap())
    };
    assert_eq!(count("sensor_power_on_reset"), 2, "{counts}");
    assert_eq!(count("sensor_disconnected"), 1, "{counts}");
    assert_eq!(count("out_of_range"), 1, "{counts}");
}

#[tokio::test(flavor = "multi_thread")]
async fn the_front_door_serves_foreign_clients_too() {
    let (room, port) = RoomFile::with_front_door("");
    let service = Hatchwarden::run(&room).await;
    paho_publish(port, 4, "hatchwarden/undercroft/V1/temperature", "26.94").await;
    paho_publish(port, 5, "hatchwarden/undercroft/V2/temperature", r#"{"v":28.5}"#).await;
    // paho's acknowledgement means that it is on disk; the API reads it back.
    service
        .api
        .until("both readings", "api/v1/readings", |r| {
            (reading_of(r, "V1/temperature") == Some(26.94) && reading_of(r, "V2/temperature") == Some(28.5))
                .then_some(())
        })
        .await;
}
