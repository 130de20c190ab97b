//! What says that eggs lie still beside the flow in their hose; and what ends when nothing hangs on it any more.
#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

mod common;

use common::Play;
use hatchwarden::room::{Outcome, Wish};
use units::{Span, VesselId};
use web::keeper::Record;
use web::view::{AlarmView, Turning};

const CALL: &str = "[mail]\nhost = 'smtp.example.org'\nfrom = 'room@example.org'\n\
                    [[call]]\nperson = 'Ada'\nmail = 'ada@example.org'\n";
const WATER: (&str, &str) = ("V1/temperature", "27.0");

fn tu(n: u8) -> VesselId {
    format!("TU{n}").parse().unwrap()
}

/// C06 lies in TU1.
async fn start(more: &str) -> Play {
    let mut play = Play::start_with("V1", more).await;
    let strip = Record::Strip { at: play.now, vessel: tu(1), alive: 44, dead: 0 };
    play.wish(Wish::Record("C06".parse().unwrap(), strip)).await.unwrap();
    play
}

async fn hear(play: &mut Play, minutes: i64, said: &[(&str, &str)]) {
    play.pass_hearing(Span::minutes(minutes), Span::seconds(15), &[&[WATER], said].concat()).await;
}

fn standing(play: &mut Play, id: &str) -> Option<AlarmView> {
    play.room.view(play.now).alarms.into_iter().find(|a| a.id == id && a.standing)
}

fn turning(play: &mut Play) -> Turning {
    play.room.view(play.now).tumblers.into_iter().find(|t| t.vessel == tu(1)).unwrap().turning
}

#[tokio::test]
async fn a_switch_alone_is_witness_enough() {
    let mut play = start("").await;
    assert_eq!(turning(&mut play), Turning::NoProbe);
    hear(&mut play, 5, &[("TU1/air-switch", "1")]).await;
    assert_eq!((standing(&mut play, "TU1.air-stopped"), turning(&mut play)), (None, Turning::Turning));
    hear(&mut play, 1, &[("TU1/air-switch", "0")]).await;
    let alarm = standing(&mut play, "TU1.air-stopped").unwrap();
    assert!(
        alarm
            .text
            .starts_with("TU1 lies still since 12:05. Its air switch says that there is none. In it: C06"),
        "{}",
        alarm.text
    );
    assert_eq!(turning(&mut play), Turning::Still);
    play.restart().await;
    assert_eq!(standing(&mut play, "TU1.air-stopped").unwrap().text, alarm.text);
    hear(&mut play, 2, &[("TU1/air-switch", "1")]).await;
    assert_eq!((standing(&mut play, "TU1.air-stopped"), turning(&mut play)), (None, Turning::Turning));
}

/// A hose that is off behind the flow probe: air flows, and no bubble rises.
#[tokio::test]
async fn bubbles_that_cease_are_believed_beside_a_flow() {
    let mut play = start("").await;
    hear(&mut play, 5, &[("TU1/air-flow", "0.45"), ("TU1/bubble-rate", "210")]).await;
    assert_eq!(standing(&mut play, "TU1.air-stopped"), None);
    hear(&mut play, 1, &[("TU1/air-flow", "0.70"), ("TU1/bubble-rate", "0.4")]).await;
    let alarm = standing(&mut play, "TU1.air-stopped").unwrap();
    assert!(alarm.text.starts_with("TU1 lies still since 12:05. 0.4 bubbles a second."), "{}", alarm.text);
    // The counter dies: silence is not health, and what it said last holds until somebody is on it.
    hear(&mut play, 6, &[("TU1/air-flow", "0.70")]).await;
    assert!(standing(&mut play, "TU1.silent.bubble-rate").is_some());
    let alarm = standing(&mut play, "TU1.air-stopped").unwrap();
    assert!(alarm.text.contains("0.4 bubbles a second."), "{}", alarm.text);
    assert_eq!(turning(&mut play), Turning::Still);
    play.restart().await;
    assert_eq!(standing(&mut play, "TU1.air-stopped").unwrap().text, alarm.text);
    play.wish(Wish::Acknowledge("TU1.air-stopped".to_owned())).await.unwrap();
    hear(&mut play, 2, &[("TU1/air-flow", "0.45")]).await;
    assert_eq!((standing(&mut play, "TU1.air-stopped"), turning(&mut play)), (None, Turning::Turning));
}

