//! Who is called, when, by which way, and with which words; how a call is answered.
#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

mod common;

use common::Play;
use hatchwarden::room::{Outcome, Wish};
use serde_json::Value;
use std::collections::BTreeMap;
use units::{Span, Time};
use web::keeper::{Record, Trouble};

const PEOPLE: &str = r#"
[mail]
host = "smtp.example.org"
from = "hatchwarden@example.org"

[[webhook]]
name = "program"
url = "https://example.org/alarms"
secret_file = "secret.txt"

[[webhook]]
name = "phone"
url = "https://example.org/phone"
template = "{{ data.headline }}"

[[call]]
person = "Ada"
webhook = "phone"

[[call]]
person = "Ben"
mail = "ben@example.org"
priority = 2
after_min = 10

[[call]]
person = "Cleo"
mail = "cleo@example.org"
hours = "06:00-22:00"

[[siren]]
topic = "cellar/siren"
on = "SOUND"

[drill]
every_days = 0
"#;

/// C06 lies in TU1, freshly stripped, and everything is heard; the page has an address for links.
async fn start() -> Play {
    start_with(PEOPLE).await
}

async fn start_with(more: &str) -> Play {
    let mut play = Play::start_with("V1", more).await;
    play.room.set_link_secret("a secret of the room".to_owned(), &mut Outcome::default());
    let strip = Record::Strip { at: play.now, vessel: "TU1".parse().unwrap(), alive: 44, dead: 0 };
    play.wish(Wish::Record("C06".parse().unwrap(), strip)).await.unwrap();
    play.pass_hearing(Span::minutes(5), Span::seconds(30), &WELL).await;
    play
}

const WELL: [(&str, &str); 2] = [("V1/temperature", "27.0"), ("TU1/air-flow", "0.8")];
const STILL: [(&str, &str); 2] = [("V1/temperature", "27.0"), ("TU1/air-flow", "0.0")];

/// Messages in the outbox since a time, in order, by way.
fn sent(play: &Play, since: Time) -> Vec<(Time, String, Value)> {
    let mut rows = play.store.reader().unwrap().outbox_pending().unwrap();
    rows.retain(|item| item.row.created >= since);
    rows.sort_by_key(|item| item.row.created);
    rows.into_iter()
        .map(|item| (item.row.created, item.row.way, serde_json::from_str(&item.row.body).unwrap()))
        .collect()
}

fn headlines(play: &Play, since: Time, way: &str) -> Vec<String> {
    let all = sent(play, since).into_iter().filter(|(_, w, _)| w == way);
    all.map(|(_, _, body)| body["data"]["headline"].as_str().unwrap().to_owned()).collect()
}

#[tokio::test]
async fn the_first_is_called_at_once_the_next_when_nobody_answers_and_all_of_them_are_told_the_end() {
    let mut play = start().await;
    let begun = play.now;
    play.pass_hearing(Span::minutes(1), Span::seconds(10), &STILL).await;
    let at = begun + Span::seconds(20);
    let first: BTreeMap<String, Time> = sent(&play, begun).into_iter().map(|(t, way, _)| (way, t)).collect();
    assert_eq!(first.keys().collect::<Vec<_>>(), ["mail:cleo@example.org", "phone", "program"]);
    assert!(first.values().all(|t| *t == at), "{first:?}");
    let message = sent(&play, begun)[0].2["data"]["message"].as_str().unwrap().to_owned();
    assert!(message.contains("TU1 lies still since 12:05."), "{message}");
    assert!(message.contains("In it: C06, 44 eggs of Pseudocrenilabrus philander."), "{message}");
    assert!(message.contains("Act by 14:05 (2 h 00 min)") && message.contains("\nFirst: "), "{message}");

    // Nobody answers: it calls again every five minutes, and after ten the next person is called too.
    play.pass_hearing(Span::minutes(12), Span::seconds(10), &STILL).await;
    let ben = sent(&play, begun).into_iter().find(|(_, way, _)| way == "mail:ben@example.org").unwrap();
    assert_eq!(ben.0, at + Span::minutes(10));
    assert!(ben.2["data"]["headline"].as_str().unwrap().starts_with("Nobody has answered: TU1 lies still"));
    let ada = headlines(&play, begun, "phone");
    assert_eq!(ada.len(), 3, "{ada:?}");
    assert!(ada[1].starts_with("Again: TU1 lies still, act by"), "{ada:?}");

    // Somebody answers: all who were told are told that, and nobody is called again.
    let answered = play.now;
    play.wish(Wish::Acknowledge("TU1.air-stopped".to_owned())).await.unwrap();
    play.pass_hearing(Span::minutes(30), Span::seconds(10), &STILL).await;
    for way in ["phone", "mail:ben@example.org", "mail:cleo@example.org"] {
        assert_eq!(headlines(&play, answered, way), ["Taken on: TU1 lies still"], "{way}");
    }
    let back = play.now;
    play.pass_hearing(Span::minutes(3), Span::seconds(10), &WELL).await;
    for way in ["phone", "mail:ben@example.org", "mail:cleo@example.org"] {
        assert_eq!(headlines(&play, back, way), ["Over: TU1 lies still"], "{way}");
    }
    // Later messages hang on the first, so that a mail program shows them together.
    let cleo: Vec<Value> =
        sent(&play, begun).into_iter().filter(|s| s.1 == "mail:cleo@example.org").map(|s| s.2).collect();
    assert!(cleo[0]["data"]["thread"].is_null() && cleo[1]["data"]["thread"].is_string(), "{cleo:#?}");
    assert!(cleo.iter().skip(1).all(|m| m["data"]["thread"] == cleo[1]["data"]["thread"]));
}

