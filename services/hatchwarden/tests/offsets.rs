//! A probe that was compared with a reference is corrected wherever its readings are used, and nowhere where they are kept.
#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

mod common;

use common::{Play, begin};
use hatchwarden::room::Wish;
use units::Span;
use web::keeper::{NewComparison, Trouble};
use web::view::Window;

fn compared(reference: f64) -> NewComparison {
    NewComparison {
        probe: "V1/temperature".parse().unwrap(),
        at: None,
        since: None,
        read: None,
        reference,
        against: "glass thermometer 3".to_owned(),
        accuracy: None,
    }
}

#[tokio::test]
async fn an_offset_moves_the_dates_and_says_so_and_leaves_what_was_read() {
    let mut play = Play::start("V1").await;
    play.water(27.0, 48).await;
    let before = play.hatch();
    let since = NewComparison { since: Some(begin()), ..compared(25.5) };
    play.wish(Wish::Compare(since)).await.unwrap();
    let after = play.hatch();
    // At 27 °C over a base of 14 °C a day is 13 °C·d; at 25.5 °C it is 11.5.
    let took = |w: Window| (w.likeliest - begin()).as_days();
    assert!((took(after) / took(before) - 13.0 / 11.5).abs() < 1e-3, "{} {}", took(before), took(after));
    assert!(
        (before.latest - before.earliest).as_days() / took(before)
            > (after.latest - after.earliest).as_days() / took(after),
        "a probe that was compared is known better"
    );
    let page = play.room.clutch_page(&"C06".parse().unwrap(), play.now).unwrap();
    let cause = &page.shifts[0].cause;
    assert!(cause.starts_with("V1/temperature was compared: -1.5 °C from Fri 20 Nov"), "{cause}");
    assert_eq!((play.room.newest()[0].value, play.room.newest()[0].raw), (25.5, 27.0));
    let kept =
        play.store.reader().unwrap().range(&"V1/temperature".parse().unwrap(), begin(), play.now).unwrap();
    assert!(kept.len() == 288 && kept.iter().all(|(_, v)| *v == 27.0), "what was read is kept as it was");

    let whole = play.shown();
    play.restart().await;
    assert_eq!(play.shown(), whole, "a restart equals no restart");
    play.water(27.0, 1).await;
    assert_eq!(play.room.newest()[0].value, 25.5);

    play.wish(Wish::WithdrawComparison(1)).await.unwrap();
    let back = play.hatch();
    assert!((took(back) - took(before)).abs() < 1e-3);
    let page = play.room.clutch_page(&"C06".parse().unwrap(), play.now).unwrap();
    assert!(page.shifts[0].cause.contains("was withdrawn"), "{}", page.shifts[0].cause);
    assert!(play.room.probes_view().comparisons[0].withdrawn.is_some(), "that it stood there is kept");
}

#[tokio::test]
async fn an_offset_from_now_on_leaves_the_past_and_moves_what_comes() {
    let mut play = Play::start("V1").await;
    play.water(27.0, 24).await;
    play.wish(Wish::Compare(compared(26.0))).await.unwrap();
    play.water(27.0, 24).await;
    // 24 h at 13 °C·d a day, 24 h at 12.
    let so_far = play.hatch().so_far;
    assert!((so_far - 25.0).abs() < 0.05, "{so_far}");
}

#[tokio::test]
async fn the_band_is_watched_by_the_corrected_water() {
    let mut play = Play::start("V1").await;
    play.water(25.8, 2).await;
    assert_eq!(cold(&mut play), Vec::<String>::new(), "25.8 °C lies in the band");
    play.wish(Wish::Compare(compared(25.0))).await.unwrap();
    play.water(25.8, 2).await;
    let said = cold(&mut play);
    assert!(said.len() == 1 && said[0].contains("25.0"), "{said:?}");
}

fn cold(play: &mut Play) -> Vec<String> {
    let alarms = play.room.view(play.now).alarms;
    alarms.into_iter().filter(|a| a.condition == "too cold").map(|a| a.text).collect()
}

#[tokio::test]
async fn what_cannot_be_compared_is_refused_with_its_field() {
    let mut play = Play::start("V1").await;
    play.water(27.0, 1).await;
    for (new, field) in [
        (NewComparison { probe: "V2/temperature".parse().unwrap(), ..compared(26.0) }, "probe"),
        (compared(15.0), "reference"),
        (NewComparison { at: Some(begin() - Span::hours(3)), ..compared(26.0) }, "read"),
        (NewComparison { at: Some(play.now + Span::hours(3)), ..compared(26.0) }, "at"),
    ] {
        match play.wish(Wish::Compare(new)).await {
            Err(Trouble::Refused { field: named, .. }) => assert_eq!(named, field),
            other => panic!("{field}: {other:?}"),
        }
    }
    assert!(matches!(play.wish(Wish::WithdrawComparison(1)).await, Err(Trouble::NotFound(_))));
}
