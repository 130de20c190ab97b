//! Species entries that a keeper writes on the page.
#![allow(clippy::unwrap_used, missing_docs, reason = "test code")]

mod common;

use common::Play;
use hatchwarden::room::Wish;
use units::Stage;
use web::keeper::{NewSpecies, PlainSpecies, PlainStage, Trouble};
use web::species::EntryFrom;

fn plain() -> PlainSpecies {
    PlainSpecies {
        key: "my-fish".to_owned(),
        name: "My fish".to_owned(),
        mouthbrooder: true,
        stages: vec![PlainStage { stage: Stage::Hatch, days: 5.0, celsius: 27.0 }],
        spread_percent: None,
        base_low: 10.0,
        base_likely: 14.0,
        base_high: 18.0,
        source: "my notes of \"2025\"".to_owned(),
        how: "observed".to_owned(),
    }
}

fn enter(new: NewSpecies) -> Wish {
    Wish::EnterSpecies(Box::new(new))
}

#[tokio::test]
async fn a_written_entry_stands_first_is_used_and_survives_a_restart() {
    let mut play = Play::start("V1").await;
    play.wish(enter(NewSpecies::Plain(plain()))).await.unwrap();
    let views = play.room.species_views();
    let first = &views[0];
    assert_eq!((first.key.as_str(), first.stages.clone()), ("my-fish", vec![(Stage::Hatch, 65.0)]));
    assert!(matches!(&first.from, EntryFrom::Page { by, .. } if by == "keeper"));
    assert!(
        first.figures.iter().any(|f| f.source == "my notes of \"2025\"" && f.how == "observed"),
        "{first:?}"
    );
    assert!(views[1].mouthbrooder && !views.last().unwrap().mouthbrooder);
    play.open("C20", "my-fish").await.unwrap();
    play.water(27.0, 24).await;
    let whole = play.shown();
    play.restart().await;
    assert_eq!(play.shown(), whole);
    assert_eq!(play.room.species_views(), views);
}

#[tokio::test]
async fn a_clutch_follows_when_its_entry_is_replaced_and_says_so() {
    let mut play = Play::start("V1").await;
    play.water(27.0, 24).await;
    let required = |play: &mut Play| play.hatch().required;
    let shipped = required(&mut play);
    let own = PlainSpecies { key: "generic-mouthbrooder".to_owned(), ..plain() };
    play.wish(enter(NewSpecies::Plain(own))).await.unwrap();
    assert_eq!(required(&mut play), 65.0);
    assert_eq!(play.causes()[0], "the species entry was changed");
    play.wish(Wish::WithdrawSpecies("generic-mouthbrooder".to_owned())).await.unwrap();
    assert_eq!(required(&mut play), shipped, "what it had replaced stands again");
    assert!(matches!(
        play.wish(Wish::WithdrawSpecies("generic-mouthbrooder".to_owned())).await,
        Err(Trouble::NotFound(_))
    ));
}

#[tokio::test]
async fn an_entry_in_use_is_not_withdrawn() {
    let mut play = Play::start("V1").await;
    play.wish(enter(NewSpecies::Plain(plain()))).await.unwrap();
    play.open("C20", "my-fish").await.unwrap();
    match play.wish(Wish::WithdrawSpecies("my-fish".to_owned())).await {
        Err(Trouble::Refused { field, reason }) => {
            assert!(field == "key" && reason.contains("C20"), "{reason}");
        }
        other => panic!("{other:?}"),
    }
}

#[tokio::test]
async fn what_cannot_be_an_entry_is_refused_with_its_field() {
    let mut play = Play::start("V1").await;
    for (new, field, words) in [
        (PlainSpecies { key: "My fish".to_owned(), ..plain() }, "key", "a-z, 0-9"),
        (PlainSpecies { stages: Vec::new(), ..plain() }, "hatch_days", "at least one stage"),
        (PlainSpecies { how: "guessed".to_owned(), ..plain() }, "how", "observed"),
        (PlainSpecies { base_likely: 30.0, ..plain() }, "base_likely", "30"),
    ] {
        match play.wish(enter(NewSpecies::Plain(new))).await {
            Err(Trouble::Refused { field: named, reason }) => {
                assert!(named == field && reason.contains(words), "{named}: {reason}");
            }
            other => panic!("{field}: {other:?}"),
        }
    }
    for text in ["", "[species.a]\nname = 3", "not toml at all ="] {
        assert!(
            matches!(play.wish(enter(NewSpecies::Text(text.to_owned()))).await, Err(Trouble::Refused { field, .. }) if field == "text"),
            "{text}"
        );
    }
}