#[tokio::test]
async fn who_is_called_only_by_day_is_called_when_the_day_begins() {
    let mut play = start().await;
    play.pass_hearing(Span::hours(11), Span::seconds(150), &WELL).await; // 23:05 in Lisbon
    let begun = play.now;
    play.pass_hearing(Span::hours(8), Span::seconds(60), &STILL).await;
    let cleo: Vec<Time> =
        sent(&play, begun).into_iter().filter(|s| s.1 == "mail:cleo@example.org").map(|s| s.0).collect();
    assert_eq!(cleo[0], Time::parse_rfc3339("2026-11-21T06:00:00Z").unwrap());
    assert!(headlines(&play, begun, "phone").len() > 50, "Ada was called all night");
}

/// Two tanks drift and three tumblers stop within half a minute: one message that lists, after the first.
#[tokio::test]
async fn a_bad_minute_is_one_message_that_lists() {
    let mut play = start().await;
    let begun = play.now;
    let cold = [("V1/temperature", "24.0"), ("V2/temperature", "24.0"), ("TU1/air-flow", "0.8")];
    play.pass_hearing(Span::minutes(2), Span::seconds(10), &cold).await;
    let worse = [("V1/temperature", "24.0"), ("V2/temperature", "24.0"), ("TU1/air-flow", "0.0")];
    play.pass_hearing(Span::minutes(4), Span::seconds(10), &worse).await;
    let phone = headlines(&play, begun, "phone");
    assert_eq!(phone.len(), 2, "{phone:?}");
    assert!(phone[0].ends_with("is too cold; and 1 more"), "{phone:?}");
    assert!(phone[1].starts_with("TU1 lies still, act by"), "what is more urgent does not wait: {phone:?}");
    let program = sent(&play, begun).into_iter().filter(|(_, way, _)| way == "program").count();
    assert_eq!(program, 3, "a program gets each change on its own");
}

#[tokio::test]
async fn a_link_takes_its_alarm_on_once_and_only_while_it_is_the_same() {
    let mut play = with_address(start().await).await;
    play.pass_hearing(Span::minutes(1), Span::seconds(10), &STILL).await;
    let all = sent(&play, play.now - Span::minutes(1));
    let links: BTreeMap<String, String> = all
        .iter()
        .filter_map(|(_, way, body)| Some((way.clone(), body["data"]["link"].as_str()?.to_owned())))
        .collect();
    let link = &links["phone"];
    let token = link.strip_prefix("https://undercroft.example.org/on-it/").unwrap().to_owned();
    assert!(all.iter().any(|(_, _, b)| b["data"]["message"].as_str().unwrap().contains(&token)));
    assert_ne!(links["phone"], links["mail:cleo@example.org"], "each person has their own");

    let looked = play.room.link_view(&token, play.now).unwrap();
    assert_eq!((looked.person.as_str(), looked.alarm.id.as_str()), ("Ada", "TU1.air-stopped"));
    assert_eq!(looked.alarm.state, "unacknowledged", "looking takes nothing on");
    play.wish(Wish::UseLink(token.clone())).await.unwrap();
    let (by, _) = play.room.link_view(&token, play.now).unwrap().alarm.acknowledged.unwrap();
    assert_eq!(by, "Ada, by link");
    let again = play.wish(Wish::UseLink(token.clone())).await.unwrap_err();
    assert!(again.to_string().contains("has done its work"), "{again}");

    // The air comes back and stops again: the old link is worth nothing for the new alarm.
    play.pass_hearing(Span::minutes(3), Span::seconds(10), &WELL).await;
    play.pass_hearing(Span::minutes(1), Span::seconds(10), &STILL).await;
    let over = play.wish(Wish::UseLink(token)).await.unwrap_err();
    assert!(matches!(over, Trouble::NotFound(_)), "{over}");
    for guess in ["", "AAAAAAAAAAAAAAAAAAAAAA"] {
        assert!(play.wish(Wish::UseLink(guess.to_owned())).await.is_err());
    }
}

