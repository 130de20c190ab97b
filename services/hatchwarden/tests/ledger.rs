//! The account through the room: groups, tanks, mothers and what a restart keeps of them.
#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

mod common;

use common::Play;
use hatchwarden::room::Wish;
use ledger::*;
use units::{ClutchId, Span, Time, VesselId};
use web::keeper::Trouble;

fn id(name: &str) -> ClutchId {
    name.parse().unwrap()
}

fn v(name: &str) -> VesselId {
    name.parse().unwrap()
}

async fn enter(play: &mut Play, event: Event) -> Result<(), Trouble> {
    play.wish(Wish::Enter(Box::new(event))).await
}

fn taken(clutch: &str, at: Time, vessel: &str, alive: u32) -> Event {
    let (stages, how) = (Vec::new(), Way::Stripped);
    Event::Taken { clutch: id(clutch), at, vessel: v(vessel), alive, dead: 0, how, stages, about: None }
}

fn moved(clutch: &str, at: Time, vessel: &str) -> Event {
    Event::Moved { clutch: id(clutch), at, vessel: v(vessel), from: None, counted: None }
}

/// C06 and C07, 33 and 9, together in V2 as M1.
async fn merged() -> Play {
    let mut play = Play::start("V1").await;
    play.open("C07", "generic-mouthbrooder").await.unwrap();
    play.water(27.0, 48).await;
    let now = play.now;
    for event in [
        taken("C06", now - Span::hours(2), "TU1", 33),
        taken("C07", now - Span::hours(2), "TU2", 9),
        moved("C06", now - Span::hours(1), "V2"),
        moved("C07", now - Span::hours(1), "V2"),
        Event::Merged(Merge {
            clutch: id("M1"),
            at: now,
            vessel: v("V2"),
            members: vec![id("C06"), id("C07")],
        }),
    ] {
        enter(&mut play, event).await.unwrap();
    }
    play
}

fn in_hand(play: &mut Play) -> Vec<(String, u32)> {
    play.room.view(play.now).clutches.iter().map(|c| (c.id.to_string(), c.count)).collect()
}

#[tokio::test]
async fn a_group_stands_for_its_members_and_a_restart_keeps_it() {
    let mut play = merged().await;
    assert_eq!(in_hand(&mut play), [("M1".to_owned(), 42)]);
    let tanks = serde_json::to_value(play.room.tanks_page(play.now)).unwrap();
    let c06 = play.room.clutch_page(&id("C06"), play.now).unwrap();
    assert_eq!((c06.account.statement.given, c06.account.ended), (33, Some(play.now)));
    assert!(c06.clutch.hatch.is_none(), "its dates are those of the group now");
    let m1 = play.room.clutch_page(&id("M1"), play.now).unwrap();
    assert!(m1.clutch.hatch.is_some() && m1.account.members.len() == 2);
    play.restart().await;
    assert_eq!(in_hand(&mut play), [("M1".to_owned(), 42)]);
    assert_eq!(serde_json::to_value(play.room.tanks_page(play.now)).unwrap(), tanks);
    let again = play.room.clutch_page(&id("M1"), play.now).unwrap();
    assert_eq!(serde_json::to_value(&again).unwrap(), serde_json::to_value(&m1).unwrap());
}

#[tokio::test]
async fn a_group_that_was_a_mistake_gives_its_members_back() {
    let mut play = merged().await;
    let entry = play.room.entries(None, 1)[0].entry;
    let at = play.now;
    enter(&mut play, Event::Withdrawn { clutch: None, at, entry }).await.unwrap();
    let mut all = in_hand(&mut play);
    all.sort();
    assert_eq!(all, [("C06".to_owned(), 33), ("C07".to_owned(), 9)]);
    let c06 = play.room.clutch_page(&id("C06"), play.now).unwrap();
    assert!(c06.clutch.hatch.is_some(), "and their dates with them");
}

#[tokio::test]
async fn a_vessel_and_its_neighbours_show_what_lives_in_them() {
    let mut play = merged().await;
    let now = play.now;
    let half =
        Split { clutch: id("M1"), at: now, from: None, vessel: v("V1"), count: 20, reason: String::new() };
    enter(&mut play, Event::Split(half)).await.unwrap();
    let page = play.room.vessel_page(&v("V1"), play.now).unwrap();
    assert_eq!(
        page.row.living.iter().map(|l| (l.clutch.as_str(), l.count)).collect::<Vec<_>>(),
        [("M1", Some(20))]
    );
    assert_eq!(play.room.vessel_page(&v("V2"), play.now).unwrap().row.living[0].count, Some(22));
    assert!(play.room.vessel_page(&v("X9"), play.now).is_none());
    let fed = |by: &str, minutes| {
        (
            by.to_owned(),
            Event::Fed(Feed { vessel: v("V1"), at: now - Span::minutes(minutes), food: "powder".to_owned() }),
        )
    };
    for (by, event) in [fed("Ada", 40), fed("Bo", 10)] {
        let mut out = hatchwarden::room::Outcome::default();
        play.room.wish(Wish::Enter(Box::new(event)), &by, now, &mut out).unwrap();
        common::settle(&mut play.room, &play.store, now, out).await;
    }
    let page = play.room.vessel_page(&v("V1"), play.now).unwrap();
    assert_eq!((page.fed_twice[0].0.by.as_str(), page.fed_twice[0].1.by.as_str()), ("Ada", "Bo"));
    assert_eq!(page.care.len(), 2);
}

#[tokio::test]
async fn what_cannot_be_is_refused_and_nothing_is_kept() {
    let mut play = merged().await;
    let (now, before) = (play.now, play.room.entries(None, 1000).len());
    let loss =
        |at, count| Event::Lost { clutch: id("M1"), at, count, reason: "white".to_owned(), from: None };
    let cases = [
        (loss(now + Span::hours(1), 1), "at"),
        (loss(now, 43), "count"),
        (moved("M1", now, "X9"), "vessel"),
        (moved("C99", now, "V1"), "clutch"),
        (taken("M1", now, "TU1", 5), "what"),
        (
            Event::Culled(Cull { clutch: id("M1"), at: now, from: None, count: 1, reason: "x".repeat(9000) }),
            "event",
        ),
    ];
    for (event, wrong) in cases {
        let words = format!("{event:?}");
        match enter(&mut play, event).await {
            Err(Trouble::Refused { field, .. }) => assert_eq!(field, wrong, "{words}"),
            other => panic!("{words}: {other:?}"),
        }
    }
    assert_eq!(play.room.entries(None, 1000).len(), before);
}

#[tokio::test]
async fn a_clutch_of_which_none_are_left_waits_for_nothing_more() {
    let mut play = merged().await;
    let now = play.now;
    let all = Event::Lost { clutch: id("M1"), at: now, count: 42, reason: "air stop".to_owned(), from: None };
    enter(&mut play, all).await.unwrap();
    assert!(in_hand(&mut play).is_empty());
    let left = play.room.view(now).work;
    assert!(left.iter().all(|t| t.task == "mother-rest"), "her rest alone: {left:?}");
    let entry = play.room.entries(None, 1)[0].entry;
    enter(&mut play, Event::Withdrawn { clutch: Some(id("M1")), at: now, entry }).await.unwrap();
    assert_eq!(in_hand(&mut play), [("M1".to_owned(), 42)]);
}
