//! Other water for a clutch, asked of the whole service in a box.
#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

use hatchwarden::boxed::Boxed;
use hatchwarden::config::{Config, read};
use std::path::Path;
use units::{ClutchId, Grade, Span, Stage, Time};
use web::keeper::{Keeper, NewClutch, Record, Trouble};
use web::whatif::{Change, Foreseen, OtherWater};

fn begin() -> Time {
    Time::parse_rfc3339("2026-11-20T12:00:00Z").unwrap()
}

fn c11() -> ClutchId {
    "C11".parse().unwrap()
}

/// A clutch in V1 whose water is read every ten minutes for so many hours at 26 °C.
async fn room(folder: &Path, hours: i64) -> Boxed {
    let text = include_str!("../../../config/room.toml");
    let config = Config { store: folder.join("room.db"), ..read(text, "room.toml", Path::new("")).unwrap() };
    let service = Boxed::start(&config, begin()).await.unwrap();
    let new = NewClutch {
        id: c11(),
        fish: "Astatotilapia burtoni".to_owned(),
        species: "oreochromis-niloticus".to_owned(),
        mother: None,
        day0_earliest: begin(),
        day0_latest: None,
        day0_grade: Grade::Seen,
        vessel: "V1".parse().unwrap(),
    };
    service.desk().open_clutch(new, "keeper".to_owned()).await.unwrap();
    let topic = format!("hatchwarden/{}/V1/temperature", config.room);
    for tenth in 0..=hours * 6 {
        service.move_to(begin() + Span::minutes(10 * tenth)).await.unwrap();
        service.deliver(&topic, b"26.0".to_vec(), false).await.unwrap();
    }
    service
}

async fn water(service: &Boxed, change: Change) -> OtherWater {
    match service.desk().what_if(c11(), change).await.unwrap() {
        Foreseen::Water(water) => water,
        Foreseen::OutOfReach(reach) => panic!("{reach:?}"),
    }
}

#[tokio::test]
async fn the_service_tries_other_water_and_changes_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let service = room(folder.path(), 24).await;
    // 32.5 °C·d above 18 °C, of which one day at 26 °C gives 8.
    let other = water(&service, Change::FromNow(25.0)).await;
    let hatch = other.stages.iter().find(|s| s.stage == Stage::Hatch).unwrap();
    let days = |t: Time| (t - begin()).as_days();
    assert!((days(hatch.as_is.unwrap()) - 32.5 / 8.0).abs() < 0.01, "{hatch:?}");
    assert!((days(hatch.likeliest) - (1.0 + 24.5 / 7.0)).abs() < 0.01, "{hatch:?}");
    assert_eq!(other.from, Some(begin() + Span::hours(24)));
    let whole = water(&service, Change::Always(25.0)).await;
    assert!((days(whole.stages[0].likeliest) - 32.5 / 7.0).abs() < 0.01 && whole.from.is_none());

    let at = begin() + Span::days(4);
    let put = water(&service, Change::Put { stage: Stage::Hatch, at }).await;
    assert!((put.celsius - (18.0 + 24.5 / 3.0)).abs() < 0.01, "{put:?}");
    assert!((put.stages[0].likeliest - at).abs() < Span::minutes(1));
    assert!(put.caution.contains("deformities"));
    let page = service.desk().clutch(c11()).await.unwrap();
    assert_eq!(page.clutch.hatch.unwrap().likeliest, hatch.as_is.unwrap(), "nothing was changed by asking");
    service.stop().await;
}

async fn refused(service: &Boxed, change: Change) -> (String, String) {
    match service.desk().what_if(c11(), change).await {
        Err(Trouble::Refused { field, reason }) => (field, reason),
        other => panic!("{other:?}"),
    }
}

#[tokio::test]
async fn the_service_says_what_cannot_be_and_why() {
    let folder = tempfile::tempdir().unwrap();
    let service = room(folder.path(), 24).await;
    let put = |stage, days| Change::Put { stage, at: begin() + Span::days(days) };
    match service.desk().what_if(c11(), put(Stage::Hatch, 30)).await.unwrap() {
        Foreseen::OutOfReach(reach) => assert!(reach.latest.0 < begin() + Span::days(30)),
        Foreseen::Water(water) => panic!("{water:?}"),
    }
    assert_eq!(refused(&service, Change::FromNow(60.0)).await.0, "celsius");
    assert_eq!(refused(&service, put(Stage::Hatch, 1)).await.0, "at");
    // The probe has been silent since; what lies between its last reading and now is over too.
    service.move_to(begin() + Span::hours(30)).await.unwrap();
    let between = Change::Put { stage: Stage::Hatch, at: begin() + Span::hours(28) };
    let (field, reason) = refused(&service, between).await;
    assert!(field == "at" && reason.contains("is over, it is 2026-11-21T18:00:00Z"), "{reason}");
    assert_eq!(refused(&service, put(Stage::Egg, 4)).await.0, "stage");
    let (at, stage) = (begin() + Span::hours(23), Stage::Hatch);
    service.desk().record(c11(), Record::watched(stage, at), "keeper".to_owned()).await.unwrap();
    let (field, reason) = refused(&service, put(Stage::Hatch, 4)).await;
    assert_eq!(field, "stage");
    assert_eq!(reason, "hatch was seen by 2026-11-21T11:00:00Z; ask for a later stage");
    let none = service.desk().what_if("C99".parse().unwrap(), Change::FromNow(26.0)).await;
    assert!(matches!(none, Err(Trouble::NotFound(_))), "{none:?}");
    service.stop().await;
}

/// The service is asked what moved between two times: entries count from when they were written down.
#[tokio::test]
async fn what_moved_a_date_is_told_in_parts_that_add_up() {
    let folder = tempfile::tempdir().unwrap();
    let service = room(folder.path(), 24).await;
    let (then, now) = (begin() + Span::hours(20), begin() + Span::hours(24));
    let at = begin() + Span::hours(23);
    let seen = Record::watched(Stage::Hatch, at);
    service.desk().record(c11(), seen, "keeper".to_owned()).await.unwrap();
    let moved = service.desk().shift(c11(), then, now).await.unwrap();
    let hatch = moved.stages.iter().find(|s| s.stage == Stage::Hatch).unwrap();
    assert_eq!((hatch.after, hatch.parts.len(), hatch.parts[0].kind.as_str()), (at, 1, "seen"));
    assert_eq!(hatch.parts[0].gained, hatch.before - at);
    // Before it was written down, steady water had moved nothing.
    let before = service.desk().shift(c11(), then, now - Span::minutes(1)).await.unwrap();
    let moved = |s: &web::whatif::StageMoved| s.gained.abs() > Span::seconds(1);
    assert!(!before.stages.iter().any(moved), "{before:#?}");

    let refused = |answer: Result<_, Trouble>| match answer {
        Err(Trouble::Refused { field, reason }) => {
            assert_eq!(field, "from");
            reason
        }
        other => panic!("{other:?}"),
    };
    let ask = |from, to| service.desk().shift(c11(), from, to);
    assert!(refused(ask(now, then).await).contains("swap the two"));
    assert!(refused(ask(begin() - Span::hours(1), now).await).contains("had not been read yet"));
    assert!(refused(ask(now - Span::days(40), now).await).contains("more than 31 d"));
    service.stop().await;
}