/// The same room, whose page has an address.
async fn with_address(mut play: Play) -> Play {
    let config = hatchwarden::config::read(
        &format!(
            "{}\n{PEOPLE}",
            include_str!("../../../config/room.toml").replace(
                "listen = \"127.0.0.1:4871\"",
                "listen = \"127.0.0.1:4871\"\naddress = \"https://undercroft.example.org/\""
            )
        ),
        "room.toml",
        std::path::Path::new(""),
    )
    .unwrap();
    let setup = hatchwarden::room::Setup::new(&config, development::SpeciesTable::shipped()).unwrap();
    play.setup = std::sync::Arc::new(setup);
    play.restart().await;
    play.room.set_link_secret("a secret of the room".to_owned(), &mut Outcome::default());
    play
}

#[tokio::test]
async fn a_button_on_mqtt_takes_on_what_stands_at_a_vessel() {
    let mut play = start().await;
    play.pass_hearing(Span::minutes(1), Span::seconds(10), &STILL).await;
    play.hear("acknowledge/TU1", "Ben").await;
    let alarms = play.room.view(play.now).alarms;
    let taken = alarms.iter().find(|a| a.id == "TU1.air-stopped").unwrap();
    assert_eq!(taken.acknowledged.as_ref().unwrap().0, "Ben");
    play.hear("acknowledge/TU9", "Ben").await;
    let refused = play.room.view(play.now).refusals;
    assert!(refused.iter().any(|r| r.place.ends_with("acknowledge/TU9")), "{refused:#?}");
}

#[tokio::test]
async fn what_does_not_arrive_is_told_by_the_ways_that_are_left() {
    let mut play = start().await;
    let begun = play.now;
    let failing = BTreeMap::from([("phone".to_owned(), "example.org answers 503".to_owned())]);
    let mut out = Outcome::default();
    play.room.cannot_deliver(failing, play.now, &mut out);
    common::settle(&mut play.room, &play.store, play.now, out).await;
    let told: Vec<String> = sent(&play, begun).into_iter().map(|(_, way, _)| way).collect();
    assert!(
        told.contains(&"mail:cleo@example.org".to_owned()) && !told.contains(&"phone".to_owned()),
        "{told:?}"
    );
    let alarms = play.room.view(play.now).alarms;
    assert!(alarms[0].text.contains("phone: example.org answers 503"), "{}", alarms[0].text);
    let mut out = Outcome::default();
    play.room.cannot_deliver(BTreeMap::new(), play.now, &mut out);
    common::settle(&mut play.room, &play.store, play.now, out).await;
    assert!(play.room.view(play.now).alarms.iter().all(|a| !a.standing));
}

#[tokio::test]
async fn a_siren_sounds_until_somebody_is_on_it() {
    let mut play = start().await;
    let word = |play: &Play| play.room.siren_words()[0].text.clone();
    assert_eq!(word(&play), "off");
    play.pass_hearing(Span::minutes(1), Span::seconds(10), &STILL).await;
    assert_eq!(word(&play), "SOUND");
    play.hear("acknowledge/TU1", "").await;
    assert_eq!(word(&play), "off");
}

#[tokio::test]
async fn who_was_told_survives_a_restart() {
    let mut play = start().await;
    play.pass_hearing(Span::minutes(5), Span::seconds(10), &STILL).await;
    play.restart().await;
    let begun = play.now;
    play.pass_hearing(Span::minutes(10), Span::seconds(10), &STILL).await;
    assert_eq!(headlines(&play, begun, "mail:ben@example.org").len(), 1, "the next person, at the same time");
    let ada = headlines(&play, begun, "phone");
    assert!(ada.iter().all(|h| h.starts_with("Again")), "{ada:?}");
}

