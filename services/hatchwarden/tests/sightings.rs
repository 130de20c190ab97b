//! What a keeper saw moves the dates, says so, and can be put right; a restart changes nothing.
#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

mod common;

use common::{Play, begin};
use hatchwarden::room::Wish;
use units::{Grade, Sign, Span, Stage, Time};
use web::keeper::{NewClutch, Record, Trouble};

fn c06(record: Record) -> Wish {
    Wish::Record("C06".parse().unwrap(), record)
}

fn seen(stage: impl Into<Sign>, at: Time, not_before: Option<Time>, already: bool) -> Wish {
    c06(Record::Seen { at, stage: stage.into(), not_before, already })
}

/// Free swimming, likeliest.
fn swims(play: &mut Play) -> Time {
    play.room.view(play.now).clutches[0].free_swimming.unwrap().likeliest
}

/// Everything is as it would be after a restart.
async fn survives(play: &mut Play) {
    let whole = play.shown();
    play.restart().await;
    assert_eq!(play.shown(), whole);
}

#[tokio::test]
async fn each_kind_of_sighting_tells_what_it_can() {
    let mut play = Play::start("V1").await;
    play.water(27.0, 24 * 8).await;
    let likely = play.hatch().likeliest;
    let (early, late) = (likely + Span::hours(14), likely + Span::hours(18));

    play.wish(seen(Stage::Hatch, late, None, true)).await.unwrap();
    let already = play.hatch();
    assert!(
        already.earliest < already.latest && already.latest <= late,
        "past already tells an upper end only"
    );
    survives(&mut play).await;

    play.wish(seen(Stage::Hatch, late, Some(early), false)).await.unwrap();
    let between = play.hatch();
    assert_eq!((between.earliest, between.latest), (early, late));
    assert_eq!(play.room.view(play.now).clutches[0].stage, Stage::Hatch);
    survives(&mut play).await;

    play.wish(seen(Stage::Hatch, early, None, false)).await.unwrap();
    let at = play.hatch();
    assert_eq!([at.earliest, at.likeliest, at.latest], [early; 3]);
    assert_eq!(play.causes()[0], "an entry of the account was corrected");

    play.water(27.0, 24).await;
    let before = swims(&mut play);
    play.wish(seen(Sign::YolkHalfGone, play.now, None, false)).await.unwrap();
    assert!(swims(&mut play) < before, "half of the yolk gone so early brings free swimming nearer");
    assert!(play.causes()[0].starts_with("half of the yolk was seen gone at"), "{}", play.causes()[0]);
    survives(&mut play).await;
}

/// A mother was found holding; nobody knows since when. 84 °C·d at 13 a day is 6.46 days.
#[tokio::test]
async fn a_clutch_of_unknown_age_is_dated_by_the_stage_it_was_found_in() {
    let mut play = Play::start("V1").await;
    play.water(27.0, 24 * 9).await;
    let c07: units::ClutchId = "C07".parse().unwrap();
    let new = NewClutch {
        id: c07.clone(),
        fish: "Pseudocrenilabrus philander".to_owned(),
        species: "generic-mouthbrooder".to_owned(),
        mother: None,
        day0_earliest: begin(),
        day0_latest: Some(play.now - Span::hours(1)),
        day0_grade: Grade::Guess,
        vessel: "V1".parse().unwrap(),
    };
    play.wish(Wish::OpenClutch(new)).await.unwrap();
    let spawned = |play: &mut Play| play.room.clutch_page(&c07, play.now).unwrap().spawned;
    assert_eq!(spawned(&mut play), None, "nothing was seen yet");
    let hatch = Record::Seen {
        at: play.now,
        stage: Stage::Hatch.into(),
        not_before: Some(play.now - Span::hours(6)),
        already: false,
    };
    play.wish(Wish::Record(c07.clone(), hatch)).await.unwrap();
    let found = spawned(&mut play).unwrap();
    let middle = play.now - Span::hours(3) - Span::from_days(84.0 / 13.0);
    assert!((found.likeliest - middle).abs() < Span::hours(6), "{found:?}, not {middle}");
    let width = found.latest - found.earliest;
    assert!(width > Span::hours(18) && width < Span::days(3), "{found:?}");
    survives(&mut play).await;
}

#[tokio::test]
async fn a_sighting_that_was_a_mistake_is_withdrawn() {
    let mut play = Play::start("V1").await;
    play.water(27.0, 24 * 7).await;
    let before = play.hatch();
    play.wish(seen(Stage::Hatch, play.now - Span::hours(40), None, false)).await.unwrap();
    let page = play.room.clutch_page(&"C06".parse().unwrap(), play.now).unwrap();
    let entry = page.events.iter().find(|e| e.text.starts_with("seen")).unwrap().entry;
    play.wish(c06(Record::Withdraw { entry })).await.unwrap();
    assert_eq!(play.hatch(), before);
    let page = play.room.clutch_page(&"C06".parse().unwrap(), play.now).unwrap();
    assert!(page.events.iter().any(|e| e.entry == entry && !e.stands), "it stays, and does not count");
    assert_eq!(play.causes()[0], "an entry of the account was corrected");
    survives(&mut play).await;
    match play.wish(c06(Record::Withdraw { entry })).await {
        Err(Trouble::Refused { field, .. }) => assert_eq!(field, "entry"),
        other => panic!("{other:?}"),
    }
}

#[tokio::test]
async fn day_0_is_corrected_into_the_past_with_the_water_of_then() {
    let mut play = Play::start("V1").await;
    // The clutch is opened at the beginning; the water before it was read as well.
    play.water(27.0, 24).await;
    play.open("C20", "generic-mouthbrooder").await.unwrap();
    play.water(26.0, 24).await;
    let record = Record::Day0 { earliest: begin(), latest: None, grade: Grade::Seen };
    play.wish(Wish::Record("C20".parse().unwrap(), record)).await.unwrap();
    let clutch = |play: &mut Play, id: &str| {
        play.room.view(play.now).clutches.iter().find(|c| c.id.as_str() == id).cloned().unwrap()
    };
    let (c06, c20) = (clutch(&mut play, "C06"), clutch(&mut play, "C20"));
    assert_eq!(c06.hatch, c20.hatch, "the same spawning in the same water");
    let page = play.room.clutch_page(&"C20".parse().unwrap(), play.now).unwrap();
    assert_eq!(page.shifts[0].cause, "day 0 corrected");
    survives(&mut play).await;
}

/// An entry and a reading in one batch: the entry is what moved the date.
#[tokio::test]
async fn an_entry_keeps_its_cause_when_a_reading_comes_with_it() {
    let mut play = Play::start("V1").await;
    play.water(27.0, 24 * 8).await;
    let at = play.hatch().likeliest + Span::hours(20);
    play.wish_with_reading(seen(Stage::Hatch, at, None, false), 27.0).await.unwrap();
    assert!(play.causes()[0].starts_with("hatch was seen at"), "{}", play.causes()[0]);
}
