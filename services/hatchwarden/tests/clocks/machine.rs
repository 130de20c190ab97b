//! The clock of the service's machine jumps while it runs.

use crate::world::{AGAIN, AIR, CLOCK, OFF_DELAY, ON_DELAY, RHYTHM, SILENT, World};
use units::Span;
use web::keeper::{Keeper, Shelving};

const JUMPS: [Span; 4] = [Span::hours(1), Span::hours(-1), Span::days(3), Span::days(-3)];
/// The device sends no times, or its clock is right.
const DEVICES: [Option<Span>; 2] = [None, Some(Span::ZERO)];

/// A room in which all is well, half an hour long.
async fn well(device: Option<Span>) -> World {
    let mut world = World::start(device).await;
    world.run(Span::minutes(30)).await;
    assert_eq!(world.moves, []);
    world
}

#[tokio::test]
async fn nothing_is_told_but_that_the_clock_jumped() {
    for by in JUMPS {
        for device in DEVICES {
            let mut world = well(device).await;
            let jumped = world.now;
            world.jump(by).await;
            let sign = if by < Span::ZERO { "" } else { "+" };
            let view = world.page().await;
            let [alarm] = &view.alarms[..] else { panic!("{:?}", world.moves) };
            let whole = format!("The clock of this machine jumped by {sign}{by} at ");
            assert!(alarm.text.starts_with(&whole), "{}", alarm.text);
            assert!(alarm.text.ends_with("; readings around it may carry wrong times."), "{}", alarm.text);
            assert_eq!((alarm.priority, alarm.vessel.as_ref()), (4, None));
            world.run(Span::minutes(75)).await;
            let over = (Span::minutes(10), "returned unacknowledged");
            assert_eq!(world.of(CLOCK, jumped), [(Span::ZERO, "unacknowledged"), over], "{by} {device:?}");
            assert_eq!(world.but(CLOCK), [] as [&_; 0], "{by} {device:?}");
        }
    }
}

#[tokio::test]
async fn the_delay_of_an_alarm_goes_on() {
    for by in JUMPS {
        for device in DEVICES {
            let mut world = well(device).await;
            world.air = 0.0;
            let first = world.now + RHYTHM;
            world.run(RHYTHM + Span::seconds(4)).await;
            world.jump(by).await;
            world.run(Span::seconds(6)).await;
            assert_eq!(world.of(AIR, first), [], "{by} {device:?}: not at once");
            world.run(Span::minutes(1)).await;
            assert_eq!(world.of(AIR, first), [(ON_DELAY, "unacknowledged")], "{by} {device:?}");
        }
    }
}

#[tokio::test]
async fn silence_takes_as_long() {
    for by in JUMPS {
        let mut world = well(None).await;
        let last = world.now;
        world.talks = false;
        world.run(SILENT - Span::seconds(7)).await;
        world.jump(by).await;
        world.run(Span::minutes(2)).await;
        assert_eq!(world.of("room.silent", last), [(SILENT, "unacknowledged")], "{by}");
        world.talks = true;
        world.run(Span::seconds(7)).await; // the thermometer is read at whole half minutes
        world.run(Span::seconds(90)).await;
        let told = world.of("room.silent", last);
        assert!(told.len() == 2 && told[1].1 == "returned unacknowledged", "{:#?}", world.moves);
    }
}

#[tokio::test]
async fn an_alarm_that_stands_calls_again_and_clears_in_real_time() {
    for by in JUMPS {
        let mut world = well(None).await;
        world.air = 0.0;
        let raised = world.now + RHYTHM + ON_DELAY;
        world.run(Span::minutes(7)).await;
        world.jump(by).await;
        let view = world.page().await;
        let alarm = view.alarms.iter().find(|a| a.id == AIR).unwrap();
        let stood = world.now - raised + ON_DELAY;
        assert_eq!(view.now - alarm.since, stood, "{by}: it says how long it has stood");
        world.run(Span::minutes(10)).await;
        let calls = (0..4).map(|n| (Span::from_millis(n * AGAIN.millis()), "unacknowledged"));
        assert_eq!(world.of(AIR, raised), calls.collect::<Vec<_>>(), "{by}");

        world.air = 0.8;
        let again = world.now + RHYTHM;
        world.run(Span::minutes(2)).await;
        let last = world.of(AIR, again).pop();
        assert_eq!(last, Some((OFF_DELAY, "returned unacknowledged")), "{by}");
    }
}

#[tokio::test]
async fn an_alarm_clears_though_the_clock_jumps_while_it_does() {
    for by in JUMPS {
        let mut world = well(None).await;
        world.air = 0.0;
        world.run(Span::minutes(2)).await;
        world.air = 0.8;
        let again = world.now + RHYTHM;
        world.run(RHYTHM + RHYTHM).await;
        world.jump(by).await;
        world.run(Span::minutes(1)).await;
        assert_eq!(world.of(AIR, again).pop(), Some((OFF_DELAY, "returned unacknowledged")), "{by}");
    }
}

#[tokio::test]
async fn what_is_shelved_is_so_for_as_long_as_was_said() {
    for by in JUMPS {
        let mut world = well(None).await;
        let shelved = world.now;
        let for_20 = Shelving { minutes: 20, why: "cleaning the stone".to_owned() };
        world.service.desk().shelve(AIR.to_owned(), for_20, "keeper".to_owned()).await.unwrap();
        world.air = 0.0;
        world.run(Span::minutes(11)).await;
        world.jump(by).await;
        let view = world.page().await;
        assert_eq!(view.shelved[0].until, Some(shelved + Span::minutes(20) + world.off), "{by}");
        world.run(Span::minutes(8)).await;
        assert!(world.of(AIR, shelved).iter().all(|m| m.0 < Span::minutes(1)), "{:?}", world.moves);
        world.run(Span::minutes(2)).await;
        let back = world.of(AIR, shelved).pop();
        assert_eq!(back, Some((Span::minutes(20), "unacknowledged")), "{by}: it calls as a fresh one");
    }
}

#[tokio::test]
async fn a_second_jump_is_told_too() {
    let mut world = well(None).await;
    let first = world.now;
    world.jump(Span::hours(1)).await;
    world.run(Span::minutes(4)).await;
    world.jump(Span::hours(-1)).await;
    world.run(Span::minutes(30)).await;
    let (now, second, over) = (Span::ZERO, Span::minutes(4), Span::minutes(14));
    let (up, down) = ("unacknowledged", "returned unacknowledged");
    assert_eq!(world.of(CLOCK, first), [(now, up), (second, down), (second, up), (over, down)]);
    assert_eq!(world.but(CLOCK), [] as [&_; 0]);
}
