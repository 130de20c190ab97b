//! Clutches that were seen to reach a stage teach the entry of the others; a restart changes nothing.
#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

mod common;

use common::{Play, begin};
use hatchwarden::room::Wish;
use units::{Span, Stage, Time};
use web::keeper::Record;
use web::view::ClutchPage;

fn page(play: &mut Play, id: &str) -> ClutchPage {
    play.room.clutch_page(&id.parse().unwrap(), play.now).unwrap()
}

fn required(play: &mut Play, id: &str) -> f64 {
    page(play, id).clutch.hatch.unwrap().required
}

fn watched(id: &str, at: Time) -> Wish {
    Wish::Record(id.parse().unwrap(), Record::watched(Stage::Hatch, at))
}

/// 27 °C, and C06 seen to hatch 15 % later than its entry says; C20 was spawned two days after it.
async fn slow_room() -> (Play, f64) {
    let mut play = Play::start("V1").await;
    play.water(27.0, 48).await;
    play.open("C20", "generic-mouthbrooder").await.unwrap();
    play.water(27.0, 24 * 7).await;
    let entry = required(&mut play, "C20");
    let late = begin() + Span::from_days(1.15 * entry / 13.0);
    play.wish(watched("C06", late)).await.unwrap();
    (play, entry)
}

#[tokio::test]
async fn a_slow_clutch_makes_the_next_one_expected_later_and_says_so() {
    let (mut play, entry) = slow_room().await;
    let taught = required(&mut play, "C20");
    assert!(
        taught > 1.03 * entry && taught < 1.15 * entry,
        "{entry} {taught}: part of it is the clutch's own"
    );
    let c20 = page(&mut play, "C20");
    assert_eq!(c20.shifts[0].cause, "learnt from other clutches of this room");
    assert_eq!((c20.learnt[0].clutches, c20.learnt[0].stage), (1, Stage::Hatch));
    assert!(
        c20.learnt[0]
            .words
            .starts_with("after 1 clutch your Mouthbrooder without figures of its own hatch at"),
        "{}",
        c20.learnt[0].words
    );
    assert!(c20.figures.iter().any(|f| f.name == "hatch, learnt" && f.how == "observed"));
    assert!(page(&mut play, "C06").learnt.is_empty(), "no clutch teaches itself");
    let views = play.room.species_views();
    assert_eq!(views.iter().find(|v| v.key == "generic-mouthbrooder").unwrap().learnt.len(), 1);

    play.open("C21", "generic-mouthbrooder").await.unwrap();
    play.water(27.0, 1).await;
    assert!(
        (required(&mut play, "C21") / taught - 1.0).abs() < 1e-6,
        "a new clutch begins with what was learnt"
    );
    play.open("C22", "tilapia").await.unwrap();
    assert!(page(&mut play, "C22").learnt.is_empty(), "another entry learns nothing from it");

    let whole = play.shown();
    play.restart().await;
    assert_eq!(play.shown(), whole);
    assert!((required(&mut play, "C20") / taught - 1.0).abs() < 1e-6);
}

#[tokio::test]
async fn what_was_learnt_from_a_mistake_is_forgotten_with_it() {
    let (mut play, entry) = slow_room().await;
    let entry_id = page(&mut play, "C06")
        .events
        .iter()
        .find(|e| e.withdrawable && e.text.starts_with("seen"))
        .unwrap()
        .entry;
    play.wish(Wish::Record("C06".parse().unwrap(), Record::Withdraw { entry: entry_id })).await.unwrap();
    assert!((required(&mut play, "C20") - entry).abs() < 1e-6);
    assert!(page(&mut play, "C20").learnt.is_empty());
    play.restart().await;
    assert!((required(&mut play, "C20") - entry).abs() < 1e-6);
}

#[tokio::test]
async fn a_room_that_is_told_not_to_learn_does_not() {
    let mut play = Play::start_with("V1", "[species]\nlearn = false\n").await;
    play.water(27.0, 48).await;
    play.open("C20", "generic-mouthbrooder").await.unwrap();
    play.water(27.0, 24 * 7).await;
    let entry = required(&mut play, "C20");
    play.wish(watched("C06", begin() + Span::from_days(1.15 * entry / 13.0))).await.unwrap();
    assert_eq!(required(&mut play, "C20"), entry);
    assert!(page(&mut play, "C20").learnt.is_empty());
}