/// The flow's board is slow by four minutes; its bubbles are counted by another.
#[tokio::test]
async fn clocks_that_differ_delay_nothing() {
    let mut play = start("").await;
    let flow = async |play: &mut Play, flow: f64| {
        for _ in 0..20 {
            let t = (play.now - Span::minutes(4)).millis() as f64 / 1000.0;
            play.hear("TU1/air-flow", &format!(r#"{{"v":{flow},"t":{t}}}"#)).await;
            play.pass(Span::seconds(10)).await;
        }
    };
    flow(&mut play, 0.45).await;
    play.hear("TU1/bubble-rate", "210").await;
    let stopped = play.now;
    flow(&mut play, 0.0).await;
    let alarm = standing(&mut play, "TU1.air-stopped").unwrap();
    assert_eq!(alarm.since, stopped);
}

/// While air that is back is waited for, nothing is said that no probe has measured.
#[tokio::test]
async fn words_tell_only_what_was_measured() {
    let mut play = start("").await;
    hear(&mut play, 5, &[("TU1/air-switch", "1")]).await;
    hear(&mut play, 1, &[("TU1/air-switch", "0")]).await;
    play.hear("TU1/air-switch", "1").await;
    let text = standing(&mut play, "TU1.air-stopped").unwrap().text;
    assert!(text.starts_with("TU1 lies still since 12:05. In it: C06"), "{text}");
}

#[tokio::test]
async fn how_few_bubbles_are_too_few_is_set() {
    let text = include_str!("../../../config/room.toml");
    let set = text
        .replace("id = \"TU1\"\nkind = \"tumbler\"", "id = \"TU1\"\nkind = \"tumbler\"\nstill_bubbles = 50");
    assert_ne!(set, text);
    let config = hatchwarden::config::read(&set, "room.toml", std::path::Path::new("")).unwrap();
    assert_eq!(config.vessels.iter().find(|v| v.id == tu(1)).unwrap().still_bubbles, 50.0);
}

#[tokio::test]
async fn a_tumbler_that_is_emptied_ends_its_alarm_and_whoever_was_called_is_told() {
    let mut play = start(CALL).await;
    hear(&mut play, 5, &[("TU1/air-flow", "0.45")]).await;
    hear(&mut play, 1, &[("TU1/air-flow", "0.0")]).await;
    assert!(standing(&mut play, "TU1.air-stopped").is_some());
    let to = Record::Move { at: play.now, vessel: tu(2) };
    play.wish(Wish::Record("C06".parse().unwrap(), to)).await.unwrap();
    hear(&mut play, 2, &[("TU1/air-flow", "0.0")]).await;
    assert_eq!(standing(&mut play, "TU1.air-stopped"), None);
    let mut sent = play.store.reader().unwrap().outbox_pending().unwrap();
    sent.sort_by_key(|item| item.row.created);
    let last: serde_json::Value = serde_json::from_str(&sent.last().unwrap().row.body).unwrap();
    assert_eq!(last["type"], "alarm.cleared", "{last}");
    assert_eq!(last["data"]["headline"], "Over: TU1 lies still");
    let message = last["data"]["message"].as_str().unwrap();
    assert_eq!(message, "TU1: air stopped is over, since it holds no clutch any more.");
}

/// What is judged is the part that harms: UF/IFAS FA16 (Francis-Floyd & Watson, read) gives 0.0502 of the total at pH 8.0 and
/// 24 °C as its worked example, and calls it harmful from 0.05 mg/L on. 0.45 mg/L of it is 0.0226, over the 0.02 that eggs are given.
#[tokio::test]
async fn ammonia_is_judged_by_ph_and_temperature() {
    let mut play = start("").await;
    let cool = ("V1/temperature", "24.0");
    let hear = async |play: &mut Play, said: &[(&str, &str)]| {
        play.pass_hearing(Span::minutes(3), Span::seconds(30), &[&[cool], said].concat()).await;
    };
    hear(&mut play, &[("V1/ammonia", "0.3"), ("V1/ph", "8.0")]).await;
    assert_eq!(standing(&mut play, "V1.ammonia-high"), None);
    hear(&mut play, &[("V1/ammonia", "0.45")]).await;
    let alarm = standing(&mut play, "V1.ammonia-high").unwrap();
    assert!(
        alarm.text.contains(
            "It has 0.023 mg/L of un-ionised ammonia, 0.02 mg/L is the limit: 0.45 mg/L in all (both as nitrogen), at pH 8.0 and \
             24.0 °C."
        ),
        "{}",
        alarm.text
    );
    // The same ammonia harms less at a lower pH.
    hear(&mut play, &[("V1/ph", "7.0")]).await;
    assert_eq!(standing(&mut play, "V1.ammonia-high"), None);
}

#[tokio::test]
async fn ammonia_without_a_ph_is_judged_by_the_worst_that_may_be() {
    let mut play = start("").await;
    hear(&mut play, 3, &[("V1/ammonia", "0.1")]).await;
    let alarm = standing(&mut play, "V1.ammonia-high").unwrap();
    assert!(alarm.text.contains("at pH 9.0 (taken for the worst, none is measured)"), "{}", alarm.text);
}

#[tokio::test]
async fn messages_that_pile_up_are_an_alarm_and_a_burst_is_none() {
    let mut play = start("").await;
    let queue = async |play: &mut Play, minutes: i64, waiting: usize| {
        for _ in 0..6 * minutes {
            play.room.waiting(waiting, 20_000, play.now, &mut Outcome::default());
            play.pass(Span::seconds(10)).await;
        }
    };
    queue(&mut play, 1, 19_000).await;
    queue(&mut play, 5, 0).await;
    assert_eq!(standing(&mut play, "room.falling-behind"), None);
    queue(&mut play, 3, 15_000).await;
    let alarm = standing(&mut play, "room.falling-behind").unwrap();
    assert!(alarm.text.contains("15000 messages wait."), "{}", alarm.text);
    queue(&mut play, 2, 100).await;
    assert_eq!(standing(&mut play, "room.falling-behind"), None);
}