#[tokio::test]
async fn a_drill_goes_through_the_chain_and_is_written_down() {
    let more = PEOPLE.replace("every_days = 0", "every_days = 7\nat = \"18:00\"");
    let mut play = start_with(&more).await;
    play.room.begin_drills(play.now);
    let drills = |play: &Play| play.room.calls_view().drills;
    assert_eq!(play.room.calls_view().next_drill, Some(Time::parse_rfc3339("2026-11-27T18:00:00Z").unwrap()));
    let begun = play.now;
    play.pass_hearing(Span::days(7) + Span::hours(6), Span::seconds(600), &WELL).await;
    assert_eq!(drills(&play).len(), 1);
    let phone = headlines(&play, begun, "phone");
    assert!(phone.iter().any(|h| h.starts_with("This is a drill")), "{phone:?}");
    play.wish(Wish::Acknowledge("room.drill".to_owned())).await.unwrap();
    play.pass(Span::minutes(2)).await;
    let drill = drills(&play).remove(0);
    assert_eq!(drill.answered.unwrap().0, "keeper");
    assert!(play.room.view(play.now).alarms.iter().all(|a| a.id != "room.drill" || !a.standing));
    // A week later nobody answers: after an hour that is written down too.
    play.pass_hearing(Span::days(7) + Span::hours(2), Span::seconds(600), &WELL).await;
    assert_eq!(drills(&play).len(), 2);
    assert!(drills(&play)[0].answered.is_none());
    assert!(play.room.view(play.now).alarms.iter().all(|a| a.id != "room.drill" || !a.standing));
}

#[tokio::test]
async fn one_way_can_be_tried_at_once() {
    let mut play = start().await;
    let begun = play.now;
    play.wish(Wish::TryCall("Ben by mail:ben@example.org".to_owned())).await.unwrap();
    let [(_, way, body)] = &sent(&play, begun)[..] else { panic!() };
    assert_eq!((way.as_str(), body["type"].as_str()), ("mail:ben@example.org", Some("call.tried")));
    assert!(body["data"]["message"].as_str().unwrap().contains("Nothing is wrong"));
    assert_eq!(play.room.calls_view().tries[0].by, "keeper");
    let unknown = play.wish(Wish::TryCall("Dora".to_owned())).await.unwrap_err();
    assert!(unknown.to_string().contains("Ben by mail:ben@example.org"), "{unknown}");
}

/// Eggs before eyes are given two hours, and silence waits four fifths of that: a device that is out of reach for some
/// minutes wakes nobody while another one shows that there is power. Programs are told at once.
#[tokio::test]
async fn a_silent_device_wakes_nobody_for_a_while_if_another_is_heard() {
    let mut play = start().await;
    let begun = play.now;
    play.pass_hearing(Span::minutes(20), Span::seconds(30), &WELL[..1]).await;
    assert!(!headlines(&play, begun, "program").is_empty());
    assert_eq!(headlines(&play, begun, "phone"), [""; 0]);
    // It is heard again: nobody was called, and so nobody is told.
    play.pass_hearing(Span::minutes(5), Span::seconds(30), &WELL).await;
    assert_eq!(headlines(&play, begun, "phone"), [""; 0]);

    let gone = play.now;
    play.pass_hearing(Span::minutes(90), Span::seconds(30), &WELL[..1]).await;
    play.restart().await;
    assert_eq!(headlines(&play, gone, "phone"), [""; 0]);
    play.pass_hearing(Span::minutes(10), Span::seconds(30), &WELL[..1]).await;
    // Both are called in the same moment: nobody has failed to answer.
    for way in ["phone", "mail:cleo@example.org"] {
        assert_eq!(headlines(&play, gone, way), ["The air-flow probe of TU1 is silent"], "{way}");
    }
}

#[tokio::test]
async fn who_waits_for_a_device_is_called_when_the_others_fall_silent_too() {
    let mut play = start().await;
    let begun = play.now;
    play.pass_hearing(Span::minutes(30), Span::seconds(30), &WELL[..1]).await;
    assert_eq!(headlines(&play, begun, "phone"), [""; 0]);
    play.pass(Span::minutes(5)).await;
    let phone = headlines(&play, begun, "phone");
    assert_eq!(phone, ["The thermometer of V1 is silent; and 1 more"]);
}

/// All fall silent, and one comes back: that the room is heard again is not true of the other.
#[tokio::test]
async fn who_does_not_come_back_with_the_others_is_called_for_at_once() {
    let mut play = start().await;
    let begun = play.now;
    play.pass(Span::minutes(30)).await;
    assert_eq!(headlines(&play, begun, "phone"), ["Several devices are silent"]);
    let back = play.now;
    play.pass_hearing(Span::minutes(8), Span::seconds(30), &WELL[..1]).await;
    let phone = headlines(&play, back, "phone").join("; ");
    assert!(phone.contains("TU1 is silent"), "{phone}");
}

#[tokio::test]
async fn when_all_are_silent_somebody_is_called_at_once() {
    let mut play = start().await;
    let begun = play.now;
    play.pass(Span::minutes(5)).await;
    let phone = headlines(&play, begun, "phone");
    assert_eq!(phone, ["Several devices are silent"], "{phone:?}");
}
