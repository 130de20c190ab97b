//! An alarm that is shelved calls nobody until that ends; one that nobody takes on calls again.
#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

mod common;

use common::Play;
use hatchwarden::room::Wish;
use store::AlarmRow;
use units::{Span, Time};
use web::keeper::{Shelving, Trouble};

const COLD: &str = "V1.too-cold";

fn shelve(minutes: u32, why: &str) -> Wish {
    Wish::Shelve(COLD.to_owned(), Shelving { minutes, why: why.to_owned() })
}

/// The state of the alarm, if it is in sight. (The probe's own silence, until its rhythm is known, is in sight too.)
fn state(play: &mut Play) -> Option<String> {
    let alarms = play.room.view(play.now).alarms;
    alarms.into_iter().find(|a| a.id == COLD).map(|a| a.state)
}

/// The alarm's log since a time, oldest first.
fn log(play: &Play, from: Time) -> Vec<AlarmRow> {
    let all = play.store.reader().unwrap().alarm_log_between(from, play.now).unwrap();
    all.into_iter().filter(|row| row.key == COLD).collect()
}

fn moves(rows: &[AlarmRow]) -> Vec<(&str, &str)> {
    rows.iter().map(|r| (r.from.as_str(), r.to.as_str())).collect()
}

#[tokio::test]
async fn a_shelved_alarm_is_judged_and_calls_nobody_until_its_end() {
    let mut play = Play::start("V1").await;
    play.water(27.0, 1).await;
    play.water(25.0, 1).await;
    assert_eq!(state(&mut play).unwrap(), "unacknowledged");
    let begun = play.now;
    play.wish(shelve(60, "new heater is being set up")).await.unwrap();
    assert_eq!(state(&mut play), None);
    let view = play.room.view(play.now);
    let [shelved] = &view.shelved[..] else { panic!("{:#?}", view.shelved) };
    assert!(shelved.standing && shelved.until == Some(begun + Span::hours(1)), "{shelved:?}");
    assert!(shelved.text.starts_with("V1: too cold is shelved by keeper until"), "{}", shelved.text);
    assert!(shelved.text.contains("(new heater is being set up)"), "{}", shelved.text);
    let whole = play.shown();
    play.restart().await;
    assert_eq!(play.shown(), whole, "a restart equals no restart");

    // It goes and comes beneath, which is kept; at the end it calls as a fresh one.
    play.water(27.0, 1).await;
    assert_eq!(state(&mut play), None, "nothing was wrong when it ended");
    play.water(25.0, 1).await;
    let rows = log(&play, begun);
    let heard: Vec<_> =
        moves(&rows).into_iter().skip_while(|m| *m != ("unacknowledged", "shelved")).collect();
    assert_eq!(
        heard[..4],
        [
            ("unacknowledged", "shelved"),
            ("unacknowledged", "returned unacknowledged"),
            ("shelved", "normal"),
            ("normal", "unacknowledged"),
        ]
    );
}

#[tokio::test]
async fn what_still_stands_at_the_end_calls_and_can_be_let_out_before() {
    let mut play = Play::start("V1").await;
    play.water(27.0, 1).await;
    play.wish(shelve(120, "water change")).await.unwrap();
    play.water(25.0, 1).await;
    assert_eq!(state(&mut play), None);
    play.wish(Wish::Unshelve(COLD.to_owned())).await.unwrap();
    assert_eq!(state(&mut play).unwrap(), "unacknowledged");
    assert!(play.room.view(play.now).shelved.is_empty());
    assert!(matches!(play.wish(Wish::Unshelve(COLD.to_owned())).await, Err(Trouble::Refused { .. })));
    play.wish(shelve(20, "water change")).await.unwrap();
    play.water(25.0, 1).await;
    assert_eq!(state(&mut play).unwrap(), "unacknowledged", "its time was over");
}

#[tokio::test]
async fn shelving_that_cannot_be_is_refused_with_its_field() {
    let mut play = Play::start("V1").await;
    play.water(27.0, 1).await;
    for (wish, field, words) in [
        (shelve(0, "x"), "minutes", "later"),
        (shelve(600, "x"), "minutes", "8 h"),
        (shelve(10, "  "), "why", "why"),
    ] {
        match play.wish(wish).await {
            Err(Trouble::Refused { field: named, reason }) => {
                assert!(named == field && reason.contains(words), "{named}: {reason}");
            }
            other => panic!("{field}: {other:?}"),
        }
    }
    let nowhere = Wish::Shelve("V9.too-cold".to_owned(), Shelving { minutes: 5, why: "x".to_owned() });
    assert!(matches!(play.wish(nowhere).await, Err(Trouble::NotFound(_))));
}

/// Water calls again every quarter of an hour (a planning value) until somebody takes it on.
#[tokio::test]
async fn what_nobody_takes_on_calls_again() {
    let mut play = Play::start("V1").await;
    play.water(27.0, 1).await;
    let begun = play.now;
    play.water(25.0, 2).await;
    let again = |rows: &[AlarmRow]| rows.iter().filter(|r| r.from == r.to).count();
    let rows = log(&play, begun);
    assert!((4..=7).contains(&again(&rows)), "{:#?}", moves(&rows));
    assert!(
        rows[1].text.starts_with("Nobody has taken this on yet. V1 is too cold since"),
        "{}",
        rows[1].text
    );
    play.wish(Wish::Acknowledge(COLD.to_owned())).await.unwrap();
    let taken = play.now;
    play.water(25.0, 2).await;
    assert_eq!(again(&log(&play, taken + Span::seconds(1))), 0);
}
