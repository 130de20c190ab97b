//! The clock of a device leaps, or it sends late what it has kept.

use crate::world::{AIR, ON_DELAY, RHYTHM, SILENT, World};
use readings::Flags;
use units::Span;

const LEAPS: [Span; 4] = [Span::hours(-1), Span::hours(1), Span::days(-3), Span::seconds(-4_807)];

#[tokio::test]
async fn an_air_stop_at_a_leap_is_told_a_reading_later_at_most() {
    for by in LEAPS {
        let mut world = World::start(Some(Span::ZERO)).await;
        world.run(Span::minutes(90)).await;
        world.device = Some(by);
        world.air = 0.0;
        let first = world.now + RHYTHM;
        world.run(Span::minutes(2)).await;
        let told = world.of(AIR, first);
        let latest = if by < Span::ZERO { RHYTHM } else { Span::ZERO };
        assert_eq!(told, [(ON_DELAY + latest, "unacknowledged")], "{by}");
        assert_eq!(world.moves.len(), 1, "{:?}", world.moves);
    }
}

#[tokio::test]
async fn a_wrong_clock_is_no_silence_and_hides_no_air_stop() {
    for by in LEAPS {
        let mut world = World::start(Some(Span::ZERO)).await;
        world.run(Span::minutes(90)).await;
        world.device = Some(by);
        world.run(Span::minutes(90)).await;
        assert_eq!(world.moves, [], "{by}");
        let readings = world.stored("TU2/air-flow", world.now - Span::minutes(80), world.now);
        assert_eq!(readings.len(), 481, "{by}");
        let mark = if by < Span::ZERO { Flags::DEVICE_CLOCK_BEHIND } else { Flags::DEVICE_CLOCK_AHEAD };
        assert!(readings.iter().all(|r| r.fresh && r.flags == mark.to_bits()), "{by}");

        world.air = 0.0;
        let first = world.now + RHYTHM;
        world.run(Span::minutes(2)).await;
        assert_eq!(world.of(AIR, first), [(ON_DELAY, "unacknowledged")], "{by}");
        // Its clock is set right again, and the air flows.
        world.device = Some(Span::ZERO);
        world.air = 0.8;
        world.run(Span::minutes(2)).await;
        assert_eq!(world.of(AIR, first)[1].1, "returned unacknowledged", "{by}");
        assert_eq!(world.moves.len(), 2, "{:?}", world.moves);
    }
}

#[tokio::test]
async fn what_is_sent_late_is_history_at_its_own_times() {
    let mut world = World::start(Some(Span::ZERO)).await;
    world.run(Span::minutes(30)).await;
    let lost = world.now;
    world.talks = false;
    world.run(Span::minutes(20)).await;
    world.air = 0.0;
    world.run(Span::minutes(20)).await;
    world.air = 0.8;
    world.run(Span::minutes(20)).await;
    let found = world.now;
    world.send_kept().await;
    world.run(Span::minutes(30)).await;

    let told = world.of("room.silent", lost);
    let [(raised, _), (over, to)] = told[..] else { panic!("{told:?}") };
    assert_eq!((raised, to), (SILENT, "returned unacknowledged"));
    assert!(over >= Span::hours(1) && over < Span::minutes(62), "{over}");
    // Two probes go beneath it, are heard, and come out again.
    assert_eq!(world.moves.len(), 2 + 2 * 3, "{:?}", world.moves);
    let rows = world.stored("TU2/air-flow", lost + Span::seconds(1), found);
    assert_eq!(rows.len(), 360);
    assert!(rows.iter().all(|r| r.flags & Flags::DEVICE_CLOCK_BEHIND.to_bits() == 0));
    assert!(rows.iter().all(|r| r.received > found && r.time.millis() % 10_000 == 0));
    assert_eq!(rows.iter().filter(|r| r.value == 0.0).count(), 120);
}
