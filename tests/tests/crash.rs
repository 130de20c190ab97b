//! SIGKILL at random points of a numbered stream: what was acknowledged is stored once, and the dates are the same.
#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

use serde_json::{Value, json};
use std::time::Duration;
use testkit::{Api, Hatchwarden, Mosquitto, PATIENCE, RoomFile};
use tokio::sync::watch;
use units::{Span, Time};

const READINGS: u64 = 20_000;
const KILLS: usize = 10;
const TOPIC: &str = "hatchwarden/undercroft/V1/temperature";

/// The n-th reading: one a minute, half a day's swing, sixteenths of a degree.
fn reading(begin: Time, n: u64) -> (Time, f64) {
    let day = n as f64 / 1440.0 * std::f64::consts::TAU;
    let celsius = ((26.5 + day.sin()) * 16.0).round() / 16.0;
    (begin + Span::minutes(n as i64), celsius)
}

/// Publishes the whole stream at QoS 1 and tells how many the broker has acknowledged.
async fn publish(port: u16, begin: Time, acknowledged: watch::Sender<u64>) {
    let mut options = rumqttc::MqttOptions::new("numbered", "127.0.0.1", port);
    options.set_clean_session(false).set_inflight(200).set_keep_alive(Duration::from_secs(60));
    let (client, mut events) = rumqttc::AsyncClient::new(options, 1000);
    let sender = tokio::spawn(async move {
        for n in 0..READINGS {
            let (t, v) = reading(begin, n);
            let payload = format!(r#"{{"v":{v},"t":{},"n":{n}}}"#, t.millis() / 1000);
            client.publish(TOPIC, rumqttc::QoS::AtLeastOnce, false, payload).await.unwrap();
        }
        client // kept, so that the connection outlives the last publish
    });
    let mut count = 0;
    while count < READINGS {
        if let rumqttc::Event::Incoming(rumqttc::Packet::PubAck(_)) = events.poll().await.unwrap() {
            count += 1;
            acknowledged.send_replace(count);
        }
    }
    sender.await.unwrap();
}

async fn open_clutch(api: &Api, begin: Time) {
    let new = json!({
        "id": "C09", "fish": "Oreochromis niloticus", "species": "oreochromis-niloticus", "mother": "til-04",
        "day0_earliest": begin, "day0_latest": begin + Span::hours(6), "day0_grade": "window", "vessel": "V1"
    });
    let (status, body) = api.post("api/v1/clutches", &new).await;
    assert!((200..300).contains(&status), "{status}: {body}");
}

async fn stored(api: &Api, begin: Time) -> Vec<(Time, f64)> {
    let to = begin + Span::minutes(READINGS as i64);
    let page = api.get(&format!("api/v1/readings/V1/temperature?from={begin}&to={to}")).await;
    let time = |p: &Value| serde_json::from_value(p["time"].clone()).unwrap();
    page["readings"].as_array().unwrap().iter().map(|p| (time(p), p["value"].as_f64().unwrap())).collect()
}

async fn windows(api: &Api) -> (Value, Value) {
    let clutch = api.get("api/v1/clutches/C09").await;
    (clutch["clutch"]["hatch"].clone(), clutch["clutch"]["free_swimming"].clone())
}

/// Plays the stream; kills the service whenever the publisher has got as far as one of `kills`.
async fn play(begin: Time, kills: &[u64]) -> (Vec<(Time, f64)>, (Value, Value)) {
    let broker = Mosquitto::start().await;
    let room = RoomFile::behind_broker(broker.port, "");
    let mut service = Hatchwarden::run(&room).await;
    service.child.line_with("subscribed").await;
    open_clutch(&service.api, begin).await;
    let (tell, mut acknowledged) = watch::channel(0);
    let publisher = tokio::spawn(publish(broker.port, begin, tell));
    for kill in kills {
        tokio::time::timeout(PATIENCE, acknowledged.wait_for(|n| n >= kill)).await.unwrap().unwrap();
        service.child.kill().await;
        service = Hatchwarden::run(&room).await;
    }
    tokio::time::timeout(2 * PATIENCE, publisher).await.unwrap().unwrap();
    let last = reading(begin, READINGS - 1).0;
    service
        .api
        .until("the last reading", "api/v1/readings", |r| {
            let newest: Time = serde_json::from_value(r[0]["time"].clone()).ok()?;
            (newest == last).then_some(())
        })
        .await;
    (stored(&service.api, begin).await, windows(&service.api).await)
}

/// A small generator (Steele, Lea and Flood 2014, SplitMix64), so that a seed in the output plays the kills again.
fn random_points(mut seed: u64) -> Vec<u64> {
    let mut points: Vec<u64> = (0..KILLS)
        .map(|_| {
            seed = seed.wrapping_add(0x9e37_79b9_7f4a_7c15);
            let mut z = seed;
            z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
            z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
            (z ^ (z >> 31)) % (READINGS - 500)
        })
        .collect();
    points.sort_unstable();
    points
}

#[tokio::test(flavor = "multi_thread")]
async fn ten_kills_lose_nothing_double_nothing_and_move_no_date() {
    let seed = std::env::var("HATCHWARDEN_SEED").ok().and_then(|s| s.parse().ok()).unwrap_or(20_261_125);
    let kills = random_points(seed);
    println!("HATCHWARDEN_SEED={seed} kills at {kills:?}");
    // Three weeks back, so that the stream ends in the past: late readings move dates and raise no alarm.
    let begin = Time::parse_rfc3339("2026-11-01T00:00:00Z").unwrap();
    let (calm, calm_windows) = play(begin, &[]).await;
    let (killed, killed_windows) = play(begin, &kills).await;

    let sent: Vec<(Time, f64)> = (0..READINGS).map(|n| reading(begin, n)).collect();
    assert_eq!(calm.len(), sent.len());
    assert_eq!(calm, sent);
    assert_eq!(killed.len(), sent.len(), "readings are missing or doubled after the kills");
    assert_eq!(killed, sent);
    assert!(!calm_windows.0.is_null() && !calm_windows.1.is_null());
    assert_eq!(killed_windows, calm_windows);
}
