//! What moved the dates of a clutch, asked of the whole service in a box.
#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

#[path = "common/steady.rs"]
mod steady;

use hatchwarden::boxed::Boxed;
use steady::{after, begin, c11, open, room, water};
use units::{ClutchId, Span, Stage, Time};
use web::keeper::{Keeper, NewComparison, NewSpecies, Record, Trouble};
use web::whatif::StageMoved;

/// What moved the hatch of a clutch; its parts add up.
async fn hatch(service: &Boxed, id: ClutchId, from: Time, to: Time) -> StageMoved {
    let moved = service.desk().shift(id, from, to).await.unwrap();
    let hatch = moved.stages.into_iter().find(|s| s.stage == Stage::Hatch).unwrap();
    let sum = hatch.parts.iter().fold(Span::ZERO, |sum, p| sum + p.gained);
    assert_eq!((sum, hatch.gained), (hatch.gained, hatch.before - hatch.after), "{hatch:#?}");
    hatch
}

fn kinds(hatch: &StageMoved) -> Vec<&str> {
    hatch.parts.iter().map(|p| p.kind.as_str()).collect()
}

/// The service is asked what moved between two times: entries count from when they were written down.
#[tokio::test]
async fn what_moved_a_date_is_told_in_parts_that_add_up() {
    let folder = tempfile::tempdir().unwrap();
    let service = room(folder.path(), 24).await;
    let (then, now) = (after(20), after(24));
    let at = after(23);
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

/// Readings that were sent later on from a probe's memory lay between those that were known.
#[tokio::test]
async fn readings_that_came_late_are_told_apart() {
    let folder = tempfile::tempdir().unwrap();
    let service = room(folder.path(), 20).await;
    let then = after(20);
    service.move_to(then + Span::minutes(5)).await.unwrap();
    for tenth in 12..60 {
        let at = begin() + Span::minutes(10 * tenth + 5);
        water(&service, format!(r#"{{"v":28.0,"t":"{at}"}}"#)).await;
    }
    let hatch = hatch(&service, c11(), then, then + Span::minutes(5)).await;
    // Eight hours at 27 °C in the mean: 8 °C·h more of 8 °C·d a day, an hour.
    assert!(kinds(&hatch).starts_with(&["late-readings"]), "{hatch:#?}");
    assert!((hatch.parts[0].gained - Span::hours(1)).abs() < Span::minutes(2), "{hatch:#?}");
    assert_eq!(
        (hatch.parts[0].from, hatch.parts[0].to),
        (after(2) + Span::minutes(5), after(10) - Span::minutes(5))
    );
    service.stop().await;
}

/// A probe was found to read too warm since the beginning; when that was taken back, so were its dates.
#[tokio::test]
async fn an_offset_is_told_apart_and_taken_back() {
    let folder = tempfile::tempdir().unwrap();
    let service = room(folder.path(), 20).await;
    let new = NewComparison {
        probe: "V1/temperature".parse().unwrap(),
        at: None,
        since: Some(begin()),
        read: None,
        reference: 25.0,
        against: "glass thermometer 3".to_owned(),
        accuracy: None,
    };
    service.move_to(after(20) + Span::minutes(1)).await.unwrap();
    service.desk().compare(new, "keeper".to_owned()).await.unwrap();
    let corrected = hatch(&service, c11(), after(20), after(20) + Span::minutes(1)).await;
    assert!(kinds(&corrected).starts_with(&["corrected-readings"]), "{corrected:#?}");
    // Twenty hours at 7 °C·d a day and not 8, which the 26 °C to come make good in 2.5 h.
    assert!((corrected.parts[0].gained + Span::minutes(150)).abs() < Span::minutes(2), "{corrected:#?}");
    service.move_to(after(20) + Span::minutes(2)).await.unwrap();
    service.desk().withdraw_comparison(1, "keeper".to_owned()).await.unwrap();
    let back = hatch(&service, c11(), after(20) + Span::minutes(1), after(20) + Span::minutes(2)).await;
    assert_eq!(back.after, corrected.before);
    let whole = hatch(&service, c11(), after(20), after(20) + Span::minutes(2)).await;
    assert_eq!((whole.gained, whole.parts.len()), (Span::ZERO, 0), "{whole:#?}");
    service.stop().await;
}

/// The entry was replaced on the page.
#[tokio::test]
async fn another_entry_is_told_apart() {
    let folder = tempfile::tempdir().unwrap();
    let service = room(folder.path(), 20).await;
    service.move_to(after(20) + Span::minutes(1)).await.unwrap();
    let text = "[species.oreochromis-niloticus]\nname = 'Oreochromis niloticus'\n\
        base = { low = 18.0, likely = 18.0, high = 18.0, source = 'test', how = 'planning value' }\n\
        [species.oreochromis-niloticus.stage.hatch]\ndegree_days = 40.5\nsource = 'test'\nhow = 'planning value'";
    service.desk().enter_species(NewSpecies::Text(text.to_owned()), "keeper".to_owned()).await.unwrap();
    let hatch = hatch(&service, c11(), after(20), after(20) + Span::minutes(1)).await;
    // 40.5 °C·d in place of 32.5, at 8 a day.
    assert_eq!(kinds(&hatch), ["species"]);
    assert!((hatch.gained + Span::days(1)).abs() < Span::minutes(2), "{hatch:#?}");
    service.stop().await;
}

/// Another clutch of the entry was seen to hatch late.
#[tokio::test]
async fn what_the_room_has_learnt_is_told_apart() {
    let folder = tempfile::tempdir().unwrap();
    let service = room(folder.path(), 120).await;
    open(&service, "C12", after(48)).await;
    service.move_to(after(121)).await.unwrap();
    let slow = Record::watched(Stage::Hatch, after(112));
    service.desk().record(c11(), slow, "keeper".to_owned()).await.unwrap();
    let hatch = hatch(&service, "C12".parse().unwrap(), after(120), after(121)).await;
    assert_eq!(kinds(&hatch), ["species"], "{hatch:#?}");
    assert!(hatch.gained < Span::minutes(-60), "{hatch:#?}");
    assert!(hatch.parts[0].cause.contains("has learnt"), "{hatch:#?}");
    service.stop().await;
}
