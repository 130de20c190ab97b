//! The clock of the machine goes back while the service is away, or shortly before.

use crate::world::{AIR, CLOCK, ON_DELAY, RHYTHM, SILENT, World};
use units::Span;

/// A small computer without a battery clock starts with the time of some while ago, and gets the right one late.
#[tokio::test]
async fn a_machine_that_gets_its_time_late() {
    for device in [None, Some(Span::ZERO)] {
        for behind in [Span::minutes(43), Span::days(20)] {
            let mut world = World::start(device).await;
            world.run(Span::minutes(60)).await;
            let mut world = world.restart(Span::seconds(40), -behind).await;
            let started = world.now;
            assert_eq!(world.of(CLOCK, started), [(Span::ZERO, "unacknowledged")], "{:?}", world.moves);
            world.run(Span::minutes(5)).await;
            world.air = 0.0;
            let first = world.now + RHYTHM;
            world.run(Span::minutes(1)).await;
            world.jump(behind).await;
            world.run(Span::minutes(3)).await;
            assert_eq!(world.of(AIR, first), [(ON_DELAY, "unacknowledged")], "{device:?} {behind}");
            world.air = 0.8;
            world.run(Span::minutes(10)).await;
            let air = world.moves.iter().filter(|m| m.key == AIR).count();
            assert_eq!(air, 2, "{:?}", world.moves);
            assert_eq!(world.but(AIR).len(), 4, "{:?}", world.moves); // raised, and over, twice
        }
    }
}

#[tokio::test]
async fn an_alarm_that_stands_goes_on_where_it_was() {
    let mut world = World::start(None).await;
    world.run(Span::minutes(30)).await;
    world.air = 0.0;
    let raised = world.now + RHYTHM + ON_DELAY;
    world.run(Span::minutes(7)).await;
    // It cannot know how long it was away, only that it goes on from where it was.
    let away = Span::minutes(1);
    let mut world = world.restart(away, Span::minutes(-30)).await;
    world.run(Span::minutes(5)).await;
    let calls: Vec<Span> = world.of(AIR, raised).iter().map(|m| m.0).collect();
    assert_eq!(calls[..2], [Span::ZERO, Span::minutes(5)]);
    assert!((calls[2] - away - Span::minutes(10)).abs() <= RHYTHM, "{calls:?}");
}

#[tokio::test]
async fn a_restart_in_an_hour_that_is_passed_twice() {
    for by in [Span::hours(-1), Span::days(-3)] {
        for device in [None, Some(Span::ZERO)] {
            let mut world = World::start(device).await;
            world.run(Span::minutes(100)).await;
            world.jump(by).await;
            world.run(Span::minutes(20)).await;
            let mut world = world.restart(Span::seconds(20), Span::ZERO).await;
            world.run(Span::minutes(5)).await;
            assert_eq!(world.but(CLOCK), [] as [&_; 0], "{by}");
            assert_eq!(world.of(CLOCK, world.now).len(), 2, "{by}: it is told once, and over");

            // Silence and air are judged by what has come in since.
            world.air = 0.0;
            let first = world.now + RHYTHM;
            world.run(Span::minutes(1)).await;
            assert_eq!(world.of(AIR, first), [(ON_DELAY, "unacknowledged")], "{by} {device:?}");
            let mut world = world.restart(Span::seconds(20), Span::ZERO).await;
            let started = world.now;
            world.talks = false;
            world.run(Span::minutes(5)).await;
            let silent = world.of("room.silent", started);
            let [(after, "unacknowledged")] = silent[..] else { panic!("{silent:?}") };
            assert!(after <= SILENT && after >= SILENT - Span::minutes(1), "{by} {device:?}: {after}");
        }
    }
}
