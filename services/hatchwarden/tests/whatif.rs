//! Other water for a clutch, asked of the whole service in a box.
#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

#[path = "common/steady.rs"]
mod steady;

use hatchwarden::boxed::Boxed;
use steady::{begin, c11, room};
use units::{Span, Stage, Time};
use web::keeper::{Keeper, Record, Trouble};
use web::whatif::{Change, Foreseen, OtherWater};

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
