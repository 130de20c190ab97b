//! Nights in which the clocks of the room change. The machine's clock counts UTC and does not jump.

use crate::world::{AIR, Move, World, at};
use chrono_tz::Tz;
use hatchwarden::config::Config;
use units::{Span, Time};

/// Two and a half hours around 01:00 UTC, when the clocks of Europe/Berlin change (IANA time zone database), with an air
/// stop of 29 min in the middle.
async fn night(day: &str) -> (Time, Vec<Move>) {
    let begin = at(&format!("{day}T00:00:00Z"));
    let berlin = |config| Config { zone: Tz::Europe__Berlin, ..config };
    let mut world = World::start_by(Some(Span::ZERO), begin, berlin).await;
    world.run(Span::minutes(50)).await;
    world.air = 0.0;
    world.run(Span::minutes(29)).await;
    world.air = 0.8;
    world.run(Span::minutes(71)).await;
    (begin, world.moves)
}

fn told((begin, moves): &(Time, Vec<Move>)) -> Vec<(Span, String, String)> {
    moves.iter().map(|m| (m.at - *begin, m.key.clone(), m.to.clone())).collect()
}

#[tokio::test]
async fn the_doubled_hour() {
    let (change, usual) = (night("2026-10-25").await, night("2026-11-01").await);
    assert_eq!(told(&change), told(&usual));
    assert_eq!(told(&change).len(), 7, "raised, five times more, cleared");
    let (texts, last): (Vec<&str>, &str) =
        (change.1.iter().map(|m| m.text.as_str()).collect(), &change.1[6].text);
    assert_eq!(change.1[0].key, AIR);
    assert!(texts[0].contains("since 02:50 CEST."), "{}", texts[0]);
    assert!(last.contains("since 02:19 CET; it lasted 29 min from 02:50 CEST."), "{last}");
    assert!(usual.1[0].text.contains("since 01:50."), "{}", usual.1[0].text);
}

#[tokio::test]
async fn the_missing_hour() {
    let (change, usual) = (night("2026-03-29").await, night("2026-03-22").await);
    assert_eq!(told(&change), told(&usual));
    assert_eq!(told(&change).len(), 7);
    let (first, last) = (&change.1[0].text, &change.1[6].text);
    assert!(first.contains("since 01:50."), "{first}");
    assert!(last.contains("since 03:19; it lasted 29 min from 01:50."), "{last}");
}
